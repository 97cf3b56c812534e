//! From the head of a table to a plan for its rows.

use std::collections::BTreeMap;

use interstice_glucose::{Unit, Zone};

use crate::api::{DateOrder, Hints, Question, Recipe, Role, ZoneSource};
use crate::column::{Column, Sample};
use crate::concept::Concept;
use crate::dates::{OrderEvidence, Verdict};
use crate::day_heading::{self, DayHeading};
use crate::fold::fold;
use crate::head::{Head, MOST_COLUMNS, is_heading_record};
use crate::number::DecimalMark;
use crate::plan::{Plan, Settled, TimeSource, compile};
use crate::recipe;
use crate::records::Records;
use crate::roles::{Asked, NO_PLACE, Trouble, assign};
use crate::unit::{UnitHints, UnitRule, unit_rule};

/// Rows looked at one after another from the table's start, then further ones spread over the sample.
const ROWS_TOGETHER: usize = 1200;
const ROWS_SPREAD: usize = 600;

/// A table understood.
#[derive(Clone, Debug)]
pub(crate) struct Understood {
    pub(crate) plan: Plan,
    pub(crate) sample: Sample,
    /// Unit of the first glucose column and the evidence.
    pub(crate) unit: Option<(UnitRule, String)>,
    /// Order of dates and the evidence, where it mattered.
    pub(crate) order: Option<(DateOrder, String)>,
    pub(crate) recipe: Recipe,
    pub(crate) notes: Vec<String>,
}

/// What came of trying.
pub(crate) enum Try {
    Understood(Box<Understood>),
    /// The order of dates is open in the sample: look at the whole table's dates and try again.
    NeedsDates(usize),
    Trouble(Trouble, Box<Sample>),
}

/// Evidence about date order from beyond the sample.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Beyond<'a> {
    /// From every row of the table.
    pub(crate) dates: Option<&'a OrderEvidence>,
    /// From an earlier table of the same file.
    pub(crate) order: Option<DateOrder>,
    /// The sample is the whole table.
    pub(crate) is_whole: bool,
}

/// Understands a table from its head and the sample it was found in.
pub(crate) fn understand(
    head: &Head,
    rows: &[u8],
    delimiter: u8,
    hints: &Hints,
    beyond: Beyond<'_>,
    is_sheet: bool,
) -> Try {
    let cells = sample_rows(rows, delimiter, head.first_day.as_deref());
    let mut sample = sample_of(head, &cells);
    let mut built = build(
        head,
        &mut sample,
        delimiter,
        hints,
        beyond,
        is_sheet,
        Memory::Said,
    );
    if matches!(built, Err(Trouble::Ask(_))) && !hints.recipes.is_empty() {
        let mut again = sample_of(head, &cells);
        let helped = build(head, &mut again, delimiter, hints, beyond, is_sheet, Memory::All);
        if helped.is_ok() {
            (sample, built) = (again, helped);
        }
    }
    match built {
        Ok(Built::Done(understood)) => Try::Understood(understood),
        Ok(Built::NeedsDates(column)) => Try::NeedsDates(column),
        Err(trouble) => Try::Trouble(trouble, Box::new(sample)),
    }
}

/// How far a remembered layout is trusted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Memory {
    /// What the person once said.
    Said,
    /// All of it, since the file's own evidence leaves a question.
    All,
}

enum Built {
    Done(Box<Understood>),
    NeedsDates(usize),
}

