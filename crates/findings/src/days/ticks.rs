//! Ticks, days and nights of a view: civil bounds on the lived wall clock.

use interstice_book::NightHours;
use interstice_glucose::{DAY_S, LivedClock, Second, WallTime};
use interstice_methods::{LivedDay, lived_days};

/// Fewest pixels from one tick to the next, room for its label.
const ROOM_PX: f64 = 68.0;
/// A night is handed over when it is at least this wide.
const NIGHT_PX: f64 = 1.5;
/// The night where the wearer has set none: midnight to six, the sleep block of the consensus on key measures (Danne et
/// al. 2017, Diabetes Care 40:1631).
pub const USUAL_NIGHT: NightHours = NightHours {
    from_minute: 0,
    to_minute: 360,
};

/// What lies between two ticks.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum TickStep {
    /// So many seconds of the wall clock, a part of a day.
    Seconds(u32),
    /// A lived day.
    Day,
    /// A week, from Monday.
    Week,
    /// So many months, counted from January.
    Months(u8),
    /// So many years, counted from year 0.
    Years(u8),
}

/// The steps, finest first.
const STEPS: [TickStep; 14] = [
    TickStep::Seconds(60),
    TickStep::Seconds(300),
    TickStep::Seconds(900),
    TickStep::Seconds(3600),
    TickStep::Seconds(3 * 3600),
    TickStep::Seconds(6 * 3600),
    TickStep::Day,
    TickStep::Week,
    TickStep::Months(1),
    TickStep::Months(3),
    TickStep::Years(1),
    TickStep::Years(2),
    TickStep::Years(5),
    TickStep::Years(10),
];

impl TickStep {
    /// Usual length, for choosing.
    fn usual_s(self) -> f64 {
        let days = |days: f64| days * DAY_S as f64;
        match self {
            TickStep::Seconds(seconds) => f64::from(seconds),
            TickStep::Day => days(1.0),
            TickStep::Week => days(7.0),
            TickStep::Months(months) => days(30.0) * f64::from(months),
            TickStep::Years(years) => days(365.0) * f64::from(years),
        }
    }

    /// The step of the names under the ticks: hours belong to a day, days to a month, months to a year.
    fn larger(self) -> Option<TickStep> {
        match self {
            TickStep::Seconds(_) => Some(TickStep::Day),
            TickStep::Day | TickStep::Week => Some(TickStep::Months(1)),
            TickStep::Months(_) => Some(TickStep::Years(1)),
            TickStep::Years(_) => None,
        }
    }
}

/// One tick.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Tick {
    /// The instant it stands at.
    pub at: Second,
    /// What the wall clock reads there; of a day whose midnight was skipped, the midnight all the same.
    pub wall: WallTime,
    /// Length of the day it begins, seconds, where it begins a day.
    pub day_s: Option<Second>,
}

/// The ticks of a view.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Ticks {
    /// What lies between two of `minor`.
    pub minor_step: TickStep,
    /// Within the view, ascending.
    pub minor: Vec<Tick>,
    /// What lies between two of `major`.
    pub major_step: Option<TickStep>,
    /// Ascending, from the one in force at the view's start.
    pub major: Vec<Tick>,
}

/// The ticks of `[from, to)` drawn `width` pixels wide: the finest that leave room for their labels.
pub(super) fn ticks(clock: &LivedClock, from: Second, to: Second, width: u32) -> Ticks {
    let a_pixel = (to - from).max(1) as f64 / f64::from(width.max(1));
    let fits = |step: &TickStep| step.usual_s() >= ROOM_PX * a_pixel;
    let minor_step = STEPS.into_iter().find(fits).unwrap_or(TickStep::Years(10));
    let major_step = minor_step.larger();
    Ticks {
        minor_step,
        minor: within(clock, minor_step, from, to),
        major_step,
        major: major_step.map_or_else(Vec::new, |step| in_force(clock, step, from, to)),
    }
}

/// Ticks of a step in `[from, to)`.
pub(crate) fn within(clock: &LivedClock, step: TickStep, from: Second, to: Second) -> Vec<Tick> {
    let mut ticks = match step {
        TickStep::Seconds(seconds) => by_clock(clock, Second::from(seconds), from, to),
        TickStep::Day => lived_days(clock, from, to)
            .iter()
            .map(|day| day_tick(clock, day))
            .collect(),
        TickStep::Week => {
            let days = lived_days(clock, from, to);
            days.iter()
                .filter(|day| day.weekday() == 1)
                .map(|day| day_tick(clock, day))
                .collect()
        }
        TickStep::Months(_) | TickStep::Years(_) => by_calendar(clock, step, from, to),
    };
    ticks.retain(|tick| from <= tick.at && tick.at < to);
    ticks
}

