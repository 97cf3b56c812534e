//! What the wearer keeps for a visit to the care team: their name, the days of visits, questions to ask, and the HbA1c a
//! laboratory found.

use std::fmt;

use jiff::civil::Date;

use crate::{DAY_S, Second, WallTime};

/// Letters of a name at most.
const LONGEST_NAME: usize = 120;
/// Letters of a question at most.
const LONGEST_QUESTION: usize = 400;

/// All of it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct VisitNotes {
    /// The wearer's name, as the sheet should have it.
    pub name: Option<String>,
    /// Days of visits, counted from 1970-01-01 on the lived clock, oldest first.
    pub visits: Vec<i64>,
    /// Questions to ask, by when they were written down.
    pub questions: Vec<Question>,
    /// HbA1c from laboratories, by day.
    pub hba1c: Vec<LabHba1c>,
}

impl VisitNotes {
    /// The first second from `now` on at which no question was written down.
    pub fn free_instant(&self, now: Second) -> Second {
        let latest = self.questions.iter().map(|question| question.written).max();
        latest.map_or(now, |latest| now.max(latest + 1))
    }
}

/// Something the wearer wants to ask.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Question {
    /// When it was written down; no two have the same.
    pub written: Second,
    /// The words.
    pub text: String,
}

/// Which scale an HbA1c is on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Hba1cUnit {
    /// NGSP, percent.
    Percent,
    /// IFCC, mmol/mol.
    MmolPerMol,
}

impl Hba1cUnit {
    /// '%' or 'mmol/mol'.
    pub fn symbol(self) -> &'static str {
        match self {
            Hba1cUnit::Percent => "%",
            Hba1cUnit::MmolPerMol => "mmol/mol",
        }
    }
}

/// An HbA1c as the laboratory said it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Hba1c {
    tenths: u32,
    unit: Hba1cUnit,
}

impl Hba1c {
    /// '7.1 %', '7,1%', '54 mmol/mol'; a number alone is percent up to 20 and mmol/mol from 21 on, which no plausible value leaves
    /// open. Nothing where it is no HbA1c: 3 to 20 %, 9 to 195 mmol/mol.
    pub fn from_words(text: &str) -> Option<Self> {
        let text = text.trim().replace(',', ".").to_ascii_lowercase();
        let (number, unit) = if let Some(number) = text.strip_suffix("mmol/mol") {
            (number, Some(Hba1cUnit::MmolPerMol))
        } else if let Some(number) = text.strip_suffix('%') {
            (number, Some(Hba1cUnit::Percent))
        } else {
            (text.as_str(), None)
        };
        let (whole, tenth) = number.trim().split_once('.').unwrap_or((number.trim(), "0"));
        let is_digits = |part: &str| !part.is_empty() && part.bytes().all(|byte| byte.is_ascii_digit());
        if !is_digits(whole) || whole.len() > 3 || !is_digits(tenth) || tenth.len() > 1 {
            return None;
        }
        let tenths = whole.parse::<u32>().ok()? * 10 + tenth.parse::<u32>().ok()?;
        let unit = unit.unwrap_or(if tenths <= 200 {
            Hba1cUnit::Percent
        } else {
            Hba1cUnit::MmolPerMol
        });
        let plausible = match unit {
            Hba1cUnit::Percent => 30..=200,
            Hba1cUnit::MmolPerMol => 90..=1950,
        };
        plausible.contains(&tenths).then_some(Hba1c { tenths, unit })
    }

    /// The number, in its own unit.
    pub fn number(self) -> f64 {
        f64::from(self.tenths) / 10.0
    }

    /// The scale it is on.
    pub fn unit(self) -> Hba1cUnit {
        self.unit
    }
}

impl fmt::Display for Hba1c {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (whole, tenth) = (self.tenths / 10, self.tenths % 10);
        match (self.unit, tenth) {
            (Hba1cUnit::MmolPerMol, 0) => write!(f, "{whole} mmol/mol"),
            (unit, tenth) => write!(f, "{whole}.{tenth} {}", unit.symbol()),
        }
    }
}

