//! What is handed on holds what was chosen and nothing else.

#![expect(clippy::unwrap_used, reason = "a test fails by panicking, helpers included")]

mod common;

use std::collections::BTreeSet;

use common::{book_of, place, source, told};
use interstice_book::Book;
use interstice_desk::{FileStatus, ImportRequest, import_path};
use interstice_doors::{Folder, InMemory, Part, ShareAsk, Sink, share, zip_archive};
use interstice_findings::{DEFAULT_SEED, Span, reader, taken};
use interstice_glucose::{
    Draft, Meal, Readings, Said, SensorDetail, SensorNote, SensorNoteKind, TraceDraft, TraceKind,
};
use jiff::civil::Date;
use proptest::prelude::*;

/// Words that must not get out.
const SECRETS: [&str; 6] = [
    "a note",
    "bread",
    "SERIAL-9",
    "LOT-7",
    "wearer's own sensor",
    "0.csv",
];
/// 2026-03-01T00:00:00Z, a Sunday.
const DAY: i64 = 1_772_323_200;

fn secret_book() -> Book {
    let mut draft = Draft::default();
    let level = draft.levels.intern(Said::whole_mg_per_dl(104));
    let at: Vec<u32> = (0..288).map(|i| u32::try_from(DAY + 300 * i).unwrap()).collect();
    let readings = Readings::from_columns(at, vec![level; 288]).unwrap();
    for kind in [TraceKind::Automatic, TraceKind::Scan] {
        draft.traces.push(TraceDraft {
            sensor: "wearer's own sensor".to_owned(),
            kind,
            readings: readings.clone(),
        });
    }
    draft.meals.push(Meal {
        at: DAY + 3600,
        carbohydrate_g: Some(45.0),
        protein_g: None,
        fat_g: None,
        fibre_g: None,
        energy_kcal: None,
        text: Some("bread".to_owned()),
    });
    draft.sensor_notes.push(SensorNote {
        at: DAY,
        kind: SensorNoteKind::Started,
        sensor: Some("wearer's own sensor".to_owned()),
        site: Some("left upper arm, a note".to_owned()),
        note: Some("a note".to_owned()),
        detail: SensorDetail {
            lot: Some("LOT-7".to_owned()),
            serial: Some("SERIAL-9".to_owned()),
            ..SensorDetail::default()
        },
    });
    book_of(&[draft], Some("Europe/Lisbon"))
}

fn shared(book: &Book, ask: &ShareAsk) -> InMemory {
    let span = Span::Dates {
        from: Date::constant(2026, 2, 28),
        to: Date::constant(2026, 3, 2),
    };
    let taken = taken(book, Some(span), DEFAULT_SEED).unwrap();
    let mut made = InMemory::default();
    share(&taken, reader(book).unwrap(), ask, DEFAULT_SEED, &mut made).unwrap();
    made
}

fn all_parts() -> BTreeSet<Part> {
    Part::ALL.iter().map(|&(part, _)| part).collect()
}

fn text(made: &InMemory) -> String {
    made.0
        .iter()
        .map(|(path, bytes)| format!("{path}\n{}", String::from_utf8_lossy(bytes)))
        .collect()
}

#[test]
fn nothing_that_names_or_tells_in_words_gets_out() {
    let book = secret_book();
    let ask = ShareAsk {
        parts: all_parts(),
        without_names: true,
        weeks_earlier: 100,
        notes: false,
    };
    let text = text(&shared(&book, &ask));
    for secret in SECRETS.iter().chain(&["Lisbon", "2026-03-01"]) {
        assert!(!text.contains(secret), "'{secret}' got out");
    }
    assert!(
        text.contains("S1") && text.contains("left upper arm"),
        "and what was asked for is there"
    );
    // With words and names they are there: the search above can fail.
    let open = ShareAsk {
        notes: true,
        without_names: false,
        weeks_earlier: 0,
        ..ask
    };
    let text = self::text(&shared(&book, &open));
    for secret in &SECRETS[..5] {
        assert!(text.contains(secret), "'{secret}' was asked for");
    }
    assert!(!text.contains("0.csv"), "files are nobody's business");
}

