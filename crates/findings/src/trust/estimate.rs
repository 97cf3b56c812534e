//! What blood probably was, from sensors and blood checks together.

use interstice_book::{Book, NightHours, Record};
use interstice_glucose::{Censor, Second};
use interstice_methods::agreement::Check;
use interstice_methods::estimate::{BloodCheck, Estimator, Learned, Probable, Scale, SensorTrace, Then};

use super::pairs;
use super::pressed::{Beside, Pressed, in_bed};
use super::wears::{SensorWear, named, wears};
use crate::FindingsError;
use crate::account::reader;

/// How the estimate is made.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Told {
    /// Looking back: from all readings and checks, those after it too.
    #[default]
    Afterwards,
    /// As it would have been told at the time.
    Live,
}

/// A question about blood between the checks, over the whole book.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct EstimateAsk {
    /// One sensor by its name, or all. Others still help to learn.
    pub sensor: Option<String>,
    /// How the estimate is made.
    pub told: Told,
    /// Whether each check is also told without it.
    pub leave_out_checks: bool,
}

/// The estimate over a book.
#[derive(Clone, Debug)]
pub struct EstimateFindings {
    /// What was learned of the sensors and the meter.
    pub learned: Learned,
    /// Sensors in the order they were worn.
    pub sensors: Vec<SensorBlood>,
    /// Checks told without them, oldest first; empty unless asked for.
    pub left_out: Vec<LeftOut>,
}

/// One sensor's readings and what blood probably was at each.
#[derive(Clone, Debug)]
pub struct SensorBlood {
    /// Its name.
    pub sensor: String,
    /// Seconds since 1970, one a reading.
    pub at: Vec<u32>,
    /// What the sensor said, mg/dL.
    pub sensor_mg_dl: Vec<f64>,
    /// What blood probably was.
    pub blood: Vec<Probable>,
}

/// A check, and what it would probably have shown, told without it.
#[derive(Clone, Debug)]
pub struct LeftOut {
    /// When.
    pub at: Second,
    /// Which sensor tells it.
    pub sensor: String,
    /// What the check showed, mg/dL.
    pub check_mg_dl: f64,
    /// What it would probably have shown.
    pub told: Probable,
}

/// The estimate over the whole book.
///
/// # Errors
/// `Empty` without automatic readings; `NoSensor` where the sensor asked for is not in it; `Book` where the book cannot be read.
pub fn estimate_book(book: &Book, ask: &EstimateAsk) -> Result<EstimateFindings, FindingsError> {
    book.span()?.ok_or(FindingsError::Empty)?;
    estimate(&book.load_all()?, reader(book)?.night, ask)
}

/// The estimate of a record already loaded.
///
/// # Errors
/// `Empty` without automatic readings; `NoSensor` where the sensor asked for is not in it.
fn estimate(
    record: &Record,
    night: Option<NightHours>,
    ask: &EstimateAsk,
) -> Result<EstimateFindings, FindingsError> {
    let wears = wears(record);
    if wears.is_empty() {
        return Err(FindingsError::Empty);
    }
    let asked = named(record, &wears, ask.sensor.as_deref())?;
    let checks = pairs::checks(record);
    // A check told without it must not have helped to find pressure either, nor the wearer who saw it.
    let known = if ask.leave_out_checks {
        Vec::new()
    } else {
        checks.clone()
    };
    let beside = Beside {
        words: !ask.leave_out_checks,
        ..Beside::all(&known, night)
    };
    let (columns, _) = columns(record, &wears, beside);
    let checks = blood_checks(&checks);
    let estimator = estimator(&wears, &columns, &checks);
    let learned = estimator.learn();
    let blood: Vec<Vec<Probable>> = match ask.told {
        Told::Live => estimator.replay(&Past {
            record,
            wears: &wears,
            checks: &known,
            night,
        }),
        Told::Afterwards => estimator
            .estimate(&learned)
            .into_iter()
            .map(|sensor| sensor.readings)
            .collect(),
    };
    let left_out = if ask.leave_out_checks {
        left_out(&estimator, &wears, &checks, &asked)
    } else {
        Vec::new()
    };
    let sensors = asked
        .iter()
        .map(|&place| SensorBlood {
            sensor: wears[place].name.clone(),
            at: columns[place].at.to_vec(),
            sensor_mg_dl: columns[place].mg_dl.clone(),
            blood: blood[place].clone(),
        })
        .collect();
    Ok(EstimateFindings {
        learned,
        sensors,
        left_out,
    })
}

