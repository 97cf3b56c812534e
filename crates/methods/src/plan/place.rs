//! Where to put the coming sensors.

use std::collections::btree_map::Entry;

/// A spot on the body.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spot {
    /// What speaks against it, 0 for nothing; infinite where it must not be used.
    pub cost: f64,
    /// When a sensor was last taken off it, minutes from now; `None` where none was.
    pub free_since_min: Option<i64>,
}

/// Where one sensor goes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Placed {
    /// The spot, by its place in the list; none where no spot is allowed.
    pub spot: Option<usize>,
    /// Minutes it has rested by then; `None` where it was never used.
    pub rested_min: Option<i64>,
}

/// How many spots back are remembered: a spot must rest for at most so many sensors.
const REMEMBERED: usize = 3;

/// Chooses a spot for each coming sensor: the least sum of their costs and of what is missing of their rest, found exactly
/// over all sequences.
///
/// * `worn`: when each is put on and, at the latest, taken off, minutes from now, in order.
/// * `allowed`: for each sensor the spots it may go to, where that is limited (a pin, a trial); none means all.
/// * `rest_min`: how long a spot should rest. Only the last three sensors' spots are kept in mind beside those used before.
/// * `missing_hour`: cost of each hour of rest that is missing. Two sensors on one spot at once never happen.
pub fn place(
    worn: &[(i64, i64)],
    spots: &[Spot],
    allowed: &[Option<Vec<usize>>],
    rest_min: i64,
    missing_hour: f64,
) -> Vec<Placed> {
    let mut beams: Vec<Vec<Sequence>> = vec![vec![Sequence::default()]];
    for (sensor, &(put_on, _)) in worn.iter().enumerate() {
        let limited = allowed.get(sensor).and_then(Option::as_ref);
        let mut next: Vec<Sequence> = Vec::new();
        for before in beams.last().into_iter().flatten() {
            for (index, spot) in spots.iter().enumerate() {
                if !spot.cost.is_finite() || limited.is_some_and(|limited| !limited.contains(&index)) {
                    continue;
                }
                let free = before.free_since(index, spot, worn);
                let rested = free.map(|free| put_on - free);
                if rested.is_some_and(|rested| rested < 0) {
                    continue;
                }
                let missing = rested.map_or(0, |rested| (rest_min - rested).max(0));
                let cost = before.cost + spot.cost + missing_hour * missing as f64 / 60.0;
                next.push(before.with(
                    Placed {
                        spot: Some(index),
                        rested_min: rested,
                    },
                    cost,
                ));
            }
            // Nowhere is the last resort, all the more where the wearer said where.
            let mut nowhere = before.with(NOWHERE, before.cost);
            nowhere.without += 1 + u32::from(limited.is_some());
            next.push(nowhere);
        }
        beams.push(kept(next));
    }
    let last = beams.pop().unwrap_or_default();
    let best = last.into_iter().reduce(|a, b| if b.better(&a) { b } else { a });
    best.map(|sequence| sequence.placed).unwrap_or_default()
}

const NOWHERE: Placed = Placed {
    spot: None,
    rested_min: None,
};

/// Spots chosen so far.
#[derive(Clone, Debug, Default)]
struct Sequence {
    placed: Vec<Placed>,
    cost: f64,
    /// Sensors that found no spot; one whose spot was limited counts twice.
    without: u32,
}

impl Sequence {
    fn with(&self, placed: Placed, cost: f64) -> Self {
        let mut next = self.clone();
        next.placed.push(placed);
        next.cost = cost;
        next
    }

    fn better(&self, other: &Self) -> bool {
        (self.without, self.cost) < (other.without, other.cost)
    }

    /// When a spot is free again.
    fn free_since(&self, spot: usize, before: &Spot, worn: &[(i64, i64)]) -> Option<i64> {
        let used = self
            .placed
            .iter()
            .zip(worn)
            .rev()
            .find(|(placed, _)| placed.spot == Some(spot));
        used.map(|(_, &(_, taken_off))| taken_off)
            .or(before.free_since_min)
    }

    /// What the future depends on.
    fn memory(&self) -> Vec<Option<usize>> {
        let from = self.placed.len().saturating_sub(REMEMBERED);
        self.placed[from..].iter().map(|placed| placed.spot).collect()
    }
}

/// Of sequences with the same memory the best.
fn kept(all: Vec<Sequence>) -> Vec<Sequence> {
    let mut best = std::collections::BTreeMap::<Vec<Option<usize>>, Sequence>::new();
    for sequence in all {
        match best.entry(sequence.memory()) {
            Entry::Vacant(free) => {
                free.insert(sequence);
            }
            Entry::Occupied(mut taken) if sequence.better(taken.get()) => {
                taken.insert(sequence);
            }
            Entry::Occupied(_) => {}
        }
    }
    best.into_values().collect()
}
