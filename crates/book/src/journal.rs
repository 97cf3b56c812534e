//! The journal: every change, and taking one back.

use interstice_glucose::{Draft, Rejected, Second};
use rusqlite::{Connection, OptionalExtension, Row, params};
use sha2::{Digest, Sha256};

use crate::book::{Book, Keep};
use crate::entry::{Entry, EntryKind, EntryRef, Stored, Word, content};
use crate::error::{BookError, BookErrorKind, Result};
use crate::import::{ImportReceipt, KeptRecipe, insert_entry, is_whole_minute, write_draft};
use crate::seal::seal;
use crate::settings;

/// Number of a change in the journal, counted from 1 and never used twice.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct ChangeId(pub i64);

impl std::fmt::Display for ChangeId {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.0.fmt(f)
    }
}

/// What a change did.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum ChangeKind {
    /// A file was imported.
    Import,
    /// Entries were written by hand.
    Log,
    /// An entry was corrected.
    Edit,
    /// An entry was deleted.
    Delete,
    /// A setting was changed.
    Setting,
    /// An earlier change was taken back.
    Undo,
}

impl Word for ChangeKind {
    const WORDS: &'static [(Self, &'static str)] = &[
        (ChangeKind::Import, "import"),
        (ChangeKind::Log, "log"),
        (ChangeKind::Edit, "edit"),
        (ChangeKind::Delete, "delete"),
        (ChangeKind::Setting, "setting"),
        (ChangeKind::Undo, "undo"),
    ];
}

impl ChangeKind {
    /// As it stands in the book.
    pub fn name(self) -> &'static str {
        self.word()
    }
}

/// One line of the journal.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Change {
    /// Its number.
    pub id: ChangeId,
    /// When it was made.
    pub at: Second,
    /// What it did.
    pub kind: ChangeKind,
    /// The same in words.
    pub what: String,
    /// The change that took it back.
    pub undone_by: Option<ChangeId>,
}

impl Change {
    /// Whether it still stands and can be taken back.
    pub fn can_be_undone(&self) -> bool {
        self.undone_by.is_none() && self.kind != ChangeKind::Undo
    }

    fn read(row: &Row<'_>) -> rusqlite::Result<Self> {
        Ok(Change {
            id: ChangeId(row.get(0)?),
            at: row.get(1)?,
            kind: ChangeKind::read(row, 2)?,
            what: row.get(3)?,
            undone_by: row.get::<_, Option<i64>>(4)?.map(ChangeId),
        })
    }
}

/// What an undo took back.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct UndoReceipt {
    /// The change taken back.
    pub undone: Change,
    /// The line that says so.
    pub change: ChangeId,
    /// Readings it had brought (some may stand still, brought by others too).
    pub readings: u64,
    /// Entries it had brought.
    pub entries: u64,
}

/// An import that is in the book.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ImportInfo {
    /// When it was made.
    pub imported_at: Second,
    /// Name of the file.
    pub file_name: String,
    /// SHA-256 of the file.
    pub digest: [u8; 32],
    /// Its size in bytes.
    pub size_bytes: u64,
    /// What was asked for, JSON.
    pub options_json: String,
    /// How it was understood, JSON.
    pub understanding_json: String,
    /// Whether the file itself is kept.
    pub original_kept: bool,
    /// What it brought when it was made.
    pub receipt: ImportReceipt,
}

impl ImportInfo {
    /// Whether it is what a feed brought on a day, and no file.
    pub fn is_of_feed(&self) -> bool {
        let options = serde_json::from_str::<serde_json::Value>(&self.options_json);
        options.is_ok_and(|options| options.get("feed").is_some())
    }
}

pub(crate) fn record_change(
    conn: &Connection,
    kind: ChangeKind,
    at: Second,
    what: &str,
    detail: &str,
) -> Result<ChangeId> {
    conn.prepare_cached("INSERT INTO change (at, kind, what, detail) VALUES (?1, ?2, ?3, ?4)")?
        .execute(params![at, kind.word(), what, detail])?;
    Ok(ChangeId(conn.last_insert_rowid()))
}

