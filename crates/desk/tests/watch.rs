//! A folder that is looked into: what is taken, what waits, and that nothing in it is touched.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::time::SystemTime;

use interstice_book::{Book, Feed, Mode};
use interstice_desk::{FileState, ImportRequest, Place, Seen, import_bytes, look_into};
use interstice_glucose::Zone;

/// Long after every file here was written.
fn later() -> i64 {
    let passed = SystemTime::now().duration_since(SystemTime::UNIX_EPOCH).unwrap();
    passed.as_secs() as i64 + 3600
}

struct Watched {
    home: tempfile::TempDir,
    seen: Seen,
    now: i64,
}

impl Watched {
    fn new() -> Self {
        let home = tempfile::tempdir().unwrap();
        std::fs::create_dir(home.path().join("exports")).unwrap();
        Watched {
            home,
            seen: Seen::default(),
            now: later(),
        }
    }

    fn folder(&self) -> PathBuf {
        self.home.path().join("exports")
    }

    fn write(&self, name: &str, bytes: impl AsRef<[u8]>) {
        std::fs::write(self.folder().join(name), bytes).unwrap();
    }

    fn book(&self) -> Book {
        Book::open(self.home.path().join("book"), Mode::CreateIfAbsent).unwrap()
    }

    /// The person has brought a file of the layout in before.
    fn knows(&self, name: &str, bytes: &[u8]) {
        let place = place(self.now);
        import_bytes(
            &mut self.book(),
            name,
            bytes,
            &ImportRequest::default(),
            &place,
            &mut (),
        )
        .unwrap();
    }

    fn look(&mut self) -> u64 {
        self.now += 5;
        let path = self.home.path().join("book");
        let open = &mut || Ok(Book::open(&path, Mode::CreateIfAbsent)?);
        let before = tree(&self.folder());
        let new = look_into(
            &self.folder(),
            &Feed::named("1 1", "exports"),
            &mut self.seen,
            &place(self.now),
            open,
        );
        assert_eq!(before, tree(&self.folder()), "nothing in the folder is touched");
        new.unwrap()
    }

    fn state(&self, name: &str) -> &FileState {
        &self.seen.files[name].state
    }

    fn readings(&self) -> usize {
        self.book().load_all().unwrap().reading_count()
    }
}

fn place(now: i64) -> Place {
    Place {
        now,
        machine_zone: Zone::named("Europe/Lisbon").unwrap(),
    }
}

/// Names, contents and times.
fn tree(folder: &Path) -> BTreeMap<String, (Vec<u8>, SystemTime)> {
    let entries = std::fs::read_dir(folder).unwrap();
    entries
        .map(|entry| {
            let entry = entry.unwrap();
            let about = entry.metadata().unwrap();
            let bytes = if about.is_file() {
                std::fs::read(entry.path()).unwrap()
            } else {
                Vec::new()
            };
            (
                entry.file_name().into_string().unwrap(),
                (bytes, about.modified().unwrap()),
            )
        })
        .collect()
}

/// An invented export of so many readings from a day on.
fn export(day: u32, readings: u32) -> String {
    let mut text = "time;glucose mg/dL\n".to_owned();
    for i in 0..readings {
        let (hour, minute) = (i * 5 / 60, i * 5 % 60);
        writeln!(text, "2026-03-{day:02}T{hour:02}:{minute:02}:00;{}", 90 + i % 40).unwrap();
    }
    text
}

#[test]
fn a_known_layout_is_taken_once_it_has_come_to_rest() {
    let mut watched = Watched::new();
    watched.knows("first.csv", export(1, 100).as_bytes());
    watched.write("second.csv", &export(2, 50)[..700]);
    assert_eq!(
        (watched.look(), watched.state("second.csv")),
        (0, &FileState::Arriving)
    );
    watched.write("second.csv", export(2, 50));
    assert_eq!(
        (watched.look(), watched.readings()),
        (0, 100),
        "it has changed meanwhile"
    );
    assert_eq!((watched.look(), watched.readings()), (50, 150));
    assert_eq!(watched.state("second.csv"), &FileState::Taken { new: 50 });
    let seen = watched.seen.clone();
    assert_eq!(
        (watched.look(), &watched.seen),
        (0, &seen),
        "nothing is read twice"
    );
}

