//! What looks wrong with each sensor.

use interstice_book::Record;
use interstice_glucose::{Censor, Second};
use interstice_methods::agreement::Pair;
use interstice_methods::faults::{
    CheckedAt, Evidence, Fault, SILENT_S, Trace, Wear, drift, faults, usual_life,
};
use serde::Serialize;

use super::wears::{SensorWear, Started, wears};
use crate::Time;

/// Something that looks wrong with a sensor.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FaultLine {
    /// Which sensor, by its name in `wears`.
    pub sensor: String,
    /// 'dropout', 'stuck', 'step', 'noise', 'drift', 'early_end'.
    pub kind: &'static str,
    /// From.
    pub from: Time,
    /// To.
    pub to: Time,
    /// How long, minutes.
    pub minutes: f64,
    /// Of a stuck value the value, of a step its size, of noise the typical distance from the neighbours, mg/dL.
    pub mg_dl: Option<f64>,
    /// Of a step, of noise, of a dying signal: as a multiple of what is usual in the trace.
    pub times_usual: Option<f64>,
    /// Of a drift: percentage points a day.
    pub points_per_day: Option<f64>,
    /// 99 % interval.
    pub points_per_day_lo99: Option<f64>,
    /// 99 % interval.
    pub points_per_day_hi99: Option<f64>,
    /// The evidence itself, for words.
    #[serde(skip)]
    pub fault: Fault,
}

/// Faults of every wear, sensor by sensor in the order they were worn.
pub(super) fn lines(
    record: &Record,
    worn: &[SensorWear],
    pairs: &[Pair],
    time: &impl Fn(Second) -> Time,
) -> Vec<FaultLine> {
    let until = record
        .traces
        .iter()
        .filter_map(|trace| trace.readings.span())
        .map(|span| span.1)
        .max()
        .unwrap_or(0);
    let all = wears(record);
    let mut lines = Vec::new();
    for (place, wear) in worn.iter().enumerate() {
        let mut found = of_trace(record, wear, until, &end_of(wear, &all, until));
        found.extend(of_checks(place, wear, pairs));
        found.sort_by_key(|fault| (fault.from, fault.to));
        lines.extend(found.into_iter().map(|fault| line(wear, fault, time)));
    }
    lines
}

fn of_trace(record: &Record, wear: &SensorWear, until: Second, end: &Wear) -> Vec<Fault> {
    let readings = &record.traces[wear.trace].readings;
    let levels = record.levels.as_slice();
    let at = &readings.at()[wear.readings.clone()];
    let of = &readings.level()[wear.readings.clone()];
    let mg_dl: Vec<f64> = of.iter().map(|&level| levels[level as usize].mg_per_dl).collect();
    let censored: Vec<bool> = of
        .iter()
        .map(|&level| levels[level as usize].said.censor() != Censor::None)
        .collect();
    let trace = Trace {
        at,
        mg_dl: &mg_dl,
        censored: &censored,
        interval_s: wear.interval_s,
    };
    faults(&trace, until, end)
}

/// What is known of a wear's end beside its trace: how long the sensors around it lasted, the next one, what was written
/// down. Starts guessed from pauses tell no life.
fn end_of(wear: &SensorWear, all: &[SensorWear], until: Second) -> Wear {
    let started = |wear: &SensorWear| {
        let known = matches!(wear.started_by, Started::Noted | Started::FirstReading);
        wear.started.filter(|_| known)
    };
    let life = |wear: &SensorWear| {
        let ended = until - wear.span.1 >= SILENT_S;
        started(wear)
            .filter(|_| ended)
            .map(|started| wear.span.1 + Second::from(wear.interval_s) - started)
    };
    let lives: Vec<Option<Second>> = all.iter().map(life).collect();
    let place = all
        .iter()
        .position(|other| (other.trace, other.span) == (wear.trace, wear.span));
    let usual = place.and_then(|place| usual_life(&lives, place));
    let next = all
        .iter()
        .filter(|other| other.span.0 > wear.span.0 && other.span.1 > wear.span.1)
        .map(|other| other.span.0)
        .min();
    Wear {
        planned_end: None,
        usual: started(wear).zip(usual),
        next,
        told: wear.worn.ending(),
    }
}

/// Drift against blood, where the sensor's start is known.
fn of_checks(place: usize, wear: &SensorWear, pairs: &[Pair]) -> Option<Fault> {
    let started = wear.started?;
    let checks: Vec<CheckedAt> = pairs
        .iter()
        .filter(|pair| pair.sensor == place)
        .map(|pair| CheckedAt {
            at: pair.at,
            relative_percent: pair.relative_percent(),
        })
        .collect();
    drift(&checks, started).ok().flatten()
}

fn line(wear: &SensorWear, fault: Fault, time: &impl Fn(Second) -> Time) -> FaultLine {
    let mut line = FaultLine {
        sensor: wear.name.clone(),
        kind: "dropout",
        from: time(fault.from),
        to: time(fault.to),
        minutes: (fault.to - fault.from) as f64 / 60.0,
        mg_dl: None,
        times_usual: None,
        points_per_day: None,
        points_per_day_lo99: None,
        points_per_day_hi99: None,
        fault,
    };
    match fault.evidence {
        Evidence::Dropout => {}
        Evidence::Stuck { mg_dl, .. } => (line.kind, line.mg_dl) = ("stuck", Some(mg_dl)),
        Evidence::Step { mg_dl, times_usual } => {
            (line.kind, line.mg_dl, line.times_usual) = ("step", Some(mg_dl), Some(times_usual));
        }
        Evidence::Noise { mg_dl, times_usual } => {
            (line.kind, line.mg_dl, line.times_usual) = ("noise", Some(mg_dl), Some(times_usual));
        }
        Evidence::Drift {
            points_per_day,
            interval,
            ..
        } => {
            (line.kind, line.points_per_day) = ("drift", Some(points_per_day));
            (line.points_per_day_lo99, line.points_per_day_hi99) = (Some(interval.lo), Some(interval.hi));
        }
        Evidence::EarlyEnd { dying, .. } => (line.kind, line.times_usual) = ("early_end", dying),
    }
    line
}
