//! Written down by the forms of the Write page, corrected, struck out and taken back.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use axum::http::StatusCode;
use common::desk::{Desk, NOW, OWN, flat, form_of};
use interstice_glucose::{BloodCheck, Dose, MarkKind, Meal};

fn desk() -> Desk {
    Desk::new(&flat("before"), || NOW)
}

fn checks(desk: &Desk) -> Vec<BloodCheck> {
    let record = desk.book.load_all().unwrap();
    record.blood_checks.iter().map(|kept| kept.it.clone()).collect()
}

fn doses(desk: &Desk) -> Vec<Dose> {
    let record = desk.book.load_all().unwrap();
    record.doses.iter().map(|kept| kept.it.clone()).collect()
}

fn meals(desk: &Desk) -> Vec<Meal> {
    let record = desk.book.load_all().unwrap();
    record.meals.iter().map(|kept| kept.it.clone()).collect()
}

/// Three taps: what, the number, the button.
#[tokio::test]
async fn a_blood_check_is_written_now_and_taken_back() {
    let desk = desk();
    let page = desk.get("/write").await;
    let (action, fields) = form_of(&page, "/write/new");
    let (status, to, _) = desk.post(&action, &format!("{fields}&amount=104"), OWN).await;
    assert_eq!(status, StatusCode::SEE_OTHER);
    let [check] = checks(&desk).try_into().unwrap();
    assert_eq!((check.at, check.said.to_string()), (NOW, "104 mg/dL".to_owned()));
    let page = desk.get(&to).await;
    assert!(
        page.contains("Written down.") && page.contains("blood check 104"),
        "{page}"
    );
    let (action, fields) = form_of(&page, "/write/undo");
    assert_eq!(desk.post(&action, &fields, OWN).await.0, StatusCode::SEE_OTHER);
    assert!(checks(&desk).is_empty());
    assert_eq!(desk.post(&action, &fields, OWN).await.0, StatusCode::BAD_REQUEST);
}

#[tokio::test]
async fn a_check_in_the_other_unit_is_questioned() {
    let desk = desk();
    let form = "what=blood&amount=6%2C1&at=2025-12-31T20%3A30&words=%3Cb%3Ehand%3C%2Fb%3E";
    let (status, _, question) = desk.post("/write/new", form, OWN).await;
    assert_eq!(status, StatusCode::OK);
    assert!(question.contains("hard to believe") && question.contains("It was 6,1 mmol/L"));
    assert!(
        checks(&desk).is_empty(),
        "nothing is written before it is answered"
    );
    let (action, fields) = form_of(&question, "/write/new");
    assert!(
        fields.contains("unit=mmol"),
        "the likely unit stands first: {fields}"
    );
    let (status, to, _) = desk.post(&action, &fields, OWN).await;
    assert_eq!(status, StatusCode::SEE_OTHER);
    let [check] = checks(&desk).try_into().unwrap();
    assert_eq!(
        (check.at, check.said.to_string()),
        (NOW - 12_600, "6.1 mmol/L".to_owned())
    );
    let page = desk.get(&to).await;
    assert!(
        page.contains("&lt;b&gt;hand&lt;/b&gt;") && !page.contains("<b>hand"),
        "words stay text"
    );
}

#[tokio::test]
async fn an_entry_is_corrected_struck_out_and_restored() {
    let desk = desk();
    let form = "what=dose&amount=4.5&insulin=rapid&at=2025-12-31T20%3A30";
    desk.post("/write/new", form, OWN).await;
    let page = desk.get("/write").await;
    assert!(page.contains("4.5 units rapid"), "{page}");
    let link = page.split("href=\"/write/entry?entry=").nth(1).unwrap();
    let key = link.split('"').next().unwrap();
    let page = desk.get(&format!("/write/entry?entry={key}")).await;
    let (action, _) = form_of(&page, "/write/correct");
    let fields = format!("what=dose&entry={key}&amount=5&insulin=rapid&at=2025-12-31T20%3A45");
    let (status, to, _) = desk.post(&action, &fields, OWN).await;
    assert_eq!(status, StatusCode::SEE_OTHER);
    let [dose] = doses(&desk).try_into().unwrap();
    assert!((dose.units - 5.0).abs() < 1e-12 && dose.at == NOW - 11_700);
    let page = desk.get(&to).await;
    let (action, fields) = form_of(&page, "/write/undo");
    desk.post(&action, &fields, OWN).await;
    let [dose] = doses(&desk).try_into().unwrap();
    assert!((dose.units - 4.5).abs() < 1e-12, "the first is back");
    let page = desk.get("/write").await;
    let (action, fields) = form_of(&page, "/write/strike");
    let (_, to, _) = desk.post(&action, &fields, OWN).await;
    assert!(doses(&desk).is_empty());
    let page = desk.get(&to).await;
    let (action, fields) = form_of(&page, "/write/undo");
    desk.post(&action, &fields, OWN).await;
    assert_eq!(doses(&desk).len(), 1);
}

