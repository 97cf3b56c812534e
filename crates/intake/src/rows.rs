//! Rows of a block, by a table's plan.

use std::collections::HashMap;

use interstice_glucose::{
    BloodCheck, BloodSource, Censor, Delivery, Dose, InsulinKind, Mark, MarkKind, Meal, Rejected, Said,
    Second, SensorNote, SensorNoteKind, TraceKind, Unit, WallInstants,
};

use crate::cell::{GlucoseCell, SaidUnit, any_stamp, glucose_cell, is_missing, unit_in};
use crate::concept::{Concept, concepts_of};
use crate::fold::fold;
use crate::head::is_heading_record;
use crate::insulin::{doses, kind_in};
use crate::kind::{RowKind, row_kind};
use crate::number::{Number, leading_number, parse_number};
use crate::partial::{Known, Levels, Open, PartTrace, Partial, SleepEdge, Unsettled, edge_unknown};
use crate::plan::{Cell, Place, Plan, TimeSource};
use crate::records::{Field, Records};
use crate::stamp::{Stamp, parse_stamp};
use crate::unit::UnitRule;
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
    kinds: HashMap<Vec<u8>, RowKind>,
    units: HashMap<Vec<u8>, Option<SaidUnit>>,
    fields: Vec<Field>,
    partial: Partial,
    /// Trace used last, to find it again without comparing names.
    last_trace: usize,
    /// Unit of the last value that could only be in one.
    last_unit: Option<Unit>,
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

impl<'p> RowReader<'p> {
    pub(crate) fn new(plan: &'p Plan) -> Self {
        RowReader {
            plan,
            zone: ZoneCache::new(plan.zone.clone()),
            levels: Levels::new(),
            kinds: HashMap::new(),
            units: HashMap::new(),
            fields: Vec::new(),
            partial: Partial::default(),
            last_trace: 0,
            last_unit: None,
        }
    }

    /// Reads a block. Lines in the result count from the block's first as 0.
    pub(crate) fn read_block(&mut self, block: &[u8]) -> Partial {
        self.last_trace = 0;
        self.last_unit = None;
        let mut records = Records::new(block, self.plan.delimiter);
        let mut line = 0;
        let mut fields = std::mem::take(&mut self.fields);
        while let Some(range) = records.next(&mut fields) {
            let first_line = line;
            line += 1;
            if fields.iter().any(|f| f.raw(block).contains(&b'\n')) && !self.plan.is_sheet {
                line += memchr::memchr_iter(b'\n', &block[range.clone()]).count() as u64;
            }
            if block.get(range.start) == Some(&b'#') {
                continue;
            }
            std::mem::swap(&mut self.fields, &mut fields);
            let goes_on = self.record(block, first_line);
            std::mem::swap(&mut self.fields, &mut fields);
            if !goes_on {
                self.partial.break_at = Some(range.start);
                line = first_line;
                break;
            }
        }
        self.fields = fields;
        self.partial.lines = line;
        self.partial.saids = self.levels.take();
        std::mem::take(&mut self.partial)
    }

