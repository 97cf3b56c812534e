//! Numbers as a person types them.

use interstice_glucose::{Censor, Said, Unit};

use crate::DeskError;

/// Lowest and highest value a home meter shows, in each unit: what lies between 10 and 33 could be meant in mmol/L
/// only, what lies above 35 in mg/dL only.
const MMOL_AT_MOST: f64 = 35.0;
const MG_AT_LEAST: f64 = 20.0;

/// A number as the meter showed it. The unit is the one said, else the book's; a number that the unit makes
/// impossible is questioned rather than kept, and so is one with decimals in mg/dL, which no meter shows.
///
/// # Errors
/// `Request` where it is no number or no unit is known; `WhichUnit` where it is hard to believe in a unit that was not said.
pub fn glucose_said(text: &str, asked: Option<Unit>, book: Option<Unit>) -> Result<Said, DeskError> {
    let wrong = |why: String| DeskError::Request(why);
    let (mantissa, decimals) =
        decimal(text).ok_or_else(|| wrong(format!("'{text}' is not a number; write it like 104 or 5.8")))?;
    let unit = asked.or(book).ok_or_else(|| {
        wrong("the book does not know your unit yet; add --unit mg/dL or --unit mmol/L".to_owned())
    })?;
    let said = Said::new(mantissa, decimals, unit, Censor::None).map_err(|e| wrong(e.to_string()))?;
    let doubtful = match unit {
        Unit::MmolPerL => said.number() > MMOL_AT_MOST,
        Unit::MgPerDl => said.number() < MG_AT_LEAST || decimals > 0,
    };
    if doubtful && asked.is_none() {
        return Err(DeskError::WhichUnit(format!("{} {unit}", text.trim())));
    }
    Ok(said)
}

/// A number of anything else, '12', '4.5' or '4,5'.
///
/// # Errors
/// `Request` where it is no number.
pub(crate) fn number(text: &str, of: &str) -> Result<f64, DeskError> {
    let (mantissa, decimals) = decimal(text)
        .ok_or_else(|| DeskError::Request(format!("'{text}' is not {of}; write it like 12 or 4.5")))?;
    Ok(mantissa as f64 / 10f64.powi(i32::from(decimals)))
}

/// '5.8' or '5,8' as digits and decimals.
fn decimal(text: &str) -> Option<(i64, u8)> {
    let text = text.trim().replace(',', ".");
    let (whole, fraction) = text.split_once('.').unwrap_or((&text, ""));
    let digits = format!("{whole}{fraction}");
    if whole.is_empty() || digits.len() > 15 || !digits.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    Some((digits.parse().ok()?, u8::try_from(fraction.len()).ok()?))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Whatever is typed: a number as it stands, or a message with a next step.
    #[test]
    fn any_text_is_a_number_or_a_message() {
        let pieces = [
            "", "1", "58", "007", ".", ",", "-", "+", " ", "e5", "0", "\u{0663}", "9999999", "\u{a0}", "x",
            "inf",
        ];
        let mut numbers = 0;
        for i in 0..pieces.len().pow(4) {
            let text: String = (0..4)
                .map(|place| pieces[i / pieces.len().pow(place) % pieces.len()])
                .collect();
            match glucose_said(&text, Some(Unit::MgPerDl), None) {
                Ok(said) => {
                    numbers += 1;
                    let expected: f64 = text.trim().replace(',', ".").parse().unwrap();
                    assert!(
                        (said.number() - expected).abs() <= 1e-9 * expected,
                        "{text} is not {said}"
                    );
                }
                Err(refusal) => assert!(refusal.to_string().contains("write it like"), "{text}"),
            }
        }
        assert!(numbers > 1000, "{numbers}");
    }

    #[test]
    fn a_value_in_the_other_unit_is_questioned() {
        assert!(glucose_said("6.1", None, Some(Unit::MgPerDl)).is_err());
        assert!(glucose_said("104", None, Some(Unit::MmolPerL)).is_err());
        assert!(glucose_said("6.1", None, None).is_err());
        let said = glucose_said("6,1", None, Some(Unit::MmolPerL)).unwrap();
        assert_eq!((said.mantissa(), said.decimals()), (61, 1));
        assert!(glucose_said("six", Some(Unit::MmolPerL), None).is_err());
        assert!(glucose_said("-6", Some(Unit::MmolPerL), None).is_err());
    }
}
