//! Entries as they stand: each content once, without what was edited away or deleted.

use interstice_glucose::Second;
use rusqlite::Connection;

use crate::entry::{EntryKind, EntryRef, Stored, content};
use crate::error::Result;
use crate::journal::ChangeId;

/// An entry with its place in the book.
#[derive(Clone, Debug, PartialEq)]
pub struct Kept<T> {
    /// To edit or delete it by.
    pub entry: EntryRef,
    /// The change that brought it first.
    pub origin: ChangeId,
    /// Whether it was written by hand rather than imported.
    pub by_hand: bool,
    /// The entry itself.
    pub it: T,
}

/// Changes made by hand, ascending.
pub(crate) fn by_hand(conn: &Connection) -> Result<Vec<i64>> {
    let mut statement =
        conn.prepare_cached("SELECT id FROM change WHERE kind IN ('log', 'edit') ORDER BY id")?;
    let rows = statement.query_map([], |row| row.get(0))?;
    Ok(rows.collect::<rusqlite::Result<_>>()?)
}

/// Entries of one kind that reach into the window, each content once, without those edited away or deleted.
pub(crate) fn entries<T: Stored>(
    conn: &Connection,
    by_hand: &[i64],
    from: Second,
    to: Second,
) -> Result<Vec<Kept<T>>> {
    let reaches = if T::KIND == EntryKind::Mark {
        "(at >= ?1 OR until > ?1)"
    } else {
        "at >= ?1"
    };
    let sql = format!(
        "SELECT id, origin, correction, {} FROM {} WHERE at < ?2 AND {reaches} ORDER BY at, id",
        T::COLUMNS,
        T::KIND.table()
    );
    let hidden = Retractions::read(conn, T::KIND)?;
    let mut statement = conn.prepare_cached(&sql)?;
    let mut rows = statement.query([from, to])?;
    let mut kept: Vec<Kept<T>> = Vec::new();
    let mut instant = 0;
    while let Some(row) = rows.next()? {
        let it = T::read(row, 3)?;
        let (id, origin, correction): (i64, i64, Option<i64>) = (row.get(0)?, row.get(1)?, row.get(2)?);
        let by_hand = by_hand.binary_search(&origin).is_ok();
        if kept.get(instant).is_none_or(|first| first.it.at() != it.at()) {
            instant = kept.len();
        }
        if kept[instant..].iter().any(|other| other.it == it) || hidden.hides(&it, origin, by_hand) {
            continue;
        }
        if let Some(correction) = correction
            && !hidden.target_is_there::<T>(conn, correction)?
        {
            continue;
        }
        kept.push(Kept {
            entry: EntryRef { kind: T::KIND, id },
            origin: ChangeId(origin),
            by_hand,
            it,
        });
    }
    Ok(kept)
}

struct Retraction {
    id: i64,
    at: Second,
    content: String,
    origin: i64,
}

/// What was edited away or deleted, of one kind.
struct Retractions {
    all: Vec<Retraction>,
}

impl Retractions {
    fn read(conn: &Connection, kind: EntryKind) -> Result<Self> {
        let sql = "SELECT id, at, content, origin FROM retraction WHERE entry_kind = ?1 ORDER BY at, id";
        let mut statement = conn.prepare_cached(sql)?;
        let rows = statement.query_map([kind.table()], |row| {
            Ok(Retraction {
                id: row.get(0)?,
                at: row.get(1)?,
                content: row.get(2)?,
                origin: row.get(3)?,
            })
        })?;
        Ok(Retractions {
            all: rows.collect::<rusqlite::Result<_>>()?,
        })
    }

    /// A retraction hides its content from every import, whenever that comes, and from what was written by hand
    /// before; what the person writes again afterwards stands.
    fn hides<T: Stored>(&self, entry: &T, origin: i64, by_hand: bool) -> bool {
        let start = self.all.partition_point(|retraction| retraction.at < entry.at());
        let here = || {
            self.all[start..]
                .iter()
                .take_while(|retraction| retraction.at == entry.at())
        };
        if here().next().is_none() {
            return false;
        }
        let content = content(&entry.values());
        here().any(|retraction| retraction.content == content && (!by_hand || origin < retraction.origin))
    }

    /// Whether what a correction corrects is still in the book (it may itself be a correction).
    fn target_is_there<T: Stored>(&self, conn: &Connection, correction: i64) -> Result<bool> {
        let mut wanted = vec![correction];
        let mut seen = Vec::new();
        let sql = format!(
            "SELECT correction, {} FROM {} WHERE at = ?1",
            T::COLUMNS,
            T::KIND.table()
        );
        let mut statement = conn.prepare_cached(&sql)?;
        while let Some(id) = wanted.pop() {
            let Some(retraction) = self.all.iter().find(|retraction| retraction.id == id) else {
                continue;
            };
            if seen.contains(&id) {
                continue;
            }
            seen.push(id);
            let mut rows = statement.query([retraction.at])?;
            while let Some(row) = rows.next()? {
                if content(&T::read(row, 1)?.values()) == retraction.content {
                    match row.get(0)? {
                        None => return Ok(true),
                        Some(deeper) => wanted.push(deeper),
                    }
                }
            }
        }
        Ok(false)
    }
}
