//! Insulin that was logged, by kind and time of day: what was written down, added up.

use std::collections::{BTreeMap, BTreeSet};

use interstice_glucose::{Delivery, Dose, InsulinKind, LivedClock, Second};

use crate::insulin::BASAL_RUNS_S;

/// Parts of the lived day: from midnight, six hours each.
pub const QUARTERS: usize = 4;
const QUARTER_S: Second = 6 * 3600;

/// Insulin of one kind that was logged.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Given {
    /// How long it acts.
    pub insulin: InsulinKind,
    /// Whether it came as a pump's basal rate.
    pub basal_rate: bool,
    /// Doses, or rates, logged in the window.
    pub logged: u64,
    /// Lived days on which any of it was given.
    pub days: u32,
    /// Units in each quarter of the lived day.
    pub units: [f64; QUARTERS],
}

impl Given {
    /// Units in all.
    pub fn total(&self) -> f64 {
        self.units.iter().sum()
    }
}

/// All that was logged.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct AllGiven {
    /// By kind, doses before basal rates.
    pub kinds: Vec<Given>,
    /// Lived days on which any insulin was given.
    pub days: u32,
}

/// Adds up `doses`, in time order, over a window `[from, to)`.
///
/// A dose counts whole at the instant it was logged, a spread one too. A basal rate counts as long as it ran inside the
/// window: until the next rate, but no longer than [`BASAL_RUNS_S`]; `doses` should therefore reach back so far before the
/// window. Doses of 0 units count as logged and bring none. Into a vein: with the doses of its kind.
pub fn given(doses: &[Dose], clock: &LivedClock, (from, to): (Second, Second)) -> AllGiven {
    let mut sums: BTreeMap<(bool, InsulinKind), Sum> = BTreeMap::new();
    for (place, dose) in doses.iter().enumerate() {
        let is_rate = dose.delivery == Delivery::BasalRate;
        if !is_rate {
            if (from..to).contains(&dose.at) {
                let sum = sums.entry((false, dose.insulin)).or_default();
                sum.logged += 1;
                sum.add(clock, dose.at, dose.units);
            }
            continue;
        }
        let next = doses[place + 1..]
            .iter()
            .find(|next| next.delivery == Delivery::BasalRate);
        let until = next
            .map_or(Second::MAX, |next| next.at)
            .min(dose.at + BASAL_RUNS_S)
            .min(to);
        let mut at = dose.at.max(from);
        if at < until {
            let sum = sums.entry((true, dose.insulin)).or_default();
            sum.logged += u64::from(dose.at >= from);
            while at < until {
                let end = end_of_quarter(clock, at).min(until);
                sum.add(clock, at, dose.units * (end - at) as f64 / 3600.0);
                at = end;
            }
        }
    }
    let days: BTreeSet<i64> = sums.values().flat_map(|sum| &sum.days).copied().collect();
    AllGiven {
        days: count(&days),
        kinds: sums
            .into_iter()
            .map(|((basal_rate, insulin), sum)| Given {
                insulin,
                basal_rate,
                logged: sum.logged,
                days: count(&sum.days),
                units: sum.units,
            })
            .collect(),
    }
}

#[derive(Default)]
struct Sum {
    logged: u64,
    days: BTreeSet<i64>,
    units: [f64; QUARTERS],
}

impl Sum {
    fn add(&mut self, clock: &LivedClock, at: Second, units: f64) {
        let wall = clock.wall(at);
        let quarter = usize::try_from(wall.second_of_day() / QUARTER_S).unwrap_or(0);
        self.units[quarter.min(QUARTERS - 1)] += units;
        if units > 0.0 {
            self.days.insert(wall.day());
        }
    }
}

fn count(days: &BTreeSet<i64>) -> u32 {
    u32::try_from(days.len()).unwrap_or(u32::MAX)
}

