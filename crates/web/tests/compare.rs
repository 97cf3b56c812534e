//! Before and after in the browser's words: forms, addresses, answers and refusals.

mod common;

use common::{Fake, get};

const WINDOWS: &str =
    "/review/compare?before_from=2025-08-22&before_to=2025-09-20&after_from=2025-10-01&after_to=2025-11-01";

#[tokio::test]
async fn the_page_in_words() {
    let kind = get(Fake::days(14), "/review/compare?days=weekend").await;
    insta::assert_snapshot!("kind_mg_dl", common::words(&kind.text));
    let windows = get(Fake::days(14), &format!("{WINDOWS}&unit=mmol")).await;
    insta::assert_snapshot!("windows_mmol_l", common::words(&windows.text));
}

#[tokio::test]
async fn the_form_is_filled_in_with_what_was_asked() {
    let asked = get(Fake::days(14), WINDOWS).await.text;
    for date in ["2025-08-22", "2025-09-20", "2025-10-01", "2025-11-01"] {
        assert!(asked.contains(&format!("value=\"{date}\"")), "{date}");
    }
    // To begin with: the window of the account against the one before it.
    let first = get(Fake::days(28), "/review/compare").await.text;
    for date in ["2025-02-03", "2025-03-02", "2025-03-03", "2025-03-30"] {
        assert!(first.contains(&format!("value=\"{date}\"")), "{date}");
    }
    let account = get(Fake::days(14), "/review").await.text;
    let link =
        "before_from=2025-02-17&amp;before_to=2025-03-02&amp;after_from=2025-03-03&amp;after_to=2025-03-16";
    assert!(account.contains(link));
}

#[tokio::test]
async fn what_cannot_be_compared_is_said_beside_the_form() {
    for (path, said) in [
        ("/review/compare?days=on+leave", "No day with readings is tagged"),
        (
            "/review/compare?before_from=2025-09-01&before_to=2025-10-01&after_from=2025-09-22&after_to=2025-10-30",
            "The two windows share 10 days",
        ),
    ] {
        let answer = get(Fake::days(14), path).await;
        assert_eq!(answer.status, 200, "{path}");
        assert!(
            answer.text.contains(said) && answer.text.contains("<form"),
            "{path}"
        );
    }
    for (path, said) in [
        ("/review/compare?before_from=2025-03-10", "take four dates"),
        (
            "/review/compare?days=weekend&from=2025-03-10",
            "both the first and the last",
        ),
        (
            "/review/compare?days=weekend&from=x&to=2025-03-10",
            "is not a date",
        ),
        ("/review/compare?days=weekend&pressure=maybe", "choose in or out"),
    ] {
        let answer = get(Fake::days(14), path).await;
        assert_eq!(answer.status, 400, "{path}");
        assert!(answer.text.contains(said), "{path}: {}", answer.text);
    }
    let empty = get(Fake::empty(), "/review/compare").await;
    assert!(empty.text.contains("Nothing has been brought in yet"));
}

#[tokio::test]
async fn the_document_is_that_of_the_command() {
    let answer = get(Fake::days(14), "/api/compare?days=weekend").await;
    let document: serde_json::Value = serde_json::from_str(&answer.text).unwrap();
    assert_eq!(document["figures"].as_array().unwrap().len(), 16);
    assert_eq!(document["after"]["name"], "weekend");
    assert_eq!(document["known_by"], "calendar");
}
