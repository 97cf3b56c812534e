//! The Days page and what its script asks for, over an invented book of 400 days.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use std::time::Instant;

use axum::http::StatusCode;
use common::{Answer, Fake, get};
use interstice_glucose::{DAY_S, Second};
use serde_json::Value;

/// The head of a tile, and the columns of its first series by name.
struct Tile {
    head: Value,
    at: Vec<u32>,
    low: Vec<f32>,
    high: Vec<f32>,
}

/// Reads a tile as the script does.
fn read(answer: &Answer) -> Tile {
    assert_eq!(answer.status, StatusCode::OK, "{}", answer.text);
    let word = |at: usize| u32::from_le_bytes(answer.bytes[at..at + 4].try_into().unwrap());
    assert_eq!(word(0), 0x3159_4144);
    let length = word(4) as usize;
    let head: Value = serde_json::from_slice(&answer.bytes[8..8 + length]).unwrap();
    let primary = &head["series"][0];
    assert_eq!(primary["role"], "primary");
    let n = usize::try_from(primary["n"].as_u64().unwrap()).unwrap();
    let column = |place: usize| (0..n).map(move |i| word(8 + length + (place * n + i) * 4));
    let value = |place: usize| column(place).map(f32::from_bits).collect::<Vec<f32>>();
    let (low, high) = if primary["raw"] == true {
        (value(1), value(1))
    } else {
        (value(2), value(3))
    };
    Tile {
        at: column(0).collect(),
        low,
        high,
        head,
    }
}

async fn tile(query: &str) -> Tile {
    read(&get(Fake::days(14), &format!("/days/data?{query}")).await)
}

fn extremes(tile: &Tile, from: Second, to: Second) -> (f32, f32) {
    let step = tile.head["step"].as_i64().unwrap();
    let raw = tile.head["series"][0]["raw"] == true;
    let inside = |at: u32| Second::from(at) + if raw { 0 } else { step } > from && Second::from(at) < to;
    let of = |values: &[f32], pick: fn(f32, f32) -> f32, start: f32| {
        tile.at
            .iter()
            .zip(values)
            .filter(|&(&at, _)| inside(at))
            .fold(start, |sum, (_, &value)| pick(sum, value))
    };
    (of(&tile.low, f32::min, f32::MAX), of(&tile.high, f32::max, 0.0))
}

/// The book's first instant and its end, as the page tells its script.
async fn span() -> (Second, Second) {
    let page = get(Fake::days(14), "/days").await.text;
    let data = page
        .split("id=\"timeline-book\" type=\"application/json\">")
        .nth(1)
        .unwrap();
    let book: Value = serde_json::from_str(data.split("</script>").next().unwrap()).unwrap();
    (book["from"].as_i64().unwrap(), book["to"].as_i64().unwrap())
}

#[tokio::test]
async fn the_page_is_whole_without_its_script() {
    for path in [
        "/days",
        "/days?from=2025-01-01&to=2025-06-30",
        "/days?date=2025-10-26&unit=mmol",
    ] {
        let answer = get(Fake::days(14), path).await;
        assert_eq!(answer.status, StatusCode::OK, "{path}: {}", answer.text);
        assert_eq!(common::repairs(&answer.text), Vec::<String>::new(), "{path}");
        let mut ids = common::ids(&answer.text);
        let all = ids.len();
        ids.sort();
        ids.dedup();
        assert_eq!(ids.len(), all, "{path}");
        assert!(answer.text.contains("<svg class=\"picture timeline\""), "{path}");
        assert!(answer.text.contains("The same as a table"), "{path}");
        assert!(!answer.text.contains(" style="), "{path}");
    }
}

#[tokio::test]
async fn a_day_is_told_in_words_and_rows() {
    let answer = get(Fake::days(14), "/days?date=2025-10-26").await;
    let words = common::words(&answer.text);
    insta::assert_snapshot!("day", words.lines().take(32).collect::<Vec<_>>().join("\n"));
}

#[tokio::test]
async fn a_year_is_told_by_week_in_the_wearers_unit() {
    let answer = get(
        Fake::days(14),
        "/days/account?from=2024-11-20&to=2025-11-19&unit=mmol",
    )
    .await;
    let page = format!("<!DOCTYPE html><title>t</title><main>{}</main>", answer.text);
    insta::assert_snapshot!(
        "year_mmol_l",
        common::words(&page)
            .lines()
            .take(12)
            .collect::<Vec<_>>()
            .join("\n")
    );
}

#[tokio::test]
async fn an_empty_book_has_no_days() {
    let answer = get(Fake::empty(), "/days").await;
    assert_eq!(answer.status, StatusCode::OK);
    assert!(answer.text.contains("Nothing has been brought in yet"));
}

