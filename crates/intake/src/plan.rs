//! A table's layout, understood and ready to read rows by the million.

use std::collections::BTreeMap;

use interstice_glucose::{BloodSource, Delivery, InsulinKind, MarkKind, TraceKind, Zone};

use crate::api::{DateOrder, Role};
use crate::column::{Column, Sample};
use crate::concept::{Concept, Concepts};
use crate::insulin::kind_in;
use crate::kind::RowKind;
use crate::number::DecimalMark;
use crate::roles::{Asked, is_rate};
use crate::unit::UnitRule;
use crate::when::is_serial;

/// Where a row's time stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum TimeSource {
    Moment(usize),
    DateAndClock(usize, usize),
    /// Seconds or milliseconds since 1970.
    Epoch(usize),
    /// Days since the end of 1899.
    Serial(usize),
}

/// Where a glucose value belongs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Place {
    Trace(TraceKind),
    Blood(BloodSource),
}

/// What to do with a cell.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Cell {
    Glucose {
        place: Place,
        unit: UnitRule,
        trace: String,
    },
    Dose(InsulinKind, Delivery),
    InsulinText(Delivery),
    Carbohydrate,
    Protein,
    Fat,
    Fibre,
    Energy {
        kilojoule: bool,
    },
    /// Food in words; a heading to put before numbers that are not grams.
    FoodText(String),
    Ketones,
    /// Minutes, or words.
    Activity(f64),
    Sleep(f64),
    Medicine,
    Symptom,
    Device,
    Value,
}

/// Which way the rows of a day go.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Carry {
    Forward,
    Backward,
    /// The day stands in a row of its own above them, and they may stand in any order.
    Under,
}

impl Carry {
    /// Whether a row's second of the day may follow the one above it within a day.
    pub(crate) fn allows(self, above: i64, here: i64) -> bool {
        match self {
            Carry::Forward => here >= above,
            Carry::Backward => here <= above,
            Carry::Under => true,
        }
    }
}

/// An offset column.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct OffsetColumn {
    pub(crate) column: usize,
    /// Seconds in one of its units.
    pub(crate) scale: f64,
    /// The times are universal already; the offset only tells the wall clock.
    pub(crate) times_are_universal: bool,
}

/// A table ready to be read.
#[derive(Clone, Debug)]
pub(crate) struct Plan {
    pub(crate) delimiter: u8,
    pub(crate) mark: DecimalMark,
    pub(crate) headings: Vec<String>,
    pub(crate) heading_line: Vec<u8>,
    pub(crate) time: TimeSource,
    pub(crate) order: DateOrder,
    /// The order is known by evidence: whether it changes on the way is watched.
    pub(crate) is_order_watched: bool,
    /// A date stands only in the first row of its day; the rows after it go on this way through the day.
    pub(crate) carry: Option<Carry>,
    /// The day above the first row, as it is written, where days stand in rows of their own.
    pub(crate) first_day: Option<String>,
    /// Says whether a time is before or after noon.
    pub(crate) half: Option<usize>,
    pub(crate) offset: Option<OffsetColumn>,
    /// Most rows give an offset themselves.
    pub(crate) has_offsets: bool,
    /// Wall times are universal time although they do not say so row by row.
    pub(crate) is_universal: bool,
    pub(crate) local: Option<usize>,
    pub(crate) end: Option<usize>,
    /// Column and seconds in one of its units.
    pub(crate) duration: Option<(usize, f64)>,
    pub(crate) cells: Vec<(usize, Cell)>,
    pub(crate) kind: Option<usize>,
    /// Columns of glucose that only the kind column tells apart: a row of unknown kind cannot be placed.
    pub(crate) by_kind_only: Vec<usize>,
    pub(crate) codes: BTreeMap<String, RowKind>,
    /// Codes were named by the person: a code without a name is rejected as such.
    pub(crate) is_coded: bool,
    pub(crate) unit_column: Option<usize>,
    /// Unit of values that a kind column calls glucose.
    pub(crate) value_unit: UnitRule,
    pub(crate) flag: Option<usize>,
    pub(crate) sensor: Option<usize>,
    pub(crate) site: Option<usize>,
    pub(crate) subject: Option<(usize, String)>,
    pub(crate) insulin_kind: Option<usize>,
    pub(crate) insulin_codes: BTreeMap<String, (InsulinKind, Delivery)>,
    pub(crate) notes: Vec<usize>,
    /// Rows that are spans of time: nights, activities.
    pub(crate) span: Option<MarkKind>,
    /// Place of glucose whose kind no word says.
    pub(crate) plain: Place,
    /// Basal entries without a unit are rates.
    pub(crate) basal_is_rate: bool,
    pub(crate) zone: Zone,
    pub(crate) is_sheet: bool,
}

