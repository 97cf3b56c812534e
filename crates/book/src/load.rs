//! Reading a window of the book as columns.

use std::ops::Range;

use interstice_glucose::{
    BloodCheck, DAY_S, Dose, Levels, LivedClock, LivedSpan, Mark, Meal, Readings, Second, SensorNote,
    TraceKind, Zone,
};
use rayon::prelude::*;
use rusqlite::{Connection, params};

use crate::block::{self, Interner, Repeats};
use crate::book::Book;
use crate::days::damaged_block;
use crate::entry::{EntryKind, EntryRef, Stored, Word, content};
use crate::error::{BookError, BookErrorKind, Result};
use crate::journal::ChangeId;
use crate::merge::{Told, Verdict, judge};
use crate::settings;

/// Readings decoded at a time by one core: their columns stay in its cache.
const READINGS_A_PIECE: usize = 1 << 16;

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

/// The readings of one sensor.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Trace {
    /// The sensor's name, '' where the sources name none.
    pub sensor: String,
    /// Automatic or by hand.
    pub kind: TraceKind,
    /// In time order, one reading an instant.
    pub readings: Readings,
}

/// A window of the book.
#[derive(Clone, Debug)]
pub struct Record {
    /// First instant asked for.
    pub from: Second,
    /// First instant no longer asked for.
    pub to: Second,
    /// Distinct values of all traces, in the order they are met.
    pub levels: Levels,
    /// By sensor name, automatic before scans; those without a reading in the window are left out.
    pub traces: Vec<Trace>,
    /// In time order.
    pub blood_checks: Vec<Kept<BloodCheck>>,
    /// In time order.
    pub doses: Vec<Kept<Dose>>,
    /// In time order.
    pub meals: Vec<Kept<Meal>>,
    /// In time order; those that began earlier and reach into the window are among them.
    pub marks: Vec<Kept<Mark>>,
    /// In time order.
    pub sensor_notes: Vec<Kept<SensorNote>>,
    /// All stretches lived away from the base zone, in time order, whatever the window.
    pub lived: Vec<Kept<LivedSpan>>,
    /// The zone lived in otherwise.
    pub base_zone: Zone,
    /// The wall clock of all of it, exact from 1970 to 2106.
    pub clock: LivedClock,
    /// Readings in the window that differ from what stands at their instant; see [`Book::conflicts`].
    pub conflicts: u64,
}

impl Record {
    /// Readings of all traces.
    pub fn reading_count(&self) -> usize {
        self.traces.iter().map(|trace| trace.readings.len()).sum()
    }
}

/// A reading that differs from the one standing at its instant.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Conflict {
    /// Name of the sensor.
    pub sensor: String,
    /// Automatic or by hand.
    pub kind: TraceKind,
    /// When.
    pub at: Second,
    /// The value that stands.
    pub standing: interstice_glucose::Said,
    /// The change that brought it.
    pub standing_origin: ChangeId,
    /// The other value.
    pub other: interstice_glucose::Said,
    /// The change that brought that.
    pub other_origin: ChangeId,
}

impl Book {
    /// All there is with `from <= at < to`, as one consistent state of the book.
    ///
    /// # Errors
    /// `Damaged`, `Busy`, `Io`.
    pub fn load(&self, from: Second, to: Second) -> std::result::Result<Record, BookError> {
        self.reading(|conn| load(conn, from, to))
    }

    /// All there is.
    ///
    /// # Errors
    /// As [`Book::load`].
    pub fn load_all(&self) -> std::result::Result<Record, BookError> {
        self.load(Second::MIN, Second::MAX)
    }

