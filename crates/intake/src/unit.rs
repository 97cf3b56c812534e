//! The unit of a glucose column: by text, else by its values.

use interstice_glucose::Unit;

use crate::api::Question;
use crate::cell::{SaidUnit, unit_in};
use crate::column::{Column, Sample};
use crate::roles::{Trouble, looks_like_glucose, unit_of_heading};

/// How the unit of each value is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum UnitRule {
    /// Said for the whole column.
    Fixed(SaidUnit),
    /// A unit column says it row by row; where it is silent, this.
    ByRow(Option<Unit>),
    /// Nothing says it: by the values, mostly this one, and watched for a change on the way.
    ByValue(Unit),
}

impl UnitRule {
    /// The unit most values are said in.
    pub(crate) fn main(self) -> Option<Unit> {
        match self {
            UnitRule::Fixed(SaidUnit::Of(unit)) | UnitRule::ByValue(unit) => Some(unit),
            UnitRule::Fixed(SaidUnit::GramPerL) => Some(Unit::MgPerDl),
            UnitRule::ByRow(unit) => unit,
        }
    }
}

/// What is known about units outside the column itself.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct UnitHints<'a> {
    /// The person said so.
    pub(crate) asked: Option<Unit>,
    /// A remembered layout says so.
    pub(crate) remembered: Option<Unit>,
    /// Lines before the headings.
    pub(crate) preamble: &'a [String],
    /// The unit column, where there is one that names units of glucose.
    pub(crate) column: Option<usize>,
}

/// The rule for one column, and the evidence in words.
pub(crate) fn unit_rule(
    sample: &Sample,
    i: usize,
    hints: UnitHints<'_>,
) -> Result<(UnitRule, String), Trouble> {
    let column = &sample.columns[i];
    let by_value = looks_like_glucose(column);
    if let Some(unit) = hints.asked {
        return asked(column, unit).map(|()| (UnitRule::Fixed(SaidUnit::Of(unit)), "you said so".to_owned()));
    }
    if hints.column.is_some() {
        return Ok((UnitRule::ByRow(by_value), "a unit beside each value".to_owned()));
    }
    if let Some(unit) = unit_of_heading(column) {
        return check_heading(column, unit).map(|why| (UnitRule::Fixed(unit), why));
    }
    if let Some(unit) = preamble_unit(hints.preamble)
        && check_heading(column, unit).is_ok()
    {
        return Ok((UnitRule::Fixed(unit), "named above the table".to_owned()));
    }
    if let Some(unit) = by_value {
        let middle = column.profile.quantile(0.5).unwrap_or(0.0);
        return Ok((
            UnitRule::ByValue(unit),
            format!("by the values, {middle} in the middle"),
        ));
    }
    if let Some(middle) = grams_per_litre(column) {
        return Ok((
            UnitRule::Fixed(SaidUnit::GramPerL),
            format!("by the values: {middle} in the middle can only be grams per litre"),
        ));
    }
    if let Some(unit) = mixed(column) {
        let why = "by each value: some can only be in one unit, some only in the other".to_owned();
        return Ok((UnitRule::ByValue(unit), why));
    }
    if let Some(unit) = hints.remembered {
        return Ok((
            UnitRule::Fixed(SaidUnit::Of(unit)),
            "as with an earlier file of this layout".to_owned(),
        ));
    }
    if column.profile.numbers.is_empty() {
        return Ok((UnitRule::ByValue(Unit::MgPerDl), "no value seen yet".to_owned()));
    }
    if let Some(unit) = column.profile.said_unit() {
        return Ok((UnitRule::Fixed(unit), "named in the cells".to_owned()));
    }
    Err(Trouble::Ask(ask_unit(column)))
}

/// The middle of values that nobody lives with in mmol/L and that are everyday glucose in g/L.
fn grams_per_litre(column: &Column) -> Option<f64> {
    let p = &column.profile;
    let (low, middle, high) = (p.quantile(0.02)?, p.quantile(0.5)?, p.quantile(0.98)?);
    (p.fractions * 2 > p.numbers.len() && low >= 0.2 && (0.6..=2.2).contains(&middle) && high <= 6.0)
        .then_some(middle)
}

/// The commoner unit of a column in which both stand, clearly apart: hardly any value may lie where either is
/// possible, and both sorts must be glucose as a person has it.
fn mixed(column: &Column) -> Option<Unit> {
    let numbers = &column.profile.numbers;
    let count = |low: f64, high: f64| numbers.iter().filter(|(_, v)| (low..=high).contains(v)).count();
    let (mmol, mg) = (count(1.5, 20.0), count(36.0, 600.0));
    let few = numbers.len() / 50;
    let both = mmol > few.max(3) && mg > few.max(3);
    (both && numbers.len() - mmol - mg <= few).then_some(if mmol > mg {
        Unit::MmolPerL
    } else {
        Unit::MgPerDl
    })
}

/// Refuses a unit in which the values cannot be glucose.
fn asked(column: &Column, unit: Unit) -> Result<(), Trouble> {
    let Some(middle) = column.profile.quantile(0.5) else {
        return Ok(());
    };
    let possible = match unit {
        Unit::MgPerDl => middle >= 30.0,
        Unit::MmolPerL => middle <= 33.3,
    };
    if possible {
        return Ok(());
    }
    let other = match unit {
        Unit::MgPerDl => Unit::MmolPerL,
        Unit::MmolPerL => Unit::MgPerDl,
    };
    Err(Trouble::refuse(
        format!(
            "the values of '{}' cannot be {unit}: half of them are above {middle}",
            column.heading
        ),
        format!("leave --unit out, or import with --unit {other}"),
    ))
}

/// A heading's unit must fit the values; where it does not, only the person can say which is wrong.
fn check_heading(column: &Column, unit: SaidUnit) -> Result<String, Trouble> {
    let Some(middle) = column.profile.quantile(0.5) else {
        return Ok("named in the heading".to_owned());
    };
    let fits = match unit {
        SaidUnit::Of(Unit::MgPerDl) => (30.0..=600.0).contains(&middle),
        SaidUnit::Of(Unit::MmolPerL) => (1.0..=33.0).contains(&middle),
        SaidUnit::GramPerL => (0.3..=6.0).contains(&middle),
    };
    if fits {
        Ok("named in the heading".to_owned())
    } else {
        Err(Trouble::Ask(ask_unit(column)))
    }
}

fn preamble_unit(preamble: &[String]) -> Option<SaidUnit> {
    let mut units: Vec<SaidUnit> = preamble.iter().filter_map(|line| unit_in(line)).collect();
    units.dedup();
    if let [unit] = units[..] { Some(unit) } else { None }
}

fn ask_unit(column: &Column) -> Question {
    let middle = column.profile.quantile(0.5).unwrap_or(0.0);
    Question {
        ask: format!(
            "the unit of '{}' is not clear: {}, and {middle} stands in the middle of its values",
            column.heading,
            unit_of_heading(column).map_or(
                "nothing names it",
                |_| "its heading names one that does not fit the values"
            ),
        ),
        answers: vec![
            (
                "--unit mg/dL".to_owned(),
                "milligrams per decilitre, most values between 40 and 400".to_owned(),
            ),
            (
                "--unit mmol/L".to_owned(),
                "millimoles per litre, most values between 2 and 22".to_owned(),
            ),
        ],
    }
}
