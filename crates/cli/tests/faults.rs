//! A disk that is full, a file and a folder that may not be written: said with what to do next, and nothing is lost.
//!
//! A small disk of memory in a mount namespace of one's own; skipped with a message where the machine gives none.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]
#![cfg(target_os = "linux")]

mod common;

use std::fs;
use std::path::Path;
use std::process::{Command, Output, Stdio};

use interstice_backup::{Key, Place, Work};
use tempfile::TempDir;

const PASSPHRASE: &str = "otter lamp quiet brass seven";

/// Runs a script with `$I` as the program and `$D` as a folder on a disk of so many kilobytes; `None` where that cannot be had.
#[expect(clippy::print_stdout, reason = "says that a test was skipped")]
fn on_small_disk(kilobytes: u32, setting: &Path, script: &str) -> Option<Output> {
    let disk = setting.join("disk");
    fs::create_dir_all(&disk).unwrap();
    let mount = format!("mount -t tmpfs -o size={kilobytes}k none \"$D\"");
    let run = |script: &str| {
        Command::new("unshare")
            .args(["--user", "--map-root-user", "--mount", "sh", "-c", script])
            .env("I", env!("CARGO_BIN_EXE_interstice"))
            .env("D", &disk)
            .env("S", setting)
            .env("TZ", "UTC")
            .env("INTERSTICE_BACKUP_PASSPHRASE", PASSPHRASE)
            .stdin(Stdio::null())
            .output()
    };
    if !run(&mount).is_ok_and(|output| output.status.success()) {
        println!("skipped: this machine gives no mounts of one's own (unshare)");
        return None;
    }
    Some(run(&format!("{mount} && {script}")).unwrap())
}

fn text(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned() + &String::from_utf8_lossy(&output.stderr)
}

fn table(days: usize, to: &Path) {
    use std::fmt::Write as _;
    let mut text = String::from("time;glucose mg/dL\n");
    for row in 0..days * 1440 {
        let first = jiff::civil::date(2024, 1, 1).at(0, 0, 0, 0);
        let at = first + jiff::Span::new().minutes(row as i64);
        let _ = writeln!(
            text,
            "{};{}",
            at.strftime("%Y-%m-%d %H:%M"),
            100 + (row as i64 % 240 - 120).abs() / 2 + row as i64 * 7 % 5
        );
    }
    fs::write(to, text).unwrap();
}

#[test]
fn a_full_disk_is_said_and_the_book_is_as_it_was() {
    let folder = TempDir::new().unwrap();
    table(3, &folder.path().join("small.csv"));
    table(5, &folder.path().join("more.csv"));
    let script = r#"
        B="$D/book.interstice"
        "$I" --book "$B" import "$S/small.csv" --zone UTC >/dev/null || exit 11
        "$I" --book "$B" journal --json > "$S/before" || exit 12
        head -c 9000000 /dev/zero > "$D/filler" 2>/dev/null
        "$I" --book "$B" import "$S/more.csv" --zone UTC; echo "import ended with $?"
        "$I" --book "$B" log --at '2024-01-02 08:00' blood 110 --unit mg/dL; echo "log ended with $?"
        rm "$D/filler"
        "$I" --book "$B" check || exit 13
        "$I" --book "$B" journal --json > "$S/after" || exit 14
        "$I" --book "$B" log --at '2024-01-02 08:00' blood 110 --unit mg/dL || exit 15
    "#;
    let Some(output) = on_small_disk(4_000, folder.path(), script) else {
        return;
    };
    let said = text(&output);
    assert_eq!(output.status.code(), Some(0), "{said}");
    assert!(said.contains("import ended with 4"), "{said}");
    assert!(said.contains("log ended with 4"), "{said}");
    assert_eq!(
        said.matches("no room left on the disk; nothing was written")
            .count(),
        2,
        "{said}"
    );
    assert!(said.contains("the book is whole"), "{said}");
    let read = |name: &str| fs::read_to_string(folder.path().join(name)).unwrap();
    assert_eq!(read("before"), read("after"));
}

#[test]
fn a_backup_that_finds_no_room_is_said_and_leaves_nothing() {
    let folder = TempDir::new().unwrap();
    table(5, &folder.path().join("table.csv"));
    let book = folder.path().join("book.interstice");
    let file = folder.path().join("table.csv").display().to_string();
    let output = common::done(&book, &["import", &file, "--zone", "UTC"]);
    assert_eq!(output.status.code(), Some(0));
    let held = Place::beside(&book).hold().unwrap();
    let mut plan = held.plan().unwrap();
    plan.key = Some(Key::make(PASSPHRASE, Work::Light).unwrap());
    held.put(&plan).unwrap();
    drop(held);
    let made = folder.path().join("good").display().to_string();
    common::done(&book, &["backup", &made]);
    let script = r#"
        "$I" --book "$S/book.interstice" backup "$D/b"; echo "backup ended with $?"
        "$I" --book "$D/new" restore "$S/good"; echo "restore ended with $?"
        ls "$D"; echo listed
    "#;
    let Some(output) = on_small_disk(4, folder.path(), script) else {
        return;
    };
    let said = text(&output);
    assert!(
        said.contains("backup ended with 4") && said.contains("restore ended with 4"),
        "{said}"
    );
    assert_eq!(said.matches("no room left on the disk").count(), 2, "{said}");
    assert!(
        said.contains("restore ended with 4\nlisted"),
        "something was left behind: {said}"
    );
}

#[test]
fn what_may_only_be_read_is_read_and_said_to_be_that() {
    let folder = TempDir::new().unwrap();
    table(3, &folder.path().join("small.csv"));
    let script = r#"
        B="$D/book.interstice"
        "$I" --book "$B" import "$S/small.csv" --zone UTC >/dev/null || exit 11
        mount -o remount,ro "$D" || exit 12
        "$I" --book "$B" review >/dev/null || exit 13
        "$I" --book "$B" check || exit 14
        "$I" --book "$B" log --at '2024-01-02 08:00' blood 110 --unit mg/dL; echo "log ended with $?"
        "$I" --book "$B" import "$S/small.csv" --zone UTC; echo "import ended with $?"
        "$I" --book "$D/new" import "$S/small.csv" --zone UTC; echo "new ended with $?"
        "$I" --book "$B" check --salvage "$D/saved"; echo "salvage ended with $?"
        "$I" --book "$B" check --salvage "$S/saved" >/dev/null || exit 15
    "#;
    let Some(output) = on_small_disk(2_000, folder.path(), script) else {
        return;
    };
    let said = text(&output);
    assert_eq!(output.status.code(), Some(0), "{said}");
    for act in ["log", "import", "new", "salvage"] {
        assert!(said.contains(&format!("{act} ended with 4")), "{act}: {said}");
    }
    assert!(
        said.contains("allow writing to the file and its folder"),
        "{said}"
    );
    assert!(said.contains("you may write there"), "{said}");
}
