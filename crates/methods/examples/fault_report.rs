//! What the fault rules find in recordings of real people, in simulated ones with known truth, and in planted faults.
//!
//! `INTERSTICE_DATA=… cargo run -p interstice-methods --example fault_report`
//!
//! Real recordings have no truth: what is found there is counted as a false alarm, though some of it may be a fault.
//! Planted faults are put at random places of the same recordings, one at a time.

#![expect(
    clippy::print_stdout,
    clippy::unwrap_used,
    clippy::disallowed_methods,
    reason = "it reads recordings, stops where one cannot be read, and prints a table"
)]

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use interstice_methods::faults::{Evidence, Fault, Trace, Wear, faults};
use interstice_methods::trace::native_interval;
use jiff::civil::DateTime;
use jiff::tz::TimeZone;
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Faults planted of each kind in each recording.
const PLANTED: usize = 40;

#[derive(Clone, Default)]
struct Recording {
    name: String,
    at: Vec<u32>,
    mg_dl: Vec<f64>,
    censored: Vec<bool>,
    failing: Vec<bool>,
}

impl Recording {
    fn push(&mut self, at: u32, mg_dl: f64, failing: bool) {
        self.at.push(at);
        self.mg_dl.push(mg_dl);
        self.censored.push(mg_dl <= 40.0 || mg_dl >= 399.0);
        self.failing.push(failing);
    }

    /// In order, the first of repeated instants.
    fn sorted(mut self) -> Self {
        let mut order: Vec<usize> = (0..self.at.len()).collect();
        order.sort_by_key(|&i| (self.at[i], i));
        order.dedup_by_key(|&mut i| self.at[i]);
        let from = std::mem::take(&mut self);
        self.name = from.name;
        for i in order {
            self.push(from.at[i], from.mg_dl[i], from.failing[i]);
        }
        self
    }

    fn faults(&self) -> Vec<Fault> {
        let interval_s = native_interval(&self.at).unwrap();
        let trace = Trace {
            at: &self.at,
            mg_dl: &self.mg_dl,
            censored: &self.censored,
            interval_s,
        };
        faults(
            &trace,
            i64::from(*self.at.last().unwrap()) + 86_400,
            &Wear::default(),
        )
    }

    fn days(&self) -> f64 {
        self.at.len() as f64 * f64::from(native_interval(&self.at).unwrap()) / 86_400.0
    }
}

/// A wall clock time as if it were universal time: spans are all that matters here.
fn second(form: &str, text: &str) -> u32 {
    let at = TimeZone::UTC
        .to_timestamp(DateTime::strptime(form, text).unwrap())
        .unwrap();
    u32::try_from(at.as_second()).unwrap()
}

fn read(path: &Path, time: &str, value: &str, form: &str, factor: f64) -> Recording {
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_path(path)
        .unwrap();
    let headers = reader.headers().unwrap().clone();
    let column = |name: &str| headers.iter().position(|header| header == name);
    let (time, value, artefact) = (column(time).unwrap(), column(value).unwrap(), column("artefact"));
    let mut recording = Recording {
        name: path.file_stem().unwrap().to_string_lossy().into_owned(),
        ..Recording::default()
    };
    for row in reader.records().map(Result::unwrap) {
        let Ok(mg_dl) = row[value].parse::<f64>() else {
            continue;
        };
        let text = row[time].trim_end_matches('Z');
        let at = second(form, text);
        let failing = artefact.is_some_and(|column| &row[column] == "failing");
        recording.push(at, mg_dl * factor, failing);
    }
    recording.sorted()
}

fn real(data: &Path) -> Vec<Recording> {
    let mut recordings = Vec::new();
    for folder in [
        "manchester",
        "bristol",
        "arizona",
        "texas_wearables",
        "hall2018_no_diabetes",
    ] {
        let mut files: Vec<PathBuf> = std::fs::read_dir(data.join("real").join(folder))
            .unwrap()
            .map(|entry| entry.unwrap().path())
            .collect();
        files.sort();
        for file in files {
            let name = file.to_string_lossy();
            if folder == "manchester" && name.ends_with("_glucose.csv") {
                recordings.push(read(&file, "bg_ts", "value", "%d/%m/%Y %H:%M", 18.0156));
            } else if folder != "manchester" {
                recordings.push(read(
                    &file,
                    "time_local",
                    "glucose_mgdl",
                    "%Y-%m-%d %H:%M:%S",
                    1.0,
                ));
            }
        }
    }
    recordings
}

