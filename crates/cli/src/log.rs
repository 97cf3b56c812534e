//! `log`: writing something down by hand.

mod sensor;

use std::path::Path;

use interstice_desk::{Entry, Mode};
use interstice_glucose::{
    BloodCheck, BloodSource, Censor, Delivery, Dose, InsulinKind, LowVerdict, LowWas, Mark, MarkKind, Meal,
    Said, Second, Unit, Zone,
};
use serde_json::json;

use crate::args::{self, Insulin, LogArgs, LogWhat};
use crate::exit::{Answer, Exit, Failure};
use crate::import::unit as unit_of;
use crate::opened::open;
use crate::output::Output;
use crate::world::{World, instant};

/// Writes one entry.
pub(crate) fn log(args: &LogArgs, path: &Path, world: &World, out: &mut Output) -> Answer {
    let mut book = open(path, Mode::CreateIfAbsent, out)?;
    let settings = book.settings().map_err(Failure::book)?;
    let zone = settings.base_zone.unwrap_or_else(|| world.zone.clone());
    let entry = entry(args, world.now, &zone, settings.unit)?;
    let photo = match &args.what {
        LogWhat::Sensor(args) => args.photo.as_deref(),
        _ => None,
    };
    let change = match (&entry, photo) {
        (Entry::Sensor(_), Some(file)) => {
            let (name, bytes) = sensor::photo(file)?;
            let entries = std::slice::from_ref(&entry);
            interstice_desk::log_with_photo(&mut book, entries, (&name, &bytes), world.now)?
        }
        _ => interstice_desk::log(&mut book, &entry, world.now)?,
    };
    if out.json() {
        out.document(&json!({ "change_id": change }))?;
    } else {
        out.text(&format!(
            "written down; to take it back: interstice undo {change}\n"
        ));
    }
    Ok(Exit::Done)
}

fn entry(args: &LogArgs, now: Second, zone: &Zone, book_unit: Option<Unit>) -> Result<Entry, Failure> {
    let time = |text: &Option<String>| text.as_deref().map(|text| instant(text, now, zone)).transpose();
    let at = time(&args.at)?.unwrap_or(now);
    let until = time(&args.until)?;
    let note = args.note.clone();
    let mark = |kind, value| {
        Entry::Mark(Mark {
            at,
            until,
            kind,
            value,
            text: note.clone(),
        })
    };
    Ok(match &args.what {
        LogWhat::Blood {
            value,
            unit,
            laboratory,
        } => {
            let said = glucose(value, unit.as_deref().map(unit_of), book_unit)?;
            let source = if *laboratory {
                BloodSource::Laboratory
            } else {
                BloodSource::Meter
            };
            Entry::Blood(BloodCheck {
                at,
                said,
                source,
                note,
            })
        }
        LogWhat::Dose { units, insulin } => Entry::Dose(Dose {
            at,
            units: *units,
            insulin: insulin_kind(*insulin),
            delivery: Delivery::AtOnce,
            note,
        }),
        LogWhat::Meal { grams } => Entry::Meal(Meal {
            at,
            carbohydrate_g: *grams,
            protein_g: None,
            fat_g: None,
            fibre_g: None,
            energy_kcal: None,
            text: note,
        }),
        LogWhat::Drink { millilitres } => mark(MarkKind::Drink, *millilitres),
        LogWhat::Temperature { celsius } => mark(MarkKind::Temperature, Some(*celsius)),
        LogWhat::Activity => mark(MarkKind::Activity, None),
        LogWhat::Sleep => mark(MarkKind::Sleep, None),
        LogWhat::Ketones { value } => mark(MarkKind::Ketones, Some(*value)),
        LogWhat::Symptom => mark(MarkKind::Symptom, None),
        LogWhat::Artefact => {
            if until.is_none() {
                return Err(Failure::usage(
                    "say until when the readings are not to be believed, with --until TIME",
                ));
            }
            mark(MarkKind::Artefact, None)
        }
        LogWhat::Low { was, sensor } => {
            let (Some(_), Some(until)) = (&args.at, until) else {
                return Err(Failure::usage(
                    "say which low is meant, with --at TIME and --until TIME; `interstice trust --pressure` lists them",
                ));
            };
            Entry::Low(LowVerdict {
                at,
                until,
                sensor: sensor.clone(),
                was: match was {
                    args::LowWas::Pressure => LowWas::Pressure,
                    args::LowWas::Real => LowWas::Real,
                },
                note,
            })
        }
        LogWhat::Tag { name } => Entry::Mark(Mark {
            at,
            until,
            kind: MarkKind::Tag,
            value: None,
            text: Some(name.trim().to_owned()),
        }),
        LogWhat::Note => mark(MarkKind::Note, None),
        LogWhat::Sensor(args) => Entry::Sensor(sensor::note(args, at, note)?),
    })
}

