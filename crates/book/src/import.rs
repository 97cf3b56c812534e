//! Writing what a source brought.

use std::borrow::Cow;
use std::collections::{BTreeMap, HashSet};
use std::ops::{ControlFlow, Range};

use interstice_glucose::{Draft, Levels, Readings, Rejected, Second, TraceKind, Unit, Zone};
use rusqlite::{Connection, OptionalExtension, params, params_from_iter};

use crate::block::Code;
use crate::book::{Book, Keep};
use crate::days::Days;
use crate::entries::{Face, by_hand, each_event};
use crate::entry::{Stored, Word, content};
use crate::error::{BookError, BookErrorKind, Result};
use crate::journal::{ChangeId, ChangeKind, record_change};
use crate::same::{MINUTE_S, Same};
use crate::seal::seal;
use crate::{photo, settings};

/// Readings packed between two looks at whether to go on.
const READINGS_AT_ONCE: usize = 1 << 17;

/// The same of entries.
const ENTRIES_AT_ONCE: usize = 1 << 12;

impl Word for TraceKind {
    const WORDS: &'static [(Self, &'static str)] =
        &[(TraceKind::Automatic, "automatic"), (TraceKind::Scan, "scan")];
}

/// A file layout understood before, as its reader writes it. The book only keeps it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeptRecipe {
    /// Digest of the layout.
    pub layout: String,
    /// The recipe, JSON.
    pub json: String,
}

/// Where a draft came from.
#[derive(Clone, Debug)]
pub struct Provenance {
    /// Name of the file without its folder.
    pub file_name: String,
    /// SHA-256 of the file as it came.
    pub digest: [u8; 32],
    /// Its size in bytes.
    pub size_bytes: u64,
    /// When it is imported.
    pub imported_at: Second,
    /// What the person asked for, JSON. The same file with the same options again changes nothing.
    pub options_json: String,
    /// How the file was understood, JSON.
    pub understanding_json: String,
    /// Layouts to remember.
    pub recipes: Vec<KeptRecipe>,
    /// The book's base zone, where none is set and no earlier import says one.
    pub base_zone: Option<Zone>,
    /// The same of the unit glucose is shown in.
    pub unit: Option<Unit>,
    /// The file, zstd-compressed, where it is of ordinary size.
    pub original: Option<Vec<u8>>,
    /// Settings it brings, as [`Book::settings_as_written`] gives them. What the book has set already stands.
    pub settings: Vec<(String, String)>,
}

impl Provenance {
    /// A source of which nothing more is known than a name and a digest that tells it from others.
    pub fn named(file_name: impl Into<String>, digest: [u8; 32]) -> Self {
        Provenance {
            file_name: file_name.into(),
            digest,
            size_bytes: 0,
            imported_at: 0,
            options_json: "{}".to_owned(),
            understanding_json: "{}".to_owned(),
            recipes: Vec::new(),
            base_zone: None,
            unit: None,
            original: None,
            settings: Vec::new(),
        }
    }
}

/// What a write brought.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ImportReceipt {
    /// The change that was written, or that had brought the very same file before; `None` of a preview and where
    /// nothing was new to log.
    pub change: Option<ChangeId>,
    /// Whether anything was written.
    pub written: bool,
    /// Automatic readings at instants the book had none for.
    pub readings_new: u64,
    /// The same of scans.
    pub scans_new: u64,
    /// Blood checks the book did not know.
    pub blood_checks_new: u64,
    /// The same of doses.
    pub doses_new: u64,
    /// The same of meals.
    pub meals_new: u64,
    /// The same of all other entries.
    pub other_new: u64,
    /// Rows of any kind that the book knew, or that the source gave twice.
    pub already_there: u64,
    /// Readings whose value differs from what stands at their instant: kept, listed, not standing.
    pub conflicts: u64,
    /// Rows that could not be used; kept and listed.
    pub rejected: u64,
}

