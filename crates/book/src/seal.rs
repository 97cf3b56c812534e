//! A digest of the ordinary rows of each change, by which a damaged one is found (docs/decisions/0006).
//!
//! Readings and kept files carry checksums of their own; blocks are sealed here without their packed bytes.

use rusqlite::types::ValueRef;
use rusqlite::{Connection, OptionalExtension, params};
use sha2::{Digest, Sha256};

use crate::entry::EntryKind;
use crate::error::{BookErrorKind, Result};
use crate::journal::ChangeId;

/// What is sealed of a change beside its entries: rows in a settled order, by the change's number.
const PARTS: [&str; 6] = [
    "SELECT id, at, kind, what, detail, undone_by FROM change WHERE id = ?1",
    "SELECT * FROM import WHERE origin = ?1",
    "SELECT b.id, b.trace, t.sensor, t.kind, b.day, b.count FROM block b LEFT JOIN trace t ON t.id = b.trace
        WHERE b.origin = ?1 ORDER BY b.id",
    "SELECT * FROM retraction WHERE origin = ?1 ORDER BY id",
    "SELECT * FROM rejected_row WHERE origin = ?1 ORDER BY id",
    "SELECT * FROM recipe WHERE origin = ?1 ORDER BY id",
];
/// Came with layout 6, and is taken in only where a change has such rows: seals written before stand, and a damaged row that
/// one of them tells of is not sealed over. The bytes have a digest of their own.
const PHOTOS: &str = "SELECT id, origin, at, sensor, name, media, digest, length(bytes) FROM photo WHERE origin = ?1 ORDER BY id";
const SETTINGS: &str = "SELECT key, value FROM setting WHERE origin = ?1 ORDER BY key";

/// Seals a change as its rows are now. Whoever writes rows of a change, or takes some away, seals it anew.
pub(crate) fn seal(conn: &Connection, change: ChangeId) -> Result<()> {
    let digest = digest_of(conn, change)?;
    conn.prepare_cached("INSERT OR REPLACE INTO seal (origin, digest) VALUES (?1, ?2)")?
        .execute(params![change.0, digest])?;
    Ok(())
}

/// Seals every change of a book that has no seals yet. One that cannot be read stays without, and a check says so.
///
/// Rows are sealed with all their columns: a later layout that adds a column seals all changes anew.
pub(crate) fn seal_all(conn: &Connection) -> Result<()> {
    let mut changes = conn.prepare("SELECT id FROM change ORDER BY id")?;
    let ids: Vec<i64> = changes
        .query_map([], |row| row.get(0))?
        .collect::<rusqlite::Result<_>>()?;
    ids.into_iter().try_for_each(|id| match seal(conn, ChangeId(id)) {
        Err(BookErrorKind::Damaged { .. }) => Ok(()),
        sealed => sealed,
    })
}

/// Whether a change's rows are those that were sealed.
pub(crate) fn is_unbroken(conn: &Connection, change: ChangeId) -> Result<bool> {
    let mut statement = conn.prepare_cached("SELECT digest FROM seal WHERE origin = ?1")?;
    let sealed: Option<Vec<u8>> = statement.query_row([change.0], |row| row.get(0)).optional()?;
    Ok(sealed.is_some_and(|sealed| digest_of(conn, change).is_ok_and(|found| sealed == found)))
}

fn digest_of(conn: &Connection, change: ChangeId) -> Result<[u8; 32]> {
    let mut hasher = Sha256::new();
    for sql in PARTS {
        add(conn, &mut hasher, sql, change)?;
    }
    for kind in EntryKind::ALL {
        let sql = format!("SELECT * FROM {} WHERE origin = ?1 ORDER BY id", kind.table());
        add(conn, &mut hasher, &sql, change)?;
    }
    add(conn, &mut hasher, SETTINGS, change)?;
    if has_photos(conn, change)? {
        add(conn, &mut hasher, PHOTOS, change)?;
    }
    Ok(hasher.finalize().into())
}

/// Whether a change brought photos; a book of an earlier layout has no table of them.
fn has_photos(conn: &Connection, change: ChangeId) -> Result<bool> {
    let has_table = "SELECT EXISTS (SELECT 1 FROM sqlite_schema WHERE type = 'table' AND name = 'photo')";
    if !conn.prepare_cached(has_table)?.query_row([], |row| row.get(0))? {
        return Ok(false);
    }
    let has_rows = "SELECT EXISTS (SELECT 1 FROM photo WHERE origin = ?1)";
    Ok(conn
        .prepare_cached(has_rows)?
        .query_row([change.0], |row| row.get(0))?)
}

/// Takes in the rows of a query, each value with its kind and length, so that no two different rows read alike.
fn add(conn: &Connection, hasher: &mut Sha256, sql: &str, change: ChangeId) -> Result<()> {
    let mut statement = conn.prepare_cached(sql)?;
    let columns = statement.column_count();
    let mut rows = statement.query([change.0])?;
    let mut bytes = Vec::new();
    while let Some(row) = rows.next()? {
        bytes.clear();
        for column in 0..columns {
            let (kind, value): (u8, &[u8]) = match row.get_ref(column)? {
                ValueRef::Null => (0, &[]),
                ValueRef::Integer(number) => {
                    bytes.push(1);
                    bytes.extend_from_slice(&number.to_le_bytes());
                    continue;
                }
                ValueRef::Real(number) => {
                    bytes.push(2);
                    bytes.extend_from_slice(&number.to_bits().to_le_bytes());
                    continue;
                }
                ValueRef::Text(text) => (3, text),
                ValueRef::Blob(blob) => (4, blob),
            };
            bytes.push(kind);
            bytes.extend_from_slice(&(value.len() as u64).to_le_bytes());
            bytes.extend_from_slice(value);
        }
        hasher.update(&bytes);
    }
    // Where one query ends and the next begins.
    hasher.update([u8::MAX]);
    Ok(())
}
