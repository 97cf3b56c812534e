//! How often swings come, what they cost, and when.

use interstice_glucose::{DAY_S, LivedClock, Second};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::{Swing, SwingKind};
use crate::bootstrap::{Bootstrap, Interval};
use crate::day::is_weekend;
use crate::quantile::quantile;
use crate::rate::{count_interval, ratio_interval};

const WEEK_S: f64 = 7.0 * 86_400.0;
/// Fewest whole weeks for an interval of the hours lost (ours, no source).
pub const FEWEST_WEEKS: usize = 4;
/// Fewest swings for a trend, a usual hour or a kind of day (ours, no source).
pub const FEWEST_SWINGS: u64 = 8;
/// Hours of the window swings are looked for to begin in.
pub const USUAL_HOURS: u32 = 4;

/// What swings are counted over.
#[derive(Clone, Copy, Debug)]
pub struct Window<'a> {
    /// First instant.
    pub from: Second,
    /// First instant no longer in it.
    pub to: Second,
    /// Time the readings stand for, seconds.
    pub read_s: f64,
    /// The wall clock lived by.
    pub clock: &'a LivedClock,
}

/// One kind.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct KindTally {
    /// Which.
    pub kind: SwingKind,
    /// Swings it is in.
    pub swings: u64,
    /// In a week of readings; `None` without any.
    pub per_week: Option<f64>,
    /// 95 % (Garwood 1936), as if each came on its own.
    pub per_week_interval: Option<Interval>,
}

/// The four hours most swings begin in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct UsualHours {
    /// Hour of the clock they begin.
    pub from_hour: u32,
    /// Swings that began in them.
    pub swings: u64,
    /// How often the fullest four hours would hold as many, were all hours alike.
    pub by_chance: f64,
}

/// Swings, counted.
#[derive(Clone, Debug, PartialEq)]
pub struct Tally {
    /// Of all kinds together.
    pub swings: u64,
    /// In a week of readings.
    pub per_week: Option<f64>,
    /// 95 %, exact.
    pub per_week_interval: Option<Interval>,
    /// Hours low that they brought, a week.
    pub low_hours_per_week: Option<f64>,
    /// Hours high.
    pub high_hours_per_week: Option<f64>,
    /// 95 % of low and high hours together, by resampling weeks; `None` with fewer than [`FEWEST_WEEKS`].
    pub hours_interval: Option<Interval>,
    /// By kind, those that are there.
    pub kinds: Vec<KindTally>,
    /// How many times as often in the later half as in the earlier, 95 % exact; with at least [`FEWEST_SWINGS`].
    pub later_to_earlier: Option<Interval>,
    /// How many times as often at weekends as on weekdays.
    pub weekend_to_weekday: Option<Interval>,
    /// With at least [`FEWEST_SWINGS`].
    pub usual_hours: Option<UsualHours>,
    /// Swings in which what followed shows that waiting would have been enough.
    pub pause_was_enough: u64,
}

/// Counts the swings of a window. Weekends and halves are taken as read evenly.
pub fn tally(swings: &[Swing], window: &Window<'_>, bootstrap: &Bootstrap) -> Tally {
    let count = swings.len() as u64;
    let weeks = window.read_s / WEEK_S;
    let rate = |count: f64| (weeks > 0.0).then(|| count / weeks);
    let rate_interval = |count: u64| {
        let interval = count_interval(count, bootstrap.confidence);
        (weeks > 0.0).then(|| Interval {
            lo: interval.lo / weeks,
            hi: interval.hi / weeks,
        })
    };
    let kinds = SwingKind::ALL.into_iter().filter_map(|kind| {
        let of = swings.iter().filter(|swing| swing.kinds.contains(&kind)).count() as u64;
        (of > 0).then(|| KindTally {
            kind,
            swings: of,
            per_week: rate(of as f64),
            per_week_interval: rate_interval(of),
        })
    });
    let hours = |of: fn(&Swing) -> i64| swings.iter().map(of).sum::<i64>() as f64 / 3600.0;
    let enough = count >= FEWEST_SWINGS;
    Tally {
        swings: count,
        per_week: rate(count as f64),
        per_week_interval: rate_interval(count),
        low_hours_per_week: rate(hours(|swing| swing.low_s)),
        high_hours_per_week: rate(hours(|swing| swing.high_s)),
        hours_interval: hours_interval(swings, window, bootstrap),
        kinds: kinds.collect(),
        later_to_earlier: enough.then(|| halves(swings, window)).flatten(),
        weekend_to_weekday: enough.then(|| day_kinds(swings, window)).flatten(),
        usual_hours: enough.then(|| usual_hours(swings, window, bootstrap)),
        pause_was_enough: swings
            .iter()
            .filter(|swing| swing.pauses.iter().any(|pause| pause.was_enough))
            .count() as u64,
    }
}

