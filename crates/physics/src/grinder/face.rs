//! The ground face: what the wheel leaves after all its passes.
//!
//! In: vibrations of the head with their frequencies, the wheel, table speed, cross-feed, spark-out. Out: the face strip by strip.
//!
//! The wheel's centre runs along `z(x) = Σ A·cos(2πf·x/v + φ)` over the work; a place of the face is as low as the lowest circle that passed it in
//! any pass that covers it (kinematics alone: the wheel neither wears nor bends, each grain at the rim's radius). With a cross-feed
//! smaller than the wheel is wide each strip is passed several times, and once more by each sparking-out over the whole face; the
//! phase is free in each pass, since nothing ties the table's reversal to the wheel's turning. Earlier down-feeds cut higher and don't show.
//! A wheel that was trued while it vibrated just so is out of round just so, and cuts flatter than this until speed or state change.

use super::envelope::{lower_envelope, sag};
use super::filter::REACH;
use super::roughness::{Texture, texture};
use crate::quantity::{Length, Velocity};
use crate::{Fault, Ranged};
use rand::{RngExt, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;
use std::f64::consts::TAU;

/// Most points of a strip, and most strips times passes: what is drawn and measured needs no more.
const MOST_POINTS: f64 = 60_000.0;
const MOST_PASSES: usize = 1500;

/// One vibration of the wheel against the work, up and down.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Source {
    /// Frequency (0.1 to 10,000 Hz).
    pub frequency_hz: f64,
    /// Half of its travel (0 to 1 mm).
    pub amplitude: Length,
}

/// How the passes lie to each other.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Phases {
    /// Free: another in each pass, drawn from this seed.
    Free(u64),
    /// The same in every pass, starting with a trough at the work's edge: as bad as it gets.
    Same,
}

/// How the face is ground.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Recipe {
    /// Radius of the wheel (5 to 1000 mm).
    pub wheel_radius: Length,
    /// Width of the wheel (0.5 to 500 mm).
    pub wheel_width: Length,
    /// Speed of the table (0.001 to 2 m/s).
    pub table_speed: Velocity,
    /// Cross-feed between one pass and the next (0.02 mm to the wheel's width); none: the wheel covers the face in one go.
    pub cross_feed: Option<Length>,
    /// Times that the whole face is gone over again without down-feed (0 to 50).
    pub spark_out: u32,
    /// Length of the face along the table's travel (2 to 2000 mm), the evaluation length.
    pub length: Length,
    /// Width of the face (0.1 to 2000 mm); without cross-feed at most the wheel's.
    pub width: Length,
    /// How the passes lie to each other.
    pub phases: Phases,
    /// Cut-off between roughness and waviness (0.08 to 25 mm).
    pub cutoff: Length,
    /// Bound of the waviness to long waves; none: only the straight line is taken off.
    pub long_cutoff: Option<Length>,
}

/// A strip of the face that the same passes covered.
#[derive(Clone, Debug, PartialEq)]
pub struct Strip {
    /// Where it begins and ends across the face, mm.
    pub from_mm: f64,
    /// As above.
    pub to_mm: f64,
    /// Passes over it.
    pub passes: usize,
    /// Height over its length, µm above where a steady wheel would cut.
    pub heights_um: Vec<f64>,
    /// Its parameters, µm.
    pub texture: Texture,
}

/// The ground face.
#[derive(Clone, Debug, PartialEq)]
pub struct Face {
    /// Distance of the points along a strip, mm.
    pub spacing_mm: f64,
    /// The strips from one edge to the other.
    pub strips: Vec<Strip>,
    /// Longest distance, along the table, between where the wheel's lowest point was and what it cut there, mm.
    pub reach_mm: f64,
}

impl Face {
    /// The strip with the highest waves.
    pub fn worst(&self) -> &Strip {
        let higher = |a: &&Strip, b: &&Strip| a.texture.waviness.total.total_cmp(&b.texture.waviness.total);
        // A face has at least one strip by its making.
        self.strips.iter().max_by(higher).unwrap_or(&self.strips[0])
    }
}

