//! A book with something of every kind in it, invented.
#![allow(dead_code, reason = "each test file uses its part")]

use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

use interstice_book::{Book, Mode, Provenance};
use interstice_glucose::{
    BloodCheck, BloodSource, Draft, Levels, Readings, Said, Second, TraceDraft, TraceKind, Zone,
};

/// 1 March 2025, 00:00 UTC.
pub(crate) const START: Second = 1_740_787_200;
pub(crate) const PASSPHRASE: &str = "otter lamp quiet brass seven";

/// Readings every five minutes and two blood checks a day.
pub(crate) fn draft(first_day: i64, days: i64) -> Draft {
    let mut levels = Levels::new();
    let mut readings = Readings::default();
    let start = START + first_day * 86_400;
    for i in 0..days * 288 {
        let value = 110 + (i % 288 - 144).abs() / 3 + i * 7 % 23;
        readings.push(
            (start + i * 300) as u32,
            levels.intern(Said::whole_mg_per_dl(value)),
        );
    }
    Draft {
        levels,
        traces: vec![TraceDraft {
            sensor: format!("{first_day}"),
            kind: TraceKind::Automatic,
            readings,
        }],
        blood_checks: (0..days * 2)
            .map(|i| BloodCheck {
                at: start + i * 43_200 + 7_200,
                said: Said::whole_mg_per_dl(120 + i * 11 % 60),
                source: BloodSource::Meter,
                note: Some("before breakfast".to_owned()),
            })
            .collect(),
        ..Draft::default()
    }
}

pub(crate) fn import(book: &mut Book, first_day: i64, days: i64) {
    let provenance = Provenance {
        file_name: format!("invented {first_day}.csv"),
        digest: [first_day as u8; 32],
        size_bytes: 1,
        imported_at: START + (first_day + days) * 86_400,
        options_json: "{}".to_owned(),
        understanding_json: "{}".to_owned(),
        recipes: Vec::new(),
        base_zone: Some(Zone::named("Europe/Lisbon").unwrap()),
        unit: None,
        original: None,
        settings: Vec::new(),
    };
    book.import(&draft(first_day, days), &provenance, &mut |_, _| {
        ControlFlow::Continue(())
    })
    .unwrap();
}

/// A book of so many days in a folder of its own, with a scratch folder beside it.
pub(crate) struct Desk {
    pub(crate) folder: tempfile::TempDir,
    pub(crate) book: Book,
}

impl Desk {
    pub(crate) fn with_days(days: i64) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let mut book = Book::open(folder.path().join("book.interstice"), Mode::CreateIfAbsent).unwrap();
        import(&mut book, 0, days);
        std::fs::create_dir(folder.path().join("scratch")).unwrap();
        Desk { folder, book }
    }

    pub(crate) fn at(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub(crate) fn scratch(&self) -> PathBuf {
        self.at("scratch")
    }
}

/// Names in a folder, in order.
pub(crate) fn names(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}
