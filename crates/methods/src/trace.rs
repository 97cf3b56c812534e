//! One trace: its native interval, its gaps.

use std::ops::Range;

use interstice_glucose::{Censor, Levels, Second};

use crate::Refusal;

/// Longest native interval looked for, seconds. Longer silences are never an interval.
const LONGEST_INTERVAL_S: u32 = 3 * 3600;
/// Fewest gaps between readings from which an interval is inferred.
const FEWEST_GAPS: usize = 6;
/// Smallest share of the gaps that must agree, as one over this.
const AGREEING_PART: usize = 4;
/// Readings looked at together when an interval may have changed.
const BLOCK: usize = 256;
/// Blocks sampled for the interval of a long trace.
const SAMPLED_BLOCKS: usize = 16;

/// The native interval of a trace, in seconds: the commonest time between neighbouring readings.
///
/// * `at`: instants in time order; repeated instants are passed over.
///
/// Of the times between neighbours up to three hours, the fullest window reaching from some length to a fifth (and
/// ten seconds) above it is found, shortest first at a tie; the interval is the mean in that window, so that
/// 14 and 16 minutes in turn are 15. Within five seconds or 3 % of whole minutes it is those minutes. A long trace
/// is judged by 16 blocks of 256 readings spread evenly over it.
///
/// # Errors
/// `TooFewReadings` with fewer than six usable gaps, `NoCommonInterval` where less than a quarter agree.
pub fn native_interval(at: &[u32]) -> Result<u32, Refusal> {
    let mut gaps = Vec::new();
    if at.len() <= BLOCK * SAMPLED_BLOCKS {
        collect_gaps(at, &mut gaps);
    } else {
        for block in 0..SAMPLED_BLOCKS {
            let start = (at.len() - BLOCK) / (SAMPLED_BLOCKS - 1) * block;
            collect_gaps(&at[start..start + BLOCK], &mut gaps);
        }
    }
    common_gap(&mut gaps)
}

fn collect_gaps(at: &[u32], gaps: &mut Vec<u32>) {
    let between = at.windows(2).map(|pair| pair[1].saturating_sub(pair[0]));
    gaps.extend(between.filter(|gap| (1..=LONGEST_INTERVAL_S).contains(gap)));
}

/// The commonest gap; see [`native_interval`].
fn common_gap(gaps: &mut [u32]) -> Result<u32, Refusal> {
    if gaps.len() < FEWEST_GAPS {
        return Err(Refusal::TooFewReadings {
            have: gaps.len() as u64,
            need: FEWEST_GAPS as u64 + 1,
        });
    }
    gaps.sort_unstable();
    let mut fullest: Range<usize> = 0..0;
    let (mut start, mut end) = (0, 0);
    while start < gaps.len() {
        let shortest = gaps[start];
        while end < gaps.len() && gaps[end] <= shortest + shortest / 5 + 10 {
            end += 1;
        }
        if end - start > fullest.len() {
            fullest = start..end;
        }
        start += gaps[start..].partition_point(|&gap| gap == shortest);
    }
    if fullest.len() * AGREEING_PART < gaps.len() {
        return Err(Refusal::NoCommonInterval);
    }
    let sum: u64 = gaps[fullest.clone()].iter().map(|&gap| u64::from(gap)).sum();
    let count = fullest.len() as u64;
    Ok(to_whole_minutes(
        u32::try_from((sum + count / 2) / count).unwrap_or(LONGEST_INTERVAL_S),
    ))
}

/// Whole minutes where they are within five seconds or 3 %.
fn to_whole_minutes(seconds: u32) -> u32 {
    let nearest = (seconds + 30) / 60 * 60;
    let slack = (nearest * 3 / 100).max(5);
    if nearest > 0 && nearest.abs_diff(seconds) <= slack {
        nearest
    } else {
        seconds
    }
}

