//! Which further checks would tell most.

use interstice_methods::agreement::{FEWEST_PAIRS, FEWEST_SENSORS};

use super::{By, Counts, GroupLine, NextCheck};

/// What is missing, the most useful first; nothing once every question below can be answered.
pub(super) fn next(by: &By, counts: &Counts) -> Vec<NextCheck> {
    let mut list = Vec::new();
    let steady = pairs(&by.direction, &["steady"]);
    if let Some(more) = missing(steady) {
        list.push(NextCheck::Flat { more });
    }
    if let Some(more) = missing(pairs(&by.day_of_wear, &["1"])) {
        list.push(NextCheck::FirstDay { more });
    }
    if let Some(more) = missing(pairs(&by.direction, &["falling_fast", "falling"])) {
        list.push(NextCheck::Falling { more });
    }
    if let Some(more) = missing(pairs(&by.range, &["very_low", "low"])) {
        list.push(NextCheck::Low { more });
    }
    let sensors = (FEWEST_SENSORS as u64).saturating_sub(counts.sensors);
    if counts.pairs >= FEWEST_PAIRS && sensors > 0 {
        list.push(NextCheck::OtherSensors { more: sensors });
    }
    list
}

fn pairs(lines: &[GroupLine], keys: &[&str]) -> u64 {
    lines
        .iter()
        .filter(|line| keys.contains(&line.key.as_str()))
        .map(|line| line.pairs)
        .sum()
}

fn missing(pairs: u64) -> Option<u64> {
    (pairs < FEWEST_PAIRS).then(|| FEWEST_PAIRS - pairs)
}
