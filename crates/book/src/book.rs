//! Opening a book.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::time::Duration;

use rusqlite::config::DbConfig;
use rusqlite::{Connection, ErrorCode, OpenFlags, Transaction, TransactionBehavior};

use crate::error::{BookError, BookErrorKind, Result};
use crate::schema;

/// How long a write of another process is waited for. The longest one, twenty million readings, takes about a second.
const PATIENCE: Duration = Duration::from_secs(10);
/// How often two processes that begin one book stand back for each other, and for how long.
const TRIES: u32 = 100;
const BETWEEN_TRIES: Duration = Duration::from_millis(10);
/// Page size of new books: a minute-by-minute day (about 1.5 kB) must not spill out of its page.
const PAGE_BYTES: u32 = 8192;
/// A log left behind by a large import is cut back to this.
const LOG_BYTES: u32 = 4 << 20;

/// How a book is opened.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mode {
    /// For reading and writing; begun when there is none. The folder must exist.
    CreateIfAbsent,
    /// For reading and writing; it must exist.
    Existing,
    /// For reading only; it must exist. Nothing in it is changed; an older layout is brought forward where the file may
    /// be written.
    ReadOnly,
}

/// One person's record: one file, open.
#[derive(Debug)]
pub struct Book {
    pub(crate) conn: Connection,
    pub(crate) path: PathBuf,
    pub(crate) own_writes: u64,
    pub(crate) layout_before: Option<i64>,
}

/// Says whether anything may have changed: equal stamps of one [`Book`] mean that nothing has.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct VersionStamp {
    others: i64,
    own: u64,
}

impl Book {
    /// Opens the book at `path`. The file is made readable by its owner alone; while it is open for writing two
    /// helper files (`-wal`, `-shm`) stand beside it.
    ///
    /// # Errors
    /// `Missing`, `Foreign`, `Newer`, `Damaged`, `Busy`, `CannotOpen`, `ReadOnly`.
    pub fn open(path: impl AsRef<Path>, mode: Mode) -> std::result::Result<Self, BookError> {
        let path = path.as_ref();
        let (conn, layout_before) = connect(path, mode).map_err(|kind| BookError::new(path, kind))?;
        Ok(Book {
            conn,
            path: path.to_owned(),
            own_writes: 0,
            layout_before,
        })
    }

    /// A book that is kept in memory and gone when dropped. For tests and trial runs.
    ///
    /// # Errors
    /// None in practice.
    pub fn in_memory() -> std::result::Result<Self, BookError> {
        let path = PathBuf::from("in memory");
        let fail = |kind| BookError::new(&path, kind);
        let mut conn = Connection::open_in_memory().map_err(|error| fail(error.into()))?;
        configure(&conn).map_err(fail)?;
        schema::migrate(&mut conn).map_err(fail)?;
        Ok(Book {
            conn,
            path: path.clone(),
            own_writes: 0,
            layout_before: None,
        })
    }

    /// The book's file.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The earlier layout the file had, where this opening brought it forward to the present one. Earlier versions of
    /// the program refuse it from then on.
    pub fn brought_forward_from(&self) -> Option<i64> {
        self.layout_before
    }

    /// A cheap stamp of the book's state, for whoever keeps a loaded [`Record`](crate::Record) warm.
    ///
    /// # Errors
    /// `Damaged`, `Io`.
    pub fn version_stamp(&self) -> std::result::Result<VersionStamp, BookError> {
        let others = self
            .conn
            .pragma_query_value(None, "data_version", |row| row.get(0));
        Ok(VersionStamp {
            others: others.map_err(|error| self.error(error.into()))?,
            own: self.own_writes,
        })
    }

    pub(crate) fn error(&self, kind: BookErrorKind) -> BookError {
        BookError::new(&self.path, kind)
    }

    /// A change that failed is rolled back at once; where even that failed, before anything else is done.
    pub(crate) fn leave_abandoned(&self) -> Result<()> {
        if !self.conn.is_autocommit() {
            self.conn.execute_batch("ROLLBACK")?;
        }
        Ok(())
    }