/// What is learned of some sensors, without the estimate itself, and the possible pressure lows that were set aside.
pub(crate) struct Known {
    pub(super) learned: Learned,
    pub(super) pressed: Pressed,
}

impl std::fmt::Debug for Known {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Known")
            .field("learned", &self.learned)
            .finish_non_exhaustive()
    }
}

impl Known {
    /// Of these wears.
    pub(super) fn of(
        record: &Record,
        wears: &[SensorWear],
        checks: &[Check],
        night: Option<NightHours>,
    ) -> Self {
        let (columns, pressed) = columns(record, wears, Beside::all(checks, night));
        let learned = estimator(wears, &columns, &blood_checks(checks)).learn();
        Known { learned, pressed }
    }

    /// Of all the sensors of a record, to be kept while it does not change.
    ///
    /// # Errors
    /// `Empty` without automatic readings.
    pub(crate) fn of_all(record: &Record, night: Option<NightHours>) -> Result<Self, FindingsError> {
        let wears = wears(record);
        if wears.is_empty() {
            return Err(FindingsError::Empty);
        }
        Ok(Known::of(record, &wears, &pairs::checks(record), night))
    }

    /// What blood probably was at each reading of one wear, how it scales there, and how many blood checks of it told
    /// that; `wears` are those this was learned from.
    pub(super) fn blood(
        &self,
        record: &Record,
        wears: &[SensorWear],
        checks: &[Check],
        place: usize,
    ) -> (SensorBlood, Vec<Scale>, usize) {
        let mut columns: Vec<Columns<'_>> = wears.iter().map(|wear| Columns::said(record, wear)).collect();
        set_aside(record, &mut columns, &self.pressed);
        let estimator = estimator(wears, &columns, &blood_checks(checks));
        let estimate = estimator.estimate_of(&self.learned, place);
        let blood = SensorBlood {
            sensor: wears[place].name.clone(),
            at: columns[place].at.to_vec(),
            sensor_mg_dl: columns[place].mg_dl.clone(),
            blood: estimate.readings,
        };
        (blood, estimate.scale, estimate.checks.len())
    }
}

/// A wear's readings as columns.
pub(super) struct Columns<'a> {
    pub(super) at: &'a [u32],
    pub(super) mg_dl: Vec<f64>,
    pub(super) censor: Vec<Censor>,
    pub(super) aside: Vec<bool>,
}

impl<'a> Columns<'a> {
    /// As the sensor said them, none set aside.
    pub(super) fn said(record: &'a Record, wear: &SensorWear) -> Self {
        let readings = &record.traces[wear.trace].readings;
        let at = &readings.at()[wear.readings.clone()];
        let levels = readings.level()[wear.readings.clone()]
            .iter()
            .map(|&level| record.levels.get(level));
        Columns {
            at,
            mg_dl: levels.clone().map(|level| level.mg_per_dl).collect(),
            censor: levels.map(|level| level.said.censor()).collect(),
            aside: vec![false; at.len()],
        }
    }
}

impl<'a> Columns<'a> {
    /// Those of `[from, to)`.
    pub(super) fn within(&self, from: Second, to: Second) -> Columns<'a> {
        let place = |by: Second| self.at.partition_point(|&at| Second::from(at) < by);
        let kept = place(from)..place(to).max(place(from));
        Columns {
            at: &self.at[kept.clone()],
            mg_dl: self.mg_dl[kept.clone()].to_vec(),
            censor: self.censor[kept.clone()].to_vec(),
            aside: self.aside[kept].to_vec(),
        }
    }

    /// Those before an instant.
    fn before(&self, by: u32) -> Columns<'a> {
        let count = self.at.partition_point(|&at| at < by);
        Columns {
            at: &self.at[..count],
            mg_dl: self.mg_dl[..count].to_vec(),
            censor: self.censor[..count].to_vec(),
            aside: self.aside[..count].to_vec(),
        }
    }
}

/// The columns of all wears, with readings marked as artefacts or in a possible pressure low set aside, and those lows.
fn columns<'a>(record: &'a Record, wears: &[SensorWear], beside: Beside<'_>) -> (Vec<Columns<'a>>, Pressed) {
    let mut columns: Vec<Columns<'a>> = wears.iter().map(|wear| Columns::said(record, wear)).collect();
    let pressed = Pressed::look(record, wears, &columns, beside);
    set_aside(record, &mut columns, &pressed);
    (columns, pressed)
}

