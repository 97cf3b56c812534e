//! Rows of a block, by a table's plan.

mod alike;
mod beside;
mod by_kind;
mod day;
mod dose;
mod glucose;

use interstice_glucose::{
    BloodCheck, BloodSource, Censor, Delivery, Dose, InsulinKind, Mark, MarkKind, Meal, Rejected, Said,
    Second, SensorDetail, SensorNote, SensorNoteKind, TraceKind, Unit, WallInstants,
};

use alike::{Alike, Lone};

use crate::cell::{GlucoseCell, SaidUnit, glucose_cell, is_missing, unit_in};
use crate::concept::{Concept, concepts_of};
use crate::fold::fold;
use crate::half::with_half;
use crate::head::is_heading_record;
use crate::insulin::{doses, kind_in};
use crate::kind::{RowKind, row_kind};
use crate::meanings::Meanings;
use crate::number::{Number, leading_number, parse_number};
use crate::partial::{Known, Levels, Open, PartTrace, Partial, SleepEdge, Unsettled, edge_unknown};
use crate::plan::{Carry, Cell, Place, Plan, TimeSource};
use crate::records::{Field, Records};
use crate::stamp::{Stamp, dotted_clock, parse_stamp};
use crate::unit::UnitRule;
use crate::usual::{DayMemo, parse_clock};
use crate::zoned::ZoneCache;

/// 1980-01-01 and 2070-01-01 in seconds since 1970: readings outside have a clock that was never set.
const EARLIEST: Second = 315_532_800;
const LATEST: Second = 3_155_760_000;

/// Longest text kept of a cell, in characters.
const LONGEST_TEXT: usize = 2_000;

/// A row's time as the file gives it.
#[derive(Clone, Copy, Debug)]
struct When {
    wall: i64,
    offset_s: Option<i32>,
    /// Universal time: an instant without a wall clock of its own.
    universal: bool,
}

/// A row's instant.
enum Instant {
    At(Known, bool),
    Open(Open, i64),
    Refused(String),
}

/// Reads rows of one table. Keeps what carries over from row to row within a block.
pub(crate) struct RowReader<'p> {
    plan: &'p Plan,
    zone: ZoneCache,
    levels: Levels,
    kinds: Meanings<RowKind>,
    units: Meanings<Option<SaidUnit>>,
    fields: Vec<Field>,
    partial: Partial,
    days: DayMemo,
    /// Trace used last, to find it again without comparing names.
    last_trace: usize,
    /// Unit of the last value that could only be in one.
    last_unit: Option<Unit>,
    /// Day and second of the day of the last row, where dates are carried down.
    above: Option<(i64, i64)>,
    /// Line under way, and the day of the last row, where the order of dates is watched.
    line: u64,
    watched: Option<i64>,
    /// Readings entered by the row under way, and the last of them.
    readings: u32,
    lone: Option<Lone>,
    alike: Alike,
}

/// What a row has brought so far.
struct Row<'b> {
    block: &'b [u8],
    line: u64,
    at: Second,
    meal: Option<Meal>,
    /// Something was entered, or the row says nothing on purpose.
    is_used: bool,
    is_rejected: bool,
    note_used: bool,
}

fn raw_field<'b>(fields: &[Field], block: &'b [u8], column: usize) -> &'b [u8] {
    fields.get(column).map_or(&[][..], |f| f.raw(block).trim_ascii())
}

impl<'p> RowReader<'p> {
    pub(crate) fn new(plan: &'p Plan) -> Self {
        let mut reader = RowReader {
            plan,
            zone: ZoneCache::new(plan.zone.clone()),
            levels: Levels::new(),
            kinds: Meanings::default(),
            units: Meanings::default(),
            fields: Vec::new(),
            partial: Partial::default(),
            days: DayMemo::default(),
            last_trace: 0,
            last_unit: None,
            above: None,
            line: 0,
            watched: None,
            readings: 0,
            lone: None,
            alike: Alike::default(),
        };
        reader.first_day();
        reader
    }

    /// One that reads every row cell by cell.
    #[cfg(any(test, fuzzing))]
    pub(crate) fn cell_by_cell(plan: &'p Plan) -> Self {
        let mut reader = RowReader::new(plan);
        reader.alike.is_off = true;
        reader
    }

