//! Blocks put together, in the file's order, into one draft.

use std::collections::{BTreeMap, HashMap};

use interstice_glucose::{
    Censor, Draft, LivedSpan, Mark, MarkKind, Readings, Rejected, Said, Second, TraceDraft, TraceKind, Unit,
    Zone, counted, one_or_many,
};

use crate::api::{DateOrder, Question};
use crate::changed_dates::{self, DayStep};
use crate::edges;
use crate::number::Number;
use crate::partial::{Counts, Known, OffsetRun, PartTrace, Partial, SleepEdge, Unsettled};
use crate::plan::Plan;
use crate::rows::looks_other;
use crate::settle::settle;
use crate::unit::UnitRule;

/// Rejected rows kept of a whole file; more are only counted.
const MOST_REJECTED: usize = 10_000;
/// Values impossible in the unit that is said for a table, from which on the unit is doubted and not the values.
const FEW_IMPOSSIBLE: u64 = 5;
/// Longest night: a waking further from its bedtime is not its own.
const LONGEST_SLEEP_S: i64 = 20 * 3600;

/// Collects what all parts and tables of a file brought.
#[derive(Debug, Default)]
pub(crate) struct Assembly {
    pub(crate) draft: Draft,
    pub(crate) notes: Vec<String>,
    pub(crate) rows: u64,
    traces: HashMap<(String, TraceKind), usize>,
    runs: Vec<OffsetRun>,
    walls: Vec<LivedSpan>,
    edges: Vec<SleepEdge>,
}

/// What carries over from block to block of one table.
pub(crate) struct TableState {
    /// Entries before this table.
    start: Counts,
    lines: u64,
    settled: u64,
    last_settled: Option<Known>,
    unsettled: Vec<Unsettled>,
    span: Option<(Second, Second)>,
    has_runs: bool,
    other: Vec<(u64, String)>,
    other_lines: u64,
    repeated_headings: u64,
    other_subjects: u64,
    odd_units: u64,
    odd_lines: Vec<(u64, String)>,
    impossible: u64,
    rows: u64,
    days: Vec<DayStep>,
}

impl TableState {
    /// What to ask where dates seem to change their order on the way down.
    pub(crate) fn changed_dates(&self, order: DateOrder) -> Option<Question> {
        changed_dates::question(&self.days, order)
    }

    /// The line (from 1) after the last one read.
    pub(crate) fn lines(&self) -> u64 {
        self.lines
    }
}

impl Assembly {
    /// Begins a table whose first row stands on `line` (from 1).
    pub(crate) fn begin(&self, line: u64) -> TableState {
        TableState {
            start: self.counts(),
            lines: line,
            settled: 0,
            last_settled: None,
            unsettled: Vec::new(),
            span: None,
            has_runs: false,
            other: Vec::new(),
            other_lines: 0,
            repeated_headings: 0,
            other_subjects: 0,
            odd_units: 0,
            odd_lines: Vec::new(),
            impossible: 0,
            rows: 0,
            days: Vec::new(),
        }
    }

    fn counts(&self) -> Counts {
        Counts {
            traces: self.draft.traces.iter().map(|t| t.readings.len()).collect(),
            blood: self.draft.blood_checks.len(),
            doses: self.draft.doses.len(),
            meals: self.draft.meals.len(),
            marks: self.draft.marks.len(),
            notes: self.draft.sensor_notes.len(),
            edges: self.edges.len(),
        }
    }

    /// Appends a block. `expect_rows`: how many readings the table may bring in all, to make room once.
    pub(crate) fn append(&mut self, table: &mut TableState, mut block: Partial, expect_rows: usize) {
        let base = table.lines;
        let levels: Vec<u32> = block
            .saids
            .iter()
            .map(|&said| self.draft.levels.intern(said))
            .collect();
        let traces: Vec<usize> = block.traces.iter().map(|t| self.trace(t, expect_rows)).collect();
        let before = self.counts();
        for (part, &index) in block.traces.iter().zip(&traces) {
            let readings = &mut self.draft.traces[index].readings;
            for (&at, &level) in part.at.iter().zip(&part.level) {
                readings.push(at, levels[level as usize]);
            }
        }
        self.draft.blood_checks.append(&mut block.blood);
        self.draft.doses.append(&mut block.doses);
        self.draft.meals.append(&mut block.meals);
        self.draft.marks.append(&mut block.marks);
        self.draft.sensor_notes.append(&mut block.notes);
        self.edges.append(&mut block.edges);
        for mut rejected in std::mem::take(&mut block.rejected) {
            rejected.row += base;
            self.reject(rejected);
        }
        self.draft.rejected_more += block.rejected_more;
        self.carry_over(table, &mut block, &before, &traces);
    }