impl Book {
    /// What tells this book and its copies from any other: sixteen hexadecimal digits of the SHA-256 of its first change, or
    /// of nothing where it has none. It stays while the book lives.
    ///
    /// # Errors
    /// `Damaged`, `Io`.
    pub fn identity(&self) -> std::result::Result<String, BookError> {
        self.reading(|conn| {
            let sql = "SELECT id, at, kind, what, detail FROM change ORDER BY id LIMIT 1";
            let first: Option<(i64, i64, String, String, String)> = conn
                .query_row(sql, [], |row| {
                    Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?, row.get(4)?))
                })
                .optional()?;
            let said = first.map_or_else(String::new, |first| format!("{first:?}"));
            let digest = Sha256::digest(said.as_bytes());
            Ok(digest.iter().take(8).map(|byte| format!("{byte:02x}")).collect())
        })
    }

    /// The whole journal, oldest first.
    ///
    /// # Errors
    /// `Damaged`, `Io`.
    pub fn journal(&self) -> std::result::Result<Vec<Change>, BookError> {
        self.reading(|conn| {
            let mut statement =
                conn.prepare_cached("SELECT id, at, kind, what, undone_by FROM change ORDER BY id")?;
            let rows = statement.query_map([], Change::read)?;
            Ok(rows.collect::<rusqlite::Result<_>>()?)
        })
    }

    /// The imports that are in the book, oldest first.
    ///
    /// # Errors
    /// `Damaged`, `Io`.
    pub fn imports(&self) -> std::result::Result<Vec<ImportInfo>, BookError> {
        self.reading(|conn| {
            let mut statement = conn.prepare_cached(IMPORTS)?;
            let rows = statement.query_map([], read_import)?;
            Ok(rows.collect::<rusqlite::Result<_>>()?)
        })
    }

    /// The rows of an import that could not be used, in the order of the file.
    ///
    /// # Errors
    /// `Damaged`, `Io`.
    pub fn rejected(&self, import: ChangeId) -> std::result::Result<Vec<Rejected>, BookError> {
        self.reading(|conn| {
            let sql = "SELECT row, column_name, text, reason FROM rejected_row WHERE origin = ?1 ORDER BY id";
            let mut statement = conn.prepare_cached(sql)?;
            let rows = statement.query_map([import.0], |row| {
                Ok(Rejected {
                    row: row.get(0)?,
                    column: row.get(1)?,
                    text: row.get(2)?,
                    reason: row.get(3)?,
                })
            })?;
            Ok(rows.collect::<rusqlite::Result<_>>()?)
        })
    }

    /// The file of an import, zstd-compressed, where it was kept.
    ///
    /// # Errors
    /// `Damaged`, `Io`.
    pub fn original(&self, import: ChangeId) -> std::result::Result<Option<Vec<u8>>, BookError> {
        self.reading(|conn| {
            let mut statement = conn.prepare_cached("SELECT packed FROM original WHERE origin = ?1")?;
            Ok(statement.query_row([import.0], |row| row.get(0)).optional()?)
        })
    }

    /// Layouts understood before, by layout; of several the latest.
    ///
    /// # Errors
    /// `Damaged`, `Io`.
    pub fn recipes(&self) -> std::result::Result<Vec<KeptRecipe>, BookError> {
        self.reading(|conn| {
            let sql = "SELECT layout, json FROM recipe WHERE id IN (SELECT max(id) FROM recipe GROUP BY layout) ORDER BY layout";
            let mut statement = conn.prepare_cached(sql)?;
            let rows = statement.query_map([], |row| Ok(KeptRecipe { layout: row.get(0)?, json: row.get(1)? }))?;
            Ok(rows.collect::<rusqlite::Result<_>>()?)
        })
    }

    /// Writes what a person enters by hand, as one change. `what` is its line in the journal ('logged a meal').
    /// Entries the book knows already are not written again; where nothing is new, nothing is written.
    ///
    /// # Errors
    /// `Refused` where a figure is not a number; `Busy`, `Full`, `Io`.
    pub fn log(
        &mut self,
        draft: &Draft,
        what: &str,
        at: Second,
    ) -> std::result::Result<ImportReceipt, BookError> {
        self.writing(|conn| log_as(conn, draft, what, log_detail(draft), at))
    }

    /// The same under a key that whoever sends it has made: sent again under it, nothing is written, also where the
    /// change was taken back since. The receipt then has the change that was made the first time.
    ///
    /// # Errors
    /// As [`Book::log`].
    pub fn log_once(
        &mut self,
        draft: &Draft,
        what: &str,
        key: &str,
        at: Second,
    ) -> std::result::Result<ImportReceipt, BookError> {
        self.writing(|conn| {
            if let Some(change) = logged_as(conn, key)? {
                let receipt = ImportReceipt {
                    change: Some(change),
                    ..ImportReceipt::default()
                };
                return Ok((receipt, Keep::Nothing));
            }
            let mut detail = entries_of(draft);
            detail["key"] = key.into();
            log_as(conn, draft, what, detail.to_string(), at)
        })
    }

    /// The change that was logged under a key.
    ///
    /// # Errors
    /// `Damaged`, `Io`.
    pub fn logged_as(&self, key: &str) -> std::result::Result<Option<ChangeId>, BookError> {
        self.reading(|conn| logged_as(conn, key))
    }

    /// Corrects one entry. The original stays in the book, hidden, also where other files bring it again; the
    /// correction stands as long as the original is there.
    ///
    /// # Errors
    /// `Refused` where there is no such entry, the new one is of another kind, or a figure is not a number; `Busy`,
    /// `Full`, `Io`.
    pub fn edit(
        &mut self,
        entry: EntryRef,
        new: &Entry,
        reason: Option<&str>,
        at: Second,
    ) -> std::result::Result<ChangeId, BookError> {
        self.writing(|conn| {
            if new.kind() != entry.kind {
                let what = format!("a {} cannot become a {}", entry.kind.name(), new.kind().name());
                return Err(BookErrorKind::refused(what, "delete it and log the other"));
            }
            let change = match new {
                Entry::BloodCheck(new) => replace(conn, entry, Some(new), reason, at),
                Entry::Dose(new) => replace(conn, entry, Some(new), reason, at),
                Entry::Meal(new) => replace(conn, entry, Some(new), reason, at),
                Entry::Mark(new) => replace(conn, entry, Some(new), reason, at),
                Entry::SensorNote(new) => replace(conn, entry, Some(new), reason, at),
                Entry::LowVerdict(new) => replace(conn, entry, Some(new), reason, at),
                Entry::LivedSpan(new) => replace(conn, entry, Some(new), reason, at),
            }?;
            Ok((change, Keep::Change))
        })
    }

    /// Hides one entry, also where other files bring it again.
    ///
    /// # Errors
    /// `Refused` where there is no such entry; `Busy`, `Full`, `Io`.
    pub fn delete(
        &mut self,
        entry: EntryRef,
        reason: Option<&str>,
        at: Second,
    ) -> std::result::Result<ChangeId, BookError> {
        use interstice_glucose::{BloodCheck, Dose, LivedSpan, LowVerdict, Mark, Meal, SensorNote};
        self.writing(|conn| {
            let change = match entry.kind {
                EntryKind::BloodCheck => replace::<BloodCheck>(conn, entry, None, reason, at),
                EntryKind::Dose => replace::<Dose>(conn, entry, None, reason, at),
                EntryKind::Meal => replace::<Meal>(conn, entry, None, reason, at),
                EntryKind::Mark => replace::<Mark>(conn, entry, None, reason, at),
                EntryKind::SensorNote => replace::<SensorNote>(conn, entry, None, reason, at),
                EntryKind::LowVerdict => replace::<LowVerdict>(conn, entry, None, reason, at),
                EntryKind::LivedSpan => replace::<LivedSpan>(conn, entry, None, reason, at),
            }?;
            Ok((change, Keep::Change))
        })
    }

    /// Takes back one change, or the latest that still stands. What other changes brought too remains.
    ///
    /// # Errors
    /// `Refused` where there is nothing to undo, the change is not known, was undone before, is itself an undo, or a
    /// later change builds on it; `Busy`, `Full`, `Io`.
    pub fn undo(
        &mut self,
        change: Option<ChangeId>,
        at: Second,
    ) -> std::result::Result<UndoReceipt, BookError> {
        self.writing(|conn| {
            let (undone, detail) = standing(conn, change)?;
            let mut touched = vec![undone.id];
            if undone.kind == ChangeKind::Setting {
                touched.extend(settings::undo(conn, undone.id, &detail)?);
            } else {
                refuse_if_built_on(conn, undone.id)?;
            }
            let readings: i64 = conn.query_row(
                "SELECT coalesce(sum(count), 0) FROM block WHERE origin = ?1",
                [undone.id.0],
                |row| row.get(0),
            )?;
            let entries = drop_rows(conn, undone.id)?;
            let change = record_change(
                conn,
                ChangeKind::Undo,
                at,
                &format!("took back: {}", undone.what),
                "{}",
            )?;
            conn.execute(
                "UPDATE change SET undone_by = ?2 WHERE id = ?1",
                params![undone.id.0, change.0],
            )?;
            touched.push(change);
            touched.into_iter().try_for_each(|change| seal(conn, change))?;
            let undone = Change {
                undone_by: Some(change),
                ..undone
            };
            Ok((
                UndoReceipt {
                    undone,
                    change,
                    readings: readings as u64,
                    entries,
                },
                Keep::Change,
            ))
        })
    }
}

