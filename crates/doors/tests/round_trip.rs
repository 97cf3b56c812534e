//! A book, exported as comma-separated text and brought into an empty book, is the same book.
//!
//! Same is: the same readings (instant, value as said with unit, decimals and bound, sensor, kind), the same blood
//! checks, doses, meals, entries, moments of sensors and words on lows, the same settings, and the same wall clock with
//! the same zones. Not the same, and said so in docs/formats/tables.md: which file or hand each came from, what was
//! edited away before, readings that did not stand, photos; and a text that is empty reads back as none.

#![expect(clippy::unwrap_used, reason = "a test fails by panicking, helpers included")]

use std::ops::ControlFlow;

use interstice_book::{Book, Provenance, Record, Setting};
use interstice_desk::{FileStatus, ImportRequest, Place, import_path};
use interstice_doors::{Folder, TableFormat, export};
use interstice_findings::{DEFAULT_SEED, taken};
use interstice_glucose::{
    BloodCheck, BloodSource, Censor, ClaimStep, ClaimWhat, Comfort, Delivery, Dose, Draft, Ending,
    InsulinKind, Levels, LivedSpan, LowVerdict, LowWas, Mark, MarkKind, Meal, Named, Readings, Region, Said,
    SensorDetail, SensorKind, SensorNote, SensorNoteKind, SkinAfter, TraceDraft, TraceKind, Unit, WearFrom,
    Zone,
};
use proptest::prelude::*;
use proptest::strategy::ValueTree;

/// 2026-02-27T00:00:00Z: the window of the random books crosses two ends of months.
const BEGIN: i64 = 1_772_150_400;
const LENGTH_S: i64 = 40 * 86_400;

fn place() -> Place {
    Place {
        now: 1_800_000_000,
        machine_zone: Zone::named("Asia/Tokyo").unwrap(),
    }
}

/// Writes the book out and brings it into an empty one.
fn there_and_back(book: &Book) -> Book {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path().join("out");
    let taken = taken(book, None, DEFAULT_SEED).unwrap();
    export(book, &taken, TableFormat::Csv, &mut Folder::create(&dir).unwrap()).unwrap();
    let mut again = Book::in_memory().unwrap();
    let report = import_path(&mut again, &dir, &ImportRequest::default(), &place(), &mut ()).unwrap();
    assert_eq!(report.rejected, 0, "{:?}", report.problems);
    assert!(report.notes.is_empty(), "{:?}", report.notes);
    if report.status != FileStatus::Imported {
        assert!(is_empty(&book.load_all().unwrap()), "{:?}", report.problems);
    }
    again
}

fn is_empty(record: &Record) -> bool {
    let told = told(record);
    told.iter()
        .all(|(name, lines)| *name == "zones" || lines.is_empty())
}

/// Everything of a record that the round trip keeps, as lines in a settled order.
fn told(record: &Record) -> Vec<(&'static str, Vec<String>)> {
    fn lines<T: std::fmt::Debug>(all: &[interstice_book::Kept<T>]) -> Vec<String> {
        let mut lines: Vec<String> = all.iter().map(|kept| format!("{:?}", kept.it)).collect();
        lines.sort();
        lines
    }
    let readings = record.traces.iter().flat_map(|trace| {
        let columns = trace.readings.at().iter().zip(trace.readings.level());
        columns.map(|(at, level)| {
            let said = record.levels.get(*level).said;
            format!("{} {:?} {at} {said:?}", trace.sensor, trace.kind)
        })
    });
    vec![
        ("readings", readings.collect()),
        ("blood checks", lines(&record.blood_checks)),
        ("doses", lines(&record.doses)),
        ("meals", lines(&record.meals)),
        ("entries", lines(&record.marks)),
        ("moments", lines(&record.sensor_notes)),
        ("words on lows", lines(&record.low_verdicts)),
        (
            "zones",
            vec![format!(
                "{:?} {:?} {:?}",
                record.base_zone,
                record.lived_apart(),
                record.clock
            )],
        ),
    ]
}

