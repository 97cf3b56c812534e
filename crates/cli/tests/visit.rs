//! The visit sheet: what stands on the paper is what the findings say, read back by a general PDF reader (poppler); the same bytes
//! each time; two pages whatever the book holds.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]
#![expect(clippy::print_stderr, reason = "a test that is skipped says so")]

mod common;

use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::LazyLock;

use calamine::{Data, DataType as _, Reader as _, Xlsx, open_workbook};
use interstice_demo::{DEFAULT_SEED, Deed, Scenario};
use serde_json::Value;

const MADE: &str = "2026-04-08";
/// What is asked of the file.
const LARGEST_BYTES: u64 = 400_000;

struct Demo {
    folder: tempfile::TempDir,
    scenario: Scenario,
}

impl Demo {
    fn book(&self) -> PathBuf {
        self.folder.path().join("book")
    }
}

/// The invented scenario, brought in once, with notes for a visit.
static DEMO: LazyLock<Demo> = LazyLock::new(|| {
    let folder = tempfile::tempdir().unwrap();
    let scenario = Scenario::build(DEFAULT_SEED);
    let demo = Demo { folder, scenario };
    for file in demo.scenario.write(demo.folder.path()).unwrap() {
        common::done(
            &demo.book(),
            &["import", file.to_str().unwrap(), "--zone", demo.scenario.zone],
        );
    }
    let notes = [
        "visit-set",
        "--name",
        "A. Invented",
        "--visit",
        "2026-01-08",
        "--question",
        "Why am I low before dinner?",
        "--hba1c",
        "2026-04-01=54 mmol/mol",
    ];
    common::done(&demo.book(), &notes);
    demo
});

fn sheet(book: &Path, name: &str, more: &[&str]) -> (PathBuf, Value) {
    let file = book.parent().unwrap().join(name);
    let _ = std::fs::remove_file(&file);
    let out = file.to_str().unwrap().to_owned();
    let mut args = vec!["visit", "--json", "--made", MADE, "--out", &out];
    args.extend(more);
    let said = common::said(book, &args);
    (file, serde_json::from_str(&said).unwrap())
}

/// What one of poppler's tools says of a file; `None` where there is none of them.
fn poppler(tool: &str, args: &[&str], file: &Path) -> Option<String> {
    let Ok(output) = Command::new(tool).args(args).arg(file).arg("-").output() else {
        eprintln!("skipped: there is no {tool}");
        return None;
    };
    let output = if output.stdout.is_empty() {
        // pdfinfo has no place for its output.
        Command::new(tool).args(args).arg(file).output().unwrap()
    } else {
        output
    };
    Some(String::from_utf8_lossy(&output.stdout).into_owned())
}

fn text_of(file: &Path) -> Option<String> {
    poppler("pdftotext", &["-layout"], file)
}

/// The same without breaks and doubled spaces, so that a sentence can be found in it.
fn flowing(file: &Path) -> Option<String> {
    let text = poppler("pdftotext", &[], file)?;
    Some(text.split_whitespace().collect::<Vec<_>>().join(" "))
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is no number"))
}

/// Rounded half away from zero, as written by hand.
fn rounded(value: f64, decimals: usize) -> String {
    let scale = 10_f64.powi(i32::try_from(decimals).unwrap());
    format!("{:.decimals$}", (value * scale).round() / scale)
}

/// Shares have one decimal below 10 and none from there.
fn share(value: f64) -> String {
    rounded(value, usize::from(value < 9.95))
}

