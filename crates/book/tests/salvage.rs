//! Salvage of books hurt at random: never a panic, never a wrong row unsaid, and what is reported is what is there.
//!
//! `INTERSTICE_SALVAGE_SEEDS=1000 cargo test -p interstice-book --test salvage -- --nocapture` tries more and prints the table.
#![expect(clippy::unwrap_used, reason = "a test may fail loudly, in its helpers too")]

mod common;

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

use common::{Source, check, dose, import, meal, mg, standing};
use interstice_book::{Book, Mode, SalvageReport};
use interstice_glucose::{Said, TraceKind};
use rusqlite::Connection;

/// Seeds in an ordinary run.
const SEEDS: u64 = 60;
const PAGE: usize = 8192;
const DAY_S: u32 = 86_400;
const DAYS: u32 = 20;

/// Twenty days from a day on: readings that tell their own time, entries that tell theirs.
fn source(number: u32) -> Source {
    let start = number * DAYS * DAY_S;
    Source {
        readings: (0..DAYS * 288)
            .map(|i| {
                (
                    if number.is_multiple_of(2) { "A" } else { "B" },
                    TraceKind::Automatic,
                    start + i * 300,
                    mg(i64::from(50 + (start / DAY_S + i * 13) % 250)),
                )
            })
            .collect(),
        blood_checks: (0..DAYS)
            .map(|i| check(i64::from(start + i * DAY_S + 1), 90 + i64::from(i)))
            .collect(),
        doses: (0..DAYS)
            .map(|i| dose(i64::from(start + i * DAY_S + 2), f64::from(i) + 0.5))
            .collect(),
        meals: (0..DAYS)
            .map(|i| meal(i64::from(start + i * DAY_S + 3), f64::from(i) + 10.0))
            .collect(),
        ..Source::default()
    }
}

/// All that a book tells, told once by every file, so that what is lost from one file is not told by another.
#[derive(PartialEq)]
struct Told {
    readings: BTreeMap<(String, TraceKind, u32), Said>,
    entries: BTreeSet<String>,
}

fn told(book: &Book) -> Told {
    let record = book.load_all().unwrap();
    let entries = (record.blood_checks.iter().map(|kept| format!("{:?}", kept.it)))
        .chain(record.doses.iter().map(|kept| format!("{:?}", kept.it)))
        .chain(record.meals.iter().map(|kept| format!("{:?}", kept.it)))
        .collect();
    Told {
        readings: standing(&record),
        entries,
    }
}

struct Chance(u64);

impl Chance {
    fn below(&mut self, bound: usize) -> usize {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as usize % bound
    }
}

/// Bits turned over, pages gone or in each other's place, an end cut off: alone or together.
fn hurt(bytes: &mut Vec<u8>, chance: &mut Chance) -> &'static str {
    let pages = bytes.len() / PAGE;
    match chance.below(5) {
        0 => {
            for _ in 0..=chance.below(30) {
                let at = chance.below(bytes.len());
                bytes[at] ^= 1 << chance.below(8);
            }
            "bits"
        }
        1 => {
            let at = chance.below(bytes.len());
            bytes[at] ^= 1 << chance.below(8);
            "one bit"
        }
        2 => {
            bytes.truncate(chance.below(bytes.len()));
            "cut"
        }
        3 => {
            for _ in 0..=chance.below(4) {
                let page = chance.below(pages);
                bytes[page * PAGE..(page + 1) * PAGE].fill(0);
            }
            "pages gone"
        }
        _ => {
            let (from, to) = (chance.below(pages), chance.below(pages));
            let page = bytes[from * PAGE..(from + 1) * PAGE].to_vec();
            bytes[to * PAGE..(to + 1) * PAGE].copy_from_slice(&page);
            "a page twice"
        }
    }
}

/// What happened to the books hurt in one way.
#[derive(Default)]
struct Line {
    seeds: u64,
    refused: u64,
    complete: u64,
    readings_saved: usize,
    doubted: u64,
}