fn assert_same(book: &Book, again: &Book) {
    let (record, back) = (book.load_all().unwrap(), again.load_all().unwrap());
    if !is_empty(&record) {
        assert_eq!(told(&record), told(&back));
        assert_eq!(book.settings().unwrap(), again.settings().unwrap());
    }
    let written = book.settings_as_written().unwrap();
    if !written.is_empty() {
        assert_eq!(written, again.settings_as_written().unwrap());
        assert_eq!(book.sensor_kinds().unwrap(), again.sensor_kinds().unwrap());
        assert_eq!(book.claims().unwrap(), again.claims().unwrap());
    }
}

fn at() -> impl Strategy<Value = i64> {
    // To the second, and often to the minute, as sources tell it.
    prop_oneof![0..LENGTH_S, (0..LENGTH_S / 60).prop_map(|minute| minute * 60)].prop_map(|s| BEGIN + s)
}

fn words() -> impl Strategy<Value = Option<String>> {
    proptest::option::of(prop_oneof![
        Just("bread, butter".to_owned()),
        Just("said \"no\"\r\nthen yes".to_owned()),
        Just(" spaces; ".to_owned()),
        Just("=1+1".to_owned()),
        Just("Müsli 朝 \u{1f35e}".to_owned()),
        "[a-z]{1,6}",
    ])
}

fn one_of<T: Named + std::fmt::Debug>() -> impl Strategy<Value = T> {
    proptest::sample::select(T::NAMES.iter().map(|&(it, _)| it).collect::<Vec<T>>())
}

fn said() -> impl Strategy<Value = Said> {
    (0i64..400_000, 0u8..4, one_of::<Unit>(), one_of::<Censor>())
        .prop_map(|(mantissa, decimals, unit, censor)| Said::new(mantissa, decimals, unit, censor).unwrap())
}

fn figure() -> impl Strategy<Value = Option<f64>> {
    proptest::option::of(prop_oneof![
        Just(0.0),
        Just(0.1),
        Just(1.0 / 3.0),
        Just(1e-300),
        Just(123_456_789.123_456_79),
        0.0f64..500.0
    ])
}

fn trace() -> impl Strategy<Value = (String, TraceKind, Vec<(i64, Said)>)> {
    let sensor = prop_oneof![
        Just(String::new()),
        Just("S1".to_owned()),
        Just("the, second".to_owned())
    ];
    (
        sensor,
        one_of::<TraceKind>(),
        proptest::collection::vec((at(), said()), 0..30),
    )
}

fn dose() -> impl Strategy<Value = Dose> {
    let delivery = prop_oneof![
        Just(Delivery::AtOnce),
        (1u32..600).prop_map(|minutes| Delivery::Spread { minutes }),
        Just(Delivery::BasalRate),
        Just(Delivery::Intravenous),
    ];
    (at(), figure(), one_of::<InsulinKind>(), delivery, words()).prop_map(
        |(at, units, insulin, delivery, note)| Dose {
            at,
            units: units.unwrap_or(4.0),
            insulin,
            delivery,
            note,
        },
    )
}

fn meal() -> impl Strategy<Value = Meal> {
    (at(), figure(), figure(), figure(), figure(), figure(), words()).prop_map(
        |(at, carbohydrate_g, protein_g, fat_g, fibre_g, energy_kcal, text)| Meal {
            at,
            carbohydrate_g,
            protein_g,
            fat_g,
            fibre_g,
            energy_kcal,
            text,
        },
    )
}

fn mark() -> impl Strategy<Value = Mark> {
    let lasts = proptest::option::of(0i64..30_000);
    (at(), lasts, one_of::<MarkKind>(), figure(), words()).prop_map(|(at, lasts, kind, value, text)| Mark {
        at,
        until: lasts.map(|lasts| at + lasts),
        kind,
        value,
        text,
    })
}

