//! Possible pressure lows, night by night.

use interstice_book::{Book, NightHours, Record};
use interstice_glucose::{DAY_S, Delivery, InsulinKind, MarkKind, Second, WallTime};
use interstice_methods::agreement::Check;
use interstice_methods::pressure::{
    CALLED, Known, Night, PressureLow, PressureParams, PressureTrace, pressure_lows, pressure_mask,
};
use rayon::prelude::*;
use serde::Serialize;

use super::estimate::Columns;
use super::pairs;
use super::wears::{SensorWear, named, wears};
use crate::account::{Reader, reader};
use crate::{FindingsError, Time};

/// The hours looked at where no sleep is logged and no night is set: those that false alarms on people without diabetes
/// were counted in (docs/methods/pressure-lows.md). Longer than the night as it is drawn, for one lies down before it.
const IN_BED: NightHours = NightHours {
    from_minute: 23 * 60,
    to_minute: 7 * 60,
};

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

/// The possible pressure lows of the whole book, or of one sensor by its name.
///
/// # Errors
/// `Empty` without automatic readings; `NoSensor` where the sensor asked for is not in it; `Book` where the book cannot be read.
pub fn pressure_book(book: &Book, sensor: Option<&str>) -> Result<PressureFindings, FindingsError> {
    book.span()?.ok_or(FindingsError::Empty)?;
    let (record, reader) = (book.load_all()?, reader(book)?);
    let all = wears(&record);
    if all.is_empty() {
        return Err(FindingsError::Empty);
    }
    let chosen: Vec<SensorWear> = named(&record, &all, sensor)?
        .into_iter()
        .map(|place| all[place].clone())
        .collect();
    let columns: Vec<Columns<'_>> = chosen.iter().map(|wear| Columns::said(&record, wear)).collect();
    let pressed = Pressed::look(&record, &columns, &pairs::checks(&record), reader.night);
    Ok(pressed.findings(&record, &chosen, reader))
}

/// The possible pressure lows of some wears, looked for once.
pub(super) struct Pressed {
    /// Nights in which any of the wears was read.
    read: Vec<Night>,
    /// By wear; none where its readings are too few to tell noise.
    lows: Vec<Vec<PressureLow>>,
}

