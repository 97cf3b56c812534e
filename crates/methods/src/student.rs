//! Probabilities of Student's t with any degrees of freedom, beside its quantile.

use crate::agreement::{beta_share, student_quantile};

/// Probability that Student's t with `freedom` > 0 degrees of freedom lies further from 0 than `t`, either way.
pub(crate) fn two_sided(t: f64, freedom: f64) -> f64 {
    beta_share(freedom / (freedom + t * t), 0.5 * freedom, 0.5)
}

/// Probability that Student's t is at most `t`.
pub(crate) fn below(t: f64, freedom: f64) -> f64 {
    let outer = 0.5 * two_sided(t, freedom);
    if t > 0.0 { 1.0 - outer } else { outer }
}

/// The point that Student's t exceeds, either way, with probability `p` between 0 and 1.
pub(crate) fn two_sided_point(p: f64, freedom: f64) -> f64 {
    student_quantile(1.0 - 0.5 * p, freedom)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Cauchy's distribution, which is t with one degree of freedom; and the quantile back again.
    #[test]
    fn exact_where_there_is_a_formula() {
        for t in [-5.0, -0.3, 0.0, 0.7, 40.0] {
            let want = 0.5 + libm::atan(t) / std::f64::consts::PI;
            assert!((below(t, 1.0) - want).abs() < 1e-13);
        }
        for freedom in [1.0, 2.5, 14.0, 3000.0] {
            for p in [0.9, 0.05, 1e-4] {
                let again = two_sided(two_sided_point(p, freedom), freedom);
                assert!((again / p - 1.0).abs() < 1e-9, "{freedom} {p}: {again}");
            }
        }
    }
}
