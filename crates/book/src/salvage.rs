//! Saving from a damaged book what can be read.

use std::collections::BTreeMap;
use std::path::Path;

use rusqlite::types::Value;
use rusqlite::{Connection, Transaction, TransactionBehavior, params_from_iter};
use sha2::{Digest, Sha256};

use crate::block;
use crate::book::{Book, Mode, begin_with_layout, connect_for_saving};
use crate::entry::EntryKind;
use crate::error::{BookError, Result};
use crate::journal::ChangeId;
use crate::seal::{is_unbroken, seal_all};

/// Tables in the order in which rows may name one another, and whether their first column is the row's number.
const TABLES: [&str; 16] = [
    "change",
    "import",
    "original",
    "trace",
    "block",
    "retraction",
    "blood_check",
    "dose",
    "meal",
    "mark",
    "sensor_note",
    "low_verdict",
    "lived_span",
    "photo",
    "rejected_row",
    "recipe",
];

/// What was saved and what was not.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct SalvageReport {
    /// Rows saved, by table.
    pub saved: BTreeMap<String, u64>,
    /// Rows read but not fit to be saved (damaged blocks, rows that contradict the layout), by table.
    pub unfit: BTreeMap<String, u64>,
    /// Tables of which some part could not be read at all, with the reason.
    pub unreadable: BTreeMap<String, String>,
    /// Changes of which some row is lost or is not as it was written; what could be read of them was saved as it is.
    pub doubtful: Vec<ChangeId>,
}

impl SalvageReport {
    /// Whether all of the book was saved.
    pub fn is_complete(&self) -> bool {
        self.unfit.is_empty() && self.unreadable.is_empty() && self.doubtful.is_empty()
    }
}

impl Book {
    /// Copies all that can be read of the book at `from` into a new book at `to`. The damaged one is not changed, not even
    /// brought forward. Damaged blocks are left out: the days they tell of stay as far as other imports tell of them.
    ///
    /// # Errors
    /// `Refused` where `to` exists; `Missing`, `Foreign`, `Newer` where `from` is no book of ours; otherwise as
    /// [`Book::open`] for the new book.
    pub fn salvage(
        from: impl AsRef<Path>,
        to: impl AsRef<Path>,
    ) -> std::result::Result<SalvageReport, BookError> {
        let (from, to) = (from.as_ref(), to.as_ref());
        let (source, layout) = connect_for_saving(from).map_err(|kind| BookError::new(from, kind))?;
        let write = || -> Result<SalvageReport> {
            let mut target = begin_with_layout(to, layout)?;
            target.pragma_update(None, "foreign_keys", false)?;
            let state = Transaction::new(&mut target, TransactionBehavior::Immediate)?;
            let mut report = SalvageReport::default();
            let tables = tables_of(&state)?;
            for table in tables.iter().copied().chain(["setting"]) {
                copy_table(&source, &state, table, &mut report)?;
            }
            report.doubtful = doubtful(&source);
            mend(&state, &tables)?;
            if has_seals(&state)? {
                seal_all(&state)?;
            }
            state.commit()?;
            Ok(report)
        };
        let report = write().map_err(|kind| BookError::new(to, kind))?;
        // What was saved is brought forward as any book is.
        Book::open(to, Mode::Existing)?;
        Ok(report)
    }
}

fn has_seals(conn: &Connection) -> Result<bool> {
    let sql = "SELECT EXISTS (SELECT 1 FROM sqlite_schema WHERE name = 'seal')";
    Ok(conn.query_row(sql, [], |row| row.get(0))?)
}

/// Changes whose seal is broken, as far as they and their seals can be read. A book of an earlier layout has none.
fn doubtful(source: &Connection) -> Vec<ChangeId> {
    let mut found = Vec::new();
    if let Ok(mut statement) = source.prepare("SELECT origin FROM seal ORDER BY origin")
        && let Ok(mut rows) = statement.query([])
    {
        while let Ok(Some(row)) = rows.next() {
            let Ok(change) = row.get(0).map(ChangeId) else {
                continue;
            };
            if !is_unbroken(source, change).unwrap_or(false) {
                found.push(change);
            }
        }
    }
    found
}

/// The tables that the layout of this file has.
fn tables_of(conn: &Connection) -> Result<Vec<&'static str>> {
    let mut statement = conn.prepare("SELECT name FROM sqlite_schema WHERE type = 'table'")?;
    let names = statement.query_map([], |row| row.get(0))?;
    let names: Vec<String> = names.collect::<rusqlite::Result<_>>()?;
    let has = |table: &&str| names.iter().any(|name| name == table);
    Ok(TABLES.into_iter().filter(has).collect())
}

/// Copies one table row by row. Where a page cannot be read, its rows are lost and those after it are gone on with.
fn copy_table(
    source: &Connection,
    target: &Connection,
    table: &str,
    report: &mut SalvageReport,
) -> Result<()> {
    let mut copy = Copy {
        target,
        table,
        next: i64::MIN,
        saved: 0,
        unfit: 0,
    };
    while let Err(error) = copy.run(source) {
        report
            .unreadable
            .entry(table.to_owned())
            .or_insert_with(|| error.to_string());
        match readable_from(source, table, copy.next) {
            Some(next) if next > copy.next => copy.next = next,
            _ => break,
        }
    }
    report.saved.insert(table.to_owned(), copy.saved);
    if copy.unfit > 0 {
        report.unfit.insert(table.to_owned(), copy.unfit);
    }
    Ok(())
}