/// Every scale shows the lowest and the highest reading of the book, and the same ones.
#[tokio::test]
async fn no_scale_hides_an_extreme() {
    let (from, to) = span().await;
    let whole = tile(&format!("from={from}&to={to}&px=20000&density=1")).await;
    let truth = extremes(&whole, from, to);
    for px in [40, 390, 1280, 4000] {
        let coarse = tile(&format!("from={from}&to={to}&px={px}")).await;
        assert_eq!(extremes(&coarse, from, to), truth, "{px} pixels");
        assert!(
            coarse.at.len() <= 2 * px + 2,
            "{} columns for {px} pixels",
            coarse.at.len()
        );
    }
    let length = 5 * DAY_S;
    let parts: Vec<(f32, f32)> = {
        let mut parts = Vec::new();
        for start in (from..to).step_by(usize::try_from(length).unwrap()) {
            let part = tile(&format!("from={start}&to={}&px=900", start + length)).await;
            parts.push(extremes(&part, start, start + length));
        }
        parts
    };
    let over_parts = parts.iter().fold((f32::MAX, 0.0_f32), |sum, part| {
        (sum.0.min(part.0), sum.1.max(part.1))
    });
    assert_eq!(over_parts, truth);
}

#[tokio::test]
async fn units_differ_by_their_factor_alone() {
    let mg = tile("from=2025-10-01&to=2025-10-01&px=900&unit=mg").await;
    let mmol = tile("from=2025-10-01&to=2025-10-01&px=900&unit=mmol").await;
    assert!(!mg.low.is_empty());
    assert_eq!(mg.at, mmol.at);
    for (mg, mmol) in mg.low.iter().zip(&mmol.low) {
        assert!((mg / 18.0156 - mmol).abs() < 1e-4);
    }
}

/// 26 October 2025 had 25 hours and 30 March 23 in the European Union (directive 2000/84/EC).
#[tokio::test]
async fn a_date_is_its_lived_day() {
    for (date, hours, labels) in [
        ("2025-10-26", 25, 2),
        ("2025-03-30", 23, 0),
        ("2025-07-01", 24, 1),
    ] {
        let answer = get(Fake::days(14), &format!("/days/day?date={date}")).await;
        let day: Value = serde_json::from_str(&answer.text).unwrap();
        let (from, to) = (day["from"].as_i64().unwrap(), day["to"].as_i64().unwrap());
        assert_eq!(to - from, hours * 3600, "{date}");
        let tile = tile(&format!("from={from}&to={to}&px=2400")).await;
        let minor = tile.head["ticks"]["minor"].as_array().unwrap();
        assert_eq!(minor.len(), usize::try_from(hours).unwrap(), "{date}");
        assert_eq!(
            minor.iter().filter(|tick| tick[1] == "01:00").count(),
            labels,
            "{date}"
        );
    }
}

#[tokio::test]
async fn events_are_grouped_but_never_lost() {
    let (from, to) = span().await;
    let count = |tile: &Tile, lane: &str| -> u64 {
        let events = tile.head["events"].as_array().unwrap();
        events
            .iter()
            .filter(|e| e["lane"] == lane)
            .map(|e| e["n"].as_u64().unwrap_or(1))
            .sum()
    };
    for px in [100, 900, 3000] {
        let tile = tile(&format!("from={from}&to={to}&px={px}")).await;
        assert_eq!(count(&tile, "food"), 1200, "{px}");
        assert_eq!(count(&tile, "insulin"), 1600, "{px}");
        let events = tile.head["events"].as_array().unwrap().len();
        assert!(events < 100 + 7 * px / 3, "{events} events on {px} pixels");
    }
}

#[tokio::test]
async fn what_makes_no_sense_is_said_calmly() {
    let wrong = [
        ("/days?from=soon", "is not a time"),
        (
            "/days/data?from=2025-03-02&to=2025-03-01",
            "ends before it begins",
        ),
        ("/days/data?from=-99999999", "is not a time"),
        ("/days/day?date=2025-02-30", "is not a date"),
        ("/days/day", "is not a date"),
        ("/days?unit=stone", "is not a unit"),
    ];
    for (path, words) in wrong {
        let answer = get(Fake::days(14), path).await;
        assert_eq!(answer.status, StatusCode::BAD_REQUEST, "{path}");
        assert!(answer.text.contains(words), "{path}: {}", answer.text);
    }
    for path in [
        "/days/data?px=0",
        "/days/data?px=4000000000&density=99",
        "/days?from=1970-01-01&to=2105-12-31",
    ] {
        assert_eq!(get(Fake::days(14), path).await.status, StatusCode::OK, "{path}");
    }
}

/// Prints how long answers take; a number is measured, never asserted.
#[tokio::test]
async fn answers_are_timed() {
    let (from, to) = span().await;
    for (name, seconds) in [
        ("everything", to - from),
        ("a month", 30 * DAY_S),
        ("a day", DAY_S),
        ("an hour", 3600),
    ] {
        let path = format!("/days/data?from={}&to={to}&px=1736", to - seconds);
        let mut taken = Vec::new();
        for _ in 0..15 {
            let start = Instant::now();
            assert_eq!(get(Fake::days(14), &path).await.status, StatusCode::OK);
            taken.push(start.elapsed());
        }
        taken.sort();
        println!(
            "a tile of {name}: median {:.1} ms",
            taken[taken.len() / 2].as_secs_f64() * 1000.0
        );
    }
}