fn insulin_kind(insulin: Insulin) -> InsulinKind {
    match insulin {
        Insulin::Rapid => InsulinKind::Rapid,
        Insulin::Short => InsulinKind::Short,
        Insulin::Intermediate => InsulinKind::Intermediate,
        Insulin::Long => InsulinKind::Long,
        Insulin::Mixed => InsulinKind::Mixed,
    }
}

/// Lowest and highest value a home meter shows, in each unit: what lies between 10 and 33 could be meant in mmol/L
/// only, what lies above 35 in mg/dL only.
const MMOL_AT_MOST: f64 = 35.0;
const MG_AT_LEAST: f64 = 20.0;

/// A number as the meter showed it. The unit is the one said, else the book's; a number that the unit makes
/// impossible is questioned rather than kept.
fn glucose(text: &str, asked: Option<Unit>, book: Option<Unit>) -> Result<Said, Failure> {
    let (mantissa, decimals) = decimal(text)
        .ok_or_else(|| Failure::usage(format!("'{text}' is not a number; write it like 104 or 5.8")))?;
    let unit = asked.or(book).ok_or_else(|| {
        Failure::usage("the book does not know your unit yet; add --unit mg/dL or --unit mmol/L")
    })?;
    let said =
        Said::new(mantissa, decimals, unit, Censor::None).map_err(|e| Failure::usage(e.to_string()))?;
    let doubtful = match unit {
        Unit::MmolPerL => said.number() > MMOL_AT_MOST,
        Unit::MgPerDl => said.number() < MG_AT_LEAST,
    };
    if doubtful && asked.is_none() {
        return Err(Failure::usage(format!(
            "{text} {unit} is hard to believe; is it in the other unit? say --unit mg/dL or --unit mmol/L"
        )));
    }
    Ok(said)
}

/// '5.8' or '5,8' as digits and decimals.
fn decimal(text: &str) -> Option<(i64, u8)> {
    let text = text.trim().replace(',', ".");
    let (whole, fraction) = text.split_once('.').unwrap_or((&text, ""));
    let digits = format!("{whole}{fraction}");
    if whole.is_empty() || digits.len() > 15 || !digits.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    Some((digits.parse().ok()?, u8::try_from(fraction.len()).ok()?))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Whatever is typed: a number as it stands, or a message with a next step.
    #[test]
    fn any_text_is_a_number_or_a_message() {
        let pieces = [
            "", "1", "58", "007", ".", ",", "-", "+", " ", "e5", "0", "\u{0663}", "9999999", "\u{a0}", "x",
            "inf",
        ];
        let mut numbers = 0;
        for i in 0..pieces.len().pow(4) {
            let text: String = (0..4)
                .map(|place| pieces[i / pieces.len().pow(place) % pieces.len()])
                .collect();
            match glucose(&text, Some(Unit::MgPerDl), None) {
                Ok(said) => {
                    numbers += 1;
                    let expected: f64 = text.trim().replace(',', ".").parse().unwrap();
                    assert!(
                        (said.number() - expected).abs() <= 1e-9 * expected,
                        "{text} is not {said}"
                    );
                }
                Err(refusal) => assert!(refusal.error.to_string().contains("write it like"), "{text}"),
            }
        }
        assert!(numbers > 1000, "{numbers}");
    }

    #[test]
    fn a_value_in_the_other_unit_is_questioned() {
        assert!(glucose("6.1", None, Some(Unit::MgPerDl)).is_err());
        assert!(glucose("104", None, Some(Unit::MmolPerL)).is_err());
        assert!(glucose("6.1", None, None).is_err());
        let said = glucose("6,1", None, Some(Unit::MmolPerL)).unwrap();
        assert_eq!((said.mantissa(), said.decimals()), (61, 1));
        assert!(glucose("six", Some(Unit::MmolPerL), None).is_err());
        assert!(glucose("-6", Some(Unit::MmolPerL), None).is_err());
    }
}
