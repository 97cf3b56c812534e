//! What a plan costs: uncovered slots first, what was weighed second, sensors third. Whole numbers, so that sums come out
//! the same in any order and a tie is a tie.

/// Parts that a unit of weight is divided into.
const PARTS: f64 = 1e6;
/// Beyond this a weight is as good as forbidding.
const MOST: f64 = 1e8;

/// A weight in whole parts; `None` where it is infinite. What is negative or no number weighs nothing.
pub(super) fn parts(weight: f64) -> Option<i64> {
    (weight != f64::INFINITY).then(|| (weight.clamp(0.0, MOST) * PARTS).round() as i64)
}

/// Uncovered slots, then what was weighed, then the number of sensors.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Cost {
    pub(super) uncovered: i64,
    pub(super) soft: i64,
    /// Of plans alike the one with the fewest sensors; it also keeps sensors without end from costing nothing.
    pub(super) sensors: i64,
}

impl Cost {
    pub(super) const NONE: Cost = Cost {
        uncovered: 0,
        soft: 0,
        sensors: 0,
    };
    pub(super) const NEVER: Cost = Cost {
        uncovered: i64::MAX,
        soft: i64::MAX,
        sensors: i64::MAX,
    };

    pub(super) fn is_never(self) -> bool {
        self.uncovered == i64::MAX
    }

    pub(super) fn soft(soft: i64) -> Cost {
        Cost { soft, ..Cost::NONE }
    }

    /// Both together.
    pub(super) fn and(self, other: Cost) -> Cost {
        if self.is_never() || other.is_never() {
            return Cost::NEVER;
        }
        Cost {
            uncovered: self.uncovered + other.uncovered,
            soft: self.soft.saturating_add(other.soft),
            sensors: self.sensors + other.sensors,
        }
    }

    /// With so much more, or less, that was weighed.
    pub(super) fn more(self, soft: i64) -> Cost {
        self.and(Cost::soft(soft))
    }

    /// What was weighed, in the units of the weights.
    pub(super) fn weighed(self) -> f64 {
        self.soft as f64 / PARTS
    }
}
