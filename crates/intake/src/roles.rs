//! Which column holds what, scored from its heading, its values and its companions.

use std::collections::BTreeMap;

use crate::api::{Question, Role};
use crate::cell::SaidUnit;
use crate::column::{Column, Sample};
use crate::companions::{settle_insulin_kind, settle_prose, settle_twins};
use crate::concept::Concept;
use crate::insulin::kind_of;
use crate::kind::{RowKind, row_kind};
use crate::when::assign_time;
use interstice_glucose::{InsulinKind, Unit, counted};

/// Why a table cannot be read as it stands.
#[derive(Clone, Debug)]
pub(crate) enum Trouble {
    /// Only the person can say.
    Ask(Question),
    /// It holds nothing for the book.
    Refuse { what: String, next: String },
}

impl Trouble {
    pub(crate) fn refuse(what: impl Into<String>, next: impl Into<String>) -> Self {
        Trouble::Refuse {
            what: what.into(),
            next: next.into(),
        }
    }
}

/// What the person or a remembered layout says about columns.
#[derive(Clone, Debug, Default)]
pub(crate) struct Asked {
    /// Column and role.
    pub(crate) roles: Vec<(usize, Role)>,
    /// The same from a remembered layout.
    pub(crate) remembered: Vec<(usize, Role)>,
    /// Column, code and role.
    pub(crate) codes: Vec<(usize, String, Role)>,
    /// The codes come from a remembered layout.
    pub(crate) are_codes_remembered: bool,
}

/// Why a column is left out where nothing else is known of it.
pub(crate) const NO_PLACE: &str = "nothing the book has a place for";

/// Gives every column a role.
pub(crate) fn assign(sample: &mut Sample, asked: &Asked) -> Result<(), Trouble> {
    for &(column, role) in &asked.roles {
        if let Some(column) = sample.columns.get_mut(column) {
            column.take(role, 1.0, "you said so");
        }
    }
    for &(column, role) in &asked.remembered {
        if let Some(column) = sample.columns.get_mut(column) {
            column.take(role, 1.0, "as with an earlier file of this layout");
        }
    }
    assign_time(sample)?;
    let why = if asked.are_codes_remembered {
        "its codes mean what you said for an earlier file of this layout"
    } else {
        "you said what its codes are"
    };
    for &(column, _, _) in &asked.codes {
        if let Some(column) = sample.columns.get_mut(column) {
            column.take(Role::Kind, 1.0, why);
        }
    }
    for i in 0..sample.columns.len() {
        if sample.columns[i].is_open() {
            by_content(sample, i);
        }
    }
    for i in 0..sample.columns.len() {
        if sample.columns[i].is_open() {
            by_heading(sample, i);
        }
    }
    settle_values(sample, asked)?;
    settle_twins(sample);
    settle_insulin_kind(sample);
    settle_prose(sample);
    for column in &mut sample.columns {
        let why = if column.profile.filled == 0 {
            "empty"
        } else {
            NO_PLACE
        };
        column.take(Role::Ignored, 0.5, why);
    }
    check_payload(sample)
}

/// Columns that show what they are by their cells: units, kinds of row, marks, free text on insulin.
fn by_content(sample: &mut Sample, i: usize) {
    let column = &sample.columns[i];
    let p = &column.profile;
    if p.filled == 0 || !p.is_text() {
        return;
    }
    let has_units = p.share(p.units) >= 0.2 && p.units > 0;
    if (has_units || column.has(Concept::Unit)) && p.distinct() <= 20 && all_units(column) {
        sample.columns[i].take(Role::Unit, 0.95, "cells are units");
    } else if p.share(p.insulin_amounts) >= 0.5 {
        let (role, why) = if column.has(Concept::Intravenous) {
            (
                Role::IntravenousInsulin,
                "amounts of insulin in words, named as given into a vein",
            )
        } else {
            (Role::InsulinText, "amounts of insulin in words")
        };
        sample.columns[i].take(role, 0.9, why);
    } else if is_flag(column) {
        sample.columns[i].take(Role::Flag, 0.9, "cells mark values below or above the range");
    } else if let Some((confidence, why)) = kind_evidence(column)
        && sample.of(Role::Kind).is_none()
    {
        sample.columns[i].take(Role::Kind, confidence, why);
    }
}

