//! The app out of reach, in a real browser: the Write page opens, entries wait, and are sent once when it is back.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use common::browser::{Driver, Look, PHONE, browser, keep, look_at, sideways};
use common::desk::flat;
use fantoccini::Client;
use interstice_book::{Book, Mode, Provenance};
use interstice_glucose::{Second, Zone};
use interstice_web::{KeptBook, Outside, Served};
use serde_json::{Value, json};
use tokio::sync::oneshot;
use tokio::task::JoinHandle;

fn now() -> Second {
    let passed = SystemTime::now().duration_since(UNIX_EPOCH).unwrap();
    i64::try_from(passed.as_secs()).unwrap()
}

/// The app on one port, which can go and come back.
struct Reach {
    port: u16,
    stop: oneshot::Sender<()>,
    served: JoinHandle<()>,
}

async fn reach(book: &Path, port: u16) -> Reach {
    let kept = Arc::new(KeptBook::new(book, Outside::new(Zone::utc(), now)));
    let served = Served::over(kept, port).await.unwrap();
    let port = served.address().port();
    let (stop, stopped) = oneshot::channel();
    let served = tokio::spawn(async move {
        let stop = async { drop(stopped.await) };
        served.until(stop).await.unwrap();
    });
    Reach { port, stop, served }
}

impl Reach {
    async fn lose(self) {
        self.stop.send(()).unwrap();
        let _ = tokio::time::timeout(Duration::from_secs(5), self.served).await;
    }
}

async fn ask(client: &Client, script: &str) -> Value {
    client.execute(script, vec![]).await.unwrap()
}

