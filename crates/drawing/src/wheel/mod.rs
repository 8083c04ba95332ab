//! The wheel as the operator sees it: weights where they are, ghosts where they shall go, the unbalance with its region.
//!
//! In: a [`WheelPicture`]. Out: SVG, 400 units wide. The abrasive, the flange, the ring and the bore are shown by kind,
//! not to scale: only angles are true, and the unbalance in the bore at the scale that the legend states.
//!
//! For pages that let a finger turn the wheel: everything on the rotor stands in one group (`data-part="rotor"`, id
//! `rotor`) whose `transform` is `rotate(−φ)` about the origin of the view, the wheel's centre, with φ the zero mark's
//! room angle in `data-zero-mark-deg`. Texts in it that stay upright carry `data-upright` with `data-x`, `data-y`, and
//! turn back by `rotate(φ x y)`.

mod draw;
mod holes;
mod legend;

use crate::scale::Scale;
use stillwheel_physics::quantity::{Angle, RoomAngle, RotorAngle};
use stillwheel_physics::{Fault, Ranged};

/// A weight on the ring.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PictureWeight {
    /// Where its centre is.
    pub at: RotorAngle,
    /// Arc of its body (0° to 180°). Below 2° it is drawn 2° wide, to be seen.
    pub arc: Angle,
    /// How far it shall be moved, counter-clockwise positive (−360° to 360°); `None` or 0: it stays.
    pub move_by: Option<Angle>,
}

/// A tapped hole of the ring. Holes are numbered from 1 in the order in which they are listed.
#[derive(Clone, Debug, PartialEq)]
pub struct PictureHole {
    /// Where it is.
    pub at: RotorAngle,
    /// The screw in it, in a few signs such as its mass in grams; `None`: empty. At most 8 characters.
    pub now: Option<String>,
    /// What shall be in it: `None`: what is in it now; `Some(None)`: nothing.
    pub then: Option<Option<String>>,
}

/// An arc that no weight may enter, counter-clockwise from `from` to `to`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ForbiddenArc {
    /// First edge.
    pub from: RotorAngle,
    /// Second edge.
    pub to: RotorAngle,
}

/// The unbalance in the middle of the wheel.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct PictureUnbalance {
    /// Closed outlines on the rotor, [x, y] in g·mm (x along the zero mark, y a quarter turn counter-clockwise), filled
    /// even-odd. At most 1e9 g·mm in size.
    pub outlines_g_mm: Vec<Vec<[f64; 2]>>,
    /// What the region holds, as a probability in words: "95 %".
    pub holds: String,
    /// The allowance, g·mm, above 0: drawn as a dashed circle.
    pub allowance_g_mm: Option<f64>,
    /// What the outer circle stands for, g·mm; `None`: the next round number that holds region and allowance.
    pub outer_g_mm: Option<f64>,
}

/// All that the picture shows.
#[derive(Clone, Debug, PartialEq)]
pub struct WheelPicture {
    /// What it is, in a few words, for screen readers.
    pub title: String,
    /// Put before every id, for pages with more than one picture: letters, digits, `-`, at most 40.
    pub id_prefix: String,
    /// Where the zero mark stands: [`ZERO_MARK_UP`], or [`settled`].
    pub zero_mark: RoomAngle,
    /// How the ring is marked.
    pub scale: Scale,
    /// Spacing of the graduations, degrees (0.1 to 90); drawn no closer than 2°.
    pub graduation_deg: f64,
    /// The weights (at most 60).
    pub weights: Vec<PictureWeight>,
    /// Tapped holes with their screws (at most 60).
    pub holes: Vec<PictureHole>,
    /// Arcs without weights (at most 60).
    pub forbidden: Vec<ForbiddenArc>,
    /// The heavy side.
    pub heavy: Option<RotorAngle>,
    /// The unbalance in the bore.
    pub unbalance: Option<PictureUnbalance>,
    /// Whether to mark the bottom, where the settle angle is read.
    pub bottom_pointer: bool,
    /// Whether to explain the signs below the wheel.
    pub legend: bool,
}

