//! The same figures by what the pairs have in common.

use interstice_glucose::{DAY_S, Second};

use super::cluster::{ClusterBootstrap, Resampled};
use super::measures::{Measures, measures};
use super::pair::Pair;
use super::rates::{Allowance, Rate};
use crate::Refusal;

/// Days of wear told apart; from this day on they are taken together.
pub const LAST_DAY_APART: u32 = 15;

/// A stretch of a scale. Which end belongs to it is said where the stretches are named.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bin {
    /// Lower end.
    pub from: f64,
    /// Upper end.
    pub to: f64,
}

const fn bin(from: f64, to: f64) -> Bin {
    Bin { from, to }
}

/// Hours since the start on the first day; the lower end belongs to each.
pub const FIRST_DAY: [Bin; 5] = [
    bin(0.0, 2.0),
    bin(2.0, 4.0),
    bin(4.0, 8.0),
    bin(8.0, 12.0),
    bin(12.0, 24.0),
];

/// Rates of change, mg/dL a minute, from falling fast to rising fast, by the classes device studies use (habit, no single
/// source), those from −1 to 1 taken together as steady. A border belongs to the slower side.
pub const DIRECTIONS: [Bin; 5] = [
    bin(f64::NEG_INFINITY, -2.0),
    bin(-2.0, -1.0),
    bin(-1.0, 1.0),
    bin(1.0, 2.0),
    bin(2.0, f64::INFINITY),
];

/// Quarters of the day, hours by the wearer's clock; the lower end belongs to each.
pub const DAY_QUARTERS: [Bin; 4] = [bin(0.0, 6.0), bin(6.0, 12.0), bin(12.0, 18.0), bin(18.0, 24.0)];

/// Hours worn before the start: none to speak of, some, half a day or more (ours). The lower end belongs to each.
pub const BEDDING_IN: [Bin; 3] = [bin(0.0, 2.0), bin(2.0, 12.0), bin(12.0, f64::INFINITY)];

impl Bin {
    /// Which of `bins`, ascending and without gaps, holds a value, its lower end included; `None` outside all.
    pub fn place(bins: &[Bin], value: f64) -> Option<usize> {
        bins.iter().position(|bin| value >= bin.from && value < bin.to)
    }

    /// Which of [`DIRECTIONS`] a rate of change belongs to.
    pub fn direction(rate_mg_dl_min: f64) -> Option<usize> {
        let slower = |bin: &Bin| {
            let above = if bin.from < 0.0 {
                rate_mg_dl_min >= bin.from
            } else {
                rate_mg_dl_min > bin.from
            };
            let below = if bin.to > 0.0 {
                rate_mg_dl_min <= bin.to
            } else {
                rate_mg_dl_min < bin.to
            };
            above && below
        };
        DIRECTIONS.iter().position(slower)
    }
}

/// Day of wear from the seconds since the start: 1 is the first 24 hours, also of a check a moment before the first reading;
/// [`LAST_DAY_APART`] stands for that day and all later.
pub fn day_of_wear(worn_s: Second) -> u32 {
    let day = worn_s.max(0) / DAY_S + 1;
    u32::try_from(day).map_or(LAST_DAY_APART, |day| day.min(LAST_DAY_APART))
}

/// The figures of one group.
#[derive(Clone, Debug, PartialEq)]
pub struct GroupFigures {
    /// Pairs in it.
    pub pairs: u64,
    /// Sensors they are from.
    pub sensors: u64,
    /// Differences, or how many pairs are missing.
    pub measures: Result<Measures, Refusal>,
    /// Their intervals.
    pub intervals: Result<Resampled, Refusal>,
    /// Share within the allowance.
    pub rate: Rate,
}

impl GroupFigures {
    /// Of a set of pairs.
    pub fn of(pairs: &[Pair], allowance: Allowance, bootstrap: ClusterBootstrap) -> Self {
        let mut sensors: Vec<usize> = pairs.iter().map(|pair| pair.sensor).collect();
        sensors.sort_unstable();
        sensors.dedup();
        GroupFigures {
            pairs: pairs.len() as u64,
            sensors: sensors.len() as u64,
            measures: measures(pairs),
            intervals: bootstrap.intervals(pairs),
            rate: allowance.rate(pairs),
        }
    }

