//! How fast glucose was changing.

use interstice_glucose::{Censor, Levels, Second};

/// Readings this many seconds before and after a moment tell the rate of change at it: the quarter of an hour usual
/// in studies of trend accuracy, on both sides, because it is looked back upon.
pub const SLOPE_WINDOW_S: Second = 900;

/// Readings that span less than this, seconds, give no rate: the noise of two neighbours would be all of it.
pub const SLOPE_SPAN_S: Second = 600;

/// Rate of change at `moment` in mg/dL a minute: the least-squares slope of the readings from a quarter of an hour
/// before to a quarter of an hour after it, both ends counted.
///
/// * `at`, `level`: readings in time order and their levels in `levels`.
/// * `interval_s`: the native interval.
///
/// `None` where there is no reading on (or at) either side, where the readings span less than ten minutes, where two
/// neighbours are more than two native intervals apart (one reading may be missing), or where any of them is beyond
/// what the sensor can measure.
pub fn slope_mg_dl_min(
    at: &[u32],
    level: &[u32],
    levels: &Levels,
    interval_s: u32,
    moment: Second,
) -> Option<f64> {
    let start = at.partition_point(|&at| Second::from(at) < moment - SLOPE_WINDOW_S);
    let end = at.partition_point(|&at| Second::from(at) <= moment + SLOPE_WINDOW_S);
    let (at, level) = (at.get(start..end)?, level.get(start..end)?);
    let (first, last) = (Second::from(*at.first()?), Second::from(*at.last()?));
    let on_both_sides = first <= moment && last >= moment;
    let unbroken = at
        .windows(2)
        .all(|pair| pair[1] - pair[0] <= interval_s.saturating_mul(2));
    if !on_both_sides || !unbroken || last - first < SLOPE_SPAN_S {
        return None;
    }
    let mut rows = Vec::with_capacity(at.len());
    for (&at, &level) in at.iter().zip(level) {
        let level = levels.as_slice().get(level as usize)?;
        if level.said.censor() != Censor::None {
            return None;
        }
        rows.push(((Second::from(at) - moment) as f64 / 60.0, level.mg_per_dl));
    }
    Some(least_squares(&rows))
}

/// Slope of the straight line through (x, y) with the least sum of squares in y.
fn least_squares(rows: &[(f64, f64)]) -> f64 {
    let n = rows.len() as f64;
    let (mean_x, mean_y) = rows
        .iter()
        .fold((0.0, 0.0), |(x, y), row| (x + row.0 / n, y + row.1 / n));
    let (xy, xx) = rows.iter().fold((0.0, 0.0), |(xy, xx), row| {
        let x = row.0 - mean_x;
        (xy + x * (row.1 - mean_y), xx + x * x)
    });
    xy / xx
}

#[cfg(test)]
mod tests {
    use super::*;
    use interstice_glucose::{Said, Unit};

    /// Readings every `step` minutes of a fall of 2 mg/dL a minute, without those in `lost`.
    fn falling(step: u32, lost: &[u32]) -> (Vec<u32>, Vec<u32>, Levels) {
        let mut levels = Levels::new();
        let minutes: Vec<u32> = (0..=60 / step).map(|i| i * step).collect();
        let kept: Vec<u32> = minutes.into_iter().filter(|m| !lost.contains(m)).collect();
        let level = kept
            .iter()
            .map(|&m| levels.intern(Said::whole_mg_per_dl(200 - 2 * i64::from(m))))
            .collect();
        (kept.iter().map(|m| m * 60).collect(), level, levels)
    }

    fn slope(step: u32, lost: &[u32], moment_min: Second) -> Option<f64> {
        let (at, level, levels) = falling(step, lost);
        slope_mg_dl_min(&at, &level, &levels, step * 60, moment_min * 60)
    }

    #[test]
    fn a_straight_fall_is_told_at_any_interval() {
        for (step, moment) in [(1, 30), (5, 30), (5, 32), (15, 30), (15, 37)] {
            let got = slope(step, &[], moment).unwrap();
            assert!((got + 2.0).abs() < 1e-12, "{step} {got}");
        }
    }

    #[test]
    fn gaps_ends_and_edges_give_none() {
        assert!(slope(5, &[25], 30).is_some());
        assert_eq!(slope(5, &[25, 30], 32), None);
        assert_eq!(slope(5, &[], 61), None);
        assert_eq!(slope(5, &[0, 5, 10, 15, 20, 25], 30).map(f64::round), Some(-2.0));
        assert_eq!(slope(5, &[40, 45, 50, 55, 60], 35), Some(-2.0));
        let (at, mut level, mut levels) = falling(5, &[]);
        level[6] = levels.intern(Said::new(40, 0, Unit::MgPerDl, Censor::Below).unwrap());
        assert_eq!(slope_mg_dl_min(&at, &level, &levels, 300, 1800), None);
    }
}
