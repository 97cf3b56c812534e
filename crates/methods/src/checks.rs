//! Blood checks by themselves, for days without a sensor: shares of checks, never of time.
//!
//! A check is made when somebody wants to know, so the checks of a day are no sample of its hours: what is said of them holds
//! of them. Mean, spread, shares and the two risk indices are those of the readings' account with every check weighing
//! the same; the indices were made for such checks (Kovatchev et al. 1997, Diabetes Care 20:1655).

use std::collections::BTreeMap;

use interstice_glucose::{Levels, LivedClock, Said, Second};

use crate::level::LevelTable;
use crate::quantile::quantile;
use crate::ranges::{BandTimes, Range, TargetGroup};
use crate::summary::{self, Summary};
use crate::sums::{DaySums, Sums, Tally};

/// Parts of the lived day: from midnight, six hours each.
pub const PARTS: usize = 4;
const PART_S: Second = 6 * 3600;
/// Fewest checks in a part of the day for its middle and its quarters (ours).
pub const FEWEST_IN_PART: usize = 5;

/// The account of blood checks in a window.
#[derive(Clone, Debug)]
pub struct CheckAccount {
    /// Checks.
    pub checks: u64,
    /// Lived days with any.
    pub days: u32,
    /// Figures over all checks, each weighing the same; a share is of checks. Those that need a course of readings
    /// (MAGE, MODD, CONGA) say why they are not given.
    pub summary: Summary,
    /// Checks in each band.
    pub bands: BandTimes,
    /// Lowest and highest, mg/dL; `None` without checks.
    pub extremes_mg_dl: Option<(f64, f64)>,
    /// By six hours of the lived day.
    pub parts: [CheckPart; PARTS],
    /// Whose target range the shares go by.
    pub group: TargetGroup,
    pub(crate) day_sums: Vec<Sums>,
}

/// Blood checks in six hours of the lived day.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct CheckPart {
    /// Checks.
    pub checks: u64,
    /// Below the target range.
    pub below: u64,
    /// Above it.
    pub above: u64,
    /// First quarter, middle and third quarter, mg/dL; `None` of fewer than [`FEWEST_IN_PART`].
    pub quarters_mg_dl: Option<[f64; 3]>,
}

/// The account of `checks` (instant and value) in any order, all of them in the window.
///
/// * `clock`: what the wearer's wall clock showed.
pub fn account(checks: &[(Second, Said)], clock: &LivedClock, group: TargetGroup) -> CheckAccount {
    let mut levels = Levels::new();
    let placed: Vec<(Second, usize)> = checks
        .iter()
        .map(|&(at, said)| (at, levels.intern(said) as usize))
        .collect();
    let table = LevelTable::new(&levels);
    let mut days: BTreeMap<i64, Tally> = BTreeMap::new();
    let mut parts: [Vec<usize>; PARTS] = Default::default();
    for &(at, level) in &placed {
        let wall = clock.wall(at);
        days.entry(wall.day()).or_default().add(&table, level, 1, 1);
        let part = usize::try_from(wall.second_of_day() / PART_S).unwrap_or(0);
        parts[part.min(PARTS - 1)].push(level);
    }
    let by_day: Vec<DaySums> = days.into_values().map(Tally::close).collect();
    let mut total = Sums::default();
    for day in &by_day {
        total.add(&day.sums);
    }
    let extremes = by_day.iter().filter_map(|day| day.extremes);
    CheckAccount {
        checks: checks.len() as u64,
        days: u32::try_from(by_day.len()).unwrap_or(u32::MAX),
        summary: summary::summary(&total, group, checks.len() as u64),
        bands: total.band_seconds(),
        extremes_mg_dl: extremes.reduce(|a, b| (a.0.min(b.0), a.1.max(b.1))),
        parts: parts.map(|levels| part(&table, &levels, group)),
        group,
        day_sums: by_day.iter().map(|day| day.sums).collect(),
    }
}

