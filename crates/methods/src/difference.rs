//! The difference of two estimates that do not depend on each other, from the interval of each.

use crate::Interval;

/// `now - before` with its interval.
///
/// The lower end is `d - √((now - now.lo)² + (before.hi - before)²)`, the upper `d + √((now.hi - now)² + (before - before.lo)²)`:
/// the 'method of variance estimates recovery' (Zou and Donner 2008, Stat Med 27:1693–1702), which keeps the slant of intervals
/// that reach further to one side. The probability is that of the intervals given. Two windows of one person that follow each other
/// are not quite independent; blocks of days make the intervals wide enough for what carries over inside each, not from one to the
/// other.
pub fn difference((now, of_now): (f64, Interval), (before, of_before): (f64, Interval)) -> (f64, Interval) {
    let d = now - before;
    let lower = libm::hypot(now - of_now.lo, of_before.hi - before);
    let upper = libm::hypot(of_now.hi - now, before - of_before.lo);
    (
        d,
        Interval {
            lo: d - lower,
            hi: d + upper,
        },
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Newcombe (1998), Stat Med 17:873–890, table II, method 10: the same square-and-add on Wilson intervals, of which this is
    /// the general form. 56/70 and 48/80 give +0.0524 to +0.3339; the Wilson intervals are computed here by their formula.
    #[test]
    fn it_is_newcombes_interval_on_wilsons() {
        let wilson = |count: f64, of: f64| {
            let (z, p) = (1.959_963_985, count / of);
            let middle = (p + z * z / (2.0 * of)) / (1.0 + z * z / of);
            let half = z / (1.0 + z * z / of) * (p * (1.0 - p) / of + z * z / (4.0 * of * of)).sqrt();
            let interval = Interval {
                lo: middle - half,
                hi: middle + half,
            };
            (p, interval)
        };
        let (d, interval) = difference(wilson(56.0, 70.0), wilson(48.0, 80.0));
        assert!((d - 0.2).abs() < 1e-12);
        assert!((interval.lo - 0.0524).abs() < 5e-5, "{interval:?}");
        assert!((interval.hi - 0.3339).abs() < 5e-5, "{interval:?}");
    }
}
