//! What the wearer chooses of the plan, through the real binary: kept, followed, named where it cannot be met, taken back.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use std::process::Output;

use common::run_in;
use serde_json::Value;
use tempfile::TempDir;

struct Desk(TempDir);

impl Desk {
    /// A fortnight's sensor, on since noon of the first of March in Lisbon.
    fn new() -> Self {
        let desk = Desk(TempDir::new().unwrap());
        desk.done(&[
            "log",
            "sensor",
            "started",
            "--name",
            "S1",
            "--site",
            "left upper arm",
            "--at",
            "2025-03-01 12:00",
        ]);
        desk.done(&["set", "zone", "Europe/Lisbon"]);
        let kind = ["sensor-kind", "mine", "--wear-days", "14", "--extra-hours", "12"];
        let more = ["--longest-bedding-hours", "48", "--sites", "upper arm,abdomen"];
        desk.done(&[kind.as_slice(), more.as_slice()].concat());
        desk
    }

    fn run(&self, args: &[&str]) -> Output {
        run_in("Europe/Lisbon", &self.0.path().join("test.interstice"), args)
    }

    fn done(&self, args: &[&str]) {
        let output = self.run(args);
        assert!(
            output.status.success(),
            "{args:?}: {}",
            String::from_utf8_lossy(&output.stderr)
        );
    }

    fn json(&self, args: &[&str]) -> Value {
        let output = self.run(&[args, &["--json"]].concat());
        serde_json::from_slice(&output.stdout)
            .unwrap_or_else(|e| panic!("{args:?}: {e}: {}", String::from_utf8_lossy(&output.stderr)))
    }

    fn plan(&self) -> Value {
        self.json(&["wear", "--plan", "--at", "2025-03-02 09:00"])
    }
}

fn moments<'a>(plan: &'a Value, what: &str) -> Vec<&'a str> {
    plan["plan"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| one[what].as_str().unwrap())
        .collect()
}

#[test]
fn hours_are_kept_to() {
    let desk = Desk::new();
    desk.done(&[
        "wear-set",
        "--put-on-hours",
        "18:00-20:00",
        "--start-hours",
        "18:00-20:00",
        "--bedding-hours",
        "0",
    ]);
    let plan = desk.plan();
    assert_eq!(plan["choices"]["put_on_hours"], "18:00-20:00");
    for at in [moments(&plan, "put_on"), moments(&plan, "start")].concat() {
        // By the wearer's clock, before and after it changes at the end of March.
        assert!(("18:00".."20:00").contains(&&at[11..16]), "{at}");
    }
    assert_eq!(
        (
            plan["uncovered_min"].as_i64(),
            plan["unmet"].as_array().unwrap().len()
        ),
        (Some(0), 0)
    );
}

#[test]
fn days_away_are_planned_around_and_named_where_they_cannot_be() {
    let desk = Desk::new();
    desk.done(&["wear-set", "--away", "2025-03-12..2025-03-17", "--note", "hills"]);
    let plan = desk.plan();
    let acts = [moments(&plan, "put_on"), moments(&plan, "start")].concat();
    assert!(
        acts.iter()
            .all(|at| !("2025-03-12".."2025-03-18").contains(&&at[..10])),
        "{acts:?}"
    );
    assert_eq!(plan["uncovered_min"], 0);
    assert_eq!(plan["choices"]["away"][0]["note"], "hills");
    // Away for longer than a sensor lasts: something must be done there, and it says so.
    desk.done(&[
        "wear-set",
        "--not-away",
        "2025-03-12..2025-03-17",
        "--away",
        "2025-03-10..2025-04-20",
    ]);
    let plan = desk.plan();
    assert_eq!(plan["uncovered_min"], 0);
    let unmet = plan["unmet"].to_string();
    assert!(unmet.contains("on days away"), "{unmet}");
}

