//! What blood probably was over more than a year: as it would have been told at each reading, and as it is known by an
//! instant.

use std::fmt;
use std::hash::{DefaultHasher, Hasher};
use std::sync::Arc;

use interstice_book::{NightHours, Record};
use interstice_glucose::{DAY_S, Second};
use interstice_methods::agreement::Check;
use interstice_methods::estimate::{Learned, Live, Probable};

use super::estimate::{Columns, blood_checks, estimator, set_aside, started};
use super::pairs;
use super::pressed::{Beside, Pressed, in_bed};
use super::wears::{SensorWear, wears};

/// What the sensors are like is learned from so many days before the instant: some ten sensors, and no more work for a
/// longer book. Ours.
const LEARNED_DAYS: i64 = 120;

/// What blood probably was at a reading, mg/dL.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct BloodThen {
    /// As told from what came before it.
    pub(crate) told_mg_dl: f64,
    /// As known by the instant; what was told, for a reading after it.
    pub(crate) known_mg_dl: f64,
    /// Standard deviation of what is known, as a part of it; `None` of what was only told.
    pub(crate) unsure_part: Option<f64>,
}

/// One wear's readings.
#[derive(Debug)]
struct OfWear {
    trace: usize,
    at: Vec<u32>,
    blood: Vec<BloodThen>,
}

/// What blood probably was over a window, known by an instant in it.
#[derive(Debug)]
pub(crate) struct BloodCourse {
    wears: Vec<OfWear>,
    /// What it was told from, to be used again where nothing before the instant differs.
    pub(crate) known: Arc<KnownBy>,
}

impl BloodCourse {
    /// Over `[from, to)`, known by `by`: what is learned of the sensors, and the estimate looking back, come from readings and
    /// checks before it; after it each reading is told from what came before that.
    ///
    /// * `earlier`: of the same window and an earlier state of the book.
    ///
    /// `None` where no sensor was read before it.
    pub(crate) fn of(
        record: &Record,
        night: Option<NightHours>,
        (from, by, to): (Second, Second, Second),
        earlier: Option<&Arc<KnownBy>>,
    ) -> Option<Self> {
        let all: Vec<SensorWear> = wears(record)
            .into_iter()
            .filter(|wear| wear.span.1 >= from && wear.span.0 < to)
            .collect();
        let checks: Vec<Check> = pairs::checks(record)
            .into_iter()
            .filter(|check| (from..to).contains(&check.at))
            .collect();
        let rests_on = rests_on(record, night, &all, (from, by));
        let known = match earlier.filter(|earlier| earlier.rests_on == rests_on) {
            Some(earlier) => Arc::clone(earlier),
            None => Arc::new(KnownBy::of(record, night, (&all, &checks), (from, by), rests_on)?),
        };
        let wears = all
            .iter()
            .enumerate()
            .map(|(place, wear)| known.course(record, night, (wear, place), &checks, (from, to)))
            .collect();
        Some(BloodCourse { wears, known })
    }

    /// Blood checks that what was learned rests on.
    pub(crate) fn checks_used(&self) -> usize {
        self.known.learned.checks_used
    }

    /// What blood probably was at a reading of a trace of the record; `None` where it belongs to no sensor.
    pub(crate) fn at(&self, trace: usize, at: u32) -> Option<BloodThen> {
        let of_trace = self.wears.iter().filter(|wear| wear.trace == trace);
        of_trace
            .filter_map(|wear| Some(wear.blood[wear.at.binary_search(&at).ok()?]))
            .next()
    }
}

/// All that [`KnownBy`] is made of, as one number: what was read and written down before the instant, and how the sensors are told
/// apart.
fn rests_on(
    record: &Record,
    night: Option<NightHours>,
    all: &[SensorWear],
    (from, by): (Second, Second),
) -> u64 {
    let mut known = DefaultHasher::new();
    let mut say = |what: &dyn fmt::Debug| known.write(format!("{what:?}").as_bytes());
    say(&(night, from, by));
    for wear in all {
        say(&(
            &wear.name,
            started(wear),
            &wear.site,
            wear.side(),
            wear.worn.put_on,
        ));
    }
    let before = |at: Second| at < by;
    record
        .blood_checks
        .iter()
        .filter(|kept| before(kept.it.at))
        .for_each(|kept| say(&kept.it));
    record
        .doses
        .iter()
        .filter(|kept| before(kept.it.at))
        .for_each(|kept| say(&kept.it));
    record
        .meals
        .iter()
        .filter(|kept| before(kept.it.at))
        .for_each(|kept| say(&kept.it));
    record
        .marks
        .iter()
        .filter(|kept| before(kept.it.at))
        .for_each(|kept| say(&kept.it));
    record
        .sensor_notes
        .iter()
        .filter(|kept| before(kept.it.at))
        .for_each(|kept| say(&kept.it));
    record
        .low_verdicts
        .iter()
        .filter(|kept| before(kept.it.at))
        .for_each(|kept| say(&kept.it));
    record.lived.iter().for_each(|kept| say(&kept.it));
    for wear in all {
        let columns = Columns::said(record, wear).within(from, by);
        for ((&at, &mg_dl), censor) in columns.at.iter().zip(&columns.mg_dl).zip(&columns.censor) {
            known.write_u32(at);
            known.write_u64(mg_dl.to_bits());
            known.write_u8(*censor as u8);
        }
    }
    known.finish()
}

