//! Marking a stretch on the timeline: by drag, by keys, by two times; listed, drawn, taken away, taken back, and out of the
//! figures where they are asked for without. The browser's part is skipped where there is no chromedriver.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use std::time::Duration;

use common::browser::{Driver, LAPTOP, PHONE, app_over, keep, look_at};
use common::engineer::engineer;
use common::timeline::{Timeline, move_to};
use fantoccini::Locator;
use fantoccini::actions::{Actions, InputSource, KeyAction, KeyActions, PointerAction, TouchActions};
use fantoccini::key::Key;
use serde_json::{Value, json};

/// A day of the invented engineer without a possible pressure low.
const DAY: &str = "/days?date=2026-03-20";

impl Timeline {
    async fn listed(&self) -> Vec<String> {
        let script = "return [...document.querySelectorAll('.asides li span')].map(it => it.textContent)";
        let lines = self.ask(script).await;
        lines
            .as_array()
            .unwrap()
            .iter()
            .map(|line| line.as_str().unwrap().to_owned())
            .collect()
    }

    async fn unfold(&self) {
        self.ask("document.querySelector('#aside').open = true").await;
    }

    async fn field(&self, name: &str) -> String {
        let script = format!("return document.querySelector('form.mark').elements[{name:?}].value");
        self.ask(&script).await.as_str().unwrap().to_owned()
    }

    async fn submit(&self, selector: &str) {
        let button = self.client.find(Locator::Css(selector)).await.unwrap();
        button.click().await.unwrap();
        self.client
            .wait()
            .for_element(Locator::Css("[role=status]"))
            .await
            .unwrap();
        self.settled().await;
    }

    /// Figures of the marked day without what is not to be believed.
    async fn without(&self, book: &str) -> Value {
        self.client
            .goto(&format!(
                "{book}/api/review?from=2026-03-20&to=2026-03-20&pressure=out"
            ))
            .await
            .unwrap();
        let text = self.ask("return document.body.textContent").await;
        serde_json::from_str(text.as_str().unwrap()).unwrap()
    }
}

