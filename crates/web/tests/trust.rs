//! The page of sensors beside blood: both units, its twins, and a check written down by hand.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use std::sync::Arc;

use axum::body::Body;
use axum::http::{Request, StatusCode};
use common::{Fake, get};
use interstice_book::{Book, Mode, Provenance};
use interstice_desk::Entry;
use interstice_glucose::{
    BloodCheck, BloodSource, Draft, Readings, Said, Second, TraceDraft, TraceKind, Zone,
};
use interstice_web::{Backend, KeptBook, Outside, router};
use tower::ServiceExt;

/// The sentences and headings of a page, its tables aside.
fn sentences(page: &str) -> String {
    let words = common::words(page).replace('\u{a0}', " ");
    let lines: Vec<&str> = words.lines().filter(|line| !line.starts_with("tr:")).collect();
    lines.join("\n")
}

#[tokio::test]
async fn the_answer_is_given_in_both_units() {
    let mg = get(Fake::days(14), "/trust").await;
    assert_eq!(mg.status, StatusCode::OK);
    let mg = sentences(&mg.text);
    let answer = "Your sensors read within 15 % of blood 98 times in 100; on first days 13 of 14.";
    assert!(mg.contains(answer), "{mg}");
    assert!(
        mg.contains("Below 70 mg/dL 'within 15 %' means within 15 mg/dL"),
        "{mg}"
    );
    let mmol = sentences(&get(Fake::days(14), "/trust?unit=mmol").await.text);
    assert!(
        mmol.contains("Below 3.9 mmol/L 'within 15 %' means within 0.8 mmol/L"),
        "{mmol}"
    );
}

#[tokio::test]
async fn the_page_is_well_formed_and_every_id_is_used_once() {
    for path in ["/trust", "/trust?unit=mmol&pairing=interpolated&split=100"] {
        let answer = get(Fake::days(14), path).await;
        assert_eq!(common::repairs(&answer.text), Vec::<String>::new(), "{path}");
        let mut ids = common::ids(&answer.text);
        let all = ids.len();
        ids.sort();
        ids.dedup();
        assert_eq!(ids.len(), all, "{path}");
    }
}

/// The words of one section, its tables too.
fn section(page: &str, id: &str) -> String {
    let start = page.find(&format!("<section aria-labelledby=\"{id}\"")).unwrap();
    let end = start + page[start..].find("</section>").unwrap();
    common::words(&format!("<main>{}</main>", &page[start..end])).replace('\u{a0}', " ")
}

#[tokio::test]
async fn what_makes_a_sensor_better_and_what_looks_wrong_with_one() {
    for (unit, path) in [("mg_dl", "/trust"), ("mmol_l", "/trust?unit=mmol")] {
        let page = get(Fake::days(14), path).await.text;
        let judged = [section(&page, "effects"), section(&page, "faults")].join("\n\n");
        insta::assert_snapshot!(format!("judged_{unit}"), judged);
        // Folded without a script, and open to anyone who wants it.
        assert!(page.contains("<details><summary>Every comparison, and what would settle it</summary>"));
    }
    let one = get(Fake::days(14), "/trust?sensor=sensor%202").await.text;
    assert!(
        !one.contains("aria-labelledby=\"effects\""),
        "one sensor has nothing to be compared with"
    );
}

#[tokio::test]
async fn both_grids_and_the_differences_are_drawn() {
    let page = get(Fake::days(14), "/trust").await.text;
    for class in [
        "picture error-grid",
        "picture differences wide",
        "picture by-day phone",
    ] {
        assert!(page.contains(class), "{class}");
    }
    assert_eq!(page.matches("picture error-grid").count(), 2);
    assert!(page.contains("/methods/agreement"));
    assert!(!page.contains("NaN"));
}

#[tokio::test]
async fn every_table_can_be_taken_as_a_file() {
    let page = get(Fake::days(14), "/trust?unit=mmol").await.text;
    let mut files = 0;
    for part in page.split("href=\"/trust/").skip(1) {
        let path = format!("/trust/{}", part.split('"').next().unwrap().replace("&amp;", "&"));
        if path.starts_with("/trust/sensor/") || path.starts_with("/trust/pairs?") {
            continue;
        }
        let file = get(Fake::days(14), &path).await;
        assert_eq!(file.status, StatusCode::OK, "{path}");
        assert_eq!(file.header("content-type"), "text/csv; charset=utf-8");
        assert!(
            file.header("content-disposition")
                .contains("attachment; filename=\"trust-")
        );
        let lines: Vec<&str> = file.text.split("\r\n").collect();
        assert!(lines.len() > 2, "{path}: {}", file.text);
        files += 1;
    }
    assert!(files >= 5, "{files}");
    assert_eq!(
        get(Fake::days(14), "/trust/none.csv").await.status,
        StatusCode::NOT_FOUND
    );
}

