//! The `interstice` command: reads the arguments, calls one room, picks an exit code.

mod args;
mod backup;
mod books;
mod compare;
mod demo;
mod devices;
mod estimate;
mod exit;
mod export;
mod feeds;
mod import;
mod keep;
mod log;
mod lost;
mod manual;
mod opened;
mod output;
mod passphrase;
mod photo;
mod progress;
mod radio;
mod review;
mod second_look;
mod serve;
mod share;
mod stock;
mod trial;
mod trust;
mod visit;
mod watch;
mod wear;
mod wear_set;
mod world;

use std::process::ExitCode;

use clap::Parser;

use crate::args::{Cli, Command};
use crate::exit::{Answer, Exit, Failure};
use crate::output::Output;
use crate::world::{World, book_path};

fn main() -> ExitCode {
    let cli = Cli::parse();
    let mut out = Output::new(cli.json);
    match run(cli, &mut out) {
        Ok(exit) => exit.into(),
        Err(Failure { exit, error }) => {
            out.message(&format!("interstice: {error}"));
            exit.into()
        }
    }
}

fn run(cli: Cli, out: &mut Output) -> Answer {
    let world = World::look();
    match &cli.command {
        Command::Demo(args) => return demo::demo(args, cli.book, &world, out),
        Command::Completions { shell } => return manual::completions(*shell, out),
        Command::Manual { folder } => return manual::manual(folder, out),
        _ => {}
    }
    let book = book_path(cli.book)?;
    match &cli.command {
        Command::Import(args) => import::import(args, &book, &world, out),
        Command::Imports => keep::imports(&book, out),
        Command::Now(args) => second_look::now(args, &book, &world, out),
        Command::Review(args) => review::review(args, &book, out),
        Command::Compare(args) => compare::compare(args, &book, out),
        Command::Trust(args) => trust::trust(args, &book, out),
        Command::SecondLook(args) => second_look::second_look(args, &book, &world, out),
        Command::Wear(args) => wear::wear(args, &book, &world, out),
        Command::WearSet(args) => wear_set::wear_set(args, &book, &world, out),
        Command::Visit(args) => visit::visit(args, &book, &world, out),
        Command::VisitSet(args) => visit::visit_set(args, &book, &world, out),
        Command::SensorKind(args) => wear::sensor_kind(args, &book, &world, out),
        Command::Stock(args) => stock::stock(args, &book, &world, out),
        Command::SensorRecord(args) => lost::sensor_record(args, &book, &world, out),
        Command::Claim(args) => lost::claim(args, &book, &world, out),
        Command::Photo(args) => photo::photo(args, &book, out),
        Command::Trial(args) => trial::trial(args, &book, &world, out),
        Command::Log(args) => log::log(args, &book, &world, out),
        Command::Share(args) => share::share(args, &book, out),
        Command::Export(args) => export::export(args, &book, &world, out),
        Command::Undo { id } => keep::undo(*id, &book, &world, out),
        Command::Journal { last } => keep::journal(*last, &book, out),
        Command::Check { salvage } => keep::check(salvage.as_deref(), &book, out),
        Command::Backup(args) => backup::backup(args, &book, &world, out),
        Command::BackupSet(args) => backup::backup_set(args, &book, &world, out),
        Command::Restore(args) => backup::restore(args, &book, out),
        Command::Set { name, value } => keep::set(name.as_deref(), value.as_deref(), &book, &world, out),
        Command::Serve(args) => serve::serve(&book, args, &world, out),
        Command::Devices(args) => devices::devices(args, &book, &world, out),
        Command::Links(args) => devices::links(args, &book, &world, out),
        Command::Feeds(args) => feeds::feeds(args, &book, &world, out),
        Command::Watch(args) => watch::watch(args, &book, &world, out),
        Command::Books => books::books(&book, &world, out),
        Command::Demo(_) | Command::Completions { .. } | Command::Manual { .. } => Ok(Exit::Done),
    }
}
