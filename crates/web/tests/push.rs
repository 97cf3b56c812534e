//! Readings that are sent: whose are taken, how much, and that what is answered is in the book.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use std::sync::Arc;

use axum::Router;
use axum::http::StatusCode;
use common::forged::FORGED;
use common::{Answer, answer_of};
use interstice_book::{Book, Mode};
use interstice_glucose::{Second, Zone};
use interstice_home::Household;
use interstice_web::{Door, KeptBook, Outside, router_with_door};

const NOW: Second = 1_772_352_000;
const HOST: (&str, &str) = ("host", "127.0.0.1:8080");
const JSON: (&str, &str) = ("content-type", "application/json");

/// The app over an empty book, and somebody who may send.
struct Sent {
    app: Router,
    household: Household,
    token: String,
    folder: tempfile::TempDir,
}

impl Sent {
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("book");
        let household = Household::beside(&path);
        let (_, token) = household.let_send("phone", NOW).unwrap();
        let kept = KeptBook::new(&path, Outside::new(Zone::named("Europe/Lisbon").unwrap(), || NOW));
        let door = Door::shut(household.clone(), || NOW);
        Sent {
            app: router_with_door(Arc::new(kept), door),
            household,
            token,
            folder,
        }
    }

    async fn push(&self, body: &str) -> Answer {
        self.push_by(&self.token, body).await
    }

    async fn push_by(&self, token: &str, body: &str) -> Answer {
        let bearer = format!("Bearer {token}");
        answer_of(
            self.app.clone(),
            "POST",
            "/push",
            &[HOST, JSON, ("authorization", &bearer)],
            body,
        )
        .await
    }

    fn book(&self) -> Book {
        Book::open(self.folder.path().join("book"), Mode::ReadOnly).unwrap()
    }

    fn readings(&self) -> usize {
        self.book().load_all().unwrap().reading_count()
    }
}

fn at(minutes: i64) -> i64 {
    NOW + minutes * 60
}

fn reading(minutes: i64, value: u32) -> String {
    format!(
        r#"{{"at": {}, "glucose": {value}, "unit": "mg/dL", "sensor": "A"}}"#,
        at(minutes)
    )
}

fn told(answer: &Answer) -> serde_json::Value {
    serde_json::from_str(&answer.text).unwrap()
}

#[tokio::test]
async fn what_is_sent_is_in_the_book_when_it_is_answered_and_once() {
    let sent = Sent::new();
    let one = sent.push(&reading(-5, 104)).await;
    assert_eq!(
        (one.status, &told(&one)["readings_new"]),
        (StatusCode::OK, &1.into()),
        "{}",
        one.text
    );
    assert_eq!(sent.readings(), 1);
    let list = format!(
        "[{}, {}, {}]",
        reading(-5, 104),
        reading(-10, 101),
        reading(-6000, 99)
    );
    let many = told(&sent.push(&list).await);
    assert_eq!(
        (&many["readings_new"], &many["already_there"]),
        (&2.into(), &1.into()),
        "{many}"
    );
    let shared = format!(
        r#"{{"unit": "mmol/L", "sensor": "A", "readings": [{{"at": "2026-03-01T07:51:00Z", "glucose": 5.8}},
            {{"at": {}, "glucose": 6.1, "kind": "blood-check", "note": "before breakfast"}}]}}"#,
        at(-3)
    );
    let answer = told(&sent.push(&shared).await);
    assert_eq!(
        (&answer["readings_new"], &answer["blood_checks_new"]),
        (&1.into(), &1.into()),
        "{answer}"
    );
    let before = std::fs::read(sent.folder.path().join("book")).unwrap();
    for body in [&list, &shared] {
        assert_eq!(told(&sent.push(body).await)["rejected"], 0);
    }
    assert_eq!(
        before,
        std::fs::read(sent.folder.path().join("book")).unwrap(),
        "nothing was written"
    );
    assert_eq!((sent.readings(), sent.book().journal().unwrap().len()), (4, 1));
}

