//! Durations, dates and clock times.

use interstice_glucose::{Moment, Pass, WallTime};
use interstice_tongue::say;

/// A length of time: '25 min', '1 h 25 min', '6 h', 'under a minute', '2 days 3 h'.
pub fn duration(minutes: f64) -> String {
    if minutes > 0.0 && minutes < 0.5 {
        return say!("time-under-a-minute");
    }
    let whole = minutes.max(0.0).round();
    if whole >= 2880.0 {
        let hours = (whole / 60.0).round();
        let (days, rest) = ((hours / 24.0).floor(), hours % 24.0);
        let (days, rest) = (days as i64, rest as i64);
        return if rest > 0 {
            say!("time-days-hours", days = days, hours = rest)
        } else {
            say!("time-days", days = days)
        };
    }
    hours_minutes(whole)
}

/// Hours and minutes however long: '16 h 48 min', '25 min', '52 h'.
pub fn hours_minutes(minutes: f64) -> String {
    let whole = minutes.max(0.0).round() as i64;
    match (whole / 60, whole % 60) {
        (0, minutes) => say!("time-minutes", minutes = minutes),
        (hours, 0) => say!("time-hours", hours = hours),
        (hours, minutes) => say!("time-hours-minutes", hours = hours, minutes = minutes),
    }
}

/// A share of time as minutes of a 24-hour day: 70 % is 1,008 minutes.
pub fn percent_of_day(percent: f64) -> f64 {
    percent * 14.4
}

/// Minutes since midnight as '07:05'.
pub fn clock(minute: u32) -> String {
    format!("{:02}:{:02}", minute / 60 % 24, minute % 60)
}

/// '17 March 2025' from 'YYYY-MM-DD'; the text itself where it is not a date.
pub fn date(iso: &str) -> String {
    match split_date(iso) {
        Some((year, month, day)) => say!(
            "time-date",
            day = day,
            month = say!("time-month", month = month),
            year = year
        ),
        None => iso.to_owned(),
    }
}

/// '17 Mar' from 'YYYY-MM-DD'.
pub fn short_date(iso: &str) -> String {
    match split_date(iso) {
        Some((_, month, day)) => say!(
            "time-date-short",
            day = day,
            month = say!("time-month-short", month = month)
        ),
        None => iso.to_owned(),
    }
}

/// 'March' from 'YYYY-MM-DD'; nothing where it is not a date.
pub fn month(iso: &str) -> String {
    split_date(iso).map_or_else(String::new, |(_, month, _)| say!("time-month", month = month))
}

/// 'Mar' from 'YYYY-MM-DD'; nothing where it is not a date.
pub fn short_month(iso: &str) -> String {
    split_date(iso).map_or_else(String::new, |(_, month, _)| {
        say!("time-month-short", month = month)
    })
}

/// 'March 2025' from 'YYYY-MM-DD'; nothing where it is not a date.
pub fn month_and_year(iso: &str) -> String {
    split_date(iso).map_or_else(String::new, |(year, ..)| {
        say!("time-month-year", month = month(iso), year = year)
    })
}

/// 'Mon 17 March 2025', with the weekday as it is handed over, long or short.
pub fn weekday_and_date(weekday: String, iso: &str) -> String {
    say!("time-weekday-date", weekday = weekday, date = date(iso))
}

/// Year, month from 1 to 12, and day.
fn split_date(iso: &str) -> Option<(i32, u8, u32)> {
    let mut parts = iso.splitn(3, '-');
    let year = parts.next()?.parse().ok()?;
    let month: u8 = parts.next()?.parse().ok()?;
    let day = parts.next()?.parse().ok()?;
    (1..=12).contains(&month).then_some((year, month, day))
}

/// 'Monday', from Monday = 1 to Sunday = 7.
pub fn weekday(number: u8) -> String {
    if (1..=7).contains(&number) {
        say!("time-weekday", weekday = number)
    } else {
        String::new()
    }
}

