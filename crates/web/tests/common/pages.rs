//! Every page of the app over the invented engineer's book, for the tests that walk them all.

use fantoccini::Client;
use serde_json::json;

/// A name to keep a picture under, and an address.
pub(crate) const PAGES: [(&str, &str); 30] = [
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
    ("rejected", "/imports/1/rejected"),
    ("settings", "/settings"),
    ("welcome", "/"),
    ("methods", "/methods"),
    ("method", "/methods/timeline"),
];

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
