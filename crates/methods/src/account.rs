//! Everything about a window in one pass over its readings.

use interstice_glucose::{Levels, LivedClock, Second};
use rayon::prelude::*;

use crate::day::LivedDay;
use crate::episode::{Episode, EpisodeParams, episodes};
use crate::primary::Series;
use crate::ranges::{BandTimes, TargetGroup};
use crate::recording::{Recording, RecordingError};
use crate::summary::{self, Sufficiency, Summary};
use crate::sums::{self, DaySums, Scratch, Sums, WEIGHT};
use crate::usual_day::{Dense, UsualBin, apart, weekday_class};

/// One lived day.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DayAccount {
    /// Which.
    pub day: LivedDay,
    /// Readings received.
    pub received: u32,
    /// Readings a sensor worn through the day (as far as the window takes it) would have given.
    pub expected: f64,
    /// Time its readings stand for, percent of the day as far as the window takes it, at most 100.
    pub active_percent: f64,
    /// Seconds in each band.
    pub bands: BandTimes,
    /// Time-weighted mean, mg/dL.
    pub mean_mg_dl: Option<f64>,
    /// Lowest reading, mg/dL.
    pub lowest_mg_dl: Option<f64>,
    /// Highest reading, mg/dL.
    pub highest_mg_dl: Option<f64>,
    /// Mean amplitude of its glycaemic excursions, mg/dL, where 70 % of the day is covered.
    pub mage_mg_dl: Option<f64>,
    /// Readings below the sensor's range; in means they count at its edge.
    pub censored_below: u32,
    /// Readings above the sensor's range; in means they count at its edge.
    pub censored_above: u32,
}

/// The account of a window.
#[derive(Clone, Debug)]
pub struct Account {
    /// The consensus figures and indices, each with its value or the reason why there is none.
    pub summary: Summary,
    /// Seconds in each band.
    pub bands: BandTimes,
    /// How much there is to go on.
    pub sufficiency: Sufficiency,
    /// Readings below the sensor's range; in means they count at its edge.
    pub censored_below: u64,
    /// Readings above the sensor's range; in means they count at its edge.
    pub censored_above: u64,
    /// One a lived day, oldest first.
    pub days: Vec<DayAccount>,
    /// The usual day over all lived days.
    pub usual_day: Vec<UsualBin>,
    /// Over Monday to Friday.
    pub usual_weekday: Vec<UsualBin>,
    /// Over Saturday and Sunday.
    pub usual_weekend: Vec<UsualBin>,
    /// Low and high episodes by the consensus durations, by start.
    pub episodes: Vec<Episode>,
    /// Whose target range times in range and episodes go by.
    pub group: TargetGroup,
    pub(crate) day_sums: Vec<Sums>,
}

impl Account {
    /// The account of `series` in `[from, to)`.
    ///
    /// * `series`: from [`crate::primary`]; for figures without artefacts, [`Series::without`] them.
    /// * `levels`: the table its levels index.
    /// * `clock`: what the wearer's wall clock showed, exact in the window and the day before.
    ///
    /// The same result to the last bit on any number of threads.
    ///
    /// # Errors
    /// `UnknownLevel`.
    pub fn compute(
        series: &Series<'_>,
        levels: &Levels,
        clock: &LivedClock,
        from: Second,
        to: Second,
    ) -> Result<Account, RecordingError> {
        Ok(Account::of(&Recording::new(series, levels, clock, from, to)?))
    }

