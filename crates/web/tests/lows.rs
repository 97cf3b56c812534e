//! The wearer's word on a low by the forms of the Trust page, and the account without possible pressure lows.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use axum::http::StatusCode;
use common::Fake;
use common::desk::{Desk, OWN, form_of};
use interstice_glucose::{Draft, LowWas, Readings, Said, Second, TraceDraft, TraceKind};

/// 2025-12-01T00:00:00Z.
const START: Second = 1_764_547_200;
/// 2026-01-01.
const NOW: Second = 1_767_225_600;
/// From 02:30 of the third day for 40 minutes two fifths are taken off.
const PRESSED: Second = START + 2 * 86_400 + 150 * 60;

/// Four invented days of a slow wave at the edge of low, with one dip.
fn draft() -> Draft {
    let mut draft = Draft::default();
    let mut readings = Readings::default();
    for i in 0..4 * 288_i64 {
        let at = START + i * 300;
        // Bows up and down in turn, nearly a sine.
        let (bow, part) = (i / 148, (i % 148) as f64 / 148.0);
        let up = if bow % 2 == 0 { 4.0 } else { -4.0 };
        let wave = 105.0 + 20.0 * up * part * (1.0 - part) + ((i * 37) % 5 - 2) as f64 * 0.6;
        let pressed = (PRESSED..PRESSED + 2400).contains(&at);
        let value = if pressed { 0.6 * wave } else { wave };
        let level = draft.levels.intern(Said::whole_mg_per_dl(value.round() as i64));
        readings.push(u32::try_from(at).unwrap(), level);
    }
    draft.traces.push(TraceDraft {
        sensor: "S&1".to_owned(),
        kind: TraceKind::Automatic,
        readings,
    });
    draft
}

fn desk() -> Desk {
    Desk::new(&draft(), || NOW)
}

fn said(desk: &Desk) -> Vec<LowWas> {
    let record = desk.book.load_all().unwrap();
    record.low_verdicts.iter().map(|kept| kept.it.was).collect()
}

#[tokio::test]
async fn a_word_is_kept_and_taken_back_by_plain_forms() {
    let mut desk = desk();
    let page = desk.get("/trust?unit=mmol").await;
    let words = common::words(&page).replace('\u{a0}', " ");
    assert!(words.contains("1 possible pressure low in"), "{words}");
    let (action, fields) = form_of(&page, "/trust/low");
    let (status, to, _) = desk.post(&action, &format!("{fields}&was=real"), OWN).await;
    assert_eq!(status, StatusCode::SEE_OTHER);
    assert!(to.starts_with("/trust?unit=mmol&lows=open#low-"), "{to}");
    assert_eq!(said(&desk), [LowWas::Real]);
    let page = desk.get(to.split('#').next().unwrap()).await;
    assert!(common::ids(&page).contains(&to.split('#').nth(1).unwrap().to_owned()));
    let words = common::words(&page).replace('\u{a0}', " ");
    assert!(words.contains("You said it was real."), "{words}");
    assert!(words.contains("You judged 1: 0 pressure, 1 real."), "{words}");
    // Said in another window meanwhile: it corrects the first word.
    let (_, _, _) = desk.post(&action, &format!("{fields}&was=pressure"), OWN).await;
    assert_eq!(said(&desk), [LowWas::Pressure]);
    let page = desk.get("/trust").await;
    let (action, undo) = form_of(&page, "/trust/low/undo");
    assert_eq!(desk.post(&action, &undo, OWN).await.0, StatusCode::SEE_OTHER);
    assert_eq!(said(&desk), [LowWas::Real], "the word before it stands again");
    let (status, _, page) = desk.post(&action, &undo, OWN).await;
    assert_eq!(status, StatusCode::BAD_REQUEST);
    assert!(page.contains("taken back already"), "{page}");
    desk.book.undo(None, NOW).unwrap();
    assert!(desk.get("/trust").await.contains("It was pressure"));
}