impl Plan {
    /// Heading of a column, or its number where it has none.
    pub(crate) fn column_name(&self, column: usize) -> String {
        match self.headings.get(column).map(String::as_str) {
            None | Some("") => format!("column {}", column + 1),
            Some(heading) => heading.to_owned(),
        }
    }
}

/// Pieces decided before a plan is compiled.
pub(crate) struct Settled<'a> {
    pub(crate) delimiter: u8,
    pub(crate) mark: DecimalMark,
    pub(crate) order: DateOrder,
    pub(crate) is_order_watched: bool,
    pub(crate) zone: Zone,
    /// Unit rules by column.
    pub(crate) units: &'a BTreeMap<usize, UnitRule>,
    pub(crate) subject: Option<String>,
    pub(crate) asked: &'a Asked,
    pub(crate) heading_line: Vec<u8>,
    pub(crate) first_day: Option<String>,
    pub(crate) is_sheet: bool,
}

/// Turns roles into a plan.
pub(crate) fn compile(sample: &Sample, settled: Settled<'_>) -> Option<Plan> {
    let span = span_kind(sample);
    let duration = sample.of(Role::Duration).map(|i| (i, duration_scale(sample, i)));
    let kind = sample.of(Role::Kind);
    let plain = plain_place(sample);
    let value = sample.of(Role::Value).or_else(|| sample.of(Role::Glucose));
    let mut plan = Plan {
        delimiter: settled.delimiter,
        mark: settled.mark,
        headings: sample.columns.iter().map(|c| c.heading.clone()).collect(),
        heading_line: settled.heading_line,
        time: time_source(sample)?,
        order: settled.order,
        is_order_watched: settled.is_order_watched,
        carry: sample.carry,
        first_day: settled.first_day,
        half: sample.half,
        offset: offset_column(sample, span),
        has_offsets: false,
        is_universal: false,
        local: sample.of(Role::LocalTime),
        end: sample.of(Role::End),
        duration,
        cells: Vec::new(),
        kind,
        by_kind_only: by_kind_only(sample, kind),
        codes: codes(settled.asked, kind),
        is_coded: !settled.asked.codes.is_empty(),
        unit_column: sample.of(Role::Unit),
        value_unit: value
            .and_then(|v| settled.units.get(&v).copied())
            .unwrap_or(UnitRule::ByRow(None)),
        flag: sample.of(Role::Flag),
        sensor: sample.of(Role::Sensor),
        site: sample.of(Role::Site),
        subject: sample.of(Role::Subject).zip(settled.subject),
        insulin_kind: sample.of(Role::InsulinKind),
        insulin_codes: insulin_codes(sample),
        notes: (0..sample.columns.len())
            .filter(|&i| sample.columns[i].role == Some(Role::Note))
            .collect(),
        span: span.filter(|_| duration.is_some() || sample.of(Role::End).is_some()),
        plain,
        basal_is_rate: basal_is_rate(sample),
        zone: settled.zone,
        is_sheet: settled.is_sheet,
    };
    let moment = match plan.time {
        TimeSource::Moment(i) => Some(&sample.columns[i]),
        _ => None,
    };
    plan.has_offsets =
        moment.is_some_and(|c| c.profile.offsets * 2 > c.profile.filled) || plan.offset.is_some();
    plan.is_universal = !plan.has_offsets && moment.is_some_and(|c| c.has(Concept::Universal));
    plan.cells = cells(sample, &plan, settled.units);
    Some(plan)
}