impl ImportReceipt {
    /// Everything that is new.
    pub fn new_rows(&self) -> u64 {
        self.readings_new
            + self.scans_new
            + self.blood_checks_new
            + self.doses_new
            + self.meals_new
            + self.other_new
    }
}

/// Called with readings done and readings in all; answer `Break` to stop and leave the book as it was.
pub type Progress<'a> = &'a mut dyn FnMut(u64, u64) -> ControlFlow<()>;

impl Book {
    /// Writes all that a file brought, as one change: afterwards all of it is in the book and on the disk, or none.
    /// The same file with the same options again is answered from what it brought before and writes nothing.
    ///
    /// # Errors
    /// `Stopped` when `progress` says so; `Refused` where an entry holds a figure that is not a number; `Busy`,
    /// `Full`, `Damaged`, `Io`. The book is unchanged then.
    pub fn import(
        &mut self,
        draft: &Draft,
        provenance: &Provenance,
        progress: Progress<'_>,
    ) -> std::result::Result<ImportReceipt, BookError> {
        self.writing(|conn| {
            if let Some(earlier) = same_file(conn, provenance)? {
                return Ok((all_there(draft, earlier), Keep::Nothing));
            }
            let what = format!("imported {}", provenance.file_name);
            let change = record_change(conn, ChangeKind::Import, provenance.imported_at, &what, "{}")?;
            let (mut receipt, _) = write_draft(conn, change, draft, progress)?;
            let (photos_new, photos_there) = photo::bring(conn, change, &draft.photos)?;
            receipt.other_new += photos_new;
            receipt.already_there += photos_there;
            let settings = settings::bring(conn, &provenance.settings, change)?;
            receipt.other_new += settings.new;
            receipt.already_there += settings.already_there;
            receipt.rejected += settings.rejected.len() as u64;
            write_rejected(conn, change, &settings.rejected)?;
            receipt.change = Some(change);
            receipt.written = true;
            write_provenance(conn, change, provenance, &receipt)?;
            seal(conn, change)?;
            Ok((receipt, Keep::Change))
        })
    }

    /// What an import would bring. Writes nothing.
    ///
    /// # Errors
    /// As [`Book::import`].
    pub fn preview(
        &mut self,
        draft: &Draft,
        provenance: &Provenance,
        progress: Progress<'_>,
    ) -> std::result::Result<ImportReceipt, BookError> {
        self.writing(|conn| {
            if let Some(earlier) = same_file(conn, provenance)? {
                return Ok((all_there(draft, earlier), Keep::Nothing));
            }
            let change = record_change(conn, ChangeKind::Import, provenance.imported_at, "preview", "{}")?;
            Ok((write_draft(conn, change, draft, progress)?.0, Keep::Nothing))
        })
    }
}

/// The change by which the very same file is in the book already.
fn same_file(conn: &Connection, provenance: &Provenance) -> Result<Option<ChangeId>> {
    let sql = "SELECT origin FROM import WHERE digest = ?1 AND options = ?2 ORDER BY origin LIMIT 1";
    let mut statement = conn.prepare_cached(sql)?;
    let found = statement.query_row(params![provenance.digest, provenance.options_json], |row| {
        row.get(0)
    });
    Ok(found.optional()?.map(ChangeId))
}

fn all_there(draft: &Draft, earlier: ChangeId) -> ImportReceipt {
    let readings: usize = draft.traces.iter().map(|trace| trace.readings.len()).sum();
    let entries = draft.blood_checks.len()
        + draft.doses.len()
        + draft.meals.len()
        + draft.marks.len()
        + draft.sensor_notes.len()
        + draft.low_verdicts.len()
        + draft.photos.len();
    ImportReceipt {
        change: Some(earlier),
        already_there: (readings + entries) as u64,
        rejected: draft.rejected_count(),
        ..ImportReceipt::default()
    }
}

