//! Feeds by the built command: tokens, sending, and a server that is killed while readings come in.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

use std::collections::BTreeSet;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Output, Stdio};
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

use interstice_desk::{Book, Mode};
use serde_json::{Value, json};

fn interstice(book: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_interstice"));
    command.arg("--book").arg(book).env("TZ", "UTC");
    command
}

fn json_of(output: &Output) -> Value {
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    serde_json::from_slice(&output.stdout).unwrap()
}

fn feeds(book: &Path, args: &[&str]) -> Value {
    json_of(
        &interstice(book)
            .arg("--json")
            .arg("feeds")
            .args(args)
            .output()
            .unwrap(),
    )
}

fn token(book: &Path) -> String {
    feeds(book, &["--make-token", "phone"])["made"]["token"]
        .as_str()
        .unwrap()
        .to_owned()
}

fn now() -> i64 {
    SystemTime::now().duration_since(UNIX_EPOCH).unwrap().as_secs() as i64
}

/// The app, killed when dropped.
struct Serving {
    child: Child,
    address: String,
}

impl Serving {
    fn start(book: &Path) -> Self {
        let mut child = interstice(book)
            .arg("serve")
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut line = String::new();
        BufReader::new(child.stderr.take().unwrap())
            .read_line(&mut line)
            .unwrap();
        let address = line.trim().rsplit_once("http://").unwrap().1.to_owned();
        Serving { child, address }
    }

    /// Status and body; `None` where the connection broke.
    fn push(&self, token: &str, body: &str) -> Option<(u16, String)> {
        push(&self.address, token, body)
    }
}

impl Drop for Serving {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn push(address: &str, token: &str, body: &str) -> Option<(u16, String)> {
    let mut stream = TcpStream::connect(address).ok()?;
    stream.set_read_timeout(Some(Duration::from_secs(20))).ok()?;
    let request = format!(
        "POST /push HTTP/1.1\r\nHost: {address}\r\nAuthorization: Bearer {token}\r\nContent-Type: application/json\r\n\
         Connection: close\r\nContent-Length: {}\r\n\r\n{body}",
        body.len()
    );
    stream.write_all(request.as_bytes()).ok()?;
    let mut answer = String::new();
    stream.read_to_string(&mut answer).ok()?;
    let (head, body) = answer.split_once("\r\n\r\n")?;
    Some((head.split(' ').nth(1)?.parse().ok()?, body.to_owned()))
}

fn reading(at: i64) -> String {
    json!({ "at": at, "glucose": 104, "unit": "mg/dL", "sensor": "A" }).to_string()
}

#[test]
fn a_feed_is_made_told_of_and_ended() {
    let folder = tempfile::tempdir().unwrap();
    let book = folder.path().join("a.interstice");
    let token = token(&book);
    let serving = Serving::start(&book);
    let last = now() - 3600;
    let list: Vec<String> = (0..20).map(|i| reading(last - i * 300)).collect();
    let (status, body) = serving.push(&token, &format!("[{}]", list.join(","))).unwrap();
    assert_eq!(status, 200, "{body}");
    assert_eq!(serving.push(&token, &reading(now() + 7200)).unwrap().0, 422);
    let told = feeds(&book, &[]);
    let line = &told["feeds"][0];
    assert_eq!(
        (&line["name"], &line["comes"], &line["rejected"]),
        (&"phone".into(), &"sent".into(), &1.into())
    );
    assert_eq!(line["interval_min"], 5.0, "{told}");
    let late = line["late_min"].as_f64().unwrap();
    assert!((55.0..57.0).contains(&late), "{told}");
    assert!(
        line["last_problem"].as_str().unwrap().contains("future"),
        "{told}"
    );
    assert!(told["made"].is_null() && !told.to_string().contains(&token));
    let text = interstice(&book).arg("feeds").output().unwrap();
    let text = String::from_utf8_lossy(&text.stdout).into_owned();
    assert!(
        text.contains("phone, by its token: last reading") && text.contains("late: "),
        "{text}"
    );
    let none = feeds(&book, &["--revoke", "1"]);
    assert_eq!(none["feeds"], json!([]));
    assert_eq!(
        serving.push(&token, &reading(last)).unwrap().0,
        401,
        "ended at once"
    );
    assert_eq!(
        interstice(&book)
            .args(["feeds", "--revoke", "1"])
            .output()
            .unwrap()
            .status
            .code(),
        Some(2)
    );
}

/// What was answered is in the book, whenever the server is killed; what was not may be sent again.
#[test]
fn what_was_acknowledged_survives_a_kill() {
    let folder = tempfile::tempdir().unwrap();
    let book = folder.path().join("a.interstice");
    let token = token(&book);
    let start = now() - 86_400;
    let (mut next, mut acknowledged) = (start, BTreeSet::new());
    for round in 0..4_u64 {
        let mut serving = Serving::start(&book);
        let address = serving.address.clone();
        let until = Instant::now() + Duration::from_millis(150 + 90 * round);
        let killer = std::thread::spawn(move || {
            std::thread::sleep(until.saturating_duration_since(Instant::now()));
            serving.child.kill().unwrap();
            serving.child.wait().unwrap();
        });
        // Two senders at once, until nothing answers any more.
        let senders: Vec<_> = [0, 1]
            .map(|side| {
                let (address, token) = (address.clone(), token.clone());
                std::thread::spawn(move || {
                    let mut told = Vec::new();
                    for i in 0..200 {
                        let at = next + i * 120 + side * 60;
                        match push(&address, &token, &reading(at)) {
                            Some((200, _)) => told.push(at),
                            Some((429, _)) => {}
                            Some((status, body)) => panic!("{status} {body}"),
                            None => break,
                        }
                    }
                    told
                })
            })
            .into_iter()
            .collect();
        for sender in senders {
            acknowledged.extend(sender.join().unwrap());
        }
        killer.join().unwrap();
        next += 200 * 120;
    }
    assert!(acknowledged.len() > 20, "{}", acknowledged.len());
    let book = Book::open(&book, Mode::ReadOnly).unwrap();
    assert!(book.check().unwrap().is_whole());
    let record = book.load_all().unwrap();
    let there: BTreeSet<i64> = record.traces[0]
        .readings
        .at()
        .iter()
        .map(|&at| i64::from(at))
        .collect();
    let lost: Vec<_> = acknowledged.difference(&there).collect();
    assert!(
        lost.is_empty(),
        "{} of {} are lost",
        lost.len(),
        acknowledged.len()
    );
}
