//! The night, as a person types it.

use interstice_book::NightHours;

const MINUTES: u16 = 24 * 60;

/// '23:00' and '7:30' as the hours of the night; it may pass midnight.
///
/// # Errors
/// What is wrong with them, in words: no clock time, or a night of no length.
pub fn night_hours(from: &str, to: &str) -> Result<NightHours, String> {
    let (from_minute, to_minute) = (minute(from)?, minute(to)?);
    if from_minute == to_minute {
        return Err(format!(
            "a night from {from} to {to} has no length; write when it begins and when it ends"
        ));
    }
    Ok(NightHours {
        from_minute,
        to_minute,
    })
}

fn minute(typed: &str) -> Result<u16, String> {
    let wrong = || format!("'{typed}' is not a time of day; write it like 23:00");
    let (hour, minute) = typed.trim().split_once(':').ok_or_else(wrong)?;
    // Browsers may send seconds too.
    let minute = minute.split(':').next().unwrap_or(minute);
    let number = |text: &str| {
        let digits = (1..=2).contains(&text.len()) && text.bytes().all(|byte| byte.is_ascii_digit());
        digits.then(|| text.parse::<u16>().ok()).flatten()
    };
    let (hour, minute) = (number(hour).ok_or_else(wrong)?, number(minute).ok_or_else(wrong)?);
    let of_day = hour * 60 + minute;
    (minute < 60 && of_day < MINUTES)
        .then_some(of_day)
        .ok_or_else(wrong)
}

/// A minute of the day as it is typed: '07:30'.
pub fn clock_of(minute: u16) -> String {
    format!("{:02}:{:02}", minute / 60, minute % 60)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_night_may_pass_midnight() {
        let night = night_hours("23:00", " 7:30 ").unwrap();
        assert_eq!((night.from_minute, night.to_minute), (1380, 450));
        assert_eq!(
            (clock_of(1380), clock_of(450)),
            ("23:00".to_owned(), "07:30".to_owned())
        );
        assert_eq!(night_hours("23:00:00", "07:30:00"), Ok(night));
        for (from, to) in [
            ("24:00", "7:00"),
            ("23", "7:00"),
            ("7:00", "7:00"),
            ("7:60", "8:00"),
            ("-1:00", "8:00"),
            ("+1:00", "8:00"),
        ] {
            assert!(night_hours(from, to).is_err(), "{from} {to}");
        }
    }
}