    /// Runs `read` on one state of the book, whatever others write meanwhile.
    pub(crate) fn reading<T>(
        &self,
        read: impl FnOnce(&Connection) -> Result<T>,
    ) -> std::result::Result<T, BookError> {
        let read = || -> Result<T> {
            self.leave_abandoned()?;
            let state = Transaction::new_unchecked(&self.conn, TransactionBehavior::Deferred)?;
            read(&state)
        };
        read().map_err(|kind| self.error(kind))
    }

    /// Runs `write` as one change: all of it is in the book afterwards, or none of it. `Keep::Nothing` leaves the
    /// book as it was without being an error.
    pub(crate) fn writing<T>(
        &mut self,
        write: impl FnOnce(&Connection) -> Result<(T, Keep)>,
    ) -> std::result::Result<T, BookError> {
        let write = || -> Result<(T, Keep)> {
            self.leave_abandoned()?;
            let change = Transaction::new_unchecked(&self.conn, TransactionBehavior::Immediate)?;
            let (answer, keep) = write(&change)?;
            match keep {
                Keep::Change => change.commit()?,
                Keep::Nothing => change.rollback()?,
            }
            Ok((answer, keep))
        };
        let (answer, keep) = write().map_err(|kind| BookError::new(&self.path, kind))?;
        if keep == Keep::Change {
            self.own_writes += 1;
        }
        Ok(answer)
    }
}

/// Whether a change is kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Keep {
    Change,
    Nothing,
}

/// One opening at a time in this process: beginning a file and connecting to it must not mix with another opening,
/// because closing any handle to a file drops the locks SQLite holds on it.
static OPENING: Mutex<()> = Mutex::new(());

/// A connection, and the earlier layout that was brought forward.
fn connect(path: &Path, mode: Mode) -> Result<(Connection, Option<i64>)> {
    let _one_at_a_time = OPENING.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
    let begun = match (fs::metadata(path), mode) {
        (Ok(about), _) if about.is_dir() => {
            return Err(BookErrorKind::Foreign {
                what: "it is a folder".to_owned(),
            });
        }
        (Ok(_), _) => false,
        (Err(error), Mode::CreateIfAbsent) if error.kind() == std::io::ErrorKind::NotFound => begin(path)?,
        (Err(error), _) if error.kind() == std::io::ErrorKind::NotFound => {
            return Err(BookErrorKind::Missing);
        }
        (Err(error), _) => {
            return Err(BookErrorKind::CannotOpen {
                what: error.to_string(),
            });
        }
    };
    if mode == Mode::ReadOnly {
        let (conn, found) = connect_for_reading(path)?;
        if found == schema::latest() {
            return Ok((conn, None));
        }
        drop(conn);
        bring_forward(path, found)?;
        return Ok((connect_for_reading(path)?.0, Some(found)));
    }
    let (conn, found) = connect_for_writing(path, mode == Mode::CreateIfAbsent)?;
    if begun {
        sync_folder(path);
    }
    Ok((
        conn,
        Some(found).filter(|found| (1..schema::latest()).contains(found)),
    ))
}

/// A connection, and the layout that was found: 0 for a new book.
fn connect_for_writing(path: &Path, may_begin: bool) -> Result<(Connection, i64)> {
    let mut conn = Connection::open_with_flags(
        path,
        OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX,
    )?;
    let found = configure(&conn).and_then(|()| recognise(&conn, may_begin));
    // On a disk that may only be read the log cannot be set up either; that it cannot be written is what there is to say.
    if conn.is_readonly("main")? && matches!(found, Ok(_) | Err(BookErrorKind::CannotOpen { .. })) {
        return Err(BookErrorKind::ReadOnly);
    }
    let found = found?;
    if found == 0 {
        conn.pragma_update(None, "page_size", PAGE_BYTES)?;
        only_for_owner(path)?;
    }
    keep_a_log(&conn)?;
    if found < schema::latest() {
        schema::migrate(&mut conn)?;
    }
    Ok((conn, found))
}

