//! Completions and manual pages, made from the definitions of the commands.

use std::path::Path;

use clap::CommandFactory as _;
use clap_complete::Shell;

use crate::args::Cli;
use crate::exit::{Answer, Exit, Failure};
use crate::output::Output;

/// Prints the completions of a shell.
pub(crate) fn completions(shell: Shell, out: &mut Output) -> Answer {
    let mut text = Vec::new();
    clap_complete::generate(shell, &mut Cli::command(), "interstice", &mut text);
    out.text(&String::from_utf8_lossy(&text));
    Ok(Exit::Done)
}

/// Writes a page for the program and one for each command.
pub(crate) fn manual(folder: &Path, out: &mut Output) -> Answer {
    clap_mangen::generate_to(Cli::command(), folder).map_err(|error| {
        Failure::usage(format!(
            "the pages cannot be written into {} ({error}); name a folder that is there",
            folder.display()
        ))
    })?;
    out.text(&format!(
        "written into {}; read them with `man -l`\n",
        folder.display()
    ));
    Ok(Exit::Done)
}
