//! A backup gives the same book back; what is no backup, or no longer whole, is said to be that.
#![expect(clippy::unwrap_used, reason = "a test may fail loudly, in its helpers too")]

mod common;

use std::fs;
use std::io::{Read, Write};
use std::path::Path;

use common::{Desk, PASSPHRASE, import, names};
use interstice_backup::{BackupError, Key, Standing, Work, back_up, restore, try_restore};
use interstice_book::{Book, Mode};

fn key() -> Key {
    Key::make(PASSPHRASE, Work::Light).unwrap()
}

#[test]
fn what_comes_back_is_the_same_book() {
    let mut desk = Desk::with_days(20);
    let key = key();
    let before = Standing::of(&desk.book).unwrap();
    let made = back_up(
        &desk.book,
        &desk.at("one.interstice-backup"),
        &key,
        &desk.scratch(),
    )
    .unwrap();
    assert!(made.beside_open_book);
    assert_eq!((made.check.readings, made.check.entries), (20 * 288, 40));
    // What is written afterwards is not in it.
    import(&mut desk.book, 30, 2);
    let back = desk.at("back.interstice");
    let restored = restore(&made.path, &back, PASSPHRASE).unwrap();
    assert_eq!(restored.check, made.check);
    assert_eq!(restored.brought_forward_from, None);
    let book = Book::open(&back, Mode::ReadOnly).unwrap();
    assert_eq!(before.differs_from(&Standing::of(&book).unwrap()), None);
    let now = Standing::of(&desk.book).unwrap();
    assert_eq!(now.differs_from(&before), Some("its journal"));
    drop(book);
    assert_eq!(names(&desk.scratch()), [""; 0]);
    assert!(
        names(desk.folder.path())
            .iter()
            .all(|name| !name.ends_with(".part"))
    );
}

#[test]
fn backups_and_books_are_for_their_owner_alone() {
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let desk = Desk::with_days(1);
        let made = back_up(&desk.book, &desk.at("b"), &key(), &desk.scratch()).unwrap();
        restore(&made.path, &desk.at("back"), PASSPHRASE).unwrap();
        for name in ["b", "back", "book.interstice", "book.interstice-wal"] {
            let mode = fs::metadata(desk.at(name)).unwrap().permissions().mode();
            assert_eq!(mode & 0o777, 0o600, "{name}");
        }
    }
}

/// Nothing of the book can be read in the file, nor the key.
#[test]
fn nothing_in_a_backup_is_readable() {
    let desk = Desk::with_days(3);
    let made = back_up(&desk.book, &desk.at("b"), &key(), &desk.scratch()).unwrap();
    let bytes = fs::read(&made.path).unwrap();
    for word in [
        "SQLite format",
        "breakfast",
        "Lisbon",
        "invented",
        "AGE-SECRET-KEY",
    ] {
        let found = bytes.windows(word.len()).any(|window| window == word.as_bytes());
        assert!(!found, "{word}");
    }
    // The same book again is other bytes: nobody sees that nothing changed.
    let again = back_up(&desk.book, &desk.at("b2"), &key(), &desk.scratch()).unwrap();
    assert_ne!(made.sha256, again.sha256);
}

/// Books as earlier versions wrote them (testdata/book): backed up as they stand then, brought back now.
#[test]
fn books_of_earlier_layouts_come_back() {
    for layout in 1..=6 {
        let desk = Desk::with_days(1);
        let old = desk.at("old.interstice");
        let kept = Path::new(env!("CARGO_MANIFEST_DIR"))
            .join(format!("../../testdata/book/v{layout}.interstice.zst"));
        fs::write(
            &old,
            zstd::decode_all(fs::read(kept).unwrap().as_slice()).unwrap(),
        )
        .unwrap();
        // A backup of that time: the file as it stood, not brought forward.
        let packed = desk.at("old.interstice-backup");
        interstice_backup::pack_as_it_stands(&old, &packed, &key()).unwrap();
        let back = desk.at("back.interstice");
        let restored = restore(&packed, &back, PASSPHRASE).unwrap();
        // Closed, with nothing of it waiting in a log under the name it had before.
        let beside = names(desk.folder.path());
        assert!(
            beside
                .iter()
                .all(|name| !name.starts_with("back.interstice") || name == "back.interstice"),
            "{beside:?}"
        );
        let was = (layout < 6).then_some(layout);
        assert_eq!(restored.brought_forward_from, was, "layout {layout}");
        let original = Standing::of(&Book::open(&old, Mode::Existing).unwrap()).unwrap();
        let book = Book::open(&back, Mode::ReadOnly).unwrap();
        assert_eq!(
            original.differs_from(&Standing::of(&book).unwrap()),
            None,
            "layout {layout}"
        );
        assert!(book.load_all().unwrap().reading_count() > 500);
        drop(book);
        // And as they are backed up today.
        let book = Book::open(&old, Mode::Existing).unwrap();
        let made = back_up(&book, &desk.at("new"), &key(), &desk.scratch()).unwrap();
        assert_eq!(made.check, restored.check, "layout {layout}");
    }
}

#[test]
fn another_passphrase_does_not_open_it() {
    let desk = Desk::with_days(1);
    let made = back_up(&desk.book, &desk.at("b"), &key(), &desk.scratch()).unwrap();
    let wrong = restore(&made.path, &desk.at("back"), "otter lamp quiet brass eight").unwrap_err();
    assert!(matches!(wrong, BackupError::Passphrase { .. }), "{wrong}");
    assert!(!desk.at("back").exists());
    let short = Key::make("eleven char", Work::Light).unwrap_err();
    assert!(short.to_string().contains("at least 12"), "{short}");
}