/// The first instant at which the wall clock is in another quarter, or moves.
fn end_of_quarter(clock: &LivedClock, at: Second) -> Second {
    let left = QUARTER_S - clock.wall(at).second_of_day().rem_euclid(QUARTER_S);
    let moves = clock
        .pieces()
        .iter()
        .map(|piece| piece.0)
        .find(|&start| start > at);
    (at + left).min(moves.unwrap_or(Second::MAX)).max(at + 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    const HOUR: Second = 3600;
    const DAY: Second = 24 * HOUR;

    /// Sums of quarters and halves: nothing is rounded.
    fn same(units: [f64; QUARTERS], want: [f64; QUARTERS]) -> bool {
        units
            .iter()
            .zip(want)
            .all(|(units, want)| (units - want).abs() < 1e-12)
    }

    fn dose(at: Second, units: f64, insulin: InsulinKind, delivery: Delivery) -> Dose {
        Dose {
            at,
            units,
            insulin,
            delivery,
            note: None,
        }
    }

    /// Exact arithmetic by hand.
    #[test]
    fn doses_are_added_up_by_kind_and_quarter() {
        let rapid = |at, units| dose(at, units, InsulinKind::Rapid, Delivery::AtOnce);
        let long = |at, units| dose(at, units, InsulinKind::Long, Delivery::AtOnce);
        let doses = [
            rapid(-HOUR, 9.0),
            rapid(7 * HOUR, 4.0),
            rapid(7 * HOUR + 1, 0.0),
            rapid(13 * HOUR, 5.5),
            long(22 * HOUR, 18.0),
            rapid(DAY + 7 * HOUR, 6.0),
            rapid(3 * DAY, 1.0),
        ];
        let all = given(&doses, &LivedClock::fixed(0), (0, 3 * DAY));
        assert_eq!(all.days, 2);
        let [rapid, long] = all.kinds[..] else {
            panic!("{all:?}")
        };
        assert_eq!(
            (rapid.logged, rapid.days, rapid.units),
            (4, 2, [0.0, 10.0, 5.5, 0.0])
        );
        assert_eq!(
            (long.logged, long.days, long.units),
            (1, 1, [0.0, 0.0, 0.0, 18.0])
        );
        assert!((rapid.total() - 15.5).abs() < 1e-12);
    }

    /// 1 unit an hour from 22:00 the evening before; 0.5 from 04:00; nothing more is logged, so it stops a day later.
    #[test]
    fn a_basal_rate_runs_until_the_next_and_no_longer_than_a_day() {
        let rate = |at, units| dose(at, units, InsulinKind::Rapid, Delivery::BasalRate);
        let doses = [rate(-2 * HOUR, 1.0), rate(4 * HOUR, 0.5)];
        let all = given(&doses, &LivedClock::fixed(0), (0, 5 * DAY));
        let [rate] = all.kinds[..] else { panic!("{all:?}") };
        // 4 h at 1 and 2 h at 0.5; three quarters of 6 h at 0.5; from midnight 4 h more.
        assert!(same(rate.units, [4.0 + 1.0 + 2.0, 3.0, 3.0, 3.0]), "{rate:?}");
        assert_eq!((rate.logged, rate.days, rate.basal_rate), (1, 2, true));
        // A window's end cuts it.
        let cut = given(&doses, &LivedClock::fixed(0), (0, 5 * HOUR));
        assert!((cut.kinds[0].total() - 4.5).abs() < 1e-12, "{cut:?}");
    }

    /// The quarter is that of the clock that was lived by.
    #[test]
    fn quarters_are_of_the_lived_clock() {
        let doses = [dose(5 * HOUR, 2.0, InsulinKind::Rapid, Delivery::AtOnce)];
        let all = given(&doses, &LivedClock::fixed(2 * 3600), (0, DAY));
        assert!(same(all.kinds[0].units, [0.0, 2.0, 0.0, 0.0]), "{all:?}");
        assert_eq!(given(&[], &LivedClock::fixed(0), (0, DAY)), AllGiven::default());
    }
}