    fn reject(&mut self, rejected: Rejected) {
        if self.draft.rejected.len() < MOST_REJECTED {
            self.draft.rejected.push(rejected);
        } else {
            self.draft.rejected_more += 1;
        }
    }

    /// The draft's trace of a block's trace.
    fn trace(&mut self, part: &PartTrace, expect_rows: usize) -> usize {
        let key = (part.sensor.clone(), part.kind);
        if let Some(&index) = self.traces.get(&key) {
            return index;
        }
        let index = self.draft.traces.len();
        let readings = Readings::with_capacity(if index == 0 { expect_rows } else { 0 });
        self.draft.traces.push(TraceDraft {
            sensor: part.sensor.clone(),
            kind: part.kind,
            readings,
        });
        self.traces.insert(key, index);
        index
    }

    /// Counts, open rows and offsets of a block, moved to the table's own numbering.
    fn carry_over(&mut self, table: &mut TableState, block: &mut Partial, before: &Counts, traces: &[usize]) {
        let base = table.lines;
        if let Some(first) = block.first_settled {
            for open in table.unsettled.iter_mut().rev().take_while(|u| u.next.is_none()) {
                open.next = Some(first);
            }
        }
        for mut open in std::mem::take(&mut block.unsettled) {
            open.line += base;
            open.settled_before += table.settled;
            open.previous = open.previous.or(table.last_settled);
            open.from = shifted(&open.from, before, traces, block);
            open.to = shifted(&open.to, before, traces, block);
            table.unsettled.push(open);
        }
        table.settled += block.settled;
        table.last_settled = block.last_settled.or(table.last_settled);
        for run in block.runs.drain(..) {
            table.has_runs = true;
            match self.runs.last_mut() {
                Some(last) if last.offset_s == run.offset_s => {
                    last.from = last.from.min(run.from);
                    last.to = last.to.max(run.to);
                }
                _ => self.runs.push(run),
            }
        }
        if let Some((from, to)) = block.span {
            table.span = Some(table.span.map_or((from, to), |(f, t)| (f.min(from), t.max(to))));
        }
        self.rows += block.rows;
        table.rows += block.rows;
        table.lines += block.lines;
        table.repeated_headings += block.repeated_headings;
        table.other_subjects += block.other_subjects;
        table.odd_units += block.odd_units;
        table.impossible += block.impossible;
        table
            .odd_lines
            .extend(block.odd_lines.drain(..).map(|(line, text)| (line + base, text)));
        table.odd_lines.truncate(MOST_REJECTED);
        table.other_lines += block.other_lines;
        let days = block.days.drain(..).map(|step| DayStep {
            line: step.line + base,
            ..step
        });
        table.days.extend(days);
        table
            .other
            .extend(block.other.drain(..).map(|(line, text)| (line + base, text)));
        table.other.truncate(20);
    }

    /// Ends a table: settles open rows, odd units, spans, and says what was decided.
    pub(crate) fn end(&mut self, mut table: TableState, plan: &Plan, place: &str) {
        self.settle_open(&mut table, plan, place);
        self.settle_units(&table, plan, place);
        if let Some((from, to)) = table.span.filter(|_| !table.has_runs) {
            self.walls.push(LivedSpan {
                from,
                to: to + 1,
                zone: plan.zone.clone(),
            });
        }
        let here = if place.is_empty() {
            String::new()
        } else {
            format!("{place}: ")
        };
        if table.repeated_headings > 0 {
            self.notes.push(format!(
                "{here}the headings stand there again {}",
                counted(table.repeated_headings, "time", "times")
            ));
        }
        if table.other_subjects > 0 {
            self.notes.push(format!(
                "{here}{} of other people left alone",
                counted(table.other_subjects, "row", "rows")
            ));
        }
        if table.other_lines > 0 {
            let some: Vec<String> = table
                .other
                .iter()
                .take(3)
                .map(|(line, text)| format!("line {line} '{text}'"))
                .collect();
            self.notes.push(format!(
                "{here}{} beside the rows: {}",
                counted(table.other_lines, "line", "lines"),
                some.join("; ")
            ));
        }
    }

