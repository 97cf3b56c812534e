//! Smooth glucose as a state: level, rate and acceleration of a Matérn process.

use nalgebra::{Matrix3, Vector3};

/// Smooth, mean-reverting motion: level, rate and acceleration of a Matérn process with ν = 5/2.
///
/// The process wanders about zero with the given spread and forgets within a few times 1/λ, so a long gap leaves no
/// more doubt than the spread itself, and any gap, however long, is one exact step.
///
/// # References
/// Hartikainen J, Särkkä S (2010). Kalman filtering and smoothing solutions to temporal Gaussian process regression
/// models. IEEE MLSP 2010, section 3.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Smooth {
    /// λ, per minute.
    pub(crate) rate_per_min: f64,
    /// Standard deviation of the level, mg/dL.
    pub(crate) spread_mg_dl: f64,
}

impl Smooth {
    /// Covariance of level, rate and acceleration when nothing is known.
    pub(crate) fn stationary(&self) -> Matrix3<f64> {
        let l2 = self.rate_per_min * self.rate_per_min;
        let s2 = self.spread_mg_dl * self.spread_mg_dl;
        let middle = s2 * l2 / 3.0;
        Matrix3::new(s2, 0.0, -middle, 0.0, middle, 0.0, -middle, 0.0, s2 * l2 * l2)
    }

    /// F over so many minutes.
    pub(crate) fn over(&self, minutes: f64) -> Matrix3<f64> {
        let l = self.rate_per_min;
        let (t, lt) = (minutes, l * minutes);
        let fade = libm::exp(-lt);
        Matrix3::new(
            1.0 + lt + 0.5 * lt * lt,
            t * (1.0 + lt),
            0.5 * t * t,
            -0.5 * l * lt * lt,
            1.0 + lt - lt * lt,
            t * (1.0 - 0.5 * lt),
            l * l * lt * (0.5 * lt - 1.0),
            l * lt * (lt - 3.0),
            1.0 - 2.0 * lt + 0.5 * lt * lt,
        ) * fade
    }

    /// F and Q over so many minutes.
    pub(crate) fn step(&self, minutes: f64) -> (Matrix3<f64>, Matrix3<f64>) {
        let f = self.over(minutes);
        let rest = self.stationary();
        (f, self.gained(minutes, &f, &rest))
    }

    /// Q: what the stationary covariance has beyond what is carried over. Over a short step that difference is all
    /// rounding, so there the integral it stands for is summed by quadrature.
    fn gained(&self, minutes: f64, f: &Matrix3<f64>, rest: &Matrix3<f64>) -> Matrix3<f64> {
        let l = self.rate_per_min;
        let q = if l * minutes > 0.5 {
            rest - f * rest * f.transpose()
        } else {
            let density = 16.0 / 3.0 * l * l * l * l * l * self.spread_mg_dl * self.spread_mg_dl;
            let mut sum = Matrix3::zeros();
            for (place, weight) in GAUSS_6 {
                for side in [-1.0, 1.0] {
                    let kick: Vector3<f64> = self.over(0.5 * minutes * (1.0 + side * place)).column(2).into();
                    sum += kick * kick.transpose() * weight;
                }
            }
            sum * (0.5 * minutes * density)
        };
        0.5 * (q + q.transpose())
    }
}

/// Places and weights of the six-point Gauss–Legendre rule on −1 to 1, the positive half (Abramowitz M, Stegun IA
/// (1964). Handbook of Mathematical Functions, table 25.4).
const GAUSS_6: [(f64, f64); 3] = [
    (0.238_619_186_083_196_9, 0.467_913_934_572_691_05),
    (0.661_209_386_466_264_5, 0.360_761_573_048_138_6),
    (0.932_469_514_203_152, 0.171_324_492_379_170_36),
];