/// Writes the rows of a draft under a change; answers also how many stretches lived elsewhere are new, which no
/// count of the receipt tells.
pub(crate) fn write_draft(
    conn: &Connection,
    origin: ChangeId,
    draft: &Draft,
    progress: Progress<'_>,
) -> Result<(ImportReceipt, u64)> {
    let mut receipt = ImportReceipt {
        rejected: draft.rejected_count(),
        ..ImportReceipt::default()
    };
    write_traces(conn, origin, draft, &mut *progress, &mut receipt)?;
    let total = draft.traces.iter().map(|trace| trace.readings.len() as u64).sum();
    let mut go_on = || {
        if progress(total, total).is_break() {
            Err(BookErrorKind::Stopped)
        } else {
            Ok(())
        }
    };
    let mut entries = |tally: EntryTally| {
        receipt.already_there += tally.already_there;
        tally.new
    };
    let blood_checks_new = entries(write_entries(conn, origin, &draft.blood_checks, &mut go_on)?);
    let doses_new = entries(write_entries(conn, origin, &draft.doses, &mut go_on)?);
    let meals_new = entries(write_entries(conn, origin, &draft.meals, &mut go_on)?);
    let marks_new = entries(write_entries(conn, origin, &draft.marks, &mut go_on)?);
    let notes_new = entries(write_entries(conn, origin, &draft.sensor_notes, &mut go_on)?);
    let verdicts_new = entries(write_entries(conn, origin, &draft.low_verdicts, &mut go_on)?);
    let spans_new = write_entries(conn, origin, &draft.lived, &mut go_on)?.new;
    write_rejected(conn, origin, &draft.rejected)?;
    let other_new = marks_new + notes_new + verdicts_new;
    Ok((
        ImportReceipt {
            blood_checks_new,
            doses_new,
            meals_new,
            other_new,
            ..receipt
        },
        spans_new,
    ))
}

fn write_traces(
    conn: &Connection,
    origin: ChangeId,
    draft: &Draft,
    progress: Progress<'_>,
    receipt: &mut ImportReceipt,
) -> Result<()> {
    let codes = Code::table(&draft.levels);
    let total = draft.traces.iter().map(|trace| trace.readings.len() as u64).sum();
    let mut writer = TraceWriter {
        conn,
        origin,
        levels: &draft.levels,
        codes: &codes,
        done: 0,
        total,
        progress,
    };
    for ((sensor, kind), readings) in by_trace(draft) {
        let tally = writer.write(sensor, kind, &readings)?;
        match kind {
            TraceKind::Automatic => receipt.readings_new += tally.new,
            TraceKind::Scan => receipt.scans_new += tally.new,
        }
        receipt.already_there += tally.already_there;
        receipt.conflicts += tally.conflicts;
    }
    Ok(())
}

/// The draft's columns by sensor and kind: where a source tells of one trace in several places, in their order.
pub(crate) fn by_trace(draft: &Draft) -> BTreeMap<(&str, TraceKind), Cow<'_, Readings>> {
    let mut traces: BTreeMap<(&str, TraceKind), Cow<'_, Readings>> = BTreeMap::new();
    for trace in draft.traces.iter().filter(|trace| !trace.readings.is_empty()) {
        traces
            .entry((&trace.sensor, trace.kind))
            .and_modify(|whole| whole.to_mut().append(&mut trace.readings.clone()))
            .or_insert(Cow::Borrowed(&trace.readings));
    }
    traces
}

#[derive(Default)]
struct TraceTally {
    new: u64,
    already_there: u64,
    conflicts: u64,
}

struct TraceWriter<'a> {
    conn: &'a Connection,
    origin: ChangeId,
    levels: &'a Levels,
    codes: &'a [Code],
    done: u64,
    total: u64,
    progress: Progress<'a>,
}