/// A stretch of one trace with one native interval.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct IntervalFrom {
    /// Index of its first reading.
    pub start: usize,
    /// Native interval, seconds.
    pub interval_s: u32,
}

/// The native intervals of a trace, in order: one for nearly every trace, more where a source has strung sensors of
/// different kinds together without telling them apart.
///
/// Blocks of 256 readings in which fewer than half of the gaps agree with [`native_interval`] are judged on their
/// own; a change counts where it lasts two blocks, and is put at the reading where the gaps on both sides agree best.
///
/// # Errors
/// Those of [`native_interval`].
pub fn native_intervals(at: &[u32]) -> Result<Vec<IntervalFrom>, Refusal> {
    let common = native_interval(at)?;
    let blocks: Vec<u32> = at
        .chunks(BLOCK)
        .map(|block| block_interval(block, common))
        .collect();
    let mut stretches: Vec<IntervalFrom> = Vec::new();
    for (index, &interval_s) in blocks.iter().enumerate() {
        let lasts = blocks.get(index + 1).is_none_or(|&next| next == interval_s);
        match stretches.last() {
            None => {
                let first = if lasts {
                    interval_s
                } else {
                    blocks.get(1).copied().unwrap_or(common)
                };
                stretches.push(IntervalFrom {
                    start: 0,
                    interval_s: first,
                });
            }
            Some(last) if last.interval_s != interval_s && lasts => {
                let start = change_point(at, index, last.interval_s, interval_s).max(last.start + 1);
                stretches.push(IntervalFrom { start, interval_s });
            }
            Some(_) => {}
        }
    }
    if stretches.is_empty() {
        stretches.push(IntervalFrom {
            start: 0,
            interval_s: common,
        });
    }
    Ok(stretches)
}

/// The interval of one block, taken as the common one unless it plainly is not.
fn block_interval(block: &[u32], common: u32) -> u32 {
    let (usable, agreeing) = block.windows(2).fold((0u32, 0u32), |(usable, agreeing), pair| {
        let gap = pair[1].saturating_sub(pair[0]);
        let counts = u32::from(gap.wrapping_sub(1) < LONGEST_INTERVAL_S);
        (
            usable + counts,
            agreeing + (counts & u32::from(agrees(gap, common))),
        )
    });
    if agreeing * 2 >= usable {
        return common;
    }
    let mut gaps = Vec::with_capacity(block.len());
    collect_gaps(block, &mut gaps);
    match common_gap(&mut gaps) {
        // Twice or thrice the common interval may be nothing but lost readings; a quarter at the common one says so.
        Ok(own) if own > common && agreeing * 4 >= usable => common,
        Ok(own) if agrees(own, common) => common,
        Ok(own) => own,
        Err(_) => common,
    }
}

/// Whether a gap is a fifth (and ten seconds) or less from an interval.
fn agrees(gap: u32, interval_s: u32) -> bool {
    gap.abs_diff(interval_s) <= interval_s / 5 + 10
}

/// The first reading of the new interval, looked for in the block of the change and the one before it.
fn change_point(at: &[u32], block: usize, old: u32, new: u32) -> usize {
    let (from, to) = ((block - 1) * BLOCK, ((block + 1) * BLOCK).min(at.len()));
    let gap = |i: usize| at[i + 1].saturating_sub(at[i]);
    let mut score = 0i64;
    let mut best = (0i64, from);
    for i in from..to.saturating_sub(1) {
        score += i64::from(agrees(gap(i), old)) - i64::from(agrees(gap(i), new));
        if score > best.0 {
            best = (score, i + 1);
        }
    }
    best.1
}

/// A silence longer than this is a gap: two native intervals, and at least a quarter of an hour (the shortest time
/// the consensus takes as an episode). Nothing is followed across a gap.
pub fn gap_limit_s(interval_s: u32) -> u32 {
    interval_s.saturating_mul(2).max(900)
}

