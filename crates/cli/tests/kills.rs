//! The program killed (SIGKILL) at random moments of whatever it may be doing: an acknowledged change is never lost, no change is
//! half there, and the book always opens.
//!
//! `INTERSTICE_KILLS=1000 cargo test -p interstice --test kills -- --nocapture` kills so often and prints the table; an ordinary run
//! stops after some seconds. What a kill cannot show is a power cut, in which the system loses what it had not yet put on the disk.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]
#![cfg(unix)]

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use interstice_backup::{Key, Place, Standing, Work, restore};
use interstice_desk::{Book, ChangeKind, Mode};
use tempfile::TempDir;

/// An ordinary run stops after this, and has killed at least so often by then.
const ORDINARY: Duration = Duration::from_secs(8);
const FEWEST: usize = 30;
const PASSPHRASE: &str = "otter lamp quiet brass seven";
const ROWS: usize = 3_000;
const LATEST: usize = 6;

/// What is being done when the kill comes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Act {
    Begin,
    Import,
    Log,
    Undo,
    Migrate,
    Backup,
    Restore,
}

const ACTS: [Act; 7] = [
    Act::Begin,
    Act::Import,
    Act::Log,
    Act::Undo,
    Act::Migrate,
    Act::Backup,
    Act::Restore,
];

/// What was found after the kill.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Found {
    Nothing,
    Whole,
}

/// One act's line of the table.
#[derive(Default)]
struct Line {
    kills: usize,
    ended_before: usize,
    nothing: usize,
    whole: usize,
    acknowledged: usize,
}

struct Chance(u64);

impl Chance {
    /// Between 0 and 1.
    fn share(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }
}

/// Numbers that tell the states of a book apart: readings, checks, imports, lines of the journal.
type Facts = (usize, usize, usize, usize);

/// Opens it as the next start of the program would, and looks at every part.
fn facts(path: &Path) -> Facts {
    let book = Book::open(path, Mode::CreateIfAbsent).unwrap();
    let report = book.check().unwrap();
    assert!(report.is_whole(), "{report:?}");
    let record = book.load_all().unwrap();
    (
        record.reading_count(),
        record.blood_checks.len(),
        book.imports().unwrap().len(),
        book.journal().unwrap().len(),
    )
}

fn standing(path: &Path) -> Standing {
    let book = Book::open(path, Mode::Existing).unwrap();
    let report = book.check().unwrap();
    assert!(report.is_whole(), "{report:?}");
    Standing::of(&book).unwrap()
}

fn old_book(layout: usize, to: &Path) {
    let kept =
        Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("../../testdata/book/v{layout}.interstice.zst"));
    fs::write(to, zstd::decode_all(fs::read(kept).unwrap().as_slice()).unwrap()).unwrap();
}

/// A table of readings that no other number tells of.
fn table(number: usize, to: &Path) {
    let first = jiff::civil::date(2012, 1, 1).at(0, 0, 0, 0);
    let mut text = String::from("time;glucose mg/dL\n");
    for row in 0..ROWS {
        let minutes = (number * 11 * 1440 + row * 5) as i64;
        let at = first + jiff::Span::new().minutes(minutes);
        let _ = writeln!(
            text,
            "{};{}",
            at.strftime("%Y-%m-%d %H:%M"),
            80 + (number + row * 7) % 120
        );
    }
    fs::write(to, text).unwrap();
}

/// All that is at hand, in one folder.
struct Table {
    folder: TempDir,
    /// Standings of the saved books of each layout, brought forward without a kill.
    forward: Vec<Standing>,
    /// A backup that nothing went wrong with, and what it holds.
    backup: PathBuf,
    /// How long each act takes when it is let through.
    takes: BTreeMap<Act, Duration>,
    number: usize,
}

