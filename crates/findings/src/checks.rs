//! Blood checks by themselves, where a window has no sensor readings: figures of checks, never of time.

use interstice_book::{Book, Record};
use interstice_glucose::{Second, Unit};
use interstice_methods::agreement::share_interval;
use interstice_methods::checks::{CheckAccount, account};
use interstice_methods::{Bootstrap, Figures, Interval, Range, Refusal, Targets, lived_days};
use serde::ser::SerializeMap;
use serde::{Serialize, Serializer};

use crate::account::{Reader, reader};
use crate::ask::{Ask, FindingsError};
use crate::figure::{Figure, Time, figure_entry};
use crate::review::{Window, symbol, targets};
use crate::summary::figure;
use crate::visit::{InsulinGiven, insulin};
use crate::window;

/// The account of blood checks in a window.
#[derive(Clone, Debug, Serialize)]
pub struct CheckFindings {
    /// Unit the wearer reads; the numbers below are in mg/dL all the same.
    #[serde(serialize_with = "symbol")]
    pub unit: Unit,
    /// What was asked for; the last days are counted back from the last check.
    pub window: Window,
    /// Checks.
    pub checks: u64,
    /// Lived days with any.
    pub days_with_checks: u32,
    /// Checks a day, over those days.
    pub checks_per_day: Option<f64>,
    /// Over all checks, each weighing the same.
    pub summary: CheckSummary,
    /// Lowest and highest, mg/dL.
    pub lowest_mg_dl: Option<f64>,
    /// See `lowest_mg_dl`.
    pub highest_mg_dl: Option<f64>,
    /// By six hours of the lived day, from midnight.
    pub parts: Vec<CheckPartLine>,
    /// The edges of the ranges of the wearer's group. Its percentages are of time, and are not held against checks.
    #[serde(serialize_with = "targets")]
    pub targets: Targets,
    /// Every check by clock time, for the picture: minutes since midnight on the wall, mg/dL.
    #[serde(skip)]
    pub by_clock: Vec<(u32, f64)>,
    /// Insulin that was logged.
    pub insulin: InsulinGiven,
    /// Meals that were logged.
    pub meals: u64,
    /// Seed of the bootstrap intervals.
    pub seed: u64,
}

/// Figures of checks.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CheckSummary {
    /// Mean, mg/dL.
    pub mean_mg_dl: Figure,
    /// Standard deviation, mg/dL.
    pub sd_mg_dl: Figure,
    /// Coefficient of variation, percent.
    pub cv_percent: Figure,
    /// Checks below 54 mg/dL, percent.
    pub very_low_percent: Figure,
    /// Checks below the target range in all, percent.
    pub below_percent: Figure,
    /// Checks in the target range, percent.
    pub in_range_percent: Figure,
    /// Checks above the target range in all, percent.
    pub above_percent: Figure,
    /// Checks above 250 mg/dL, percent.
    pub very_high_percent: Figure,
    /// Low blood glucose index.
    pub lbgi: Figure,
    /// High blood glucose index.
    pub hbgi: Figure,
}

impl CheckSummary {
    /// Every figure with its name in `--json`, in that order.
    pub fn named(&self) -> [(&'static str, &Figure); 10] {
        [
            ("mean_mg_dl", &self.mean_mg_dl),
            ("sd_mg_dl", &self.sd_mg_dl),
            ("cv_percent", &self.cv_percent),
            ("very_low_percent", &self.very_low_percent),
            ("below_percent", &self.below_percent),
            ("in_range_percent", &self.in_range_percent),
            ("above_percent", &self.above_percent),
            ("very_high_percent", &self.very_high_percent),
            ("lbgi", &self.lbgi),
            ("hbgi", &self.hbgi),
        ]
    }
}

impl Serialize for CheckSummary {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        for (name, figure) in self.named() {
            figure_entry(&mut map, name, figure)?;
        }
        map.end()
    }
}

/// Blood checks in six hours of the lived day.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CheckPartLine {
    /// Its first hour on the wall: 0, 6, 12 or 18.
    pub from_hour: u32,
    /// Checks.
    pub checks: u64,
    /// Below the target range.
    pub below: u64,
    /// Above it.
    pub above: u64,
    /// First quarter, mg/dL; `None` of fewer than five checks.
    pub p25_mg_dl: Option<f64>,
    /// Middle.
    pub p50_mg_dl: Option<f64>,
    /// Third quarter.
    pub p75_mg_dl: Option<f64>,
}

/// The account of the blood checks of a book without sensor readings.
///
/// # Errors
/// `Empty` without blood checks too; `Window` where a date is beyond what a book holds; `Book`.
pub fn checks_book(book: &Book, ask: &Ask) -> Result<CheckFindings, FindingsError> {
    checks(&book.load_all()?, reader(book)?, ask)
}

