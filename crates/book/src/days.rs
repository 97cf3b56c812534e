//! From columns in any order to one packed block a UTC day.

use std::borrow::Cow;
use std::collections::HashSet;
use std::ops::Range;

use interstice_glucose::{DAY_S, Levels, Readings, Said};
use rayon::prelude::*;

use crate::block::{self, Code};
use crate::error::{BookErrorKind, Result};
use crate::merge::{Told, Verdict, are_to_minute, judge};

const DAY_SECONDS: u32 = DAY_S as u32;

/// Columns cut into UTC days.
pub(crate) struct Days<'a> {
    readings: &'a Readings,
    /// Row numbers grouped by day, in the order of the source; absent where the columns are in time order.
    order: Option<Vec<u32>>,
    /// Days that have readings, ascending, and their rows (of `order` where there is one).
    pub(crate) days: Vec<(u32, Range<usize>)>,
}

impl<'a> Days<'a> {
    pub(crate) fn cut(readings: &'a Readings) -> Self {
        if readings.is_sorted() {
            Days::of_sorted(readings)
        } else {
            Days::of_unsorted(readings)
        }
    }

    fn of_sorted(readings: &'a Readings) -> Self {
        let at = readings.at();
        let (mut days, mut start) = (Vec::new(), 0);
        while let Some(&first) = at.get(start) {
            let day = first / DAY_SECONDS;
            let end = start + at[start..].partition_point(|&at| at / DAY_SECONDS == day);
            days.push((day, start..end));
            start = end;
        }
        Days {
            readings,
            order: None,
            days,
        }
    }

    /// A counting sort by day: one number a row beside the columns, whatever their order.
    fn of_unsorted(readings: &'a Readings) -> Self {
        let at = readings.at();
        let first = at.iter().min().map_or(0, |at| at / DAY_SECONDS);
        let last = at.iter().max().map_or(0, |at| at / DAY_SECONDS);
        let mut next = vec![0_usize; (last - first + 2) as usize];
        for at in at {
            next[(at / DAY_SECONDS - first + 1) as usize] += 1;
        }
        for i in 1..next.len() {
            next[i] += next[i - 1];
        }
        let days = (first..=last)
            .zip(next.windows(2).map(|pair| pair[0]..pair[1]))
            .filter(|(_, rows)| !rows.is_empty())
            .collect();
        let mut order = vec![0_u32; at.len()];
        for (row, at) in (0_u32..).zip(at) {
            let slot = &mut next[(at / DAY_SECONDS - first) as usize];
            order[*slot] = row;
            *slot += 1;
        }
        Days {
            readings,
            order: Some(order),
            days,
        }
    }

    /// Instants and levels of one day in time order, those of one instant in the order of the source, exact
    /// repetitions left out.
    pub(crate) fn columns(&self, rows: Range<usize>) -> (Cow<'_, [u32]>, Cow<'_, [u32]>) {
        let (at, level) = (self.readings.at(), self.readings.level());
        let mut pairs: Vec<(u32, u32)> = match &self.order {
            None if at[rows.clone()].windows(2).all(|pair| pair[0] < pair[1]) => {
                return (Cow::Borrowed(&at[rows.clone()]), Cow::Borrowed(&level[rows]));
            }
            None => at[rows.clone()]
                .iter()
                .copied()
                .zip(level[rows].iter().copied())
                .collect(),
            Some(order) => order[rows]
                .iter()
                .map(|&row| (at[row as usize], level[row as usize]))
                .collect(),
        };
        pairs.sort_by_key(|pair| pair.0);
        let mut kept: Vec<(u32, u32)> = Vec::with_capacity(pairs.len());
        for instant in pairs.chunk_by(|a, b| a.0 == b.0) {
            let mut known = HashSet::new();
            kept.extend(
                instant
                    .iter()
                    .filter(|pair| instant.len() == 1 || known.insert(pair.1)),
            );
        }
        let (at, level): (Vec<u32>, Vec<u32>) = kept.into_iter().unzip();
        (Cow::Owned(at), Cow::Owned(level))
    }

