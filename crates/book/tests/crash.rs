//! Two at once, and one killed in the middle.
//!
//! The parts that run in other processes are tests of this same binary, started by name; without a parent they do
//! nothing.
#![expect(clippy::unwrap_used, reason = "a test may fail loudly, in its helpers too")]

mod common;

use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use common::{Source, check, import, mg};
use interstice_book::{Book, ChangeKind, Entry, Mode};
use interstice_glucose::{BloodCheck, TraceKind};

const BOOK: &str = "INTERSTICE_TEST_BOOK";
const FIRST: &str = "INTERSTICE_TEST_FIRST";

/// The import of a number: some days of readings that no other number tells of, and a blood check.
fn source(number: u64) -> Source {
    let start = number as u32 * 10 * 86_400;
    Source {
        readings: (0..2_000)
            .map(|i| {
                (
                    "",
                    TraceKind::Automatic,
                    start + i * 300,
                    mg(i64::from(60 + i % 200)),
                )
            })
            .collect(),
        blood_checks: vec![check(i64::from(start), 100)],
        ..Source::default()
    }
}

fn run_apart(test: &str, book: &Path, first: u64) -> Child {
    Command::new(std::env::current_exe().unwrap())
        .args(["--exact", test])
        .env(BOOK, book)
        .env(FIRST, first.to_string())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap()
}

/// Where the parent wants it: book and first number. `None` where there is no parent.
fn asked() -> Option<(Book, u64)> {
    let path = std::env::var_os(BOOK)?;
    let first = std::env::var(FIRST).unwrap().parse().unwrap();
    Some((Book::open(path, Mode::CreateIfAbsent).unwrap(), first))
}

#[test]
fn child_imports_until_killed() {
    let Some((mut book, first)) = asked() else { return };
    for number in first.. {
        import(&mut book, number, &source(number));
    }
}

#[test]
fn child_imports_ten() {
    let Some((mut book, first)) = asked() else { return };
    for number in first..first + 10 {
        import(&mut book, number, &source(number));
    }
}

/// Imports, corrects, deletes and takes back in turn, and says after each how long the journal is.
#[test]
fn child_changes_until_killed() {
    let Some((mut book, first)) = asked() else { return };
    for number in first.. {
        import(&mut book, number, &source(number));
        say(&book);
        let checks = book.load_all().unwrap().blood_checks;
        let last = checks.last().unwrap();
        let corrected = BloodCheck {
            said: mg(200),
            ..last.it.clone()
        };
        book.edit(last.entry, &Entry::BloodCheck(corrected), None, 0)
            .unwrap();
        say(&book);
        if number % 3 == 0 {
            book.undo(None, 0).unwrap();
            say(&book);
        }
        if number % 5 == 0 {
            let import = book.imports().unwrap().pop().unwrap().receipt.change;
            book.undo(import, 0).unwrap();
            say(&book);
        }
    }
}

fn say(book: &Book) {
    use std::io::Write;
    let mut out = std::io::stdout().lock();
    writeln!(out, "journal {}", book.journal().unwrap().len()).unwrap();
    out.flush().unwrap();
}

/// What the journal says has been done is what the book holds.
fn assert_book_is_its_journal(book: &Book) -> usize {
    let report = book.check().unwrap();
    assert!(report.is_whole(), "{report:?}");
    let journal = book.journal().unwrap();
    let stand = |kind| {
        journal
            .iter()
            .filter(|change| change.kind == kind && change.undone_by.is_none())
            .count()
    };
    let record = book.load_all().unwrap();
    let imports = stand(ChangeKind::Import);
    assert_eq!(book.imports().unwrap().len(), imports);
    assert_eq!(
        (record.reading_count(), record.blood_checks.len()),
        (imports * 2_000, imports)
    );
    let corrected = record
        .blood_checks
        .iter()
        .filter(|kept| kept.it.said == mg(200))
        .count();
    // A correction whose import was taken back waits unseen.
    assert!(corrected <= stand(ChangeKind::Edit));
    journal.len()
}

