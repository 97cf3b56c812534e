//! Whether something comes more often after activity, alcohol or illness than at the same hours of other days.

use super::clock::PatternEvent;
use super::grid::{Grid, READ, SLOTS};
use super::{READ_AT_LEAST, at_least};

/// Fewest times and fewest other days for an answer (ours, no source).
const FEWEST_TIMES: usize = 5;
const FEWEST_OTHERS: usize = 10;

/// What is asked: an event from so long after until so long after.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct AfterAsked {
    /// What.
    pub event: PatternEvent,
    /// Quarters of an hour after.
    pub from: usize,
    /// Quarters of an hour after, no longer in it.
    pub to: usize,
}

/// What was found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AfterFound {
    /// Times it came …
    pub with: u32,
    /// … of so many that were read.
    pub times: u32,
    /// How many would be expected by the same hours of other days.
    pub expected: f64,
    /// How often chance would bring so many or more.
    pub p: f64,
}

/// Counts an event after some instants against the same hours of the days on which, and before which, there was none.
///
/// * `instants`: day (since 1970 on the wall clock) and minute of it, as activity and the like ended.
///
/// Each time's chance is the share of other days with the event in the same hours, (k + ½) / (n + 1) so that none is 0 or 1
/// (Krichevsky and Trofimov 1981, IEEE Trans Inf Theory 27:199). `None` with fewer than five times or ten other days.
pub fn after(grid: &Grid, instants: &[(i64, u32)], asked: AfterAsked) -> Option<AfterFound> {
    let touched = |day: i64| {
        instants
            .iter()
            .any(|&(other, _)| other == day || other + 1 == day)
    };
    let others: Vec<i64> = grid
        .days
        .iter()
        .map(|day| day.number)
        .filter(|&day| !touched(day))
        .collect();
    let (mut chances, mut with) = (Vec::new(), 0);
    for &(day, minute) in instants {
        let start = (minute / 15) as usize + asked.from;
        let length = asked.to.saturating_sub(asked.from);
        let Some(held) = holds(grid, day, start, length, asked.event) else {
            continue;
        };
        let same: Vec<bool> = others
            .iter()
            .filter_map(|&other| holds(grid, other, start % SLOTS, length, asked.event))
            .collect();
        if same.len() < FEWEST_OTHERS {
            continue;
        }
        let k = same.iter().filter(|&&held| held).count() as f64;
        chances.push((k + 0.5) / (same.len() as f64 + 1.0));
        with += u32::from(held);
    }
    (chances.len() >= FEWEST_TIMES).then(|| AfterFound {
        with,
        times: chances.len() as u32,
        expected: chances.iter().sum(),
        p: at_least(&chances, with),
    })
}

fn holds(grid: &Grid, day: i64, start: usize, length: usize, event: PatternEvent) -> Option<bool> {
    let (mut read, mut with) = (0_usize, 0_usize);
    for slot in start..start + length {
        let bits = grid.slot(day, slot);
        read += usize::from(bits & READ > 0);
        with += usize::from(bits & event.bit() > 0);
    }
    if (read as f64) < READ_AT_LEAST * length as f64 {
        return None;
    }
    Some(match event {
        PatternEvent::High => 2 * with >= read,
        _ => with > 0,
    })
}