fn build(
    head: &Head,
    sample: &mut Sample,
    delimiter: u8,
    hints: &Hints,
    beyond: Beyond<'_>,
    is_sheet: bool,
    memory: Memory,
) -> Result<Built, Trouble> {
    let layout = recipe::layout(sample, delimiter);
    let known = hints
        .recipes
        .iter()
        .find(|r| r.layout == layout && r.roles.len() == sample.columns.len());
    let asked = asked(sample, hints, known, memory);
    let mark = decimal_mark(sample, delimiter);
    assign(sample, &asked)?;
    let order = match settle_order(sample, hints, known, beyond)? {
        Order::Settled(order) => order,
        Order::NeedsDates(column) => return Ok(Built::NeedsDates(column)),
    };
    sample.read_walls(order.as_ref().map(|o| o.0));
    let (units, unit) = units(sample, head, hints, known)?;
    let subject = subject(sample, hints, known)?;
    let settled = Settled {
        delimiter,
        mark,
        order: order.as_ref().map_or(DateOrder::YearFirst, |o| o.0),
        is_order_watched: order.is_some() && hints.dates.is_none(),
        zone: hints.zone.0.clone(),
        units: &units,
        subject: subject.clone(),
        asked: &asked,
        heading_line: head.heading_line.clone(),
        first_day: head.first_day.clone(),
        is_sheet,
    };
    let plan = compile(sample, settled).ok_or_else(|| {
        Trouble::refuse(
            "the columns of time were lost",
            "say which they are with --as COLUMN=date-time",
        )
    })?;
    let recipe = Recipe {
        layout,
        roles: sample
            .columns
            .iter()
            .map(|c| c.role.unwrap_or(Role::Ignored))
            .collect(),
        unit: hints
            .unit
            .map(|u| u.symbol().to_owned())
            .or_else(|| known.and_then(|k| k.unit.clone())),
        dates: order.as_ref().map(|o| o.0),
        subject,
        said: said(&asked, known),
        codes: asked
            .codes
            .iter()
            .map(|(column, code, role)| (column + 1, code.clone(), *role))
            .collect(),
    };
    let helped = known.is_some_and(|k| memory == Memory::All || !k.said.is_empty() || !k.codes.is_empty());
    let mut notes = Vec::new();
    if helped {
        notes.push("this layout was understood before; earlier answers were used again".to_owned());
    }
    notes.extend(left_out(sample));
    if sample.columns.len() >= MOST_COLUMNS {
        notes.push(format!("only the first {MOST_COLUMNS} columns were looked at"));
    }
    Ok(Built::Done(Box::new(Understood {
        plan,
        sample: sample.clone(),
        unit,
        order,
        recipe,
        notes,
    })))
}

/// Columns that say something the book has no place for, so that nothing is dropped unsaid.
fn left_out(sample: &Sample) -> Option<String> {
    let names: Vec<String> = sample
        .columns
        .iter()
        .enumerate()
        .filter(|(_, c)| c.role == Some(Role::Ignored) && c.evidence.iter().any(|why| why == NO_PLACE))
        .map(|(i, c)| c.name(i))
        .collect();
    let first = names.first()?;
    let list: Vec<String> = names.iter().take(12).map(|name| format!("'{name}'")).collect();
    let more = if names.len() > 12 {
        format!(" and {} more", names.len() - 12)
    } else {
        String::new()
    };
    let first = first.strip_prefix("column ").unwrap_or(first);
    Some(format!(
        "left out, since the book has no place for it: {}{more}; to keep a column as words, say --as '{first}=note'",
        list.join(", ")
    ))
}

/// Cells of the rows looked at, each with the day that stands above it where it is the first below it.
type SampledRows = Vec<(Vec<String>, Option<String>)>;

/// A table's rows by columns. Days in rows of their own become a column behind the others.
fn sample_of(head: &Head, rows: &SampledRows) -> Sample {
    let mut headings = head.headings.clone();
    let mut cells: Vec<Vec<String>> = rows.iter().map(|(cells, _)| cells.clone()).collect();
    if head.first_day.is_none() {
        return Sample::new(&headings, cells);
    }
    let width = cells.iter().map(Vec::len).max().unwrap_or(0).max(headings.len());
    headings.resize(width, String::new());
    headings.push(day_heading::HEADING.to_owned());
    for (row, (_, day)) in cells.iter_mut().zip(rows) {
        row.resize(width, String::new());
        row.push(day.clone().unwrap_or_default());
    }
    let mut sample = Sample::new(&headings, cells);
    sample.under = Some(width);
    sample
}

