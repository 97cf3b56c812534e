//! Open mHealth: a list of data points of the schema `omh:blood-glucose` 4.0 for each month of universal time.
//!
//! Sensor readings are glucose of interstitial fluid, blood checks of capillary blood or, from a laboratory, of plasma.
//! What the schema has no place for (the sensor's name, a bound, a scan, a note) stands beside it under names of ours, which
//! the schema lets pass.

use std::collections::BTreeMap;

use interstice_book::Book;
use interstice_findings::Taken;
use interstice_glucose::{BloodSource, Censor, Named, Said, Second, TraceKind};
use jiff::civil::Date;
use serde::Serialize;
use serde_json::value::RawValue;

use crate::decimals::decimal;
use crate::digest::uuid;
use crate::export::{DoorError, Exported};
use crate::month;
use crate::sink::Sink;
use crate::writing::Files;

#[derive(Serialize)]
struct SchemaId {
    namespace: &'static str,
    name: &'static str,
    version: &'static str,
}

#[derive(Serialize)]
struct Header {
    uuid: String,
    schema_id: SchemaId,
    source_creation_date_time: String,
    modality: &'static str,
}

#[derive(Serialize)]
struct UnitValue {
    unit: &'static str,
    value: Box<RawValue>,
}

#[derive(Serialize)]
struct TimeFrame {
    date_time: String,
}

#[derive(Serialize)]
struct Body {
    blood_glucose: UnitValue,
    effective_time_frame: TimeFrame,
    specimen_source: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    sensor: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    bound: Option<&'static str>,
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    asked_by_hand: bool,
    #[serde(skip_serializing_if = "Option::is_none")]
    note: Option<String>,
}

#[derive(Serialize)]
struct DataPoint {
    header: Header,
    body: Body,
}

/// Writes readings and blood checks of what was taken.
///
/// # Errors
/// `Book`, `Write`, `Table`.
pub fn export_omh(book: &Book, taken: &Taken, sink: &mut dyn Sink) -> Result<Exported, DoorError> {
    let identity = book.identity()?;
    let mut months: BTreeMap<Date, Vec<DataPoint>> = BTreeMap::new();
    let mut keep = |at: Second, point: Option<DataPoint>| {
        months.entry(month::of(at)).or_default().extend(point);
    };
    let record = &taken.record;
    for trace in &record.traces {
        for place in trace.readings.range(taken.from, taken.to) {
            let at = Second::from(trace.readings.at()[place]);
            let said = record.levels.get(trace.readings.level()[place]).said;
            let key = format!("reading {} {} {at} {said}", trace.sensor, trace.kind.word());
            let body = Told {
                sensor: Some(trace.sensor.clone()).filter(|name| !name.is_empty()),
                asked_by_hand: trace.kind == TraceKind::Scan,
                ..Told::new(at, said, "interstitial fluid")
            };
            keep(at, body.point(taken, uuid(&[&identity, &key]), "sensed"));
        }
    }
    for check in record.blood_checks.iter().map(|kept| &kept.it) {
        if !(taken.from..taken.to).contains(&check.at) {
            continue;
        }
        let source = match check.source {
            BloodSource::Meter => "capillary blood",
            BloodSource::Laboratory => "plasma",
        };
        let body = Told {
            note: check.note.clone(),
            ..Told::new(check.at, check.said, source)
        };
        let id = uuid(&[&identity, &format!("{check:?}")]);
        keep(check.at, body.point(taken, id, "self-reported"));
    }
    let mut files = Files::new(sink);
    for (first, points) in months {
        let path = format!("blood-glucose-{}.json", first.strftime("%Y-%m"));
        files.json(&path, points.len(), &points)?;
    }
    let mut notes = Vec::new();
    let others = record.doses.len() + record.meals.len() + record.marks.len() + record.sensor_notes.len();
    if others > 0 {
        notes.push(
            "Not in these documents: doses, meals, other entries and moments of sensors, for which no schema is published \
             or none is written here; `--as csv` has everything."
                .to_owned(),
        );
    }
    Ok(Exported {
        files: files.written,
        notes,
    })
}

/// What is told of a value.
struct Told {
    at: Second,
    said: Said,
    specimen_source: &'static str,
    sensor: Option<String>,
    asked_by_hand: bool,
    note: Option<String>,
}

impl Told {
    fn new(at: Second, said: Said, specimen_source: &'static str) -> Self {
        Told {
            at,
            said,
            specimen_source,
            sensor: None,
            asked_by_hand: false,
            note: None,
        }
    }

    fn point(self, taken: &Taken, uuid: String, modality: &'static str) -> Option<DataPoint> {
        let time = taken.record.clock.moment(self.at).to_string();
        let header = Header {
            uuid,
            schema_id: SchemaId {
                namespace: "omh",
                name: "blood-glucose",
                version: "4.0",
            },
            source_creation_date_time: time.clone(),
            modality,
        };
        let body = Body {
            blood_glucose: UnitValue {
                unit: self.said.unit().word(),
                value: decimal(&self.said.decimal())?,
            },
            effective_time_frame: TimeFrame { date_time: time },
            specimen_source: self.specimen_source,
            sensor: self.sensor,
            bound: match self.said.censor() {
                Censor::None => None,
                bound => Some(bound.word()),
            },
            asked_by_hand: self.asked_by_hand,
            note: self.note,
        };
        Some(DataPoint { header, body })
    }
}
