//! Windows of the clock in which something comes more often than elsewhere in the same days.

use rayon::prelude::*;

use super::grid::{Day, Grid, OVER, READ, SLOTS};
use super::{FALSE_SHARE, FEWEST_DAYS_WITH, READ_AT_LEAST, adjusted, at_least};

/// Length of a window, quarters of an hour.
const WINDOW: usize = OVER;
/// From one window's start to the next, quarters of an hour.
const STEP: usize = 4;
/// A window counts as high where so much of what was read in it was (ours, no source); of the others once is enough.
const HIGH_SHARE: f64 = 0.5;
/// Fewest days of a kind for it to be looked at apart (ours, no source).
const FEWEST_OF_A_KIND: usize = 10;

/// What may come again.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum PatternEvent {
    /// Any reading below the target range.
    Low,
    /// At least half of the window above it.
    High,
    /// A rise of 54 mg/dL (3 mmol/L) within an hour that begins in it.
    Rise,
    /// Such a fall.
    Fall,
}

impl PatternEvent {
    /// All.
    pub const ALL: [PatternEvent; 4] = [
        PatternEvent::Low,
        PatternEvent::High,
        PatternEvent::Rise,
        PatternEvent::Fall,
    ];

    pub(super) const fn bit(self) -> u8 {
        match self {
            PatternEvent::Low => 1,
            PatternEvent::High => 2,
            PatternEvent::Rise => 4,
            PatternEvent::Fall => 8,
        }
    }
}

/// Kinds of days to look at apart: for each, whether a day (days since 1970 on the wall clock) is one. All days are always looked at.
pub type DayKinds<'a> = [(u32, &'a dyn Fn(i64) -> bool)];

/// Something that comes again at a clock time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pattern {
    /// What.
    pub event: PatternEvent,
    /// Number of the kind of days; `None` for all.
    pub kind: Option<u32>,
    /// Minute of the clock the window begins.
    pub from_min: u32,
    /// How long it is, minutes.
    pub minutes: u32,
    /// Days with it in the window.
    pub days_with: u32,
    /// Days the window was read on.
    pub days: u32,
    /// Share of days it would be in a window anywhere in the same days: the base rate.
    pub base_share: f64,
    /// Share in the earlier and the later half of the days.
    pub halves: [f64; 2],
    /// How often chance would bring so many days or more, were the clock of no matter.
    pub p: f64,
    /// The same with everything asked allowed for.
    pub adjusted_p: f64,
}

/// What was asked and what stands.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Patterns {
    /// Those shown, surest first; of overlapping windows the surest, be it of all days or of a kind of them.
    pub found: Vec<Pattern>,
    /// Questions asked: windows × events × kinds of days with enough read.
    pub asked: u32,
}

/// Looks for patterns.
///
/// For each event, kind of days and two-hour window (one begins every hour): the days with the event there, against what its
/// own days would give if the window began at any quarter of an hour of them by chance; that leaves every day as it is and asks
/// only about the hour. A day's chance is the share of window starts in it that hold the event, and the count of days a sum of
/// unlike coins, whose tail is exact. Shown is what stands after Benjamini and Hochberg over everything asked, in both
/// halves of the days above its base rate and on at least two days each, and on [`FEWEST_DAYS_WITH`] days in all.
pub fn patterns(grid: &Grid, kinds: &DayKinds<'_>) -> Patterns {
    let mut asked: Vec<Pattern> = Vec::new();
    let all: Vec<&Day> = grid.days.iter().collect();
    look(&all, None, &mut asked);
    for (number, is_kind) in kinds {
        let of_kind: Vec<&Day> = grid.days.iter().filter(|day| is_kind(day.number)).collect();
        if of_kind.len() >= FEWEST_OF_A_KIND && of_kind.len() < all.len() {
            look(&of_kind, Some(*number), &mut asked);
        }
    }
    let p: Vec<f64> = asked.iter().map(|of| of.p).collect();
    for (pattern, adjusted) in asked.iter_mut().zip(adjusted(&p)) {
        pattern.adjusted_p = adjusted;
    }
    let count = asked.len() as u32;
    let mut standing: Vec<Pattern> = asked.into_iter().filter(stands).collect();
    standing.sort_by(|a, b| a.p.total_cmp(&b.p).then(a.from_min.cmp(&b.from_min)));
    let mut found: Vec<Pattern> = Vec::new();
    for pattern in standing {
        let covered = |other: &Pattern| {
            other.event == pattern.event
                && (other.kind == pattern.kind || other.kind.is_none() || pattern.kind.is_none())
                && overlap(other, &pattern)
        };
        if !found.iter().any(covered) {
            found.push(pattern);
        }
    }
    Patterns { found, asked: count }
}

