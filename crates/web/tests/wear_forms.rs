//! A sensor written down by the forms of the Wear page, and taken back.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use axum::http::StatusCode;
use common::desk::{Desk, NOW, OWN, PHOTO, flat, form_of, in_parts};
use interstice_glucose::{Draft, Ending, SensorNote, SensorNoteKind, SkinAfter};

fn desk() -> Desk {
    Desk::new(&flat("before"), || NOW)
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
    // One that beds in is on already: next it is started, and the form is for the one after it.
    desk.post("/wear/put-on", "place=left+upper+arm&then=wait", OWN)
        .await;
    let page = desk.get("/wear").await.replace('\u{a0}', " ");
    assert!(
        page.contains("Next: start it on") && !page.contains("Next: put one on"),
        "{page}"
    );
    assert!(
        !page.contains("<option value=\"left upper arm\" selected>"),
        "{page}"
    );
}

/// The wearer's own spots are there to tap, with their rest; another can be written.
#[tokio::test]
async fn own_spots_of_a_place_are_offered() {
    let desk = desk();
    for (spot, then) in [
        ("spot=outer", "at=2025-12-20T20%3A30"),
        ("spot=outer&another_spot=above+the+bone", "at=2025-12-24T20%3A30"),
    ] {
        let on = format!("place=left+thigh&{spot}&then=start&{then}");
        assert_eq!(desk.post("/wear/put-on", &on, OWN).await.0, StatusCode::SEE_OTHER);
    }
    let sites: Vec<_> = notes(&desk).iter().filter_map(|note| note.site.clone()).collect();
    assert_eq!(sites, ["left thigh, outer", "left thigh, above the bone"]);
    let page = desk.get("/wear?place=left+thigh").await;
    for spot in ["above the bone", "outer", "front"] {
        assert!(
            page.contains(&format!("name=\"spot\" value=\"{spot}\"")),
            "{spot}: {page}"
        );
    }
    // Not of another place.
    let page = desk.get("/wear?place=right+thigh").await;
    assert!(!page.contains("above the bone\"") && page.contains("value=\"front\""));
}

/// A photo goes with the moment it shows, in one change.
#[tokio::test]
async fn a_photo_is_kept_beside_a_put_on_and_an_end() {
    let desk = desk();
    let photos = || desk.book.load_all().unwrap().photos;
    let fields = [
        ("place", "left thigh"),
        ("sensor", "T1"),
        ("then", "start"),
        ("at", "2025-12-31T20:30"),
    ];
    let body = || in_parts(&fields, ("a.png", PHOTO));
    let (status, to, page) = desk.parts("/wear/put-on", body(), OWN).await;
    assert_eq!(status, StatusCode::SEE_OTHER, "{page}");
    assert_eq!((photos().len(), notes(&desk).len()), (1, 2));
    let page = desk.get(to.split('#').next().unwrap()).await;
    let (action, undo) = form_of(&page, "/wear/undo");
    assert_eq!(desk.post(&action, &undo, OWN).await.0, StatusCode::SEE_OTHER);
    assert_eq!((photos().len(), notes(&desk).len()), (0, 0));
    // A browser sends an empty file where none was chosen.
    let bare = in_parts(&fields, ("", b""));
    assert_eq!(
        desk.parts("/wear/put-on", bare, OWN).await.0,
        StatusCode::SEE_OTHER
    );
    assert_eq!(photos().len(), 0);
    let ended = in_parts(&[("sensor", "T1"), ("how", "failed")], ("b.png", PHOTO));
    assert_eq!(desk.parts("/wear/end", ended, OWN).await.0, StatusCode::SEE_OTHER);
    assert_eq!(photos()[0].sensor.as_deref(), Some("T1"));
    let no_picture = in_parts(&fields, ("a.txt", b"hello"));
    assert_eq!(
        desk.parts("/wear/put-on", no_picture, OWN).await.0,
        StatusCode::BAD_REQUEST
    );
    assert_eq!(
        desk.parts("/wear/end", body(), "http://elsewhere").await.0,
        StatusCode::FORBIDDEN
    );
}

/// A name that nothing else has is questioned, and a refusal leads back to where its form stands.
#[tokio::test]
async fn an_unknown_sensor_is_questioned_and_a_refusal_leads_back() {
    let desk = desk();
    let (status, _, page) = desk.post("/wear/end", "sensor=nobody&how=failed", OWN).await;
    assert_eq!(status, StatusCode::BAD_REQUEST);
    assert!(
        page.contains("nobody") && page.contains("href=\"/wear#on-now\""),
        "{page}"
    );
    assert!(notes(&desk).is_empty());
    // One that has readings is known.
    let known = desk.post("/wear/end", "sensor=before&how=failed", OWN).await;
    assert_eq!(known.0, StatusCode::SEE_OTHER);
    for (path, form, back) in [
        ("/wear/put-on", "spot=outer", "/wear#put-on"),
        ("/wear/kind", "name=mine&wear_days=x&warm_up_min=60", "/wear#kind"),
        ("/wear/choose", "rest_days=many", "/wear#choices"),
        ("/wear/trial", "name=x", "/wear#trials"),
        ("/wear/stock/delivery", "days=x", "/wear#drawer"),
    ] {
        let (status, _, page) = desk.post(path, form, OWN).await;
        assert_eq!(status, StatusCode::BAD_REQUEST, "{path}");
        assert!(page.contains(&format!("href=\"{back}\"")), "{path}: {page}");
    }
    // Each of those places is on the page.
    let page = desk.get("/wear").await;
    for place in ["on-now", "put-on", "kind", "choices", "trials", "drawer"] {
        assert!(page.contains(&format!("id=\"{place}\"")), "{place}");
    }
}

