//! How often something happens: counts over time looked at, with exact intervals.

use crate::agreement::share_interval;
use crate::bootstrap::Interval;

/// Halvings of an inverse: far below the spacing of doubles for any count a life can hold.
const HALVINGS: u32 = 200;

/// Exact two-sided interval of the mean of a Poisson count (Garwood 1936, Biometrika 28:437).
///
/// The lower end is the mean under which so many or more come with probability (1 − confidence) / 2, 0 for none; the upper
/// end the one under which so many or fewer do. It supposes that each event comes on its own; where one night brings
/// several, the truth is wider.
///
/// * `count`: events seen.
/// * `confidence`: between 0 and 1, 0.95 as a rule.
///
/// ```
/// let none = interstice_methods::rate::count_interval(0, 0.95);
/// assert_eq!(none.lo, 0.0);
/// assert!((none.hi - 3.688879).abs() < 1e-6); // −ln 0.025
/// ```
pub fn count_interval(count: u64, confidence: f64) -> Interval {
    let outer = (1.0 - confidence.clamp(0.0, 1.0)) / 2.0;
    let lo = count.checked_sub(1).map_or(0.0, |fewer| {
        mean_where(fewer, |at_most_fewer| 1.0 - at_most_fewer < outer)
    });
    Interval {
        lo,
        hi: mean_where(count, |at_most| at_most > outer),
    }
}

/// Exact two-sided interval of how many times the rate of the first the rate of the second is: given the total, the count
/// of the second is binomial (Przyborowski and Wilenski 1940, Biometrika 31:313), its share by Clopper and Pearson.
///
/// * `first`, `second`: events, and the time looked at in one unit. `None` without any event or without time; the upper end
///   is infinite where the first has none.
pub fn ratio_interval(first: (u64, f64), second: (u64, f64), confidence: f64) -> Option<Interval> {
    let total = first.0 + second.0;
    if total == 0 || !(first.1 > 0.0 && second.1 > 0.0) {
        return None;
    }
    let share = share_interval(second.0, total, confidence);
    let ratio = |share: f64| share / (1.0 - share) * first.1 / second.1;
    Some(Interval {
        lo: ratio(share.lo),
        hi: ratio(share.hi),
    })
}

/// The mean of a Poisson variable up to which `holds` of the probability of `count` or fewer, by halving.
fn mean_where(count: u64, holds: impl Fn(f64) -> bool) -> f64 {
    let (mut below, mut above) = (0.0, 1.0);
    while holds(at_most(count, above)) {
        (below, above) = (above, 2.0 * above);
    }
    for _ in 0..HALVINGS {
        let middle = 0.5 * (below + above);
        if middle <= below || middle >= above {
            break;
        }
        if holds(at_most(count, middle)) {
            below = middle;
        } else {
            above = middle;
        }
    }
    0.5 * (below + above)
}

/// Probability of `count` or fewer of a Poisson variable, added up from the largest term outwards until nothing is added.
fn at_most(count: u64, mean: f64) -> f64 {
    let term = |k: f64| libm::exp(k * libm::log(mean) - mean - libm::lgamma(k + 1.0));
    let mode = (count as f64).min(mean.floor());
    let (mut sum, mut k, mut now) = (0.0, mode, term(mode));
    while now > 0.0 && sum + now > sum {
        sum += now;
        if k < 1.0 {
            break;
        }
        now *= k / mean;
        k -= 1.0;
    }
    let (mut k, mut now) = (mode + 1.0, term(mode) * mean / (mode + 1.0));
    while k <= count as f64 && sum + now > sum {
        sum += now;
        k += 1.0;
        now *= mean / k;
    }
    sum.min(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Garwood's table as it is reprinted in statistical tables, from memory.
    #[test]
    fn is_what_the_tables_print() {
        for (count, lo, hi) in [
            (1, 0.0253, 5.572),
            (2, 0.242, 7.225),
            (5, 1.623, 11.668),
            (10, 4.795, 18.390),
        ] {
            let found = count_interval(count, 0.95);
            assert!((found.lo - lo).abs() < 6e-4, "{count}: {found:?}");
            assert!((found.hi - hi).abs() < 6e-4, "{count}: {found:?}");
        }
    }

    #[test]
    fn rates_are_compared_by_the_share_of_the_second() {
        assert_eq!(ratio_interval((0, 10.0), (0, 10.0), 0.95), None);
        assert_eq!(ratio_interval((1, 0.0), (1, 10.0), 0.95), None);
        let equal = ratio_interval((7, 20.0), (7, 20.0), 0.95).unwrap_or(Interval { lo: 0.0, hi: 0.0 });
        assert!((equal.lo * equal.hi - 1.0).abs() < 1e-9, "{equal:?}");
        let none = ratio_interval((0, 20.0), (7, 20.0), 0.95);
        assert!(none.is_some_and(|ratio| ratio.lo > 1.0 && ratio.hi.is_infinite()));
    }
}
