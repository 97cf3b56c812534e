//! How a table was understood, in words.

use interstice_glucose::{Draft, LivedClock, MarkKind, Second, TraceKind, Zone};

use crate::api::{ColumnView, Role, TableView};
use crate::assemble::Assembly;
use crate::column::{Column, Sample};
use crate::number::DecimalMark;
use crate::plan::{Carry, Plan, TimeSource};
use crate::rows::RowReader;
use crate::understand::{Understood, order_words, zone_words};
use crate::unit::UnitRule;

/// Parsed rows shown.
const SHOWN: usize = 6;

/// The view of an understood table.
pub(crate) fn table_view(
    place: &str,
    encoding: &str,
    table: &Understood,
    rows: &[u8],
    zone: &(Zone, crate::api::ZoneSource),
) -> TableView {
    let plan = &table.plan;
    TableView {
        place: place.to_owned(),
        format: format(plan, encoding),
        columns: columns(&table.sample),
        unit: table
            .unit
            .as_ref()
            .map(|(rule, why)| (unit_words(*rule), why.clone())),
        time_rule: time_rule(table),
        zone: zone_words(plan, zone),
        parsed: parsed(plan, rows),
        interval_min: None,
    }
}

/// The view of a table that raised a question or holds nothing.
pub(crate) fn troubled_view(place: &str, encoding: &str, sample: &Sample) -> TableView {
    TableView {
        place: place.to_owned(),
        format: encoding.to_owned(),
        columns: columns(sample),
        unit: None,
        time_rule: "not settled".to_owned(),
        zone: "not settled".to_owned(),
        parsed: Vec::new(),
        interval_min: None,
    }
}

fn columns(sample: &Sample) -> Vec<ColumnView> {
    let view = |(i, c): (usize, &Column)| ColumnView {
        number: i + 1,
        heading: c.heading.clone(),
        role: c.role.unwrap_or(Role::Ignored),
        confidence: (c.confidence * 100.0).round() / 100.0,
        evidence: c.evidence.clone(),
        examples: c.profile.examples.clone(),
    };
    sample.columns.iter().enumerate().map(view).collect()
}

fn format(plan: &Plan, encoding: &str) -> String {
    if plan.is_sheet {
        return "spreadsheet".to_owned();
    }
    let delimiter = match plan.delimiter {
        b';' => "semicolons",
        b'\t' => "tabs",
        b'|' => "vertical bars",
        _ => "commas",
    };
    let mark = match plan.mark {
        DecimalMark::Point => "decimal point",
        DecimalMark::Comma => "decimal comma",
    };
    format!("{encoding}, fields parted by {delimiter}, {mark}")
}

fn unit_words(rule: UnitRule) -> String {
    match rule {
        UnitRule::Fixed(crate::cell::SaidUnit::GramPerL) => "g/L, kept as mg/dL".to_owned(),
        UnitRule::ByRow(_) => "row by row".to_owned(),
        rule => rule
            .main()
            .map_or("not known".to_owned(), |u| u.symbol().to_owned()),
    }
}

fn time_rule(table: &Understood) -> String {
    let plan = &table.plan;
    let name = |i: usize| plan.column_name(i);
    let mut text = match plan.time {
        TimeSource::Moment(i) => format!("date and time in '{}'", name(i)),
        TimeSource::DateAndClock(_, c) if plan.carry == Some(Carry::Under) => {
            format!(
                "time of day in '{}', of the day that stands above the rows",
                name(c)
            )
        }
        TimeSource::DateAndClock(d, c) => format!("date in '{}', time of day in '{}'", name(d), name(c)),
        TimeSource::Epoch(i) => format!("seconds or milliseconds since 1970 in '{}'", name(i)),
        TimeSource::Serial(i) => format!("spreadsheet days in '{}'", name(i)),
    };
    match &table.order {
        Some((order, why)) => text.push_str(&format!("; {}: {why}", order_words(*order))),
        None if matches!(plan.time, TimeSource::Moment(_) | TimeSource::DateAndClock(..)) => {
            text.push_str("; the order of the date is plain")
        }
        None => {}
    }
    if let Some(half) = plan.half {
        text.push_str(&format!("; before or after noon by '{}'", name(half)));
    }
    if plan.carry.is_some_and(|carry| carry != Carry::Under) {
        text.push_str("; a date stands only in the first row of its day and holds for the rows after it");
    }
    if let Some(offset) = plan.offset {
        let what = if offset.times_are_universal {
            "times are universal"
        } else {
            "times are the wall clock"
        };
        text.push_str(&format!("; offsets in '{}', {what}", name(offset.column)));
    }
    text
}

