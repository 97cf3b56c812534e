//! How many sensors a trial takes.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

use super::{Order, OrderError, Outcome, QUICK, blocks, chance};

/// What is promised of a trial before it begins.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Promise {
    /// Ways compared, at least two. The difference is between the first and the last; others lie at the first.
    pub arms: u32,
    /// Sensors of a block, a multiple of `arms`.
    pub block: u32,
    /// How sensors worn the same way differ (standard deviation), in the unit of the outcome.
    pub between_sensors: f64,
    /// How checks of one sensor differ beyond that.
    pub between_checks: f64,
    /// Blood checks of each sensor that make its outcome.
    pub checks: u32,
    /// The difference that should be found, in the same unit.
    pub difference: f64,
    /// How much more outcomes of the differing way scatter, as a factor: 1 where they only lie elsewhere. An error that is larger in
    /// proportion scatters more in proportion, too.
    pub scatter: f64,
    /// With this chance.
    pub power: f64,
    /// A difference is called one where p is at most this, at the end.
    pub most_p: f64,
    /// A look before the end, where one was settled.
    pub look: Option<Look>,
}

/// One look before the end, settled beforehand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Look {
    /// After so many sensors.
    pub after: u32,
    /// The trial ends there where p is at most this.
    pub most_p: f64,
}

/// How many sensors would do.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sensors {
    /// Sensors in all, whole blocks.
    pub sensors: u32,
    /// The chance with that many.
    pub power: f64,
}

/// The longest trial looked at: four years of fortnights.
const MOST_SENSORS: u32 = 104;
/// Trials simulated at each size: the chance is then known to about two points.
const RUNS: u32 = 500;

/// The fewest sensors, in whole blocks, that find the difference with the promised chance, by simulated trials that end in the
/// test the real one will, with 999 drawn orders where there are more than 1,500. `None` where up to 104 sensors do not.
///
/// Outcomes are drawn as normal: a mean of so many checks about the sensor's own level.
///
/// # Errors
/// Where the block does not fit the arms.
pub fn size(promise: &Promise, seed: u64) -> Result<Option<Sensors>, OrderError> {
    Order::draw(0, promise.arms, promise.block, seed)?;
    let sizes: Vec<u32> = (1..=MOST_SENSORS / promise.block.max(1))
        .map(|blocks| blocks * promise.block)
        .collect();
    // More sensors never find less, so that the first size that does is found by halving.
    let (mut from, mut to) = (0, sizes.len());
    let mut found = None;
    while from < to {
        let middle = usize::midpoint(from, to);
        let power = power(promise, sizes[middle], RUNS, seed)?;
        if power >= promise.power {
            found = Some(Sensors {
                sensors: sizes[middle],
                power,
            });
            to = middle;
        } else {
            from = middle + 1;
        }
    }
    Ok(found)
}

/// Share of simulated trials of so many sensors that find the difference.
///
/// # Errors
/// Where the block does not fit the arms.
pub fn power(promise: &Promise, sensors: u32, runs: u32, seed: u64) -> Result<f64, OrderError> {
    Order::draw(0, promise.arms, promise.block, seed)?;
    let found: u32 = (0..runs)
        .into_par_iter()
        .map(|run| {
            let mut rng = ChaCha8Rng::seed_from_u64(seed);
            rng.set_stream(u64::from(run) + 1);
            let order = Order::draw(sensors, promise.arms, promise.block, rng.random());
            order.map_or(0, |order| u32::from(finds(promise, &order, &mut rng)))
        })
        .sum();
    Ok(f64::from(found) / f64::from(runs.max(1)))
}

fn finds(promise: &Promise, order: &Order, rng: &mut ChaCha8Rng) -> bool {
    let checks = f64::from(promise.checks.max(1));
    let sd = (promise.between_sensors * promise.between_sensors
        + promise.between_checks * promise.between_checks / checks)
        .sqrt();
    let outcomes: Vec<Outcome> = order
        .sensors
        .iter()
        .map(|&(block, arm)| {
            let (more, scatter) = if arm + 1 == promise.arms {
                (promise.difference, promise.scatter)
            } else {
                (0.0, 1.0)
            };
            Outcome {
                block,
                arm,
                value: more + scatter * sd * normal(rng),
            }
        })
        .collect();
    let seed = rng.random();
    let shows = |outcomes: &[Outcome], most_p: f64| {
        let blocks = blocks(outcomes);
        !blocks.is_empty() && chance(&blocks, promise.arms, seed, QUICK).0 <= most_p
    };
    let early = promise.look.is_some_and(|look| {
        outcomes
            .get(..look.after as usize)
            .is_some_and(|first| shows(first, look.most_p))
    });
    early || shows(&outcomes, promise.most_p)
}

/// A standard normal (Box and Muller 1958, Ann Math Stat 29:610).
fn normal(rng: &mut ChaCha8Rng) -> f64 {
    let radius = (-2.0 * libm::log(1.0 - rng.random::<f64>())).sqrt();
    radius * libm::cos(2.0 * std::f64::consts::PI * rng.random::<f64>())
}
