//! Amounts of money, exactly: whole minor units (cents) of a currency the person names.

use std::fmt;

/// A currency by the person's own name of it; three letters are taken for a code of ISO 4217.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Currency(String);

/// Minor units by ISO 4217 (list one, as of 2024; from memory), where they are not two decimals.
const WITHOUT_DECIMALS: [&str; 16] = [
    "BIF", "CLP", "DJF", "GNF", "ISK", "JPY", "KMF", "KRW", "PYG", "RWF", "UGX", "VND", "VUV", "XAF", "XOF",
    "XPF",
];
const THREE_DECIMALS: [&str; 7] = ["BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"];

impl Currency {
    /// Letters a name may have.
    const LONGEST: usize = 12;

    /// By name: 'EUR', 'eur', '€', 'crowns'. `None` where it is empty, longer than twelve letters, or holds spaces or digits.
    pub fn named(text: &str) -> Option<Self> {
        let text = text.trim();
        let fits = !text.is_empty()
            && text.chars().count() <= Self::LONGEST
            && !text
                .chars()
                .any(|c| c.is_whitespace() || c.is_control() || c.is_ascii_digit());
        let is_code = text.len() == 3 && text.bytes().all(|b| b.is_ascii_alphabetic());
        fits.then(|| {
            Currency(if is_code {
                text.to_ascii_uppercase()
            } else {
                text.to_owned()
            })
        })
    }

    /// Its name.
    pub fn name(&self) -> &str {
        &self.0
    }

    /// Decimals of its amounts: those of ISO 4217, two where the name is no code of it.
    pub fn decimals(&self) -> u32 {
        match self.0.as_str() {
            code if WITHOUT_DECIMALS.contains(&code) => 0,
            code if THREE_DECIMALS.contains(&code) => 3,
            _ => 2,
        }
    }
}

impl fmt::Display for Currency {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

/// An amount of money, not negative.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Money {
    /// In minor units: cents, of which [`Currency::decimals`] says how many make one.
    pub minor: u64,
    /// Of what.
    pub currency: Currency,
}

/// Why a text is no amount.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum MoneyError {
    /// Not a number as amounts are written.
    #[error("'{0}' is not an amount; write it like 59.90, without marks between thousands")]
    NotAnAmount(String),
    /// More decimals than the currency has.
    #[error(
        "{text} has more decimals than {currency} ({most}); without marks between thousands, write it like 1234.50"
    )]
    TooFine {
        /// As it was written.
        text: String,
        /// The currency.
        currency: Currency,
        /// Its decimals.
        most: u32,
    },
}

impl Money {
    /// The largest amount, minor units: more is taken for a slip of the finger.
    pub const MOST_MINOR: u64 = 100_000_000_000;

    /// From what a person wrote: '59.90', '59,9', '60'.
    ///
    /// # Errors
    /// Where it is no such number, or finer than the currency.
    pub fn parse(text: &str, currency: Currency) -> Result<Self, MoneyError> {
        let bad = || MoneyError::NotAnAmount(text.trim().to_owned());
        let plain = text.trim().replace(',', ".");
        let (whole, fraction) = plain.split_once('.').unwrap_or((&plain, ""));
        let digits = |part: &str| part.bytes().all(|b| b.is_ascii_digit());
        if whole.is_empty() || !digits(whole) || !digits(fraction) || whole.len() > 12 {
            return Err(bad());
        }
        let most = currency.decimals();
        let places = u32::try_from(fraction.len()).map_err(|_| bad())?;
        if places > most {
            return Err(MoneyError::TooFine {
                text: text.trim().to_owned(),
                currency,
                most,
            });
        }
        let written: u64 = format!("{whole}{fraction}").parse().map_err(|_| bad())?;
        let minor = written.checked_mul(10_u64.pow(most - places)).ok_or_else(bad)?;
        if minor > Self::MOST_MINOR {
            return Err(bad());
        }
        Ok(Money { minor, currency })
    }

    /// So many times as much; `None` beyond the largest amount.
    pub fn times(&self, count: u32) -> Option<Self> {
        let minor = self.minor.checked_mul(count.into())?;
        (minor <= Self::MOST_MINOR).then(|| Money {
            minor,
            currency: self.currency.clone(),
        })
    }
}

impl fmt::Display for Money {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let decimals = self.currency.decimals();
        let one = 10_u64.pow(decimals);
        let (whole, rest) = (self.minor / one, self.minor % one);
        if decimals == 0 {
            write!(f, "{whole} {}", self.currency)
        } else {
            let width = decimals as usize;
            write!(f, "{whole}.{rest:0width$} {}", self.currency)
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn money(text: &str, currency: &str) -> Result<Money, MoneyError> {
        Money::parse(text, Currency::named(currency).unwrap())
    }

    #[test]
    fn amounts_are_kept_exactly_in_the_units_of_their_currency() {
        for (text, currency, minor, shown) in [
            ("59.90", "eur", 5990, "59.90 EUR"),
            ("59,9", "EUR", 5990, "59.90 EUR"),
            ("60", "EUR", 6000, "60.00 EUR"),
            ("0", "EUR", 0, "0.00 EUR"),
            ("6800", "JPY", 6800, "6800 JPY"),
            ("18.250", "KWD", 18250, "18.250 KWD"),
            ("0.05", "crowns", 5, "0.05 crowns"),
        ] {
            let found = money(text, currency).unwrap();
            assert_eq!((found.minor, found.to_string()), (minor, shown.to_owned()));
        }
    }

    #[test]
    fn what_is_no_amount_is_refused_and_says_how_to_write_it() {
        for text in [
            "",
            "-5",
            "5.",
            "five",
            "1.234,50",
            "1 234",
            ".5",
            "1e3",
            "9999999999999",
            "5€",
        ] {
            if text == "5." {
                assert_eq!(money(text, "EUR").unwrap().minor, 500);
                continue;
            }
            let said = money(text, "EUR").unwrap_err().to_string();
            assert!(said.contains("write it like"), "{text}: {said}");
        }
        assert!(matches!(money("1,234", "EUR"), Err(MoneyError::TooFine { .. })));
        assert!(matches!(money("1.5", "JPY"), Err(MoneyError::TooFine { .. })));
        for name in ["", " ", "two words", "E1", "averyverylongname"] {
            assert_eq!(Currency::named(name), None, "{name}");
        }
    }

    proptest! {
        #[test]
        fn what_is_shown_reads_back_the_same(minor in 0..=Money::MOST_MINOR, code in "[A-Z]{3}|€|crowns") {
            let currency = Currency::named(&code).unwrap();
            let money = Money { minor, currency: currency.clone() };
            let shown = money.to_string();
            let (amount, _) = shown.split_once(' ').unwrap();
            prop_assert_eq!(Money::parse(amount, currency), Ok(money));
        }
    }
}
