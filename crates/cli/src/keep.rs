//! `undo`, `journal`, `imports`, `check`, `set`: keeping the book.

use std::fmt::Write as _;
use std::path::Path;

use interstice_desk::{
    Book, Change, ChangeId, LANGUAGE, Mode, NightHours, Setting, Settings, clock_of, language, night_hours,
};
use interstice_findings::TargetGroup;
use interstice_glucose::{Second, Unit, Zone};
use interstice_tongue::Tongue;
use serde_json::{Value, json};

use crate::exit::{Answer, Exit, Failure};
use crate::import::{many, thousands, unit as unit_of};
use crate::opened::open;
use crate::output::Output;
use crate::world::World;

/// Takes a change back.
pub(crate) fn undo(id: Option<i64>, path: &Path, world: &World, out: &mut Output) -> Answer {
    let mut book = open(path, Mode::Existing, out)?;
    let receipt = book
        .undo(id.map(ChangeId), world.now)
        .map_err(Failure::refusal_or_book)?;
    if out.json() {
        out.document(&json!({
            "undone": receipt.undone.id.0,
            "what": receipt.undone.what,
            "readings": receipt.readings,
            "entries": receipt.entries,
        }))?;
    } else {
        out.text(&format!(
            "taken back: {} ({}, {})\n",
            receipt.undone.what,
            many(receipt.readings, "reading", "readings"),
            many(receipt.entries, "entry", "entries")
        ));
    }
    Ok(Exit::Done)
}

/// Lists changes, newest first.
pub(crate) fn journal(last: u32, path: &Path, out: &mut Output) -> Answer {
    let book = open(path, Mode::ReadOnly, out)?;
    let mut changes = book.journal().map_err(Failure::book)?;
    changes.sort_by_key(|change| std::cmp::Reverse(change.id));
    changes.truncate(last as usize);
    let zone = zone_of(&book.settings().map_err(Failure::book)?);
    if out.json() {
        let lines: Vec<Value> = changes.iter().map(|change| change_json(change, &zone)).collect();
        out.document(&json!({ "changes": lines }))?;
        return Ok(Exit::Done);
    }
    let mut text = String::new();
    for change in &changes {
        let undone = change
            .undone_by
            .map(|by| format!(" (taken back by {by})"))
            .unwrap_or_default();
        let _ = writeln!(
            text,
            "{:>6}  {}  {}{undone}",
            change.id.0,
            at(change.at, &zone),
            change.what
        );
    }
    out.text(&text);
    Ok(Exit::Done)
}

fn change_json(change: &Change, zone: &Zone) -> Value {
    json!({
        "id": change.id.0,
        "at": at(change.at, zone),
        "kind": change.kind.name(),
        "what": change.what,
        "undone_by": change.undone_by.map(|by| by.0),
    })
}

/// Lists what was brought in.
pub(crate) fn imports(path: &Path, out: &mut Output) -> Answer {
    let book = open(path, Mode::ReadOnly, out)?;
    let imports = book.imports().map_err(Failure::book)?;
    let zone = zone_of(&book.settings().map_err(Failure::book)?);
    if out.json() {
        let lines: Vec<Value> = imports
            .iter()
            .map(|import| {
                json!({
                    "id": import.receipt.change.map(|change| change.0),
                    "file": import.file_name,
                    "at": at(import.imported_at, &zone),
                    "sha256": hex(&import.digest),
                    "size_bytes": import.size_bytes,
                    "original_kept": import.original_kept,
                    "is_of_feed": import.is_of_feed(),
                    "readings_new": import.receipt.readings_new,
                    "scans_new": import.receipt.scans_new,
                    "blood_checks_new": import.receipt.blood_checks_new,
                    "doses_new": import.receipt.doses_new,
                    "meals_new": import.receipt.meals_new,
                    "other_new": import.receipt.other_new,
                    "already_there": import.receipt.already_there,
                    "conflicts": import.receipt.conflicts,
                    "rejected": import.receipt.rejected,
                })
            })
            .collect();
        out.document(&json!({ "imports": lines }))?;
        return Ok(Exit::Done);
    }
    let mut text = String::new();
    for import in &imports {
        let id = import
            .receipt
            .change
            .map(|change| change.to_string())
            .unwrap_or_default();
        let _ = writeln!(
            text,
            "{id:>6}  {}  {}  {}, {} rejected",
            at(import.imported_at, &zone),
            import.file_name,
            many(import.receipt.readings_new, "reading", "readings"),
            thousands(import.receipt.rejected)
        );
    }
    out.text(if text.is_empty() {
        "nothing was brought in yet\n"
    } else {
        &text
    });
    Ok(Exit::Done)
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().fold(String::new(), |mut text, byte| {
        let _ = write!(text, "{byte:02x}");
        text
    })
}

