//! Rows like one before them: only the time and one number differ. A recording has them by the million, so they are not
//! cut into cells again; what their cells mean is known from that row.

use super::*;
use crate::number::leading_plain;

/// Rows in a row that were unlike their pattern, after which no pattern is made in this block any more.
const MOST_MISSES: u32 = 32;

/// What a row brought that brought one reading and nothing else.
#[derive(Clone, Copy, Debug)]
pub(super) struct Lone {
    pub(super) column: usize,
    pub(super) trace: usize,
    pub(super) unit: Unit,
    /// The rule that gave the unit; `None` where the row said it.
    pub(super) rule: Option<UnitRule>,
}

impl Lone {
    /// Whether the unit is as sure for another number: one that its size gives to another unit is to be looked at.
    fn is_sure(&self, number: Number) -> bool {
        match self.rule {
            Some(UnitRule::Fixed(_)) => !looks_other(number, self.unit),
            Some(UnitRule::ByRow(None) | UnitRule::ByValue(_)) => by_size(number) == Some(self.unit),
            Some(UnitRule::ByRow(Some(_))) | None => true,
        }
    }
}

/// A cell that differs from row to row.
#[derive(Clone, Copy, Debug)]
enum Changing {
    /// Part of the time: this many bytes.
    Time(usize),
    Number,
}

/// A stretch of text that stays, and the changing cell after it.
#[derive(Clone, Copy, Debug)]
struct Piece {
    /// Where the text that stays begins and ends in [`Pattern::text`].
    text: (usize, usize),
    column: usize,
    what: Changing,
}

/// A row that brought one reading, as a pattern for those after it.
#[derive(Debug)]
struct Pattern {
    /// Its bytes with the line end.
    text: Vec<u8>,
    pieces: Vec<Piece>,
    /// Where the text after the last changing cell begins.
    rest: usize,
    lone: Lone,
}

/// The pattern in use, and whether to go on making one.
#[derive(Debug, Default)]
pub(super) struct Alike {
    pattern: Option<Pattern>,
    misses: u32,
    /// Every row is read cell by cell, to hold the patterns against.
    #[cfg(any(test, fuzzing))]
    pub(super) is_off: bool,
}

impl Alike {
    /// Begins a block, whose traces and levels are its own.
    pub(super) fn begin(&mut self) {
        (self.pattern, self.misses) = (None, 0);
        #[cfg(any(test, fuzzing))]
        if self.is_off {
            self.misses = MOST_MISSES;
        }
    }

    /// Whether rows are alike often enough to go on making patterns.
    pub(super) fn is_learning(&self) -> bool {
        self.misses < MOST_MISSES
    }
}

/// The number of a row that fits, and where the next row begins.
struct Fit {
    number: Number,
    next: usize,
}

impl Pattern {
    /// Whether the row at `at` differs from the pattern in time and number alone. `fields` then say where its time
    /// stands.
    fn fit(&self, block: &[u8], at: usize, plan: &Plan, fields: &mut [Field]) -> Option<Fit> {
        let (mut at, mut number) = (at, None);
        for piece in &self.pieces {
            at = after(block, at, &self.text[piece.text.0..piece.text.1])?;
            match piece.what {
                Changing::Time(length) => {
                    let end = at + length;
                    if ends_early(block.get(at..end)?, plan.delimiter) {
                        return None;
                    }
                    *fields.get_mut(piece.column)? = Field::plain(at, end);
                    at = end;
                }
                Changing::Number => {
                    let (found, length) = leading_plain(&block[at..], plan.mark, plan.delimiter)?;
                    number = Some(found);
                    at += length;
                }
            }
        }
        let next = after(block, at, &self.text[self.rest..])?;
        number.map(|number| Fit { number, next })
    }
}

