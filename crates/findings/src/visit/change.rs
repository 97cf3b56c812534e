//! What is different since the last visit.

use interstice_glucose::{DAY_S, Second, VisitNotes, day_words};
use interstice_methods::{Interval, Series, difference};
use serde::Serialize;

use super::{Look, VisitAsk};
use crate::{Figure, FindingsError, Summary, summary, window};

/// What is different since the last visit, and what is held against what.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Change {
    /// Day of the last visit, 'YYYY-MM-DD'.
    pub since: Option<String>,
    /// The days of the window since then.
    pub now: Option<Stretch>,
    /// As many days as the window asks for, up to the day before the visit.
    pub before: Option<Stretch>,
    /// One line a figure; empty where nothing can be held against anything.
    pub lines: Vec<ChangeLine>,
    /// Why there are none.
    pub reason: Option<String>,
}

impl Change {
    /// The difference of a figure, by its name in `--json`.
    pub fn of(&self, name: &str) -> Option<&ChangeLine> {
        self.lines.iter().find(|line| line.name == name)
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

/// One figure then and now.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ChangeLine {
    /// As it is named in `--json`.
    pub name: &'static str,
    /// Since the visit.
    pub now: Option<f64>,
    /// Before it.
    pub before: Option<f64>,
    /// Now less before.
    pub difference: Option<f64>,
    /// 95 %.
    pub difference_lo95: Option<f64>,
    /// 95 %.
    pub difference_hi95: Option<f64>,
    /// Why there is no difference, or no interval.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

impl ChangeLine {
    fn of(name: &'static str, now: &Figure, before: &Figure) -> Self {
        let reason = now.reason.clone().or_else(|| before.reason.clone());
        let line = ChangeLine {
            name,
            now: now.value,
            before: before.value,
            difference: now.value.zip(before.value).map(|(now, before)| now - before),
            difference_lo95: None,
            difference_hi95: None,
            reason,
        };
        let (Some(now), Some(before)) = (with_interval(now), with_interval(before)) else {
            return line;
        };
        let (_, interval) = difference(now, before);
        ChangeLine {
            difference_lo95: Some(interval.lo),
            difference_hi95: Some(interval.hi),
            ..line
        }
    }

    /// The difference, where its margin leaves no doubt on which side of nothing it lies.
    pub fn sure(&self) -> Option<f64> {
        let (lo, hi) = self.difference_lo95.zip(self.difference_hi95)?;
        self.difference.filter(|_| lo > 0.0 || hi < 0.0)
    }
}

fn with_interval(figure: &Figure) -> Option<(f64, Interval)> {
    let (lo, hi) = figure.lo95.zip(figure.hi95)?;
    Some((figure.value?, Interval { lo, hi }))
}

/// Since the day that was asked for, else the last visit the book remembers before the window's last day.
pub(super) fn change(
    look: &Look<'_>,
    whole: &Series<'_>,
    notes: &VisitNotes,
    ask: &VisitAsk,
) -> Result<Change, FindingsError> {
    let (from, to) = look.span;
    let clock = &look.record.clock;
    let last_day = clock.wall(to - 1).day();
    let remembered = || notes.visits.iter().copied().rfind(|&visit| visit < last_day);
    let Some(visit) = ask.since.or_else(remembered) else {
        return Ok(Change {
            reason: Some("no earlier visit is written down".to_owned()),
            ..Change::default()
        });
    };
    let since = Some(day_words(visit));
    let at = look.midnight(visit);
    if at >= to {
        return Ok(Change {
            since,
            reason: Some("that visit is not before the end of the window".to_owned()),
            ..Change::default()
        });
    }
    let now = (from.max(at), to);
    let days = ((to - from) as f64 / DAY_S as f64).round() as u32;
    let before = window::last_days(days, clock, at - 1);
    let of = |(from, to): (Second, Second)| -> Result<Summary, FindingsError> {
        Ok(summary::of(&look.account(whole, from, to)?, look.seed))
    };
    let (now_is, before_was) = (of(now)?, of(before)?);
    let change = Change {
        since,
        now: Some(look.stretch(now.0, now.1)),
        before: Some(look.stretch(before.0, before.1)),
        lines: Vec::new(),
        reason: None,
    };
    let missing = [&before_was, &now_is]
        .into_iter()
        .find(|of| of.mean_mg_dl.value.is_none());
    if let Some(missing) = missing {
        return Ok(Change {
            reason: missing.mean_mg_dl.reason.clone(),
            ..change
        });
    }
    let named = now_is.named().into_iter().zip(before_was.named());
    Ok(Change {
        lines: named
            .map(|((name, now), (_, before))| ChangeLine::of(name, now, before))
            .collect(),
        ..change
    })
}