#[test]
fn what_is_salvaged_is_what_was_written_or_is_said_not_to_be() {
    let seeds = std::env::var("INTERSTICE_SALVAGE_SEEDS").map_or(SEEDS, |text| text.parse().unwrap());
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book");
    let mut book = Book::open(&path, Mode::CreateIfAbsent).unwrap();
    for number in 0..6 {
        import(&mut book, number.into(), &source(number));
    }
    book.undo(None, 0).unwrap();
    let before = told(&book);
    drop(book);
    let whole = fs::read(&path).unwrap();
    let mut table: BTreeMap<&str, Line> = BTreeMap::new();
    for seed in 0..seeds {
        let mut chance = Chance(seed);
        let mut bytes = whole.clone();
        let how = hurt(&mut bytes, &mut chance);
        let (damaged, saved) = (folder.path().join("damaged"), folder.path().join("saved"));
        fs::write(&damaged, &bytes).unwrap();
        let line = table.entry(how).or_default();
        line.seeds += 1;
        match Book::salvage(&damaged, &saved) {
            Err(error) => {
                line.refused += 1;
                assert!(
                    error.to_string().contains(';'),
                    "seed {seed}: a next step is missing: {error}"
                );
            }
            Ok(report) => {
                let after = looked_at(&saved, &report, seed);
                line.readings_saved += after.readings.len();
                line.complete += u64::from(report.is_complete());
                line.doubted += u64::from(!report.doubtful.is_empty());
                if report.is_complete() {
                    assert!(
                        after == before,
                        "seed {seed}, {how}: said to be complete, and is not"
                    );
                }
                let silent = wrong(&before, &after);
                assert!(
                    silent == 0 || says_so(&report),
                    "seed {seed}, {how}: {silent} wrong rows unsaid: {report:?}"
                );
            }
        }
        assert_eq!(
            fs::read(&damaged).unwrap(),
            bytes,
            "seed {seed}: the damaged book was changed"
        );
        for name in ["saved", "saved-wal", "saved-shm", "damaged-wal", "damaged-shm"] {
            let _ = fs::remove_file(folder.path().join(name));
        }
    }
    println!(
        "{:<13} {:>6} {:>8} {:>9} {:>8} {:>16}",
        "hurt by", "seeds", "refused", "complete", "doubted", "readings saved"
    );
    for (how, line) in &table {
        let given = line.seeds as usize * before.readings.len();
        let share = 100.0 * line.readings_saved as f64 / given as f64;
        println!(
            "{how:<13} {:>6} {:>8} {:>9} {:>8} {share:>14.1} %",
            line.seeds, line.refused, line.complete, line.doubted
        );
    }
    let one_bit = &table["one bit"];
    assert!(
        one_bit.readings_saved * 100 > one_bit.seeds as usize * before.readings.len() * 80,
        "one bit costs little"
    );
}

/// Rows that were never written.
fn wrong(before: &Told, after: &Told) -> usize {
    let readings = after
        .readings
        .iter()
        .filter(|(key, said)| before.readings.get(*key) != Some(said));
    readings.count() + after.entries.difference(&before.entries).count()
}

/// A row that is not as it was written belongs to a change that is named, or whose rows could not be told apart any more.
fn says_so(report: &SalvageReport) -> bool {
    !report.doubtful.is_empty()
        || ["trace", "change", "seal"]
            .iter()
            .any(|table| report.unreadable.contains_key(*table))
}

/// The salvaged book is whole, and holds as many rows as the report says.
fn looked_at(saved: &Path, report: &SalvageReport, seed: u64) -> Told {
    let book = Book::open(saved, Mode::Existing).unwrap();
    let seen = book.check().unwrap();
    assert!(seen.is_whole(), "seed {seed}: {seen:?}");
    let answer = told(&book);
    drop(book);
    let raw = Connection::open(saved).unwrap();
    for table in ["block", "blood_check", "dose", "meal"] {
        let there: u64 = raw
            .query_row(&format!("SELECT count(*) FROM {table}"), [], |row| row.get(0))
            .unwrap();
        assert_eq!(
            report.saved.get(table).copied().unwrap_or(0),
            there,
            "seed {seed}: {table}"
        );
    }
    answer
}
