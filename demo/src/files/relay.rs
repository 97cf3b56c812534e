//! The relay's export: a box that overheard sensor and meter for three months, in lived time with its offset, mg/dL.

use std::fmt::Write as _;
use std::io::Write as _;

use flate2::{Compression, GzBuilder};
use interstice_glucose::Second;

use super::{DemoFile, FileCounts};
use crate::life::Life;
use crate::log::Deed;
use crate::random::Dice;

const NAME: &str = "invented-relay.csv.gz";
/// Days it was switched on: first, first no longer. The voyage is inside.
const ON: (usize, usize) = (60, 156);
/// Rows sent twice in one go, and chance that any other row is.
const RESENT: (usize, f64) = (288, 0.004);

pub(super) fn write(life: &Life, dice: &mut Dice) -> (DemoFile, FileCounts) {
    let mut counts = FileCounts {
        name: NAME,
        ..FileCounts::default()
    };
    let mut rows = sensor_rows(life, &mut counts);
    rows.extend(blood_rows(life, &mut counts));
    rows.sort_by_key(|row| row.0);
    let rows = send_some_twice(rows, dice);
    counts.rows = rows.len() as u64;
    counts.repeated_rows = counts.rows - counts.readings - counts.blood_checks;
    let mut text = String::from(
        "# INVENTED by a program; nobody wore these sensors\nwhen,record,sensor,glucose mg/dL\n",
    );
    for (_, row) in &rows {
        text.push_str(row);
        text.push('\n');
    }
    (
        DemoFile {
            name: NAME,
            bytes: gzip(&text),
        },
        counts,
    )
}

/// Whether the relay was switched on.
pub(super) fn is_on(life: &Life, at: Second) -> bool {
    (life.calendar.at(ON.0, 0)..life.calendar.at(ON.1, 0)).contains(&at)
}

fn sensor_rows(life: &Life, counts: &mut FileCounts) -> Vec<(Second, String)> {
    let mut rows = Vec::new();
    for reading in life.readings.iter().filter(|reading| is_on(life, reading.at)) {
        counts.readings += 1;
        counts.below_range += u64::from(reading.beyond < 0);
        counts.above_range += u64::from(reading.beyond > 0);
        let sensor = &life.lives[reading.sensor].sensor;
        rows.push((
            reading.at,
            line(
                life,
                reading.at,
                "sensor",
                sensor,
                &value(reading.mg_dl, reading.beyond),
            ),
        ));
    }
    rows
}

fn value(mg_dl: i32, beyond: i8) -> String {
    match beyond {
        -1 => format!("<{mg_dl}"),
        1 => format!(">{mg_dl}"),
        _ => mg_dl.to_string(),
    }
}

fn blood_rows(life: &Life, counts: &mut FileCounts) -> Vec<(Second, String)> {
    let mut rows = Vec::new();
    for entry in life.entries.iter().filter(|entry| is_on(life, entry.at)) {
        if let Deed::BloodCheck { mg_dl, .. } = entry.deed {
            counts.blood_checks += 1;
            rows.push((
                entry.at,
                line(life, entry.at, "finger-prick", "", &mg_dl.to_string()),
            ));
        }
    }
    rows
}

fn line(life: &Life, at: Second, record: &str, sensor: &str, value: &str) -> String {
    let mut line = String::with_capacity(48);
    // Writing to a string cannot fail.
    let _ = write!(
        line,
        "{},{record},{sensor},{value}",
        life.calendar.lived.moment(at)
    );
    line
}

/// Some rows come again at once, and a day of them comes again at the end.
fn send_some_twice(rows: Vec<(Second, String)>, dice: &mut Dice) -> Vec<(Second, String)> {
    let from = dice.below(rows.len().saturating_sub(RESENT.0));
    let again: Vec<(Second, String)> = rows.iter().skip(from).take(RESENT.0).cloned().collect();
    let mut sent = Vec::with_capacity(rows.len() + RESENT.0 * 2);
    for row in rows {
        if dice.chance(RESENT.1) {
            sent.push(row.clone());
        }
        sent.push(row);
    }
    sent.extend(again);
    sent
}

/// Without a time stamp, so that the same rows give the same bytes.
fn gzip(text: &str) -> Vec<u8> {
    let mut encoder = GzBuilder::new().mtime(0).write(Vec::new(), Compression::new(6));
    encoder
        .write_all(text.as_bytes())
        .and_then(|()| encoder.finish())
        .expect("writing to memory does not fail")
}
