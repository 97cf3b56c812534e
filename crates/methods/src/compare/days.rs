//! Each lived day as sums, from which the figures of any set of days follow by adding.

use crate::account::Account;
use crate::episode::EpisodeKind;
use crate::ranges::{BANDS, TargetGroup};
use crate::recording::Recording;
use crate::sums::COLUMNS;

/// Weighted sum of the night's readings, mg/dL × seconds.
pub(super) const NIGHT_X: usize = COLUMNS;
/// Seconds of the night in each band.
pub(super) const NIGHT_BANDS: usize = NIGHT_X + 1;
/// Episodes that begin: low, low of level 2, high.
pub(super) const COUNTS: usize = NIGHT_BANDS + BANDS;
/// Pairs: an amount, and what it is told by.
pub(super) const LOGGED: usize = COUNTS + 3;

const DAY_MIN: u32 = 1440;

/// The night by lived clock, minutes of the day; it may pass midnight.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NightMinutes {
    /// Minute it begins.
    pub from: u32,
    /// Minute it ends.
    pub to: u32,
}

impl NightMinutes {
    fn holds(self, minute: u32) -> bool {
        if self.from <= self.to {
            (self.from..self.to).contains(&minute)
        } else {
            minute >= self.from || minute < self.to
        }
    }
}

/// Something logged, day by day.
#[derive(Clone, Debug, PartialEq)]
pub struct LoggedADay {
    /// For each lived day of the recording an amount and what it is told by (1 for a day that counts, seconds for a share of
    /// time); 0 and 0 where the day says nothing of it. The figure is the sum of the amounts over the sum of the others.
    pub days: Vec<(f64, f64)>,
    /// What the figure is multiplied by: 100 for percent, 7 for a week.
    pub scale: f64,
    /// Whether other days could have shown other amounts. What sensor was worn is as it was, and days are no sample of it: it has
    /// no interval.
    pub is_sampled: bool,
}

/// Lived days as they are compared.
#[derive(Clone, Debug)]
pub struct Days {
    pub(super) rows: Vec<Row>,
    pub(super) scales: Vec<f64>,
    pub(super) is_sampled: Vec<bool>,
    pub(super) group: TargetGroup,
}

#[derive(Clone, Debug)]
pub(super) struct Row {
    pub(super) sums: Vec<f64>,
    pub(super) received: u32,
    pub(super) expected: f64,
    /// Of the day, as far as the recording takes it.
    pub(super) seconds: f64,
    pub(super) part: f64,
}

impl Days {
    /// The days of a recording, in its order; an episode counts on the day it begins.
    pub fn of(recording: &Recording<'_>, night: NightMinutes, logged: &[LoggedADay]) -> Self {
        let account = Account::of(recording);
        let mut rows: Vec<Row> = account
            .days
            .iter()
            .zip(&account.day_sums)
            .enumerate()
            .map(|(place, (day, sums))| {
                let mut all = vec![0.0; LOGGED];
                all[..COLUMNS].copy_from_slice(&sums.0);
                add_night(recording, place, night, &mut all);
                all.extend(logged.iter().flat_map(|of| {
                    let (amount, by) = of.days.get(place).copied().unwrap_or_default();
                    [amount, by]
                }));
                Row {
                    sums: all,
                    received: day.received,
                    expected: day.expected,
                    seconds: day.day.seconds() as f64,
                    part: day.day.part(),
                }
            })
            .collect();
        for episode in &account.episodes {
            let place = recording.days().partition_point(|day| day.to <= episode.start);
            let Some(row) = rows.get_mut(place) else { continue };
            match episode.kind {
                EpisodeKind::Low => {
                    row.sums[COUNTS] += 1.0;
                    row.sums[COUNTS + 1] += f64::from(u8::from(episode.level > 1));
                }
                EpisodeKind::High => row.sums[COUNTS + 2] += 1.0,
            }
        }
        Days {
            rows,
            scales: logged.iter().map(|of| of.scale).collect(),
            is_sampled: logged.iter().map(|of| of.is_sampled).collect(),
            group: recording.group,
        }
    }
}

fn add_night(recording: &Recording<'_>, day: usize, night: NightMinutes, row: &mut [f64]) {
    for (part, offset) in recording.wall_stretches(day) {
        for (part, interval_s) in recording.stretches(part) {
            for i in part {
                let minute = (i64::from(recording.at[i]) + offset).div_euclid(60);
                if !night.holds(u32::try_from(minute.rem_euclid(DAY_MIN.into())).unwrap_or(0)) {
                    continue;
                }
                let seconds = f64::from(recording.weight(i, interval_s));
                row[NIGHT_X] += seconds * recording.mg_per_dl(i);
                row[NIGHT_BANDS + recording.band(i).index()] += seconds;
            }
        }
    }
}
