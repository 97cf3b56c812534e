//! The past moments most like this one.

use std::collections::BinaryHeap;
use std::ops::Range;

use super::features::SHAPE;
use super::moments::Moments;

/// How many are looked at.
pub(super) const MOST: usize = 100;
/// Weight of the furthest of them; the nearest has 1.
const LEAST_WEIGHT: f64 = 0.05;

/// A past moment and how near it is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Analog {
    /// Its place among the moments.
    pub place: usize,
    /// Squared distance.
    pub distance2: f64,
    /// From 1 for one in the very place down to 0.05 for the furthest.
    pub weight: f64,
}

/// Weights by squared distance, given nearest first: 1 at none, falling with the square to 0.05 at the last.
pub fn weights(distance2: &[f64]) -> Vec<f64> {
    let furthest = distance2.last().copied().unwrap_or(0.0).max(f64::MIN_POSITIVE);
    distance2
        .iter()
        .map(|d2| 1.0 - (1.0 - LEAST_WEIGHT) * d2 / furthest)
        .collect()
}

/// Moments that may be compared with, by level, so that only those near it are looked at.
#[derive(Clone, Debug)]
pub(super) struct Index {
    /// Shapes beside their places, so that a search reads memory in order.
    by_level: Vec<([f64; SHAPE], u32)>,
}

impl Index {
    /// Of the moments that were followed for long enough and are `wanted`.
    pub(super) fn of(moments: &Moments<'_>, wanted: impl Fn(usize) -> bool) -> Self {
        let mut by_level: Vec<([f64; SHAPE], u32)> = (0..moments.len())
            .filter(|&place| moments.all[place].followed && wanted(place))
            .map(|place| (moments.shapes[place], place as u32))
            .collect();
        by_level.sort_unstable_by(|a, b| a.0[0].total_cmp(&b.0[0]).then(a.1.cmp(&b.1)));
        Index { by_level }
    }

    /// How many of the moments from a place on and before another are in it.
    pub(super) fn between(&self, from: usize, before: usize) -> usize {
        self.by_level
            .iter()
            .filter(|&&(_, p)| (from..before).contains(&(p as usize)))
            .count()
    }

    /// The nearest of the moments at some places, nearest first; of equally near ones the oldest. At most a third of what
    /// there is.
    pub(super) fn nearest(
        &self,
        shape: &[f64; SHAPE],
        places: Range<usize>,
        there_are: usize,
    ) -> Vec<Analog> {
        let most = MOST.min(there_are / 3);
        let mut kept = Kept {
            most,
            heap: BinaryHeap::with_capacity(most + 1),
        };
        let middle = self.by_level.partition_point(|(other, _)| other[0] < shape[0]);
        let (mut below, mut above) = (middle, middle);
        loop {
            let down = below.checked_sub(1).map(|k| shape[0] - self.by_level[k].0[0]);
            let up = self.by_level.get(above).map(|of| of.0[0] - shape[0]);
            let next = match (down, up) {
                (Some(down), Some(up)) if down <= up => {
                    below -= 1;
                    below
                }
                (_, Some(_)) => {
                    above += 1;
                    above - 1
                }
                (Some(_), None) => {
                    below -= 1;
                    below
                }
                (None, None) => break,
            };
            let (other, place) = &self.by_level[next];
            let off = other[0] - shape[0];
            if kept.is_closed_to(off * off) {
                break;
            }
            if places.contains(&(*place as usize)) {
                kept.offer(distance2(shape, other), *place);
            }
        }
        kept.into_analogs()
    }
}

fn distance2(a: &[f64; SHAPE], b: &[f64; SHAPE]) -> f64 {
    a.iter().zip(b).map(|(a, b)| (a - b) * (a - b)).sum()
}

/// A squared distance and a place, ordered.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Far(f64, u32);

impl Eq for Far {}

impl Ord for Far {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        self.0.total_cmp(&other.0).then(self.1.cmp(&other.1))
    }
}

impl PartialOrd for Far {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

/// The nearest so far, the furthest of them on top.
struct Kept {
    most: usize,
    heap: BinaryHeap<Far>,
}

impl Kept {
    /// Whether nothing this far off can come among them.
    fn is_closed_to(&self, distance2: f64) -> bool {
        self.heap.len() >= self.most && self.heap.peek().is_none_or(|top| distance2 > top.0)
    }

    fn offer(&mut self, distance2: f64, place: u32) {
        let far = Far(distance2, place);
        if self.heap.len() < self.most {
            self.heap.push(far);
        } else if let Some(mut top) = self.heap.peek_mut()
            && far < *top
        {
            *top = far;
        }
    }

    fn into_analogs(self) -> Vec<Analog> {
        let sorted = self.heap.into_sorted_vec();
        let distances: Vec<f64> = sorted.iter().map(|far| far.0).collect();
        let analog = |(far, weight): (&Far, f64)| Analog {
            place: far.1 as usize,
            distance2: far.0,
            weight,
        };
        sorted.iter().zip(weights(&distances)).map(analog).collect()
    }
}

/// Quantiles of weighted values: each value stands at the middle of its weight, between them runs a line, beyond the outer
/// two it is flat. With equal weights the form 5 of Hyndman and Fan 1996 (Am Stat 50:361).
///
/// * `of`: value and weight, in any order; values finite, weights not negative.
/// * `levels`: ascending, 0 to 1.
///
/// Zeros of nothing.
pub fn weighted_quantiles<const N: usize>(mut of: Vec<(f64, f64)>, levels: [f64; N]) -> [f64; N] {
    of.retain(|of| of.1 > 0.0);
    of.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    let total: f64 = of.iter().map(|of| of.1).sum();
    let Some(&(last, _)) = of.last() else {
        return [0.0; N];
    };
    let mut before = 0.0;
    let middles: Vec<f64> = of
        .iter()
        .map(|&(_, weight)| {
            let middle = (before + 0.5 * weight) / total;
            before += weight;
            middle
        })
        .collect();
    levels.map(|level| {
        let above = middles.partition_point(|&middle| middle < level);
        if above == 0 {
            return of[0].0;
        }
        let Some(&middle) = middles.get(above) else {
            return last;
        };
        let part = (level - middles[above - 1]) / (middle - middles[above - 1]);
        of[above - 1].0 + (of[above].0 - of[above - 1].0) * part
    })
}
