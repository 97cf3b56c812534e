//! A sensor that ended before its time.

use interstice_glucose::Second;

use super::fault::{Evidence, Fault};
use super::noise::rough_end;
use super::signal::Signal;

/// An end is early from half a day before the planned one (ours): sensors are changed at a convenient hour.
const EARLY_S: Second = 12 * 3600;
/// An end is one where readings would have gone on for so long (ours).
const SILENT_S: Second = 6 * 3600;
/// A dying signal was rough within this long of its end (ours).
const NEAR_END_S: Second = 3600;
/// And for at least so long (ours).
const SHORTEST_S: Second = 2 * 3600;
/// Bursts no further apart than this are one (ours).
const JOINED_S: Second = 3 * 3600;

/// An early end: by the plan where one is known, by a dying signal where the last hours were rough.
pub(super) fn early_end(
    signal: &Signal,
    noise: &[Fault],
    until: Second,
    planned_end: Option<Second>,
) -> Option<Fault> {
    let last = signal.len().checked_sub(1)?;
    let end = signal.end(last);
    if until - end < SILENT_S {
        return None;
    }
    let short_s = planned_end
        .map(|planned| planned - end)
        .filter(|&short| short > EARLY_S);
    let dying = dying(noise, end).or_else(|| rough_end(signal));
    if short_s.is_none() && (dying.is_none() || planned_end.is_some()) {
        return None;
    }
    Some(Fault {
        from: dying.map_or(end, |(from, _)| from),
        to: end,
        evidence: Evidence::EarlyEnd {
            short_s,
            dying: dying.map(|(_, times)| times),
        },
    })
}

/// When the last rough hours began, and how rough they were.
fn dying(noise: &[Fault], end: Second) -> Option<(Second, f64)> {
    let mut from = end;
    let mut roughest = 0.0f64;
    let mut reach = NEAR_END_S;
    for burst in noise.iter().rev() {
        if from - burst.to > reach {
            break;
        }
        from = burst.from;
        reach = JOINED_S;
        if let Evidence::Noise { times_usual, .. } = burst.evidence {
            roughest = roughest.max(times_usual);
        }
    }
    (end - from >= SHORTEST_S).then_some((from, roughest))
}