fn detail() -> impl Strategy<Value = SensorDetail> {
    (
        proptest::collection::vec("[a-z ;,\"]{1,8}", 0..3),
        words(),
        proptest::option::of(one_of::<Ending>()),
        proptest::option::of(one_of::<Comfort>()),
        proptest::option::of(one_of::<SkinAfter>()),
        proptest::option::of(0u16..400),
    )
        .prop_map(
            |(preparation, lot, ending, comfort, skin, skin_days)| SensorDetail {
                preparation,
                lot,
                ending,
                comfort,
                skin,
                skin_days,
                ..SensorDetail::default()
            },
        )
}

fn moment() -> impl Strategy<Value = SensorNote> {
    (
        at(),
        one_of::<SensorNoteKind>(),
        words(),
        words(),
        words(),
        detail(),
    )
        .prop_map(|(at, kind, sensor, site, note, detail)| SensorNote {
            at,
            kind,
            sensor,
            site,
            note,
            detail,
        })
}

fn lived() -> impl Strategy<Value = Vec<LivedSpan>> {
    let zone = proptest::sample::select(vec!["UTC", "Europe/Lisbon", "America/St_Johns", "+05:45"]);
    (at(), 1i64..900_000, zone, any::<bool>()).prop_map(|(from, length, zone, there)| {
        let span = LivedSpan {
            from,
            to: from + length,
            zone: Zone::named(zone).unwrap(),
        };
        there.then_some(span).into_iter().collect()
    })
}

prop_compose! {
    fn source()(
        traces in proptest::collection::vec(trace(), 0..3),
        checks in proptest::collection::vec((at(), said(), one_of::<BloodSource>(), words()), 0..6),
        doses in proptest::collection::vec(dose(), 0..6),
        meals in proptest::collection::vec(meal(), 0..6),
        marks in proptest::collection::vec(mark(), 0..6),
        sensor_notes in proptest::collection::vec(moment(), 0..4),
        lows in proptest::collection::vec((at(), 0i64..9000, words(), one_of::<LowWas>(), words()), 0..3),
        lived in lived(),
    ) -> Draft {
        let mut levels = Levels::new();
        let traces = traces.into_iter().map(|(sensor, kind, rows)| {
            let mut readings = Readings::default();
            for (at, said) in rows {
                readings.push(u32::try_from(at).unwrap(), levels.intern(said));
            }
            TraceDraft { sensor, kind, readings }
        }).collect();
        Draft {
            traces,
            levels,
            blood_checks: checks.into_iter().map(|(at, said, source, note)| BloodCheck { at, said, source, note }).collect(),
            doses,
            meals,
            marks,
            sensor_notes,
            low_verdicts: lows.into_iter().map(|(at, lasts, sensor, was, note)| LowVerdict {
                at, until: at + lasts, sensor, was, note,
            }).collect(),
            lived,
            ..Draft::default()
        }
    }
}

/// A book of several sources, the last of them written by hand.
fn book_of(sources: &[Draft], base: Option<&str>) -> Book {
    let mut book = Book::in_memory().unwrap();
    for (number, draft) in sources.iter().enumerate() {
        let digest = [u8::try_from(number).unwrap(); 32];
        let provenance = Provenance {
            base_zone: base.map(|base| Zone::named(base).unwrap()),
            unit: Some(Unit::MmolPerL),
            ..Provenance::named(format!("{number}.csv"), digest)
        };
        if number + 1 < sources.len() || number == 0 {
            book.import(draft, &provenance, &mut |_, _| ControlFlow::Continue(()))
                .unwrap();
        } else {
            book.log(draft, "logged", 5).unwrap();
        }
    }
    book
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]
    #[test]
    fn a_book_comes_back_the_same(sources in proptest::collection::vec(source(), 1..4), away: bool) {
        let book = book_of(&sources, Some(if away { "America/New_York" } else { "Europe/Lisbon" }));
        assert_same(&book, &there_and_back(&book));
    }
}

