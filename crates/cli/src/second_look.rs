//! `now` and `second-look`: this moment, and what followed past moments like one.

use std::path::Path;

use interstice_desk::Mode;
use interstice_findings::{
    NowAsk, SecondLookAsk, WearAsk, now_book, second_look_book, second_look_score, wear_book,
};

use crate::args::{NowArgs, SecondLookArgs};
use crate::exit::{Answer, Exit, Failure};
use crate::import::unit as unit_of;
use crate::opened::open;
use crate::output::Output;
use crate::world::{World, instant};

/// Prints the look, or how well it would have done.
pub(crate) fn second_look(args: &SecondLookArgs, path: &Path, world: &World, out: &mut Output) -> Answer {
    let book = open(path, Mode::ReadOnly, out)?;
    if args.evaluate {
        let score = second_look_score(&book)?;
        if out.json() {
            out.document(&score)?;
        } else {
            out.text(&interstice_render::text::second_look_score(&score));
        }
        return Ok(Exit::Done);
    }
    let zone = book.settings().map_err(Failure::book)?.base_zone;
    let zone = zone.as_ref().unwrap_or(&world.zone);
    let at = args.at.as_deref().map(|text| instant(text, world.now, zone));
    let findings = second_look_book(&book, SecondLookAsk { at: at.transpose()? })?;
    if out.json() {
        out.document(&findings)?;
    } else {
        let unit = args.unit.as_deref().map(unit_of).unwrap_or(findings.unit);
        out.text(&interstice_render::text::second_look(&findings, unit));
    }
    // Too few alike needs the person to wait for more days.
    Ok(if findings.look.is_none() {
        Exit::NeedsYou
    } else {
        Exit::Done
    })
}

/// Prints this moment, or another as it was then.
pub(crate) fn now(args: &NowArgs, path: &Path, world: &World, out: &mut Output) -> Answer {
    let book = open(path, Mode::ReadOnly, out)?;
    let zone = book.settings().map_err(Failure::book)?.base_zone;
    let zone = zone.as_ref().unwrap_or(&world.zone);
    let at = args.at.as_deref().map(|text| instant(text, world.now, zone));
    let now = at.transpose()?.unwrap_or(world.now);
    let findings = now_book(&book, NowAsk { now })?;
    let is_told = findings.reading.as_ref().is_some_and(|reading| !reading.is_old);
    if out.json() {
        out.document(&findings)?;
    } else {
        let unit = args.unit.as_deref().map(unit_of).unwrap_or(findings.unit);
        let wear = wear_book(&book, WearAsk::at(now))?;
        out.text(&interstice_render::text::now(&findings, Some(&wear), unit));
    }
    // Old readings need the person to bring newer ones.
    Ok(if is_told { Exit::Done } else { Exit::NeedsYou })
}
