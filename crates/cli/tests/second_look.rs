//! The second look through the real binary.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use std::fmt::Write as _;
use std::path::PathBuf;

use common::run;
use serde_json::Value;
use tempfile::TempDir;

struct Desk {
    folder: TempDir,
}

impl Desk {
    /// With so many invented days: three meals a day on a slow wander.
    fn of_days(days: u32) -> Self {
        let desk = Desk {
            folder: TempDir::new().unwrap(),
        };
        let mut text = String::from("time,glucose mg/dL\n");
        let mut wander = 0.0;
        for i in 0..days * 288 {
            wander = 0.98 * wander + f64::from((i * 7919) % 101) * 0.2 - 10.0;
            let hour = f64::from(i % 288) / 12.0;
            let size = f64::from((i / 288 * 37) % 50);
            let meals: f64 = [8.0, 13.0, 19.5]
                .map(|meal: f64| (60.0 + size) * libm::exp(-(hour - meal) * (hour - meal) / 2.0))
                .into_iter()
                .sum();
            let (day, minute) = (1 + i / 288, i % 288 * 5);
            let value = (110.0 + meals + wander).clamp(41.0, 390.0);
            let (hour, minute) = (minute / 60, minute % 60);
            let _ = writeln!(text, "2025-01-{day:02}T{hour:02}:{minute:02}:00Z,{value:.0}");
        }
        let path = desk.folder.path().join("readings.csv");
        std::fs::write(&path, text).unwrap();
        let (code, _) = desk.json(&["import", &path.display().to_string(), "--zone", "UTC"]);
        assert_eq!(code, 0);
        desk
    }

    fn book(&self) -> PathBuf {
        self.folder.path().join("test.interstice")
    }

    fn json(&self, args: &[&str]) -> (i32, Value) {
        let output = run(&self.book(), &[args, &["--json"]].concat());
        let text = String::from_utf8(output.stdout).unwrap();
        let value = serde_json::from_str(&text)
            .unwrap_or_else(|e| panic!("{args:?}: {e}: {text}{}", String::from_utf8_lossy(&output.stderr)));
        (output.status.code().unwrap(), value)
    }

    fn text(&self, args: &[&str]) -> (i32, String) {
        let output = run(&self.book(), args);
        let text = String::from_utf8(output.stdout).unwrap();
        let one_line: Vec<&str> = text.split_whitespace().collect();
        (output.status.code().unwrap(), one_line.join(" "))
    }
}

#[test]
fn a_moment_has_a_fan_chances_and_the_caution() {
    let desk = Desk::of_days(20);
    let asked = ["second-look", "--at", "2025-01-19 15:00"];
    let (code, found) = desk.json(&asked);
    assert_eq!(code, 0, "{found}");
    let look = &found["look"];
    assert_eq!(look["only_waiting"], false);
    let fan = look["fan"].as_array().unwrap();
    assert_eq!(fan.last().unwrap()["minutes"], 240);
    for at in fan {
        let levels = [
            "p5_mg_dl",
            "p10_mg_dl",
            "p25_mg_dl",
            "p50_mg_dl",
            "p75_mg_dl",
            "p90_mg_dl",
            "p95_mg_dl",
        ];
        let levels = levels.map(|name| at[name].as_f64().unwrap());
        assert!(levels.windows(2).all(|pair| pair[0] <= pair[1]), "{at}");
    }
    // The same under the names it is measured by.
    assert_eq!(found["alike"], look["alike"]["moments"]);
    assert_eq!(found["fan"].as_array().unwrap().len(), fan.len());
    for (same, at) in found["fan"].as_array().unwrap().iter().zip(fan) {
        assert_eq!(
            (&same["minutes"], &same["p10"]),
            (&at["minutes"], &at["p10_mg_dl"])
        );
    }
    let low = &look["low"];
    let ends = ["percent_lo95", "percent", "percent_hi95"].map(|name| low[name].as_f64().unwrap());
    assert!(ends[0] <= ends[1] && ends[1] <= ends[2], "{low}");
    let (code, text) = desk.text(&asked);
    assert_eq!(code, 0);
    for words in [
        "past moments of yours are alike",
        "No insulin is written down here",
        "A low, below 70 mg/dL, within 4 h",
        "a low is for treating, not for waiting",
        "belongs with your care team",
    ] {
        assert!(text.contains(words), "no '{words}' in: {text}");
    }
}

/// With insulin written down only moments of waiting are told of, and the words say so.
#[test]
fn moments_of_waiting_are_called_so() {
    let desk = Desk::of_days(16);
    let mut text = String::from("time,rapid insulin units\n");
    for day in 1..=16 {
        for hour in [8, 13, 19] {
            let _ = writeln!(text, "2025-01-{day:02}T{hour:02}:05:00Z,4");
        }
    }
    let path = desk.folder.path().join("doses.csv");
    std::fs::write(&path, text).unwrap();
    let (code, taken) = desk.json(&["import", &path.display().to_string(), "--zone", "UTC"]);
    assert_eq!(code, 0, "{taken}");
    let (code, text) = desk.text(&["second-look", "--at", "2025-01-15 01:00"]);
    assert_eq!(code, 0, "{text}");
    assert!(text.contains("when you waited"), "{text}");
    assert!(
        text.contains("Too few alike in which a correction was taken"),
        "{text}"
    );
}

