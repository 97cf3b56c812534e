//! Stretches lived in another zone, told by hand: voyages.

use interstice_book::Book;
use interstice_glucose::{Draft, LivedSpan, Second, WallInstants, WallTime, Zone};
use jiff::civil::Date;

use crate::DeskError;

/// A stretch away as a person types it: whole days, by the clock there.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct AwayWords {
    /// First day, '2025-03-01'.
    pub from: String,
    /// Last day.
    pub to: String,
    /// The zone lived in, 'Asia/Tokyo' or '+09:00'.
    pub zone: String,
}

/// Midnights that a zone skipped are taken as the first of these that its clocks showed, seconds after it.
const AFTER_MIDNIGHT_S: [Second; 5] = [0, 1800, 3600, 2 * 3600, 3 * 3600];
/// Longer ones are taken for a slip of the pen: who moved sets another home zone.
const LONGEST_DAYS: i32 = 3660;

impl AwayWords {
    /// The stretch that is meant.
    ///
    /// # Errors
    /// `Request` where a day or the zone is none, or the last day comes before the first.
    pub fn meant(&self) -> Result<LivedSpan, DeskError> {
        let zone = Zone::named(self.zone.trim()).map_err(|error| DeskError::Request(error.to_string()))?;
        let (first, last) = (day(&self.from)?, day(&self.to)?);
        if last < first {
            return Err(DeskError::Request(format!(
                "{last} lies before {first}; swap them"
            )));
        }
        let after = last
            .tomorrow()
            .map_err(|_| DeskError::Request(format!("{last} lies outside the calendar")))?;
        if (after - first).get_days() > LONGEST_DAYS {
            let why = "a stretch away of more than ten years is no voyage; set another home zone instead";
            return Err(DeskError::Request(why.to_owned()));
        }
        Ok(LivedSpan {
            from: begins(first, &zone)?,
            to: begins(after, &zone)?,
            zone,
        })
    }
}

fn day(typed: &str) -> Result<Date, DeskError> {
    let typed = typed.trim();
    typed
        .parse()
        .map_err(|_| DeskError::Request(format!("'{typed}' is not a date; write it like 2025-03-01")))
}

fn begins(day: Date, zone: &Zone) -> Result<Second, DeskError> {
    let shown = AFTER_MIDNIGHT_S.into_iter().find_map(|second| {
        let wall = WallTime::new(day.year(), day.month(), day.day(), second)?;
        match zone.instants(wall) {
            WallInstants::Once(at) | WallInstants::Twice(at, _) => Some(at),
            WallInstants::Never => None,
        }
    });
    shown.ok_or_else(|| DeskError::Request(format!("there was no {day} in {}", zone.name())))
}

/// Writes down that another zone was lived in; answers the number of the change, for undo.
///
/// # Errors
/// `Request` where the book has it already; `Book` where it cannot be written.
pub fn log_away(book: &mut Book, span: &LivedSpan, now: Second) -> Result<i64, DeskError> {
    let draft = Draft {
        lived: vec![span.clone()],
        ..Draft::default()
    };
    let what = format!("logged a stretch by the clock of {}", span.zone.name());
    let receipt = book.log(&draft, &what, now)?;
    receipt
        .change
        .map(|change| change.0)
        .ok_or_else(|| DeskError::Request("the book has this stretch already".to_owned()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn meant(from: &str, to: &str, zone: &str) -> Result<LivedSpan, DeskError> {
        let words = AwayWords {
            from: from.to_owned(),
            to: to.to_owned(),
            zone: zone.to_owned(),
        };
        words.meant()
    }

    /// Instants by jiff's own parser.
    #[test]
    fn whole_days_by_the_clock_there() {
        let at = |text: &str| text.parse::<jiff::Timestamp>().unwrap().as_second();
        let span = meant("2025-03-01", " 2025-03-03", "Asia/Tokyo").unwrap();
        assert_eq!(
            (span.from, span.to),
            (at("2025-03-01T00:00:00+09:00"), at("2025-03-04T00:00:00+09:00"))
        );
        // Clocks in Beirut went from midnight to one o'clock on 30 March 2025 (tz database).
        let span = meant("2025-03-30", "2025-03-30", "Asia/Beirut").unwrap();
        assert_eq!(span.to - span.from, 23 * 3600);
    }

    #[test]
    fn what_cannot_be_meant_is_refused() {
        for (from, to, zone) in [
            ("2025-03-03", "2025-03-01", "Asia/Tokyo"),
            ("2025-03-03", "2025-03-04", "Atlantis/Harbour"),
            ("3 March", "2025-03-04", "Asia/Tokyo"),
            ("2001-03-03", "2025-03-04", "Asia/Tokyo"),
        ] {
            assert!(meant(from, to, zone).is_err(), "{from} {to} {zone}");
        }
    }

    #[test]
    fn a_stretch_is_lived_by_once_it_is_written() {
        let mut book = Book::in_memory().unwrap();
        let span = meant("2025-03-01", "2025-03-03", "Asia/Tokyo").unwrap();
        let change = log_away(&mut book, &span, span.to).unwrap();
        assert!(log_away(&mut book, &span, span.to).is_err(), "written once");
        let record = book.load_all().unwrap();
        assert_eq!(record.lived[0].it, span);
        assert_eq!(record.clock.moment(span.from + 60).offset_s, 9 * 3600);
        book.undo(Some(interstice_book::ChangeId(change)), span.to)
            .unwrap();
        assert!(book.load_all().unwrap().lived.is_empty());
    }
}
