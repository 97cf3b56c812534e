//! What a single cell looks like.

use crate::api::DateOrder;
use crate::concept::{Concept, concepts_of};
use crate::fold::fold;
use crate::number::{DecimalMark, Number, leading_number, parse_number};
use crate::stamp::{Stamp, parse_stamp};
use interstice_glucose::{Censor, Unit};

/// The broad shape of a cell.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum CellShape {
    Empty,
    Number,
    /// A date, a time of day or both.
    Time,
    Text,
}

/// The shape of a cell.
pub(crate) fn shape(cell: &[u8]) -> CellShape {
    let cell = cell.trim_ascii();
    if cell.is_empty() {
        CellShape::Empty
    } else if parse_number(cell, DecimalMark::Point).is_some() {
        CellShape::Number
    } else if any_stamp(cell).is_some() {
        CellShape::Time
    } else {
        CellShape::Text
    }
}

/// A time in whichever order of day and month makes one.
pub(crate) fn any_stamp(cell: &[u8]) -> Option<Stamp> {
    // A short number is no time; every date or time of day has a mark or at least eight digits.
    let short_number = cell.len() < 8 && cell.iter().all(u8::is_ascii_digit);
    if short_number {
        return None;
    }
    [DateOrder::DayFirst, DateOrder::MonthFirst, DateOrder::YearFirst]
        .into_iter()
        .find_map(|order| parse_stamp(cell, order))
}

/// Whether a cell says 'no value' in words or signs.
pub(crate) fn is_missing(cell: &[u8]) -> bool {
    let cell = cell.trim_ascii();
    cell.is_empty()
        || (cell.len() <= 7
            && !cell[0].is_ascii_digit()
            && [
                &b"-"[..],
                b"--",
                b"---",
                b"nan",
                b"na",
                b"n/a",
                b"#n/a",
                b"null",
                b"none",
                b"nil",
                b"missing",
                b".",
                b"?",
            ]
            .iter()
            .any(|word| cell.eq_ignore_ascii_case(word)))
}

/// A unit of glucose as text says it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum SaidUnit {
    Of(Unit),
    /// g/L, as some French meters print: a hundred times mg/dL, exactly.
    GramPerL,
}

/// The unit of glucose a text names.
pub(crate) fn unit_in(text: &str) -> Option<SaidUnit> {
    let concepts = concepts_of(text);
    let units = [
        (Concept::MgPerDl, SaidUnit::Of(Unit::MgPerDl)),
        (Concept::MmolPerL, SaidUnit::Of(Unit::MmolPerL)),
        (Concept::GramPerL, SaidUnit::GramPerL),
    ];
    let mut named = units.into_iter().filter(|&(concept, _)| concepts.has(concept));
    let unit = named.next()?.1;
    named.next().is_none().then_some(unit)
}

/// What a glucose cell says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum GlucoseCell {
    Missing,
    Number(Number, Censor, Option<SaidUnit>),
    /// 'Low', 'niedrig', 'bas': below what the device can measure, without saying what that is.
    Below,
    Above,
    Unreadable,
}

/// Reads a glucose cell that is not a plain number: '<40', '> 22,2', 'LO', '7.8 mmol/L'.
pub(crate) fn glucose_cell(cell: &[u8], mark: DecimalMark) -> GlucoseCell {
    if let Some(number) = parse_number(cell, mark) {
        return GlucoseCell::Number(number, Censor::None, None);
    }
    if is_missing(cell) {
        return GlucoseCell::Missing;
    }
    let text = String::from_utf8_lossy(cell.trim_ascii()).into_owned();
    let (censor, rest) = comparison(&text);
    if let Some((number, rest)) = leading_number(rest) {
        // '125*' points to a remark somewhere else on the page.
        let after = rest.trim().trim_end_matches('*');
        if after.is_empty() {
            return GlucoseCell::Number(number, censor, None);
        }
        if let Some(unit) = unit_in(after) {
            return GlucoseCell::Number(number, censor, Some(unit));
        }
        if number.mantissa != 0 {
            return GlucoseCell::Unreadable;
        }
        // '0Hi', '0Lo': a logbook's leading zero before the word.
        return bound_word(after);
    }
    match (censor, rest.trim().is_empty()) {
        (Censor::Below, true) => GlucoseCell::Below,
        (Censor::Above, true) => GlucoseCell::Above,
        (Censor::None, _) => bound_word(rest),
        _ => GlucoseCell::Unreadable,
    }
}

/// The comparison sign at the head of a text.
fn comparison(text: &str) -> (Censor, &str) {
    for (sign, censor) in [
        ("<=", Censor::Below),
        ("≤", Censor::Below),
        ("<", Censor::Below),
        (">=", Censor::Above),
        ("≥", Censor::Above),
        (">", Censor::Above),
    ] {
        if let Some(rest) = text.strip_prefix(sign) {
            return (censor, rest.trim_start());
        }
    }
    (Censor::None, text)
}

/// 'Low' and 'High' in many languages, alone or with a number after ('below 40' is read by its word only where no
/// number follows).
pub(crate) fn bound_word(text: &str) -> GlucoseCell {
    if text.len() > 24 {
        return GlucoseCell::Unreadable;
    }
    let concepts = concepts_of(&fold(text));
    match (concepts.has(Concept::Low), concepts.has(Concept::High)) {
        (true, false) => GlucoseCell::Below,
        (false, true) => GlucoseCell::Above,
        _ => GlucoseCell::Unreadable,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn beyond_the_range_in_words_and_signs() {
        for text in [
            "Low", "LO", "niedrig", "bas", "bajo", "basso", "laag", "baixo", "lavt", "lågt", "matala", "0Lo",
            "<",
        ] {
            assert_eq!(
                glucose_cell(text.as_bytes(), DecimalMark::Point),
                GlucoseCell::Below,
                "{text}"
            );
        }
        for text in [
            "High", "HI", "hoch", "élevé", "alto", "hoog", "højt", "högt", "korkea", "0Hi",
        ] {
            assert_eq!(
                glucose_cell(text.as_bytes(), DecimalMark::Point),
                GlucoseCell::Above,
                "{text}"
            );
        }
        let number = |mantissa, decimals| Number { mantissa, decimals };
        assert_eq!(
            glucose_cell(b"<40", DecimalMark::Point),
            GlucoseCell::Number(number(40, 0), Censor::Below, None)
        );
        assert_eq!(
            glucose_cell(b"> 22,2", DecimalMark::Comma),
            GlucoseCell::Number(number(222, 1), Censor::Above, None)
        );
        assert_eq!(
            glucose_cell(b"7.8 mmol/L", DecimalMark::Point),
            GlucoseCell::Number(number(78, 1), Censor::None, Some(SaidUnit::Of(Unit::MmolPerL)))
        );
        assert_eq!(glucose_cell(b"NaN", DecimalMark::Point), GlucoseCell::Missing);
        assert_eq!(glucose_cell(b"0''", DecimalMark::Point), GlucoseCell::Unreadable);
        assert_eq!(
            glucose_cell(b"error", DecimalMark::Point),
            GlucoseCell::Unreadable
        );
    }
}
