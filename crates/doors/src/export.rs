//! The whole of an export as tables.

use std::io;

use interstice_book::{Book, BookError};
use interstice_findings::{Taken, sensors_worn};
use interstice_glucose::{Named, Rejected, Second, Unit};

use crate::lived::Lived;
use crate::manifest::{Manifest, TableLine};
use crate::sink::Sink;
use crate::table::Table;
use crate::writing::Files;
use crate::{columnar, delimited, tables};

pub use crate::manifest::FileWritten;

/// How an export calls itself in its manifest, by which it is known again.
pub const FORMAT: &str = "interstice export";
/// The version of its layout.
pub const VERSION: u32 = 1;

/// What tables are written as.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TableFormat {
    /// Comma-separated text, which can be brought in again.
    Csv,
    /// Parquet.
    Parquet,
}

impl TableFormat {
    fn ending(self) -> &'static str {
        match self {
            TableFormat::Csv => "csv",
            TableFormat::Parquet => "parquet",
        }
    }

    fn bytes(self, table: &Table) -> Result<Vec<u8>, DoorError> {
        match self {
            TableFormat::Csv => delimited::bytes(table).map_err(|error| unwritten(table, &error)),
            TableFormat::Parquet => columnar::bytes(table).map_err(|error| unwritten(table, &error)),
        }
    }
}

fn unwritten(table: &Table, error: &dyn std::fmt::Display) -> DoorError {
    DoorError::Table(table.name, error.to_string())
}

/// Why an export was not written.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum DoorError {
    /// The book cannot be used.
    #[error(transparent)]
    Book(#[from] BookError),
    /// The file cannot be written.
    #[error(
        "cannot write {path}: {source}; what was written so far is incomplete, delete it and choose another place"
    )]
    Write {
        /// Which.
        path: String,
        /// Cause.
        source: io::Error,
    },
    /// What was asked cannot be; the message says what can.
    #[error("{0}")]
    Asked(String),
    /// The table cannot be put into that format.
    #[error("the table '{0}' cannot be written ({1}); export it in another format")]
    Table(&'static str, String),
}

/// What was written.
#[derive(Clone, Debug, Default)]
pub struct Exported {
    /// Every file, in the order written; the manifest last.
    pub files: Vec<FileWritten>,
    /// What the reader should know of it.
    pub notes: Vec<String>,
}

/// Writes everything that was taken from a book into a sink, with a manifest and its words at the end.
///
/// The same book, window and seed give the same bytes.
///
/// # Errors
/// `Book`, `Write`, `Table`. What was written by then stays; it has no manifest.
pub fn export(
    book: &Book,
    taken: &Taken,
    format: TableFormat,
    sink: &mut dyn Sink,
) -> Result<Exported, DoorError> {
    let lived = Lived::of(&taken.record);
    let mut list = logged(taken, &lived);
    list.extend(kept(book, taken, &lived)?);
    let mut notes = Vec::new();
    match &taken.review {
        Ok(review) => list.extend([
            tables::figures(review),
            tables::days(&review.days),
            tables::episodes(&review.episodes),
            tables::usual_day(&review.usual_day),
        ]),
        Err(reason) => notes.push(format!("There are no figures: {reason}.")),
    }
    let unit = book.settings()?.unit.unwrap_or(Unit::MgPerDl);
    let mut files = Files::new(sink);
    let other_files = photos(book, taken, &mut files)?;
    written(taken, unit, format, list, notes, (files, other_files))
}

/// Writes one file that was made elsewhere, as an export of nothing else.
///
/// # Errors
/// `Write`.
pub fn export_file(path: &str, bytes: &[u8], sink: &mut dyn Sink) -> Result<Exported, DoorError> {
    let mut files = Files::new(sink);
    files.put(path, 0, bytes)?;
    Ok(Exported {
        files: files.written,
        notes: Vec::new(),
    })
}

/// Writes readings and these tables, and the manifest of them.
pub(crate) fn export_tables(
    taken: &Taken,
    unit: Unit,
    format: TableFormat,
    list: Vec<Table>,
    notes: Vec<String>,
    sink: &mut dyn Sink,
) -> Result<Exported, DoorError> {
    written(taken, unit, format, list, notes, (Files::new(sink), Vec::new()))
}

