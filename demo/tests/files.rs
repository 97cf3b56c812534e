//! What the three files hold, read with a few lines of our own here rather than with the importer.

#![expect(clippy::unwrap_used, reason = "a test fails by panicking, helpers included")]

use std::collections::BTreeMap;
use std::io::Read;
use std::sync::LazyLock;

use interstice_demo::{DEFAULT_SEED, Deed, FileCounts, Scenario};
use interstice_glucose::{WallInstants, WallTime, Zone};

static SCENARIO: LazyLock<Scenario> = LazyLock::new(|| Scenario::build(DEFAULT_SEED));

/// Places of the files.
const RELAY: usize = 0;
const READINGS: usize = 1;
const DIARY: usize = 2;

fn counts(file: usize) -> &'static FileCounts {
    &SCENARIO.truth.counts.files[file]
}

fn readings_text() -> String {
    String::from_utf8(SCENARIO.files[READINGS].bytes.clone()).unwrap()
}

fn diary_text() -> String {
    let units: Vec<u16> = SCENARIO.files[DIARY]
        .bytes
        .chunks_exact(2)
        .map(|pair| u16::from_le_bytes([pair[0], pair[1]]))
        .collect();
    assert_eq!(units[0], 0xfeff);
    String::from_utf16(&units[1..]).unwrap()
}

fn relay_text() -> String {
    let mut text = String::new();
    flate2::read::GzDecoder::new(SCENARIO.files[RELAY].bytes.as_slice())
        .read_to_string(&mut text)
        .unwrap();
    text
}

/// Home wall times in file order as instants: the repeated hour is told by time stepping back.
fn instants(walls: impl Iterator<Item = WallTime>) -> Vec<i64> {
    let home = Zone::named(SCENARIO.zone).unwrap();
    let mut last = i64::MIN;
    walls
        .map(|wall| {
            last = match home.instants(wall) {
                WallInstants::Once(at) => at,
                WallInstants::Twice(first, second) => {
                    if first >= last {
                        first
                    } else {
                        second
                    }
                }
                WallInstants::Never => panic!("{wall:?} was skipped"),
            };
            last
        })
        .collect()
}

fn wall(date: [&str; 3], hour: i64, minute: i64) -> WallTime {
    let [year, month, day] = date;
    WallTime::new(
        year.parse().unwrap(),
        month.parse().unwrap(),
        day.parse().unwrap(),
        hour * 3600 + minute * 60,
    )
    .unwrap()
}

/// Rows of the diary, quotes undone.
fn diary_rows() -> Vec<Vec<String>> {
    let text = diary_text();
    let body = text.split_once("\r\n\r\n").unwrap().1;
    let (mut rows, mut row, mut cell, mut quoted) = (Vec::new(), Vec::new(), String::new(), false);
    let mut chars = body.chars().peekable();
    while let Some(c) = chars.next() {
        match c {
            '"' if quoted && chars.peek() == Some(&'"') => cell.extend(chars.next()),
            '"' => quoted = !quoted,
            '\t' if !quoted => row.push(std::mem::take(&mut cell)),
            '\r' if !quoted && chars.peek() == Some(&'\n') => {
                chars.next();
                row.push(std::mem::take(&mut cell));
                rows.push(std::mem::take(&mut row));
            }
            other => cell.push(other),
        }
    }
    rows
}

#[test]
fn readings_file_holds_the_counted_readings_at_their_instants_but_for_the_planted_contradictions() {
    let text = readings_text();
    let rows: Vec<Vec<&str>> = text
        .trim_end()
        .split("\r\n")
        .skip(4)
        .map(|line| line.split(';').collect())
        .collect();
    assert_eq!(rows.len() as u64, counts(READINGS).readings);
    let below = rows.iter().filter(|row| row[3] == "unter 2,2").count();
    assert_eq!(below as u64, counts(READINGS).below_range);
    assert!(below > 0, "some readings are below range");
    let times = instants(rows.iter().map(|row| {
        let date: Vec<&str> = row[0].split('.').collect();
        let (hour, minute) = row[1].split_once(':').unwrap();
        wall(
            [date[2], date[1], date[0]],
            hour.parse().unwrap(),
            minute.parse().unwrap(),
        )
    }));
    let truth: BTreeMap<(i64, &str), i32> = SCENARIO
        .truth
        .readings
        .iter()
        .map(|r| {
            (
                (r.at, SCENARIO.truth.sensors[r.sensor].wear.sensor.as_str()),
                r.mg_dl,
            )
        })
        .collect();
    let mut contradictions = 0;
    for (row, at) in rows.iter().zip(times) {
        let mg_dl = truth[&(at, row[2])];
        let said = row[3]
            .trim_start_matches(|c: char| !c.is_ascii_digit())
            .replace(',', ".");
        let said: f64 = said.parse().unwrap();
        // Half a step of each unit; the planted contradictions are nine mg/dL and more away.
        let difference = (said * 18.0156 - f64::from(mg_dl)).abs();
        assert!(difference <= 0.91 || difference >= 8.0, "{row:?} for {mg_dl}");
        contradictions += u64::from(difference >= 8.0);
    }
    assert_eq!(contradictions, SCENARIO.truth.counts.conflicts);
    assert_eq!(contradictions, 36);
}

