//! Which blood check would teach most today: a short list, none of it needed.

use interstice_book::Record;
use interstice_glucose::{DAY_S, Second, TraceKind, TrialOutcome, counted};
use interstice_methods::agreement::{Bin, day_of_wear, slope_mg_dl_min};
use interstice_methods::trace::native_interval;
use serde::Serialize;

use super::Worn;
use super::trials::TrialLine;
use crate::trust::{CheckWould, NextCheck};
use crate::{Time, TrustFindings};

/// No more than so many are named.
const MOST: usize = 3;
/// A check is named where it would narrow what is known of the sensor to this part or less. Ours.
const NARROWS: f64 = 0.9;
/// The rate of a reading this old says nothing of now, seconds.
const STALE_S: Second = 900;
/// Place of 'steady' among the directions.
const STEADY: usize = 2;
/// Hours that are usually steady are told from so many days back. Ours.
const BACK_DAYS: i64 = 14;
/// Fewest days, and fewest readings an hour, from which that is told. Ours.
const FEWEST_DAYS: usize = 5;
const FEWEST_READINGS: u32 = 20;
/// Hours of the lived day in which nobody is woken for it. Ours.
const WAKING: std::ops::Range<i64> = 7..22;

/// Checks that would teach most.
#[derive(Clone, Debug, Default, Serialize)]
pub struct WorthChecking {
    /// The first teaches most; at most three.
    pub list: Vec<WorthLine>,
    /// Whether glucose stands still, by the last reading; `None` where that is older than a quarter of an hour.
    pub steady_now: Option<bool>,
    /// The hour of today, still to come, in which glucose usually stands still most.
    pub steady_at: Option<SteadyHour>,
    /// Why nothing is named, in words.
    pub reason: Option<String>,
}

/// An hour of the lived day.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct SteadyHour {
    /// From this hour, 0 to 23.
    pub hour: i64,
    /// Readings of that hour, of the last two weeks, that changed by no more than 1 mg/dL a minute, percent.
    pub steady_percent: f64,
    /// Readings that is told from.
    pub readings: u32,
}

/// One check worth taking.
#[derive(Clone, Debug, Serialize)]
pub struct WorthLine {
    /// 'trial', 'sensor', 'first day' or 'site'.
    pub about: &'static str,
    /// The sensor it would be beside.
    pub sensor_id: Option<String>,
    /// Checks that are missing, where they are counted.
    pub missing: Option<u64>,
    /// Until when it would count.
    pub until: Option<Time>,
    /// How well it is known how far the sensor reads above or below blood: half of a band that holds it nine times in ten,
    /// percent.
    pub known_percent: Option<f64>,
    /// The same after the check, taken while glucose stands still.
    pub after_percent: Option<f64>,
    /// In words.
    pub says: String,
}

/// What is looked at.
pub(super) struct Looked<'a> {
    pub(super) record: &'a Record,
    pub(super) worn: &'a [Worn],
    pub(super) trials: &'a [TrialLine],
    pub(super) trust: Option<&'a TrustFindings>,
    pub(super) now: Second,
}

/// The checks that would teach most, as of now.
pub(super) fn worth_checking(looked: &Looked<'_>) -> WorthChecking {
    let reads: Vec<&Worn> = looked
        .worn
        .iter()
        .filter(|worn| worn.is_on && worn.it.start().is_some_and(|at| at <= looked.now))
        .collect();
    if reads.is_empty() {
        return WorthChecking {
            reason: Some("no sensor that reads is known to be on now".to_owned()),
            ..WorthChecking::default()
        };
    }
    let mut list: Vec<WorthLine> = reads.iter().filter_map(|worn| looked.for_trial(worn)).collect();
    let mut sensors: Vec<(f64, WorthLine)> =
        reads.iter().filter_map(|worn| looked.for_sensor(worn)).collect();
    sensors.sort_by(|a, b| b.0.total_cmp(&a.0));
    list.extend(sensors.into_iter().map(|(_, line)| line));
    list.extend(reads.iter().flat_map(|worn| looked.for_groups(worn)));
    list.truncate(MOST);
    let reason = list.is_empty().then(|| looked.nothing(&reads));
    let rate = reads
        .iter()
        .filter_map(|worn| looked.would(worn))
        .filter(|would| (0..=STALE_S).contains(&(looked.now - would.span.1)))
        .find_map(|would| would.rate_mg_dl_min);
    WorthChecking {
        list,
        steady_now: rate.and_then(Bin::direction).map(|place| place == STEADY),
        steady_at: looked.steady_at(),
        reason,
    }
}

