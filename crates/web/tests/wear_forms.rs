//! A sensor written down by the forms of the Wear page, and taken back.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use axum::http::StatusCode;
use common::desk::{Desk, OWN, form_of};
use interstice_glucose::{
    Draft, Ending, Readings, Said, Second, SensorNote, SensorNoteKind, SkinAfter, TraceDraft, TraceKind,
};

/// 2025-12-01T00:00:00Z.
const START: Second = 1_764_547_200;
/// 2026-01-01T00:00:00Z.
const NOW: Second = 1_767_225_600;

/// Invented: ten days of one sensor that stays at 110 mg/dL, long before now.
fn draft() -> Draft {
    let mut draft = Draft::default();
    let level = draft.levels.intern(Said::whole_mg_per_dl(110));
    let mut readings = Readings::default();
    for i in 0..10 * 288_i64 {
        readings.push(u32::try_from(START + 300 * i).unwrap(), level);
    }
    draft.traces.push(TraceDraft {
        sensor: "before".to_owned(),
        kind: TraceKind::Automatic,
        readings,
    });
    draft
}

fn desk() -> Desk {
    Desk::new(&draft(), || NOW)
}

fn notes(desk: &Desk) -> Vec<SensorNote> {
    let record = desk.book.load_all().unwrap();
    record.sensor_notes.iter().map(|kept| kept.it.clone()).collect()
}

const PUT_ON: &str = "place=left+thigh&spot=outer&preparation=wash&preparation=alcohol&cover=over-patch&lot=L%3C7%3E&then=start&at=2025-12-31T20%3A30";

#[tokio::test]
async fn put_on_and_started_is_one_change_and_is_taken_back_whole() {
    let desk = desk();
    let before = desk.get("/wear").await;
    assert!(before.contains("No sensor is known to be on now"));
    let (status, to, _) = desk.post("/wear/put-on", PUT_ON, OWN).await;
    assert_eq!(status, StatusCode::SEE_OTHER);
    let [put_on, started] = notes(&desk).try_into().unwrap();
    assert_eq!(
        (put_on.kind, started.kind, put_on.at, started.at),
        (
            SensorNoteKind::PutOn,
            SensorNoteKind::Started,
            NOW - 12_600,
            NOW - 12_600
        )
    );
    assert_eq!(put_on.site.as_deref(), Some("left thigh, outer"));
    assert_eq!(put_on.detail.preparation, ["wash", "alcohol"]);
    assert_eq!(
        (put_on.detail.cover.as_slice(), put_on.detail.lot.as_deref()),
        (["over-patch".to_owned()].as_slice(), Some("L<7>"))
    );
    let page = desk.get(to.split('#').next().unwrap()).await;
    assert!(
        page.contains("left thigh, outer") && page.contains("Written down."),
        "{page}"
    );
    // A lot that looks like markup stays text, and what was done last is offered again.
    assert!(page.contains("L&lt;7&gt;") && !page.contains("L<7>"));
    let (action, fields) = form_of(&page, "/wear/undo");
    assert_eq!(desk.post(&action, &fields, OWN).await.0, StatusCode::SEE_OTHER);
    assert!(notes(&desk).is_empty());
    assert_eq!(desk.post(&action, &fields, OWN).await.0, StatusCode::BAD_REQUEST);
}

