//! Every page by keys alone: each control is reached by Tab, in the order of the page, with a focus that can be seen, and
//! none holds the keyboard. Skipped where there is no chromedriver.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use common::browser::{Driver, LAPTOP, Look, PHONE, browser, keep, look_at};
use common::pages::{PAGES, open, served};
use fantoccini::actions::{InputSource, KeyAction, KeyActions};
use fantoccini::key::Key;
use fantoccini::{Client, Locator};
use serde_json::{Value, json};

/// Numbers what Tab should reach: all that can be used and is shown; of the choices of a group, one.
const NUMBER: &str = "let n = 0; const groups = new Set(); \
    const all = document.querySelectorAll('a[href], button, input, select, textarea, summary, [tabindex]'); \
    for (const it of all) { \
        if (it.disabled || it.type === 'hidden' || it.tabIndex < 0 || !it.checkVisibility({ visibilityProperty: true })) continue; \
        if (it.type === 'radio') { \
            const group = (it.form ? [...document.forms].indexOf(it.form) : '') + ' ' + it.name; \
            if (groups.has(group)) continue; groups.add(group); \
        } \
        it.dataset.stop = n++; \
    } \
    document.body.tabIndex = -1; document.body.focus(); document.body.removeAttribute('tabindex'); scrollTo(0, 0); return n";

/// What has the focus: its number, whether the focus is drawn, whether it lies in the window, and what it is.
const FOCUSED: &str = "const it = document.activeElement; if (!it || it === document.body) return null; \
    const style = getComputedStyle(it), box = it.getBoundingClientRect(); \
    const stop = it.type === 'radio' && it.dataset.stop === undefined \
        ? [...document.getElementsByName(it.name)].find(one => one.form === it.form && one.dataset.stop !== undefined)?.dataset.stop \
        : it.dataset.stop; \
    return { stop: stop === undefined ? null : Number(stop), \
        drawn: style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 1, \
        inside: box.bottom > 0 && box.top < innerHeight && box.right > 0 && box.left < innerWidth, \
        parts: ['date', 'time', 'datetime-local'].includes(it.type), what: it.outerHTML.slice(0, 140) }";

/// Stops within a date and time at most: five parts, morning or afternoon, the calendar.
const PARTS: u32 = 7;

async fn press(client: &Client, key: Key) {
    let key = char::from(key);
    let keys = KeyActions::new("keys".to_owned())
        .then(KeyAction::Down { value: key })
        .then(KeyAction::Up { value: key });
    client.perform_actions(keys).await.unwrap();
}

/// Goes through the open page by Tab, and tells what is wrong.
async fn walk(client: &Client, name: &str) -> Vec<String> {
    let stops = client.execute(NUMBER, vec![]).await.unwrap().as_u64().unwrap();
    let mut found = Vec::new();
    let mut next = 0;
    let mut held = 0;
    loop {
        press(client, Key::Tab).await;
        let focused = client.execute(FOCUSED, vec![]).await.unwrap();
        if focused == Value::Null {
            break;
        }
        let what = focused["what"].as_str().unwrap();
        match focused["stop"].as_u64() {
            Some(stop) if stop == next => held = 0,
            Some(0) if next == stops => break,
            // A date has stops within: its parts, and the button of the calendar.
            Some(stop) if stop + 1 == next && focused["parts"] == json!(true) && held < PARTS => {
                held += 1;
                continue;
            }
            stop => found.push(format!("{name}: stop {stop:?} in place of {next}: {what}")),
        }
        next = focused["stop"].as_u64().map_or(next, |stop| stop + 1);
        if focused["drawn"] != json!(true) {
            found.push(format!("{name}: no focus is drawn on {what}"));
        }
        if found.len() > 20 {
            break;
        }
        if focused["inside"] != json!(true) {
            found.push(format!("{name}: the focus is out of sight on {what}"));
        }
    }
    if next != stops {
        found.push(format!("{name}: {next} of {stops} stops were reached"));
    }
    found
}

#[tokio::test(flavor = "multi_thread")]
async fn every_control_of_every_page_is_reached_by_tab() {
    let Some(driver) = Driver::start() else { return };
    let (folder, profile) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let book = served(folder.path()).await;
    let client = browser(&driver, LAPTOP, profile.path()).await;
    let mut found = Vec::new();
    for (name, path) in PAGES {
        open(&client, &format!("{book}{path}")).await;
        found.extend(walk(&client, name).await);
    }
    client.close().await.unwrap();
    assert!(found.is_empty(), "{} faults:\n{}", found.len(), found.join("\n"));
}

/// Tab until a control has the focus.
async fn tab_to(client: &Client, selector: &str) {
    for _ in 0..60 {
        let script = format!("return Boolean(document.activeElement?.matches({selector:?}))");
        if client.execute(&script, vec![]).await.unwrap() == json!(true) {
            return;
        }
        press(client, Key::Tab).await;
    }
    panic!("{selector} is not reached");
}

async fn type_in(client: &Client, text: &str) {
    for letter in text.chars() {
        let keys = KeyActions::new("keys".to_owned())
            .then(KeyAction::Down { value: letter })
            .then(KeyAction::Up { value: letter });
        client.perform_actions(keys).await.unwrap();
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_blood_check_is_written_by_keys_alone() {
    let Some(driver) = Driver::start() else { return };
    let (folder, profile) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let book = served(folder.path()).await;
    for look in [PHONE, LAPTOP] {
        let client = browser(&driver, look, profile.path()).await;
        look_at(&client, Look { ..look }).await;
        open(&client, &format!("{book}/now")).await;
        tab_to(&client, "nav a[href='/write']").await;
        press(&client, Key::Enter).await;
        client
            .wait()
            .for_element(Locator::Css("[name=amount]"))
            .await
            .unwrap();
        tab_to(&client, "[name=amount]").await;
        type_in(&client, "123").await;
        press(&client, Key::Enter).await;
        client.wait().for_element(Locator::Css(".done")).await.unwrap();
        keep(&client, look, "keyboard-written").await;
        let said = client
            .find(Locator::Css("main"))
            .await
            .unwrap()
            .text()
            .await
            .unwrap();
        assert!(said.contains("123 mg/dL"), "{said}");
        // And it is taken back by keys.
        tab_to(&client, ".done button").await;
        press(&client, Key::Enter).await;
        client.wait().for_element(Locator::Css("main")).await.unwrap();
        client.close().await.unwrap();
    }
}