/// Grind a face.
///
/// # Errors
/// A [`Fault`] for a value out of the ranges of [`Source`] and [`Recipe`], a face too long for waves so fine, or too many passes.
pub fn ground_face(sources: &[Source], recipe: &Recipe) -> Result<Face, Fault> {
    let path = Path::new(sources, recipe)?;
    let cover = passes(recipe)?;
    let margin = REACH * recipe.long_cutoff.map_or(recipe.cutoff, |l| if l > recipe.cutoff { l } else { recipe.cutoff }).mm();
    let length = recipe.length.mm();
    let fine = (recipe.cutoff.mm() / 20.0).min(path.shortest_mm / 256.0);
    let whole = length + 2.0 * margin;
    // Coarser where the face is long, but never so coarse that a wave is lost.
    let spacing = fine.max(whole / MOST_POINTS);
    if spacing > path.shortest_mm / 16.0 || spacing > recipe.cutoff.mm() / 6.0 {
        let allowed =
            format!("at most {:.0} mm with waves of {:.3} mm", MOST_POINTS / 16.0 * path.shortest_mm - 2.0 * margin, path.shortest_mm);
        return Err(Fault::new("face_length_mm", length, allowed, "the face is too long for waves so fine: look at a shorter piece"));
    }
    // Whole points a margin, so that the filter's ends are cut off exactly there.
    let points = (whole / spacing).ceil() as usize + 3;
    let xs: Vec<f64> = (0..points).map(|i| i as f64 * spacing - margin - spacing).collect();

    let mut heights = vec![vec![f64::INFINITY; points]; cover.strips.len()];
    let mut draw = match recipe.phases {
        Phases::Free(seed) => Some(Xoshiro256PlusPlus::seed_from_u64(seed)),
        Phases::Same => None,
    };
    for _ in 0..=recipe.spark_out {
        for pass in 0..cover.passes {
            let phases: Vec<f64> = sources.iter().map(|_| draw.as_mut().map_or(TAU / 2.0, |d| d.random_range(0.0..TAU))).collect();
            let cut = path.cut(&phases, &xs);
            for (strip, heights) in cover.strips.iter().zip(&mut heights).filter(|(s, _)| s.first <= pass && pass <= s.last) {
                debug_assert!(strip.from < strip.to);
                for (h, c) in heights.iter_mut().zip(&cut) {
                    *h = h.min(*c);
                }
            }
        }
    }
    let strips = cover.strips.iter().zip(heights).map(|(s, mm)| {
        let um: Vec<f64> = mm.iter().map(|z| z * 1e3).collect();
        let texture = texture(&um, spacing, recipe.cutoff.mm(), recipe.long_cutoff.map(Length::mm))?;
        Ok(Strip {
            from_mm: s.from,
            to_mm: s.to,
            passes: (s.last + 1 - s.first) * (recipe.spark_out as usize + 1),
            heights_um: um[texture.from..texture.to].to_vec(),
            texture,
        })
    });
    Ok(Face { spacing_mm: spacing, strips: strips.collect::<Result<_, Fault>>()?, reach_mm: path.reach_mm })
}

/// A measure of the waviness for which a limit is set.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Measure {
    /// Wa.
    Mean,
    /// Wq.
    Rms,
    /// Wt.
    Total,
}

/// What a limit on the waviness asks of one source.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Needed {
    /// At most this amplitude.
    Amplitude(Length),
    /// The other sources alone are above the limit: less of this one does not help.
    OthersAlone,
    /// No amplitude up to 1 mm goes above the limit: the arcs of the wheel cut each other's crests off.
    Any,
}

