//! Every page's pictures, tables and figures: each picture has its table, each table copies and downloads with units in the
//! names of its columns, each figure has its method page, and that page its source. Skipped where there is no chromedriver.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use std::collections::BTreeSet;

use common::browser::{Driver, LAPTOP, browser, protocol};
use common::pages::{PAGES, open, served};
use fantoccini::{Client, Locator};
use serde_json::{Value, json};

/// Pages of words, forms and files, without a figure.
const WITHOUT_FIGURES: [&str; 13] = [
    "method",
    "compare-form",
    "write-check",
    "write-dose",
    "write-meal",
    "write-note",
    "imports",
    "question",
    "feeds",
    "devices",
    "rejected",
    "settings",
    "methods",
];

/// For each picture that is shown: whether its section, or else the page, has a table.
const PICTURES: &str = "return [...document.querySelectorAll('main svg.picture, main canvas')] \
    .filter(it => it.checkVisibility()).map(it => { \
        const main = document.querySelector('main'); \
        const near = it.closest('.sheet-file') ? main : it.closest('section') ?? main; \
        const words = near.querySelector('a[data-table]'); \
        return { name: it.getAttribute('class') ?? it.id, table: Boolean(near.querySelector('table') ?? words), \
            method: Boolean(near.querySelector('a[href^=\"/methods/\"]')), page: Boolean(document.querySelector('main a[href^=\"/methods/\"]')) }; })";

/// For each table: its tools, its text as CSV, and whether its section leads to a method.
const TABLES: &str = "return [...document.querySelectorAll('main table')].map(it => { \
    const box = it.closest('.scroll, .sheet-scroll') ?? it, tools = box.nextElementSibling; \
    return { heads: it.rows[0]?.textContent.slice(0, 80) ?? '', \
        copy: Boolean(tools?.matches('p.tools') && [...tools.querySelectorAll('button')].some(one => one.textContent === 'Copy')), \
        file: Boolean(tools?.matches('p.tools') && (tools.querySelector('a[href*=\".csv\"]') \
            ?? [...tools.querySelectorAll('button')].find(one => one.textContent === 'Download as CSV'))), \
        csv: interstice.csv(it), server: Boolean(tools?.querySelector('a[href*=\".csv\"]')), \
        page: Boolean(document.querySelector('main a[href^=\"/methods/\"]')) }; })";

async fn list(client: &Client, script: &str) -> Vec<Value> {
    let found = client.execute(script, vec![]).await.unwrap();
    found.as_array().unwrap().clone()
}

#[tokio::test(flavor = "multi_thread")]
async fn every_picture_has_its_table_and_every_figure_its_method() {
    let Some(driver) = Driver::start() else { return };
    let (folder, profile) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let book = served(folder.path()).await;
    let client = browser(&driver, LAPTOP, profile.path()).await;
    let (mut faults, mut methods) = (Vec::new(), BTreeSet::new());
    let (mut pictures, mut tables) = (0, 0);
    for (name, path) in PAGES {
        open(&client, &format!("{book}{path}")).await;
        for picture in list(&client, PICTURES).await {
            pictures += 1;
            if picture["table"] != json!(true) {
                faults.push(format!("{name}: a picture without a table: {picture}"));
            }
            if picture["method"] != json!(true) {
                faults.push(format!("{name}: a picture without a method: {picture}"));
            }
        }
        for table in list(&client, TABLES).await {
            tables += 1;
            let heads = table["heads"].as_str().unwrap();
            if table["copy"] != json!(true) || table["file"] != json!(true) {
                faults.push(format!("{name}: a table that does not copy or download: {heads}"));
            }
            faults.extend(
                unnamed_units(table["csv"].as_str().unwrap()).map(|fault| format!("{name}: {fault}")),
            );
            let has_figures = !WITHOUT_FIGURES.contains(&name);
            if has_figures && table["page"] != json!(true) {
                faults.push(format!("{name}: figures without a method: {heads}"));
            }
        }
        let links = "return [...document.querySelectorAll('main a[href^=\"/methods/\"]')].map(it => new URL(it.href).pathname)";
        let links = list(&client, links).await;
        methods.extend(links.iter().map(|link| link.as_str().unwrap().to_owned()));
    }
    assert!(
        pictures > 20 && tables > 40,
        "{pictures} pictures and {tables} tables were seen"
    );
    for method in methods {
        client.goto(&format!("{book}{method}")).await.unwrap();
        let text = "return document.querySelector('article.method')?.textContent ?? ''";
        let text = client.execute(text, vec![]).await.unwrap();
        // A list of words computes nothing.
        if method != "/methods/terms" && !has_a_source(text.as_str().unwrap()) {
            faults.push(format!("{method} names no source"));
        }
    }
    client.close().await.unwrap();
    assert!(
        faults.is_empty(),
        "{} faults:\n{}",
        faults.len(),
        faults.join("\n")
    );
}

