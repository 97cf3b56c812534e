//! What one more blood check would teach of the sensors read last.

use interstice_book::Record;
use interstice_glucose::Second;
use interstice_methods::agreement::{Check, slope_mg_dl_min};
use serde::Serialize;

use super::estimate::Known;
use super::wears::SensorWear;
use crate::Time;

/// Sensors that read so shortly before the last reading of all are looked at. Ours: two worn at once, or one just changed.
const LAST_S: Second = 6 * 3600;

/// A sensor as of its last reading, and what a check then would teach of how it scales. Half of bands that hold it nine times
/// in ten, percent.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CheckWould {
    /// Its name.
    pub sensor: String,
    /// Its readings, first and last.
    #[serde(skip)]
    pub span: (Second, Second),
    /// Its last reading.
    pub at: Time,
    /// How fast glucose changed then, mg/dL a minute, where that is known.
    pub rate_mg_dl_min: Option<f64>,
    /// Blood checks of it so far.
    pub checks: u64,
    /// How well it is known now how far it reads above or below blood.
    pub known_percent: f64,
    /// After a check while glucose stands still.
    pub after_steady_percent: f64,
    /// After a check while it changes as it did then.
    pub after_percent: f64,
}

/// The sensors read last, in the order they were worn; `chosen` are the places that were asked for.
pub(super) fn check_would(
    record: &Record,
    wears: &[SensorWear],
    chosen: &[usize],
    checks: &[Check],
    known: &Known,
) -> Vec<CheckWould> {
    let last = wears.iter().map(|wear| wear.span.1).max().unwrap_or(0);
    let near = chosen
        .iter()
        .filter(|&&place| wears[place].span.1 + LAST_S >= last);
    near.filter_map(|&place| one(record, wears, place, checks, known))
        .collect()
}

fn one(
    record: &Record,
    wears: &[SensorWear],
    place: usize,
    checks: &[Check],
    known: &Known,
) -> Option<CheckWould> {
    let wear = &wears[place];
    let (blood, scale, taken) = known.blood(record, wears, checks, place);
    let readings = &record.traces[wear.trace].readings;
    let own = wear.readings.clone();
    let rate = slope_mg_dl_min(
        &readings.at()[own.clone()],
        &readings.level()[own],
        &record.levels,
        wear.interval_s,
        wear.span.1,
    );
    let level = *blood.sensor_mg_dl.last()?;
    let moved = known.learned.delay.mean_min * rate.unwrap_or(0.0);
    let teaches = known.learned.teaches(
        scale.last()?,
        blood.blood.last()?,
        level + moved,
        rate.unwrap_or(0.0),
    );
    Some(CheckWould {
        sensor: wear.name.clone(),
        span: wear.span,
        at: Time(record.clock.moment(wear.span.1)),
        rate_mg_dl_min: rate,
        checks: taken as u64,
        known_percent: teaches.before_percent,
        after_steady_percent: teaches.after_steady_percent,
        after_percent: teaches.after_percent,
    })
}
