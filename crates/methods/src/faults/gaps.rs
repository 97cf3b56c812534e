//! Silences.

use super::fault::{Evidence, Fault};
use super::signal::Signal;

/// Every gap between the first and the last reading, by the one rule of gaps: longer than 15 minutes and than two native
/// intervals. From the end of the last reading's own time to the next reading.
pub(super) fn dropouts(signal: &Signal) -> Vec<Fault> {
    (1..signal.len())
        .filter(|&i| !signal.follows(i - 1))
        .map(|i| Fault {
            from: signal.end(i - 1),
            to: signal.at[i],
            evidence: Evidence::Dropout,
        })
        .collect()
}
