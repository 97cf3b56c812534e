//! Backups through the real binary: made, listed, brought back, the same account.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use std::fs;
use std::io::{BufRead, BufReader, Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::time::{Duration, Instant};

use common::{done, run, said};
use interstice_backup::{Keep, Key, Place, Schedule, Work};
use serde_json::Value;
use tempfile::TempDir;

const PASSPHRASE: &str = "otter lamp quiet brass seven";

fn with(passphrase: Option<&str>, book: &Path, args: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_interstice"));
    command.arg("--book").arg(book).args(args).env("TZ", "UTC");
    if let Some(passphrase) = passphrase {
        command.env("INTERSTICE_BACKUP_PASSPHRASE", passphrase);
    }
    command.stdin(Stdio::null()).output().unwrap()
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

/// A page of the served app.
fn page(address: &str, path: &str) -> String {
    let mut stream = std::net::TcpStream::connect(address).unwrap();
    write!(
        stream,
        "GET {path} HTTP/1.1\r\nHost: {address}\r\nConnection: close\r\n\r\n"
    )
    .unwrap();
    let mut answer = Vec::new();
    stream.read_to_end(&mut answer).unwrap();
    String::from_utf8_lossy(&answer).into_owned()
}

/// The app, ended when dropped.
struct Served(Child);

impl Drop for Served {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

#[test]
fn the_app_says_that_there_is_none_and_makes_one_when_it_is_due() {
    let folder = TempDir::new().unwrap();
    let book = folder.path().join("book.interstice");
    let rows: String = (0..9 * 288)
        .map(|row| {
            let (day, minute) = (1 + row / 288, row % 288 * 5);
            let (hour, minute) = (minute / 60, minute % 60);
            format!("2025-03-{day:02} {hour:02}:{minute:02};{}\n", 100 + row % 50)
        })
        .collect();
    let table = folder.path().join("table.csv");
    fs::write(&table, format!("time;glucose mg/dL\n{rows}")).unwrap();
    done(&book, &["import", table.to_str().unwrap(), "--zone", "UTC"]);
    let mut child = Command::new(env!("CARGO_BIN_EXE_interstice"))
        .arg("--book")
        .arg(&book)
        .arg("serve")
        .env("INTERSTICE_BACKUP_LOOK_SECONDS", "1")
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut lines = BufReader::new(child.stderr.take().unwrap()).lines();
    let _served = Served(child);
    let address = lines
        .find_map(|line| {
            line.unwrap()
                .strip_prefix("listening on http://")
                .map(str::to_owned)
        })
        .unwrap();
    assert!(page(&address, "/now").contains("This book has no backup yet"));
    assert!(page(&address, "/settings").contains("none yet"));

    let backups = folder.path().join("backups");
    interstice_backup::make_folder(&backups).unwrap();
    let held = Place::beside(&book).hold().unwrap();
    let mut plan = held.plan().unwrap();
    plan.key = Some(Key::make(PASSPHRASE, Work::Light).unwrap());
    plan.schedule = Some(Schedule {
        folder: backups.clone(),
        every_hours: 24,
        keep: Keep::default(),
    });
    held.put(&plan).unwrap();
    drop(held);
    let begun = Instant::now();
    while Place::beside(&book).plan().unwrap().last.is_none() {
        assert!(begun.elapsed() < Duration::from_secs(30), "none was made");
        std::thread::sleep(Duration::from_millis(100));
    }
    let made = Place::beside(&book).plan().unwrap().last.unwrap();
    assert!(made.path.starts_with(&backups));
    assert!(!page(&address, "/now").contains("backup-reminder"));
    let settings = page(&address, "/settings");
    assert!(settings.contains(made.path.to_str().unwrap()) && settings.contains("every 24 hours"));
    interstice_backup::restore(&made.path, &folder.path().join("back"), PASSPHRASE).unwrap();
}

#[test]
fn completions_and_manual_pages_know_every_command() {
    let folder = TempDir::new().unwrap();
    let completions = said(folder.path(), &["completions", "bash"]);
    done(folder.path(), &["manual", folder.path().to_str().unwrap()]);
    let help = said(folder.path(), &["help"]);
    let commands: Vec<&str> = help
        .lines()
        .skip_while(|line| !line.starts_with("Commands:"))
        .skip(1)
        .take_while(|line| !line.is_empty())
        .filter(|line| line.starts_with("  ") && !line.starts_with("   "))
        .filter_map(|line| line.split_whitespace().next())
        .filter(|name| *name != "help")
        .collect();
    assert!(commands.len() > 25, "{commands:?}");
    for command in commands {
        assert!(completions.contains(command), "{command}");
        let page = folder.path().join(format!("interstice-{command}.1"));
        assert!(fs::read_to_string(&page).unwrap().contains(".SH"), "{command}");
    }
}
