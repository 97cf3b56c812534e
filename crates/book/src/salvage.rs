//! Saving from a damaged book what can be read.

use std::collections::BTreeMap;
use std::path::Path;

use rusqlite::types::Value;
use rusqlite::{Connection, params_from_iter};

use crate::block;
use crate::book::{Book, Keep, Mode};
use crate::error::{BookError, BookErrorKind, Result};

/// Tables in the order in which rows may name one another, and whether their first column is the row's number.
const TABLES: [&str; 14] = [
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
    "lived_span",
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
}

impl SalvageReport {
    /// Whether all of the book was saved.
    pub fn is_complete(&self) -> bool {
        self.unfit.is_empty() && self.unreadable.is_empty()
    }
}

impl Book {
    /// Copies all that can be read into a new book at `to`. This book is not changed. Damaged blocks are left out:
    /// the days they tell of stay as far as other imports tell of them.
    ///
    /// # Errors
    /// `Refused` where `to` exists; otherwise as [`Book::open`] for the new book.
    pub fn salvage(&self, to: impl AsRef<Path>) -> std::result::Result<SalvageReport, BookError> {
        let to = to.as_ref();
        if to.exists() {
            let kind =
                BookErrorKind::refused("there is a file here already", "name a new one for what is saved");
            return Err(BookError::new(to, kind));
        }
        let mut fresh = Book::open(to, Mode::CreateIfAbsent)?;
        fresh
            .conn
            .pragma_update(None, "foreign_keys", false)
            .map_err(|error| BookError::new(to, error))?;
        fresh.writing(|target| {
            let mut report = SalvageReport::default();
            for table in TABLES.into_iter().chain(["setting"]) {
                copy_table(&self.conn, target, table, &mut report)?;
            }
            mend(target)?;
            Ok((report, Keep::Change))
        })
    }
}

/// Copies one table row by row: from its first row on, and where that breaks off, from its last row back.
fn copy_table(
    source: &Connection,
    target: &Connection,
    table: &str,
    report: &mut SalvageReport,
) -> Result<()> {
    let mut copy = Copy {
        target,
        table,
        last: i64::MIN,
        saved: 0,
        unfit: 0,
    };
    if let Err(error) = copy.run(source, "ASC", None) {
        let reached = copy.last;
        report.unreadable.insert(table.to_owned(), error.to_string());
        let _ = copy.run(source, "DESC", Some(reached));
    }
    report.saved.insert(table.to_owned(), copy.saved);
    if copy.unfit > 0 {
        report.unfit.insert(table.to_owned(), copy.unfit);
    }
    Ok(())
}

struct Copy<'a> {
    target: &'a Connection,
    table: &'a str,
    last: i64,
    saved: u64,
    unfit: u64,
}

impl Copy<'_> {
    fn run(&mut self, source: &Connection, order: &str, after: Option<i64>) -> Result<()> {
        let sql = format!(
            "SELECT rowid, * FROM {} WHERE rowid > ?1 ORDER BY rowid {order}",
            self.table
        );
        let mut statement = source.prepare(&sql)?;
        let columns = statement.column_count() - 1;
        let marks = vec!["?"; columns].join(", ");
        let mut insert = self
            .target
            .prepare(&format!("INSERT OR IGNORE INTO {} VALUES ({marks})", self.table))?;
        let mut rows = statement.query([after.unwrap_or(i64::MIN)])?;
        while let Some(row) = rows.next()? {
            let id: i64 = row.get(0)?;
            let values: Vec<Value> = (1..=columns)
                .map(|i| row.get(i))
                .collect::<rusqlite::Result<_>>()?;
            let written = if self.is_fit(&values) {
                insert.execute(params_from_iter(values)).unwrap_or(0)
            } else {
                0
            };
            self.saved += written as u64;
            self.unfit += u64::from(written == 0);
            self.last = id;
        }
        Ok(())
    }

    /// A block must unpack to as many readings as were written. (Columns: id, trace, day, origin, count, packed.)
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
            ("block", _) => false,
            _ => true,
        }
    }
}

/// Gives rows whose change, import or trace was lost something to name.
fn mend(target: &Connection) -> Result<()> {
    for table in &TABLES[1..] {
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
    for table in ["blood_check", "dose", "meal", "mark", "sensor_note", "lived_span"] {
        let sql = format!(
            "UPDATE {table} SET correction = NULL WHERE correction NOT IN (SELECT id FROM retraction)"
        );
        target.execute(&sql, [])?;
    }
    Ok(())
}
