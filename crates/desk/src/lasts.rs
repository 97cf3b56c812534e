//! How long an insulin acts, as a person types it.

use interstice_glucose::INSULIN_LASTS_MIN;

/// Minutes of hours as they were typed, '4.5'.
///
/// # Errors
/// What is wrong with it, in words, where it is no number of hours or beyond what published curves can be stretched to.
pub fn insulin_lasts(typed: &str) -> Result<u16, String> {
    let hours: f64 = typed
        .trim()
        .parse()
        .ok()
        .filter(|hours: &f64| hours.is_finite())
        .ok_or_else(|| format!("'{typed}' is not a number of hours; write it like 4.5"))?;
    let (least, most) = (INSULIN_LASTS_MIN.start() / 60, INSULIN_LASTS_MIN.end() / 60);
    let minutes = (60.0 * hours).round();
    if !(f64::from(60 * least)..=f64::from(60 * most)).contains(&minutes) {
        return Err(format!(
            "{typed} hours is too far from the published curves of insulin under the skin to stretch them to it; write a number \
             between {least} and {most} hours"
        ));
    }
    Ok(minutes as u16)
}

#[cfg(test)]
mod tests {
    use super::insulin_lasts;

    #[test]
    fn hours_are_minutes_within_bounds() {
        assert_eq!(insulin_lasts(" 4.5 "), Ok(270));
        assert_eq!((insulin_lasts("1"), insulin_lasts("12")), (Ok(60), Ok(720)));
        for beyond in ["0.9", "12.1", "-3", "NaN", "inf", "four", ""] {
            assert!(insulin_lasts(beyond).is_err(), "{beyond}");
        }
    }
}
