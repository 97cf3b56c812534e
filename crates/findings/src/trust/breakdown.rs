//! The figures by what pairs have in common.

use std::collections::BTreeSet;

use interstice_book::Record;
use interstice_methods::agreement::{
    Allowance, BEDDING_IN, Bin, ClusterBootstrap, DAY_QUARTERS, FEWEST_PAIRS, FIRST_DAY, GroupFigures,
    Grouped, LAST_DAY_APART, Pair, ResampledBy, day_of_wear,
};
use interstice_methods::{Band, Interval, Range, Refusal};

use super::wears::SensorWear;
use super::{By, GroupLine, IntervalBy, Share};
use crate::Figure;

/// How near a MARD should be known for `pairs_for_2_points`, percentage points either way.
const POINTS: f64 = 2.0;

/// Names of the directions, in the order of [`interstice_methods::agreement::DIRECTIONS`].
pub(crate) const DIRECTION_KEYS: [&str; 5] = ["falling_fast", "falling", "steady", "rising", "rising_fast"];
const RANGE_KEYS: [&str; 5] = ["very_low", "low", "in_range", "high", "very_high"];
const FIRST_DAY_KEYS: [&str; 5] = ["0-2", "2-4", "4-8", "8-12", "12-24"];
const QUARTER_KEYS: [&str; 4] = ["00-06", "06-12", "12-18", "18-24"];
const BEDDING_KEYS: [&str; 3] = ["under_2_h", "2_to_12_h", "12_h_or_more"];

/// What every group is worked out with.
#[derive(Clone, Copy)]
pub(super) struct Groups<'a> {
    pub(super) record: &'a Record,
    pub(super) wears: &'a [SensorWear],
    pub(super) pairs: &'a [Pair],
    pub(super) allowance: Allowance,
    pub(super) bootstrap: ClusterBootstrap,
}

/// Every breakdown.
pub(super) fn by(groups: Groups<'_>) -> By {
    let wear = |pair: &Pair| groups.wears.get(pair.sensor);
    let first_day: Vec<Pair> = groups
        .pairs
        .iter()
        .filter(|pair| pair.worn_s.is_some_and(|worn_s| day_of_wear(worn_s) == 1))
        .copied()
        .collect();
    By {
        day_of_wear: groups.days(),
        first_day_hours: Groups {
            pairs: &first_day,
            ..groups
        }
        .fixed(&FIRST_DAY_KEYS, |pair| {
            Bin::place(&FIRST_DAY, pair.worn_s?.max(0) as f64 / 3600.0)
        }),
        range: groups.fixed(&RANGE_KEYS, |pair| groups.range(pair)),
        direction: groups.fixed(&DIRECTION_KEYS, |pair| Bin::direction(pair.rate_mg_dl_min?)),
        sensor: groups.named(|pair| wear(pair).map(|wear| wear.name.clone())),
        site: groups.named(|pair| wear(pair)?.site.clone()),
        side: groups.named(|pair| wear(pair)?.side()),
        place: groups.named(|pair| wear(pair)?.place()),
        lot: groups.named(|pair| wear(pair)?.worn.detail.lot.clone()),
        preparation: groups.named(|pair| wear(pair)?.preparation()),
        bedding_in: groups.fixed(&BEDDING_KEYS, |pair| {
            Bin::place(&BEDDING_IN, wear(pair)?.worn.bedding_in_h()?)
        }),
        time_of_day: groups.fixed(&QUARTER_KEYS, |pair| {
            Bin::place(&DAY_QUARTERS, pair.wall.second_of_day() as f64 / 3600.0)
        }),
    }
}

