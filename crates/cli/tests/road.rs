//! The straight road through the real binary: a file goes in, an account comes out, and it can be taken back.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

use std::fmt::Write as _;
use std::io::{BufRead, BufReader, Read, Write as _};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Command, Output, Stdio};

use interstice_glucose::{Comfort, Ending, Removal, Side, SkinAfter};
use serde_json::Value;
use tempfile::TempDir;

struct Desk {
    folder: TempDir,
}

impl Desk {
    fn new() -> Self {
        Desk {
            folder: TempDir::new().unwrap(),
        }
    }

    fn file(&self, name: &str, bytes: impl AsRef<[u8]>) -> String {
        let path = self.folder.path().join(name);
        std::fs::write(&path, bytes).unwrap();
        path.display().to_string()
    }

    fn book(&self) -> std::path::PathBuf {
        self.folder.path().join("test.interstice")
    }

    fn run(&self, args: &[&str]) -> Output {
        Command::new(env!("CARGO_BIN_EXE_interstice"))
            .arg("--book")
            .arg(self.book())
            .args(args)
            .env("TZ", "UTC")
            .output()
            .unwrap()
    }

    fn json(&self, args: &[&str]) -> (i32, Value) {
        let output = self.run(&[args, &["--json"]].concat());
        let text = String::from_utf8(output.stdout).unwrap();
        let value = serde_json::from_str(&text)
            .unwrap_or_else(|e| panic!("{args:?}: {e}: {text}{}", String::from_utf8_lossy(&output.stderr)));
        (output.status.code().unwrap(), value)
    }
}

/// Twenty days of a slow wave between 60 and 200 mg/dL, every five minutes, from 2025-01-01.
fn wave_csv() -> String {
    let mut text = String::from("time,glucose mg/dL\n");
    for i in 0..20 * 288 {
        let (day, minute) = (1 + i / 288, i % 288 * 5);
        let value = 130.0 + 70.0 * (f64::from(i) / 40.0).sin();
        let _ = writeln!(
            text,
            "2025-01-{day:02}T{:02}:{:02}:00Z,{value:.0}",
            minute / 60,
            minute % 60
        );
    }
    text
}

#[test]
fn an_import_twice_changes_nothing_and_undo_takes_it_back() {
    let desk = Desk::new();
    let file = desk.file("wave.csv", wave_csv());
    let (code, first) = desk.json(&["import", &file]);
    assert_eq!(code, 0, "{first}");
    assert_eq!(first["files"][0]["status"], "imported");
    assert_eq!(first["files"][0]["readings_new"], 5760);
    assert_eq!(first["files"][0]["interval_min"], 5.0);

    let (code, again) = desk.json(&["import", &file]);
    assert_eq!(code, 0);
    assert_eq!(again["files"][0]["readings_new"], 0);
    assert_eq!(again["files"][0]["already_there"], 5760);

    let (code, review) = desk.json(&["review", "--days", "14"]);
    assert_eq!(code, 0);
    assert_eq!(review["sufficiency"]["received"], 14 * 288);
    assert_eq!(review["sufficiency"]["enough"], true);
    assert_eq!(review["usual_day"].as_array().unwrap().len(), 288);

    assert_eq!(desk.run(&["undo"]).status.code(), Some(0));
    assert_eq!(desk.run(&["review"]).status.code(), Some(1));
}

