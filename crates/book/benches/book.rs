//! Importing and loading, beside SQLite with one row a reading, in pairs in one run.
//!
//! `cargo bench -p interstice-book --bench book` prints for each size the median of some pairs, the ratio and the
//! size of the file; then the small things one by one.
#![expect(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a bench reports and may fail loudly"
)]

use std::hint::black_box;
use std::ops::ControlFlow;
use std::path::Path;
use std::time::{Duration, Instant};

use divan::Bencher;
use interstice_book::{Book, Mode, Provenance};
use interstice_glucose::{
    Censor, Delivery, Dose, Draft, InsulinKind, Levels, Readings, Said, TraceDraft, TraceKind, Unit,
};
use rusqlite::Connection;

/// Name, step in seconds, readings, pairs run.
const SIZES: [(&str, u32, u32, usize); 4] = [
    ("90 days at 5 min", 300, 25_920, 7),
    ("10 years at 5 min", 300, 1_051_200, 7),
    ("1 year at 1 min", 60, 525_600, 7),
    ("40 years at 1 min", 60, 20_200_000, 3),
];

fn main() {
    if std::env::args().any(|arg| arg == "--bench") {
        for (name, step, readings, pairs) in SIZES {
            pairs_of(name, &draft(step, readings, 0), pairs);
        }
        overlap();
        entries();
        told_otherwise();
        at_one_instant();
    }
    divan::main();
}

/// A bounded walk in whole mg/dL from a plain linear congruential generator.
fn draft(step: u32, count: u32, start: u32) -> Draft {
    let mut levels = Levels::new();
    let index: Vec<u32> = (40..=400)
        .map(|value| levels.intern(Said::whole_mg_per_dl(value)))
        .collect();
    let (mut state, mut value) = (12_345_u64, 120_i64);
    let mut readings = Readings::with_capacity(count as usize);
    for i in 0..count {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        let pull = (140 - value) / 40;
        value = (value + pull + (state >> 33) as i64 % 9 - 4).clamp(40, 400);
        readings.push(start + i * step, index[(value - 40) as usize]);
    }
    let traces = vec![TraceDraft {
        sensor: String::new(),
        kind: TraceKind::Automatic,
        readings,
    }];
    Draft {
        levels,
        traces,
        ..Draft::default()
    }
}

fn provenance(number: u8) -> Provenance {
    Provenance::named("bench.csv", [number; 32])
}

fn import(book: &mut Book, draft: &Draft, number: u8) {
    black_box(
        book.import(draft, &provenance(number), &mut |_, _| ControlFlow::Continue(()))
            .unwrap(),
    );
}

fn timed<T>(work: impl FnOnce() -> T) -> (Duration, T) {
    let start = Instant::now();
    let answer = work();
    (start.elapsed(), answer)
}

fn median(mut times: Vec<Duration>) -> f64 {
    times.sort();
    times[times.len() / 2].as_secs_f64() * 1e3
}

fn pairs_of(name: &str, draft: &Draft, pairs: usize) {
    let mut times: [Vec<Duration>; 4] = Default::default();
    let mut sizes = [0.0; 2];
    for _ in 0..pairs {
        let folder = tempfile::tempdir().unwrap();
        let (ours, rows) = (folder.path().join("ours"), folder.path().join("rows"));
        times[0].push(timed(|| import(&mut Book::open(&ours, Mode::CreateIfAbsent).unwrap(), draft, 1)).0);
        times[1].push(timed(|| write_rows(&rows, draft)).0);
        let book = Book::open(&ours, Mode::Existing).unwrap();
        let (time, record) = timed(|| book.load_all().unwrap());
        times[2].push(time);
        assert_eq!(record.reading_count(), draft.traces[0].readings.len());
        drop((record, book));
        let (time, read) = timed(|| read_rows(&rows));
        times[3].push(time);
        assert_eq!(read.len(), draft.traces[0].readings.len());
        sizes = [&ours, &rows].map(|path| std::fs::metadata(path).unwrap().len() as f64 / 1e6);
    }
    let [import, import_rows, load, load_rows] = times.map(median);
    println!(
        "{name}: {} readings, median of {pairs}",
        draft.traces[0].readings.len()
    );
    println!(
        "  open + import + close {import:9.1} ms   one row a reading {import_rows:9.1} ms   {:5.1} times",
        import_rows / import
    );
    println!(
        "  load all              {load:9.2} ms   one row a reading {load_rows:9.2} ms   {:5.1} times",
        load_rows / load
    );
    println!(
        "  file                  {:9.1} MB   one row a reading {:9.1} MB",
        sizes[0], sizes[1]
    );
}