impl Looked<'_> {
    /// What a check of this sensor would teach; nothing as of a moment before its last reading.
    fn would(&self, worn: &Worn) -> Option<&CheckWould> {
        let found = self.trust?.check_would.iter();
        found
            .filter(|would| would.span.1 <= self.now)
            .find(|would| worn.it.readings == Some(would.span))
    }

    /// Why none stands out.
    fn nothing(&self, reads: &[&Worn]) -> String {
        let Some(would) = reads.iter().find_map(|worn| self.would(worn)) else {
            return "what a check would teach is told as of the last reading only".to_owned();
        };
        format!(
            "none stands out: how far sensor {} reads above or below blood is known within {:.1} % from {}, and one more would make that {:.1} %",
            would.sensor,
            would.known_percent,
            counted(would.checks, "blood check", "blood checks"),
            would.after_steady_percent
        )
    }

    fn is_first_day(&self, worn: &Worn) -> bool {
        worn.it
            .start()
            .is_some_and(|start| day_of_wear(self.now - start) == 1)
    }

    /// Checks that the running trial still waits for.
    fn for_trial(&self, worn: &Worn) -> Option<WorthLine> {
        let trial = self.trials.iter().find(|trial| trial.is_running())?;
        let given = trial
            .given
            .iter()
            .find(|given| given.put_on.0.at == worn.it.from())?;
        let missing = trial.checks.saturating_sub(given.checks?);
        if missing == 0 || given.over {
            return None;
        }
        let first_day = trial.outcome == TrialOutcome::FirstDayError.name();
        let until = worn.it.start().filter(|_| first_day).map(|start| start + DAY_S);
        if until.is_some_and(|until| until <= self.now) {
            return None;
        }
        Some(WorthLine {
            about: "trial",
            sensor_id: worn.it.sensor.clone(),
            missing: Some(missing.into()),
            until: until.map(|at| Time(self.record.clock.moment(at))),
            known_percent: None,
            after_percent: None,
            says: format!(
                "trial '{}': {} of {} meant for this sensor{}",
                trial.name,
                counted(
                    u64::from(missing),
                    "blood check is still missing",
                    "blood checks are still missing"
                ),
                trial.checks,
                if first_day { " in its first 24 hours" } else { "" }
            ),
        })
    }

    /// What a check tells of the sensor itself, with how much variance it takes away.
    fn for_sensor(&self, worn: &Worn) -> Option<(f64, WorthLine)> {
        let would = self.would(worn)?;
        let (known, after) = (would.known_percent, would.after_steady_percent);
        if after > NARROWS * known {
            return None;
        }
        let so_far = match would.checks {
            0 => "no blood check of it yet".to_owned(),
            count => format!("{} of it so far", counted(count, "blood check", "blood checks")),
        };
        let line = WorthLine {
            about: "sensor",
            sensor_id: Some(would.sensor.clone()),
            missing: None,
            until: None,
            known_percent: Some(known),
            after_percent: Some(after),
            says: format!(
                "sensor {}: how far it reads above or below blood is known within {known:.1} % ({so_far}{}); one check while glucose stands still would make that {after:.1} %",
                would.sensor,
                if self.is_first_day(worn) {
                    ", its first day"
                } else {
                    ""
                }
            ),
        };
        Some((known * known - after * after, line))
    }

    /// Questions of the Trust page that a check of this sensor would bring nearer to any answer.
    fn for_groups(&self, worn: &Worn) -> Vec<WorthLine> {
        let Some(trust) = self.trust else {
            return Vec::new();
        };
        let line = |about, missing: u64, says: String| WorthLine {
            about,
            sensor_id: worn.it.sensor.clone(),
            missing: Some(missing),
            until: None,
            known_percent: None,
            after_percent: None,
            says,
        };
        let mut lines = Vec::new();
        let first_day = trust.next.iter().find_map(|next| match next {
            NextCheck::FirstDay { more } => Some(*more),
            _ => None,
        });
        if let Some(more) = first_day.filter(|_| self.is_first_day(worn)) {
            lines.push(line(
                "first day",
                more,
                format!(
                    "{} on first days would give a mean of them",
                    counted(more, "more check", "more checks")
                ),
            ));
        }
        let site = worn.site().map(|site| site.region.name());
        let few = trust
            .by
            .site
            .iter()
            .find(|group| Some(group.key.as_str()) == site && group.pairs_missing > 0);
        if let Some(group) = few {
            lines.push(line(
                "site",
                group.pairs_missing,
                format!(
                    "the {} has {}; {} would give a mean of it",
                    group.key,
                    counted(group.pairs, "check", "checks"),
                    counted(group.pairs_missing, "more", "more")
                ),
            ));
        }
        lines
    }

    /// Of the waking hours still to come today the one in which glucose usually stands still most.
    fn steady_at(&self) -> Option<SteadyHour> {
        let clock = &self.record.clock;
        let hour = |at: Second| clock.wall(at).second_of_day() / 3600;
        let mut found = [(0u32, 0u32); 24];
        let mut days = std::collections::BTreeSet::new();
        for trace in self
            .record
            .traces
            .iter()
            .filter(|trace| trace.kind == TraceKind::Automatic)
        {
            let own = trace.readings.range(self.now - BACK_DAYS * DAY_S, self.now + 1);
            let (at, level) = (&trace.readings.at()[own.clone()], &trace.readings.level()[own]);
            let Ok(interval) = native_interval(at) else {
                continue;
            };
            for &moment in at {
                let moment = Second::from(moment);
                let Some(rate) = slope_mg_dl_min(at, level, &self.record.levels, interval, moment) else {
                    continue;
                };
                let of = &mut found[hour(moment).clamp(0, 23) as usize];
                of.0 += u32::from(Bin::direction(rate) == Some(STEADY));
                of.1 += 1;
                days.insert(clock.wall(moment).day());
            }
        }
        if days.len() < FEWEST_DAYS {
            return None;
        }
        let next = hour(self.now) + 1;
        let hours = WAKING.filter(|&hour| hour >= next && found[hour as usize].1 >= FEWEST_READINGS);
        let share = |hour: i64| {
            let (steady, all) = found[hour as usize];
            f64::from(steady) / f64::from(all)
        };
        // Of two alike the earlier.
        let best = hours.rev().max_by(|&a, &b| share(a).total_cmp(&share(b)))?;
        Some(SteadyHour {
            hour: best,
            steady_percent: 100.0 * share(best),
            readings: found[best as usize].1,
        })
    }
}
