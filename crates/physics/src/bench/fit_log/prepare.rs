//! From the log as it comes to a clean, continuous angle: checks, gross outliers, unwrapping.
//!
//! In: a [`SwingLog`]. Out: [`Clean`], or a fault that says what is wrong with the log. What is flagged here only stays out of the
//! start; the finished fit judges every point anew.

use super::{LEAST_POINTS, MOST_POINTS, SwingLog};
use crate::numerics::wrap_pi;
use crate::{Fault, Ranged};
use std::f64::consts::TAU;

/// A log ready to be fitted.
pub(super) struct Clean {
    /// Time from the first point, s.
    pub(super) t: Vec<f64>,
    /// Continuous angle, rad.
    pub(super) y: Vec<f64>,
    /// Points that follow their neighbours.
    pub(super) good: Vec<bool>,
    /// The angle came in within one turn, so that whole turns may be added to any point.
    pub(super) wrapped: bool,
    /// Noise of one point against the line through its neighbours, rad.
    pub(super) noise: f64,
    /// Gaps longer than this (s) interrupt the log.
    pub(super) gap: f64,
}

/// Median by selection; 0 for an empty list.
pub(super) fn median(values: &mut [f64]) -> f64 {
    if values.is_empty() {
        return 0.0;
    }
    let mid = values.len() / 2;
    *values.select_nth_unstable_by(mid, f64::total_cmp).1
}

/// Standard deviation of a Gaussian whose median absolute value is this. Source: Φ⁻¹(3/4) = 0.67449.
pub(super) const PER_MEDIAN: f64 = 1.0 / 0.674_489_750_196_081_7;

fn checked(log: &SwingLog) -> Result<(), Fault> {
    let n = log.time_s.len();
    if n > MOST_POINTS {
        return Err(Fault::new(
            "time_s",
            n,
            format!("{LEAST_POINTS} to {MOST_POINTS} points"),
            "the log is longer than it needs to be: thin it, every tenth point of a fast recording tells as much",
        ));
    }
    if n < LEAST_POINTS {
        return Err(Fault::new(
            "time_s",
            n,
            format!("{LEAST_POINTS} to {MOST_POINTS} points"),
            "too few points to tell eight unknowns: record for longer or more often",
        ));
    }
    if log.angle_rad.len() != n {
        return Err(Fault::new(
            "angle_rad",
            log.angle_rad.len(),
            format!("{n} angles, one for each time"),
            "times and angles must come in pairs",
        ));
    }
    for (i, (&t, &a)) in log.time_s.iter().zip(log.angle_rad).enumerate() {
        t.within(&format!("time_s[{i}]"), -1e10, 1e10, "s", "time of each point")?;
        a.within(&format!("angle_rad[{i}]"), -1e6, 1e6, "rad", "room angle of the zero mark")?;
        if i > 0 && t <= log.time_s[i - 1] {
            return Err(Fault::new(
                format!("time_s[{i}]"),
                t,
                format!("more than {} s", log.time_s[i - 1]),
                "time must go forward from point to point: sort the log, and keep one angle a time",
            ));
        }
    }
    if let Some(sd) = log.angle_sd_rad {
        if sd.len() != n {
            return Err(Fault::new("angle_sd_rad", sd.len(), format!("{n}, one for each point"), "one standard deviation for each point"));
        }
        for (i, s) in sd.iter().enumerate() {
            s.within(&format!("angle_sd_rad[{i}]"), 1e-9, 10.0, "rad", "standard deviation of the angle")?;
        }
    }
    if let Some(sd) = log.time_sd_s {
        sd.within("time_sd_s", 1e-6, 10.0, "s", "standard deviation of a tapped time")?;
    }
    let span = log.time_s[n - 1] - log.time_s[0];
    span.within("time_s", 0.5, 1e6, "s", "span from first to last point: a shorter log shows no swing, record at least one whole swing")?;
    Ok(())
}

pub(super) fn prepare(log: &SwingLog) -> Result<Clean, Fault> {
    checked(log)?;
    let n = log.time_s.len();
    let t: Vec<f64> = log.time_s.iter().map(|t| t - log.time_s[0]).collect();
    let mut steps: Vec<f64> = t.windows(2).map(|w| w[1] - w[0]).collect();
    let usual = median(&mut steps);
    let gap = 8.0 * usual;
    let (low, high) = log.angle_rad.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), &a| (l.min(a), h.max(a)));
    let wrapped = high - low <= TAU + 0.2;
    // Taps and other sparse logs move far between points: no neighbour can judge them.
    let dense = log.time_sd_s.is_none() && n >= 30;
    let mut good = if dense && wrapped { near_their_neighbours(log.angle_rad) } else { vec![true; n] };
    let y = if wrapped && log.time_sd_s.is_none() { unwrapped(&t, log.angle_rad, &good, gap) } else { log.angle_rad.to_vec() };
    let mut noise = 0.0;
    if dense {
        noise = on_a_line(&t, &y, &mut good, gap);
    }
    let kept = good.iter().filter(|g| **g).count();
    if kept < LEAST_POINTS {
        return Err(Fault::new(
            "angle_rad",
            kept,
            format!("at least {LEAST_POINTS} points that follow one another"),
            "the angle jumps about from point to point: it is not the track of one mark",
        ));
    }
    let clean = Clean { t, y, good, wrapped, noise, gap };
    if log.time_sd_s.is_none() {
        check_motion(&clean)?;
    }
    Ok(clean)
}

