//! The second implementation in checks/, held against what the `interstice` command says.

use std::path::{Path, PathBuf};
use std::process::Command;

use anyhow::{Context, Result};
use serde_json::Value;

use crate::python::{self, Python};
use crate::run::{Outcome, cargo, output, shown};

/// Runs checks/run.py with the command that the tests built.
pub(crate) fn step(top: &Path) -> Result<Outcome> {
    let program = match python::find(top)? {
        Python::Found(program) => program,
        Python::Missing(why) => return Ok(Outcome::Skipped(why)),
    };
    let interstice = built_command(top)?;
    let mut run = Command::new(program);
    run.arg("-B")
        .arg(top.join("checks/run.py"))
        .arg("--interstice")
        .arg(interstice)
        .current_dir(top);
    shown(&mut run)
}

/// The debug command as `cargo test --workspace` builds it, so that nothing is built twice.
pub(crate) fn built_command(top: &Path) -> Result<PathBuf> {
    let arguments = [
        "test",
        "--workspace",
        "--no-run",
        "--quiet",
        "--message-format=json-render-diagnostics",
    ];
    let messages = output(cargo(top).args(arguments))?;
    messages
        .lines()
        .filter_map(|line| serde_json::from_str::<Value>(line).ok())
        .find_map(|message| command_path(&message))
        .context("cargo built no `interstice` command beside the tests; has crates/cli any test in tests/?")
}

/// The path in cargo's message that the command itself, not its tests, was built.
fn command_path(message: &Value) -> Option<PathBuf> {
    let is_command = message["reason"] == "compiler-artifact"
        && message["target"]["name"] == "interstice"
        && message["target"]["kind"][0] == "bin"
        && message["profile"]["test"] == false;
    is_command
        .then(|| message["executable"].as_str().map(PathBuf::from))
        .flatten()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_command_is_told_from_its_tests() {
        let message = |test: bool| {
            serde_json::json!({
                "reason": "compiler-artifact",
                "target": {"name": "interstice", "kind": ["bin"]},
                "profile": {"test": test},
                "executable": "/x/interstice"
            })
        };
        assert_eq!(
            command_path(&message(false)),
            Some(PathBuf::from("/x/interstice"))
        );
        assert_eq!(command_path(&message(true)), None);
    }
}
