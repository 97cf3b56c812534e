//! What one sensor showed, as a trial measures it.

use interstice_book::Record;
use interstice_glucose::{Ending, Second, Trial, TrialOutcome, counted};
use interstice_methods::agreement::{Pair, day_of_wear};

use crate::trust::{SensorWear, paired_checks};
use crate::wear::{WAITS_S, Worn};
use crate::worn::SensorWorn;

const DAY_S: Second = 86_400;
/// An end nobody told of, this near the limit, was its time being over, seconds. Ours.
const NEAR_LIMIT_S: Second = 12 * 3600;

/// All sensors that read, with the pairs of each.
pub(crate) struct Measures {
    wears: Vec<SensorWear>,
    pairs: Vec<Pair>,
}

impl Measures {
    /// Of blood checks until a moment.
    pub(crate) fn of(record: &Record, now: Second) -> Self {
        let (wears, mut pairs) = paired_checks(record);
        pairs.retain(|pair| pair.at <= now);
        Measures { wears, pairs }
    }

    /// Absolute relative differences of one sensor's checks that count, percent.
    pub(crate) fn differences(&self, worn: &SensorWorn, outcome: TrialOutcome) -> Vec<f64> {
        let Some(place) = self.wears.iter().position(|wear| &wear.worn == worn) else {
            return Vec::new();
        };
        let counts = |pair: &&Pair| {
            let first_day = pair.worn_s.is_some_and(|worn_s| day_of_wear(worn_s) == 1);
            pair.sensor == place && (outcome == TrialOutcome::Error || first_day)
        };
        let own = self.pairs.iter().filter(counts);
        own.map(|pair| pair.relative_percent().abs()).collect()
    }
}

/// When a sensor was off for good: as told, else when it has been silent for so long that it will not come back.
pub(crate) fn off_at(worn: &Worn, now: Second) -> Option<Second> {
    let last = || worn.it.readings.map_or(worn.it.from(), |(_, last)| last) + WAITS_S;
    let off = worn.it.ended.unwrap_or_else(last);
    (!worn.is_on && off <= now).then_some(off)
}

/// When a sensor had shown all that a trial measures.
pub(crate) fn over_at(trial: &Trial, worn: &Worn, now: Second) -> Option<Second> {
    let off = off_at(worn, now);
    let enough = match trial.outcome {
        TrialOutcome::FirstDayError => {
            // Not by the clock alone: its readings may not have been brought in yet.
            let day_is_over = worn.it.start().map(|start| start + DAY_S);
            let read = worn.it.readings.map(|(_, last)| last);
            day_is_over.filter(|&over| over <= now && read.is_some_and(|last| last >= over))
        }
        TrialOutcome::Error => None,
        TrialOutcome::HoursOn => {
            let limit = worn.it.from() + 60 * Second::from(trial.limit_min);
            let on = off.is_none_or(|off| off >= limit);
            (limit <= now && on).then_some(limit)
        }
    };
    match (off, enough) {
        (Some(off), Some(enough)) => Some(off.min(enough)),
        (off, enough) => off.or(enough),
    }
}

/// What a sensor showed, or why it does not count.
pub(crate) fn outcome(trial: &Trial, worn: &Worn, differences: &[f64]) -> Result<f64, String> {
    match trial.outcome {
        TrialOutcome::FirstDayError | TrialOutcome::Error => {
            let checks = differences.len();
            if checks == 0 || checks < trial.fewest_checks as usize {
                return Err(format!(
                    "{}, and {} are the fewest that count",
                    counted(checks as u64, "blood check", "blood checks"),
                    trial.fewest_checks.max(1)
                ));
            }
            Ok(differences.iter().sum::<f64>() / checks as f64)
        }
        TrialOutcome::HoursOn => hours_on(trial.limit_min, worn),
    }
}

/// Hours from being put on to its loss, at most the limit; the limit for one that stayed on until its time was over.
pub(crate) fn hours_on(limit_min: u32, worn: &Worn) -> Result<f64, String> {
    let limit_h = f64::from(limit_min) / 60.0;
    if worn.is_lost() {
        return Ok(worn.hours.min(limit_h));
    }
    let near = worn.hours >= limit_h - NEAR_LIMIT_S as f64 / 3600.0;
    match worn.it.ending() {
        Some(Ending::Planned) => Ok(limit_h),
        _ if near => Ok(limit_h),
        None => Err("nobody said how it ended".to_owned()),
        Some(_) => Err("it was taken off on purpose, and might have stayed on".to_owned()),
    }
}
