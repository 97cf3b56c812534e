//! How long files of invented readings take from disk to draft, and how much memory that needs.
//!
//! `cargo bench -p interstice-intake -- 25000 1000000` reads a clean and an awkward file of each number of rows and
//! prints seconds, processor seconds (what a busy machine does not change), million rows a second and the peak of
//! memory so far; sizes should rise, since the peak only grows.

#![expect(
    clippy::unwrap_used,
    clippy::print_stdout,
    clippy::disallowed_methods,
    reason = "a benchmark prints, looks at the clock, and fails by panicking"
)]

use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::Path;
use std::time::Instant;

use interstice_demo::long::{AwkwardOptions, write_awkward, write_clean};
use interstice_glucose::TraceKind;
use interstice_intake::{Hints, Outcome, ZoneSource, read};

const USUAL_SIZES: [u64; 3] = [25_000, 250_000, 1_000_000];
const START: i64 = 1_262_304_000;
const SEED: u64 = 7;

fn main() {
    let asked: Vec<u64> = std::env::args().filter_map(|arg| arg.parse().ok()).collect();
    let sizes = if asked.is_empty() {
        USUAL_SIZES.to_vec()
    } else {
        asked
    };
    let dir = tempfile::tempdir().unwrap();
    println!(
        "{:>9} {:<8} {:>9} {:>9} {:>9} {:>9} {:>9}",
        "rows", "file", "MiB", "seconds", "cpu s", "M rows/s", "peak MiB"
    );
    for rows in sizes {
        // Forty years at most, and no quicker than a reading a minute.
        let interval_s = if rows > 4_000_000 { 60 } else { 300 };
        for awkward in [false, true] {
            let path = dir.path().join(if awkward { "awkward.csv" } else { "clean.csv" });
            write(&path, rows, interval_s, awkward);
            measure(&path, rows, if awkward { "awkward" } else { "clean" });
            std::fs::remove_file(&path).unwrap();
        }
    }
}

fn write(path: &Path, rows: u64, interval_s: u32, awkward: bool) {
    let mut out = BufWriter::new(File::create(path).unwrap());
    if awkward {
        write_awkward(
            &mut out,
            START,
            interval_s,
            rows,
            SEED,
            &AwkwardOptions::default(),
        )
        .unwrap();
    } else {
        write_clean(&mut out, START, interval_s, rows, SEED).unwrap();
    }
    out.flush().unwrap();
}

/// The best of a few runs, so that a neighbour on the machine counts less.
fn measure(path: &Path, rows: u64, name: &str) {
    let runs = if rows > 4_000_000 { 2 } else { 7 };
    let (best, cpu) = (0..runs)
        .map(|_| once(path, rows))
        .fold((f64::MAX, f64::MAX), |best, run| {
            (best.0.min(run.0), best.1.min(run.1))
        });
    let mib = std::fs::metadata(path).unwrap().len() as f64 / f64::from(1 << 20);
    println!(
        "{rows:>9} {name:<8} {mib:>9.1} {best:>9.4} {cpu:>9.2} {:>9.2} {:>9}",
        rows as f64 / best / 1e6,
        peak_mib().map_or_else(|| "-".to_owned(), |mib| mib.to_string())
    );
}

/// Seconds by the clock and of the processors.
fn once(path: &Path, rows: u64) -> (f64, f64) {
    let hints = Hints {
        zone: (AwkwardOptions::default().zone, ZoneSource::Asked),
        unit: None,
        dates: None,
        roles: Vec::new(),
        subject: None,
        recipes: Vec::new(),
    };
    let (begun, cpu) = (Instant::now(), cpu_seconds());
    let outcome = read(path, &hints, &mut ()).unwrap();
    let took = (begun.elapsed().as_secs_f64(), cpu_seconds() - cpu);
    let Outcome::Read(read) = outcome else {
        panic!("a question about an invented file")
    };
    assert!(
        read.draft.count(TraceKind::Automatic) as u64 >= rows,
        "rows were lost"
    );
    took
}

/// Processor time of this process so far, in hundredths of a second as Linux counts them; 0 elsewhere.
fn cpu_seconds() -> f64 {
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    let ticks: f64 = stat
        .rsplit(')')
        .next()
        .map(|rest| {
            rest.split_whitespace()
                .skip(11)
                .take(2)
                .filter_map(|t| t.parse::<f64>().ok())
                .sum()
        })
        .unwrap_or(0.0);
    ticks / 100.0
}

/// The most memory this process has held, where the system tells.
fn peak_mib() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
    line.split_whitespace()
        .nth(1)?
        .parse::<u64>()
        .ok()
        .map(|kib| kib / 1024)
}
