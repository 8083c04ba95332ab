//! Regular marks in a picture of the face: their spacing and direction, from the picture's two-dimensional spectrum.
//!
//! In: a grey picture, two places in it a known distance apart. Out: the strongest regular patterns with their uncertainty.
//!
//! The light is taken out by a curved surface (its ratio, since light multiplies), the borders by a Hann window. A peak counts when it stands well
//! above its neighbourhood; its place is then refined between the cells of the transform. Standard deviations come from three parts:
//! the noise beside the peak, the difference between the quarters of the picture (uneven marks, a tilted camera), the two taps.

mod transform;

use crate::{Fault, Ranged};
use std::f64::consts::PI;
use transform::{Window, transform};

/// Most pixels of a picture: more tell nothing about marks that an eye sees.
pub const MOST_PIXELS: usize = 2_100_000;
/// Fewest waves across the picture's shorter side that make a pattern.
const FEWEST_WAVES: f64 = 3.0;
/// Shortest wave, pixels: below it the camera's own grid shows.
const SHORTEST_PX: f64 = 2.5;
/// How far a peak's power must stand above that of its neighbourhood: noise in a million cells reaches ln 1e6 = 14 times its mean.
const STANDS_OUT: f64 = 30.0;
/// Most patterns told.
const MOST_PATTERNS: usize = 3;

/// A grey picture, rows from the top.
#[derive(Clone, Copy, Debug)]
pub struct Picture<'a> {
    /// Pixels across (32 to 4096).
    pub width: usize,
    /// Pixels down (32 to 4096).
    pub height: usize,
    /// Grey values, width × height.
    pub grey: &'a [u8],
}

/// Two places in the picture a known distance apart.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scale {
    /// Places, pixels from the left and from the top.
    pub taps: [[f64; 2]; 2],
    /// Their distance on the work, mm (0.1 to 5000).
    pub distance_mm: f64,
    /// How well a place is hit, pixels, standard deviation (0.1 to 200).
    pub tap_sd_px: f64,
    /// Whether the two lie along the table's travel; else the travel goes from left to right in the picture.
    pub along_travel: bool,
}

/// A regular pattern of marks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Marks {
    /// Distance from mark to mark, at right angles to them, mm.
    pub spacing_mm: f64,
    /// Its relative standard deviation.
    pub spacing_rel_sd: f64,
    /// Angle of the marks to the table's travel, degrees in [0, 90]: 90 is straight across.
    pub angle_deg: f64,
    /// Its standard deviation, degrees.
    pub angle_sd_deg: f64,
    /// Power of the peak over that of its neighbourhood.
    pub above_noise: f64,
    /// Strength against the strongest pattern, 0 to 1.
    pub strength: f64,
}

/// What a picture tells.
#[derive(Clone, Debug, PartialEq)]
pub struct Spectrum {
    /// Millimetres a pixel.
    pub mm_per_px: f64,
    /// The patterns, the strongest first.
    pub patterns: Vec<Marks>,
    /// Waves a mm, and the strongest share of contrast in any direction there, 0 to 1 of the strongest pattern.
    pub curve: Vec<[f64; 2]>,
}

