//! The three files, each ugly in its own way. All layouts are invented for this demo.
//!
//! | file | what | how |
//! |---|---|---|
//! | `invented-sensor-readings.csv` | sensor readings | semicolons, decimal comma, mmol/L, day.month.year and time in two columns, home wall time without offset, byte-order mark, CRLF, preamble, words below and above range |
//! | `invented-diary.txt` | everything else | UTF-16, tabs, month/day/year and 12-hour clock, home wall time without offset, all kinds in one table, quotes and line breaks in cells |
//! | `invented-relay.csv.gz` | a second account of part of the time | gzip, commas, lived time with offset, mg/dL, sensor and meter mixed, rows sent twice, some values that disagree |

mod diary;
mod readings;
mod relay;

use serde::Serialize;

use crate::life::Life;
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

/// The files and what they hold.
pub(crate) fn write_all(life: &Life, seed: u64) -> (Vec<DemoFile>, Counts) {
    let mut dice = Dice::new(seed, Purpose::Files);
    let (readings, first) = readings::write(life);
    let (diary, second) = diary::write(life);
    let (relay, third, overlap) = relay::write(life, &mut dice);
    let counts = Counts {
        readings: first.readings + third.readings - overlap.readings - overlap.conflicts,
        readings_in_two_files: overlap.readings,
        conflicts: overlap.conflicts,
        blood_checks: second.blood_checks + third.blood_checks - overlap.blood_checks,
        blood_checks_in_two_files: overlap.blood_checks,
        files: vec![first, second, third],
    };
    (vec![readings, diary, relay], counts)
}

/// Whole mg/dL as mmol/L with one decimal, in tenths, halves up.
fn mmol_tenths(mg_dl: i32) -> i64 {
    (f64::from(mg_dl) * 10.0 / interstice_glucose::MG_PER_DL_IN_ONE_MMOL_PER_L + 0.5) as i64
}