fn by_kind_only(sample: &Sample, kind: Option<usize>) -> Vec<usize> {
    if kind.is_none() {
        return Vec::new();
    }
    let is_open = |c: &Column| {
        c.role == Some(Role::Glucose) && c.confidence < 1.0 && !c.any(&[Concept::Sensor, Concept::Stored])
    };
    (0..sample.columns.len())
        .filter(|&i| is_open(&sample.columns[i]))
        .collect()
}

fn time_source(sample: &Sample) -> Option<TimeSource> {
    if let Some(i) = sample.of(Role::DateTime) {
        let column = &sample.columns[i];
        let p = &column.profile;
        return Some(if p.epochs * 2 > p.filled {
            TimeSource::Epoch(i)
        } else if is_serial(column) {
            TimeSource::Serial(i)
        } else {
            TimeSource::Moment(i)
        });
    }
    Some(TimeSource::DateAndClock(
        sample.of(Role::Date)?,
        sample.of(Role::TimeOfDay)?,
    ))
}

/// What each column with a payload is read as.
fn cells(sample: &Sample, plan: &Plan, units: &BTreeMap<usize, UnitRule>) -> Vec<(usize, Cell)> {
    let glucoses = sample
        .columns
        .iter()
        .filter(|c| c.role == Some(Role::Glucose))
        .count();
    let mut cells = Vec::new();
    for (i, column) in sample.columns.iter().enumerate() {
        let unit = || units.get(&i).copied().unwrap_or(UnitRule::ByRow(None));
        let glucose = |place, trace: String| Cell::Glucose {
            place,
            unit: unit(),
            trace,
        };
        let cell = match column.role {
            Some(Role::Glucose) => {
                let trace = if glucoses > 1 && plan.sensor.is_none() {
                    column.heading.clone()
                } else {
                    String::new()
                };
                glucose(Place::Trace(TraceKind::Automatic), trace)
            }
            Some(Role::Scan) => glucose(Place::Trace(TraceKind::Scan), String::new()),
            Some(Role::BloodGlucose) => {
                let lab = column.concepts.has(Concept::Laboratory);
                glucose(
                    Place::Blood(if lab {
                        BloodSource::Laboratory
                    } else {
                        BloodSource::Meter
                    }),
                    String::new(),
                )
            }
            Some(role) => match other_cell(role, &column.heading, column.concepts, plan) {
                Some(cell) => cell,
                None => continue,
            },
            None => continue,
        };
        cells.push((i, cell));
    }
    cells
}

fn other_cell(role: Role, heading: &str, concepts: Concepts, plan: &Plan) -> Option<Cell> {
    let named = |kind| kind_in(heading).unwrap_or(kind);
    Some(match role {
        Role::RapidInsulin => Cell::Dose(named_or_bolus(heading, InsulinKind::Rapid), Delivery::AtOnce),
        Role::ShortInsulin => Cell::Dose(InsulinKind::Short, Delivery::AtOnce),
        Role::IntermediateInsulin => Cell::Dose(InsulinKind::Intermediate, Delivery::AtOnce),
        Role::LongInsulin => Cell::Dose(InsulinKind::Long, Delivery::AtOnce),
        Role::MixedInsulin => Cell::Dose(InsulinKind::Mixed, Delivery::AtOnce),
        Role::Insulin => Cell::Dose(named(InsulinKind::Unsaid), Delivery::AtOnce),
        Role::BasalRate => Cell::Dose(named(InsulinKind::Rapid), Delivery::BasalRate),
        Role::IntravenousInsulin => Cell::InsulinText(Delivery::Intravenous),
        Role::InsulinText => Cell::InsulinText(Delivery::AtOnce),
        Role::Carbohydrate => Cell::Carbohydrate,
        Role::Protein => Cell::Protein,
        Role::Fat => Cell::Fat,
        Role::Fibre => Cell::Fibre,
        Role::Energy => Cell::Energy {
            kilojoule: heading.to_lowercase().contains("kj"),
        },
        Role::FoodText => Cell::FoodText(if concepts.has(Concept::Exchange) {
            format!("{heading} ")
        } else {
            String::new()
        }),
        Role::Ketones => Cell::Ketones,
        Role::Activity => Cell::Activity(scale_of(concepts).unwrap_or(60.0)),
        Role::Sleep if plan.span.is_none() => Cell::Sleep(scale_of(concepts).unwrap_or(3600.0)),
        Role::Medicine => Cell::Medicine,
        Role::Symptom => Cell::Symptom,
        Role::Device => Cell::Device,
        Role::Value => Cell::Value,
        _ => return None,
    })
}

