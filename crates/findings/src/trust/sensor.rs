//! One sensor over its life: what it showed, what blood probably was, how it scales, and what looks wrong with it.

use interstice_glucose::{Second, Unit};
use interstice_methods::estimate::{Probable, ReadsHigh};
use serde::ser::SerializeMap;
use serde::{Serialize, Serializer};

use super::{Agreement, Counts, FaultLine, Lag, Pairing, Point, PressureEvent, SensorBlood, Share, WearLine};
use crate::Time;
use crate::days::Tick;

/// Everything the page of one sensor, its text and its JSON show.
#[derive(Clone, Debug, Serialize)]
pub struct SensorFindings {
    /// Unit the wearer reads; the numbers below are in mg/dL all the same.
    #[serde(serialize_with = "super::symbol")]
    pub unit: Unit,
    /// How readings were found for checks.
    pub pairing: Pairing,
    /// Below this blood value an allowance is in mg/dL, from it on in percent.
    pub split_mg_dl: f64,
    /// Seed of the bootstrap intervals.
    pub seed: u64,
    /// What is known of it, its name under 'sensor'.
    #[serde(flatten)]
    pub wear: WearLine,
    /// When it ended or was taken off, where that is known.
    pub ended: Option<Time>,
    /// How it ended, where that is known.
    pub ending: Option<&'static str>,
    /// What was written beside its moments.
    pub written: Vec<String>,
    /// Readings.
    pub readings: u64,
    /// One every so many seconds.
    pub interval_s: u32,
    /// Readings of those expected from the first to the last, percent.
    pub active_percent: f64,
    /// The sensor worn before it.
    pub previous: Option<String>,
    /// The sensor worn after it.
    pub next: Option<String>,
    /// What became of the blood checks; those while it was not read are of other sensors, or of none.
    pub counts: Counts,
    /// Its figures.
    pub agreement: Agreement,
    /// The share of its first day's pairs within 15/15.
    #[serde(serialize_with = "share")]
    pub first_day: Share,
    /// The same figures of all other sensors together; `None` where there is no other.
    pub others: Option<OtherSensors>,
    /// How late the wearer's sensors are, this one among them.
    #[serde(flatten)]
    pub lag: Lag,
    /// Its pairs, oldest first.
    pub checks: Vec<CheckLine>,
    /// How it scales; the course of it stands in `life`.
    pub scale: SensorScale,
    /// By day of wear.
    pub days: Vec<WearDay>,
    /// What looks wrong with it.
    pub faults: Vec<FaultLine>,
    /// Possible pressure lows on it, in time order.
    pub pressure: Vec<PressureEvent>,
    /// Reading by reading.
    pub life: SensorLife,
    /// What its picture has around it.
    #[serde(skip)]
    pub around: Around,
}

/// The figures of all sensors but one.
#[derive(Clone, Debug, Serialize)]
pub struct OtherSensors {
    /// Pairs.
    pub pairs: u64,
    /// Sensors they are from.
    pub sensors: u64,
    /// The figures.
    #[serde(flatten)]
    pub agreement: Agreement,
}

/// One pair of the sensor.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CheckLine {
    /// The pair.
    #[serde(flatten)]
    pub point: Point,
    /// Sensor less blood, mg/dL.
    pub difference_mg_dl: f64,
    /// The same in percent of the blood.
    pub difference_percent: f64,
    /// How far the meter may be off by its standard, mg/dL either way.
    pub meter_mg_dl: f64,
}

/// How the sensor scales.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SensorScale {
    /// The glucose it is told at: the sensor's middle reading, mg/dL.
    pub at_mg_dl: f64,
    /// Blood checks of this sensor it rests on.
    pub checks: u64,
    /// Why it is not told.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

/// One day of wear: 24 hours since the start, or since the first reading where the start is not known.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WearDay {
    /// 1 is the first.
    pub day: u32,
    /// It begins.
    pub from: Time,
    /// Readings in it.
    pub readings: u64,
    /// Pairs in it.
    pub checks: u64,
    /// Pairs within 15/15.
    pub within_15: u64,
    /// Lowest and highest difference, percent of the blood.
    pub difference_percent: Option<(f64, f64)>,
    /// How the sensor scales at the middle reading of the day.
    #[serde(serialize_with = "reads_high")]
    pub reads_high: Option<ReadsHigh>,
}

