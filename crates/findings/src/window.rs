//! From a question's span to instants.

use interstice_glucose::{DAY_S, LivedClock, Second, WallTime};
use interstice_methods::lived_days;
use jiff::civil::Date;

use crate::ask::{FindingsError, Span};

/// The instants `[from, to)` of a span.
///
/// * `last`: the last reading.
///
/// The last N days are whole lived days, the last of them the day of `last`: a window of N days has N rows, and is the
/// one that asking for the same dates gives.
///
/// # Errors
/// `Window` where a date is beyond what the book can hold.
pub(crate) fn instants(
    span: Span,
    clock: &LivedClock,
    last: Second,
) -> Result<(Second, Second), FindingsError> {
    match span {
        Span::LastDays(days) => Ok(last_days(days, clock, last)),
        Span::Dates { from, to } => {
            let after = to.tomorrow().map_err(|_| beyond(to))?;
            Ok((
                clock.first_at_or_after(midnight(from)?),
                clock.first_at_or_after(midnight(after)?),
            ))
        }
    }
}

/// The last so many whole lived days, at least one, up to the day of `last`. A date the wall clock never showed is no
/// day; a book cannot reach back beyond 1970.
pub(crate) fn last_days(days: u32, clock: &LivedClock, last: Second) -> (Second, Second) {
    // Three days in hand, so that the first day counted is not cut.
    let lived = lived_days(clock, last - (Second::from(days) + 3) * DAY_S, last + 1);
    let Some(end) = lived.last() else {
        return (last, last + DAY_S);
    };
    let first = lived.len().saturating_sub(days.max(1) as usize);
    (lived[first].from, end.from + end.whole_s)
}

/// Instants that hold the days from `from` to `to` in any zone.
///
/// # Errors
/// `Window` where a date is beyond what the book can hold.
pub(crate) fn generous(from: Date, to: Date) -> Result<(Second, Second), FindingsError> {
    Ok((midnight(from)?.0 - DAY_S, midnight(to)?.0 + 2 * DAY_S))
}

/// A count of days since 1970-01-01 as 'YYYY-MM-DD'.
pub(crate) fn date_text(date: i64) -> String {
    WallTime(date * DAY_S)
        .civil()
        .map(|civil| civil.date().to_string())
        .unwrap_or_default()
}

/// The instants `[from, to)` of the lived days from one date to another, both included; days since 1970-01-01.
pub(crate) fn of_dates(clock: &LivedClock, from: i64, to: i64) -> (Second, Second) {
    let midnight = |date: i64| clock.first_at_or_after(WallTime(date * DAY_S));
    (midnight(from), midnight(to + 1))
}

/// The wall clock at the beginning of a date.
///
/// # Errors
/// `Window` where a date is beyond what the book can hold.
pub(crate) fn midnight(date: Date) -> Result<WallTime, FindingsError> {
    WallTime::new(date.year(), date.month(), date.day(), 0)
        .filter(|wall| wall.0 >= 0)
        .ok_or_else(|| beyond(date))
}

fn beyond(date: Date) -> FindingsError {
    FindingsError::Window(format!(
        "{date} lies outside the years a book can hold (1970 to 2106)"
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use interstice_glucose::Zone;
    use jiff::Timestamp;

    fn second(text: &str) -> Second {
        text.parse::<Timestamp>().unwrap().as_second()
    }

    /// Summer time ended in Lisbon at 01:00 UTC on 26 October 2025, so that day had 25 hours.
    #[test]
    fn a_lived_day_may_have_25_hours() {
        let zone = Zone::named("Europe/Lisbon").unwrap();
        let clock = LivedClock::new(
            &zone,
            &[],
            second("2025-10-01T00:00:00Z"),
            second("2025-11-01T00:00:00Z"),
        );
        let day = Date::constant(2025, 10, 26);
        let (from, to) = instants(Span::Dates { from: day, to: day }, &clock, 0).unwrap();
        assert_eq!(to - from, 25 * 3600);
        let last = second("2025-10-26T12:00:00Z");
        assert_eq!(instants(Span::LastDays(1), &clock, last).unwrap(), (from, to));
    }

    /// The window used to run N × 24 h back from the last reading and so touched N + 1 dates.
    #[test]
    fn the_last_days_are_the_same_as_asked_for_by_date() {
        let zone = Zone::named("Europe/Lisbon").unwrap();
        let (from, to) = (second("2025-01-01T00:00:00Z"), second("2025-12-31T00:00:00Z"));
        let clock = LivedClock::new(&zone, &[], from, to);
        for last in [
            "2025-10-28T00:00:00Z",
            "2025-10-28T09:05:00Z",
            "2025-10-28T23:59:59Z",
        ]
        .map(second)
        {
            for (days, first) in [(1, 28), (2, 27), (3, 26), (14, 15)] {
                let dates = Span::Dates {
                    from: Date::constant(2025, 10, first),
                    to: Date::constant(2025, 10, 28),
                };
                let found = instants(Span::LastDays(days), &clock, last).unwrap();
                assert_eq!(found, instants(dates, &clock, last).unwrap(), "{days}");
                assert_eq!(lived_days(&clock, found.0, found.1).len(), days as usize);
            }
        }
    }

    /// Samoa left out 30 December 2011, crossing the date line (public zone table, Pacific/Apia).
    #[test]
    fn a_date_never_lived_is_not_counted() {
        let zone = Zone::named("Pacific/Apia").unwrap();
        let clock = LivedClock::new(
            &zone,
            &[],
            second("2011-12-01T00:00:00Z"),
            second("2012-01-31T00:00:00Z"),
        );
        let (from, to) = last_days(3, &clock, second("2012-01-01T00:00:00Z"));
        let dates: Vec<String> = lived_days(&clock, from, to)
            .iter()
            .map(|day| date_text(day.date))
            .collect();
        assert_eq!(dates, ["2011-12-29", "2011-12-31", "2012-01-01"]);
    }
}