/// The largest amplitude of the first source with which the worst strip keeps within `limit_um`, phases and all else as they are.
///
/// # Errors
/// A [`Fault`] as [`ground_face`]; for a limit outside 0.001 to 1000 µm, or no source at all.
pub fn amplitude_within(limit_um: f64, measure: Measure, sources: &[Source], recipe: &Recipe) -> Result<Needed, Fault> {
    limit_um.within("target.limit_um", 1e-3, 1000.0, "µm", "waviness that is wanted")?;
    let Some((first, others)) = sources.split_first() else {
        return Err(Fault::new("sources", 0.0, "at least one", "without a source there is no amplitude to tell"));
    };
    let over = |amplitude_mm: f64| -> Result<f64, Fault> {
        let mut all = vec![Source { amplitude: Length::from_mm(amplitude_mm), ..*first }];
        all.extend_from_slice(others);
        let face = ground_face(&all, recipe)?;
        let of = |s: &Strip| match measure {
            Measure::Mean => s.texture.waviness.mean,
            Measure::Rms => s.texture.waviness.rms,
            Measure::Total => s.texture.waviness.total,
        };
        Ok(face.strips.iter().map(of).fold(0.0, f64::max) - limit_um)
    };
    let (mut low, mut at_low) = (0.0, over(0.0)?);
    if at_low > 0.0 {
        return Ok(Needed::OthersAlone);
    }
    // A single pass leaves twice the amplitude: more is needed for the limit, never less.
    let mut high = limit_um * 0.5e-3;
    let mut at_high = over(high)?;
    while at_high <= 0.0 {
        (low, at_low) = (high, at_high);
        high *= 2.0;
        if high > 1.0 {
            return Ok(Needed::Any);
        }
        at_high = over(high)?;
    }
    // False position, kept from stalling by halving the end that stays (Illinois): the height is nearly straight in the amplitude.
    let mut stayed = 0;
    for _ in 0..60 {
        if high - low <= 1e-5 * high {
            break;
        }
        let mid = (low * at_high - high * at_low) / (at_high - at_low);
        let mid = mid.clamp(low + 0.01 * (high - low), high - 0.01 * (high - low));
        let at_mid = over(mid)?;
        if at_mid > 0.0 {
            (high, at_high) = (mid, at_mid);
            if stayed == 1 {
                at_low /= 2.0;
            }
            stayed = 1;
        } else {
            (low, at_low) = (mid, at_mid);
            if stayed == -1 {
                at_high /= 2.0;
            }
            stayed = -1;
        }
    }
    Ok(Needed::Amplitude(Length::from_mm(low)))
}

/// The path of the wheel's lowest point over the work, mm.
struct Path {
    /// Amplitude and wave number of each source.
    waves: Vec<[f64; 2]>,
    radius: f64,
    /// Shortest wave; without any source the wheel's own scale.
    shortest_mm: f64,
    reach_mm: f64,
}

impl Path {
    fn new(sources: &[Source], recipe: &Recipe) -> Result<Self, Fault> {
        let radius = recipe.wheel_radius.mm().within("wheel_radius_mm", 5.0, 1000.0, "mm", "half of the wheel's diameter")?;
        let v = recipe.table_speed.m_s().within(
            "table_speed_m_s",
            1e-3,
            2.0,
            "m/s",
            "speed of the table: often 0.1 to 0.5 m/s (6 to 30 m/min)",
        )? * 1e3;
        let wave = |(i, s): (usize, &Source)| {
            let f = s.frequency_hz.within(
                &format!("sources[{i}].frequency_hz"),
                0.1,
                10_000.0,
                "Hz",
                "frequency of a vibration of the head",
            )?;
            let a = s.amplitude.mm().within(
                &format!("sources[{i}].amplitude_mm"),
                0.0,
                1.0,
                "mm",
                "amplitude of the head; more is no grinding",
            )?;
            Ok([a, TAU * f / v])
        };
        let waves: Vec<[f64; 2]> = sources.iter().enumerate().map(wave).collect::<Result<_, Fault>>()?;
        let shortest_mm = waves.iter().filter(|w| w[0] > 0.0).map(|w| TAU / w[1]).fold(recipe.length.mm(), f64::min);
        let steepest: f64 = waves.iter().map(|w| w[0] * w[1]).sum();
        // At a contact the circle is as steep as the path.
        let reach_mm = (radius * steepest / steepest.hypot(1.0)).min(0.9 * radius);
        Ok(Self { waves, radius, shortest_mm, reach_mm })
    }

    fn height(&self, phases: &[f64], x: f64) -> f64 {
        self.waves.iter().zip(phases).map(|(w, p)| w[0] * (w[1] * x + p).cos()).sum()
    }

    /// What one pass leaves at the places `xs`.
    fn cut(&self, phases: &[f64], xs: &[f64]) -> Vec<f64> {
        let (Some(first), Some(last)) = (xs.first(), xs.last()) else { return Vec::new() };
        let step = self.shortest_mm / 64.0;
        let begin = first - self.reach_mm - step;
        let count = ((last + self.reach_mm + step - begin) / step).ceil() as usize + 1;
        let lowest: Vec<[f64; 2]> = (0..count).map(|i| begin + i as f64 * step).map(|x| [x, self.height(phases, x)]).collect();
        lower_envelope(&lowest, self.radius, xs)
            .into_iter()
            .zip(xs)
            .map(|((height, i), x)| if i == usize::MAX { height } else { self.settled(phases, *x, lowest[i][0], height, step) })
            .collect()
    }

