//! The page of one sensor: both units, its twins, any name, and a name that is none.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use std::sync::Arc;

use axum::body::Body;
use axum::http::{Request, StatusCode};
use common::{Fake, get};
use interstice_book::{Book, Mode, Provenance};
use interstice_glucose::{
    BloodCheck, BloodSource, Draft, Readings, Said, Second, TraceDraft, TraceKind, Zone,
};
use interstice_web::{Backend, KeptBook, Outside, router};
use tower::ServiceExt;

const PAGE: &str = "/trust/sensor/sensor%203";
/// Bytes a page of fourteen days every five minutes may have; measured 120 kB, the demo's largest 139 kB.
const HEAVIEST: usize = 200_000;

#[tokio::test]
async fn the_page_is_told_in_both_units() {
    let words = |text: &str| common::words(text).replace('\u{a0}', " ");
    let mg = get(Fake::days(14), PAGE).await;
    assert_eq!(mg.status, StatusCode::OK);
    insta::assert_snapshot!("sensor_mg_dl", words(&mg.text));
    let mmol = get(Fake::days(14), &format!("{PAGE}?unit=mmol")).await;
    insta::assert_snapshot!("sensor_mmol_l", words(&mmol.text));
    assert!(!mg.text.contains("NaN"));
    assert!(mg.text.len() < HEAVIEST, "{} bytes", mg.text.len());
}

#[tokio::test]
async fn the_page_is_well_formed_and_every_id_is_used_once() {
    for path in [
        PAGE,
        "/trust/sensor/sensor%201?unit=mmol&pairing=interpolated&split=100",
        "/trust/sensor/sensor%207",
    ] {
        let answer = get(Fake::days(14), path).await;
        assert_eq!(answer.status, StatusCode::OK, "{path}");
        assert_eq!(common::repairs(&answer.text), Vec::<String>::new(), "{path}");
        assert!(!answer.text.contains(" style="), "{path}");
        let mut ids = common::ids(&answer.text);
        let all = ids.len();
        ids.sort();
        ids.dedup();
        assert_eq!(ids.len(), all, "{path}");
    }
}

#[tokio::test]
async fn the_picture_says_what_it_shows() {
    let page = get(Fake::days(14), PAGE).await.text;
    let html = scraper::Html::parse_document(&page);
    let all = |selector: &str| {
        let selector = scraper::Selector::parse(selector).unwrap();
        html.select(&selector).count()
    };
    for shape in ["phone", "wide"] {
        let picture = format!("svg.sensor-life.{shape}");
        assert_eq!(all(&picture), 1, "{shape}");
        // The estimate above, the scale below; two bands each.
        assert_eq!(all(&format!("{picture} path.told")), 2, "{shape}");
        assert_eq!(all(&format!("{picture} path.wide-band")), 2, "{shape}");
        let rows = all("table.wear-checks tbody tr");
        assert!(rows > 10, "{rows}");
        assert_eq!(all(&format!("{picture} circle.taken")), rows, "{shape}");
        assert_eq!(all(&format!("{picture} circle.ratio")), rows, "{shape}");
        assert!(all(&format!("{picture} rect.night")) >= 13, "{shape}");
    }
    let desc = scraper::Selector::parse("svg.sensor-life.wide desc").unwrap();
    let said: String = html.select(&desc).next().unwrap().text().collect();
    for part in [
        "Readings from",
        "blood probably from",
        "blood checks",
        "its middle reading",
    ] {
        assert!(said.contains(part), "{part}: {said}");
    }
}

