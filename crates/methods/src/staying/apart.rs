//! By how much two groups of sensors differ, and how chances are read where several are told at once.

use super::Curve;
use crate::bootstrap::{Interval, normal_quantile};

/// A difference of means, and how far it may be off.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MeanApart {
    /// Hours the first stays on longer than the second; negative where less long.
    pub hours: f64,
    /// Standard error, hours.
    pub error: f64,
    /// Interval.
    pub within: Interval,
}

/// Mean hours worn up to a limit, one group less another: the area between their curves. `None` where one of the curves does
/// not reach so far, or where none was lost in one of the groups, whose error would count as nothing.
///
/// The groups are independent, so that the squares of their errors add up; the interval is the normal one (Royston and Parmar
/// 2013, BMC Med Res Methodol 13:152).
///
/// * `confidence`: between 0 and 1, 0.95 as a rule.
pub fn mean_apart(one: &Curve, other: &Curve, limit: f64, confidence: f64) -> Option<MeanApart> {
    let one = one.mean_up_to(limit, confidence)?;
    let other = other.mean_up_to(limit, confidence)?;
    if one.error <= 0.0 || other.error <= 0.0 {
        return None;
    }
    let hours = one.hours - other.hours;
    let error = (one.error * one.error + other.error * other.error).sqrt();
    let reach = normal_quantile((1.0 - confidence.clamp(0.0, 1.0)) / 2.0) * error;
    Some(MeanApart {
        hours,
        error,
        within: Interval {
            lo: hours - reach,
            hi: hours + reach,
        },
    })
}

/// Chances of several comparisons made at once, each raised so that any of them falls below a bound by mere chance no more
/// often than that bound says (Holm 1979, Scand J Stat 6:65). In the order given; what is no number stays so.
pub fn holm(chances: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..chances.len()).filter(|&i| !chances[i].is_nan()).collect();
    order.sort_by(|&a, &b| chances[a].total_cmp(&chances[b]));
    let mut raised = chances.to_vec();
    let mut least = 0.0_f64;
    for (rank, &i) in order.iter().enumerate() {
        least = least.max((order.len() - rank) as f64 * chances[i]).min(1.0);
        raised[i] = least;
    }
    raised
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Against statsmodels 0.14, `multipletests(…, method="holm")`.
    #[test]
    fn chances_are_raised_as_holm_does() {
        let raised = holm(&[0.01, 0.04, 0.03, f64::NAN, 0.005]);
        let expected = [0.03, 0.06, 0.06, f64::NAN, 0.02];
        for (ours, theirs) in raised.iter().zip(expected) {
            assert!(
                (ours - theirs).abs() < 1e-12 || (ours.is_nan() && theirs.is_nan()),
                "{raised:?}"
            );
        }
        assert_eq!(holm(&[0.7, 0.9]), [1.0, 1.0]);
        assert!(holm(&[]).is_empty());
    }
}