impl Default for WheelPicture {
    fn default() -> Self {
        Self {
            title: "Wheel".to_owned(),
            id_prefix: String::new(),
            zero_mark: ZERO_MARK_UP,
            scale: Scale::CounterClockwise,
            graduation_deg: 5.0,
            weights: Vec::new(),
            holes: Vec::new(),
            forbidden: Vec::new(),
            heavy: None,
            unbalance: None,
            bottom_pointer: false,
            legend: true,
        }
    }
}

/// The zero mark straight up.
pub const ZERO_MARK_UP: RoomAngle = RoomAngle::from_rad(std::f64::consts::PI);

/// Where the zero mark stands once the rotor has settled with `settle` at the bottom.
pub fn settled(settle: RotorAngle) -> RoomAngle {
    RoomAngle::from_rad(-settle.rad())
}

/// Draw the wheel.
///
/// # Errors
/// A [`Fault`] for a field out of the range stated at it.
pub fn wheel(picture: &WheelPicture) -> Result<String, Fault> {
    check(picture)?;
    draw::draw(picture)
}

fn check(p: &WheelPicture) -> Result<(), Fault> {
    check_prefix(&p.id_prefix)?;
    p.zero_mark.deg().within("zero_mark", 0.0, 360.0, "degrees", "the zero mark's place in the room must be known")?;
    p.scale.check()?;
    p.graduation_deg.within("graduation_deg", 0.1, 90.0, "degrees", "closer marks can't be made, wider ones mark nothing")?;
    for (field, count) in [("weights", p.weights.len()), ("holes", p.holes.len()), ("forbidden", p.forbidden.len())] {
        if count > 60 {
            return Err(Fault::new(field, count, "at most 60", "more can't be told apart on one ring"));
        }
    }
    for (i, h) in p.holes.iter().enumerate() {
        check_angle(&format!("holes[{i}].at"), h.at)?;
        for screw in h.now.iter().chain(h.then.iter().flatten()) {
            if screw.chars().count() > 8 {
                return Err(Fault::new(
                    format!("holes[{i}]"),
                    screw.as_str(),
                    "at most 8 characters",
                    "longer text finds no room in a hole",
                ));
            }
        }
    }
    for (i, w) in p.weights.iter().enumerate() {
        let place = format!("weights[{i}]");
        check_angle(&format!("{place}.at"), w.at)?;
        w.arc.deg().within(&format!("{place}.arc"), 0.0, 180.0, "degrees", "a weight's body takes up to half the ring")?;
        if let Some(by) = w.move_by {
            by.deg().within(&format!("{place}.move_by"), -360.0, 360.0, "degrees", "no move needs more than one turn")?;
        }
    }
    for (i, f) in p.forbidden.iter().enumerate() {
        check_angle(&format!("forbidden[{i}].from"), f.from)?;
        check_angle(&format!("forbidden[{i}].to"), f.to)?;
    }
    if let Some(heavy) = p.heavy {
        check_angle("heavy", heavy)?;
    }
    if let Some(u) = &p.unbalance {
        check_outlines(&u.outlines_g_mm)?;
        check_size("unbalance.allowance_g_mm", u.allowance_g_mm)?;
        check_size("unbalance.outer_g_mm", u.outer_g_mm)?;
    }
    Ok(())
}

fn check_angle(field: &str, at: RotorAngle) -> Result<(), Fault> {
    at.deg().within(field, 0.0, 360.0, "degrees", "a place on the rotor is an angle from the zero mark").map(|_| ())
}

pub(crate) fn check_prefix(prefix: &str) -> Result<(), Fault> {
    if prefix.len() <= 40 && prefix.chars().all(|c| c.is_ascii_alphanumeric() || c == '-') {
        return Ok(());
    }
    Err(Fault::new("id_prefix", prefix, "letters, digits and -, at most 40", "ids of a page must be plain words"))
}

pub(crate) fn check_outlines(outlines: &[Vec<[f64; 2]>]) -> Result<(), Fault> {
    for v in outlines.iter().flatten().flatten() {
        v.within("outlines_g_mm", -1e9, 1e9, "g·mm", "no rotor on a stand has more")?;
    }
    Ok(())
}

pub(crate) fn check_size(field: &str, v: Option<f64>) -> Result<(), Fault> {
    v.map_or(Ok(()), |v| v.within(field, 1e-6, 1e9, "g·mm", "a circle of no size can't be drawn, and no rotor has more").map(|_| ()))
}
