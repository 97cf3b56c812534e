//! What the person corrected and deleted, played back over what the sources tell.
//!
//! A correction or deletion is about one event: the one that has the row it was made for, or, where that import has
//! been undone, the one that tells the same content, or agrees with it. Exactly one event is hidden, also where two
//! look alike. What a correction says is a telling of its event too, so that another source which had it right all
//! along tells of no new event.

use std::collections::{BTreeSet, HashMap};

use interstice_glucose::Second;
use rusqlite::Connection;

use crate::entries::{Event, Face, events, read_telling};
use crate::entry::content;
use crate::error::Result;
use crate::same::{MINUTE_S, Same};
use crate::telling::{Telling, at_once, minute};

struct Retraction<T> {
    origin: i64,
    /// The change that brought the row it was made for, and whether that was a correction itself.
    target: i64,
    of_correction: bool,
    content: String,
    /// The content again, and whether its source knew the minute alone.
    said: (T, bool),
    /// What stands instead.
    correction: Option<Telling<T>>,
}

/// All corrections and deletions of one kind, in the order they were made.
pub(crate) struct History<'a, T> {
    by_hand: &'a [i64],
    all: Vec<Retraction<T>>,
    minutes: BTreeSet<Second>,
}

impl<'a, T: Same> History<'a, T> {
    pub(crate) fn read(conn: &Connection, by_hand: &'a [i64]) -> Result<Self> {
        let sql = "SELECT r.id, r.origin, r.target_origin, r.content, r.to_minute,
            EXISTS (SELECT 1 FROM change c WHERE c.id = r.target_origin AND c.kind = 'edit')
            FROM retraction r WHERE r.entry_kind = ?1 ORDER BY r.id";
        let mut statement = conn.prepare_cached(sql)?;
        let mut rows = statement.query([T::KIND.table()])?;
        let (mut all, mut minutes) = (Vec::new(), BTreeSet::new());
        while let Some(row) = rows.next()? {
            let content: String = row.get(3)?;
            let correction = correction::<T>(conn, by_hand, row.get(0)?)?;
            let it = T::from_content(conn, &content)?;
            minutes.insert(minute(it.at()));
            minutes.extend(correction.as_ref().map(|correction| minute(correction.it.at())));
            all.push(Retraction {
                origin: row.get(1)?,
                target: row.get(2)?,
                of_correction: row.get(5)?,
                content,
                said: (it, row.get(4)?),
                correction,
            });
        }
        Ok(History {
            by_hand,
            all,
            minutes,
        })
    }

    /// Whether events of this minute must be looked at in the light of what was corrected and deleted.
    pub(crate) fn is_about(&self, minute: Second) -> bool {
        !self.minutes.is_empty() && self.minutes.contains(&minute)
    }

    /// Tells the events of all minutes it is about.
    pub(crate) fn replay(self, conn: &Connection, tell: &mut impl FnMut(Event<T>)) -> Result<()> {
        if self.all.is_empty() {
            return Ok(());
        }
        let mut past = Past::default();
        for &minute in &self.minutes {
            past.add(rows_of(conn, self.by_hand, minute)?);
        }
        for retraction in self.all {
            past.retract(retraction);
        }
        past.absorb();
        past.tell(tell);
        Ok(())
    }
}

/// What a correction put in the place of what it retracts.
fn correction<T: Same>(conn: &Connection, by_hand: &[i64], retraction: i64) -> Result<Option<Telling<T>>> {
    let sql = format!(
        "SELECT id, origin, to_minute, {} FROM {} WHERE correction = ?1",
        T::COLUMNS,
        T::KIND.table()
    );
    let mut statement = conn.prepare_cached(&sql)?;
    let mut rows = statement.query([retraction])?;
    rows.next()?.map(|row| read_telling(row, by_hand)).transpose()
}

