//! How late the sensors are behind blood, and how weakly that is known.

use interstice_glucose::{counted, one_or_many};
use interstice_methods::estimate::{Delay, Learned};
use serde::Serialize;

/// Fewest checks from which a delay of one's own is told.
const FEWEST_CHECKS: usize = 12;
/// Spread of what is thought of a delay before any check, minutes; see docs/methods/blood-estimate.md.
const THOUGHT_BEFORE_SD_MIN: f64 = 5.8;
/// A spread of at least this part of it says that the checks taught little.
const LITTLE_TAUGHT: f64 = 0.75;

/// How late the sensors are behind blood.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Lag {
    /// Minutes.
    pub lag_min: Option<f64>,
    /// It is as likely below this as one in twenty.
    pub lag_min_lo90: Option<f64>,
    /// It is as likely above this as one in twenty.
    pub lag_min_hi90: Option<f64>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lag_min_reason: Option<String>,
    /// How coarse the stamps of the checks are, minutes; 0 where they are not.
    pub lag_stamp_min: f64,
    /// Whether the checks say little more than what is thought of any sensor.
    pub lag_weakly_known: bool,
    /// Checks it rests on.
    pub lag_checks: u64,
    /// While glucose falls.
    pub lag_falling: Option<LagOneWay>,
    /// While it rises.
    pub lag_rising: Option<LagOneWay>,
}

/// The delay while glucose moves one way.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct LagOneWay {
    /// Minutes.
    pub lag_min: f64,
    /// 5th percentile.
    pub lag_min_lo90: f64,
    /// 95th percentile.
    pub lag_min_hi90: f64,
}

impl LagOneWay {
    fn of(delay: &Delay) -> Self {
        LagOneWay {
            lag_min: delay.mean_min,
            lag_min_lo90: delay.within_90.0,
            lag_min_hi90: delay.within_90.1,
        }
    }
}

/// What was learned of the delay, as it is told.
pub(super) fn of(learned: &Learned) -> Lag {
    let told = Lag {
        lag_stamp_min: learned.delay.stamp_min,
        lag_checks: learned.checks_used as u64,
        ..Lag::default()
    };
    if learned.checks_used < FEWEST_CHECKS {
        return Lag {
            lag_min_reason: Some(format!(
                "{} while a sensor was read {} too few to tell a delay; {FEWEST_CHECKS} are needed, best while \
                 glucose is rising or falling",
                counted(learned.checks_used as u64, "blood check", "blood checks"),
                one_or_many(&learned.checks_used, "is", "are")
            )),
            ..told
        };
    }
    let both = LagOneWay::of(&learned.delay);
    Lag {
        lag_min: Some(both.lag_min),
        lag_min_lo90: Some(both.lag_min_lo90),
        lag_min_hi90: Some(both.lag_min_hi90),
        lag_weakly_known: learned.delay.sd_min >= LITTLE_TAUGHT * THOUGHT_BEFORE_SD_MIN,
        lag_falling: Some(LagOneWay::of(&learned.falling)),
        lag_rising: Some(LagOneWay::of(&learned.rising)),
        ..told
    }
}
