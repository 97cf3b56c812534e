//! `sensor-record` and `claim`: what is sent to whoever supplied a sensor, and what became of it.

use std::path::Path;

use interstice_desk::{Book, Mode, PhotoId};
use interstice_findings::wear::SensorRecord;
use interstice_findings::{WearAsk, wear_book};
use interstice_glucose::{ClaimStep, ClaimWhat, Unit};
use interstice_render::pdf::{self, PhotoBytes};
use interstice_render::words::Shown;
use serde_json::json;

use crate::args::{ClaimArgs, ClaimStepWhat, SensorRecordArgs};
use crate::exit::{Answer, Exit, Failure};
use crate::opened::open;
use crate::output::Output;
use crate::photo::write_new;
use crate::world::{World, instant};

/// Prints the record of a sensor, or writes it into a file.
pub(crate) fn sensor_record(args: &SensorRecordArgs, path: &Path, world: &World, out: &mut Output) -> Answer {
    let book = open(path, Mode::ReadOnly, out)?;
    let unit = book
        .settings()
        .map_err(Failure::book)?
        .unit
        .unwrap_or(Unit::MgPerDl);
    let shown = Shown { unit };
    let record = interstice_findings::wear::record_book(&book, &args.sensor, world.now)?;
    let Some(file) = &args.out else {
        if out.json() {
            out.document(&record)?;
        } else {
            out.text(&interstice_render::text::sensor_record(&record, shown));
        }
        return Ok(Exit::Done);
    };
    let is_pdf = file
        .extension()
        .is_some_and(|ending| ending.eq_ignore_ascii_case("pdf"));
    let bytes = if is_pdf {
        let photos = photos(&book, &record)?;
        let photos: Vec<PhotoBytes<'_>> = photos
            .iter()
            .map(|(id, bytes)| PhotoBytes { id: *id, bytes })
            .collect();
        pdf::sensor_record(&record, shown, &photos).map_err(Failure::internal)?
    } else {
        interstice_render::text::sensor_record(&record, shown).into_bytes()
    };
    write_new(file, &bytes)?;
    if out.json() {
        out.document(&json!({ "file": file.display().to_string(), "bytes": bytes.len() }))?;
    } else {
        out.text(&format!(
            "the record is in {}; look through it before you send it: it shows this sensor's glucose and your notes\n",
            file.display()
        ));
    }
    Ok(Exit::Done)
}

fn photos(book: &Book, record: &SensorRecord) -> Result<Vec<(i64, Vec<u8>)>, Failure> {
    let mut all = Vec::new();
    for &id in &record.photos {
        if let Some((_, bytes)) = book.photo(PhotoId(id)).map_err(Failure::book)? {
            all.push((id, bytes));
        }
    }
    Ok(all)
}

/// Writes a step of a claim down, or lists the claims.
pub(crate) fn claim(args: &ClaimArgs, path: &Path, world: &World, out: &mut Output) -> Answer {
    if let (Some(sensor), Some(what)) = (&args.sensor, args.what) {
        let mut book = open(path, Mode::Existing, out)?;
        let zone = book.settings().map_err(Failure::book)?.base_zone;
        let zone = zone.as_ref().unwrap_or(&world.zone);
        let at = args
            .at
            .as_deref()
            .map(|text| instant(text, world.now, zone))
            .transpose()?;
        let at = at.unwrap_or(world.now);
        if at > world.now + 60 {
            return Err(Failure::usage("that time lies in the future; check the time"));
        }
        let step = ClaimStep {
            what: match what {
                ClaimStepWhat::Sent => ClaimWhat::Sent,
                ClaimStepWhat::Answered => ClaimWhat::Answered,
                ClaimStepWhat::Replaced => ClaimWhat::Replaced,
                ClaimStepWhat::Refused => ClaimWhat::Refused,
            },
            at,
            words: args.note.clone(),
        };
        interstice_desk::claim(&mut book, sensor, step, world.now)?;
    }
    let book = open(path, Mode::ReadOnly, out)?;
    let claims = wear_book(&book, WearAsk::at(world.now))?.claims;
    if out.json() {
        out.document(&json!({ "claims": claims }))?;
        return Ok(Exit::Done);
    }
    let mut text = String::new();
    for claim in &claims {
        text += &format!("{}\n", claim.record);
        for step in interstice_render::words::claim_steps(claim) {
            text += &format!("  {step}\n");
        }
    }
    if text.is_empty() {
        "nothing was claimed yet; interstice claim SENSOR sent\n".clone_into(&mut text);
    }
    out.text(&text);
    Ok(Exit::Done)
}
