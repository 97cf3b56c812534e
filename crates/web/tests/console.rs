//! Every page in a real browser: it asks no other host for anything, and its console stays silent, also over a book whose
//! every text is markup.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use std::sync::Arc;
use std::time::Duration;

use common::browser::{Driver, LAPTOP, app, app_over, browser, logged};
use common::walk::walk;
use common::{Fake, forged};
use interstice_web::{Backend, router};
use serde_json::Value;

/// Longer than any page's own scripts take to ask for what they show.
const SETTLE: Duration = Duration::from_millis(150);

/// What went wrong on a page: lines of the console, and addresses elsewhere that were asked for.
async fn wrong(client: &fantoccini::Client, own: &str) -> Vec<String> {
    let mut wrong: Vec<String> = Vec::new();
    for line in logged(client, "browser").await {
        wrong.push(format!("console: {}", line["message"]));
    }
    for line in logged(client, "performance").await {
        let event: Value = serde_json::from_str(line["message"].as_str().unwrap()).unwrap();
        let event = &event["message"];
        if event["method"] != "Network.requestWillBeSent" {
            continue;
        }
        let address = event["params"]["request"]["url"].as_str().unwrap();
        // What the browser fetches from within itself goes to nobody.
        let within = ["data:", "chrome:", "blob:"]
            .iter()
            .any(|scheme| address.starts_with(scheme));
        if !within && !address.starts_with(&format!("{own}/")) {
            wrong.push(format!("asked elsewhere: {address}"));
        }
    }
    wrong
}

async fn look_at_all(driver: &Driver, backend: Arc<dyn Backend>, more: &[&str]) {
    let pages = walk(&router(Arc::clone(&backend)), more).await.pages;
    let own = app_over(backend).await;
    let profile = tempfile::tempdir().unwrap();
    let client = browser(driver, LAPTOP, profile.path()).await;
    wrong(&client, &own).await;
    let mut found = Vec::new();
    for (address, page) in &pages {
        client.goto(&format!("{own}{address}")).await.unwrap();
        tokio::time::sleep(SETTLE).await;
        let trouble = page.contains("<h1>Nothing here") || page.contains("<h1>That cannot be answered");
        let said = wrong(&client, &own).await;
        // The console says of a page that is refused that it is: no fault of the page.
        let said = said
            .into_iter()
            .filter(|line| !(trouble && line.contains("the server responded with a status of 4")));
        found.extend(said.map(|line| format!("{address}: {line}")));
        let forged = "return document.title === '1' || document.querySelector('#forged, [onerror]') !== null";
        assert_eq!(client.execute(forged, vec![]).await.unwrap(), false, "{address}");
    }
    client.close().await.unwrap();
    assert!(pages.len() > 25, "{}", pages.len());
    assert_eq!(found, Vec::<String>::new());
}

#[tokio::test(flavor = "multi_thread")]
async fn no_page_asks_elsewhere_or_complains() {
    let Some(driver) = Driver::start() else { return };
    look_at_all(&driver, Fake::days(14), &["/trust/sensor/sensor%203?day=4"]).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn no_page_of_a_book_of_markup_runs_it() {
    let Some(driver) = Driver::start() else { return };
    let (kept, _folder) = forged::book().await;
    look_at_all(&driver, kept, &["/write?what=tag", "/wear?place=left+thigh"]).await;
}

/// The measure itself: a page that asks elsewhere, and one with a script inside, are both found out.
#[tokio::test(flavor = "multi_thread")]
async fn a_page_that_asks_elsewhere_is_noticed() {
    let Some(driver) = Driver::start() else { return };
    let own = app(Fake::days(14)).await;
    let profile = tempfile::tempdir().unwrap();
    let client = browser(&driver, LAPTOP, profile.path()).await;
    client.goto(&format!("{own}/settings")).await.unwrap();
    assert_eq!(wrong(&client, &own).await, Vec::<String>::new());
    let foreign = "fetch('http://127.0.0.1:1/x').catch(() => 0); const s = document.createElement('script'); \
        s.textContent = 'document.title = 1'; document.head.append(s)";
    client.execute(foreign, vec![]).await.unwrap();
    tokio::time::sleep(SETTLE).await;
    let found = wrong(&client, &own).await;
    assert!(
        found.iter().any(|line| line.contains("127.0.0.1:1/x")),
        "{found:?}"
    );
    assert!(
        found.iter().any(|line| line.contains("inline script")),
        "{found:?}"
    );
    client.close().await.unwrap();
}