/// Every import, as [`read_import`] reads it.
pub(crate) const IMPORTS: &str =
    "SELECT i.origin, c.at, file_name, digest, size_bytes, options, understanding,
    EXISTS (SELECT 1 FROM original o WHERE o.origin = i.origin), readings_new, scans_new, blood_checks_new,
    doses_new, meals_new, other_new, already_there, conflicts, rejected
    FROM import i JOIN change c ON c.id = i.origin ORDER BY i.origin";

pub(crate) fn read_import(row: &Row<'_>) -> rusqlite::Result<ImportInfo> {
    let count = |column: usize| row.get::<_, u64>(column);
    Ok(ImportInfo {
        imported_at: row.get(1)?,
        file_name: row.get(2)?,
        digest: row.get(3)?,
        size_bytes: row.get(4)?,
        options_json: row.get(5)?,
        understanding_json: row.get(6)?,
        original_kept: row.get(7)?,
        receipt: ImportReceipt {
            change: Some(ChangeId(row.get(0)?)),
            written: true,
            readings_new: count(8)?,
            scans_new: count(9)?,
            blood_checks_new: count(10)?,
            doses_new: count(11)?,
            meals_new: count(12)?,
            other_new: count(13)?,
            already_there: count(14)?,
            conflicts: count(15)?,
            rejected: count(16)?,
        },
    })
}

