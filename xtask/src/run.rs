//! Running programs, and what came of it.

use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Command, Stdio};

use anyhow::{Context, Result, bail};

/// What came of a step.
#[derive(Debug, PartialEq, Eq)]
pub(crate) enum Outcome {
    /// All well; a few words on what was looked at.
    Well(String),
    /// Something was found; a few words on what.
    Found(String),
    /// It could not be run here, and why.
    Skipped(String),
}

/// Whether a skip counts as a failure: on a machine that is meant to have everything.
pub(crate) fn nothing_may_be_skipped() -> bool {
    std::env::var("INTERSTICE_CI").is_ok_and(|value| value == "1")
}

/// The same cargo that runs us, in the workspace. What cargo tells a package about itself is not passed on, so
/// that build scripts see what they would see without us.
pub(crate) fn cargo(top: &Path) -> Command {
    let mut command = Command::new(std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into()));
    for (name, _) in std::env::vars_os() {
        if name.to_string_lossy().starts_with("CARGO_PKG_") {
            command.env_remove(name);
        }
    }
    command
        .env_remove("CARGO_MANIFEST_DIR")
        .env_remove("CARGO_MANIFEST_PATH");
    command.current_dir(top).stdin(Stdio::null());
    command
}

/// Runs a program with its output shown; `Found` when it fails.
pub(crate) fn shown(command: &mut Command) -> Result<Outcome> {
    let name = command.get_program().to_string_lossy().into_owned();
    let status = command.status().with_context(|| format!("cannot start {name}"))?;
    Ok(if status.success() {
        Outcome::Well(String::new())
    } else {
        Outcome::Found(status.to_string())
    })
}

/// Runs a program with its standard output shown and each line of it also handed to `line`. Returns whether it
/// succeeded.
pub(crate) fn watched(command: &mut Command, mut line: impl FnMut(&str)) -> Result<bool> {
    let name = command.get_program().to_string_lossy().into_owned();
    let mut child = command
        .stdout(Stdio::piped())
        .spawn()
        .with_context(|| format!("cannot start {name}"))?;
    let out = child
        .stdout
        .take()
        .context("the program's output was not piped")?;
    let mut shown = std::io::stdout();
    for text in BufReader::new(out).split(b'\n') {
        let text = text?;
        shown.write_all(&text)?;
        shown.write_all(b"\n")?;
        line(&String::from_utf8_lossy(&text));
    }
    Ok(child.wait()?.success())
}

/// Runs a program quietly and returns its standard output.
///
/// # Errors
/// When it cannot be started or fails; its error output is part of the message.
pub(crate) fn output(command: &mut Command) -> Result<String> {
    let name = command.get_program().to_string_lossy().into_owned();
    let out = command.output().with_context(|| format!("cannot start {name}"))?;
    if !out.status.success() {
        bail!("{name} failed: {}", String::from_utf8_lossy(&out.stderr).trim());
    }
    Ok(String::from_utf8_lossy(&out.stdout).into_owned())
}

/// Whether a program can be started with these arguments.
pub(crate) fn works(program: &str, arguments: &[&str]) -> bool {
    Command::new(program)
        .args(arguments)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status()
        .is_ok_and(|status| status.success())
}
