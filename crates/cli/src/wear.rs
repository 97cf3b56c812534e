//! `wear` and `sensor-kind`.

use std::fmt::Write;
use std::path::Path;

use interstice_desk::{Book, Entry, Mode, log_together};
use interstice_findings::{WearAsk, WearFindings, wear_book};
use interstice_glucose::{BodySite, Region, SensorKind, WearFrom};
use serde_json::json;

use crate::args::{Clock, SensorKindArgs, WearArgs};
use crate::exit::{Answer, Exit, Failure};
use crate::opened::open;
use crate::output::Output;
use crate::world::{World, instant};

/// Prints what is on and what comes next.
pub(crate) fn wear(args: &WearArgs, path: &Path, world: &World, out: &mut Output) -> Answer {
    let book = open(path, Mode::ReadOnly, out)?;
    let zone = book.settings().map_err(Failure::book)?.base_zone;
    let zone = zone.as_ref().unwrap_or(&world.zone);
    let at = args
        .at
        .as_deref()
        .map(|text| instant(text, world.now, zone))
        .transpose()?;
    let ask = WearAsk {
        now: at.unwrap_or(world.now),
        bedding_h: args.bedding_hours,
    };
    let findings = wear_book(&book, ask)?;
    if let Some(file) = &args.calendar {
        write_calendar(&findings, file, out)?;
    }
    if let Some(key) = &args.confirm {
        drop(book);
        return confirm(&findings, key, path, world, out);
    }
    if out.json() {
        out.document(&findings)?;
    } else if args.found {
        out.text(&interstice_render::text::wear_found(&findings));
        return Ok(Exit::Done);
    } else {
        out.text(&interstice_render::text::wear(&findings, args.plan));
    }
    Ok(if findings.plan_reason.is_some() {
        Exit::NeedsYou
    } else {
        Exit::Done
    })
}

fn write_calendar(findings: &WearFindings, file: &Path, out: &mut Output) -> Result<(), Failure> {
    std::fs::write(file, interstice_render::calendar::calendar(findings)).map_err(|error| {
        Failure::usage(format!(
            "cannot write {}: {error}; say another file with --calendar",
            file.display()
        ))
    })?;
    out.message(&format!("the calendar is in {}", file.display()));
    Ok(())
}

/// Writes down what the readings tell, as it was offered.
fn confirm(findings: &WearFindings, key: &str, path: &Path, world: &World, out: &mut Output) -> Answer {
    let found = findings.found.iter().find(|found| found.key == key);
    let found = found.ok_or_else(|| {
        Failure::usage(format!(
            "'{key}' is not among what was found; interstice wear --found lists it"
        ))
    })?;
    let mut book = open(path, Mode::Existing, out)?;
    let entries: Vec<Entry> = found.notes.iter().cloned().map(Entry::Sensor).collect();
    let change = log_together(&mut book, &entries, world.now)?;
    if out.json() {
        out.document(&json!({ "change_id": change }))?;
    } else {
        out.text(&format!(
            "written down; to take it back: interstice undo {change}\n"
        ));
    }
    Ok(Exit::Done)
}

/// Describes a kind of sensor, and lists what was described.
pub(crate) fn sensor_kind(args: &SensorKindArgs, path: &Path, world: &World, out: &mut Output) -> Answer {
    if let Some(kind) = described(args)? {
        // The first word written begins a book, as an entry would.
        let mut book = open(path, Mode::CreateIfAbsent, out)?;
        book.set_sensor_kind(&kind, world.now)
            .map_err(Failure::refusal_or_book)?;
    }
    list(&open(path, Mode::ReadOnly, out)?, out)
}

fn described(args: &SensorKindArgs) -> Result<Option<SensorKind>, Failure> {
    let (Some(name), Some(wear_days)) = (&args.name, args.wear_days) else {
        return Ok(None);
    };
    let region = |text: &String| match BodySite::from_words(text).map(|site| site.region) {
        Some(Region::Elsewhere) | None => {
            let known: Vec<&str> = Region::ALL.iter().map(|region| region.name()).collect();
            Err(Failure::usage(format!(
                "'{text}' is no part of the body that is known here; say one of: {}",
                known.join(", ")
            )))
        }
        Some(region) => Ok(region),
    };
    Ok(Some(SensorKind {
        name: name.clone(),
        wear_min: (wear_days * 1440.0).round() as u32,
        extra_min: 60 * args.extra_hours,
        warm_up_min: args.warm_up_minutes,
        longest_bedding_min: 60 * args.longest_bedding_hours,
        wear_from: match args.clock {
            Clock::Start => WearFrom::Started,
            Clock::PutOn => WearFrom::PutOn,
        },
        side_by_side: !args.one_at_a_time,
        sites: args.sites.iter().map(region).collect::<Result<_, _>>()?,
    }))
}

fn list(book: &Book, out: &mut Output) -> Answer {
    let kinds = book.sensor_kinds().map_err(Failure::book)?;
    let in_use = kinds.in_use.map(|place| kinds.all[place].name.clone());
    if out.json() {
        let told: Vec<_> = kinds.all.iter().map(as_json).collect();
        out.document(&json!({ "in_use": in_use, "kinds": told }))?;
        return Ok(Exit::Done);
    }
    let mut text = String::new();
    for kind in &kinds.all {
        let used = if in_use.as_ref() == Some(&kind.name) {
            " (in use)"
        } else {
            ""
        };
        let _ = writeln!(
            text,
            "{}{used}: {} days, {} h more, {} min warm-up, up to {} h before its start, its time runs from being {}",
            kind.name,
            f64::from(kind.wear_min) / 1440.0,
            kind.extra_min / 60,
            kind.warm_up_min,
            kind.longest_bedding_min / 60,
            from(kind)
        );
    }
    if text.is_empty() {
        "no kind of sensor was described yet; interstice sensor-kind NAME --wear-days DAYS\n"
            .clone_into(&mut text);
    }
    out.text(&text);
    Ok(Exit::Done)
}

fn from(kind: &SensorKind) -> &'static str {
    match kind.wear_from {
        WearFrom::PutOn => "put on",
        WearFrom::Started => "started",
    }
}

fn as_json(kind: &SensorKind) -> serde_json::Value {
    json!({
        "name": kind.name,
        "wear_min": kind.wear_min,
        "extra_min": kind.extra_min,
        "warm_up_min": kind.warm_up_min,
        "longest_bedding_min": kind.longest_bedding_min,
        "from": from(kind),
        "side_by_side": kind.side_by_side,
        "sites": kind.sites.iter().map(|site| site.name()).collect::<Vec<_>>(),
    })
}
