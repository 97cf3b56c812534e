//! Backups through the real binary: made, listed, brought back, the same account.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use common::{done, run, said};
use interstice_backup::{Key, Place, Work};
use serde_json::Value;
use tempfile::TempDir;

const PASSPHRASE: &str = "otter lamp quiet brass seven";

fn with(passphrase: Option<&str>, book: &Path, args: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_interstice"));
    command.arg("--book").arg(book).args(args).env("TZ", "UTC");
    if let Some(passphrase) = passphrase {
        command.env("INTERSTICE_BACKUP_PASSPHRASE", passphrase);
    }
    command.stdin(std::process::Stdio::null()).output().unwrap()
}

fn text(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned() + &String::from_utf8_lossy(&output.stderr)
}

fn old_book(folder: &Path) -> PathBuf {
    let kept = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../testdata/book/v3.interstice.zst");
    let path = folder.join("book.interstice");
    fs::write(
        &path,
        zstd::decode_all(fs::read(kept).unwrap().as_slice()).unwrap(),
    )
    .unwrap();
    path
}

fn json(output: &Output) -> Value {
    serde_json::from_slice(&output.stdout).unwrap_or_else(|_| panic!("{}", text(output)))
}

/// One road, because choosing a passphrase is slow on purpose.
#[test]
fn a_book_is_backed_up_by_a_passphrase_chosen_once_and_comes_back() {
    let folder = TempDir::new().unwrap();
    let book = old_book(folder.path());
    let file = folder.path().join("my backup");
    let file = file.to_str().unwrap();
    let missing = with(None, &book, &["backup", file]);
    assert_eq!(missing.status.code(), Some(2), "{}", text(&missing));
    assert!(
        text(&missing).contains("INTERSTICE_BACKUP_PASSPHRASE"),
        "{}",
        text(&missing)
    );
    assert!(!Path::new(file).exists());

    let made = with(Some(PASSPHRASE), &book, &["backup", file, "--json"]);
    assert_eq!(made.status.code(), Some(0), "{}", text(&made));
    let made = json(&made);
    assert_eq!(
        (&made["same_findings"], &made["beside_open_book"]),
        (&true.into(), &true.into())
    );

    // One that is quickly tried in the place of the one chosen: the rest is not about that.
    let held = Place::beside(&book).hold().unwrap();
    let mut plan = held.plan().unwrap();
    plan.key = Some(Key::make(PASSPHRASE, Work::Light).unwrap());
    held.put(&plan).unwrap();
    drop(held);

    // From now on without the passphrase, into a folder, and only when due.
    let backups = folder.path().join("backups");
    let backups = backups.to_str().unwrap();
    let set = with(
        None,
        &book,
        &["backup-set", "--folder", backups, "--every-hours", "12", "--json"],
    );
    let set = json(&set);
    assert_eq!(
        (&set["has_passphrase"], &set["schedule"]["every_hours"]),
        (&true.into(), &12.into())
    );
    let first = json(&with(None, &book, &["backup", "--if-due", "--json"]));
    let first = first["file"].as_str().unwrap();
    assert!(
        first.starts_with(backups) && first.ends_with(".interstice-backup"),
        "{first}"
    );
    let again = json(&with(None, &book, &["backup", "--if-due", "--json"]));
    assert_eq!(again["file"], Value::Null);
    assert!(said(&book, &["backup-set"]).contains("The last backup: "));

    // The machine is gone: another folder, the file and the passphrase.
    let elsewhere = TempDir::new().unwrap();
    let back = elsewhere.path().join("new.interstice");
    let wrong = with(Some("otter lamp quiet brass eight"), &back, &["restore", first]);
    assert_eq!(wrong.status.code(), Some(2), "{}", text(&wrong));
    assert!(text(&wrong).contains("does not open"), "{}", text(&wrong));
    let restored = with(Some(PASSPHRASE), &back, &["restore", first, "--json"]);
    assert_eq!(
        json(&restored)["readings"],
        made["readings"],
        "{}",
        text(&restored)
    );
    for question in [
        ["review", "--json"],
        ["trust", "--json"],
        ["journal", "--json"],
        ["set", "--json"],
    ] {
        assert_eq!(said(&book, &question), said(&back, &question), "{question:?}");
    }
    let check = done(&back, &["check"]);
    assert_eq!(check.status.code(), Some(0));

    let there = with(Some(PASSPHRASE), &back, &["restore", first]);
    assert_eq!(there.status.code(), Some(2));
    assert!(
        text(&there).contains("name a new one with --book"),
        "{}",
        text(&there)
    );
    let off = json(&with(None, &book, &["backup-set", "--off", "--json"]));
    assert_eq!(off["schedule"], Value::Null);
}

#[test]
fn what_cannot_be_backed_up_or_brought_back_says_what_to_do() {
    let folder = TempDir::new().unwrap();
    let absent = folder.path().join("absent.interstice");
    let none = run(&absent, &["backup", "x"]);
    assert_eq!(none.status.code(), Some(4), "{}", text(&none));
    assert!(!absent.exists());
    let not_one = folder.path().join("table.csv");
    fs::write(&not_one, "2025-03-01,110\n").unwrap();
    let refused = with(Some(PASSPHRASE), &absent, &["restore", not_one.to_str().unwrap()]);
    assert_eq!(refused.status.code(), Some(3), "{}", text(&refused));
    assert!(
        text(&refused).contains("is not a backup of a book"),
        "{}",
        text(&refused)
    );
    let book = old_book(folder.path());
    let short = with(Some("too short"), &book, &["backup", "x"]);
    assert_eq!(short.status.code(), Some(2), "{}", text(&short));
    assert!(text(&short).contains("at least 12"), "{}", text(&short));
    let nowhere = with(None, &book, &["backup-set", "--keep-days", "3"]);
    assert!(text(&nowhere).contains("--folder"), "{}", text(&nowhere));
}