#[tokio::test]
async fn a_day_is_shown_closer_on_the_same_scales() {
    let whole = get(Fake::days(14), &format!("{PAGE}?unit=mmol")).await.text;
    assert!(whole.contains("href=\"/trust/sensor/sensor%203?unit=mmol&amp;day=4#life\""));
    let page = get(Fake::days(14), &format!("{PAGE}?unit=mmol&day=4")).await.text;
    assert_eq!(common::repairs(&page), Vec::<String>::new());
    let count = |page: &str, selector: &str| {
        let selector = scraper::Selector::parse(selector).unwrap();
        scraper::Html::parse_document(page).select(&selector).count()
    };
    // Day 4 has four checks, as its row says.
    assert_eq!(count(&page, "svg.sensor-life.wide circle.taken"), 4);
    assert_eq!(count(&page, "svg.sensor-life.wide circle.ratio"), 4);
    assert!(page.contains("Day 4 of wear") && page.contains(">06:00<"));
    let edges = |page: &str| {
        let wide = page.split("sensor-life wide").nth(1).unwrap();
        let ticks: Vec<String> = wide
            .split("<text class=\"end\"")
            .skip(1)
            .take(6)
            .map(|tick| tick.split('<').next().unwrap().to_owned())
            .collect();
        ticks
    };
    assert_eq!(edges(&whole), edges(&page));
    let scale = |page: &str| {
        let selector = scraper::Selector::parse("svg.sensor-life.wide path.told").unwrap();
        let html = scraper::Html::parse_document(page);
        let path = html.select(&selector).nth(1).unwrap();
        path.value().attr("d").unwrap().to_owned()
    };
    let next = get(Fake::days(14), &format!("{PAGE}?unit=mmol&day=5")).await.text;
    assert_ne!(scale(&page), scale(&next), "each day has its own");
    let none = get(Fake::days(14), &format!("{PAGE}?day=40")).await;
    assert_eq!(none.status, StatusCode::BAD_REQUEST);
    assert!(none.text.contains("choose one from 1 to 14"), "{}", none.text);
}

