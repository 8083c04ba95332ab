//! Materials of a stand: stiffness, density, expansion, strength, as reference/materials.csv holds them (sources stand there).
//!
//! In: a short name. Out: a [`Material`]. Typical values for design, not a certificate of a bar. The tests compare every value with the file.

use crate::Fault;

/// A material.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Material {
    /// Short name, by which it is asked for.
    pub name: &'static str,
    /// Name and temper in full.
    pub full_name: &'static str,
    /// What it is.
    pub class: &'static str,
    /// Young's modulus, GPa.
    pub young_gpa: f64,
    /// Poisson's ratio.
    pub poisson: f64,
    /// Density, kg/m³.
    pub density_kg_m3: f64,
    /// Thermal expansion, 1e-6 a kelvin, near 20 °C.
    pub cte_per_mk: f64,
    /// Yield or proof strength, MPa; `None` where it does not yield (stone) or is hardened through.
    pub yield_mpa: Option<f64>,
    /// Hardness as it is told; empty where none is.
    pub hardness: &'static str,
}

impl Material {
    /// The material of this short name; capitals do not matter.
    ///
    /// # Errors
    /// A [`Fault`] for `field` that lists the names.
    pub fn find(field: &str, name: &str) -> Result<&'static Self, Fault> {
        let wanted = name.trim();
        MATERIALS.iter().find(|m| m.name.eq_ignore_ascii_case(wanted)).ok_or_else(|| {
            let names: Vec<&str> = MATERIALS.iter().map(|m| m.name).collect();
            Fault::new(field, name, names.join(", "), "no material of this name is tabled: take the nearest, or give its own values")
        })
    }

    /// Whether it is hardened steel, which a ball does not dent.
    pub fn is_hardened(&self) -> bool {
        self.hardness.contains("HRC")
    }
}

/// All of them.
#[rustfmt::skip]
pub const MATERIALS: [Material; 14] = [
    Material { name: "EN AW-6082-T6", full_name: "EN AW-6082-T6 (bar 20-150 mm)", class: "aluminium alloy", young_gpa: 70.0, poisson: 0.33, density_kg_m3: 2700.0, cte_per_mk: 23.4, yield_mpa: Some(260.0), hardness: "95 HBW" },
    Material { name: "EN AW-6061-T6", full_name: "EN AW-6061-T6", class: "aluminium alloy", young_gpa: 68.9, poisson: 0.33, density_kg_m3: 2700.0, cte_per_mk: 23.6, yield_mpa: Some(276.0), hardness: "95 HBW" },
    Material { name: "EN AW-7075-T6", full_name: "EN AW-7075-T6/T651", class: "aluminium alloy", young_gpa: 72.0, poisson: 0.33, density_kg_m3: 2810.0, cte_per_mk: 23.6, yield_mpa: Some(503.0), hardness: "150 HBW" },
    Material { name: "EN AW-2017A-T4", full_name: "EN AW-2017A-T4", class: "aluminium alloy", young_gpa: 72.5, poisson: 0.33, density_kg_m3: 2790.0, cte_per_mk: 23.6, yield_mpa: Some(260.0), hardness: "105 HBW" },
    Material { name: "CW614N", full_name: "CuZn39Pb3 CW614N", class: "free-cutting brass", young_gpa: 97.0, poisson: 0.34, density_kg_m3: 8470.0, cte_per_mk: 20.9, yield_mpa: Some(220.0), hardness: "100 HBW" },
    Material { name: "CC484K", full_name: "CuSn12Ni2-C CC484K", class: "cast tin bronze", young_gpa: 110.0, poisson: 0.34, density_kg_m3: 8700.0, cte_per_mk: 18.0, yield_mpa: Some(200.0), hardness: "100 HBW" },
    Material { name: "CW453K", full_name: "CuSn8 CW453K", class: "wrought tin bronze", young_gpa: 115.0, poisson: 0.34, density_kg_m3: 8800.0, cte_per_mk: 18.7, yield_mpa: Some(350.0), hardness: "125 HV" },
    Material { name: "100Cr6", full_name: "100Cr6 1.3505 SAE 52100, hardened", class: "bearing steel", young_gpa: 205.0, poisson: 0.29, density_kg_m3: 7810.0, cte_per_mk: 11.9, yield_mpa: None, hardness: "62 HRC" },
    Material { name: "90MnCrV8", full_name: "90MnCrV8 1.2842 AISI O2, hardened", class: "oil-hardening tool steel", young_gpa: 210.0, poisson: 0.29, density_kg_m3: 7850.0, cte_per_mk: 12.1, yield_mpa: None, hardness: "62-61 HRC tempered at 200 degC" },
    Material { name: "O1", full_name: "AISI O1, hardened", class: "oil-hardening tool steel", young_gpa: 190.0, poisson: 0.29, density_kg_m3: 7800.0, cte_per_mk: 12.0, yield_mpa: None, hardness: "64 HRC" },
    Material { name: "S355", full_name: "S355 / general structural steel", class: "steel", young_gpa: 210.0, poisson: 0.3, density_kg_m3: 7850.0, cte_per_mk: 12.0, yield_mpa: Some(355.0), hardness: "" },
    Material { name: "EN-GJL-250", full_name: "EN-GJL-250", class: "grey cast iron", young_gpa: 110.0, poisson: 0.26, density_kg_m3: 7200.0, cte_per_mk: 11.7, yield_mpa: Some(165.0), hardness: "170-240 HB" },
    Material { name: "granite", full_name: "Granite (generic)", class: "stone", young_gpa: 70.0, poisson: 0.25, density_kg_m3: 2900.0, cte_per_mk: 7.4, yield_mpa: None, hardness: "" },
    Material { name: "black granite", full_name: "Black granite / diabase, surface-plate grade", class: "stone", young_gpa: 90.0, poisson: 0.25, density_kg_m3: 3040.0, cte_per_mk: 6.0, yield_mpa: None, hardness: "" },
];
