//! The Settings page over a real book: night, voyages, the cautions.

mod common;

use axum::http::StatusCode;
use common::desk::{Desk, NOW, OWN, flat};

const FORM: &str = "unit=mg%2FdL&targets=adult&zone=Europe%2FLisbon";

fn desk() -> Desk {
    Desk::new(&flat("before"), || NOW)
}

#[tokio::test]
async fn a_night_is_set_shown_and_forgotten() {
    let desk = desk();
    let set = format!("{FORM}&night_from=22%3A30&night_to=06%3A15");
    assert_eq!(desk.post("/settings", &set, OWN).await.0, StatusCode::SEE_OTHER);
    let night = desk.book.settings().unwrap().night.unwrap();
    assert_eq!((night.from_minute, night.to_minute), (22 * 60 + 30, 6 * 60 + 15));
    let page = desk.get("/settings").await;
    assert!(page.contains("value=\"22:30\"") && page.contains("value=\"06:15\""));
    for half in [
        "&night_from=22%3A30",
        "&night_from=22%3A30&night_to=22%3A30",
        "&night_from=25%3A00&night_to=6%3A00",
    ] {
        let (status, _, _) = desk.post("/settings", &format!("{FORM}{half}"), OWN).await;
        assert_eq!(status, StatusCode::BAD_REQUEST, "{half}");
    }
    let cleared = format!("{FORM}&night_from=&night_to=");
    assert_eq!(
        desk.post("/settings", &cleared, OWN).await.0,
        StatusCode::SEE_OTHER
    );
    assert_eq!(desk.book.settings().unwrap().night, None);
}

#[tokio::test]
async fn targets_of_ones_own_go_through_every_figure() {
    let desk = desk();
    let form = |own: &str| format!("unit=mmol%2FL&targets=own&zone=Europe%2FLisbon&{own}");
    let set = form("own_low=70&own_high=140&own_over=60&own_below=3");
    assert_eq!(desk.post("/settings", &set, OWN).await.0, StatusCode::SEE_OTHER);
    let kept = desk.book.settings().unwrap().target_group;
    assert_eq!(kept.as_deref(), Some("own 70-140 over 60 below 3"));
    let page = desk.get("/settings").await;
    assert!(page.contains("value=\"own\" checked"), "{page}");
    assert!(
        page.contains("<option value=\"140\" selected>7.8</option>"),
        "{page}"
    );
    let review = desk.get("/review").await.replace('\u{a0}', " ");
    for said in [
        "Targets: own, in range 3.9 to 7.8",
        "target over 60",
        "target under 3",
    ] {
        assert!(review.contains(said), "{said} is not in\n{review}");
    }
    let json: serde_json::Value = serde_json::from_str(&desk.get("/api/review").await).unwrap();
    assert_eq!(json["targets"]["range_high_mg_dl"], 140.0);
    assert!(json["targets"]["above_under_percent"].is_null());
    for wrong in [
        "own_low=80&own_high=140&own_over=60&own_below=3",
        "own_low=70&own_high=140&own_over=&own_below=3",
        "",
    ] {
        assert_eq!(
            desk.post("/settings", &form(wrong), OWN).await.0,
            StatusCode::BAD_REQUEST,
            "{wrong}"
        );
    }
}

#[tokio::test]
async fn a_voyage_is_written_struck_out_and_taken_back() {
    let desk = desk();
    let voyage = "from=2025-03-01&to=2025-03-14&zone=Asia%2FTokyo";
    let (status, to, _) = desk.post("/settings/away", voyage, OWN).await;
    assert_eq!(status, StatusCode::SEE_OTHER);
    let lived = || desk.book.load_all().unwrap().lived;
    let span = lived()[0].it.clone();
    assert_eq!(
        (span.zone.name(), span.to - span.from),
        ("Asia/Tokyo", 14 * 86_400)
    );
    let page = desk.get(&to).await;
    assert!(
        page.contains("Asia/Tokyo, Sat 1 Mar") && page.contains("Take it back"),
        "{page}"
    );
    let which = format!("from={}&to={}", span.from, span.to);
    let (status, to, _) = desk.post("/settings/away/strike", &which, OWN).await;
    assert_eq!(status, StatusCode::SEE_OTHER);
    assert!(lived().is_empty());
    assert_eq!(
        desk.post("/settings/away/strike", &which, OWN).await.0,
        StatusCode::BAD_REQUEST,
        "struck out already"
    );
    let change = to.rsplit('=').next().unwrap();
    desk.post("/settings/undo", &format!("change={change}"), OWN)
        .await;
    assert_eq!(lived()[0].it, span, "the striking is taken back");
    let backwards = "from=2025-03-14&to=2025-03-01&zone=Asia%2FTokyo";
    let (status, _, said) = desk.post("/settings/away", backwards, OWN).await;
    assert_eq!(status, StatusCode::BAD_REQUEST);
    assert!(said.contains("swap them"), "{said}");
}

/// They stand on the first page until they were read, and are never lost by saving other settings.
#[tokio::test]
async fn the_cautions_are_read_once() {
    let desk = desk();
    assert!(desk.get("/now").await.contains("I have read this"));
    let (status, to, _) = desk.post("/settings/cautions", "", OWN).await;
    assert_eq!((status, to.as_str()), (StatusCode::SEE_OTHER, "/"));
    assert!(!desk.get("/now").await.contains("I have read this"));
    desk.post("/settings", FORM, OWN).await;
    assert!(!desk.get("/now").await.contains("I have read this"));
    assert!(desk.get("/settings").await.contains("never names a dose"));
}
