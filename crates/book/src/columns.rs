//! Blocks back into columns: merged day by day, unpacked on all cores.

use std::ops::Range;

use interstice_glucose::{DAY_S, Levels, Readings, Said, Second, TraceKind};
use rayon::prelude::*;
use rusqlite::{Connection, params};

use crate::block::{self, Interner, Repeats};
use crate::days::damaged_block;
use crate::error::Result;
use crate::journal::ChangeId;
use crate::merge::{Told, Verdict, are_to_minute, judge};

/// Readings decoded at a time by one core: their columns stay in its cache.
const READINGS_A_PIECE: usize = 1 << 16;

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
    pub standing: Said,
    /// The change that brought it.
    pub standing_origin: ChangeId,
    /// The other value.
    pub other: Said,
    /// The change that brought that.
    pub other_origin: ChangeId,
}

/// UTC days that hold instants of `[from, to)`; `None` where no column can.
pub(crate) fn day_range(from: Second, to: Second) -> Option<(u32, u32)> {
    let last = to.checked_sub(1)?.min(Second::from(u32::MAX));
    let from = from.max(0);
    (from <= last).then_some(((from / DAY_S) as u32, (last / DAY_S) as u32))
}

/// The blocks of one trace in some days, read in one go.
pub(crate) struct Blocks {
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
    pub(crate) fn read(conn: &Connection, trace: i64, first: u32, last: u32) -> Result<Self> {
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
            if read.is_known(day, packed) {
                continue;
            }
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

    /// Exports that tell the whole past again bring the same bytes for each day gone by: nothing to merge.
    fn is_known(&self, day: u32, packed: &[u8]) -> bool {
        let today = self.days.last().filter(|last| last.day == day);
        today.is_some_and(|today| {
            self.blocks[today.blocks.clone()]
                .iter()
                .any(|block| self.packed(block) == packed)
        })
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
    pub(crate) fn extent(&self) -> Result<Option<(Second, Second)>> {
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
        for (rank, block) in (0..).zip(&self.blocks[day.blocks.clone()]) {
            let rows =
                block::unpack(day.day, self.packed(block)).map_err(|error| damaged_block(day.day, error))?;
            let to_minute = are_to_minute(rows.iter().map(|row| row.0));
            told.extend(rows.into_iter().map(|(at, said)| Told {
                at,
                said,
                rank,
                to_minute,
                source: block.origin,
            }));
        }
        told.sort_by_key(|row| row.at);
        Ok(told)
    }

    /// All readings that differ from what stands at their instant, in time order.
    pub(crate) fn conflicts(&self, sensor: &str, kind: TraceKind) -> Result<Vec<Conflict>> {
        let by_day: Vec<Vec<Conflict>> = self
            .days
            .par_iter()
            .map(|day| self.conflicts_of(day, sensor, kind))
            .collect::<Result<_>>()?;
        Ok(by_day.into_iter().flatten().collect())
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
    pub(crate) fn columns(&self, from: Second, to: Second, levels: &mut Levels) -> Result<(Readings, u64)> {
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