/// What is known by the instant.
pub(crate) struct KnownBy {
    rests_on: u64,
    learned: Learned,
    pressed: Pressed,
    by: Second,
    /// By wear, from the window's start to the instant.
    smoothed: Vec<Vec<Probable>>,
}

impl fmt::Debug for KnownBy {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("KnownBy")
            .field("learned", &self.learned)
            .finish_non_exhaustive()
    }
}

impl KnownBy {
    fn of(
        record: &Record,
        night: Option<NightHours>,
        (all, checks): (&[SensorWear], &[Check]),
        (from, by): (Second, Second),
        rests_on: u64,
    ) -> Option<Self> {
        let past: Vec<Check> = checks.iter().filter(|check| check.at < by).copied().collect();
        let said = all.iter().map(|wear| Columns::said(record, wear));
        let mut columns: Vec<Columns<'_>> = said.map(|columns| columns.within(from, by)).collect();
        let beside = Beside {
            by,
            ..Beside::all(&past, night)
        };
        let pressed = Pressed::look(record, all, &columns, beside);
        set_aside(record, &mut columns, &pressed);
        let since = by - LEARNED_DAYS * DAY_S;
        let lately: Vec<Columns<'_>> = columns.iter().map(|columns| columns.within(since, by)).collect();
        if lately.iter().all(|columns| columns.at.is_empty()) {
            return None;
        }
        let blood = blood_checks(&past);
        let learned = estimator(all, &lately, &blood).learn();
        let smoothed = estimator(all, &columns, &blood).estimate(&learned);
        Some(KnownBy {
            rests_on,
            learned,
            pressed,
            by,
            smoothed: smoothed.into_iter().map(|sensor| sensor.readings).collect(),
        })
    }

    fn course(
        &self,
        record: &Record,
        night: Option<NightHours>,
        (wear, place): (&SensorWear, usize),
        checks: &[Check],
        (from, to): (Second, Second),
    ) -> OfWear {
        let columns = Columns::said(record, wear).within(from, to);
        let in_bed = in_bed(record, night, columns.at);
        let pressed = self.pressed.mask(record, place, columns.at);
        let own = blood_checks(checks);
        let mut own = own.iter().skip_while(|check| {
            let first = columns.at.first();
            first.is_none_or(|&first| check.at < first)
        });
        let mut next = own.next();
        let mut live = Live::new(&self.learned, started(wear));
        let mut blood = Vec::with_capacity(columns.at.len());
        for (k, &at) in columns.at.iter().enumerate() {
            // What was found to be pressure by now has no say; what may only be pressure, the filter weighs itself.
            if !pressed.get(k).is_some_and(|&pressed| pressed) {
                live.reading(at, columns.mg_dl[k], columns.censor[k], in_bed[k]);
            }
            while let Some(check) = next.filter(|check| check.at <= at) {
                live.check(check.at, check.mg_dl);
                next = own.next();
            }
            blood.push(self.then(place, k, at, &live.blood(at)));
        }
        OfWear {
            trace: wear.trace,
            at: columns.at.to_vec(),
            blood,
        }
    }

    fn then(&self, place: usize, k: usize, at: u32, told: &Probable) -> BloodThen {
        let known = self.smoothed[place].get(k).filter(|_| Second::from(at) < self.by);
        BloodThen {
            told_mg_dl: told.mean_mg_dl,
            known_mg_dl: known.unwrap_or(told).mean_mg_dl,
            unsure_part: known.map(|known| known.sd_mg_dl / known.mean_mg_dl),
        }
    }
}