impl Table {
    fn lay() -> Self {
        let folder = TempDir::new().unwrap();
        let forward = (1..=LATEST)
            .map(|layout| {
                let path = folder.path().join(format!("forward {layout}"));
                old_book(layout, &path);
                standing(&path)
            })
            .collect();
        let kept = folder.path().join("kept.interstice");
        old_book(LATEST, &kept);
        let held = Place::beside(&kept).hold().unwrap();
        let mut plan = held.plan().unwrap();
        plan.key = Some(Key::make(PASSPHRASE, Work::Light).unwrap());
        held.put(&plan).unwrap();
        let backup = folder.path().join("good.interstice-backup");
        let book = Book::open(&kept, Mode::Existing).unwrap();
        held.run(
            &book,
            Some(&backup),
            1_800_000_000,
            &interstice_glucose::Zone::utc(),
        )
        .unwrap();
        drop((held, book));
        let mut table = Table {
            folder,
            forward,
            backup,
            takes: BTreeMap::new(),
            number: 0,
        };
        for act in ACTS {
            let begun = Instant::now();
            let (mut child, _) = table.begin(act);
            assert!(child.wait().unwrap().success(), "{act:?} does not work");
            table.takes.insert(act, begun.elapsed());
            table.clear();
        }
        table
    }