    /// Settles rows whose instant was open, run by run.
    fn settle_open(&mut self, table: &mut TableState, plan: &Plan, place: &str) {
        let open = std::mem::take(&mut table.unsettled);
        let (mut certain, mut assumed, mut first_line) = (0u64, 0u64, None);
        let no_offset = open
            .iter()
            .filter(|u| u.open == crate::partial::Open::NoOffset)
            .count();
        let mut start = 0;
        while start < open.len() {
            let same = open[start..]
                .iter()
                .take_while(|u| u.settled_before == open[start].settled_before)
                .count();
            let run = &open[start..start + same];
            for (row, choice) in run.iter().zip(settle(run, &self.repeats(run))) {
                let entered = match row.open {
                    crate::partial::Open::Twice { first, .. } => first,
                    crate::partial::Open::NoOffset => row.wall,
                };
                self.shift(row, choice.at - entered);
                table.span = Some(table.span.map_or((choice.at, choice.at), |(f, t)| {
                    (f.min(choice.at), t.max(choice.at))
                }));
                certain += u64::from(choice.is_certain);
                assumed += u64::from(!choice.is_certain);
                if !choice.is_certain {
                    first_line.get_or_insert(row.line);
                }
            }
            start += same;
        }
        let here = if place.is_empty() {
            String::new()
        } else {
            format!("{place}: ")
        };
        if certain + assumed > 0 {
            let what = if no_offset > 0 {
                "without an offset from universal time"
            } else {
                "in an hour that the clock went through twice"
            };
            let mut note = format!(
                "{here}{} {what}: {certain} placed by the rows around",
                counted(certain + assumed, "row", "rows")
            );
            if let Some(line) = first_line {
                note.push_str(&format!(
                    ", {assumed} taken as the first pass (from line {line}) because nothing tells"
                ));
            }
            if no_offset == 0 {
                note.push_str(&format!(" ({})", plan.zone.name()));
            }
            self.notes.push(note);
        }
    }

    /// For each row of a run, whether it brought the same reading as the row before it at the same wall time.
    fn repeats(&self, run: &[Unsettled]) -> Vec<bool> {
        let level = |row: &Unsettled| {
            row.to.traces.iter().enumerate().find_map(|(index, &to)| {
                let from = row.from.traces.get(index).copied().unwrap_or(0);
                (to == from + 1).then(|| (index, self.draft.traces[index].readings.level()[from]))
            })
        };
        let mut repeats = vec![false; run.len().min(1)];
        repeats.extend(
            run.windows(2)
                .map(|pair| pair[0].wall == pair[1].wall && level(&pair[0]) == level(&pair[1])),
        );
        repeats
    }

    /// Moves all that a row brought by some seconds.
    fn shift(&mut self, row: &Unsettled, by: i64) {
        if by == 0 {
            return;
        }
        for (index, &to) in row.to.traces.iter().enumerate() {
            let from = row.from.traces.get(index).copied().unwrap_or(0);
            self.shift_readings(index, from, to, by);
        }
        self.draft.blood_checks[row.from.blood..row.to.blood]
            .iter_mut()
            .for_each(|b| b.at += by);
        self.draft.doses[row.from.doses..row.to.doses]
            .iter_mut()
            .for_each(|d| d.at += by);
        self.draft.meals[row.from.meals..row.to.meals]
            .iter_mut()
            .for_each(|m| m.at += by);
        for mark in &mut self.draft.marks[row.from.marks..row.to.marks] {
            mark.at += by;
            mark.until = mark.until.map(|until| until + by);
        }
        self.draft.sensor_notes[row.from.notes..row.to.notes]
            .iter_mut()
            .for_each(|n| n.at += by);
        self.edges[row.from.edges..row.to.edges]
            .iter_mut()
            .for_each(|e| e.at += by);
    }

    fn shift_readings(&mut self, index: usize, from: usize, to: usize, by: i64) {
        if from >= to {
            return;
        }
        let readings = &mut self.draft.traces[index].readings;
        for i in from..to {
            let at = u32::try_from(i64::from(readings.at()[i]) + by).unwrap_or(readings.at()[i]);
            readings.set_at(i, at);
        }
    }