/// What sources tell of one minute.
fn rows_of<T: Same>(conn: &Connection, by_hand: &[i64], minute: Second) -> Result<Vec<Telling<T>>> {
    let sql = format!(
        "SELECT id, origin, to_minute, {} FROM {} WHERE at >= ?1 AND at < ?1 + {MINUTE_S} AND correction IS NULL",
        T::COLUMNS,
        T::KIND.table()
    );
    let mut statement = conn.prepare_cached(&sql)?;
    let mut rows = statement.query([minute.saturating_mul(MINUTE_S)])?;
    let mut all = Vec::new();
    while let Some(row) = rows.next()? {
        all.push(read_telling(row, by_hand)?);
    }
    Ok(all)
}

/// An event and what became of it.
struct Fate<T> {
    event: Event<T>,
    /// Its finest telling and whether that knows the minute alone.
    finest: (T, bool),
    /// The latest change that retracted what sources tell of it.
    retracted: Option<i64>,
    /// What corrections said of it, the last included.
    corrections: Vec<Telling<T>>,
    /// It is another's: that one's correction told of it already.
    absorbed: bool,
}

impl<T: Same> Fate<T> {
    fn of(finest: (T, bool), event: Event<T>) -> Self {
        Fate {
            event,
            finest,
            retracted: None,
            corrections: Vec::new(),
            absorbed: false,
        }
    }

    fn rows(&self) -> impl Iterator<Item = &Telling<T>> {
        std::iter::once(&self.event.first).chain(&self.event.others)
    }

    /// Whether the person wrote this after what sources tell of it was retracted: that stands.
    fn is_again(&self, row: &Telling<T>) -> bool {
        self.retracted.is_some_and(|retracted| is_later(row, retracted))
    }

    /// Whether another event, of which none of `sources` tells, is this one as a correction said it. What was in the
    /// book before the correction is not: the person saw both.
    fn tells_too(&self, said: &Telling<T>, sources: &[i64], other: &Self) -> bool {
        let shown = matches!(&self.event.face, Face::Corrected(shown) if shown.it == other.event.first.it);
        other.retracted.is_none()
            && !other.absorbed
            && agree((&said.it, said.to_minute), (&other.finest.0, other.finest.1))
            && other
                .rows()
                .all(|row| row.origin > said.origin && !sources.contains(&row.source()))
            && (shown || !other.rows().any(|row| self.is_again(row)))
    }
}

fn is_later<T>(row: &Telling<T>, change: i64) -> bool {
    row.by_hand && row.origin > change
}

/// The events that corrections and deletions may be about.
struct Past<T> {
    fates: Vec<Fate<T>>,
    by_minute: HashMap<Second, Vec<usize>>,
    /// By the change that corrected it.
    by_correction: HashMap<i64, usize>,
}

impl<T> Default for Past<T> {
    fn default() -> Self {
        Past {
            fates: Vec::new(),
            by_minute: HashMap::new(),
            by_correction: HashMap::new(),
        }
    }
}

impl<T: Same> Past<T> {
    fn add(&mut self, rows: Vec<Telling<T>>) {
        events(rows).for_each(|(finest, event)| {
            self.push(Fate::of(finest, event));
        });
    }

    fn push(&mut self, fate: Fate<T>) -> usize {
        let place = self.fates.len();
        let minute = minute(fate.event.first.it.at());
        self.by_minute.entry(minute).or_default().push(place);
        self.fates.push(fate);
        place
    }

    fn of_minute(&self, at: Second) -> &[usize] {
        self.by_minute.get(&minute(at)).map_or(&[], Vec::as_slice)
    }

    fn retract(&mut self, retraction: Retraction<T>) {
        let corrected = self.by_correction.get(&retraction.target).copied();
        let corrected = corrected.filter(|&place| match &self.fates[place].event.face {
            Face::Corrected(row) => row.origin == retraction.target,
            Face::Told | Face::Hidden => false,
        });
        let Some(place) = corrected.or_else(|| self.told(&retraction)) else {
            return;
        };
        let fate = &mut self.fates[place];
        if corrected.is_none() {
            fate.retracted = Some(retraction.origin);
        }
        fate.event.face = match retraction.correction {
            Some(correction) => {
                fate.corrections.push(correction.clone());
                self.by_correction.insert(correction.origin, place);
                Face::Corrected(correction)
            }
            None => Face::Hidden,
        };
    }