/// An invented logbook: times, finger-pricks and insulin by hand, no sensor.
#[test]
fn a_logbook_without_a_sensor_is_reviewed() {
    let desk = Desk::new();
    let mut text = String::from("time;blood glucose mmol/L;rapid insulin U\n");
    for day in 1..=20 {
        for (hour, value) in [(7, 6.1), (12, 10.4), (18, 3.6), (22, 8.2)] {
            let units = if hour < 20 { "4" } else { "" };
            let _ = writeln!(text, "2025-01-{day:02} {hour:02}:15;{value};{units}");
        }
    }
    let file = desk.file("logbook.csv", text);
    let (code, told) = desk.json(&["import", &file, "--zone", "Europe/Lisbon"]);
    assert_eq!(
        (code, &told["files"][0]["blood_checks_new"]),
        (0, &80.into()),
        "{told}"
    );
    let (code, account) = desk.json(&["review", "--days", "20"]);
    let checks = &account["blood_checks"];
    assert_eq!(
        (code, &checks["checks"], &checks["unit"]),
        (0, &80.into(), &"mmol/L".into()),
        "{account}"
    );
    assert_eq!(checks["summary"]["below_percent"], 25.0);
    assert_eq!(checks["insulin"]["kinds"][0]["units_per_day_logged"], 12.0);
    let text = String::from_utf8(desk.run(&["review", "--days", "20"]).stdout).unwrap();
    for said in [
        "Of 80 blood checks on 20 days, 50 % in range, 25 % below and 25 % above.",
        "not\nof time",
        "06:00 to 12:00      20",
    ] {
        assert!(text.contains(said), "{said} is not in\n{text}");
    }
}

#[test]
fn the_same_book_gives_the_same_bytes() {
    let desk = Desk::new();
    let file = desk.file("wave.csv", wave_csv());
    desk.run(&["import", &file]);
    let first = desk.run(&["review", "--days", "14", "--json"]).stdout;
    let second = desk.run(&["review", "--days", "14", "--json"]).stdout;
    assert!(!first.is_empty());
    assert_eq!(first, second);
}

#[test]
fn a_different_value_at_the_same_instant_is_a_conflict_and_the_first_stands() {
    let desk = Desk::new();
    let csv = wave_csv();
    let first = desk.file("first.csv", &csv);
    let before = csv
        .lines()
        .find(|line| line.starts_with("2025-01-05T12:00:00Z,"))
        .unwrap();
    let changed = csv.replacen(before, "2025-01-05T12:00:00Z,77", 1);
    let second = desk.file("second.csv", changed);
    desk.run(&["import", &first]);
    let (_, before) = desk.json(&["review"]);
    let (code, report) = desk.json(&["import", &second]);
    assert_eq!(code, 1, "{report}");
    assert_eq!(report["files"][0]["conflicts"], 1);
    assert_eq!(report["files"][0]["readings_new"], 0);
    let (_, after) = desk.json(&["review"]);
    assert_eq!(before["summary"], after["summary"]);
    assert_ne!(
        before["notes"], after["notes"],
        "the account says that readings disagreed"
    );
}

