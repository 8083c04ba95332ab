//! Departures of a bore from a true cylinder: oval, lobes, taper, or as measured.
//!
//! In: amplitudes, or readings on a grid. Out: how much wider the film is at a place, and how fast that changes around the bore.

use super::geometry::{Saddle, um};
use crate::{Fault, Ranged};

/// Departures of the bore's radius, all added together.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Form {
    /// Waves around the bore; two waves are an oval.
    pub lobes: Vec<Lobe>,
    /// Radius at the far end (z = +L/2) less radius at the near end, m.
    pub taper_m: f64,
    /// Readings on a grid.
    pub measured: Option<MeasuredForm>,
}

/// One wave around the bore: amplitude · cos(waves·(θ − at)).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lobe {
    /// Waves in a full turn: 1 to 30.
    pub waves: u32,
    /// Departure of the radius at the widest place, m.
    pub amplitude_m: f64,
    /// Where it is widest, rad from straight down to the right.
    pub at_rad: f64,
}

/// Departures of the radius read on a grid of angles and places along the axis; natural cubic splines around, straight lines
/// along, flat outside.
#[derive(Clone, Debug, PartialEq)]
pub struct MeasuredForm {
    theta_rad: Vec<f64>,
    z_m: Vec<f64>,
    departure_m: Vec<f64>,
    /// Second derivatives along θ, a row for each z.
    bend: Vec<f64>,
}

impl MeasuredForm {
    /// From readings `departure_m[k][i]` at `z_m[k]`, `theta_rad[i]`; outwards (wider) is positive.
    ///
    /// # Errors
    /// A [`Fault`] if the lists don't fit each other, don't ascend, or hold a number that is not finite.
    pub fn new(theta_rad: Vec<f64>, z_m: Vec<f64>, departure_m: &[Vec<f64>]) -> Result<Self, Fault> {
        let (n, rows) = (theta_rad.len(), z_m.len());
        let ascends = |v: &[f64]| v.iter().all(|x| x.is_finite()) && v.windows(2).all(|p| p[1] > p[0]);
        if !(2..=361).contains(&n) || !ascends(&theta_rad) {
            return Err(Fault::new("measured_form.theta_deg", n, "2 to 361 ascending angles", "the angles at which the form was read"));
        }
        if !(1..=101).contains(&rows) || !ascends(&z_m) {
            return Err(Fault::new(
                "measured_form.z_mm",
                rows,
                "1 to 101 ascending places",
                "the places along the axis at which the form was read",
            ));
        }
        if departure_m.len() != rows || departure_m.iter().any(|row| row.len() != n) {
            return Err(Fault::new(
                "measured_form.departure_um",
                departure_m.len(),
                format!("{rows} rows of {n} readings"),
                "one row for each z, one reading for each angle",
            ));
        }
        for (k, row) in departure_m.iter().enumerate() {
            for (i, v) in row.iter().enumerate() {
                (v * 1e6).within(
                    &format!("measured_form.departure_um[{k}][{i}]"),
                    -200.0,
                    200.0,
                    "um",
                    "departure of the radius, outwards positive",
                )?;
            }
        }
        let bend = departure_m.iter().flat_map(|row| natural_spline(&theta_rad, row)).collect();
        Ok(Self { theta_rad, z_m, departure_m: departure_m.concat(), bend })
    }

    fn row(&self, k: usize, theta: f64) -> (f64, f64) {
        let n = self.theta_rad.len();
        let (y, m) = (&self.departure_m[k * n..(k + 1) * n], &self.bend[k * n..(k + 1) * n]);
        let t = &self.theta_rad;
        if theta <= t[0] {
            return (y[0], 0.0);
        }
        if theta >= t[n - 1] {
            return (y[n - 1], 0.0);
        }
        let i = t.partition_point(|&v| v <= theta).clamp(1, n - 1) - 1;
        let h = t[i + 1] - t[i];
        let (a, b) = ((t[i + 1] - theta) / h, (theta - t[i]) / h);
        let value = a * y[i] + b * y[i + 1] + ((a * a * a - a) * m[i] + (b * b * b - b) * m[i + 1]) * h * h / 6.0;
        let slope = (y[i + 1] - y[i]) / h + ((1.0 - 3.0 * a * a) * m[i] + (3.0 * b * b - 1.0) * m[i + 1]) * h / 6.0;
        (value, slope)
    }

    /// Departure and its slope in θ, straight between the rows along z.
    fn at(&self, theta: f64, z: f64) -> (f64, f64) {
        let last = self.z_m.len() - 1;
        if z <= self.z_m[0] {
            return self.row(0, theta);
        }
        if z >= self.z_m[last] {
            return self.row(last, theta);
        }
        let k = self.z_m.partition_point(|&v| v <= z).clamp(1, last) - 1;
        let b = (z - self.z_m[k]) / (self.z_m[k + 1] - self.z_m[k]);
        let ((v0, s0), (v1, s1)) = (self.row(k, theta), self.row(k + 1, theta));
        (v0 + b * (v1 - v0), s0 + b * (s1 - s0))
    }
}

