//! What one block of rows brought, before the blocks are put together.

use std::collections::HashMap;

use interstice_glucose::{
    BloodCheck, Censor, Dose, Mark, Meal, Rejected, Said, Second, SensorNote, TraceKind, Unit,
};

use crate::changed_dates::DayStep;
use crate::number::Number;

/// Rejected rows kept of one block; more are only counted.
const MOST_REJECTED: usize = 2_000;
/// Other lines kept of one block.
const MOST_OTHER: usize = 20;
/// Mantissas and decimals looked up without hashing.
const DIRECT_MANTISSA: usize = 8_192;
const DIRECT_DECIMALS: usize = 3;
const FREE: u32 = u32::MAX;

/// Readings of one sensor and kind in a block. Levels index the block's own table.
#[derive(Debug)]
pub(crate) struct PartTrace {
    pub(crate) sensor: String,
    /// The name's bytes as they stand in the file, to know the trace again.
    pub(crate) key: Vec<u8>,
    pub(crate) kind: TraceKind,
    pub(crate) at: Vec<u32>,
    pub(crate) level: Vec<u32>,
}

/// Bedtime or waking, to be paired later.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct SleepEdge {
    pub(crate) at: Second,
    pub(crate) is_start: bool,
}

/// How many entries of each sort there are: a place in the output.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Counts {
    pub(crate) traces: Vec<usize>,
    pub(crate) blood: usize,
    pub(crate) doses: usize,
    pub(crate) meals: usize,
    pub(crate) marks: usize,
    pub(crate) notes: usize,
    pub(crate) edges: usize,
}

/// A settled row: its instant and offset.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Known {
    pub(crate) at: Second,
    pub(crate) offset_s: i32,
}

/// Why a row's instant is open.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Open {
    /// The wall time happened twice.
    Twice { first: Second, second: Second },
    /// A row without an offset among rows that have one.
    NoOffset,
}

/// A row whose instant its neighbours must settle. It was entered at its earlier instant (or, without an offset,
/// at its wall time read as universal).
#[derive(Clone, Debug)]
pub(crate) struct Unsettled {
    pub(crate) wall: i64,
    pub(crate) line: u64,
    pub(crate) open: Open,
    /// Settled rows of the block before this one.
    pub(crate) settled_before: u64,
    pub(crate) previous: Option<Known>,
    pub(crate) next: Option<Known>,
    /// What the row brought: from these counts to those.
    pub(crate) from: Counts,
    pub(crate) to: Counts,
}

/// A stretch of rows with one offset.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct OffsetRun {
    pub(crate) from: Second,
    pub(crate) to: Second,
    pub(crate) offset_s: i32,
}

/// All that a block brought.
#[derive(Debug, Default)]
pub(crate) struct Partial {
    /// Data rows, used or rejected.
    pub(crate) rows: u64,
    /// Lines.
    pub(crate) lines: u64,
    pub(crate) saids: Vec<Said>,
    pub(crate) traces: Vec<PartTrace>,
    pub(crate) blood: Vec<BloodCheck>,
    pub(crate) doses: Vec<Dose>,
    pub(crate) meals: Vec<Meal>,
    pub(crate) marks: Vec<Mark>,
    pub(crate) notes: Vec<SensorNote>,
    pub(crate) edges: Vec<SleepEdge>,
    pub(crate) unsettled: Vec<Unsettled>,
    /// The last rows are unsettled and wait for the next settled one.
    pub(crate) is_waiting: bool,
    pub(crate) first_settled: Option<Known>,
    pub(crate) last_settled: Option<Known>,
    pub(crate) settled: u64,
    pub(crate) runs: Vec<OffsetRun>,
    /// First and last instant.
    pub(crate) span: Option<(Second, Second)>,
    pub(crate) rejected: Vec<Rejected>,
    /// Rejected and not kept.
    pub(crate) rejected_more: u64,
    /// Lines that are no rows, with their text.
    pub(crate) other: Vec<(u64, String)>,
    pub(crate) other_lines: u64,
    pub(crate) repeated_headings: u64,
    pub(crate) other_subjects: u64,
    /// Values that can only be in the other unit than the table's.
    pub(crate) odd_units: u64,
    pub(crate) odd_lines: Vec<(u64, String)>,
    /// Values that are impossible in the unit said for the whole table and possible in the other.
    pub(crate) impossible: u64,
    /// Rows whose date differs from that of the row above, where the order of dates is watched.
    pub(crate) days: Vec<DayStep>,
    /// Byte at which another table's headings stand.
    pub(crate) break_at: Option<usize>,
}