/// The plain way: a table of (trace, instant, value), same journal and same care for power cuts.
fn write_rows(path: &Path, draft: &Draft) {
    let mut conn = Connection::open(path).unwrap();
    conn.pragma_update_and_check(None, "journal_mode", "wal", |_| Ok(()))
        .unwrap();
    conn.pragma_update(None, "synchronous", "full").unwrap();
    conn.execute_batch("CREATE TABLE reading (trace INTEGER, at INTEGER, value INTEGER, PRIMARY KEY (trace, at)) STRICT, WITHOUT ROWID")
        .unwrap();
    let write = conn.transaction().unwrap();
    {
        let mut insert = write
            .prepare("INSERT OR IGNORE INTO reading VALUES (1, ?1, ?2)")
            .unwrap();
        let readings = &draft.traces[0].readings;
        for (at, level) in readings.at().iter().zip(readings.level()) {
            insert
                .execute((at, draft.levels.get(*level).said.mantissa()))
                .unwrap();
        }
    }
    write.commit().unwrap();
}

fn read_rows(path: &Path) -> Readings {
    let conn = Connection::open(path).unwrap();
    let mut select = conn
        .prepare("SELECT at, value FROM reading WHERE trace = 1 ORDER BY at")
        .unwrap();
    let mut rows = select.query([]).unwrap();
    let mut readings = Readings::default();
    while let Some(row) = rows.next().unwrap() {
        readings.push(row.get(0).unwrap(), row.get(1).unwrap());
    }
    readings
}

/// A second export that tells all of a year again and a week more.
fn overlap() {
    let folder = tempfile::tempdir().unwrap();
    let mut book = Book::open(folder.path().join("book"), Mode::CreateIfAbsent).unwrap();
    import(&mut book, &draft(60, 525_600, 0), 1);
    let longer = draft(60, 525_600 + 7 * 1440, 0);
    let (again, ()) = timed(|| import(&mut book, &longer, 2));
    let (load, _) = timed(|| book.load_all().unwrap());
    let (undo, _) = timed(|| book.undo(None, 0).unwrap());
    let [again, load, undo] = [again, load, undo].map(|time| time.as_secs_f64() * 1e3);
    println!("a year at 1 min told again: import {again:.1} ms, load both {load:.1} ms, undo {undo:.1} ms");
}

/// A pump's basal rate every five minutes for a year: the most entries a person comes by.
fn entries() {
    let doses = (0..105_120).map(|i| Dose {
        at: i * 300,
        units: (i % 17) as f64 / 10.0,
        insulin: InsulinKind::Rapid,
        delivery: Delivery::BasalRate,
        note: None,
    });
    let draft = Draft {
        doses: doses.collect(),
        ..Draft::default()
    };
    let folder = tempfile::tempdir().unwrap();
    let mut book = Book::open(folder.path().join("book"), Mode::CreateIfAbsent).unwrap();
    let (first, ()) = timed(|| import(&mut book, &draft, 1));
    let (again, ()) = timed(|| import(&mut book, &draft, 2));
    let (load, _) = timed(|| book.load_all().unwrap());
    let [first, again, load] = [first, again, load].map(|time| time.as_secs_f64() * 1e3);
    println!(
        "{} doses: import {first:.1} ms, told again {again:.1} ms, load both {load:.1} ms",
        draft.doses.len()
    );
}

