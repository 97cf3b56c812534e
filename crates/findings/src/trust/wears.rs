//! The sensors behind the automatic traces, each with the readings that are its own.

use std::ops::Range;

use interstice_book::{Record, Trace};
use interstice_glucose::{BodySite, DAY_S, Region, Second, TraceKind};
use interstice_methods::trace::native_interval;
use serde::Serialize;

use crate::FindingsError;
use crate::worn::{KnownFrom, SensorWorn, sensors_worn};

/// No sensor for the skin runs longer than sixteen days (ours, generous): a longer stretch nobody told the start of holds a
/// change of sensor that was not noticed.
const LONGEST_WEAR_S: Second = 16 * DAY_S;
/// Native interval taken where a sensor has too few readings to show one: the commonest.
const ASSUMED_INTERVAL_S: u32 = 300;

/// How the start of a sensor is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Started {
    /// It was written down.
    Noted,
    /// It is taken to be the first reading under the sensor's name.
    FirstReading,
    /// It is guessed from a pause that looks like a change of sensor.
    Pause,
    /// It is not known.
    Unknown,
}

/// One sensor with its readings, as pairing needs it.
#[derive(Clone, Debug, PartialEq)]
pub struct SensorWear {
    /// Its name, with the date of its first reading where several share one or have none.
    pub name: String,
    /// Which trace of the record.
    pub trace: usize,
    /// Its readings in that trace.
    pub readings: Range<usize>,
    /// Native interval, seconds.
    pub interval_s: u32,
    /// First and last reading.
    pub span: (Second, Second),
    /// When it was started, where that can be relied on.
    pub started: Option<Second>,
    /// How that is known.
    pub started_by: Started,
    /// Place on the body, without the side.
    pub site: Option<String>,
    /// What is known of it.
    pub worn: SensorWorn,
}

impl SensorWear {
    /// 'left' or 'right'.
    pub fn side(&self) -> Option<String> {
        let side = self.worn.site.as_ref()?.side?;
        Some(side.name().to_owned())
    }

    /// Side and part of the body together, 'left upper arm', where both are known.
    pub fn place(&self) -> Option<String> {
        Some(format!("{} {}", self.side()?, self.site.as_ref()?))
    }

    /// How the skin was prepared.
    pub fn preparation(&self) -> Option<String> {
        let tags = &self.worn.detail.preparation;
        (!tags.is_empty()).then(|| tags.join(", "))
    }
}

/// The sensors with readings in a record, by first reading; see [`sensors_worn`] for how they are told apart.
pub fn wears(record: &Record) -> Vec<SensorWear> {
    let mut wears: Vec<SensorWear> = sensors_worn(record, Second::MIN, Second::MAX)
        .into_iter()
        .filter_map(|worn| wear(record, worn))
        .collect();
    wears.sort_by(|a, b| (a.span.0, &a.name).cmp(&(b.span.0, &b.name)));
    name_apart(record, &mut wears);
    wears
}

/// The places of the wears of one sensor, by its own name or its trace's; of all where none is asked for.
///
/// # Errors
/// `NoSensor` with the names there are, where it is none of them.
pub(super) fn named(
    record: &Record,
    wears: &[SensorWear],
    name: Option<&str>,
) -> Result<Vec<usize>, FindingsError> {
    let is_named = |wear: &SensorWear| {
        name.is_none_or(|name| wear.name == name || record.traces[wear.trace].sensor == name)
    };
    let found: Vec<usize> = (0..wears.len())
        .filter(|&place| is_named(&wears[place]))
        .collect();
    if found.is_empty() && !wears.is_empty() {
        let names: Vec<&str> = wears.iter().map(|wear| wear.name.as_str()).collect();
        return Err(FindingsError::NoSensor(format!(
            "there is no sensor '{}'; there are: {}",
            name.unwrap_or_default(),
            names.join(", ")
        )));
    }
    Ok(found)
}

fn wear(record: &Record, worn: SensorWorn) -> Option<SensorWear> {
    let span = worn.readings?;
    let (trace, readings) = readings_of(record, &worn, span)?;
    let at = &record.traces[trace].readings.at()[readings.clone()];
    let started_by = started_by(&worn, span);
    Some(SensorWear {
        name: worn.sensor.clone().unwrap_or_default(),
        trace,
        readings,
        interval_s: native_interval(at).unwrap_or(ASSUMED_INTERVAL_S),
        span,
        started: worn.start().filter(|_| started_by != Started::Unknown),
        started_by,
        site: worn.site.as_ref().map(site_without_side),
        worn,
    })
}

/// The trace a sensor's readings lie in: of its name, else the one without a name.
fn readings_of(
    record: &Record,
    worn: &SensorWorn,
    (first, last): (Second, Second),
) -> Option<(usize, Range<usize>)> {
    let own = worn.sensor.as_deref().unwrap_or_default();
    let holds = |trace: &Trace, name: &str| {
        trace.kind == TraceKind::Automatic
            && trace.sensor == name
            && !trace.readings.range(first, first + 1).is_empty()
    };
    [own, ""].into_iter().find_map(|name| {
        let place = record.traces.iter().position(|trace| holds(trace, name))?;
        Some((place, record.traces[place].readings.range(first, last + 1)))
    })
}

fn started_by(worn: &SensorWorn, (first, last): (Second, Second)) -> Started {
    match worn.known_from {
        _ if worn.started.is_some() => Started::Noted,
        _ if last - first > LONGEST_WEAR_S => Started::Unknown,
        KnownFrom::Told | KnownFrom::Readings => Started::FirstReading,
        KnownFrom::Pause => Started::Pause,
    }
}

/// The part of the body, so that spots of one part are one group; elsewhere the words themselves.
fn site_without_side(site: &BodySite) -> String {
    if site.region != Region::Elsewhere {
        return site.region.name().to_owned();
    }
    BodySite {
        side: None,
        ..site.clone()
    }
    .to_string()
}

/// Names tell sensors apart: those that share one, or have none, get the date of their first reading.
fn name_apart(record: &Record, wears: &mut [SensorWear]) {
    let names: Vec<String> = wears.iter().map(|wear| wear.name.clone()).collect();
    for (place, wear) in wears.iter_mut().enumerate() {
        let first = record.clock.wall(wear.span.0).civil();
        let date = first.map_or_else(|| wear.span.0.to_string(), |civil| civil.date().to_string());
        if names[place].is_empty() {
            wear.name = format!("sensor from {date}");
        } else if names.iter().filter(|&name| *name == names[place]).count() > 1 {
            wear.name = format!("{}, from {date}", names[place]);
        }
    }
}