    fn raw<'b>(&self, block: &'b [u8], column: usize) -> &'b [u8] {
        self.fields
            .get(column)
            .map_or(&[][..], |f| f.raw(block).trim_ascii())
    }

    fn text(&self, block: &[u8], column: usize) -> String {
        let text = self.fields.get(column).map(|f| f.text(block)).unwrap_or_default();
        tidy(&text)
    }

    /// One record; `false` where another table's headings stand.
    fn record(&mut self, block: &[u8], line: u64) -> bool {
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
    fn when(&self, block: &[u8]) -> Option<When> {
        let plain = |wall| When {
            wall,
            offset_s: None,
            universal: true,
        };
        match self.plan.time {
            TimeSource::Moment(column) => {
                let stamp = parse_stamp(self.raw(block, column), self.plan.order)?;
                self.with_offset(block, stamp)
            }
            TimeSource::DateAndClock(date, clock) => {
                let day = parse_stamp(self.raw(block, date), self.plan.order)?.day?;
                let clock = parse_stamp(self.raw(block, clock), self.plan.order)?;
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
                (seconds.abs() < 1e11).then(|| plain(seconds.floor() as i64))
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

    fn time_trouble(&self, block: &[u8]) -> String {
        let cells = match self.plan.time {
            TimeSource::DateAndClock(date, clock) => vec![date, clock],
            TimeSource::Moment(c) | TimeSource::Epoch(c) | TimeSource::Serial(c) => vec![c],
        };
        if cells.iter().all(|&c| self.raw(block, c).is_empty()) {
            return "there is no time in this row".to_owned();
        }
        if cells.iter().all(|&c| any_stamp(self.raw(block, c)).is_some()) {
            return "there is no such date when read as the rest of the file is".to_owned();
        }
        "this cannot be read as a date and time".to_owned()
    }

    fn reject_time(&mut self, block: &[u8], line: u64, reason: String) {
        let (column, text) = match self.plan.time {
            TimeSource::DateAndClock(date, clock) => (
                date,
                format!("{} {}", self.text(block, date), self.text(block, clock))
                    .trim()
                    .to_owned(),
            ),
            TimeSource::Moment(c) | TimeSource::Epoch(c) | TimeSource::Serial(c) => (c, self.text(block, c)),
        };
        self.reject(line, column, &text, reason);
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
        let raw = self.raw(block, column);
        if let Some(&kind) = self.kinds.get(raw) {
            return kind;
        }
        let text = self.text(block, column);
        let kind = match self.plan.codes.get(&fold(&text)) {
            Some(&kind) => kind,
            None if self.plan.is_coded => RowKind::Unknown,
            None => row_kind(&text),
        };
        if self.kinds.len() < 4096 {
            self.kinds.insert(raw.to_vec(), kind);
        }
        kind
    }

    /// One cell by its column's plan.
    fn cell(&mut self, row: &mut Row<'_>, column: usize, cell: &Cell, raw: &[u8], kind: Option<RowKind>) {
        match cell {
            Cell::Glucose { place, unit, trace } => {
                let place = match kind {
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

    /// A glucose value. `complain`: an empty cell makes the row one without a value.
    #[expect(
        clippy::too_many_arguments,
        reason = "the parts of one value, from one caller each"
    )]
    fn glucose(
        &mut self,
        row: &mut Row<'_>,
        column: usize,
        raw: &[u8],
        place: Place,
        rule: UnitRule,
        trace: &str,
        complain: bool,
    ) {
        let said = parse_number(raw, self.plan.mark).map_or_else(
            || glucose_cell(raw, self.plan.mark),
            |number| GlucoseCell::Number(number, Censor::None, None),
        );
        let (number, censor, own_unit) = match said {
            GlucoseCell::Number(number, censor, unit) => (number, self.flagged(row, censor), unit),
            GlucoseCell::Missing => match self.flagged(row, Censor::None) {
                Censor::None => {
                    if complain || !raw.is_empty() && self.plan.kind.is_some() {
                        row.is_rejected = true;
                        self.reject(
                            row.line,
                            column,
                            &String::from_utf8_lossy(raw),
                            "there is no value in this row",
                        );
                    }
                    return;
                }
                censor => return self.beyond(row, place, rule, trace, censor),
            },
            GlucoseCell::Below => return self.beyond(row, place, rule, trace, Censor::Below),
            GlucoseCell::Above => return self.beyond(row, place, rule, trace, Censor::Above),
            GlucoseCell::Unreadable => {
                row.is_rejected = true;
                let text = self.text(row.block, column);
                return self.reject(row.line, column, &text, "this cannot be read as a glucose value");
            }
        };
        let unit = match own_unit.or_else(|| self.row_unit(row)) {
            Some(SaidUnit::Of(unit)) => unit,
            Some(SaidUnit::GramPerL) => {
                return self.gram_per_litre(row, column, number, censor, place, trace);
            }
            None => match self.rule_unit(row, rule, number) {
                Ok(unit) => unit,
                Err(()) => return self.gram_per_litre(row, column, number, censor, place, trace),
            },
        };
        self.value(row, column, number, unit, censor, place, trace);
    }

    /// The unit that the rule gives a number; `Err` for g/L.
    fn rule_unit(&mut self, row: &Row<'_>, rule: UnitRule, number: Number) -> Result<Unit, ()> {
        match rule {
            UnitRule::Fixed(SaidUnit::Of(unit)) => Ok(unit),
            UnitRule::Fixed(SaidUnit::GramPerL) => Err(()),
            UnitRule::ByRow(Some(unit)) => Ok(unit),
            UnitRule::ByRow(None) => Ok(by_size(number).unwrap_or(Unit::MgPerDl)),
            UnitRule::ByValue(main) => {
                let clear = by_size(number);
                if clear.is_some() {
                    self.last_unit = clear;
                }
                let unit = clear.or(self.last_unit).unwrap_or(main);
                if unit != main {
                    self.partial.odd_units += 1;
                    if self.partial.odd_lines.len() < 1000 {
                        self.partial
                            .odd_lines
                            .push((row.line, number.value().to_string()));
                    }
                }
                Ok(unit)
            }
        }
    }

    /// A hundredth of a gram per litre is one milligram per decilitre.
    fn gram_per_litre(
        &mut self,
        row: &mut Row<'_>,
        column: usize,
        number: Number,
        censor: Censor,
        place: Place,
        trace: &str,
    ) {
        let number = match number.decimals.checked_sub(2) {
            Some(decimals) => Number { decimals, ..number },
            None => Number {
                mantissa: number
                    .mantissa
                    .saturating_mul(10i64.pow(u32::from(2 - number.decimals))),
                decimals: 0,
            },
        };
        self.value(row, column, number, Unit::MgPerDl, censor, place, trace);
    }

    /// Enters a value whose unit is known.
    #[expect(clippy::too_many_arguments, reason = "the parts of one value")]
    fn value(
        &mut self,
        row: &mut Row<'_>,
        column: usize,
        number: Number,
        unit: Unit,
        censor: Censor,
        place: Place,
        trace: &str,
    ) {
        if let Place::Trace(kind) = place
            && censor == Censor::None
            && let Some(level) = self.levels.known(number, unit)
        {
            row.is_used = true;
            return self.reading(row, kind, trace, level);
        }
        let said = match plausible(number, unit).and_then(|()| {
            Said::new(number.mantissa, number.decimals, unit, censor).map_err(|e| e.to_string())
        }) {
            Ok(said) => said,
            Err(reason) => {
                row.is_rejected = true;
                let text = self.text(row.block, column);
                return self.reject(row.line, column, &text, reason);
            }
        };
        row.is_used = true;
        match place {
            Place::Trace(kind) => {
                let level = self.levels.intern(said);
                if censor == Censor::None {
                    self.levels.remember(number, unit, level);
                }
                self.reading(row, kind, trace, level);
            }
            Place::Blood(source) => self.partial.blood.push(BloodCheck {
                at: row.at,
                said,
                source,
                note: None,
            }),
        }
    }

    /// A value beyond the range, without a number.
    fn beyond(&mut self, row: &mut Row<'_>, place: Place, rule: UnitRule, trace: &str, censor: Censor) {
        let unit = match self.row_unit(row) {
            Some(SaidUnit::Of(unit)) => unit,
            _ => rule.main().unwrap_or(Unit::MgPerDl),
        };
        let said = edge_unknown(unit, censor);
        row.is_used = true;
        match place {
            Place::Trace(kind) => {
                let level = self.levels.intern(said);
                self.reading(row, kind, trace, level);
            }
            Place::Blood(source) => self.partial.blood.push(BloodCheck {
                at: row.at,
                said,
                source,
                note: None,
            }),
        }
    }

    fn reading(&mut self, row: &Row<'_>, kind: TraceKind, trace: &str, level: u32) {
        // Between EARLIEST and LATEST, so it fits.
        let at = u32::try_from(row.at).unwrap_or(0);
        let sensor = match self.plan.sensor {
            Some(column) => self.raw(row.block, column),
            None => trace.as_bytes(),
        };
        let is_it = |t: &PartTrace| t.kind == kind && t.sensor.as_bytes() == sensor;
        let index = match self.partial.traces.get(self.last_trace).is_some_and(is_it) {
            true => self.last_trace,
            false => match self.partial.traces.iter().position(is_it) {
                Some(index) => index,
                None => {
                    let sensor = String::from_utf8_lossy(sensor).into_owned();
                    self.partial.traces.push(PartTrace {
                        sensor,
                        kind,
                        at: Vec::new(),
                        level: Vec::new(),
                    });
                    self.partial.traces.len() - 1
                }
            },
        };
        self.last_trace = index;
        self.partial.traces[index].at.push(at);
        self.partial.traces[index].level.push(level);
    }

    /// A mark beside the value.
    fn flagged(&self, row: &Row<'_>, censor: Censor) -> Censor {
        let Some(column) = self.plan.flag else {
            return censor;
        };
        let raw = self.raw(row.block, column);
        if raw.is_empty() || censor != Censor::None {
            return censor;
        }
        let concepts = concepts_of(&self.text(row.block, column));
        match (concepts.has(Concept::Low), concepts.has(Concept::High)) {
            (true, false) => Censor::Below,
            (false, true) => Censor::Above,
            _ => Censor::None,
        }
    }

    /// The unit of glucose in the row's unit column.
    fn row_unit(&mut self, row: &Row<'_>) -> Option<SaidUnit> {
        let raw = self.raw(row.block, self.plan.unit_column?);
        if raw.is_empty() {
            return None;
        }
        if let Some(&unit) = self.units.get(raw) {
            return unit;
        }
        let unit = unit_in(&String::from_utf8_lossy(raw));
        if self.units.len() < 1024 {
            self.units.insert(raw.to_vec(), unit);
        }
        unit
    }

    fn dose(&mut self, row: &mut Row<'_>, column: usize, raw: &[u8], kind: InsulinKind, delivery: Delivery) {
        if is_missing(raw) {
            return;
        }
        let (kind, delivery) = self.by_insulin_code(row, kind, delivery);
        match self.amount(raw) {
            Some(units) if units.is_finite() && (0.0..=500.0).contains(&units) => {
                self.partial.doses.push(Dose {
                    at: row.at,
                    units,
                    insulin: kind,
                    delivery,
                    note: None,
                });
                row.is_used = true;
            }
            Some(_) => self.reject_cell(row, column, "this cannot be an amount of insulin"),
            None => self.dose_words(row, column, kind, delivery),
        }
    }

    /// Words in a column of doses: a pause of the pump, or an amount in words.
    fn dose_words(&mut self, row: &mut Row<'_>, column: usize, kind: InsulinKind, delivery: Delivery) {
        let text = self.text(row.block, column);
        if concepts_of(&text).has(Concept::Suspend) {
            row.is_used = true;
            if delivery == Delivery::BasalRate {
                self.partial.doses.push(Dose {
                    at: row.at,
                    units: 0.0,
                    insulin: kind,
                    delivery,
                    note: Some(text),
                });
            } else {
                self.partial
                    .marks
                    .push(mark(row.at, MarkKind::Device, Some(text)));
            }
            return;
        }
        let found = doses(&text);
        if found.is_empty() {
            return self.reject_cell(row, column, "this cannot be read as an amount of insulin");
        }
        for (units, named) in found {
            let insulin = named.unwrap_or(kind);
            self.partial.doses.push(Dose {
                at: row.at,
                units,
                insulin,
                delivery,
                note: Some(text.clone()),
            });
        }
        row.is_used = true;
    }

    /// What the insulin-kind column says of this row's dose.
    fn by_insulin_code(
        &self,
        row: &Row<'_>,
        kind: InsulinKind,
        delivery: Delivery,
    ) -> (InsulinKind, Delivery) {
        let Some(column) = self.plan.insulin_kind else {
            return (kind, delivery);
        };
        let text = self.text(row.block, column);
        if text.is_empty() {
            return (kind, delivery);
        }
        self.plan
            .insulin_codes
            .get(&fold(&text))
            .copied()
            .unwrap_or_else(|| (kind_in(&text).unwrap_or(kind), delivery))
    }

    /// A number, or one with a unit after it.
    fn amount(&self, raw: &[u8]) -> Option<f64> {
        if let Some(number) = parse_number(raw, self.plan.mark) {
            return Some(number.value());
        }
        let text = std::str::from_utf8(raw).ok()?;
        let (number, rest) = leading_number(text)?;
        (rest.trim().len() <= 8
            && rest
                .trim()
                .chars()
                .all(|c| c.is_alphabetic() || matches!(c, '/' | '.' | '%')))
        .then(|| number.value())
    }

    fn insulin_text(&mut self, row: &mut Row<'_>, column: usize, delivery: Delivery) {
        let text = self.text(row.block, column);
        if is_missing(text.as_bytes()) {
            return;
        }
        let mut found = doses(&text);
        if found.is_empty()
            && let Some(number) = parse_number(text.as_bytes(), self.plan.mark)
        {
            found.push((number.value(), None));
        }
        if found.is_empty() && concepts_of(&text).has(Concept::Suspend) {
            self.partial
                .marks
                .push(mark(row.at, MarkKind::Device, Some(text)));
            row.is_used = true;
            return;
        }
        if found.is_empty() {
            return self.reject_cell(row, column, "no amount of insulin stands in this text");
        }
        for (units, named) in found {
            let insulin = named.unwrap_or(InsulinKind::Unsaid);
            self.partial.doses.push(Dose {
                at: row.at,
                units,
                insulin,
                delivery,
                note: Some(text.clone()),
            });
        }
        row.is_used = true;
    }

    fn nutrient(&mut self, row: &mut Row<'_>, column: usize, raw: &[u8], put: impl FnOnce(&mut Meal, f64)) {
        if is_missing(raw) {
            return;
        }
        match self.amount(raw) {
            Some(amount) if (0.0..=10_000.0).contains(&amount) => {
                put(row.meal.get_or_insert_with(|| empty_meal(row.at)), amount);
            }
            _ => self.reject_cell(row, column, "this cannot be read as an amount of food"),
        }
    }

    fn ketones(&mut self, row: &mut Row<'_>, column: usize, raw: &[u8]) {
        if is_missing(raw) {
            return;
        }
        match self.amount(raw) {
            Some(value) if (0.0..=30.0).contains(&value) => {
                self.partial.marks.push(Mark {
                    value: Some(value),
                    ..mark(row.at, MarkKind::Ketones, None)
                });
                row.is_used = true;
            }
            _ => self.reject_cell(row, column, "this cannot be read as blood ketones in mmol/L"),
        }
    }

    /// Minutes (or hours) of something, or words on it.
    fn lasting(&mut self, row: &mut Row<'_>, column: usize, raw: &[u8], kind: MarkKind, scale: f64) {
        if is_missing(raw) {
            return;
        }
        match self.amount(raw) {
            Some(amount) if amount <= 0.0 => row.is_used = true,
            Some(amount) if amount * scale <= 3.0 * 86_400.0 => {
                let until = Some(row.at + (amount * scale).round() as i64);
                self.partial.marks.push(Mark {
                    until,
                    ..mark(row.at, kind, None)
                });
                row.is_used = true;
            }
            Some(_) => self.reject_cell(row, column, "this lasts too long to be believed"),
            None => self.words(row, column, kind),
        }
    }

    fn words(&mut self, row: &mut Row<'_>, column: usize, kind: MarkKind) {
        let text = self.text(row.block, column);
        if is_missing(text.as_bytes()) {
            return;
        }
        let until = self.until(row);
        self.partial.marks.push(Mark {
            until,
            ..mark(row.at, kind, Some(text))
        });
        row.is_used = true;
    }

    /// A row that is a span of time.
    fn span(&mut self, row: &mut Row<'_>, kind: MarkKind) {
        if row.is_used {
            return;
        }
        match self.until(row) {
            Some(until) => {
                let text = self.note_text(row);
                row.note_used = true;
                self.partial.marks.push(Mark {
                    until: Some(until),
                    ..mark(row.at, kind, text)
                });
                row.is_used = true;
            }
            None => {
                let column = self.plan.duration.map(|d| d.0).or(self.plan.end).unwrap_or(0);
                self.reject_cell(row, column, "neither an end nor a duration can be read");
            }
        }
    }

    /// When the row's entry ended, by an end or a duration.
    fn until(&mut self, row: &Row<'_>) -> Option<Second> {
        if let Some((column, scale)) = self.plan.duration {
            let raw = self.raw(row.block, column);
            let seconds = match self.amount(raw) {
                Some(amount) => amount * scale,
                None => parse_stamp(raw, self.plan.order)?.second? as f64,
            };
            return (0.0..=3.0 * 86_400.0)
                .contains(&seconds)
                .then(|| row.at + seconds.round() as i64);
        }
        let stamp = parse_stamp(self.raw(row.block, self.plan.end?), self.plan.order)?;
        let when = self.with_offset(row.block, stamp)?;
        match self.instant(when) {
            Instant::At(known, _) => Some(known.at),
            Instant::Open(Open::Twice { first, second }, _) => {
                Some(if first > row.at { first } else { second })
            }
            _ => None,
        }
        .filter(|&until| until >= row.at && until - row.at <= 3 * 86_400)
    }

    fn note_text(&self, row: &Row<'_>) -> Option<String> {
        let texts = self
            .plan
            .notes
            .iter()
            .map(|&column| self.text(row.block, column))
            .filter(|t| !is_missing(t.as_bytes()));
        let joined = texts.collect::<Vec<_>>().join(", ");
        (!joined.is_empty()).then_some(joined)
    }

    /// Puts the row's note beside what it brought, or enters it by itself.
    fn note(&mut self, row: &mut Row<'_>) {
        let Some(text) = self.note_text(row) else { return };
        row.note_used = true;
        let slot = [
            self.partial
                .blood
                .last_mut()
                .filter(|b| b.at == row.at && row.is_used)
                .map(|b| &mut b.note),
            self.partial
                .doses
                .last_mut()
                .filter(|d| d.at == row.at && row.is_used)
                .map(|d| &mut d.note),
            self.partial
                .meals
                .last_mut()
                .filter(|m| m.at == row.at && row.is_used)
                .map(|m| &mut m.text),
        ]
        .into_iter()
        .flatten()
        .next();
        match slot {
            Some(note) => add_text(note, &text),
            None => self.partial.marks.push(mark(row.at, MarkKind::Note, Some(text))),
        }
        row.is_used = true;
    }

    fn reject_cell(&mut self, row: &mut Row<'_>, column: usize, reason: &str) {
        row.is_rejected = true;
        let text = self.text(row.block, column);
        self.reject(row.line, column, &text, reason);
    }

    /// The column whose number the kind explains.
    fn value_column(&self) -> Option<usize> {
        let of = |wanted: fn(&Cell) -> bool| self.plan.cells.iter().find(|(_, c)| wanted(c)).map(|c| c.0);
        of(|c| matches!(c, Cell::Value)).or_else(|| of(|c| matches!(c, Cell::Glucose { .. })))
    }

    /// An entry whose kind a word names.
    fn by_kind(&mut self, row: &mut Row<'_>, kind: RowKind) {
        let column = self.value_column();
        let raw = column.map_or(&[][..], |c| self.raw(row.block, c));
        let is_value = self
            .plan
            .cells
            .iter()
            .any(|(c, cell)| Some(*c) == column && matches!(cell, Cell::Value));
        let at_column = column.unwrap_or(0);
        match kind {
            _ if kind.is_glucose() => {
                if is_value {
                    let (place, unit) = (self.place_of(kind), self.plan.value_unit);
                    self.glucose(row, at_column, raw, place, unit, "", true);
                }
            }
            RowKind::Insulin(insulin) => self.kind_dose(row, at_column, raw, insulin, Delivery::AtOnce),
            RowKind::BasalRate => {
                self.kind_dose(row, at_column, raw, InsulinKind::Rapid, Delivery::BasalRate)
            }
            RowKind::Basal if self.is_hourly(row) => {
                self.kind_dose(row, at_column, raw, InsulinKind::Rapid, Delivery::BasalRate)
            }
            RowKind::Basal => self.kind_dose(row, at_column, raw, InsulinKind::Long, Delivery::AtOnce),
            RowKind::Meal => self.kind_meal(row, at_column, raw),
            RowKind::Ketones if is_value => self.ketones(row, at_column, raw),
            RowKind::Activity => self.kind_lasting(row, at_column, raw, MarkKind::Activity),
            RowKind::Sleep => self.kind_lasting(row, at_column, raw, MarkKind::Sleep),
            RowKind::SleepStart | RowKind::SleepEnd => {
                self.partial.edges.push(SleepEdge {
                    at: row.at,
                    is_start: kind == RowKind::SleepStart,
                });
                row.is_used = true;
            }
            RowKind::SensorPutOn => self.sensor_note(row, raw, SensorNoteKind::PutOn),
            RowKind::SensorStart => self.sensor_note(row, raw, SensorNoteKind::Started),
            RowKind::SensorEnd => self.sensor_note(row, raw, SensorNoteKind::Ended),
            RowKind::LeftOut => row.is_used = true,
            RowKind::Unknown if is_value && !is_missing(raw) => {
                let column = self.plan.kind.unwrap_or(at_column);
                let text = self.text(row.block, column);
                let reason = format!(
                    "nothing says what '{text}' stands for; name it with --as {}:{text}=ROLE",
                    column + 1
                );
                row.is_rejected = true;
                self.reject(row.line, column, &text, reason);
            }
            RowKind::Unknown | RowKind::Ketones => {}
            _ => self.kind_words(row, raw, mark_kind(kind), is_value),
        }
    }

    /// Whether the row's unit is a rate, or basal entries are known to be rates.
    fn is_hourly(&self, row: &Row<'_>) -> bool {
        let unit = self
            .plan
            .unit_column
            .map(|c| self.text(row.block, c))
            .unwrap_or_default();
        if unit.is_empty() {
            self.plan.basal_is_rate
        } else {
            concepts_of(&unit).any(&[Concept::PerHour, Concept::Rate])
        }
    }

    fn kind_dose(
        &mut self,
        row: &mut Row<'_>,
        column: usize,
        raw: &[u8],
        kind: InsulinKind,
        delivery: Delivery,
    ) {
        if is_missing(raw) {
            return;
        }
        let before = self.partial.doses.len();
        let note = self.note_text(row);
        let named = note
            .as_deref()
            .and_then(kind_in)
            .filter(|_| kind == InsulinKind::Unsaid);
        self.dose(row, column, raw, named.unwrap_or(kind), delivery);
        if let Some(dose) = self.partial.doses.get_mut(before)
            && let Some(note) = note
        {
            add_text(&mut dose.note, &note);
            row.note_used = true;
        }
    }

    /// A meal whose value is grams of carbohydrate, or energy where the unit says so.
    fn kind_meal(&mut self, row: &mut Row<'_>, column: usize, raw: &[u8]) {
        let unit = self
            .plan
            .unit_column
            .map(|c| self.text(row.block, c))
            .unwrap_or_default();
        let concepts = concepts_of(&unit);
        if !is_missing(raw) {
            if concepts.has(Concept::Energy) {
                self.nutrient(row, column, raw, |meal, v| meal.energy_kcal = Some(v));
            } else if self.amount(raw).is_some() && !concepts.has(Concept::Exchange) {
                self.nutrient(row, column, raw, |meal, v| meal.carbohydrate_g = Some(v));
            } else {
                let text = format!("{} {unit}", self.text(row.block, column));
                add_text(
                    &mut row.meal.get_or_insert_with(|| empty_meal(row.at)).text,
                    text.trim(),
                );
            }
        }
        if row.is_rejected {
            return;
        }
        let note = self.note_text(row);
        let meal = row.meal.get_or_insert_with(|| empty_meal(row.at));
        if let Some(note) = note {
            add_text(&mut meal.text, &note);
            row.note_used = true;
        }
    }

    fn kind_lasting(&mut self, row: &mut Row<'_>, column: usize, raw: &[u8], kind: MarkKind) {
        let unit = self
            .plan
            .unit_column
            .map(|c| self.text(row.block, c))
            .unwrap_or_default();
        let concepts = concepts_of(&unit);
        let scale = if concepts.has(Concept::Hour) {
            3600.0
        } else if concepts.has(Concept::SecondUnit) {
            1.0
        } else {
            60.0
        };
        let text = self.note_text(row);
        row.note_used = text.is_some();
        let until = match self
            .amount(raw)
            .filter(|a| *a > 0.0 && a * scale <= 3.0 * 86_400.0)
        {
            Some(amount) => Some(row.at + (amount * scale).round() as i64),
            None if is_missing(raw) => self.until(row),
            None => None,
        };
        let words = if until.is_none() && !is_missing(raw) {
            Some(self.text(row.block, column))
        } else {
            None
        };
        let mut joined = words;
        if let Some(text) = text {
            add_text(&mut joined, &text);
        }
        self.partial.marks.push(Mark {
            until,
            ..mark(row.at, kind, joined)
        });
        row.is_used = true;
    }

    fn sensor_note(&mut self, row: &mut Row<'_>, raw: &[u8], kind: SensorNoteKind) {
        let from_value = (!is_missing(raw)).then(|| String::from_utf8_lossy(raw).into_owned());
        let from_column = self
            .plan
            .sensor
            .map(|c| self.text(row.block, c))
            .filter(|t| !t.is_empty());
        let site = self
            .plan
            .site
            .map(|c| self.text(row.block, c))
            .filter(|t| !t.is_empty());
        let note = self.note_text(row);
        row.note_used = true;
        // Without a site column, words beside a sensor's start are where it was put.
        let (site, note) = if site.is_none() {
            (note, None)
        } else {
            (site, note)
        };
        self.partial.notes.push(SensorNote {
            at: row.at,
            kind,
            sensor: from_column.or(from_value),
            site,
            note,
        });
        row.is_used = true;
    }

    /// Symptoms, illness, drinks, medicines, device reports, notes.
    fn kind_words(&mut self, row: &mut Row<'_>, raw: &[u8], kind: MarkKind, is_value: bool) {
        let value = if is_value { self.amount(raw) } else { None };
        let mut text =
            (is_value && value.is_none() && !is_missing(raw)).then(|| tidy(&String::from_utf8_lossy(raw)));
        if let Some(note) = self.note_text(row) {
            add_text(&mut text, &note);
            row.note_used = true;
        }
        if text.is_none() && value.is_none() {
            text = self.plan.kind.map(|column| self.text(row.block, column));
        }
        self.partial.marks.push(Mark {
            value,
            ..mark(row.at, kind, text)
        });
        row.is_used = true;
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