#[tokio::test]
async fn what_is_written_often_is_one_tap() {
    let desk = desk();
    for day in [29, 30, 31] {
        let form = format!("what=meal&amount=40&words=soup+%26+bread&at=2025-12-{day}T12%3A00");
        desk.post("/write/new", &form, OWN).await;
    }
    let page = desk.get("/write").await;
    assert!(page.contains("soup &amp; bread, 40 g"), "{page}");
    let (action, fields) = form_of(&page, "/write/new");
    assert!(fields.contains("what=meal"), "{fields}");
    let (status, ..) = desk.post(&action, &fields, OWN).await;
    assert_eq!(status, StatusCode::SEE_OTHER);
    let meals = meals(&desk);
    assert_eq!(meals.len(), 4);
    assert_eq!(meals[3].at, NOW);
}

#[tokio::test]
async fn every_kind_is_written_or_says_what_is_missing() {
    let desk = desk();
    let written = [
        (
            "activity",
            "words=rowing&at=2025-12-31T18%3A00&until=2025-12-31T18%3A40",
        ),
        ("drink", "amount=300"),
        ("sleep", "at=2025-12-30T23%3A00&until=2025-12-31T06%3A00"),
        ("symptom", "words=shaky"),
        ("illness", "at=2025-12-31T08%3A00"),
        ("ketones", "amount=0.3"),
        ("medicine", "words=paracetamol"),
        ("temperature", "amount=21"),
        ("tag", "words=at+home"),
        ("note", "words=a+long+day"),
    ];
    for (what, fields) in written {
        let page = desk.get(&format!("/write?what={what}")).await;
        assert!(page.contains("id=\"form\""), "{what}");
        let (status, _, said) = desk
            .post("/write/new", &format!("what={what}&{fields}"), OWN)
            .await;
        assert_eq!(status, StatusCode::SEE_OTHER, "{what}: {said}");
    }
    let record = desk.book.load_all().unwrap();
    assert_eq!(record.marks.len(), written.len());
    assert!(record.marks.iter().any(|kept| kept.it.kind == MarkKind::Tag));
    for (what, fields) in [
        ("sleep", ""),
        ("note", ""),
        ("ketones", "amount=many"),
        ("dose", "amount=900"),
        ("dose", "amount=4&at=2026-02-01T10%3A00"),
        ("nothing", ""),
        ("artefact", "words=x"),
    ] {
        let (status, _, page) = desk
            .post("/write/new", &format!("what={what}&{fields}"), OWN)
            .await;
        assert_eq!(status, StatusCode::BAD_REQUEST, "{what} {fields}");
        assert!(page.contains("Back to the form"), "{what}");
    }
    let (status, ..) = desk.post("/write/strike", "entry=dose-99", OWN).await;
    assert_eq!(status, StatusCode::BAD_REQUEST);
    // What came from a file is not taken back as if it had been written by hand.
    let (status, ..) = desk.post("/write/undo", "change=1", OWN).await;
    assert_eq!(status, StatusCode::BAD_REQUEST);
}

#[tokio::test]
async fn another_page_cannot_write() {
    let desk = desk();
    let (status, ..) = desk
        .post("/write/new", "what=drink&amount=300", "http://elsewhere.example")
        .await;
    assert_eq!(status, StatusCode::FORBIDDEN);
    assert!(desk.book.load_all().unwrap().marks.is_empty());
}

/// The identity the page hands out and the answer of the address that takes entries that waited.
async fn queued(desk: &Desk, form: &str) -> serde_json::Value {
    let (_, _, answer) = desk.post("/write/queued", form, OWN).await;
    serde_json::from_str(&answer).unwrap()
}