/// A pump's bolus of regular insulin is short-acting, not rapid.
fn named_or_bolus(heading: &str, otherwise: InsulinKind) -> InsulinKind {
    match kind_in(heading) {
        Some(InsulinKind::Short) => InsulinKind::Short,
        _ => otherwise,
    }
}

fn scale_of(concepts: Concepts) -> Option<f64> {
    if concepts.has(Concept::Minute) {
        Some(60.0)
    } else if concepts.has(Concept::Hour) {
        Some(3600.0)
    } else if concepts.has(Concept::SecondUnit) {
        Some(1.0)
    } else {
        None
    }
}

/// Seconds in one unit of a duration column: by its heading, else by its size.
fn duration_scale(sample: &Sample, i: usize) -> f64 {
    let column = &sample.columns[i];
    scale_of(column.concepts).unwrap_or_else(|| match column.profile.quantile(0.5) {
        Some(middle) if middle > 1440.0 => 1.0,
        Some(middle) if middle < 13.0 && column.profile.fractions > 0 => 3600.0,
        _ => 60.0,
    })
}

/// Tables of nights or of activities, by their headings, where no glucose stands in them.
fn span_kind(sample: &Sample) -> Option<MarkKind> {
    let has_other = sample.columns.iter().any(|c| {
        matches!(
            c.role,
            Some(
                Role::Glucose
                    | Role::BloodGlucose
                    | Role::Scan
                    | Role::Value
                    | Role::Kind
                    | Role::RapidInsulin
                    | Role::Insulin
                    | Role::Carbohydrate
                    | Role::BasalRate
            )
        )
    });
    if has_other {
        return None;
    }
    let count = |concept| sample.columns.iter().filter(|c| c.concepts.has(concept)).count();
    let (sleep, activity) = (count(Concept::Sleep), count(Concept::Activity));
    if sleep == 0 && activity == 0 {
        return None;
    }
    Some(if sleep >= activity {
        MarkKind::Sleep
    } else {
        MarkKind::Activity
    })
}

/// An offset column, and whether the times beside it are universal: for nights, the reading that puts them at
/// night; otherwise times are taken as the wall clock.
fn offset_column(sample: &Sample, span: Option<MarkKind>) -> Option<OffsetColumn> {
    let column = sample.of(Role::Offset)?;
    let c = &sample.columns[column];
    let largest = c.profile.numbers.iter().fold(0.0f64, |m, &(_, v)| m.max(v.abs()));
    let scale = if largest <= 15.0 {
        3600.0
    } else if largest <= 900.0 {
        60.0
    } else {
        1.0
    };
    let named = sample
        .of(Role::DateTime)
        .is_some_and(|i| sample.columns[i].concepts.has(Concept::Universal));
    let night = |add: bool| {
        let hours = (0..sample.rows.len()).filter_map(|row| {
            let offset: f64 = sample.number(row, column)?;
            let wall = sample.walls[row]? as f64 + if add { offset * scale } else { 0.0 };
            Some((wall / 3600.0).rem_euclid(24.0))
        });
        hours.filter(|&h| !(4.0..20.5).contains(&h)).count()
    };
    let is_epoch = matches!(time_source(sample), Some(TimeSource::Epoch(_)));
    let times_are_universal =
        named || is_epoch || (span == Some(MarkKind::Sleep) && night(true) > night(false));
    Some(OffsetColumn {
        column,
        scale,
        times_are_universal,
    })
}

