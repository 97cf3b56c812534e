//! The reader's export: home wall time, mmol/L, decimal comma.

use std::collections::BTreeMap;
use std::fmt::Write;

use super::{DemoFile, FileCounts, mmol_tenths};
use crate::life::Life;
use crate::sensor::{Reading, State};

const NAME: &str = "invented-sensor-readings.csv";
/// Days on which the reader lay forgotten on board: first, first no longer.
const READER_LEFT_BEHIND: (usize, usize) = (99, 102);

/// Whether the reader was there to note a reading.
pub(super) fn has(life: &Life, reading: &Reading) -> bool {
    let (from, to) = READER_LEFT_BEHIND;
    !(life.calendar.at(from, 0)..life.calendar.at(to, 0)).contains(&reading.at)
}

/// `smoothed`: values told otherwise, mg/dL by index of the reading.
pub(super) fn write(life: &Life, smoothed: &BTreeMap<usize, i32>) -> (DemoFile, FileCounts) {
    let mut counts = FileCounts {
        name: NAME,
        ..FileCounts::default()
    };
    let mut text = String::with_capacity(life.readings.len() * 32);
    text.push('\u{feff}');
    text.push_str("ERFUNDENE DATEN, kein Mensch dahinter;;;;\r\n");
    text.push_str("Messwerte des Sensors für eine Vorführung;;;;\r\n");
    text.push_str("Zeiten: Uhr des Lesegeräts;;;Einheit: mmol/L;\r\n");
    text.push_str("Datum;Uhrzeit;Sensor;Gewebezucker;Hinweis\r\n");
    for (i, reading) in life
        .readings
        .iter()
        .enumerate()
        .filter(|(_, reading)| has(life, reading))
    {
        row(
            &mut text,
            life,
            reading,
            smoothed.get(&i).copied().unwrap_or(reading.mg_dl),
        );
        counts.rows += 1;
        counts.readings += 1;
        counts.below_range += u64::from(reading.beyond < 0);
        counts.above_range += u64::from(reading.beyond > 0);
    }
    (
        DemoFile {
            name: NAME,
            bytes: text.into_bytes(),
        },
        counts,
    )
}

fn row(text: &mut String, life: &Life, reading: &Reading, mg_dl: i32) {
    let wall = life
        .calendar
        .home_wall(reading.at)
        .civil()
        .expect("the scenario lies within the calendar");
    let value = match reading.beyond {
        -1 => "unter 2,2".to_owned(),
        1 => "über 22,2".to_owned(),
        _ => {
            let tenths = mmol_tenths(mg_dl);
            format!("{},{}", tenths / 10, tenths % 10)
        }
    };
    let sensor = &life.lives[reading.sensor].sensor;
    let hint = if reading.state == State::Dying && reading.at / 300 % 3 == 0 {
        "Signal schwach"
    } else {
        ""
    };
    // Writing to a string cannot fail.
    let _ = write!(
        text,
        "{};{};{sensor};{value};{hint}\r\n",
        wall.strftime("%d.%m.%Y"),
        wall.strftime("%H:%M")
    );
}
