//! A sensor that is listened to, by the built command, on a bus of its own with a service that is played. No radio was near.
#![cfg(feature = "bluetooth")]
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

#[path = "../../radio/tests/mock/mod.rs"]
mod mock;

use std::io::{BufRead, BufReader, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use interstice_intake::bluetooth::SessionStart;
use mock::{ADDRESS, Bluez, Daemon, Sensor, record};
use serde_json::Value;

const PATIENCE: Duration = Duration::from_secs(30);

struct Ended(Child);

impl Drop for Ended {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

fn interstice(book: &Path, bus: &str) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_interstice"));
    command
        .arg("--book")
        .arg(book)
        .env("TZ", "UTC")
        .env("DBUS_SYSTEM_BUS_ADDRESS", bus);
    command
}

/// Off the thread that plays the service: the command asks it.
async fn asked(book: &Path, bus: &str, args: &[&str]) -> (bool, Value, String) {
    let mut command = interstice(book, bus);
    command.arg("--json").args(args);
    let out = tokio::task::spawn_blocking(move || command.output().unwrap())
        .await
        .unwrap();
    let document = serde_json::from_slice(&out.stdout).unwrap_or_default();
    (
        out.status.success(),
        document,
        String::from_utf8_lossy(&out.stderr).into_owned(),
    )
}

/// A sensor whose session began an hour ago by this machine's clock.
fn sensor() -> Sensor {
    let began = jiff::Timestamp::now().as_second() / 60 * 60 - 3600;
    let wall = jiff::tz::Offset::UTC.to_datetime(jiff::Timestamp::from_second(began).unwrap());
    let parts = [
        wall.month(),
        wall.day(),
        wall.hour(),
        wall.minute(),
        wall.second(),
    ];
    Sensor {
        start: SessionStart {
            year: u16::try_from(wall.year()).unwrap(),
            parts: parts.map(|part| u8::try_from(part).unwrap()),
            zone_quarters: 0,
            daylight_quarters: 0,
        },
        // The next one is due this minute.
        minute: 60,
        ..Sensor::with_stored(0..=55)
    }
}

/// Listens to what open pages are told; answers once that is agreed.
fn pages(address: &str) -> BufReader<TcpStream> {
    let mut stream = TcpStream::connect(address).unwrap();
    stream.set_read_timeout(Some(PATIENCE)).unwrap();
    write!(
        stream,
        "GET /events HTTP/1.1\r\nHost: {address}\r\nAccept: text/event-stream\r\n\r\n"
    )
    .unwrap();
    let mut lines = BufReader::new(stream);
    until(&mut lines, "retry:");
    lines
}

fn until(lines: &mut BufReader<TcpStream>, what: &str) {
    loop {
        let mut line = String::new();
        assert!(
            lines.read_line(&mut line).unwrap() > 0,
            "the pages were left alone"
        );
        if line.contains(what) {
            return;
        }
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_paired_sensor_is_found_listened_to_and_shown_at_once() {
    let Some(daemon) = Daemon::start() else { return };
    let bus = daemon.address.clone();
    let folder = tempfile::tempdir().unwrap();
    let book = folder.path().join("book");
    let (is_done, _, told) = asked(&book, &bus, &["feeds", "--radio"]).await;
    assert!(
        !is_done && told.contains("look whether Bluetooth is on"),
        "{told}"
    );

    let bluez = Bluez::start(&bus, sensor()).await;
    let (_, found, _) = asked(&book, &bus, &["feeds", "--radio"]).await;
    assert_eq!(found["paired"][0]["address"], ADDRESS);
    let (is_done, _, told) = asked(&book, &bus, &["feeds", "--radio", "00:00:00:00:00:01"]).await;
    assert!(!is_done && told.contains("no paired device"), "{told}");
    let (_, made, told) = asked(&book, &bus, &["feeds", "--radio", ADDRESS]).await;
    assert_eq!(made["feeds"][0]["comes"], "radio", "{told}");
    assert_eq!(made["feeds"][0]["name"], "left arm");

    let mut serving = interstice(&book, &bus)
        .arg("serve")
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut line = String::new();
    BufReader::new(serving.stderr.take().unwrap())
        .read_line(&mut line)
        .unwrap();
    let _serving = Ended(serving);
    let address = line.trim().rsplit_once("http://").unwrap().1.to_owned();

    let begun = Instant::now();
    let feed = loop {
        let (_, told, _) = asked(&book, &bus, &["feeds"]).await;
        if !told["feeds"][0]["last_reading"].is_null() {
            break told["feeds"][0].clone();
        }
        assert!(begun.elapsed() < PATIENCE, "{told}");
        tokio::time::sleep(Duration::from_millis(50)).await;
    };
    assert_eq!(feed["interval_min"], 5.0, "{feed}");
    assert!(feed["trouble"].is_null() && feed["note"].is_null(), "{feed}");

    let mut lines = tokio::task::spawn_blocking(move || pages(&address))
        .await
        .unwrap();
    let sent = Instant::now();
    bluez.measure(record(60, 151)).await;
    tokio::task::spawn_blocking(move || until(&mut lines, "data: news"))
        .await
        .unwrap();
    println!(
        "an open page heard of a reading {:?} after the radio sent it",
        sent.elapsed()
    );
    assert!(sent.elapsed() < Duration::from_secs(1), "{:?}", sent.elapsed());
    let (_, now, _) = asked(&book, &bus, &["now"]).await;
    assert!(now.to_string().contains("151"), "{now}");

    let (_, journal, _) = asked(&book, &bus, &["imports"]).await;
    assert!(journal.to_string().contains("left arm"), "{journal}");
    let (is_done, ended, told) = asked(&book, &bus, &["feeds", "--revoke", "1"]).await;
    assert!(is_done, "{told}");
    assert_eq!(ended["feeds"].as_array().map(Vec::len), Some(0));
}
