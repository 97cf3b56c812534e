//! The phone's diary: home wall time, month first, 12-hour clock, every kind of entry in one table.

use std::fmt::Write;

use super::{DemoFile, FileCounts, mmol_tenths};
use crate::life::Life;
use crate::log::{Deed, Entry};
use crate::wear::{Ending, Wear};

const NAME: &str = "invented-diary.txt";

/// The cells of a row after date and clock.
#[derive(Default)]
struct Cells {
    entry: &'static str,
    amount: String,
    unit: &'static str,
    sensor: String,
    site: String,
    words: String,
}

pub(super) fn write(life: &Life) -> (DemoFile, FileCounts) {
    let mut counts = FileCounts {
        name: NAME,
        ..FileCounts::default()
    };
    let mut text = String::from("INVENTED diary of an INVENTED person\r\n\r\n");
    text.push_str("Day\tClock\tEntry\tAmount\tUnit\tSensor\tSite\tRemarks\r\n");
    for entry in life.entries.iter().filter(|entry| entry.logged) {
        row(&mut text, life, entry, &cells(life, entry));
        count(entry, &mut counts);
    }
    (
        DemoFile {
            name: NAME,
            bytes: utf16(&text),
        },
        counts,
    )
}

fn row(text: &mut String, life: &Life, entry: &Entry, cells: &Cells) {
    let wall = life
        .calendar
        .home_wall(entry.at)
        .civil()
        .expect("the scenario lies within the calendar");
    let (day, clock, words) = (
        wall.strftime("%m/%d/%Y"),
        wall.strftime("%-I:%M %p"),
        quoted(&cells.words),
    );
    let Cells {
        entry,
        amount,
        unit,
        sensor,
        site,
        ..
    } = cells;
    // Writing to a string cannot fail.
    let _ = write!(
        text,
        "{day}\t{clock}\t{entry}\t{amount}\t{unit}\t{sensor}\t{site}\t{words}\r\n"
    );
}

fn count(entry: &Entry, counts: &mut FileCounts) {
    counts.rows += 1;
    let of_kind = match entry.deed {
        Deed::BloodCheck { .. } => &mut counts.blood_checks,
        Deed::Rapid { .. } => &mut counts.rapid_doses,
        Deed::Long { .. } => &mut counts.long_doses,
        Deed::Meal { .. } => &mut counts.meals,
        Deed::Activity { .. } => &mut counts.activities,
        Deed::Sleep { .. } => &mut counts.sleeps,
        Deed::Note { .. } => &mut counts.notes,
        Deed::PutOn { .. } | Deed::Started { .. } | Deed::Ended { .. } => &mut counts.sensor_notes,
    };
    *of_kind += 1;
}

fn cells(life: &Life, entry: &Entry) -> Cells {
    let said = |entry: &'static str, amount: String, unit: &'static str, words: &str| Cells {
        entry,
        amount,
        unit,
        words: words.to_owned(),
        ..Cells::default()
    };
    match &entry.deed {
        Deed::BloodCheck { mg_dl, .. } => {
            let tenths = mmol_tenths(*mg_dl);
            said(
                "Blood check",
                format!("{}.{}", tenths / 10, tenths % 10),
                "mmol/L",
                "",
            )
        }
        Deed::Rapid { units, .. } => said("Rapid insulin", units.to_string(), "U", ""),
        Deed::Long { units } => said("Long insulin", units.to_string(), "U", ""),
        Deed::Meal { counted_g, text, .. } => said("Carbohydrate", counted_g.to_string(), "g", text),
        Deed::Activity { minutes, text } => said("Activity", minutes.to_string(), "min", text),
        Deed::Sleep { minutes, bad } => {
            said("Sleep", minutes.to_string(), "min", if *bad { "bad" } else { "" })
        }
        Deed::Note { text } => said("Note", String::new(), "", text),
        Deed::PutOn { sensor } => of_sensor("Sensor put on", &life.lives[*sensor], false),
        Deed::Started { sensor } => of_sensor("Sensor started", &life.lives[*sensor], false),
        Deed::Ended { sensor } => of_sensor("Sensor ended", &life.lives[*sensor], true),
    }
}

fn of_sensor(entry: &'static str, wear: &Wear, ended: bool) -> Cells {
    let words = match wear.ending {
        Ending::FellOff if ended => "fell off".to_owned(),
        Ending::Failed if ended => "signal lost, then nothing".to_owned(),
        _ if ended => "fourteen days over".to_owned(),
        _ => format!("lot {}", wear.lot),
    };
    Cells {
        entry,
        sensor: wear.sensor.clone(),
        site: format!("{} {}", wear.side.words(), wear.site.words()),
        words,
        ..Cells::default()
    }
}

/// In quotes where the cell needs them, quotes doubled.
fn quoted(cell: &str) -> String {
    if cell.contains(['"', '\t', '\n', ';', ',']) {
        format!("\"{}\"", cell.replace('"', "\"\""))
    } else {
        cell.to_owned()
    }
}

/// UTF-16, low byte first, with its mark.
fn utf16(text: &str) -> Vec<u8> {
    std::iter::once(0xfeff_u16)
        .chain(text.encode_utf16())
        .flat_map(u16::to_le_bytes)
        .collect()
}