/// An HbA1c and its day.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct LabHba1c {
    /// The day the blood was taken, counted from 1970-01-01 on the lived clock.
    pub day: i64,
    /// What the laboratory found.
    pub said: Hba1c,
}

/// One thing written down for a visit, changed, or taken away (`None`, `false`).
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum VisitChoice {
    /// The name on the sheet.
    Name(Option<String>),
    /// Whether there was a visit on a day.
    Visit(i64, bool),
    /// A question, by when it was written down.
    Question(Second, Option<String>),
    /// The HbA1c of a day.
    Hba1c(i64, Option<Hba1c>),
}

impl VisitChoice {
    /// Why it cannot be kept.
    pub fn trouble(&self) -> Option<&'static str> {
        let too_long = |text: &str, most: usize| text.chars().count() > most;
        match self {
            VisitChoice::Name(Some(name)) if name.trim().is_empty() => Some("say a name, or take it away"),
            VisitChoice::Name(Some(name)) if too_long(name, LONGEST_NAME) => {
                Some("the name is longer than 120 letters; shorten it")
            }
            VisitChoice::Question(_, Some(text)) if text.trim().is_empty() => {
                Some("write the question down, or take it away")
            }
            VisitChoice::Question(_, Some(text)) if too_long(text, LONGEST_QUESTION) => {
                Some("the question is longer than 400 letters; shorten it or make two of it")
            }
            _ => None,
        }
    }
}

/// A day as it is kept and typed, '2025-05-01', counted from 1970-01-01; `None` where it is no date, or before 1970.
pub fn day_from_words(text: &str) -> Option<i64> {
    let date: Date = text.trim().parse().ok()?;
    let day = WallTime::new(date.year(), date.month(), date.day(), 0)?.day();
    (day >= 0).then_some(day)
}

/// '2025-05-01'.
pub fn day_words(day: i64) -> String {
    let civil = WallTime(day.saturating_mul(DAY_S)).civil();
    civil.map_or_else(|| format!("day {day}"), |civil| civil.date().to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_hba1c_is_read_as_it_was_said() {
        for (text, said) in [
            ("7.1", "7.1 %"),
            ("7,1 %", "7.1 %"),
            ("54", "54 mmol/mol"),
            ("54 mmol/mol", "54 mmol/mol"),
            ("7 %", "7.0 %"),
            ("48.5 mmol/mol", "48.5 mmol/mol"),
            ("20", "20.0 %"),
            ("21", "21 mmol/mol"),
        ] {
            let read = Hba1c::from_words(text).map(|read| read.to_string());
            assert_eq!(read.as_deref(), Some(said), "{text}");
        }
        for text in [
            "",
            "2.9",
            "7.15",
            "-7",
            "0.071",
            "200 mmol/mol",
            "21 %",
            "8 mmol/mol",
            "seven",
            "7.1 mg/dL",
            "99999999999",
        ] {
            assert_eq!(Hba1c::from_words(text), None, "{text}");
        }
    }

    #[test]
    fn a_day_is_read_and_written_alike() {
        assert_eq!(day_from_words("1970-01-02"), Some(1));
        assert_eq!(day_words(day_from_words("2025-09-26").unwrap()), "2025-09-26");
        for no in ["1969-12-31", "2025-02-30", "", "yesterday"] {
            assert_eq!(day_from_words(no), None, "{no}");
        }
    }

    #[test]
    fn what_is_too_long_or_empty_is_not_kept() {
        let question = |text: String| VisitChoice::Question(0, Some(text)).trouble();
        assert!(question("x".repeat(400)).is_none());
        assert!(question("x".repeat(401)).is_some() && question("  ".to_owned()).is_some());
        assert!(VisitChoice::Name(Some(String::new())).trouble().is_some());
        assert!(VisitChoice::Name(None).trouble().is_none());
    }
}
