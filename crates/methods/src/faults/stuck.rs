//! The same value again and again.

use super::fault::{Evidence, Fault};
use super::signal::Signal;

/// A run counts where the trace's own habit would make fewer than this many as long (ours).
const FEWEST_EXPECTED: f64 = 0.01;
/// And where it lasts at least this long, seconds (ours): calm nights hold a rounded value for an hour.
const SHORTEST_S: i64 = 90 * 60;
/// The habit is taken for at least this: the chance that a repeated value repeats once more. Calm stretches repeat more
/// than the trace as a whole.
const LEAST_HABIT: f64 = 0.35;

/// Runs of one value that the trace's habit of repeating does not explain.
///
/// Of all runs of two or more equal readings, the share of repeats that were repeated again is the habit q; r runs would
/// then hold `r q^(k - 1)` with k repeats, were repeating a matter of chance (a geometric length). A value that was held
/// while glucose went on is also left by a jump, where a calm night is left slowly: that many times the share of the trace's
/// changes that are as large as the one after the run is looked at as well, and doubled, since either may call it. Runs at
/// the edge of what the sensor measures are no fault.
pub(super) fn runs(signal: &Signal) -> Vec<Fault> {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    let mut start = 0;
    for i in 1..=signal.len() {
        let goes_on = i < signal.len() && signal.follows(i - 1) && same(signal.mg_dl[i], signal.mg_dl[i - 1]);
        if !goes_on {
            if i - start > 1 && !signal.censored[start] {
                runs.push((start, i - 1));
            }
            start = i;
        }
    }
    let count = runs.len() as f64;
    // The longest is left out, so that what is to be judged does not set its own yardstick.
    let repeats = |run: &(usize, usize)| (run.1 - run.0) as f64;
    let longest = runs.iter().map(repeats).fold(0.0, f64::max);
    let all = runs.iter().map(repeats).sum::<f64>() - longest;
    let again = (all - (count - 1.0)).max(0.0);
    let habit = if all > 0.0 { again / all } else { 0.0 }.clamp(LEAST_HABIT, 0.95);
    let changes = Changes::of(signal);
    let fault = |&(first, last): &(usize, usize)| {
        let by_length = count * libm::pow(habit, (last - first) as f64 - 1.0);
        let expected = by_length.min(2.0 * by_length * changes.as_large_as_after(signal, last));
        let lasts = signal.end(last) - signal.at[first];
        (expected < FEWEST_EXPECTED && lasts >= SHORTEST_S).then(|| Fault {
            from: signal.at[first],
            to: signal.end(last),
            evidence: Evidence::Stuck {
                mg_dl: signal.mg_dl[first],
                readings: (last - first + 1) as u64,
                expected,
            },
        })
    };
    runs.iter().filter_map(fault).collect()
}

/// Changes from reading to reading, without their sign, in order of size.
struct Changes(Vec<f64>);

impl Changes {
    fn of(signal: &Signal) -> Self {
        let mut all: Vec<f64> = (0..signal.len())
            .filter(|&i| signal.follows(i))
            .map(|i| (signal.mg_dl[i + 1] - signal.mg_dl[i]).abs())
            .collect();
        all.sort_by(f64::total_cmp);
        Changes(all)
    }

    /// Share of the changes at least as large as the one after reading `last`; 1 before a gap.
    fn as_large_as_after(&self, signal: &Signal, last: usize) -> f64 {
        if !signal.follows(last) {
            return 1.0;
        }
        let change = (signal.mg_dl[last + 1] - signal.mg_dl[last]).abs();
        let smaller = self.0.partition_point(|&other| other < change - 1e-6);
        (self.0.len() - smaller) as f64 / self.0.len() as f64
    }
}

/// Rounding of a conversion apart.
fn same(a: f64, b: f64) -> bool {
    (a - b).abs() < 1e-6
}