#[tokio::test]
async fn a_sensor_beds_in_is_started_and_ends_with_what_it_left() {
    let desk = desk();
    let form = "place=right+upper+arm&then=wait&at=2025-12-30T20%3A00";
    desk.post("/wear/put-on", form, OWN).await;
    let page = desk.get("/wear").await;
    assert!(page.contains("right upper arm, not started"), "{page}");
    let (action, fields) = form_of(&page, "/wear/start");
    let fields = format!("{fields}&at=2025-12-31T20%3A00");
    assert_eq!(desk.post(&action, &fields, OWN).await.0, StatusCode::SEE_OTHER);
    let page = desk.get("/wear").await;
    assert!(
        !page.contains("/wear/start"),
        "one that is started is not started again"
    );
    let (action, fields) = form_of(&page, "/wear/end");
    let ended = format!(
        "{fields}&how=knocked+off&removal=dry&comfort=hardly+felt&skin=irritant&skin_days=2&note=a+door"
    );
    let (status, to, _) = desk.post(&action, &ended, OWN).await;
    assert_eq!(status, StatusCode::SEE_OTHER, "{to}");
    let end = notes(&desk).pop().unwrap();
    assert_eq!(
        (end.kind, end.at, end.note.as_deref()),
        (SensorNoteKind::Ended, NOW, Some("a door"))
    );
    assert_eq!(end.detail.ending, Some(Ending::KnockedOff));
    assert_eq!(
        (end.detail.skin, end.detail.skin_days),
        (Some(SkinAfter::Irritant), Some(2))
    );
    assert!(
        desk.get("/wear")
            .await
            .contains("No sensor is known to be on now")
    );
}

#[tokio::test]
async fn what_makes_no_sense_is_refused_and_writes_nothing() {
    let desk = desk();
    for (path, form) in [
        ("/wear/put-on", "spot=outer"),
        ("/wear/put-on", "place=left+thigh&at=yesterday"),
        ("/wear/put-on", "place=left+thigh&at=2027-01-01T00%3A00"),
        ("/wear/end", "how=exploded"),
        ("/wear/end", "skin_days=-1"),
        ("/wear/undo", "change=999"),
        // The import itself is not taken back by this door.
        ("/wear/undo", "change=1"),
    ] {
        let (status, _, page) = desk.post(path, form, OWN).await;
        assert_eq!(status, StatusCode::BAD_REQUEST, "{path} {form} {page}");
    }
    let (status, _, _) = desk
        .post("/wear/put-on", PUT_ON, "http://elsewhere.example")
        .await;
    assert_eq!(status, StatusCode::FORBIDDEN);
    assert!(notes(&desk).is_empty());
    assert!(desk.book.load_all().unwrap().reading_count() > 0);
}

/// What cannot have been in that order is questioned, not kept.
#[tokio::test]
async fn a_named_sensor_is_not_started_twice_nor_ended_before_it_was_put_on() {
    let desk = desk();
    let on = "place=left+thigh&sensor=T1&then=start&at=2025-12-30T20%3A30";
    assert_eq!(desk.post("/wear/put-on", on, OWN).await.0, StatusCode::SEE_OTHER);
    let page = desk.get("/wear").await;
    assert!(page.contains("Sensor T1, left thigh"), "{page}");
    for (path, form) in [
        ("/wear/start", "sensor=T1&at=2025-12-31T09%3A00"),
        ("/wear/end", "sensor=T1&how=failed&at=2025-12-29T09%3A00"),
        ("/wear/start", "sensor=T1&at=2025-12-29T09%3A00"),
    ] {
        let (status, _, page) = desk.post(path, form, OWN).await;
        assert_eq!(status, StatusCode::BAD_REQUEST, "{path} {form} {page}");
    }
    assert_eq!(notes(&desk).len(), 2);
    // After its end the name may be used again.
    for (path, form) in [
        ("/wear/end", "sensor=T1&how=failed&at=2025-12-31T09%3A00"),
        (
            "/wear/put-on",
            "place=right+thigh&sensor=T1&then=start&at=2025-12-31T10%3A00",
        ),
    ] {
        assert_eq!(
            desk.post(path, form, OWN).await.0,
            StatusCode::SEE_OTHER,
            "{path} {form}"
        );
    }
}

/// Readings that end long ago say so, and the page can be had as of then.
#[tokio::test]
async fn old_readings_are_told_as_old() {
    let desk = desk();
    let page = desk.get("/wear").await;
    assert!(page.contains("The last reading is of"), "{page}");
    let then = desk.get("/wear?at=2025-12-10T12:00").await;
    assert!(!then.contains("The last reading is of") && then.contains("Sensor before"));
    let json = desk.get("/api/wear?at=2025-12-10T12:00").await;
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(json["now"], "2025-12-10T12:00:00+00:00");
    assert_eq!(json["on_now"].as_array().unwrap().len(), 1);
}