#[test]
fn what_stands_on_the_paper_is_what_the_findings_say() {
    let (file, answer) = sheet(&DEMO.book(), "figures.pdf", &[]);
    let Some(text) = text_of(&file) else { return };
    let visit = &answer["visit"];
    let row = |name: &str| {
        let line = text.lines().find(|line| line.trim_start().starts_with(name));
        line.unwrap_or_else(|| panic!("no row '{name}' in\n{text}"))
            .to_owned()
    };
    let summary = &visit["review"]["summary"];
    for (name, figure, written) in [
        (
            "In range, 70 to 180",
            "in_range_percent",
            share as fn(f64) -> String,
        ),
        ("Below range, below 70", "below_percent", share),
        ("of it below 54", "very_low_percent", share),
        ("Above range, above 180", "above_percent", share),
        ("of it above 250", "very_high_percent", share),
        ("Mean", "mean_mg_dl", |value| rounded(value, 0)),
        ("GMI", "gmi_percent", |value| rounded(value, 1)),
        ("CV", "cv_percent", |value| rounded(value, 1)),
    ] {
        let line = row(name);
        let value = written(number(&summary[figure]));
        let without = written(number(&visit["without_pressure"]["summary"][figure]));
        assert!(line.contains(&value), "{figure} {value} is not in '{line}'");
        let change = visit["change"]["lines"].as_array().unwrap();
        let change = change.iter().find(|line| line["what"] == figure).unwrap();
        let decimals = usize::from(figure != "mean_mg_dl");
        let difference = rounded(number(&change["difference"]).abs(), decimals);
        for part in [&without, &difference] {
            assert!(
                line.contains(part.as_str()),
                "{figure}: {part} is not in '{line}'"
            );
        }
    }
    let trust = &visit["trust"];
    let line = row("All ");
    for part in [
        trust["pairs"].to_string(),
        rounded(number(&trust["mard_percent"]), 1),
    ] {
        assert!(line.contains(&part), "{part} is not in '{line}'");
    }
    for kind in visit["insulin"]["kinds"].as_array().unwrap() {
        let name = if kind["insulin"] == "rapid" {
            "Rapid-acting"
        } else {
            "Long-acting"
        };
        let line = text.lines().find(|line| line.contains(name)).unwrap();
        let a_day = rounded(number(&kind["units_per_day_logged"]), 1);
        assert!(line.contains(&a_day), "{a_day} is not in '{line}'");
    }
    let said = flowing(&file).unwrap();
    for part in [
        "A. Invented",
        "8 January 2026 to 7 April 2026",
        "Why am I low before dinner?",
        "54 mmol/mol (7.1 %)",
        "Changes of treatment belong with the care team",
        "never a dose",
    ] {
        assert!(said.contains(part), "{part} is not in\n{said}");
    }
    // The same findings as the command's own account.
    let review: Value =
        serde_json::from_str(&common::said(&DEMO.book(), &["review", "--days", "90", "--json"])).unwrap();
    for (name, value) in review["summary"].as_object().unwrap() {
        // Another stretch of the book was loaded, so that sums are rounded in another order.
        assert!((number(value) - number(&summary[name])).abs() < 1e-9, "{name}");
    }
    let told: Value = serde_json::from_str(&common::said(&DEMO.book(), &["trust", "--json"])).unwrap();
    for figure in ["mard_percent", "bias_mg_dl", "lag_min", "pairs"] {
        assert_eq!(told[figure], trust[figure], "{figure}");
    }
}

/// What the diary got to know, added up from the scenario's own record.
#[test]
fn insulin_is_what_the_planted_diary_holds() {
    let (_, answer) = sheet(&DEMO.book(), "insulin.pdf", &[]);
    let window = &answer["visit"]["review"]["window"];
    let at = |name: &str| {
        let text = window[name].as_str().unwrap();
        text.parse::<jiff::Timestamp>().unwrap().as_second()
    };
    let (from, to) = (at("from"), at("to"));
    let logged = DEMO.scenario.truth.entries.iter();
    let logged = logged.filter(|entry| entry.logged && (from..to).contains(&entry.at));
    let (mut rapid, mut long) = (0.0, 0.0);
    for entry in logged {
        match entry.deed {
            Deed::Rapid { units, .. } => rapid += units,
            Deed::Long { units } => long += units,
            _ => {}
        }
    }
    for (name, units) in [("rapid", rapid), ("long", long)] {
        let kinds = answer["visit"]["insulin"]["kinds"].as_array().unwrap();
        let kind = kinds.iter().find(|kind| kind["insulin"] == name).unwrap();
        let total = number(&kind["units_per_day_logged"]) * number(&kind["days_logged"]);
        assert!((total - units).abs() < 1e-6, "{name}: {total} against {units}");
        let quarters: f64 = kind["units_by_quarter"]
            .as_array()
            .unwrap()
            .iter()
            .map(number)
            .sum();
        assert!((quarters - number(&kind["units_per_day_logged"])).abs() < 1e-9);
    }
}

