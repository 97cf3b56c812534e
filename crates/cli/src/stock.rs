//! `stock`: the drawer.

use std::path::Path;

use interstice_desk::stock::{LotWords, day};
use interstice_desk::{Book, ChangeId, Mode};
use interstice_findings::WearAsk;
use interstice_findings::wear::drawer_book;
use interstice_glucose::{Correction, Holds, WallTime};
use jiff::civil::Date;
use serde_json::json;

use crate::args::{StockAddArgs, StockArgs, StockWhat};
use crate::exit::{Answer, Exit, Failure};
use crate::opened::open;
use crate::output::Output;
use crate::world::World;

/// Changes the drawer, or lists what is left.
pub(crate) fn stock(args: &StockArgs, path: &Path, world: &World, out: &mut Output) -> Answer {
    let what = match &args.what {
        None | Some(StockWhat::List) => return list(path, world, out),
        Some(what) => what,
    };
    let mut book = open(path, Mode::CreateIfAbsent, out)?;
    let today = today(&book, world)?;
    let now = world.now;
    let (lot, change) = match what {
        StockWhat::List => return list(path, world, out),
        StockWhat::Add(args) => {
            let lot = words(args).lot(&book.stock().map_err(Failure::book)?, today)?;
            let (id, change) = book.add_lot(&lot, now).map_err(Failure::refusal_or_book)?;
            (Some(id), Some(change))
        }
        StockWhat::Correct { lot, by, reason } => {
            let correction = Correction {
                by: *by,
                on: today,
                reason: reason.trim().to_owned(),
            };
            (Some(*lot), done(book.correct_lot(*lot, correction, now))?)
        }
        StockWhat::Arrived { lot, on } => {
            let on = on.as_deref().map(day).transpose()?.unwrap_or(today);
            if on > today {
                return Err(Failure::usage(
                    "that day lies in the future; say it when it has come",
                ));
            }
            (Some(*lot), done(book.lot_arrived(*lot, on, now))?)
        }
        StockWhat::Remove { lot } => (Some(*lot), done(book.remove_lot(*lot, now))?),
        StockWhat::Delivery { days } => (None, done(book.set_delivery_days(*days, now))?),
    };
    tell(lot, change, out)
}

fn done(change: Result<Option<ChangeId>, interstice_desk::BookError>) -> Result<Option<ChangeId>, Failure> {
    change.map_err(Failure::refusal_or_book)
}

fn tell(lot: Option<u32>, change: Option<ChangeId>, out: &mut Output) -> Answer {
    let change = change.map(|change| change.0);
    if out.json() {
        out.document(&json!({ "lot": lot, "change_id": change }))?;
        return Ok(Exit::Done);
    }
    let which = lot.map_or_else(String::new, |lot| format!("lot {lot}: "));
    out.text(&match change {
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

fn list(path: &Path, world: &World, out: &mut Output) -> Answer {
    let book = open(path, Mode::ReadOnly, out)?;
    let drawer = drawer_book(&book, WearAsk::at(world.now))?;
    if out.json() {
        out.document(&drawer)?;
    } else {
        out.text(&interstice_render::text::drawer(&drawer));
    }
    Ok(Exit::Done)
}