    /// Reads a block. Lines in the result count from the block's first as 0.
    pub(crate) fn read_block(&mut self, block: &[u8]) -> Partial {
        self.last_trace = 0;
        self.last_unit = None;
        self.alike.begin();
        let mut records = Records::new(block, self.plan.delimiter);
        let mut line = 0;
        // Only a quoted field can hold a line end.
        let may_fold = !self.plan.is_sheet && memchr::memchr(b'"', block).is_some();
        loop {
            self.line = line;
            if let Some(next) = self.alike(block, records.position()) {
                records.go_on_at(next);
                line += 1;
                continue;
            }
            let Some(range) = records.next(&mut self.fields) else {
                break;
            };
            let first_line = line;
            line += 1;
            if may_fold {
                line += memchr::memchr_iter(b'\n', &block[range.clone()]).count() as u64;
            }
            if block.get(range.start) == Some(&b'#') {
                continue;
            }
            if !self.record_and_learn(block, first_line, range.clone()) {
                self.partial.break_at = Some(range.start);
                line = first_line;
                break;
            }
        }
        self.partial.lines = line;
        self.partial.saids = self.levels.take();
        std::mem::take(&mut self.partial)
    }

    fn raw<'b>(&self, block: &'b [u8], column: usize) -> &'b [u8] {
        raw_field(&self.fields, block, column)
    }

    fn text(&self, block: &[u8], column: usize) -> String {
        let text = self.fields.get(column).map(|f| f.text(block)).unwrap_or_default();
        tidy(&text)
    }

    /// One record, which becomes the pattern of the next where it brings one reading and nothing else.
    fn record_and_learn(&mut self, block: &[u8], line: u64, range: std::ops::Range<usize>) -> bool {
        let besides = self.partial.besides();
        (self.readings, self.lone) = (0, None);
        if !self.record(block, line) {
            return false;
        }
        if let Some(lone) = self.lone
            && self.readings == 1
            && self.partial.besides() == besides
            && self.alike.is_learning()
        {
            self.learn(block, range, lone);
        }
        true
    }

    /// One record; `false` where another table's headings stand.
    fn record(&mut self, block: &[u8], line: u64) -> bool {
        if self.is_day_heading(block, line) {
            return true;
        }
        let Some(when) = self.when(block) else {
            return self.odd_record(block, line);
        };
        if let Some((column, name)) = &self.plan.subject
            && self.raw(block, *column) != name.as_bytes()
        {
            self.partial.other_subjects += 1;
            return true;
        }
        self.partial.rows += 1;
        match self.instant(when) {
            Instant::At(known, is_lived) => {
                if !(EARLIEST..LATEST).contains(&known.at) {
                    self.reject_time(
                        block,
                        line,
                        "the year cannot be right: the device's clock was not set".to_owned(),
                    );
                    return true;
                }
                self.partial.settle(known, is_lived);
                self.entries(block, line, known.at);
            }
            Instant::Open(open, wall) => self.unsettled(block, line, open, wall),
            Instant::Refused(reason) => self.reject_time(block, line, reason),
        }
        true
    }

    /// Enters a row whose instant is open and remembers what it brought.
    fn unsettled(&mut self, block: &[u8], line: u64, open: Open, wall: i64) {
        let at = match open {
            Open::Twice { first, .. } => first,
            Open::NoOffset => wall,
        };
        if !(EARLIEST..LATEST).contains(&at) {
            return self.reject_time(
                block,
                line,
                "the year cannot be right: the device's clock was not set".to_owned(),
            );
        }
        let from = self.partial.counts();
        self.entries(block, line, at);
        let to = self.partial.counts();
        self.partial.is_waiting = true;
        self.partial.unsettled.push(Unsettled {
            wall,
            line,
            open,
            settled_before: self.partial.settled,
            previous: self.partial.last_settled,
            next: None,
            from,
            to,
        });
    }

    /// When the row was, `None` where its time cannot be read.
    fn when(&mut self, block: &[u8]) -> Option<When> {
        let plain = |wall| When {
            wall,
            offset_s: None,
            universal: true,
        };
        match self.plan.time {
            TimeSource::Moment(column) => {
                let mut stamp = self
                    .days
                    .parse(raw_field(&self.fields, block, column), self.plan.order)?;
                self.watch(stamp.day, raw_field(&self.fields, block, column));
                if self.plan.is_sheet && stamp.second.is_none() {
                    // A spreadsheet's date and time is one number; at midnight it shows as a date.
                    stamp.second = Some(0);
                }
                let stamp = self.with_half(block, stamp)?;
                self.with_offset(block, stamp)
            }
            TimeSource::DateAndClock(date, clock) => {
                let cell = self.raw(block, clock);
                let clock = parse_clock(cell, self.plan.order).or_else(|| {
                    let second = Some(dotted_clock(cell)?);
                    Some(Stamp {
                        second,
                        ..Stamp::default()
                    })
                })?;
                let clock = self.with_half(block, clock)?;
                let date = match self.plan.carry {
                    Some(Carry::Under) => &[],
                    _ => raw_field(&self.fields, block, date),
                };
                let day = self.day(date, clock.second)?;
                self.watch(Some(day), date);
                self.with_offset(
                    block,
                    Stamp {
                        day: Some(day),
                        ..clock
                    },
                )
            }
            TimeSource::Epoch(column) => {
                let number = parse_number(self.raw(block, column), self.plan.mark)?.value();
                let seconds = if number.abs() >= 1e11 {
                    number / 1000.0
                } else {
                    number
                };
                let at = (seconds.abs() < 1e11).then_some(seconds.floor() as i64)?;
                // A count of seconds is universal time, whatever stands beside it; an offset only tells the wall clock.
                let offset_s = self
                    .plan
                    .offset
                    .and_then(|offset| self.offset_cell(block, offset.column, offset.scale));
                Some(offset_s.map_or(plain(at), |offset_s| When {
                    wall: at + i64::from(offset_s),
                    offset_s: Some(offset_s),
                    universal: false,
                }))
            }
            TimeSource::Serial(column) => {
                let number = parse_number(self.raw(block, column), self.plan.mark)?.value();
                let seconds = ((number - 25_569.0) * 86_400.0).round();
                (seconds.abs() < 1e11).then_some(When {
                    wall: seconds as i64,
                    offset_s: None,
                    universal: false,
                })
            }
        }
    }

    /// A 12-hour time whose half of the day stands in a column of its own.
    fn with_half(&self, block: &[u8], stamp: Stamp) -> Option<Stamp> {
        let Some(column) = self.plan.half else {
            return Some(stamp);
        };
        let second = with_half(stamp.second?, self.raw(block, column))?;
        Some(Stamp {
            second: Some(second),
            ..stamp
        })
    }

    fn with_offset(&self, block: &[u8], stamp: Stamp) -> Option<When> {
        let wall = stamp.wall()?;
        let mut when = When {
            wall,
            offset_s: stamp.offset_s,
            universal: stamp.universal || self.plan.is_universal,
        };
        if let Some(offset) = self.plan.offset
            && let Some(seconds) = self.offset_cell(block, offset.column, offset.scale)
        {
            let shift = if offset.times_are_universal {
                i64::from(seconds)
            } else {
                0
            };
            when = When {
                wall: wall + shift,
                offset_s: Some(seconds),
                universal: false,
            };
        }
        if let Some(local) = self.plan.local
            && when.universal
            && let Some(wall_clock) =
                parse_stamp(self.raw(block, local), self.plan.order).and_then(Stamp::wall)
        {
            let offset = i32::try_from(wall_clock - wall)
                .ok()
                .filter(|o| o.abs() <= 54_000 && o % 900 == 0);
            if offset.is_some() {
                when = When {
                    wall: wall_clock,
                    offset_s: offset,
                    universal: false,
                };
            }
        }
        Some(when)
    }

    fn offset_cell(&self, block: &[u8], column: usize, scale: f64) -> Option<i32> {
        let raw = self.raw(block, column);
        if raw.contains(&b':') {
            let text = std::str::from_utf8(raw).ok()?;
            return interstice_glucose::Zone::named(text)
                .ok()
                .map(|zone| zone.offset_s(0));
        }
        let seconds = parse_number(raw, self.plan.mark)?.value() * scale;
        (seconds.abs() <= 54_000.0).then_some(seconds as i32)
    }

    fn instant(&mut self, when: When) -> Instant {
        if let Some(offset_s) = when.offset_s {
            let known = Known {
                at: when.wall - i64::from(offset_s),
                offset_s,
            };
            return Instant::At(known, !when.universal);
        }
        if when.universal {
            return Instant::At(
                Known {
                    at: when.wall,
                    offset_s: 0,
                },
                false,
            );
        }
        if self.plan.has_offsets {
            return Instant::Open(Open::NoOffset, when.wall);
        }
        match self.zone.instants(when.wall) {
            WallInstants::Once(at) => Instant::At(
                Known {
                    at,
                    offset_s: i32::try_from(when.wall - at).unwrap_or(0),
                },
                false,
            ),
            WallInstants::Twice(first, second) => Instant::Open(Open::Twice { first, second }, when.wall),
            WallInstants::Never => Instant::Refused(format!(
                "the clock in {} was put forward over this time, so it never was; if the device kept its old time, import with a fixed zone such as --zone +01:00",
                self.zone.zone().name()
            )),
        }
    }

    /// A record whose time cannot be read: blank, headings again, another table, a closing line, or a broken row.
    fn odd_record(&mut self, block: &[u8], line: u64) -> bool {
        let filled = self
            .fields
            .iter()
            .filter(|f| !f.raw(block).trim_ascii().is_empty())
            .count();
        if filled == 0 {
            return true;
        }
        if !self.plan.heading_line.is_empty() && self.is_same_heading(block) {
            self.partial.repeated_headings += 1;
            return true;
        }
        if is_heading_record(block, &self.fields) {
            return false;
        }
        if !self.has_payload(block) {
            let all: Vec<String> = (0..self.fields.len())
                .map(|i| self.text(block, i))
                .filter(|t| !t.is_empty())
                .collect();
            self.partial.set_aside(line, shorten(&all.join(" "), 120));
            return true;
        }
        self.partial.rows += 1;
        let reason = self.time_trouble(block);
        self.reject_time(block, line, reason);
        true
    }

    fn is_same_heading(&self, block: &[u8]) -> bool {
        let mut fields = self.fields.iter().map(|f| f.raw(block).trim_ascii());
        let mut known = Vec::new();
        Records::new(&self.plan.heading_line, self.plan.delimiter).next(&mut known);
        known.len() == self.fields.len()
            && known
                .iter()
                .all(|k| fields.next() == Some(k.raw(&self.plan.heading_line).trim_ascii()))
    }

    /// Whether a record without a readable time still has the look of a row: a number where the table has them,
    /// or text in the time's own column beside other cells.
    fn has_payload(&self, block: &[u8]) -> bool {
        let time_column = match self.plan.time {
            TimeSource::Moment(c)
            | TimeSource::DateAndClock(c, _)
            | TimeSource::Epoch(c)
            | TimeSource::Serial(c) => c,
        };
        let number = self.plan.cells.iter().any(|&(column, _)| {
            column != time_column
                && matches!(
                    glucose_cell(self.raw(block, column), self.plan.mark),
                    GlucoseCell::Number(..) | GlucoseCell::Below | GlucoseCell::Above
                )
        });
        let time_has_digits = self
            .raw(block, time_column)
            .iter()
            .filter(|b| b.is_ascii_digit())
            .count()
            >= 4;
        number || (time_has_digits && self.fields.len() == self.plan.headings.len())
    }

    fn reject(&mut self, line: u64, column: usize, text: &str, reason: impl Into<String>) {
        self.partial.reject(Rejected {
            row: line,
            column: self.plan.column_name(column),
            text: shorten(text, 80),
            reason: reason.into(),
        });
    }

    /// Enters all that a row brings.
    fn entries(&mut self, block: &[u8], line: u64, at: Second) {
        let mut row = Row {
            block,
            line,
            at,
            meal: None,
            is_used: false,
            is_rejected: false,
            note_used: false,
        };
        let kind = self.plan.kind.map(|column| self.row_kind(block, column));
        if let Some(kind) = kind {
            self.by_kind(&mut row, kind);
        }
        for (column, cell) in &self.plan.cells {
            let raw = self.raw(block, *column);
            if raw.is_empty() && !matches!(cell, Cell::Glucose { .. }) {
                continue;
            }
            self.cell(&mut row, *column, cell, raw, kind);
        }
        if let Some(span) = self.plan.span {
            self.span(&mut row, span);
        }
        if let Some(meal) = row.meal.take() {
            self.partial.meals.push(meal);
            row.is_used = true;
        }
        if !row.note_used && !self.plan.notes.is_empty() {
            self.note(&mut row);
        }
        if !row.is_used && !row.is_rejected {
            self.nothing(&row, kind);
        }
    }

    /// A row that said nothing.
    fn nothing(&mut self, row: &Row<'_>, kind: Option<RowKind>) {
        let column = self
            .plan
            .kind
            .filter(|_| kind.is_some())
            .or(self.plan.cells.first().map(|c| c.0))
            .unwrap_or(0);
        let text = self.text(row.block, column);
        let reason = match kind {
            Some(RowKind::Unknown) if self.plan.is_coded => {
                format!(
                    "nothing says what code '{text}' stands for; name it with --as {}:{text}=ROLE",
                    column + 1
                )
            }
            Some(RowKind::Unknown) => {
                format!("'{text}' names no kind of entry the book knows, and there is no value beside it")
            }
            _ => "there is no value in this row".to_owned(),
        };
        self.reject(row.line, column, &text, reason);
    }

    fn row_kind(&mut self, block: &[u8], column: usize) -> RowKind {
        let plan = self.plan;
        let Some(&field) = self.fields.get(column) else {
            return RowKind::Unknown;
        };
        self.kinds.find(field.raw(block), || {
            let text = tidy(&field.text(block));
            match plan.codes.get(&fold(&text)) {
                Some(&kind) => kind,
                None if plan.is_coded && !text.contains(char::is_alphabetic) => RowKind::Unknown,
                None => row_kind(&text),
            }
        })
    }

    /// A value whose kind is a word or code that says nothing known.
    fn unknown_kind(&mut self, row: &mut Row<'_>) {
        let column = self.plan.kind.unwrap_or(0);
        let text = self.text(row.block, column);
        let reason = format!(
            "nothing says what '{text}' stands for; name it with --as '{}:{text}=ROLE'",
            column + 1
        );
        row.is_rejected = true;
        self.reject(row.line, column, &text, reason);
    }

    /// One cell by its column's plan.
    fn cell(&mut self, row: &mut Row<'_>, column: usize, cell: &Cell, raw: &[u8], kind: Option<RowKind>) {
        match cell {
            Cell::Glucose { place, unit, trace } => {
                let place = match kind {
                    Some(RowKind::Unknown)
                        if !is_missing(raw) && self.plan.by_kind_only.contains(&column) =>
                    {
                        return self.unknown_kind(row);
                    }
                    Some(kind) if !kind.is_glucose() && kind != RowKind::Unknown => return,
                    Some(RowKind::Unknown) | None => *place,
                    Some(kind) => self.place_of(kind),
                };
                let is_only = self.plan.cells.len() == 1;
                self.glucose(row, column, raw, place, *unit, trace, is_only);
            }
            Cell::Value => {}
            Cell::Dose(kind, delivery) => self.dose(row, column, raw, *kind, *delivery),
            Cell::InsulinText(delivery) => self.insulin_text(row, column, *delivery),
            Cell::Carbohydrate => self.nutrient(row, column, raw, |meal, v| meal.carbohydrate_g = Some(v)),
            Cell::Protein => self.nutrient(row, column, raw, |meal, v| meal.protein_g = Some(v)),
            Cell::Fat => self.nutrient(row, column, raw, |meal, v| meal.fat_g = Some(v)),
            Cell::Fibre => self.nutrient(row, column, raw, |meal, v| meal.fibre_g = Some(v)),
            Cell::Energy { kilojoule } => {
                let scale = if *kilojoule { 1.0 / 4.184 } else { 1.0 };
                self.nutrient(row, column, raw, |meal, v| meal.energy_kcal = Some(v * scale));
            }
            Cell::FoodText(before) => {
                let text = format!("{before}{}", self.text(row.block, column));
                add_text(
                    &mut row.meal.get_or_insert_with(|| empty_meal(row.at)).text,
                    &text,
                );
            }
            Cell::Ketones => self.ketones(row, column, raw),
            Cell::Activity(scale) => self.lasting(row, column, raw, MarkKind::Activity, *scale),
            Cell::Sleep(scale) => self.lasting(row, column, raw, MarkKind::Sleep, *scale),
            Cell::Medicine => self.words(row, column, MarkKind::Medicine),
            Cell::Symptom => self.words(row, column, MarkKind::Symptom),
            Cell::Device => self.words(row, column, MarkKind::Device),
        }
    }

    fn place_of(&self, kind: RowKind) -> Place {
        match kind {
            RowKind::Automatic => Place::Trace(TraceKind::Automatic),
            RowKind::Scan => Place::Trace(TraceKind::Scan),
            RowKind::Blood => Place::Blood(BloodSource::Meter),
            RowKind::Laboratory => Place::Blood(BloodSource::Laboratory),
            _ => self.plan.plain,
        }
    }
}

