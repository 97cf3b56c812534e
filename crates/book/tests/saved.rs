//! A book of every layout ever released opens and tells what it was given.
//!
//! The books in `testdata/book` were written by `write_the_saved_book` below, each with the code of its own layout, and
//! are never written again (testdata/book/README.md): with INTERSTICE_WRITE_SAVED_BOOK set the test makes that of the
//! present layout, and only where it is missing.
#![expect(clippy::unwrap_used, reason = "a test may fail loudly, in its helpers too")]

mod common;

use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

use common::{Source, check, dose, import, mark, meal, mg, sensor_note, standing};
use interstice_book::{
    Book, ChangeId, ChangeKind, Entry, KeptRecipe, Mode, NewPhoto, NightHours, Provenance, Setting,
};
use interstice_glucose::{
    Censor, Delivery, Dose, Draft, InsulinKind, LivedSpan, LowVerdict, LowWas, Rejected, Said, SensorDetail,
    SensorNote, SensorNoteKind, TraceKind, Unit, Zone,
};

/// Layouts of which a book is kept.
const LAYOUTS: [u32; 6] = [1, 2, 3, 4, 5, 6];
/// The present one.
const LATEST: u32 = 6;
/// First instant of all of them, 2025-03-29T00:00Z.
const START: i64 = 1_743_206_400;

fn saved_book(layout: u32) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("../../testdata/book/v{layout}.interstice.zst"))
}

fn mmol(tenths: i64) -> Said {
    Said::new(tenths, 1, Unit::MmolPerL, Censor::None).unwrap()
}

/// Two days around 2025-03-30T01:00Z of one sensor; scans; the device's upper edge.
fn first() -> Draft {
    let start = 1_743_206_400_u32;
    let mut readings: Vec<common::Row> = (0..576)
        .map(|i| {
            (
                "S1",
                TraceKind::Automatic,
                start + i * 300,
                mg(i64::from(70 + i * 13 % 180)),
            )
        })
        .collect();
    readings.push((
        "S1",
        TraceKind::Automatic,
        start + 576 * 300,
        Said::new(400, 0, Unit::MgPerDl, Censor::Above).unwrap(),
    ));
    readings.push(("S1", TraceKind::Scan, start + 40, mg(101)));
    let source = Source {
        readings,
        blood_checks: vec![check(i64::from(start), 98)],
        doses: vec![
            dose(i64::from(start), 4.5),
            Dose {
                delivery: Delivery::Spread { minutes: 90 },
                insulin: InsulinKind::Short,
                ..dose(i64::from(start) + 60, 2.0)
            },
        ],
        meals: vec![meal(i64::from(start), 42.5)],
        marks: vec![mark(i64::from(start), Some(i64::from(start) + 1800), "walk")],
        sensor_notes: vec![sensor_note(i64::from(start))],
    };
    let lived = vec![LivedSpan {
        from: i64::from(start),
        to: i64::from(start) + 172_800,
        zone: Zone::named("Europe/Lisbon").unwrap(),
    }];
    let rejected = vec![Rejected {
        row: 7,
        column: "glucose".to_owned(),
        text: "LO?".to_owned(),
        reason: "no number".to_owned(),
    }];
    Draft {
        lived,
        rejected,
        ..source.draft()
    }
}

/// The second day again in the other unit, one reading of it different, and an hour more without a sensor's name.
fn second() -> Source {
    let start = 1_743_206_400_u32 + 288 * 300;
    let said = |i: u32| mmol((f64::from(70 + (288 + i) * 13 % 180) / 1.80156).round() as i64);
    let mut readings: Vec<common::Row> = (0..288)
        .map(|i| ("S1", TraceKind::Automatic, start + i * 300, said(i)))
        .collect();
    readings[5].3 = mmol(290);
    readings.extend((0..12).map(|i| {
        (
            "",
            TraceKind::Automatic,
            start + (288 + i) * 300,
            mmol(61 + i64::from(i)),
        )
    }));
    Source {
        readings,
        ..Source::default()
    }
}

