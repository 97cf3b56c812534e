//! The two hundred days: home and ship, watches, the voyage, and the wall clock lived by.

use interstice_glucose::{DAY_S, LivedClock, LivedSpan, Second, WallInstants, WallTime, Zone};

/// Days in the scenario.
pub const DAYS: usize = 200;

/// The zone of home, in which the sensor's reader and the phone stay all the time.
pub const HOME_ZONE: &str = "Europe/Berlin";

/// First day, year, month and day.
const FIRST_DAY: (i16, i8, i8) = (2025, 9, 20);
/// Days at home before the first tour on board.
const FIRST_TOUR: usize = 14;
/// Length of a tour, and of the leave after it, days.
const TOUR: usize = 28;
/// The voyage: first day of each new ship's time, its offset in hours; home time again after the last.
const VOYAGE: [(usize, i32); 5] = [(130, 0), (132, -1), (135, -2), (143, -1), (146, 0)];
/// First day back in home time.
const VOYAGE_OVER: usize = 148;

/// What a day is like.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum DayKind {
    /// On leave.
    Home,
    /// On watch 8–12 and 20–24.
    MorningWatch,
    /// On watch 4–8 and 16–20.
    DawnWatch,
    /// On watch 0–4 and 12–16.
    NightWatch,
}

/// The days and their clock.
#[derive(Clone, Debug)]
pub(crate) struct Calendar {
    pub(crate) home: Zone,
    pub(crate) voyage: Vec<LivedSpan>,
    pub(crate) lived: LivedClock,
    /// Wall clock at the first midnight.
    first_midnight: WallTime,
}

impl Calendar {
    pub(crate) fn new() -> Self {
        let home = Zone::named(HOME_ZONE).expect("the zone table is part of the program and has this zone");
        let (year, month, day) = FIRST_DAY;
        let first_midnight = WallTime::new(year, month, day, 0).expect("a date of the calendar");
        let midnight = |day: usize| WallTime(first_midnight.0 + day as i64 * DAY_S);
        let mut voyage = Vec::new();
        for (i, &(day, hours)) in VOYAGE.iter().enumerate() {
            let next = VOYAGE.get(i + 1);
            let to = next.map_or_else(
                || once(&home, midnight(VOYAGE_OVER)),
                |&(day, hours)| midnight(day).0 - i64::from(hours) * 3600,
            );
            let zone = Zone::fixed(hours * 3600).expect("an offset within a day");
            voyage.push(LivedSpan {
                from: midnight(day).0 - i64::from(hours) * 3600,
                to,
                zone,
            });
        }
        let (from, to) = (once(&home, midnight(0)), once(&home, midnight(DAYS)));
        let lived = LivedClock::new(&home, &voyage, from - DAY_S, to + DAY_S);
        Calendar {
            home,
            voyage,
            lived,
            first_midnight,
        }
    }

    /// First instant.
    pub(crate) fn from(&self) -> Second {
        self.at(0, 0)
    }

    /// First instant no longer in it.
    pub(crate) fn to(&self) -> Second {
        self.at(DAYS, 0)
    }

    /// The instant of a lived wall-clock minute; `minute` may run over into the next day or back into the last.
    pub(crate) fn at(&self, day: usize, minute: i64) -> Second {
        self.lived
            .first_at_or_after(WallTime(self.first_midnight.0 + day as i64 * DAY_S + minute * 60))
    }

    /// Lived hour of the day, 0 to 24.
    pub(crate) fn hour(&self, at: Second) -> f64 {
        self.lived.wall(at).second_of_day() as f64 / 3600.0
    }

    /// Lived day, from 0.
    pub(crate) fn day(&self, at: Second) -> usize {
        usize::try_from(self.lived.wall(at).day() - self.first_midnight.day()).unwrap_or(0)
    }

    /// The wall clock at home at an instant.
    pub(crate) fn home_wall(&self, at: Second) -> WallTime {
        WallTime(at + i64::from(self.home.offset_s(at)))
    }
}

fn once(zone: &Zone, wall: WallTime) -> Second {
    match zone.instants(wall) {
        WallInstants::Once(at) | WallInstants::Twice(at, _) => at,
        WallInstants::Never => wall.0,
    }
}

/// What day number `day` is like: four weeks at home, four on board; on board another watch every week.
pub(crate) fn day_kind(day: usize) -> DayKind {
    let Some(since) = day.checked_sub(FIRST_TOUR) else {
        return DayKind::Home;
    };
    if since % (2 * TOUR) >= TOUR {
        return DayKind::Home;
    }
    match since % (2 * TOUR) / 7 {
        0 | 3 => DayKind::MorningWatch,
        1 => DayKind::DawnWatch,
        _ => DayKind::NightWatch,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_clock_changes_and_the_voyage_are_inside() {
        let calendar = Calendar::new();
        let hours = |day| (calendar.at(day + 1, 0) - calendar.at(day, 0)) / 3600;
        let odd: Vec<(usize, i64)> = (0..DAYS)
            .map(|day| (day, hours(day)))
            .filter(|&(_, h)| h != 24)
            .collect();
        // 26 October 2025 is day 36, 29 March 2026 is day 190; in between the ship's own seven steps.
        assert_eq!(odd.first(), Some(&(36, 25)));
        assert_eq!(odd.last(), Some(&(190, 23)));
        assert_eq!(
            calendar.lived.moment(calendar.at(140, 12 * 60)).to_string(),
            "2026-02-07T12:00:00-02:00"
        );
        assert_eq!(
            calendar.lived.moment(calendar.at(150, 12 * 60)).to_string(),
            "2026-02-17T12:00:00+01:00"
        );
    }

    #[test]
    fn tours_alternate() {
        let kinds: Vec<DayKind> = [0, 14, 21, 28, 35, 41, 42, 70, 199]
            .into_iter()
            .map(day_kind)
            .collect();
        use DayKind::{DawnWatch, Home, MorningWatch, NightWatch};
        assert_eq!(
            kinds,
            [
                Home,
                MorningWatch,
                DawnWatch,
                NightWatch,
                MorningWatch,
                MorningWatch,
                Home,
                MorningWatch,
                NightWatch
            ]
        );
    }
}
