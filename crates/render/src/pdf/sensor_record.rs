//! The record of one sensor on paper.

use interstice_findings::wear::SensorRecord;
use krilla::geom::Transform;

use super::font::Weight;
use super::paper::{INNER, Paper};
use super::photo::Photo;
use super::{PdfError, PhotoBytes, trace};
use crate::words::{
    RECORD_SAID, Shown, day_and_clock, record_checks, record_checks_said, record_facts, record_title,
    record_trace,
};

/// Letters of the text, points.
const TEXT: f32 = 9.5;
const SMALL: f32 = 8.5;
/// So many blood checks stand on the paper, the last; all of them stand in the text.
const CHECKS: usize = 7;
/// What looks wrong in the readings, so many lines; all of them stand in the text.
const FAULTS: usize = 8;
/// A photo is at most so high, points, and no smaller than so much where it is drawn at all.
const PHOTO: f32 = 190.0;
const SMALLEST_PHOTO: f32 = 110.0;
/// Columns of the blood checks: from, to, whether numbers.
const COLUMNS: [(f32, f32, bool); 5] = [
    (0.0, 150.0, false),
    (150.0, 230.0, true),
    (235.0, 315.0, true),
    (320.0, 410.0, true),
    (415.0, INNER, true),
];

/// The record as a PDF, with the photos that can be read.
///
/// # Errors
/// Where the file cannot be made.
pub fn sensor_record(
    record: &SensorRecord,
    shown: Shown,
    photos: &[PhotoBytes<'_>],
) -> Result<Vec<u8>, PdfError> {
    let title = record_title(record);
    let mut paper = Paper::new()?;
    paper.heading(&title, 1, 16.0);
    paper.paragraph(RECORD_SAID, TEXT);
    paper.gap(5.0);
    for (name, value) in record_facts(record) {
        paper.fact(name, &value, TEXT);
    }
    readings(&mut paper, record, shown);
    blood(&mut paper, record, shown);
    if !record.notes.is_empty() {
        paper.heading("What was written beside it", 2, 11.0);
        for note in &record.notes {
            paper.paragraph(note, TEXT);
        }
    }
    pictures(&mut paper, photos);
    paper.gap(6.0);
    let made = format!("Put together {}.", day_and_clock(record.made.0));
    if paper.has_missing() {
        let missing =
            "A question mark stands for each character these letters do not have; the text file has them.";
        paper.paragraph(missing, SMALL);
    }
    paper.paragraph(&made, SMALL);
    paper.finish(&title, record.made.0)
}

fn readings(paper: &mut Paper, record: &SensorRecord, shown: Shown) {
    paper.heading("What its readings showed", 2, 11.0);
    let said = record_trace(record, shown);
    for said in said.iter().take(1 + FAULTS) {
        paper.paragraph(said, TEXT);
    }
    if said.len() > 1 + FAULTS {
        paper.paragraph(
            &format!(
                "And {} more; the text file has them all.",
                said.len() - 1 - FAULTS
            ),
            TEXT,
        );
    }
    if let Some(facts) = &record.trace {
        paper.gap(4.0);
        let checks: Vec<(i64, f64)> = record
            .checks
            .iter()
            .map(|check| (check.point.at.0.at, check.point.blood_mg_dl))
            .collect();
        let alt = format!(
            "Line: {} Crosses: blood checks.",
            said.first().map_or("", String::as_str)
        );
        paper.figure(&alt, trace::HEIGHT, |figure| {
            trace::draw(figure, facts, &checks, shown)
        });
        paper.paragraph(
            "Line: readings, broken where there were none. Crosses: blood checks.",
            SMALL,
        );
    }
}

fn blood(paper: &mut Paper, record: &SensorRecord, shown: Shown) {
    paper.heading("Blood checks", 2, 11.0);
    paper.paragraph(&record_checks_said(record), TEXT);
    let table = record_checks(record, shown);
    if table.rows.is_empty() {
        return;
    }
    let later = table.rows.len().saturating_sub(CHECKS);
    if later > 0 {
        paper.paragraph(
            &format!("The last {CHECKS}; the text file has all {}.", table.rows.len()),
            SMALL,
        );
    }
    let heads: Vec<&str> = table.heads.iter().map(|head| head.name.as_str()).collect();
    row(paper, &heads, Weight::Bold);
    for cells in &table.rows[later..] {
        let cells: Vec<&str> = cells.iter().map(String::as_str).collect();
        row(paper, &cells, Weight::Regular);
    }
}

fn row(paper: &mut Paper, cells: &[&str], weight: Weight) {
    let placed: Vec<(f32, f32, bool, &str)> = COLUMNS
        .iter()
        .zip(cells)
        .map(|(&(from, to, number), &cell)| (from, to, number, cell))
        .collect();
    paper.row(&placed, weight, SMALL);
}

fn pictures(paper: &mut Paper, photos: &[PhotoBytes<'_>]) {
    for photo in photos {
        let Some(read) = Photo::read(photo.bytes) else {
            paper.paragraph(&format!("Photo {} could not be drawn.", photo.id), TEXT);
            continue;
        };
        paper.heading(&format!("Photo {}", photo.id), 2, 11.0);
        let room = paper.left() - 40.0;
        let height = if room < SMALLEST_PHOTO {
            PHOTO
        } else {
            room.min(PHOTO)
        };
        let ((_, seen), own, turn): (_, _, Transform) = read.within(INNER, height);
        paper.figure(&format!("Photo {}", photo.id), seen, |figure| {
            figure.image(own, read.image.clone(), turn);
        });
    }
}