/// 'Mon', from Monday = 1 to Sunday = 7.
pub fn short_weekday(number: u8) -> String {
    if (1..=7).contains(&number) {
        say!("time-weekday-short", weekday = number)
    } else {
        String::new()
    }
}

/// The calendar day a moment was lived on: '17 March 2025'.
pub fn day(moment: Moment) -> String {
    let Some(civil) = moment.wall().civil() else {
        return moment.to_string();
    };
    date(&civil.date().to_string())
}

/// The calendar day in few letters, with its year: '17 Mar 2025'.
pub fn short_day(moment: Moment) -> String {
    let Some(civil) = moment.wall().civil() else {
        return moment.to_string();
    };
    say!(
        "time-date-short-year",
        date = short_date(&civil.date().to_string()),
        year = i32::from(civil.year())
    )
}

/// The calendar day a moment was lived on as 'YYYY-MM-DD', for addresses.
pub fn iso_date(moment: Moment) -> String {
    let civil = moment.wall().civil();
    civil.map_or_else(String::new, |civil| civil.date().to_string())
}

/// The calendar day with its year, and the wall clock: '17 March 2025, 04:05'.
pub fn day_and_clock(moment: Moment) -> String {
    let minute = u32::try_from(moment.wall().second_of_day() / 60).unwrap_or(0);
    say!("time-date-clock", date = day(moment), clock = clock(minute))
}

/// The calendar day and the wall clock of a moment: 'Mon 17 Mar, 04:05'.
pub fn date_and_clock(moment: Moment) -> String {
    let Some(civil) = moment.wall().civil() else {
        return moment.to_string();
    };
    let minute = u32::try_from(moment.wall().second_of_day() / 60).unwrap_or(0);
    say!(
        "time-weekday-date-clock",
        weekday = short_weekday(weekday_of(moment.wall())),
        date = short_date(&civil.date().to_string()),
        clock = clock(minute)
    )
}

/// ' (first time)' or ' (second time)' of a clock time that came twice; nothing of any other.
pub fn which_time(pass: Option<Pass>) -> String {
    match pass {
        Some(Pass::First) => format!(" {}", say!("time-first-pass")),
        Some(Pass::Second) => format!(" {}", say!("time-second-pass")),
        None => String::new(),
    }
}

/// 1 is Monday; 1970-01-01 was a Thursday.
fn weekday_of(wall: WallTime) -> u8 {
    let since_monday = (wall.day() + 3).rem_euclid(7);
    u8::try_from(since_monday).unwrap_or(0) + 1
}

#[cfg(test)]
mod tests {
    use interstice_tongue::{Tongue, within};

    use super::*;

    #[test]
    fn durations_read_as_spoken() {
        let said = [0.0, 0.3, 25.0, 60.0, 85.2, 1008.0, 2880.0, 3100.0].map(duration);
        let expected = [
            "0 min",
            "under a minute",
            "25 min",
            "1 h",
            "1 h 25 min",
            "16 h 48 min",
            "2 days",
            "2 days 4 h",
        ];
        assert_eq!(said, expected);
    }

    /// 17 March 2025 was a Monday (civil calendar).
    #[test]
    fn moments_are_shown_as_lived() {
        let moment = Moment {
            at: 1_742_180_700,
            offset_s: 3600,
        };
        assert_eq!(date_and_clock(moment), "Mon 17 Mar, 04:05");
        assert_eq!(day(moment), "17 March 2025");
    }

    #[test]
    fn moments_are_shown_in_the_language_spoken() {
        let moment = Moment {
            at: 1_742_180_700,
            offset_s: 3600,
        };
        let said = || [date_and_clock(moment), day_and_clock(moment), duration(3100.0)];
        let expected = ["lun 17 mar, 04:05", "17 de marzo de 2025, 04:05", "2 días 4 h"];
        assert_eq!(within(Tongue::Spanish, said), expected);
    }

    #[test]
    fn what_is_not_a_date_stays_as_it_is() {
        assert_eq!(date("soon"), "soon");
        assert_eq!(date("2025-13-01"), "2025-13-01");
        assert_eq!(weekday(0), "");
    }
}