    /// First and last instant of any reading; `None` where there is none.
    ///
    /// # Errors
    /// As [`Book::load`].
    pub fn span(&self) -> std::result::Result<Option<(Second, Second)>, BookError> {
        self.reading(|conn| {
            let sql = "SELECT min(day), max(day) FROM block WHERE trace = ?1";
            let (mut first, mut last) = (None::<Second>, None::<Second>);
            for (trace, ..) in traces(conn)? {
                let days = conn
                    .prepare_cached(sql)?
                    .query_row([trace], |row| Ok((row.get(0)?, row.get(1)?)))?;
                let (Some(start), Some(end)) = days else { continue };
                for day in [start, end] {
                    let blocks = Blocks::read(conn, trace, day, day)?;
                    let Some((from, to)) = blocks.extent()? else {
                        continue;
                    };
                    first = Some(first.map_or(from, |first| first.min(from)));
                    last = Some(last.map_or(to, |last| last.max(to)));
                }
            }
            Ok(first.zip(last))
        })
    }

    /// Readings with `from <= at < to` that differ from what stands at their instant, by trace and in time order.
    ///
    /// # Errors
    /// As [`Book::load`].
    pub fn conflicts(&self, from: Second, to: Second) -> std::result::Result<Vec<Conflict>, BookError> {
        self.reading(|conn| {
            let mut conflicts = Vec::new();
            for (trace, sensor, kind) in traces(conn)? {
                let Some((first, last)) = day_range(from, to) else {
                    continue;
                };
                let blocks = Blocks::read(conn, trace, first, last)?;
                let found: Vec<Vec<Conflict>> = blocks
                    .days
                    .par_iter()
                    .map(|day| blocks.conflicts_of(day, &sensor, kind))
                    .collect::<Result<_>>()?;
                conflicts.extend(found.into_iter().flatten().filter(|c| (from..to).contains(&c.at)));
            }
            Ok(conflicts)
        })
    }
}

fn load(conn: &Connection, from: Second, to: Second) -> Result<Record> {
    let mut levels = Levels::new();
    let (mut loaded, mut conflicts) = (Vec::new(), 0);
    if let Some((first, last)) = day_range(from, to) {
        for (trace, sensor, kind) in traces(conn)? {
            let blocks = Blocks::read(conn, trace, first, last)?;
            let (readings, more) = blocks.columns(from, to, &mut levels)?;
            conflicts += more;
            if !readings.is_empty() {
                loaded.push(Trace {
                    sensor,
                    kind,
                    readings,
                });
            }
        }
    }
    let by_hand = by_hand(conn)?;
    let lived = entries::<LivedSpan>(conn, &by_hand, Second::MIN, Second::MAX)?;
    let base_zone = base_zone(conn, &lived)?;
    Ok(Record {
        from,
        to,
        levels,
        traces: loaded,
        blood_checks: entries(conn, &by_hand, from, to)?,
        doses: entries(conn, &by_hand, from, to)?,
        meals: entries(conn, &by_hand, from, to)?,
        marks: entries(conn, &by_hand, from, to)?,
        sensor_notes: entries(conn, &by_hand, from, to)?,
        clock: lived_clock(&base_zone, &lived),
        lived,
        base_zone,
        conflicts,
    })
}

/// UTC days that hold instants of `[from, to)`; `None` where no column can.
fn day_range(from: Second, to: Second) -> Option<(u32, u32)> {
    let last = to.checked_sub(1)?.min(Second::from(u32::MAX));
    let from = from.max(0);
    (from <= last).then_some(((from / DAY_S) as u32, (last / DAY_S) as u32))
}

/// Traces by sensor name, automatic before scans.
fn traces(conn: &Connection) -> Result<Vec<(i64, String, TraceKind)>> {
    let mut statement = conn.prepare_cached("SELECT id, sensor, kind FROM trace ORDER BY sensor, kind")?;
    let rows = statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?, TraceKind::read(row, 2)?)))?;
    Ok(rows.collect::<rusqlite::Result<_>>()?)
}