fn mark_kind(kind: RowKind) -> MarkKind {
    match kind {
        RowKind::Symptom => MarkKind::Symptom,
        RowKind::Illness => MarkKind::Illness,
        RowKind::Drink => MarkKind::Drink,
        RowKind::Medicine => MarkKind::Medicine,
        RowKind::Device => MarkKind::Device,
        _ => MarkKind::Note,
    }
}

fn mark(at: Second, kind: MarkKind, text: Option<String>) -> Mark {
    Mark {
        at,
        until: None,
        kind,
        value: None,
        text,
    }
}

fn empty_meal(at: Second) -> Meal {
    Meal {
        at,
        carbohydrate_g: None,
        protein_g: None,
        fat_g: None,
        fibre_g: None,
        energy_kcal: None,
        text: None,
    }
}

/// Adds words to a text that may be there already.
fn add_text(slot: &mut Option<String>, text: &str) {
    let text = text.trim();
    match slot {
        _ if text.is_empty() => {}
        Some(old) if old.contains(text) => {}
        Some(old) => {
            old.push_str(", ");
            old.push_str(text);
        }
        None => *slot = Some(text.to_owned()),
    }
}

/// Text without the escapes that spreadsheets leave for line ends, and of bearable length.
fn tidy(text: &str) -> String {
    let text = if text.contains("_x000D_") {
        text.replace("_x000D_", "")
    } else {
        text.to_owned()
    };
    shorten(text.trim(), LONGEST_TEXT)
}

