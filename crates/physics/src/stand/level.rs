//! Level: bubble or height readings → slope of the plate → turns of each foot screw; and what slope is good enough.
//!
//! In: readings, the feet, the pitch of their screws. Out: the slope with its standard deviation, the turns, and for each kind of
//! stand the slope below which level no longer matters.
//!
//! Plane z = c + sx·x + sy·y. A bubble runs to the high end: a reading along the unit direction d tells s·d + e, with e the vial's
//! own error; turned end for end (bubble still counted toward the same end of the work) it tells s·d − e, so half the sum is the
//! slope and half the difference the vial's error (reversal, common metrology). All readings are solved together by least squares.

use super::feet::Feet;
use crate::{Fault, Ranged};
use nalgebra::{DMatrix, DVector, Matrix3};

/// How well a bubble is read, divisions, standard deviation. Common practice, no source: about a quarter division.
pub const BUBBLE_SD_DIVISIONS: f64 = 0.25;

/// Slope of the plate, mm/m: x right, y away from the operator; the end toward which it is positive is high.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Slope {
    /// Along x, mm/m.
    pub x_mm_per_m: f64,
    /// Along y, mm/m.
    pub y_mm_per_m: f64,
}

/// One place of the level on the work.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BubbleReading {
    /// Direction in plan counted as positive, degrees counter-clockwise from x.
    pub along_deg: f64,
    /// Bubble from the middle toward that direction, divisions.
    pub divisions: f64,
    /// The same after the level was turned end for end on the spot, still counted toward that direction of the work.
    pub reversed_divisions: Option<f64>,
}

/// Height of a place of the plate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HeightReading {
    /// Place, mm.
    pub x_mm: f64,
    /// Place, mm.
    pub y_mm: f64,
    /// Height there above any plane that is level, mm.
    pub height_mm: f64,
}

/// A slope that was measured.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measured {
    /// The slope.
    pub slope: Slope,
    /// Its standard deviation along x and y, mm/m.
    pub sd_mm_per_m: [f64; 2],
    /// Error of the vial, divisions; `None` when no reading was reversed, and then taken as zero.
    pub vial_error_divisions: Option<f64>,
    /// Mean height, mm, of height readings.
    pub mean_height_mm: Option<f64>,
    /// Largest reading left over by the plane, divisions or mm: zero when there are no more readings than unknowns.
    pub largest_misfit: f64,
}

/// Slope of a level marked in seconds of arc a division, mm/m: a rise of sin α over the length.
pub fn mm_per_m_of_arcsec(arcsec: f64) -> f64 {
    1e3 * (arcsec / 3600.0).to_radians().sin()
}

/// The other way: seconds of arc of a slope below 1000 mm/m.
pub fn arcsec_of_mm_per_m(slope_mm_per_m: f64) -> f64 {
    (slope_mm_per_m * 1e-3).asin().to_degrees() * 3600.0
}

