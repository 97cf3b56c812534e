//! Insulin in words: amounts and kinds by generic name.

use interstice_glucose::InsulinKind;

use crate::concept::{Concept, Concepts, concepts_of};
use crate::number::{Number, leading_number};

/// The kind of insulin a text names.
pub(crate) fn kind_in(text: &str) -> Option<InsulinKind> {
    kind_of(concepts_of(text))
        .or_else(|| is_ratio(text).then_some(InsulinKind::Mixed))
        .map(|kind| if is_ratio(text) { InsulinKind::Mixed } else { kind })
}

/// The kind of insulin that concepts name.
pub(crate) fn kind_of(concepts: Concepts) -> Option<InsulinKind> {
    let order = [
        (Concept::Mixed, InsulinKind::Mixed),
        (Concept::Intermediate, InsulinKind::Intermediate),
        (Concept::Short, InsulinKind::Short),
        (Concept::Long, InsulinKind::Long),
        (Concept::Rapid, InsulinKind::Rapid),
        (Concept::Bolus, InsulinKind::Rapid),
    ];
    order
        .into_iter()
        .find(|&(concept, _)| concepts.has(concept))
        .map(|(_, kind)| kind)
}

/// A ratio like 70/30, as premixed insulins are named.
fn is_ratio(text: &str) -> bool {
    [
        "70/30", "30/70", "75/25", "25/75", "50/50", "60/40", "40/60", "80/20", "20/80",
    ]
    .iter()
    .any(|ratio| text.contains(ratio))
}

/// Amounts with a unit of insulin in a text, each with where it ends: '500 ml saline, 12 IU human regular' → 12.
pub(crate) fn amounts(text: &str) -> impl Iterator<Item = (Number, usize)> + '_ {
    let bytes = text.as_bytes();
    let mut at = 0;
    std::iter::from_fn(move || {
        while at < bytes.len() {
            let begins = bytes[at].is_ascii_digit() && (at == 0 || !is_inside(bytes[at - 1]));
            if !begins || !text.is_char_boundary(at) {
                at += 1;
                continue;
            }
            let Some((number, rest)) = leading_number(&text[at..]) else {
                at += 1;
                continue;
            };
            at = text.len() - rest.len();
            let word: String = rest
                .trim_start()
                .chars()
                .take_while(|c| c.is_alphabetic())
                .collect();
            if is_unit(&word) {
                return Some((number, at));
            }
        }
        None
    })
}

/// Characters after which digits do not begin a number of their own.
fn is_inside(byte: u8) -> bool {
    byte.is_ascii_alphanumeric() || matches!(byte, b'.' | b',' | b'/')
}

fn is_unit(word: &str) -> bool {
    [
        "IU",
        "U",
        "UI",
        "IE",
        "E",
        "EE",
        "units",
        "unit",
        "Einheiten",
        "eenheden",
        "unidades",
        "unités",
        "enheder",
        "enheter",
    ]
    .iter()
    .any(|unit| word.eq_ignore_ascii_case(unit))
}

/// Each dose a text tells of, with its kind where a generic name stands before it (or, for a single dose, anywhere).
pub(crate) fn doses(text: &str) -> Vec<(f64, Option<InsulinKind>)> {
    let found: Vec<(Number, usize)> = amounts(text).collect();
    let mut before = 0;
    found
        .iter()
        .map(|&(number, end)| {
            let own = if found.len() == 1 {
                text
            } else {
                text.get(before..end).unwrap_or(text)
            };
            before = end;
            (number.value(), kind_in(own).or_else(|| kind_in(text)))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn doses_in_words() {
        assert_eq!(doses("human regular, 6 IU"), [(6.0, Some(InsulinKind::Short))]);
        assert_eq!(
            doses("insulin\u{a0}glargine, 18 IU"),
            [(18.0, Some(InsulinKind::Long))]
        );
        assert_eq!(
            doses("insulin aspart 70/30, 12 IU"),
            [(12.0, Some(InsulinKind::Mixed))]
        );
        assert_eq!(
            doses("human premix 60/40, 6 IU"),
            [(6.0, Some(InsulinKind::Mixed))]
        );
        assert_eq!(doses("insulin lispro 4,5 E"), [(4.5, Some(InsulinKind::Rapid))]);
        assert_eq!(
            doses("500ml 0.9% sodium chloride, 12 IU human regular, 10 ml 10% potassium chloride"),
            [(12.0, Some(InsulinKind::Short))]
        );
        assert_eq!(
            doses("lispro 4 IU; detemir 10 IU"),
            [(4.0, Some(InsulinKind::Rapid)), (10.0, Some(InsulinKind::Long))]
        );
        assert!(doses("temporarily suspend insulin delivery").is_empty());
    }
}