impl TraceWriter<'_> {
    fn write(&mut self, sensor: &str, kind: TraceKind, readings: &Readings) -> Result<TraceTally> {
        let trace = trace_id(self.conn, sensor, kind)?;
        let days = Days::cut(readings);
        let mut insert = self.conn.prepare_cached(
            "INSERT INTO block (trace, day, origin, count, packed) VALUES (?1, ?2, ?3, ?4, ?5)",
        )?;
        let mut tally = TraceTally::default();
        let mut start = 0;
        while start < days.days.len() {
            if (self.progress)(self.done, self.total).is_break() {
                return Err(BookErrorKind::Stopped);
            }
            let some = start..end_of_batch(&days.days, start);
            let there = blocks_there(
                self.conn,
                trace,
                days.days[some.start].0,
                days.days[some.end - 1].0,
            )?;
            for day in days.pack(some.clone(), self.levels, self.codes, &there)? {
                insert.execute(params![trace, day.day, self.origin.0, day.count, day.bytes])?;
                tally.new += day.new;
                tally.already_there += day.already_there;
                tally.conflicts += day.conflicts;
            }
            self.done += days.days[some.clone()]
                .iter()
                .map(|(_, rows)| rows.len() as u64)
                .sum::<u64>();
            start = some.end;
        }
        Ok(tally)
    }
}

fn end_of_batch(days: &[(u32, Range<usize>)], start: usize) -> usize {
    let mut readings = 0;
    let more = days[start..].iter().take_while(|(_, rows)| {
        let room = readings < READINGS_AT_ONCE;
        readings += rows.len();
        room
    });
    start + more.count()
}

pub(crate) fn trace_id(conn: &Connection, sensor: &str, kind: TraceKind) -> Result<i64> {
    conn.prepare_cached("INSERT INTO trace (sensor, kind) VALUES (?1, ?2) ON CONFLICT DO NOTHING")?
        .execute(params![sensor, kind.word()])?;
    let mut statement = conn.prepare_cached("SELECT id FROM trace WHERE sensor = ?1 AND kind = ?2")?;
    Ok(statement.query_row(params![sensor, kind.word()], |row| row.get(0))?)
}

/// Blocks the book has for a trace in some days, by day and then in order of precedence.
fn blocks_there(conn: &Connection, trace: i64, first: u32, last: u32) -> Result<Vec<(u32, Vec<u8>)>> {
    let sql = "SELECT day, packed FROM block WHERE trace = ?1 AND day BETWEEN ?2 AND ?3 ORDER BY day, origin";
    let mut statement = conn.prepare_cached(sql)?;
    let rows = statement.query_map(params![trace, first, last], |row| Ok((row.get(0)?, row.get(1)?)))?;
    Ok(rows.collect::<rusqlite::Result<_>>()?)
}

struct EntryTally {
    new: u64,
    already_there: u64,
}

/// Writes entries of one kind. One that another source brought too is kept for this one as well, so that undoing
/// either leaves it in the book; one that this source gives twice is kept once.
fn write_entries<T: Same>(
    conn: &Connection,
    origin: ChangeId,
    entries: &[T],
    go_on: &mut dyn FnMut() -> Result<()>,
) -> Result<EntryTally> {
    let (Some(first), Some(last)) = (
        entries.iter().map(Stored::at).min(),
        entries.iter().map(Stored::at).max(),
    ) else {
        return Ok(EntryTally {
            new: 0,
            already_there: 0,
        });
    };
    let to_minute = entries.iter().all(|entry| is_whole_minute(entry.at()));
    let repeated = repeated(entries);
    for (i, entry) in entries.iter().enumerate() {
        if i % ENTRIES_AT_ONCE == 0 {
            go_on()?;
        }
        if !repeated[i] {
            insert_entry(conn, origin, None, entry, to_minute)?;
        }
    }
    let mut new = 0;
    let by_hand = by_hand(conn)?;
    // What a file tells again is known even where it was corrected or deleted; what a person writes again after that
    // is an event of its own.
    each_event::<T>(conn, &by_hand, first, last.saturating_add(1), |event| {
        let alone = event.others.is_empty() && matches!(event.face, Face::Told);
        new += u64::from(alone && event.first.origin == origin.0);
    })?;
    Ok(EntryTally {
        new,
        already_there: entries.len() as u64 - new,
    })
}

