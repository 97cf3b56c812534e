//! An export of this program, brought in again: known by its manifest, read by the names of its columns.
//!
//! The layout is documented in docs/formats/tables.md. Tables and columns that are told again for reading are passed
//! over; a row that cannot be read is kept and counted, as in any file.

mod events;
mod photos;
mod row;
mod shelf;

use std::io::Read;
use std::path::Path;

use interstice_glucose::{Draft, Named, Rejected, TraceKind, Unit, Zone};
use serde::Deserialize;

use crate::api::{IntakeError, Outcome, Progress, ReadFile, TableView, Understanding};
use crate::container::damaged;
use crate::places::Places;

use row::{Row, Unusable};
pub(crate) use shelf::{ArchiveShelf, FolderShelf, Shelf};

/// The name a manifest gives its format, and the newest version that is understood.
const FORMAT: &str = "interstice export";
const VERSION: u32 = 1;
/// Where an export tells of itself.
pub(crate) const MANIFEST: &str = "manifest.json";
/// A manifest is never larger: one line a month and column.
const LARGEST_MANIFEST: u64 = 64 << 20;
/// Rejected rows that are kept; all are counted.
const MOST_REJECTED: usize = 10_000;
/// Rows between two looks at whether to go on.
const ROWS_AT_ONCE: u64 = 1 << 14;

#[derive(Deserialize)]
struct Manifest {
    format: String,
    version: u32,
    files_as: String,
    zone: String,
    unit: String,
    tables: Vec<TableLine>,
}

#[derive(Deserialize)]
struct TableLine {
    name: String,
    #[serde(default)]
    files: Vec<FileLine>,
}

#[derive(Deserialize)]
struct FileLine {
    path: String,
    rows: u64,
    #[serde(default)]
    bytes: u64,
}

/// Whether a folder is an export of this program.
pub(crate) fn is_export(folder: &Path) -> bool {
    folder.join(MANIFEST).is_file()
}

/// Reads an export whole.
pub(crate) fn read(
    name: &str,
    shelf: &dyn Shelf,
    progress: &mut dyn Progress,
) -> Result<Outcome, IntakeError> {
    let manifest = manifest(name, shelf)?;
    let zone = Zone::named(&manifest.zone).map_err(|error| {
        refuse(
            &format!("{name}: {MANIFEST} names no zone: {error}"),
            "correct it",
        )
    })?;
    let mut reading = Reading {
        name,
        shelf,
        draft: Draft::default(),
        traces: Places::default(),
        settings: Vec::new(),
        rows: 0,
        notes: Vec::new(),
        bytes: 0,
        total: manifest
            .tables
            .iter()
            .flat_map(|table| &table.files)
            .map(|file| file.bytes)
            .sum(),
        progress,
    };
    let mut views = Vec::new();
    for table in &manifest.tables {
        let Some(take) = taker(&table.name) else {
            continue;
        };
        for file in &table.files {
            reading.file(table, file, take)?;
        }
        views.push(view(table));
    }
    reading.draft.lived = apart(std::mem::take(&mut reading.draft.lived), &mut reading.notes);
    Ok(Outcome::Read(Box::new(ReadFile {
        unit: Unit::of_word(&manifest.unit),
        zone: zone.name().to_owned(),
        base_zone: Some(zone),
        settings: reading.settings,
        rows_read: reading.rows,
        understanding: Understanding {
            tables: views,
            notes: reading.notes,
        },
        draft: reading.draft,
        recipes: Vec::new(),
        interval_min: None,
    })))
}

fn manifest(name: &str, shelf: &dyn Shelf) -> Result<Manifest, IntakeError> {
    let mut text = String::new();
    shelf
        .open(MANIFEST)
        .and_then(|file| file.take(LARGEST_MANIFEST).read_to_string(&mut text))
        .map_err(|error| damaged(&format!("{name}/{MANIFEST}"), &error))?;
    let manifest: Manifest = serde_json::from_str(&text).map_err(|error| {
        refuse(
            &format!("{name}: {MANIFEST} is not that of an export ({error})"),
            "export again, or name the tables in the folder one by one",
        )
    })?;
    if manifest.format != FORMAT {
        return Err(refuse(
            &format!(
                "{name}: {MANIFEST} tells of '{}', which is not read here",
                manifest.format
            ),
            "name the tables in the folder one by one",
        ));
    }
    if manifest.version > VERSION {
        return Err(refuse(
            &format!(
                "{name} was exported by a later version (layout {})",
                manifest.version
            ),
            "bring it in with that version",
        ));
    }
    if manifest.files_as != "csv" {
        return Err(refuse(
            &format!(
                "{name} holds tables as {}, which are for other programs to read",
                manifest.files_as
            ),
            "export with `--as csv` to bring it in again",
        ));
    }
    Ok(manifest)
}