fn pages(file: &Path) -> Option<usize> {
    let said = poppler("pdfinfo", &[], file)?;
    let line = said.lines().find(|line| line.starts_with("Pages:"))?;
    line.split_whitespace().nth(1)?.parse().ok()
}

#[test]
fn the_same_bytes_and_two_pages_on_either_paper() {
    for paper in ["a4", "letter"] {
        let (file, answer) = sheet(&DEMO.book(), &format!("{paper}.pdf"), &["--paper", paper]);
        let bytes = std::fs::read(&file).unwrap();
        let (again, second) = sheet(&DEMO.book(), &format!("{paper}-again.pdf"), &["--paper", paper]);
        assert!(bytes == std::fs::read(again).unwrap(), "{paper}");
        assert_eq!(answer["files"][0]["sha256"], second["files"][0]["sha256"]);
        assert_eq!(answer["files"][0]["bytes"], bytes.len());
        assert!((bytes.len() as u64) < LARGEST_BYTES, "{}", bytes.len());
        if let Some(pages) = pages(&file) {
            assert_eq!(pages, 2, "{paper}");
        }
    }
    let (file, answer) = sheet(&DEMO.book(), "sheet.html", &[]);
    let page = std::fs::read_to_string(&file).unwrap();
    let (again, _) = sheet(&DEMO.book(), "again.html", &[]);
    assert!(page == std::fs::read_to_string(again).unwrap());
    assert_eq!(answer["files"][0]["bytes"], page.len());
    for asks in [
        "<script", "src=", "url(", "@import", "http://", "https://", "href=\"/",
    ] {
        let asks_at = page.find(asks);
        let around = asks_at.map(|at| page[at.saturating_sub(40)..(at + 60).min(page.len())].to_owned());
        // The name space of drawings is a name, and hatches are in the page itself.
        let is_name = around
            .as_deref()
            .is_none_or(|around| around.contains("w3.org/") || around.contains("url(#"));
        assert!(is_name, "{asks}: {around:?}");
    }
}

/// Read back by calamine, which shares no code with what wrote it.
#[test]
fn the_spreadsheet_holds_the_figures_as_numbers() {
    let (file, answer) = sheet(&DEMO.book(), "tables.xlsx", &[]);
    let (again, _) = sheet(&DEMO.book(), "tables-again.xlsx", &[]);
    assert!(std::fs::read(&file).unwrap() == std::fs::read(again).unwrap());
    let mut book: Xlsx<_> = open_workbook(&file).unwrap();
    let names = book.sheet_names();
    for name in [
        "Visit",
        "Measures",
        "Swings",
        "Trust",
        "Figures",
        "Days",
        "Episodes",
        "Usual day",
        "Definitions",
    ] {
        assert!(
            names.iter().any(|have| have == name),
            "{name} is not in {names:?}"
        );
    }
    let visit = &answer["visit"];
    let review = &visit["review"];
    let figures = book.worksheet_range("Figures").unwrap();
    let mut told = 0;
    for row in figures.rows().skip(1) {
        for (column, end) in ["", "_lo95", "_hi95"].into_iter().enumerate() {
            let key = format!("{}{end}", row[0]);
            let cell = row.get(column + 1).and_then(Data::get_float);
            assert_eq!(cell, review["summary"][&key].as_f64(), "{key}");
            told += usize::from(cell.is_some());
        }
    }
    assert!(told > 40, "{told}");
    let days = book.worksheet_range("Days").unwrap();
    let all = review["days"].as_array().unwrap();
    assert_eq!(days.height(), all.len() + 1);
    for (row, day) in days.rows().skip(1).zip(all) {
        assert_eq!(row[0].get_string(), day["date"].as_str());
        assert_eq!(row[3].get_float(), day["mean_mg_dl"].as_f64());
    }
    let episodes = book.worksheet_range("Episodes").unwrap();
    assert_eq!(
        episodes.height(),
        review["episodes"].as_array().unwrap().len() + 1
    );
    let measures = book.worksheet_range("Measures").unwrap();
    assert!(
        measures
            .get_value((1, 0))
            .unwrap()
            .to_string()
            .starts_with("In range"),
        "{measures:?}"
    );
    let lead = book.worksheet_range("Visit").unwrap();
    let said: Vec<String> = lead.rows().map(|row| row[1].to_string()).collect();
    assert!(
        said.iter().any(|text| text == "Why am I low before dinner?"),
        "{said:?}"
    );
    assert!(said.iter().any(|text| text.contains("never a dose")), "{said:?}");
}