#[test]
fn what_is_settled_is_kept_and_taken_back() {
    let desk = Desk::new();
    desk.done(&["wear-set", "--pin", "2025-03-11 07:10", "--site", "right abdomen"]);
    let plan = desk.plan();
    let first = &plan["plan"][0];
    assert_eq!(first["put_on"], "2025-03-11T07:00:00+00:00");
    assert_eq!(
        (&first["site"], &first["side"], &first["pinned"]),
        (&"abdomen".into(), &"right".into(), &true.into())
    );
    assert!(first["why"].to_string().contains("you settled"), "{first}");
    desk.done(&["wear-set", "--unpin", "2025-03-11 07:10"]);
    assert_eq!(desk.plan()["plan"][0]["pinned"], false);
    desk.done(&["undo"]);
    assert_eq!(desk.plan()["plan"][0]["pinned"], true);
}

#[test]
fn weights_are_printed_and_weighed() {
    let desk = Desk::new();
    // The sensor on now ends at noon: one that is started at eight in the evening runs it into its extra time.
    desk.done(&["wear-set", "--start-hours", "20:00-21:00"]);
    let hour = |plan: &Value| moments(plan, "start")[0][11..13].to_owned();
    let before = desk.plan();
    assert_eq!(
        (
            &before["choices"]["weights"]["extra-hour"],
            hour(&before).as_str()
        ),
        (&0.25.into(), "20")
    );
    desk.done(&["wear-set", "--weight", "extra-hour=40"]);
    let after = desk.plan();
    assert_eq!(after["choices"]["weights"]["extra-hour"], 40.0);
    assert!(hour(&after).as_str() < "12", "{after}");
    assert!(
        after["unmet"].to_string().contains("outside your hours"),
        "{}",
        after["unmet"]
    );
    desk.done(&["wear-set", "--usual", "weights"]);
    assert_eq!(desk.plan()["plan"], before["plan"]);
}

#[test]
fn what_makes_no_sense_is_refused_and_writes_nothing() {
    let desk = Desk::new();
    for wrong in [
        ["--put-on-hours", "8-"].as_slice(),
        &["--rest-days", "9", "--days-ahead", "3"],
        &["--weight", "hope=3"],
        &["--weight", "away=-1"],
        &["--away", "2025-05-20..2025-05-01"],
        &["--pin", "18:00"],
        &["--pin", "2025-03-11 18:00", "--site", "somewhere nice"],
        &["--usual", "everything"],
    ] {
        let output = desk.run(&[&["wear-set"], wrong].concat());
        assert_eq!(output.status.code(), Some(2), "{wrong:?}");
    }
    assert_eq!(desk.json(&["wear-set"])["choices"]["rest_days"], 7);
}

/// The first word written begins a book; who only asks is told that there is none.
#[test]
fn a_choice_and_a_kind_begin_a_book() {
    for args in [
        vec!["wear-set", "--rest-days", "9"],
        vec!["sensor-kind", "mine", "--wear-days", "14"],
    ] {
        let desk = Desk(TempDir::new().unwrap());
        assert!(!desk.run(&args[..1]).status.success(), "there is no book yet");
        // What makes no sense begins none.
        assert!(!desk.run(&["wear-set", "--rest-days", "900"]).status.success());
        assert!(!desk.0.path().join("test.interstice").exists());
        desk.done(&args);
        desk.done(&args[..1]);
    }
}

#[test]
fn dates_are_told_in_words_and_a_slip_of_the_year_is_refused() {
    let desk = Desk::new();
    desk.done(&[
        "stock",
        "add",
        "2",
        "--use-by",
        "2025-03-10",
        "--arrived",
        "2025-03-01",
    ]);
    desk.done(&["wear-set", "--away", "2025-03-10..2025-04-20"]);
    let unmet = desk.plan()["unmet"].to_string();
    assert!(
        unmet.contains("on days away, the first on") && unmet.contains(" March 2025"),
        "{unmet}"
    );
    let slip = desk.run(&["log", "sensor", "put-on", "--at", "0001-03-01 12:00"]);
    assert_eq!(slip.status.code(), Some(2));
    // The drawer as it was before the lot came; one of it was put on the day it did.
    let then = desk.json(&["stock", "--at", "2025-02-20 12:00"]);
    let now = desk.json(&["stock", "list", "--at", "2025-03-02 12:00"]);
    let left = |found: &Value| found["supply"]["sensors"].clone();
    assert_eq!((left(&then), left(&now)), (0.into(), 1.into()));
    assert!(
        !desk
            .run(&["stock", "delivery", "3", "--at", "2025-03-02"])
            .status
            .success()
    );
}
