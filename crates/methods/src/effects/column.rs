//! The rows, and what was logged about them.

use std::collections::{BTreeMap, BTreeSet};

/// Blood checks beside a sensor, as columns of equal length.
#[derive(Clone, Copy, Debug)]
pub struct Differences<'a> {
    /// Number of the sensor.
    pub sensor: &'a [u32],
    /// Day of wear, from 0; checks of one day of a sensor share what that day had.
    pub day: &'a [u32],
    /// Sensor less blood, percent of the blood.
    pub relative_percent: &'a [f64],
}

/// Something that may make a sensor better or worse.
#[derive(Clone, Copy, Debug)]
pub struct Question<'a> {
    /// What was logged, row by row.
    pub values: Values<'a>,
    /// Whether other questions are asked with this one held equal: for what differs from check to check on every sensor (the
    /// first day, the direction of change), which costs them no sensor.
    pub held_equal: bool,
}

/// What was logged.
#[derive(Clone, Copy, Debug)]
pub enum Values<'a> {
    /// One of some levels, by number: a site, a lot, a preparation, yes or no.
    Levels(&'a [Option<u16>]),
    /// A number: temperature, water drunk, hours of bedding in.
    Number {
        /// Value, row by row.
        value: &'a [Option<f64>],
        /// How much more is compared: 10 degrees, say. Above 0.
        step: f64,
    },
}

/// A fewest number of logged checks: below it no model is worth its words.
pub(super) const FEWEST_CHECKS: usize = 8;

impl Values<'_> {
    pub(super) fn is_known(&self, row: usize) -> bool {
        match self {
            Values::Levels(level) => level.get(row).is_some_and(Option::is_some),
            Values::Number { value, .. } => value.get(row).copied().flatten().is_some_and(f64::is_finite),
        }
    }

    pub(super) fn level(&self, row: usize) -> Option<u16> {
        match self {
            Values::Levels(level) => level.get(row).copied().flatten(),
            Values::Number { .. } => None,
        }
    }

    /// In steps.
    pub(super) fn number(&self, row: usize) -> Option<f64> {
        match self {
            Values::Number { value, step } => value
                .get(row)
                .copied()
                .flatten()
                .filter(|value| value.is_finite())
                .map(|value| value / step),
            Values::Levels(_) => None,
        }
    }
}

/// Sensors on which each level was, of the given rows.
pub(super) fn sensors_by_level(
    differences: &Differences<'_>,
    values: &Values<'_>,
    rows: &[usize],
) -> BTreeMap<u16, BTreeSet<u32>> {
    let mut sensors: BTreeMap<u16, BTreeSet<u32>> = BTreeMap::new();
    for &row in rows {
        if let Some(level) = values.level(row) {
            sensors.entry(level).or_default().insert(differences.sensor[row]);
        }
    }
    sensors
}

/// Columns that hold a question equal: one for each level but the commonest (what was not logged is a level of its own), or
/// the number less its mean, 0 where it was not logged.
pub(super) fn columns(values: &Values<'_>, rows: &[usize]) -> Vec<Vec<f64>> {
    match values {
        Values::Levels(_) => {
            let mut counts: BTreeMap<Option<u16>, usize> = BTreeMap::new();
            for &row in rows {
                *counts.entry(values.level(row)).or_default() += 1;
            }
            let commonest = counts
                .iter()
                .max_by_key(|(_, count)| **count)
                .map(|(level, _)| *level);
            let others = counts.keys().copied().filter(|level| Some(*level) != commonest);
            others
                .map(|level| {
                    rows.iter()
                        .map(|&row| truth(values.level(row) == level))
                        .collect()
                })
                .collect()
        }
        Values::Number { .. } => {
            let known: Vec<f64> = rows.iter().filter_map(|&row| values.number(row)).collect();
            let mean = known.iter().sum::<f64>() / known.len().max(1) as f64;
            vec![
                rows.iter()
                    .map(|&row| values.number(row).map_or(0.0, |value| value - mean))
                    .collect(),
            ]
        }
    }
}

pub(super) fn truth(holds: bool) -> f64 {
    f64::from(u8::from(holds))
}