/// Which entries are the same as an earlier one, as their tables would keep them.
pub(crate) fn repeated<T: Stored>(entries: &[T]) -> Vec<bool> {
    let mut by_time: Vec<usize> = (0..entries.len()).collect();
    by_time.sort_by_key(|&i| entries[i].at());
    let mut repeated = vec![false; entries.len()];
    for instant in by_time.chunk_by(|&a, &b| entries[a].at() == entries[b].at()) {
        if instant.len() == 1 {
            continue;
        }
        let mut known = HashSet::with_capacity(instant.len());
        for &i in instant {
            repeated[i] = !known.insert(content(&entries[i].values()));
        }
    }
    repeated
}

pub(crate) fn is_whole_minute(at: Second) -> bool {
    at.rem_euclid(MINUTE_S) == 0
}

pub(crate) fn insert_entry<T: Stored>(
    conn: &Connection,
    origin: ChangeId,
    correction: Option<i64>,
    entry: &T,
    to_minute: bool,
) -> Result<i64> {
    let values = entry.checked_values()?;
    let marks: String = (0..values.len()).map(|i| format!(", ?{}", i + 4)).collect();
    let sql = format!(
        "INSERT INTO {} (origin, correction, to_minute, {}) VALUES (?1, ?2, ?3{marks})",
        T::KIND.table(),
        T::COLUMNS
    );
    let all = [
        origin.0.into(),
        correction.map_or(rusqlite::types::Value::Null, Into::into),
        i64::from(to_minute).into(),
    ]
    .into_iter()
    .chain(values);
    conn.prepare_cached(&sql)?.execute(params_from_iter(all))?;
    Ok(conn.last_insert_rowid())
}

fn write_rejected(conn: &Connection, origin: ChangeId, rejected: &[Rejected]) -> Result<()> {
    let sql = "INSERT INTO rejected_row (origin, row, column_name, text, reason) VALUES (?1, ?2, ?3, ?4, ?5)";
    let mut statement = conn.prepare_cached(sql)?;
    for row in rejected {
        statement.execute(params![origin.0, row.row, row.column, row.text, row.reason])?;
    }
    Ok(())
}

pub(crate) fn write_provenance(
    conn: &Connection,
    change: ChangeId,
    provenance: &Provenance,
    receipt: &ImportReceipt,
) -> Result<()> {
    let sql = "INSERT INTO import (origin, file_name, digest, size_bytes, options, understanding, readings_new, scans_new,
        blood_checks_new, doses_new, meals_new, other_new, already_there, conflicts, rejected,
        unit, base_zone)
        VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17)";
    conn.prepare_cached(sql)?.execute(params![
        change.0,
        provenance.file_name,
        provenance.digest,
        provenance.size_bytes,
        provenance.options_json,
        provenance.understanding_json,
        receipt.readings_new,
        receipt.scans_new,
        receipt.blood_checks_new,
        receipt.doses_new,
        receipt.meals_new,
        receipt.other_new,
        receipt.already_there,
        receipt.conflicts,
        receipt.rejected,
        provenance.unit.map(Word::word),
        provenance.base_zone.as_ref().map(Zone::name),
    ])?;
    if let Some(original) = &provenance.original {
        conn.execute(
            "INSERT INTO original (origin, packed) VALUES (?1, ?2)",
            params![change.0, original],
        )?;
    }
    let mut statement =
        conn.prepare_cached("INSERT INTO recipe (origin, layout, json) VALUES (?1, ?2, ?3)")?;
    for recipe in &provenance.recipes {
        statement.execute(params![change.0, recipe.layout, recipe.json])?;
    }
    Ok(())
}