/// Find the regular marks.
///
/// # Errors
/// A [`Fault`] for a picture that is none, taps outside it or too close together, or no regular marks that repeat three times in it.
pub fn spectrum(picture: &Picture<'_>, scale: &Scale) -> Result<Spectrum, Fault> {
    check(picture, scale)?;
    let (w, h) = (picture.width, picture.height);
    let light = without_light(picture)?;
    let whole = Window { from: [0, 0], size: [w, h] };
    let power = transform(&light, w, whole);
    let found = peaks(&power, w, h);
    let (delta, distance) = between(scale);
    let mm_per_px = scale.distance_mm / distance;
    let travel = if scale.along_travel { [delta[0] / distance, delta[1] / distance] } else { [1.0, 0.0] };
    if found.is_empty() {
        let side = w.min(h) as f64 * mm_per_px;
        return Err(Fault::new(
            "photo",
            "no regular marks",
            format!(
                "marks that repeat at least {FEWEST_WAVES} times in the picture: here up to {:.2} mm apart, down to {:.3} mm",
                side / FEWEST_WAVES,
                SHORTEST_PX * mm_per_px
            ),
            "nothing in the picture repeats clearly: light the face from the side, hold the camera square to it, take in more waves; or measure over several marks with a rule",
        ));
    }
    let taps_rel = std::f64::consts::SQRT_2 * scale.tap_sd_px / distance;
    let strongest = found[0].power;
    let mut patterns: Vec<Marks> = Vec::new();
    for peak in &found {
        let k = refined(&light, w, whole, peak.k);
        let size = k[0].hypot(k[1]);
        // Window's share: variance of a Hann-windowed frequency estimate, 0.2373/(ρ·N²) in waves a pixel (derived; 2.34 times the Cramér-Rao bound
        // of no window, Rife & Boorstyn, IEEE Trans. Inf. Theory 20 (1974) 591).
        let noise = [0, 1].map(|axis| (0.2373 / peak.above_noise).sqrt() / [w, h][axis] as f64);
        let quarters = between_quarters(&light, [w, h], k, noise);
        let sd = [noise[0].hypot(quarters[0]), noise[1].hypot(quarters[1])];
        // Along and across the wave vector.
        let (c, s) = (k[0] / size, k[1] / size);
        let along = (c * sd[0]).hypot(s * sd[1]) / size;
        let across = (s * sd[0]).hypot(c * sd[1]) / size;
        let (forward, sideways) = ((k[0] * travel[0] + k[1] * travel[1]).abs(), (k[0] * travel[1] - k[1] * travel[0]).abs());
        let tilt = if scale.along_travel { taps_rel } else { 0.0 };
        let marks = Marks {
            spacing_mm: mm_per_px / size,
            spacing_rel_sd: along.hypot(taps_rel),
            angle_deg: forward.atan2(sideways).to_degrees(),
            angle_sd_deg: across.hypot(tilt).to_degrees(),
            above_noise: peak.above_noise,
            strength: (peak.power / strongest).sqrt(),
        };
        // Two cells of one peak are one pattern.
        let same =
            |other: &Marks| (other.spacing_mm / marks.spacing_mm - 1.0).abs() < 0.03 && (other.angle_deg - marks.angle_deg).abs() < 3.0;
        if !patterns.iter().any(same) {
            patterns.push(marks);
        }
        if patterns.len() == MOST_PATTERNS {
            break;
        }
    }
    let curve = curve(&power, w, h, mm_per_px, patterns[0].spacing_mm, strongest);
    Ok(Spectrum { mm_per_px, patterns, curve })
}

fn between(scale: &Scale) -> ([f64; 2], f64) {
    let delta = [scale.taps[1][0] - scale.taps[0][0], scale.taps[1][1] - scale.taps[0][1]];
    (delta, delta[0].hypot(delta[1]))
}

fn check(picture: &Picture<'_>, scale: &Scale) -> Result<(), Fault> {
    let why = "size of the picture: too small shows no marks, larger than this is to be reduced first";
    (picture.width as f64).within("photo.width_px", 32.0, 4096.0, "pixels", why)?;
    (picture.height as f64).within("photo.height_px", 32.0, 4096.0, "pixels", why)?;
    let pixels = picture.width * picture.height;
    if pixels > MOST_PIXELS {
        return Err(Fault::new(
            "photo.width_px",
            picture.width,
            format!("at most {MOST_PIXELS} pixels in all"),
            "reduce the picture first",
        ));
    }
    if picture.grey.len() != pixels {
        return Err(Fault::new(
            "photo.grey",
            picture.grey.len(),
            format!("{pixels} values"),
            "width times height grey values, row by row from the top",
        ));
    }
    scale.distance_mm.within("photo.scale.distance_mm", 0.1, 5000.0, "mm", "distance on the work between the two places")?;
    scale.tap_sd_px.within("photo.scale.tap_sd_px", 0.1, 200.0, "pixels", "how well a place is hit")?;
    for (i, t) in scale.taps.iter().enumerate() {
        t[0].within(
            &format!("photo.scale.taps[{i}][0]"),
            0.0,
            picture.width as f64,
            "pixels",
            "a place in the picture, from its left edge",
        )?;
        t[1].within(
            &format!("photo.scale.taps[{i}][1]"),
            0.0,
            picture.height as f64,
            "pixels",
            "a place in the picture, from its top edge",
        )?;
    }
    let (_, distance) = between(scale);
    let least = (10.0 * scale.tap_sd_px).max(8.0);
    if distance < least {
        let allowed = format!("at least {least} pixels apart");
        return Err(Fault::new(
            "photo.scale.taps",
            distance,
            allowed,
            "so close together the two places give no scale: choose two far apart",
        ));
    }
    Ok(())
}

