//! The windowed two-dimensional transform of a part of a picture: all of its cells, or one place between them.

use super::hann;
use realfft::num_complex::Complex;
use realfft::{RealFftPlanner, RealToComplex};
use std::f64::consts::TAU;

/// A part of a picture, pixels.
#[derive(Clone, Copy)]
pub(super) struct Window {
    /// Its left and upper edge.
    pub(super) from: [usize; 2],
    /// Its width and height.
    pub(super) size: [usize; 2],
}

impl Window {
    /// Power at one wave vector, waves a pixel.
    pub(super) fn power_at(&self, light: &[f64], row: usize, k: [f64; 2]) -> f64 {
        let turn = |i: usize, n: usize, k: f64| Complex::from_polar(hann(i, n), -TAU * k * i as f64);
        let across: Vec<Complex<f64>> = (0..self.size[0]).map(|i| turn(i, self.size[0], k[0])).collect();
        let mut sum = Complex::new(0.0, 0.0);
        for j in 0..self.size[1] {
            let start = (self.from[1] + j) * row + self.from[0];
            let line = &light[start..start + self.size[0]];
            let mut part = Complex::new(0.0, 0.0);
            for (v, t) in line.iter().zip(&across) {
                part += t * v;
            }
            sum += part * turn(j, self.size[1], k[1]);
        }
        sum.norm_sqr()
    }
}

/// Power of all cells: rows of `width/2 + 1`, one for each wave number down, as the transform orders them.
pub(super) fn transform(light: &[f64], row: usize, window: Window) -> Vec<f64> {
    let [w, h] = window.size;
    let columns = w / 2 + 1;
    let mut plans = RealFftPlanner::<f64>::new();
    let across = plans.plan_fft_forward(w);
    let mut half = vec![Complex::new(0.0, 0.0); columns * h];
    let mut line = vec![0.0; w];
    for j in 0..h {
        let start = (window.from[1] + j) * row + window.from[0];
        for (i, v) in line.iter_mut().enumerate() {
            *v = light[start + i] * hann(i, w) * hann(j, h);
        }
        // Lengths come from the plan itself, so it can't fail.
        let _ = across.process(&mut line, &mut half[j * columns..(j + 1) * columns]);
    }
    let down = plans.plan_fft_forward(h);
    let mut power = vec![0.0; columns * h];
    let (mut re, mut im) = (vec![0.0; h], vec![0.0; h]);
    for i in 0..columns {
        for j in 0..h {
            let v = half[j * columns + i];
            (re[j], im[j]) = (v.re, v.im);
        }
        // A complex column by two real transforms: F(re) + i·F(im).
        let (a, b) = (real(&down, &mut re), real(&down, &mut im));
        for j in 0..h {
            let whole = |half: &[Complex<f64>]| if j < half.len() { half[j] } else { half[h - j].conj() };
            power[j * columns + i] = (whole(&a) + Complex::new(0.0, 1.0) * whole(&b)).norm_sqr();
        }
    }
    power
}

fn real(plan: &std::sync::Arc<dyn RealToComplex<f64>>, values: &mut [f64]) -> Vec<Complex<f64>> {
    let mut out = plan.make_output_vec();
    let _ = plan.process(values, &mut out);
    out
}