const KEY: &str = "0123456789abcdef0123456789abcdef";

#[tokio::test]
async fn an_entry_sent_twice_is_written_once() {
    let desk = desk();
    let book = desk.book.identity().unwrap();
    let form = format!("key={KEY}&book={book}&what=meal&amount=45&words=rice&at=2025-12-31T20:30:00.123Z");
    let first = queued(&desk, &form).await;
    assert_eq!(first["state"], "written");
    assert_eq!(
        queued(&desk, &form).await,
        first,
        "the same answer, and nothing new"
    );
    let [meal] = meals(&desk).try_into().unwrap();
    assert_eq!((meal.at, meal.carbohydrate_g), (NOW - 12_600, Some(45.0)));
    // Another entry of the same words is another entry.
    let other = form
        .replace(KEY, "ffffffffffffffffffffffffffffffff")
        .replace("20:30", "21:30");
    assert_eq!(queued(&desk, &other).await["state"], "written");
    assert_eq!(meals(&desk).len(), 2);
    // Taken back, it does not come back because a phone sends it again.
    let change = first["change"].to_string();
    desk.post("/write/undo", &format!("change={change}"), OWN).await;
    assert_eq!(queued(&desk, &form).await, first);
    assert_eq!(meals(&desk).len(), 1);
}

#[tokio::test]
async fn what_waited_is_refused_with_its_reason() {
    let desk = desk();
    let book = desk.book.identity().unwrap();
    let of = |rest: &str| format!("key={KEY}&book={book}&{rest}");
    let later = queued(&desk, &of("what=meal&amount=45&at=2026-01-02T00:00:00Z")).await;
    assert_eq!(later["state"], "refused");
    assert!(later["why"].as_str().unwrap().contains("future"), "{later}");
    let check = queued(
        &desk,
        &of("what=blood&amount=6.1&at=2025-12-31T20:30:00Z&labelled=mg/dL"),
    )
    .await;
    assert_eq!(
        (check["state"].as_str(), check["said"].as_str()),
        (Some("which-unit"), Some("6.1 mg/dL"))
    );
    let other = of("what=meal&amount=45").replace(&book, "00000000000000aa");
    assert_eq!(queued(&desk, &other).await["state"], "another-book");
    for key in ["short", "0123456789abcdef%20--", ""] {
        let wrong = of("what=meal&amount=45").replace(KEY, key);
        assert_eq!(queued(&desk, &wrong).await["state"], "refused", "{key}");
    }
    assert!(meals(&desk).is_empty() && checks(&desk).is_empty());
    // The unit its form asked for stands, whatever the book reads now.
    let labelled = of("what=blood&amount=6.1&at=2025-12-31T20:30:00Z&labelled=mmol/L");
    assert_eq!(queued(&desk, &labelled).await["state"], "written");
    assert_eq!(checks(&desk)[0].said.to_string(), "6.1 mmol/L");
}

/// What a phone keeps tells of nobody.
#[tokio::test]
async fn the_page_that_is_kept_has_nothing_of_the_book() {
    let desk = desk();
    let form = "what=dose&amount=4.5&insulin=rapid&words=private&at=2025-12-31T20%3A30";
    desk.post("/write/new", form, OWN).await;
    let away = desk.get("/write/away").await;
    assert!(
        !away.contains("4.5") && !away.contains("private") && !away.contains("110"),
        "{away}"
    );
    assert!(away.contains("name=\"labelled\" value=\"mg/dL\""));
    let worker = desk.get("/sw.js").await;
    for kept in worker
        .split("const kept = [")
        .nth(1)
        .unwrap()
        .split(']')
        .next()
        .unwrap()
        .split(',')
    {
        let address = kept.trim_matches('"');
        let (media, bytes) = desk.file(address).await;
        assert!(!media.is_empty() && !bytes.is_empty(), "{address}");
    }
    let version = |worker: &str| worker.lines().nth(1).unwrap().to_owned();
    desk.post(
        "/settings",
        "unit=mmol%2FL&targets=adult&zone=Europe%2FLisbon",
        OWN,
    )
    .await;
    assert_ne!(
        version(&worker),
        version(&desk.get("/sw.js").await),
        "another unit, another page to keep"
    );
}