#[test]
fn bad_files_are_refused_with_a_next_step_and_leave_no_book_behind() {
    let desk = Desk::new();
    let nothing = desk.file("empty.csv", "");
    let image = desk.file("photo.csv", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\0\x01");
    let pdf = desk.file("sheet.csv", "%PDF-1.7\n1 0 obj\n");
    let poem = desk.file("poem.csv", "so much depends\nupon\na red wheel\nbarrow\n");
    let folder = desk.folder.path().display().to_string();
    for file in [
        &nothing,
        &image,
        &pdf,
        &poem,
        &folder,
        &"/nowhere/at/all.csv".to_owned(),
    ] {
        let (code, report) = desk.json(&["import", file]);
        let status = report["files"][0]["status"].as_str().unwrap();
        assert!(
            code == 3 || (code == 1 && status == "question"),
            "{file}: {code} {report}"
        );
        let said = format!(
            "{}{}",
            report["files"][0]["problems"], report["files"][0]["questions"]
        );
        assert!(said.len() > 30, "{file}: {said}");
        assert!(!desk.book().exists(), "{file} left a book behind");
    }
}

#[test]
fn wrong_usage_is_exit_2_and_a_foreign_book_exit_4() {
    let desk = Desk::new();
    assert_eq!(desk.run(&["review", "--days", "0"]).status.code(), Some(2));
    assert_eq!(
        desk.run(&["import", "x.csv", "--zone", "Atlantis"]).status.code(),
        Some(2)
    );
    assert_eq!(
        desk.run(&["import", "x.csv", "--as", "nonsense"]).status.code(),
        Some(2)
    );
    std::fs::write(desk.book(), "this is not a book").unwrap();
    assert_eq!(desk.run(&["review"]).status.code(), Some(4));
}

#[test]
fn a_sensors_moments_are_written_down() {
    let desk = Desk::new();
    let log = |rest: &[&str]| desk.json(&[&["log", "sensor"], rest].concat());
    let put_on = [
        "put-on",
        "--at",
        "2025-01-03 08:00",
        "--site",
        "upper arm",
        "--side",
        "left",
        "--spot",
        "outer",
        "--prep",
        "shaved",
        "--prep",
        "wiped",
        "--lot",
        "KR-204",
        "--name",
        "S1",
    ];
    assert_eq!(log(&put_on).0, 0);
    let for_an_end = [
        "log",
        "sensor",
        "started",
        "--at",
        "2025-01-04 08:00",
        "--how",
        "failed",
    ];
    assert_eq!(desk.run(&for_an_end).status.code(), Some(2));
    assert_eq!(log(&["started", "--at", "2025-01-04 08:00", "--name", "S1"]).0, 0);
    assert_eq!(
        desk.run(&["log", "sensor", "started", "--skin", "irritant"])
            .status
            .code(),
        Some(2)
    );
    assert_eq!(
        desk.run(&["log", "sensor", "ended", "--comfort", "4"])
            .status
            .code(),
        Some(2)
    );
    let ended = [
        "ended",
        "--at",
        "2025-01-14 08:00",
        "--how",
        "adhesive-gave-way",
        "--removal",
        "oil",
        "--comfort",
        "2",
    ];
    assert_eq!(log(&ended).0, 0);
    let noted = [
        "noted",
        "--at",
        "2025-01-16 08:00",
        "--skin",
        "lump-or-scar",
        "--skin-days",
        "3",
        "--slept",
        "left",
    ];
    assert_eq!(log(&noted).0, 0);
    let book = interstice_desk::Book::open(desk.book(), interstice_desk::Mode::ReadOnly).unwrap();
    let worn = interstice_findings::sensors_worn(&book.load_all().unwrap(), 0, i64::MAX);
    let [worn] = worn.as_slice() else {
        panic!("{worn:?}")
    };
    assert_eq!(worn.site.as_ref().unwrap().to_string(), "left upper arm, outer");
    assert_eq!(
        (worn.bedding_in_h(), worn.detail.lot.as_deref()),
        (Some(24.0), Some("KR-204"))
    );
    assert_eq!(worn.detail.preparation, ["shaved", "wiped"]);
    let detail = &worn.detail;
    assert_eq!(worn.ending(), Some(Ending::AdhesiveGaveWay));
    assert_eq!(
        (
            detail.removal,
            detail.comfort,
            detail.skin,
            detail.skin_days,
            detail.slept
        ),
        (
            Some(Removal::Oil),
            Comfort::new(2),
            Some(SkinAfter::LumpOrScar),
            Some(3),
            Some(Side::Left)
        )
    );
    let (_, journal) = desk.json(&["journal"]);
    assert_eq!(journal["changes"][3]["what"], "logged sensor S1 put on");
}

/// One grey pixel: the signature and chunks of RFC 2083, made once by zlib.
const PIXEL: &[u8] = b"\x89PNG\r\n\x1a\n\0\0\0\x0dIHDR\0\0\0\x01\0\0\0\x01\x08\0\0\0\0\x3a\x7e\x9b\x55\0\0\0\x0aIDAT\x78\xda\x63\x68\0\0\0\x82\0\x81\xda\x45\x08\x3b\0\0\0\0IEND\xae\x42\x60\x82";

#[test]
fn a_photo_beside_a_sensor_comes_out_as_it_went_in() {
    let desk = Desk::new();
    let arm = desk.file("arm.png", PIXEL);
    let noted = [
        "log", "sensor", "noted", "--name", "S1", "--skin", "irritant", "--photo", &arm,
    ];
    assert_eq!(desk.json(&noted).0, 0);
    let (_, listed) = desk.json(&["photo"]);
    assert_eq!(listed["photos"][0]["media"], "image/png");
    assert_eq!(
        (&listed["photos"][0]["name"], &listed["photos"][0]["sensor_id"]),
        (&"arm.png".into(), &"S1".into())
    );
    let out = desk.folder.path().join("out.png").display().to_string();
    let said = desk.run(&["photo", "1", "--out", &out]);
    assert_eq!(said.status.code(), Some(0));
    assert!(String::from_utf8_lossy(&said.stdout).contains("as it was kept"));
    assert_eq!(std::fs::read(&out).unwrap(), PIXEL);
    // A file that is there is not written over, and what is no picture is not kept.
    assert_eq!(desk.run(&["photo", "1", "--out", &out]).status.code(), Some(2));
    assert_eq!(desk.run(&["photo", "9"]).status.code(), Some(2));
    let words = desk.file("words.jpg", "no picture");
    assert_eq!(
        desk.run(&["log", "sensor", "noted", "--photo", &words])
            .status
            .code(),
        Some(2)
    );
    desk.run(&["undo"]);
    assert_eq!(desk.json(&["photo"]).1["photos"].as_array().unwrap().len(), 0);
}

#[test]
fn a_lost_sensor_is_listed_recorded_and_claimed_for() {
    let desk = Desk::new();
    let log = |args: &[&str]| {
        let all: Vec<&str> = ["log", "sensor"].iter().chain(args).copied().collect();
        assert_eq!(desk.json(&all).0, 0, "{args:?}");
    };
    log(&[
        "put-on",
        "--at",
        "2025-01-03 08:00",
        "--name",
        "S1",
        "--site",
        "thigh",
        "--lot",
        "KR-9",
    ]);
    log(&["started", "--at", "2025-01-03 09:00", "--name", "S1"]);
    log(&[
        "ended",
        "--at",
        "2025-01-09 09:00",
        "--name",
        "S1",
        "--how",
        "failed-readings",
        "--skin",
        "clear",
    ]);
    let lost = || desk.json(&["wear"]).1["lost"][0].clone();
    assert_eq!(
        (&lost()["record"], &lost()["ending"]),
        (&"S1".into(), &"failed readings".into())
    );
    let (code, record) = desk.json(&["sensor-record", "S1"]);
    assert_eq!(
        (code, &record["lot"], &record["hours_worn"]),
        (0, &"KR-9".into(), &144.0.into())
    );
    assert!(record["trace"].is_null());
    let file = |name: &str| desk.folder.path().join(name).display().to_string();
    for name in ["s1.pdf", "s1.txt"] {
        assert_eq!(desk.json(&["sensor-record", "S1", "--out", &file(name)]).0, 0);
        assert_eq!(
            desk.run(&["sensor-record", "S1", "--out", &file(name)])
                .status
                .code(),
            Some(2)
        );
    }
    assert!(std::fs::read(file("s1.pdf")).unwrap().starts_with(b"%PDF-"));
    assert!(
        std::fs::read_to_string(file("s1.txt"))
            .unwrap()
            .contains("failed readings")
    );
    assert_eq!(desk.run(&["sensor-record", "S2"]).status.code(), Some(2));
    let claim = [
        "claim",
        "S1",
        "sent",
        "--at",
        "2025-01-10 09:00",
        "--note",
        "by letter",
    ];
    let (code, claims) = desk.json(&claim);
    assert_eq!(
        (code, &claims["claims"][0]["steps"][0]["words"]),
        (0, &"by letter".into())
    );
    assert_eq!(desk.run(&claim).status.code(), Some(2), "written down already");
    assert_eq!(lost()["claim"], "sent");
    desk.run(&["undo"]);
    assert!(lost()["claim"].is_null());
    let (_, wear) = desk.json(&["wear"]);
    assert_eq!(wear["skin"][0]["groups"][0]["told"], 1);
    assert_eq!(
        desk.run(&["wear", "--confirm", "sensor-1"]).status.code(),
        Some(2)
    );
    assert!(String::from_utf8_lossy(&desk.run(&["wear", "--found"]).stdout).contains("Nothing"));
}

#[test]
fn entries_are_written_down_questioned_and_taken_back() {
    let desk = Desk::new();
    let file = desk.file("wave.csv", wave_csv());
    desk.run(&["import", &file, "--zone", "UTC"]);
    let (code, answer) = desk.json(&["log", "blood", "104", "--at", "2025-01-03 08:00"]);
    assert_eq!(code, 0, "{answer}");
    assert!(answer["change_id"].is_i64());
    assert_eq!(
        desk.run(&["log", "blood", "6.1", "--at", "2025-01-03 08:00"])
            .status
            .code(),
        Some(2)
    );
    assert_eq!(
        desk.run(&["log", "dose", "4", "--at", "2099-01-03 08:00"])
            .status
            .code(),
        Some(2)
    );
    assert_eq!(desk.run(&["undo"]).status.code(), Some(0));
    let (_, journal) = desk.json(&["journal"]);
    assert!(journal["changes"].as_array().unwrap().len() >= 3);
}

#[test]
fn readings_marked_as_artefacts_can_be_left_out() {
    let desk = Desk::new();
    let file = desk.file("wave.csv", wave_csv());
    desk.run(&["import", &file, "--zone", "UTC"]);
    let mark = [
        "log",
        "artefact",
        "--at",
        "2025-01-15 00:00",
        "--until",
        "2025-01-15 06:00",
        "--note",
        "pressure",
    ];
    assert_eq!(desk.run(&mark).status.code(), Some(0));
    let (_, with) = desk.json(&["review"]);
    let (_, without) = desk.json(&["review", "--exclude-pressure"]);
    assert_eq!(
        with["sufficiency"]["received"].as_u64().unwrap() - 72,
        without["sufficiency"]["received"].as_u64().unwrap()
    );
    assert_eq!(
        with["summary_without_artefacts"]["mean_mg_dl"],
        without["summary"]["mean_mg_dl"]
    );
}

#[test]
fn explain_shows_and_writes_nothing() {
    let desk = Desk::new();
    let file = desk.file("wave.csv", wave_csv());
    let (code, report) = desk.json(&["import", &file, "--explain"]);
    assert_eq!(code, 0, "{report}");
    assert_eq!(report["files"][0]["status"], "understood");
    assert!(
        report["files"][0]["understanding"]["tables"][0]["columns"]
            .as_array()
            .unwrap()
            .len()
            == 2
    );
    assert!(!Path::new(&desk.book()).exists());
}

#[test]
fn a_file_of_which_no_row_can_be_used_writes_nothing() {
    let desk = Desk::new();
    let file = desk.file("old.csv", wave_csv().replace("2025-01-", "1970-01-"));
    let (code, report) = desk.json(&["import", &file]);
    assert_eq!(code, 3, "{report}");
    assert_eq!(report["files"][0]["status"], "rejected");
    assert_eq!(report["files"][0]["rejected"], 5760);
    assert!(!desk.book().exists());
    let text = String::from_utf8(desk.run(&["import", &file]).stdout).unwrap();
    assert!(text.contains("and 5753 more"), "{text}");
}

/// Without a browser to open, the address is said and the home page is there all the same.
#[test]
fn the_home_page_of_an_empty_book_says_how_to_begin() {
    let desk = Desk::new();
    let mut served = Command::new(env!("CARGO_BIN_EXE_interstice"))
        .arg("--book")
        .arg(desk.book())
        .args(["serve", "--port", "0", "--open"])
        .env("PATH", desk.folder.path())
        .env_remove("BROWSER")
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut line = String::new();
    let mut messages = BufReader::new(served.stderr.take().unwrap());
    messages.read_line(&mut line).unwrap();
    let address = line
        .trim()
        .strip_prefix("listening on http://")
        .unwrap()
        .to_owned();
    let mut stream = TcpStream::connect(&address).unwrap();
    write!(
        stream,
        "GET / HTTP/1.1\r\nHost: {address}\r\nConnection: close\r\n\r\n"
    )
    .unwrap();
    let mut answer = String::new();
    stream.read_to_string(&mut answer).unwrap();
    served.kill().unwrap();
    served.wait().unwrap();
    assert!(answer.starts_with("HTTP/1.1 200"), "{answer}");
    assert!(answer.contains("An empty book"), "{answer}");
}
