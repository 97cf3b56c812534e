//! Drift of a sensor against blood checks.

use interstice_glucose::{DAY_S, Second};

use super::fault::{Evidence, Fault};
use crate::Interval;

/// Fewest checks after the first day.
pub const FEWEST_DRIFT_CHECKS: usize = 7;
/// Fewest days they span.
pub const FEWEST_DRIFT_DAYS: u32 = 3;
/// Standard normal beyond which 0.5 % lies: an interval of 99 %, since every sensor is asked.
const BEYOND: f64 = 2.575_829_303_548_900_4;
/// A drift is worth showing where it adds up to this many points over the checks (ours: a tenth of the value).
const LEAST_POINTS: f64 = 10.0;

/// A blood check beside the sensor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CheckedAt {
    /// When.
    pub at: Second,
    /// Sensor less blood, percent of the blood.
    pub relative_percent: f64,
}

/// Why a drift cannot be told.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum DriftError {
    /// Too few checks after the first day.
    #[error("{have} blood checks after the sensor's first day are too few to see a drift; {need} are needed")]
    TooFewChecks {
        /// Checks there are.
        have: u64,
        /// Checks that would be enough.
        need: u64,
    },
    /// They lie too close together.
    #[error("the blood checks span less than {need} days")]
    TooShort {
        /// Days that would be enough.
        need: u32,
    },
}

/// Drift of one sensor: the median of the slopes between all pairs of checks (Theil 1950; Sen 1968, J Am Stat Assoc
/// 63:1379–1389), with Sen's interval from the distribution of Kendall's statistic, so that a contaminated finger or two do
/// not make it. It counts where the 99 % interval excludes 0 and the change over the checks is at least 10 points.
///
/// * `checks`: in order of time.
/// * `started`: when the sensor was started. Its first 24 hours are left out: settling is no drift.
///
/// `Ok(None)` where there is none to show.
///
/// # Errors
/// Too few checks, or too few days.
pub fn drift(checks: &[CheckedAt], started: Second) -> Result<Option<Fault>, DriftError> {
    let settled: Vec<&CheckedAt> = checks
        .iter()
        .filter(|check| check.at >= started + DAY_S && check.relative_percent.is_finite())
        .collect();
    let (Some(first), Some(last)) = (settled.first(), settled.last()) else {
        return Err(too_few(0));
    };
    if settled.len() < FEWEST_DRIFT_CHECKS {
        return Err(too_few(settled.len()));
    }
    let days = (last.at - first.at) as f64 / DAY_S as f64;
    if days < f64::from(FEWEST_DRIFT_DAYS) {
        return Err(DriftError::TooShort {
            need: FEWEST_DRIFT_DAYS,
        });
    }
    let Some((slope, interval)) = theil_sen(&settled) else {
        return Ok(None);
    };
    let excludes_none = interval.lo > 0.0 || interval.hi < 0.0;
    Ok(
        (excludes_none && slope.abs() * days >= LEAST_POINTS).then_some(Fault {
            from: first.at,
            to: last.at,
            evidence: Evidence::Drift {
                points_per_day: slope,
                interval,
                checks: settled.len() as u64,
            },
        }),
    )
}

fn too_few(have: usize) -> DriftError {
    DriftError::TooFewChecks {
        have: have as u64,
        need: FEWEST_DRIFT_CHECKS as u64,
    }
}

/// Median slope a day and its interval; `None` where the slopes are too few for one.
fn theil_sen(checks: &[&CheckedAt]) -> Option<(f64, Interval)> {
    let mut slopes = Vec::new();
    for (i, a) in checks.iter().enumerate() {
        for b in &checks[i + 1..] {
            if b.at > a.at {
                slopes
                    .push((b.relative_percent - a.relative_percent) / ((b.at - a.at) as f64 / DAY_S as f64));
            }
        }
    }
    slopes.sort_unstable_by(f64::total_cmp);
    let n = checks.len() as f64;
    let spread = BEYOND * (n * (n - 1.0) * (2.0 * n + 5.0) / 18.0).sqrt();
    // The M1-th smallest and the M1-th largest slope, in Sen's words; M1 rounded down, the cautious way.
    let from_ends = (0.5 * (slopes.len() as f64 - spread)).floor();
    if from_ends < 1.0 {
        return None;
    }
    let below = from_ends as usize - 1;
    let above = slopes.len().checked_sub(1 + below)?;
    let interval = Interval {
        lo: *slopes.get(below)?,
        hi: *slopes.get(above)?,
    };
    Some((crate::quantile(&slopes, 0.5)?, interval))
}
