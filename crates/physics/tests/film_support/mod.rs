//! The cases of reference/film-cases.json as saddles.

#![allow(dead_code, reason = "each test uses its own part of this file")]
#![allow(unreachable_pub, missing_docs, reason = "test support")]

use super::check;
use serde_json::Value;
use stillwheel_physics::film::{Air, Form, Port, Pose, Saddle};

pub struct FilmCase {
    pub id: String,
    pub inputs: Value,
    pub expected: Value,
    tolerance: Value,
    source: String,
}

pub fn cases() -> Vec<FilmCase> {
    let file = check::reference("film-cases.json");
    let text = |v: &Value| v.as_str().expect("text").to_owned();
    let all = file["cases"].as_array().expect("a list").iter();
    all.map(|c| FilmCase {
        id: text(&c["id"]),
        inputs: c["inputs"].clone(),
        expected: c["expected"].clone(),
        tolerance: c["tolerance"].clone(),
        source: text(&c["source"]),
    })
    .collect()
}

pub fn case(id: &str) -> FilmCase {
    cases().into_iter().find(|c| c.id == id).unwrap_or_else(|| panic!("no case {id}"))
}

impl FilmCase {
    pub fn get(&self, name: &str) -> Option<f64> {
        self.inputs[name].as_f64()
    }

    pub fn input(&self, name: &str) -> f64 {
        self.get(name).unwrap_or_else(|| panic!("{} has no {name}", self.id))
    }

    pub fn saddle(&self) -> Saddle {
        let or = |name: &str, v: f64| self.get(name).unwrap_or(v);
        let form = Form { taper_m: or("taper_um", 0.0) * 1e-6, ..Form::oval(or("oval_um", 0.0) * 1e-6, or("oval_deg", 0.0).to_radians()) };
        Saddle {
            bore_diameter_m: self.input("bore_diameter_mm") * 1e-3,
            clearance_m: self.input("radial_clearance_um") * 1e-6,
            length_m: self.input("length_mm") * 1e-3,
            arc_rad: or("arc_deg", 180.0).to_radians(),
            arc_turned_rad: 0.0,
            form,
            port: Port {
                diameter_m: self.input("port_diameter_mm") * 1e-3,
                around_m: or("port_offset_mm", 0.0) * 1e-3,
                along_m: or("port_axial_mm", 0.0) * 1e-3,
                jet_diameter_m: self.get("jet_diameter_mm").map(|d| d * 1e-3),
                pocket: None,
                volume_m3: 0.0,
                discharge: self.input("discharge"),
            },
            rest_gap_m: 1e-6,
        }
    }

    pub fn air(&self) -> Air {
        Air {
            viscosity_pa_s: self.input("viscosity_pa_s"),
            temperature_k: self.input("temperature_c") + 273.15,
            ambient_pa: self.input("ambient_bar_abs") * 1e5,
        }
    }

    pub fn supply_pa(&self) -> f64 {
        self.input("supply_bar") * 1e5
    }

    pub fn pose(&self) -> Pose {
        let micro = |name: &str| self.get(name).unwrap_or(0.0) * 1e-6;
        Pose { x_m: micro("x_um"), y_m: micro("y_um"), tilt_x_rad: micro("tilt_x_urad"), tilt_y_rad: micro("tilt_y_urad") }
    }

    /// "0.3 %", "0.5 % or 0.005": the wider of a share of the expected value and an absolute limit.
    pub fn check(&self, name: &str, got: f64) {
        let expected = self.expected[name].as_f64().unwrap_or_else(|| panic!("{} expects no {name}", self.id));
        let words = self.tolerance[name].as_str().unwrap_or_else(|| panic!("{} has no tolerance for {name}", self.id));
        let (share, absolute) = words.split_once(" or ").unwrap_or((words, "0"));
        let share: f64 = share.trim().trim_end_matches('%').trim().parse().expect("a share in %");
        let absolute: f64 = absolute.trim().parse().expect("an absolute limit");
        let width = (0.01 * share * expected.abs()).max(absolute);
        check::row(&self.id, name, check::Kind::ReferenceProgram, &self.source, expected, got, check::Tolerance::Absolute(width));
    }
}

impl FilmCase {
    pub fn duty(&self) -> stillwheel_physics::film::Duty {
        stillwheel_physics::film::Duty::new(self.air(), self.supply_pa(), self.input("load_n"))
    }
}

/// The saddle of the companion tables: Ø20 × 24, clearance 14 µm, port Ø1.2 with a 0.15 mm jet.
pub fn demo_saddle() -> Saddle {
    case("F05").saddle()
}
