//! The home network and the books, by the built command.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Command, Output, Stdio};

use serde_json::Value;

fn interstice(book: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_interstice"));
    command
        .arg("--book")
        .arg(book)
        .env_remove("INTERSTICE_PASSPHRASE");
    command
}

fn json(output: &Output) -> Value {
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    serde_json::from_slice(&output.stdout).unwrap()
}

#[test]
fn the_passphrase_is_long_and_never_an_argument() {
    let folder = tempfile::tempdir().unwrap();
    let book = folder.path().join("a.interstice");
    let home = ["serve", "--home", "--address", "127.0.0.1", "--home-port", "0"];
    let none = interstice(&book)
        .args(home)
        .stdin(Stdio::null())
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&none.stderr).into_owned();
    assert_eq!(none.status.code(), Some(2));
    assert!(
        said.contains("--passphrase-file or INTERSTICE_PASSPHRASE"),
        "{said}"
    );
    let short = interstice(&book)
        .args(home)
        .env("INTERSTICE_PASSPHRASE", "short")
        .output()
        .unwrap();
    assert_eq!(short.status.code(), Some(2));
    let argument = interstice(&book)
        .args(home)
        .args(["--passphrase", "x"])
        .output()
        .unwrap();
    assert_eq!(argument.status.code(), Some(2));
    let foreign = interstice(&book)
        .args(["serve", "--home", "--address", "203.0.113.9"])
        .output()
        .unwrap();
    assert_eq!(foreign.status.code(), Some(2));
    assert!(!book.exists());
}

#[test]
fn a_code_is_shown_and_another_for_each_line() {
    let folder = tempfile::tempdir().unwrap();
    let book = folder.path().join("a.interstice");
    let secret = folder.path().join("passphrase");
    std::fs::write(&secret, "five words are enough here\n").unwrap();
    let mut served = interstice(&book)
        .args([
            "serve",
            "--home",
            "--address",
            "127.0.0.1",
            "--home-port",
            "0",
            "--passphrase-file",
        ])
        .arg(&secret)
        .stdin(Stdio::piped())
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut lines = BufReader::new(served.stderr.take().unwrap()).lines();
    let mut until = |word: &str| loop {
        let line = lines.next().unwrap().unwrap();
        if let Some((_, rest)) = line.split_once(word) {
            return rest.to_owned();
        }
    };
    assert!(until("at home on ").starts_with("https://127.0.0.1:"));
    let fingerprint = until("certificate, SHA-256")
        .split(": ")
        .last()
        .unwrap()
        .to_owned();
    assert_eq!(fingerprint.split(':').count(), 32, "{fingerprint}");
    let first = until("code for one new device: ");
    served.stdin.as_mut().unwrap().write_all(b"\n").unwrap();
    let second = until("code for one new device: ");
    served.kill().unwrap();
    served.wait().unwrap();
    assert_ne!(first, second);
    // Another passphrase is not taken for the same one.
    let other = interstice(&book)
        .args(["serve", "--home", "--address", "127.0.0.1"])
        .env("INTERSTICE_PASSPHRASE", "five other words are these")
        .output()
        .unwrap();
    assert_eq!(other.status.code(), Some(2));
}

#[test]
fn links_and_devices_are_listed_and_ended() {
    let folder = tempfile::tempdir().unwrap();
    let book = folder.path().join("a.interstice");
    let run = |args: &[&str]| interstice(&book).arg("--json").args(args).output().unwrap();
    assert_eq!(json(&run(&["devices"]))["devices"], Value::Array(Vec::new()));
    let made = json(&run(&["links", "--make", "visit", "--days", "3"]));
    let path = made["made"].as_str().unwrap();
    assert_eq!(path.len(), "/link/".len() + 64);
    assert_eq!(made["links"][0]["id"], 1);
    let listed = json(&run(&["links"]));
    assert!(
        !listed.to_string().contains(&path[6..]),
        "the secret is told once"
    );
    assert_eq!(
        json(&run(&["links", "--revoke", "1"]))["links"],
        Value::Array(Vec::new())
    );
    assert_eq!(run(&["links", "--revoke", "1"]).status.code(), Some(2));
    assert_eq!(run(&["devices", "--revoke", "7"]).status.code(), Some(2));
    assert_eq!(
        run(&["links", "--make", "visit", "--days", "99"]).status.code(),
        Some(2)
    );
}

#[test]
fn the_books_of_a_folder_are_listed_and_the_one_that_is_meant_is_said() {
    let folder = tempfile::tempdir().unwrap();
    let [first, second] = ["anna.interstice", "ben.interstice"].map(|name| folder.path().join(name));
    let none = json(&interstice(&first).args(["--json", "books"]).output().unwrap());
    assert_eq!(none["books"], Value::Array(Vec::new()));
    for book in [&first, &second] {
        let log = interstice(book).args(["log", "meal", "40"]).output().unwrap();
        assert!(log.status.success());
    }
    interstice(&second)
        .args(["visit-set", "--name", "Ben"])
        .output()
        .unwrap();
    std::fs::write(folder.path().join("broken.interstice"), "no book").unwrap();
    std::fs::write(folder.path().join("notes.txt"), "no book").unwrap();
    let all = json(&interstice(&second).args(["--json", "books"]).output().unwrap());
    let books = all["books"].as_array().unwrap();
    assert_eq!(books.len(), 3, "{all}");
    assert_eq!(
        (&books[0]["meant"], &books[0]["name"]),
        (&Value::Bool(true), &Value::from("Ben"))
    );
    let broken = books
        .iter()
        .find(|book| book["file"].as_str().unwrap().contains("broken"))
        .unwrap();
    assert!(broken["trouble"].is_string());
    let text = interstice(&second).arg("books").output().unwrap();
    let text = String::from_utf8(text.stdout).unwrap();
    assert!(
        text.starts_with("* ") && text.contains("of Ben") && text.contains("--book FILE"),
        "{text}"
    );
}