/// The same, begun early enough to hold the one in force at `from`.
fn in_force(clock: &LivedClock, step: TickStep, from: Second, to: Second) -> Vec<Tick> {
    let back = (step.usual_s() * 1.2) as Second + 2 * DAY_S;
    let mut ticks = within(clock, step, from - back, to);
    let first = ticks.partition_point(|tick| tick.at <= from).saturating_sub(1);
    ticks.drain(..first);
    ticks
}

/// Where the wall clock reads a multiple of `step_s`, piece by piece of constant offset: twice in a repeated hour, not
/// at all in a skipped one.
fn by_clock(clock: &LivedClock, step_s: Second, from: Second, to: Second) -> Vec<Tick> {
    let pieces = clock.pieces();
    let mut ticks = Vec::new();
    for (i, &(start, offset)) in pieces.iter().enumerate() {
        let (offset, end) = (
            Second::from(offset),
            pieces.get(i + 1).map_or(Second::MAX, |next| next.0),
        );
        let (start, end) = (start.max(from), end.min(to));
        if start >= end {
            continue;
        }
        let first = (start + offset).div_euclid(step_s) * step_s - offset;
        let instants = (0..).map(|n| first + n * step_s).skip_while(|&at| at < start);
        ticks.extend(instants.take_while(|&at| at < end).map(|at| Tick {
            at,
            wall: WallTime(at + offset),
            day_s: None,
        }));
    }
    ticks
}

/// The first lived instants of months or years.
fn by_calendar(clock: &LivedClock, step: TickStep, from: Second, to: Second) -> Vec<Tick> {
    let (Some(first), Some(last)) = (clock.wall(from).civil(), clock.wall(to).civil()) else {
        return Vec::new();
    };
    let wall = |month: i32| {
        let (year, month) = (month.div_euclid(12), month.rem_euclid(12) + 1);
        WallTime::new(i16::try_from(year).ok()?, i8::try_from(month).ok()?, 1, 0)
    };
    let months = match step {
        TickStep::Years(years) => i32::from(years.max(1)) * 12,
        TickStep::Months(months) => i32::from(months.max(1)),
        TickStep::Seconds(_) | TickStep::Day | TickStep::Week => return Vec::new(),
    };
    let count = |civil: jiff::civil::DateTime| i32::from(civil.year()) * 12 + i32::from(civil.month()) - 1;
    let start = count(first).div_euclid(months) * months;
    (start..=count(last))
        .step_by(usize::try_from(months).unwrap_or(1))
        .filter_map(wall)
        .map(|wall| Tick {
            at: clock.first_at_or_after(wall),
            wall,
            day_s: None,
        })
        .collect()
}

fn day_tick(clock: &LivedClock, day: &LivedDay) -> Tick {
    let wall = WallTime(day.date * DAY_S);
    Tick {
        at: clock.first_at_or_after(wall),
        wall,
        day_s: Some(day.whole_s),
    }
}