fn logged_as(conn: &Connection, key: &str) -> Result<Option<ChangeId>> {
    let sql = "SELECT id FROM change WHERE kind = 'log' AND json_valid(detail) AND json_extract(detail, '$.key') = ?1";
    let mut statement = conn.prepare_cached(sql)?;
    let found = statement.query_row([key], |row| Ok(ChangeId(row.get(0)?)));
    Ok(found.optional()?)
}

fn log_as(
    conn: &Connection,
    draft: &Draft,
    what: &str,
    detail: String,
    at: Second,
) -> Result<(ImportReceipt, Keep)> {
    let change = record_change(conn, ChangeKind::Log, at, what, &detail)?;
    let go_on = &mut |_, _| std::ops::ControlFlow::Continue(());
    let (receipt, spans_new) = write_draft(conn, change, draft, go_on)?;
    if receipt.new_rows() + receipt.conflicts + spans_new == 0 {
        return Ok((receipt, Keep::Nothing));
    }
    seal(conn, change)?;
    Ok((
        ImportReceipt {
            change: Some(change),
            written: true,
            ..receipt
        },
        Keep::Change,
    ))
}

/// The entries themselves, so that the journal tells them even after an undo.
pub(crate) fn log_detail(draft: &Draft) -> String {
    entries_of(draft).to_string()
}

fn entries_of(draft: &Draft) -> serde_json::Value {
    fn all<T: Stored>(entries: &[T]) -> serde_json::Value {
        let contents = entries.iter().map(|entry| content(&entry.values()));
        contents
            .map(|json| serde_json::from_str(&json).unwrap_or_default())
            .collect::<Vec<serde_json::Value>>()
            .into()
    }
    serde_json::json!({
        "blood_check": all(&draft.blood_checks),
        "dose": all(&draft.doses),
        "meal": all(&draft.meals),
        "mark": all(&draft.marks),
        "sensor_note": all(&draft.sensor_notes),
        "low_verdict": all(&draft.low_verdicts),
        "lived_span": all(&draft.lived),
    })
}

