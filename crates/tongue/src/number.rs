//! Numbers as a language writes them.

use crate::{Tongue, current};

/// Digits from which on Spanish sets thousands apart: a number of four is read at a glance (Ortografía de la lengua española,
/// 2010).
const SPANISH_GROUPS_FROM: usize = 5;

/// A rounded number in plain digits, '12.5', for a message: shown with the language's decimal mark, and able to choose a plural.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Number(pub String);

/// A rounded number in plain digits with the decimal mark of the language spoken: '12.5' or '12,5'.
pub fn decimal(digits: &str) -> String {
    decimal_in(current(), digits)
}

pub(crate) fn decimal_in(tongue: Tongue, digits: &str) -> String {
    match tongue {
        Tongue::English | Tongue::Marked => digits.to_owned(),
        Tongue::Spanish => digits.replacen('.', ",", 1),
    }
}

/// A count with its thousands apart: '12,345' or '12 345'.
pub fn thousands(n: u64) -> String {
    let digits = n.to_string();
    let mark = match current() {
        Tongue::English | Tongue::Marked => ",",
        Tongue::Spanish if digits.len() < SPANISH_GROUPS_FROM => "",
        Tongue::Spanish => "\u{a0}",
    };
    let groups: Vec<&str> = digits
        .as_bytes()
        .rchunks(3)
        .rev()
        .map(|group| std::str::from_utf8(group).unwrap_or_default())
        .collect();
    groups.join(mark)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::within;

    #[test]
    fn numbers_have_the_marks_of_their_language() {
        let said = || {
            (
                decimal("12.5"),
                decimal("−3"),
                thousands(1_234),
                thousands(1_234_567),
            )
        };
        let words = |of: [&str; 4]| {
            let [a, b, c, d] = of.map(str::to_owned);
            (a, b, c, d)
        };
        assert_eq!(said(), words(["12.5", "−3", "1,234", "1,234,567"]));
        let spanish = within(Tongue::Spanish, said);
        assert_eq!(spanish, words(["12,5", "−3", "1234", "1\u{a0}234\u{a0}567"]));
    }
}