/// Rows from a table's start and some spread over the rest of the sample. `first_day`: the day above the first row,
/// where days stand in rows of their own.
fn sample_rows(rows: &[u8], delimiter: u8, first_day: Option<&str>) -> SampledRows {
    let mut day = first_day.map(str::to_owned);
    let (mut records, mut fields, mut out) = (Records::new(rows, delimiter), Vec::new(), Vec::new());
    let mut spread_every = 1;
    let mut seen = 0usize;
    while let Some(range) = records.next(&mut fields) {
        let raw = &rows[range.clone()];
        if raw.starts_with(b"#") || raw.trim_ascii().is_empty() {
            continue;
        }
        if !raw.iter().any(u8::is_ascii_digit) && seen > 0 && is_heading_record(rows, &fields) {
            break;
        }
        if first_day.is_some()
            && let DayHeading::Day(next) = day_heading::of_record(rows, &fields)
        {
            day = Some(next);
            continue;
        }
        seen += 1;
        if seen == ROWS_TOGETHER {
            let left = (rows.len() - range.end) / (range.end / ROWS_TOGETHER).max(1);
            spread_every = (left / ROWS_SPREAD).max(1);
        }
        if seen > ROWS_TOGETHER && !seen.is_multiple_of(spread_every) {
            continue;
        }
        let looked_at = fields.iter().take(MOST_COLUMNS);
        out.push((looked_at.map(|f| f.text(rows).into_owned()).collect(), day.take()));
        if out.len() >= ROWS_TOGETHER + 2 * ROWS_SPREAD {
            break;
        }
    }
    out
}

/// What the person and the remembered layout say, by column number.
fn asked(sample: &Sample, hints: &Hints, known: Option<&Recipe>, memory: Memory) -> Asked {
    let mut asked = Asked::default();
    for (name, role) in &hints.roles {
        let (column, code) = match column_named(sample, name) {
            Some(column) => (column, None),
            None => {
                let split = name
                    .rsplit_once(':')
                    .and_then(|(column, code)| Some((column_named(sample, column)?, code)));
                match split {
                    Some((column, code)) => (column, Some(code.to_owned())),
                    // Another table of the file may have it.
                    None => continue,
                }
            }
        };
        match code {
            Some(code) => asked.codes.push((column, code, *role)),
            None => asked.roles.push((column, *role)),
        }
    }
    if let Some(known) = known {
        if asked.codes.is_empty() {
            asked.are_codes_remembered = !known.codes.is_empty();
            asked.codes = known
                .codes
                .iter()
                .map(|(column, code, role)| (column.saturating_sub(1), code.clone(), *role))
                .collect();
        }
        for (column, role) in known.roles.iter().enumerate() {
            let is_trusted =
                known.said.contains(&(column + 1)) || (memory == Memory::All && *role != Role::Ignored);
            if is_trusted && !asked.roles.iter().any(|(c, _)| *c == column) {
                asked.remembered.push((column, *role));
            }
        }
    }
    asked
}

/// Columns (from 1) whose role the person said, now or earlier.
fn said(asked: &Asked, known: Option<&Recipe>) -> Vec<usize> {
    let mut said: Vec<usize> = asked.roles.iter().map(|(column, _)| column + 1).collect();
    said.extend(known.iter().flat_map(|k| &k.said));
    said.sort_unstable();
    said.dedup();
    said
}

/// Whether a table has the column that a person named, by itself or with a code behind it.
pub(crate) fn has_column(sample: &Sample, name: &str) -> bool {
    let split = name.rsplit_once(':');
    column_named(sample, name).is_some()
        || split.is_some_and(|(column, _)| column_named(sample, column).is_some())
}

/// A column by heading or by number from 1.
fn column_named(sample: &Sample, name: &str) -> Option<usize> {
    let wanted = fold(name.trim());
    let by_heading = sample
        .columns
        .iter()
        .position(|c| !c.heading.is_empty() && fold(c.heading.trim()) == wanted);
    by_heading.or_else(|| {
        let number: usize = name.trim().parse().ok()?;
        (1..=sample.columns.len()).contains(&number).then(|| number - 1)
    })
}

