//! A row that holds only a day, above the rows of that day.

use crate::calendar::{month_of, weekday_of};
use crate::cell::any_stamp;
use crate::concept::{Concept, concepts_of};
use crate::fold::words;
use crate::records::Field;

/// Heading that stands for the days above the rows where a table's columns are listed.
pub(crate) const HEADING: &str = "day above the rows";

/// What a record says of the day of the rows below it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum DayHeading {
    /// The date, as it is written.
    Day(String),
    /// It looks like a day and cannot be read as a date.
    Unreadable,
    /// Nothing.
    None,
}

/// Reads a record as a day above rows: one cell with a date and no time of day, at most a weekday or the word 'date'
/// beside it. Anything else beside the date, 'printed on', says that it is another one.
pub(crate) fn day_heading<'a>(cells: impl Iterator<Item = &'a str>) -> DayHeading {
    let filled: Vec<&str> = cells
        .map(str::trim)
        .filter(|cell| !cell.is_empty())
        .take(3)
        .collect();
    let day = match filled[..] {
        [only] => date_in(only),
        [first, second] if is_label(first) => date_in(second),
        [first, second] if is_label(second) => date_in(first),
        _ => return DayHeading::None,
    };
    match day {
        Some(day) => DayHeading::Day(day.to_owned()),
        None if filled.iter().any(|cell| looks_like_a_day(cell)) => DayHeading::Unreadable,
        None => DayHeading::None,
    }
}

/// The same of a record's fields.
pub(crate) fn of_record(block: &[u8], fields: &[Field]) -> DayHeading {
    let cells: Vec<_> = fields
        .iter()
        .map(|field| field.text(block))
        .filter(|cell| !cell.is_empty())
        .take(3)
        .collect();
    day_heading(cells.iter().map(AsRef::as_ref))
}

/// The date in a cell, without a label before or behind it.
fn date_in(cell: &str) -> Option<&str> {
    let before = cell
        .split_once(char::is_whitespace)
        .filter(|(label, _)| is_label(label));
    let behind = cell
        .rsplit_once(char::is_whitespace)
        .filter(|(_, label)| is_label(label));
    [
        Some(cell),
        before.map(|(_, rest)| rest.trim()),
        behind.map(|(rest, _)| rest.trim()),
    ]
    .into_iter()
    .flatten()
    .find(|text| {
        any_stamp(text.as_bytes()).is_some_and(|stamp| stamp.day.is_some() && stamp.second.is_none())
    })
}

/// 'Monday,', '(Mo)', 'Date:'.
fn is_label(text: &str) -> bool {
    if text.bytes().any(|byte| byte.is_ascii_digit()) {
        return false;
    }
    match &words(text)[..] {
        [word] => weekday_of(word.as_bytes()).is_some() || concepts_of(word).any(&[Concept::Date]),
        _ => false,
    }
}

/// A weekday alone, a weekday or month beside a number, or numbers with the marks of dates between them, and no time.
fn looks_like_a_day(cell: &str) -> bool {
    if any_stamp(cell.as_bytes()).is_some() {
        return false;
    }
    let bytes = cell.as_bytes();
    let marked = bytes.windows(3).any(|three| {
        three[0].is_ascii_digit() && matches!(three[1], b'.' | b'/' | b'-') && three[2].is_ascii_digit()
    });
    let named = words(cell)
        .iter()
        .any(|word| weekday_of(word.as_bytes()).is_some() || month_of(word.as_bytes()).is_some());
    marked || is_label(cell) || named && bytes.iter().any(u8::is_ascii_digit)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(cells: &[&str]) -> DayHeading {
        day_heading(cells.iter().copied())
    }

    #[test]
    fn only_a_day_is_a_day() {
        for cells in [
            &["3.3.2025"][..],
            &["", "2025-03-03", ""],
            &["Monday 3 March 2025"],
            &["Datum: 03.03.2025"],
            &["03.03.2025", "(Mo)"],
        ] {
            assert!(matches!(said(cells), DayHeading::Day(_)), "{cells:?}");
        }
        for cells in [
            &[""][..],
            &["Printed on 3.3.2025"],
            &["rained all day"],
            &["Fim do registo"],
            &["07:30"],
            &["7.05"],
            &["07:30", "6.5"],
            &["3.3.2025 07:30"],
            &["3.3.2025", "6.5"],
            &["3.3.2025", "Mo", "6.5"],
        ] {
            assert!(!matches!(said(cells), DayHeading::Day(_)), "{cells:?}");
        }
        for cells in [&["32.3.2025"][..], &["4.3."], &["Tuesday"], &["the 3rd of March"]] {
            assert_eq!(said(cells), DayHeading::Unreadable, "{cells:?}");
        }
    }
}
