//! A day beside another, or beside the usual day.

use interstice_glucose::{DAY_S, Second, WallTime};
use interstice_methods::timeline::{Columns, spreads};
use interstice_methods::{Account, Range, Recording, Targets};

use super::DaysBook;
use crate::account::{day_line, episodes, usual_minute};
use crate::figure::Time;
use crate::review::{DayLine, EpisodeLine, UsualMinute};
use crate::whole::whole;
use crate::{FindingsError, window};

/// Lived days before a day that make the usual day it is held beside: as many as the consensus asks of an account of lows
/// (review, Diabetes Technol Ther 2024, dia.2023.0476).
pub const USUAL_DAYS: u32 = 28;

/// A reading by the clock it was lived at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ClockPoint {
    /// Minutes since midnight on the wall clock.
    pub minute: f64,
    /// Value, mg/dL.
    pub mg_dl: f64,
    /// Whether it is not joined to the reading before: a gap, another sensor, or a clock that was set back.
    pub open: bool,
}

/// One day.
#[derive(Clone, Debug)]
pub struct OneDay {
    /// Its figures.
    pub line: DayLine,
    /// Its readings, by the clock.
    pub points: Vec<ClockPoint>,
    /// Median of the readings of each hour of the wall clock, mg/dL; an hour that was lived twice holds both.
    pub hours: Vec<Option<f64>>,
}

/// The usual day of the days before.
#[derive(Clone, Debug)]
pub struct UsualBeside {
    /// Lived days with readings among them.
    pub days: u32,
    /// First calendar date.
    pub first: String,
    /// Last calendar date.
    pub last: String,
    /// By clock time.
    pub bins: Vec<UsualMinute>,
    /// Time-weighted mean over all of them, mg/dL.
    pub mean_mg_dl: Option<f64>,
    /// Time in range over all of them, percent.
    pub in_range_percent: Option<f64>,
    /// Time below over all of them, percent.
    pub below_percent: Option<f64>,
    /// Time above over all of them, percent.
    pub above_percent: Option<f64>,
}

/// What a day is held beside.
#[derive(Clone, Debug)]
pub enum Beside {
    /// Another day.
    Day(OneDay),
    /// The usual day.
    Usual(UsualBeside),
}

/// A day, and what it is held beside.
#[derive(Clone, Debug)]
pub struct BesideFindings {
    /// The day asked for.
    pub day: OneDay,
    /// The other.
    pub beside: Beside,
    /// Edges of the ranges.
    pub targets: Targets,
}

impl DaysBook {
    /// A lived day beside another, or beside the usual day of the 28 before it.
    ///
    /// * `date`, `other`: midnights on the wall clock; no other is the usual day.
    ///
    /// # Errors
    /// `Window` of a date the wall clock never showed; `Empty` without automatic readings.
    pub fn beside(&self, date: WallTime, other: Option<WallTime>) -> Result<BesideFindings, FindingsError> {
        Ok(BesideFindings {
            day: self.one_day(date)?,
            beside: match other {
                Some(other) => Beside::Day(self.one_day(other)?),
                None => Beside::Usual(self.usual_before(date)?),
            },
            targets: self.timeline.targets(),
        })
    }

    fn one_day(&self, date: WallTime) -> Result<OneDay, FindingsError> {
        let (from, to) = self.day(date).ok_or_else(|| no_day(date))?;
        let account = self.account_of(from, to)?;
        let time = |at: Second| Time(self.record.clock.moment(at));
        let line = account.days.first().ok_or_else(|| no_day(date))?;
        Ok(OneDay {
            line: day_line(line, account.group, &time),
            points: self.clock_points(from, to),
            hours: self.hours(date, to),
        })
    }

    fn account_of(&self, from: Second, to: Second) -> Result<Account, FindingsError> {
        let (_, series) = whole(&self.record);
        series.span().ok_or(FindingsError::Empty)?;
        let recording = Recording::new(&series, &self.record.levels, &self.record.clock, from, to)?;
        Ok(Account::of(&recording.for_group(self.timeline.group)))
    }

    /// Lows and highs that touch a stretch, told from a day on either side.
    pub(super) fn episodes(&self, from: Second, to: Second) -> Vec<EpisodeLine> {
        // A stretch without a sensor's readings has none.
        let Ok(account) = self.account_of((from - DAY_S).max(0), to + DAY_S) else {
            return Vec::new();
        };
        let time = |at: Second| Time(self.record.clock.moment(at));
        let mut lines = episodes(&self.record, &account, &time);
        lines.retain(|line| line.start.0.at < to && line.end.0.at > from);
        lines
    }

    fn clock_points(&self, from: Second, to: Second) -> Vec<ClockPoint> {
        let readings = self.timeline.columns(&self.record);
        let points = self
            .timeline
            .points(readings, &self.record.levels, readings.range(from, to));
        let mut before = f64::NEG_INFINITY;
        points
            .into_iter()
            .map(|point| {
                let wall = self.record.clock.wall(Second::from(point.at));
                let minute = wall.second_of_day() as f64 / 60.0;
                let open = point.open || minute < before;
                before = minute;
                ClockPoint {
                    minute,
                    mg_dl: point.mg_dl,
                    open,
                }
            })
            .collect()
    }

    fn hours(&self, date: WallTime, end: Second) -> Vec<Option<f64>> {
        let clock = &self.record.clock;
        let starts = |hour: i64| clock.first_at_or_after(WallTime(date.day() * DAY_S + hour * 3600));
        let readings: Columns<'_> = self.timeline.columns(&self.record);
        (0..24)
            .map(|hour| {
                let bounds = [starts(hour), if hour == 23 { end } else { starts(hour + 1) }];
                let spread = spreads(readings, &self.record.levels, &bounds);
                spread.first().map(|spread| spread.p50_mg_dl)
            })
            .collect()
    }

    fn usual_before(&self, date: WallTime) -> Result<UsualBeside, FindingsError> {
        let (to, _) = self.day(date).ok_or_else(|| no_day(date))?;
        let first = WallTime((date.day() - i64::from(USUAL_DAYS)) * DAY_S);
        let from = self.record.clock.first_at_or_after(first);
        let account = self.account_of(from.max(0), to.max(1))?;
        let shares = account.bands.percent();
        let share = |range: Range| shares.map(|shares| shares.range_for(account.group, range));
        let both = |a: Option<f64>, b: Option<f64>| Some(a? + b?);
        Ok(UsualBeside {
            days: account.sufficiency.days_with_data,
            first: window::date_text(first.day()),
            last: window::date_text(date.day() - 1),
            bins: account.usual_day.iter().map(usual_minute).collect(),
            mean_mg_dl: account.summary.mean_mg_dl.ok(),
            in_range_percent: share(Range::InRange),
            below_percent: both(share(Range::VeryLow), share(Range::Low)),
            above_percent: both(share(Range::High), share(Range::VeryHigh)),
        })
    }
}

fn no_day(date: WallTime) -> FindingsError {
    FindingsError::Window(format!(
        "{} is not a day that was lived; write one like 2025-03-17",
        window::date_text(date.day())
    ))
}
