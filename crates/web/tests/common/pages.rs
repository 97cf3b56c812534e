//! Every page of the app over the invented engineer's book, for the tests that walk them all.

use std::fmt::Write as _;
use std::net::SocketAddr;
use std::path::Path;

use fantoccini::Client;
use interstice_home::{Household, Page};
use interstice_web::{Door, Served};
use serde_json::json;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;

use super::engineer::engineer;

/// A name to keep a picture under, and an address.
pub(crate) const PAGES: [(&str, &str); 34] = [
    ("now", "/now"),
    ("second-look", "/second-look"),
    ("days", "/days"),
    ("days-month", "/days?from=2026-02-01&to=2026-02-28"),
    ("days-hours", "/days?at=2026-03-20T18:00"),
    ("beside-usual", "/days/beside?day=2026-03-20&other=usual"),
    ("beside", "/days/beside?day=2026-03-20&other=2026-03-13"),
    ("review", "/review"),
    ("review-out", "/review?days=90&pressure=out"),
    ("compare-form", "/review/compare"),
    ("compare", "/review/compare?days=weekend"),
    ("find", "/find"),
    (
        "found",
        "/find?what=low&from=22:00&to=06:00&after=activity&days=90",
    ),
    ("trust", "/trust?lows=open"),
    ("pairs", "/trust/pairs"),
    ("sensor", "/trust/sensor/S16"),
    ("sensor-day", "/trust/sensor/S16?day=4"),
    ("wear", "/wear"),
    ("trial", "/wear/trial"),
    ("visit", "/visit"),
    ("write-check", "/write"),
    ("write-dose", "/write?what=dose"),
    ("write-meal", "/write?what=meal"),
    ("write-note", "/write?what=note"),
    ("imports", "/imports"),
    ("understood", "/bring/1"),
    ("question", "/bring/2"),
    ("feeds", "/feeds"),
    ("devices", "/devices"),
    ("rejected", "/imports/1/rejected"),
    ("settings", "/settings"),
    ("welcome", "/"),
    ("methods", "/methods"),
    ("method", "/methods/timeline"),
];

/// Instant at which the things around the book were let in; none of the tests ages them.
const LET_IN: i64 = 1_775_000_000;

/// The engineer's book, served with somebody who sends to it, a folder that is looked into, a device, a link, and two files
/// that were handed over: one that is understood and one with a question.
pub(crate) async fn served(folder: &Path) -> String {
    let household = Household::beside(&folder.join("invented.interstice"));
    household.let_send("phone", LET_IN).unwrap();
    household.pair("tablet", LET_IN).unwrap();
    household.link(Page::Visit, 7, LET_IN).unwrap();
    let inbox = folder.join("inbox");
    std::fs::create_dir(&inbox).unwrap();
    std::fs::write(inbox.join("doubtful.csv"), doubtful()).unwrap();
    let inbox = inbox.to_string_lossy().into_owned();
    household.watch("inbox", &inbox, LET_IN).unwrap();
    let door = Door::shut(household, || LET_IN);
    let served = Served::over(engineer(folder), 0).await.unwrap().with_door(door);
    let at = served.address();
    tokio::spawn(served.until(std::future::pending()));
    hand_over(at, "days.csv", &understood()).await;
    hand_over(at, "doubtful.csv", &doubtful()).await;
    format!("http://{at}")
}

/// Two days every quarter of an hour.
fn understood() -> String {
    rows((0..192).map(|i| (format!("2025-03-{:02}", 13 + i / 96), i)))
}

/// One day alone: the fourth of May or the fifth of April.
fn doubtful() -> String {
    rows((0..96).map(|i| ("05/04/2025".to_owned(), i)))
}

fn rows(quarters: impl Iterator<Item = (String, u32)>) -> String {
    quarters.fold("when,glucose (mg/dL)\n".to_owned(), |mut text, (day, i)| {
        let (hour, minute, glucose) = (i / 4 % 24, i % 4 * 15, 90 + i * 7 % 60);
        writeln!(text, "{day} {hour:02}:{minute:02},{glucose}").unwrap();
        text
    })
}

async fn hand_over(at: SocketAddr, name: &str, text: &str) {
    let body = format!(
        "--cut\r\ncontent-disposition: form-data; name=\"file\"; filename=\"{name}\"\r\n\r\n{text}\r\n--cut--\r\n"
    );
    let request = format!(
        "POST /bring HTTP/1.1\r\nHost: {at}\r\nOrigin: http://{at}\r\nContent-Type: multipart/form-data; boundary=cut\r\n\
         Connection: close\r\nContent-Length: {}\r\n\r\n{body}",
        body.len()
    );
    let mut stream = TcpStream::connect(at).await.unwrap();
    stream.write_all(request.as_bytes()).await.unwrap();
    let mut answer = String::new();
    stream.read_to_string(&mut answer).await.unwrap();
    assert!(answer.starts_with("HTTP/1.1 303"), "{answer}");
}

/// Opens a page and everything folded away in it, and waits for what its scripts draw.
pub(crate) async fn open(client: &Client, address: &str) {
    client.goto(address).await.unwrap();
    let script = "const done = arguments[0]; \
        for (const fold of document.querySelectorAll('details')) fold.open = true; \
        const wait = (left) => !left || !document.querySelector('#timeline') || interstice?.timeline?.ready() \
            ? requestAnimationFrame(() => done(location.pathname)) : setTimeout(wait, 50, left - 1); wait(200)";
    let at = client.execute_async(script, vec![]).await.unwrap();
    let has_main = "return Boolean(document.querySelector('main'))";
    let is_ours = client.execute(has_main, vec![]).await.unwrap() == json!(true);
    assert!(is_ours, "{address} is no page of ours, but {at}");
}
