//! What is different since the last visit.

use interstice_glucose::{DAY_S, VisitNotes, WallTime, day_words};
use interstice_methods::matters::points;
use jiff::civil::Date;
use serde::Serialize;

use super::{Look, VisitAsk};
use crate::compare::{Against, CompareAsk, ComparedLine, Measured, What, compare};
use crate::{FindingsError, window};

/// What is different since the last visit, and what is held against what.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Change {
    /// Day of the last visit, 'YYYY-MM-DD'.
    pub since: Option<String>,
    /// The days of the window since then.
    pub now: Option<Stretch>,
    /// As many days as the window asks for, up to the day before the visit.
    pub before: Option<Stretch>,
    /// One line a figure, as `compare` tells it; empty where nothing can be held against anything.
    pub lines: Vec<ComparedLine>,
    /// Points of the glycaemia risk index now less before, where time in range, below or above differs with everything compared allowed for.
    pub points: Option<f64>,
    /// Why there are none.
    pub reason: Option<String>,
}

impl Change {
    /// The difference of a figure, by its name in `--json`.
    pub fn of(&self, name: &str) -> Option<&ComparedLine> {
        self.lines.iter().find(|line| line.what.name() == name)
    }

    fn figure(&self, which: Measured) -> Option<&ComparedLine> {
        self.lines.iter().find(|line| line.what == What::Figure(which))
    }

    /// What the difference weighs, where one stands with everything compared allowed for.
    fn weighed(&self) -> Option<f64> {
        let stands = |which: &Measured| self.figure(*which).is_some_and(ComparedLine::stands);
        let asked = [Measured::InRange, Measured::Below, Measured::Above];
        if !asked.iter().any(stands) {
            return None;
        }
        let of = |side: fn(&ComparedLine) -> Option<f64>| {
            let share = |which: Measured| self.figure(which).and_then(side);
            let (below, very_low) = (share(Measured::Below)?, share(Measured::VeryLow)?);
            let (above, very_high) = (share(Measured::Above)?, share(Measured::VeryHigh)?);
            Some(points(very_low, below - very_low, above - very_high, very_high))
        };
        Some(of(|line| line.after)? - of(|line| line.before)?)
    }
}

/// First and last day, both included, 'YYYY-MM-DD'.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Stretch {
    /// First day.
    pub from: String,
    /// Last day.
    pub to: String,
}

/// Since the day that was asked for, else the last visit the book remembers before the window's last day.
pub(super) fn change(look: &Look<'_>, notes: &VisitNotes, ask: &VisitAsk) -> Result<Change, FindingsError> {
    let (from, to) = look.span;
    let clock = &look.record.clock;
    let last_day = clock.wall(to - 1).day();
    let remembered = || notes.visits.iter().copied().rfind(|&visit| visit < last_day);
    let nothing = |since: Option<i64>, why: &str| Change {
        since: since.map(day_words),
        reason: Some(why.to_owned()),
        ..Change::default()
    };
    let Some(visit) = ask.since.or_else(remembered) else {
        return Ok(nothing(None, "no earlier visit is written down"));
    };
    let at = look.midnight(visit);
    if at >= to {
        return Ok(nothing(
            Some(visit),
            "that visit is not before the end of the window",
        ));
    }
    let days = ((to - from) as f64 / DAY_S as f64).round() as u32;
    let (now, before) = ((from.max(at), to), window::last_days(days, clock, at - 1));
    let date = |day: i64| {
        WallTime(day.saturating_mul(DAY_S))
            .civil()
            .map(|civil| civil.date())
    };
    let dates = |(from, to): (i64, i64)| -> Option<(Date, Date)> {
        Some((date(clock.wall(from).day())?, date(clock.wall(to - 1).day())?))
    };
    let (Some(then), Some(since)) = (dates(before), dates(now)) else {
        return Ok(nothing(Some(visit), "its days lie outside the calendar"));
    };
    let compared = compare(
        look.record,
        look.reader,
        &CompareAsk {
            seed: look.seed,
            ..CompareAsk::of(Against::Windows {
                before: then,
                after: since,
            })
        },
    );
    let found = match compared {
        Ok(found) => found,
        Err(FindingsError::Window(why)) => return Ok(nothing(Some(visit), &why)),
        Err(error) => return Err(error),
    };
    let change = Change {
        since: Some(day_words(visit)),
        // As far as the book's readings reach.
        now: Some(look.stretch(found.after.from.0.at, found.after.to.0.at)),
        before: Some(look.stretch(found.before.from.0.at, found.before.to.0.at)),
        lines: found.figures,
        points: None,
        reason: found.reason,
    };
    Ok(Change {
        points: change.weighed(),
        ..change
    })
}