fn fill(book: &mut Book) {
    let provenance = Provenance {
        recipes: vec![KeptRecipe {
            layout: "layout".to_owned(),
            json: r#"{"roles":[]}"#.to_owned(),
        }],
        base_zone: Some(Zone::named("Europe/Lisbon").unwrap()),
        ..common::provenance(1)
    };
    book.import(&first(), &provenance, &mut |_, _| ControlFlow::Continue(()))
        .unwrap();
    import(book, 2, &second());
    let undone = import(
        book,
        3,
        &Source {
            blood_checks: vec![check(1, 300)],
            ..Source::default()
        },
    )
    .change;
    book.undo(undone, 50).unwrap();
    let meal_ref = book.load_all().unwrap().meals[0].entry;
    book.edit(
        meal_ref,
        &Entry::Meal(meal(1_743_206_460, 50.0)),
        Some("weighed"),
        60,
    )
    .unwrap();
    let dose_ref = book.load_all().unwrap().doses[0].entry;
    book.delete(dose_ref, None, 70).unwrap();
    let away = LivedSpan {
        from: 1_743_300_000,
        to: 1_743_310_000,
        zone: Zone::named("+05:30").unwrap(),
    };
    book.log(
        &Draft {
            lived: vec![away],
            ..Draft::default()
        },
        "away",
        80,
    )
    .unwrap();
    book.set(Setting::Unit(Some(Unit::MmolPerL)), 90).unwrap();
    book.set(
        Setting::Night(Some(NightHours {
            from_minute: 1380,
            to_minute: 420,
        })),
        91,
    )
    .unwrap();
}

/// What came with layout 2: the same blood check told by another source, to the second, and one more.
fn tell_again(book: &mut Book) {
    let source = Source {
        blood_checks: vec![check(START + 23, 98), check(START + 7200, 140)],
        ..Source::default()
    };
    import(book, 4, &source);
}

/// What came with layout 3: what is known of a sensor beside its moments.
fn detailed() -> SensorNote {
    SensorNote {
        kind: SensorNoteKind::Noted,
        site: Some("upper arm, left".to_owned()),
        detail: SensorDetail {
            preparation: vec!["alcohol wipe".to_owned()],
            lot: Some("L-204".to_owned()),
            ..SensorDetail::default()
        },
        ..sensor_note(START + 3600)
    }
}

fn note_detail(book: &mut Book) {
    let draft = Draft {
        sensor_notes: vec![detailed()],
        ..Draft::default()
    };
    book.log(&draft, "sensor", 95).unwrap();
}

/// What came with layout 4: the wearer's word on a low.
fn judged() -> LowVerdict {
    LowVerdict {
        at: START + 8000,
        until: START + 10_400,
        sensor: Some("S1".to_owned()),
        was: LowWas::Pressure,
        note: Some("lay on it".to_owned()),
    }
}

fn judge_a_low(book: &mut Book) {
    let draft = Draft {
        low_verdicts: vec![judged()],
        ..Draft::default()
    };
    book.log(&draft, "low", 96).unwrap();
}

/// What came with layout 6: a photo beside what was noted of a sensor.
fn keep_a_photo(book: &mut Book) {
    let note = SensorNote {
        note: Some("red, round".to_owned()),
        ..sensor_note(START + 9000)
    };
    let draft = Draft {
        sensor_notes: vec![note],
        ..Draft::default()
    };
    let photo = NewPhoto {
        at: START + 9000,
        sensor: None,
        name: "arm.png",
        bytes: common::SMALLEST_PNG,
    };
    book.log_with_photo(&draft, photo, "sensor with a photo", 97)
        .unwrap();
}

/// A book as the code of that layout wrote it: all that it could keep.
fn fill_to(layout: u32, path: &Path) -> Book {
    let mut book = Book::open(path, Mode::CreateIfAbsent).unwrap();
    fill(&mut book);
    if layout >= 2 {
        tell_again(&mut book);
    }
    if layout >= 3 {
        note_detail(&mut book);
    }
    if layout >= 4 {
        judge_a_low(&mut book);
    }
    if layout >= 6 {
        keep_a_photo(&mut book);
    }
    book
}

/// The layout a file says it has: big-endian at byte 60 (SQLite's file format, 'user version').
fn layout_of(bytes: &[u8]) -> u32 {
    u32::from_be_bytes(bytes[60..64].try_into().unwrap())
}