/// Second derivatives of the natural cubic spline through the points (tridiagonal elimination).
fn natural_spline(x: &[f64], y: &[f64]) -> Vec<f64> {
    let n = x.len();
    let (mut upper, mut m) = (vec![0.0; n], vec![0.0; n]);
    for i in 1..n.saturating_sub(1) {
        let (left, right) = (x[i] - x[i - 1], x[i + 1] - x[i]);
        let pivot = 2.0 * (left + right) - left * upper[i - 1];
        upper[i] = right / pivot;
        m[i] = (6.0 * ((y[i + 1] - y[i]) / right - (y[i] - y[i - 1]) / left) - left * m[i - 1]) / pivot;
    }
    for i in (1..n.saturating_sub(1)).rev() {
        m[i] -= upper[i] * m[i + 1];
    }
    m
}

impl Form {
    /// An oval bore: `amplitude_m` wider at `at_rad`, narrower a quarter turn away.
    pub fn oval(amplitude_m: f64, at_rad: f64) -> Self {
        Self { lobes: vec![Lobe { waves: 2, amplitude_m, at_rad }], ..Self::default() }
    }

    /// Departure of the radius at a place, m, and its slope in θ, m/rad.
    pub(crate) fn at(&self, theta: f64, z: f64, length: f64) -> (f64, f64) {
        let (mut value, mut slope) = (self.taper_m * z / length, 0.0);
        for lobe in &self.lobes {
            let k = f64::from(lobe.waves);
            let (sin, cos) = (k * (theta - lobe.at_rad)).sin_cos();
            value += lobe.amplitude_m * cos;
            slope -= lobe.amplitude_m * k * sin;
        }
        if let Some(m) = &self.measured {
            let (v, s) = m.at(theta, z);
            value += v;
            slope += s;
        }
        (value, slope)
    }

    pub(crate) fn check(&self, saddle: &Saddle) -> Result<(), Fault> {
        let most = um(saddle.clearance_m).max(1.0) * 4.0;
        for (i, lobe) in self.lobes.iter().enumerate() {
            // The first lobe is the oval of the door's plain fields.
            let name = |part: &str| if lobe.waves == 2 { format!("oval_{part}") } else { format!("lobes[{i}].{part}") };
            f64::from(lobe.waves).within(&name("waves"), 1.0, 30.0, "", "waves in a full turn")?;
            (lobe.amplitude_m * 1e6).within(&name("um"), -most, most, "um", "a form error of several clearances leaves no film")?;
            lobe.at_rad.to_degrees().within(&name("deg"), -360.0, 360.0, "deg", "where the bore is widest")?;
        }
        (self.taper_m * 1e6).within("taper_um", -most, most, "um", "a taper of several clearances leaves no film")?;
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_measured_form_goes_through_its_readings_and_follows_a_smooth_curve_between() {
        let theta: Vec<f64> = (0..=18).map(|i| (f64::from(i) * 10.0 - 90.0).to_radians()).collect();
        let oval = Form::oval(2e-6, 0.4);
        let reading = |z: f64| theta.iter().map(|&t| oval.at(t, 0.0, 1.0).0 + 1e-4 * z).collect::<Vec<_>>();
        let measured = MeasuredForm::new(theta.clone(), vec![-0.01, 0.01], &[reading(-0.01), reading(0.01)]).unwrap();
        let form = Form { measured: Some(measured), ..Form::default() };
        assert!((form.at(theta[4], -0.01, 0.02).0 - reading(-0.01)[4]).abs() < 1e-18);
        for t in [-0.9, -0.33, 0.05, 0.7] {
            let ((got, slope), (want, want_slope)) = (form.at(t, 0.004, 0.02), oval.at(t, 0.0, 1.0));
            assert!((got - want - 4e-7).abs() < 2e-9, "{got}");
            assert!((slope - want_slope).abs() < 3e-8, "{slope} {want_slope}");
        }
    }

    #[test]
    fn a_grid_that_does_not_fit_is_a_fault() {
        assert_eq!(MeasuredForm::new(vec![0.0, 1.0], vec![0.0], &[vec![0.0]]).unwrap_err().field, "measured_form.departure_um");
        assert_eq!(MeasuredForm::new(vec![1.0, 0.0], vec![0.0], &[vec![0.0; 2]]).unwrap_err().field, "measured_form.theta_deg");
        assert_eq!(
            MeasuredForm::new(vec![0.0, 1.0], vec![0.0], &[vec![0.0, f64::NAN]]).unwrap_err().field,
            "measured_form.departure_um[0][1]"
        );
    }
}