#[test]
fn what_was_set_comes_back_with_the_rest() {
    let mut book = book_of(&[], None);
    let kind = SensorKind {
        name: "a kind, invented".to_owned(),
        wear_min: 20_160,
        extra_min: 720,
        warm_up_min: 60,
        longest_bedding_min: 0,
        wear_from: WearFrom::Started,
        side_by_side: true,
        sites: vec![Region::UpperArm, Region::Abdomen],
    };
    book.set_sensor_kind(&kind, 1).unwrap();
    book.set(Setting::Unit(Some(Unit::MmolPerL)), 2).unwrap();
    book.set(Setting::BaseZone(Some(Zone::named("Europe/Lisbon").unwrap())), 3)
        .unwrap();
    let step = ClaimStep {
        what: ClaimWhat::Sent,
        at: BEGIN,
        words: Some("by post".to_owned()),
    };
    book.add_claim_step("S1", step, 4).unwrap();
    let mut again = there_and_back(&book);
    assert_same(&book, &again);
    assert_eq!(again.sensor_kinds().unwrap().all, [kind]);
    // Taking the import back takes back what it set.
    again.undo(None, 9).unwrap();
    assert!(again.settings_as_written().unwrap().is_empty());
    assert!(again.check().unwrap().is_whole());
}

#[test]
fn a_second_import_of_the_same_export_changes_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let mut draft = Draft::default();
    let levels = [104, 110, 111].map(|value| draft.levels.intern(Said::whole_mg_per_dl(value)));
    let readings =
        Readings::from_columns((0..3).map(|i| 1_772_150_400 + 300 * i).collect(), levels.to_vec()).unwrap();
    draft.traces.push(TraceDraft {
        sensor: "S1".to_owned(),
        kind: TraceKind::Automatic,
        readings,
    });
    let book = book_of(&[draft], Some("Europe/Lisbon"));
    let taken = taken(&book, None, DEFAULT_SEED).unwrap();
    export(
        &book,
        &taken,
        TableFormat::Csv,
        &mut Folder::create(folder.path()).unwrap(),
    )
    .unwrap();
    let mut again = Book::in_memory().unwrap();
    let bring = |book: &mut Book| {
        import_path(book, folder.path(), &ImportRequest::default(), &place(), &mut ()).unwrap()
    };
    assert_eq!(bring(&mut again).readings_new, 3);
    let second = bring(&mut again);
    assert_eq!((second.readings_new, second.already_there), (0, 3));
    // A table that somebody changed is another import, and its shortened rows are told of.
    let part = folder.path().join("readings/month=2026-02/part.csv");
    let text = std::fs::read_to_string(&part).unwrap();
    let cut: String = text.split_inclusive("\r\n").take(3).collect();
    std::fs::write(&part, cut.replace(",104,", ",not a number,")).unwrap();
    let third = bring(&mut again);
    assert_eq!(third.rejected, 1);
    assert!(
        third.problems[0].reason.contains("decimal number"),
        "{:?}",
        third.problems
    );
    assert!(
        third.notes[0].contains("2 rows where the manifest"),
        "{:?}",
        third.notes
    );
}

#[test]
fn the_same_book_gives_the_same_bytes() {
    let mut runner = proptest::test_runner::TestRunner::deterministic();
    let draft = source().new_tree(&mut runner).unwrap().current();
    let book = book_of(&[draft], Some("Europe/Lisbon"));
    let taken = taken(&book, None, DEFAULT_SEED).unwrap();
    for format in [TableFormat::Csv, TableFormat::Parquet] {
        let digests = [(); 2].map(|()| {
            let folder = tempfile::tempdir().unwrap();
            let mut sink = Folder::create(folder.path()).unwrap();
            export(&book, &taken, format, &mut sink).unwrap().files
        });
        assert_eq!(digests[0], digests[1]);
    }
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("x"), "mine").unwrap();
    assert!(Folder::create(folder.path()).is_err(), "nothing is written over");
}
