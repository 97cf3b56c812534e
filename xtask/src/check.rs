//! `cargo xtask check`: the steps, in the order that finds most soonest, and the closing lines.

use std::path::Path;
use std::process::ExitCode;
use std::time::Instant;

use anyhow::{Result, bail};

use crate::run::{Outcome, cargo, nothing_may_be_skipped, shown, watched};
use crate::{figures, packages, python, tidy};

struct Step {
    name: &'static str,
    run: fn(&Path) -> Result<Outcome>,
    /// Whether it must run where `INTERSTICE_CI=1` is set.
    needed: bool,
}

/// Cheap steps first. Clippy and the documentation share their builds of foreign packages; the tests' build is
/// another one, and `figures` uses the command that the tests built.
const STEPS: [Step; 7] = [
    Step {
        name: "fmt",
        run: fmt,
        needed: true,
    },
    Step {
        name: "tidy",
        run: tidy::step,
        needed: true,
    },
    Step {
        name: "clippy",
        run: clippy,
        needed: true,
    },
    Step {
        name: "docs",
        run: docs,
        needed: true,
    },
    Step {
        name: "tests",
        run: tests,
        needed: true,
    },
    Step {
        name: "figures",
        run: figures::step,
        needed: true,
    },
    Step {
        name: "deny",
        run: packages::step,
        needed: true,
    },
];

/// Runs every step, also after one has found something, and closes with one line for each and their count.
pub(crate) fn check(top: &Path) -> Result<ExitCode> {
    close(STEPS.iter().map(|step| timed(top, step)).collect())
}

/// Runs one step.
pub(crate) fn only(top: &Path, name: &str) -> Result<ExitCode> {
    let Some(step) = STEPS.iter().find(|step| step.name == name) else {
        bail!("there is no step '{name}'")
    };
    close(vec![timed(top, step)])
}

struct Done {
    name: &'static str,
    outcome: Outcome,
    seconds: f64,
}

fn timed(top: &Path, step: &Step) -> Done {
    println!("== {}", step.name);
    let start = Instant::now();
    let outcome = match (step.run)(top) {
        Ok(Outcome::Skipped(why)) if step.needed && nothing_may_be_skipped() => {
            Outcome::Found(format!("{why} (INTERSTICE_CI=1: nothing may be skipped)"))
        }
        Ok(outcome) => outcome,
        Err(error) => Outcome::Found(format!("{error:#}")),
    };
    Done {
        name: step.name,
        outcome,
        seconds: start.elapsed().as_secs_f64(),
    }
}

/// The closing lines; the last one is plain: `check: 7 passed, 0 failed, 0 skipped`.
fn close(steps: Vec<Done>) -> Result<ExitCode> {
    let (mut passed, mut failed, mut skipped) = (0, 0, 0);
    println!();
    for Done {
        name,
        outcome,
        seconds,
    } in steps
    {
        let (word, note, count) = match outcome {
            Outcome::Well(note) => ("passed", note, &mut passed),
            Outcome::Found(note) => ("FAILED", note, &mut failed),
            Outcome::Skipped(note) => ("skipped", note, &mut skipped),
        };
        *count += 1;
        println!(
            "{}",
            format!("{name:<8} {word:<8} {seconds:>7.1} s  {note}").trim_end()
        );
    }
    println!("\ncheck: {passed} passed, {failed} failed, {skipped} skipped");
    Ok(if failed == 0 {
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    })
}

fn fmt(top: &Path) -> Result<Outcome> {
    Ok(match shown(cargo(top).args(["fmt", "--all", "--check"]))? {
        Outcome::Found(_) => Outcome::Found("run `cargo fmt`".to_owned()),
        other => other,
    })
}

fn clippy(top: &Path) -> Result<Outcome> {
    shown(cargo(top).args(["clippy", "--workspace", "--all-targets", "--", "-D", "warnings"]))
}

fn docs(top: &Path) -> Result<Outcome> {
    shown(
        cargo(top)
            .env("RUSTDOCFLAGS", "-D warnings")
            .args(["doc", "--workspace", "--no-deps"]),
    )
}

/// One command builds and tests: a separate build would choose other features of shared packages and build much
/// of them twice.
fn tests(top: &Path) -> Result<Outcome> {
    let mut count = TestCount::default();
    let mut command = cargo(top);
    if let Some(script) = python::accessibility_rules(top)? {
        command.env("INTERSTICE_AXE", script);
    }
    let passed = watched(command.args(["test", "--workspace", "--no-fail-fast"]), |line| {
        count.read(line)
    })?;
    let note = format!(
        "{} tests passed, {} failed, {} ignored",
        count.passed, count.failed, count.ignored
    );
    Ok(if !passed {
        Outcome::Found(note)
    } else if count.passed == 0 {
        Outcome::Found("no test was run".to_owned())
    } else {
        Outcome::Well(note)
    })
}

/// Tests counted from the closing lines of cargo's test programs.
#[derive(Default, Debug, PartialEq, Eq)]
struct TestCount {
    passed: u64,
    failed: u64,
    ignored: u64,
}

impl TestCount {
    /// Reads `test result: ok. 3 passed; 0 failed; 0 ignored; …`; any other line is passed over.
    fn read(&mut self, line: &str) {
        let Some((_, counts)) = line
            .strip_prefix("test result: ")
            .and_then(|rest| rest.split_once(". "))
        else {
            return;
        };
        for part in counts.split(';') {
            let mut words = part.split_whitespace();
            let number = words
                .next()
                .and_then(|word| word.parse::<u64>().ok())
                .unwrap_or(0);
            match words.next() {
                Some("passed") => self.passed += number,
                Some("failed") => self.failed += number,
                Some("ignored") => self.ignored += number,
                _ => {}
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn closing_lines_of_test_programs_are_added_up() {
        let mut count = TestCount::default();
        count.read(
            "test result: ok. 3 passed; 0 failed; 1 ignored; 0 measured; 0 filtered out; finished in 0.00s",
        );
        count.read("test result: FAILED. 4 passed; 2 failed; 0 ignored; 0 measured; 0 filtered out");
        count.read("test a_test ... ok");
        assert_eq!(
            count,
            TestCount {
                passed: 7,
                failed: 2,
                ignored: 1
            }
        );
    }
}