/// Recordings that were not looked at when the rules were set.
fn held_out(data: &Path) -> Vec<Recording> {
    let mut recordings = Vec::new();
    for (folder, value) in [("shanghai", "sensor_mgdl"), ("hupa_ucm", "glucose_mgdl")] {
        let files = std::fs::read_dir(data.join("real").join(folder)).unwrap();
        let mut files: Vec<PathBuf> = files.map(|entry| entry.unwrap().path()).collect();
        files.retain(|file| file.extension().is_some_and(|extension| extension == "csv"));
        files.sort();
        for file in files {
            recordings.push(read(&file, "time_local", value, "%Y-%m-%d %H:%M:%S", 1.0));
        }
    }
    recordings
}

/// Simulated people, sensor by sensor.
fn simulated(data: &Path) -> Vec<Recording> {
    let mut recordings = Vec::new();
    for person in 1..=6 {
        let path = data.join(format!("sim/truth/D0{person}_cgm.csv"));
        let whole = read(&path, "time_utc", "sensor_mgdl", "%Y-%m-%dT%H:%M:%S", 1.0);
        let mut reader = csv::ReaderBuilder::new()
            .comment(Some(b'#'))
            .from_path(&path)
            .unwrap();
        let mut sensor_of: BTreeMap<u32, Vec<String>> = BTreeMap::new();
        for row in reader.records().map(Result::unwrap) {
            let at = second("%Y-%m-%dT%H:%M:%S", row[1].trim_end_matches('Z'));
            if !row[5].is_empty() {
                sensor_of.entry(at).or_default().push(row[3].to_owned());
            }
        }
        let mut sensors: BTreeMap<String, Recording> = BTreeMap::new();
        for i in 0..whole.at.len() {
            let sensor = sensor_of[&whole.at[i]][0].clone();
            let name = format!("D0{person} {sensor}");
            let one = sensors.entry(sensor).or_insert_with(|| Recording {
                name,
                ..Recording::default()
            });
            one.push(whole.at[i], whole.mg_dl[i], whole.failing[i]);
        }
        recordings.extend(sensors.into_values());
    }
    recordings
}

const KINDS: [&str; 5] = ["dropout", "stuck", "step", "noise", "end"];

fn kind(fault: &Fault) -> usize {
    match fault.evidence {
        Evidence::Dropout => 0,
        Evidence::Stuck { .. } => 1,
        Evidence::Step { .. } => 2,
        Evidence::Noise { .. } => 3,
        _ => 4,
    }
}

fn counts(found: &[Fault]) -> [usize; 5] {
    let mut counts = [0; 5];
    for fault in found {
        counts[kind(fault)] += 1;
    }
    counts
}

fn table(title: &str, recordings: &[Recording]) {
    println!(
        "\n{title}\n{:18} {:>6} {}",
        "recording",
        "days",
        KINDS.map(|name| format!("{name:>8}")).join("")
    );
    let mut total = [0; 5];
    let mut days = 0.0;
    for recording in recordings {
        let found = counts(&recording.faults());
        days += recording.days();
        for (sum, count) in total.iter_mut().zip(found) {
            *sum += count;
        }
        println!(
            "{:18} {:6.1} {}",
            recording.name,
            recording.days(),
            found.map(|count| format!("{count:8}")).join("")
        );
    }
    let rates = total
        .map(|count| format!("{:8.1}", 100.0 * count as f64 / days))
        .join("");
    println!(
        "{:18} {days:6.1} {}",
        "all",
        total.map(|count| format!("{count:8}")).join("")
    );
    println!("{:18} {:6} {rates}", "per 100 days", "");
}

/// Whether the failing hours of a simulated sensor are found as an early end, and how much of them.
fn failing(recordings: &[Recording]) {
    println!("\nsimulated sensors that fail in their last hours");
    for recording in recordings
        .iter()
        .filter(|recording| recording.failing.contains(&true))
    {
        let first = recording.failing.iter().position(|&failing| failing).unwrap();
        let from = i64::from(recording.at[first]);
        let end = i64::from(*recording.at.last().unwrap()) + 300;
        for fault in recording.faults().iter().filter(|fault| kind(fault) == 4) {
            println!(
                "{}: truth {:.1} h to the end, found {:.1} h: {}",
                recording.name,
                (end - from) as f64 / 3600.0,
                (end - fault.from) as f64 / 3600.0,
                fault.words(interstice_glucose::Unit::MgPerDl)
            );
        }
    }
}

struct Normal(ChaCha8Rng);

impl Normal {
    fn even(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1u64 << 53) as f64
    }

    fn draw(&mut self) -> f64 {
        (0..12).map(|_| self.even()).sum::<f64>() - 6.0
    }
}

/// Changes a recording from reading `start` on: what is done, over which readings.
type Plant = fn(&mut Recording, usize, usize, f64, &mut Normal);