/// Each is refused, and nothing is written.
#[tokio::test]
async fn only_a_token_lets_send() {
    let sent = Sent::new();
    let (_, revoked) = sent.household.let_send("old", NOW).unwrap();
    sent.household.revoke_source(2).unwrap();
    let device = sent.household.pair("tablet", NOW).unwrap();
    let long = "0".repeat(7000);
    for token in [
        "",
        "x",
        &sent.token[1..],
        &sent.token.to_uppercase(),
        &revoked,
        &device,
        &long,
    ] {
        let answer = sent.push_by(token, &reading(-5, 104)).await;
        assert_eq!(answer.status, StatusCode::UNAUTHORIZED, "{token}");
        assert_eq!(answer.header("www-authenticate"), "Bearer");
    }
    let bearer = format!("Bearer {}", sent.token);
    let basic = format!("Basic {}", sent.token);
    let own = ("authorization", bearer.as_str());
    // A name of somebody else's, a page elsewhere, a page of our own, no token, another way of telling it.
    for (headers, status) in [
        (vec![("host", "example.org"), own], StatusCode::FORBIDDEN),
        (
            vec![HOST, own, ("origin", "https://example.org")],
            StatusCode::FORBIDDEN,
        ),
        (vec![HOST, own, ("origin", "null")], StatusCode::FORBIDDEN),
        (
            vec![HOST, own, ("sec-fetch-site", "cross-site")],
            StatusCode::FORBIDDEN,
        ),
        (vec![HOST], StatusCode::FORBIDDEN),
        (
            vec![HOST, ("authorization", basic.as_str())],
            StatusCode::UNAUTHORIZED,
        ),
        (vec![HOST, ("cookie", own.1)], StatusCode::FORBIDDEN),
    ] {
        let headers: Vec<_> = headers.into_iter().chain([JSON]).collect();
        let answer = answer_of(sent.app.clone(), "POST", "/push", &headers, &reading(-5, 104)).await;
        assert_eq!(answer.status, status, "{headers:?}");
    }
    assert!(!sent.folder.path().join("book").exists());
    // A token writes readings and nothing else.
    for (method, path) in [
        ("POST", "/settings"),
        ("POST", "/imports/undo"),
        ("PUT", "/push"),
        ("POST", "/push/"),
    ] {
        let answer = answer_of(sent.app.clone(), method, path, &[HOST, JSON, own], "id=1").await;
        assert!(answer.status.is_client_error(), "{path}");
    }
    assert_eq!(sent.push(&reading(-5, 104)).await.status, StatusCode::OK);
}

#[tokio::test]
async fn what_cannot_be_read_is_refused_and_told() {
    let sent = Sent::new();
    let own = format!("Bearer {}", sent.token);
    let kind = |kind: &'static str| [HOST, ("content-type", kind), ("authorization", own.as_str())];
    for other in [
        "text/plain",
        "application/x-www-form-urlencoded",
        "multipart/form-data",
        "",
    ] {
        let answer = answer_of(sent.app.clone(), "POST", "/push", &kind(other), &reading(-5, 104)).await;
        assert_eq!(answer.status, StatusCode::UNSUPPORTED_MEDIA_TYPE, "{other}");
    }
    let deep = "[".repeat(100_000) + "\"glucose\"\"at\"";
    for body in [
        "",
        "{",
        "[]",
        "null",
        "1",
        "{\"glucose\": 1",
        "{}",
        "<html>",
        &deep,
        "\u{0}\"at\"\"glucose\"",
    ] {
        let answer = sent.push(body).await;
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{body:.40}");
        let told = told(&answer);
        assert!(told["error"].is_string() || told["rejected"] != 0, "{told}");
    }
    let large = answer_of(
        sent.app.clone(),
        "POST",
        "/push",
        &kind("application/json"),
        &" ".repeat((8 << 20) + 1),
    )
    .await;
    assert_eq!(large.status, StatusCode::PAYLOAD_TOO_LARGE);
}