impl Groups<'_> {
    /// Range of the blood value, in the unit it was said in.
    fn range(self, pair: &Pair) -> Option<usize> {
        let check = self.record.blood_checks.get(pair.check)?;
        Some(match Band::of(check.it.said).range() {
            Range::VeryLow => 0,
            Range::Low => 1,
            Range::InRange => 2,
            Range::High => 3,
            Range::VeryHigh => 4,
        })
    }

    /// Days of wear up to the last with a pair.
    fn days(self) -> Vec<GroupLine> {
        let day = |pair: &Pair| Some(day_of_wear(pair.worn_s?));
        let last = self.pairs.iter().filter_map(day).max().unwrap_or(0);
        let name = |day: u32| {
            if day < LAST_DAY_APART {
                day.to_string()
            } else {
                format!("{LAST_DAY_APART}+")
            }
        };
        let keys: Vec<String> = (1..=last).map(name).collect();
        self.lines(&keys, |pair| Some(day(pair)? as usize - 1))
    }

    /// Groups that are there whether they hold a pair or not.
    fn fixed(self, keys: &[&str], of: impl Fn(&Pair) -> Option<usize>) -> Vec<GroupLine> {
        let keys: Vec<String> = keys.iter().map(|&key| key.to_owned()).collect();
        self.lines(&keys, of)
    }

    /// Groups by name, in order of the name.
    fn named(self, of: impl Fn(&Pair) -> Option<String>) -> Vec<GroupLine> {
        let names: BTreeSet<String> = self.pairs.iter().filter_map(&of).collect();
        let keys: Vec<String> = names.into_iter().collect();
        self.lines(&keys, |pair| keys.binary_search(&of(pair)?).ok())
    }

    fn lines(self, keys: &[String], of: impl Fn(&Pair) -> Option<usize>) -> Vec<GroupLine> {
        // The last group holds the pairs of which it is not known.
        let count = keys.len() + 1;
        let place = |pair: &Pair| Some(of(pair).unwrap_or(count - 1));
        let grouped = Grouped::by(self.pairs, count, place, self.allowance, self.bootstrap);
        let names = keys.iter().map(String::as_str).chain([GroupLine::UNKNOWN]);
        names
            .zip(&grouped.groups)
            .filter(|(name, group)| *name != GroupLine::UNKNOWN || group.pairs > 0)
            .map(|(name, group)| line(name, group, self.allowance))
            .collect()
    }
}

/// One group as it is shown.
pub(super) fn line(key: &str, group: &GroupFigures, allowance: Allowance) -> GroupLine {
    let intervals = group.intervals.as_ref().ok();
    let more = group.more_for(POINTS);
    GroupLine {
        key: key.to_owned(),
        pairs: group.pairs,
        sensors: group.sensors,
        mard_percent: figure(
            group.measures.map(|measures| measures.mard_percent),
            intervals.map(|found| found.mard_percent),
        ),
        bias_mg_dl: figure(
            group.measures.map(|measures| measures.bias_mg_dl),
            intervals.map(|found| found.bias_mg_dl),
        ),
        within_15: share(allowance, group.rate),
        interval_by: intervals.map(|found| interval_by(found.by)),
        pairs_missing: FEWEST_PAIRS.saturating_sub(group.pairs),
        pairs_for_2_points: more,
    }
}

/// A value with its interval, or why there is none.
pub(super) fn figure(value: Result<f64, Refusal>, interval: Option<Interval>) -> Figure {
    match value {
        Ok(value) => Figure {
            value: Some(value),
            lo95: interval.map(|interval| interval.lo),
            hi95: interval.map(|interval| interval.hi),
            reason: None,
        },
        Err(why) => Figure::missing(why.to_string()),
    }
}

pub(super) fn interval_by(by: ResampledBy) -> IntervalBy {
    match by {
        ResampledBy::Sensors => IntervalBy::Sensors,
        ResampledBy::Days => IntervalBy::Days,
        ResampledBy::Pairs => IntervalBy::Pairs,
    }
}

/// A share with its exact bounds; a reason where there is no pair.
pub(super) fn share(allowance: Allowance, rate: interstice_methods::agreement::Rate) -> Share {
    let percent = match rate.percent() {
        Some(percent) => {
            let interval = rate.interval_percent();
            Figure {
                value: Some(percent),
                lo95: Some(interval.lo),
                hi95: Some(interval.hi),
                reason: None,
            }
        }
        None => Figure::missing("there is no blood check beside a reading"),
    };
    Share {
        limit: allowance.limit,
        within: rate.within,
        of: rate.of,
        percent,
        lower95: (rate.of > 0).then(|| rate.lower_percent()),
    }
}