/// Ten years of readings told again by a second file in another unit: merged reading by reading.
fn told_otherwise() {
    let folder = tempfile::tempdir().unwrap();
    let mut book = Book::open(folder.path().join("book"), Mode::CreateIfAbsent).unwrap();
    let first = draft(300, 1_051_200, 0);
    let mut other = first.clone();
    other.levels = Levels::new();
    let index: Vec<u32> = first
        .levels
        .as_slice()
        .iter()
        .map(|level| {
            let tenths = (level.said.glucose().mmol_per_l() * 10.0).round() as i64;
            other
                .levels
                .intern(Said::new(tenths, 1, Unit::MmolPerL, Censor::None).unwrap())
        })
        .collect();
    let at = first.traces[0].readings.at().to_vec();
    let level = first.traces[0].readings.level();
    let level = level.iter().map(|&level| index[level as usize]).collect();
    other.traces[0].readings = Readings::from_columns(at, level).unwrap();
    import(&mut book, &first, 1);
    let (again, ()) = timed(|| import(&mut book, &first, 2));
    let (otherwise, ()) = timed(|| import(&mut book, &other, 3));
    let (load, record) = timed(|| book.load_all().unwrap());
    assert_eq!(record.reading_count(), 1_051_200);
    let copy = folder.path().join("copy");
    let (copied, _) = timed(|| book.copy_to(&copy).unwrap());
    let [again, otherwise, load, copied] =
        [again, otherwise, load, copied].map(|time| time.as_secs_f64() * 1e3);
    println!(
        "1.05 M readings there: told again {again:.1} ms, in another unit {otherwise:.1} ms, load all {load:.1} ms, copy \
         and check {copied:.1} ms"
    );
}

/// More and more doses at one instant, then the same told to the minute by another source.
fn at_one_instant() {
    for count in [10_000, 20_000, 40_000] {
        let doses = |at| Draft {
            doses: (0..count)
                .map(|i| Dose {
                    at,
                    units: f64::from(i) / 100.0,
                    insulin: InsulinKind::Rapid,
                    delivery: Delivery::AtOnce,
                    note: None,
                })
                .collect(),
            ..Draft::default()
        };
        let mut book = Book::in_memory().unwrap();
        let (first, ()) = timed(|| import(&mut book, &doses(60_030), 1));
        let (again, ()) = timed(|| import(&mut book, &doses(60_000), 2));
        let (load, record) = timed(|| book.load_all().unwrap());
        assert_eq!(record.doses.len(), count as usize);
        let [first, again, load] = [first, again, load].map(|time| time.as_secs_f64() * 1e3);
        println!(
            "{count} doses at one instant: import {first:.1} ms, told to the minute {again:.1} ms, load {load:.1} ms"
        );
    }
}

fn ten_years(folder: &Path) -> Book {
    let mut book = Book::open(folder.join("book"), Mode::CreateIfAbsent).unwrap();
    import(&mut book, &draft(300, 1_051_200, 0), 1);
    book
}

#[divan::bench]
fn open_existing(bencher: Bencher<'_, '_>) {
    let folder = tempfile::tempdir().unwrap();
    drop(ten_years(folder.path()));
    let path = folder.path().join("book");
    bencher.bench_local(|| Book::open(&path, Mode::Existing).unwrap());
}

#[divan::bench]
fn begin_a_book(bencher: Bencher<'_, '_>) {
    bencher
        .with_inputs(|| tempfile::tempdir().unwrap())
        .bench_local_values(|folder| {
            (
                Book::open(folder.path().join("book"), Mode::CreateIfAbsent).unwrap(),
                folder,
            )
        });
}

#[divan::bench]
fn load_90_days_of_ten_years(bencher: Bencher<'_, '_>) {
    let folder = tempfile::tempdir().unwrap();
    let book = ten_years(folder.path());
    let from = 5 * 365 * 86_400;
    bencher.bench_local(|| book.load(from, from + 90 * 86_400).unwrap());
}

#[divan::bench]
fn version_stamp(bencher: Bencher<'_, '_>) {
    let folder = tempfile::tempdir().unwrap();
    let book = ten_years(folder.path());
    bencher.bench_local(|| book.version_stamp().unwrap());
}

#[divan::bench]
fn import_a_day_into_ten_years(bencher: Bencher<'_, '_>) {
    let folder = tempfile::tempdir().unwrap();
    let mut book = ten_years(folder.path());
    let day = draft(300, 288, 1_051_200 * 300);
    let mut number = 1;
    bencher.bench_local(|| {
        number = if number == u8::MAX { 2 } else { number + 1 };
        import(&mut book, &day, number);
        book.undo(None, 0).unwrap();
    });
}
