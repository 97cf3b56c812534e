//! `stock`: the drawer.

use std::path::Path;

use interstice_desk::stock::{LotWords, StockAct, StockDone, act};
use interstice_desk::{Book, DeskError, Mode};
use interstice_findings::WearAsk;
use interstice_findings::wear::drawer_book;
use interstice_glucose::{Holds, WallTime};
use jiff::civil::Date;
use serde_json::json;

use crate::args::{StockAddArgs, StockArgs, StockWhat};
use crate::exit::{Answer, Exit, Failure};
use crate::opened::open;
use crate::output::Output;
use crate::world::{World, instant};

/// Changes the drawer, or lists what is left.
pub(crate) fn stock(args: &StockArgs, path: &Path, world: &World, out: &mut Output) -> Answer {
    let wanted = match &args.what {
        None | Some(StockWhat::List) => return list(args.at.as_deref(), path, world, out),
        Some(_) if args.at.is_some() => {
            return Err(Failure::usage(
                "--at goes with the list alone; what is written down is of now",
            ));
        }
        Some(StockWhat::Add(args)) => StockAct::Add(Box::new(words(args))),
        Some(StockWhat::Correct { lot, by, reason }) => StockAct::Correct {
            lot: *lot,
            by: *by,
            reason: reason.clone(),
        },
        Some(StockWhat::Arrived { lot, on }) => StockAct::Arrived {
            lot: *lot,
            on: on.clone().unwrap_or_default(),
        },
        Some(StockWhat::Remove { lot }) => StockAct::Remove { lot: *lot },
        Some(StockWhat::Price {
            amount,
            currency,
            kind,
        }) => StockAct::Price {
            kind: kind.clone().unwrap_or_default(),
            price: amount.clone(),
            currency: currency.clone().unwrap_or_default(),
        },
        Some(StockWhat::Delivery { days }) => StockAct::Delivery { days: *days },
    };
    let mut book = open(path, Mode::CreateIfAbsent, out)?;
    let today = today(&book, world)?;
    let done = act(&mut book, &wanted, today, world.now).map_err(|error| match error {
        DeskError::Book(error) => Failure::refusal_or_book(error),
        other => other.into(),
    })?;
    tell(done, out)
}

fn tell(done: StockDone, out: &mut Output) -> Answer {
    if out.json() {
        out.document(&json!({ "lot": done.lot, "change_id": done.change }))?;
        return Ok(Exit::Done);
    }
    let which = done.lot.map_or_else(String::new, |lot| format!("lot {lot}: "));
    out.text(&match done.change {
        Some(change) => format!("{which}written down; to take it back: interstice undo {change}\n"),
        None => format!("{which}the book says so already\n"),
    });
    Ok(Exit::Done)
}

fn words(args: &StockAddArgs) -> LotWords {
    let text = |text: &Option<String>| text.clone().unwrap_or_default();
    let (holds, name) = match (&args.cover, &args.prep) {
        (Some(cover), _) => (Holds::Covers, cover.clone()),
        (None, Some(prep)) => (Holds::Preparations, prep.clone()),
        (None, None) => (Holds::Sensors, text(&args.kind)),
    };
    LotWords {
        holds: Some(holds),
        name,
        number: text(&args.lot),
        count: args.count,
        price: text(if args.price.is_some() {
            &args.price
        } else {
            &args.price_each
        }),
        price_of_all: args.price.is_some(),
        currency: text(&args.currency),
        free: args.free,
        source: text(&args.source),
        arrived: text(&args.arrived),
        expected: text(&args.expected),
        use_by: text(&args.use_by),
        note: text(&args.note),
    }
}

/// The day it is where the wearer lives.
fn today(book: &Book, world: &World) -> Result<Date, Failure> {
    let zone = book.settings().map_err(Failure::book)?.base_zone;
    let offset = zone.as_ref().unwrap_or(&world.zone).offset_s(world.now);
    let civil = WallTime(world.now + i64::from(offset)).civil();
    Ok(civil.map_or(Date::constant(1970, 1, 1), |civil| civil.date()))
}

fn list(at: Option<&str>, path: &Path, world: &World, out: &mut Output) -> Answer {
    let book = open(path, Mode::ReadOnly, out)?;
    let zone = book.settings().map_err(Failure::book)?.base_zone;
    let zone = zone.as_ref().unwrap_or(&world.zone);
    let at = at.map(|text| instant(text, world.now, zone)).transpose()?;
    let drawer = drawer_book(&book, WearAsk::at(at.unwrap_or(world.now)))?;
    if out.json() {
        out.document(&drawer)?;
    } else {
        out.text(&interstice_render::text::drawer(&drawer));
    }
    Ok(Exit::Done)
}
