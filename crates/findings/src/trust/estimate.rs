//! What blood probably was, from sensors and blood checks together.

use interstice_book::{Book, Record};
use interstice_glucose::{Censor, Second};
use interstice_methods::estimate::{BloodCheck, Estimator, Learned, Probable, SensorTrace};
use rayon::prelude::*;

use super::wears::{SensorWear, wears};
use super::{pairs, pressure};
use crate::FindingsError;

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
/// `Empty` without automatic readings; `Window` where the sensor asked for is not in it; `Book` where the book cannot be read.
pub fn estimate_book(book: &Book, ask: &EstimateAsk) -> Result<EstimateFindings, FindingsError> {
    book.span()?.ok_or(FindingsError::Empty)?;
    estimate(&book.load_all()?, ask)
}

/// The estimate of a record already loaded.
///
/// # Errors
/// `Empty` without automatic readings; `Window` where the sensor asked for is not in it.
pub(super) fn estimate(record: &Record, ask: &EstimateAsk) -> Result<EstimateFindings, FindingsError> {
    let wears = wears(record);
    if wears.is_empty() {
        return Err(FindingsError::Empty);
    }
    let is_asked = |wear: &SensorWear| {
        let of_trace = &record.traces[wear.trace].sensor;
        ask.sensor
            .as_ref()
            .is_none_or(|name| *name == wear.name || name == of_trace)
    };
    if !wears.iter().any(is_asked) {
        let names: Vec<&str> = wears.iter().map(|wear| wear.name.as_str()).collect();
        return Err(FindingsError::Window(format!(
            "there is no sensor '{}'; there are: {}",
            ask.sensor.as_deref().unwrap_or_default(),
            names.join(", ")
        )));
    }
    let columns = columns(record, &wears);
    let checks = checks(record);
    let estimator = estimator(&wears, &columns, &checks);
    let learned = estimator.learn();
    let blood: Vec<Vec<Probable>> = match ask.told {
        Told::Live => estimator.replay(),
        Told::Afterwards => estimator
            .estimate(&learned)
            .into_iter()
            .map(|sensor| sensor.readings)
            .collect(),
    };
    let left_out = if ask.leave_out_checks {
        left_out(&estimator, &wears, &checks, is_asked)
    } else {
        Vec::new()
    };
    let sensors = wears
        .iter()
        .zip(columns)
        .zip(blood)
        .filter(|((wear, _), _)| is_asked(wear))
        .map(|((wear, columns), blood)| SensorBlood {
            sensor: wear.name.clone(),
            at: columns.at.to_vec(),
            sensor_mg_dl: columns.mg_dl,
            blood,
        })
        .collect();
    Ok(EstimateFindings {
        learned,
        sensors,
        left_out,
    })
}

/// What is learned of the sensors' delay, without the estimate itself; `None` without automatic readings.
pub(super) fn learned(record: &Record, wears: &[SensorWear]) -> Option<Learned> {
    if wears.is_empty() {
        return None;
    }
    let columns = columns(record, wears);
    Some(estimator(wears, &columns, &checks(record)).learn())
}

/// A wear's readings as columns.
pub(super) struct Columns<'a> {
    pub(super) at: &'a [u32],
    pub(super) mg_dl: Vec<f64>,
    pub(super) censor: Vec<Censor>,
    aside: Vec<bool>,
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

/// The columns of all wears; readings marked as artefacts, and those in a possible pressure low, are set aside.
fn columns<'a>(record: &'a Record, wears: &[SensorWear]) -> Vec<Columns<'a>> {
    let marked = pairs::artefacts(record);
    let nights = pressure::nights(record);
    wears
        .par_iter()
        .map(|wear| {
            let mut columns = Columns::said(record, wear);
            columns.aside = pressure::mask(record, wear, &columns, &nights);
            for (aside, &at) in columns.aside.iter_mut().zip(columns.at) {
                let at = Second::from(at);
                *aside |= marked.iter().any(|&(from, to)| from <= at && at < to);
            }
            columns
        })
        .collect()
}

fn estimator<'a>(wears: &[SensorWear], columns: &'a [Columns<'a>], checks: &[BloodCheck]) -> Estimator<'a> {
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

fn started(wear: &SensorWear) -> u32 {
    let noted = wear.worn.put_on.or(wear.started).filter(|&at| at < wear.span.0);
    let at = noted.unwrap_or(wear.span.0 - WARM_UP_S);
    u32::try_from(at).unwrap_or(0)
}

/// Blood checks with a number, in time order.
fn checks(record: &Record) -> Vec<BloodCheck> {
    pairs::checks(record)
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
    is_asked: impl Fn(&SensorWear) -> bool,
) -> Vec<LeftOut> {
    let mut all: Vec<LeftOut> = estimator
        .leave_one_check_out()
        .into_iter()
        .filter(|told| is_asked(&wears[told.sensor]))
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