impl Pressed {
    /// Looks through the nights of each wear.
    pub(super) fn look(
        record: &Record,
        wears: &[Columns<'_>],
        checks: &[Check],
        night: Option<NightHours>,
    ) -> Self {
        Self::look_by(record, wears, checks, night, Second::MAX)
    }

    /// The same as known at an instant, from nothing that was logged for later; the readings and checks handed in must not be later either.
    pub(super) fn look_by(
        record: &Record,
        wears: &[Columns<'_>],
        checks: &[Check],
        night: Option<NightHours>,
        by: Second,
    ) -> Self {
        let nights = nights(record, night);
        let instant = |at: Second| u32::try_from(at).ok().filter(|_| at < by);
        let insulin: Vec<u32> = record
            .doses
            .iter()
            .filter(|kept| kept.it.delivery != Delivery::BasalRate && kept.it.insulin != InsulinKind::Long)
            .filter_map(|kept| instant(kept.it.at))
            .collect();
        let food: Vec<u32> = record
            .meals
            .iter()
            .filter_map(|kept| instant(kept.it.at))
            .collect();
        let known = Known {
            nights: &nights,
            checks,
            insulin: &insulin,
            food: &food,
            verdicts: &[],
        };
        let lows = wears
            .par_iter()
            .zip(0u32..wears.len() as u32)
            .map(|(columns, sensor)| {
                let trace = PressureTrace {
                    sensor,
                    at: columns.at,
                    mg_dl: &columns.mg_dl,
                    censor: &columns.censor,
                };
                pressure_lows(&trace, &known, &PressureParams::default()).unwrap_or_default()
            })
            .collect();
        let is_read = |night: &&Night| wears.iter().any(|columns| is_read(columns.at, night));
        Pressed {
            read: nights.iter().filter(is_read).copied().collect(),
            lows,
        }
    }

    /// Which of a wear's readings lie in a possible pressure low.
    pub(super) fn mask(&self, wear: usize, readings: usize) -> Vec<bool> {
        pressure_mask(&self.lows[wear], readings)
    }

    /// As they are told; `wears` are those looked at.
    pub(super) fn findings(&self, record: &Record, wears: &[SensorWear], reader: Reader) -> PressureFindings {
        let marked = pairs::artefacts(record);
        let time = |at: u32| Time(record.clock.moment(Second::from(at)));
        let mut lows: Vec<(&PressureLow, &SensorWear)> = self
            .lows
            .iter()
            .zip(wears)
            .flat_map(|(lows, wear)| lows.iter().map(move |low| (low, wear)))
            .collect();
        lows.sort_by_key(|(low, _)| low.from);
        let event = |(low, wear): (&PressureLow, &SensorWear)| PressureEvent {
            sensor_id: wear.name.clone(),
            start: time(low.from),
            end: time(low.to),
            minutes: f64::from(low.to - low.from) / 60.0,
            probability: low.probability,
            attenuation_percent: low.attenuation_percent,
            depth_mg_dl: low.depth_mg_dl,
            nadir_mg_dl: low.nadir_mg_dl,
            evidence: low.evidence.iter().map(|sign| sign.words(reader.unit)).collect(),
            verdict: is_marked(low, &marked).then_some("pressure"),
        };
        PressureFindings {
            nights: self.read.len() as u64,
            nights_logged: self.read.iter().filter(|night| night.logged).count() as u64,
            called: CALLED,
            events: lows.into_iter().map(event).collect(),
        }
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

fn is_read(at: &[u32], night: &Night) -> bool {
    let next = at.partition_point(|&at| at < night.from);
    at.get(next).is_some_and(|&at| at < night.to)
}

/// Which readings fall in the usual night.
pub(super) fn in_bed(record: &Record, set: Option<NightHours>, at: &[u32]) -> Vec<bool> {
    let mut in_bed = vec![false; at.len()];
    for night in usual_nights(record, set) {
        let first = at.partition_point(|&at| at < night.from);
        let after = at.partition_point(|&at| at < night.to);
        in_bed[first..after].fill(true);
    }
    in_bed
}

/// The times in bed: as logged, and the usual night wherever none is logged.
fn nights(record: &Record, set: Option<NightHours>) -> Vec<Night> {
    let logged: Vec<Night> = record
        .marks
        .iter()
        .map(|kept| &kept.it)
        .filter(|mark| mark.kind == MarkKind::Sleep)
        .filter_map(|mark| night(mark.at, mark.until?, true))
        .collect();
    let apart = |night: &Night| {
        logged
            .iter()
            .all(|other| other.to <= night.from || night.to <= other.from)
    };
    let mut nights = logged.clone();
    nights.extend(usual_nights(record, set).into_iter().filter(apart));
    nights.sort_by_key(|night| night.from);
    nights
}

/// The usual night of every day, from the one before the first reading on.
fn usual_nights(record: &Record, set: Option<NightHours>) -> Vec<Night> {
    let Some((first, last)) = span(record) else {
        return Vec::new();
    };
    let usual = set.unwrap_or(IN_BED);
    let (from_s, to_s) = (
        Second::from(usual.from_minute) * 60,
        Second::from(usual.to_minute) * 60,
    );
    let past_midnight = if to_s <= from_s { DAY_S } else { 0 };
    (record.clock.wall(first).day() - 1..=record.clock.wall(last).day())
        .filter_map(|day| {
            let at = |second: Second| record.clock.first_at_or_after(WallTime(day * DAY_S + second));
            night(at(from_s), at(to_s + past_midnight), false)
        })
        .collect()
}

fn night(from: Second, to: Second, logged: bool) -> Option<Night> {
    let (from, to) = (u32::try_from(from).ok()?, u32::try_from(to).ok()?);
    (from < to).then_some(Night { from, to, logged })
}

/// First and last reading of all traces.
fn span(record: &Record) -> Option<(Second, Second)> {
    let spans = record.traces.iter().filter_map(|trace| trace.readings.span());
    spans.reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)))
}
