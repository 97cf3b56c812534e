//! Numbered layouts of the file, and bringing an older one forward.

use rusqlite::{Connection, TransactionBehavior};
use rusqlite_migration::{HookError, M, Migrations};

use crate::error::{BookErrorKind, Result};
use crate::seal::seal_all;

/// Says 'a book of this program' in the file's header: 'Ints' in ASCII.
pub(crate) const APPLICATION_ID: i64 = 0x496e_7473;

/// Every layout ever released, oldest first. A released one is never edited: what changes is appended.
const LAYOUTS: [&str; 6] = [
    include_str!("schema/0001.sql"),
    include_str!("schema/0002.sql"),
    include_str!("schema/0003.sql"),
    include_str!("schema/0004.sql"),
    include_str!("schema/0005.sql"),
    include_str!("schema/0006.sql"),
];
/// The layout from which on changes are sealed.
const SEALED: usize = 5;

fn migrations() -> Migrations<'static> {
    let migrations = LAYOUTS.iter().enumerate().map(|(index, sql)| {
        if index + 1 == SEALED {
            M::up_with_hook(sql, |state| {
                seal_all(state).map_err(|error| HookError::Hook(error.to_string()))
            })
        } else {
            M::up(sql)
        }
    });
    Migrations::new(migrations.collect())
}

/// The layout this version writes.
pub(crate) fn latest() -> i64 {
    LAYOUTS.len() as i64
}

/// An empty book in memory, to hold another one's structure against.
pub(crate) fn fresh() -> Result<Connection> {
    let mut conn = Connection::open_in_memory()?;
    migrate(&mut conn)?;
    Ok(conn)
}

/// The layout of an open file; 0 where nothing is in it yet.
pub(crate) fn version(conn: &Connection) -> Result<i64> {
    Ok(conn.pragma_query_value(None, "user_version", |row| row.get(0))?)
}

/// Brings a new file to a layout of any age.
pub(crate) fn migrate_to(conn: &mut Connection, layout: i64) -> Result<()> {
    let layout = usize::try_from(layout).unwrap_or(LAYOUTS.len());
    migrations().to_version(conn, layout).map_err(failed)
}

/// Brings the file to the latest layout. Two processes may arrive at once: the one that comes second finds the work
/// done.
pub(crate) fn migrate(conn: &mut Connection) -> Result<()> {
    conn.set_transaction_behavior(TransactionBehavior::Immediate);
    let Err(error) = migrations().to_latest(conn) else {
        return Ok(());
    };
    if version(conn)? == latest() {
        return Ok(());
    }
    Err(failed(error))
}

fn failed(error: rusqlite_migration::Error) -> BookErrorKind {
    match error {
        rusqlite_migration::Error::RusqliteError { err, .. } => BookErrorKind::from(err),
        other => BookErrorKind::damaged(other.to_string()),
    }
}