    /// The account of a recording.
    pub fn of(recording: &Recording<'_>) -> Account {
        let (by_day, episodes) = rayon::join(
            || by_day(recording),
            || episodes(recording, &EpisodeParams::default()),
        );
        let (by_day, dense) = by_day;
        let [usual_day, usual_weekday, usual_weekend] = apart(recording, dense);
        let days: Vec<DayAccount> = recording
            .days
            .iter()
            .zip(&by_day)
            .map(|(day, of)| day_account(recording, day, of))
            .collect();
        let mut total = Sums::default();
        for of in &by_day {
            total.add(&of.sums);
        }
        Account {
            summary: summary::summary(&total, recording.group, recording.len() as u64),
            bands: total.band_seconds(),
            sufficiency: sufficiency(recording, &days, total.0[WEIGHT]),
            censored_below: by_day.iter().map(|of| u64::from(of.censored[0])).sum(),
            censored_above: by_day.iter().map(|of| u64::from(of.censored[1])).sum(),
            days,
            usual_day,
            usual_weekday,
            usual_weekend,
            episodes,
            group: recording.group,
            day_sums: by_day.iter().map(|of| of.sums).collect(),
        }
    }
}

/// Fewest days a thread takes at once, and most such portions: each keeps a table of the usual day.
const FEWEST_DAYS_AT_ONCE: usize = 64;
const MOST_PORTIONS: usize = 16;

/// The sums of each day and, where it fits, the table of the usual day: what needs every reading, while a day's
/// readings are at hand.
fn by_day(recording: &Recording<'_>) -> (Vec<DaySums>, Option<Dense>) {
    let days: Vec<usize> = (0..recording.days.len()).collect();
    let portion = days.len().div_ceil(MOST_PORTIONS).max(FEWEST_DAYS_AT_ONCE);
    let portions: Vec<(Vec<DaySums>, Option<Dense>)> = days
        .par_chunks(portion)
        .map(|days| {
            let mut scratch = Scratch::default();
            let mut dense = Dense::fits(2, recording).then(|| Dense::new(2, recording));
            let mut of_day = |&index: &usize| {
                let (day, range) = (&recording.days[index], recording.readings[index].clone());
                let of = sums::of_day(recording, day, range.clone(), &mut scratch);
                if let (Some(dense), false) = (dense.as_mut(), range.is_empty()) {
                    dense.add_day(recording, index, weekday_class(day), &scratch.columns);
                }
                of
            };
            let sums = days.iter().map(&mut of_day).collect();
            (sums, dense)
        })
        .collect();
    let mut by_day = Vec::with_capacity(days.len());
    let mut total: Option<Dense> = Dense::fits(2, recording).then(|| Dense::new(2, recording));
    for (sums, dense) in portions {
        by_day.extend(sums);
        total = total.zip(dense).map(|(total, dense)| total.add(&dense));
    }
    (by_day, total)
}

fn day_account(recording: &Recording<'_>, day: &LivedDay, of: &DaySums) -> DayAccount {
    let figures = summary::figures(&of.sums, recording.group);
    let given = |value: f64| (!value.is_nan()).then_some(value);
    DayAccount {
        day: *day,
        received: of.received,
        expected: recording.expected(day.from, day.to),
        active_percent: (100.0 * of.sums.0[WEIGHT] / day.seconds() as f64).min(100.0),
        bands: of.sums.band_seconds(),
        mean_mg_dl: given(figures.mean_mg_dl),
        lowest_mg_dl: of.extremes.map(|extremes| extremes.0),
        highest_mg_dl: of.extremes.map(|extremes| extremes.1),
        mage_mg_dl: of.mage,
        censored_below: of.censored[0],
        censored_above: of.censored[1],
    }
}

fn sufficiency(recording: &Recording<'_>, days: &[DayAccount], seconds: f64) -> Sufficiency {
    let window_s: i64 = recording.days.iter().map(LivedDay::seconds).sum();
    let lived_days = recording.days.iter().map(LivedDay::part).sum();
    let with = days.iter().filter(|day| day.received > 0).count();
    let expected = days.iter().map(|day| day.expected).sum();
    let with = u32::try_from(with).unwrap_or(u32::MAX);
    Sufficiency::new(
        recording.len() as u64,
        expected,
        seconds,
        window_s as f64,
        lived_days,
        with,
    )
}
