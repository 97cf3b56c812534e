//! What an address asks for.

use interstice_glucose::Unit;
use interstice_render::words::Shown;
use serde::Deserialize;

use crate::{ReviewAsk, ReviewWindow, Settings, Trouble};

/// The window asked for when the address says none: what the consensus calls enough.
pub(crate) const DAYS: u32 = 14;

/// Longest window, a human life.
const DAYS_AT_MOST: u32 = 36_600;

/// `?days=14`, `?from=2025-03-01&to=2025-03-14`, `&unit=mmol`.
#[derive(Clone, Debug, Default, Deserialize)]
pub(crate) struct ReviewQuery {
    days: Option<String>,
    from: Option<String>,
    to: Option<String>,
    unit: Option<String>,
}

impl ReviewQuery {
    /// The review asked for.
    pub(crate) fn ask(&self) -> Result<ReviewAsk, Trouble> {
        let (from, to) = (given(&self.from), given(&self.to));
        let window = match (given(&self.days), from, to) {
            (None, None, None) => ReviewWindow::Days(DAYS),
            (Some(days), None, None) => ReviewWindow::Days(parse_days(&days)?),
            (_, from, to) => ReviewWindow::Dates {
                from: from.map(parse_date).transpose()?,
                to: to.map(parse_date).transpose()?,
            },
        };
        Ok(ReviewAsk { window })
    }

    /// The unit to show: the address's, else the book's.
    pub(crate) fn shown(&self, settings: &Settings) -> Result<Shown, Trouble> {
        match given(&self.unit) {
            None => Ok(Shown { unit: settings.unit }),
            Some(text) => parse_unit(&text).map(|unit| Shown { unit }),
        }
    }
}

/// 'mg/dL' or 'mmol/L', also without what follows the slash.
pub(crate) fn parse_unit(text: &str) -> Result<Unit, Trouble> {
    match text.to_ascii_lowercase().as_str() {
        "mg" | "mg/dl" => Ok(Unit::MgPerDl),
        "mmol" | "mmol/l" => Ok(Unit::MmolPerL),
        _ => Err(Trouble::Request(format!(
            "'{text}' is not a unit; choose mg/dL or mmol/L"
        ))),
    }
}

/// An empty field of a form is one that was not filled in.
fn given(field: &Option<String>) -> Option<String> {
    field
        .as_ref()
        .map(|text| text.trim().to_owned())
        .filter(|text| !text.is_empty())
}

fn parse_days(text: &str) -> Result<u32, Trouble> {
    let wrong = || {
        Trouble::Request(format!(
            "'{text}' is not a number of days; write one from 1 to {DAYS_AT_MOST}"
        ))
    };
    text.parse()
        .ok()
        .filter(|days| (1..=DAYS_AT_MOST).contains(days))
        .ok_or_else(wrong)
}

fn parse_date(text: String) -> Result<String, Trouble> {
    let shape = |bytes: &[u8]| {
        bytes.len() == 10
            && bytes.iter().enumerate().all(|(i, b)| {
                if i == 4 || i == 7 {
                    *b == b'-'
                } else {
                    b.is_ascii_digit()
                }
            })
    };
    if shape(text.as_bytes()) {
        return Ok(text);
    }
    Err(Trouble::Request(format!(
        "'{text}' is not a date; write one like 2025-03-17"
    )))
}
