//! The three files, each ugly in its own way. All layouts are invented for this demo.
//!
//! | file | what | how |
//! |---|---|---|
//! | `invented-sensor-readings.csv` | sensor readings | semicolons, decimal comma, mmol/L, day.month.year and time in two columns, home wall time without offset, byte-order mark, CRLF, preamble, words below and above range, some values that contradict the relay |
//! | `invented-diary.txt` | everything else | UTF-16, tabs, month/day/year and 12-hour clock, home wall time without offset, all kinds in one table, quotes and line breaks in cells |
//! | `invented-relay.csv.gz` | a second account of part of the time | gzip, commas, lived time with offset, mg/dL, sensor and meter mixed, rows sent twice |

mod diary;
mod readings;
mod relay;

use std::collections::BTreeMap;

use serde::Serialize;

use crate::life::Life;
use crate::log::Entry;
use crate::random::{Dice, Purpose};

/// One file of the demo.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DemoFile {
    /// Its name.
    pub name: &'static str,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

/// What one file holds.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct FileCounts {
    /// The file.
    pub name: &'static str,
    /// Data rows, repeats included.
    pub rows: u64,
    /// Sensor readings, each once.
    pub readings: u64,
    /// Of these below range.
    pub below_range: u64,
    /// Of these above range.
    pub above_range: u64,
    /// Blood checks, each once.
    pub blood_checks: u64,
    /// Doses of rapid insulin.
    pub rapid_doses: u64,
    /// Doses of long insulin.
    pub long_doses: u64,
    /// Meals, treatments of lows among them.
    pub meals: u64,
    /// Exercise and hard work.
    pub activities: u64,
    /// Sleeps.
    pub sleeps: u64,
    /// Sensors put on, started, ended: one each.
    pub sensor_notes: u64,
    /// Free notes.
    pub notes: u64,
    /// Rows that repeat an earlier row of the file exactly.
    pub repeated_rows: u64,
}

/// What the files hold together.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Counts {
    /// File by file.
    pub files: Vec<FileCounts>,
    /// Readings in the union of the files.
    pub readings: u64,
    /// Readings that two files have with one value.
    pub readings_in_two_files: u64,
    /// Readings that two files have with different values.
    pub conflicts: u64,
    /// Blood checks in the union of the files.
    pub blood_checks: u64,
    /// Blood checks that two files have.
    pub blood_checks_in_two_files: u64,
}

/// Readings that the reader and the relay tell differently.
const CONFLICTS: usize = 36;

/// The files, in the order to import them, and what they hold. The relay comes first: where files contradict one
/// another the first stands, and only the relay knows the ship's time and the readings as the sensor gave them.
pub(crate) fn write_all(life: &Life, seed: u64) -> (Vec<DemoFile>, Counts) {
    let mut dice = Dice::new(seed, Purpose::Files);
    let shared: Vec<usize> = (0..life.readings.len())
        .filter(|&i| relay::is_on(life, life.readings[i].at) && readings::has(life, &life.readings[i]))
        .collect();
    let smoothed = smoothed(life, &shared, &mut dice);
    let (relay, first) = relay::write(life, &mut dice);
    let (readings, second) = readings::write(life, &smoothed);
    let (diary, third) = diary::write(life);
    let twice = |entry: &&Entry| entry.logged && relay::is_on(life, entry.at);
    let checks_in_two_files = life
        .entries
        .iter()
        .filter(twice)
        .filter(|entry| entry.is_blood_check())
        .count();
    let checks_in_two_files = checks_in_two_files as u64;
    let counts = Counts {
        readings: first.readings + second.readings - shared.len() as u64,
        readings_in_two_files: (shared.len() - smoothed.len()) as u64,
        conflicts: smoothed.len() as u64,
        blood_checks: first.blood_checks + third.blood_checks - checks_in_two_files,
        blood_checks_in_two_files: checks_in_two_files,
        files: vec![first, second, third],
    };
    (vec![relay, readings, diary], counts)
}

/// Values the reader changed afterwards, mg/dL by index of the reading: spread over the shared readings, in the middle
/// of the range so that a change never leaves it.
fn smoothed(life: &Life, shared: &[usize], dice: &mut Dice) -> BTreeMap<usize, i32> {
    let every = shared.len() / CONFLICTS;
    let mut smoothed = BTreeMap::new();
    for (n, &i) in shared.iter().enumerate() {
        let mg_dl = life.readings[i].mg_dl;
        if smoothed.len() < CONFLICTS && smoothed.len() * every <= n && (90..300).contains(&mg_dl) {
            smoothed.insert(i, mg_dl + dice.between(9.0, 24.0) as i32);
        }
    }
    smoothed
}

/// Whole mg/dL as mmol/L with one decimal, in tenths, halves up.
fn mmol_tenths(mg_dl: i32) -> i64 {
    (f64::from(mg_dl) * 10.0 / interstice_glucose::MG_PER_DL_IN_ONE_MMOL_PER_L + 0.5) as i64
}
