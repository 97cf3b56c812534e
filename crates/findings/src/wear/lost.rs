//! Sensors that were lost, what was claimed of them, and the record of one, to send to whoever supplied it.

use std::collections::BTreeMap;

use interstice_book::{Book, Photo, Record};
use interstice_glucose::{ClaimStep, Ending, LivedClock, Second, SensorKind};
use serde::Serialize;

use super::settled::Settled;
use super::{Kind, Worn, labelled_end, told, worn};
use crate::account::reader;
use crate::trust::{CheckLine, FaultLine, SensorFindings, TrustAsk, sensor, wears};
use crate::worn::SensorWorn;
use crate::{FindingsError, Time};

/// A sensor that was lost.
#[derive(Clone, Debug, Serialize)]
pub struct LostSensor {
    /// What its record is asked for by: its name, with its day where several share one or it has none.
    pub record: String,
    /// How it ended.
    pub ending: &'static str,
    /// When; its last reading where nobody said.
    pub ended: Option<Time>,
    /// Lot, where it is known.
    pub lot: Option<String>,
    /// Labelled hours that were not worn; `None` without a kind.
    pub hours_short: Option<f64>,
    /// The last step of its claim.
    pub claim: Option<&'static str>,
}

/// A claim, its steps in time order.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Claim {
    /// The sensor it is for.
    pub record: String,
    /// Its steps.
    pub steps: Vec<Step>,
    /// Whether nothing more is waited for.
    pub settled: bool,
}

/// A step of a claim.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Step {
    /// 'sent', 'answered', 'replaced' or 'refused'.
    pub what: &'static str,
    /// When.
    pub at: Time,
    /// Words.
    pub words: Option<String>,
}

/// All that is known of one sensor that ended: facts, no judgement.
#[derive(Clone, Debug, Serialize)]
pub struct SensorRecord {
    /// When this was put together.
    pub made: Time,
    /// What it is asked for by.
    pub record: String,
    /// Its name in the readings.
    pub sensor_id: Option<String>,
    /// The kind in use now, as the wearer described it; what kind each sensor was is not kept.
    pub kind: Option<Kind>,
    /// Lot.
    pub lot: Option<String>,
    /// Serial number.
    pub serial: Option<String>,
    /// Where it was worn.
    pub site: Option<String>,
    /// How the skin was prepared.
    pub preparation: Vec<String>,
    /// What held or covered it.
    pub cover: Vec<String>,
    /// Put on.
    pub put_on: Option<Time>,
    /// Started, as told; else its first reading.
    pub started: Option<Time>,
    /// Whether the start was told.
    pub start_told: bool,
    /// Ended, as told; else its last reading.
    pub ended: Option<Time>,
    /// Whether the end was told.
    pub end_told: bool,
    /// How it ended, where that was told.
    pub ending: Option<&'static str>,
    /// How the skin was afterwards, where that was told.
    pub skin: Option<&'static str>,
    /// When its labelled wear would have been over.
    pub labelled_end: Option<Time>,
    /// Hours from its start to its end.
    pub hours_worn: Option<f64>,
    /// Labelled hours it did not reach.
    pub hours_short: Option<f64>,
    /// What its readings showed; `None` where there are none.
    pub trace: Option<TraceFacts>,
    /// Blood checks beside it, oldest first.
    pub checks: Vec<CheckLine>,
    /// What was written beside it.
    pub notes: Vec<String>,
    /// Photos beside it, by their numbers.
    pub photos: Vec<i64>,
    /// What was claimed.
    pub claim: Option<Claim>,
}

/// What the readings of one sensor showed.
#[derive(Clone, Debug, Serialize)]
pub struct TraceFacts {
    /// First reading.
    pub first: Time,
    /// Last reading.
    pub last: Time,
    /// Readings.
    pub readings: u64,
    /// One every so many minutes.
    pub interval_min: f64,
    /// Of those expected from the first to the last, percent.
    pub active_percent: f64,
    /// What looks wrong in them.
    pub faults: Vec<FaultLine>,
    /// Seconds of each reading, for the picture.
    #[serde(skip)]
    pub at: Vec<u32>,
    /// What it showed then, mg/dL.
    #[serde(skip)]
    pub mg_dl: Vec<f64>,
    /// Silences from so many seconds on break the line.
    #[serde(skip)]
    pub gap_s: u32,
}