/// The picture over its light, less one.
fn without_light(picture: &Picture<'_>) -> Result<Vec<f64>, Fault> {
    let (w, h) = (picture.width, picture.height);
    let terms = |x: usize, y: usize| {
        let (u, v) = (2.0 * x as f64 / w as f64 - 1.0, 2.0 * y as f64 / h as f64 - 1.0);
        [1.0, u, v, u * u, u * v, v * v]
    };
    // A twentieth of each side is plenty for six terms.
    let (across, down) = ((w / 64).max(1), (h / 64).max(1));
    let mut rows = Vec::new();
    let mut values = Vec::new();
    for y in (0..h).step_by(down) {
        for x in (0..w).step_by(across) {
            rows.extend(terms(x, y));
            values.push(f64::from(picture.grey[y * w + x]));
        }
    }
    let blank = || Fault::new("photo.grey", "one grey all over", "a picture with light and dark", "there is nothing to see in it");
    let matrix = nalgebra::DMatrix::from_row_slice(values.len(), 6, &rows);
    let c = matrix.svd(true, true).solve(&nalgebra::DVector::from_vec(values), 1e-12).map_err(|_| blank())?;
    let light = |x: usize, y: usize| terms(x, y).iter().zip(c.iter()).map(|(t, c)| t * c).sum::<f64>();
    let out: Vec<f64> = (0..w * h).map(|i| f64::from(picture.grey[i]) / light(i % w, i / w).max(8.0) - 1.0).collect();
    if out.iter().map(|v| v * v).sum::<f64>() / (out.len() as f64) < 1e-10 {
        return Err(blank());
    }
    Ok(out)
}

/// A peak of the spectrum: wave vector in waves a pixel.
struct Peak {
    k: [f64; 2],
    power: f64,
    above_noise: f64,
}

/// Peaks that stand out, the strongest first.
fn peaks(power: &[f64], w: usize, h: usize) -> Vec<Peak> {
    let columns = w / 2 + 1;
    let shortest_side = w.min(h) as f64;
    let wave = |i: usize, j: usize| [i as f64 / w as f64, if 2 * j <= h { j as f64 } else { j as f64 - h as f64 } / h as f64];
    let at = |i: i64, j: i64| {
        // Beyond the left edge the transform of a real picture is mirrored through its origin.
        let (i, j) = if i < 0 { (-i, -j) } else { (i, j) };
        power[j.rem_euclid(h as i64) as usize * columns + i.min(columns as i64 - 1) as usize]
    };
    let seen = |k: [f64; 2]| {
        let size = k[0].hypot(k[1]);
        size * shortest_side >= FEWEST_WAVES && size <= 1.0 / SHORTEST_PX
    };
    let mut candidates: Vec<(usize, usize, f64)> = Vec::new();
    for j in 0..h {
        for i in 0..columns {
            let p = power[j * columns + i];
            let highest = || (-1..=1).all(|b| (-1..=1).all(|a| at(i as i64 + a, j as i64 + b) <= p));
            // On the left edge each peak shows twice.
            if seen(wave(i, j)) && !(i == 0 && 2 * j > h) && highest() {
                candidates.push((i, j, p));
            }
        }
    }
    candidates.sort_by(|a, b| b.2.total_cmp(&a.2));
    let mut found = Vec::new();
    for (i, j, p) in candidates.into_iter().take(400) {
        // The neighbourhood without the peak itself, whose window reaches two cells.
        let mut around: Vec<f64> = Vec::new();
        for b in -9..=9_i64 {
            for a in -9..=9_i64 {
                if a.abs() > 2 || b.abs() > 2 {
                    around.push(at(i as i64 + a, j as i64 + b));
                }
            }
        }
        // Scratches all run along the travel: their spectrum is a ridge, out from the origin, that no square around the peak sees. So also
        // the neighbours on the peak's own ray.
        let ray = [i as f64, if 2 * j <= h { j as f64 } else { j as f64 - h as f64 }];
        let length = ray[0].hypot(ray[1]);
        let on_ray = (3..=16).flat_map(|d| [f64::from(d), -f64::from(d)]).filter(|d| length + d >= 1.0).map(|d| {
            let by = |axis: usize| (ray[axis] * (1.0 + d / length)).round() as i64;
            at(by(0), by(1))
        });
        let mut on_ray: Vec<f64> = on_ray.collect();
        // Power of noise is spread exponentially: its median is ln 2 of its mean.
        let noise = median(&mut around).max(median(&mut on_ray)) / std::f64::consts::LN_2;
        // A picture made by a formula has no noise at all: rounding to 256 greys is the least there is.
        let above_noise = (p / noise.max(f64::MIN_POSITIVE)).min(1e12);
        if above_noise >= STANDS_OUT {
            found.push(Peak { k: wave(i, j), power: p, above_noise });
        }
        if found.len() == 12 {
            break;
        }
    }
    found
}