    /// Values that could only be in the other unit: a change of unit when there are many, mistakes when few.
    fn settle_units(&mut self, table: &TableState, plan: &Plan, place: &str) {
        if let Some(said) = said_unit(plan) {
            return self.settle_contradicted(table, plan, said, place);
        }
        if table.odd_units == 0 {
            return;
        }
        let rules = plan.cells.iter().filter_map(|(_, cell)| match cell {
            crate::plan::Cell::Glucose {
                unit: UnitRule::ByValue(unit),
                ..
            } => Some(*unit),
            crate::plan::Cell::Value => plan.value_unit.main(),
            _ => None,
        });
        let Some(main) = rules.into_iter().next() else {
            return;
        };
        let other = if main == Unit::MgPerDl {
            Unit::MmolPerL
        } else {
            Unit::MgPerDl
        };
        let here = if place.is_empty() {
            String::new()
        } else {
            format!("{place}: ")
        };
        let first = table.odd_lines.first().map_or(0, |(line, _)| *line);
        if table.odd_units >= 10 && table.odd_units * 200 >= table.rows {
            self.notes.push(format!(
                "{here}the unit changes on the way: most values are {main}, {} from line {first} on can only be {other} and {} read so",
                table.odd_units,
                one_or_many(&table.odd_units, "was", "were")
            ));
            return;
        }
        self.drop_values(&table.start, |said| said.unit() == other);
        self.reject_odd(
            table,
            plan,
            &format!("this cannot be glucose in {main}, the unit of the other values"),
        );
    }

    /// Rejects the values that were set down as odd.
    fn reject_odd(&mut self, table: &TableState, plan: &Plan, reason: &str) {
        let column = plan
            .cells
            .iter()
            .find(|(_, c)| matches!(c, crate::plan::Cell::Glucose { .. } | crate::plan::Cell::Value))
            .map_or(0, |c| c.0);
        for (row, text) in &table.odd_lines {
            self.reject(Rejected {
                row: *row,
                column: plan.column_name(column),
                text: text.clone(),
                reason: reason.to_owned(),
            });
        }
        self.draft.rejected_more += table.odd_units - table.odd_lines.len() as u64;
    }

    /// A unit said for the whole table, and values that contradict it: where many are impossible in it and usual in
    /// the other, the unit changed on the way, and nobody can say which of the borderline values is in which. All are
    /// rejected rather than read wrongly.
    fn settle_contradicted(&mut self, table: &TableState, plan: &Plan, said: Unit, place: &str) {
        if table.impossible < FEW_IMPOSSIBLE {
            return;
        }
        let other = if said == Unit::MgPerDl {
            Unit::MmolPerL
        } else {
            Unit::MgPerDl
        };
        let here = if place.is_empty() {
            String::new()
        } else {
            format!("{place}: ")
        };
        let contradicting = table.impossible + table.odd_units;
        self.notes.push(format!(
            "{here}the unit is said to be {said}, but {} can only be {other} and {} rejected: where the unit changed \
             on the way, make a file of its own of those rows and import it with --unit {other}",
            counted(contradicting, "value", "values"),
            one_or_many(&contradicting, "was", "were")
        ));
        self.drop_values(&table.start, |value| {
            let number = Number {
                mantissa: value.mantissa(),
                decimals: value.decimals(),
            };
            value.unit() == said && value.censor() == Censor::None && looks_other(number, said)
        });
        self.reject_odd(
            table,
            plan,
            &format!("this is hardly glucose in {said}, and other values can only be {other}"),
        );
    }

    /// Drops those of a table's readings and blood checks.
    fn drop_values(&mut self, start: &Counts, is_wrong: impl Fn(Said) -> bool) {
        let levels = &self.draft.levels;
        for (index, trace) in self.draft.traces.iter_mut().enumerate() {
            let from = start.traces.get(index).copied().unwrap_or(0);
            let old = std::mem::take(&mut trace.readings);
            for (i, (&at, &level)) in old.at().iter().zip(old.level()).enumerate() {
                if i < from || !is_wrong(levels.get(level).said) {
                    trace.readings.push(at, level);
                }
            }
        }
        let mut index = 0;
        self.draft.blood_checks.retain(|check| {
            index += 1;
            index <= start.blood || !is_wrong(check.said)
        });
    }

