//! A day beside another or the usual day: the page against the account of the same days, which goes another way to them.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use std::sync::Arc;

use axum::body::Body;
use axum::http::{Request, StatusCode};
use common::browser::{Driver, LAPTOP, Look, PHONE, app_over, browser, keep, look_at, sideways};
use common::engineer::engineer;
use interstice_web::{Backend, router};
use serde_json::Value;
use tower::ServiceExt;

async fn ask(book: &Arc<dyn Backend>, path: &str) -> (StatusCode, String) {
    let request = Request::builder().uri(path).header("host", "127.0.0.1:8080");
    let answer = router(Arc::clone(book))
        .oneshot(request.body(Body::empty()).unwrap())
        .await
        .unwrap();
    let status = answer.status();
    let bytes = axum::body::to_bytes(answer.into_body(), usize::MAX)
        .await
        .unwrap();
    (status, String::from_utf8_lossy(&bytes).into_owned())
}

/// The rows of the page's tables, cells parted by '|'.
fn rows(page: &str) -> Vec<String> {
    let words = common::words(page);
    words
        .lines()
        .filter_map(|line| line.strip_prefix("tr: "))
        .map(str::to_owned)
        .collect()
}

fn row<'a>(rows: &'a [String], name: &str) -> Vec<&'a str> {
    let row = rows.iter().find(|row| row.starts_with(&format!("{name} |")));
    row.unwrap_or_else(|| panic!("no {name} in {rows:?}"))
        .split(" | ")
        .collect()
}

fn number(text: &str) -> f64 {
    text.split(' ').next().unwrap().parse().unwrap()
}

async fn review(book: &Arc<dyn Backend>, from: &str, to: &str) -> Value {
    let (status, text) = ask(book, &format!("/api/review?from={from}&to={to}")).await;
    assert_eq!(status, StatusCode::OK, "{text}");
    serde_json::from_str(&text).unwrap()
}

#[tokio::test]
async fn the_figures_are_those_of_the_account() {
    let folder = tempfile::tempdir().unwrap();
    let book = engineer(folder.path());
    let (status, page) = ask(&book, "/days/beside?day=2026-03-20&other=2026-03-13").await;
    assert_eq!(status, StatusCode::OK, "{page}");
    assert_eq!(common::repairs(&page), Vec::<String>::new());
    let table = rows(&page);
    for (column, date) in [(1, "2026-03-20"), (2, "2026-03-13")] {
        let day = &review(&book, date, date).await["days"][0];
        for (name, key, half) in [
            ("Mean", "mean_mg_dl", 0.5),
            ("In range", "in_range_percent", 0.5),
            ("Below", "below_percent", 0.5),
            ("Above", "above_percent", 0.5),
        ] {
            let (said, found) = (number(row(&table, name)[column]), day[key].as_f64().unwrap());
            assert!(
                (said - found).abs() <= half,
                "{date} {name}: {said} is told of {found}"
            );
        }
    }

    let (_, page) = ask(&book, "/days/beside?day=2026-03-20&other=usual").await;
    let table = rows(&page);
    let before = review(&book, "2026-02-20", "2026-03-19").await;
    for (name, key) in [("Mean", "mean_mg_dl"), ("In range", "in_range_percent")] {
        let said = number(row(&table, name)[2]);
        let found = before["summary"][key].as_f64().unwrap();
        assert!((said - found).abs() <= 0.5, "{name}: {said} is told of {found}");
    }
    for hour in [3, 10, 21] {
        let usual = &before["usual_day"][hour * 12 + 6];
        let said = number(row(&table, &format!("{hour:02}:00"))[2]);
        let found = usual["p50_mg_dl"].as_f64().unwrap();
        assert!((said - found).abs() <= 0.5, "{hour}: {said} is told of {found}");
    }
}

/// Clocks went forward on 29 March 2026 and back on 26 October 2025 (directive 2000/84/EC): one hour was not lived, one twice.
#[tokio::test]
async fn an_hour_that_was_not_lived_has_no_figure() {
    let folder = tempfile::tempdir().unwrap();
    let book = engineer(folder.path());
    let (_, page) = ask(&book, "/days/beside?day=2026-03-29&other=2025-10-26&unit=mmol").await;
    let table = rows(&page);
    assert_eq!(row(&table, "02:00")[1], "–");
    assert!(
        row(&table, "02:00")[2].contains('.'),
        "{:?}",
        row(&table, "02:00")
    );
    assert!(row(&table, "Mean")[1].ends_with("mmol/L"));
    for path in [
        "day=soon",
        "day=2026-03-20&other=2026-13-40",
        "day=1950-01-01",
        "unit=stone",
    ] {
        let (status, page) = ask(&book, &format!("/days/beside?{path}")).await;
        assert_eq!(status, StatusCode::BAD_REQUEST, "{path}: {page}");
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn it_is_looked_at() {
    let Some(driver) = Driver::start() else { return };
    let (folder, profile) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let book = app_over(engineer(folder.path())).await;
    let client = browser(&driver, LAPTOP, profile.path()).await;
    for (name, path) in [
        ("beside-day", "day=2026-03-20&other=2026-03-13"),
        ("beside-usual", "day=2026-03-20&other=usual&unit=mmol"),
    ] {
        client.goto(&format!("{book}/days/beside?{path}")).await.unwrap();
        for look in [PHONE, LAPTOP] {
            for dark in [false, true] {
                let look = Look {
                    dark,
                    height: 1100,
                    ..look
                };
                look_at(&client, look).await;
                assert!(!sideways(&client).await, "{name} scrolls sideways");
                keep(&client, look, name).await;
            }
        }
    }
    client.close().await.unwrap();
}
