//! One future: sensors following each other.

use rand::Rng;

use super::curve::Curve;
use super::{Habit, OnNow};
use crate::plan::WearClock;

/// Goes from sensor to sensor, hours from now, until `take` has none: it is told when one is to be put on and when it takes over.
///
/// One lost before it took over is replaced at once while the one before it still reads.
pub(super) fn walk(
    curve: &Curve,
    habit: Habit,
    on: Option<OnNow>,
    dice: &mut impl Rng,
    mut take: impl FnMut(f64, f64) -> bool,
) {
    // When reading ends, whether that was planned, and when the next one is to be put on.
    let (mut end, mut planned) = match on {
        None => (0.0, false),
        Some(on) => {
            let lost = curve.draw(on.worn_h, dice) - on.worn_h;
            (lost.min(on.left_h).max(0.0), lost >= on.left_h)
        }
    };
    let mut due = if planned {
        (end - habit.before_h).max(0.0)
    } else {
        end
    };
    while take(due, end.max(due)) {
        let put_on = due;
        let start = if planned {
            (end - habit.warm_up_h).max(put_on)
        } else {
            put_on
        };
        let limit = habit.wear_h
            + match habit.clock {
                WearClock::PutOn => put_on,
                WearClock::Start => start,
            };
        let lost = put_on + curve.draw(0.0, dice);
        if lost >= limit {
            (end, planned) = (limit.max(end), true);
            due = (end - habit.before_h).max(put_on);
        } else if lost > end {
            (end, planned) = (lost, false);
            due = lost;
        } else {
            due = lost;
        }
    }
}