impl Partial {
    pub(crate) fn counts(&self) -> Counts {
        Counts {
            traces: self.traces.iter().map(|t| t.at.len()).collect(),
            blood: self.blood.len(),
            doses: self.doses.len(),
            meals: self.meals.len(),
            marks: self.marks.len(),
            notes: self.notes.len(),
            edges: self.edges.len(),
        }
    }

    /// How much there is beside readings of traces; grows with everything else a row can bring.
    pub(crate) fn besides(&self) -> u64 {
        let kept = self.blood.len()
            + self.doses.len()
            + self.meals.len()
            + self.marks.len()
            + self.notes.len()
            + self.edges.len()
            + self.unsettled.len()
            + self.rejected.len();
        kept as u64 + self.rejected_more + self.odd_units + self.impossible
    }

    pub(crate) fn reject(&mut self, rejected: Rejected) {
        if self.rejected.len() < MOST_REJECTED {
            self.rejected.push(rejected);
        } else {
            self.rejected_more += 1;
        }
    }

    pub(crate) fn set_aside(&mut self, line: u64, text: String) {
        self.other_lines += 1;
        if self.other.len() < MOST_OTHER {
            self.other.push((line, text));
        }
    }

    /// Notes a settled row: neighbours of unsettled ones, spans lived at an offset.
    pub(crate) fn settle(&mut self, known: Known, offset_is_lived: bool) {
        if self.first_settled.is_none() {
            self.first_settled = Some(known);
        }
        if self.is_waiting {
            for open in self.unsettled.iter_mut().rev().take_while(|u| u.next.is_none()) {
                open.next = Some(known);
            }
            self.is_waiting = false;
        }
        self.last_settled = Some(known);
        self.settled += 1;
        self.widen(known.at);
        if offset_is_lived {
            self.run(known);
        }
    }

    pub(crate) fn widen(&mut self, at: Second) {
        self.span = Some(
            self.span
                .map_or((at, at), |(from, to)| (from.min(at), to.max(at))),
        );
    }

    fn run(&mut self, known: Known) {
        match self.runs.last_mut() {
            Some(run) if run.offset_s == known.offset_s => {
                run.from = run.from.min(known.at);
                run.to = run.to.max(known.at);
            }
            _ => self.runs.push(OffsetRun {
                from: known.at,
                to: known.at,
                offset_s: known.offset_s,
            }),
        }
    }
}

/// The block's table of distinct values: a direct table for the usual small numbers, a hash map for the rest.
#[derive(Debug)]
pub(crate) struct Levels {
    direct: Vec<u32>,
    used: Vec<usize>,
    hashed: HashMap<Said, u32>,
    saids: Vec<Said>,
}

impl Levels {
    pub(crate) fn new() -> Self {
        Levels {
            direct: vec![FREE; 2 * DIRECT_DECIMALS * DIRECT_MANTISSA],
            used: Vec::new(),
            hashed: HashMap::new(),
            saids: Vec::new(),
        }
    }

    /// Hands out the table and starts a new one.
    pub(crate) fn take(&mut self) -> Vec<Said> {
        for &slot in &self.used {
            self.direct[slot] = FREE;
        }
        self.used.clear();
        self.hashed.clear();
        std::mem::take(&mut self.saids)
    }

    /// The level of an uncensored number that was met before.
    pub(crate) fn known(&self, number: Number, unit: Unit) -> Option<u32> {
        slot(number, unit)
            .map(|slot| self.direct[slot])
            .filter(|&level| level != FREE)
    }

    /// The level of a value, added when new.
    pub(crate) fn intern(&mut self, said: Said) -> u32 {
        if let Some(&level) = self.hashed.get(&said) {
            return level;
        }
        let level = u32::try_from(self.saids.len()).unwrap_or(FREE - 1);
        self.saids.push(said);
        self.hashed.insert(said, level);
        level
    }

    /// Remembers the level of an uncensored number for [`Levels::known`].
    pub(crate) fn remember(&mut self, number: Number, unit: Unit, level: u32) {
        if let Some(slot) = slot(number, unit) {
            self.direct[slot] = level;
            self.used.push(slot);
        }
    }
}

fn slot(number: Number, unit: Unit) -> Option<usize> {
    let mantissa = usize::try_from(number.mantissa)
        .ok()
        .filter(|&m| m < DIRECT_MANTISSA)?;
    let decimals = usize::from(number.decimals);
    (decimals < DIRECT_DECIMALS).then(|| {
        (usize::from(unit == Unit::MmolPerL) * DIRECT_DECIMALS + decimals) * DIRECT_MANTISSA + mantissa
    })
}

/// Stands for 'below range' without a number until the file's own edge is known.
pub(crate) fn edge_unknown(unit: Unit, censor: Censor) -> Said {
    // -1 is no glucose; nothing else makes it.
    Said::new(-1, 0, unit, censor).unwrap_or(Said::whole_mg_per_dl(-1))
}
