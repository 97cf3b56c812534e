//! From a question's span to instants.

use interstice_glucose::{DAY_S, LivedClock, Second, WallTime};
use jiff::civil::Date;

use crate::ask::{FindingsError, Span};

/// The instants `[from, to)` of a span.
///
/// * `last`: the first instant after the last reading and what it stands for.
///
/// The last N days are counted back from `last` on the lived clock, so that every minute of the clock comes N times.
///
/// # Errors
/// `Window` where a date is beyond what the book can hold.
pub(crate) fn instants(
    span: Span,
    clock: &LivedClock,
    last: Second,
) -> Result<(Second, Second), FindingsError> {
    match span {
        Span::LastDays(days) => {
            let end = clock.wall(last).0;
            let start = WallTime(end - i64::from(days) * DAY_S);
            Ok((clock.first_at_or_after(start).max(0), last))
        }
        Span::Dates { from, to } => {
            let after = to.tomorrow().map_err(|_| beyond(to))?;
            Ok((
                clock.first_at_or_after(midnight(from)?),
                clock.first_at_or_after(midnight(after)?),
            ))
        }
    }
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

fn midnight(date: Date) -> Result<WallTime, FindingsError> {
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
        let (from, to) = instants(Span::LastDays(1), &clock, last).unwrap();
        assert_eq!((from, to), (second("2025-10-25T11:00:00Z"), last));
    }
}
