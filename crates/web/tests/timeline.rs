//! The long timeline in a real browser: wheel, drag, keys, touch, read-out, shared address. Skipped where there is no
//! chromedriver. With `INTERSTICE_SCREENS=FOLDER` the pictures taken are kept there, to be looked at.

mod common;

use std::time::Duration;

use common::Fake;
use common::browser::{Driver, LAPTOP, Look, PHONE, app, browser, keep, sideways};
use common::timeline::{DAY_S, Timeline};
use fantoccini::Locator;
use fantoccini::actions::Actions;
use fantoccini::key::Key;
use serde_json::{Value, json};

fn near(a: f64, b: f64, slack: f64) -> bool {
    (a - b).abs() <= slack
}

/// The invented book's 26 October 2025, a day of 25 hours in Lisbon (directive 2000/84/EC).
const LONG_DAY: &str = "/days?date=2025-10-26";

#[tokio::test(flavor = "multi_thread")]
async fn mouse_and_wheel_move_the_picture_and_nothing_else_does() {
    let Some(driver) = Driver::start() else { return };
    let (book, profile) = (app(Fake::days(14)).await, tempfile::tempdir().unwrap());
    let timeline = Timeline::open(&driver, LAPTOP, &book, LONG_DAY, profile.path()).await;
    assert!(near(timeline.length().await, 25.0 * 3600.0, 1.0));
    let [left, top, width, _] = timeline.place().await;
    let (x, y) = ((left + width * 0.6).round(), top.round() + 120.0);

    timeline.point_at((x, y)).await;
    let read = timeline.read_out().await;
    assert!(
        read.starts_with("Sunday 26 October 2025, ") && read.contains(" mg/dL, "),
        "{read}"
    );
    keep(&timeline.client, LAPTOP, "timeline-day").await;

    let under = timeline.instant_at(x - left).await;
    timeline.wheel(x, y, -8).await;
    assert!(timeline.length().await < 25.0 * 3600.0 / 4.0);
    assert!(near(
        timeline.instant_at(x - left).await,
        under,
        timeline.length().await / 500.0
    ));
    keep(&timeline.client, LAPTOP, "timeline-hours").await;

    let (from, to) = timeline.view().await;
    timeline.drag((x, y), (x - 200.0, y)).await;
    let (later, later_to) = timeline.view().await;
    let scale = timeline.number("return interstice.timeline.x(interstice.timeline.view().to) - interstice.timeline.x(interstice.timeline.view().from)").await;
    assert!(
        near(later - from, 200.0 * (to - from) / scale, (to - from) / 200.0),
        "{from} {later}"
    );
    assert!(near(later_to - later, to - from, 1.0));
    tokio::time::sleep(Duration::from_millis(300)).await;
    assert_eq!(timeline.view().await, (later, later_to), "it moves on by itself");

    timeline.wheel(x, y, 200).await;
    assert!(timeline.length().await > 399.0 * DAY_S);
    keep(&timeline.client, LAPTOP, "timeline-everything").await;
    timeline.point_at((x, y)).await;
    assert!(
        timeline.read_out().await.contains("median"),
        "{}",
        timeline.read_out().await
    );
    timeline.client.close().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn keys_read_out_move_and_scale() {
    let Some(driver) = Driver::start() else { return };
    let (book, profile) = (app(Fake::days(14)).await, tempfile::tempdir().unwrap());
    let timeline = Timeline::open(&driver, LAPTOP, &book, LONG_DAY, profile.path()).await;
    timeline.keys(&Key::Right.to_string()).await;
    let first = timeline.number("return interstice.timeline.cursor()").await;
    timeline.keys(&Key::Right.to_string()).await;
    let (read, second) = (
        timeline.read_out().await,
        timeline.number("return interstice.timeline.cursor()").await,
    );
    assert!(second > first && second - first <= 3600.0, "{first} {second}");
    assert!(read.contains(" mg/dL"), "{read}");
    assert_eq!(
        timeline
            .ask("return document.querySelector('[data-readout]').ariaLive")
            .await,
        json!("polite")
    );
    timeline.keys(&Key::Left.to_string()).await;
    assert!(timeline.number("return interstice.timeline.cursor()").await < second);

    let before = timeline.length().await;
    timeline.keys("+").await;
    assert!(near(timeline.length().await, before / 2.0, 1.0));
    timeline.keys("-").await;
    assert!(near(timeline.length().await, before, 1.0));
    timeline.keys(&Key::Home.to_string()).await;
    let start = timeline.view().await.0;
    timeline.keys(&Key::End.to_string()).await;
    let end = timeline.view().await.1;
    assert!(end - start > 399.0 * DAY_S, "{start} {end}");
    timeline.keys(&Key::PageUp.to_string()).await;
    assert!(near(timeline.view().await.1, end - before, 2.0));
    timeline.keys(&Key::Escape.to_string()).await;
    assert_eq!(
        timeline.ask("return interstice.timeline.cursor()").await,
        Value::Null
    );
    timeline.client.close().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn an_address_shows_what_it_was_taken_from() {
    let Some(driver) = Driver::start() else { return };
    let (book, profile) = (app(Fake::days(14)).await, tempfile::tempdir().unwrap());
    let timeline = Timeline::open(&driver, LAPTOP, &book, "/days", profile.path()).await;
    for span in ["31536000", "2592000", "604800", "86400", "3600"] {
        timeline.click(&format!("a[data-span='{span}']")).await;
        assert!(
            near(timeline.length().await, span.parse().unwrap(), 1.0),
            "{span}"
        );
        timeline.redraw().await;
        keep(&timeline.client, LAPTOP, &format!("timeline-{span}")).await;
    }
    let (from, to) = timeline.view().await;
    let address = timeline.client.current_url().await.unwrap().to_string();
    assert!(
        address.contains("from=20") && address.contains("Z&to=20"),
        "{address}"
    );
    timeline.go(&address).await;
    let again = timeline.view().await;
    assert!(near(again.0, from, 1.0) && near(again.1, to, 1.0));

    timeline.client.back().await.unwrap();
    timeline.settled().await;
    assert!(
        near(timeline.length().await, DAY_S, 2.0),
        "{}",
        timeline.length().await
    );

    timeline.go(&format!("{book}{LONG_DAY}")).await;
    timeline.click(".day-by-day a:first-of-type").await;
    let heading = "return document.querySelector('#timeline-answer .window').textContent";
    assert_eq!(timeline.ask(heading).await, json!("Saturday 25 October 2025"));
    let told = "return document.querySelector('#timeline-account').textContent";
    assert!(
        timeline
            .ask(told)
            .await
            .as_str()
            .unwrap()
            .contains("Written down")
    );
    timeline.client.close().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn two_fingers_stretch_and_one_reads_out() {
    let Some(driver) = Driver::start() else { return };
    let (book, profile) = (app(Fake::days(14)).await, tempfile::tempdir().unwrap());
    let timeline = Timeline::open(&driver, PHONE, &book, LONG_DAY, profile.path()).await;
    assert!(!sideways(&timeline.client).await);
    timeline
        .ask("document.querySelector('#timeline canvas').scrollIntoView({ block: 'center' })")
        .await;
    let [left, top, width, _] = timeline.place().await;
    let (middle, y) = (left + width / 2.0, top + 100.0);
    let before = timeline.length().await;
    let under = timeline.instant_at(middle - left).await;
    let pinch = Actions::from(Timeline::finger("one", [(middle - 40.0, y), (middle - 120.0, y)]))
        .and(Timeline::finger("two", [(middle + 40.0, y), (middle + 120.0, y)]));
    timeline.client.perform_actions(pinch).await.unwrap();
    timeline.settled().await;
    let after = timeline.length().await;
    assert!(near(after, before / 3.0, before / 30.0), "{before} {after}");
    assert!(near(
        timeline.instant_at(middle - left).await,
        under,
        after / 40.0
    ));

    let tap = Timeline::finger("one", [(middle, y), (middle, y)]);
    timeline.client.perform_actions(tap).await.unwrap();
    tokio::time::sleep(Duration::from_millis(300)).await;
    let read = timeline.read_out().await;
    assert!(read.contains(" mg/dL, "), "{read}");
    keep(&timeline.client, PHONE, "timeline-pinched").await;
    timeline.client.close().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn without_a_script_there_is_a_picture_and_a_table() {
    let Some(driver) = Driver::start() else { return };
    let (book, profile) = (app(Fake::days(14)).await, tempfile::tempdir().unwrap());
    let look = Look {
        script: false,
        ..LAPTOP
    };
    let client = browser(&driver, look, profile.path()).await;
    client.goto(&format!("{book}{LONG_DAY}")).await.unwrap();
    assert!(
        client
            .find(Locator::Css("svg.picture.timeline"))
            .await
            .unwrap()
            .is_displayed()
            .await
            .unwrap()
    );
    assert!(
        !client
            .find(Locator::Css("#timeline canvas"))
            .await
            .unwrap()
            .is_displayed()
            .await
            .unwrap()
    );
    keep(&client, look, "timeline-no-script").await;
    client
        .find(Locator::Css("a[data-span='604800']"))
        .await
        .unwrap()
        .click()
        .await
        .unwrap();
    assert!(
        client
            .current_url()
            .await
            .unwrap()
            .query()
            .unwrap()
            .starts_with("from=2025-10-")
    );
    client.close().await.unwrap();
}

/// Prints how long a redraw takes while the wheel is turned; a number is measured, never asserted.
#[tokio::test(flavor = "multi_thread")]
async fn redraws_are_timed() {
    let Some(driver) = Driver::start() else { return };
    let (book, profile) = (app(Fake::days(14)).await, tempfile::tempdir().unwrap());
    let timeline = Timeline::open(&driver, LAPTOP, &book, "/days", profile.path()).await;
    let [left, top, width, _] = timeline.place().await;
    for span in ["31536000", "2592000", "604800", "86400", "3600"] {
        timeline.click(&format!("a[data-span='{span}']")).await;
        timeline
            .ask("interstice.timeline.counters.drawMs.length = 0")
            .await;
        for step in 0..6 {
            timeline
                .wheel(left + width / 2.0, top + 90.0, if step % 2 == 0 { -1 } else { 1 })
                .await;
        }
        let draws = timeline
            .ask("return interstice.timeline.counters.drawMs.sort((a, b) => a - b)")
            .await;
        let draws: Vec<f64> = draws
            .as_array()
            .unwrap()
            .iter()
            .filter_map(Value::as_f64)
            .collect();
        assert!(draws.len() >= 6, "{} draws", draws.len());
        println!(
            "{span} s: {} draws, median {:.1} ms, worst {:.1} ms",
            draws.len(),
            draws[draws.len() / 2],
            draws[draws.len() - 1]
        );
    }
    timeline.client.close().await.unwrap();
}
