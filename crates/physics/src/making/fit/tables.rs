//! Tables of ISO 286-1:2010, as reference/iso286_*.csv holds them: mm for the steps ("over, up to and including"), µm for the rest.
//!
//! The table is the standard; its formulas only explain it (rounding them misses the table in 48 of 104 cells). The tests compare every
//! value with the files.

/// A step of nominal sizes with the tolerance grades IT1 to IT12.
pub(super) struct GradeStep {
    pub(super) over: f64,
    pub(super) up_to: f64,
    pub(super) it: [f64; 12],
}

/// A step of nominal sizes with the deviations of shafts.
pub(super) struct ShaftStep {
    pub(super) over: f64,
    pub(super) up_to: f64,
    /// Upper deviations of d, e, f, g, h.
    pub(super) es: [f64; 5],
    /// Lower deviations of k (IT4 to IT7), k (other grades), m, n, p, r, s.
    pub(super) ei: [f64; 7],
}

/// A step of nominal sizes with the deviations of holes.
pub(super) struct HoleStep {
    pub(super) over: f64,
    pub(super) up_to: f64,
    /// Lower deviations of D, E, F, G, H.
    pub(super) ei: [f64; 5],
    /// Upper deviations of K, M, N (up to IT8) and P, R, S (up to IT7), before delta.
    pub(super) es_fine: [f64; 6],
    /// Upper deviations of the same above those grades; `None`: not tabulated.
    pub(super) es_coarse: [Option<f64>; 6],
    /// Delta of IT3 to IT8.
    pub(super) delta: [f64; 6],
}

#[rustfmt::skip]
pub(super) const GRADES: [GradeStep; 13] = [
    GradeStep { over: 0.0, up_to: 3.0, it: [0.8, 1.2, 2.0, 3.0, 4.0, 6.0, 10.0, 14.0, 25.0, 40.0, 60.0, 100.0] },
    GradeStep { over: 3.0, up_to: 6.0, it: [1.0, 1.5, 2.5, 4.0, 5.0, 8.0, 12.0, 18.0, 30.0, 48.0, 75.0, 120.0] },
    GradeStep { over: 6.0, up_to: 10.0, it: [1.0, 1.5, 2.5, 4.0, 6.0, 9.0, 15.0, 22.0, 36.0, 58.0, 90.0, 150.0] },
    GradeStep { over: 10.0, up_to: 18.0, it: [1.2, 2.0, 3.0, 5.0, 8.0, 11.0, 18.0, 27.0, 43.0, 70.0, 110.0, 180.0] },
    GradeStep { over: 18.0, up_to: 30.0, it: [1.5, 2.5, 4.0, 6.0, 9.0, 13.0, 21.0, 33.0, 52.0, 84.0, 130.0, 210.0] },
    GradeStep { over: 30.0, up_to: 50.0, it: [1.5, 2.5, 4.0, 7.0, 11.0, 16.0, 25.0, 39.0, 62.0, 100.0, 160.0, 250.0] },
    GradeStep { over: 50.0, up_to: 80.0, it: [2.0, 3.0, 5.0, 8.0, 13.0, 19.0, 30.0, 46.0, 74.0, 120.0, 190.0, 300.0] },
    GradeStep { over: 80.0, up_to: 120.0, it: [2.5, 4.0, 6.0, 10.0, 15.0, 22.0, 35.0, 54.0, 87.0, 140.0, 220.0, 350.0] },
    GradeStep { over: 120.0, up_to: 180.0, it: [3.5, 5.0, 8.0, 12.0, 18.0, 25.0, 40.0, 63.0, 100.0, 160.0, 250.0, 400.0] },
    GradeStep { over: 180.0, up_to: 250.0, it: [4.5, 7.0, 10.0, 14.0, 20.0, 29.0, 46.0, 72.0, 115.0, 185.0, 290.0, 460.0] },
    GradeStep { over: 250.0, up_to: 315.0, it: [6.0, 8.0, 12.0, 16.0, 23.0, 32.0, 52.0, 81.0, 130.0, 210.0, 320.0, 520.0] },
    GradeStep { over: 315.0, up_to: 400.0, it: [7.0, 9.0, 13.0, 18.0, 25.0, 36.0, 57.0, 89.0, 140.0, 230.0, 360.0, 570.0] },
    GradeStep { over: 400.0, up_to: 500.0, it: [8.0, 10.0, 15.0, 20.0, 27.0, 40.0, 63.0, 97.0, 155.0, 250.0, 400.0, 630.0] },
];

