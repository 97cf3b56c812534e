//! Codes for pairing: shown on the terminal, good once, for a short while, and for few tries.

use std::time::{Duration, Instant};

use crate::Result;
use crate::secret::{chance, same};

/// How long a code is good.
pub const GOOD_FOR: Duration = Duration::from_secs(600);

/// Wrong tries after which a code is no longer good: of a hundred million codes, five guesses find one in twenty million.
const TRIES: u32 = 5;

/// Codes there can be.
const MANY: u64 = 100_000_000;

/// What a try came to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Tried {
    /// It was the code; it is used up.
    Right,
    /// It was not.
    Wrong,
    /// There is no code that is good now.
    None,
}

#[derive(Debug)]
struct Code {
    text: String,
    until: Instant,
    wrong: u32,
}

/// The code that is good now, if any.
#[derive(Debug, Default)]
pub struct Codes {
    good: Option<Code>,
}

impl Codes {
    /// A new code, eight digits; the one before is no longer good.
    ///
    /// # Errors
    /// `Chance`.
    pub fn show(&mut self, now: Instant) -> Result<String> {
        // 2^64 is no multiple of the number of codes; what is beyond the last whole one is less than 10^-11 of all.
        let number = u64::from_le_bytes(chance()?) % MANY;
        let text = format!("{number:08}");
        self.good = Some(Code {
            text: text.clone(),
            until: now + GOOD_FOR,
            wrong: 0,
        });
        Ok(text)
    }

    /// Tries a code, with or without the space it is shown with. `also` is the other half of the try: a code that is right
    /// beside a wrong passphrase is a wrong try.
    pub fn try_one(&mut self, typed: &str, also: bool, now: Instant) -> Tried {
        let typed: String = typed.chars().filter(char::is_ascii_digit).collect();
        let Some(code) = self.good.as_mut().filter(|code| now < code.until) else {
            self.good = None;
            return Tried::None;
        };
        if same(&code.text, &typed) && also {
            self.good = None;
            return Tried::Right;
        }
        code.wrong += 1;
        if code.wrong >= TRIES {
            self.good = None;
        }
        Tried::Wrong
    }

    /// Whether a code is good now.
    pub fn is_open(&self, now: Instant) -> bool {
        self.good.as_ref().is_some_and(|code| now < code.until)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_is_good_once_for_a_while_and_for_few_tries() {
        let now = Instant::now();
        let mut codes = Codes::default();
        assert_eq!(codes.try_one("12345678", true, now), Tried::None);
        let code = codes.show(now).unwrap();
        assert_eq!(code.len(), 8);
        assert_eq!(codes.try_one("", true, now), Tried::Wrong);
        assert_eq!(
            codes.try_one(&code, false, now),
            Tried::Wrong,
            "the passphrase was wrong"
        );
        let spaced = format!("{} {}", &code[..4], &code[4..]);
        assert_eq!(codes.try_one(&spaced, true, now), Tried::Right);
        assert_eq!(codes.try_one(&code, true, now), Tried::None, "it was used");

        let code = codes.show(now).unwrap();
        assert_eq!(
            codes.try_one(&code, true, now + GOOD_FOR),
            Tried::None,
            "it is too old"
        );

        let code = codes.show(now).unwrap();
        let wrong = if code == "00000000" { "1" } else { "00000000" };
        let tried: Vec<Tried> = (0..6).map(|_| codes.try_one(wrong, true, now)).collect();
        assert_eq!(tried[..5], [Tried::Wrong; 5]);
        assert_eq!(tried[5], Tried::None);
        assert_eq!(
            codes.try_one(&code, true, now),
            Tried::None,
            "five wrong tries end it"
        );

        let first = codes.show(now).unwrap();
        let second = codes.show(now).unwrap();
        assert_ne!(first, second, "one in a hundred million");
        assert_ne!(
            codes.try_one(&first, true, now),
            Tried::Right,
            "a new one ends the old"
        );
    }
}