/// Comma or point, by the cells that hold only one of them.
fn decimal_mark(sample: &Sample, delimiter: u8) -> DecimalMark {
    let is_clock = |c: &&Column| {
        c.profile.dotted_clocks * 2 > c.profile.filled && c.any(&[Concept::Clock, Concept::Time])
    };
    let numbers: Vec<&Column> = sample.columns.iter().filter(|c| !is_clock(c)).collect();
    // '9,999' once is nine thousand; a whole column of such cells has three decimals.
    let comma_cells = |c: &Column| {
        let is_habit = c.profile.grouped_commas * 2 > c.profile.numbers.len();
        c.profile.commas + if is_habit { c.profile.grouped_commas } else { 0 }
    };
    let commas: usize = numbers.iter().map(|c| comma_cells(c)).sum();
    let points: usize = numbers.iter().map(|c| c.profile.points).sum();
    if commas > points || (commas > 0 && delimiter != b',' && points == 0) {
        DecimalMark::Comma
    } else {
        DecimalMark::Point
    }
}

enum Order {
    Settled(Option<(DateOrder, String)>),
    NeedsDates(usize),
}

/// The column whose cells hold the dates.
pub(crate) fn date_column(sample: &Sample) -> Option<usize> {
    sample.of(Role::DateTime).or_else(|| sample.of(Role::Date))
}

/// Settles the order of day, month and year.
fn settle_order(
    sample: &Sample,
    hints: &Hints,
    known: Option<&Recipe>,
    beyond: Beyond<'_>,
) -> Result<Order, Trouble> {
    let Some(column) = date_column(sample) else {
        return Ok(Order::Settled(None));
    };
    let mut own = OrderEvidence::default();
    for row in 0..sample.rows.len() {
        own.add(sample.cell(row, column).as_bytes());
    }
    let evidence = beyond.dates.unwrap_or(&own);
    if let Some(order) = hints.dates {
        if evidence.impossible_share(order) > 0.5 {
            return Err(Trouble::refuse(
                format!("read {}, most dates do not exist", order_words(order)),
                "leave --dates out or give another order",
            ));
        }
        return Ok(Order::Settled(Some((order, "you said so".to_owned()))));
    }
    match evidence.verdict() {
        Verdict::Plain => return Ok(Order::Settled(None)),
        Verdict::Settled(order, why) => return Ok(Order::Settled(Some((order, why)))),
        Verdict::Open => {}
    }
    if beyond.dates.is_none() && !beyond.is_whole {
        return Ok(Order::NeedsDates(column));
    }
    if let Some(order) = beyond.order {
        return Ok(Order::Settled(Some((
            order,
            "as in another table of this file".to_owned(),
        ))));
    }
    if let Some(order) = known.and_then(|k| k.dates) {
        return Ok(Order::Settled(Some((
            order,
            "as with an earlier file of this layout".to_owned(),
        ))));
    }
    Err(Trouble::Ask(ask_order(sample, column)))
}

fn ask_order(sample: &Sample, column: usize) -> Question {
    let example = sample.columns[column]
        .profile
        .examples
        .first()
        .cloned()
        .unwrap_or_default();
    Question {
        ask: format!(
            "dates like '{example}' can be read in more than one way, and nothing in the file settles which"
        ),
        answers: vec![
            (
                "--dates day-first".to_owned(),
                "the day stands first, then the month".to_owned(),
            ),
            (
                "--dates month-first".to_owned(),
                "the month stands first, then the day".to_owned(),
            ),
            (
                "--dates year-first".to_owned(),
                "the year stands first".to_owned(),
            ),
        ],
    }
}

/// The order in words.
pub(crate) fn order_words(order: DateOrder) -> &'static str {
    match order {
        DateOrder::DayFirst => "day first",
        DateOrder::MonthFirst => "month first",
        DateOrder::YearFirst => "year first",
    }
}

