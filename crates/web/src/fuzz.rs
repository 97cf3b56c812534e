//! What must hold of any text that comes with a request: bodies of the fuzz targets under `fuzz/`, driven by the tests
//! below as well.

#![expect(clippy::unwrap_used, reason = "a fuzz target fails by panicking")]

use interstice_findings::days;
use interstice_glucose::{LivedClock, Unit, Zone};

use crate::guard::is_own;
use crate::query::{ReviewQuery, parse_unit};
use crate::{Answers, ReviewWindow};

/// A query, a form and a Host header of the same bytes. None panics, a window that is given lies within a life, an
/// instant that is read comes back from its address, and a host is ours only by one of our names.
pub fn request(bytes: &[u8]) {
    let text = String::from_utf8_lossy(bytes);
    if let Ok(query) = serde_urlencoded::from_bytes::<ReviewQuery>(bytes)
        && let Ok(ask) = query.ask()
        && let ReviewWindow::Days(days) = ask.window
    {
        assert!((1..=36_600).contains(&days));
    }
    if let Ok(fields) = serde_urlencoded::from_bytes::<Vec<(String, String)>>(bytes) {
        let mut answers = Answers::default();
        answers.take_form(fields);
        for said in [&answers.zone, &answers.unit, &answers.dates, &answers.subject] {
            assert!(said.as_deref().is_none_or(|text| text.trim() == text));
        }
    }
    if is_own(&text) {
        assert!(
            ["127.0.0.1", "localhost", "[::1]"]
                .iter()
                .any(|name| text.starts_with(name))
        );
        assert!(text.len() <= "127.0.0.1:+65535".len() + 4);
    }
    assert!(
        parse_unit(&text).is_err()
            || ["mg", "mmol"]
                .iter()
                .any(|unit| text.to_ascii_lowercase().starts_with(unit))
    );
    instant(&text);
}

fn instant(text: &str) {
    let _ = Zone::named(text);
    let clock = LivedClock::new(&Zone::named("Europe/Lisbon").unwrap(), &[], 0, 4_000_000_000);
    for end in [false, true] {
        if let Some(at) = days::instant(&clock, text, end) {
            assert!((0..=i64::from(u32::MAX)).contains(&at));
            assert_eq!(days::instant(&clock, &days::address(at), end), Some(at));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bodies_hold() {
        for text in [
            "",
            "days=14&unit=mmol",
            "days=+1",
            "days=%31%34&days=2",
            "from=2025-03-01&to=2025-03-1%C3%A9",
            "answer=--as+%273%3Dglucose%27&role:x=dose&zone=+",
            "answer=--zone",
            "127.0.0.1:+80",
            "localhost:80",
            "[::1]:00000000080",
            "2025-03-30T01:30",
            "-1",
            "+02",
            "2025-03-17T12:04:00+01:00[Europe/Berlin]",
            "mg/dL",
            "\u{0}\u{feff}%",
        ] {
            request(text.as_bytes());
        }
        assert!(parse_unit("mg").is_ok_and(|unit| unit == Unit::MgPerDl));
    }
}