/// Each is kept as a problem with its reason, and what is well told beside it is taken.
#[tokio::test]
async fn what_a_wrong_clock_or_unit_tells_is_kept_as_a_problem() {
    let sent = Sent::new();
    let rows = [
        reading(6, 104),
        r#"{"at": 1000, "glucose": 104, "unit": "mg/dL"}"#.to_owned(),
        format!(r#"{{"at": {}000, "glucose": 104, "unit": "mg/dL"}}"#, at(-1)),
        format!(r#"{{"at": {}, "glucose": 104, "unit": "mmol/L"}}"#, at(-2)),
        format!(r#"{{"at": {}, "glucose": 5.8, "unit": "mg/dL"}}"#, at(-2)),
        format!(r#"{{"at": {}, "glucose": 104}}"#, at(-2)),
        format!(r#"{{"at": {}, "glucose": -104, "unit": "mg/dL"}}"#, at(-2)),
        format!(r#"{{"at": {}, "glucose": "104", "unit": "mg/dL"}}"#, at(-2)),
        format!(r#"{{"at": {}, "glucose": 1e2, "unit": "mg/dL"}}"#, at(-2)),
        r#"{"at": "2026-03-01", "glucose": 104, "unit": "mg/dL"}"#.to_owned(),
        format!(
            r#"{{"at": {}, "glucose": 104, "unit": "mg/dL", "senser": "A"}}"#,
            at(-2)
        ),
    ];
    for row in &rows {
        let answer = sent.push(row).await;
        assert_eq!(
            (answer.status, &told(&answer)["rejected"]),
            (StatusCode::UNPROCESSABLE_ENTITY, &1.into()),
            "{row}"
        );
    }
    let all = told(
        &sent
            .push(&format!("[{}, {}]", rows.join(", "), reading(4, 90)))
            .await,
    );
    assert_eq!(
        (&all["readings_new"], &all["rejected"]),
        (&1.into(), &11.into()),
        "{all}"
    );
    let book = sent.book();
    let import = book.imports().unwrap()[0].receipt.change.unwrap();
    let kept = book.rejected(import).unwrap();
    assert_eq!((kept.len(), sent.readings()), (11, 1));
    assert!(
        kept[0].reason.contains("future") && kept[1].reason.contains("2000"),
        "{kept:?}"
    );
}

#[tokio::test]
async fn markup_that_is_sent_stays_text() {
    let sent = Sent::new();
    let body = serde_json::json!([
        { "at": at(-5), "glucose": 104, "unit": "mg/dL", "sensor": FORGED },
        { "at": at(-4), "glucose": 104, "unit": "mg/dL", "kind": "blood-check", "note": FORGED },
        { "at": FORGED, "glucose": 104, "unit": "mg/dL" },
    ]);
    let answer = told(&sent.push(&body.to_string()).await);
    assert_eq!(
        (&answer["readings_new"], &answer["rejected"]),
        (&1.into(), &1.into()),
        "{answer}"
    );
    for path in ["/now", "/imports", "/imports/1/rejected", "/write", "/trust"] {
        let page = answer_of(sent.app.clone(), "GET", path, &[HOST], "").await;
        assert!(!page.text.contains("<img id=forged"), "{path}");
    }
}

/// A flood by wrong tokens is answered ever more curtly, and holds up nobody with a right one; one by a right token is held up.
#[tokio::test]
async fn floods_are_held_up() {
    let sent = Sent::new();
    let mut last = StatusCode::OK;
    for _ in 0..60 {
        last = sent.push_by("forged", &reading(-5, 104)).await.status;
    }
    assert_eq!(last, StatusCode::TOO_MANY_REQUESTS);
    let mut taken = 0;
    let held = loop {
        let answer = sent.push(&reading(-5, 104)).await;
        if answer.status != StatusCode::OK {
            break answer;
        }
        taken += 1;
        assert!(taken < 400);
    };
    assert_eq!(held.status, StatusCode::TOO_MANY_REQUESTS);
    assert!(
        taken >= 240 && held.header("retry-after").parse::<u64>().unwrap() <= 2,
        "{taken}"
    );
    // The pages go on, and so does another sender.
    let (_, other) = sent.household.let_send("watch", NOW).unwrap();
    assert_eq!(
        sent.push_by(&other, &reading(-5, 104)).await.status,
        StatusCode::OK
    );
    let page = answer_of(sent.app.clone(), "GET", "/settings", &[HOST], "").await;
    assert_eq!(page.status, StatusCode::OK);
}

#[tokio::test]
async fn documents_of_standards_are_taken_too() {
    let sent = Sent::new();
    let fhir = r#"{"resourceType": "Bundle", "entry": [{"resource": {"resourceType": "Observation", "status": "final",
        "code": {"coding": [{"system": "http://loinc.org", "code": "99504-3"}]}, "effectiveDateTime": "2026-03-01T07:30:00+01:00",
        "valueQuantity": {"value": 5.4, "unit": "mmol/L", "code": "mmol/L"}}}]}"#;
    let omh = r#"[{"blood_glucose": {"unit": "mg/dL", "value": 95}, "specimen_source": "interstitial fluid",
        "effective_time_frame": {"date_time": "2026-02-28T07:25:00Z"}}]"#;
    for body in [fhir, omh, fhir] {
        let answer = sent.push(body).await;
        assert_eq!(answer.status, StatusCode::OK, "{}", answer.text);
    }
    assert_eq!(sent.readings(), 2);
    // What a feed tells says nothing of where it was lived.
    assert!(sent.book().load_all().unwrap().lived.is_empty());
}