#[tokio::test]
async fn a_word_from_elsewhere_or_without_sense_is_refused() {
    let desk = desk();
    let (action, fields) = form_of(&desk.get("/trust").await, "/trust/low");
    let forged = desk
        .post(&action, &format!("{fields}&was=pressure"), "http://example.org")
        .await;
    assert_eq!(forged.0, StatusCode::FORBIDDEN);
    for form in [
        format!("{fields}&was=other"),
        "from=5&to=4&was=real".to_owned(),
        format!("from=0&to={START}&was=real"),
        format!("from={NOW}&to={}&was=real", NOW + 3600),
        "from=9223372036854775807&to=-9223372036854775808&was=real".to_owned(),
        "from=-9223372036854775808&to=5&was=real".to_owned(),
    ] {
        let (status, _, page) = desk.post("/trust/low", &form, OWN).await;
        assert_eq!(status, StatusCode::BAD_REQUEST, "{form}: {page}");
    }
    // An import is not undone by this form.
    let (status, _, _) = desk.post("/trust/low/undo", "change=1", OWN).await;
    assert_eq!(status, StatusCode::BAD_REQUEST);
    assert!(said(&desk).is_empty() && desk.book.load_all().unwrap().reading_count() > 0);
}

#[tokio::test]
async fn the_account_is_given_both_ways_at_one_switch() {
    let desk = desk();
    let with = desk.get("/review?days=4").await;
    assert!(with.contains("Every reading counts.") && !with.contains("With all readings"));
    assert!(
        with.contains("href=\"/review?days=4&amp;pressure=out\""),
        "{with}"
    );
    let without = desk.get("/review?days=4&pressure=out").await;
    let words = common::words(&without).replace('\u{a0}', " ");
    assert!(words.contains("Left out: 1 possible pressure low; "), "{words}");
    // Eight readings of 1,152.
    assert!(
        words.contains("Below 70 mg/dL: 0.7 % with them, 0 % without."),
        "{words}"
    );
    assert!(words.contains("tr: Below 70 mg/dL | 0.7 % | 0 %"), "{words}");
    assert!(
        words.contains("possible pressure low, a blood check decides"),
        "{words}"
    );
    assert!(without.contains("href=\"/review?days=4\""));
    let json = desk.get("/api/review?days=4&pressure=out").await;
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(json["left_out"]["possible"], 1);
    assert_eq!(json["without_artefacts"], true);
}

#[tokio::test]
async fn a_switch_that_says_nothing_is_said_calmly() {
    let answer = common::get(Fake::days(14), "/review?pressure=perhaps").await;
    assert_eq!(answer.status, StatusCode::BAD_REQUEST);
    assert!(answer.text.contains("choose in or out"), "{}", answer.text);
}

/// A word said on a sensor's own page leads back to that page.
#[tokio::test]
async fn a_word_on_a_sensors_page_leads_back_to_it() {
    let desk = desk();
    let page = desk.get("/trust/sensor/S%261").await;
    let (action, fields) = form_of(&page, "/trust/low");
    let (status, to, _) = desk.post(&action, &format!("{fields}&was=pressure"), OWN).await;
    assert_eq!(status, StatusCode::SEE_OTHER);
    assert!(
        to.starts_with("/trust/sensor/S%261?") && to.contains("#low-"),
        "{to}"
    );
    assert_eq!(said(&desk), [LowWas::Pressure]);
    let page = desk.get(to.split('#').next().unwrap()).await;
    let (action, fields) = form_of(&page, "/trust/low/undo");
    let (_, to, _) = desk.post(&action, &fields, OWN).await;
    assert!(to.starts_with("/trust/sensor/S%261?"), "{to}");
    assert!(said(&desk).is_empty());
    // Whatever page is named, the way leads to one of ours.
    let (action, fields) = form_of(&desk.get("/trust").await, "/trust/low");
    let form = format!("{fields}&was=real&page=%2F%2Fexample.org");
    let (_, to, _) = desk.post(&action, &form, OWN).await;
    assert!(to.starts_with("/trust/sensor/%2F%2Fexample.org?"), "{to}");
}
