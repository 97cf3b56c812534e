//! The level of every site or lot, drawn towards the others.

use std::collections::BTreeSet;

use super::answer::{Quality, Untold};
use super::column::{Differences, FEWEST_CHECKS, Question, columns, sensors_by_level};
use crate::mixed::{MixedError, Nested, Shrunken};

/// What may be expected of a new sensor at a site, or of a lot.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Level {
    /// The level of the question, by its number; and its figures, percent of blood.
    pub shrunken: Shrunken,
}

/// Expected difference from blood at every level of a question (site, lot), each drawn towards the others as far as the
/// spread between sensors and between levels asks for it, with a credible interval of `confidence` (0 to 1). What is held
/// equal stands at its mean over these rows.
///
/// # Errors
/// Too few checks, one level, or no level with two sensors, so that sites cannot be told from sensors.
pub fn levels(
    differences: &Differences<'_>,
    questions: &[Question<'_>],
    question: usize,
    quality: Quality,
    confidence: f64,
) -> Result<Vec<Level>, Untold> {
    let values = questions
        .get(question)
        .map(|question| question.values)
        .ok_or(Untold::OneLevel)?;
    let all = differences.relative_percent.len().min(differences.sensor.len());
    let rows: Vec<usize> = (0..all).filter(|&row| values.level(row).is_some()).collect();
    if rows.len() < FEWEST_CHECKS {
        return Err(Untold::NotLogged {
            have: rows.len() as u64,
            need: FEWEST_CHECKS as u64,
        });
    }
    let sensors = sensors_by_level(differences, &values, &rows);
    if sensors.len() < 2 {
        return Err(Untold::OneLevel);
    }
    let every: BTreeSet<u32> = sensors.values().flatten().copied().collect();
    if sensors.values().all(|on| on.len() < 2) {
        return Err(Untold::TooFewSensors {
            have: every.len() as u64,
            need: every.len() as u64 + 1,
        });
    }
    let y: Vec<f64> = rows
        .iter()
        .map(|&row| {
            let signed = differences.relative_percent[row];
            if quality == Quality::Absolute {
                signed.abs()
            } else {
                signed
            }
        })
        .collect();
    let outer: Vec<u32> = rows
        .iter()
        .map(|&row| values.level(row).map_or(0, u32::from))
        .collect();
    let inner: Vec<u32> = rows.iter().map(|&row| differences.sensor[row]).collect();
    let mut x = vec![vec![1.0; rows.len()]];
    let held = questions
        .iter()
        .enumerate()
        .filter(|(place, other)| *place != question && other.held_equal);
    x.extend(
        held.flat_map(|(_, other)| columns(&other.values, &rows))
            .map(centred),
    );
    let nested = fitted(&mut x, &y, &outer, &inner)?;
    let mut at = vec![0.0; x.len()];
    at[0] = 1.0;
    Ok(nested
        .shrunken(&at, confidence)
        .into_iter()
        .map(|shrunken| Level { shrunken })
        .collect())
}

fn centred(mut column: Vec<f64>) -> Vec<f64> {
    let mean = column.iter().sum::<f64>() / column.len().max(1) as f64;
    for value in &mut column {
        *value -= mean;
    }
    column
}

/// The model, held columns giving way where they say nothing more.
fn fitted(x: &mut Vec<Vec<f64>>, y: &[f64], outer: &[u32], inner: &[u32]) -> Result<Nested, MixedError> {
    loop {
        let columns: Vec<&[f64]> = x.iter().map(Vec::as_slice).collect();
        match Nested::new(&columns, y, outer, Some(inner)) {
            Err(MixedError::Aliased { column }) if column > 0 => {
                x.remove(column);
            }
            other => return other,
        }
    }
}
