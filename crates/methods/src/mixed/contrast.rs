//! An estimate from a fitted model, with an interval that admits how few groups there are.

use nalgebra::{Cholesky, DMatrix, DVector};

use super::reml::{Fit, Slopes};
use crate::Interval;
use crate::student::{two_sided, two_sided_point};

/// How the standard error and its degrees of freedom are found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Freedom {
    /// The standard error as if the variances were known, with Satterthwaite's degrees of freedom (1946, Biometrics
    /// Bulletin 2:110–114; for mixed models Fai and Cornelius 1996, J Stat Comput Simul 54:363–378).
    Satterthwaite,
    /// The standard error widened for the variances being estimated (Kenward and Roger 1997, Biometrics 53:983–997,
    /// equations 3 to 7). For one contrast their scale is 1 and their degrees of freedom are Satterthwaite's.
    KenwardRoger,
}

/// A linear combination of the coefficients.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Contrast {
    /// Estimate.
    pub estimate: f64,
    /// Standard error.
    pub standard_error: f64,
    /// Degrees of freedom of Student's t.
    pub freedom: f64,
}

impl Contrast {
    /// The interval of the given confidence, between 0 and 1.
    pub fn interval(&self, confidence: f64) -> Interval {
        let outside = (1.0 - confidence).clamp(1e-12, 1.0);
        let half = self.standard_error * two_sided_point(outside, self.freedom);
        Interval {
            lo: self.estimate - half,
            hi: self.estimate + half,
        }
    }

    /// How often chance alone would give an estimate this far from 0, either way.
    pub fn p(&self) -> f64 {
        two_sided(self.estimate / self.standard_error, self.freedom)
    }
}

impl Fit<'_> {
    /// The combination `weights` of the coefficients; one weight for each column.
    ///
    /// `None` where the rows cannot carry a standard error.
    pub fn contrast(&self, weights: &[f64], freedom: Freedom) -> Option<Contrast> {
        if weights.len() != self.nested.columns {
            return None;
        }
        let slopes = self.nested.slopes(&self.solved, self.variances, &self.free)?;
        let covariance = Cholesky::new(slopes.information.clone())?.inverse();
        let along = &slopes.phi * DVector::from_column_slice(weights);
        let plain = along.dot(&DVector::from_column_slice(weights));
        let gradient = DVector::from_iterator(
            slopes.first.len(),
            slopes.first.iter().map(|first| along.dot(&(first * &along))),
        );
        let spread = gradient.dot(&(&covariance * &gradient));
        let variance = match freedom {
            Freedom::Satterthwaite => plain,
            Freedom::KenwardRoger => plain + widening(&slopes, &covariance, &along),
        };
        let contrast = Contrast {
            estimate: self.solved.fixed.dot(&DVector::from_column_slice(weights)),
            standard_error: variance.sqrt(),
            freedom: (2.0 * plain * plain / spread).clamp(1.0, self.nested.freedom()),
        };
        (contrast.standard_error > 0.0 && contrast.freedom.is_finite()).then_some(contrast)
    }
}

/// What Kenward and Roger add to the variance of a contrast: twice
/// `Φ (Σ Wij (Qij - Pi Φ Pj)) Φ`; the term of second derivatives is 0, since V is linear in the variances.
fn widening(slopes: &Slopes, covariance: &DMatrix<f64>, along: &DVector<f64>) -> f64 {
    let mut sum = 0.0;
    for (i, first) in slopes.first.iter().enumerate() {
        let through = &slopes.phi * (first * along);
        for (j, other) in slopes.first.iter().enumerate() {
            let second = along.dot(&(&slopes.second[i][j] * along));
            let product = along.dot(&(other * &through));
            sum += covariance[(i, j)] * (second - product);
        }
    }
    2.0 * sum
}