/// The same of a record already loaded.
///
/// # Errors
/// `Empty` without blood checks; `Window` where a date is beyond what a book holds.
pub fn checks(record: &Record, reader: Reader, ask: &Ask) -> Result<CheckFindings, FindingsError> {
    let last = record.blood_checks.iter().map(|kept| kept.it.at).max();
    let window = window::instants(ask.span, &record.clock, last.ok_or(FindingsError::Empty)?)?;
    Ok(of(record, reader, window, ask.seed))
}

/// The account of the checks in a window.
pub(crate) fn of(record: &Record, reader: Reader, (from, to): (Second, Second), seed: u64) -> CheckFindings {
    let inside: Vec<_> = record
        .blood_checks
        .iter()
        .map(|kept| &kept.it)
        .filter(|check| (from..to).contains(&check.at))
        .collect();
    let said: Vec<_> = inside.iter().map(|check| (check.at, check.said)).collect();
    let account = account(&said, &record.clock, reader.group);
    let time = |at: Second| Time(record.clock.moment(at));
    let by_clock = inside.iter().map(|check| {
        let minute = record.clock.wall(check.at).second_of_day() / 60;
        (
            u32::try_from(minute).unwrap_or(0),
            check.said.glucose().mg_per_dl(),
        )
    });
    CheckFindings {
        unit: reader.unit,
        window: Window {
            from: time(from),
            to: time(to),
            days: u32::try_from(lived_days(&record.clock, from, to).len()).unwrap_or(u32::MAX),
        },
        checks: account.checks,
        days_with_checks: account.days,
        checks_per_day: (account.days > 0).then(|| account.checks as f64 / f64::from(account.days)),
        summary: summary(&account, seed),
        lowest_mg_dl: account.extremes_mg_dl.map(|extremes| extremes.0),
        highest_mg_dl: account.extremes_mg_dl.map(|extremes| extremes.1),
        parts: parts(&account),
        targets: reader.group.targets(),
        by_clock: by_clock.collect(),
        insulin: insulin::given(record, from, to),
        meals: record
            .meals
            .iter()
            .filter(|kept| (from..to).contains(&kept.it.at))
            .count() as u64,
        seed,
    }
}

fn summary(account: &CheckAccount, seed: u64) -> CheckSummary {
    let mut intervals: Vec<Result<Interval, Refusal>> = match Bootstrap::seeded(seed).check_intervals(account)
    {
        Ok(intervals) => intervals.into_array().into(),
        Err(refusal) => vec![Err(refusal); Figures::COUNT],
    };
    let mut intervals = intervals.drain(..);
    let figures = account
        .summary
        .map(|value| figure(value, intervals.next().unwrap_or(Err(Refusal::Patchy))));
    let share = |figure: Figure, ranges: &[Range]| {
        let within = ranges
            .iter()
            .map(|&range| account.bands.range_for(account.group, range))
            .sum::<f64>();
        widened(figure, within as u64, account.checks)
    };
    use Range::{High, InRange, Low, VeryHigh, VeryLow};
    CheckSummary {
        mean_mg_dl: figures.mean_mg_dl,
        sd_mg_dl: figures.sd_mg_dl,
        cv_percent: figures.cv_percent,
        very_low_percent: share(figures.very_low_percent, &[VeryLow]),
        below_percent: share(figures.below_percent, &[VeryLow, Low]),
        in_range_percent: share(figures.in_range_percent, &[InRange]),
        above_percent: share(figures.above_percent, &[High, VeryHigh]),
        very_high_percent: share(figures.very_high_percent, &[VeryHigh]),
        lbgi: figures.lbgi,
        hbgi: figures.hbgi,
    }
}

/// The interval of a share, from the outer ends of days drawn again and of the exact binomial one: days drawn again cannot
/// tell of what has not happened yet, and of few checks the binomial one is the wider.
fn widened(figure: Figure, within: u64, of: u64) -> Figure {
    let (Some(lo), Some(hi)) = (figure.lo95, figure.hi95) else {
        return figure;
    };
    let exact = share_interval(within, of, 0.95);
    Figure {
        lo95: Some(lo.min(100.0 * exact.lo)),
        hi95: Some(hi.max(100.0 * exact.hi)),
        ..figure
    }
}

fn parts(account: &CheckAccount) -> Vec<CheckPartLine> {
    let hours = (0..).step_by(6);
    let line = |(part, from_hour): (&interstice_methods::checks::CheckPart, u32)| CheckPartLine {
        from_hour,
        checks: part.checks,
        below: part.below,
        above: part.above,
        p25_mg_dl: part.quarters_mg_dl.map(|quarters| quarters[0]),
        p50_mg_dl: part.quarters_mg_dl.map(|quarters| quarters[1]),
        p75_mg_dl: part.quarters_mg_dl.map(|quarters| quarters[2]),
    };
    account.parts.iter().zip(hours).map(line).collect()
}