/// Units of anything a log holds.
fn all_units(column: &Column) -> bool {
    const UNITS: &[Concept] = &[
        Concept::MgPerDl,
        Concept::MmolPerL,
        Concept::GramPerL,
        Concept::Gram,
        Concept::InsulinUnit,
        Concept::PerHour,
        Concept::Minute,
        Concept::Hour,
        Concept::SecondUnit,
        Concept::Kcal,
    ];
    column
        .profile
        .word_concepts()
        .iter()
        .all(|(word, _, c)| word.len() <= 10 && c.any(UNITS))
}

fn is_flag(column: &Column) -> bool {
    let p = &column.profile;
    let marks = |text: &str| {
        let c = crate::concept::concepts_of(text);
        c.any(&[Concept::Low, Concept::High, Concept::WarmUp])
            && !c.any(&[Concept::Food, Concept::Insulin, Concept::Activity])
    };
    let marked: usize = p
        .words
        .iter()
        .filter(|(word, _)| word.len() <= 20 && marks(word))
        .map(|(_, n)| n)
        .sum();
    p.distinct() <= 12
        && !column.any(&[Concept::Trend, Concept::Note, Concept::Food])
        && p.share(marked) >= 0.7
}

/// How surely a column of words says what each row is.
fn kind_evidence(column: &Column) -> Option<(f64, String)> {
    let p = &column.profile;
    if p.distinct() > 60
        || p.fill() < 0.3
        || column.any(&[
            Concept::Food,
            Concept::Note,
            Concept::Insulin,
            Concept::Unit,
            Concept::Trend,
            Concept::Site,
        ])
    {
        return None;
    }
    let kinds: Vec<(RowKind, usize)> = p.words.iter().map(|(word, &n)| (row_kind(word), n)).collect();
    let known: usize = kinds
        .iter()
        .filter(|(k, _)| *k != RowKind::Unknown)
        .map(|(_, n)| n)
        .sum();
    let share = p.share(known);
    let named = column.has(Concept::Kind);
    let telling = kinds.iter().any(|(k, _)| {
        !matches!(
            k,
            RowKind::Unknown | RowKind::Glucose | RowKind::Note | RowKind::Device
        )
    });
    (share >= 0.5 && telling && (named || share >= 0.8)).then(|| {
        let words: Vec<&str> = p.words.keys().take(4).map(String::as_str).collect();
        (
            share.min(0.98),
            format!("cells name kinds of row ({})", words.join(", ")),
        )
    })
}

/// Columns whose heading says what they hold, where the cells do not contradict it.
fn by_heading(sample: &mut Sample, i: usize) {
    let column = &sample.columns[i];
    // Whoever heads a column with glucose means glucose, however untidy its cells are.
    let p = &column.profile;
    let is_untidy_glucose = column.has(Concept::Glucose) && p.share(p.numbers.len()) >= 0.3;
    let numeric = p.is_numeric() || p.filled == 0 || is_untidy_glucose;
    let found = if numeric {
        numeric_role(sample, i).or_else(|| (column.profile.filled == 0).then(|| text_role(column)).flatten())
    } else {
        text_role(column)
    };
    if let Some((role, confidence, why)) = found {
        // An empty column keeps its role: rows further on may fill it.
        sample.columns[i].take(role, confidence, why);
    }
}

type Found = (Role, f64, String);

fn found(role: Role, confidence: f64, why: &str) -> Option<Found> {
    Some((role, confidence, why.to_owned()))
}