fn zone_of(settings: &Settings) -> Zone {
    settings.base_zone.clone().unwrap_or_else(Zone::utc)
}

fn at(second: Second, zone: &Zone) -> String {
    interstice_glucose::Moment {
        at: second,
        offset_s: zone.offset_s(second),
    }
    .to_string()
}

/// Shows or changes settings.
pub(crate) fn set(
    name: Option<&str>,
    value: Option<&str>,
    path: &Path,
    world: &World,
    out: &mut Output,
) -> Answer {
    if let (Some(name), Some(value)) = (name, value) {
        let mut book = open(path, Mode::Existing, out)?;
        book.set(setting(name, value)?, world.now)
            .map_err(Failure::refusal_or_book)?;
    }
    let book = open(path, Mode::ReadOnly, out)?;
    let settings = book.settings().map_err(Failure::book)?;
    let shown = json!({
        "language": language(&settings).code(),
        "unit": settings.unit.map(Unit::symbol),
        "zone": settings.base_zone.as_ref().map(Zone::name),
        "targets": settings.target_group.as_deref().unwrap_or("adult"),
        "night": settings.night.map(night_words),
        "rapid-insulin-hours": hours(settings.insulin_lasts.rapid_min),
        "short-insulin-hours": hours(settings.insulin_lasts.short_min),
    });
    if out.json() {
        out.document(&json!({ "settings": shown }))?;
        return Ok(Exit::Done);
    }
    let mut text = String::new();
    for (key, value) in shown.as_object().into_iter().flatten() {
        if name.is_none_or(|name| name == key) {
            let _ = writeln!(text, "{key:<19} {}", value.as_str().unwrap_or("not set"));
        }
    }
    if text.is_empty() {
        return Err(unknown_setting(name.unwrap_or_default()));
    }
    out.text(&text);
    Ok(Exit::Done)
}

/// '23:00-07:00'.
fn night_words(night: NightHours) -> String {
    format!("{}-{}", clock_of(night.from_minute), clock_of(night.to_minute))
}

/// '23:00-07:00'; 'usual' goes back to the hours that are usual.
fn night(value: &str) -> Result<Option<NightHours>, Failure> {
    if value.eq_ignore_ascii_case("usual") {
        return Ok(None);
    }
    let (from, to) = value.split_once('-').ok_or_else(|| {
        Failure::usage(format!(
            "'{value}' is no night; write it like 23:00-07:00, or 'usual'"
        ))
    })?;
    night_hours(from, to).map(Some).map_err(Failure::usage)
}

/// How long an insulin acts, in words; `None` where the published curves stand.
fn hours(minutes: Option<u16>) -> Option<String> {
    minutes.map(|minutes| interstice_render::words::digits(f64::from(minutes) / 60.0))
}

/// '4.5' hours in minutes; 'usual' goes back to the published curves.
fn lasts(value: &str) -> Result<Option<u16>, Failure> {
    if value.eq_ignore_ascii_case("usual") {
        return Ok(None);
    }
    interstice_desk::insulin_lasts(value)
        .map(Some)
        .map_err(|why| Failure::usage(format!("{why}, or 'usual' for the published curves")))
}

fn unknown_setting(name: &str) -> Failure {
    Failure::usage(format!(
        "'{name}' is not a setting; there are language, unit, zone, targets, night, rapid-insulin-hours and short-insulin-hours"
    ))
}

