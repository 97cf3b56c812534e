//! Bursts of noise.

use super::fault::{Evidence, Fault};
use super::signal::Signal;
use crate::quantile::median;

/// Readings judged together: an hour at five minutes.
const WINDOW: usize = 12;
/// Fewest of them that must have neighbours.
const FEWEST_IN_WINDOW: usize = 8;
/// Fewest readings with neighbours from which the usual is taken.
const FEWEST: usize = 100;
/// So many times the usual distance from the neighbours' line (ours).
const TIMES_USUAL: f64 = 6.0;
/// And at least so many mg/dL (ours): below it rounding alone may look rough in a smooth trace.
const LEAST_MG_DL: f64 = 6.0;
/// Share of the readings at which the trace turns: of independent noise two in three, of a smooth excursion few.
const TURNING: f64 = 0.5;

/// Stretches in which readings lie far from the line between their neighbours, to and fro.
///
/// A window of 12 readings is rough where the median distance is at least 6 times the trace's own median and 6 mg/dL, and
/// where at half or more of its readings the trace turns. Overlapping rough windows are one burst, taken from a quarter of
/// a window within the first to a quarter within the last.
pub(super) fn bursts(signal: &Signal) -> Vec<Fault> {
    let rough: Vec<Option<f64>> = (0..signal.len()).map(|i| signal.roughness(i)).collect();
    let mut all: Vec<f64> = rough.iter().flatten().copied().collect();
    if all.len() < FEWEST {
        return Vec::new();
    }
    let usual = median(&mut all);
    let limit = (TIMES_USUAL * usual).max(LEAST_MG_DL);
    let mut bursts: Vec<(usize, usize)> = Vec::new();
    for start in 0..(signal.len() + 1).saturating_sub(WINDOW) {
        if !is_rough(signal, &rough, start, limit) {
            continue;
        }
        let end = start + WINDOW - 1;
        match bursts.last_mut() {
            Some(last) if start <= last.1 => last.1 = end,
            _ => bursts.push((start, end)),
        }
    }
    bursts
        .iter()
        .map(|&(start, end)| burst(signal, &rough, (start, end), usual))
        .collect()
}

fn is_rough(signal: &Signal, rough: &[Option<f64>], start: usize, limit: f64) -> bool {
    let window = start..start + WINDOW;
    let span = signal.at[window.end - 1] - signal.at[window.start];
    let mut known: Vec<f64> = rough[window.clone()].iter().flatten().copied().collect();
    if known.len() < FEWEST_IN_WINDOW || span > 2 * WINDOW as i64 * signal.interval_s {
        return false;
    }
    let turning = window.filter(|&i| rough[i].is_some() && signal.turns(i)).count();
    turning as f64 >= TURNING * known.len() as f64 && median(&mut known) >= limit
}

/// Lengths of a trace's end that are looked at, seconds, the longest first (ours).
const TAILS_S: [i64; 4] = [6 * 3600, 4 * 3600, 3 * 3600, 2 * 3600];
/// The end is looked at once, and so may be called rough sooner than any hour of the trace (ours).
const TAIL_TIMES_USUAL: f64 = 3.0;
/// Least typical distance there, mg/dL (ours).
const TAIL_LEAST_MG_DL: f64 = 4.0;

/// When the rough end of a trace began, and how many times rougher than usual it is; `None` where it is not.
pub(super) fn rough_end(signal: &Signal) -> Option<(i64, f64)> {
    let rough: Vec<Option<f64>> = (0..signal.len()).map(|i| signal.roughness(i)).collect();
    let mut all: Vec<f64> = rough.iter().flatten().copied().collect();
    if all.len() < FEWEST {
        return None;
    }
    let usual = median(&mut all);
    let end = signal.end(signal.len() - 1);
    TAILS_S.iter().find_map(|tail| {
        let first = signal.at.partition_point(|&at| at < end - tail);
        let known: Vec<usize> = (first..signal.len()).filter(|&i| rough[i].is_some()).collect();
        let typical = median(&mut known.iter().filter_map(|&i| rough[i]).collect::<Vec<_>>());
        let turning = known.iter().filter(|&&i| signal.turns(i)).count();
        let is_rough = known.len() >= FEWEST_IN_WINDOW
            && typical >= (TAIL_TIMES_USUAL * usual).max(TAIL_LEAST_MG_DL)
            && turning as f64 >= TURNING * known.len() as f64;
        is_rough.then(|| (signal.at[first], typical / usual.max(1e-9)))
    })
}

fn burst(signal: &Signal, rough: &[Option<f64>], (start, end): (usize, usize), usual: f64) -> Fault {
    let (first, mut last) = (start + WINDOW / 4, end - WINDOW / 4);
    if end + 1 == signal.len() {
        last = end; // Nothing came after it that could have been calm.
    }
    let mut known: Vec<f64> = rough[first..=last].iter().flatten().copied().collect();
    let typical = median(&mut known);
    Fault {
        from: signal.at[first],
        to: signal.end(last),
        evidence: Evidence::Noise {
            mg_dl: typical,
            times_usual: typical / usual.max(1e-9),
        },
    }
}