/// Reading by reading.
#[derive(Clone, Debug)]
pub struct SensorLife {
    /// What the sensor said and what blood probably was.
    pub blood: SensorBlood,
    /// How far the sensor reads above blood at [`SensorScale::at_mg_dl`], one a reading; empty where that is not told.
    pub reads_high: Vec<ReadsHigh>,
}

/// What the picture has around it.
#[derive(Clone, Debug, Default)]
pub struct Around {
    /// Its left edge: put on, started, or the first reading.
    pub from: Second,
    /// Its right edge: ended, or the last reading.
    pub to: Second,
    /// Nights: first instant, first instant after.
    pub nights: Vec<(Second, Second)>,
    /// Lived midnights.
    pub days: Vec<DayTick>,
    /// Every third hour of the lived clock.
    pub hours: Vec<Tick>,
    /// Stretches the wearer marked as not to be believed, or said to be pressure where nothing was found.
    pub marked: Vec<(Second, Second)>,
    /// Stretches without a say in the estimate: these, and possible pressure lows but those the wearer said were real.
    pub aside: Vec<(Second, Second)>,
    /// Beyond this many seconds two readings are not joined.
    pub gap_s: u32,
    /// Edges of the wearer's ranges, ascending, mg/dL.
    pub edges_mg_dl: [f64; 4],
}

/// A lived midnight.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DayTick {
    /// When.
    pub at: Second,
    /// The date that begins, 'YYYY-MM-DD'.
    pub date: String,
}

fn share<S: Serializer>(share: &Share, serializer: S) -> Result<S::Ok, S::Error> {
    let mut map = serializer.serialize_map(None)?;
    map.serialize_entry("pairs", &share.of)?;
    crate::figure::figure_entry(&mut map, "within_15_percent", &share.percent)?;
    map.serialize_entry("within_15_pairs", &share.within)?;
    map.end()
}

#[expect(clippy::ref_option, reason = "the shape serde asks for")]
fn reads_high<S: Serializer>(reads: &Option<ReadsHigh>, serializer: S) -> Result<S::Ok, S::Error> {
    let Some(reads) = reads else {
        return serializer.serialize_none();
    };
    let mut map = serializer.serialize_map(None)?;
    for (name, value) in SCALE_NAMES.iter().zip(percentiles(reads)) {
        map.serialize_entry(name, &hundredth(value))?;
    }
    map.end()
}

const SCALE_NAMES: [&str; 5] = [
    "percent",
    "p5_percent",
    "p25_percent",
    "p75_percent",
    "p95_percent",
];

fn percentiles(reads: &ReadsHigh) -> [f64; 5] {
    [
        reads.percent,
        reads.most.0,
        reads.half.0,
        reads.half.1,
        reads.most.1,
    ]
}

/// Columns of the same length, values to a hundredth: four thousand readings would be a megabyte otherwise.
impl Serialize for SensorLife {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("at_s", &self.blood.at)?;
        map.serialize_entry("sensor_mg_dl", &column(&self.blood.sensor_mg_dl, |&value| value))?;
        let of = |value: fn(&Probable) -> f64| column(&self.blood.blood, value);
        map.serialize_entry("estimate_mg_dl", &of(|blood| blood.mean_mg_dl))?;
        map.serialize_entry("p5_mg_dl", &of(|blood| blood.most().0))?;
        map.serialize_entry("p25_mg_dl", &of(|blood| blood.half().0))?;
        map.serialize_entry("p75_mg_dl", &of(|blood| blood.half().1))?;
        map.serialize_entry("p95_mg_dl", &of(|blood| blood.most().1))?;
        for (place, name) in SCALE_NAMES.iter().enumerate() {
            let values = column(&self.reads_high, |reads| percentiles(reads)[place]);
            map.serialize_entry(&format!("reads_high_{name}"), &values)?;
        }
        map.end()
    }
}

fn column<T>(rows: &[T], value: impl Fn(&T) -> f64) -> Vec<f64> {
    rows.iter().map(|row| hundredth(value(row))).collect()
}

fn hundredth(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}
