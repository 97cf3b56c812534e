//! The blood estimate and the possible pressure lows of the invented scenario, against its planted truth.
//!
//! Nothing in the estimate or the pressure lows was chosen on this scenario: its sensors are made another way than the people
//! that their settings were chosen on.
#![expect(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a test fails by panicking and says what it measured"
)]

mod common;

use std::collections::HashMap;
use std::path::Path;

use common::done;
use interstice_demo::{DEFAULT_SEED, Scenario};
use serde_json::Value;

/// A row of the estimate's file.
struct Told {
    sensor: f64,
    blood: f64,
    within_90: bool,
    truth: f64,
}

fn told(file: &str, truth: &HashMap<i64, f64>) -> Vec<Told> {
    let mut lines = file.lines();
    assert_eq!(
        lines.next(),
        Some("time_utc,sensor_id,sensor_mg_dl,estimate_mg_dl,p5_mg_dl,p25_mg_dl,p75_mg_dl,p95_mg_dl")
    );
    lines
        .filter_map(|line| {
            let cells: Vec<&str> = line.split(',').collect();
            let at = cells[0].parse::<jiff::Timestamp>().unwrap().as_second();
            let number = |place: usize| cells[place].parse::<f64>().unwrap();
            let truth = *truth.get(&at)?;
            Some(Told {
                sensor: number(2),
                blood: number(3),
                within_90: (number(4)..=number(7)).contains(&truth),
                truth,
            })
        })
        .collect()
}

fn mard(rows: &[Told], of: impl Fn(&Told) -> f64) -> f64 {
    let sum: f64 = rows
        .iter()
        .map(|row| (of(row) - row.truth).abs() / row.truth)
        .sum();
    100.0 * sum / rows.len() as f64
}

#[test]
fn blood_is_told_nearer_than_by_the_sensor() {
    let scenario = Scenario::build(DEFAULT_SEED);
    let folder = tempfile::tempdir().unwrap();
    let book = folder.path().join("book");
    for file in scenario.write(folder.path()).unwrap() {
        done(
            &book,
            &["import", file.to_str().unwrap(), "--zone", scenario.zone],
        );
    }
    let truth: HashMap<i64, f64> = scenario
        .truth
        .readings
        .iter()
        .map(|reading| (reading.at, reading.blood_mg_dl))
        .collect();
    let out = folder.path().join("estimate.csv");
    let write = |more: &[&str]| {
        done(
            &book,
            &[&["trust", "--estimate", out.to_str().unwrap()], more].concat(),
        );
        std::fs::read_to_string(&out).unwrap()
    };
    let file = write(&[]);
    assert_eq!(file, write(&[]), "the same book gives the same bytes");
    let rows = told(&file, &truth);
    assert!(
        rows.len() > 40_000,
        "{} readings have a known blood value",
        rows.len()
    );
    let (sensor, blood) = (mard(&rows, |row| row.sensor), mard(&rows, |row| row.blood));
    println!("MARD of the sensor {sensor:.2}, of the estimate {blood:.2}");
    assert!(blood < 0.75 * sensor, "{blood} beside {sensor}");
    let held = 100.0 * rows.iter().filter(|row| row.within_90).count() as f64 / rows.len() as f64;
    println!("within the 90 % band: {held:.1} %");
    assert!((80.0..=97.0).contains(&held), "{held}");

    pressure(&scenario, &book);
}

fn pressure(scenario: &Scenario, book: &Path) {
    let output = done(book, &["trust", "--pressure", "--json"]);
    let found: Value = serde_json::from_slice(&output.stdout).unwrap();
    let events: Vec<(i64, i64)> = found["events"]
        .as_array()
        .unwrap()
        .iter()
        .map(|event| {
            let at = |name: &str| {
                event[name]
                    .as_str()
                    .unwrap()
                    .parse::<jiff::Timestamp>()
                    .unwrap()
                    .as_second()
            };
            (at("start"), at("end"))
        })
        .collect();
    let planted: Vec<(i64, i64)> = scenario
        .truth
        .compressions
        .iter()
        .map(|planted| (planted.start, planted.recovered))
        .collect();
    let overlap = |a: &(i64, i64), b: &(i64, i64)| a.1.min(b.1) - a.0.max(b.0);
    let hit = planted
        .iter()
        .filter(|one| {
            events
                .iter()
                .any(|event| 2 * overlap(one, event) >= one.1 - one.0)
        })
        .count();
    let wrong = events
        .iter()
        .filter(|event| planted.iter().all(|one| overlap(one, event) <= 0))
        .count();
    println!(
        "{hit} of {} planted pressure lows found, {wrong} of {} flags are none",
        planted.len(),
        events.len()
    );
    assert!(2 * hit >= planted.len(), "{hit} of {}", planted.len());
    assert!(5 * wrong <= events.len(), "{wrong} of {}", events.len());
}
