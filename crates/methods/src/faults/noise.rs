//! Bursts of noise.

use super::fault::{Evidence, Fault};
use super::signal::{Signal, median};

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
