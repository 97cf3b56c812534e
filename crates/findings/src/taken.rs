//! What is taken out of the book for others to read: a window of the record, and the account of that window.

use interstice_book::{Book, Record};
use interstice_glucose::Second;
use jiff::civil::Date;

use crate::account::{Reader, load, reader, review};
use crate::ask::{Ask, FindingsError, Span};
use crate::review::ReviewFindings;
use crate::whole::whole;
use crate::window;

/// A window of the book and its account.
#[derive(Debug)]
pub struct Taken {
    /// The record; where a window was asked for, with some slack around it.
    pub record: Record,
    /// First instant that was asked for.
    pub from: Second,
    /// First instant no longer asked for.
    pub to: Second,
    /// For each trace of the record the seconds each of its readings stands for in the account: 0 where it stands for
    /// none, because it was read by hand or another sensor gives the figures.
    pub stands_for_s: Vec<Vec<u32>>,
    /// The account of the window; else why there is none.
    pub review: Result<ReviewFindings, String>,
}

/// Takes a window out, or the whole book.
///
/// # Errors
/// `Empty` where the last days are asked for of a book without sensor readings; `Window` where a date is beyond what a
/// book holds; `Book`.
pub fn taken(book: &Book, span: Option<Span>, seed: u64) -> Result<Taken, FindingsError> {
    let record = match span {
        None => book.load_all()?,
        Some(span) => match (load(book, span), span) {
            (Err(FindingsError::Empty), Span::Dates { from, to }) => {
                let (from, to) = window::generous(from, to)?;
                book.load(from, to)?
            }
            (record, _) => record?,
        },
    };
    let last = whole(&record).1.span().map_or(0, |(_, last)| last);
    let (from, to) = match span {
        Some(span) => window::instants(span, &record.clock, last)?,
        None => (Second::MIN, Second::MAX),
    };
    Ok(told(record, (from, to), span, reader(book)?, seed))
}

/// The same of a record that was changed after it was taken: a part of it, say, or with other dates.
///
/// * `from`, `to`: the window, as instants of that record.
pub fn taken_again(record: Record, (from, to): (Second, Second), reader: Reader, seed: u64) -> Taken {
    let is_window = from != Second::MIN && to != Second::MAX;
    let span = is_window.then(|| days(&record, (from, to - 1))).flatten();
    told(record, (from, to), span, reader, seed)
}

fn told(
    record: Record,
    (from, to): (Second, Second),
    span: Option<Span>,
    reader: Reader,
    seed: u64,
) -> Taken {
    let (automatic, series) = whole(&record);
    let mut stands_for_s: Vec<Vec<u32>> = record
        .traces
        .iter()
        .map(|trace| vec![0; trace.readings.len()])
        .collect();
    for (place, segment) in series.segments().iter().enumerate() {
        let end = series
            .segments()
            .get(place + 1)
            .map_or(series.len(), |next| next.start);
        let trace = automatic[segment.trace];
        let at = record.traces[trace].readings.at();
        for instant in &series.at()[segment.start..end] {
            if let Ok(found) = at.binary_search(instant) {
                stands_for_s[trace][found] = segment.interval_s;
            }
        }
    }
    let asked = span.or_else(|| days(&record, series.span()?));
    let review = match asked {
        Some(span) => {
            let ask = Ask {
                span,
                seed,
                ..Ask::default()
            };
            review(&record, reader, &ask).map_err(|error| error.to_string())
        }
        None => Err(FindingsError::Empty.to_string()),
    };
    Taken {
        from,
        to,
        stands_for_s,
        review,
        record,
    }
}

/// The lived days from an instant to another.
fn days(record: &Record, (first, last): (Second, Second)) -> Option<Span> {
    let day = |at: Second| -> Option<Date> { Some(record.clock.wall(at).civil()?.date()) };
    Some(Span::Dates {
        from: day(first)?,
        to: day(last)?,
    })
}
