//! `wear-set`: what the wearer chooses of the plan.

use std::path::Path;

use interstice_desk::{Book, Mode};
use interstice_findings::wear::Chosen;
use interstice_glucose::{Away, DayHours, Pin, PlanWeight, Second, WearChoice, Zone};
use serde_json::json;

use crate::args::WearSetArgs;
use crate::exit::{Answer, Exit, Failure};
use crate::opened::open;
use crate::output::Output;
use crate::world::{World, instant};

/// Chooses, takes choices back, and lists what is chosen.
pub(crate) fn wear_set(args: &WearSetArgs, path: &Path, world: &World, out: &mut Output) -> Answer {
    // The first word written begins a book, as an entry would; a list needs one.
    let zone = if path.exists() {
        let book = open(path, Mode::ReadOnly, out)?;
        book.settings().map_err(Failure::book)?.base_zone
    } else {
        None
    };
    let choices = choices(args, world.now, zone.as_ref().unwrap_or(&world.zone))?;
    // All are looked at before the first is written.
    if let Some(trouble) = choices.iter().find_map(WearChoice::trouble) {
        return Err(Failure::usage(trouble));
    }
    if choices.is_empty() {
        return list(&open(path, Mode::ReadOnly, out)?, world.now, &[], out);
    }
    let mut book = open(path, Mode::CreateIfAbsent, out)?;
    let mut changes = Vec::new();
    for choice in &choices {
        let change = book.set_wear_choice(choice, world.now);
        changes.extend(change.map_err(Failure::refusal_or_book)?.map(|change| change.0));
    }
    list(&book, world.now, &changes, out)
}

fn list(book: &Book, now: Second, changes: &[i64], out: &mut Output) -> Answer {
    let chosen = book.wear_choices().map_err(Failure::book)?;
    let clock = book.load(now, now).map_err(Failure::book)?.clock;
    let chosen = Chosen::of(&chosen, &clock);
    if out.json() {
        out.document(&json!({ "choices": chosen, "changes": changes }))?;
    } else {
        out.text(&interstice_render::text::wear_choices(&chosen));
    }
    Ok(Exit::Done)
}

fn choices(args: &WearSetArgs, now: Second, zone: &Zone) -> Result<Vec<WearChoice>, Failure> {
    let mut choices = Vec::new();
    choices.extend(args.put_on_hours.map(|hours| WearChoice::PutOnHours(Some(hours))));
    choices.extend(args.start_hours.map(|hours| WearChoice::StartHours(Some(hours))));
    choices.extend(
        args.bedding_hours
            .map(|hours| WearChoice::BeddingHours(Some(hours))),
    );
    choices.extend(args.rest_days.map(|days| WearChoice::RestDays(Some(days))));
    choices.extend(args.days_ahead.map(|days| WearChoice::HorizonDays(Some(days))));
    for &(weight, value) in &args.weight {
        choices.push(WearChoice::Weight(weight, Some(value)));
    }
    for &(from_day, to_day) in &args.away {
        choices.push(WearChoice::Away(Away {
            from_day,
            to_day,
            note: args.note.clone(),
        }));
    }
    for &(from_day, to_day) in &args.not_away {
        choices.push(WearChoice::NotAway(Away {
            from_day,
            to_day,
            note: None,
        }));
    }
    for text in &args.pin {
        choices.push(WearChoice::Pin(Pin {
            at: dated(text, now, zone)?,
            site: args.site.clone(),
        }));
    }
    for text in &args.unpin {
        choices.push(WearChoice::Unpin(dated(text, now, zone)?));
    }
    for name in &args.usual {
        choices.extend(usual(name)?);
    }
    Ok(choices)
}

/// A time with its date: what is settled lies ahead, and a bare clock time would be the last one.
fn dated(text: &str, now: Second, zone: &Zone) -> Result<Second, Failure> {
    if !text.contains('-') {
        return Err(Failure::usage(format!(
            "'{text}' has no date; write it like '2025-03-01 18:00'"
        )));
    }
    instant(text, now, zone)
}

/// Back to the usual.
fn usual(name: &str) -> Result<Vec<WearChoice>, Failure> {
    Ok(vec![match name {
        "put-on-hours" => WearChoice::PutOnHours(None),
        "start-hours" => WearChoice::StartHours(None),
        "bedding-hours" => WearChoice::BeddingHours(None),
        "rest-days" => WearChoice::RestDays(None),
        "days-ahead" => WearChoice::HorizonDays(None),
        "weights" => {
            let all = PlanWeight::ALL.into_iter();
            return Ok(all.map(|weight| WearChoice::Weight(weight, None)).collect());
        }
        name => WearChoice::Weight(weight(name).map_err(Failure::usage)?, None),
    }])
}

/// A weight by its name.
fn weight(name: &str) -> Result<PlanWeight, String> {
    PlanWeight::named(name).ok_or_else(|| {
        let known: Vec<&str> = PlanWeight::ALL.iter().map(|weight| weight.name()).collect();
        format!("'{name}' weighs nothing here; say one of: {}", known.join(", "))
    })
}

/// 'NAME=NUMBER'.
pub(crate) fn weighed(text: &str) -> Result<(PlanWeight, f64), String> {
    let (name, value) = text
        .split_once('=')
        .ok_or_else(|| "write it as NAME=NUMBER, like unused-hour=0.5".to_owned())?;
    let value: f64 = value.parse().map_err(|_| format!("'{value}' is not a number"))?;
    Ok((weight(name)?, value))
}

/// '08:00-21:00'.
pub(crate) fn hours(text: &str) -> Result<DayHours, String> {
    DayHours::from_words(text).ok_or_else(|| "write hours like 08:00-21:00".to_owned())
}

/// '2025-05-01..2025-05-20'.
pub(crate) fn days_away(text: &str) -> Result<(i64, i64), String> {
    Away::days_from_words(text)
        .ok_or_else(|| "write days like 2025-05-01..2025-05-20, or one alone".to_owned())
}
