//! Plain traces: the same whichever way they are written.

#![expect(clippy::unwrap_used, reason = "a test fails by panicking, helpers included")]

use interstice_demo::long::{AwkwardOptions, write_awkward, write_clean};
use interstice_glucose::{WallInstants, WallTime};

/// 2025-03-01T00:07:00Z: both clock changes of 2025 lie in the year after it.
const START: i64 = 1_740_787_620;

fn clean(interval_s: u32, rows: u64) -> (String, interstice_demo::long::Written) {
    let mut bytes = Vec::new();
    let written = write_clean(&mut bytes, START, interval_s, rows, 3).unwrap();
    (String::from_utf8(bytes).unwrap(), written)
}

#[test]
fn clean_rows_are_evenly_spaced_and_counted() {
    let (text, written) = clean(300, 30_000);
    let rows: Vec<(&str, u64)> = text
        .lines()
        .skip(1)
        .map(|line| line.split_once(',').unwrap())
        .map(|(t, v)| (t, v.parse().unwrap()))
        .collect();
    assert_eq!(
        (rows.len() as u64, written.readings, written.repeats),
        (30_000, 30_000, 0)
    );
    assert_eq!(rows[0].0, "2025-03-01T00:07:00Z");
    assert_eq!(rows.iter().map(|row| row.1).sum::<u64>(), written.sum_mg_dl);
    let mut due = START;
    for (time, value) in rows {
        assert_eq!(time.parse::<jiff::Timestamp>().unwrap().as_second(), due);
        assert!((40..=400).contains(&value));
        due += 300;
    }
    assert_eq!(written.last, due - 300);
}

#[test]
fn values_look_like_glucose() {
    let (text, _) = clean(60, 200_000);
    let values: Vec<f64> = text
        .lines()
        .skip(1)
        .map(|line| line.split_once(',').unwrap().1.parse().unwrap())
        .collect();
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let sd = (values.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / n).sqrt();
    assert!((120.0..180.0).contains(&mean), "{mean}");
    assert!((0.25..0.45).contains(&(sd / mean)), "{}", sd / mean);
    let low = values.iter().filter(|&&x| x < 70.0).count() as f64 / n;
    assert!((0.005..0.10).contains(&low), "{low}");
}

#[test]
fn awkward_rows_tell_the_same_readings() {
    let options = AwkwardOptions::default();
    let (text, _) = clean(300, 105_000);
    let mut bytes = Vec::new();
    let written = write_awkward(&mut bytes, START, 300, 105_000, 3, &options).unwrap();
    let awkward = String::from_utf8(bytes).unwrap();
    let rows: Vec<&str> = awkward.trim_end().split("\r\n").skip(2).collect();
    assert_eq!(rows.len() as u64, written.rows);
    assert_eq!(
        written.rows,
        written.readings + written.repeats + written.conflicts
    );
    assert!(written.repeats > 1500 && written.conflicts > 100);
    let mut last = i64::MIN;
    let mut told: Vec<(i64, f64)> = Vec::new();
    for row in rows.iter().take(105_000) {
        let cells: Vec<&str> = row.split(';').collect();
        last = match options.zone.instants(wall(cells[0])) {
            WallInstants::Once(at) => at,
            WallInstants::Twice(first, second) => {
                if first >= last {
                    first
                } else {
                    second
                }
            }
            WallInstants::Never => panic!("{row} was skipped"),
        };
        told.push((last, cells[1].replace(',', ".").parse().unwrap()));
    }
    assert!(!told.is_sorted_by_key(|t| t.0), "blocks are shuffled");
    told.sort_by_key(|t| t.0);
    for (line, (at, mmol)) in text.lines().skip(1).zip(told) {
        let (time, mg_dl) = line.split_once(',').unwrap();
        assert_eq!(time.parse::<jiff::Timestamp>().unwrap().as_second(), at);
        assert!((mmol * 18.0156 - mg_dl.parse::<f64>().unwrap()).abs() < 0.91);
    }
}

/// '17.03.2025 01:04:00 PM'
fn wall(text: &str) -> WallTime {
    let parts: Vec<i64> = text[..19]
        .split(['.', ' ', ':'])
        .map(|part| part.parse().unwrap())
        .collect();
    let hour = parts[3] % 12 + if text.ends_with("PM") { 12 } else { 0 };
    WallTime::new(
        i16::try_from(parts[2]).unwrap(),
        i8::try_from(parts[1]).unwrap(),
        i8::try_from(parts[0]).unwrap(),
        hour * 3600 + parts[4] * 60 + parts[5],
    )
    .unwrap()
}