fn median(values: &mut [f64]) -> f64 {
    if values.is_empty() {
        return 0.0;
    }
    let half = values.len() / 2;
    *values.select_nth_unstable_by(half, f64::total_cmp).1
}

/// The place of a peak between the cells: the top of the windowed transform, by parabolas through three places each way.
fn refined(light: &[f64], row: usize, window: Window, from: [f64; 2]) -> [f64; 2] {
    let mut k = from;
    for step in [0.4, 0.15, 0.05] {
        for axis in [0, 1] {
            let d = step / window.size[axis] as f64;
            let at = |by: f64| {
                let mut k = k;
                k[axis] += by;
                window.power_at(light, row, k).ln()
            };
            let (low, mid, high) = (at(-d), at(0.0), at(d));
            let bend = low - 2.0 * mid + high;
            if bend < 0.0 {
                k[axis] += (d * 0.5 * (low - high) / bend).clamp(-2.0 * d, 2.0 * d);
            }
        }
    }
    k
}

/// How much the wave vector differs between the quarters of the picture beyond what noise alone does: standard deviation along x and y.
fn between_quarters(light: &[f64], size: [usize; 2], k: [f64; 2], noise: [f64; 2]) -> [f64; 2] {
    let half = [size[0] / 2, size[1] / 2];
    let quarters: Vec<[f64; 2]> = [[0, 0], [half[0], 0], [0, half[1]], half]
        .into_iter()
        .map(|from| refined(light, size[0], Window { from, size: half }, k))
        // A quarter without the marks runs off to somewhere else; it says nothing.
        .filter(|q| (q[0] - k[0]).abs() < 1.5 / half[0] as f64 && (q[1] - k[1]).abs() < 1.5 / half[1] as f64)
        .collect();
    [0, 1].map(|axis| {
        if quarters.len() < 2 {
            // Only one quarter shows them: as uncertain as a cell is wide.
            return 0.25 / size[axis] as f64;
        }
        let scatter = quarters.iter().map(|q| (q[axis] - k[axis]).powi(2)).sum::<f64>() / quarters.len() as f64;
        // A quarter is half as long and has a quarter of the pixels: its own noise is four times that of the whole. Four squares exceed two and a
        // half times their mean once in 25 times (χ² of four); only then is it more than noise.
        let own = (4.0 * noise[axis]).powi(2);
        if scatter > 2.5 * own { (scatter - own).sqrt() } else { 0.0 }
    })
}

/// The spectrum over all directions, for a plot.
fn curve(power: &[f64], w: usize, h: usize, mm_per_px: f64, spacing_mm: f64, strongest: f64) -> Vec<[f64; 2]> {
    let columns = w / 2 + 1;
    let most = (1.0 / SHORTEST_PX).min(4.5 * mm_per_px / spacing_mm);
    let least = FEWEST_WAVES / w.min(h) as f64;
    // Not narrower than the cells are.
    let bins = (((most - least) * w.min(h) as f64) as usize).clamp(8, 240);
    let mut top = vec![0.0_f64; bins];
    for j in 0..h {
        for i in 0..columns {
            let ky = if 2 * j <= h { j as f64 } else { j as f64 - h as f64 } / h as f64;
            let size = (i as f64 / w as f64).hypot(ky);
            let bin = (size - least) / (most - least) * bins as f64;
            if (0.0..bins as f64).contains(&bin) {
                let bin = &mut top[bin as usize];
                *bin = bin.max(power[j * columns + i]);
            }
        }
    }
    let centre = |b: usize| (least + (b as f64 + 0.5) / bins as f64 * (most - least)) / mm_per_px;
    top.iter().enumerate().map(|(b, p)| [centre(b), (p / strongest).sqrt()]).collect()
}

/// Hann's window at point i of n: `sin²(π(i + ½)/n)`.
fn hann(i: usize, n: usize) -> f64 {
    (PI * (i as f64 + 0.5) / n as f64).sin().powi(2)
}
