//! Possible pressure lows, night by night.

use interstice_book::{Book, Record};
use interstice_glucose::{DAY_S, Delivery, InsulinKind, MarkKind, Second, WallTime};
use interstice_methods::pressure::{
    CALLED, Known, Night, PressureLow, PressureParams, PressureTrace, pressure_lows, pressure_mask,
};
use serde::Serialize;

use super::estimate::Columns;
use super::pairs;
use super::wears::{SensorWear, wears};
use crate::account::{Reader, reader};
use crate::{FindingsError, Time};

/// Where no sleep is logged, the night: from this hour of the lived clock to that one of the next day.
const NIGHT_HOURS: (i64, i64) = (22, 8);
const HOUR_S: i64 = 3600;

/// Every possible pressure low of a book.
#[derive(Clone, Debug, Serialize)]
pub struct PressureFindings {
    /// Nights in which a sensor was read.
    pub nights: u64,
    /// Those of them with sleep logged.
    pub nights_logged: u64,
    /// What each of them is.
    pub called: &'static str,
    /// In time order.
    pub events: Vec<PressureEvent>,
}

/// One possible pressure low.
#[derive(Clone, Debug, Serialize)]
pub struct PressureEvent {
    /// The sensor.
    pub sensor_id: String,
    /// Pressure sets in.
    pub start: Time,
    /// The sensor has recovered.
    pub end: Time,
    /// How long it lasted.
    pub minutes: f64,
    /// Probability that it was pressure.
    pub probability: f64,
    /// Part taken off, percent.
    pub attenuation_percent: f64,
    /// The largest difference it made, mg/dL.
    pub depth_mg_dl: f64,
    /// Lowest reading, mg/dL.
    pub nadir_mg_dl: f64,
    /// What speaks for and against, a sentence each.
    pub evidence: Vec<String>,
    /// What the wearer said of it: 'pressure' where it is marked as not to be believed.
    pub verdict: Option<&'static str>,
}

/// The possible pressure lows of the whole book.
///
/// # Errors
/// `Empty` without automatic readings, `Book` where the book cannot be read.
pub fn pressure_book(book: &Book, sensor: Option<&str>) -> Result<PressureFindings, FindingsError> {
    book.span()?.ok_or(FindingsError::Empty)?;
    pressure(&book.load_all()?, reader(book)?, sensor)
}

/// The possible pressure lows of a record already loaded, of one sensor by its name or of all.
///
/// # Errors
/// `Empty` without automatic readings.
fn pressure(
    record: &Record,
    reader: Reader,
    sensor: Option<&str>,
) -> Result<PressureFindings, FindingsError> {
    let wears = wears(record);
    if wears.is_empty() {
        return Err(FindingsError::Empty);
    }
    Ok(of_wears(record, &wears, reader, sensor))
}

/// The same where the wears are known.
pub(super) fn of_wears(
    record: &Record,
    wears: &[SensorWear],
    reader: Reader,
    sensor: Option<&str>,
) -> PressureFindings {
    let nights = nights(record);
    let read: Vec<&Night> = nights
        .iter()
        .filter(|night| wears.iter().any(|wear| is_read(record, wear, night)))
        .collect();
    let marked = pairs::artefacts(record);
    let time = |at: u32| Time(record.clock.moment(Second::from(at)));
    let mut events: Vec<(u32, PressureEvent)> = Vec::new();
    for wear in wears {
        let of_trace = &record.traces[wear.trace].sensor;
        if sensor.is_some_and(|name| name != wear.name && name != of_trace) {
            continue;
        }
        for low in found(record, wear, &Columns::said(record, wear), &nights) {
            let event = PressureEvent {
                sensor_id: wear.name.clone(),
                start: time(low.from),
                end: time(low.to),
                minutes: f64::from(low.to - low.from) / 60.0,
                probability: low.probability,
                attenuation_percent: low.attenuation_percent,
                depth_mg_dl: low.depth_mg_dl,
                nadir_mg_dl: low.nadir_mg_dl,
                evidence: low.evidence.iter().map(|sign| sign.words(reader.unit)).collect(),
                verdict: is_marked(&low, &marked).then_some("pressure"),
            };
            events.push((low.from, event));
        }
    }
    events.sort_by_key(|(from, _)| *from);
    PressureFindings {
        nights: read.len() as u64,
        nights_logged: read.iter().filter(|night| night.logged).count() as u64,
        called: CALLED,
        events: events.into_iter().map(|(_, event)| event).collect(),
    }
}

