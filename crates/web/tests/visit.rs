//! The Visit page: the sheet, its files, and the forms for what it needs from the wearer.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use axum::http::StatusCode;
use common::desk::{Desk, OWN};
use common::{Fake, get, repairs, words};
use interstice_glucose::{Draft, Readings, Said, Second, TraceDraft, TraceKind};

/// 2026-01-01T00:00:00Z.
const NOW: Second = 1_767_225_600;

/// Invented: two months of one sensor.
fn desk() -> Desk {
    let mut draft = Draft::default();
    let mut readings = Readings::default();
    for i in 0..96 * 60_i64 {
        let level = draft.levels.intern(Said::whole_mg_per_dl(80 + (i * 7) % 150));
        readings.push(u32::try_from(NOW - 60 * 86_400 + 900 * i).unwrap(), level);
    }
    draft.traces.push(TraceDraft {
        sensor: "one".to_owned(),
        kind: TraceKind::Automatic,
        readings,
    });
    Desk::new(&draft, || NOW)
}

#[tokio::test]
async fn the_sheet_its_files_and_its_json_say_the_same() {
    let answer = get(Fake::days(14), "/visit").await;
    assert_eq!(answer.status, StatusCode::OK);
    assert_eq!(repairs(&answer.text), Vec::<String>::new());
    let said = words(&answer.text);
    for part in [
        "h1: Visit sheet",
        "What stands out",
        "Consensus measures",
        "Insulin as it was logged",
        "never a dose",
    ] {
        assert!(said.contains(part), "{part} is not in\n{said}");
    }
    assert!(answer.text.contains("href=\"/visit\" aria-current=\"page\""));
    let pdf = get(Fake::days(14), "/visit/sheet.pdf?paper=letter").await;
    assert_eq!(
        (pdf.status, pdf.header("content-type")),
        (StatusCode::OK, "application/pdf")
    );
    assert!(pdf.bytes.starts_with(b"%PDF-1.7"));
    assert!(
        pdf.header("content-disposition")
            .starts_with("attachment; filename=\"visit-")
    );
    let html = get(Fake::days(14), "/visit/sheet.html").await;
    assert!(html.text.starts_with("<!DOCTYPE html>") && !html.text.contains("<script"));
    assert_eq!(repairs(&html.text), Vec::<String>::new());
    let tables = get(Fake::days(14), "/visit/sheet.xlsx").await;
    assert!(tables.bytes.starts_with(b"PK\x03\x04"));
    assert!(tables.header("content-disposition").ends_with(".xlsx\""));
    let json = get(Fake::days(14), "/api/visit").await;
    let visit: serde_json::Value = serde_json::from_str(&json.text).unwrap();
    let mean = visit["review"]["summary"]["mean_mg_dl"].as_f64().unwrap();
    assert!(
        said.contains(&format!("Mean |  | {mean:.0} mg/dL")),
        "{mean} is not in\n{said}"
    );
    let wrong = get(Fake::days(14), "/visit/sheet.pdf?paper=napkin").await;
    assert_eq!(wrong.status, StatusCode::BAD_REQUEST);
    let wrong = get(Fake::days(14), "/visit?since=soon").await;
    assert_eq!(wrong.status, StatusCode::BAD_REQUEST);
}

#[tokio::test]
async fn an_empty_book_says_what_appears_and_can_be_written_on() {
    let answer = get(Fake::empty(), "/visit").await;
    assert_eq!(answer.status, StatusCode::OK);
    assert!(answer.text.contains("the sheet for your care team appears"));
    assert!(answer.text.contains("action=\"/visit/question\""));
}

/// The change that the page leads back with.
fn change_of(to: &str) -> String {
    to.strip_prefix("/visit?note=")
        .unwrap_or_else(|| panic!("{to}"))
        .to_owned()
}

#[tokio::test]
async fn questions_are_added_changed_deleted_and_taken_back() {
    let desk = desk();
    let asked = |page: &str, text: &str| page.contains(&format!("<li>{text}</li>"));
    let (status, to, _) = desk.post("/visit/question", "text=Why+%3Clow%3E%3F", OWN).await;
    assert_eq!(status, StatusCode::SEE_OTHER);
    let page = desk.get(&to).await;
    assert!(asked(&page, "Why &lt;low&gt;?"), "{page}");
    let written = desk.book.visit_notes().unwrap().questions[0].written;
    let (_, to, _) = desk
        .post(
            "/visit/question/change",
            &format!("written={written}&text=Why+high%3F"),
            OWN,
        )
        .await;
    assert!(asked(&desk.get(&to).await, "Why high?"));
    let (_, back, _) = desk
        .post("/visit/undo", &format!("change={}", change_of(&to)), OWN)
        .await;
    assert_eq!(back, "/visit");
    assert!(asked(&desk.get("/visit").await, "Why &lt;low&gt;?"));
    desk.post("/visit/question", "text=And+then%3F", OWN).await;
    let both = desk.book.visit_notes().unwrap().questions;
    assert_eq!(both.len(), 2);
    desk.post(
        "/visit/question/change",
        &format!("written={written}&text=x&drop=1"),
        OWN,
    )
    .await;
    let left = desk.book.visit_notes().unwrap().questions;
    assert_eq!(left.len(), 1);
    assert_eq!(left[0].text, "And then?");
    let (status, _, page) = desk.post("/visit/question", "text=+", OWN).await;
    assert_eq!(status, StatusCode::BAD_REQUEST);
    assert!(page.contains("rite the question down"), "{page}");
}

#[tokio::test]
async fn name_visits_and_hba1c_stand_on_the_sheet() {
    let desk = desk();
    desk.post("/visit/name", "name=N.+Name", OWN).await;
    desk.post("/visit/day", "day=2025-12-05", OWN).await;
    let (_, to, _) = desk
        .post("/visit/hba1c", "day=2025-12-28&value=54+mmol%2Fmol", OWN)
        .await;
    let page = desk.get(&to).await;
    let said = words(&page);
    for part in ["N. Name", "54 mmol/mol (7.1 %)", "Change since 5 Dec"] {
        assert!(said.contains(part), "{part} is not in\n{said}");
    }
    desk.post("/visit/day", "day=2025-12-05&drop=1", OWN).await;
    assert!(!words(&desk.get("/visit").await).contains("Change since 5 Dec"));
    // An undo of something else than a note is refused.
    let (status, _, _) = desk.post("/visit/undo", "change=1", OWN).await;
    assert_eq!(status, StatusCode::BAD_REQUEST);
    for wrong in ["day=2025-12-28&value=high", "day=then&value=7.1"] {
        let (status, _, _) = desk.post("/visit/hba1c", wrong, OWN).await;
        assert_eq!(status, StatusCode::BAD_REQUEST, "{wrong}");
    }
    // Another page may not write.
    let (status, _, _) = desk
        .post("/visit/name", "name=other", "http://elsewhere.example")
        .await;
    assert_eq!(status, StatusCode::FORBIDDEN);
}
