//! Entries as they stand: each event once, whoever told of it, without what was edited away or deleted.

use interstice_glucose::Second;
use rusqlite::Connection;

use crate::entry::{EntryKind, EntryRef};
use crate::error::Result;
use crate::history::History;
use crate::journal::ChangeId;
use crate::same::{MINUTE_S, Same};
use crate::telling::{Telling, group, minute};

/// An entry with its place in the book.
#[derive(Clone, Debug, PartialEq)]
pub struct Kept<T> {
    /// To edit or delete it by.
    pub entry: EntryRef,
    /// The change that brought it first.
    pub origin: ChangeId,
    /// Whether it was written by hand rather than imported.
    pub by_hand: bool,
    /// The entry itself, as it was first told; what that source leaves out is taken from the others.
    pub it: T,
    /// The same event as other sources tell it, where they tell it in other words.
    pub also: Vec<(ChangeId, T)>,
}

/// One event and what is to be seen of it.
pub(crate) struct Event<T> {
    /// The telling that came first.
    pub(crate) first: Telling<T>,
    /// The others, in order of precedence.
    pub(crate) others: Vec<Telling<T>>,
    pub(crate) face: Face<T>,
}

pub(crate) enum Face<T> {
    /// As it was told.
    Told,
    /// As the person corrected it.
    Corrected(Telling<T>),
    /// Not at all.
    Hidden,
}

impl<T: Same> Event<T> {
    pub(crate) fn told(first: Telling<T>, others: Vec<Telling<T>>) -> Self {
        Event {
            first,
            others,
            face: Face::Told,
        }
    }

    fn kept(self) -> Option<Kept<T>> {
        let (shown, others) = match self.face {
            Face::Told => (self.first, self.others),
            Face::Corrected(correction) => (correction, Vec::new()),
            Face::Hidden => return None,
        };
        let mut it = shown.it.clone();
        let mut also = Vec::new();
        for other in others {
            it.fill(&other.it);
            if other.it != shown.it && also.iter().all(|(_, known)| *known != other.it) {
                also.push((ChangeId(other.origin), other.it));
            }
        }
        Some(Kept {
            entry: EntryRef {
                kind: T::KIND,
                id: shown.id,
            },
            origin: ChangeId(shown.origin),
            by_hand: shown.by_hand,
            it,
            also,
        })
    }
}

/// Changes made by hand, ascending.
pub(crate) fn by_hand(conn: &Connection) -> Result<Vec<i64>> {
    let mut statement =
        conn.prepare_cached("SELECT id FROM change WHERE kind IN ('log', 'edit') ORDER BY id")?;
    let rows = statement.query_map([], |row| row.get(0))?;
    Ok(rows.collect::<rusqlite::Result<_>>()?)
}

/// Entries of one kind that reach into the window, each event once, without those edited away or deleted, in time
/// order.
pub(crate) fn entries<T: Same>(
    conn: &Connection,
    by_hand: &[i64],
    from: Second,
    to: Second,
) -> Result<Vec<Kept<T>>> {
    let mut kept: Vec<Kept<T>> = Vec::new();
    each_event(conn, by_hand, from, to, |event: Event<T>| {
        kept.extend(event.kept().filter(|kept| reaches(&kept.it, from, to)));
    })?;
    kept.sort_by_key(|kept| (kept.it.at(), kept.entry.id));
    Ok(kept)
}

fn reaches<T: Same>(it: &T, from: Second, to: Second) -> bool {
    it.at() < to && (it.at() >= from || it.until().is_some_and(|until| until > from))
}

/// Every event whose rows reach into the minutes of the window, and every one that a correction or a deletion is
/// about, wherever it lies.
pub(crate) fn each_event<T: Same>(
    conn: &Connection,
    by_hand: &[i64],
    from: Second,
    to: Second,
    mut tell: impl FnMut(Event<T>),
) -> Result<()> {
    let reaches = if [EntryKind::Mark, EntryKind::LowVerdict].contains(&T::KIND) {
        "(at >= ?1 OR until >= ?1)"
    } else {
        "at >= ?1"
    };
    let sql = format!(
        "SELECT id, origin, to_minute, {} FROM {} WHERE at < ?2 AND {reaches} AND correction IS NULL ORDER BY at, id",
        T::COLUMNS,
        T::KIND.table()
    );
    let history = History::read(conn, by_hand)?;
    let whole_minutes = [from, to.saturating_add(MINUTE_S - 1)].map(|at| minute(at).saturating_mul(MINUTE_S));
    let mut statement = conn.prepare_cached(&sql)?;
    let mut rows = statement.query(whole_minutes)?;
    let mut run: Vec<Telling<T>> = Vec::new();
    while let Some(row) = rows.next()? {
        let next = read_telling::<T>(row, by_hand)?;
        if history.is_about(minute(next.it.at())) {
            continue;
        }
        if run
            .first()
            .is_some_and(|first| minute(first.it.at()) != minute(next.it.at()))
        {
            each_of_minute(&mut run, &mut tell);
        }
        run.push(next);
    }
    each_of_minute(&mut run, &mut tell);
    history.replay(conn, &mut tell)
}

/// A row as `each_event` and the history select it: id, origin, to_minute, then the columns of its kind.
pub(crate) fn read_telling<T: Same>(row: &rusqlite::Row<'_>, by_hand: &[i64]) -> Result<Telling<T>> {
    let origin = row.get(1)?;
    Ok(Telling {
        id: row.get(0)?,
        origin,
        by_hand: by_hand.binary_search(&origin).is_ok(),
        to_minute: row.get(2)?,
        it: T::read(row, 3)?,
    })
}

/// Tells the events of one minute and empties it.
fn each_of_minute<T: Same>(run: &mut Vec<Telling<T>>, tell: &mut impl FnMut(Event<T>)) {
    if run.len() <= 1 {
        run.drain(..).for_each(|only| tell(Event::told(only, Vec::new())));
    } else {
        events(std::mem::take(run)).for_each(|(_, event)| tell(event));
    }
}

/// The events of one minute, each with its finest telling.
pub(crate) fn events<T: Same>(mut rows: Vec<Telling<T>>) -> impl Iterator<Item = ((T, bool), Event<T>)> {
    rows.sort_by_key(|row| (row.origin, row.id));
    let groups = group(&rows);
    let mut rows: Vec<Option<Telling<T>>> = rows.into_iter().map(Some).collect();
    groups.into_iter().filter_map(move |(seed, event)| {
        let finest = rows[seed].as_ref().map(|row| (row.it.clone(), row.to_minute))?;
        let mut event = event.into_iter().filter_map(|row| rows[row].take());
        let first = event.next()?;
        Some((finest, Event::told(first, event.collect())))
    })
}
