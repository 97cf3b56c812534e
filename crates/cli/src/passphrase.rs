//! The passphrase of the home network: from a file, from the environment or asked on the terminal, never an argument, which
//! every program of this machine could read.

use std::io::IsTerminal;
use std::path::Path;

use interstice_home::Household;

use crate::exit::Failure;
use crate::output::Output;

const VARIABLE: &str = "INTERSTICE_PASSPHRASE";

/// Makes sure that there is one: asks for it the first time, and compares it where it is given again.
pub(crate) fn ensure(household: &Household, file: Option<&Path>, out: &mut Output) -> Result<(), Failure> {
    let given = given(file)?;
    if !household.has_passphrase().map_err(failed)? {
        return choose(household, given, out);
    }
    match given {
        Some(given) if !household.knows(&given).map_err(failed)? => Err(Failure::usage(
            "that is not the passphrase of this book; choose another with `interstice devices --new-passphrase`",
        )),
        _ => Ok(()),
    }
}

/// Chooses one, or another.
pub(crate) fn renew(household: &Household, file: Option<&Path>, out: &mut Output) -> Result<(), Failure> {
    let given = given(file)?;
    choose(household, given, out)
}

fn choose(household: &Household, given: Option<String>, out: &mut Output) -> Result<(), Failure> {
    let chosen = match given {
        Some(given) => given,
        None => asked(out)?,
    };
    household.choose_passphrase(&chosen).map_err(failed)
}

fn asked(out: &mut Output) -> Result<String, Failure> {
    if !std::io::stdin().is_terminal() {
        return Err(Failure::usage(format!(
            "the home network needs a passphrase, and there is no terminal to ask on; give it with --passphrase-file or {VARIABLE}"
        )));
    }
    out.message("A passphrase for devices of your home network: five or six words that do not belong together do well.");
    let ask = |prompt: &str| rpassword::prompt_password(prompt).map_err(Failure::internal);
    let chosen = ask("Passphrase: ")?;
    if ask("The same again: ")? != chosen {
        return Err(Failure::usage("the two were not the same; nothing was changed"));
    }
    Ok(chosen)
}

fn given(file: Option<&Path>) -> Result<Option<String>, Failure> {
    let Some(path) = file else {
        return Ok(std::env::var(VARIABLE).ok().filter(|text| !text.is_empty()));
    };
    let text = std::fs::read_to_string(path)
        .map_err(|error| Failure::usage(format!("{} cannot be read: {error}", path.display())))?;
    Ok(Some(text.lines().next().unwrap_or_default().to_owned()))
}

/// What went wrong at the door.
pub(crate) fn failed(error: interstice_home::HomeError) -> Failure {
    match error {
        interstice_home::HomeError::Request(why) => Failure::usage(why),
        other => Failure::internal(other),
    }
}