/// Writes into a log beside the file (WAL). Two processes that begin one book both ask for it: SQLite refuses one at once
/// rather than let each wait for the other, and what that one asked for is done a moment later.
fn keep_a_log(conn: &Connection) -> Result<()> {
    for _ in 0..TRIES {
        match conn.pragma_update_and_check(None, "journal_mode", "wal", |_| Ok(())) {
            Err(rusqlite::Error::SqliteFailure(error, _)) if error.code == ErrorCode::DatabaseBusy => {
                std::thread::sleep(BETWEEN_TRIES);
            }
            other => return Ok(other?),
        }
    }
    Err(BookErrorKind::Busy)
}

/// Whoever only reads a book of an earlier version should not have to write something first.
fn bring_forward(path: &Path, found: i64) -> Result<()> {
    match connect_for_writing(path, false) {
        Err(BookErrorKind::CannotOpen { .. } | BookErrorKind::ReadOnly) => Err(BookErrorKind::refused(
            format!(
                "it was written by an earlier version (layout {found}) and cannot be brought forward to layout {}",
                schema::latest()
            ),
            "allow writing to the file and its folder once, or work on a copy",
        )),
        other => other.map(drop),
    }
}

/// Begins a new book of a layout that may be an earlier one.
pub(crate) fn begin_with_layout(path: &Path, layout: i64) -> Result<Connection> {
    let _one_at_a_time = OPENING.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
    if !begin(path)? {
        return Err(BookErrorKind::refused(
            "there is a file here already",
            "name a new one for what is saved",
        ));
    }
    let mut conn = Connection::open_with_flags(
        path,
        OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX,
    )?;
    configure(&conn)?;
    conn.pragma_update(None, "page_size", PAGE_BYTES)?;
    conn.pragma_update_and_check(None, "journal_mode", "wal", |_| Ok(()))?;
    schema::migrate_to(&mut conn, layout)?;
    Ok(conn)
}

/// Opens a damaged book for reading, whatever its layout, and says which that is.
pub(crate) fn connect_for_saving(path: &Path) -> Result<(Connection, i64)> {
    let _one_at_a_time = OPENING.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
    match fs::metadata(path) {
        Ok(about) if about.is_dir() => Err(BookErrorKind::Foreign {
            what: "it is a folder".to_owned(),
        }),
        Ok(_) => match connect_for_reading(path) {
            Err(BookErrorKind::Damaged { .. }) => connect_to_what_is_left(path),
            other => other,
        },
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => Err(BookErrorKind::Missing),
        Err(error) => Err(BookErrorKind::CannotOpen {
            what: error.to_string(),
        }),
    }
}

/// Reads a file that is shorter than it says itself, as far as it goes. SQLite looks away from that only where its own schema could be
/// written; here the whole file can only be read.
fn connect_to_what_is_left(path: &Path) -> Result<(Connection, i64)> {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let conn = Connection::open_with_flags(path, flags)?;
    conn.set_db_config(DbConfig::SQLITE_DBCONFIG_DEFENSIVE, false)?;
    conn.set_db_config(DbConfig::SQLITE_DBCONFIG_WRITABLE_SCHEMA, true)?;
    let found = recognise(&conn, false)?;
    let has_journal = "SELECT EXISTS (SELECT 1 FROM sqlite_schema WHERE name = 'change')";
    if !conn.query_row(has_journal, [], |row| row.get(0))? {
        return Err(BookErrorKind::damaged("its first page is gone"));
    }
    conn.pragma_update(None, "trusted_schema", false)?;
    conn.set_db_config(DbConfig::SQLITE_DBCONFIG_ENABLE_TRIGGER, false)?;
    conn.set_db_config(DbConfig::SQLITE_DBCONFIG_ENABLE_VIEW, false)?;
    Ok((conn, found))
}

/// A read-only opening. In a folder that cannot be written SQLite cannot set up its shared memory; where no log is
/// waiting either, the file itself is the whole truth and is read as it stands.
fn connect_for_reading(path: &Path) -> Result<(Connection, i64)> {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let usual = || -> Result<(Connection, i64)> {
        let conn = Connection::open_with_flags(path, flags)?;
        configure(&conn)?;
        let found = recognise(&conn, false)?;
        Ok((conn, found))
    };
    match usual() {
        Err(BookErrorKind::CannotOpen { .. } | BookErrorKind::ReadOnly) if !has_log(path) => {
            let conn = Connection::open_with_flags(immutable_uri(path), flags | OpenFlags::SQLITE_OPEN_URI)?;
            configure(&conn)?;
            let found = recognise(&conn, false)?;
            Ok((conn, found))
        }
        other => other,
    }
}