/// Sets aside readings marked as artefacts or in a possible pressure low.
pub(super) fn set_aside(record: &Record, columns: &mut [Columns<'_>], pressed: &Pressed) {
    let marked = pairs::artefacts(record);
    for (place, columns) in columns.iter_mut().enumerate() {
        columns.aside = aside(columns.at, pressed.mask(record, place, columns.at), &marked);
    }
}

/// Which readings are set aside: those in a possible pressure low, and those in a stretch that was marked.
fn aside(at: &[u32], pressed: Vec<bool>, marked: &[(Second, Second)]) -> Vec<bool> {
    let mut aside = pressed;
    for &(from, to) in marked {
        let first = at.partition_point(|&at| Second::from(at) < from);
        let after = at.partition_point(|&at| Second::from(at) < to);
        aside[first..after.max(first)].fill(true);
    }
    aside
}

/// What was known of the readings as they came in.
struct Past<'a> {
    record: &'a Record,
    wears: &'a [SensorWear],
    checks: &'a [Check],
    night: Option<NightHours>,
}

impl Then for Past<'_> {
    fn in_bed(&self, sensor: usize) -> Vec<bool> {
        let columns = Columns::said(self.record, &self.wears[sensor]);
        in_bed(self.record, self.night, columns.at)
    }

    fn aside(&self, by: u32) -> Vec<Vec<bool>> {
        let all: Vec<Columns<'_>> = self
            .wears
            .iter()
            .map(|wear| Columns::said(self.record, wear))
            .collect();
        let past: Vec<Columns<'_>> = all.iter().map(|columns| columns.before(by)).collect();
        let before = |at: Second| at < Second::from(by);
        let checks: Vec<Check> = self
            .checks
            .iter()
            .filter(|check| before(check.at))
            .copied()
            .collect();
        let marked: Vec<(Second, Second)> = pairs::artefacts(self.record)
            .into_iter()
            .filter(|&(_, to)| before(to))
            .collect();
        // When a word was said is not told, so that none is known here.
        let beside = Beside {
            words: false,
            by: Second::from(by),
            ..Beside::all(&checks, self.night)
        };
        let pressed = Pressed::look(self.record, self.wears, &past, beside);
        all.iter()
            .zip(&past)
            .enumerate()
            .map(|(place, (all, past))| {
                let mut aside = aside(past.at, pressed.mask(self.record, place, past.at), &marked);
                aside.resize(all.at.len(), false);
                aside
            })
            .collect()
    }
}

pub(super) fn estimator<'a>(
    wears: &[SensorWear],
    columns: &'a [Columns<'a>],
    checks: &[BloodCheck],
) -> Estimator<'a> {
    let traces: Vec<SensorTrace<'a>> = wears
        .iter()
        .zip(columns)
        .map(|(wear, columns)| SensorTrace {
            started: started(wear),
            at: columns.at,
            mg_dl: &columns.mg_dl,
            censor: &columns.censor,
            aside: &columns.aside,
        })
        .collect();
    Estimator::new(&traces, checks)
}

/// A first reading comes after a warm-up of an hour, about, where the start itself is not known (common practice, no
/// source).
const WARM_UP_S: Second = 3600;

pub(super) fn started(wear: &SensorWear) -> u32 {
    let noted = wear.worn.put_on.or(wear.started).filter(|&at| at < wear.span.0);
    let at = noted.unwrap_or(wear.span.0 - WARM_UP_S);
    u32::try_from(at).unwrap_or(0)
}

/// Blood checks with a number, in time order.
pub(super) fn blood_checks(checks: &[Check]) -> Vec<BloodCheck> {
    checks
        .iter()
        .filter(|check| check.censor == Censor::None && check.mg_dl > 0.0)
        .filter_map(|check| {
            Some(BloodCheck {
                at: u32::try_from(check.at).ok()?,
                mg_dl: check.mg_dl,
            })
        })
        .collect()
}

fn left_out(
    estimator: &Estimator<'_>,
    wears: &[SensorWear],
    checks: &[BloodCheck],
    asked: &[usize],
) -> Vec<LeftOut> {
    let mut all: Vec<LeftOut> = estimator
        .leave_one_check_out()
        .into_iter()
        .filter(|told| asked.contains(&told.sensor))
        .map(|told| LeftOut {
            at: Second::from(checks[told.check].at),
            sensor: wears[told.sensor].name.clone(),
            check_mg_dl: checks[told.check].mg_dl,
            told: told.probable,
        })
        .collect();
    all.sort_by_key(|told| told.at);
    all
}