/// The sheet of the demo as words: whoever changes what it says sees it here.
#[test]
fn the_words_of_the_sheet() {
    let text = common::said(&DEMO.book(), &["visit", "--made", MADE]);
    insta::assert_snapshot!("sheet", text);
}

/// ISO 19005-2 (PDF/A-2, conformance level A) and ISO 14289-1 (PDF/UA-1) name themselves in the file's metadata; both ask for
/// tags. Read by poppler, not by what wrote them.
#[test]
fn it_is_archival_accessible_and_tagged() {
    let (file, _) = sheet(&DEMO.book(), "tagged.pdf", &[]);
    let Some(info) = poppler("pdfinfo", &[], &file) else {
        return;
    };
    assert!(info.contains("Tagged:          yes"), "{info}");
    assert!(info.contains("Visit sheet of A. Invented"), "{info}");
    let meta = poppler("pdfinfo", &["-meta"], &file).unwrap();
    for part in [
        "<pdfaid:part>2</pdfaid:part>",
        "<pdfaid:conformance>A</pdfaid:conformance>",
        "<pdfuaid:part>1</pdfuaid:part>",
    ] {
        assert!(meta.contains(part), "{part} is not in\n{meta}");
    }
    let tree = poppler("pdfinfo", &["-struct-text"], &file).unwrap();
    let count = |tag: &str| {
        tree.lines()
            .filter(|line| line.trim_start().starts_with(tag))
            .count()
    };
    assert_eq!(count("H1"), 1, "{tree}");
    assert!(count("H2") >= 10 && count("Figure") == 2, "{tree}");
    assert!(
        count("Table") >= 6 && count("TH") > 40 && count("TD") > 80,
        "{tree}"
    );
    assert!(count("LBody") >= 18, "{tree}");
    let fonts = poppler("pdffonts", &[], &file).unwrap();
    let rows: Vec<&str> = fonts
        .lines()
        .skip(2)
        .filter(|line| line.contains("Noto"))
        .collect();
    assert_eq!(rows.len(), 2, "{fonts}");
    // Embedded, subset, with a way back to letters.
    assert!(rows.iter().all(|row| row.contains("yes yes yes")), "{fonts}");
}

fn made_up(folder: &Path, days: u32, value: impl Fn(u32) -> u32) -> PathBuf {
    let mut text = "time,glucose mg/dL\n".to_owned();
    let first: jiff::civil::DateTime = "2025-01-01T00:00".parse().unwrap();
    for i in 0..96 * days {
        let at = first + jiff::Span::new().minutes(15 * i64::from(i));
        let _ = writeln!(text, "{},{}", at.strftime("%Y-%m-%dT%H:%M:%S"), value(i));
    }
    let file = folder.join("made-up.csv");
    std::fs::write(&file, text).unwrap();
    let book = folder.join("book");
    common::done(&book, &["import", file.to_str().unwrap(), "--zone", "UTC"]);
    book
}