#[test]
fn only_the_chosen_kinds_are_there() {
    let book = secret_book();
    for (part, word) in Part::ALL {
        let ask = ShareAsk {
            parts: BTreeSet::from([part]),
            ..ShareAsk::default()
        };
        let made = shared(&book, &ask);
        let names: Vec<&str> = made.0.iter().map(|(path, _)| path.as_str()).collect();
        let has = |path: &str| names.contains(&path);
        assert_eq!(has("meals.csv"), part == Part::Meals, "{word}");
        assert_eq!(has("doses.csv"), part == Part::Doses, "{word}");
        assert_eq!(has("sensor_moments.csv"), part == Part::Sensors, "{word}");
        assert_eq!(has("figures.csv"), part == Part::Account, "{word}");
        for never in [
            "settings.csv",
            "imports.csv",
            "rejected_rows.csv",
            "photos.csv",
            "conflicts.csv",
        ] {
            assert!(!has(never), "{word}: {never}");
        }
        let readings = names.iter().any(|name| name.starts_with("readings/"));
        assert_eq!(readings, matches!(part, Part::Readings | Part::Scans), "{word}");
    }
}

/// Whole weeks: weekdays, clock times and the steps between readings stay, and so do the figures.
#[test]
fn moved_dates_keep_weekdays_clocks_and_figures() {
    let book = secret_book();
    let told = |weeks_earlier| {
        let ask = ShareAsk {
            parts: BTreeSet::from([Part::Readings, Part::Account]),
            weeks_earlier,
            ..ShareAsk::default()
        };
        let made = shared(&book, &ask);
        let file = |name: &str| {
            let found = made.0.iter().find(|(path, _)| path.ends_with(name));
            String::from_utf8(found.unwrap().1.clone()).unwrap()
        };
        (file("part.csv"), file("figures.csv"), file("days.csv"))
    };
    let (before, after) = (told(0), told(104));
    assert_eq!(before.1, after.1);
    assert!(
        after
            .0
            .contains("2024-03-03T00:00:00Z,2024-03-03T00:00:00+00:00,+00:00"),
        "104 weeks before a Sunday"
    );
    let weekdays = |days: &str| {
        days.lines()
            .map(|line| line.split(',').nth(1).unwrap_or("").to_owned())
            .collect::<Vec<_>>()
    };
    assert_eq!(weekdays(&before.2), weekdays(&after.2));
}

#[test]
fn dates_are_not_moved_before_1970() {
    let book = secret_book();
    let span = Span::LastDays(2);
    let taken = taken(&book, Some(span), DEFAULT_SEED).unwrap();
    let ask = ShareAsk {
        parts: all_parts(),
        weeks_earlier: 4000,
        ..ShareAsk::default()
    };
    let error = share(
        &taken,
        reader(&book).unwrap(),
        &ask,
        DEFAULT_SEED,
        &mut InMemory::default(),
    )
    .unwrap_err();
    assert!(error.to_string().contains("fewer weeks"), "{error}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]
    #[test]
    fn what_is_handed_on_can_be_brought_in(
        sources in proptest::collection::vec(source(), 1..3), notes: bool, without_names: bool, weeks_earlier in 0u32..500,
    ) {
        let book = book_of(&sources, Some("America/New_York"));
        let ask = ShareAsk { parts: all_parts(), notes, weeks_earlier, without_names };
        let made = shared(&book, &ask);
        let folder = tempfile::tempdir().unwrap();
        let mut sink = Folder::create(folder.path()).unwrap();
        for (path, bytes) in &made.0 {
            sink.put(path, bytes).unwrap();
        }
        let mut again = Book::in_memory().unwrap();
        let report = import_path(&mut again, folder.path(), &ImportRequest::default(), &place(), &mut ()).unwrap();
        prop_assert_eq!(report.rejected, u64::from(report.status != FileStatus::Imported) * report.rejected, "{:?}", report.problems);
        let record = again.load_all().unwrap();
        // The same as an archive.
        let zip = folder.path().join("a.zip");
        std::fs::write(&zip, zip_archive(&made).unwrap()).unwrap();
        let mut packed = Book::in_memory().unwrap();
        let of_zip = import_path(&mut packed, &zip, &ImportRequest::default(), &place(), &mut ()).unwrap();
        prop_assert_eq!((of_zip.status, of_zip.rows_read), (report.status, report.rows_read));
        prop_assert_eq!(told(&packed.load_all().unwrap()), told(&record));
        prop_assert!(record.lived.windows(2).all(|pair| pair[0].it.to <= pair[1].it.from));
    }
}