#[test]
fn a_growing_export_brings_what_is_new_and_the_same_file_again_nothing() {
    let mut watched = Watched::new();
    watched.knows("first.csv", export(1, 100).as_bytes());
    for (readings, new) in [(20, 20), (30, 10), (30, 0), (10, 0), (60, 30)] {
        watched.write("live.csv", export(3, readings));
        // Another minute on the file's own clock, as the file system may not tell two writes apart.
        let file = std::fs::File::options()
            .append(true)
            .open(watched.folder().join("live.csv"))
            .unwrap();
        file.set_modified(SystemTime::now() - std::time::Duration::from_secs(1000 - u64::from(readings)))
            .unwrap();
        assert_eq!(watched.look() + watched.look(), new, "{readings}");
    }
    watched.write("live (1).csv", export(3, 60));
    assert_eq!(watched.look() + watched.look(), 0);
    std::fs::remove_file(watched.folder().join("live.csv")).unwrap();
    assert_eq!(watched.look(), 0);
    assert!(!watched.seen.files.contains_key("live.csv"));
    assert_eq!(watched.readings(), 160, "what is deleted there stays here");
    // One import by hand, one change of the feed, for all of its day.
    assert_eq!(watched.book().journal().unwrap().len(), 2);
    assert!(watched.book().check().unwrap().is_whole());
}

#[test]
fn an_unknown_layout_waits_until_one_like_it_was_brought_in() {
    let mut watched = Watched::new();
    watched.write("a.csv", export(1, 40));
    watched.write("b.csv", export(2, 40));
    watched.write("open.csv", "time,value\n2026-03-01 07:00,5\n2026-03-01 07:05,6\n");
    watched.write("photo.png", b"\x89PNG\r\n\x1a\n and more");
    watched.write("sheet.xlsx", b"PK\x03\x04 and not whole");
    watched.write(".hidden.csv", export(3, 40));
    watched.write("c.csv.part", export(4, 40));
    watched.write("empty.csv", "");
    std::fs::create_dir(watched.folder().join("deeper")).unwrap();
    watched.look();
    assert_eq!((watched.look(), watched.readings()), (0, 0));
    let waiting: Vec<&str> = watched.seen.waiting().map(|(name, _)| name).collect();
    assert!(waiting.starts_with(&["a.csv", "b.csv"]), "{waiting:?}");
    assert!(matches!(watched.state("photo.png"), FileState::NotUsed { .. }));
    assert!(matches!(watched.state("sheet.xlsx"), FileState::NotUsed { .. }));
    assert_eq!(watched.state("empty.csv"), &FileState::Arriving);
    assert!(
        watched
            .seen
            .files
            .keys()
            .all(|name| !name.contains("hidden") && !name.contains("part") && name != "deeper")
    );
    // The person answers for one; the other follows by itself.
    watched.knows("a.csv", export(1, 40).as_bytes());
    let new: u64 = (0..3).map(|_| watched.look()).sum();
    assert_eq!((new, watched.readings()), (40, 80));
    assert_eq!(watched.state("a.csv"), &FileState::Taken { new: 0 });
}

#[test]
fn a_file_that_cannot_be_read_is_not_given_up_while_it_may_arrive() {
    let mut watched = Watched::new();
    watched.now -= 3600 - 10;
    watched.write("sheet.xlsx", b"PK\x03\x04 and not whole");
    watched.look();
    watched.look();
    assert!(matches!(watched.state("sheet.xlsx"), FileState::NotWhole { .. }));
    let seen = watched.seen.clone();
    watched.look();
    assert_eq!(watched.seen, seen);
    watched.now += 700;
    watched.look();
    assert!(matches!(watched.state("sheet.xlsx"), FileState::NotUsed { .. }));
}

#[test]
fn a_folder_that_is_gone_is_told_and_comes_back() {
    let mut watched = Watched::new();
    watched.knows("first.csv", export(1, 10).as_bytes());
    watched.write("second.csv", export(2, 10));
    let (here, away) = (watched.folder(), watched.home.path().join("away"));
    std::fs::rename(&here, &away).unwrap();
    let path = watched.home.path().join("book");
    let open = &mut || Ok(Book::open(&path, Mode::CreateIfAbsent)?);
    let from = Feed::named("1 1", "exports");
    assert_eq!(
        look_into(&here, &from, &mut watched.seen, &place(watched.now), open).unwrap(),
        0
    );
    assert!(
        watched
            .seen
            .trouble
            .as_ref()
            .unwrap()
            .contains("cannot be looked into")
    );
    std::fs::rename(&away, &here).unwrap();
    assert_eq!(watched.look() + watched.look(), 10);
    assert_eq!(watched.seen.trouble, None);
}

#[test]
fn what_was_taken_back_does_not_come_again_by_itself() {
    let mut watched = Watched::new();
    watched.knows("first.csv", export(1, 10).as_bytes());
    watched.write("second.csv", export(2, 10));
    assert_eq!(watched.look() + watched.look(), 10);
    watched.book().undo(None, watched.now).unwrap();
    assert_eq!((watched.look() + watched.look(), watched.readings()), (0, 10));
}