    /// The event of which sources tell what a retraction is about.
    fn told(&mut self, retraction: &Retraction<T>) -> Option<usize> {
        if retraction.of_correction {
            return None;
        }
        let here = self.of_minute(retraction.said.0.at());
        let tells = |place: &&usize, by: Option<i64>| {
            self.fates[**place].rows().any(|row| {
                by.is_none_or(|by| row.origin == by)
                    && !is_later(row, retraction.origin)
                    && content(&row.it.values()) == retraction.content
            })
        };
        if let Some(&place) = here.iter().find(|place| tells(place, Some(retraction.target))) {
            return Some(self.split(place, retraction.target));
        }
        let same = here.iter().find(|place| tells(place, None)).copied();
        same.or_else(|| self.agreeing(retraction))
    }

    /// What the person wrote again after a retraction is an event of its own once that is retracted too.
    fn split(&mut self, place: usize, target: i64) -> usize {
        let fate = &self.fates[place];
        let again = |row: &Telling<T>| row.origin == target && fate.is_again(row);
        let Some(row) = fate.event.others.iter().position(again) else {
            return place;
        };
        let row = self.fates[place].event.others.remove(row);
        self.push(Fate::of(
            (row.it.clone(), row.to_minute),
            Event::told(row, Vec::new()),
        ))
    }

    /// Of the events that agree with what was retracted, the one closest to it.
    fn agreeing(&self, retraction: &Retraction<T>) -> Option<usize> {
        let said = &retraction.said;
        let off = |&place: &usize| {
            let it = &self.fates[place].finest.0;
            (
                (it.figure().value - said.0.figure().value).abs(),
                (it.at() - said.0.at()).abs(),
            )
        };
        let agreeing = self.of_minute(said.0.at()).iter().copied().filter(|&place| {
            let fate = &self.fates[place];
            agree((&said.0, said.1), (&fate.finest.0, fate.finest.1))
                && !fate.rows().all(|row| is_later(row, retraction.origin))
        });
        agreeing.min_by(|a, b| {
            let (a, b) = (off(a), off(b));
            a.0.total_cmp(&b.0).then(a.1.cmp(&b.1))
        })
    }

    /// Where a correction says what other sources told all along, theirs is the event that was corrected.
    fn absorb(&mut self) {
        for place in 0..self.fates.len() {
            if self.fates[place].corrections.is_empty() {
                continue;
            }
            let mut sources: Vec<i64> = self.fates[place].rows().map(Telling::source).collect();
            for said in self.fates[place].corrections.clone() {
                let fate = &self.fates[place];
                let other = self.of_minute(said.it.at()).iter().copied();
                let other = other
                    .filter(|&other| other != place)
                    .find(|&other| fate.tells_too(&said, &sources, &self.fates[other]));
                if let Some(other) = other {
                    sources.extend(self.fates[other].rows().map(Telling::source));
                    self.fates[other].absorbed = true;
                }
            }
        }
    }

    fn tell(self, tell: &mut impl FnMut(Event<T>)) {
        for mut fate in self.fates {
            if fate.absorbed {
                fate.event.face = Face::Hidden;
            }
            let others = std::mem::take(&mut fate.event.others);
            let (again, others) = others.into_iter().partition(|row| fate.is_again(row));
            fate.event.others = others;
            tell(fate.event);
            let mut again: Vec<Telling<T>> = again;
            if !again.is_empty() {
                let first = again.remove(0);
                tell(Event::told(first, again));
            }
        }
    }
}

/// Whether two tellings, each with whether it knows the minute alone, can be of one event.
fn agree<T: Same>(a: (&T, bool), b: (&T, bool)) -> bool {
    at_once((a.0.at(), a.1), (b.0.at(), b.1))
        && a.0.alike(b.0)
        && a.0.words().is_some_and(|words| b.0.words() == Some(words))
}