    fn at(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn book(&self) -> PathBuf {
        self.at("book.interstice")
    }

    fn clear(&self) {
        for entry in fs::read_dir(self.folder.path()).unwrap() {
            let path = entry.unwrap().path();
            let name = path.file_name().unwrap().to_str().unwrap().to_owned();
            if ["old", "new", "made"].iter().any(|begin| name.starts_with(begin)) && path.is_file() {
                fs::remove_file(path).unwrap();
            }
        }
    }

    /// Starts an act; for those that change the common book, the facts before and after.
    fn begin(&mut self, act: Act) -> (Child, Option<(Facts, Facts)>) {
        self.number += 1;
        let number = self.number;
        let book = if act == Act::Begin {
            self.at("new book")
        } else {
            self.book()
        };
        let before = if book.exists() { facts(&book) } else { (0, 0, 0, 0) };
        let (readings, checks, imports, journal) = before;
        let (on, args, after): (PathBuf, Vec<String>, _) = match act {
            Act::Begin | Act::Import => {
                let file = self.at("table.csv");
                table(number, &file);
                let args = vec![
                    "import".to_owned(),
                    file.display().to_string(),
                    "--zone".to_owned(),
                    "UTC".to_owned(),
                ];
                (
                    book,
                    args,
                    Some((readings + ROWS, checks, imports + 1, journal + 1)),
                )
            }
            Act::Log => {
                let at = jiff::civil::date(2020, 1, 1).at(0, 0, 0, 0)
                    + jiff::Span::new().minutes(number as i64 * 7);
                let at = at.strftime("%Y-%m-%d %H:%M").to_string();
                let args = ["log", "--at", &at, "blood", "110", "--unit", "mg/dL"];
                (
                    book,
                    args.map(str::to_owned).to_vec(),
                    Some((readings, checks + 1, imports, journal + 1)),
                )
            }
            Act::Undo => {
                let last = Book::open(&book, Mode::ReadOnly).unwrap().journal().unwrap();
                let last = last
                    .iter()
                    .rfind(|change| change.can_be_undone())
                    .map(|change| change.kind);
                let after = match last {
                    Some(ChangeKind::Import) => (readings - ROWS, checks, imports - 1, journal + 1),
                    Some(ChangeKind::Log) => (readings, checks - 1, imports, journal + 1),
                    other => panic!("{other:?} is the last change"),
                };
                (book, vec!["undo".to_owned()], Some(after))
            }
            Act::Migrate => {
                let old = self.at("old");
                old_book(1 + number % (LATEST - 1), &old);
                (old, vec!["check".to_owned()], None)
            }
            Act::Backup => {
                let made = self.at("made").display().to_string();
                (self.at("kept.interstice"), vec!["backup".to_owned(), made], None)
            }
            Act::Restore => {
                let backup = self.backup.display().to_string();
                (self.at("new"), vec!["restore".to_owned(), backup], None)
            }
        };
        let child = Command::new(env!("CARGO_BIN_EXE_interstice"))
            .arg("--book")
            .arg(on)
            .args(args)
            .env("TZ", "UTC")
            .env("INTERSTICE_BACKUP_PASSPHRASE", PASSPHRASE)
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        (child, after.map(|after| (before, after)))
    }

    /// What there is now: nothing of the act, or all of it. Anything else ends the test.
    fn found(&self, act: Act, common: Option<(Facts, Facts)>) -> Found {
        match act {
            Act::Begin | Act::Import | Act::Log | Act::Undo => {
                let (before, after) = common.unwrap();
                let book = if act == Act::Begin {
                    self.at("new book")
                } else {
                    self.book()
                };
                let now = if book.exists() { facts(&book) } else { (0, 0, 0, 0) };
                assert!(
                    now == before || now == after,
                    "{act:?} is half there: {before:?}, {now:?}, {after:?}"
                );
                if now == after {
                    Found::Whole
                } else {
                    Found::Nothing
                }
            }
            Act::Migrate => {
                let expected = &self.forward[self.number % (LATEST - 1)];
                assert_eq!(
                    expected.differs_from(&standing(&self.at("old"))),
                    None,
                    "brought forward otherwise"
                );
                Found::Whole
            }
            Act::Backup => {
                let expected = &self.forward[LATEST - 1];
                assert_eq!(
                    expected.differs_from(&standing(&self.at("kept.interstice"))),
                    None
                );
                if !self.at("made").exists() {
                    return Found::Nothing;
                }
                restore(&self.at("made"), &self.at("made back"), PASSPHRASE).unwrap();
                assert_eq!(expected.differs_from(&standing(&self.at("made back"))), None);
                Found::Whole
            }
            Act::Restore => {
                if !self.at("new").exists() {
                    return Found::Nothing;
                }
                assert_eq!(
                    self.forward[LATEST - 1].differs_from(&standing(&self.at("new"))),
                    None
                );
                Found::Whole
            }
        }
    }

    /// One kill. Before an undo there must be something to take back.
    fn kill(&mut self, act: Act, chance: &mut Chance, line: &mut Line) {
        let (mut child, common) = self.begin(act);
        std::thread::sleep(self.takes[&act].mul_f64(1.3 * chance.share()));
        line.ended_before += usize::from(child.try_wait().unwrap().is_some());
        child.kill().unwrap();
        let mut said = String::new();
        child.stdout.take().unwrap().read_to_string(&mut said).unwrap();
        child.wait().unwrap();
        let found = self.found(act, common);
        let acknowledged = !said.is_empty();
        assert!(
            !acknowledged || found == Found::Whole,
            "{act:?} was acknowledged and is gone: {said}"
        );
        line.kills += 1;
        line.acknowledged += usize::from(acknowledged);
        match found {
            Found::Nothing => line.nothing += 1,
            Found::Whole => line.whole += 1,
        }
        self.clear();
    }
}

#[test]
fn a_kill_at_any_moment_loses_nothing_that_was_acknowledged() {
    let asked: Option<usize> = std::env::var("INTERSTICE_KILLS")
        .ok()
        .map(|text| text.parse().unwrap());
    let begun = Instant::now();
    let mut table = Table::lay();
    let mut lines: BTreeMap<Act, Line> = BTreeMap::new();
    let mut chance = Chance(20_251_126);
    let mut kills = 0;
    let go_on = |kills: usize| match asked {
        Some(asked) => kills < asked,
        None => kills < FEWEST || begun.elapsed() < ORDINARY,
    };
    while go_on(kills) {
        let mut act = ACTS[kills % ACTS.len()];
        if act == Act::Undo && facts(&table.book()).0 + facts(&table.book()).1 == 0 {
            act = Act::Log;
        }
        table.kill(act, &mut chance, lines.entry(act).or_default());
        kills += 1;
    }
    println!(
        "{kills} kills in {:.0} s, seed 20251126",
        begun.elapsed().as_secs_f64()
    );
    println!(
        "{:<9} {:>6} {:>13} {:>12} {:>9} {:>6} {:>11}",
        "act", "kills", "ended before", "acknowledged", "nothing", "whole", "lost, half"
    );
    for (act, line) in &lines {
        println!(
            "{:<9} {:>6} {:>13} {:>12} {:>9} {:>6} {:>11}",
            format!("{act:?}"),
            line.kills,
            line.ended_before,
            line.acknowledged,
            line.nothing,
            line.whole,
            0
        );
    }
    // What the kills left behind is cleared by the next run.
    let (mut child, _) = table.begin(Act::Backup);
    assert!(child.wait().unwrap().success());
    let mut left: Vec<String> = fs::read_dir(table.at("kept.interstice.backup"))
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    left.sort();
    assert_eq!(left, ["lock", "plan.json"]);
    let nothing: usize = lines.values().map(|line| line.nothing).sum();
    assert!(nothing > 0, "the kills came too late to tell anything");
}