/// Slope from bubble readings in two or more directions.
///
/// `sensitivity_mm_per_m` is the slope of one division (0.001 to 10 mm/m), `sd_divisions` how well the bubble is read
/// ([`BUBBLE_SD_DIVISIONS`]).
///
/// # Errors
/// A [`Fault`] for values out of range, and for directions that lie within 20° of one line: they do not tell both slopes.
pub fn slope_from_bubbles(readings: &[BubbleReading], sensitivity_mm_per_m: f64, sd_divisions: f64) -> Result<Measured, Fault> {
    let why = "slope that moves the bubble by one division, as marked on the level";
    let unit = sensitivity_mm_per_m.within("sensitivity_mm_per_m", 1e-3, 10.0, "mm/m", why)?;
    let sd = sd_divisions.within("reading_sd_divisions", 1e-3, 10.0, "divisions", "how well the bubble is read: a quarter division")?;
    let mut directions = Vec::new();
    let mut rows = Vec::new();
    for (i, r) in readings.iter().enumerate() {
        let name = |field: &str| format!("readings[{i}].{field}");
        let along = r.along_deg.within(&name("along_deg"), -3600.0, 3600.0, "degrees", "direction in plan")?.to_radians();
        let why = "the bubble must stand within the vial: level by eye first";
        let first = r.divisions.within(&name("divisions"), -50.0, 50.0, "divisions", why)?;
        directions.push(along);
        rows.push((along, 1.0, first));
        if let Some(second) = r.reversed_divisions {
            rows.push((along, -1.0, second.within(&name("reversed_divisions"), -50.0, 50.0, "divisions", why)?));
        }
    }
    check_directions(&directions)?;
    let reversed = readings.iter().any(|r| r.reversed_divisions.is_some());
    let columns = if reversed { 3 } else { 2 };
    let row = |i: usize, c: usize| match c {
        0 => rows[i].0.cos(),
        1 => rows[i].0.sin(),
        _ => rows[i].1,
    };
    let a = DMatrix::from_fn(rows.len(), columns, row);
    let b = DVector::from_fn(rows.len(), |i, _| rows[i].2);
    let (x, cofactor, misfit) = solve(&a, &b, "readings")?;
    Ok(Measured {
        slope: Slope { x_mm_per_m: x[0] * unit, y_mm_per_m: x[1] * unit },
        sd_mm_per_m: [0, 1].map(|i| cofactor[(i, i)].sqrt() * sd * unit),
        vial_error_divisions: reversed.then(|| x[2]),
        mean_height_mm: None,
        largest_misfit: misfit,
    })
}

/// Two directions at least 20° out of one line.
fn check_directions(along: &[f64]) -> Result<(), Fault> {
    let apart = |a: f64, b: f64| (a - b).sin().abs();
    let widest = along.iter().flat_map(|a| along.iter().map(move |b| apart(*a, *b))).fold(0.0, f64::max);
    if widest >= 20f64.to_radians().sin() {
        return Ok(());
    }
    let why = "one direction tells one slope: set the level square to the first, and read again";
    Err(Fault::new("readings", along.len(), "readings in two directions, about 90° apart and at least 20°", why))
}

/// Slope from heights at three or more places; `sd_mm` is how well a height is read.
///
/// # Errors
/// A [`Fault`] for values out of range, fewer than three places, and places in one line.
pub fn slope_from_heights(readings: &[HeightReading], sd_mm: f64) -> Result<Measured, Fault> {
    let sd = sd_mm.within("reading_sd_mm", 1e-5, 10.0, "mm", "how well a height is read")?;
    if readings.len() < 3 {
        return Err(Fault::new("readings", readings.len(), "three or more places", "a plane goes through three points"));
    }
    for (i, r) in readings.iter().enumerate() {
        for (name, v) in [("x_mm", r.x_mm), ("y_mm", r.y_mm)] {
            v.within(&format!("readings[{i}].{name}"), -10_000.0, 10_000.0, "mm", "place on the plate")?;
        }
        r.height_mm.within(&format!("readings[{i}].height_mm"), -1000.0, 1000.0, "mm", "height of that place")?;
    }
    // About their middle, so that heights and slopes do not mix; and in their own size, so that the test of rank has no unit.
    let n = readings.len() as f64;
    let middle = [readings.iter().map(|r| r.x_mm).sum::<f64>() / n, readings.iter().map(|r| r.y_mm).sum::<f64>() / n];
    let size = readings.iter().map(|r| (r.x_mm - middle[0]).hypot(r.y_mm - middle[1])).fold(0.0, f64::max).max(1e-9);
    let row = |i: usize, c: usize| match c {
        0 => (readings[i].x_mm - middle[0]) / size,
        1 => (readings[i].y_mm - middle[1]) / size,
        _ => 1.0,
    };
    let a = DMatrix::from_fn(readings.len(), 3, row);
    let b = DVector::from_fn(readings.len(), |i, _| readings[i].height_mm);
    let (x, cofactor, misfit) = solve(&a, &b, "readings")?;
    let slope = Slope { x_mm_per_m: x[0] * 1e3 / size, y_mm_per_m: x[1] * 1e3 / size };
    for (field, v) in [("slope_x_mm_per_m", slope.x_mm_per_m), ("slope_y_mm_per_m", slope.y_mm_per_m)] {
        v.within(field, -200.0, 200.0, "mm/m", "the heights give a slope that no levelling screw takes out: check them")?;
    }
    Ok(Measured {
        slope,
        sd_mm_per_m: [0, 1].map(|i| cofactor[(i, i)].sqrt() * sd * 1e3 / size),
        vial_error_divisions: None,
        mean_height_mm: Some(x[2]),
        largest_misfit: misfit,
    })
}

