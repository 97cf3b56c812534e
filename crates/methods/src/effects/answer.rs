//! What comes of a question.

use interstice_glucose::counted;

use crate::Interval;

/// Share of false alarms among what is shown as there.
pub(super) const MOST_FALSE: f64 = 0.05;

/// Which difference from blood is looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Quality {
    /// Signed: does it read high or low?
    Signed,
    /// Without its sign: how far off is it?
    Absolute,
}

/// What is compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Compared {
    /// A level of the question against the level most sensors have, by their places in [`super::Values::Levels`].
    Level {
        /// The level.
        level: usize,
        /// What it is held against.
        reference: usize,
    },
    /// One [`super::Values::Number`] step more.
    Step,
}

/// An answer to one comparison.
#[derive(Clone, Debug, PartialEq)]
pub struct Answer {
    /// Place of the question in those asked.
    pub question: usize,
    /// Which difference.
    pub quality: Quality,
    /// What was compared; `None` where there was nothing to compare.
    pub compared: Option<Compared>,
    /// The estimate, or why there is none.
    pub outcome: Result<Estimate, Untold>,
}

/// An effect in percentage points of relative difference. For [`Quality::Absolute`] below 0 is better.
#[derive(Clone, Debug, PartialEq)]
pub struct Estimate {
    /// Estimate, points.
    pub points: f64,
    /// 95 % interval by Kenward and Roger.
    pub interval: Interval,
    /// How often chance alone would give as much, in this question alone.
    pub p: f64,
    /// The same, counting everything that was asked (Benjamini and Hochberg 1995).
    pub q: f64,
    /// Degrees of freedom of the interval: near the number of sensors where sensors are what is compared.
    pub freedom: f64,
    /// Sensors that say something: of the level and of the reference, or all of them twice.
    pub sensors: (u64, u64),
    /// Checks, likewise.
    pub checks: (u64, u64),
    /// Questions whose answers were mostly the same on the same sensors, by place.
    pub entangled: Vec<usize>,
    /// Whether it may be shown as there: `q` at most 5 %, and without any one sensor still of the same sign and at least
    /// half the size.
    pub holds: bool,
    /// What would settle it.
    pub more: More,
}

impl Estimate {
    /// How the comparison stands.
    pub fn standing(&self) -> Standing {
        let excludes_none = self.interval.lo > 0.0 || self.interval.hi < 0.0;
        match self.more {
            _ if self.holds => Standing::There,
            More::Nothing => Standing::TooSmall,
            _ if excludes_none && self.q > MOST_FALSE => Standing::AmongMany,
            _ if excludes_none => Standing::OneSensor,
            _ => Standing::Open,
        }
    }
}

/// How a comparison stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Standing {
    /// It may be shown as there.
    There,
    /// Whatever it is, it is smaller than is worth knowing.
    TooSmall,
    /// By itself it would count; among everything asked it does not yet.
    AmongMany,
    /// It counts among everything asked, but one sensor alone makes it.
    OneSensor,
    /// Its interval holds no effect, and effects worth knowing.
    Open,
}

impl Standing {
    /// Whether there is an answer: there, or too small to matter.
    pub fn is_settled(self) -> bool {
        matches!(self, Standing::There | Standing::TooSmall)
    }
}

/// What would settle a question, by this person's own spread.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum More {
    /// It is settled: there, or too small to matter.
    Nothing,
    /// About so many further sensors: it would then be shown as there in 4 of 5 cases, were the effect as large as now
    /// estimated, or 3 points where that is less.
    Sensors(u32),
    /// More than is sensible to wait for.
    TooMany,
}

/// Why there is no estimate.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Untold {
    /// Nothing was logged, or on too few checks.
    #[error("it was logged for {}; {need} are needed", counted(*have, "check", "checks"))]
    NotLogged {
        /// Checks with a value.
        have: u64,
        /// Checks that would be enough.
        need: u64,
    },
    /// It never differed.
    #[error("it was the same on every check; 2 sensors with another would be a beginning")]
    OneLevel,
    /// One side was on one sensor only.
    #[error("one sensor alone had it, so it cannot be told from that sensor itself; it needs a second one")]
    OneSensor,
    /// Too few sensors in all.
    #[error("{} too few to compare; {need} are needed", counted(*have, "sensor is", "sensors are"))]
    TooFewSensors {
        /// Sensors with a value.
        have: u64,
        /// Sensors that would be enough.
        need: u64,
    },
    /// A number was known on too few days.
    #[error("it was logged on {} of wear; {need} are needed", counted(*have, "day", "days"))]
    TooFewDays {
        /// Days of wear, of all sensors together, with a check and a value.
        have: u64,
        /// Days that would be enough.
        need: u64,
    },
    /// It always came together with another question.
    #[error(
        "it always came together with another thing asked: sensors with one and not the other would tell them apart"
    )]
    Together {
        /// The other question, by its place.
        with: usize,
    },
    /// The rows cannot carry the model.
    #[error("the checks cannot carry this comparison: {0}")]
    Model(#[from] crate::mixed::MixedError),
    /// They carry it, but no interval.
    #[error("the checks give no interval for this comparison")]
    NoInterval,
}
