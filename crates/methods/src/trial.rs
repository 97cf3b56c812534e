//! Personal trials: two or more ways of wearing a sensor, in an order drawn beforehand, with an exact answer at the end.
//!
//! The order is drawn in blocks, so that each way has its turn early and late. Nothing is supposed of the outcomes' shape: if
//! the ways were alike, every order that could have been drawn would have been as likely to show a difference as large.

mod order;
mod size;

pub use order::{Order, OrderError, least_p, usual_block};
pub use size::{Look, Promise, Sensors, power, size};

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

use crate::bootstrap::Interval;
use order::{Orders, shuffled};

/// A difference is called one where chance would show as much in no more than so many of a hundred trials.
pub const MOST_P: f64 = 0.05;
/// Of a trial that is looked at once before its end: the part of that spent at the look, and what is left for the end. Either
/// p is exact by itself, and the chance that one or the other is so small where nothing differs is no more than both
/// together (Bonferroni's inequality), whatever the look and however the two hang together: plainer, and a little more
/// careful, than spending functions (Lan and DeMets 1983, Biometrika 70:659).
pub const MOST_P_AT_LOOK: f64 = 0.01;
/// See [`MOST_P_AT_LOOK`].
pub const MOST_P_AFTER_LOOK: f64 = MOST_P - MOST_P_AT_LOOK;

/// What one sensor showed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Outcome {
    /// Its block, as the order has it.
    pub block: u32,
    /// Its arm, from 0.
    pub arm: u32,
    /// The outcome, in any unit; the same for all.
    pub value: f64,
}

/// The answer of a trial.
#[derive(Clone, Debug, PartialEq)]
pub struct Answer {
    /// Chance of so large a difference if the arms were alike.
    pub p: f64,
    /// Orders that could have been drawn; none where they were too many to count.
    pub orders: Option<u64>,
    /// Whether all of them were looked at; else 20,000 drawn from them with the seed.
    pub exact: bool,
    /// Of every arm but the first, how much more it shows than the first.
    pub beside_first: Vec<Difference>,
}

/// How one arm differs from the first.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Difference {
    /// The arm.
    pub arm: u32,
    /// Sensors of the first and of this arm.
    pub sensors: (u64, u64),
    /// Mean difference within blocks.
    pub more: f64,
    /// All differences the trial does not speak against at the stated confidence; an end is infinite where the orders are
    /// too few to rule any out.
    pub within: Interval,
}

/// Why there is no answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Unanswered {
    /// Nothing to compare.
    #[error("no block holds sensors of two arms yet")]
    NoComparison,
    /// An outcome that is no number.
    #[error("an outcome is no number")]
    NoNumber,
}

/// How many orders are looked at.
#[derive(Clone, Copy, Debug)]
struct Effort {
    /// Up to so many, all are.
    all_up_to: u64,
    /// Of more, so many are drawn.
    drawn: u32,
}

/// For the answer.
const FULL: Effort = Effort {
    all_up_to: 100_000,
    drawn: 20_000,
};
/// For one of many simulated trials.
const QUICK: Effort = Effort {
    all_up_to: 1500,
    drawn: 999,
};
/// Halvings when the end of an interval is looked for.
const HALVINGS: u32 = 40;
/// Sums of the same numbers in another order differ by rounding; of orders this near the drawn one both count as equal.
const ROUNDING: f64 = 1e-9;

/// Answers a trial from what its sensors showed. Blocks may be unfinished.
///
/// Outcomes are taken about the mean of their block; what is compared is the sum over arms of (their sum)² / sensors, for two
/// arms the square of their difference. p is the share of orders within the blocks with at least as much (Fisher 1935, The
/// Design of Experiments, section 21; Pitman 1937, J R Stat Soc Suppl 4:119); of drawn ones, the drawn order among them. The interval
/// holds every difference which, taken off, leaves p above 1 − confidence.
///
/// * `confidence`: of the intervals, between 0 and 1, 0.95 as a rule.
/// * `seed`: only used where the orders are too many to look at all.
///
/// # Errors
/// Where no block holds two arms, or an outcome is no number.
pub fn answer(outcomes: &[Outcome], confidence: f64, seed: u64) -> Result<Answer, Unanswered> {
    if outcomes.iter().any(|outcome| !outcome.value.is_finite()) {
        return Err(Unanswered::NoNumber);
    }
    let blocks = blocks(outcomes);
    if blocks.is_empty() {
        return Err(Unanswered::NoComparison);
    }
    let arms = outcomes.iter().map(|outcome| outcome.arm).max().unwrap_or(0) + 1;
    let (p, orders, exact) = chance(&blocks, arms, seed, FULL);
    let beside_first = (1..arms)
        .filter_map(|arm| beside_first(outcomes, arm, confidence, seed))
        .collect();
    Ok(Answer {
        p,
        orders,
        exact,
        beside_first,
    })
}

/// Blocks that hold two arms, in order, their outcomes as given.
fn blocks(outcomes: &[Outcome]) -> Vec<Vec<Outcome>> {
    let mut sorted = outcomes.to_vec();
    sorted.sort_by_key(|outcome| (outcome.block, outcome.arm));
    sorted
        .chunk_by(|a, b| a.block == b.block)
        .filter(|block| block.first().map(|one| one.arm) != block.last().map(|one| one.arm))
        .map(<[Outcome]>::to_vec)
        .collect()
}