    /// About how many more pairs would bring the interval of the MARD to ± `points`, at the rate at which intervals narrow
    /// (with the square root of what they rest on); 0 where it is there already, `None` where there is no interval.
    ///
    /// A guess: it supposes the further pairs to be like those there are, and to come from further sensors where sensors are
    /// what is resampled.
    pub fn more_for(&self, points: f64) -> Option<u64> {
        let interval = self.intervals.as_ref().ok()?.mard_percent;
        let half = (interval.hi - interval.lo) / 2.0;
        let wanted = (self.pairs as f64 * (half / points) * (half / points)).ceil();
        Some((wanted as u64).saturating_sub(self.pairs))
    }
}

/// Groups, and the pairs of which it is not known where they belong.
#[derive(Clone, Debug, PartialEq)]
pub struct Grouped {
    /// By number.
    pub groups: Vec<GroupFigures>,
    /// Pairs in none.
    pub unknown: u64,
}

impl Grouped {
    /// Figures of `count` groups, `of` telling the number of a pair's, below `count`.
    pub fn by(
        pairs: &[Pair],
        count: usize,
        of: impl Fn(&Pair) -> Option<usize>,
        allowance: Allowance,
        bootstrap: ClusterBootstrap,
    ) -> Self {
        let mut parts: Vec<Vec<Pair>> = vec![Vec::new(); count];
        let mut unknown = 0;
        for pair in pairs {
            match of(pair).and_then(|group| parts.get_mut(group)) {
                Some(part) => part.push(*pair),
                None => unknown += 1,
            }
        }
        let groups = parts
            .iter()
            .map(|part| GroupFigures::of(part, allowance, bootstrap))
            .collect();
        Grouped { groups, unknown }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn borders_of_direction_belong_to_the_slower_side() {
        let rates = [-2.5, -2.0, -1.5, -1.0, 0.0, 1.0, 1.5, 2.0, 2.1];
        let places = rates.map(|rate| Bin::direction(rate).unwrap());
        assert_eq!(places, [0, 1, 1, 2, 2, 2, 3, 3, 4]);
        assert_eq!(Bin::direction(f64::NAN), None);
    }

    #[test]
    fn days_of_wear_count_from_one() {
        let days = [-100, 0, DAY_S - 1, DAY_S, 13 * DAY_S, 14 * DAY_S, 400 * DAY_S].map(day_of_wear);
        assert_eq!(days, [1, 1, 1, 2, 14, 15, 15]);
        assert_eq!(Bin::place(&FIRST_DAY, 2.0), Some(1));
        assert_eq!(Bin::place(&FIRST_DAY, 24.0), None);
    }

    #[test]
    fn a_group_with_too_few_pairs_says_how_many_more() {
        let pairs = [Pair::of(100.0, 110.0); 7];
        let allowance = Allowance {
            limit: 15.0,
            split_mg_dl: 70.0,
        };
        let mut number = 0;
        let pairs: Vec<Pair> = pairs
            .iter()
            .map(|pair| {
                number += 1;
                Pair {
                    check: number,
                    ..*pair
                }
            })
            .collect();
        let by = |pair: &Pair| (pair.check < 7).then_some(usize::from(pair.check > 4));
        let grouped = Grouped::by(&pairs, 2, by, allowance, ClusterBootstrap::seeded(1));
        assert_eq!(grouped.unknown, 1);
        let said: Vec<String> = grouped
            .groups
            .iter()
            .map(|group| group.measures.unwrap_err().to_string())
            .collect();
        assert_eq!(
            said[0],
            "4 pairs of blood check and reading are too few; 1 more would do"
        );
        assert_eq!(grouped.groups[1].rate, Rate { within: 2, of: 2 });
    }
}