/// The first rows as they are parsed, in words.
fn parsed(plan: &Plan, rows: &[u8]) -> Vec<String> {
    let end = memchr::memchr_iter(b'\n', rows)
        .nth(40)
        .map_or(rows.len(), |at| at + 1);
    let block = RowReader::new(plan).read_block(&rows[..end]);
    let mut assembly = Assembly::default();
    let mut state = assembly.begin(0);
    assembly.append(&mut state, block, 0);
    assembly.end(state, plan, "");
    let (draft, _, _) = assembly.finish(&plan.zone);
    in_words(&draft, &plan.zone)
}

/// The first entries of a draft, in time order.
fn in_words(draft: &Draft, zone: &Zone) -> Vec<String> {
    let mut lines: Vec<(Second, String)> = Vec::new();
    for trace in &draft.traces {
        let kind = if trace.kind == TraceKind::Scan {
            "scan"
        } else {
            "reading"
        };
        let sensor = if trace.sensor.is_empty() {
            String::new()
        } else {
            format!(" of {}", trace.sensor)
        };
        for (&at, &level) in trace.readings.at().iter().zip(trace.readings.level()).take(SHOWN) {
            lines.push((
                Second::from(at),
                format!("{kind}{sensor}: {}", draft.levels.get(level).said),
            ));
        }
    }
    lines.extend(
        draft
            .blood_checks
            .iter()
            .take(SHOWN)
            .map(|b| (b.at, format!("blood check: {}", b.said))),
    );
    lines.extend(draft.doses.iter().take(SHOWN).map(|d| {
        let unit = if d.delivery == interstice_glucose::Delivery::BasalRate {
            "U/h"
        } else {
            "U"
        };
        (
            d.at,
            format!("insulin ({:?}): {} {unit}", d.insulin, d.units)
                .to_lowercase()
                .replace(" u", " U"),
        )
    }));
    lines.extend(draft.meals.iter().take(SHOWN).map(|m| {
        let grams = m
            .carbohydrate_g
            .map_or(String::new(), |g| format!(" {g} g carbohydrate"));
        (
            m.at,
            format!("meal:{grams} {}", m.text.clone().unwrap_or_default())
                .trim()
                .to_owned(),
        )
    }));
    lines.extend(
        draft
            .marks
            .iter()
            .filter(|m| m.kind != MarkKind::Artefact)
            .take(SHOWN)
            .map(|m| {
                let value = m.value.map_or(String::new(), |v| format!(" {v}"));
                (
                    m.at,
                    format!("{:?}:{value} {}", m.kind, m.text.clone().unwrap_or_default())
                        .to_lowercase()
                        .trim()
                        .to_owned(),
                )
            }),
    );
    lines.extend(draft.sensor_notes.iter().take(SHOWN).map(|n| {
        (
            n.at,
            format!("sensor {} {:?}", n.sensor.clone().unwrap_or_default(), n.kind).to_lowercase(),
        )
    }));
    lines.sort();
    lines.truncate(SHOWN);
    let (Some(first), Some(last)) = (lines.first().map(|l| l.0), lines.last().map(|l| l.0)) else {
        return Vec::new();
    };
    let clock = LivedClock::new(zone, &draft.lived, first, last);
    lines
        .into_iter()
        .map(|(at, text)| format!("{} {text}", clock.moment(at)))
        .collect()
}