fn planted(recordings: &[Recording]) {
    let hold: Plant = |recording, start, end, _, _| {
        let value = recording.mg_dl[start];
        recording.mg_dl[start..end].fill(value);
    };
    let lift: Plant = |recording, start, end, size, _| {
        for value in &mut recording.mg_dl[start..end] {
            *value += size;
        }
    };
    let shake: Plant = |recording, start, end, size, normal| {
        for value in &mut recording.mg_dl[start..end] {
            *value = (*value + size * normal.draw()).max(41.0);
        }
    };
    let cases: [(&str, usize, Plant, f64, f64); 9] = [
        ("stuck for 2 h", 1, hold, 0.0, 2.0),
        ("stuck for 3 h", 1, hold, 0.0, 3.0),
        ("stuck for 6 h", 1, hold, 0.0, 6.0),
        ("up by 60 mg/dL", 2, lift, 60.0, 12.0),
        ("up by 100 mg/dL", 2, lift, 100.0, 12.0),
        ("up by 150 mg/dL", 2, lift, 150.0, 12.0),
        ("noise of 20 mg/dL, 3 h", 3, shake, 20.0, 3.0),
        ("noise of 30 mg/dL, 3 h", 3, shake, 30.0, 3.0),
        ("noise of 30 mg/dL, 6 h", 3, shake, 30.0, 6.0),
    ];
    println!("\nplanted faults found, percent; recordings of 5 min or less, of 15 min");
    for (name, wanted, plant, size, hours) in cases {
        let mut found = [0usize; 2];
        let mut tried = [0usize; 2];
        for recording in recordings {
            let interval_s = native_interval(&recording.at).unwrap();
            let slow = usize::from(interval_s > 300);
            let mut normal = Normal(ChaCha8Rng::seed_from_u64(7));
            let count = (hours * 3600.0 / f64::from(interval_s)) as usize;
            let mut left = PLANTED;
            for _ in 0..20 * PLANTED {
                if left == 0 {
                    break;
                }
                let start = 60 + (normal.even() * (recording.at.len() - count - 120) as f64) as usize;
                // A window around it, so that the whole trace need not be judged again; unbroken, inside the range.
                let (from, to) = (
                    start.saturating_sub(1500),
                    (start + count + 1500).min(recording.at.len()),
                );
                let span = recording.at[start + count] - recording.at[start - 8];
                let inside = recording.mg_dl[start..start + count]
                    .iter()
                    .all(|&v| v > 45.0 && v + size < 395.0);
                if span > (count as u32 + 10) * interval_s || !inside {
                    continue;
                }
                let mut part = Recording {
                    name: String::new(),
                    ..Recording::default()
                };
                for i in from..to {
                    part.push(recording.at[i], recording.mg_dl[i], false);
                }
                let (first, last) = (start - from, start - from + count);
                plant(&mut part, first, last, size, &mut normal);
                let (a, b) = (i64::from(part.at[first - 1]), i64::from(part.at[last]));
                let hit = part
                    .faults()
                    .iter()
                    .any(|fault| kind(fault) == wanted && fault.from < b && fault.to > a);
                found[slow] += usize::from(hit);
                tried[slow] += 1;
                left -= 1;
            }
        }
        let share = |k: usize| 100.0 * found[k] as f64 / tried[k].max(1) as f64;
        println!(
            "{name:24} {:5.1} of {:4}   {:5.1} of {:4}",
            share(0),
            tried[0],
            share(1),
            tried[1]
        );
    }
}

/// Recordings cut off at random places: how many of those ends would be called dying.
fn cut_off(recordings: &[Recording]) {
    let (mut called, mut tried) = ([0usize; 2], [0usize; 2]);
    for recording in recordings {
        let slow = usize::from(native_interval(&recording.at).unwrap() > 300);
        let mut normal = Normal(ChaCha8Rng::seed_from_u64(11));
        for _ in 0..PLANTED {
            let end = 400 + (normal.even() * (recording.at.len() - 400) as f64) as usize;
            let mut part = Recording::default();
            for i in end.saturating_sub(3000)..end {
                part.push(recording.at[i], recording.mg_dl[i], false);
            }
            called[slow] += usize::from(part.faults().iter().any(|fault| kind(fault) == 4));
            tried[slow] += 1;
        }
    }
    println!(
        "\ncut off at random places, called dying: {} of {} (5 min or less), {} of {} (15 min)",
        called[0], tried[0], called[1], tried[1]
    );
}

fn main() {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    let named = std::env::var_os("INTERSTICE_DATA").map(PathBuf::from);
    let beside = ["../../../shared/data", "../../../../shared/data"].map(|up| here.join(up));
    let Some(data) = named
        .into_iter()
        .chain(beside)
        .find(|folder| folder.join("real").is_dir())
    else {
        println!("skipped: the recordings are not on this machine");
        return;
    };
    let (real, simulated) = (real(&data), simulated(&data));
    table("recordings of real people, no truth", &real);
    table(
        "recordings not looked at when the rules were set, no truth",
        &held_out(&data),
    );
    table("simulated sensors", &simulated);
    failing(&simulated);
    planted(&real);
    cut_off(&real);
}
