//! `log`: writing something down by hand.

mod sensor;

use std::path::Path;

use interstice_desk::{AwayWords, Entry, Mode, glucose_said, log_away};
use interstice_glucose::{
    AsideWhy, BloodCheck, BloodSource, Delivery, Dose, InsulinKind, LowVerdict, LowWas, Mark, MarkKind, Meal,
    Second, Unit, Zone,
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
    if let LogWhat::Away { first, last, zone } = &args.what {
        let words = AwayWords {
            from: first.clone(),
            to: last.clone(),
            zone: zone.clone(),
        };
        let change = log_away(&mut book, &words.meant()?, world.now)?;
        return written(change, out);
    }
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
    written(change, out)
}

fn written(change: i64, out: &mut Output) -> Answer {
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
            let said = glucose_said(value, unit.as_deref().map(unit_of), book_unit)?;
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
        LogWhat::Artefact { why } => {
            if until.is_none() {
                return Err(Failure::usage(
                    "say until when the readings are not to be believed, with --until TIME",
                ));
            }
            Entry::Mark(Mark {
                at,
                until,
                kind: MarkKind::Artefact,
                value: None,
                text: match why {
                    Some(why) => Some(aside_why(*why).told(note.as_deref())),
                    None => note,
                },
            })
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
        LogWhat::Away { .. } => {
            return Err(Failure::usage("a stretch away is no moment; it is written whole"));
        }
        LogWhat::Note => mark(MarkKind::Note, None),
        LogWhat::Sensor(args) => Entry::Sensor(sensor::note(args, at, note)?),
    })
}

fn aside_why(why: args::AsideWhy) -> AsideWhy {
    match why {
        args::AsideWhy::Pressure => AsideWhy::Pressure,
        args::AsideWhy::SensorWrong => AsideWhy::SensorWrong,
        args::AsideWhy::LeftOut => AsideWhy::LeftOut,
    }
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