#[tokio::test]
async fn what_the_plan_goes_by_is_chosen_on_the_page() {
    let desk = desk();
    let post = async |path: &str, form: &str| {
        let (status, to, page) = desk.post(path, form, OWN).await;
        assert_eq!(
            (status, to.as_str()),
            (StatusCode::SEE_OTHER, "/wear#choices"),
            "{path} {form} {page}"
        );
        desk.book.wear_choices().unwrap()
    };
    let times = "put_on_from=18%3A00&put_on_to=21%3A30&start_from=07%3A00&start_to=00%3A00&bedding_h=12&rest_days=9&days_ahead=60";
    let chosen = post("/wear/choose", times).await;
    assert_eq!(
        (
            chosen.put_on_hours.to_string().as_str(),
            chosen.start_hours.to_string().as_str()
        ),
        ("18:00-21:30", "07:00-00:00")
    );
    assert_eq!(
        (chosen.bedding_h, chosen.rest_days, chosen.horizon_days),
        (12, 9, 60)
    );
    let chosen = post(
        "/wear/choose/away",
        "from=2026-02-01&to=2026-02-10&note=%3Cski%3E",
    )
    .await;
    assert_eq!(chosen.away[0].days(), "2026-02-01..2026-02-10");
    let chosen = post("/wear/choose/pin", "at=2026-01-20T19%3A00&place=left+thigh").await;
    // 2026-01-20T19:00:00Z, the zone of this book.
    assert_eq!(
        (chosen.pins[0].at, chosen.pins[0].site.as_deref()),
        (NOW + 19 * 86_400 + 19 * 3600, Some("left thigh"))
    );
    let chosen = post("/wear/choose/weights", "unused-hour=0%2C75&away=100").await;
    assert_eq!(chosen.weights.into_values().collect::<Vec<_>>(), [0.75]);
    let page = desk.get("/wear").await;
    assert!(
        page.contains("1 February 2026 to 10 February 2026") && page.contains("&lt;ski&gt;"),
        "{page}"
    );
    let (action, fields) = form_of(&page, "/wear/choose/pin");
    assert!(post(&action, &fields).await.pins.is_empty());
    let (action, fields) = form_of(&page, "/wear/choose/away");
    assert!(
        post(&action, &format!("{fields}&then=remove"))
            .await
            .away
            .is_empty()
    );
    assert!(post("/wear/choose/usual", "of=weights").await.weights.is_empty());
    let chosen = post("/wear/choose/usual", times).await;
    assert_eq!(
        (chosen.bedding_h, chosen.put_on_hours.to_string().as_str()),
        (24, "08:00-21:00")
    );
    for (path, form) in [
        ("/wear/choose", "put_on_from=8%3A00"),
        ("/wear/choose", "bedding_h=500&rest_days=3"),
        ("/wear/choose/away", "from=2026-02-10&to=2026-02-01"),
        ("/wear/choose/away", "note=x"),
        ("/wear/choose/pin", "place=left+thigh"),
        ("/wear/choose/weights", "away=heavy"),
    ] {
        assert_eq!(
            desk.post(path, form, OWN).await.0,
            StatusCode::BAD_REQUEST,
            "{path} {form}"
        );
    }
    let untouched = desk.book.wear_choices().unwrap();
    assert_eq!(untouched, interstice_glucose::WearChoices::default());
}

#[tokio::test]
async fn a_trial_is_planned_begun_and_given_up_on_the_page() {
    let desk = desk();
    let kind = "name=mine&wear_days=10&extra_h=12&warm_up_min=60&clock=start&longest_bedding_h=24&site=upper+arm&site=thigh";
    assert_eq!(desk.post("/wear/kind", kind, OWN).await.0, StatusCode::SEE_OTHER);
    let ways = "compare=cover&arm=over-patch&arm=nothing&arm=&measure=hours+on&difference=";
    let page = desk.get(&format!("/wear/trial?{ways}")).await;
    let (action, fields) = form_of(&page, "/wear/trial");
    assert!(fields.contains("arm=over-patch&arm=nothing"), "{fields}");
    let too_few = desk
        .post(&action, &format!("{fields}&name=patch&sensors=2"), OWN)
        .await;
    assert_eq!(too_few.0, StatusCode::BAD_REQUEST);
    let begun = desk
        .post(&action, &format!("{fields}&name=%3Cpatch%3E&sensors=8"), OWN)
        .await;
    assert_eq!(
        (begun.0, begun.1.as_str()),
        (StatusCode::SEE_OTHER, "/wear#trials"),
        "{}",
        begun.2
    );
    let [kept] = &desk.book.trials().unwrap()[..] else {
        panic!("one was begun")
    };
    assert_eq!((kept.trial.sensors, kept.trial.limit_min), (8, 14_400));
    let page = desk.get("/wear").await;
    assert!(
        page.contains("&lt;patch&gt;") && !page.contains("Plan a trial"),
        "{page}"
    );
    let (action, fields) = form_of(&page, "/wear/trial/abandon");
    assert_eq!(desk.post(&action, &fields, OWN).await.0, StatusCode::BAD_REQUEST);
    let given_up = desk
        .post(&action, &format!("{fields}&because=it+itches"), OWN)
        .await;
    assert_eq!(given_up.0, StatusCode::SEE_OTHER);
    let page = desk.get("/wear").await;
    assert!(
        page.contains("it itches") && page.contains("Plan a trial"),
        "{page}"
    );
    let one_way = desk
        .post(
            "/wear/trial",
            "compare=cover&arm=nothing&measure=hours+on&name=x&sensors=8",
            OWN,
        )
        .await;
    assert_eq!(one_way.0, StatusCode::BAD_REQUEST);
}
