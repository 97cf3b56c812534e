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
use interstice_book::{Book, Mode};
use interstice_glucose::TraceKind;

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