/// Lost sensors, latest first.
pub(super) fn lost(
    worn: &[Worn],
    kind: Option<&SensorKind>,
    settled: &Settled,
    clock: &LivedClock,
) -> Vec<LostSensor> {
    let names = names(worn, clock);
    let mut lost: Vec<(Second, LostSensor)> = worn
        .iter()
        .zip(&names)
        .filter(|(worn, _)| worn.is_lost())
        .filter_map(|(worn, name)| {
            let steps = settled.claims.get(name);
            let lost = LostSensor {
                record: name.clone(),
                ending: worn.it.ending()?.name(),
                ended: worn.it.end().map(|at| Time(clock.moment(at))),
                lot: worn.it.detail.lot.clone(),
                hours_short: kind.and_then(|kind| hours_short(worn, kind)),
                claim: steps.and_then(|steps| steps.last()).map(|step| step.what.name()),
            };
            Some((worn.it.end().unwrap_or(worn.it.from()), lost))
        })
        .collect();
    lost.sort_by(|a, b| (b.0, &b.1.record).cmp(&(a.0, &a.1.record)));
    lost.into_iter().map(|(_, lost)| lost).collect()
}

/// All claims, by sensor.
pub(super) fn claims(settled: &Settled, clock: &LivedClock) -> Vec<Claim> {
    let all = settled.claims.iter();
    all.map(|(name, steps)| claim(name, steps, clock)).collect()
}

fn claim(name: &str, steps: &[ClaimStep], clock: &LivedClock) -> Claim {
    let step = |step: &ClaimStep| Step {
        what: step.what.name(),
        at: Time(clock.moment(step.at)),
        words: step.words.clone(),
    };
    Claim {
        record: name.to_owned(),
        steps: steps.iter().map(step).collect(),
        settled: steps.iter().any(|step| step.what.is_settled()),
    }
}

fn hours_short(worn: &Worn, kind: &SensorKind) -> Option<f64> {
    let (end, ended) = (labelled_end(worn, kind)?, worn.it.end()?);
    Some((end - ended).max(0) as f64 / 3600.0)
}

/// What each sensor's record is asked for by: its name, with its day where several share one or it has none.
fn names(worn: &[Worn], clock: &LivedClock) -> Vec<String> {
    let mut of_name: BTreeMap<&str, u32> = BTreeMap::new();
    for name in worn.iter().filter_map(|worn| worn.it.sensor.as_deref()) {
        *of_name.entry(name).or_default() += 1;
    }
    let day = |worn: &Worn| {
        let civil = clock.wall(worn.it.from()).civil();
        civil.map_or_else(|| worn.it.from().to_string(), |civil| civil.date().to_string())
    };
    let name = |worn: &Worn| match worn.it.sensor.as_deref() {
        Some(name) if of_name[name] == 1 => name.to_owned(),
        Some(name) => format!("{name} of {}", day(worn)),
        None => format!("of {}", day(worn)),
    };
    worn.iter().map(name).collect()
}

/// The sensor a record is asked of.
#[derive(Clone, Debug)]
pub struct Asked {
    name: String,
    worn: SensorWorn,
    /// What `interstice trust` calls it; `None` where it has no readings.
    pub trace: Option<String>,
    now: Second,
}

