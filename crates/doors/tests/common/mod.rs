//! What the tests of the doors share: random books, and what a record tells.
#![allow(dead_code, reason = "each test binary uses its own part")]

use std::ops::ControlFlow;

use interstice_book::{Book, Photo, Provenance, Record};
use interstice_desk::Place;
use interstice_glucose::{
    BloodCheck, BloodSource, Censor, Comfort, Delivery, Dose, Draft, Ending, InsulinKind, Levels, LivedSpan,
    LowVerdict, LowWas, Mark, MarkKind, Meal, Named, PhotoDraft, Readings, Said, SensorDetail, SensorNote,
    SensorNoteKind, SkinAfter, TraceDraft, TraceKind, Unit, Zone,
};
use proptest::prelude::*;

/// 2026-02-27T00:00:00Z: the window of the random books crosses two ends of months.
pub(crate) const BEGIN: i64 = 1_772_150_400;
pub(crate) const LENGTH_S: i64 = 40 * 86_400;

pub(crate) fn place() -> Place {
    Place {
        now: 1_800_000_000,
        machine_zone: Zone::named("Asia/Tokyo").unwrap(),
    }
}

pub(crate) fn is_empty(record: &Record) -> bool {
    let told = told(record);
    told.iter()
        .all(|(name, lines)| *name == "zones" || lines.is_empty())
}

/// Everything of a record that the round trip keeps, as lines in a settled order.
pub(crate) fn told(record: &Record) -> Vec<(&'static str, Vec<String>)> {
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
        ("photos", photos(record)),
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

fn photos(record: &Record) -> Vec<String> {
    let line = |photo: &Photo| {
        let Photo {
            at,
            sensor,
            name,
            media,
            size_bytes,
            ..
        } = photo;
        format!("{at} {sensor:?} {name} {media:?} {size_bytes}")
    };
    let mut lines: Vec<String> = record.photos.iter().map(line).collect();
    lines.sort();
    lines
}

pub(crate) fn at() -> impl Strategy<Value = i64> {
    // To the second, and often to the minute, as sources tell it.
    prop_oneof![0..LENGTH_S, (0..LENGTH_S / 60).prop_map(|minute| minute * 60)].prop_map(|s| BEGIN + s)
}

pub(crate) fn words() -> impl Strategy<Value = Option<String>> {
    proptest::option::of(prop_oneof![
        Just("bread, butter".to_owned()),
        Just("said \"no\"\r\nthen yes".to_owned()),
        Just(" spaces; ".to_owned()),
        Just("=1+1".to_owned()),
        Just("Müsli 朝 \u{1f35e}".to_owned()),
        "[a-z]{1,6}",
    ])
}

pub(crate) fn one_of<T: Named + std::fmt::Debug>() -> impl Strategy<Value = T> {
    proptest::sample::select(T::NAMES.iter().map(|&(it, _)| it).collect::<Vec<T>>())
}

pub(crate) fn said() -> impl Strategy<Value = Said> {
    (0i64..400_000, 0u8..4, one_of::<Unit>(), one_of::<Censor>())
        .prop_map(|(mantissa, decimals, unit, censor)| Said::new(mantissa, decimals, unit, censor).unwrap())
}

pub(crate) fn figure() -> impl Strategy<Value = Option<f64>> {
    proptest::option::of(prop_oneof![
        Just(0.0),
        Just(0.1),
        Just(1.0 / 3.0),
        Just(1e-300),
        Just(123_456_789.123_456_79),
        0.0f64..500.0
    ])
}

pub(crate) fn trace() -> impl Strategy<Value = (String, TraceKind, Vec<(i64, Said)>)> {
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

pub(crate) fn dose() -> impl Strategy<Value = Dose> {
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

pub(crate) fn meal() -> impl Strategy<Value = Meal> {
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

pub(crate) fn mark() -> impl Strategy<Value = Mark> {
    let lasts = proptest::option::of(0i64..30_000);
    (at(), lasts, one_of::<MarkKind>(), figure(), words()).prop_map(|(at, lasts, kind, value, text)| Mark {
        at,
        until: lasts.map(|lasts| at + lasts),
        kind,
        value,
        text,
    })
}

pub(crate) fn detail() -> impl Strategy<Value = SensorDetail> {
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

pub(crate) fn moment() -> impl Strategy<Value = SensorNote> {
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

/// The beginnings of pictures: the book looks no further.
pub(crate) fn photo() -> impl Strategy<Value = PhotoDraft> {
    let begins = proptest::sample::select(vec![
        &b"\xff\xd8\xff\xe0\0\x10JFIF"[..],
        b"\x89PNG\r\n\x1a\n",
        b"RIFF\x24\0\0\0WEBPVP8 ",
    ]);
    (
        at(),
        words(),
        "[a-z ]{1,8}",
        begins,
        proptest::collection::vec(any::<u8>(), 0..40),
    )
        .prop_map(|(at, sensor, name, begins, rest)| PhotoDraft {
            at,
            sensor,
            name: format!("{name}.jpg"),
            bytes: [begins, &rest].concat(),
        })
}

pub(crate) fn lived() -> impl Strategy<Value = Vec<LivedSpan>> {
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
    pub(crate) fn source()(
        traces in proptest::collection::vec(trace(), 0..3),
        checks in proptest::collection::vec((at(), said(), one_of::<BloodSource>(), words()), 0..6),
        doses in proptest::collection::vec(dose(), 0..6),
        meals in proptest::collection::vec(meal(), 0..6),
        marks in proptest::collection::vec(mark(), 0..6),
        sensor_notes in proptest::collection::vec(moment(), 0..4),
        lows in proptest::collection::vec((at(), 0i64..9000, words(), one_of::<LowWas>(), words()), 0..3),
        photos in proptest::collection::vec(photo(), 0..3),
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
            photos,
            lived,
            ..Draft::default()
        }
    }
}

/// A book of several sources, the last of them written by hand.
pub(crate) fn book_of(sources: &[Draft], base: Option<&str>) -> Book {
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
