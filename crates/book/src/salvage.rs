//! Saving from a damaged book what can be read.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use rusqlite::types::Value;
use rusqlite::{Connection, Row, Transaction, TransactionBehavior, params_from_iter};
use sha2::{Digest, Sha256};

use crate::block;
use crate::book::{Book, Keep, Mode, begin_with_layout, connect_for_saving};
use crate::entry::{EntryKind, Stored};
use crate::error::{BookError, Result};
use crate::journal::{ChangeId, IMPORTS, read_import};
use crate::photo::Photo;
use crate::seal::{is_unbroken, seal_all};
use crate::settings::{BASE_ZONE, UNIT, readable};

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
            report.doubtful = doubtful(&source, &mut report.unreadable);
            mend(&state, &tables)?;
            if has_seals(&state)? {
                seal_all(&state)?;
            }
            state.commit()?;
            Ok(report)
        };
        let mut report = write().map_err(|kind| BookError::new(to, kind))?;
        // What was saved is brought forward as any book is.
        let mut saved = Book::open(to, Mode::Existing)?;
        saved.writing(|conn| {
            let mut leave_out = LeaveOut {
                conn,
                report: &mut report,
                all: 0,
            };
            leave_out.run()?;
            let is_changed = leave_out.all > 0;
            if is_changed {
                seal_all(conn)?;
            }
            Ok(((), if is_changed { Keep::Change } else { Keep::Nothing }))
        })?;
        Ok(report)
    }
}

fn has_seals(conn: &Connection) -> Result<bool> {
    let sql = "SELECT EXISTS (SELECT 1 FROM sqlite_schema WHERE name = 'seal')";
    Ok(conn.query_row(sql, [], |row| row.get(0))?)
}

/// Changes whose seal is broken or gone, as far as they and their seals can be read. Where seals cannot be read that is said:
/// what they would have told of is then saved unseen. A book of an earlier layout has none.
fn doubtful(source: &Connection, unreadable: &mut BTreeMap<String, String>) -> Vec<ChangeId> {
    let mut found = BTreeSet::new();
    if !has_seals(source).unwrap_or(true) {
        return Vec::new();
    }
    for (place, sql) in [
        ("seal", "SELECT origin FROM seal"),
        ("change", "SELECT id FROM change"),
    ] {
        if let Err(error) = look_at(source, sql, &mut found) {
            unreadable
                .entry(place.to_owned())
                .or_insert_with(|| error.to_string());
        }
    }
    found.into_iter().collect()
}

fn look_at(source: &Connection, sql: &str, found: &mut BTreeSet<ChangeId>) -> Result<()> {
    let mut statement = source.prepare(sql)?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        let change = row.get(0).map(ChangeId)?;
        if !is_unbroken(source, change).unwrap_or(false) {
            found.insert(change);
        }
    }
    Ok(())
}

/// Takes out of the saved book what was written as bytes but says nothing: a word that is no word of its column, a count below
/// zero, a setting that no reader understands. One such row would keep the whole book from being read.
struct LeaveOut<'a> {
    conn: &'a Connection,
    report: &'a mut SalvageReport,
    /// Rows taken out.
    all: u64,
}

impl LeaveOut<'_> {
    fn run(&mut self) -> Result<()> {
        use interstice_glucose::{BloodCheck, Dose, LivedSpan, LowVerdict, Mark, Meal, SensorNote};
        self.entries::<BloodCheck>()?;
        self.entries::<Dose>()?;
        self.entries::<Meal>()?;
        self.entries::<Mark>()?;
        self.entries::<SensorNote>()?;
        self.entries::<LowVerdict>()?;
        self.entries::<LivedSpan>()?;
        let photos = format!("SELECT {} FROM photo", Photo::COLUMNS);
        self.rows("photo", &photos, &|row| Photo::read(row).is_ok())?;
        self.rows("setting", "SELECT rowid, key, value FROM setting", &|row| {
            let key = row.get::<_, String>(1);
            let pair = key.and_then(|key| Ok((key, row.get::<_, String>(2)?)));
            pair.is_ok_and(|(key, value)| readable(&key, &value).is_ok())
        })?;
        self.rows("import", IMPORTS, &|row| read_import(row).is_ok())?;
        self.units_and_zones()
    }

    fn entries<T: Stored>(&mut self) -> Result<()> {
        let table = T::KIND.table();
        let sql = format!("SELECT id, {} FROM {table}", T::COLUMNS);
        self.rows(table, &sql, &|row| T::read(row, 1).is_ok())
    }

    /// Takes out the rows of a table that `read` does not understand. The first column of `sql` is a row's number.
    fn rows(&mut self, table: &str, sql: &str, read: &dyn Fn(&Row<'_>) -> bool) -> Result<()> {
        let unfit = unfit_rows(self.conn, sql, read)?;
        for id in &unfit {
            if table == "import" {
                self.conn
                    .execute("DELETE FROM original WHERE origin = ?1", [id])?;
            }
            let sql = format!("DELETE FROM {table} WHERE rowid = ?1");
            self.conn.execute(&sql, [id])?;
        }
        let count = unfit.len() as u64;
        if count > 0 {
            *self.report.unfit.entry(table.to_owned()).or_default() += count;
            let saved = self.report.saved.entry(table.to_owned()).or_default();
            *saved = saved.saturating_sub(count);
            self.all += count;
        }
        Ok(())
    }

    /// What an import says of unit and zone is forgotten where it says nothing; its change is among the doubtful.
    fn units_and_zones(&mut self) -> Result<()> {
        for (column, key) in [("unit", UNIT), ("base_zone", BASE_ZONE)] {
            let sql = format!("SELECT origin, {column} FROM import WHERE {column} IS NOT NULL");
            let unfit = unfit_rows(self.conn, &sql, &|row| {
                row.get::<_, String>(1)
                    .is_ok_and(|value| readable(key, &value).is_ok())
            })?;
            for id in &unfit {
                let sql = format!("UPDATE import SET {column} = NULL WHERE origin = ?1");
                self.all += self.conn.execute(&sql, [id])? as u64;
            }
        }
        Ok(())
    }
}

/// Numbers of the rows that cannot be read; the first column is the number.
fn unfit_rows(conn: &Connection, sql: &str, read: &dyn Fn(&Row<'_>) -> bool) -> Result<Vec<i64>> {
    let mut statement = conn.prepare(sql)?;
    let mut rows = statement.query([])?;
    let mut unfit = Vec::new();
    while let Some(row) = rows.next()? {
        if !read(row) {
            unfit.push(row.get(0)?);
        }
    }
    Ok(unfit)
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
            // Never back: a damaged page may give its rows in any order, and over and over.
            self.next = self.next.max(id.saturating_add(1));
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