fn shorten(text: &str, most: usize) -> String {
    match text.char_indices().nth(most) {
        Some((at, _)) => format!("{}…", &text[..at]),
        None => text.to_owned(),
    }
}

/// The unit that a number alone gives away: below 20 it can only be mmol/L, above 33.3 only mg/dL.
fn by_size(number: Number) -> Option<Unit> {
    let value = number.value();
    if value < 20.0 {
        Some(Unit::MmolPerL)
    } else if value > 33.4 {
        Some(Unit::MgPerDl)
    } else {
        None
    }
}

/// Whether a number is far from what stands in one unit and usual in the other: below 20 mg/dL, above 33.4 mmol/L.
pub(crate) fn looks_other(number: Number, unit: Unit) -> bool {
    // Whole numbers are compared as such: this is asked of every reading.
    match (unit, number.decimals) {
        (Unit::MgPerDl, 0) => number.mantissa < 20,
        (Unit::MmolPerL, 0) => number.mantissa > 33,
        (Unit::MgPerDl, _) => number.value() < 20.0,
        (Unit::MmolPerL, 1) => number.mantissa > 334,
        (Unit::MmolPerL, _) => number.value() > 33.4,
    }
}

/// Whether a number can be a person's glucose.
fn plausible(number: Number, unit: Unit) -> Result<(), String> {
    let value = number.value();
    let (least, most) = match unit {
        Unit::MgPerDl => (9.0, 1500.0),
        Unit::MmolPerL => (0.5, 83.0),
    };
    if (least..=most).contains(&value) {
        return Ok(());
    }
    Err(if value <= 0.0 {
        "a glucose value cannot be zero or negative".to_owned()
    } else {
        format!("{value} {unit} cannot be a person's glucose")
    })
}
