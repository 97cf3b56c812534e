//! Which session a sensor is in, and when it began by this machine's clock.

use interstice_glucose::{Moment, Second};
use interstice_home::{Clock, Session};
use interstice_intake::bluetooth::{CgmStatus, SessionStart};

/// A sensor's clock that is further off is not believed (ours, as for what is sent: clocks that are set agree to a second;
/// minutes are a clock set by hand).
const BELIEVED_S: Second = 300;
/// A sensor's count of minutes may run off by so much in a session before it is taken for another one (ours: a minute a day for
/// a month).
const DRIFT_S: Second = 1800;

/// The session a sensor is in: the one that is known where nothing speaks against it, else a new one.
///
/// * `said`: the octets of its start.
/// * `status`: the minute it is in, read just now.
pub(crate) fn session(
    known: Option<&Session>,
    start: SessionStart,
    said: &[u8],
    status: CgmStatus,
    now: Second,
) -> Session {
    let by_age = now - 60 * Second::from(status.offset_min);
    let goes_on = |known: &&Session| {
        known.said == said
            && known.last_min.is_none_or(|last| last <= status.offset_min)
            && (by_age - known.start).abs() <= DRIFT_S
    };
    if let Some(known) = known.filter(goes_on) {
        return known.clone();
    }
    let (start, clock) = match start.instant() {
        // The sensor counts whole minutes: up to one of them has gone by.
        Some(at) if (at - by_age).abs() <= BELIEVED_S => (at, Clock::Agrees),
        Some(at) => (by_age, Clock::Differs(at - by_age)),
        None => (by_age, Clock::Unknown),
    };
    Session {
        said: said.to_vec(),
        start,
        clock,
        last_min: None,
    }
}

/// What the sensor of a session is called in the book: another session is another sensor.
pub(crate) fn name(device: &str, session: &Session) -> String {
    let began = Moment {
        at: session.start,
        offset_s: 0,
    };
    // To the minute; the offset is none.
    let began: String = began.to_string().chars().take(16).collect();
    let device: String = device.chars().filter(|c| !c.is_control()).take(60).collect();
    format!("{} {began}Z", device.trim()).trim_start().to_owned()
}

#[cfg(test)]
mod tests {
    use interstice_intake::bluetooth::SensorStatus;

    use super::*;

    /// 2026-03-01 07:30 by the clock of a zone an hour ahead of universal time.
    const START: SessionStart = SessionStart {
        year: 2026,
        parts: [3, 1, 7, 30, 0],
        zone_quarters: 4,
        daylight_quarters: 0,
    };
    const BEGAN: Second = 1_772_346_600;

    fn status(offset_min: u16) -> CgmStatus {
        CgmStatus {
            offset_min,
            status: SensorStatus::default(),
        }
    }

    fn told(known: Option<&Session>, start: SessionStart, minute: u16, now: Second) -> Session {
        session(known, start, &start.encode(false), status(minute), now)
    }

    #[test]
    fn a_clock_that_agrees_is_believed_and_another_is_not() {
        let now = BEGAN + 3600 + 40;
        let agrees = told(None, START, 60, now);
        assert_eq!((agrees.start, agrees.clock), (BEGAN, Clock::Agrees));
        let later = now + 3 * 3600;
        let behind = told(None, START, 60, later);
        assert_eq!(
            (behind.start, behind.clock),
            (later - 3600, Clock::Differs(BEGAN - (later - 3600)))
        );
        for unknown in [
            SessionStart {
                zone_quarters: -128,
                ..START
            },
            SessionStart {
                daylight_quarters: 255,
                ..START
            },
            SessionStart {
                year: 0,
                parts: [0; 5],
                ..START
            },
            SessionStart {
                parts: [2, 30, 7, 30, 0],
                ..START
            },
        ] {
            let it = told(None, unknown, 60, now);
            assert_eq!((it.start, it.clock), (now - 3600, Clock::Unknown), "{unknown:?}");
        }
    }

    #[test]
    fn a_session_goes_on_until_something_speaks_against_it() {
        let unknown = SessionStart {
            year: 0,
            parts: [0; 5],
            ..START
        };
        let mut known = told(None, unknown, 60, BEGAN + 3600);
        known.last_min = Some(60);
        // A few seconds more or less do not date its readings anew.
        assert_eq!(told(Some(&known), unknown, 90, BEGAN + 5400 + 59), known);
        // The count fell back, or another start is said, or the count stood still for hours.
        for other in [
            told(Some(&known), unknown, 5, BEGAN + 5400),
            told(Some(&known), START, 90, BEGAN + 5400),
            told(Some(&known), unknown, 61, BEGAN + 10 * 3600),
        ] {
            assert_eq!(other.last_min, None);
        }
    }

    #[test]
    fn another_session_is_another_sensor() {
        let it = told(None, START, 60, BEGAN + 3600);
        assert_eq!(name("left arm\u{7}", &it), "left arm 2026-03-01T06:30Z");
        assert_eq!(name("", &it), "2026-03-01T06:30Z");
    }
}