/// Until a script answers true.
async fn until(client: &Client, script: &str) {
    for _ in 0..100 {
        if ask(client, script).await == json!(true) {
            return;
        }
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
    let page = ask(client, "return document.body.innerText").await;
    panic!("never so: {script}\n{page}");
}

/// Fills a form of the kept page in and sends it off.
async fn fill(client: &Client, what: &str, fields: &Value) {
    let script = "const form = document.querySelector(`form.jot:has([name=what][value=${arguments[0]}])`); \
        form.closest('details').open = true; \
        for (const [name, value] of Object.entries(arguments[1])) { \
            const radio = form.querySelector(`[name=${name}][value='${value}']`); \
            if (radio) radio.checked = true; else form.querySelector(`[name=${name}]`).value = value; } \
        form.requestSubmit()";
    let before = shown(client).await;
    client
        .execute(script, vec![json!(what), fields.clone()])
        .await
        .unwrap();
    for _ in 0..50 {
        tokio::time::sleep(Duration::from_millis(50)).await;
        if shown(client).await != before {
            return;
        }
    }
    panic!("{what} does not wait: {before:?}");
}

/// The heading and the lines of what waits.
async fn shown(client: &Client) -> (String, Vec<String>) {
    let script = "const w = document.getElementById('waiting'); return w.hidden ? ['', []] : \
        [w.querySelector('h2').textContent, [...w.querySelectorAll('li .what')].map(line => line.textContent)]";
    serde_json::from_value(ask(client, script).await).unwrap()
}

async fn press(client: &Client, name: &str) {
    let script =
        "[...document.querySelectorAll('#waiting button')].find(b => b.textContent === arguments[0]).click()";
    client.execute(script, vec![json!(name)]).await.unwrap();
}

fn book(folder: &Path) -> std::path::PathBuf {
    let path = folder.join("book");
    let mut book = Book::open(&path, Mode::CreateIfAbsent).unwrap();
    let go_on = &mut |_, _| std::ops::ControlFlow::Continue(());
    book.import(&flat("one"), &Provenance::named("made up", [0; 32]), go_on)
        .unwrap();
    path
}

const KEPT: &str = "return navigator.serviceWorker.controller !== null && document.readyState === 'complete'";

#[tokio::test(flavor = "multi_thread")]
async fn entries_wait_while_the_app_is_away_and_are_sent_once() {
    let Some(driver) = Driver::start() else { return };
    let folder = tempfile::tempdir().unwrap();
    let path = book(folder.path());
    let there = reach(&path, 0).await;
    let (port, own) = (there.port, format!("http://127.0.0.1:{}", there.port));
    let profile = tempfile::tempdir().unwrap();
    let client = browser(&driver, PHONE, profile.path()).await;
    client.goto(&format!("{own}/write")).await.unwrap();
    until(&client, KEPT).await;
    there.lose().await;

    client.goto(&format!("{own}/write")).await.unwrap();
    until(
        &client,
        "return document.querySelector('h1').textContent === 'Not connected'",
    )
    .await;
    let pressed = now();
    fill(
        &client,
        "meal",
        &json!({ "amount": "45", "words": "<b>rice</b>" }),
    )
    .await;
    fill(&client, "blood", &json!({ "amount": "6.1" })).await;
    fill(&client, "dose", &json!({ "amount": "4", "insulin": "rapid" })).await;
    fill(
        &client,
        "note",
        &json!({ "words": "too early", "at": "2099-01-01T00:00" }),
    )
    .await;
    let (head, lines) = shown(&client).await;
    assert_eq!(head, "4 entries wait to be sent");
    assert_eq!(lines[0], "Meal 45 g of carbohydrate, <b>rice</b>", "{lines:?}");
    assert!(lines.contains(&"Blood check 6.1 mg/dL".to_owned()), "{lines:?}");
    for dark in [false, true] {
        let look = Look { dark, ..PHONE };
        look_at(&client, look).await;
        assert!(!sideways(&client).await);
        keep(&client, look, "away").await;
    }

    // It stays on this device, also when the page is opened anew; and what was not meant is struck out before it is sent.
    client.goto(&format!("{own}/now")).await.unwrap();
    until(&client, "return !document.getElementById('asked').hidden").await;
    until(&client, "return !document.getElementById('waiting').hidden").await;
    let strike = "[...document.querySelectorAll('#waiting li')].find(l => l.textContent.includes('rapid')).querySelector('button').click()";
    ask(&client, strike).await;
    until(
        &client,
        "return document.querySelector('#waiting h2').textContent.startsWith('3 entries')",
    )
    .await;
    press(&client, "Send them now").await;
    until(
        &client,
        "return document.querySelector('#waiting p').textContent.includes('cannot be reached')",
    )
    .await;
    let kept = "const done = arguments[0]; const r = indexedDB.open('interstice'); r.onsuccess = () => { \
        const all = r.result.transaction('waiting').objectStore('waiting').getAll(); all.onsuccess = () => done(all.result); }";
    let waiting = client.execute_async(kept, vec![]).await.unwrap();
    assert_eq!(waiting.as_array().map(Vec::len), Some(3));
    // They lie in the order of their keys, which are drawn: any of the three may be first.
    let is_meal = |entry: &&Value| entry["fields"][0] == json!(["what", "meal"]);
    let meal = waiting.as_array().unwrap().iter().find(is_meal).unwrap();

    // Back again, some time later.
    tokio::time::sleep(Duration::from_secs(3)).await;
    let back = now();
    let there = reach(&path, port).await;
    press(&client, "Send them now").await;
    until(
        &client,
        "return document.querySelector('#waiting h2').textContent === '2 entries need you'",
    )
    .await;
    let (_, lines) = shown(&client).await;
    assert!(
        lines.iter().any(|line| line.contains("Which unit was it?")),
        "{lines:?}"
    );
    assert!(lines.iter().any(|line| line.contains("future")), "{lines:?}");
    assert!(!sideways(&client).await);
    keep(&client, PHONE, "away-needs-you").await;
    press(&client, "It was mmol/L").await;
    until(
        &client,
        "return document.querySelector('#waiting h2').textContent === '1 entry needs you'",
    )
    .await;
    press(&client, "Strike out").await;
    until(&client, "return document.getElementById('waiting').hidden").await;
    until(&client, "return !document.getElementById('reached').hidden").await;

    // An answer that was lost on its way: the phone sends all again, and nothing is written twice.
    let again = "const done = arguments[arguments.length - 1]; const r = indexedDB.open('interstice'); r.onsuccess = () => { \
        const t = r.result.transaction('waiting', 'readwrite'); for (const e of arguments[0]) t.objectStore('waiting').put(e); t.oncomplete = done; }";
    client.execute_async(again, vec![json!([meal])]).await.unwrap();
    client.goto(&format!("{own}/write")).await.unwrap();
    until(&client, "return document.readyState === 'complete'").await;
    tokio::time::sleep(Duration::from_secs(1)).await;
    assert_eq!(client.execute_async(kept, vec![]).await.unwrap(), json!([]));

    let record = Book::open(&path, Mode::ReadOnly).unwrap().load_all().unwrap();
    let meals: Vec<_> = record.meals.iter().map(|kept| &kept.it).collect();
    assert_eq!(meals.len(), 1);
    assert_eq!(meals[0].text.as_deref(), Some("<b>rice</b>"));
    assert!(
        (pressed..back).contains(&meals[0].at),
        "the time is that of writing: {pressed} {back} {}",
        meals[0].at
    );
    let checks: Vec<String> = record
        .blood_checks
        .iter()
        .map(|kept| kept.it.said.to_string())
        .collect();
    assert_eq!(checks, ["6.1 mmol/L"]);
    assert!(record.doses.is_empty(), "it was struck out");
    client.close().await.unwrap();
    there.lose().await;
}

/// A form of the open page whose app is gone keeps what was typed; and this moment says that it is none.
#[tokio::test(flavor = "multi_thread")]
async fn an_open_page_whose_app_goes_says_so() {
    let Some(driver) = Driver::start() else { return };
    let folder = tempfile::tempdir().unwrap();
    let path = book(folder.path());
    let there = reach(&path, 0).await;
    let (port, own) = (there.port, format!("http://127.0.0.1:{}", there.port));
    let profile = tempfile::tempdir().unwrap();
    let client = browser(&driver, PHONE, profile.path()).await;

    // With the app there, a form sends at once.
    client.goto(&format!("{own}/write?what=meal")).await.unwrap();
    let submit = "const form = document.getElementById('form'); form.querySelector('[name=amount]').value = arguments[0]; form.requestSubmit()";
    client.execute(submit, vec![json!("10")]).await.unwrap();
    until(
        &client,
        "return location.search.includes('done=') && document.body.innerText.includes('Written down.')",
    )
    .await;

    client.goto(&format!("{own}/now")).await.unwrap();
    until(&client, KEPT).await;
    assert_eq!(
        ask(&client, "return document.getElementById('unreached')").await,
        Value::Null
    );
    there.lose().await;
    ask(&client, "dispatchEvent(new Event('offline'))").await;
    until(
        &client,
        "return document.getElementById('unreached')?.textContent.includes('nothing below is live') ?? false",
    )
    .await;
    let colours = "const c = (s) => getComputedStyle(document.querySelector(s)).color; return c('#now .answer') === c('.foot')";
    until(&client, colours).await;
    keep(&client, PHONE, "now-unreached").await;

    let there = reach(&path, port).await;
    ask(&client, "dispatchEvent(new Event('online'))").await;
    until(&client, "return document.getElementById('unreached') === null").await;
    client.goto(&format!("{own}/write?what=meal")).await.unwrap();
    until(&client, KEPT).await;
    there.lose().await;
    client.execute(submit, vec![json!("20")]).await.unwrap();
    until(
        &client,
        "return document.querySelector('#waiting h2').textContent === '1 entry waits to be sent'",
    )
    .await;
    let there = reach(&path, port).await;
    press(&client, "Send them now").await;
    until(&client, "return document.getElementById('waiting').hidden").await;
    let record = Book::open(&path, Mode::ReadOnly).unwrap().load_all().unwrap();
    let grams: Vec<_> = record
        .meals
        .iter()
        .filter_map(|kept| kept.it.carbohydrate_g)
        .collect();
    assert_eq!(grams, [10.0, 20.0]);
    client.close().await.unwrap();
    there.lose().await;
}