/// Whether the wearer marked at least half of it.
fn is_marked(low: &PressureLow, marked: &[(Second, Second)]) -> bool {
    let (from, to) = (Second::from(low.from), Second::from(low.to));
    let shared: Second = marked
        .iter()
        .map(|&(start, end)| (end.min(to) - start.max(from)).max(0))
        .sum();
    2 * shared >= to - from
}

fn is_read(record: &Record, wear: &SensorWear, night: &Night) -> bool {
    let at = &record.traces[wear.trace].readings.at()[wear.readings.clone()];
    let next = at.partition_point(|&at| at < night.from);
    at.get(next).is_some_and(|&at| at < night.to)
}

/// The possible pressure lows of one wear; none where its readings are too few to tell noise.
fn found(record: &Record, wear: &SensorWear, columns: &Columns<'_>, nights: &[Night]) -> Vec<PressureLow> {
    let instants = |at: Second| u32::try_from(at).ok();
    let insulin: Vec<u32> = record
        .doses
        .iter()
        .filter(|kept| kept.it.delivery != Delivery::BasalRate && kept.it.insulin != InsulinKind::Long)
        .filter_map(|kept| instants(kept.it.at))
        .collect();
    let food: Vec<u32> = record
        .meals
        .iter()
        .filter_map(|kept| instants(kept.it.at))
        .collect();
    let checks = pairs::checks(record);
    let trace = PressureTrace {
        sensor: wear.trace as u32,
        at: columns.at,
        mg_dl: &columns.mg_dl,
        censor: &columns.censor,
    };
    let known = Known {
        nights,
        checks: &checks,
        insulin: &insulin,
        food: &food,
        verdicts: &[],
    };
    pressure_lows(&trace, &known, &PressureParams::default()).unwrap_or_default()
}

/// Which of a wear's readings lie in a possible pressure low.
pub(super) fn mask(record: &Record, wear: &SensorWear, columns: &Columns<'_>, nights: &[Night]) -> Vec<bool> {
    pressure_mask(&found(record, wear, columns, nights), columns.at.len())
}

/// The times in bed: as logged, and the usual hours of every other night.
pub(super) fn nights(record: &Record) -> Vec<Night> {
    let mut nights: Vec<Night> = record
        .marks
        .iter()
        .map(|kept| &kept.it)
        .filter(|mark| mark.kind == MarkKind::Sleep)
        .filter_map(|mark| night(mark.at, mark.until?, true))
        .collect();
    let logged = nights.clone();
    let Some((first, last)) = span(record) else {
        return nights;
    };
    for day in record.clock.wall(first).day() - 1..=record.clock.wall(last).day() {
        let from = record
            .clock
            .first_at_or_after(WallTime(day * DAY_S + NIGHT_HOURS.0 * HOUR_S));
        let to = record
            .clock
            .first_at_or_after(WallTime((day + 1) * DAY_S + NIGHT_HOURS.1 * HOUR_S));
        let usual = night(from, to, false);
        nights.extend(usual.filter(|night| {
            logged
                .iter()
                .all(|other| other.to <= night.from || night.to <= other.from)
        }));
    }
    nights.sort_by_key(|night| night.from);
    nights
}

fn night(from: Second, to: Second, logged: bool) -> Option<Night> {
    let (from, to) = (u32::try_from(from).ok()?, u32::try_from(to).ok()?);
    (from < to).then_some(Night { from, to, logged })
}

/// First and last reading of all traces.
fn span(record: &Record) -> Option<(Second, Second)> {
    let spans: Vec<(Second, Second)> = record
        .traces
        .iter()
        .filter_map(|trace| trace.readings.span())
        .collect();
    let first = spans.iter().map(|span| span.0).min()?;
    Some((first, spans.iter().map(|span| span.1).max()?))
}
