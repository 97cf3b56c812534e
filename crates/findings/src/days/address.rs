//! Instants in an address, so that a view can be shared and kept.

use interstice_glucose::{DAY_S, LivedClock, Moment, Second, WallTime};
use jiff::Timestamp;
use jiff::civil::{Date, DateTime};

/// An instant as an address holds it: '2025-03-17T11:04:00Z'.
pub fn address(at: Second) -> String {
    Moment { at, offset_s: 0 }.to_string().replace("+00:00", "Z")
}

/// The instant an address tells of: RFC 3339 with its offset, seconds since 1970, or a wall time of the lived clock
/// ('2025-03-17T12:04', '2025-03-17'). A date alone is the first instant of that day, or as the `end` of a stretch the
/// first instant after it. `None` of anything else, and of instants before 1970 or after 2106.
pub fn instant(clock: &LivedClock, text: &str, end: bool) -> Option<Second> {
    let text = text.trim();
    let at = if let Ok(seconds) = text.parse::<Second>() {
        seconds
    } else if let Ok(stamp) = text.parse::<Timestamp>() {
        stamp.as_second()
    } else if let Some(date) = date(text) {
        clock.first_at_or_after(WallTime(date.0 + if end { DAY_S } else { 0 }))
    } else {
        let civil: DateTime = text.parse().ok()?;
        let second =
            i64::from(civil.hour()) * 3600 + i64::from(civil.minute()) * 60 + i64::from(civil.second());
        clock.first_at_or_after(WallTime::new(civil.year(), civil.month(), civil.day(), second)?)
    };
    // 1 January 1970 began before the count of seconds did, east of Greenwich.
    (-DAY_S..=Second::from(u32::MAX))
        .contains(&at)
        .then_some(at.max(0))
}

/// Midnight of a date written 'YYYY-MM-DD', on the wall clock.
pub fn date(text: &str) -> Option<WallTime> {
    if text.len() != 10 {
        return None;
    }
    let date: Date = text.parse().ok()?;
    WallTime::new(date.year(), date.month(), date.day(), 0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use interstice_glucose::Zone;

    #[test]
    fn instants_are_read_in_every_form_and_come_back() {
        let clock = LivedClock::new(&Zone::named("Europe/Berlin").unwrap(), &[], 0, 4_000_000_000);
        let read = |text| instant(&clock, text, false);
        let noon = Some(1_742_209_440);
        assert_eq!(read("2025-03-17T12:04:00+01:00"), noon);
        assert_eq!(read("2025-03-17T11:04:00Z"), noon);
        assert_eq!(read("2025-03-17T12:04"), noon);
        assert_eq!(read("1742209440"), noon);
        assert_eq!(address(1_742_209_440), "2025-03-17T11:04:00Z");
        assert_eq!(read(&address(1_742_209_440)), noon);
    }

    /// 26 October 2025 had 25 hours in the European Union (directive 2000/84/EC).
    #[test]
    fn a_date_is_a_lived_day() {
        let clock = LivedClock::new(&Zone::named("Europe/Berlin").unwrap(), &[], 0, 4_000_000_000);
        let (from, to) = (
            instant(&clock, "2025-10-26", false),
            instant(&clock, "2025-10-26", true),
        );
        assert_eq!(to.unwrap() - from.unwrap(), 25 * 3600);
    }

    #[test]
    fn what_is_no_instant_is_refused() {
        let clock = LivedClock::fixed(0);
        for text in [
            "",
            "soon",
            "2025-13-01",
            "-99999999",
            "99999999999999",
            "1960-01-01",
            "2025-03-17T25:00",
            "9999-12-31",
        ] {
            assert_eq!(instant(&clock, text, true), None, "{text}");
        }
    }
}