/// The role of a column of numbers by its heading.
fn numeric_role(sample: &Sample, i: usize) -> Option<Found> {
    let c = &sample.columns[i];
    if c.any(&[Concept::Trend, Concept::Bookkeeping]) && !c.has(Concept::Glucose) {
        return found(Role::Ignored, 0.8, "a trend or a program's own count");
    }
    if c.has(Concept::Ketones) {
        return found(Role::Ketones, 0.9, "named ketones");
    }
    if c.has(Concept::Sensor)
        && !c.any(&[Concept::Glucose, Concept::MgPerDl, Concept::MmolPerL])
        && c.profile.distinct() <= 20
        && c.profile.filled > 20
    {
        return found(Role::Sensor, 0.7, "named after the sensor, few different numbers");
    }
    if c.has(Concept::Subject)
        && !c.any(&[
            Concept::Glucose,
            Concept::Insulin,
            Concept::Sensor,
            Concept::Value,
        ])
    {
        return subject(c);
    }
    insulin_role(sample, i)
        .or_else(|| nutrient_role(c))
        .or_else(|| glucose_role(sample, i))
        .or_else(|| other_number_role(c))
}

/// A number of nutrients, of time or of effort.
fn nutrient_role(c: &Column) -> Option<Found> {
    if c.has(Concept::Glucose) && !c.has(Concept::Carbohydrate) {
        return None;
    }
    if c.has(Concept::Exchange) && !c.has(Concept::Gram) {
        return found(
            Role::FoodText,
            0.6,
            "carbohydrate in exchanges: kept as words, since exchanges differ between countries",
        );
    }
    let table = [
        (Concept::Carbohydrate, Role::Carbohydrate, "named carbohydrate"),
        (Concept::Protein, Role::Protein, "named protein"),
        (Concept::Fibre, Role::Fibre, "named fibre"),
        (Concept::Fat, Role::Fat, "named fat"),
        (Concept::Energy, Role::Energy, "named energy"),
    ];
    let (_, role, why) = table.into_iter().find(|&(concept, _, _)| c.has(concept))?;
    found(role, 0.9, why)
}

fn other_number_role(c: &Column) -> Option<Found> {
    if c.has(Concept::Duration) {
        return found(Role::Duration, 0.9, "named duration");
    }
    if c.has(Concept::Other) {
        return found(Role::Ignored, 0.8, "something the book has no place for");
    }
    if c.has(Concept::Sleep) {
        return found(Role::Sleep, 0.6, "named sleep");
    }
    if c.has(Concept::Activity) {
        return found(Role::Activity, 0.7, "named activity");
    }
    None
}

/// Insulin by heading, with how often and how much it stands there where the heading leaves it open.
fn insulin_role(sample: &Sample, i: usize) -> Option<Found> {
    let c = &sample.columns[i];
    let named = c.any(&[Concept::Insulin, Concept::Bolus, Concept::Basal]);
    let by_kind = c.any(&[
        Concept::Rapid,
        Concept::Short,
        Concept::Intermediate,
        Concept::Long,
        Concept::Mixed,
    ]) && c.any(&[Concept::Dose, Concept::InsulinUnit]);
    if !(named || by_kind)
        || c.any(&[
            Concept::Glucose,
            Concept::MgPerDl,
            Concept::MmolPerL,
            Concept::Carbohydrate,
            Concept::Duration,
        ])
    {
        return None;
    }
    if c.has(Concept::Intravenous) {
        return found(Role::IntravenousInsulin, 0.9, "named insulin into a vein");
    }
    if c.has(Concept::Basal) && !c.has(Concept::Bolus) {
        return Some(basal_role(sample, i));
    }
    let role = match kind_of(c.concepts) {
        Some(InsulinKind::Rapid) => Role::RapidInsulin,
        Some(InsulinKind::Short) => Role::ShortInsulin,
        Some(InsulinKind::Intermediate) => Role::IntermediateInsulin,
        Some(InsulinKind::Long) => Role::LongInsulin,
        Some(InsulinKind::Mixed) => Role::MixedInsulin,
        _ => Role::Insulin,
    };
    found(role, 0.9, "named insulin by how it acts")
}