fn overlap(a: &Pattern, b: &Pattern) -> bool {
    let apart = (i64::from(a.from_min) - i64::from(b.from_min)).rem_euclid(1440);
    apart < i64::from(a.minutes) || 1440 - apart < i64::from(b.minutes)
}

fn stands(pattern: &Pattern) -> bool {
    let half_days = f64::from(pattern.days) / 2.0;
    pattern.adjusted_p <= FALSE_SHARE
        && pattern.days_with >= FEWEST_DAYS_WITH
        && pattern
            .halves
            .iter()
            .all(|&share| share > pattern.base_share && share * half_days >= 1.5)
}

fn look(days: &[&Day], kind: Option<u32>, asked: &mut Vec<Pattern>) {
    for event in PatternEvent::ALL {
        let turned: Vec<Turned> = days.par_iter().map(|day| Turned::of(day, event)).collect();
        let starts = (0..SLOTS / STEP).into_par_iter().map(|place| place * STEP);
        let answers: Vec<Pattern> = starts
            .filter_map(|start| question(&turned, start, event, kind))
            .collect();
        asked.extend(answers);
    }
}

/// A day's answers at every quarter of an hour a window may begin, and the share of them that hold the event.
struct Turned {
    holds: [Option<bool>; SLOTS],
    chance: f64,
}

impl Turned {
    fn of(day: &Day, event: PatternEvent) -> Self {
        let holds: [Option<bool>; SLOTS] = std::array::from_fn(|start| holds(day, start, event));
        let told: Vec<bool> = holds.iter().copied().flatten().collect();
        let chance = told.iter().filter(|&&held| held).count() as f64 / told.len().max(1) as f64;
        Turned { holds, chance }
    }
}

/// Whether a window that begins in a day holds an event; `None` where too little of it was read.
fn holds(day: &Day, start: usize, event: PatternEvent) -> Option<bool> {
    let (mut read, mut with) = (0_u32, 0_u32);
    for slot in start..start + WINDOW {
        let bits = day.slots[slot];
        read += u32::from(bits & READ > 0);
        with += u32::from(bits & event.bit() > 0);
    }
    if f64::from(read) < READ_AT_LEAST * WINDOW as f64 {
        return None;
    }
    Some(match event {
        PatternEvent::High => f64::from(with) >= HIGH_SHARE * f64::from(read),
        _ => with > 0,
    })
}

fn question(days: &[Turned], start: usize, event: PatternEvent, kind: Option<u32>) -> Option<Pattern> {
    let read: Vec<&Turned> = days.iter().filter(|day| day.holds[start].is_some()).collect();
    let with = |days: &[&Turned]| days.iter().filter(|day| day.holds[start] == Some(true)).count() as u32;
    let days_with = with(&read);
    if read.len() < FEWEST_OF_A_KIND {
        return None;
    }
    let chances: Vec<f64> = read.iter().map(|day| day.chance).collect();
    let (early, late) = read.split_at(read.len() / 2);
    Some(Pattern {
        event,
        kind,
        from_min: start as u32 * 15,
        minutes: WINDOW as u32 * 15,
        days_with,
        days: read.len() as u32,
        base_share: chances.iter().sum::<f64>() / chances.len() as f64,
        halves: [early, late].map(|half| f64::from(with(half)) / half.len().max(1) as f64),
        p: at_least(&chances, days_with),
        adjusted_p: 1.0,
    })
}
