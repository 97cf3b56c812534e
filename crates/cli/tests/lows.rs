//! The wearer's word on a low, through the real binary.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use std::fmt::Write as _;
use std::process::Output;

use common::run;
use serde_json::Value;
use tempfile::TempDir;

struct Desk {
    folder: TempDir,
}

impl Desk {
    /// With four invented days: a slow wave, and from 02:30 to 03:10 of the third two fifths are taken off.
    fn pressed() -> Self {
        let desk = Desk {
            folder: TempDir::new().unwrap(),
        };
        let mut text = String::from("time,glucose mg/dL,sensor\n");
        for i in 0..4 * 288 {
            let (day, minute) = (1 + i / 288, i % 288 * 5);
            let wave = 105.0 + 20.0 * libm::sin(f64::from(i) / 47.0) + f64::from((i * 37) % 5 - 2) * 0.6;
            let is_pressed = day == 3 && (150..190).contains(&minute);
            let value = if is_pressed { 0.6 * wave } else { wave };
            let (hour, minute) = (minute / 60, minute % 60);
            let _ = writeln!(text, "2025-01-{day:02}T{hour:02}:{minute:02}:00Z,{value:.0},A1");
        }
        let path = desk.folder.path().join("pressed.csv");
        std::fs::write(&path, text).unwrap();
        let (code, _) = desk.json(&["import", &path.display().to_string()]);
        assert_eq!(code, 0);
        desk
    }

    fn run(&self, args: &[&str]) -> Output {
        run(&self.folder.path().join("test.interstice"), args)
    }

    fn json(&self, args: &[&str]) -> (i32, Value) {
        let output = self.run(&[args, &["--json"]].concat());
        let text = String::from_utf8(output.stdout).unwrap();
        let value = serde_json::from_str(&text)
            .unwrap_or_else(|e| panic!("{args:?}: {e}: {text}{}", String::from_utf8_lossy(&output.stderr)));
        (output.status.code().unwrap(), value)
    }

    fn text(&self, args: &[&str]) -> String {
        let output = self.run(args);
        String::from_utf8(output.stdout).unwrap().replace('\n', " ")
    }

    fn low(&self) -> Value {
        let (code, found) = self.json(&["trust", "--pressure"]);
        assert_eq!(code, 0);
        assert_eq!(found["events"].as_array().unwrap().len(), 1, "{found}");
        found["events"][0].clone()
    }
}

#[test]
fn a_word_on_a_low_is_its_verdict_and_decides_what_the_account_leaves_out() {
    let desk = Desk::pressed();
    let before = desk.low();
    assert_eq!(
        (&before["verdict"], &before["left_out"]),
        (&Value::Null, &Value::Bool(true))
    );
    let (_, account) = desk.json(&["review", "--days", "4"]);
    let (_, without) = desk.json(&["review", "--days", "4", "--exclude-pressure"]);
    assert_eq!(
        without["left_out"]["summary_with"], account["summary"],
        "computed once"
    );
    assert_eq!(without["left_out"]["possible"], 1);

    let said = [
        "log",
        "low",
        "--at",
        "2025-01-03 02:30",
        "--until",
        "2025-01-03 03:10",
        "--was",
    ];
    let (code, change) = desk.json(&[&said[..], &["real", "--sensor", "A1"]].concat());
    assert_eq!(code, 0, "{change}");
    let real = desk.low();
    assert_eq!(
        (&real["verdict"], &real["probability"]),
        (&"real".into(), &0.0.into())
    );
    assert_eq!(real["probability_by_signs"], before["probability_by_signs"]);
    let (_, kept) = desk.json(&["review", "--days", "4", "--exclude-pressure"]);
    assert_eq!(
        (&kept["left_out"]["possible"], &kept["left_out"]["kept_real"]),
        (&0.into(), &1.into())
    );
    assert_eq!(kept["summary"], account["summary"]);
    let text = desk.text(&["review", "--days", "4", "--exclude-pressure"]);
    assert!(text.contains("for you said it was real"), "{text}");

    let (code, _) = desk.json(&[&said[..], &["pressure", "--sensor", "A1"]].concat());
    assert_eq!((code, &desk.low()["verdict"]), (0, &"pressure".into()));
    let text = desk.text(&["trust", "--pressure"]);
    assert!(
        text.contains("You said it was pressure.") && text.contains("How often"),
        "{text}"
    );
    assert_eq!(desk.run(&["undo"]).status.code(), Some(0));
    assert_eq!(desk.run(&["undo"]).status.code(), Some(0));
    assert_eq!(desk.low(), before);
}

#[test]
fn a_word_without_times_or_of_a_day_and_more_is_refused() {
    let desk = Desk::pressed();
    for times in [
        &["--at", "2025-01-03 02:30"][..],
        &["--until", "2025-01-03 02:30"],
        &["--at", "2025-01-03 02:30", "--until", "2025-01-03 02:30"],
        &["--at", "2025-01-01 02:30", "--until", "2025-01-03 02:30"],
    ] {
        let refused = desk.run(&[&["log", "low", "--was", "real"], times].concat());
        assert_eq!(refused.status.code(), Some(2), "{times:?}");
    }
    assert_eq!(desk.low()["verdict"], Value::Null);
}