/// The page shows the newest twenty, a page of their own shows them all, in the unit asked for, as the file does.
#[tokio::test]
async fn every_pair_stands_on_a_page_of_its_own() {
    let rows = |words: &str| words.lines().filter(|line| line.starts_with("tr:")).count();
    let short = section(&get(Fake::days(14), "/trust?unit=mmol").await.text, "pairs");
    assert_eq!(rows(&short), 21, "{short}");
    let file = get(Fake::days(14), "/trust/pairs.csv?unit=mmol").await.text;
    let all = file.trim_end().lines().count() - 1;
    let mut told = 0;
    for number in 1..=all.div_ceil(200) {
        let page = get(Fake::days(14), &format!("/trust/pairs?unit=mmol&page={number}")).await;
        assert_eq!(page.status, StatusCode::OK, "{number}");
        assert_eq!(common::repairs(&page.text), Vec::<String>::new());
        assert!(page.text.contains("Blood, mmol/L"));
        told += rows(&common::words(&page.text)) - 1;
    }
    assert_eq!(told, all);
    for beyond in ["/trust/pairs?page=0", "/trust/pairs?page=9"] {
        assert_eq!(get(Fake::days(14), beyond).await.status, StatusCode::NOT_FOUND);
    }
}

#[tokio::test]
async fn the_json_twin_is_the_findings_themselves() {
    let answer = get(Fake::days(14), "/api/trust?split=100").await;
    let json: serde_json::Value = serde_json::from_str(&answer.text).unwrap();
    assert!((json["split_mg_dl"].as_f64().unwrap() - 100.0).abs() < 1e-9);
    assert!(json["mard_percent"].is_number() && json["points"].as_array().unwrap().len() > 10);
}

#[tokio::test]
async fn what_makes_no_sense_is_said_calmly() {
    for (path, words) in [
        ("/trust?split=90", "is not a split in use"),
        ("/trust?pairing=any", "is not a way of pairing"),
        ("/trust?sensor=none", "there is no sensor"),
    ] {
        let answer = get(Fake::days(14), path).await;
        assert_eq!(answer.status, StatusCode::BAD_REQUEST, "{path}");
        assert!(
            answer.text.to_lowercase().contains(words),
            "{path}: {}",
            answer.text
        );
    }
    assert_eq!(get(Fake::empty(), "/trust").await.status, StatusCode::OK);
}

/// 2025-12-01T08:00:00Z.
const START: Second = 1_764_576_000;
/// 2026-01-01.
const NOW: Second = 1_767_225_600;

fn provenance() -> Provenance {
    Provenance::named("made up", [0; 32])
}

/// A week of 100 mg/dL.
fn flat_week() -> Draft {
    let mut draft = Draft::default();
    let mut readings = Readings::default();
    for i in 0..7 * 288_i64 {
        let level = draft.levels.intern(Said::whole_mg_per_dl(100));
        readings.push(u32::try_from(START + i * 300).unwrap(), level);
    }
    draft.traces.push(TraceDraft {
        sensor: "one".to_owned(),
        kind: TraceKind::Automatic,
        readings,
    });
    draft
}

fn blood(hours: Second, mg_dl: i64) -> Entry {
    Entry::Blood(BloodCheck {
        at: START + hours * 3600,
        said: Said::whole_mg_per_dl(mg_dl),
        source: BloodSource::Meter,
        note: None,
    })
}

async fn trust_page(app: &axum::Router) -> String {
    let request = Request::builder().uri("/trust").header("host", "127.0.0.1:8080");
    let response = app
        .clone()
        .oneshot(request.body(Body::empty()).unwrap())
        .await
        .unwrap();
    assert_eq!(response.status(), StatusCode::OK);
    let bytes = axum::body::to_bytes(response.into_body(), usize::MAX)
        .await
        .unwrap();
    common::words(std::str::from_utf8(&bytes).unwrap()).replace('\u{a0}', " ")
}

#[tokio::test]
async fn a_check_written_down_by_hand_is_told_at_once() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book");
    let mut book = Book::open(&path, Mode::CreateIfAbsent).unwrap();
    let go_on = &mut |_, _| std::ops::ControlFlow::Continue(());
    book.import(&flat_week(), &provenance(), go_on).unwrap();
    let outside = Outside::new(Zone::utc(), || NOW);
    let kept = Arc::new(KeptBook::new(&path, outside));
    let app = router(kept as Arc<dyn Backend>);

    let none = trust_page(&app).await;
    assert!(none.contains("the book holds no blood check yet"), "{none}");
    assert!(
        none.contains("5 more blood checks while glucose has been flat"),
        "{none}"
    );

    let mut log = |hours, mg_dl| interstice_desk::log(&mut book, &blood(hours, mg_dl), NOW).unwrap();
    log(30, 104);
    let one = trust_page(&app).await;
    assert!(
        one.contains("1 blood check has been taken beside a reading, 1 within 15 %"),
        "{one}"
    );
    assert!(
        one.contains("The true share could be anything from 3 to 100 %"),
        "{one}"
    );
    assert!(
        one.contains("4 more blood checks while glucose has been flat"),
        "{one}"
    );

    for (hours, mg_dl) in [(40, 96), (50, 101), (60, 99), (70, 140)] {
        log(hours, mg_dl);
    }
    let five = trust_page(&app).await;
    assert!(five.contains("read within 15 % of blood 4 of 5 times"), "{five}");
    assert!(five.contains("Checks on 4 more sensors"), "{five}");
}