#[rustfmt::skip]
pub(super) const SHAFTS: [ShaftStep; 19] = [
    ShaftStep { over: 0.0, up_to: 3.0, es: [-20.0, -14.0, -6.0, -2.0, 0.0], ei: [0.0, 0.0, 2.0, 4.0, 6.0, 10.0, 14.0] },
    ShaftStep { over: 3.0, up_to: 6.0, es: [-30.0, -20.0, -10.0, -4.0, 0.0], ei: [1.0, 0.0, 4.0, 8.0, 12.0, 15.0, 19.0] },
    ShaftStep { over: 6.0, up_to: 10.0, es: [-40.0, -25.0, -13.0, -5.0, 0.0], ei: [1.0, 0.0, 6.0, 10.0, 15.0, 19.0, 23.0] },
    ShaftStep { over: 10.0, up_to: 14.0, es: [-50.0, -32.0, -16.0, -6.0, 0.0], ei: [1.0, 0.0, 7.0, 12.0, 18.0, 23.0, 28.0] },
    ShaftStep { over: 14.0, up_to: 18.0, es: [-50.0, -32.0, -16.0, -6.0, 0.0], ei: [1.0, 0.0, 7.0, 12.0, 18.0, 23.0, 28.0] },
    ShaftStep { over: 18.0, up_to: 24.0, es: [-65.0, -40.0, -20.0, -7.0, 0.0], ei: [2.0, 0.0, 8.0, 15.0, 22.0, 28.0, 35.0] },
    ShaftStep { over: 24.0, up_to: 30.0, es: [-65.0, -40.0, -20.0, -7.0, 0.0], ei: [2.0, 0.0, 8.0, 15.0, 22.0, 28.0, 35.0] },
    ShaftStep { over: 30.0, up_to: 40.0, es: [-80.0, -50.0, -25.0, -9.0, 0.0], ei: [2.0, 0.0, 9.0, 17.0, 26.0, 34.0, 43.0] },
    ShaftStep { over: 40.0, up_to: 50.0, es: [-80.0, -50.0, -25.0, -9.0, 0.0], ei: [2.0, 0.0, 9.0, 17.0, 26.0, 34.0, 43.0] },
    ShaftStep { over: 50.0, up_to: 65.0, es: [-100.0, -60.0, -30.0, -10.0, 0.0], ei: [2.0, 0.0, 11.0, 20.0, 32.0, 41.0, 53.0] },
    ShaftStep { over: 65.0, up_to: 80.0, es: [-100.0, -60.0, -30.0, -10.0, 0.0], ei: [2.0, 0.0, 11.0, 20.0, 32.0, 43.0, 59.0] },
    ShaftStep { over: 80.0, up_to: 100.0, es: [-120.0, -72.0, -36.0, -12.0, 0.0], ei: [3.0, 0.0, 13.0, 23.0, 37.0, 51.0, 71.0] },
    ShaftStep { over: 100.0, up_to: 120.0, es: [-120.0, -72.0, -36.0, -12.0, 0.0], ei: [3.0, 0.0, 13.0, 23.0, 37.0, 54.0, 79.0] },
    ShaftStep { over: 120.0, up_to: 140.0, es: [-145.0, -85.0, -43.0, -14.0, 0.0], ei: [3.0, 0.0, 15.0, 27.0, 43.0, 63.0, 92.0] },
    ShaftStep { over: 140.0, up_to: 160.0, es: [-145.0, -85.0, -43.0, -14.0, 0.0], ei: [3.0, 0.0, 15.0, 27.0, 43.0, 65.0, 100.0] },
    ShaftStep { over: 160.0, up_to: 180.0, es: [-145.0, -85.0, -43.0, -14.0, 0.0], ei: [3.0, 0.0, 15.0, 27.0, 43.0, 68.0, 108.0] },
    ShaftStep { over: 180.0, up_to: 200.0, es: [-170.0, -100.0, -50.0, -15.0, 0.0], ei: [4.0, 0.0, 17.0, 31.0, 50.0, 77.0, 122.0] },
    ShaftStep { over: 200.0, up_to: 225.0, es: [-170.0, -100.0, -50.0, -15.0, 0.0], ei: [4.0, 0.0, 17.0, 31.0, 50.0, 80.0, 130.0] },
    ShaftStep { over: 225.0, up_to: 250.0, es: [-170.0, -100.0, -50.0, -15.0, 0.0], ei: [4.0, 0.0, 17.0, 31.0, 50.0, 84.0, 140.0] },
];

