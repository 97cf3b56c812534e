//! Shares of pairs that agree within so much.

use super::binomial::{lower_bound, share_interval};
use super::pair::Pair;
use crate::bootstrap::Interval;

/// The blood values, mg/dL, below which an allowance is in mg/dL and from which on it is in percent, as different
/// sources take it: 70 (the United States' rule for integrated sensors, there on the sensor's value; also common
/// elsewhere), 80 (older device studies), 100 (ISO 15197:2013 and several studies of sensors). A rate without its
/// split says little: of fifteen pairs of one worked example 27 % or 47 % lie within 15/15 by the split alone.
pub const SPLITS_MG_DL: [f64; 3] = [70.0, 80.0, 100.0];

/// The split taken when none is asked for, mg/dL.
pub const DEFAULT_SPLIT_MG_DL: f64 = SPLITS_MG_DL[0];

/// The allowances in use: 15/15, 20/20, 30/30, 40/40.
pub const ALLOWANCES: [f64; 4] = [15.0, 20.0, 30.0, 40.0];

/// Confidence of every interval here.
pub(crate) const CONFIDENCE: f64 = 0.95;

/// How far a sensor may stand from the blood to count as agreeing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Allowance {
    /// mg/dL below the split, percent of the blood value from the split on; both ends count as within.
    pub limit: f64,
    /// Blood glucose, mg/dL.
    pub split_mg_dl: f64,
}

impl Allowance {
    /// Whether a pair agrees.
    pub fn holds(self, blood_mg_dl: f64, sensor_mg_dl: f64) -> bool {
        let apart = (sensor_mg_dl - blood_mg_dl).abs();
        // Percent of a whole number is seldom a binary fraction; a millionth of a mg/dL is no difference.
        let slack = 1e-6;
        apart <= self.reach_mg_dl(blood_mg_dl) + slack
    }

    /// How far from a blood value it reaches, mg/dL.
    pub fn reach_mg_dl(self, blood_mg_dl: f64) -> f64 {
        if blood_mg_dl < self.split_mg_dl {
            self.limit
        } else {
            self.limit / 100.0 * blood_mg_dl
        }
    }

    /// The share of the pairs that agree, with exact bounds.
    pub fn rate<'a>(self, pairs: impl IntoIterator<Item = &'a Pair>) -> Rate {
        let (mut within, mut of) = (0, 0);
        for pair in pairs {
            of += 1;
            within += u64::from(self.holds(pair.blood_mg_dl, pair.sensor_mg_dl));
        }
        Rate { within, of }
    }
}

/// So many of so many.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Rate {
    /// Pairs that agree.
    pub within: u64,
    /// Pairs.
    pub of: u64,
}

impl Rate {
    /// Percent; `None` of nothing.
    pub fn percent(self) -> Option<f64> {
        (self.of > 0).then(|| 100.0 * self.within as f64 / self.of as f64)
    }

    /// Exact two-sided 95 % interval, percent (Clopper and Pearson 1934). It takes the pairs as independent, which
    /// pairs of one sensor are not: with few sensors it is too narrow.
    pub fn interval_percent(self) -> Interval {
        let share = share_interval(self.within, self.of, CONFIDENCE);
        Interval {
            lo: 100.0 * share.lo,
            hi: 100.0 * share.hi,
        }
    }

    /// Exact one-sided 95 % lower bound, percent.
    pub fn lower_percent(self) -> f64 {
        100.0 * lower_bound(self.within, self.of, CONFIDENCE)
    }
}