#[test]
fn too_little_is_said() {
    let desk = Desk::of_days(10);
    let (code, found) = desk.json(&["second-look", "--at", "2025-01-04 15:00"]);
    assert_eq!(code, 1);
    assert!(found["look"].is_null());
    assert_eq!(
        found["look_reason"],
        "the fan begins on the seventh day; this is day 4 with readings"
    );
    let (code, text) = desk.text(&["second-look", "--at", "2025-02-01 15:00"]);
    assert_eq!(code, 1);
    assert!(text.contains("no reading within the half hour"), "{text}");
}

#[test]
fn the_score_counts_each_day_told() {
    let desk = Desk::of_days(12);
    let (code, found) = desk.json(&["second-look", "--evaluate"]);
    assert_eq!(code, 0);
    assert_eq!(found["days"], 6, "{found}");
    let at = &found["horizons"][0];
    assert!(at["moments"].as_u64().unwrap() > 400, "{at}");
    let number = |name: &str| at[name].as_f64().unwrap();
    let skill = 1.0 - number("rmse_mg_dl") / number("rmse_persistence_mg_dl");
    assert!((number("skill_vs_persistence") - skill).abs() < 1e-12, "{at}");
    let covers = [number("coverage50"), number("coverage80"), number("coverage90")];
    assert!(covers.is_sorted() && covers[0] > 0.2 && covers[2] <= 1.0, "{at}");
    assert!((number("covered_percent") - 100.0 * covers[1]).abs() < 1e-9);
    assert!(found["come_back"]["episodes"].is_u64());
    let (code, text) = desk.text(&["second-look", "--evaluate"]);
    assert_eq!(code, 0);
    assert!(text.contains("told from the days before it alone"), "{text}");
}

#[test]
fn this_moment_is_told_and_an_old_reading_is_not_passed_off_as_one() {
    let desk = Desk::of_days(12);
    let (code, found) = desk.json(&["now", "--at", "2025-01-12T15:01:00Z"]);
    assert_eq!(code, 0);
    let (reading, blood) = (&found["reading"], &found["blood"]);
    assert_eq!(reading["at"], "2025-01-12T15:00:00+00:00");
    assert_eq!(
        (&reading["is_old"], &reading["age_min"]),
        (&false.into(), &1.0.into())
    );
    let number = |name: &str| blood[name].as_f64().unwrap();
    assert!(number("p5_mg_dl") < number("mg_dl") && number("mg_dl") < number("p95_mg_dl"));
    assert_eq!(found["acting"]["is_written"], false);
    let (_, alone) = desk.json(&["second-look", "--at", "2025-01-12T15:00:00Z"]);
    assert_eq!(found["look"]["fan"].as_array().unwrap().len(), 10);
    assert_eq!(alone["fan"].as_array().unwrap().len(), 10);
    let (code, text) = desk.text(&["now", "--at", "2025-01-12T15:01:00Z", "--unit", "mmol/L"]);
    assert_eq!(code, 0);
    assert!(
        text.contains("Blood is probably about") && text.contains("mmol/L"),
        "{text}"
    );
    assert!(!text.contains("mg/dL"), "{text}");
    let (code, text) = desk.text(&["now", "--at", "2025-01-20T15:00:00Z"]);
    assert_eq!(code, 1, "{text}");
    assert!(text.contains("says nothing of now"), "{text}");
}

/// What programs read stays as it is.
#[test]
fn a_moment_is_told_in_the_language_that_was_set() {
    let desk = Desk::of_days(12);
    let ask = ["now", "--at", "2025-01-12T15:01:00Z", "--unit", "mmol/L"];
    let before = desk.json(&ask);
    let (code, set) = desk.json(&["set", "language", "Español"]);
    assert_eq!((code, &set["settings"]["language"]), (0, &Value::from("es")));
    let (_, text) = desk.text(&ask);
    assert!(text.starts_with("dom 12 ene, 15:01 El sensor marcó "), "{text}");
    assert!(
        text.contains("mmol/L hace 6 min, ") || text.contains("mmol/L hace 1 min, "),
        "{text}"
    );
    assert!(
        text.contains("Esto es lo que se registró y lo que siguió, no un consejo"),
        "{text}"
    );
    assert_eq!(desk.json(&ask), before);
    let unknown = run(&desk.book(), &["set", "language", "tlh"]);
    assert_eq!(unknown.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&unknown.stderr).contains("en (English) and es (Español)"));
}
