//! Durations, dates and clock times.

use interstice_glucose::{Moment, Pass, WallTime};

/// Weekdays, Monday first.
pub const WEEKDAYS: [&str; 7] = [
    "Monday",
    "Tuesday",
    "Wednesday",
    "Thursday",
    "Friday",
    "Saturday",
    "Sunday",
];

const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

/// A length of time: '25 min', '1 h 25 min', '6 h', 'under a minute', '2 days 3 h'.
pub fn duration(minutes: f64) -> String {
    if minutes > 0.0 && minutes < 0.5 {
        return "under a minute".to_owned();
    }
    let whole = minutes.max(0.0).round();
    if whole >= 2880.0 {
        let hours = (whole / 60.0).round();
        let (days, rest) = ((hours / 24.0).floor(), hours % 24.0);
        return if rest > 0.0 {
            format!("{days:.0} days {rest:.0} h")
        } else {
            format!("{days:.0} days")
        };
    }
    hours_minutes(whole)
}

/// Hours and minutes however long: '16 h 48 min', '25 min', '52 h'.
pub fn hours_minutes(minutes: f64) -> String {
    let whole = minutes.max(0.0).round();
    let (hours, rest) = ((whole / 60.0).floor(), whole % 60.0);
    match (hours > 0.0, rest > 0.0) {
        (true, true) => format!("{hours:.0} h {rest:.0} min"),
        (true, false) => format!("{hours:.0} h"),
        _ => format!("{rest:.0} min"),
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
        Some((year, month, day)) => format!("{day} {month} {year}"),
        None => iso.to_owned(),
    }
}

/// '17 Mar' from 'YYYY-MM-DD'.
pub fn short_date(iso: &str) -> String {
    match split_date(iso) {
        Some((_, month, day)) => format!("{day} {}", &month[..3]),
        None => iso.to_owned(),
    }
}

fn split_date(iso: &str) -> Option<(i32, &'static str, u32)> {
    let mut parts = iso.splitn(3, '-');
    let year = parts.next()?.parse().ok()?;
    let month: usize = parts.next()?.parse().ok()?;
    let day = parts.next()?.parse().ok()?;
    Some((year, MONTHS.get(month.checked_sub(1)?)?, day))
}

/// 'Monday', from Monday = 1 to Sunday = 7.
pub fn weekday(number: u8) -> &'static str {
    usize::from(number)
        .checked_sub(1)
        .and_then(|index| WEEKDAYS.get(index))
        .copied()
        .unwrap_or("")
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
    format!("{} {}", short_date(&civil.date().to_string()), civil.year())
}

/// The calendar day a moment was lived on as 'YYYY-MM-DD', for addresses.
pub fn iso_date(moment: Moment) -> String {
    let civil = moment.wall().civil();
    civil.map_or_else(String::new, |civil| civil.date().to_string())
}

/// The calendar day with its year, and the wall clock: '17 March 2025, 04:05'.
pub fn day_and_clock(moment: Moment) -> String {
    let minute = u32::try_from(moment.wall().second_of_day() / 60).unwrap_or(0);
    format!("{}, {}", day(moment), clock(minute))
}

/// The calendar day and the wall clock of a moment: 'Mon 17 Mar, 04:05'.
pub fn date_and_clock(moment: Moment) -> String {
    let Some(civil) = moment.wall().civil() else {
        return moment.to_string();
    };
    let name = weekday_of(moment.wall());
    let minute = u32::try_from(moment.wall().second_of_day() / 60).unwrap_or(0);
    format!(
        "{} {}, {}",
        &name[..3],
        short_date(&civil.date().to_string()),
        clock(minute)
    )
}

/// ' (first time)' or ' (second time)' of a clock time that came twice; nothing of any other.
pub fn which_time(pass: Option<Pass>) -> &'static str {
    match pass {
        Some(Pass::First) => " (first time)",
        Some(Pass::Second) => " (second time)",
        None => "",
    }
}

/// 1970-01-01 was a Thursday.
fn weekday_of(wall: WallTime) -> &'static str {
    let since_monday = (wall.day() + 3).rem_euclid(7);
    WEEKDAYS[usize::try_from(since_monday).unwrap_or(0)]
}

#[cfg(test)]
mod tests {
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
    fn what_is_not_a_date_stays_as_it_is() {
        assert_eq!(date("soon"), "soon");
        assert_eq!(date("2025-13-01"), "2025-13-01");
        assert_eq!(weekday(0), "");
    }
}