/// The nights of `[from, to)` drawn `width` pixels wide, as first instant and first instant after; none where they
/// would be too narrow to see. Shading only: nothing is computed from them.
pub(crate) fn nights(
    clock: &LivedClock,
    night: NightHours,
    (from, to): (Second, Second),
    width: u32,
) -> Vec<(Second, Second)> {
    let (begins, ends) = (
        Second::from(night.from_minute) * 60,
        Second::from(night.to_minute) * 60,
    );
    // One that ends no later than it begins passes midnight.
    let ends = if ends <= begins { ends + DAY_S } else { ends };
    let wide = (ends - begins) as f64 * f64::from(width) / (to - from).max(1) as f64;
    if wide < NIGHT_PX {
        return Vec::new();
    }
    lived_days(clock, from - 2 * DAY_S, to)
        .iter()
        .map(|day| {
            let at = |second: Second| clock.first_at_or_after(WallTime(day.date * DAY_S + second));
            (at(begins), at(ends))
        })
        .filter(|&(start, end)| start < end && end > from && start < to)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use interstice_glucose::{LivedSpan, WallInstants, Zone};

    fn berlin(year: i16) -> LivedClock {
        let from = WallTime::new(year, 1, 1, 0).unwrap().0;
        LivedClock::new(
            &Zone::named("Europe/Berlin").unwrap(),
            &[],
            from - DAY_S,
            from + 400 * DAY_S,
        )
    }

    fn midnight(clock: &LivedClock, year: i16, month: i8, day: i8) -> Second {
        clock.first_at_or_after(WallTime::new(year, month, day, 0).unwrap())
    }

    fn hours(ticks: &[Tick]) -> Vec<i64> {
        ticks
            .iter()
            .map(|tick| tick.wall.second_of_day() / 3600)
            .collect()
    }

    /// Clock changes of directive 2000/84/EC: 30 March 2025 skips 02:00, 26 October 2025 repeats it.
    #[test]
    fn days_of_23_and_25_hours_have_their_own_hours() {
        let clock = berlin(2025);
        let spring = ticks(
            &clock,
            midnight(&clock, 2025, 3, 30),
            midnight(&clock, 2025, 3, 31),
            2400,
        );
        assert_eq!(spring.minor_step, TickStep::Seconds(3600));
        assert_eq!(hours(&spring.minor), [vec![0, 1], (3..24).collect()].concat());
        assert_eq!(spring.major[0].day_s, Some(23 * 3600));
        let autumn = ticks(
            &clock,
            midnight(&clock, 2025, 10, 26),
            midnight(&clock, 2025, 10, 27),
            2400,
        );
        assert_eq!(
            hours(&autumn.minor),
            [vec![0, 1, 2, 2], (3..24).collect()].concat()
        );
        assert_eq!(autumn.minor.last().unwrap().at - autumn.minor[0].at, 24 * 3600);
        assert_eq!(autumn.major[0].day_s, Some(25 * 3600));
    }

    #[test]
    fn days_weeks_months_and_years_begin_at_lived_midnight() {
        let clock = berlin(2025);
        let (from, to) = (midnight(&clock, 2025, 3, 20), midnight(&clock, 2025, 4, 10));
        let days = ticks(&clock, from, to, 2400);
        assert_eq!(days.minor_step, TickStep::Day);
        assert_eq!(days.minor.len(), 21);
        assert!(
            days.minor
                .iter()
                .all(|tick| clock.wall(tick.at).second_of_day() == 0)
        );
        assert_eq!(days.major[0].at, midnight(&clock, 2025, 3, 1));
        assert_eq!(days.major[1].at, midnight(&clock, 2025, 4, 1));
        let weeks = ticks(&clock, from, to, 400);
        assert_eq!(weeks.minor_step, TickStep::Week);
        let mondays: Vec<i64> = weeks
            .minor
            .iter()
            .map(|tick| (tick.wall.day() + 3).rem_euclid(7))
            .collect();
        assert_eq!(mondays, [0, 0, 0]);
        let months = ticks(
            &clock,
            midnight(&clock, 2025, 1, 1),
            midnight(&clock, 2026, 1, 1),
            1200,
        );
        assert_eq!(months.minor_step, TickStep::Months(1));
        assert_eq!(months.minor.len(), 12);
        assert_eq!(months.major_step, Some(TickStep::Years(1)));
    }

    #[test]
    fn no_scale_gives_crowded_or_no_ticks() {
        let clock = berlin(2025);
        let from = midnight(&clock, 2025, 1, 10);
        let mut span = 600;
        while span < 40 * 365 * DAY_S {
            for width in [390, 1280] {
                let ticks = ticks(&clock, from, from + span, width);
                assert!(ticks.minor.len() <= 20, "{} ticks at {span} s", ticks.minor.len());
                assert!(
                    span < 1200 || !ticks.minor.is_empty(),
                    "no ticks at {span} s on {width}"
                );
                assert!(ticks.major.first().is_none_or(|tick| tick.at <= from));
            }
            span = span * 3 / 2;
        }
    }

    #[test]
    fn nights_are_as_long_as_they_were() {
        let clock = berlin(2025);
        let hours = |night, month, day| {
            let window = (
                midnight(&clock, 2025, month, day),
                midnight(&clock, 2025, month, day + 1),
            );
            let nights = nights(&clock, night, window, 800);
            nights
                .iter()
                .map(|night| (night.1 - night.0) / 3600)
                .collect::<Vec<_>>()
        };
        assert_eq!(hours(USUAL_NIGHT, 3, 30), [5]);
        assert_eq!(hours(USUAL_NIGHT, 10, 25), [6]);
        assert_eq!(hours(USUAL_NIGHT, 10, 26), [7]);
        let late = NightHours {
            from_minute: 22 * 60,
            to_minute: 7 * 60,
        };
        assert_eq!(hours(late, 10, 26), [10, 9]);
        assert!(nights(&clock, late, (0, 4000 * DAY_S), 800).is_empty());
    }

    #[test]
    fn a_voyage_moves_the_ticks_with_the_clock() {
        let WallInstants::Once(noon) = Zone::utc().instants(WallTime::new(2025, 6, 1, 43_200).unwrap())
        else {
            panic!("noon is once")
        };
        let away = LivedSpan {
            from: noon,
            to: noon + 10 * DAY_S,
            zone: Zone::named("+05:30").unwrap(),
        };
        let clock = LivedClock::new(&Zone::utc(), &[away], noon - DAY_S, noon + DAY_S);
        let found = ticks(&clock, noon - 3 * 3600, noon + 3 * 3600, 700);
        assert_eq!(hours(&found.minor), [9, 10, 11, 18, 19, 20]);
        assert!(found.minor.iter().all(|tick| clock.wall(tick.at) == tick.wall));
    }
}
