//! Lived days.

use interstice_glucose::{DAY_S, LivedClock, Second};

/// One lived day, as far as a window reaches into it.
///
/// A day begins when the wall clock first reads its midnight or later, and lasts until it first reads the next one's:
/// 23, 24 or 25 hours, or what a voyage makes of it. Days therefore follow each other without hole or overlap; a day
/// the wall clock never showed (over the date line) is not there, and an hour shown again after midnight belongs to
/// the day already begun.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LivedDay {
    /// Days from 1970-01-01 to its calendar date.
    pub date: i64,
    /// Its first instant inside the window.
    pub from: Second,
    /// The first instant after it, or the window's end.
    pub to: Second,
    /// Length of the whole day, seconds, whatever the window takes of it.
    pub whole_s: i64,
}

/// Monday = 1 to Sunday = 7, of a calendar day counted from 1970-01-01, a Thursday.
fn weekday(date: i64) -> u8 {
    u8::try_from((date + 3).rem_euclid(7) + 1).unwrap_or(1)
}

/// Whether a calendar day, counted from 1970-01-01, is a Saturday or a Sunday.
pub fn is_weekend(date: i64) -> bool {
    weekday(date) >= 6
}

impl LivedDay {
    /// Monday = 1 to Sunday = 7.
    pub fn weekday(&self) -> u8 {
        weekday(self.date)
    }

    /// Saturday or Sunday.
    pub fn is_weekend(&self) -> bool {
        is_weekend(self.date)
    }

    /// Seconds of it inside the window.
    pub fn seconds(&self) -> i64 {
        self.to - self.from
    }

    /// The part of the whole day that lies in the window, 0 to 1.
    pub fn part(&self) -> f64 {
        self.seconds() as f64 / self.whole_s.max(1) as f64
    }
}

/// The lived days of `[from, to)`, oldest first; the outer two as far as the window reaches. None where the window is
/// empty. Instants are held within the years 1970 to 2106, which columns can keep.
pub fn lived_days(clock: &LivedClock, from: Second, to: Second) -> Vec<LivedDay> {
    let (from, to) = (
        from.clamp(0, u32::MAX.into()),
        to.clamp(0, Second::from(u32::MAX) + 1),
    );
    let mut days = Vec::new();
    let mut midnights = Midnights {
        pieces: clock.pieces(),
        piece: 0,
    };
    // An hour repeated across midnight can put the clock back into a day that is over: begin a day early.
    let mut date = clock.wall(from).day() - 2;
    let mut start = midnights.first(date);
    while start < to {
        let end = midnights.first(date + 1);
        if end > from && end > start {
            days.push(LivedDay {
                date,
                from: start.max(from),
                to: end.min(to),
                whole_s: end - start,
            });
        }
        start = end;
        date += 1;
    }
    days.retain(|day| day.from < day.to);
    days
}

/// First instants of ascending dates; walks the clock's pieces once.
struct Midnights<'a> {
    pieces: &'a [(Second, i32)],
    piece: usize,
}

impl Midnights<'_> {
    /// The first instant at which the wall clock reads midnight of `date` or later.
    fn first(&mut self, date: i64) -> Second {
        let midnight = date * DAY_S;
        loop {
            let Some(&(start, offset)) = self.pieces.get(self.piece) else {
                return midnight;
            };
            let end = self
                .pieces
                .get(self.piece + 1)
                .map_or(Second::MAX, |piece| piece.0);
            let candidate = (midnight - Second::from(offset)).max(start);
            if candidate < end {
                return candidate;
            }
            self.piece += 1;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use interstice_glucose::{LivedSpan, WallTime, Zone};

    fn clock(name: &str, from: Second, to: Second) -> LivedClock {
        LivedClock::new(&Zone::named(name).unwrap(), &[], from, to)
    }

    fn date(year: i16, month: i8, day: i8) -> i64 {
        WallTime::new(year, month, day, 0).unwrap().day()
    }

    /// Clock changes of directive 2000/84/EC: 2025-03-30 and 2025-10-26 at 01:00 UTC.
    #[test]
    fn days_have_23_24_or_25_hours() {
        let (from, to) = (date(2025, 1, 1) * DAY_S - 3600, date(2026, 1, 1) * DAY_S - 3600);
        let days = lived_days(&clock("Europe/Berlin", from, to), from, to);
        assert_eq!(days.len(), 365);
        let hours = |d: i64| days.iter().find(|day| day.date == d).unwrap().whole_s / 3600;
        assert_eq!(hours(date(2025, 3, 30)), 23);
        assert_eq!(hours(date(2025, 10, 26)), 25);
        assert_eq!(days.iter().map(LivedDay::seconds).sum::<i64>(), to - from);
        assert_eq!(days[0].weekday(), 3);
    }

    #[test]
    fn outer_days_are_cut_to_the_window() {
        let clock = LivedClock::fixed(0);
        let days = lived_days(&clock, 10 * DAY_S + 3600, 12 * DAY_S + 60);
        assert_eq!(
            days.iter().map(LivedDay::seconds).collect::<Vec<_>>(),
            [DAY_S - 3600, DAY_S, 60]
        );
        assert!((days[2].part() - 60.0 / 86_400.0).abs() < 1e-15);
        assert!(lived_days(&clock, 5, 5).is_empty());
        assert!(lived_days(&clock, Second::MAX, Second::MIN).is_empty());
    }

    #[test]
    fn voyages_leave_no_hole_and_no_overlap() {
        let home = Zone::utc();
        let spans = [
            LivedSpan {
                from: 100 * DAY_S + 1800,
                to: 103 * DAY_S,
                zone: Zone::fixed(-3600).unwrap(),
            },
            LivedSpan {
                from: 110 * DAY_S,
                to: 120 * DAY_S,
                zone: Zone::fixed(13 * 3600).unwrap(),
            },
            LivedSpan {
                from: 120 * DAY_S,
                to: 125 * DAY_S,
                zone: Zone::fixed(-11 * 3600).unwrap(),
            },
        ];
        let (from, to) = (98 * DAY_S, 130 * DAY_S);
        let clock = LivedClock::new(&home, &spans, from, to);
        let days = lived_days(&clock, from, to);
        for pair in days.windows(2) {
            assert_eq!(pair[0].to, pair[1].from);
            assert!(pair[0].date < pair[1].date);
        }
        assert_eq!(days.iter().map(LivedDay::seconds).sum::<i64>(), to - from);
    }
}