/// p, the number of orders, and whether all were looked at.
fn chance(blocks: &[Vec<Outcome>], arms: u32, seed: u64, effort: Effort) -> (f64, Option<u64>, bool) {
    let arms = arms as usize;
    let sensors = counts(blocks, arms);
    let apart = |sums: &[f64]| -> f64 {
        sums.iter()
            .zip(&sensors)
            .filter(|&(_, &count)| count > 0.0)
            .map(|(sum, count)| sum * sum / count)
            .sum()
    };
    let centred: Vec<(Vec<f64>, Vec<u32>)> = blocks.iter().map(|block| centred(block)).collect();
    let mut drawn = vec![0.0; arms];
    for (values, of) in &centred {
        add(&mut drawn, values, of);
    }
    let total: f64 = centred
        .iter()
        .flat_map(|(values, _)| values)
        .map(|value| value * value)
        .sum();
    let least = apart(&drawn) - ROUNDING * total;
    let orders = Orders::new(&centred, arms);
    match orders.count() {
        Some(count) if count <= effort.all_up_to => {
            let mut as_large = 0u64;
            orders.each(&mut |sums| as_large += u64::from(apart(sums) >= least));
            (as_large as f64 / count as f64, Some(count), true)
        }
        count => {
            let mut rng = ChaCha8Rng::seed_from_u64(seed);
            let mut as_large = 1u32;
            for _ in 0..effort.drawn {
                let mut sums = vec![0.0; arms];
                for (values, of) in &centred {
                    add(&mut sums, values, &shuffled(of, &mut rng));
                }
                as_large += u32::from(apart(&sums) >= least);
            }
            (f64::from(as_large) / f64::from(effort.drawn + 1), count, false)
        }
    }
}

fn counts(blocks: &[Vec<Outcome>], arms: usize) -> Vec<f64> {
    let mut counts = vec![0.0; arms];
    for outcome in blocks.iter().flatten() {
        counts[outcome.arm as usize] += 1.0;
    }
    counts
}

/// Outcomes about the mean of their block, and their arms.
fn centred(block: &[Outcome]) -> (Vec<f64>, Vec<u32>) {
    let mean = block.iter().map(|outcome| outcome.value).sum::<f64>() / block.len() as f64;
    (
        block.iter().map(|outcome| outcome.value - mean).collect(),
        block.iter().map(|outcome| outcome.arm).collect(),
    )
}

fn add(sums: &mut [f64], values: &[f64], arms: &[u32]) {
    for (value, &arm) in values.iter().zip(arms) {
        sums[arm as usize] += value;
    }
}

/// The first arm and another by themselves.
fn beside_first(outcomes: &[Outcome], arm: u32, confidence: f64, seed: u64) -> Option<Difference> {
    let two: Vec<Outcome> = outcomes
        .iter()
        .filter(|outcome| outcome.arm == 0 || outcome.arm == arm)
        .map(|outcome| Outcome {
            arm: u32::from(outcome.arm == arm),
            ..*outcome
        })
        .collect();
    let blocks = blocks(&two);
    if blocks.is_empty() {
        return None;
    }
    let more = more(&blocks);
    let sensors = counts(&blocks, 2);
    Some(Difference {
        arm,
        sensors: (sensors[0] as u64, sensors[1] as u64),
        more,
        within: Interval {
            lo: end(&blocks, more, -1.0, confidence, seed),
            hi: end(&blocks, more, 1.0, confidence, seed),
        },
    })
}

/// Mean difference of two arms within blocks, each block weighed by how well it can tell (n₀ n₁ / (n₀ + n₁)).
fn more(blocks: &[Vec<Outcome>]) -> f64 {
    let (mut sum, mut weights) = (0.0, 0.0);
    for block in blocks {
        let of = |arm: u32| {
            block
                .iter()
                .filter(move |outcome| outcome.arm == arm)
                .map(|outcome| outcome.value)
        };
        let (a, b) = (of(0).count() as f64, of(1).count() as f64);
        let weight = a * b / (a + b);
        sum += weight * (of(1).sum::<f64>() / b - of(0).sum::<f64>() / a);
        weights += weight;
    }
    sum / weights
}

/// How far on one side a difference, taken off, leaves p above what the confidence asks.
fn end(blocks: &[Vec<Outcome>], more: f64, side: f64, confidence: f64, seed: u64) -> f64 {
    let least = 1.0 - confidence.clamp(0.0, 1.0);
    let held = |off: f64| {
        let shifted: Vec<Vec<Outcome>> = blocks
            .iter()
            .map(|block| {
                let less = |outcome: &Outcome| Outcome {
                    value: outcome.value - f64::from(outcome.arm) * off,
                    ..*outcome
                };
                block.iter().map(less).collect()
            })
            .collect();
        chance(&shifted, 2, seed, FULL).0 > least
    };
    let values = || blocks.iter().flatten().map(|outcome| outcome.value);
    let reach = values().fold(f64::NEG_INFINITY, f64::max) - values().fold(f64::INFINITY, f64::min);
    // Once an arm lies wholly beyond the other, no larger difference changes which orders are as large.
    let mut outside = more + side * 2.0 * (reach + more.abs());
    if held(outside) {
        return side * f64::INFINITY;
    }
    let mut inside = more;
    for _ in 0..HALVINGS {
        let middle = 0.5 * (inside + outside);
        if held(middle) {
            inside = middle;
        } else {
            outside = middle;
        }
    }
    outside
}