/// The base zone set, else the zone the earliest import was read in, else universal time.
fn base_zone(conn: &Connection, lived: &[Kept<LivedSpan>]) -> Result<Zone> {
    if let Some(name) = settings::get(conn, settings::BASE_ZONE)? {
        return Zone::named(&name).map_err(|error| BookErrorKind::damaged(error.to_string()));
    }
    let earliest = lived
        .iter()
        .filter(|span| !span.by_hand)
        .min_by_key(|span| span.origin);
    Ok(earliest.map_or_else(Zone::utc, |span| span.it.zone.clone()))
}

/// Where stretches overlap, the person's own word is taken before any file's, the latest word first; of files the
/// first, as with readings.
fn lived_clock(base: &Zone, lived: &[Kept<LivedSpan>]) -> LivedClock {
    let mut order: Vec<&Kept<LivedSpan>> = lived.iter().collect();
    order.sort_by_key(|span| {
        (
            span.by_hand,
            if span.by_hand {
                span.origin.0
            } else {
                -span.origin.0
            },
        )
    });
    let spans: Vec<LivedSpan> = order.into_iter().map(|span| span.it.clone()).collect();
    LivedClock::new(base, &spans, 0, Second::from(u32::MAX))
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

/// The blocks of one trace in some days, read in one go.
struct Blocks {
    bytes: Vec<u8>,
    blocks: Vec<BlockPlace>,
    days: Vec<DayPlace>,
}

struct BlockPlace {
    origin: ChangeId,
    bytes: Range<usize>,
}

/// One day and its blocks, first import first.
struct DayPlace {
    day: u32,
    blocks: Range<usize>,
    count: usize,
}

/// One run of days unpacked.
struct Piece {
    /// Where its columns begin.
    start: usize,
    /// Readings that stand.
    len: usize,
    /// Levels met, those handed in first.
    levels: Levels,
    conflicts: u64,
}

impl Blocks {
    fn read(conn: &Connection, trace: i64, first: u32, last: u32) -> Result<Self> {
        let sql = "SELECT day, origin, packed FROM block WHERE trace = ?1 AND day BETWEEN ?2 AND ?3 ORDER BY day, origin";
        let mut statement = conn.prepare_cached(sql)?;
        let mut rows = statement.query(params![trace, first, last])?;
        let mut read = Blocks {
            bytes: Vec::new(),
            blocks: Vec::new(),
            days: Vec::new(),
        };
        while let Some(row) = rows.next()? {
            let day: u32 = row.get(0)?;
            let packed = row.get_ref(2)?.as_blob().map_err(rusqlite::Error::from)?;
            let count = block::claimed_count(packed).map_err(|error| damaged_block(day, error))?;
            let start = read.bytes.len();
            read.bytes.extend_from_slice(packed);
            read.blocks.push(BlockPlace {
                origin: ChangeId(row.get(1)?),
                bytes: start..read.bytes.len(),
            });
            read.add_to_day(day, count);
        }
        Ok(read)
    }

    fn add_to_day(&mut self, day: u32, count: usize) {
        let end = self.blocks.len();
        match self.days.last_mut() {
            Some(last) if last.day == day => {
                last.blocks.end = end;
                last.count += count;
            }
            _ => self.days.push(DayPlace {
                day,
                blocks: end - 1..end,
                count,
            }),
        }
    }

    fn packed(&self, block: &BlockPlace) -> &[u8] {
        &self.bytes[block.bytes.clone()]
    }

    /// First and last instant.
    fn extent(&self) -> Result<Option<(Second, Second)>> {
        let (mut first, mut last) = (None, None);
        for day in &self.days {
            let told = self.told(day)?;
            first = first.or(told.first().map(|row| Second::from(row.at)));
            last = told.last().map(|row| Second::from(row.at)).or(last);
        }
        Ok(first.zip(last))
    }

    /// All rows of a day in time order, those of one instant in order of precedence.
    fn told(&self, day: &DayPlace) -> Result<Vec<Told<ChangeId>>> {
        let mut told = Vec::with_capacity(day.count);
        for block in &self.blocks[day.blocks.clone()] {
            let rows =
                block::unpack(day.day, self.packed(block)).map_err(|error| damaged_block(day.day, error))?;
            told.extend(rows.into_iter().map(|(at, said)| Told {
                at,
                said,
                source: block.origin,
            }));
        }
        told.sort_by_key(|row| row.at);
        Ok(told)
    }

    fn conflicts_of(&self, day: &DayPlace, sensor: &str, kind: TraceKind) -> Result<Vec<Conflict>> {
        let mut conflicts = Vec::new();
        judge(&self.told(day)?, |row, standing, verdict| {
            if verdict == Verdict::Conflict {
                conflicts.push(Conflict {
                    sensor: sensor.to_owned(),
                    kind,
                    at: Second::from(row.at),
                    standing: standing.said,
                    standing_origin: standing.source,
                    other: row.said,
                    other_origin: row.source,
                });
            }
        });
        Ok(conflicts)
    }

    /// The standing readings in `[from, to)` and how many others conflict with them. `levels` is added to in the
    /// order the values are met, whatever the number of cores.
    fn columns(&self, from: Second, to: Second, levels: &mut Levels) -> Result<(Readings, u64)> {
        let total = self.days.iter().map(|day| day.count).sum();
        let (mut at, mut level) = (vec![0_u32; total], vec![0_u32; total]);
        let mut pieces = self.unpack_pieces((from, to), levels, &mut at, &mut level)?;
        let translations: Vec<Option<Vec<u32>>> =
            pieces.iter_mut().map(|piece| adopt(levels, piece)).collect();
        translate(&pieces, &translations, &mut level);
        let mut len = 0;
        for piece in &pieces {
            if len != piece.start {
                at.copy_within(piece.start..piece.start + piece.len, len);
                level.copy_within(piece.start..piece.start + piece.len, len);
            }
            len += piece.len;
        }
        at.truncate(len);
        level.truncate(len);
        let readings = Readings::from_columns(at, level).expect("both columns were cut to one length");
        Ok((readings, pieces.iter().map(|piece| piece.conflicts).sum()))
    }

    /// Unpacks all days. The first piece alone, so that the others can start from the levels it met: a sensor shows
    /// nearly all its values within weeks, and their numbers then need no translation.
    fn unpack_pieces(
        &self,
        window: (Second, Second),
        levels: &Levels,
        at: &mut [u32],
        level: &mut [u32],
    ) -> Result<Vec<Piece>> {
        let mut work = Vec::new();
        let (mut at, mut level, mut start) = (at, level, 0);
        for days in pieces(&self.days) {
            let count = days.iter().map(|day| day.count).sum();
            let (at_here, at_rest) = at.split_at_mut(count);
            let (level_here, level_rest) = level.split_at_mut(count);
            work.push((start, days, at_here, level_here));
            (at, level, start) = (at_rest, level_rest, start + count);
        }
        let mut work = work.into_iter();
        let Some((start, days, at, level)) = work.next() else {
            return Ok(Vec::new());
        };
        let first = self.unpack_piece(start, days, window, levels.clone(), at, level)?;
        let rest: Vec<_> = work.collect();
        let mut pieces: Vec<Piece> = rest
            .into_par_iter()
            .map(|(start, days, at, level)| {
                self.unpack_piece(start, days, window, first.levels.clone(), at, level)
            })
            .collect::<Result<_>>()?;
        pieces.insert(0, first);
        Ok(pieces)
    }

    fn unpack_piece(
        &self,
        start: usize,
        days: &[DayPlace],
        window: (Second, Second),
        levels: Levels,
        at: &mut [u32],
        level: &mut [u32],
    ) -> Result<Piece> {
        let mut interner = Interner::new(levels);
        let (mut len, mut conflicts) = (0, 0);
        for day in days {
            let room = len..len + day.count;
            let (at_here, level_here) = (&mut at[room.clone()], &mut level[room]);
            let alone =
                day.blocks.len() == 1 && self.unpack_alone(day, at_here, level_here, &mut interner)?;
            let stand = if alone {
                day.count
            } else {
                let (stand, more) = self.unpack_merged(day, window, at_here, level_here, &mut interner)?;
                conflicts += more;
                stand
            };
            len += cut(window, &mut at_here[..stand], &mut level_here[..stand]);
        }
        Ok(Piece {
            start,
            len,
            levels: interner.levels(),
            conflicts,
        })
    }

    /// The common day: one block, no instant twice. Answers whether it was one.
    fn unpack_alone(
        &self,
        day: &DayPlace,
        at: &mut [u32],
        level: &mut [u32],
        interner: &mut Interner,
    ) -> Result<bool> {
        let packed = self.packed(&self.blocks[day.blocks.start]);
        let strict = block::decode(day.day, packed, at, level, interner, Repeats::Left);
        strict.map_err(|error| damaged_block(day.day, error))
    }

    fn unpack_merged(
        &self,
        day: &DayPlace,
        (from, to): (Second, Second),
        at: &mut [u32],
        level: &mut [u32],
        interner: &mut Interner,
    ) -> Result<(usize, u64)> {
        let (mut stand, mut conflicts) = (0, 0);
        judge(&self.told(day)?, |row, _, verdict| match verdict {
            Verdict::Stands => {
                at[stand] = row.at;
                level[stand] = interner.intern(row.said);
                stand += 1;
            }
            Verdict::Conflict if (from..to).contains(&Second::from(row.at)) => conflicts += 1,
            Verdict::Conflict | Verdict::AlreadyThere => {}
        });
        Ok((stand, conflicts))
    }
}

/// Runs of days of about [`READINGS_A_PIECE`] readings.
fn pieces(days: &[DayPlace]) -> Vec<&[DayPlace]> {
    let (mut pieces, mut start, mut count) = (Vec::new(), 0, 0);
    for (i, day) in days.iter().enumerate() {
        count += day.count;
        if count >= READINGS_A_PIECE {
            pieces.push(&days[start..=i]);
            (start, count) = (i + 1, 0);
        }
    }
    if start < days.len() {
        pieces.push(&days[start..]);
    }
    pieces
}

/// Moves the rows inside the window to the front and says how many they are.
fn cut((from, to): (Second, Second), at: &mut [u32], level: &mut [u32]) -> usize {
    let start = at.partition_point(|&at| Second::from(at) < from);
    let end = at.partition_point(|&at| Second::from(at) < to).max(start);
    if start > 0 {
        at.copy_within(start..end, 0);
        level.copy_within(start..end, 0);
    }
    end - start
}

/// Takes over the levels a piece met; `None` where their numbers are the same in both tables.
fn adopt(levels: &mut Levels, piece: &mut Piece) -> Option<Vec<u32>> {
    let met = std::mem::take(&mut piece.levels);
    let numbers: Vec<u32> = met
        .as_slice()
        .iter()
        .map(|level| levels.intern(level.said))
        .collect();
    let same = (0_u32..).zip(&numbers).all(|(here, &there)| here == there);
    (!same).then_some(numbers)
}

fn translate(pieces: &[Piece], translations: &[Option<Vec<u32>>], level: &mut [u32]) {
    let mut work = Vec::new();
    let mut rest = level;
    for (i, translation) in translations.iter().enumerate() {
        let end = pieces
            .get(i + 1)
            .map_or(rest.len(), |next| next.start - pieces[i].start);
        let (here, after) = rest.split_at_mut(end);
        rest = after;
        if let Some(numbers) = translation {
            work.push((&mut here[..pieces[i].len], numbers));
        }
    }
    work.into_par_iter().for_each(|(level, numbers)| {
        for level in level {
            *level = numbers[*level as usize];
        }
    });
}