type Units = (BTreeMap<usize, UnitRule>, Option<(UnitRule, String)>);

/// Unit rules of every glucose column.
fn units(sample: &Sample, head: &Head, hints: &Hints, known: Option<&Recipe>) -> Result<Units, Trouble> {
    let unit_column = sample
        .of(Role::Unit)
        .filter(|&i| sample.columns[i].profile.said_unit().is_some());
    let remembered = known.and_then(|k| k.unit.as_deref()).and_then(|symbol| {
        [Unit::MgPerDl, Unit::MmolPerL]
            .into_iter()
            .find(|u| u.symbol() == symbol)
    });
    let unit_hints = UnitHints {
        asked: hints.unit,
        remembered,
        preamble: &head.preamble,
        column: unit_column,
    };
    let (mut rules, mut first) = (BTreeMap::new(), None);
    for (i, column) in sample.columns.iter().enumerate() {
        let rule = match column.role {
            Some(Role::Glucose | Role::Scan | Role::BloodGlucose) => unit_rule(sample, i, unit_hints)?,
            Some(Role::Value) => unit_rule(&glucose_rows(sample, i), i, unit_hints)?,
            _ => continue,
        };
        rules.insert(i, rule.0);
        first.get_or_insert(rule);
    }
    Ok((rules, first))
}

/// The sample with only the rows that a kind column calls glucose.
fn glucose_rows(sample: &Sample, value: usize) -> Sample {
    let Some(kind) = sample.of(Role::Kind) else {
        return sample.clone();
    };
    let mut seen: BTreeMap<String, bool> = BTreeMap::new();
    let mut only = sample.clone();
    let profile = &mut only.columns[value].profile;
    profile.numbers.retain(|&(row, _)| {
        let word = sample.cell(row, kind);
        *seen
            .entry(word.to_owned())
            .or_insert_with(|| crate::kind::row_kind(word).is_glucose())
    });
    profile.fractions = profile
        .numbers
        .iter()
        .filter(|(_, v)| v.fract().abs() > 1e-9)
        .count();
    only
}

/// The person whose rows are wanted, where the file tells several apart.
fn subject(sample: &Sample, hints: &Hints, known: Option<&Recipe>) -> Result<Option<String>, Trouble> {
    let Some(column) = sample.of(Role::Subject) else {
        return Ok(None);
    };
    let mut people: Vec<String> = Vec::new();
    for row in 0..sample.rows.len() {
        let name = sample.cell(row, column);
        if !name.is_empty() && !people.iter().any(|p| p == name) {
            people.push(name.to_owned());
        }
    }
    let wanted = hints
        .subject
        .clone()
        .or_else(|| known.and_then(|k| k.subject.clone()));
    match wanted {
        Some(name) => Ok(Some(name)),
        None if people.len() <= 1 => Ok(people.pop()),
        None => {
            people.sort();
            let answers = people
                .iter()
                .map(|p| (format!("--subject '{p}'"), format!("only the rows of {p}")))
                .collect();
            Err(Trouble::Ask(Question {
                ask: format!(
                    "the file holds {} people in '{}'; whose rows are they to be?",
                    people.len(),
                    sample.columns[column].heading
                ),
                answers,
            }))
        }
    }
}

/// The zone in words, and where it came from.
pub(crate) fn zone_words(plan: &Plan, zone: &(Zone, ZoneSource)) -> String {
    let has_wall = matches!(
        plan.time,
        TimeSource::Moment(_) | TimeSource::DateAndClock(..) | TimeSource::Serial(_)
    );
    if plan.has_offsets {
        return "as in the file, row by row".to_owned();
    }
    if plan.is_universal || !has_wall {
        return "universal time, by the file".to_owned();
    }
    let source = match zone.1 {
        ZoneSource::File => "by the file",
        ZoneSource::Asked => "as you said",
        ZoneSource::Book => "the book's zone",
        ZoneSource::Machine => "this machine's zone; say another where the device was set to one",
    };
    format!("{} ({source})", zone.0.name())
}