fn written(
    taken: &Taken,
    unit: Unit,
    format: TableFormat,
    list: Vec<Table>,
    notes: Vec<String>,
    (files, other_files): (Files<'_>, Vec<FileWritten>),
) -> Result<Exported, DoorError> {
    let mut writing = Writing {
        format,
        files,
        lines: Vec::new(),
    };
    readings(taken, &Lived::of(&taken.record), &mut writing)?;
    for table in &list {
        writing.table(table)?;
    }
    let window = |at: Second| (taken.from != Second::MIN).then(|| delimited::instant(at));
    let manifest = Manifest {
        format: FORMAT,
        version: VERSION,
        files_as: format.ending(),
        zone: taken.record.base_zone.name().to_owned(),
        unit: unit.word(),
        from_utc: window(taken.from),
        to_utc: window(taken.to),
        notes: notes.clone(),
        tables: std::mem::take(&mut writing.lines),
        other_files,
    };
    writing
        .files
        .put("README.txt", 0, manifest.in_words().as_bytes())?;
    let json = serde_json::to_string_pretty(&manifest)
        .map_err(|error| DoorError::Table("manifest", error.to_string()))?;
    writing.files.put("manifest.json", 0, json.as_bytes())?;
    Ok(Exported {
        files: writing.files.written,
        notes,
    })
}

struct Writing<'a> {
    format: TableFormat,
    files: Files<'a>,
    lines: Vec<TableLine>,
}

impl Writing<'_> {
    /// A table of one file.
    fn table(&mut self, table: &Table) -> Result<(), DoorError> {
        let path = format!("{}.{}", table.name, self.format.ending());
        self.part(table, &path)
    }

    /// One file of a table.
    fn part(&mut self, table: &Table, path: &str) -> Result<(), DoorError> {
        let bytes = self.format.bytes(table)?;
        let file = self.files.put(path, table.rows, &bytes)?;
        let known = self.lines.iter_mut().find(|line| line.name == table.name);
        match known {
            Some(line) => line.files.push(file),
            None => {
                let mut line = TableLine::of(table);
                line.files.push(file);
                self.lines.push(line);
            }
        }
        Ok(())
    }
}

fn readings(taken: &Taken, lived: &Lived<'_>, writing: &mut Writing<'_>) -> Result<(), DoorError> {
    for month in tables::months(taken) {
        let path = format!("readings/month={}/part.{}", month.name, writing.format.ending());
        writing.part(&tables::readings(taken, lived, &month), &path)?;
    }
    Ok(())
}

/// What was written down in the window.
pub(crate) fn logged(taken: &Taken, lived: &Lived<'_>) -> Vec<Table> {
    let record = &taken.record;
    let inside = |at: Second| (taken.from..taken.to).contains(&at);
    let reaches = |at: Second, until: Option<Second>| {
        at < taken.to && (at >= taken.from || until.is_some_and(|until| until > taken.from))
    };
    let blood_checks: Vec<_> = some(&record.blood_checks, |it| inside(it.it.at));
    let doses: Vec<_> = some(&record.doses, |it| inside(it.it.at));
    let meals: Vec<_> = some(&record.meals, |it| inside(it.it.at));
    let marks: Vec<_> = some(&record.marks, |it| reaches(it.it.at, it.it.until));
    let moments: Vec<_> = some(&record.sensor_notes, |it| inside(it.it.at));
    let verdicts: Vec<_> = some(&record.low_verdicts, |it| reaches(it.it.at, Some(it.it.until)));
    let worn = sensors_worn(record, taken.from, taken.to);
    vec![
        tables::blood_checks(&blood_checks, lived),
        tables::doses(&doses, lived),
        tables::meals(&meals, lived),
        tables::entries(&marks, lived),
        tables::low_verdicts(&verdicts, lived),
        tables::sensor_moments(&moments, lived),
        tables::sensors(&worn),
        tables::zones(lived),
    ]
}

fn some<T: Clone>(all: &[T], chosen: impl Fn(&T) -> bool) -> Vec<T> {
    all.iter().filter(|it| chosen(it)).cloned().collect()
}

/// What the book keeps beside the record.
fn kept(book: &Book, taken: &Taken, lived: &Lived<'_>) -> Result<Vec<Table>, DoorError> {
    let imports = book.imports()?;
    let mut rejected: Vec<(i64, Rejected)> = Vec::new();
    for change in imports.iter().filter_map(|import| import.receipt.change) {
        rejected.extend(book.rejected(change)?.into_iter().map(|row| (change.0, row)));
    }
    let conflicts = book.conflicts(taken.from, taken.to)?;
    Ok(vec![
        tables::settings(&book.settings_as_written()?),
        tables::sensor_kinds(&book.sensor_kinds()?),
        tables::stock(&book.stock()?.lots),
        tables::claims(&book.claims()?),
        tables::trials(&book.trials()?),
        tables::conflicts(&conflicts, lived),
        tables::imports(&imports),
        tables::rejected(&rejected),
        tables::photos(&inside(taken), lived),
    ])
}

fn inside(taken: &Taken) -> Vec<interstice_book::Photo> {
    some(&taken.record.photos, |photo| {
        (taken.from..taken.to).contains(&photo.at)
    })
}

fn photos(book: &Book, taken: &Taken, files_out: &mut Files<'_>) -> Result<Vec<FileWritten>, DoorError> {
    let mut files = Vec::new();
    for photo in inside(taken) {
        if let Some((photo, bytes)) = book.photo(photo.id)? {
            files.push(files_out.put(&tables::photo_path(&photo), 0, &bytes)?);
        }
    }
    Ok(files)
}