/// Basal insulin: a pump's rate where so named, or where it changes several times a day in small numbers; else a
/// dose of long-acting insulin.
fn basal_role(sample: &Sample, i: usize) -> Found {
    let c = &sample.columns[i];
    if c.any(&[Concept::PerHour, Concept::Rate]) {
        return (Role::BasalRate, 0.9, "named a basal rate".to_owned());
    }
    let spacing = sample.spacing(i);
    let median = c.profile.quantile(0.5).unwrap_or(0.0);
    if is_rate(spacing.per_day, median) {
        let why = format!(
            "about {:.0} entries a day of {median} units in the middle: a pump's rate, units an hour",
            spacing.per_day
        );
        (Role::BasalRate, 0.8, why)
    } else {
        let why = format!(
            "about {:.1} entries a day of {median} units in the middle: doses of long-acting insulin",
            spacing.per_day
        );
        (Role::LongInsulin, 0.8, why)
    }
}

/// Many small values a day are a rate, one or two large ones are doses.
pub(crate) fn is_rate(per_day: f64, median: f64) -> bool {
    per_day > 2.5 && median < 5.0
}

/// Glucose by heading: whose it is by further words, by companions, and by how it lies in time.
fn glucose_role(sample: &Sample, i: usize) -> Option<Found> {
    let c = &sample.columns[i];
    let unit = c.any(&[Concept::MgPerDl, Concept::MmolPerL, Concept::GramPerL]);
    let place = c.any(&[
        Concept::Sensor,
        Concept::Stored,
        Concept::Scan,
        Concept::Blood,
        Concept::Laboratory,
    ]);
    let plausible = c.profile.filled == 0 || looks_like_glucose(c).is_some();
    if !(c.has(Concept::Glucose) || unit || (place && plausible))
        || (c.has(Concept::Other) && !c.has(Concept::Glucose))
    {
        return None;
    }
    if c.has(Concept::Glucose) && c.any(&[Concept::Unit, Concept::Subject]) && !plausible {
        return None;
    }
    if c.has(Concept::Scan) {
        return found(Role::Scan, 0.9, "named a scan");
    }
    if c.any(&[Concept::Sensor, Concept::Stored]) {
        return found(Role::Glucose, 0.95, "named sensor glucose");
    }
    Some(glucose_by_spacing(
        sample,
        i,
        c.any(&[Concept::Blood, Concept::Laboratory, Concept::Manual]),
    ))
}

/// Values named blood glucose, close to each other, that are still too few to be a sensor's.
const FEW_CHECKS: usize = 12;

/// Readings every few minutes come from a sensor whatever they are called; hours apart they are blood checks.
fn glucose_by_spacing(sample: &Sample, i: usize, named_blood: bool) -> Found {
    let spacing = sample.spacing(i);
    let minutes = spacing.median_s.map_or(f64::NAN, |s| s as f64 / 60.0);
    if sample.of(Role::Kind).is_some() && !named_blood {
        return (
            Role::Glucose,
            0.9,
            "glucose; the kind column says which".to_owned(),
        );
    }
    // A few checks in a row after a low are still checks, and so is all that stands beside a sensor's own column.
    let is_beside = sample.columns.iter().enumerate().any(|(other, c)| {
        other != i && c.has(Concept::Glucose) && c.any(&[Concept::Sensor, Concept::Stored, Concept::Scan])
    });
    let is_sensor_like = spacing.close_share >= 0.5;
    if is_sensor_like && !(named_blood && (is_beside || spacing.entries < FEW_CHECKS)) {
        return (
            Role::Glucose,
            0.95,
            format!(
                "glucose, most readings within 16 minutes of the next (median {minutes:.0} min): a sensor's"
            ),
        );
    }
    if named_blood {
        return (
            Role::BloodGlucose,
            0.9,
            "named blood glucose, not at a sensor's pace".to_owned(),
        );
    }
    match spacing.median_s {
        Some(s) if s < 40 * 60 => (
            Role::Glucose,
            0.7,
            format!("glucose every {minutes:.0} min in the middle: taken as a sensor's"),
        ),
        Some(_) => (
            Role::BloodGlucose,
            0.7,
            format!("glucose {minutes:.0} min apart in the middle: taken as blood checks"),
        ),
        None => (Role::Glucose, 0.6, "glucose; too few to tell the pace".to_owned()),
    }
}