#[test]
fn write_the_saved_book() {
    if std::env::var_os("INTERSTICE_WRITE_SAVED_BOOK").is_none() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book");
    drop(fill_to(u32::MAX, &path));
    let bytes = std::fs::read(&path).unwrap();
    assert_eq!(layout_of(&bytes), LATEST);
    let target = saved_book(LATEST);
    if !target.exists() {
        std::fs::write(target, zstd::encode_all(bytes.as_slice(), 19).unwrap()).unwrap();
    }
}

/// The kept book's bytes, laid down at `path`.
fn lay_down(layout: u32, path: &Path) -> Vec<u8> {
    let packed = std::fs::read(saved_book(layout)).unwrap();
    let bytes = zstd::decode_all(packed.as_slice()).unwrap();
    assert_eq!(
        layout_of(&bytes),
        layout,
        "the file is of the layout it is named for"
    );
    std::fs::write(path, &bytes).unwrap();
    bytes
}

fn opened(layout: u32, folder: &Path) -> Book {
    let path = folder.join("book");
    lay_down(layout, &path);
    Book::open(&path, Mode::Existing).unwrap()
}

/// All that a book tells.
fn told(book: &Book) -> impl PartialEq + std::fmt::Debug + use<> {
    assert!(book.check().unwrap().is_whole());
    let record = book.load_all().unwrap();
    let journal: Vec<_> = book
        .journal()
        .unwrap()
        .into_iter()
        .map(|change| (change.id, change.kind, change.what))
        .collect();
    let conflicts = book.conflicts(i64::MIN, i64::MAX).unwrap();
    (
        standing(&record),
        (record.blood_checks, record.doses, record.meals, record.marks),
        (record.sensor_notes, record.low_verdicts, record.photos),
        format!("{:?}", record.clock),
        format!("{conflicts:?} {:?}", book.settings().unwrap()),
        journal,
    )
}

#[test]
fn every_layout_tells_what_it_was_given() {
    for layout in LAYOUTS {
        let folder = tempfile::tempdir().unwrap();
        let book = opened(layout, folder.path());
        let before = Some(i64::from(layout)).filter(|_| layout < LATEST);
        assert_eq!(book.brought_forward_from(), before);
        assert!(book.check().unwrap().is_whole(), "layout {layout}");
        first_and_second_are_told(&book);
        let record = book.load_all().unwrap();
        let checks: Vec<i64> = record.blood_checks.iter().map(|kept| kept.it.at).collect();
        let expected: &[i64] = if layout == 1 {
            &[START]
        } else {
            &[START, START + 7200]
        };
        assert_eq!(checks, expected, "layout {layout}");
        let notes: Vec<&SensorNote> = record.sensor_notes.iter().map(|kept| &kept.it).collect();
        let expected = [sensor_note(START), detailed()];
        let told = notes.len().min(2);
        assert_eq!(notes.len(), [1, 1, 2, 2, 2, 3][layout as usize - 1]);
        assert!(notes[..told].iter().copied().eq(&expected[..told]));
        let photos: Vec<_> = record
            .photos
            .iter()
            .map(|photo| book.photo(photo.id).unwrap().unwrap().1)
            .collect();
        assert!(
            photos
                .iter()
                .eq(&[common::SMALLEST_PNG][..usize::from(layout >= 6)])
        );
        let words: Vec<&LowVerdict> = record.low_verdicts.iter().map(|kept| &kept.it).collect();
        assert!(words.into_iter().eq(&[judged()][..usize::from(layout >= 4)]));
    }
}

#[test]
fn every_layout_brought_forward_tells_what_a_book_of_today_does() {
    for layout in LAYOUTS {
        let folder = tempfile::tempdir().unwrap();
        let old = opened(layout, folder.path());
        let today = fill_to(layout, &folder.path().join("today"));
        assert_eq!(told(&old), told(&today), "layout {layout}");
    }
}