/// Where glucose without a telling word belongs, by its pace.
fn plain_place(sample: &Sample) -> Place {
    let column = sample.of(Role::Glucose).or_else(|| sample.of(Role::Value));
    let Some(column) = column else {
        return Place::Trace(TraceKind::Automatic);
    };
    let spacing = sample.spacing(column);
    let slow = spacing.close_share < 0.5 && spacing.median_s.is_some_and(|s| s >= 40 * 60);
    let forced =
        sample.columns[column].confidence >= 1.0 && sample.columns[column].role == Some(Role::Glucose);
    if slow && !forced {
        Place::Blood(BloodSource::Meter)
    } else {
        Place::Trace(TraceKind::Automatic)
    }
}

fn codes(asked: &Asked, kind: Option<usize>) -> BTreeMap<String, RowKind> {
    let of_kind = asked.codes.iter().filter(|(column, _, _)| Some(*column) == kind);
    of_kind
        .map(|(_, code, role)| (crate::fold::fold(code), RowKind::of_role(*role)))
        .collect()
}

/// What each word or code of an insulin-kind column stands for: by its word, else by how often and how much.
fn insulin_codes(sample: &Sample) -> BTreeMap<String, (InsulinKind, Delivery)> {
    let mut codes = BTreeMap::new();
    let Some(column) = sample.of(Role::InsulinKind) else {
        return codes;
    };
    let dose = [
        Role::BasalRate,
        Role::LongInsulin,
        Role::RapidInsulin,
        Role::Insulin,
        Role::Value,
    ]
    .iter()
    .find_map(|&r| sample.of(r));
    let basal =
        dose.is_some_and(|i| matches!(sample.columns[i].role, Some(Role::BasalRate | Role::LongInsulin)));
    for word in sample.columns[column].profile.words.keys() {
        if let Some(kind) = kind_in(word) {
            codes.insert(word.clone(), (kind, Delivery::AtOnce));
        } else if let Some(dose) = dose.filter(|_| basal) {
            codes.insert(word.clone(), by_habit(sample, column, dose, word));
        }
    }
    codes
}

/// A code of basal insulin: many small values a day are a rate, one or two large ones are long-acting doses.
fn by_habit(sample: &Sample, column: usize, dose: usize, word: &str) -> (InsulinKind, Delivery) {
    let rows: Vec<usize> = (0..sample.rows.len())
        .filter(|&r| crate::fold::fold(sample.cell(r, column)) == *word)
        .collect();
    let mut values: Vec<f64> = rows.iter().filter_map(|&r| sample.number(r, dose)).collect();
    values.sort_by(f64::total_cmp);
    let mut days: Vec<i64> = rows
        .iter()
        .filter_map(|&r| Some(sample.walls[r]?.div_euclid(86_400)))
        .collect();
    let entries = days.len();
    days.sort_unstable();
    days.dedup();
    let per_day = entries as f64 / days.len().max(1) as f64;
    let median = values.get(values.len() / 2).copied().unwrap_or(0.0);
    if is_rate(per_day, median) {
        (InsulinKind::Rapid, Delivery::BasalRate)
    } else {
        (InsulinKind::Long, Delivery::AtOnce)
    }
}

/// Whether basal entries without a unit are rates.
fn basal_is_rate(sample: &Sample) -> bool {
    let (Some(kind), Some(value)) = (sample.of(Role::Kind), sample.of(Role::Value)) else {
        return false;
    };
    let words: Vec<String> = sample.columns[kind]
        .profile
        .words
        .keys()
        .filter(|w| crate::kind::row_kind(w) == RowKind::Basal)
        .cloned()
        .collect();
    words
        .iter()
        .any(|word| by_habit(sample, kind, value, word).1 == Delivery::BasalRate)
}
