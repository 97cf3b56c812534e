//! What is written is for its owner alone, whatever the account's usual mode is: the folder, the book, its helper files while it is
//! open, backups and their plan, an export of everything.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]
#![cfg(unix)]

use std::fs;
use std::io::{BufRead, BufReader};
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use interstice_backup::{Key, Place, Work};
use tempfile::TempDir;

/// A shell that would let everybody read everything, then the program.
fn open_handed(home: &Path, args: &str) -> Command {
    let mut command = Command::new("sh");
    command
        .args(["-c", &format!("umask 000; exec \"$I\" {args}")])
        .env("I", env!("CARGO_BIN_EXE_interstice"))
        .env("HOME", home)
        .env("XDG_DATA_HOME", home.join("data"))
        .env("TZ", "UTC")
        .current_dir(home)
        .stdin(Stdio::null());
    command
}

fn done(home: &Path, args: &str) {
    let output = open_handed(home, args).output().unwrap();
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.code().unwrap() <= 1, "{args}: {said}");
}

/// Everything below a folder, the folder too, with its mode.
fn modes(folder: &Path) -> Vec<(PathBuf, bool, u32)> {
    let about = fs::metadata(folder).unwrap();
    let mut all = vec![(folder.to_owned(), true, about.permissions().mode() & 0o777)];
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            all.extend(modes(&path));
        } else {
            let mode = fs::metadata(&path).unwrap().permissions().mode() & 0o777;
            all.push((path, false, mode));
        }
    }
    all
}

#[test]
fn nothing_is_readable_by_others() {
    let home = TempDir::new().unwrap();
    let at = home.path();
    let table: String = (0..500)
        .map(|row| {
            format!(
                "2025-03-{:02} {:02}:{:02};110\n",
                1 + row / 288,
                row % 288 / 12,
                row % 12 * 5
            )
        })
        .collect();
    fs::write(at.join("table.csv"), format!("time;glucose mg/dL\n{table}")).unwrap();
    done(at, "import table.csv --zone UTC");
    let folder = at.join("data/interstice");
    let book = folder.join("book.interstice");
    let held = Place::beside(&book).hold().unwrap();
    let mut plan = held.plan().unwrap();
    plan.key = Some(Key::make("otter lamp quiet brass seven", Work::Light).unwrap());
    held.put(&plan).unwrap();
    drop(held);
    done(at, "backup-set --folder data/backups");
    done(at, "backup");
    done(at, "export data/out --as csv");
    done(at, "check --salvage data/interstice/saved.book");
    // While the app is open, with something just written.
    let mut served = open_handed(at, "serve")
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut lines = BufReader::new(served.stderr.take().unwrap()).lines();
    assert!(lines.any(|line| line.unwrap().starts_with("listening")));
    let writer = interstice_desk::Book::open(&book, interstice_desk::Mode::Existing).unwrap();
    assert!(folder.join("book.interstice-wal").exists() && folder.join("book.interstice-shm").exists());
    let all = modes(&at.join("data"));
    served.kill().unwrap();
    served.wait().unwrap();
    drop(writer);
    for (path, is_folder, mode) in &all {
        let wanted = if *is_folder { 0o700 } else { 0o600 };
        assert_eq!(*mode, wanted, "{} is {mode:o}", path.display());
    }
    assert!(all.len() > 15, "{all:?}");
}
