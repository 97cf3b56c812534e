//! Is the book whole?

use interstice_glucose::{counted, one_or_many};
use std::io::Read;

use rusqlite::Connection;
use sha2::{Digest, Sha256};

use crate::block;
use crate::book::Book;
use crate::days::civil_day;
use crate::entry::{EntryKind, Stored};
use crate::error::{BookError, BookErrorKind, Result};
use crate::journal::ChangeId;
use crate::schema;
use crate::seal::is_unbroken;

/// So many problems are listed; more are only counted.
const LISTED: usize = 100;

/// One thing that is not as it was written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// Where: a table, a day, an import.
    pub place: String,
    /// What is wrong there.
    pub what: String,
}

/// What a look at every part of the book found.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct CheckReport {
    /// Blocks unpacked and held against their checksums.
    pub blocks: u64,
    /// Readings in them, those told several times counted each time.
    pub readings: u64,
    /// Entries read.
    pub entries: u64,
    /// Kept files unpacked and held against their digests.
    pub originals: u64,
    /// Photos held against their digests.
    pub photos: u64,
    /// The first problems.
    pub problems: Vec<Problem>,
    /// All of them, listed or not.
    pub problem_count: u64,
}

impl CheckReport {
    /// Whether the book is whole.
    pub fn is_whole(&self) -> bool {
        self.problem_count == 0
    }

    fn add(&mut self, place: impl Into<String>, what: impl Into<String>) {
        self.problem_count += 1;
        if self.problems.len() < LISTED {
            self.problems.push(Problem {
                place: place.into(),
                what: what.into(),
            });
        }
    }

    /// Notes what stopped one part of the check, and goes on with the next. What is no damage stops it all.
    fn note<T>(&mut self, place: &str, outcome: Result<T>) -> Result<()> {
        match outcome {
            Ok(_) => Ok(()),
            Err(busy @ (BookErrorKind::Busy | BookErrorKind::CannotOpen { .. })) => Err(busy),
            Err(error) => {
                self.add(place, error.to_string());
                Ok(())
            }
        }
    }
}

impl Book {
    /// Looks at every part of the book: the database's own structure, each block against its checksum and count,
    /// each entry, each kept file against its digest. Damage is reported, not an error.
    ///
    /// # Errors
    /// `Busy`, `CannotOpen`: where the book could not be looked at.
    pub fn check(&self) -> std::result::Result<CheckReport, BookError> {
        self.reading(|conn| {
            let mut report = CheckReport::default();
            let structure = check_structure(conn, &mut report);
            report.note("structure", structure)?;
            let blocks = check_blocks(conn, &mut report);
            report.note("readings", blocks)?;
            for kind in EntryKind::ALL {
                let entries = check_entries_of(conn, kind, &mut report);
                report.note(kind.table(), entries)?;
            }
            let seals = check_seals(conn, &mut report);
            report.note("seals", seals)?;
            let originals = check_originals(conn, &mut report);
            report.note("kept files", originals)?;
            let photos = check_photos(conn, &mut report);
            report.note("photos", photos)?;
            Ok(report)
        })
    }
}

/// The database's own structure, each index held against its table: a damaged one would leave rows out unseen.
fn check_structure(conn: &Connection, report: &mut CheckReport) -> Result<()> {
    let mut statement = conn.prepare(&format!("PRAGMA integrity_check({LISTED})"))?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        let line: String = row.get(0)?;
        if line != "ok" {
            report.add("structure", line);
        }
    }
    let mut statement = conn.prepare("PRAGMA foreign_key_check")?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        let (table, parent): (String, String) = (row.get(0)?, row.get(2)?);
        report.add(table, format!("a row names a {parent} that is not there"));
    }
    if shape_of(conn)? != shape_of(&schema::fresh()?)? {
        report.add("structure", "its tables are not those of its layout");
    }
    Ok(())
}

/// Tables and indexes with their columns.
fn shape_of(conn: &Connection) -> Result<Vec<String>> {
    let sql = "SELECT m.name || ': ' || coalesce(group_concat(c.name || ' ' || c.type || ' ' || c.\"notnull\" || ' ' || c.pk                || ' ' || coalesce(c.dflt_value, '')), '') FROM sqlite_schema m LEFT JOIN pragma_table_info(m.name) c
               WHERE m.type = 'table' GROUP BY m.name
               UNION SELECT m.tbl_name || ' ' || m.name || ': ' || coalesce(group_concat(c.name), '')
               FROM sqlite_schema m LEFT JOIN pragma_index_info(m.name) c WHERE m.type = 'index' GROUP BY m.name ORDER BY 1";
    let mut statement = conn.prepare(sql)?;
    let lines = statement.query_map([], |row| row.get(0))?;
    Ok(lines.collect::<rusqlite::Result<_>>()?)
}