/// Some hundred kills at moments of all kinds: in the middle of an import, a correction, an undo, an opening.
#[test]
fn a_kill_at_any_moment_leaves_whole_changes() {
    use std::io::Read;
    let folder = tempfile::tempdir().unwrap();
    let mut path = folder.path().join("book 0");
    let (begun, mut state, mut longest) = (Instant::now(), 12_345_u64, 0);
    let mut round = 0;
    while round < 300 && begun.elapsed() < Duration::from_secs(12) {
        if round % 25 == 0 {
            path = folder.path().join(format!("book {round}"));
            longest = 0;
        }
        let mut child = Command::new(std::env::current_exe().unwrap())
            .args(["--exact", "child_changes_until_killed", "--nocapture"])
            .env(BOOK, &path)
            .env(FIRST, (round % 25 * 100).to_string())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
        std::thread::sleep(Duration::from_micros((state >> 33) % 60_000));
        child.kill().unwrap();
        let mut said = String::new();
        child.stdout.take().unwrap().read_to_string(&mut said).unwrap();
        child.wait().unwrap();
        let acknowledged = said
            .lines()
            .filter_map(|line| line.strip_prefix("journal ")?.parse().ok());
        longest = acknowledged.fold(longest, usize::max);
        if path.exists() {
            let there = assert_book_is_its_journal(&Book::open(&path, Mode::CreateIfAbsent).unwrap());
            assert!(
                there >= longest,
                "an acknowledged change is gone: {there} of {longest}"
            );
        }
        round += 1;
    }
    println!("killed {round} times in {:?}", begun.elapsed());
    assert!(round >= 25, "too slow to tell anything: {round} kills");
}

/// Every import in the book is there whole, and nothing beside them.
fn assert_whole_imports(book: &Book) -> u64 {
    let report = book.check().unwrap();
    assert!(report.is_whole(), "{report:?}");
    let imports = book.imports().unwrap();
    let record = book.load_all().unwrap();
    assert_eq!(record.reading_count(), imports.len() * 2_000);
    assert_eq!(record.blood_checks.len(), imports.len());
    assert!(imports.iter().all(|import| import.receipt.readings_new == 2_000));
    assert_eq!(book.journal().unwrap().len(), imports.len());
    imports.len() as u64
}

#[test]
fn a_kill_leaves_whole_imports() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book");
    let mut there = 0;
    for round in 0..6_u64 {
        let mut child = run_apart("child_imports_until_killed", &path, there);
        // Kill at a different moment each time: as early as the beginning of the file, as late as mid-import.
        let deadline = Instant::now() + Duration::from_secs(20);
        if round > 0 {
            let enough = there + 1;
            while imports_so_far(&path) < enough && Instant::now() < deadline {
                std::thread::sleep(Duration::from_millis(1));
            }
        }
        std::thread::sleep(Duration::from_millis(round * 7));
        child.kill().unwrap();
        child.wait().unwrap();
        if path.exists() {
            let book = Book::open(&path, Mode::CreateIfAbsent).unwrap();
            let now = assert_whole_imports(&book);
            assert!(now >= there, "an acknowledged import is gone");
            there = now;
        }
    }
    assert!(there >= 5, "the children did import: {there}");
}

fn imports_so_far(path: &Path) -> u64 {
    let imports = Book::open(path, Mode::ReadOnly).and_then(|book| book.imports());
    imports.map_or(0, |imports| imports.len() as u64)
}

#[test]
fn two_processes_write_at_once() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book");
    // Both begin the book, too.
    let children = [
        run_apart("child_imports_ten", &path, 0),
        run_apart("child_imports_ten", &path, 10),
    ];
    for mut child in children {
        assert!(child.wait().unwrap().success());
    }
    assert_eq!(
        assert_whole_imports(&Book::open(&path, Mode::Existing).unwrap()),
        20
    );
}

#[test]
fn threads_read_whole_states_while_another_writes() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book");
    drop(Book::open(&path, Mode::CreateIfAbsent).unwrap());
    std::thread::scope(|scope| {
        for half in 0..2 {
            let path = &path;
            scope.spawn(move || {
                let mut book = Book::open(path, Mode::Existing).unwrap();
                for number in half * 10..half * 10 + 10 {
                    import(&mut book, number, &source(number));
                }
            });
        }
        let book = Book::open(&path, Mode::ReadOnly).unwrap();
        let (mut stamps, mut last) = (0, book.version_stamp().unwrap());
        while book.imports().unwrap().len() < 20 {
            let record = book.load_all().unwrap();
            assert_eq!(
                record.reading_count(),
                record.blood_checks.len() * 2_000,
                "a state between two imports"
            );
            let stamp = book.version_stamp().unwrap();
            stamps += u32::from(stamp != last);
            last = stamp;
        }
        assert!(stamps > 0, "the stamp tells of writes by others");
    });
    assert_whole_imports(&Book::open(&path, Mode::Existing).unwrap());
}