/// '… – 12 readings'.
fn readings(line: &str) -> u64 {
    let (_, count) = line.rsplit_once(" – ").unwrap();
    count.split(' ').next().unwrap().parse().unwrap()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_stretch_is_marked_by_dragging_and_left_out_of_the_figures() {
    let Some(driver) = Driver::start() else { return };
    let (folder, profile) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let book = app_over(engineer(folder.path())).await;
    let timeline = Timeline::open(&driver, LAPTOP, &book, DAY, profile.path()).await;
    let before = timeline.without(&book).await;

    timeline.go(&format!("{book}{DAY}")).await;
    assert_eq!(timeline.listed().await, Vec::<String>::new());
    timeline.unfold().await;
    timeline
        .client
        .find(Locator::Css("[data-pick]"))
        .await
        .unwrap()
        .click()
        .await
        .unwrap();
    timeline
        .ask("document.querySelector('#timeline canvas').scrollIntoView({ block: 'center' })")
        .await;
    let view = timeline.view().await;
    let [left, top, width, _] = timeline.place().await;
    let [from, to] = [left + width * 0.4, left + width * 0.5];
    timeline
        .drag((from.round(), top + 90.0), (to.round(), top + 120.0))
        .await;
    assert_eq!(timeline.view().await, view, "picking does not move the picture");
    let picked = (timeline.field("picked_at").await, timeline.field("at").await);
    assert!(
        picked.0.starts_with("2026-03-20T") && picked.1.starts_with("2026-03-20T"),
        "{picked:?}"
    );
    keep(&timeline.client, LAPTOP, "marking-picked").await;

    let wrong = "form.mark [value='sensor wrong']";
    timeline
        .client
        .find(Locator::Css(wrong))
        .await
        .unwrap()
        .click()
        .await
        .unwrap();
    timeline.submit("form.mark [type=submit]").await;
    let listed = timeline.listed().await;
    assert_eq!(listed.len(), 1, "{listed:?}");
    assert!(listed[0].contains("sensor wrong"), "{listed:?}");
    keep(&timeline.client, LAPTOP, "marking-marked").await;
    let drawn = timeline
        .ask("return interstice.timeline.events('artefact').length")
        .await;
    assert_eq!(drawn, json!(1));

    let after = timeline.without(&book).await;
    let gone = readings(&listed[0]);
    assert!(gone > 10, "{listed:?}");
    let received = |findings: &Value| findings["sufficiency"]["received"].as_u64().unwrap();
    assert_eq!(received(&before) - received(&after), gone);
    assert_ne!(before["summary"]["mean_mg_dl"], after["summary"]["mean_mg_dl"]);

    timeline.go(&format!("{book}{DAY}")).await;
    timeline.submit(".asides button").await;
    assert_eq!(timeline.listed().await, Vec::<String>::new());
    timeline.submit(".done button").await;
    assert_eq!(
        timeline.listed().await.len(),
        1,
        "taking away can itself be taken back"
    );
    timeline.client.close().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_stretch_is_marked_by_keys_alone() {
    let Some(driver) = Driver::start() else { return };
    let (folder, profile) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let book = app_over(engineer(folder.path())).await;
    let timeline = Timeline::open(&driver, LAPTOP, &book, DAY, profile.path()).await;
    timeline.keys(&Key::Right.to_string()).await;
    timeline.keys("m").await;
    let right = Key::Right.to_string();
    timeline.keys(&right.repeat(6)).await;
    timeline.keys("m").await;
    let focused = timeline.ask("return document.activeElement.name").await;
    assert_eq!(focused, json!("why"), "the form has the keyboard");
    let enter = KeyActions::new("keys".to_owned())
        .then(KeyAction::Down {
            value: char::from(Key::Enter),
        })
        .then(KeyAction::Up {
            value: char::from(Key::Enter),
        });
    timeline.client.perform_actions(enter).await.unwrap();
    timeline
        .client
        .wait()
        .for_element(Locator::Css("[role=status]"))
        .await
        .unwrap();
    timeline.settled().await;
    let listed = timeline.listed().await;
    assert_eq!(listed.len(), 1);
    assert!(
        listed[0].contains(": pressure") && readings(&listed[0]) >= 6,
        "{listed:?}"
    );
    timeline.client.close().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_stretch_is_marked_by_two_times_and_by_a_finger() {
    let Some(driver) = Driver::start() else { return };
    let (folder, profile) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let book = app_over(engineer(folder.path())).await;
    let timeline = Timeline::open(&driver, PHONE, &book, DAY, profile.path()).await;
    look_at(&timeline.client, PHONE).await;
    let fill = "const f = document.querySelector('form.mark').elements; \
        f.at.value = '2026-03-20T10:00'; f.until.value = '2026-03-20T10:30'; f.words.value = 'a knock'";
    timeline.unfold().await;
    timeline.ask(fill).await;
    timeline.submit("form.mark [type=submit]").await;
    let listed = timeline.listed().await;
    assert_eq!(listed.len(), 1);
    assert!(
        listed[0].contains("10:00, 30 min: pressure, a knock"),
        "{listed:?}"
    );

    timeline.unfold().await;
    timeline
        .client
        .find(Locator::Css("[data-pick]"))
        .await
        .unwrap()
        .click()
        .await
        .unwrap();
    timeline
        .ask("document.querySelector('#timeline canvas').scrollIntoView({ block: 'center' })")
        .await;
    let [left, top, width, _] = timeline.place().await;
    let places = [0.6, 0.7].map(|share| ((left + width * share).round(), top.round() + 100.0));
    let finger = TouchActions::new("one".to_owned())
        .then(move_to(places[0]))
        .then(PointerAction::Down { button: 0 })
        .then(move_to(places[1]))
        .then(PointerAction::Up { button: 0 });
    timeline
        .client
        .perform_actions(Actions::from(finger))
        .await
        .unwrap();
    tokio::time::sleep(Duration::from_millis(300)).await;
    assert!(timeline.field("picked_at").await.starts_with("2026-03-20T"));
    timeline.submit("form.mark [type=submit]").await;
    assert_eq!(timeline.listed().await.len(), 2);
    keep(&timeline.client, PHONE, "marking-phone").await;
    timeline.client.close().await.unwrap();
}