/// What is said of a sensor's age is the Trust page's own figure of that day of wear, and of a place its own.
#[tokio::test]
async fn trust_at_an_age_and_at_a_place_is_what_trust_says() {
    let json = async |path: &str| -> serde_json::Value {
        let answer = common::get(common::Fake::days(14), path).await;
        serde_json::from_str(&answer.text).unwrap()
    };
    let (wear, trust) = (json("/api/wear").await, json("/api/trust").await);
    let at_age = &wear["on_now"][0]["trust"];
    let day = at_age["day"].as_u64().unwrap().to_string();
    let days = trust["by"]["day_of_wear"].as_array().unwrap();
    let of_day = days.iter().find(|line| line["key"] == *day).unwrap();
    let (figure, pairs) = if at_age["of_that_day"] == true {
        (&of_day["mard_percent"], &of_day["pairs"])
    } else {
        assert!(of_day["mard_percent"].is_null());
        (&trust["mard_percent"], &trust["pairs"])
    };
    assert!(figure.is_f64());
    assert_eq!((&at_age["mard_percent"], &at_age["pairs"]), (figure, pairs));
    let places = wear["places"].as_array().unwrap();
    let mut compared = 0;
    for line in trust["by"]["place"].as_array().unwrap() {
        let named = |place: &&serde_json::Value| {
            let name = format!(
                "{} {}",
                place["side"].as_str().unwrap_or(""),
                place["site"].as_str().unwrap()
            );
            line["key"] == *name
        };
        let Some(place) = places.iter().find(named) else {
            continue;
        };
        assert_eq!(
            (&place["mard_percent"], &place["pairs"]),
            (&line["mard_percent"], &line["pairs"])
        );
        compared += 1;
    }
    assert!(compared > 0, "{places:?}");
}

/// A book with nothing in it is no dead end: a kind is described, a sensor put on, and there is a plan.
#[tokio::test]
async fn an_empty_book_can_be_written_in_and_planned_with() {
    let desk = Desk::new(&Draft::default(), || NOW);
    let page = desk.get("/wear").await;
    assert!(page.contains("No readings have been brought in yet") && page.contains("Describe your sensors"));
    for wrong in [
        "name=mine&wear_days=x&warm_up_min=60",
        "name=&wear_days=10&warm_up_min=60",
        "name=mine&wear_days=1&warm_up_min=1440",
        "name=mine&wear_days=1e300&warm_up_min=1",
        "name=mine&wear_days=10&warm_up_min=60&site=moon",
    ] {
        let (status, _, page) = desk.post("/wear/kind", wrong, OWN).await;
        assert_eq!(status, StatusCode::BAD_REQUEST, "{wrong}: {page}");
    }
    let kind = "name=mine&wear_days=10%2C5&extra_h=12&warm_up_min=60&clock=start&longest_bedding_h=24&site=upper+arm&site=thigh";
    assert_eq!(desk.post("/wear/kind", kind, OWN).await.0, StatusCode::SEE_OTHER);
    let kinds = desk.book.sensor_kinds().unwrap();
    let [kept] = kinds.all.as_slice() else {
        panic!("{kinds:?}")
    };
    assert_eq!(
        (kept.wear_min, kept.extra_min, kept.warm_up_min),
        (15_120, 720, 60)
    );
    assert!(kept.side_by_side && kept.sites.len() == 2);
    desk.post(
        "/wear/put-on",
        "place=left+thigh&then=start&at=2025-12-31T20%3A30",
        OWN,
    )
    .await;
    let json: serde_json::Value = serde_json::from_str(&desk.get("/api/wear").await).unwrap();
    assert_eq!(json["on_now"].as_array().unwrap().len(), 1);
    assert!(
        json["plan"].as_array().unwrap().len() > 5 && json["unmet"] == serde_json::json!([]),
        "{json}"
    );
}