/// How many readings stand at the edge of what the sensor measures.
///
/// * `level`: indices into `levels`; others are not counted.
pub fn censored(level: &[u32], levels: &Levels) -> u64 {
    let edge: Vec<bool> = levels
        .as_slice()
        .iter()
        .map(|level| level.said.censor() != Censor::None)
        .collect();
    level
        .iter()
        .filter(|&&level| edge.get(level as usize) == Some(&true))
        .count() as u64
}

/// A silence within a trace.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Gap {
    /// The last reading before it.
    pub from: Second,
    /// The first reading after it.
    pub to: Second,
}

/// The gaps of a trace: silences beyond [`gap_limit_s`].
///
/// * `at`: instants in time order.
pub fn gaps(at: &[u32], interval_s: u32) -> Vec<Gap> {
    let limit = gap_limit_s(interval_s);
    at.windows(2)
        .filter(|pair| pair[1].saturating_sub(pair[0]) > limit)
        .map(|pair| Gap {
            from: pair[0].into(),
            to: pair[1].into(),
        })
        .collect()
}

/// Readings a sensor worn all the time would give between two instants; 0 where they are not in order.
pub fn expected_readings(from: Second, to: Second, interval_s: u32) -> f64 {
    to.saturating_sub(from).max(0) as f64 / f64::from(interval_s.max(1))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn steps(count: usize, step: impl Fn(usize) -> u32) -> Vec<u32> {
        let mut at = vec![1_700_000_000];
        for i in 0..count {
            at.push(at[i] + step(i));
        }
        at
    }

    #[test]
    fn usual_intervals_are_found() {
        for minutes in [1, 3, 5, 10, 15, 60] {
            assert_eq!(native_interval(&steps(50, |_| minutes * 60)), Ok(minutes * 60));
        }
        assert_eq!(native_interval(&steps(50, |_| 150)), Ok(150));
    }

    #[test]
    fn jitter_alternation_repeats_and_holes_do_not_mislead() {
        assert_eq!(
            native_interval(&steps(500, |i| 290 + (i as u32 * 7) % 21)),
            Ok(300)
        );
        assert_eq!(
            native_interval(&steps(99, |i| if i % 2 == 0 { 840 } else { 960 })),
            Ok(900)
        );
        let messy = |i: usize| match i % 10 {
            0 => 0,
            1 => 86_400,
            2 | 3 => 600,
            _ => 301,
        };
        assert_eq!(native_interval(&steps(400, messy)), Ok(300));
    }

    #[test]
    fn too_little_is_refused() {
        assert_eq!(
            native_interval(&[]),
            Err(Refusal::TooFewReadings { have: 0, need: 7 })
        );
        assert!(native_interval(&steps(5, |_| 300)).is_err());
        let never_alike = |i: usize| 10 + (i as u32 * i as u32 * 97) % 10_000;
        assert_eq!(
            native_interval(&steps(60, never_alike)),
            Err(Refusal::NoCommonInterval)
        );
    }

    #[test]
    fn a_change_of_interval_within_a_trace_is_found_where_it_happened() {
        let at = steps(5000, |i| if i < 1300 { 900 } else { 300 });
        let found = native_intervals(&at).unwrap();
        assert_eq!(
            found,
            [
                IntervalFrom {
                    start: 0,
                    interval_s: 900
                },
                IntervalFrom {
                    start: 1300,
                    interval_s: 300
                }
            ]
        );
        let regular = steps(100_000, |_| 60);
        assert_eq!(
            native_intervals(&regular).unwrap(),
            [IntervalFrom {
                start: 0,
                interval_s: 60
            }]
        );
    }

    #[test]
    fn gaps_are_longer_than_two_intervals_and_a_quarter_of_an_hour() {
        let at = [0, 300, 1200, 2101, 2401];
        assert_eq!(gaps(&at, 300), [Gap { from: 1200, to: 2101 }]);
        assert!(gaps(&at, 900).is_empty());
        assert!((expected_readings(0, 86_400, 300) - 288.0).abs() < 1e-12);
    }
}
