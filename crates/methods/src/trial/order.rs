//! Orders of arms: the one that is drawn, and all that could have been.

use rand::SeedableRng;
use rand::seq::SliceRandom;
use rand_chacha::ChaCha8Rng;

/// Which arm each coming sensor is given.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Order {
    /// Block and arm of each sensor, in the order of wear.
    pub sensors: Vec<(u32, u32)>,
}

/// Why an order cannot be drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum OrderError {
    /// Fewer than two ways.
    #[error("a trial compares at least two ways")]
    OneArm,
    /// The block does not hold each way equally often.
    #[error("a block of {block} cannot hold each of {arms} ways equally often")]
    Uneven {
        /// Sensors of a block.
        block: u32,
        /// Ways.
        arms: u32,
    },
}

impl Order {
    /// Draws an order in blocks, each holding every arm equally often; the last may be cut short.
    ///
    /// * `block`: a multiple of `arms`.
    ///
    /// # Errors
    /// With fewer than two arms, or a block that cannot hold each equally often.
    pub fn draw(sensors: u32, arms: u32, block: u32, seed: u64) -> Result<Self, OrderError> {
        if arms < 2 {
            return Err(OrderError::OneArm);
        }
        if block == 0 || !block.is_multiple_of(arms) {
            return Err(OrderError::Uneven { block, arms });
        }
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let even: Vec<u32> = (0..block).map(|place| place % arms).collect();
        let blocks = (0..sensors.div_ceil(block)).flat_map(|index| {
            let order = shuffled(&even, &mut rng);
            order.into_iter().map(move |arm| (index, arm)).collect::<Vec<_>>()
        });
        Ok(Order {
            sensors: blocks.take(sensors as usize).collect(),
        })
    }
}

/// The least p that a trial of so many sensors can come to: the order that was drawn and those that show as much in any case,
/// the arms changing names in every block at once, out of all orders. 0 where they are beyond counting.
///
/// * `sensors`: whole blocks.
///
/// ```
/// // Two blocks of four: 36 orders, and the one that was drawn always has its mirror.
/// assert!((interstice_methods::trial::least_p(8, 2, 4) - 2.0 / 36.0).abs() < 1e-12);
/// ```
pub fn least_p(sensors: u32, arms: u32, block: u32) -> f64 {
    if arms < 2 || block == 0 || sensors < block {
        return 1.0;
    }
    let even: Vec<u32> = (0..block).map(|place| place % arms).collect();
    let orders = ways(&even).and_then(|ways| ways.checked_pow(sensors / block));
    let mirrors: u64 = (1..=u64::from(arms)).product();
    orders.map_or(0.0, |orders| mirrors as f64 / orders as f64)
}

/// The block of a trial where none is asked for: each way twice, so that ways take turns closely; one block of all where that
/// leaves too few orders to tell anything at `most_p`, as with eight sensors; else each way once. Ours.
pub fn usual_block(sensors: u32, arms: u32, most_p: f64) -> u32 {
    let twice = 2 * arms;
    let tells = |block: &u32| {
        *block > 0
            && sensors.is_multiple_of(*block)
            && block.is_multiple_of(arms.max(1))
            && least_p(sensors, arms, *block) <= most_p
    };
    let short = sensors <= SHORT;
    let ways = [twice, if short { sensors } else { arms }, arms, sensors];
    ways.into_iter().find(tells).unwrap_or(twice)
}

/// A trial of so many sensors may be one block.
const SHORT: u32 = 12;

pub(super) fn shuffled(arms: &[u32], rng: &mut ChaCha8Rng) -> Vec<u32> {
    let mut order = arms.to_vec();
    order.shuffle(rng);
    order
}

/// Every order that could have been drawn: of each block all that hold its arms as often.
pub(super) struct Orders {
    /// Of each block, what each of its orders adds to the arms' sums.
    blocks: Vec<Vec<Vec<f64>>>,
    /// Of each block, how many there are; none where too many.
    counts: Vec<Option<u64>>,
    arms: usize,
}

/// A block with more orders than this is not written out: there are too many in all.
const MOST_OF_A_BLOCK: u64 = 100_000;

impl Orders {
    pub(super) fn new(centred: &[(Vec<f64>, Vec<u32>)], arms: usize) -> Self {
        let counts: Vec<Option<u64>> = centred.iter().map(|(_, of)| ways(of)).collect();
        let few = counts
            .iter()
            .all(|count| count.is_some_and(|count| count <= MOST_OF_A_BLOCK));
        let blocks = if few {
            centred
                .iter()
                .map(|(values, of)| sums_of(values, of, arms))
                .collect()
        } else {
            Vec::new()
        };
        Orders { blocks, counts, arms }
    }

    /// How many there are; none where that is beyond counting.
    pub(super) fn count(&self) -> Option<u64> {
        self.counts
            .iter()
            .try_fold(1u64, |all, count| all.checked_mul((*count)?))
    }

    /// The arms' sums under every order.
    pub(super) fn each(&self, see: &mut impl FnMut(&[f64])) {
        let mut sums = vec![vec![0.0; self.arms]; self.blocks.len() + 1];
        self.go(0, &mut sums, see);
    }

    fn go(&self, depth: usize, sums: &mut [Vec<f64>], see: &mut impl FnMut(&[f64])) {
        let Some(block) = self.blocks.get(depth) else {
            see(&sums[depth]);
            return;
        };
        for more in block {
            for arm in 0..self.arms {
                sums[depth + 1][arm] = sums[depth][arm] + more[arm];
            }
            self.go(depth + 1, sums, see);
        }
    }
}

/// How many orders hold the arms as often: n! / (n₀! n₁! …), built up so that every step is whole.
fn ways(arms: &[u32]) -> Option<u64> {
    let mut often = std::collections::BTreeMap::<u32, u64>::new();
    let mut count = 1u64;
    for (placed, &arm) in (1u64..).zip(arms) {
        let of = often.entry(arm).or_default();
        *of += 1;
        count = count.checked_mul(placed)? / *of;
    }
    Some(count)
}

/// What every order of a block adds to the arms' sums.
fn sums_of(values: &[f64], arms: &[u32], count: usize) -> Vec<Vec<f64>> {
    let mut left = vec![0u32; count];
    for &arm in arms {
        left[arm as usize] += 1;
    }
    let mut all = Vec::new();
    place(values, &mut left, &mut vec![0.0; count], &mut all);
    all
}

fn place(values: &[f64], left: &mut [u32], sums: &mut Vec<f64>, all: &mut Vec<Vec<f64>>) {
    let Some((&value, rest)) = values.split_first() else {
        all.push(sums.clone());
        return;
    };
    for arm in 0..left.len() {
        if left[arm] == 0 {
            continue;
        }
        left[arm] -= 1;
        let before = sums[arm];
        sums[arm] += value;
        place(rest, left, sums, all);
        sums[arm] = before;
        left[arm] += 1;
    }
}