/// Percentile interval of the mean hours of whole weeks, drawn one by one with return.
fn hours_interval(swings: &[Swing], window: &Window<'_>, bootstrap: &Bootstrap) -> Option<Interval> {
    let weeks = usize::try_from((window.to - window.from) / (7 * DAY_S)).ok()?;
    if weeks < FEWEST_WEEKS {
        return None;
    }
    let mut hours = vec![0.0; weeks];
    for swing in swings {
        let week = usize::try_from((swing.start - window.from) / (7 * DAY_S)).ok()?;
        if let Some(hours) = hours.get_mut(week) {
            *hours += (swing.low_s + swing.high_s) as f64 / 3600.0;
        }
    }
    let mut stream = ChaCha8Rng::seed_from_u64(bootstrap.seed);
    let mut means: Vec<f64> = (0..bootstrap.replicates.max(1))
        .map(|_| {
            let drawn = (0..weeks).map(|_| hours[stream.random_range(0..weeks)]);
            drawn.sum::<f64>() / weeks as f64
        })
        .collect();
    means.sort_unstable_by(f64::total_cmp);
    let outer = (1.0 - bootstrap.confidence) / 2.0;
    let read = window.read_s / (window.to - window.from) as f64;
    Some(Interval {
        lo: quantile(&means, outer)? / read,
        hi: quantile(&means, 1.0 - outer)? / read,
    })
}

fn halves(swings: &[Swing], window: &Window<'_>) -> Option<Interval> {
    let middle = window.from.midpoint(window.to);
    let later = swings.iter().filter(|swing| swing.start >= middle).count() as u64;
    ratio_interval((swings.len() as u64 - later, 1.0), (later, 1.0), 0.95)
}

fn day_kinds(swings: &[Swing], window: &Window<'_>) -> Option<Interval> {
    let is_weekend = |at: Second| is_weekend(window.clock.wall(at).day());
    let days = (window.to - window.from) / DAY_S;
    let weekend_days = (0..days)
        .filter(|day| is_weekend(window.from + day * DAY_S))
        .count();
    let weekend = swings.iter().filter(|swing| is_weekend(swing.start)).count() as u64;
    ratio_interval(
        (swings.len() as u64 - weekend, days as f64 - weekend_days as f64),
        (weekend, weekend_days as f64),
        0.95,
    )
}

/// The fullest [`USUAL_HOURS`], the earliest of several; against as many swings thrown over the day evenly, the fullest of
/// each throw, so that looking everywhere is allowed for.
fn usual_hours(swings: &[Swing], window: &Window<'_>, bootstrap: &Bootstrap) -> UsualHours {
    let mut by_hour = [0_u64; 24];
    for swing in swings {
        let hour = window.clock.wall(swing.start).second_of_day() / 3600;
        by_hour[usize::try_from(hour).unwrap_or(0) % 24] += 1;
    }
    let (from_hour, most) = fullest(&by_hour);
    let mut stream = ChaCha8Rng::seed_from_u64(bootstrap.seed);
    let as_full = (0..bootstrap.replicates)
        .filter(|_| {
            let mut thrown = [0_u64; 24];
            for _ in swings {
                thrown[stream.random_range(0..24_usize)] += 1;
            }
            fullest(&thrown).1 >= most
        })
        .count();
    UsualHours {
        from_hour,
        swings: most,
        // Never 0 by drawing alone (Davison and Hinkley 1997, Bootstrap Methods, 4.11).
        by_chance: (as_full + 1) as f64 / f64::from(bootstrap.replicates + 1),
    }
}

fn fullest(by_hour: &[u64; 24]) -> (u32, u64) {
    let mut best = (0, 0);
    for from in 0..24_usize {
        let sum = (0..USUAL_HOURS as usize)
            .map(|hour| by_hour[(from + hour) % 24])
            .sum();
        if sum > best.1 {
            best = (from as u32, sum);
        }
    }
    best
}
