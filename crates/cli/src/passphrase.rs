//! The passphrases of the home network and of backups: from a file, from the environment or asked on the terminal, never an
//! argument, which every program of this machine could read.

use std::io::IsTerminal;
use std::path::Path;

use interstice_home::Household;

use crate::exit::Failure;
use crate::output::Output;

/// What a passphrase is for, and where it may come from.
#[derive(Clone, Copy, Debug)]
pub(crate) struct For {
    /// Said where it is asked for: 'for …'.
    what: &'static str,
    /// Name in the environment.
    variable: &'static str,
}

/// Devices of the home network.
const HOME: For = For {
    what: "devices of your home network",
    variable: "INTERSTICE_PASSPHRASE",
};
/// Backups.
pub(crate) const BACKUPS: For = For {
    what: "backups of this book",
    variable: "INTERSTICE_BACKUP_PASSPHRASE",
};

/// Makes sure that there is one: asks for it the first time, and compares it where it is given again.
pub(crate) fn ensure(household: &Household, file: Option<&Path>, out: &mut Output) -> Result<(), Failure> {
    let given = given(HOME, file)?;
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
    let given = given(HOME, file)?;
    choose(household, given, out)
}

fn choose(household: &Household, given: Option<String>, out: &mut Output) -> Result<(), Failure> {
    let chosen = match given {
        Some(given) => given,
        None => chosen(HOME, out)?,
    };
    household.choose_passphrase(&chosen).map_err(failed)
}

/// A new one, asked for twice.
pub(crate) fn chosen(of: For, out: &mut Output) -> Result<String, Failure> {
    let what = of.what;
    if !std::io::stdin().is_terminal() {
        return Err(no_terminal(of));
    }
    out.message(&format!(
        "A passphrase for {what}: five or six words that do not belong together do well."
    ));
    let ask = |prompt: &str| rpassword::prompt_password(prompt).map_err(Failure::internal);
    let chosen = ask("Passphrase: ")?;
    if ask("The same again: ")? != chosen {
        return Err(Failure::usage("the two were not the same; nothing was changed"));
    }
    Ok(chosen)
}

/// One that was chosen before, asked for once where it is not given.
pub(crate) fn known(of: For, file: Option<&Path>) -> Result<String, Failure> {
    if let Some(given) = given(of, file)? {
        return Ok(given);
    }
    if !std::io::stdin().is_terminal() {
        return Err(no_terminal(of));
    }
    rpassword::prompt_password("Passphrase: ").map_err(Failure::internal)
}

fn no_terminal(of: For) -> Failure {
    let For { what, variable } = of;
    Failure::usage(format!(
        "{what} need a passphrase, and there is no terminal to ask on; give it with --passphrase-file or {variable}"
    ))
}

/// What was given without being asked for.
pub(crate) fn given(of: For, file: Option<&Path>) -> Result<Option<String>, Failure> {
    let Some(path) = file else {
        return Ok(std::env::var(of.variable).ok().filter(|text| !text.is_empty()));
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