    /// Packs some of the days, each held against the blocks the book already has for it.
    pub(crate) fn pack(
        &self,
        which: Range<usize>,
        levels: &Levels,
        codes: &[Code],
        there: &[(u32, Vec<u8>)],
    ) -> Result<Vec<Packed>> {
        self.days[which]
            .par_iter()
            .map(|(day, rows)| self.pack_day(*day, rows.clone(), levels, codes, there))
            .collect()
    }

    fn pack_day(
        &self,
        day: u32,
        rows: Range<usize>,
        levels: &Levels,
        codes: &[Code],
        there: &[(u32, Vec<u8>)],
    ) -> Result<Packed> {
        let given = rows.len() as u64;
        let (at, level) = self.columns(rows);
        let mut bytes = Vec::new();
        block::encode(day, &at, &level, codes, &mut bytes);
        let mut packed = Packed {
            day,
            bytes,
            count: at.len(),
            new: 0,
            already_there: given - at.len() as u64,
            conflicts: 0,
        };
        let start = there.partition_point(|(d, _)| *d < day);
        let end = there.partition_point(|(d, _)| *d <= day);
        if there[start..end].iter().any(|(_, bytes)| *bytes == packed.bytes) {
            packed.already_there += at.len() as u64;
            return Ok(packed);
        }
        if start == end && at.windows(2).all(|pair| pair[0] < pair[1]) {
            packed.new = at.len() as u64;
            return Ok(packed);
        }
        let ours = at
            .iter()
            .zip(level.iter())
            .map(|(&at, &level)| (at, levels.get(level).said));
        packed.judge(&there[start..end], ours)?;
        Ok(packed)
    }
}

pub(crate) fn damaged_block(day: u32, error: block::BlockError) -> BookErrorKind {
    BookErrorKind::damaged(format!("readings of {}: {error}", civil_day(day)))
}

/// '2025-03-17' for days since 1970.
pub(crate) fn civil_day(day: u32) -> String {
    let midnight =
        jiff::Timestamp::from_second(i64::from(day) * DAY_S).unwrap_or(jiff::Timestamp::UNIX_EPOCH);
    midnight.strftime("%Y-%m-%d").to_string()
}

/// One day ready to be written.
pub(crate) struct Packed {
    pub(crate) day: u32,
    pub(crate) bytes: Vec<u8>,
    pub(crate) count: usize,
    pub(crate) new: u64,
    pub(crate) already_there: u64,
    pub(crate) conflicts: u64,
}

impl Packed {
    /// Counts what the rows of this day are beside the blocks the book has for it.
    fn judge(
        &mut self,
        there: &[(u32, Vec<u8>)],
        ours: impl Iterator<Item = (u32, Said)> + Clone,
    ) -> Result<()> {
        let mut told = Vec::with_capacity(self.count);
        let mut rank = 0;
        for (_, bytes) in there {
            let rows = block::unpack(self.day, bytes).map_err(|error| damaged_block(self.day, error))?;
            let to_minute = are_to_minute(rows.iter().map(|row| row.0));
            told.extend(rows.into_iter().map(|(at, said)| Told {
                at,
                said,
                rank,
                to_minute,
                source: false,
            }));
            rank += 1;
        }
        let to_minute = are_to_minute(ours.clone().map(|row| row.0));
        told.extend(ours.map(|(at, said)| Told {
            at,
            said,
            rank,
            to_minute,
            source: true,
        }));
        told.sort_by_key(|row| row.at);
        judge(&told, |row, _, verdict| match verdict {
            _ if !row.source => {}
            Verdict::Stands => self.new += 1,
            Verdict::AlreadyThere => self.already_there += 1,
            Verdict::Conflict => self.conflicts += 1,
        });
        Ok(())
    }
}