#[rustfmt::skip]
pub(super) const HOLES: [HoleStep; 19] = [
    HoleStep {
        over: 0.0, up_to: 3.0, ei: [20.0, 14.0, 6.0, 2.0, 0.0],
        es_fine: [0.0, -2.0, -4.0, -6.0, -10.0, -14.0],
        es_coarse: [Some(0.0), Some(-2.0), Some(-4.0), Some(-6.0), Some(-10.0), Some(-14.0)],
        delta: [0.0, 0.0, 0.0, 0.0, 0.0, 0.0],
    },
    HoleStep {
        over: 3.0, up_to: 6.0, ei: [30.0, 20.0, 10.0, 4.0, 0.0],
        es_fine: [-1.0, -4.0, -8.0, -12.0, -15.0, -19.0],
        es_coarse: [None, Some(-4.0), Some(0.0), Some(-12.0), Some(-15.0), Some(-19.0)],
        delta: [1.0, 1.5, 1.0, 3.0, 4.0, 6.0],
    },
    HoleStep {
        over: 6.0, up_to: 10.0, ei: [40.0, 25.0, 13.0, 5.0, 0.0],
        es_fine: [-1.0, -6.0, -10.0, -15.0, -19.0, -23.0],
        es_coarse: [None, Some(-6.0), Some(0.0), Some(-15.0), Some(-19.0), Some(-23.0)],
        delta: [1.0, 1.5, 2.0, 3.0, 6.0, 7.0],
    },
    HoleStep {
        over: 10.0, up_to: 14.0, ei: [50.0, 32.0, 16.0, 6.0, 0.0],
        es_fine: [-1.0, -7.0, -12.0, -18.0, -23.0, -28.0],
        es_coarse: [None, Some(-7.0), Some(0.0), Some(-18.0), Some(-23.0), Some(-28.0)],
        delta: [1.0, 2.0, 3.0, 3.0, 7.0, 9.0],
    },
    HoleStep {
        over: 14.0, up_to: 18.0, ei: [50.0, 32.0, 16.0, 6.0, 0.0],
        es_fine: [-1.0, -7.0, -12.0, -18.0, -23.0, -28.0],
        es_coarse: [None, Some(-7.0), Some(0.0), Some(-18.0), Some(-23.0), Some(-28.0)],
        delta: [1.0, 2.0, 3.0, 3.0, 7.0, 9.0],
    },
    HoleStep {
        over: 18.0, up_to: 24.0, ei: [65.0, 40.0, 20.0, 7.0, 0.0],
        es_fine: [-2.0, -8.0, -15.0, -22.0, -28.0, -35.0],
        es_coarse: [None, Some(-8.0), Some(0.0), Some(-22.0), Some(-28.0), Some(-35.0)],
        delta: [1.5, 2.0, 3.0, 4.0, 8.0, 12.0],
    },
    HoleStep {
        over: 24.0, up_to: 30.0, ei: [65.0, 40.0, 20.0, 7.0, 0.0],
        es_fine: [-2.0, -8.0, -15.0, -22.0, -28.0, -35.0],
        es_coarse: [None, Some(-8.0), Some(0.0), Some(-22.0), Some(-28.0), Some(-35.0)],
        delta: [1.5, 2.0, 3.0, 4.0, 8.0, 12.0],
    },
    HoleStep {
        over: 30.0, up_to: 40.0, ei: [80.0, 50.0, 25.0, 9.0, 0.0],
        es_fine: [-2.0, -9.0, -17.0, -26.0, -34.0, -43.0],
        es_coarse: [None, Some(-9.0), Some(0.0), Some(-26.0), Some(-34.0), Some(-43.0)],
        delta: [1.5, 3.0, 4.0, 5.0, 9.0, 14.0],
    },
    HoleStep {
        over: 40.0, up_to: 50.0, ei: [80.0, 50.0, 25.0, 9.0, 0.0],
        es_fine: [-2.0, -9.0, -17.0, -26.0, -34.0, -43.0],
        es_coarse: [None, Some(-9.0), Some(0.0), Some(-26.0), Some(-34.0), Some(-43.0)],
        delta: [1.5, 3.0, 4.0, 5.0, 9.0, 14.0],
    },
    HoleStep {
        over: 50.0, up_to: 65.0, ei: [100.0, 60.0, 30.0, 10.0, 0.0],
        es_fine: [-2.0, -11.0, -20.0, -32.0, -41.0, -53.0],
        es_coarse: [None, Some(-11.0), Some(0.0), Some(-32.0), Some(-41.0), Some(-53.0)],
        delta: [2.0, 3.0, 5.0, 6.0, 11.0, 16.0],
    },
    HoleStep {
        over: 65.0, up_to: 80.0, ei: [100.0, 60.0, 30.0, 10.0, 0.0],
        es_fine: [-2.0, -11.0, -20.0, -32.0, -43.0, -59.0],
        es_coarse: [None, Some(-11.0), Some(0.0), Some(-32.0), Some(-43.0), Some(-59.0)],
        delta: [2.0, 3.0, 5.0, 6.0, 11.0, 16.0],
    },
    HoleStep {
        over: 80.0, up_to: 100.0, ei: [120.0, 72.0, 36.0, 12.0, 0.0],
        es_fine: [-3.0, -13.0, -23.0, -37.0, -51.0, -71.0],
        es_coarse: [None, Some(-13.0), Some(0.0), Some(-37.0), Some(-51.0), Some(-71.0)],
        delta: [2.0, 4.0, 5.0, 7.0, 13.0, 19.0],
    },
    HoleStep {
        over: 100.0, up_to: 120.0, ei: [120.0, 72.0, 36.0, 12.0, 0.0],
        es_fine: [-3.0, -13.0, -23.0, -37.0, -54.0, -79.0],
        es_coarse: [None, Some(-13.0), Some(0.0), Some(-37.0), Some(-54.0), Some(-79.0)],
        delta: [2.0, 4.0, 5.0, 7.0, 13.0, 19.0],
    },
    HoleStep {
        over: 120.0, up_to: 140.0, ei: [145.0, 85.0, 43.0, 14.0, 0.0],
        es_fine: [-3.0, -15.0, -27.0, -43.0, -63.0, -92.0],
        es_coarse: [None, Some(-15.0), Some(0.0), Some(-43.0), Some(-63.0), Some(-92.0)],
        delta: [3.0, 4.0, 6.0, 7.0, 15.0, 23.0],
    },
    HoleStep {
        over: 140.0, up_to: 160.0, ei: [145.0, 85.0, 43.0, 14.0, 0.0],
        es_fine: [-3.0, -15.0, -27.0, -43.0, -65.0, -100.0],
        es_coarse: [None, Some(-15.0), Some(0.0), Some(-43.0), Some(-65.0), Some(-100.0)],
        delta: [3.0, 4.0, 6.0, 7.0, 15.0, 23.0],
    },
    HoleStep {
        over: 160.0, up_to: 180.0, ei: [145.0, 85.0, 43.0, 14.0, 0.0],
        es_fine: [-3.0, -15.0, -27.0, -43.0, -68.0, -108.0],
        es_coarse: [None, Some(-15.0), Some(0.0), Some(-43.0), Some(-68.0), Some(-108.0)],
        delta: [3.0, 4.0, 6.0, 7.0, 15.0, 23.0],
    },
    HoleStep {
        over: 180.0, up_to: 200.0, ei: [170.0, 100.0, 50.0, 15.0, 0.0],
        es_fine: [-4.0, -17.0, -31.0, -50.0, -77.0, -122.0],
        es_coarse: [None, Some(-17.0), Some(0.0), Some(-50.0), Some(-77.0), Some(-122.0)],
        delta: [3.0, 4.0, 6.0, 9.0, 17.0, 26.0],
    },
    HoleStep {
        over: 200.0, up_to: 225.0, ei: [170.0, 100.0, 50.0, 15.0, 0.0],
        es_fine: [-4.0, -17.0, -31.0, -50.0, -80.0, -130.0],
        es_coarse: [None, Some(-17.0), Some(0.0), Some(-50.0), Some(-80.0), Some(-130.0)],
        delta: [3.0, 4.0, 6.0, 9.0, 17.0, 26.0],
    },
    HoleStep {
        over: 225.0, up_to: 250.0, ei: [170.0, 100.0, 50.0, 15.0, 0.0],
        es_fine: [-4.0, -17.0, -31.0, -50.0, -84.0, -140.0],
        es_coarse: [None, Some(-17.0), Some(0.0), Some(-50.0), Some(-84.0), Some(-140.0)],
        delta: [3.0, 4.0, 6.0, 9.0, 17.0, 26.0],
    },
];
