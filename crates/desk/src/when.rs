//! Times as a person types them.

use interstice_glucose::{Second, WallInstants, WallTime, Zone};
use jiff::Timestamp;
use jiff::civil::{Date, DateTime, Time};

use crate::DeskError;

/// A time as a person types it, on the wall clock of `zone`: '07:30' (the last time it was half past seven),
/// '2025-03-01 07:30', '2025-03-01T07:30:00+01:00'. Of a repeated hour, the later pass that is not in the future.
///
/// # Errors
/// `Request` where it is no time, or one that the clocks of the zone skipped.
pub fn instant(text: &str, now: Second, zone: &Zone) -> Result<Second, DeskError> {
    let text = text.trim();
    if let Ok(timestamp) = text.parse::<Timestamp>() {
        return Ok(timestamp.as_second());
    }
    if let Ok(civil) = text.replace(' ', "T").parse::<DateTime>() {
        return at_wall(civil, now, zone, text);
    }
    if let Ok(time) = text.parse::<Time>() {
        let wall = WallTime(now + i64::from(zone.offset_s(now)));
        let today = wall
            .civil()
            .map_or(Date::constant(1970, 1, 1), |civil| civil.date());
        let at = at_wall(today.to_datetime(time), now, zone, text)?;
        if at <= now {
            return Ok(at);
        }
        let yesterday = today.yesterday().unwrap_or(today);
        return at_wall(yesterday.to_datetime(time), now, zone, text);
    }
    Err(DeskError::Request(format!(
        "'{text}' is not a time; write 07:30, 2025-03-01 07:30 or 2025-03-01T07:30:00+01:00"
    )))
}

fn at_wall(civil: DateTime, now: Second, zone: &Zone, text: &str) -> Result<Second, DeskError> {
    let second = i64::from(civil.hour()) * 3600 + i64::from(civil.minute()) * 60 + i64::from(civil.second());
    let wall = WallTime::new(civil.year(), civil.month(), civil.day(), second)
        .ok_or_else(|| DeskError::Request(format!("'{text}' is not a date")))?;
    match zone.instants(wall) {
        WallInstants::Once(at) => Ok(at),
        WallInstants::Twice(first, later) => Ok(if later <= now { later } else { first }),
        WallInstants::Never => Err(DeskError::Request(format!(
            "the clocks in {} skipped {text}; write a time that existed",
            zone.name()
        ))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bare_clock_time_is_the_last_one() {
        let zone = Zone::named("Europe/Lisbon").unwrap();
        let now = "2025-07-01T09:00:00+01:00"
            .parse::<Timestamp>()
            .unwrap()
            .as_second();
        let same_day = instant("07:30", now, &zone).unwrap();
        assert_eq!(
            same_day,
            "2025-07-01T07:30:00+01:00"
                .parse::<Timestamp>()
                .unwrap()
                .as_second()
        );
        let day_before = instant("23:10", now, &zone).unwrap();
        assert_eq!(
            day_before,
            "2025-06-30T23:10:00+01:00"
                .parse::<Timestamp>()
                .unwrap()
                .as_second()
        );
    }

    /// Whatever is typed: an instant whose wall clock is the one typed, or a message.
    #[test]
    fn any_text_is_a_time_or_a_message() {
        let zone = Zone::named("Europe/Lisbon").unwrap();
        let pieces = [
            "",
            "07:30",
            "25:00",
            "2025-10-26",
            "2025-03-30",
            " ",
            "T",
            "01:30",
            ":59",
            "Z",
            "+01:00",
            "9999-12-31",
            "-",
            "x",
        ];
        let now = 1_760_000_000;
        let mut times = 0;
        for i in 0..pieces.len().pow(4) {
            let text: String = (0..4)
                .map(|place| pieces[i / pieces.len().pow(place) % pieces.len()])
                .collect();
            match instant(&text, now, &zone) {
                Ok(at) => {
                    times += 1;
                    if text.trim() == "07:30" || text.trim() == "01:30" {
                        assert!(at <= now && now - at < 2 * 86_400, "{text}");
                    }
                }
                Err(refusal) => assert!(!refusal.to_string().is_empty(), "{text}"),
            }
        }
        assert!(times > 100, "{times}");
    }

    #[test]
    fn a_skipped_time_is_refused_with_its_reason() {
        let zone = Zone::named("Europe/Lisbon").unwrap();
        let refusal = instant("2025-03-30 01:30", 0, &zone).unwrap_err();
        assert!(refusal.to_string().contains("skipped"));
    }
}
