//! Decimal numbers as people and devices write them.

/// Which sign stands before the decimals.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum DecimalMark {
    /// 7.8
    Point,
    /// 7,8
    Comma,
}

impl DecimalMark {
    fn byte(self) -> u8 {
        match self {
            DecimalMark::Point => b'.',
            DecimalMark::Comma => b',',
        }
    }
}

/// A decimal number, exactly: `mantissa / 10^decimals`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Number {
    pub(crate) mantissa: i64,
    pub(crate) decimals: u8,
}

impl Number {
    /// As a binary fraction.
    pub(crate) fn value(self) -> f64 {
        self.mantissa as f64 / 10_f64.powi(i32::from(self.decimals))
    }
}

/// Digits kept of a number; what a device says never has more, binary fractions printed in full do.
const MOST_DIGITS: u32 = 17;
/// Decimals kept of a number.
const MOST_DECIMALS: u8 = 18;

/// Reads a whole cell as a number. Spaces around it are allowed, anything else is not.
///
/// Of the two marks the table's own is the decimal mark; the other is taken as one too unless exactly three digits
/// follow it (then it separates thousands). Digits beyond the 17th are dropped after rounding.
pub(crate) fn parse_number(cell: &[u8], mark: DecimalMark) -> Option<Number> {
    let cell = cell.trim_ascii();
    let (negative, digits) = match cell.first()? {
        b'-' => (true, &cell[1..]),
        b'+' => (false, &cell[1..]),
        _ => (false, cell),
    };
    let number = plain(digits, mark)
        .or_else(|| marked(digits, mark, MOST_DECIMALS))
        .or_else(|| scientific(digits, mark))?;
    Some(if negative {
        Number {
            mantissa: -number.mantissa,
            ..number
        }
    } else {
        number
    })
}

/// Digits and mark of the longest usual number.
const USUAL_LENGTH: usize = 8;

/// The usual number at the head of a text, as [`parse_number`] would read it alone, and its length. A decimal mark that
/// is also the `delimiter` ends it.
pub(crate) fn leading_plain(text: &[u8], mark: DecimalMark, delimiter: u8) -> Option<(Number, usize)> {
    let own = mark.byte();
    let (mut mantissa, mut decimals, mut marked, mut length) = (0i64, 0u8, false, 0);
    for &byte in text {
        let digit = byte.wrapping_sub(b'0');
        if digit < 10 {
            mantissa = mantissa * 10 + i64::from(digit);
            decimals += u8::from(marked);
        } else if byte == own && own != delimiter && !marked {
            marked = true;
        } else {
            break;
        }
        length += 1;
        // The usual number is far shorter than what an integer holds.
        if length > USUAL_LENGTH {
            return None;
        }
    }
    let has_digits = length > usize::from(marked);
    has_digits.then_some((Number { mantissa, decimals }, length))
}

/// The usual cell: up to 18 digits with at most one mark, the table's own.
fn plain(digits: &[u8], mark: DecimalMark) -> Option<Number> {
    if digits.is_empty() || digits.len() > 18 {
        return None;
    }
    let own = mark.byte();
    let (mut mantissa, mut decimals, mut marked) = (0i64, 0u8, false);
    for &byte in digits {
        let digit = byte.wrapping_sub(b'0');
        if digit < 10 {
            mantissa = mantissa * 10 + i64::from(digit);
            decimals += u8::from(marked);
        } else if byte == own && !marked {
            marked = true;
        } else {
            return None;
        }
    }
    (digits != [own]).then_some(Number { mantissa, decimals })
}

/// Cells with a comma, with groups of thousands, or with very many digits.
fn marked(digits: &[u8], mark: DecimalMark, most_decimals: u8) -> Option<Number> {
    let (own, other) = match mark {
        DecimalMark::Point => (b'.', b','),
        DecimalMark::Comma => (b',', b'.'),
    };
    if !digits
        .iter()
        .all(|&b| b.is_ascii_digit() || b == own || b == other)
        || !digits.iter().any(u8::is_ascii_digit)
    {
        return None;
    }
    let owns = digits.iter().filter(|&&b| b == own).count();
    let others = digits.iter().filter(|&&b| b == other).count();
    let decimal = match (owns, others) {
        (1, 0) | (0, 0) => own,
        (1, _) if is_grouped(digits.split(|&b| b == own).next()?, other) => own,
        (0, 1) if digits.len() - 1 - digits.iter().position(|&b| b == other)? != 3 => other,
        (0, _) if is_grouped(digits, other) => own,
        _ => return None,
    };
    let mut parts = digits.split(|&b| b == decimal);
    let (whole, fraction) = (parts.next()?, parts.next().unwrap_or(&[]));
    // '5.5,5' is two numbers or none.
    if !fraction.iter().all(u8::is_ascii_digit) {
        return None;
    }
    collect(whole, fraction, most_decimals)
}

/// Whether every group after the first has three digits.
fn is_grouped(whole: &[u8], separator: u8) -> bool {
    let mut groups = whole.split(|&b| b == separator);
    groups.next().is_some_and(|g| (1..=3).contains(&g.len())) && groups.all(|g| g.len() == 3)
}

