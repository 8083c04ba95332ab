//! The solver against certified values.
//!
//! Source: NIST/ITL Statistical Reference Datasets, Nonlinear Least Squares Regression: Misra1a (lower difficulty), MGH17 (average), Thurber
//! and Eckerle4 (higher). That the certified residual sum of squares comes out to ten digits shows that the data were
//! set down right.

#[path = "../../../../../reference/check.rs"]
mod check;

use super::*;
use check::{Kind, Tolerance};

/// Value and gradient by the unknowns at x.
type Model = fn(&[f64], f64) -> (f64, Vec<f64>);

struct Certified {
    name: &'static str,
    data: &'static [(f64, f64)],
    model: Model,
    starts: [&'static [f64]; 2],
    values: &'static [f64],
    sds: &'static [f64],
    rss: f64,
}

fn misra(b: &[f64], x: f64) -> (f64, Vec<f64>) {
    let e = (-b[1] * x).exp();
    (b[0] * (1.0 - e), vec![1.0 - e, b[0] * x * e])
}

fn mgh17(b: &[f64], x: f64) -> (f64, Vec<f64>) {
    let (e, f) = ((-x * b[3]).exp(), (-x * b[4]).exp());
    (b[0] + b[1] * e + b[2] * f, vec![1.0, e, f, -b[1] * x * e, -b[2] * x * f])
}

fn thurber(b: &[f64], x: f64) -> (f64, Vec<f64>) {
    let top = b[0] + x * (b[1] + x * (b[2] + x * b[3]));
    let bottom = 1.0 + x * (b[4] + x * (b[5] + x * b[6]));
    let y = top / bottom;
    let down = -y / bottom;
    (y, vec![1.0 / bottom, x / bottom, x * x / bottom, x.powi(3) / bottom, down * x, down * x * x, down * x.powi(3)])
}

fn eckerle(b: &[f64], x: f64) -> (f64, Vec<f64>) {
    let z = (x - b[2]) / b[1];
    let y = b[0] / b[1] * (-0.5 * z * z).exp();
    (y, vec![y / b[0], y * (z * z - 1.0) / b[1], y * z / b[1]])
}

const CERTIFIED: [Certified; 4] = [
    Certified {
        name: "Misra1a",
        data: &MISRA1A,
        model: misra,
        starts: [&[500.0, 0.0001], &[250.0, 0.0005]],
        values: &[2.3894212918e2, 5.5015643181e-4],
        sds: &[2.7070075241, 7.2668688436e-6],
        rss: 1.2455138894e-1,
    },
    Certified {
        name: "MGH17",
        data: &MGH17,
        model: mgh17,
        starts: [&[50.0, 150.0, -100.0, 1.0, 2.0], &[0.5, 1.5, -1.0, 0.01, 0.02]],
        values: &[3.7541005211e-1, 1.9358469127, -1.4646871366, 1.2867534640e-2, 2.2122699662e-2],
        sds: &[2.0723153551e-3, 2.2031669222e-1, 2.2175707739e-1, 4.4861358114e-4, 8.9471996575e-4],
        rss: 5.4648946975e-5,
    },
    Certified {
        name: "Thurber",
        data: &THURBER,
        model: thurber,
        starts: [&[1000.0, 1000.0, 400.0, 40.0, 0.7, 0.3, 0.03], &[1300.0, 1500.0, 500.0, 75.0, 1.0, 0.4, 0.05]],
        values: &[1.2881396800e3, 1.4910792535e3, 5.8323836877e2, 7.5416644291e1, 9.6629502864e-1, 3.9797285797e-1, 4.9727297349e-2],
        sds: &[4.6647963344, 3.9571156086e1, 2.8698696102e1, 5.5675370270, 3.1333340687e-2, 1.4984928198e-2, 6.5842344623e-3],
        rss: 5.6427082397e3,
    },
    Certified {
        name: "Eckerle4",
        data: &ECKERLE4,
        model: eckerle,
        starts: [&[1.0, 10.0, 500.0], &[1.5, 5.0, 450.0]],
        values: &[1.5543827178, 4.0888321754, 4.5154121844e2],
        sds: &[1.5408051163e-2, 4.6803020753e-2, 4.6800518816e-2],
        rss: 1.4635887487e-3,
    },
];

fn fit(set: &Certified, start: &[f64]) -> Minimum {
    let n = start.len();
    let lower = vec![f64::NEG_INFINITY; n];
    let held = vec![false; n];
    let options = Options { lower: &lower, held: &held, robust_rows: 0, robust_at: f64::INFINITY, tolerance: 1e-22, most_calls: 2000 };
    minimise(start, &options, |b| {
        let rows: Vec<(f64, Vec<f64>)> = set.data.iter().map(|&(_, x)| (set.model)(b, x)).collect();
        let residuals: Vec<f64> = rows.iter().zip(set.data).map(|((f, _), (y, _))| f - y).collect();
        let jacobian = DMatrix::from_fn(rows.len(), n, |r, c| rows[r].1[c]);
        residuals.iter().all(|r| r.is_finite()).then_some(Linearised { residuals, jacobian })
    })
    .expect("computable at the start")
}

#[test]
fn nist_certified_values_and_standard_deviations_come_out() {
    for set in &CERTIFIED {
        for (number, start) in set.starts.into_iter().enumerate() {
            let row = |what: String, certified: f64, got: f64, share: f64| {
                let what = format!("{what}, from start {}", number + 1);
                let source = "NIST/ITL Statistical Reference Datasets, Nonlinear Least Squares Regression";
                check::row(
                    &format!("NIST {}", set.name),
                    &what,
                    Kind::ClosedFormOrTable,
                    source,
                    certified,
                    got,
                    Tolerance::Relative(share),
                );
            };
            let minimum = fit(set, start);
            assert!(minimum.converged, "{} did not converge", set.name);
            let rss = 2.0 * minimum.cost;
            row("residual sum of squares".into(), set.rss, rss, 1e-10);
            let variance = rss / (set.data.len() - start.len()) as f64;
            let covariance = covariance(&minimum.at.jacobian, &minimum.held).expect("regular") * variance;
            for (i, (value, sd)) in set.values.iter().zip(set.sds).enumerate() {
                row(format!("b{}", i + 1), *value, minimum.x[i], 1e-7);
                row(format!("standard deviation of b{}", i + 1), *sd, covariance[(i, i)].sqrt(), 1e-6);
            }
        }
    }
}

#[test]
fn bounds_hold_and_are_left_again_when_the_minimum_lies_inside() {
    // Closed form: y = a + b·x through (0, 1), (1, 0), (2, −1) has b = −1; with b ≥ 0 the best is b = 0, a = mean = 0.
    let rows = [(1.0, 0.0), (0.0, 1.0), (-1.0, 2.0)];
    let model = |p: &[f64]| {
        Some(Linearised {
            residuals: rows.iter().map(|(y, x)| p[0] + p[1] * x - y).collect(),
            jacobian: DMatrix::from_fn(3, 2, |r, c| if c == 0 { 1.0 } else { rows[r].1 }),
        })
    };
    let mut options = Options {
        lower: &[f64::NEG_INFINITY, 0.0],
        held: &[false, false],
        robust_rows: 0,
        robust_at: f64::INFINITY,
        tolerance: 1e-14,
        most_calls: 100,
    };
    let bound = minimise(&[5.0, 2.0], &options, model).expect("computable");
    assert!(bound.x[0].abs() < 1e-6 && bound.x[1] == 0.0 && bound.held == [false, true], "{:?}", bound.x);
    options.lower = &[f64::NEG_INFINITY, -2.0];
    let inside = minimise(&[5.0, -2.0], &options, model).expect("computable");
    assert!((inside.x[0] - 1.0).abs() < 1e-6 && (inside.x[1] + 1.0).abs() < 1e-6, "{:?}", inside.x);
}

#[test]
fn the_robust_loss_shrugs_off_one_gross_error() {
    // Closed form: the soft-L1 location of n points at 0 and one at D ≫ k: n·a = k·1 nearly, a ≈ k/n (slope of the loss is at most k).
    let mut points = vec![0.0; 100];
    points.push(1e6);
    let model =
        |p: &[f64]| Some(Linearised { residuals: points.iter().map(|y| p[0] - y).collect(), jacobian: DMatrix::from_element(101, 1, 1.0) });
    let options =
        Options { lower: &[f64::NEG_INFINITY], held: &[false], robust_rows: 101, robust_at: 2.0, tolerance: 1e-14, most_calls: 500 };
    let got = minimise(&[10.0], &options, model).expect("computable").x[0];
    assert!((got - 0.02).abs() < 1e-5, "{got}");
}

/// (y, x).
#[rustfmt::skip]
const MISRA1A: [(f64, f64); 14] = [
    (10.07, 77.6), (14.73, 114.9), (17.94, 141.1), (23.93, 190.8), (29.61, 239.9), (35.18, 289.0), (40.02, 332.8),
    (44.82, 378.4), (50.76, 434.8), (55.05, 477.3), (61.01, 536.8), (66.40, 593.1), (75.47, 689.1), (81.78, 760.0),
];

#[rustfmt::skip]
const MGH17: [(f64, f64); 33] = [
    (0.844, 0.0), (0.908, 10.0), (0.932, 20.0), (0.936, 30.0), (0.925, 40.0), (0.908, 50.0), (0.881, 60.0), (0.85, 70.0),
    (0.818, 80.0), (0.784, 90.0), (0.751, 100.0), (0.718, 110.0), (0.685, 120.0), (0.658, 130.0), (0.628, 140.0), (0.603, 150.0),
    (0.58, 160.0), (0.558, 170.0), (0.538, 180.0), (0.522, 190.0), (0.506, 200.0), (0.49, 210.0), (0.478, 220.0), (0.467, 230.0),
    (0.457, 240.0), (0.448, 250.0), (0.438, 260.0), (0.431, 270.0), (0.424, 280.0), (0.42, 290.0), (0.414, 300.0), (0.411, 310.0),
    (0.406, 320.0),
];

#[rustfmt::skip]
const THURBER: [(f64, f64); 37] = [
    (80.574, -3.067), (84.248, -2.981), (87.264, -2.921), (87.195, -2.912), (89.076, -2.84), (89.608, -2.797),
    (89.868, -2.702), (90.101, -2.699), (92.405, -2.633), (95.854, -2.481), (100.696, -2.363), (101.06, -2.322),
    (401.672, -1.501), (390.724, -1.46), (567.534, -1.274), (635.316, -1.212), (733.054, -1.1), (759.087, -1.046),
    (894.206, -0.915), (990.785, -0.714), (1090.109, -0.566), (1080.914, -0.545), (1122.643, -0.4), (1178.351, -0.309),
    (1260.531, -0.109), (1273.514, -0.103), (1288.339, 0.01), (1327.543, 0.119), (1353.863, 0.377), (1414.509, 0.79),
    (1425.208, 0.963), (1421.384, 1.006), (1442.962, 1.115), (1464.35, 1.572), (1468.705, 1.841), (1447.894, 2.047),
    (1457.628, 2.2),
];

#[rustfmt::skip]
const ECKERLE4: [(f64, f64); 35] = [
    (0.0001575, 400.0), (0.0001699, 405.0), (0.000235, 410.0), (0.0003102, 415.0), (0.0004917, 420.0), (0.000871, 425.0),
    (0.0017418, 430.0), (0.00464, 435.0), (0.0065895, 436.5), (0.0097302, 438.0), (0.0149002, 439.5), (0.023731, 441.0),
    (0.0401683, 442.5), (0.0712559, 444.0), (0.1264458, 445.5), (0.2073413, 447.0), (0.2902366, 448.5), (0.3445623, 450.0),
    (0.3698049, 451.5), (0.3668534, 453.0), (0.3106727, 454.5), (0.2078154, 456.0), (0.1164354, 457.5), (0.0616764, 459.0),
    (0.03372, 460.5), (0.0194023, 462.0), (0.0117831, 463.5), (0.0074357, 465.0), (0.0022732, 470.0), (0.00088, 475.0),
    (0.0004579, 480.0), (0.0002345, 485.0), (0.0001586, 490.0), (0.0001143, 495.0), (7.1e-05, 500.0),
];