#[tokio::test]
async fn every_table_and_every_reading_can_be_taken_as_a_file() {
    let page = get(Fake::days(14), &format!("{PAGE}?unit=mmol")).await.text;
    let mut files = Vec::new();
    for part in page.split("href=\"/trust/sensor/").skip(1) {
        let path = part.split('"').next().unwrap().replace("&amp;", "&");
        if !path.contains(".csv") {
            continue;
        }
        let file = get(Fake::days(14), &format!("/trust/sensor/{path}")).await;
        assert_eq!(file.status, StatusCode::OK, "{path}");
        assert_eq!(file.header("content-type"), "text/csv; charset=utf-8");
        assert!(
            file.header("content-disposition")
                .starts_with("attachment; filename=\"sensor-sensor-3-")
        );
        files.push((path, file.text));
    }
    let named = |name: &str| files.iter().find(|file| file.0.contains(name)).unwrap();
    for name in ["days.csv", "checks.csv", "figures.csv", "faults.csv"] {
        assert!(named(name).1.lines().count() > 2, "{name}");
    }
    let readings = &named("readings.csv").1;
    let mut lines = readings.lines();
    // The columns of `interstice trust --estimate`; mg/dL whatever the wearer reads.
    assert_eq!(
        lines.next(),
        Some("time_utc,sensor_id,sensor_mg_dl,estimate_mg_dl,p5_mg_dl,p25_mg_dl,p75_mg_dl,p95_mg_dl")
    );
    let json = get(Fake::days(14), &format!("/api{PAGE}")).await.text;
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    let life = &json["life"];
    let estimate = life["estimate_mg_dl"].as_array().unwrap();
    assert_eq!(estimate.len(), lines.clone().count());
    for (line, estimate) in lines.zip(estimate).take(500) {
        let cells: Vec<&str> = line.split(',').collect();
        assert!(cells[0].ends_with('Z') && cells[1] == "sensor 3", "{line}");
        let numbers: Vec<f64> = cells[2..].iter().map(|cell| cell.parse().unwrap()).collect();
        assert!((numbers[1] - estimate.as_f64().unwrap()).abs() < 0.006, "{line}");
        assert!(
            numbers[2] <= numbers[3] && numbers[3] <= numbers[1] && numbers[4] <= numbers[5],
            "{line}"
        );
    }
    let none = get(Fake::days(14), &format!("{PAGE}/none.csv")).await;
    assert_eq!(none.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn the_list_leads_to_each_and_each_to_its_neighbours() {
    let list = get(Fake::days(14), "/trust?unit=mmol").await.text;
    for number in 1..=7 {
        assert!(
            list.contains(&format!("href=\"/trust/sensor/sensor%20{number}?unit=mmol\"")),
            "{number}"
        );
    }
    let page = get(Fake::days(14), &format!("{PAGE}?unit=mmol")).await.text;
    assert!(page.contains("rel=\"prev\" href=\"/trust/sensor/sensor%202?unit=mmol\""));
    assert!(page.contains("rel=\"next\" href=\"/trust/sensor/sensor%204?unit=mmol\""));
    let first = get(Fake::days(14), "/trust/sensor/sensor%201").await.text;
    assert!(!first.contains("rel=\"prev\"") && first.contains("rel=\"next\""));
}

#[tokio::test]
async fn what_is_no_sensor_is_said_calmly() {
    let answer = get(Fake::days(14), "/trust/sensor/none").await;
    assert_eq!(answer.status, StatusCode::NOT_FOUND);
    assert!(
        answer.text.contains("There is no sensor 'none'"),
        "{}",
        answer.text
    );
    assert!(answer.text.contains("href=\"/trust#sensors\""));
    assert_eq!(
        get(Fake::days(14), "/api/trust/sensor/none").await.status,
        StatusCode::NOT_FOUND
    );
    let wrong = get(Fake::days(14), &format!("{PAGE}?split=90")).await;
    assert_eq!(wrong.status, StatusCode::BAD_REQUEST);
}

/// 2025-12-01T08:00:00Z.
const START: Second = 1_764_576_000;

/// Two days of 100 mg/dL under each name, one after the other, without a check but in the last.
fn named(names: &[&str]) -> Draft {
    let mut draft = Draft::default();
    for (number, name) in (0_i64..).zip(names) {
        let mut readings = Readings::default();
        for i in 0..2 * 288_i64 {
            let level = draft.levels.intern(Said::whole_mg_per_dl(100));
            let at = START + number * 3 * 86_400 + i * 300;
            readings.push(u32::try_from(at).unwrap(), level);
        }
        draft.traces.push(TraceDraft {
            sensor: (*name).to_owned(),
            kind: TraceKind::Automatic,
            readings,
        });
    }
    draft.blood_checks.push(BloodCheck {
        at: START + (names.len() as i64 - 1) * 3 * 86_400 + 3600,
        said: Said::whole_mg_per_dl(104),
        source: BloodSource::Meter,
        note: None,
    });
    draft
}

/// A path with a query inside a name, quotes, a way up, a formula: any text of a file may be a sensor's name.
#[tokio::test]
async fn any_name_has_a_page_that_the_list_leads_to() {
    let names = [
        "a/b?c=d#e",
        "100 % \"new\" <b>",
        "..",
        "~x",
        "=1+1",
        "Ärmel, links",
    ];
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book");
    let mut book = Book::open(&path, Mode::CreateIfAbsent).unwrap();
    let go_on = &mut |_, _| std::ops::ControlFlow::Continue(());
    book.import(&named(&names), &Provenance::named("made up", [0; 32]), go_on)
        .unwrap();
    let outside = Outside::new(Zone::utc(), || 1_767_225_600);
    let app = router(Arc::new(KeptBook::new(&path, outside)) as Arc<dyn Backend>);
    let list = fetch(&app, "/trust").await;
    let html = scraper::Html::parse_document(&list);
    let links = scraper::Selector::parse("table.wears tbody th a").unwrap();
    let mut found = Vec::new();
    for link in html.select(&links) {
        let name: String = link.text().collect();
        let address = link.value().attr("href").unwrap();
        let page = fetch(&app, address).await;
        assert_eq!(common::repairs(&page), Vec::<String>::new(), "{name}");
        let words = common::words(&page).replace('\u{a0}', " ");
        assert!(
            words.starts_with(&format!("h1: Sensor {name} ")),
            "{name}: {words}"
        );
        if name == "Ärmel, links" {
            assert!(
                words.contains("Not enough yet to say how far this sensor stood from blood: 1 blood check"),
                "{words}"
            );
        } else {
            assert!(words.contains("no blood check has a usable reading"), "{words}");
            assert!(words.contains("How this sensor scales is not told"), "{words}");
            assert!(!page.contains("circle class=\"ratio"));
        }
        fetch(&app, &format!("{address}/readings.csv")).await;
        found.push(name);
    }
    found.sort();
    let mut all = names.map(str::to_owned);
    all.sort();
    assert_eq!(found, all);
}

async fn fetch(app: &axum::Router, path: &str) -> String {
    let request = Request::builder().uri(path).header("host", "127.0.0.1:8080");
    let response = app
        .clone()
        .oneshot(request.body(Body::empty()).unwrap())
        .await
        .unwrap();
    assert_eq!(response.status(), StatusCode::OK, "{path}");
    let bytes = axum::body::to_bytes(response.into_body(), usize::MAX)
        .await
        .unwrap();
    String::from_utf8(bytes.to_vec()).unwrap()
}