/// The unit in which a column's numbers could be glucose.
pub(crate) fn looks_like_glucose(c: &Column) -> Option<Unit> {
    let p = &c.profile;
    let (low, middle, high) = (p.quantile(0.02)?, p.quantile(0.5)?, p.quantile(0.98)?);
    if (50.0..=350.0).contains(&middle) && low >= 15.0 && high <= 700.0 {
        return Some(Unit::MgPerDl);
    }
    ((2.5..=20.0).contains(&middle) && low >= 0.8 && high <= 36.0).then_some(Unit::MmolPerL)
}

fn subject(c: &Column) -> Option<Found> {
    let p = &c.profile;
    // A name stands in many rows; what differs from row to row only numbers them.
    (p.distinct() <= 1 || p.distinct().saturating_mul(10) <= p.filled)
        .then(|| (Role::Subject, 0.8, "names a person".to_owned()))
}

/// The role of a column of words by its heading.
fn text_role(c: &Column) -> Option<Found> {
    let p = &c.profile;
    let few = p.distinct() <= 60;
    if c.has(Concept::Subject)
        && !c.any(&[Concept::Sensor, Concept::Device, Concept::Food])
        && (p.filled == 0 || p.fill() > 0.9)
        && few
    {
        return subject(c);
    }
    let is_insulin = c.any(&[Concept::Insulin, Concept::Basal, Concept::Bolus]);
    if is_insulin && few && p.filled > 0 {
        return found(Role::InsulinKind, 0.8, "says which insulin");
    }
    if c.any(&[Concept::Food, Concept::Carbohydrate]) {
        return found(Role::FoodText, 0.8, "named food");
    }
    if c.has(Concept::Site) && few {
        return found(Role::Site, 0.8, "named site");
    }
    if c.has(Concept::Sensor) && !c.has(Concept::Glucose) && few {
        return found(Role::Sensor, 0.8, "named after the sensor");
    }
    // Several devices in one file: each has a trace of its own.
    if c.has(Concept::Device)
        && !c.has(Concept::Glucose)
        && (2..=20).contains(&p.distinct())
        && p.fill() > 0.9
    {
        return found(Role::Sensor, 0.7, "names the device of each row");
    }
    let table = [
        (Concept::Medicine, Role::Medicine),
        (Concept::Symptom, Role::Symptom),
        (Concept::Activity, Role::Activity),
        (Concept::Note, Role::Note),
        (Concept::Flag, Role::Flag),
    ];
    let (_, role) = table.into_iter().find(|&(concept, _)| c.has(concept))?;
    found(role, 0.8, "by its heading")
}

/// Numbers still without a role: values that a kind column explains, or glucose by its values alone.
fn settle_values(sample: &mut Sample, asked: &Asked) -> Result<(), Trouble> {
    let open: Vec<usize> = (0..sample.columns.len())
        .filter(|&i| sample.columns[i].is_open())
        .filter(|&i| {
            let p = &sample.columns[i].profile;
            // With a kind beside them, '6.4 mmol/L' and '5 U' are values too.
            p.is_numeric()
                || sample.of(Role::Kind).is_some() && p.share(p.numbers.len().max(p.amounts)) >= 0.6
        })
        .collect();
    if open.is_empty() {
        return Ok(());
    }
    if let Some(kind) = sample.of(Role::Kind) {
        return settle_kind_values(sample, kind, &open, asked);
    }
    if open.len() >= 2
        && let Some((code, value)) = coded_pair(sample, &open)
    {
        return Err(Trouble::Ask(ask_codes(sample, code, value)));
    }
    let has_glucose = [Role::Glucose, Role::BloodGlucose, Role::Scan]
        .iter()
        .any(|&r| sample.of(r).is_some());
    if !has_glucose {
        settle_unnamed_glucose(sample, &open)?;
    }
    Ok(())
}