#[test]
fn three_days_make_two_pages_that_say_too_little() {
    let folder = tempfile::tempdir().unwrap();
    let book = made_up(folder.path(), 3, |i| 90 + i % 80);
    let (file, answer) = sheet(&book, "few.pdf", &[]);
    assert_eq!(answer["visit"]["matters"][0]["matter"], "too_little");
    assert!(answer["visit"]["without_pressure"].is_null());
    let Some(said) = flowing(&file) else { return };
    assert_eq!(pages(&file), Some(2));
    for part in [
        "Too few readings",
        "Name",
        "No insulin was logged",
        "No earlier visit is written down",
        "not yet",
    ] {
        assert!(said.contains(part), "{part} is not in\n{said}");
    }
    assert!(!said.contains("Change since"), "{said}");
}

/// Two years, and as much written down as may be: nothing is cut, all is counted.
#[test]
fn what_does_not_fit_is_counted() {
    let folder = tempfile::tempdir().unwrap();
    let book = made_up(folder.path(), 730, |i| 60 + (i * 37) % 220);
    let mut diary = "time,units,insulin type,carbs g,note\n".to_owned();
    for i in 0..600_u32 {
        let day = 1 + i % 28;
        let name = format!(
            "a meal of a very long name that goes on and on, number {}",
            i % 40
        );
        let _ = writeln!(
            diary,
            "2026-{:02}-{day:02}T{:02}:10:00,4,rapid,45,{name}",
            1 + i % 12,
            7 + i % 12
        );
    }
    let file = folder.path().join("diary.csv");
    std::fs::write(&file, diary).unwrap();
    common::run(&book, &["import", file.to_str().unwrap(), "--zone", "UTC"]);
    let long = format!("{} {}", "a long question ".repeat(20), "w".repeat(60));
    let mut notes = vec!["visit-set".to_owned()];
    for i in 0..40 {
        notes.extend(["--question".to_owned(), format!("{i}: {long}")]);
    }
    for i in 0..20 {
        notes.extend([
            "--hba1c".to_owned(),
            format!("{}-0{}-03=7.{} %", 2025 + i / 4, 1 + i % 4, i % 10),
        ]);
    }
    let name: String = "A name as long as names may be, ".repeat(10);
    notes.extend(["--name".to_owned(), name.chars().take(120).collect()]);
    let notes: Vec<&str> = notes.iter().map(String::as_str).collect();
    common::done(&book, &notes);
    for (days, paper) in [("1", "a4"), ("300", "letter"), ("730", "a4")] {
        let name = format!("{days}-{paper}.pdf");
        let (file, answer) = sheet(&book, &name, &["--days", days, "--paper", paper]);
        let Some(said) = flowing(&file) else { return };
        assert_eq!(pages(&file), Some(2), "{days} {paper}");
        let asked = answer["visit"]["questions"].as_array().unwrap().len();
        assert_eq!(asked, 40);
        assert!(said.contains("more, in the book"), "{said}");
    }
    // The file to send has all of them.
    let (html, _) = sheet(&book, "all.html", &["--days", "30"]);
    let page = std::fs::read_to_string(html).unwrap();
    for i in 0..40 {
        assert!(page.contains(&format!("<li>{i}: a long question")), "{i}");
    }
}

