//! The rise towards morning.

use interstice_glucose::{DAY_S, Second};

use super::LATEST_DAYS;
use crate::agreement::share_interval;
use crate::bootstrap::Interval;
use crate::quantile::quantile;
use crate::recording::Recording;
use crate::trace::gap_limit_s;

/// Fewest nights for a figure (ours, no source).
pub const FEWEST_NIGHTS: usize = 5;
/// A rise from here on counts as one, mg/dL (Monnier et al. 2013, Diabetes Care 36:4057, in type 2; for type 1 there is no consensus).
const COUNTS_FROM_MG_DL: f64 = 20.0;
/// The night of the lowest value: midnight to six (the same).
const NIGHT_S: Second = 6 * 3600;
/// Breakfast is what is first eaten from four until eleven (ours, no source).
const BREAKFAST_S: (Second, Second) = (4 * 3600, 11 * 3600);

/// Why nights were left out.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct DawnExcluded {
    /// No breakfast logged, so that no value before it is known.
    pub no_breakfast: u32,
    /// A reading below the target range, carbohydrate, or a stretch not to be believed, pressure among them.
    pub low_food_or_pressure: u32,
    /// A rapid dose between midnight and breakfast (ours: a correction hides or makes a rise).
    pub dose: u32,
    /// Readings missing.
    pub unread: u32,
}

/// The rise towards morning.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Dawn {
    /// Nights behind it.
    pub nights: u32,
    /// Nights left out.
    pub excluded: DawnExcluded,
    /// Quartiles of the value before breakfast minus the lowest from midnight to six, mg/dL; `None` with fewer than
    /// [`FEWEST_NIGHTS`].
    pub rise_mg_dl: Option<[f64; 3]>,
    /// Share of nights with 20 mg/dL or more.
    pub share: Option<f64>,
    /// Its exact 95 % interval.
    pub share_interval: Option<Interval>,
}

/// Measures it over the latest [`LATEST_DAYS`].
///
/// * `carbs`, `doses`: instants of carbohydrate and of rapid and short doses, in time order.
/// * `aside`: stretches not to be believed, pressed ones among them.
pub fn dawn(
    recording: &Recording<'_>,
    carbs: &[Second],
    doses: &[Second],
    aside: &[(Second, Second)],
) -> Dawn {
    let mut found = Dawn::default();
    let mut rises = Vec::new();
    let days = recording.days();
    let latest = days.len().saturating_sub(LATEST_DAYS as usize);
    for day in &days[latest..] {
        match rise(recording, day.from, carbs, doses, aside) {
            Ok(rise) => rises.push(rise),
            Err(why) => *why.of(&mut found.excluded) += 1,
        }
    }
    found.nights = rises.len() as u32;
    if rises.len() < FEWEST_NIGHTS {
        return found;
    }
    let marked = rises.iter().filter(|&&rise| rise >= COUNTS_FROM_MG_DL).count() as u64;
    rises.sort_unstable_by(f64::total_cmp);
    found.rise_mg_dl = quantile(&rises, 0.25)
        .zip(quantile(&rises, 0.5))
        .zip(quantile(&rises, 0.75))
        .map(|((p25, p50), p75)| [p25, p50, p75]);
    found.share = Some(marked as f64 / rises.len() as f64);
    found.share_interval = Some(share_interval(marked, rises.len() as u64, 0.95));
    found
}

#[derive(Clone, Copy)]
enum Why {
    NoBreakfast,
    Spoilt,
    Dose,
    Unread,
}

impl Why {
    fn of(self, excluded: &mut DawnExcluded) -> &mut u32 {
        match self {
            Why::NoBreakfast => &mut excluded.no_breakfast,
            Why::Spoilt => &mut excluded.low_food_or_pressure,
            Why::Dose => &mut excluded.dose,
            Why::Unread => &mut excluded.unread,
        }
    }
}

/// Of a day that begins at `midnight`.
fn rise(
    recording: &Recording<'_>,
    midnight: Second,
    carbs: &[Second],
    doses: &[Second],
    aside: &[(Second, Second)],
) -> Result<f64, Why> {
    let within = |of: &[Second], from: Second, to: Second| {
        let first = of.partition_point(|&at| at < from);
        of.get(first).copied().filter(|&at| at < to)
    };
    let wall = recording.clock.wall(midnight).second_of_day();
    if wall != 0 {
        return Err(Why::Unread);
    }
    let breakfast =
        within(carbs, midnight + BREAKFAST_S.0, midnight + BREAKFAST_S.1).ok_or(Why::NoBreakfast)?;
    if breakfast < midnight + NIGHT_S || breakfast - midnight > DAY_S {
        return Err(Why::Spoilt);
    }
    let limit = Second::from(gap_limit_s(0));
    let (mut last, mut lowest, mut value) = (midnight, f64::INFINITY, None);
    for (at, mg_dl) in recording.course(midnight, breakfast + 1) {
        if at - last > limit {
            return Err(Why::Unread);
        }
        last = at;
        if mg_dl < recording.group.targets().range_low_mg_dl {
            return Err(Why::Spoilt);
        }
        if at < midnight + NIGHT_S {
            lowest = lowest.min(mg_dl);
        }
        value = Some(mg_dl);
    }
    if breakfast - last > limit || !lowest.is_finite() {
        return Err(Why::Unread);
    }
    let pressed = aside.iter().any(|&(from, to)| from < breakfast && to > midnight);
    if pressed || within(carbs, midnight, breakfast).is_some() {
        return Err(Why::Spoilt);
    }
    // A dose for breakfast itself, taken ahead of it, acts too late to be in it.
    if within(doses, midnight, breakfast - 30 * 60).is_some() {
        return Err(Why::Dose);
    }
    value.map(|value| value - lowest).ok_or(Why::Unread)
}