/// With a kind column, the value is the column named so, else the only number left.
fn settle_kind_values(
    sample: &mut Sample,
    kind: usize,
    open: &[usize],
    asked: &Asked,
) -> Result<(), Trouble> {
    let named = open
        .iter()
        .copied()
        .find(|&i| sample.columns[i].has(Concept::Value));
    let value = named.or(if let [only] = open {
        Some(*only)
    } else {
        open.iter().copied().find(|&i| i > kind)
    });
    if let Some(value) = value.filter(|_| sample.of(Role::Value).is_none()) {
        let why = if asked.codes.is_empty() {
            "a number whose meaning the kind column says"
        } else {
            "a number whose meaning the code says"
        };
        sample.columns[value].take(Role::Value, 0.8, why);
    }
    Ok(())
}

/// A column of few whole numbers that splits another column's values into sorts far apart.
fn coded_pair(sample: &Sample, open: &[usize]) -> Option<(usize, usize)> {
    for &code in open {
        let p = &sample.columns[code].profile;
        let whole =
            p.fractions == 0 && p.distinct() >= 2 && p.distinct() <= 60 && p.distinct() * 3 <= p.filled;
        if !whole || looks_smooth(sample, code) {
            continue;
        }
        for &value in open.iter().filter(|&&v| v != code) {
            let groups = groups(sample, code, value);
            let medians: Vec<f64> = groups
                .values()
                .filter(|v| v.len() >= 3)
                .map(|v| median(v))
                .collect();
            let (low, high) = medians
                .iter()
                .fold((f64::MAX, 0.0f64), |(l, h), &m| (l.min(m), h.max(m)));
            if medians.len() >= 2 && high >= 4.0 * low.max(0.5) && high >= 40.0 {
                return Some((code, value));
            }
        }
    }
    None
}

/// Whether neighbouring rows differ far less than rows at large, as readings of one quantity do.
fn looks_smooth(sample: &Sample, column: usize) -> bool {
    let values = &sample.columns[column].profile.numbers;
    if values.len() < 20 {
        return false;
    }
    let mean = values.iter().map(|v| v.1).sum::<f64>() / values.len() as f64;
    let spread: f64 = values.iter().map(|v| (v.1 - mean).powi(2)).sum::<f64>() / values.len() as f64;
    let step: f64 =
        values.windows(2).map(|w| (w[1].1 - w[0].1).powi(2)).sum::<f64>() / (values.len() - 1) as f64;
    spread > 0.0 && step < 0.5 * spread
}

/// Values of one column by the code in another.
fn groups(sample: &Sample, code: usize, value: usize) -> BTreeMap<String, Vec<f64>> {
    let by_row: BTreeMap<usize, f64> = sample.columns[value].profile.numbers.iter().copied().collect();
    let mut groups: BTreeMap<String, Vec<f64>> = BTreeMap::new();
    for row in 0..sample.rows.len() {
        if let Some(&v) = by_row.get(&row) {
            groups
                .entry(sample.cell(row, code).to_owned())
                .or_default()
                .push(v);
        }
    }
    groups
}

fn median(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted.get(sorted.len() / 2).copied().unwrap_or(0.0)
}

