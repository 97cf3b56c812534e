//! Chores of the house, started as `cargo xtask VERB`. One command, `cargo xtask check`, runs everything CI runs.
#![expect(
    clippy::print_stdout,
    clippy::print_stderr,
    reason = "a chore talks to the person at the keyboard"
)]

mod check;
mod deb;
mod figures;
mod inventory;
mod notices;
mod packages;
mod pictures;
mod python;
mod release;
mod run;
mod tidy;

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::{Context, Result};

const VERBS: &str = "\
chores of the house: cargo xtask VERB

  check      all that CI runs: fmt, tidy, clippy, tests, docs, figures, deny; `check STEP` runs one of them
  tidy       the rules a compiler does not know: who may use whom, links, lengths, words
  figures    the second implementation in checks/ against the interstice command
  deny       licences, bans and sources of the packages, by deny.toml
  licences   every package that is passed on, with version and licence, as text
  sbom       the same as an SPDX 2.3 document (JSON)
  notices    the licence and copyright notices of these packages, as their sources hold them
  release    the program as it is passed on: one file that needs no library of the system, and its digest
  twice      the same, built twice in two folders, and whether the bytes are the same
  deb [FILE] a Debian package of it, or of one that was built before
  pictures   the README's pictures, taken of the demo (needs chromium)

With INTERSTICE_CI=1 set, a step that would be skipped for want of a tool fails instead.";

fn main() -> ExitCode {
    let mut words = std::env::args().skip(1);
    let verb = words.next().unwrap_or_default();
    match act(&verb, words.next().as_deref()) {
        Ok(code) => code,
        Err(error) => {
            eprintln!("xtask {verb}: {error:#}");
            ExitCode::FAILURE
        }
    }
}

fn act(verb: &str, step: Option<&str>) -> Result<ExitCode> {
    let top = workspace_top()?;
    match verb {
        "check" => step.map_or_else(|| check::check(&top), |step| check::only(&top, step)),
        "tidy" => check::only(&top, "tidy"),
        "figures" => check::only(&top, "figures"),
        "deny" => check::only(&top, "deny"),
        "licences" => inventory::licences(&top).map(|()| ExitCode::SUCCESS),
        "sbom" => inventory::sbom(&top).map(|()| ExitCode::SUCCESS),
        "notices" => notices::print(&top).map(|()| ExitCode::SUCCESS),
        "deb" => deb::make(&top, std::env::args_os().nth(2).map(PathBuf::from)).map(|()| ExitCode::SUCCESS),
        "release" => release::build(&top).map(|()| ExitCode::SUCCESS),
        "twice" => release::twice(&top).map(|()| ExitCode::SUCCESS),
        "pictures" => pictures::take(&top).map(|()| ExitCode::SUCCESS),
        "" | "help" | "--help" | "-h" => {
            println!("{VERBS}");
            Ok(ExitCode::SUCCESS)
        }
        other => {
            eprintln!("there is no verb '{other}'\n\n{VERBS}");
            Ok(ExitCode::from(2))
        }
    }
}

/// The folder of the workspace: the parent of this package, as cargo says when it starts us. Not as it was when this
/// was built: checkouts that share a target folder would act on each other.
fn workspace_top() -> Result<PathBuf> {
    let own = std::env::var_os("CARGO_MANIFEST_DIR").context("start it as `cargo xtask`")?;
    let parent = Path::new(&own).parent().context("xtask has no parent folder")?;
    Ok(parent.to_path_buf())
}