fn check_blocks(conn: &Connection, report: &mut CheckReport) -> Result<()> {
    let mut statement = conn.prepare("SELECT trace, day, origin, count, packed FROM block ORDER BY id")?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        let (trace, day, origin): (i64, u32, i64) = (row.get(0)?, row.get(1)?, row.get(2)?);
        let (count, packed): (usize, _) = (
            row.get(3)?,
            row.get_ref(4)?.as_blob().map_err(rusqlite::Error::from)?,
        );
        let place = || format!("readings of {}, trace {trace}, change {origin}", civil_day(day));
        report.blocks += 1;
        match block::unpack(day, packed) {
            Ok(rows) if rows.len() == count => report.readings += rows.len() as u64,
            Ok(rows) => report.add(
                place(),
                format!(
                    "{} where {count} {} written",
                    counted(rows.len() as u64, "reading", "readings"),
                    one_or_many(&(count as u64), "was", "were")
                ),
            ),
            Err(error) => report.add(place(), error.to_string()),
        }
    }
    Ok(())
}

fn check_entries_of(conn: &Connection, kind: EntryKind, report: &mut CheckReport) -> Result<()> {
    use interstice_glucose::{BloodCheck, Dose, LivedSpan, LowVerdict, Mark, Meal, SensorNote};
    match kind {
        EntryKind::BloodCheck => check_entries::<BloodCheck>(conn, report),
        EntryKind::Dose => check_entries::<Dose>(conn, report),
        EntryKind::Meal => check_entries::<Meal>(conn, report),
        EntryKind::Mark => check_entries::<Mark>(conn, report),
        EntryKind::SensorNote => check_entries::<SensorNote>(conn, report),
        EntryKind::LowVerdict => check_entries::<LowVerdict>(conn, report),
        EntryKind::LivedSpan => check_entries::<LivedSpan>(conn, report),
    }
}

fn check_entries<T: Stored>(conn: &Connection, report: &mut CheckReport) -> Result<()> {
    let sql = format!("SELECT id, {} FROM {} ORDER BY id", T::COLUMNS, T::KIND.table());
    let mut statement = conn.prepare(&sql)?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        report.entries += 1;
        if let Err(error) = T::read(row, 1) {
            report.add(
                format!("{} {}", T::KIND.table(), row.get::<_, i64>(0)?),
                error.to_string(),
            );
        }
    }
    Ok(())
}

/// Each change's rows against their digest. Where one part of a book is damaged, the change it belongs to is named.
fn check_seals(conn: &Connection, report: &mut CheckReport) -> Result<()> {
    let mut statement = conn.prepare("SELECT id FROM change UNION SELECT origin FROM seal ORDER BY 1")?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        let change: i64 = row.get(0)?;
        if !is_unbroken(conn, ChangeId(change))? {
            report.add(
                format!("change {change}"),
                "some row of it is not as it was written",
            );
        }
    }
    Ok(())
}

fn check_originals(conn: &Connection, report: &mut CheckReport) -> Result<()> {
    let sql = "SELECT i.origin, i.digest, i.size_bytes, o.packed FROM original o JOIN import i ON i.origin = o.origin
        ORDER BY i.origin";
    let mut statement = conn.prepare(sql)?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        let (origin, digest, size): (i64, [u8; 32], u64) = (row.get(0)?, row.get(1)?, row.get(2)?);
        let packed = row.get_ref(3)?.as_blob().map_err(rusqlite::Error::from)?;
        report.originals += 1;
        let what = match digest_of(packed, size) {
            Ok(found) if found == digest => continue,
            Ok(_) => "it is not the file that was imported".to_owned(),
            Err(error) => error.to_string(),
        };
        report.add(format!("kept file of change {origin}"), what);
    }
    Ok(())
}

fn check_photos(conn: &Connection, report: &mut CheckReport) -> Result<()> {
    let mut statement = conn.prepare("SELECT id, digest, bytes FROM photo ORDER BY id")?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        let (id, digest): (i64, [u8; 32]) = (row.get(0)?, row.get(1)?);
        let bytes = row.get_ref(2)?.as_blob().map_err(rusqlite::Error::from)?;
        report.photos += 1;
        if <[u8; 32]>::from(Sha256::digest(bytes)) != digest {
            report.add(format!("photo {id}"), "it is not the photo that was kept");
        }
    }
    Ok(())
}

/// SHA-256 of a packed file, unpacked in a stream no further than it should reach.
fn digest_of(packed: &[u8], size: u64) -> std::io::Result<[u8; 32]> {
    let mut unpacked = zstd::stream::Decoder::new(packed)?.take(size.saturating_add(1));
    let mut hasher = Sha256::new();
    let mut part = vec![0; 1 << 16];
    loop {
        match unpacked.read(&mut part)? {
            0 => return Ok(hasher.finalize().into()),
            length => hasher.update(&part[..length]),
        }
    }
}