fn first_and_second_are_told(book: &Book) {
    let record = book.load_all().unwrap();
    let start = 1_743_206_400_u32;
    let standing = standing(&record);
    assert_eq!(standing.len(), 577 + 1 + 12);
    for i in 0..576_u32 {
        let said = standing[&("S1".to_owned(), TraceKind::Automatic, start + i * 300)];
        assert_eq!(said, mg(i64::from(70 + i * 13 % 180)));
    }
    let top = standing[&("S1".to_owned(), TraceKind::Automatic, start + 576 * 300)];
    assert_eq!((top.censor(), top.mantissa()), (Censor::Above, 400));
    assert_eq!(standing[&("S1".to_owned(), TraceKind::Scan, start + 40)], mg(101));
    assert_eq!(
        standing[&(String::new(), TraceKind::Automatic, start + 576 * 300)],
        mmol(61)
    );
    let conflicts = book.conflicts(i64::MIN, i64::MAX).unwrap();
    assert_eq!((conflicts.len() as u64, record.conflicts), (1, 1));
    assert_eq!(
        (conflicts[0].at, conflicts[0].other),
        (i64::from(start + 293 * 300), mmol(290))
    );
    let [walk] = record.marks.as_slice() else {
        panic!("one mark")
    };
    assert_eq!(
        walk.it,
        mark(i64::from(start), Some(i64::from(start) + 1800), "walk")
    );
    assert_eq!(record.blood_checks[0].it, check(i64::from(start), 98));
    let [spread] = record.doses.as_slice() else {
        panic!("one dose is deleted, one stands")
    };
    assert_eq!(
        (spread.it.delivery, spread.it.insulin),
        (Delivery::Spread { minutes: 90 }, InsulinKind::Short)
    );
    let [corrected] = record.meals.as_slice() else {
        panic!("one meal")
    };
    assert_eq!(
        (&corrected.it, corrected.by_hand),
        (&meal(1_743_206_460, 50.0), true)
    );
}

#[test]
fn every_layout_keeps_clock_settings_and_journal() {
    for layout in LAYOUTS {
        let folder = tempfile::tempdir().unwrap();
        let mut book = opened(layout, folder.path());
        clock_settings_and_journal_are_kept(&book);
        // And it can be gone on with.
        while book.undo(None, 100).is_ok() {}
        assert_eq!(book.load_all().unwrap().reading_count(), 0, "layout {layout}");
        assert!(book.check().unwrap().is_whole(), "layout {layout}");
    }
}

fn clock_settings_and_journal_are_kept(book: &Book) {
    let record = book.load_all().unwrap();
    assert_eq!(record.base_zone.name(), "Europe/Lisbon");
    let hours = [1_743_206_400, 1_743_296_400, 1_743_300_000, 1_743_310_000]
        .map(|at| f64::from(record.clock.offset_s(at)) / 3600.0);
    assert_eq!(hours.map(|h| (h * 2.0) as i32), [0, 2, 11, 2]);
    let settings = book.settings().unwrap();
    assert_eq!(settings.unit, Some(Unit::MmolPerL));
    assert_eq!(
        settings.night,
        Some(NightHours {
            from_minute: 1380,
            to_minute: 420
        })
    );
    let kinds: Vec<ChangeKind> = book.journal().unwrap().iter().map(|change| change.kind).collect();
    use ChangeKind::{Delete, Edit, Import, Log, Setting, Undo};
    assert_eq!(
        kinds[..9],
        [Import, Import, Import, Undo, Edit, Delete, Log, Setting, Setting]
    );
    assert_eq!(book.rejected(ChangeId(1)).unwrap()[0].text, "LO?");
    assert_eq!(book.recipes().unwrap()[0].layout, "layout");
}

#[test]
fn every_layout_is_brought_forward_for_a_reader_and_saved_as_it_is() {
    for layout in LAYOUTS {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("old");
        let bytes = lay_down(layout, &path);
        let saved = folder.path().join("saved");
        assert!(Book::salvage(&path, &saved).unwrap().is_complete());
        assert_eq!(
            std::fs::read(&path).unwrap(),
            bytes,
            "saving from it changes nothing"
        );
        let read = |path: &Path| told(&Book::open(path, Mode::ReadOnly).unwrap());
        assert_eq!(read(&saved), read(&path), "layout {layout}");
    }
}
