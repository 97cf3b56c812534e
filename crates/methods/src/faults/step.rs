//! A jump of the level between two readings.

use super::fault::{Evidence, Fault};
use super::signal::Signal;
use crate::quantile::median;

/// A jump is at least so many mg/dL for each minute between the two readings (ours): glucose can do it, but not at once out of
/// and back into a calm stretch. Plausibility checks in print begin at 5 (Del Favero, Facchinetti, Sparacino and Cobelli, in: Glucose
/// Monitoring Devices, 2020, chapter 11).
const SUDDEN_MG_DL_MIN: f64 = 3.0;
/// And at least so many mg/dL (ours).
const LEAST_MG_DL: f64 = 40.0;
/// Readings looked at on either side.
const SIDE: usize = 4;
/// A jump counts from so many times the usual spread of such jumps in the trace (ours).
const TIMES_USUAL: f64 = 3.5;
/// For so long the level must have been on the one side and stay on the other, seconds (ours): pressure on a sensor comes
/// and lifts within it.
const STAYS_S: i64 = 2 * 3600;
/// It stays away while it keeps at least this share of the jump.
const KEPT: f64 = 0.5;
/// Steps between the other readings around it are at most this share of the jump: a jump stands alone (ours).
const CALM: f64 = 0.2;
/// Fewest jumps from which the usual spread is taken.
const FEWEST: usize = 50;
/// Middle half of a normal distribution to its standard deviation, of distances from 0.
const MAD_TO_SD: f64 = 1.4826;

/// Jumps that stay.
///
/// Lines through the four readings before and the four after (their median slopes) are drawn to the middle between; the
/// jump is how far they are apart there. It counts where it exceeds 3.5 times the usual spread of such jumps, 40 mg/dL and
/// 3 mg/dL a minute in one interval, where the two readings themselves differ by as much, where nothing near it
/// moves a fifth as much, and where no reading of the two hours before or after lies half of the way on the other side.
pub(super) fn steps(signal: &Signal) -> Vec<Fault> {
    let jumps: Vec<(usize, f64)> = (SIDE - 1..signal.len().saturating_sub(SIDE))
        .filter_map(|i| Some((i, jump(signal, i)?)))
        .collect();
    if jumps.len() < FEWEST {
        return Vec::new();
    }
    let usual = MAD_TO_SD * median(&mut jumps.iter().map(|(_, jump)| jump.abs()).collect::<Vec<_>>());
    let fault = |&(i, jump): &(usize, f64)| {
        let minutes = (signal.at[i + 1] - signal.at[i]) as f64 / 60.0;
        let sudden = (SUDDEN_MG_DL_MIN * minutes).max(LEAST_MG_DL);
        let between = signal.mg_dl[i + 1] - signal.mg_dl[i];
        let large = jump.abs() > sudden && between.abs() > sudden && jump * between > 0.0;
        (large
            && jump.abs() > TIMES_USUAL * usual
            && is_alone(signal, i, between)
            && stays(signal, i, between))
        .then(|| Fault {
            from: signal.at[i],
            to: signal.at[i + 1],
            evidence: Evidence::Step {
                mg_dl: jump,
                times_usual: jump.abs() / usual.max(1e-9),
            },
        })
    };
    jumps.iter().filter_map(fault).collect()
}

/// How far the lines before and after are apart between readings `i` and `i + 1`.
fn jump(signal: &Signal, i: usize) -> Option<f64> {
    let around = i + 1 - SIDE..i + SIDE;
    let unbroken = around.clone().all(|k| signal.follows(k));
    let measured = !signal.censored[i + 1 - SIDE..=i + SIDE].contains(&true);
    if !unbroken || !measured {
        return None;
    }
    let middle = 0.5 * (signal.at[i] + signal.at[i + 1]) as f64;
    let before = line(signal, i + 1 - SIDE, middle);
    let after = line(signal, i + 1, middle);
    Some(after - before)
}

/// The line through four readings from `first` on at `instant`: median slope, median height.
fn line(signal: &Signal, first: usize, instant: f64) -> f64 {
    let slope_between =
        |k: usize| (signal.mg_dl[k + 1] - signal.mg_dl[k]) / (signal.at[k + 1] - signal.at[k]) as f64;
    let slope = median(&mut (first..first + SIDE - 1).map(slope_between).collect::<Vec<_>>());
    let height = |k: usize| signal.mg_dl[k] + slope * (instant - signal.at[k] as f64);
    median(&mut (first..first + SIDE).map(height).collect::<Vec<_>>())
}

fn is_alone(signal: &Signal, i: usize, between: f64) -> bool {
    (i + 1 - SIDE..i + SIDE)
        .filter(|&k| k != i)
        .all(|k| (signal.mg_dl[k + 1] - signal.mg_dl[k]).abs() <= CALM * between.abs())
}

fn stays(signal: &Signal, i: usize, between: f64) -> bool {
    let (old, new) = (signal.mg_dl[i], signal.mg_dl[i + 1]);
    let away = |k: usize, from: f64, way: f64| (signal.mg_dl[k] - from) * way >= KEPT * between.abs();
    let mut last = i + 1;
    while signal.follows(last) && signal.at[last + 1] - signal.at[i + 1] <= STAYS_S {
        last += 1;
    }
    let mut first = i;
    while first > 0 && signal.follows(first - 1) && signal.at[i] - signal.at[first - 1] <= STAYS_S {
        first -= 1;
    }
    // A gap before half of the time is over tells nothing.
    let long = |seconds: i64| 2 * seconds >= STAYS_S;
    long(signal.at[last] - signal.at[i + 1])
        && long(signal.at[i] - signal.at[first])
        && (i + 1..=last).all(|k| away(k, old, between.signum()))
        && (first..=i).all(|k| away(k, new, -between.signum()))
}
