//! `trial`: personal trials.

use std::path::Path;

use interstice_desk::trial::{TrialWords, arms, usual_difference};
use interstice_desk::{Book, Mode};
use interstice_findings::wear::trials::{SizeAsk, promised, size_book, trouble, usual_block};
use interstice_findings::{TrialLine, WearAsk, wear_book};
use interstice_glucose::{Compares, Trial, TrialOutcome};
use serde_json::json;

use crate::args::{Compare, Outcome, StartTrialArgs, TrialArgs, TrialWhat, WaysArgs};
use crate::exit::{Answer, Exit, Failure};
use crate::opened::open;
use crate::output::Output;
use crate::world::World;

/// Plans, begins, lists, answers or gives up trials.
pub(crate) fn trial(args: &TrialArgs, path: &Path, world: &World, out: &mut Output) -> Answer {
    match &args.what {
        TrialWhat::Plan(args) => plan(&args.ways, args.seed, path, world, out),
        TrialWhat::Start(args) => start(args, path, world, out),
        TrialWhat::List => list(path, world, out),
        TrialWhat::Answer { name } => answer(name, path, world, out),
        TrialWhat::Abandon { name, because } => {
            let mut book = open(path, Mode::Existing, out)?;
            book.abandon_trial(name, because, world.now)
                .map_err(Failure::refusal_or_book)?;
            drop(book);
            show(name, path, world, out).map(|_| Exit::Done)
        }
    }
}

fn plan(ways: &WaysArgs, seed: u64, path: &Path, world: &World, out: &mut Output) -> Answer {
    let arms = arms(compares(ways.compare), &ways.arms)?;
    let book = open(path, Mode::ReadOnly, out)?;
    let size = size_book(
        &book,
        SizeAsk {
            arms: arms.len() as u32,
            block: ways.block,
            outcome: outcome(ways.measure),
            difference: difference(ways),
            now: world.now,
            seed,
        },
    )?;
    if out.json() {
        out.document(&size)?;
    } else {
        out.text(&interstice_render::text::trial_size(&size));
    }
    Ok(if size.reason.is_some() {
        Exit::NeedsYou
    } else {
        Exit::Done
    })
}

fn start(args: &StartTrialArgs, path: &Path, world: &World, out: &mut Output) -> Answer {
    let mut book = open(path, Mode::Existing, out)?;
    let trial = settled(args, &book, world)?;
    if let Some(trouble) = trouble(&book, &trial)? {
        return Err(Failure::usage(format!("this trial cannot begin: {trouble}")));
    }
    let promised = promised(&book, &trial, difference(&args.ways))?;
    book.begin_trial(&trial, world.now)
        .map_err(Failure::refusal_or_book)?;
    drop(book);
    let what = match promised {
        Ok(percent) => format!(
            "of 100 such trials {percent:.0} would find a difference of {} {}",
            difference(&args.ways),
            if trial.outcome.needs_checks() {
                "points"
            } else {
                "h"
            }
        ),
        Err(why) => format!("how often such a trial finds a difference is not known: {why}"),
    };
    out.message(&what);
    show(&trial.name, path, world, out).map(|_| Exit::Done)
}

fn settled(args: &StartTrialArgs, book: &Book, world: &World) -> Result<Trial, Failure> {
    let ways = &args.ways;
    let words = TrialWords {
        name: args.name.clone(),
        compares: compares(ways.compare),
        arms: ways.arms.clone(),
        outcome: outcome(ways.measure),
        sensors: args.sensors,
        block: ways
            .block
            .unwrap_or_else(|| usual_block(args.sensors, ways.arms.len() as u32)),
        checks: args.checks,
        fewest_checks: args.fewest_checks,
        seed: args.seed,
        look_after: args.look_after,
        most_losses: args.stop_after_losses,
    };
    Ok(words.trial(book, world.now)?)
}

fn compares(compare: Compare) -> Compares {
    match compare {
        Compare::Place => Compares::Place,
        Compare::Preparation => Compares::Preparation,
        Compare::Cover => Compares::Cover,
        Compare::BeddingIn => Compares::BeddingIn,
    }
}

fn outcome(outcome: Outcome) -> TrialOutcome {
    match outcome {
        Outcome::FirstDayError => TrialOutcome::FirstDayError,
        Outcome::Error => TrialOutcome::Error,
        Outcome::HoursOn => TrialOutcome::HoursOn,
    }
}

fn difference(ways: &WaysArgs) -> f64 {
    ways.difference
        .unwrap_or_else(|| usual_difference(outcome(ways.measure)))
}

fn told(path: &Path, world: &World, out: &mut Output) -> Result<Vec<TrialLine>, Failure> {
    let book = open(path, Mode::ReadOnly, out)?;
    Ok(wear_book(&book, WearAsk::at(world.now))?.trials)
}

fn list(path: &Path, world: &World, out: &mut Output) -> Answer {
    let trials = told(path, world, out)?;
    if out.json() {
        out.document(&json!({ "trials": trials }))?;
    } else {
        out.text(&interstice_render::text::trials(&trials));
    }
    Ok(Exit::Done)
}

fn answer(name: &str, path: &Path, world: &World, out: &mut Output) -> Answer {
    let has_answer = show(name, path, world, out)?;
    Ok(if has_answer { Exit::Done } else { Exit::NeedsYou })
}

/// Shows one trial; whether it has an answer.
fn show(name: &str, path: &Path, world: &World, out: &mut Output) -> Result<bool, Failure> {
    let trials = told(path, world, out)?;
    let names: Vec<String> = trials.iter().map(|trial| format!("'{}'", trial.name)).collect();
    let found = trials.iter().find(|trial| trial.name == name.trim());
    let found = found.ok_or_else(|| {
        Failure::usage(if names.is_empty() {
            "no trial was begun yet".to_owned()
        } else {
            format!("there is no trial '{name}'; there are {}", names.join(", "))
        })
    })?;
    if out.json() {
        out.document(found)?;
    } else {
        out.text(&interstice_render::text::trial(found));
    }
    Ok(found.answer.is_some())
}