#[test]
fn both_clock_changes_pass_through_the_readings_file() {
    let text = readings_text();
    let on = |date: &str, hour: &str| {
        text.lines()
            .filter(|line| line.starts_with(&format!("{date};{hour}:")))
            .count()
    };
    assert!(
        on("26.10.2025", "02") > 12,
        "the repeated hour has up to twenty-four readings"
    );
    assert_eq!(on("29.03.2026", "02"), 0, "the skipped hour has none");
    assert!(on("29.03.2026", "01") + on("29.03.2026", "03") > 12);
}

#[test]
fn diary_holds_the_counted_entries_at_their_instants() {
    let rows = diary_rows();
    let (head, rows) = rows.split_first().unwrap();
    assert_eq!(head.join("|"), "Day|Clock|Entry|Amount|Unit|Sensor|Site|Remarks");
    let kind = |prefix: &str| rows.iter().filter(|row| row[2].starts_with(prefix)).count() as u64;
    let c = counts(DIARY);
    assert_eq!(
        [
            c.rows,
            c.blood_checks,
            c.rapid_doses,
            c.long_doses,
            c.meals,
            c.activities,
            c.sleeps,
            c.sensor_notes,
            c.notes
        ],
        [
            rows.len() as u64,
            kind("Blood check"),
            kind("Rapid insulin"),
            kind("Long insulin"),
            kind("Carbohydrate"),
            kind("Activity"),
            kind("Sleep"),
            kind("Sensor "),
            kind("Note"),
        ]
    );
    let times = instants(rows.iter().map(|row| {
        let date: Vec<&str> = row[0].split('/').collect();
        let (clock, half) = row[1].split_once(' ').unwrap();
        let (hour, minute) = clock.split_once(':').unwrap();
        let hour = hour.parse::<i64>().unwrap() % 12 + if half == "PM" { 12 } else { 0 };
        wall([date[2], date[0], date[1]], hour, minute.parse().unwrap())
    }));
    let logged: Vec<i64> = SCENARIO
        .truth
        .entries
        .iter()
        .filter(|e| e.logged)
        .map(|e| e.at)
        .collect();
    assert_eq!(times, logged);
}

#[test]
fn diary_checks_twice_in_the_repeated_hour() {
    let rows = diary_rows();
    let clocks: Vec<&str> = rows
        .iter()
        .filter(|row| {
            row[0] == "10/26/2025"
                && row[1].starts_with("2:")
                && row[1].ends_with("AM")
                && row[2] == "Blood check"
        })
        .map(|row| row[1].as_str())
        .collect();
    let place = |clock: &str| clocks.iter().position(|&c| c == clock).unwrap();
    assert!(place("2:40 AM") < place("2:10 AM"), "{clocks:?}");
}

#[test]
fn diary_has_quotes_tabs_and_line_breaks_in_cells() {
    let text = diary_text();
    assert!(
        text.contains("\"tired,\tbut fine\"")
            && text.contains("\"\"light\"\"")
            && text.contains("dumplings.\nThey")
    );
}

#[test]
fn relay_repeats_as_counted_and_keeps_to_the_truth() {
    let text = relay_text();
    let rows: Vec<&str> = text.lines().skip(2).collect();
    let distinct: std::collections::BTreeSet<&str> = rows.iter().copied().collect();
    let c = counts(RELAY);
    assert_eq!(rows.len() as u64, c.rows);
    assert_eq!((rows.len() - distinct.len()) as u64, c.repeated_rows);
    assert!(c.repeated_rows >= 288);
    let of = |kind: &str| {
        distinct
            .iter()
            .filter(|row| row.contains(&format!(",{kind},")))
            .count() as u64
    };
    assert_eq!((of("sensor"), of("finger-prick")), (c.readings, c.blood_checks));
    let said: BTreeMap<(i64, &str), &str> = distinct
        .iter()
        .map(|row| row.split(',').collect::<Vec<_>>())
        .filter(|cells| cells[1] == "sensor")
        .map(|cells| {
            (
                (cells[0].parse::<jiff::Timestamp>().unwrap().as_second(), cells[2]),
                cells[3],
            )
        })
        .collect();
    let mut told = 0;
    for r in &SCENARIO.truth.readings {
        let sensor = SCENARIO.truth.sensors[r.sensor].wear.sensor.as_str();
        if let Some(said) = said.get(&(r.at, sensor)) {
            assert_eq!(said.trim_start_matches(['<', '>']), r.mg_dl.to_string());
            told += 1;
        }
    }
    assert_eq!(told, c.readings);
    for offset in ["+02:00", "+01:00", "+00:00", "-01:00", "-02:00"] {
        // The relay was on from November to February: summer time is not in it.
        assert_eq!(
            text.contains(&format!("{offset},")),
            offset != "+02:00",
            "{offset}"
        );
    }
}

#[test]
fn files_together_have_every_reading_once() {
    let c = &SCENARIO.truth.counts;
    assert_eq!(c.readings, SCENARIO.truth.readings.len() as u64);
    assert!(
        counts(READINGS).readings < c.readings,
        "the relay has readings the reader has not"
    );
    let checks = SCENARIO
        .truth
        .entries
        .iter()
        .filter(|e| matches!(e.deed, Deed::BloodCheck { .. }))
        .count() as u64;
    assert!(c.blood_checks <= checks && c.blood_checks > counts(DIARY).blood_checks);
}