/// Whether a cell ends before its end. Looks at all bytes, which a processor does many at a time.
fn ends_early(cell: &[u8], delimiter: u8) -> bool {
    cell.iter().fold(false, |ends, &byte| {
        ends | (byte == delimiter) | (byte == b'\n') | (byte == b'"')
    })
}

/// Where `text` ends in `block` when it stands at `at`.
fn after(block: &[u8], at: usize, text: &[u8]) -> Option<usize> {
    let end = at + text.len();
    (block.get(at..end)? == text).then_some(end)
}

impl RowReader<'_> {
    /// Reads the row at `at` by the pattern of one before it; where the next one begins, or `None` where the row has
    /// to be read cell by cell. Nothing is entered then.
    pub(super) fn alike(&mut self, block: &[u8], at: usize) -> Option<usize> {
        let pattern = self.alike.pattern.take()?;
        let next = self.by_pattern(&pattern, block, at);
        self.alike.pattern = Some(pattern);
        self.alike.misses = if next.is_some() { 0 } else { self.alike.misses + 1 };
        next
    }

    fn by_pattern(&mut self, pattern: &Pattern, block: &[u8], at: usize) -> Option<usize> {
        let mut fields = std::mem::take(&mut self.fields);
        let fit = pattern.fit(block, at, self.plan, &mut fields);
        self.fields = fields;
        let Fit { number, next } = fit?;
        let Lone {
            trace, unit, rule, ..
        } = pattern.lone;
        if !pattern.lone.is_sure(number) {
            return None;
        }
        let level = self.levels.known(number, unit)?;
        let when = self.when(block)?;
        let Instant::At(known, is_lived) = self.instant(when) else {
            return None;
        };
        let at = u32::try_from(known.at)
            .ok()
            .filter(|_| (EARLIEST..LATEST).contains(&known.at))?;
        let readings = self.partial.traces.get_mut(trace)?;
        readings.at.push(at);
        readings.level.push(level);
        self.partial.rows += 1;
        self.partial.settle(known, is_lived);
        if let Some(UnitRule::ByValue(_)) = rule {
            self.last_unit = Some(unit);
        }
        Some(next)
    }

    /// Makes a pattern of the row just read, where it brought one reading and nothing else.
    pub(super) fn learn(&mut self, block: &[u8], record: std::ops::Range<usize>, lone: Lone) {
        self.alike.pattern = self.pattern(block, record, lone);
    }

    fn pattern(&self, block: &[u8], record: std::ops::Range<usize>, lone: Lone) -> Option<Pattern> {
        let plan = self.plan;
        // What these columns say depends on the time or takes the place of it.
        let is_plain = plan.offset.is_none()
            && plan.local.is_none()
            && plan.end.is_none()
            && plan.span.is_none()
            && plan.carry.is_none();
        let text = block.get(record.start..=record.end)?;
        if !is_plain || memchr::memchr(b'\n', text) != Some(text.len() - 1) {
            return None;
        }
        let times = match plan.time {
            TimeSource::Moment(column) => [Some(column), None],
            TimeSource::DateAndClock(date, clock) => [Some(date), Some(clock)],
            TimeSource::Epoch(_) | TimeSource::Serial(_) => return None,
        };
        let mut cells = vec![(self.fields.get(lone.column)?, lone.column, Changing::Number)];
        for column in times.into_iter().flatten() {
            let field = self.fields.get(column)?;
            cells.push((field, column, Changing::Time(field.end - field.start)));
        }
        cells.sort_by_key(|(field, ..)| field.start);
        let (mut pieces, mut done) = (Vec::new(), record.start);
        for (field, column, what) in cells {
            pieces.push(Piece {
                text: (done - record.start, field.start.checked_sub(record.start)?),
                column,
                what,
            });
            done = field.end;
        }
        pieces
            .iter()
            .all(|piece| piece.text.0 <= piece.text.1)
            .then(|| Pattern {
                text: text.to_vec(),
                pieces,
                rest: done - record.start,
                lone,
            })
    }
}