    /// From the best of the sampled circles to the lowest one of the path nearby, by Newton's steps: the sampling's own scallops go.
    fn settled(&self, phases: &[f64], x: f64, from: f64, height: f64, step: f64) -> f64 {
        let (mut c, mut best) = (from, height);
        for _ in 0..4 {
            let (mut slope, mut bend) = (0.0, 0.0);
            for (w, p) in self.waves.iter().zip(phases) {
                let (sin, cos) = (w[1] * c + p).sin_cos();
                slope -= w[0] * w[1] * sin;
                bend -= w[0] * w[1] * w[1] * cos;
            }
            let d = x - c;
            let inside = ((self.radius - d) * (self.radius + d)).sqrt();
            slope -= d / inside;
            bend += self.radius.powi(2) / inside.powi(3);
            if bend.is_nan() || bend <= 0.0 {
                break;
            }
            c = (c - slope / bend).clamp(from - step, from + step);
            let z = self.height(phases, c) + sag(self.radius, x - c);
            if z < best {
                best = z;
            }
        }
        best
    }
}

/// Which passes cover which strip.
struct Cover {
    passes: usize,
    strips: Vec<Covered>,
}

struct Covered {
    from: f64,
    to: f64,
    first: usize,
    last: usize,
}

fn passes(recipe: &Recipe) -> Result<Cover, Fault> {
    let length_why = "length of the face along the table's travel";
    recipe.length.mm().within("face_length_mm", 2.0, 2000.0, "mm", length_why)?;
    let wheel = recipe.wheel_width.mm().within("wheel_width_mm", 0.5, 500.0, "mm", "width of the wheel's rim")?;
    recipe.cutoff.mm().within("cutoff_mm", 0.08, 25.0, "mm", "cut-off between roughness and waviness: 0.08, 0.25, 0.8, 2.5 or 8 mm")?;
    if let Some(long) = recipe.long_cutoff {
        long.mm().within("long_cutoff_mm", 0.16, 1000.0, "mm", "longest waves that count as waviness")?;
    }
    f64::from(recipe.spark_out).within("spark_out", 0.0, 50.0, "times", "times over the face without down-feed")?;
    let Some(feed) = recipe.cross_feed else {
        let width = recipe.width.mm();
        width.within("face_width_mm", 0.1, wheel, "mm", "without cross-feed the face is no wider than the wheel")?;
        return Ok(Cover { passes: 1, strips: vec![Covered { from: 0.0, to: width, first: 0, last: 0 }] });
    };
    let width = recipe.width.mm().within("face_width_mm", 0.1, 2000.0, "mm", "width of the face")?;
    let feed = feed.mm().within(
        "cross_feed_mm",
        0.02,
        wheel,
        "mm",
        "cross-feed a pass: with more than the wheel's width some of the face is left",
    )?;
    let passes = ((width + wheel) / feed).ceil() as usize;
    if passes * (recipe.spark_out as usize + 1) > MOST_PASSES {
        let allowed = format!("at most {MOST_PASSES} passes in all");
        let all = passes * (recipe.spark_out as usize + 1);
        return Err(Fault::new("face_width_mm", width, allowed, format!("the face takes {all} passes: look at a narrower piece of it")));
    }
    // Pass k covers from (k+1)·feed − wheel to (k+1)·feed: the wheel comes in from one edge.
    let spans: Vec<[f64; 2]> = (1..=passes).map(|k| k as f64 * feed).map(|right| [right - wheel, right]).collect();
    let mut edges: Vec<f64> = spans.iter().flatten().copied().filter(|y| *y > 1e-9 && *y < width - 1e-9).chain([0.0, width]).collect();
    edges.sort_by(f64::total_cmp);
    edges.dedup_by(|b, a| (*b - *a).abs() < 1e-6);
    let strip = |from: f64, to: f64| {
        let middle = f64::midpoint(from, to);
        let covers = |s: &[f64; 2]| s[0] < middle && middle < s[1];
        let first = spans.iter().position(covers)?;
        let last = spans.iter().rposition(covers)?;
        Some(Covered { from, to, first, last })
    };
    Ok(Cover { passes, strips: edges.windows(2).filter_map(|e| strip(e[0], e[1])).collect() })
}
