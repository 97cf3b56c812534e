//! Parts of the lived day: its quarters, and the night.

use interstice_book::NightHours;
use interstice_glucose::{DAY_S, LivedClock, Second, WallTime};
use interstice_methods::{Account, EpisodeKind, Range, Series};
use serde::Serialize;

use super::{Look, WithoutPressure};
use crate::days::USUAL_NIGHT;
use crate::{FindingsError, Summary, summary};

const QUARTERS: [(u16, u16); 4] = [(0, 360), (360, 720), (720, 1080), (1080, 1440)];

/// Time low and high in a part of the day.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct PartOfDay {
    /// Minute of the lived day it begins.
    pub from_minute: u16,
    /// Minute it ends; 1440 is midnight.
    pub to_minute: u16,
    /// Time below the target range, percent of the time read in this part.
    pub below_percent: Option<f64>,
    /// Time above it.
    pub above_percent: Option<f64>,
    /// Of all time below the range, percent that lies in this part; `None` where there is none.
    pub of_all_below_percent: Option<f64>,
    /// Of all time above the range.
    pub of_all_above_percent: Option<f64>,
}

/// The nights of a window.
#[derive(Clone, Debug, Serialize)]
pub struct Nights {
    /// Minute of the lived day they begin.
    pub from_minute: u16,
    /// Minute they end.
    pub to_minute: u16,
    /// Whether the wearer set them; else from midnight to six.
    pub set: bool,
    /// Nights with readings.
    pub nights: u32,
    /// Nights in which a low began.
    pub with_low: u32,
    /// Nights in which one began that went below 54 mg/dL.
    pub with_very_low: u32,
    /// Lows in them that were left out as probable pressure.
    pub left_out: u32,
    /// The figures of their readings.
    pub summary: Summary,
}

/// The quarters of the day.
pub(super) fn parts(look: &Look<'_>, basis: &Series<'_>) -> Result<Vec<PartOfDay>, FindingsError> {
    let (from, to) = look.span;
    let mut times = Vec::new();
    for part in QUARTERS {
        let inside = inside(&look.record.clock, part, look.span);
        let account = look.account(&basis.without(&outside(&inside, look.span)), from, to)?;
        let below = account.bands.range_for(account.group, Range::VeryLow)
            + account.bands.range_for(account.group, Range::Low);
        let above = account.bands.range_for(account.group, Range::High)
            + account.bands.range_for(account.group, Range::VeryHigh);
        times.push((part, below, above, account.bands.total()));
    }
    let share = |of: f64, all: f64| (all > 0.0).then(|| 100.0 * of / all);
    let all = times
        .iter()
        .fold((0.0, 0.0), |sum, time| (sum.0 + time.1, sum.1 + time.2));
    Ok(times
        .into_iter()
        .map(|((from_minute, to_minute), below, above, read)| PartOfDay {
            from_minute,
            to_minute,
            below_percent: share(below, read),
            above_percent: share(above, read),
            of_all_below_percent: share(below, all.0),
            of_all_above_percent: share(above, all.1),
        })
        .collect())
}

/// The nights, as the wearer set them or from midnight to six.
pub(super) fn nights(
    look: &Look<'_>,
    basis: &Series<'_>,
    account: &Account,
    without: Option<&WithoutPressure>,
) -> Result<Nights, FindingsError> {
    let NightHours {
        from_minute,
        to_minute,
    } = look.reader.night.unwrap_or(USUAL_NIGHT);
    let (from, to) = look.span;
    let inside = inside(&look.record.clock, (from_minute, to_minute), look.span);
    let series = basis.without(&outside(&inside, look.span));
    let recording = look.recording(&series, from, to)?;
    let read = |night: &&(Second, Second)| recording.course(night.0, night.1).next().is_some();
    let lows = account
        .episodes
        .iter()
        .filter(|episode| episode.kind == EpisodeKind::Low);
    let lows: Vec<(Second, bool)> = lows.map(|low| (low.start, low.level == 2)).collect();
    let with = |serious: bool| {
        let holds = |night: &&(Second, Second)| {
            lows.iter()
                .any(|low| (low.1 || !serious) && (night.0..night.1).contains(&low.0))
        };
        count(inside.iter().filter(holds))
    };
    let left_out = without.map_or(&[][..], |without| &without.left_out.lows[..]);
    let in_a_night = |at: Second| inside.iter().any(|night| (night.0..night.1).contains(&at));
    let night = interstice_methods::Account::of(&recording);
    Ok(Nights {
        from_minute,
        to_minute,
        set: look.reader.night.is_some(),
        nights: count(inside.iter().filter(read)),
        with_low: with(false),
        with_very_low: with(true),
        left_out: count(left_out.iter().filter(|low| in_a_night(low.start.0.at))),
        summary: summary::of(&night, look.seed),
    })
}

fn count<T>(of: impl Iterator<Item = T>) -> u32 {
    u32::try_from(of.count()).unwrap_or(u32::MAX)
}

/// The instants of a part of each lived day inside a window; a part may pass midnight.
fn inside(
    clock: &LivedClock,
    (from_minute, to_minute): (u16, u16),
    (from, to): (Second, Second),
) -> Vec<(Second, Second)> {
    let length = match i64::from(to_minute) - i64::from(from_minute) {
        length if length <= 0 => length + 1440,
        length => length,
    };
    let (first, last) = (clock.wall(from).day() - 1, clock.wall(to).day());
    (first..=last)
        .map(|day| {
            let start = WallTime(day * DAY_S + 60 * i64::from(from_minute));
            let end = WallTime(start.0 + 60 * length);
            (clock.first_at_or_after(start), clock.first_at_or_after(end))
        })
        .map(|(start, end)| (start.max(from), end.min(to)))
        .filter(|(start, end)| start < end)
        .collect()
}

/// What lies between them.
fn outside(inside: &[(Second, Second)], (from, to): (Second, Second)) -> Vec<(Second, Second)> {
    let mut spans = Vec::with_capacity(inside.len() + 1);
    let mut at = from;
    for &(start, end) in inside {
        if start > at {
            spans.push((at, start));
        }
        at = at.max(end);
    }
    if at < to {
        spans.push((at, to));
    }
    spans
}

#[cfg(test)]
mod tests {
    use super::*;

    const HOUR: Second = 3600;

    #[test]
    fn what_is_inside_and_outside_makes_the_window() {
        let clock = LivedClock::fixed(3600);
        let window = (2 * HOUR, 50 * HOUR);
        for part in [(0, 360), (1380, 420), (1080, 1440), (0, 1440)] {
            let inside = inside(&clock, part, window);
            let mut all = outside(&inside, window);
            all.extend(&inside);
            all.sort_unstable();
            let mut at = window.0;
            for (start, end) in all {
                assert_eq!(start, at, "{part:?}");
                at = end;
            }
            assert_eq!(at, window.1, "{part:?}");
            assert!(inside.iter().all(|&(start, _)| {
                let minute = clock.wall(start).second_of_day() / 60;
                let (from, to) = (i64::from(part.0), i64::from(part.1));
                if from < to {
                    (from..to).contains(&minute)
                } else {
                    minute >= from || minute < to
                }
            }));
        }
    }
}