fn setting(name: &str, value: &str) -> Result<Setting, Failure> {
    match name {
        "language" => match Tongue::named(value) {
            Some(tongue) => Ok(Setting::Other(
                LANGUAGE.to_owned(),
                Some(tongue.code().to_owned()),
            )),
            None => Err(Failure::usage(format!(
                "languages are {}",
                Tongue::ALL
                    .map(|tongue| format!("{} ({})", tongue.code(), tongue.name()))
                    .join(" and ")
            ))),
        },
        "unit" if value.eq_ignore_ascii_case("mg/dL") || value.eq_ignore_ascii_case("mmol/L") => {
            Ok(Setting::Unit(Some(unit_of(value))))
        }
        "unit" => Err(Failure::usage("the unit is mg/dL or mmol/L")),
        "zone" => Ok(Setting::BaseZone(Some(
            Zone::named(value).map_err(|e| Failure::usage(e.to_string()))?,
        ))),
        "targets" => match TargetGroup::named(value) {
            Some(group) => Ok(Setting::TargetGroup(Some(group.text()))),
            None => Err(Failure::usage(format!(
                "targets are '{}', or your own like 'own 70-140 over 60 below 4': from 63 or 70 to 140 or 180 mg/dL (3.5 or 3.9 to 7.8 or \
                 10.0 mmol/L), percent of the time in range to be over, percent below to be under",
                TargetGroup::ALL.map(TargetGroup::name).join("', '")
            ))),
        },
        "night" => Ok(Setting::Night(night(value)?)),
        "rapid-insulin-hours" => Ok(Setting::RapidLasts(lasts(value)?)),
        "short-insulin-hours" => Ok(Setting::ShortLasts(lasts(value)?)),
        _ => Err(unknown_setting(name)),
    }
}

/// Checks that the book is whole, or saves what can be read.
pub(crate) fn check(salvage: Option<&Path>, path: &Path, out: &mut Output) -> Answer {
    match salvage {
        Some(to) => save(path, to, out),
        None => look_over(&open(path, Mode::ReadOnly, out)?, out),
    }
}

fn look_over(book: &Book, out: &mut Output) -> Answer {
    let report = book.check().map_err(Failure::book)?;
    if out.json() {
        let problems: Vec<Value> = report
            .problems
            .iter()
            .map(|p| json!({ "place": p.place, "what": p.what }))
            .collect();
        out.document(&json!({
            "whole": report.is_whole(),
            "blocks": report.blocks,
            "readings": report.readings,
            "entries": report.entries,
            "originals": report.originals,
            "photos": report.photos,
            "problem_count": report.problem_count,
            "problems": problems,
        }))?;
    } else if report.is_whole() {
        out.text(&format!(
            "the book is whole: {} in {}, {}, {}\n",
            many(report.readings, "reading", "readings"),
            many(report.blocks, "block", "blocks"),
            many(report.entries, "entry", "entries"),
            many(report.originals, "kept file", "kept files")
        ));
    } else {
        let mut text = format!(
            "the book is damaged in {}\n",
            many(report.problem_count, "place", "places")
        );
        for problem in &report.problems {
            let _ = writeln!(text, "  {}: {}", problem.place, problem.what);
        }
        text.push_str(
            "go back to a copy, or save what can be read with 'interstice check --salvage NEW-FILE'\n",
        );
        out.text(&text);
    }
    Ok(if report.is_whole() { Exit::Done } else { Exit::Book })
}

fn save(from: &Path, to: &Path, out: &mut Output) -> Answer {
    let report = Book::salvage(from, to).map_err(Failure::refusal_or_book)?;
    if out.json() {
        out.document(&json!({
            "complete": report.is_complete(),
            "saved": report.saved,
            "unfit": report.unfit,
            "unreadable": report.unreadable,
            "doubtful": report.doubtful.iter().map(|change| change.0).collect::<Vec<_>>(),
        }))?;
    } else {
        let mut text = String::new();
        for (table, rows) in &report.saved {
            let _ = writeln!(text, "  saved {} of {table}", thousands(*rows));
        }
        for (table, rows) in &report.unfit {
            let _ = writeln!(text, "  left out {} of {table}: damaged", thousands(*rows));
        }
        for (table, why) in &report.unreadable {
            let _ = writeln!(text, "  part of {table} could not be read: {why}");
        }
        for change in &report.doubtful {
            let _ = writeln!(
                text,
                "  change {change} is not as it was written; its rows were saved as they are"
            );
        }
        let _ = writeln!(text, "what could be read is in {}", to.display());
        out.text(&text);
    }
    Ok(if report.is_complete() {
        Exit::Done
    } else {
        Exit::NeedsYou
    })
}
