//! What the tests of the book share: drafts made from plain rows, and a model of the book to hold it against.
#![allow(dead_code, reason = "each test binary uses its own part")]

use std::collections::{BTreeMap, BTreeSet};
use std::ops::ControlFlow;

use interstice_book::{Book, ImportReceipt, Provenance, Record};
use interstice_glucose::{
    BloodCheck, BloodSource, Delivery, Dose, Draft, InsulinKind, Levels, Mark, MarkKind, Meal, Readings,
    Said, SensorDetail, SensorNote, SensorNoteKind, TraceDraft, TraceKind,
};

/// A reading as a test writes it: sensor, kind, instant, value.
pub(crate) type Row = (&'static str, TraceKind, u32, Said);

/// Everything a source can bring, as plain rows.
#[derive(Clone, Debug, Default)]
pub(crate) struct Source {
    pub(crate) readings: Vec<Row>,
    pub(crate) blood_checks: Vec<BloodCheck>,
    pub(crate) doses: Vec<Dose>,
    pub(crate) meals: Vec<Meal>,
    pub(crate) marks: Vec<Mark>,
    pub(crate) sensor_notes: Vec<SensorNote>,
}

impl Source {
    pub(crate) fn draft(&self) -> Draft {
        let mut levels = Levels::new();
        let mut traces: BTreeMap<(&str, TraceKind), Readings> = BTreeMap::new();
        for &(sensor, kind, at, said) in &self.readings {
            traces
                .entry((sensor, kind))
                .or_default()
                .push(at, levels.intern(said));
        }
        let traces = traces
            .into_iter()
            .map(|((sensor, kind), readings)| TraceDraft {
                sensor: sensor.to_owned(),
                kind,
                readings,
            })
            .collect();
        Draft {
            levels,
            traces,
            blood_checks: self.blood_checks.clone(),
            doses: self.doses.clone(),
            meals: self.meals.clone(),
            marks: self.marks.clone(),
            sensor_notes: self.sensor_notes.clone(),
            ..Draft::default()
        }
    }
}

pub(crate) fn mg(value: i64) -> Said {
    Said::whole_mg_per_dl(value)
}

pub(crate) fn check(at: i64, value: i64) -> BloodCheck {
    BloodCheck {
        at,
        said: mg(value),
        source: BloodSource::Meter,
        note: None,
    }
}

pub(crate) fn dose(at: i64, units: f64) -> Dose {
    Dose {
        at,
        units,
        insulin: InsulinKind::Rapid,
        delivery: Delivery::AtOnce,
        note: None,
    }
}

pub(crate) fn meal(at: i64, grams: f64) -> Meal {
    Meal {
        at,
        carbohydrate_g: Some(grams),
        protein_g: None,
        fat_g: None,
        fibre_g: None,
        energy_kcal: None,
        text: Some("bread".to_owned()),
    }
}

pub(crate) fn mark(at: i64, until: Option<i64>, text: &str) -> Mark {
    Mark {
        at,
        until,
        kind: MarkKind::Note,
        value: None,
        text: Some(text.to_owned()),
    }
}

pub(crate) fn sensor_note(at: i64) -> SensorNote {
    SensorNote {
        at,
        kind: SensorNoteKind::Started,
        sensor: Some("A".to_owned()),
        site: None,
        note: None,
        detail: SensorDetail::default(),
    }
}

pub(crate) fn provenance(number: u64) -> Provenance {
    let mut digest = [0; 32];
    digest[..8].copy_from_slice(&number.to_le_bytes());
    Provenance {
        size_bytes: 1000 + number,
        imported_at: 1_700_000_000 + number as i64,
        ..Provenance::named(format!("file {number}.csv"), digest)
    }
}

pub(crate) fn import(book: &mut Book, number: u64, source: &Source) -> ImportReceipt {
    import_draft(book, number, &source.draft())
}

pub(crate) fn import_draft(book: &mut Book, number: u64, draft: &Draft) -> ImportReceipt {
    book.import(draft, &provenance(number), &mut |_, _| ControlFlow::Continue(()))
        .unwrap()
}

/// What a book should hold, kept the simplest way: for each trace and instant the values told, in order.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Model {
    pub(crate) readings: BTreeMap<(&'static str, TraceKind, u32), Vec<Said>>,
    pub(crate) entries: BTreeSet<String>,
}

#[derive(Debug, Default, PartialEq, Eq)]
pub(crate) struct Tally {
    pub(crate) new: u64,
    pub(crate) already_there: u64,
    pub(crate) conflicts: u64,
}

impl Model {
    pub(crate) fn add(&mut self, source: &Source) -> Tally {
        let mut tally = Tally::default();
        for &(sensor, kind, at, said) in &source.readings {
            let told = self.readings.entry((sensor, kind, at)).or_default();
            if told.iter().any(|known| known.agrees_with(said)) {
                tally.already_there += 1;
            } else if told.is_empty() {
                tally.new += 1;
                told.push(said);
            } else {
                tally.conflicts += 1;
                told.push(said);
            }
        }
        for entry in entry_lines(source) {
            if self.entries.insert(entry) {
                tally.new += 1;
            } else {
                tally.already_there += 1;
            }
        }
        tally
    }

    pub(crate) fn conflicts(&self) -> u64 {
        self.readings.values().map(|told| told.len() as u64 - 1).sum()
    }

    pub(crate) fn standing(&self) -> BTreeMap<(String, TraceKind, u32), Said> {
        self.readings
            .iter()
            .map(|(&(sensor, kind, at), told)| ((sensor.to_owned(), kind, at), told[0]))
            .collect()
    }
}

fn entry_lines(source: &Source) -> impl Iterator<Item = String> {
    let checks = source.blood_checks.iter().map(|it| format!("{it:?}"));
    let doses = source.doses.iter().map(|it| format!("{it:?}"));
    let meals = source.meals.iter().map(|it| format!("{it:?}"));
    let marks = source.marks.iter().map(|it| format!("{it:?}"));
    let notes = source.sensor_notes.iter().map(|it| format!("{it:?}"));
    checks
        .chain(doses)
        .chain(meals)
        .chain(marks)
        .chain(notes)
        .collect::<Vec<_>>()
        .into_iter()
}

/// The standing readings of a record.
pub(crate) fn standing(record: &Record) -> BTreeMap<(String, TraceKind, u32), Said> {
    let mut all = BTreeMap::new();
    for trace in &record.traces {
        let readings = &trace.readings;
        assert!(
            readings.at().windows(2).all(|pair| pair[0] < pair[1]),
            "instants must be strictly increasing"
        );
        for (&at, &level) in readings.at().iter().zip(readings.level()) {
            all.insert(
                (trace.sensor.clone(), trace.kind, at),
                record.levels.get(level).said,
            );
        }
    }
    all
}

/// The entries of a record.
pub(crate) fn entries(record: &Record) -> BTreeSet<String> {
    let source = Source {
        readings: Vec::new(),
        blood_checks: record.blood_checks.iter().map(|kept| kept.it.clone()).collect(),
        doses: record.doses.iter().map(|kept| kept.it.clone()).collect(),
        meals: record.meals.iter().map(|kept| kept.it.clone()).collect(),
        marks: record.marks.iter().map(|kept| kept.it.clone()).collect(),
        sensor_notes: record.sensor_notes.iter().map(|kept| kept.it.clone()).collect(),
    };
    let lines: Vec<String> = entry_lines(&source).collect();
    let all: BTreeSet<String> = lines.iter().cloned().collect();
    assert_eq!(all.len(), lines.len(), "an entry is shown once");
    all
}

pub(crate) fn assert_same(book: &Book, model: &Model) {
    let record = book.load_all().unwrap();
    assert_eq!(standing(&record), model.standing());
    assert_eq!(entries(&record), model.entries);
    assert_eq!(record.conflicts, model.conflicts());
    assert_eq!(
        book.conflicts(i64::MIN, i64::MAX).unwrap().len() as u64,
        model.conflicts()
    );
}

/// One grey pixel, written by hand after RFC 2083.
pub(crate) const SMALLEST_PNG: &[u8] =
    b"\x89\x50\x4e\x47\x0d\x0a\x1a\x0a\x00\x00\x00\x0d\x49\x48\x44\x52\x00\x00\x00\x01\x00\x00\x00\x01\
    \x08\x00\x00\x00\x00\x3a\x7e\x9b\x55\x00\x00\x00\x0a\x49\x44\x41\x54\x78\xda\x63\x68\x00\x00\x00\
    \x82\x00\x81\xda\x45\x08\x3b\x00\x00\x00\x00\x49\x45\x4e\x44\xae\x42\x60\x82";
