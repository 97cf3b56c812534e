//! A book of an earlier layout through the real binary: it is brought forward, that is said, and it tells the same.
//!
//! The books are those of testdata/book, written by the code of their time.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

mod common;

use std::io::{BufRead, BufReader, Read, Write as _};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};

use common::run;
use serde_json::Value;
use tempfile::TempDir;

/// Layouts before the present one.
const EARLIER: [u32; 5] = [1, 2, 3, 4, 5];

fn lay_down(folder: &Path, layout: u32) -> PathBuf {
    let kept =
        Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("../../testdata/book/v{layout}.interstice.zst"));
    let bytes = zstd::decode_all(std::fs::read(kept).unwrap().as_slice()).unwrap();
    let path = folder.join("old.interstice");
    std::fs::write(&path, bytes).unwrap();
    path
}

fn messages(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

#[test]
fn an_earlier_book_is_brought_forward_once_and_gives_the_same_account() {
    let accounts = EARLIER.map(|layout| {
        let folder = TempDir::new().unwrap();
        let book = lay_down(folder.path(), layout);
        let first = run(&book, &["review", "--json"]);
        assert_eq!(first.status.code(), Some(0), "{}", messages(&first));
        let said = messages(&first);
        assert!(
            said.contains(&format!("layout {layout}")) && said.contains("brought forward"),
            "{said}"
        );
        let again = run(&book, &["review", "--json"]);
        assert_eq!(messages(&again), "");
        assert_eq!(first.stdout, again.stdout);
        let check = run(&book, &["check"]);
        assert_eq!(check.status.code(), Some(0), "{}", messages(&check));
        let mut account: Value = serde_json::from_slice(&first.stdout).unwrap();
        // The later book holds a blood check more, which stands beside the episodes.
        account["episodes"].take();
        account
    });
    assert_eq!(accounts[0]["sufficiency"]["received"], 588);
    assert!(accounts.iter().all(|account| *account == accounts[0]));
}

/// The served program and the lines it said before it listened.
fn serve(book: &Path) -> (Child, String, String) {
    let mut served = Command::new(env!("CARGO_BIN_EXE_interstice"))
        .arg("--book")
        .arg(book)
        .args(["serve", "--port", "0"])
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut lines = BufReader::new(served.stderr.take().unwrap()).lines();
    let mut said = String::new();
    let mut address = String::new();
    while address.is_empty() {
        let line = lines
            .next()
            .map_or_else(|| "listening on http://nothing".to_owned(), Result::unwrap);
        match line.strip_prefix("listening on http://") {
            Some(found) => found.clone_into(&mut address),
            None => said.push_str(&line),
        }
    }
    (served, address, said)
}

#[test]
fn pages_of_an_earlier_book_are_served_and_it_is_said_what_was_done() {
    for layout in EARLIER {
        let folder = TempDir::new().unwrap();
        let book = lay_down(folder.path(), layout);
        let (mut served, address, said) = serve(&book);
        let answers = ["/review", "/days", "/trust", "/imports", "/settings"].map(|page| {
            let mut stream = TcpStream::connect(&address).unwrap();
            write!(
                stream,
                "GET {page} HTTP/1.1\r\nHost: {address}\r\nConnection: close\r\n\r\n"
            )
            .unwrap();
            let mut answer = String::new();
            stream.read_to_string(&mut answer).unwrap();
            answer
        });
        served.kill().unwrap();
        served.wait().unwrap();
        for answer in answers {
            assert!(answer.starts_with("HTTP/1.1 200"), "{answer}");
        }
        assert!(said.contains("brought forward"), "{said}");
    }
}