/// Hides an entry and, for an edit, writes what stands instead.
fn replace<T: Stored>(
    conn: &Connection,
    entry: EntryRef,
    new: Option<&T>,
    reason: Option<&str>,
    at: Second,
) -> Result<ChangeId> {
    let sql = format!(
        "SELECT origin, to_minute, {} FROM {} WHERE id = ?1",
        T::COLUMNS,
        T::KIND.table()
    );
    let old = conn.prepare_cached(&sql)?.query_row([entry.id], |row| {
        Ok((row.get::<_, i64>(0)?, row.get::<_, bool>(1)?, T::read(row, 2)?))
    });
    let Some((origin, to_minute, old)) = old.optional()? else {
        let what = format!("there is no {} {}", T::KIND.name(), entry.id);
        return Err(BookErrorKind::refused(
            what,
            "look at the list again; it may have been undone",
        ));
    };
    let (kind, verb) = if new.is_some() {
        (ChangeKind::Edit, "corrected")
    } else {
        (ChangeKind::Delete, "deleted")
    };
    let what = format!("{verb} a {}", T::KIND.name());
    let before = content(&old.values());
    let detail = serde_json::json!({
        "kind": T::KIND.table(),
        "before": before,
        "after": new.map(|new| content(&new.values())),
        "reason": reason,
    });
    let change = record_change(conn, kind, at, &what, &detail.to_string())?;
    conn.prepare_cached(
        "INSERT INTO retraction (origin, entry_kind, at, content, target_origin, to_minute, reason)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
    )?
    .execute(params![
        change.0,
        T::KIND.table(),
        old.at(),
        before,
        origin,
        to_minute,
        reason
    ])?;
    let retraction = conn.last_insert_rowid();
    if let Some(new) = new {
        // A time that was left as it was is no finer than before.
        let to_minute = is_whole_minute(new.at()) && (to_minute || new.at() != old.at());
        insert_entry(conn, change, Some(retraction), new, to_minute)?;
    }
    seal(conn, change)?;
    Ok(change)
}

/// The change to take back and its detail.
fn standing(conn: &Connection, change: Option<ChangeId>) -> Result<(Change, String)> {
    let columns = "SELECT id, at, kind, what, undone_by, detail FROM change";
    let read = |row: &Row<'_>| Ok((Change::read(row)?, row.get(5)?));
    let Some(id) = change else {
        let sql = format!("{columns} WHERE undone_by IS NULL AND kind != 'undo' ORDER BY id DESC LIMIT 1");
        let found = conn.query_row(&sql, [], read).optional()?;
        return found.ok_or_else(|| {
            BookErrorKind::refused("there is nothing to undo", "the book has no changes that stand")
        });
    };
    let found = conn
        .query_row(&format!("{columns} WHERE id = ?1"), [id.0], read)
        .optional()?;
    let (change, detail) = found.ok_or_else(|| {
        BookErrorKind::refused(
            format!("there is no change {id}"),
            "list the journal for its numbers",
        )
    })?;
    if let Some(by) = change.undone_by {
        return Err(BookErrorKind::refused(
            format!("change {id} was undone by change {by}"),
            "nothing is left to undo",
        ));
    }
    if change.kind == ChangeKind::Undo {
        let next = "import the file or log the entry again instead";
        return Err(BookErrorKind::refused(
            format!("change {id} is itself an undo"),
            next,
        ));
    }
    Ok((change, detail))
}

/// A hand-made entry that was corrected since stays until the correction is taken back. Corrections of imported
/// entries wait: they stand again when the entry comes back with another file.
fn refuse_if_built_on(conn: &Connection, id: ChangeId) -> Result<()> {
    let sql = "SELECT max(r.origin) FROM retraction r JOIN change e ON e.id = r.origin
        JOIN change t ON t.id = r.target_origin
        WHERE r.target_origin = ?1 AND e.kind = 'edit' AND t.kind IN ('log', 'edit')";
    let later: Option<i64> = conn.query_row(sql, [id.0], |row| row.get(0))?;
    match later {
        Some(later) => Err(BookErrorKind::refused(
            format!("change {later} corrects what change {id} wrote"),
            format!("undo change {later} first"),
        )),
        None => Ok(()),
    }
}

/// Drops everything a change brought; answers how many entries that was.
fn drop_rows(conn: &Connection, origin: ChangeId) -> Result<u64> {
    let mut entries = 0;
    for kind in EntryKind::ALL {
        let dropped = conn.execute(
            &format!("DELETE FROM {} WHERE origin = ?1", kind.table()),
            [origin.0],
        )? as u64;
        if kind != EntryKind::LivedSpan {
            entries += dropped;
        }
    }
    for table in [
        "photo",
        "block",
        "retraction",
        "rejected_row",
        "recipe",
        "original",
        "import",
    ] {
        conn.execute(&format!("DELETE FROM {table} WHERE origin = ?1"), [origin.0])?;
    }
    conn.execute("DELETE FROM setting WHERE origin = ?1", [origin.0])?;
    conn.execute(
        "DELETE FROM trace WHERE NOT EXISTS (SELECT 1 FROM block WHERE block.trace = trace.id)",
        [],
    )?;
    Ok(entries)
}