/// Drop single points far from the median of their neighbours on the circle, before any unwrapping.
fn near_their_neighbours(angle: &[f64]) -> Vec<bool> {
    let n = angle.len();
    let mut off = Vec::with_capacity(n);
    for i in 0..n {
        let from = i.saturating_sub(3);
        let to = (i + 4).min(n);
        let base = angle[if i == 0 { 1 } else { i - 1 }];
        let mut around = [0.0; 6];
        let mut count = 0;
        for j in (from..to).filter(|&j| j != i) {
            around[count] = wrap_pi(angle[j] - base);
            count += 1;
        }
        around[..count].sort_by(f64::total_cmp);
        let middle = 0.5 * (around[(count - 1) / 2] + around[count / 2]);
        off.push(wrap_pi(angle[i] - base - middle).abs());
    }
    let typical = PER_MEDIAN * median(&mut off.clone());
    off.iter().map(|o| *o <= 10.0 * typical + 0.15).collect()
}

/// Add whole turns so that each point comes nearest to where the running speed takes it.
fn unwrapped(t: &[f64], angle: &[f64], good: &[bool], gap: f64) -> Vec<f64> {
    let mut y = angle.to_vec();
    // The last good points, newest first: their slope is the running speed.
    let mut recent: Vec<usize> = Vec::with_capacity(8);
    for i in 0..angle.len() {
        if let Some(&last) = recent.first() {
            let oldest = recent.iter().copied().take(7).take_while(|&j| t[last] - t[j] <= gap).last().unwrap_or(last);
            let speed = if oldest == last { 0.0 } else { (y[last] - y[oldest]) / (t[last] - t[oldest]) };
            let expected = y[last] + speed * (t[i] - t[last]);
            y[i] = angle[i] + TAU * ((expected - angle[i]) / TAU).round();
        }
        if good[i] {
            recent.insert(0, i);
            recent.truncate(7);
        }
    }
    y
}

/// Drop points off the robust line through six neighbours; gives the noise of one point.
fn on_a_line(t: &[f64], y: &[f64], good: &mut [bool], gap: f64) -> f64 {
    let n = t.len();
    let mut off = vec![0.0; n];
    for i in 0..n {
        let mut near = [0; 6];
        let mut count = 0;
        // Three good neighbours on either side, not across a gap.
        for j in (0..i).rev().filter(|&j| good[j]).take(3).take_while(|&j| t[i] - t[j] <= gap) {
            near[count] = j;
            count += 1;
        }
        for j in (i + 1..n).filter(|&j| good[j]).take(3).take_while(|&j| t[j] - t[i] <= gap) {
            near[count] = j;
            count += 1;
        }
        if count < 3 {
            continue;
        }
        let near = &near[..count];
        let mut slopes = [0.0; 15];
        let mut pairs = 0;
        for (a, &p) in near.iter().enumerate() {
            for &q in &near[a + 1..] {
                slopes[pairs] = (y[q] - y[p]) / (t[q] - t[p]);
                pairs += 1;
            }
        }
        let slope = median(&mut slopes[..pairs]);
        let mut heights = [0.0; 6];
        for (h, &j) in heights.iter_mut().zip(near) {
            *h = y[j] + slope * (t[i] - t[j]);
        }
        let here = &mut heights[..count];
        here.sort_by(f64::total_cmp);
        off[i] = y[i] - 0.5 * (here[(count - 1) / 2] + here[count / 2]);
    }
    let mut sizes: Vec<f64> = off.iter().map(|o| o.abs()).collect();
    // The neighbours' own noise widens the spread by about √(1 + 1/6 ·π/2): Gaussian efficiency of a median.
    let spread = PER_MEDIAN * median(&mut sizes);
    for (g, o) in good.iter_mut().zip(&off) {
        *g &= o.abs() <= 7.0 * spread + 1e-6;
    }
    spread / 1.12
}

/// A log in which nothing moves tells nothing.
fn check_motion(clean: &Clean) -> Result<(), Fault> {
    let kept: Vec<f64> = clean.y.iter().zip(&clean.good).filter(|(_, g)| **g).map(|(y, _)| *y).collect();
    let mean = kept.iter().sum::<f64>() / kept.len() as f64;
    let sd = (kept.iter().map(|y| (y - mean).powi(2)).sum::<f64>() / kept.len() as f64).sqrt();
    if clean.noise > 0.6 {
        return Err(Fault::new(
            "angle_rad",
            clean.noise,
            "noise from point to point below 0.6 rad (34°)",
            "the angle jumps about from point to point: it is not the track of one mark",
        ));
    }
    if sd < 1e-6 || sd < 1.5 * clean.noise {
        return Err(Fault::new(
            "angle_rad",
            sd,
            "a spread of the angle well above its noise, rad",
            "the rotor does not move in this log: let it go from 30° or more off its rest place",
        ));
    }
    Ok(())
}