/// Every word on either page lies inside the paper's margins, and no two words on one another: by the boxes poppler finds.
#[test]
fn nothing_overlaps_and_nothing_leaves_the_paper() {
    for (paper, width, height) in [("a4", 595.28, 841.89), ("letter", 612.0, 792.0)] {
        let (file, _) = sheet(
            &DEMO.book(),
            &format!("boxes-{paper}.pdf"),
            &["--paper", paper, "--unit", "mmol/L"],
        );
        let Some(boxes) = poppler("pdftotext", &["-bbox"], &file) else {
            return;
        };
        let attribute = |line: &str, name: &str| -> f64 {
            let from = line.find(&format!("{name}=\"")).unwrap() + name.len() + 2;
            line[from..].split('"').next().unwrap().parse().unwrap()
        };
        let mut page: Vec<([f64; 4], String)> = Vec::new();
        let mut pages = Vec::new();
        for line in boxes.lines() {
            if line.contains("</page>") {
                pages.push(std::mem::take(&mut page));
            } else if line.contains("<word ") {
                let corners = ["xMin", "yMin", "xMax", "yMax"].map(|name| attribute(line, name));
                page.push((corners, line.to_owned()));
            }
        }
        assert_eq!(pages.len(), 2);
        for words in pages {
            assert!(words.len() > 150, "{}", words.len());
            let mut seen = BTreeSet::new();
            for (i, ([left, top, right, bottom], line)) in words.iter().enumerate() {
                assert!(*left > 36.0 && *right < width - 36.0, "{line}");
                assert!(*top > 30.0 && *bottom < height - 18.0, "{line}");
                for ([l, t, r, b], other) in &words[i + 1..] {
                    // Boxes are as high as the letters may be; a third of one on another is an overlap.
                    let (wide, high) = (right.min(*r) - left.max(*l), bottom.min(*b) - top.max(*t));
                    let least = (bottom - top).min(b - t);
                    if wide > 0.8 && high > 0.34 * least {
                        seen.insert(format!("{line} on {other}"));
                    }
                }
            }
            assert!(seen.is_empty(), "{paper}: {seen:#?}");
        }
    }
}

#[test]
fn wrong_words_are_refused_and_nothing_is_written() {
    let folder = tempfile::tempdir().unwrap();
    let book = made_up(folder.path(), 2, |_| 100);
    let out = folder.path().join("sheet.docx");
    let good = folder.path().join("sheet.pdf");
    let (out, good) = (out.to_str().unwrap(), good.to_str().unwrap());
    for args in [
        &["visit", "--out", good, "--out", out][..],
        &["visit", "--since", "soon"],
        &["visit", "--from", "2025-01-02", "--to", "2025-01-01"],
        &["visit", "--from", "2025-01-02"],
        &["visit-set", "--hba1c", "2025-01-01=high"],
        &["visit-set", "--hba1c", "7.1"],
        &["visit-set", "--drop-question", "1"],
        &["visit-set", "--question", ""],
        &["visit-set", "--visit", "1960-01-01"],
    ] {
        let output = common::run(&book, args);
        assert_eq!(output.status.code(), Some(2), "{args:?}");
        assert!(!output.stderr.is_empty(), "{args:?}");
    }
    assert!(!Path::new(good).exists());
    let kept: Value = serde_json::from_str(&common::said(&book, &["visit-set", "--json"])).unwrap();
    assert_eq!(kept["questions"].as_array().unwrap().len(), 0);
    // A file that is there already is not written over.
    common::done(&book, &["visit", "--out", good]);
    let output = common::run(&book, &["visit", "--out", good]);
    assert_eq!(output.status.code(), Some(2));
}

#[test]
fn what_is_kept_for_visits_can_be_taken_back() {
    let folder = tempfile::tempdir().unwrap();
    let book = made_up(folder.path(), 2, |_| 100);
    let kept = |args: &[&str]| -> Value { serde_json::from_str(&common::said(&book, args)).unwrap() };
    let all = kept(&[
        "visit-set",
        "--json",
        "--question",
        "one?",
        "--question",
        "two?",
        "--name",
        "N",
        "--visit",
        "2024-12-01",
    ]);
    assert_eq!(all["questions"], serde_json::json!(["one?", "two?"]));
    assert_eq!(all["changes"].as_array().unwrap().len(), 4);
    let fewer = kept(&[
        "visit-set",
        "--json",
        "--drop-question",
        "1",
        "--no-name",
        "--not-visit",
        "2024-12-01",
    ]);
    assert_eq!(fewer["questions"], serde_json::json!(["two?"]));
    assert!(fewer["name"].is_null() && fewer["visits"].as_array().unwrap().is_empty());
    for _ in 0..3 {
        common::done(&book, &["undo"]);
    }
    let again = kept(&["visit-set", "--json"]);
    assert_eq!(again["questions"], serde_json::json!(["one?", "two?"]));
    assert_eq!(again["name"], "N");
}