fn has_log(path: &Path) -> bool {
    let mut name = path.as_os_str().to_owned();
    name.push("-wal");
    fs::metadata(name).is_ok_and(|about| about.len() > 0)
}

fn immutable_uri(path: &Path) -> String {
    let mut uri = String::from("file:");
    for byte in path.to_string_lossy().bytes() {
        match byte {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'/' | b'.' | b'-' | b'_' => uri.push(char::from(byte)),
            _ => uri.push_str(&format!("%{byte:02x}")),
        }
    }
    uri + "?immutable=1"
}

/// What every connection keeps to.
fn configure(conn: &Connection) -> Result<()> {
    conn.busy_timeout(PATIENCE)?;
    // FULL: a change that was acknowledged is on the disk, also after a power cut (docs/decisions/0003).
    conn.pragma_update(None, "synchronous", "full")?;
    conn.pragma_update(None, "foreign_keys", true)?;
    conn.pragma_update(None, "journal_size_limit", LOG_BYTES)?;
    conn.pragma_update(None, "temp_store", "memory")?;
    // The file may come from anywhere: run nothing that stands in it, and look at pages before trusting them.
    conn.pragma_update(None, "trusted_schema", false)?;
    conn.pragma_update(None, "cell_size_check", true)?;
    conn.set_db_config(DbConfig::SQLITE_DBCONFIG_DEFENSIVE, true)?;
    conn.set_db_config(DbConfig::SQLITE_DBCONFIG_ENABLE_TRIGGER, false)?;
    conn.set_db_config(DbConfig::SQLITE_DBCONFIG_ENABLE_VIEW, false)?;
    conn.set_prepared_statement_cache_capacity(64);
    Ok(())
}

/// Says which layout the file has: 0 where it is new and may be begun.
fn recognise(conn: &Connection, may_begin: bool) -> Result<i64> {
    let id: i64 = conn.pragma_query_value(None, "application_id", |row| row.get(0))?;
    let found = schema::version(conn)?;
    if id != schema::APPLICATION_ID {
        let tables: i64 = conn.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))?;
        return match (tables, id, found) {
            (0, 0, 0) if may_begin => Ok(0),
            (0, 0, 0) => Err(BookErrorKind::Foreign {
                what: "it is empty".to_owned(),
            }),
            _ => Err(BookErrorKind::Foreign {
                what: "it is a database of another program".to_owned(),
            }),
        };
    }
    if found > schema::latest() {
        return Err(BookErrorKind::Newer {
            found,
            known: schema::latest(),
        });
    }
    if found < 1 {
        return Err(BookErrorKind::damaged("its layout number is missing"));
    }
    Ok(found)
}

/// Makes the empty file, readable by its owner alone. Another process may be quicker: then it is theirs.
fn begin(path: &Path) -> Result<bool> {
    let mut options = fs::OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    match options.open(path) {
        Ok(_) => Ok(true),
        Err(error) if error.kind() == std::io::ErrorKind::AlreadyExists => Ok(false),
        Err(error) => Err(BookErrorKind::CannotOpen {
            what: error.to_string(),
        }),
    }
}

/// For a file that was there but empty: the helper files take over its mode.
fn only_for_owner(path: &Path) -> Result<()> {
    #[cfg(unix)]
    {
        let mode = std::os::unix::fs::PermissionsExt::from_mode(0o600);
        fs::set_permissions(path, mode).map_err(|error| BookErrorKind::CannotOpen {
            what: error.to_string(),
        })?;
    }
    #[cfg(not(unix))]
    let _ = path;
    Ok(())
}

/// A new file survives a power cut only once its folder knows it. Where the system cannot do that, so be it.
pub(crate) fn sync_folder(path: &Path) {
    let folder = path
        .parent()
        .filter(|folder| !folder.as_os_str().is_empty())
        .unwrap_or(Path::new("."));
    if let Ok(folder) = fs::File::open(folder) {
        let _ = folder.sync_all();
    }
}
