//! Readings as a phone or a transmitter of one's own tells them (docs/formats/push.md): one, a list, or a list with what
//! all of them share said once.

use interstice_glucose::{BloodCheck, BloodSource, Censor, Glucose, Named, Said, TraceKind, Unit};
use serde::Deserialize;
use serde_json::value::RawValue;

use crate::api::IntakeError;

use super::taking::{Taking, Unusable, When, cut, unusable};

/// Letters of a sensor's name and of a note.
const LONGEST_NAME: usize = 100;
const LONGEST_NOTE: usize = 1000;

/// No sensor or meter shows a number outside these, mg/dL; one that is was said in the other unit, or is no glucose (ours:
/// meters show some 10 to 600).
pub(crate) const BELIEVED_MG_PER_DL: std::ops::RangeInclusive<f64> = 10.0..=1000.0;

/// What a reading is.
#[derive(Clone, Copy, Default, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum Kind {
    /// Stored by a sensor by itself.
    #[default]
    Reading,
    /// Asked of a sensor by hand.
    Scan,
    /// By a meter.
    BloodCheck,
}

/// What may be said of one reading, or once of all in a list.
#[derive(Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
struct Reading<'a> {
    #[serde(borrow)]
    at: Option<&'a RawValue>,
    #[serde(borrow)]
    glucose: Option<&'a RawValue>,
    unit: Option<String>,
    sensor: Option<String>,
    kind: Option<Kind>,
    bound: Option<String>,
    note: Option<String>,
    #[serde(borrow)]
    readings: Option<Vec<&'a RawValue>>,
}

/// Takes a reading in, or all of a list that shares a unit, a sensor and a kind.
pub(super) fn take(taking: &mut Taking<'_>, raw: &RawValue) -> Result<(), IntakeError> {
    let Ok(Reading {
        readings: Some(readings),
        at: None,
        glucose: None,
        bound: None,
        note: None,
        unit,
        sensor,
        kind,
    }) = serde_json::from_str(raw.get())
    else {
        return taking.row(raw, |taking| one(taking, raw, &Reading::default()));
    };
    let shared = Reading {
        unit,
        sensor,
        kind,
        ..Reading::default()
    };
    for raw in readings {
        taking.row(raw, |taking| one(taking, raw, &shared))?;
    }
    Ok(())
}

fn one(taking: &mut Taking<'_>, raw: &RawValue, shared: &Reading<'_>) -> Result<(), Unusable> {
    let it: Reading<'_> = serde_json::from_str(raw.get())
        .map_err(|error| unusable("reading", format!("it is not as this format has it ({error})")))?;
    if it.readings.is_some() {
        let why = "a list of readings says unit, sensor and kind beside it and nothing else";
        return Err(unusable("readings", why));
    }
    let when = when(it.at)?;
    let said = said(&it, shared)?;
    let sensor = it.sensor.as_ref().or(shared.sensor.as_ref());
    let sensor = sensor.map(|name| name.trim()).unwrap_or_default();
    if sensor.chars().count() > LONGEST_NAME || sensor.chars().any(char::is_control) {
        let why = format!("a sensor's name has at most {LONGEST_NAME} letters and none that cannot be seen");
        return Err(unusable("sensor", why));
    }
    let kind = it.kind.or(shared.kind).unwrap_or_default();
    let trace = match kind {
        Kind::Reading => TraceKind::Automatic,
        Kind::Scan => TraceKind::Scan,
        Kind::BloodCheck => return check(taking, when, said, it.note),
    };
    if it.note.is_some() {
        return Err(unusable("note", "a note stands beside a blood check alone"));
    }
    taking.reading(when, sensor.to_owned(), trace, said, "at")
}

fn check(taking: &mut Taking<'_>, when: When, said: Said, note: Option<String>) -> Result<(), Unusable> {
    if note
        .as_ref()
        .is_some_and(|note| note.chars().count() > LONGEST_NOTE)
    {
        return Err(unusable(
            "note",
            format!("a note has at most {LONGEST_NOTE} letters"),
        ));
    }
    let at = taking.lived(when);
    taking.draft.blood_checks.push(BloodCheck {
        at,
        said,
        source: BloodSource::Meter,
        note,
    });
    Ok(())
}

/// A date and time with its offset, or whole seconds since 1970.
fn when(at: Option<&RawValue>) -> Result<When, Unusable> {
    let text = at.map(RawValue::get).unwrap_or_default();
    if let Ok(at) = text.parse::<i64>() {
        if u32::try_from(at).is_err() {
            let why = format!("{at} is no second between 1970 and 2106; say seconds, not milliseconds");
            return Err(unusable("at", why));
        }
        return Ok(When { at, offset_s: None });
    }
    let text: Option<String> = serde_json::from_str(text).ok();
    When::read("at", text.as_deref())
}

fn said(it: &Reading<'_>, shared: &Reading<'_>) -> Result<Said, Unusable> {
    let symbol = it.unit.as_ref().or(shared.unit.as_ref());
    let symbol = symbol.ok_or_else(|| unusable("unit", "it says no unit; say mg/dL or mmol/L"))?;
    let unit = [Unit::MgPerDl, Unit::MmolPerL]
        .into_iter()
        .find(|unit| unit.word().eq_ignore_ascii_case(symbol.trim()))
        .ok_or_else(|| {
            unusable(
                "unit",
                format!("'{}' is no unit of glucose; say mg/dL or mmol/L", cut(symbol)),
            )
        })?;
    let bound = match it.bound.as_deref() {
        None => Censor::None,
        Some("below") => Censor::Below,
        Some("above") => Censor::Above,
        Some(other) => {
            let why = format!("'{}' is neither 'below' nor 'above'", cut(other));
            return Err(unusable("bound", why));
        }
    };
    let text = it.glucose.map(RawValue::get).unwrap_or_default();
    let said = Said::from_decimal(text, unit, bound);
    let said = said.ok_or_else(|| unusable("glucose", format!("'{}' is no decimal number", cut(text))))?;
    let glucose: Glucose = said.glucose();
    if !BELIEVED_MG_PER_DL.contains(&glucose.mg_per_dl()) {
        let why = format!("{text} {symbol} is no glucose that could be; look at the unit");
        return Err(unusable("glucose", why));
    }
    Ok(said)
}
