//! The drawer through the real binary: a lot goes in, is used up, corrected, and taken back.

mod common;

use std::process::Output;

use common::run;
use serde_json::Value;
use tempfile::TempDir;

struct Drawer(TempDir);

impl Drawer {
    fn run(&self, args: &[&str]) -> Output {
        run(&self.0.path().join("test.interstice"), args)
    }

    fn json(&self, args: &[&str]) -> Value {
        let output = self.run(&[args, &["--json"]].concat());
        let said = String::from_utf8_lossy(&output.stderr);
        serde_json::from_slice(&output.stdout).unwrap_or_else(|error| panic!("{args:?}: {error}: {said}"))
    }
}

#[test]
fn a_lot_is_written_down_used_up_corrected_and_taken_back() {
    let drawer = Drawer(TempDir::new().unwrap());
    let box_of_three = [
        "stock",
        "add",
        "3",
        "--lot",
        "KR-300",
        "--use-by",
        "2199-09-30",
        "--price",
        "179,70",
        "--currency",
        "EUR",
        "--source",
        "bought",
        "--arrived",
        "2026-03-01",
    ];
    let added = drawer.json(&box_of_three);
    assert_eq!(added["lot"], 1);
    // The currency said before is taken.
    let second = [
        "stock",
        "add",
        "2",
        "--price-each",
        "50",
        "--expected",
        "2199-01-01",
    ];
    assert_eq!(drawer.json(&second)["lot"], 2);
    let put_on = [
        "log",
        "sensor",
        "put-on",
        "--lot",
        "kr300",
        "--at",
        "2026-03-02 08:00",
    ];
    assert_eq!(drawer.run(&put_on).status.code(), Some(0));
    let dropped = ["stock", "correct", "1", "--by", "-1", "--reason", "dropped"];
    let change = drawer.json(&dropped)["change_id"].to_string();

    let stock = drawer.json(&["stock"])["stock"].clone();
    let (first, second) = (&stock[0], &stock[1]);
    assert_eq!(
        (&first["left"], &first["put_on"], &first["corrected"]),
        (&1.into(), &1.into(), &(-1).into())
    );
    assert_eq!(
        (&first["price_minor"], &first["currency"]),
        (&17_970.into(), &"EUR".into())
    );
    assert_eq!(
        (&second["price_minor"], &second["expected"]),
        (&10_000.into(), &"2199-01-01".into())
    );
    assert_eq!(drawer.json(&["wear"])["stock"], stock);

    assert_eq!(drawer.run(&["undo", &change]).status.code(), Some(0));
    assert_eq!(drawer.json(&["stock", "list"])["stock"][0]["left"], 2);
    drawer.json(&["stock", "arrived", "2"]);
    assert!(drawer.json(&["stock"])["stock"][1]["arrived"].is_string());
    drawer.json(&["stock", "remove", "2"]);
    assert_eq!(drawer.json(&["stock"])["stock"].as_array().unwrap().len(), 1);
    let text = String::from_utf8(drawer.run(&["stock"]).stdout).unwrap();
    assert!(text.contains("KR-300") && text.contains("179.70 EUR"), "{text}");
}

#[test]
fn what_cannot_be_is_refused_with_what_to_do_and_writes_nothing() {
    let drawer = Drawer(TempDir::new().unwrap());
    drawer.json(&["stock", "add", "3"]);
    for (args, word) in [
        (vec!["stock", "add", "3", "--price", "10"], "currency"),
        (vec!["stock", "add", "0"], "count"),
        (vec!["stock", "add", "1", "--use-by", "30.9.2026"], "2026-03-31"),
        (
            vec!["stock", "correct", "1", "--by", "-4", "--reason", "lost"],
            "more pieces than came",
        ),
        (
            vec!["stock", "correct", "9", "--by", "-1", "--reason", "lost"],
            "no lot 9",
        ),
        (vec!["stock", "arrived", "1", "--on", "2199-01-01"], "future"),
        (vec!["stock", "delivery", "999"], "days"),
    ] {
        let output = drawer.run(&args);
        let said = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(2), "{args:?}: {said}");
        assert!(said.contains(word), "{args:?}: {said}");
    }
    assert_eq!(drawer.json(&["stock"])["stock"][0]["left"], 3);
    assert_eq!(drawer.json(&["journal"])["changes"].as_array().unwrap().len(), 1);
}