/// Least squares of a few unknowns by QR: solution, (AᵀA)⁻¹, largest residual.
fn solve(a: &DMatrix<f64>, b: &DVector<f64>, field: &str) -> Result<(DVector<f64>, DMatrix<f64>, f64), Fault> {
    let qr = a.clone().qr();
    let r = qr.r();
    let inverse = r.clone().try_inverse().filter(|_| (0..r.ncols()).all(|i| r[(i, i)].abs() > 0.02));
    let Some(inverse) = inverse else {
        let why = "the places lie in one line, or the readings do not tell both slopes: read at a place off that line";
        return Err(Fault::new(field, a.nrows(), "readings that fix a plane", why));
    };
    let x = &inverse * (qr.q().transpose() * b);
    // Below that it is rounding.
    let misfit = Some((a * &x - b).amax()).filter(|m| *m > 1e-12 * b.amax().max(1.0)).unwrap_or(0.0);
    Ok((x, &inverse * inverse.transpose(), misfit))
}

/// Which of the many ways to level is wanted: they differ by a lift of the whole plate.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Keep {
    /// The mean of the feet keeps its height.
    Height,
    /// No foot goes down.
    OnlyUp,
    /// The least turning in all: the middle foot stays as it is.
    LeastTurning,
}

/// Rise of each foot that makes the plate level, mm.
///
/// dz = −(sx·x + sy·y) for each foot, then the whole shifted as wanted (rigid plate on three points).
///
/// # Errors
/// A [`Fault`] for a slope beyond 200 mm/m.
pub fn foot_changes_mm(feet: &Feet, slope: Slope, keep: Keep) -> Result<[f64; 3], Fault> {
    for (field, v) in [("slope_x_mm_per_m", slope.x_mm_per_m), ("slope_y_mm_per_m", slope.y_mm_per_m)] {
        v.within(field, -200.0, 200.0, "mm/m", "level the stand by eye first")?;
    }
    let dz = feet.places().map(|[x, y]| -(slope.x_mm_per_m * x + slope.y_mm_per_m * y) * 1e-3);
    let mut sorted = dz;
    sorted.sort_by(f64::total_cmp);
    let shift = match keep {
        Keep::Height => dz.iter().sum::<f64>() / 3.0,
        Keep::OnlyUp => sorted[0],
        Keep::LeastTurning => sorted[1],
    };
    Ok(dz.map(|d| d - shift))
}

/// Turns of each screw, positive where the plate goes up at that foot; `pitch_mm` for each.
///
/// # Errors
/// As [`foot_changes_mm`], and for a pitch outside 0.1 to 10 mm.
pub fn turns(feet: &Feet, slope: Slope, keep: Keep, pitch_mm: [f64; 3]) -> Result<[f64; 3], Fault> {
    for (i, p) in pitch_mm.iter().enumerate() {
        p.within(&format!("feet[{i}].pitch_mm"), 0.1, 10.0, "mm", "pitch of the levelling screw: fine ones have 0.75 or 1 mm")?;
    }
    let dz = foot_changes_mm(feet, slope, keep)?;
    Ok(std::array::from_fn(|i| dz[i] / pitch_mm[i]))
}

