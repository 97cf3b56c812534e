//! Every page against WCAG 2.2 AA, by the axe-core rules, on phone and laptop, in light and dark. Skipped where there is no
//! chromedriver or no axe-core (`cargo xtask check` brings it; by hand, `INTERSTICE_AXE` names the script).
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]
#![expect(clippy::print_stdout, reason = "a test says why it is skipped")]

mod common;

use std::path::{Path, PathBuf};

use common::Fake;
use common::browser::{Driver, LAPTOP, Look, PHONE, app, browser, keep, look_at};
use common::pages::{PAGES, open, served};
use fantoccini::Client;
use serde_json::{Value, json};

/// The rules of WCAG 2.0 to 2.2 at levels A and AA (W3C Recommendation of 12 December 2024), as axe-core tags them.
/// The size of targets (2.5.8) is off in it unless asked for. In the dark only what hangs on colour can differ.
const RUN: &str = "const [dark, done] = arguments; axe.run(document, { \
    ...(dark ? { runOnly: { type: 'rule', values: ['color-contrast', 'link-in-text-block'] } } : { \
        runOnly: { type: 'tag', values: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22a', 'wcag22aa', 'best-practice'] }, \
        rules: { 'target-size': { enabled: true } } }), resultTypes: ['violations'] }) \
    .then(found => done({ passes: found.passes.length, violations: found.violations.flatMap(rule => \
        rule.nodes.map(node => `${rule.id}: ${node.target.join(' ')}: ${node.failureSummary.replaceAll('\\n', ' ')}`)) })) \
    .catch(error => done({ passes: 0, violations: [String(error)] }))";

/// The checker's script, as text.
fn axe() -> Option<String> {
    let named = std::env::var_os("INTERSTICE_AXE").map(PathBuf::from);
    let Some(path) = named.or_else(installed) else {
        assert!(
            std::env::var_os("INTERSTICE_CI").is_none(),
            "axe-core is not installed, and nothing may be skipped here"
        );
        println!("skipped: axe-core is not installed; `cargo xtask check` installs it under checks/.venv");
        return None;
    };
    Some(std::fs::read_to_string(path).unwrap())
}

fn installed() -> Option<PathBuf> {
    let lib = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../checks/.venv/lib");
    let mut pythons = std::fs::read_dir(lib).ok()?.filter_map(Result::ok);
    pythons.find_map(|python| {
        let script = python
            .path()
            .join("site-packages/axe_playwright_python/axe.min.js");
        script.exists().then_some(script)
    })
}

/// What the checker has to say of the page that is open.
async fn faults(client: &Client, axe: &str, dark: bool) -> Vec<String> {
    client.execute(axe, vec![]).await.unwrap();
    let found = client.execute_async(RUN, vec![json!(dark)]).await.unwrap();
    let least = if dark { 0 } else { 5 };
    assert!(
        found["passes"].as_u64().unwrap() > least,
        "nothing was checked: {found}"
    );
    let faults = found["violations"].as_array().unwrap();
    faults
        .iter()
        .filter_map(Value::as_str)
        .map(str::to_owned)
        .collect()
}

fn looks() -> impl Iterator<Item = Look> {
    let both = |look| [look, Look { dark: true, ..look }];
    [PHONE, LAPTOP].into_iter().flat_map(both)
}

/// Every look at each of these pages: what was found, and how many looks there were.
async fn walk(driver: &Driver, axe: &str, pages: Vec<(&str, String)>) -> (Vec<String>, usize) {
    let profile = tempfile::tempdir().unwrap();
    let client = browser(driver, LAPTOP, profile.path()).await;
    let (mut found, mut checked) = (Vec::new(), 0);
    for (name, address) in pages {
        open(&client, &address).await;
        for look in looks() {
            look_at(&client, look).await;
            keep(&client, look, &format!("accessible-{name}")).await;
            let scheme = if look.dark { "dark" } else { "light" };
            let faults = faults(&client, axe, look.dark).await;
            found.extend(
                faults
                    .into_iter()
                    .map(|fault| format!("{name}, {}, {scheme}: {fault}", look.name)),
            );
            checked += 1;
        }
    }
    client.close().await.unwrap();
    (found, checked)
}

#[tokio::test(flavor = "multi_thread")]
async fn every_page_keeps_the_rules_of_accessibility() {
    let (Some(axe), Some(driver), Some(other)) = (axe(), Driver::start(), Driver::start()) else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let (book, empty) = (served(folder.path()).await, app(Fake::empty()).await);
    let of_book = PAGES.map(|(name, path)| (name, format!("{book}{path}")));
    let of_none = [
        ("empty", "/"),
        ("empty-days", "/days"),
        ("empty-review", "/review"),
        ("lost", "/nowhere"),
    ]
    .map(|(name, path)| (name, format!("{empty}{path}")));
    let pages = of_book.into_iter().chain(of_none).enumerate();
    // Every other page in a browser of its own: one waits while the other computes.
    let (even, odd): (Vec<_>, Vec<_>) = pages.partition(|(place, _)| place % 2 == 0);
    let only =
        |pages: Vec<(usize, (&'static str, String))>| pages.into_iter().map(|(_, page)| page).collect();
    let (first, second) = tokio::join!(walk(&driver, &axe, only(even)), walk(&other, &axe, only(odd)));
    println!("{} views of pages were checked", first.1 + second.1);
    let found = [first.0, second.0].concat();
    assert!(found.is_empty(), "{} faults:\n{}", found.len(), found.join("\n"));
}