    /// The finished draft and the notes.
    pub(crate) fn finish(mut self, zone: &Zone) -> (Draft, Vec<String>, u64) {
        self.notes.extend(edges::settle(&mut self.draft));
        self.pair_sleep();
        self.draft.lived = lived(&self.runs, &self.walls, zone);
        self.draft.traces.retain(|t| !t.readings.is_empty());
        (self.draft, self.notes, self.rows)
    }

    /// Bedtimes and wakings become nights.
    fn pair_sleep(&mut self) {
        let mut edges = std::mem::take(&mut self.edges);
        edges.sort_by_key(|e| (e.at, e.is_start));
        let mut asleep: Option<Second> = None;
        let night = |at: Second, until: Option<Second>, text: Option<&str>| Mark {
            at,
            until,
            kind: MarkKind::Sleep,
            value: None,
            text: text.map(str::to_owned),
        };
        for edge in edges {
            match (edge.is_start, asleep) {
                (true, before) => {
                    self.draft
                        .marks
                        .extend(before.map(|at| night(at, None, Some("no waking logged"))));
                    asleep = Some(edge.at);
                }
                (false, Some(at)) if edge.at - at <= LONGEST_SLEEP_S => {
                    self.draft.marks.push(night(at, Some(edge.at), None));
                    asleep = None;
                }
                (false, _) => self.draft.marks.push(Mark {
                    kind: MarkKind::Note,
                    ..night(edge.at, None, Some("woke; no bedtime logged"))
                }),
            }
        }
        self.draft
            .marks
            .extend(asleep.map(|at| night(at, None, Some("no waking logged"))));
    }
}

/// The unit said for a table's glucose as a whole.
fn said_unit(plan: &Plan) -> Option<Unit> {
    plan.cells.iter().find_map(|(_, cell)| {
        let rule = match cell {
            crate::plan::Cell::Glucose { unit, .. } => *unit,
            crate::plan::Cell::Value => plan.value_unit,
            _ => return None,
        };
        match rule {
            UnitRule::Fixed(crate::cell::SaidUnit::Of(unit)) => Some(unit),
            _ => None,
        }
    })
}

/// A block's counts as places in the draft.
fn shifted(counts: &Counts, before: &Counts, traces: &[usize], block: &Partial) -> Counts {
    let mut out: BTreeMap<usize, usize> = BTreeMap::new();
    for (local, &count) in counts.traces.iter().enumerate() {
        if let Some(&index) = traces.get(local).filter(|_| local < block.traces.len()) {
            out.insert(index, before.traces.get(index).copied().unwrap_or(0) + count);
        }
    }
    let width = out.keys().next_back().map_or(0, |last| last + 1);
    Counts {
        traces: (0..width).map(|i| out.get(&i).copied().unwrap_or(0)).collect(),
        blood: before.blood + counts.blood,
        doses: before.doses + counts.doses,
        meals: before.meals + counts.meals,
        marks: before.marks + counts.marks,
        notes: before.notes + counts.notes,
        edges: before.edges + counts.edges,
    }
}

/// Spans lived at the offsets a file gives, or in the zone its wall times were read in. A file whose offsets are
/// all zero tells instants, not a wall clock.
fn lived(runs: &[OffsetRun], walls: &[LivedSpan], zone: &Zone) -> Vec<LivedSpan> {
    let told = runs.iter().any(|r| r.offset_s != 0);
    let mut spans: Vec<LivedSpan> = walls.to_vec();
    for run in runs {
        let own = if told {
            Zone::fixed(run.offset_s)
        } else {
            Some(zone.clone())
        };
        spans.extend(own.map(|zone| LivedSpan {
            from: run.from,
            to: run.to + 1,
            zone,
        }));
    }
    spans.sort_by_key(|s| (s.from, s.to));
    let mut merged: Vec<LivedSpan> = Vec::new();
    for span in spans {
        let Some(last) = merged.last_mut() else {
            merged.push(span);
            continue;
        };
        if last.zone == span.zone {
            last.to = last.to.max(span.to);
        } else if span.to > last.to {
            // Within a day of each other no time was lived between; further apart nobody knows where.
            let from = span.from.max(last.to);
            if span.from - last.to <= 86_400 {
                last.to = from;
            }
            merged.push(LivedSpan { from, ..span });
        }
    }
    merged
}

/// Whether a level stands for 'beyond the range' without a number yet.
pub(crate) fn is_edge_unknown(said: Said) -> bool {
    said.censor() != Censor::None && said.mantissa() == -1 && said.decimals() == 0
}
