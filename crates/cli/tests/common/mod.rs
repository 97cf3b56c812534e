//! The program as a person runs it.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]
#![allow(dead_code, reason = "each test file uses its part")]

use std::path::Path;
use std::process::{Command, Output};

/// Runs it on a book, on a machine set to a zone.
pub(crate) fn run_in(zone: &str, book: &Path, args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_interstice"))
        .arg("--book")
        .arg(book)
        .args(args)
        .env("TZ", zone)
        .output()
        .unwrap()
}

/// The same at universal time.
pub(crate) fn run(book: &Path, args: &[&str]) -> Output {
    run_in("UTC", book, args)
}

/// The same, which must succeed, or ask for the person's attention at most.
pub(crate) fn done(book: &Path, args: &[&str]) -> Output {
    let output = run(book, args);
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.code().unwrap() <= 1, "{args:?}: {said}");
    output
}

/// What it then said on standard output.
pub(crate) fn said(book: &Path, args: &[&str]) -> String {
    String::from_utf8(done(book, args).stdout).unwrap()
}