/// The number of these digits, rounded to [`MOST_DIGITS`] and so many decimals.
fn collect(whole: &[u8], fraction: &[u8], most_decimals: u8) -> Option<Number> {
    let (mut mantissa, mut decimals, mut kept) = (0i64, 0u8, 0u32);
    for &byte in whole.iter().filter(|b| b.is_ascii_digit()) {
        mantissa = mantissa.checked_mul(10)?.checked_add(i64::from(byte - b'0'))?;
        kept += u32::from(mantissa != 0);
        if kept > MOST_DIGITS {
            return None;
        }
    }
    for &byte in fraction {
        if kept >= MOST_DIGITS || decimals >= most_decimals {
            mantissa += i64::from(byte >= b'5');
            break;
        }
        mantissa = mantissa * 10 + i64::from(byte - b'0');
        decimals += 1;
        kept += u32::from(mantissa != 0);
    }
    Some(Number { mantissa, decimals })
}

/// `1.2e2`, as some programs print small and large numbers.
fn scientific(digits: &[u8], mark: DecimalMark) -> Option<Number> {
    let e = digits.iter().position(|b| matches!(b, b'e' | b'E'))?;
    let exponent: i32 = std::str::from_utf8(&digits[e + 1..]).ok()?.parse().ok()?;
    // The exponent moves the mark: decimals that it brings before it are no decimals of the number.
    let moved = u8::try_from(exponent.max(0)).ok()?;
    let most_decimals = MOST_DECIMALS.saturating_add(moved);
    let number = plain(&digits[..e], mark).or_else(|| marked(&digits[..e], mark, most_decimals))?;
    let decimals = i32::from(number.decimals).checked_sub(exponent)?;
    if decimals >= 0 {
        let decimals = u8::try_from(decimals).ok().filter(|&d| d <= MOST_DECIMALS)?;
        return Some(Number { decimals, ..number });
    }
    let scale = 10i64.checked_pow(decimals.unsigned_abs())?;
    Some(Number {
        mantissa: number.mantissa.checked_mul(scale)?,
        decimals: 0,
    })
}

/// The first number inside a text and what follows it: '6 IU' → (6, ' IU'). Decimals after point or comma.
pub(crate) fn leading_number(text: &str) -> Option<(Number, &str)> {
    let bytes = text.as_bytes();
    let mut end = 0;
    while end < bytes.len() && (bytes[end].is_ascii_digit() || (end > 0 && is_inner_mark(bytes, end))) {
        end += 1;
    }
    let number = parse_number(&bytes[..end], DecimalMark::Point)?;
    Some((number, &text[end..]))
}

/// A point or comma between two digits.
fn is_inner_mark(bytes: &[u8], at: usize) -> bool {
    matches!(bytes[at], b'.' | b',') && bytes.get(at + 1).is_some_and(u8::is_ascii_digit)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn value(text: &str, mark: DecimalMark) -> Option<f64> {
        parse_number(text.as_bytes(), mark).map(Number::value)
    }

    #[test]
    fn both_marks_and_thousands() {
        use DecimalMark::{Comma, Point};
        for (text, mark, expect) in [
            ("7,8", Comma, 7.8),
            ("7,8", Point, 7.8),
            ("7.8", Comma, 7.8),
            ("1.234", Point, 1.234),
            ("1.234", Comma, 1234.0),
            ("1,234", Point, 1234.0),
            ("1,234", Comma, 1.234),
            ("1,234.5", Point, 1234.5),
            ("1.234,5", Comma, 1234.5),
            ("-0.5", Point, -0.5),
            (" 12 ", Point, 12.0),
            (".5", Point, 0.5),
            ("5.", Point, 5.0),
            ("1.2e2", Point, 120.0),
            ("113.39999999999999", Point, 113.39999999999999),
        ] {
            let got = value(text, mark).unwrap();
            assert!((got - expect).abs() < 1e-12, "{text}: {got}");
        }
    }

    #[test]
    fn what_is_not_a_number() {
        for text in [
            "",
            "-",
            ".",
            ",",
            "1.2.3",
            "12a",
            "NaN",
            "inf",
            "1 2",
            "--1",
            "1,2,3",
            "e5",
            "1e",
            "1e99",
            "0x10",
            "5.5,5",
            "1,234.5,6",
            "1e-2147483648",
            "1e2147483647",
        ] {
            assert_eq!(parse_number(text.as_bytes(), DecimalMark::Point), None, "{text}");
        }
    }

    #[test]
    fn digits_that_an_exponent_brings_before_the_mark_are_not_lost() {
        for (text, expect) in [
            ("0.000000000000000000123e20", 12.3),
            ("00.0000146541465410430434182e8", 1_465.414_654_104_304_4),
            ("0.00000000000000000000000000000000000123E37", 12.3),
        ] {
            assert_eq!(value(text, DecimalMark::Point), Some(expect), "{text}");
        }
        assert_eq!(value("1e300", DecimalMark::Point), None);
    }

    #[test]
    fn a_number_at_the_head_of_a_text() {
        let (number, rest) = leading_number("6.5 IU regular").unwrap();
        assert_eq!((number.mantissa, number.decimals, rest), (65, 1, " IU regular"));
        assert!(leading_number("IU").is_none());
    }

    proptest! {
        /// The standard library's own reading is the reference.
        #[test]
        fn agrees_with_the_standard_library(text in r"-?[0-9]{1,9}(\.[0-9]{0,17})?") {
            let ours = value(&text, DecimalMark::Point).unwrap();
            let theirs: f64 = text.parse().unwrap();
            prop_assert!((ours - theirs).abs() <= theirs.abs() * 4e-16, "{} {} {}", text, ours, theirs);
        }

        #[test]
        fn never_panics(bytes in proptest::collection::vec(any::<u8>(), 0..40)) {
            let _ = parse_number(&bytes, DecimalMark::Point);
            let _ = parse_number(&bytes, DecimalMark::Comma);
        }
    }
}