/// The first row that can be read where the one from `next` on cannot; `None` where there is none.
fn readable_from(source: &Connection, table: &str, next: i64) -> Option<i64> {
    let sql = format!("SELECT rowid, * FROM {table} WHERE rowid >= ?1 ORDER BY rowid LIMIT 1");
    let mut statement = source.prepare_cached(&sql).ok()?;
    let columns = statement.column_count();
    let mut first_from = |from: i64| -> Result<Option<i64>> {
        let mut rows = statement.query([from])?;
        let Some(row) = rows.next()? else { return Ok(None) };
        for column in 0..columns {
            row.get_ref(column)?;
        }
        Ok(Some(row.get(0)?))
    };
    let start = next.max(0);
    let mut bad = start;
    let mut found = None;
    for step in (0..62).map(|power| 1_i64 << power) {
        let from = start.checked_add(step)?;
        match first_from(from) {
            Ok(row) => {
                found = row;
                // No row so far out can mean that all are nearer: the last bad page may be followed by good ones.
                let mut good = from;
                while good - bad > 1 {
                    let middle = bad + (good - bad) / 2;
                    match first_from(middle) {
                        Ok(row) => (good, found) = (middle, row.or(found)),
                        Err(_) => bad = middle,
                    }
                }
                break;
            }
            Err(_) => bad = from,
        }
    }
    found
}

struct Copy<'a> {
    target: &'a Connection,
    table: &'a str,
    /// The first row not yet looked at.
    next: i64,
    saved: u64,
    unfit: u64,
}

impl Copy<'_> {
    /// Copies rows from the next one on until one cannot be read.
    fn run(&mut self, source: &Connection) -> Result<()> {
        let sql = format!(
            "SELECT rowid, * FROM {} WHERE rowid >= ?1 ORDER BY rowid",
            self.table
        );
        let mut statement = source.prepare_cached(&sql)?;
        let columns = statement.column_count() - 1;
        let marks = vec!["?"; columns].join(", ");
        let mut insert = self
            .target
            .prepare_cached(&format!("INSERT OR IGNORE INTO {} VALUES ({marks})", self.table))?;
        let mut rows = statement.query([self.next])?;
        while let Some(row) = rows.next()? {
            let id: i64 = row.get(0)?;
            let values: rusqlite::Result<Vec<Value>> = (1..=columns).map(|i| row.get(i)).collect();
            let written = match values {
                Ok(values) if self.is_fit(&values) => insert.execute(params_from_iter(values)).unwrap_or(0),
                _ => 0,
            };
            self.saved += written as u64;
            self.unfit += u64::from(written == 0);
            self.next = id.saturating_add(1);
        }
        Ok(())
    }

    /// A block must unpack to as many readings as were written (columns: id, trace, day, origin, count, packed), a photo
    /// must have its digest (columns: id, origin, at, sensor, name, media, digest, bytes).
    fn is_fit(&self, values: &[Value]) -> bool {
        match (self.table, values) {
            (
                "block",
                [
                    _,
                    _,
                    Value::Integer(day),
                    _,
                    Value::Integer(count),
                    Value::Blob(packed),
                ],
            ) => {
                let day = u32::try_from(*day).ok();
                let rows = day.and_then(|day| block::unpack(day, packed).ok());
                rows.is_some_and(|rows| i64::try_from(rows.len()) == Ok(*count))
            }
            ("photo", [.., Value::Blob(digest), Value::Blob(bytes)]) => {
                Sha256::digest(bytes).as_slice() == digest.as_slice()
            }
            ("block" | "photo", _) => false,
            _ => true,
        }
    }
}

/// Gives rows whose change, import or trace was lost something to name.
fn mend(target: &Connection, tables: &[&str]) -> Result<()> {
    for table in tables.iter().skip(1) {
        if *table == "trace" {
            continue;
        }
        target.execute(
            &format!(
                "INSERT INTO change (id, at, kind, what, detail)
                 SELECT DISTINCT origin, 0, 'log', 'saved from a damaged book', '{{}}' FROM {table}
                 WHERE origin NOT IN (SELECT id FROM change)"
            ),
            [],
        )?;
    }
    target.execute_batch(
        "DELETE FROM original WHERE origin NOT IN (SELECT origin FROM import);
         INSERT INTO trace (id, sensor, kind)
             SELECT DISTINCT trace, 'saved ' || trace, 'automatic' FROM block WHERE trace NOT IN (SELECT id FROM trace);
         UPDATE change SET undone_by = NULL WHERE undone_by NOT IN (SELECT id FROM change);
         DELETE FROM setting WHERE origin NOT IN (SELECT id FROM change);",
    )?;
    let entries = EntryKind::ALL.map(EntryKind::table);
    for table in entries.iter().filter(|table| tables.contains(table)) {
        let sql = format!(
            "UPDATE {table} SET correction = NULL WHERE correction NOT IN (SELECT id FROM retraction)"
        );
        target.execute(&sql, [])?;
    }
    Ok(())
}
