//! Columns judged by those beside them: the same glucose twice, which insulin without how much, words beside entries.

use std::collections::BTreeMap;

use crate::api::Role;
use crate::column::Sample;
use crate::concept::Concept;
use crate::roles::has_payload;

/// The same glucose twice, in both units: one column is enough.
pub(crate) fn settle_twins(sample: &mut Sample) {
    let columns: Vec<usize> = (0..sample.columns.len())
        .filter(|&i| {
            matches!(
                sample.columns[i].role,
                Some(Role::Glucose | Role::BloodGlucose | Role::Scan)
            ) && sample.columns[i].confidence < 1.0
        })
        .collect();
    for (n, &first) in columns.iter().enumerate() {
        for &second in &columns[n + 1..] {
            if is_same_in_other_unit(sample, first, second) {
                let drop = if sample.columns[first].profile.fractions
                    >= sample.columns[second].profile.fractions
                    && sample.columns[first].has(Concept::MmolPerL)
                {
                    first
                } else {
                    second
                };
                let column = &mut sample.columns[drop];
                column.role = Some(Role::Ignored);
                column.evidence = vec!["the same values as another column in the other unit".to_owned()];
            }
        }
    }
}

fn is_same_in_other_unit(sample: &Sample, first: usize, second: usize) -> bool {
    let other: BTreeMap<usize, f64> = sample.columns[second].profile.numbers.iter().copied().collect();
    let ratios: Vec<f64> = sample.columns[first]
        .profile
        .numbers
        .iter()
        .filter_map(|(row, v)| Some(v / other.get(row)?))
        .collect();
    if ratios.len() < 3 {
        return false;
    }
    let near = |r: f64, to: f64| (r / to - 1.0).abs() < 0.04;
    let matching = ratios
        .iter()
        .filter(|&&r| near(r, 18.0156) || near(r, 1.0 / 18.0156))
        .count();
    matching * 10 >= ratios.len() * 9
}

/// A column that says which insulin needs one that says how much.
pub(crate) fn settle_insulin_kind(sample: &mut Sample) {
    let dose = [
        Role::BasalRate,
        Role::LongInsulin,
        Role::RapidInsulin,
        Role::Insulin,
        Role::Value,
    ]
    .iter()
    .any(|&r| sample.of(r).is_some());
    for column in &mut sample.columns {
        if column.role == Some(Role::InsulinKind) && !dose {
            column.role = Some(Role::Note);
        }
    }
}

/// Words in sentences beside entries are worth keeping, whatever stands above them.
pub(crate) fn settle_prose(sample: &mut Sample) {
    if !has_payload(sample) {
        return;
    }
    for column in sample.columns.iter_mut().filter(|c| c.is_open()) {
        const OTHER: &[Concept] = &[
            Concept::Trend,
            Concept::Bookkeeping,
            Concept::Other,
            Concept::Device,
            Concept::Subject,
            Concept::Sensor,
            Concept::Unit,
            Concept::Kind,
            Concept::Flag,
        ];
        if column.profile.is_prose() && !column.any(OTHER) {
            column.take(Role::Note, 0.5, "words in sentences, kept as notes");
        }
    }
}