/// Asks what the codes stand for, with what each one's values look like.
fn ask_codes(sample: &Sample, code: usize, value: usize) -> Question {
    let mut sorts: Vec<(String, Vec<f64>)> = groups(sample, code, value).into_iter().collect();
    sorts.sort_by(|a, b| b.1.len().cmp(&a.1.len()).then(a.0.cmp(&b.0)));
    let number = code + 1;
    let answers = sorts
        .iter()
        .map(|(word, values)| {
            let middle = median(values);
            let (low, high) = values
                .iter()
                .fold((f64::MAX, f64::MIN), |(l, h), &v| (l.min(v), h.max(v)));
            let (role, guess) = match middle {
                m if m >= 40.0 => (Role::BloodGlucose, "could be blood glucose in mg/dL"),
                m if m > 0.0 => (Role::Insulin, "could be units of insulin"),
                _ => (Role::Note, "says only that something happened"),
            };
            let text = format!(
                "code {word}: {}, values {low} to {high}, {middle} in the middle; {guess}",
                counted(values.len() as u64, "row", "rows")
            );
            (format!("--as {number}:{word}={}", role.word()), text)
        })
        .collect();
    Question {
        ask: format!(
            "column {number} holds codes that decide what the values in column {} are, and nothing in the file says what the codes stand for. Name those you know (the file's documentation may list them); rows with other codes are kept aside as rejected",
            value + 1
        ),
        answers,
    }
}

/// Glucose without a heading that says so: by its range and by how smoothly it runs.
fn settle_unnamed_glucose(sample: &mut Sample, open: &[usize]) -> Result<(), Trouble> {
    let likely: Vec<usize> = open
        .iter()
        .copied()
        .filter(|&i| looks_like_glucose(&sample.columns[i]).is_some())
        .collect();
    let hinted = sample.columns.iter().any(|c| c.has(Concept::Glucose));
    let sure: Vec<usize> = likely
        .iter()
        .copied()
        .filter(|&i| {
            let dense = sample.spacing(i).close_share >= 0.5;
            (dense && looks_smooth(sample, i))
                || (hinted && (sample.columns[i].has(Concept::Value) || open.len() == 1))
        })
        .collect();
    match (&sure[..], &likely[..]) {
        ([only], _) => {
            let (role, confidence, why) = glucose_by_spacing(sample, *only, false);
            sample.columns[*only].take(
                role,
                confidence.min(0.85),
                format!("values lie and move as glucose does; {why}"),
            );
            Ok(())
        }
        ([], []) => Ok(()),
        (several, likely) => {
            let columns = if several.is_empty() { likely } else { several };
            Err(Trouble::Ask(ask_glucose(sample, columns)))
        }
    }
}

fn ask_glucose(sample: &Sample, columns: &[usize]) -> Question {
    let name = |i: usize| match sample.columns[i].heading.as_str() {
        "" => format!("{}", i + 1),
        heading => heading.to_owned(),
    };
    let answers = columns
        .iter()
        .flat_map(|&i| {
            [
                (Role::Glucose, "sensor readings"),
                (Role::BloodGlucose, "blood checks"),
            ]
            .map(|(role, words)| {
                (
                    format!("--as '{}={}'", name(i), role.word()),
                    format!("column {} holds {words}", i + 1),
                )
            })
        })
        .collect();
    Question {
        ask: "no heading names glucose; which column holds it?".to_owned(),
        answers,
    }
}

pub(crate) fn has_payload(sample: &Sample) -> bool {
    let carries = |role: Role| {
        !matches!(
            role,
            Role::DateTime
                | Role::Date
                | Role::TimeOfDay
                | Role::Offset
                | Role::LocalTime
                | Role::Unit
                | Role::Sensor
                | Role::Site
                | Role::Flag
                | Role::Subject
                | Role::Ignored
                | Role::InsulinKind
                | Role::End
        )
    };
    sample.columns.iter().any(|c| c.role.is_some_and(carries))
}

/// Refuses a table without anything for the book.
fn check_payload(sample: &Sample) -> Result<(), Trouble> {
    if has_payload(sample) {
        return Ok(());
    }
    Err(Trouble::refuse(
        "there are times but no glucose, insulin, food or other entries beside them",
        "if a column holds them, say so: --as COLUMN=glucose (or blood-glucose, or note for words)",
    ))
}

/// The unit a text names, for headings and preambles.
pub(crate) fn unit_of_heading(c: &Column) -> Option<SaidUnit> {
    crate::cell::unit_in(&c.heading)
}
