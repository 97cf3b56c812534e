//! Open mHealth blood glucose (schema `omh:blood-glucose`, versions 1 to 4).

use interstice_glucose::{BloodCheck, BloodSource, Censor, Named, Said, TraceKind};
use serde::Deserialize;
use serde_json::value::RawValue;

use crate::api::IntakeError;

use super::taking::{Quantity, Taking, Unusable, When, unusable};

#[derive(Default, Deserialize)]
#[serde(default)]
struct SchemaId {
    name: String,
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct Header {
    schema_id: SchemaId,
    user_id: Option<String>,
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct Interval {
    start_date_time: Option<String>,
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct TimeFrame {
    date_time: Option<String>,
    time_interval: Interval,
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct Body {
    blood_glucose: Option<Quantity>,
    effective_time_frame: TimeFrame,
    specimen_source: Option<String>,
    descriptive_statistic: Option<String>,
    user_notes: Option<String>,
    // Names of our own beside the schema's.
    sensor: Option<String>,
    bound: Option<String>,
    asked_by_hand: bool,
    note: Option<String>,
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct DataPoint {
    header: Header,
    body: Option<Body>,
}

/// Takes a data point in: a header and a body, or a body alone.
pub(super) fn take(taking: &mut Taking<'_>, raw: &RawValue) -> Result<(), IntakeError> {
    taking.row(raw, |taking| {
        let wrong = |error: serde_json::Error| {
            unusable("document", format!("it is not as the schema has it ({error})"))
        };
        let point: DataPoint = serde_json::from_str(raw.get()).map_err(wrong)?;
        let body = match point.body {
            Some(body) => body,
            None => serde_json::from_str(raw.get()).map_err(wrong)?,
        };
        point_of(taking, &point.header, &body)
    })
}

fn point_of(taking: &mut Taking<'_>, header: &Header, body: &Body) -> Result<(), Unusable> {
    let Some(glucose) = &body.blood_glucose else {
        taking.pass_over(&header.schema_id.name);
        return Ok(());
    };
    if body.descriptive_statistic.is_some() {
        taking.pass_over("blood-glucose with a descriptive statistic");
        return Ok(());
    }
    if !taking.is_of(header.user_id.as_deref()) {
        return Ok(());
    }
    let said = glucose.glucose("blood_glucose")?;
    let said = match body.bound.as_deref() {
        None => said,
        Some(word) => {
            let bound = Censor::of_word(word);
            let bound = bound.ok_or_else(|| unusable("bound", "it is neither 'below' nor 'above'"))?;
            Said::new(said.mantissa(), said.decimals(), said.unit(), bound)
                .map_err(|error| unusable("blood_glucose", error.to_string()))?
        }
    };
    let frame = &body.effective_time_frame;
    let text = frame
        .date_time
        .as_deref()
        .or(frame.time_interval.start_date_time.as_deref());
    let when = When::read("effective_time_frame", text)?;
    if body.specimen_source.as_deref() == Some("interstitial fluid") {
        let sensor = body.sensor.clone().unwrap_or_default();
        let kind = if body.asked_by_hand {
            TraceKind::Scan
        } else {
            TraceKind::Automatic
        };
        return taking.reading(when, sensor, kind, said, "effective_time_frame");
    }
    let source = match body.specimen_source.as_deref() {
        Some("plasma" | "serum") => BloodSource::Laboratory,
        _ => BloodSource::Meter,
    };
    let check = BloodCheck {
        at: taking.lived(when),
        said,
        source,
        note: body.note.clone().or_else(|| body.user_notes.clone()),
    };
    taking.draft.blood_checks.push(check);
    Ok(())
}