fn refuse(what: &str, next: &str) -> IntakeError {
    IntakeError::NotATable {
        what: what.to_owned(),
        next: next.to_owned(),
    }
}

/// Takes one row in.
type Take = fn(&mut Reading<'_>, &Row<'_>) -> Result<(), Unusable>;

/// What is done with the rows of a table; `None` for those told again for reading.
fn taker(table: &str) -> Option<Take> {
    Some(match table {
        "readings" => |reading, row| reading.reading(row),
        "blood_checks" => events::blood_check,
        "doses" => events::dose,
        "meals" => events::meal,
        "entries" => events::entry,
        "low_verdicts" => events::low_verdict,
        "sensor_moments" => events::sensor_moment,
        "zones" => events::zone,
        "settings" => events::setting,
        "photos" => photos::photo,
        _ => return None,
    })
}

fn view(table: &TableLine) -> TableView {
    TableView {
        place: table.name.clone(),
        format: "a table of an export of this program".to_owned(),
        columns: Vec::new(),
        unit: None,
        time_rule: "universal time".to_owned(),
        zone: "as in its table of zones".to_owned(),
        parsed: Vec::new(),
        interval_min: None,
    }
}

/// An export being read.
struct Reading<'a> {
    name: &'a str,
    shelf: &'a dyn Shelf,
    draft: Draft,
    /// Places of the traces in the draft.
    traces: Places,
    settings: Vec<(String, String)>,
    rows: u64,
    notes: Vec<String>,
    bytes: u64,
    total: u64,
    progress: &'a mut dyn Progress,
}

impl Reading<'_> {
    fn file(&mut self, table: &TableLine, file: &FileLine, take: Take) -> Result<(), IntakeError> {
        let place = format!("{}/{}", self.name, file.path);
        let shelf = self.shelf;
        let bytes = shelf.open(&file.path).map_err(|error| damaged(&place, &error))?;
        let mut reader = csv::ReaderBuilder::new().flexible(true).from_reader(bytes);
        let heading = reader
            .byte_headers()
            .map_err(|error| unread(&place, &error))?
            .clone();
        let columns = row::Columns::of(&heading);
        let before = self.rows;
        let mut record = csv::ByteRecord::new();
        while reader
            .read_byte_record(&mut record)
            .map_err(|error| unread(&place, &error))?
        {
            self.rows += 1;
            if self.rows.is_multiple_of(ROWS_AT_ONCE) {
                let done = self.bytes + reader.position().byte();
                let go_on = self.progress.at(done, self.total.max(done), self.rows);
                go_on.map_err(|_| IntakeError::Stopped)?;
            }
            if let Err(unusable) = take(self, &Row::new(&columns, &record)) {
                // The heading is row 1.
                self.reject(self.rows - before + 1, &file.path, unusable);
            }
        }
        self.bytes += reader.position().byte();
        let rows = self.rows - before;
        if rows != file.rows {
            self.notes.push(format!(
                "{} has {rows} rows where the manifest of the export says {} ({}): it was changed since, or the copy is \
                 not whole",
                file.path, file.rows, table.name
            ));
        }
        Ok(())
    }

    fn reject(&mut self, row: u64, path: &str, unusable: Unusable) {
        if self.draft.rejected.len() >= MOST_REJECTED {
            self.draft.rejected_more += 1;
            return;
        }
        self.draft.rejected.push(Rejected {
            row,
            column: format!("{path}: {}", unusable.column),
            text: unusable.text,
            reason: unusable.reason,
        });
    }

    fn reading(&mut self, row: &Row<'_>) -> Result<(), Unusable> {
        let at = row.instant("time_utc")?;
        let at = u32::try_from(at)
            .map_err(|_| row.unusable("time_utc", "a reading lies between 1970 and 2106"))?;
        let kind: TraceKind = row.word("kind")?;
        let said = row.said()?;
        let sensor = row.text("sensor")?.unwrap_or_default();
        self.traces.push(&mut self.draft, sensor, kind, (at, said));
        Ok(())
    }
}

fn unread(place: &str, error: &csv::Error) -> IntakeError {
    refuse(
        &format!("{place} cannot be read to its end ({error})"),
        "it may be damaged or cut short: export again",
    )
}

/// Stretches in time order; one that lies over an earlier one is left out, and that is said.
fn apart(
    mut lived: Vec<interstice_glucose::LivedSpan>,
    notes: &mut Vec<String>,
) -> Vec<interstice_glucose::LivedSpan> {
    lived.sort_by_key(|span| (span.from, span.to));
    let mut kept: Vec<interstice_glucose::LivedSpan> = Vec::new();
    for span in lived {
        if kept.last().is_some_and(|last| span.from < last.to) {
            notes.push(format!(
                "a stretch lived in {} lies over the one before it in the table of zones, and was left out",
                span.zone.name()
            ));
        } else {
            kept.push(span);
        }
    }
    kept
}
