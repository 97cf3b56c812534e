//! Exact bounds of a share, and the distributions behind them.

use crate::bootstrap::Interval;

/// Steps after which the continued fraction is taken as it stands; it needs about the square root of its larger
/// argument, so this serves a million pairs.
const MOST_STEPS: u32 = 5000;
/// Halvings of an inverse: an interval of 1 is then narrower than the spacing of numbers near 1.
const HALVINGS: u32 = 200;

/// Exact two-sided interval of a share (Clopper and Pearson 1934, Biometrika 26:404), `within` of `of` trials, both
/// ends between 0 and 1.
///
/// It supposes independent trials. Pairs of one sensor are not: see [`super::ClusterBootstrap`].
///
/// * `confidence`: between 0 and 1, 0.95 as a rule; half of the rest lies beyond either end.
///
/// ```
/// let all_of_nine = interstice_methods::agreement::share_interval(9, 9, 0.90);
/// assert!((all_of_nine.lo - 0.71687).abs() < 1e-5); // the lower one-sided 95 % bound
/// ```
pub fn share_interval(within: u64, of: u64, confidence: f64) -> Interval {
    let outer = (1.0 - confidence.clamp(0.0, 1.0)) / 2.0;
    Interval {
        lo: lower(within, of, outer),
        hi: upper(within, of, outer),
    }
}

/// Exact lower bound of a share by a one-sided test, between 0 and 1 (Clopper and Pearson 1934).
pub fn lower_bound(within: u64, of: u64, confidence: f64) -> f64 {
    lower(within, of, 1.0 - confidence.clamp(0.0, 1.0))
}

fn lower(within: u64, of: u64, outer: f64) -> f64 {
    let within = within.min(of);
    if within == 0 {
        return 0.0;
    }
    beta_quantile(outer, within as f64, (of - within) as f64 + 1.0)
}

fn upper(within: u64, of: u64, outer: f64) -> f64 {
    let within = within.min(of);
    if within == of {
        return 1.0;
    }
    1.0 - beta_quantile(outer, (of - within) as f64, within as f64 + 1.0)
}

/// Quantile of Student's t.
///
/// * `p`: probability below it, between 0 and 1.
/// * `freedom`: degrees of freedom, above 0.
///
/// By the beta distribution: t² / (freedom + t²) is beta with parameters 1/2 and freedom/2.
pub fn student_quantile(p: f64, freedom: f64) -> f64 {
    let outer = p.min(1.0 - p).clamp(0.0, 0.5);
    // The share of the rest, freedom / (freedom + t²), stays exact far out in the tail.
    let rest = beta_quantile(2.0 * outer, 0.5 * freedom, 0.5);
    let t = libm::sqrt(freedom * (1.0 - rest) / rest);
    if p < 0.5 { -t } else { t }
}

/// The point below which a beta variable lies with probability `p`, by halving.
fn beta_quantile(p: f64, a: f64, b: f64) -> f64 {
    let (mut below, mut above) = (0.0, 1.0);
    for _ in 0..HALVINGS {
        let middle = 0.5 * (below + above);
        if middle <= below || middle >= above {
            break;
        }
        if beta_share(middle, a, b) < p {
            below = middle;
        } else {
            above = middle;
        }
    }
    0.5 * (below + above)
}

/// The regularised incomplete beta function: the probability that a beta variable with parameters `a` and `b` lies
/// below `x`.
pub(crate) fn beta_share(x: f64, a: f64, b: f64) -> f64 {
    if x <= 0.0 {
        return 0.0;
    }
    if x >= 1.0 {
        return 1.0;
    }
    let log_front =
        libm::lgamma(a + b) - libm::lgamma(a) - libm::lgamma(b) + a * libm::log(x) + b * libm::log1p(-x);
    let front = libm::exp(log_front);
    // The fraction is quick on the side of the mean where x lies.
    if x < (a + 1.0) / (a + b + 2.0) {
        front * fraction(x, a, b) / a
    } else {
        1.0 - front * fraction(1.0 - x, b, a) / b
    }
}

/// The continued fraction of the incomplete beta function (NIST Digital Library of Mathematical Functions, 8.17.22)
/// by the method of Lentz.
fn fraction(x: f64, a: f64, b: f64) -> f64 {
    const TINY: f64 = 1e-300;
    let away = |value: f64| if value.abs() < TINY { TINY } else { value };
    let mut c = 1.0;
    let mut d = 1.0 / away(1.0 - (a + b) * x / (a + 1.0));
    let mut value = d;
    for step in 1..=MOST_STEPS {
        let m = f64::from(step);
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        let before = value;
        for term in [even, odd] {
            d = 1.0 / away(1.0 + term * d);
            c = away(1.0 + term / c);
            value *= c * d;
        }
        if (value / before - 1.0).abs() < 1e-16 {
            break;
        }
    }
    value
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Zero failures: the lower bound is the n-th root of what lies beyond it.
    #[test]
    fn all_of_n_has_a_closed_form() {
        for n in [1_u32, 2, 9, 22, 299, 5000] {
            let want = libm::pow(0.05, 1.0 / f64::from(n));
            assert!(
                (lower_bound(n.into(), n.into(), 0.95) - want).abs() < 1e-12,
                "{n}"
            );
        }
        assert!(lower_bound(0, 0, 0.95).abs() < 1e-15);
        assert_eq!(share_interval(0, 0, 0.95), Interval { lo: 0.0, hi: 1.0 });
    }
}