#[test]
fn no_file_is_written_over() {
    let desk = Desk::with_days(1);
    let made = back_up(&desk.book, &desk.at("b"), &key(), &desk.scratch()).unwrap();
    fs::write(desk.at("notes"), "mine").unwrap();
    assert!(back_up(&desk.book, &desk.at("notes"), &key(), &desk.scratch()).is_err());
    assert!(restore(&made.path, &desk.at("notes"), PASSPHRASE).is_err());
    assert!(restore(&made.path, desk.book.path(), PASSPHRASE).is_err());
    assert_eq!(fs::read_to_string(desk.at("notes")).unwrap(), "mine");
    try_restore(&made.path, &desk.at("try"), PASSPHRASE).unwrap();
    assert!(!desk.at("try").exists());
}

#[test]
fn what_is_no_backup_is_said_to_be_none() {
    let desk = Desk::with_days(1);
    let folder = desk.scratch();
    fs::write(desk.at("text"), "2025-03-01,110\n").unwrap();
    fs::write(desk.at("empty"), "").unwrap();
    let mut other = zip::ZipWriter::new(fs::File::create(desk.at("zip")).unwrap());
    other
        .start_file("README.txt", zip::write::SimpleFileOptions::default())
        .unwrap();
    other.write_all(b"hello").unwrap();
    other.finish().unwrap();
    let mut newer = zip::ZipWriter::new(fs::File::create(desk.at("newer")).unwrap());
    newer
        .start_file("README.txt", zip::write::SimpleFileOptions::default())
        .unwrap();
    newer
        .write_all(b"A backup of a book of Interstice, form 2.\n")
        .unwrap();
    newer.finish().unwrap();
    for (path, says) in [
        (desk.at("text"), "is not a backup of a book"),
        (desk.at("empty"), "is not a backup of a book"),
        (desk.book.path().to_owned(), "is not a backup of a book"),
        (folder, "is not a backup of a book"),
        (desk.at("zip"), "is not a backup of a book"),
        (desk.at("newer"), "newer version"),
        (desk.at("nowhere"), "no such file"),
    ] {
        let refused = restore(&path, &desk.at("back"), PASSPHRASE)
            .unwrap_err()
            .to_string();
        assert!(refused.contains(says), "{}: {refused}", path.display());
        assert!(!desk.at("back").exists());
    }
}

/// Cut anywhere, or with a bit turned over anywhere: said, never a panic, never another book. Half the flips fall into the
/// parts that are no cipher text (names, lengths, what the archive says about itself).
#[test]
fn a_damaged_backup_is_said_to_be_damaged_and_gives_no_book() {
    let desk = Desk::with_days(2);
    let made = back_up(&desk.book, &desk.at("b"), &key(), &desk.scratch()).unwrap();
    let whole = fs::read(&made.path).unwrap();
    let standing = Standing::of(&desk.book).unwrap();
    let (mut state, mut same) = (7_u64, 0);
    let mut chance = |below: usize| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
        (state >> 33) as usize % below
    };
    for round in 0..200 {
        let mut bytes = whole.clone();
        let what = match round % 4 {
            0 => {
                bytes.truncate(chance(whole.len()));
                format!("cut to {}", bytes.len())
            }
            1 => flip(&mut bytes, chance(2_000.min(whole.len())), chance(8)),
            2 => flip(
                &mut bytes,
                whole.len() - 1 - chance(400.min(whole.len())),
                chance(8),
            ),
            _ => flip(&mut bytes, chance(whole.len()), chance(8)),
        };
        fs::write(desk.at("hurt"), &bytes).unwrap();
        let back = desk.at("back");
        match restore(&desk.at("hurt"), &back, PASSPHRASE) {
            // The words of the README, times and such that tell nothing of the book.
            Ok(_) => {
                same += 1;
                let book = Book::open(&back, Mode::ReadOnly).unwrap();
                assert_eq!(
                    standing.differs_from(&Standing::of(&book).unwrap()),
                    None,
                    "{what}"
                );
                drop(book);
                fs::remove_file(&back).unwrap();
            }
            Err(error) => {
                assert!(!back.exists(), "{what}: {error}");
                assert!(!matches!(error, BackupError::Book(_)), "{what}: {error}");
            }
        }
    }
    println!("{same} of 200 gave the same book all the same");
    assert!(same < 100, "what is flipped must matter");
}

fn flip(bytes: &mut [u8], at: usize, bit: usize) -> String {
    bytes[at] ^= 1 << bit;
    format!("bit {bit} of byte {at} turned over")
}

/// The road that the README of the archive tells, with the format's library alone.
#[test]
fn it_opens_without_this_program() {
    let desk = Desk::with_days(1);
    let made = back_up(&desk.book, &desk.at("b"), &key(), &desk.scratch()).unwrap();
    let mut archive = zip::ZipArchive::new(fs::File::open(&made.path).unwrap()).unwrap();
    let mut part = |name: &str| {
        let mut bytes = Vec::new();
        archive.by_name(name).unwrap().read_to_end(&mut bytes).unwrap();
        bytes
    };
    let lock = age::scrypt::Identity::new(age::secrecy::SecretString::from(PASSPHRASE.to_owned()));
    let pair = String::from_utf8(age::decrypt(&lock, &part("key.age")).unwrap()).unwrap();
    let pair: age::x25519::Identity = pair.parse().unwrap();
    let book = zstd::decode_all(age::decrypt(&pair, &part("book.age")).unwrap().as_slice()).unwrap();
    assert!(book.starts_with(b"SQLite format 3\0"));
    assert!(String::from_utf8(part("README.txt")).unwrap().contains("age -d"));
}
