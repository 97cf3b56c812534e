//! How long a drawer lasts, against `checks/stock.py`: exact convolutions and Pólya urns.
#![expect(
    clippy::unwrap_used,
    reason = "a test that cannot read its own data must stop"
)]

use std::collections::BTreeMap;

use interstice_methods::plan::WearClock;
use interstice_methods::stock::{Ask, Habit, OnNow, Past, Supplied, lasting};

/// Futures of these tests: the standard error of a share is then at most 0.0025, that of the file's about as much.
const FUTURES: u32 = 40_000;
/// Four standard errors of both together, and the hour that stands for a time drawn within it.
const NEAR: f64 = 0.015;

#[derive(Default)]
struct Case {
    habit: Option<Habit>,
    on: Option<OnNow>,
    waiting: u32,
    past: Vec<Past>,
    drawer: Vec<Supplied>,
}

fn table(name: &str) -> Vec<csv::StringRecord> {
    let path = format!("{}/../../testdata/methods/{name}.csv", env!("CARGO_MANIFEST_DIR"));
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_path(path)
        .unwrap();
    reader.records().map(Result::unwrap).collect()
}

fn cases() -> BTreeMap<String, Case> {
    let mut cases = BTreeMap::<String, Case>::new();
    for row in table("stock_cases") {
        let case = cases.entry(row[0].to_owned()).or_default();
        let number = |place: usize| row[place].parse::<f64>().ok();
        let first = number(2).unwrap();
        match &row[1] {
            "habit" => {
                case.habit = Some(Habit {
                    wear_h: first,
                    before_h: number(3).unwrap(),
                    warm_up_h: number(4).unwrap(),
                    clock: if number(5).unwrap() > 0.5 {
                        WearClock::PutOn
                    } else {
                        WearClock::Start
                    },
                });
            }
            "on" => {
                case.on = Some(OnNow {
                    worn_h: first,
                    left_h: number(3).unwrap(),
                });
            }
            "waiting" => case.waiting = first as u32,
            "early" => case.past.push(Past::Early(first)),
            "still" => case.past.push(Past::StillOn(first)),
            "whole" => case.past.extend(vec![Past::Whole; first as usize]),
            "sensor" => case.drawer.push(Supplied {
                from_h: first,
                until_h: number(3).unwrap_or(f64::INFINITY),
            }),
            other => panic!("{other}"),
        }
    }
    cases
}

#[test]
fn shares_are_those_of_the_convolution_and_of_the_urn() {
    let cases = cases();
    let found: BTreeMap<&str, _> = cases
        .iter()
        .map(|(name, case)| {
            let asked = Ask {
                past: &case.past,
                habit: case.habit.unwrap(),
                on: case.on,
                waiting: case.waiting,
                drawer: &case.drawer,
                futures: FUTURES,
                seed: 1,
            };
            (name.as_str(), lasting(&asked).unwrap())
        })
        .collect();
    let rows = table("stock_expected");
    assert!(rows.len() >= 90 && cases.len() == 9);
    let mut furthest = 0.0_f64;
    for row in rows {
        let expected: f64 = row[2].parse().unwrap();
        let share = found[&row[0]].out_before(row[1].parse().unwrap());
        furthest = furthest.max((share - expected).abs());
        assert!((share - expected).abs() <= NEAR, "{row:?}: {share}");
    }
    println!("furthest apart: {furthest:.4}");
}