/// Slope after the feet were changed by `dz_mm`: what the next reading should be.
pub fn slope_after(feet: &Feet, before: Slope, dz_mm: [f64; 3]) -> Slope {
    let at = feet.places();
    let m = Matrix3::from_fn(|r, c| [at[r][0], at[r][1], 1.0][c]);
    // `Feet` has no three in a line, so the inverse is there; without it nothing changes.
    let plane = m.try_inverse().map_or_else(nalgebra::Vector3::zeros, |i| i * nalgebra::Vector3::from(dz_mm));
    Slope { x_mm_per_m: before.x_mm_per_m + plane[0] * 1e3, y_mm_per_m: before.y_mm_per_m + plane[1] * 1e3 }
}

/// What slope is good enough, and why.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GoodEnough {
    /// Across the arbor (along ways), mm/m; `None`: slope there does nothing.
    pub cross_mm_per_m: Option<f64>,
    /// Along the arbor, mm/m; `None`: slope there does nothing.
    pub axial_mm_per_m: Option<f64>,
    /// On air: time in which the arbor creeps its end play at that axial slope, s. Shorter than a look: it leans on its stop all
    /// the while, and the slope is judged by the stop's friction, as done here.
    pub end_creep_s: Option<f64>,
}

/// Slopes whose effect each stays within `share` of `floor_g_mm`, on this support with this load.
///
/// Air: across, by the film's own answer to slope; along, by the friction of the end stop, μ·M·α·r; the arbor's tilt in its floats is
/// taken off what is left for the plate. Ways and edges: M·r·α across; along, friction holds the arbor. Disc rollers: the notch takes
/// slope both ways. `end_play_mm`: how far the arbor may creep along on air before it touches; from rest it takes √(2·s/(g·α)).
///
/// # Errors
/// A [`Fault`] as `Support::effects`, for a floor or share out of range, and when the floats alone tilt the arbor more than the
/// stop allows.
pub fn good_enough(
    support: &super::supports::Support,
    on: &super::supports::Carried,
    floor_g_mm: f64,
    share: f64,
    end_play_mm: f64,
) -> Result<GoodEnough, Fault> {
    use super::supports::Support;
    support.effects(on)?;
    let floor = floor_g_mm.within("target_floor_g_mm", 1e-4, 1e6, "g·mm", "the floor that is wanted of this stand")?;
    let share = share.within("share", 0.01, 1.0, "", "share of the floor that one slope may use: 0.25")?;
    let play = end_play_mm.within("end_play_mm", 0.01, 100.0, "mm", "how far the arbor can creep along before it touches a stop")?;
    let allowed = share * floor;
    let mass_g = on.mass_kg * 1e3;
    // Beyond 20 mm/m nothing here holds, so no answer is larger.
    let capped = |slope: f64| slope.min(20.0);
    match support {
        Support::HardenedWays(_) | Support::KnifeEdges(_) => Ok(GoodEnough {
            cross_mm_per_m: Some(capped(1e3 * allowed / (mass_g * on.arbor.radius_mm))),
            axial_mm_per_m: None,
            end_creep_s: None,
        }),
        Support::DiscRollers(_) => Ok(GoodEnough { cross_mm_per_m: None, axial_mm_per_m: None, end_creep_s: None }),
        Support::Air(film) => {
            let by_slope = film.drift_per_cross_slope_g_mm.abs();
            let lean = film.end_stop_friction * mass_g * film.end_stop_radius_mm * 1e-3;
            let axial = if lean > 0.0 { capped(allowed / lean) } else { 20.0 };
            let left = axial - film.axis_tilt_mm_per_m.abs();
            if left <= 0.0 {
                let why = "the arbor tilts in its floats more than the end stop's friction allows: share the load better between the \
                    saddles, or make the end stop smaller";
                return Err(Fault::new("axis_tilt_mm_per_m", film.axis_tilt_mm_per_m, format!("less than {axial:.4} mm/m"), why));
            }
            let creep = (2.0 * play * 1e-3 / (crate::quantity::STANDARD_GRAVITY * axial * 1e-3)).sqrt();
            Ok(GoodEnough {
                cross_mm_per_m: Some(if by_slope > 0.0 { capped(allowed / by_slope) } else { 20.0 }),
                axial_mm_per_m: Some(left),
                end_creep_s: Some(creep),
            })
        }
    }
}