fn part(table: &LevelTable, levels: &[usize], group: TargetGroup) -> CheckPart {
    let count = |wanted: &[Range]| {
        let of = |&&level: &&usize| wanted.contains(&table.band[level].range_for(group));
        levels.iter().filter(of).count() as u64
    };
    let mut values: Vec<f64> = levels.iter().map(|&level| table.mg_per_dl[level]).collect();
    values.sort_unstable_by(f64::total_cmp);
    let enough = values.len() >= FEWEST_IN_PART;
    let at = |p: f64| quantile(&values, p).filter(|_| enough);
    CheckPart {
        checks: levels.len() as u64,
        below: count(&[Range::VeryLow, Range::Low]),
        above: count(&[Range::High, Range::VeryHigh]),
        quarters_mg_dl: match (at(0.25), at(0.5), at(0.75)) {
            (Some(first), Some(middle), Some(third)) => Some([first, middle, third]),
            _ => None,
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use interstice_glucose::{Unit, Zone};

    fn mg(value: i64) -> Said {
        Said::whole_mg_per_dl(value)
    }

    fn lisbon(from: Second, to: Second) -> LivedClock {
        LivedClock::new(&Zone::named("Europe/Lisbon").unwrap(), &[], from, to)
    }

    /// Ten checks by hand: mean 130; variance with n - 1 is 35000 / 9.
    #[test]
    fn every_check_weighs_the_same_whatever_the_gaps() {
        let values = [50, 60, 80, 100, 120, 140, 160, 180, 200, 210];
        let checks: Vec<(Second, Said)> = values
            .iter()
            .enumerate()
            .map(|(i, &value)| (i as Second * i as Second * 20_000, mg(value)))
            .collect();
        let of = account(&checks, &lisbon(0, 3_000_000), TargetGroup::Adult);
        assert_eq!(of.checks, 10);
        assert_eq!(of.extremes_mg_dl, Some((50.0, 210.0)));
        assert!((of.summary.mean_mg_dl.unwrap() - 130.0).abs() < 1e-12);
        let square: f64 = values.iter().map(|&v| (v as f64 - 130.0).powi(2)).sum();
        assert!((of.summary.sd_mg_dl.unwrap() - (square / 9.0).sqrt()).abs() < 1e-9);
        assert!((of.summary.very_low_percent.unwrap() - 10.0).abs() < 1e-12);
        assert!((of.summary.below_percent.unwrap() - 20.0).abs() < 1e-12);
        assert!((of.summary.in_range_percent.unwrap() - 60.0).abs() < 1e-12);
        assert!((of.summary.above_percent.unwrap() - 20.0).abs() < 1e-12);
        assert!(
            of.summary.modd_mg_dl.is_err()
                && of.summary.conga1_mg_dl.is_err()
                && of.summary.mage_mg_dl.is_err()
        );
        let in_parts: u64 = of.parts.iter().map(|part| part.checks).sum();
        assert_eq!(in_parts, 10);
    }

    /// Summer time in Lisbon is an hour ahead: 05:30 UTC is 06:30 on the wall, in the second part.
    #[test]
    fn parts_go_by_the_lived_clock() {
        let noon = 1_750_000_000 - 1_750_000_000 % 86_400;
        let clock = lisbon(noon - 86_400, noon + 9 * 86_400);
        let half_past_five = noon + 5 * 3600 + 1800;
        let checks: Vec<(Second, Said)> = (0..5)
            .map(|day| (half_past_five + day * 86_400, mg(100 + 10 * day)))
            .collect();
        let of = account(&checks, &clock, TargetGroup::Adult);
        assert_eq!(of.parts.map(|part| part.checks), [0, 5, 0, 0]);
        assert_eq!(of.parts[1].quarters_mg_dl, Some([110.0, 120.0, 130.0]));
        assert_eq!(of.days, 5);
        let four = account(&checks[..4], &clock, TargetGroup::Adult);
        assert_eq!(four.parts[1].quarters_mg_dl, None, "too few");
    }

    #[test]
    fn a_check_is_classed_in_its_own_unit() {
        let said = Said::new(39, 1, Unit::MmolPerL, interstice_glucose::Censor::None).unwrap();
        let of = account(&[(0, said), (60, mg(70))], &lisbon(0, 100), TargetGroup::Adult);
        assert!((of.summary.in_range_percent.unwrap() - 100.0).abs() < 1e-12);
    }

    #[test]
    fn nothing_is_said_of_no_checks() {
        let of = account(&[], &lisbon(0, 100), TargetGroup::Adult);
        assert!(of.summary.mean_mg_dl.is_err() && of.extremes_mg_dl.is_none());
        assert_eq!((of.checks, of.days), (0, 0));
    }
}