/// A year of publication in round brackets or before a full stop, or the number of a standard.
fn has_a_source(text: &str) -> bool {
    let years = 1880..2100;
    let words = text.split(|c: char| !c.is_ascii_alphanumeric());
    let has_year = words
        .filter(|word| word.len() == 4)
        .filter_map(|word| word.parse::<i32>().ok())
        .any(|year| years.contains(&year));
    has_year || text.contains("ISO ") || text.contains("no source")
}

/// Units as names of columns have them; 'A week' and 'Expected' are of counts, 'points' of percentage points.
const UNITS: [&str; 16] = [
    "mg/dL", "mmol/L", "%", "(h", "(g", "(min", "(day", "(unit", "hour", "minute", "Grams", "Days", "EUR",
    "points", "A week", "Expected",
];

/// Columns of bare numbers with a decimal point whose name says no unit.
fn unnamed_units(csv: &str) -> impl Iterator<Item = String> {
    let rows: Vec<Vec<String>> = csv.lines().map(cells).collect();
    let heads = rows.first().cloned().unwrap_or_default();
    let unnamed = move |(place, head): (usize, String)| {
        let column: Vec<&str> = rows
            .iter()
            .skip(1)
            .filter_map(|row| row.get(place).map(String::as_str))
            .collect();
        let is_number = |cell: &&&str| cell.parse::<f64>().is_ok();
        let numbers = column.iter().filter(is_number).count();
        let decimal = column.iter().filter(is_number).any(|cell| cell.contains('.'));
        let named = UNITS.iter().any(|unit| head.contains(unit));
        let by_row = rows
            .iter()
            .skip(1)
            .filter(|row| row.get(place).is_some_and(|cell| cell.parse::<f64>().is_ok()))
            .all(|row| {
                row[0].contains(", ")
                    || row[0].contains(" a ")
                    || UNITS.iter().any(|unit| row[0].contains(unit))
            });
        (numbers * 2 > column.len() && decimal && !named && !by_row).then(|| {
            format!(
                "a column of numbers without a unit: '{head}' {:?}",
                column.first()
            )
        })
    };
    heads.into_iter().enumerate().filter_map(unnamed)
}

fn cells(line: &str) -> Vec<String> {
    let (mut cells, mut cell, mut quoted) = (Vec::new(), String::new(), false);
    for letter in line.chars() {
        match letter {
            '"' => quoted = !quoted,
            ',' if !quoted => cells.push(std::mem::take(&mut cell)),
            other => cell.push(other),
        }
    }
    cells.push(cell);
    cells
}

#[tokio::test(flavor = "multi_thread")]
async fn a_table_is_copied_and_saved_under_the_pages_own_policy() {
    let Some(driver) = Driver::start() else { return };
    let (folder, profile, saved) = (
        tempfile::tempdir().unwrap(),
        tempfile::tempdir().unwrap(),
        tempfile::tempdir().unwrap(),
    );
    let book = served(folder.path()).await;
    let client = browser(&driver, LAPTOP, profile.path()).await;
    let grant = json!({ "permissions": ["clipboardReadWrite", "clipboardSanitizedWrite"], "origin": book });
    protocol(&client, "Browser.grantPermissions", grant).await;
    let to = json!({ "behavior": "allow", "downloadPath": saved.path() });
    protocol(&client, "Browser.setDownloadBehavior", to).await;
    client
        .goto(&format!("{book}/days/beside?day=2026-03-20&other=usual"))
        .await
        .unwrap();

    let tools = "section[aria-labelledby=beside-figures] p.tools";
    let copy = client
        .find(Locator::Css(&format!("{tools} button:nth-of-type(1)")))
        .await
        .unwrap();
    copy.click().await.unwrap();
    let said = client
        .wait()
        .for_element(Locator::Css(&format!("{tools} [role=status]:not(:empty)")))
        .await
        .unwrap();
    assert_eq!(said.text().await.unwrap(), "Copied.");
    let read =
        "const done = arguments[0]; navigator.clipboard.readText().then(done, error => done(String(error)))";
    let copied = client.execute_async(read, vec![]).await.unwrap();
    let copied = copied.as_str().unwrap();
    assert!(
        copied.starts_with("Figure\tFriday 20 Mar\t") && copied.contains("\nIn range\t"),
        "{copied}"
    );

    let download = client
        .find(Locator::Css(&format!("{tools} button:nth-of-type(2)")))
        .await
        .unwrap();
    download.click().await.unwrap();
    let mut file = None;
    for _ in 0..50 {
        tokio::time::sleep(std::time::Duration::from_millis(100)).await;
        let files = std::fs::read_dir(saved.path()).unwrap().filter_map(Result::ok);
        file = files
            .map(|entry| entry.path())
            .find(|path| path.extension().is_some_and(|end| end == "csv"));
        if file.is_some() {
            break;
        }
    }
    let file = file.unwrap();
    let name = file.file_name().unwrap().to_string_lossy().into_owned();
    assert_eq!(name, "interstice-a-day-beside-another-the-figures-beside.csv");
    let text = std::fs::read_to_string(file).unwrap();
    assert!(
        text.starts_with("Figure,Friday 20 Mar,") && text.contains("\r\nMean,136 mg/dL,"),
        "{text}"
    );
    client.close().await.unwrap();
}