/// Finds the sensor a record is asked of, by the name that is listed. Whoever asks looks up the findings of its trace, and
/// gives them to [`sensor_record`].
///
/// # Errors
/// `NoSensor` where there is none of that name, or it is still on.
pub fn record_asked(
    record: &Record,
    settled: &Settled,
    name: &str,
    now: Second,
) -> Result<Asked, FindingsError> {
    let all = worn(record, settled, now);
    let names = names(&all, &record.clock);
    let place = names.iter().position(|known| known == name);
    let found = place.and_then(|place| all.into_iter().nth(place));
    let Some(found) = found else {
        return Err(FindingsError::NoSensor(format!(
            "there is no sensor '{name}'; `interstice wear --json` lists those that were lost"
        )));
    };
    if found.is_on {
        return Err(FindingsError::NoSensor(format!(
            "sensor '{name}' is still on; write its end down first, with `interstice log sensor ended`"
        )));
    }
    let trace = wears(record)
        .into_iter()
        .find(|wear| wear.worn == found.it)
        .map(|wear| wear.name);
    Ok(Asked {
        name: name.to_owned(),
        worn: found.it,
        trace,
        now,
    })
}

/// The record of a sensor of a book.
///
/// # Errors
/// As [`record_asked`], and `Book` where the book cannot be read.
pub fn record_book(book: &Book, name: &str, now: Second) -> Result<SensorRecord, FindingsError> {
    let (record, settled) = (book.load_all()?, Settled::of(book)?);
    let asked = record_asked(&record, &settled, name, now)?;
    let ask = |sensor: &String| TrustAsk {
        sensor: Some(sensor.clone()),
        ..TrustAsk::default()
    };
    let reader = reader(book)?;
    let trace = asked
        .trace
        .as_ref()
        .map(|name| sensor(&record, reader, &ask(name)));
    Ok(sensor_record(
        &record,
        &settled,
        &asked,
        trace.transpose()?.as_ref(),
    ))
}

/// The record of a sensor.
pub fn sensor_record(
    record: &Record,
    settled: &Settled,
    asked: &Asked,
    trace: Option<&SensorFindings>,
) -> SensorRecord {
    let clock = &record.clock;
    let kinds = &settled.kinds;
    let kind = kinds.in_use.map(|place| &kinds.all[place]);
    let time = |at: Second| Time(clock.moment(at));
    let it = &asked.worn;
    let worn = Worn::new(it.clone(), kind, asked.now);
    let hours = it.start().zip(it.end()).map(|(start, end)| end - start);
    SensorRecord {
        made: time(asked.now),
        record: asked.name.clone(),
        sensor_id: it.sensor.clone(),
        kind: kind.map(told),
        lot: it.detail.lot.clone(),
        serial: it.detail.serial.clone(),
        site: it.site.as_ref().map(ToString::to_string),
        preparation: it.detail.preparation.clone(),
        cover: it.detail.cover.clone(),
        put_on: it.put_on.map(time),
        started: it.start().map(time),
        start_told: it.started.is_some(),
        ended: it.end().map(time),
        end_told: it.ended.is_some(),
        ending: it.ending().map(Ending::name),
        skin: it.detail.skin.map(interstice_glucose::SkinAfter::name),
        labelled_end: kind.and_then(|kind| labelled_end(&worn, kind)).map(time),
        hours_worn: hours.map(|s| s.max(0) as f64 / 3600.0),
        hours_short: kind.and_then(|kind| hours_short(&worn, kind)),
        trace: trace.map(trace_facts),
        checks: trace.map_or_else(Vec::new, |trace| trace.checks.clone()),
        notes: once(&it.notes),
        photos: it.photos.iter().map(|photo: &Photo| photo.id.0).collect(),
        claim: settled
            .claims
            .get(&asked.name)
            .map(|steps| claim(&asked.name, steps, clock)),
    }
}

/// Each note once: files that tell of several moments repeat what they say of a sensor.
fn once(notes: &[String]) -> Vec<String> {
    let mut once: Vec<String> = Vec::new();
    for note in notes {
        if !once.contains(note) {
            once.push(note.clone());
        }
    }
    once
}

fn trace_facts(findings: &SensorFindings) -> TraceFacts {
    TraceFacts {
        first: findings.wear.from,
        last: findings.wear.to,
        readings: findings.readings,
        interval_min: f64::from(findings.interval_s) / 60.0,
        active_percent: findings.active_percent,
        faults: findings.faults.clone(),
        at: findings.life.blood.at.clone(),
        mg_dl: findings.life.blood.sensor_mg_dl.clone(),
        gap_s: findings.around.gap_s,
    }
}
