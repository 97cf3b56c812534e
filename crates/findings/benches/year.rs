//! A year reviewed whole with five thousand things written down, and a second look in ten years of it.
//!
//! `cargo bench -p interstice-findings --bench year`

use std::sync::LazyLock;

use divan::{Bencher, black_box};
use interstice_book::{Book, Provenance};
use interstice_findings::{Ask, Reader, SecondLookAsk, Shelf, Span, TargetGroup, review};
use interstice_glucose::{
    BloodCheck, BloodSource, Delivery, Dose, Draft, InsulinKind, InsulinLasts, Mark, MarkKind, Meal,
    Readings, Said, Second, TraceDraft, TraceKind, Unit,
};

/// 1 January 2015, 00:00 UTC.
const START: Second = 1_420_070_400;
const DAY_S: Second = 86_400;
/// A new sensor every fourteen days.
const SENSOR_READINGS: u32 = 14 * 288;
/// Hours of meals, each with a dose.
const MEALS: [i64; 4] = [7, 12, 16, 19];

fn main() {
    divan::main();
}

/// A cheap repeatable wobble between −1 and 1.
fn wobble(i: u32) -> f64 {
    f64::from(i.wrapping_mul(2_654_435_761) >> 8) / f64::from(1u32 << 23) - 1.0
}

/// A reading every five minutes: meals of every size, corrections, a slow wander that brings lows and highs.
fn readings(draft: &mut Draft, days: u32) {
    let mut wander = 0.0;
    for sensor in 0..(days * 288).div_ceil(SENSOR_READINGS) {
        let mut column = Readings::default();
        for i in sensor * SENSOR_READINGS..((sensor + 1) * SENSOR_READINGS).min(days * 288) {
            wander = 0.99 * wander + 7.0 * wobble(i);
            let hour = f64::from(i % 288) / 12.0;
            let meal = |k: usize| {
                let off = (hour - MEALS[k] as f64 - 1.0) / 1.2;
                (55.0 + 45.0 * wobble(i / 288 * 4 + k as u32)) * libm::exp(-off * off)
            };
            let level = (118.0 + (0..4).map(meal).sum::<f64>() + wander).clamp(40.0, 400.0);
            if i % 1777 > 12 {
                let level = draft.levels.intern(Said::whole_mg_per_dl(level.round() as i64));
                column.push(START as u32 + 300 * i, level);
            }
        }
        draft.traces.push(TraceDraft {
            sensor: format!("{sensor}"),
            kind: TraceKind::Automatic,
            readings: column,
        });
    }
}

/// Four meals and doses, a correction, three blood checks, an activity and a night: fourteen things a day.
fn written(draft: &mut Draft, days: u32) {
    for day in 0..days {
        let at = |minute: i64| START + Second::from(day) * DAY_S + 60 * minute;
        let dose = |minute: i64, units: f64| Dose {
            at: at(minute),
            units,
            insulin: InsulinKind::Rapid,
            delivery: Delivery::AtOnce,
            note: None,
        };
        for (k, hour) in MEALS.into_iter().enumerate() {
            let grams = (45.0 + 30.0 * wobble(day * 4 + k as u32)).round();
            draft.meals.push(Meal {
                at: at(60 * hour),
                carbohydrate_g: Some(grams),
                protein_g: None,
                fat_g: None,
                fibre_g: None,
                energy_kcal: None,
                text: Some(["porridge", "sandwich", "fruit", "rice"][(k + day as usize) % 4].to_owned()),
            });
            draft.doses.push(dose(60 * hour - 5, (grams / 10.0).round()));
        }
        draft.doses.push(dose(60 * 22, 2.0));
        for minute in [410, 870, 1290] {
            draft.blood_checks.push(BloodCheck {
                at: at(minute),
                said: Said::whole_mg_per_dl(110 + i64::from(day % 60)),
                source: BloodSource::Meter,
                note: None,
            });
        }
        for (kind, from, to) in [(MarkKind::Activity, 1050, 1095), (MarkKind::Sleep, 1390, 1830)] {
            draft.marks.push(Mark {
                at: at(from),
                until: Some(at(to)),
                kind,
                value: None,
                text: None,
            });
        }
    }
}

fn book(days: u32, path: Option<&std::path::Path>) -> Book {
    let mut draft = Draft::default();
    readings(&mut draft, days);
    written(&mut draft, days);
    let mut book = match path {
        Some(path) => Book::open(path, interstice_book::Mode::CreateIfAbsent),
        None => Book::in_memory(),
    }
    .expect("a new book opens");
    let go_on = &mut |_, _| std::ops::ControlFlow::Continue(());
    book.import(&draft, &Provenance::named("made up", [0; 32]), go_on)
        .expect("it is taken in");
    book
}

const READER: Reader = Reader {
    unit: Unit::MgPerDl,
    group: TargetGroup::Adult,
    night: None,
    insulin: InsulinLasts {
        rapid_min: None,
        short_min: None,
    },
};

/// The account of a year: 105,000 readings, 5,110 things written down.
#[divan::bench(sample_count = 10, sample_size = 1)]
fn review_a_year(bencher: Bencher) {
    let record = book(365, None).load_all().expect("it is read");
    let ask = Ask {
        span: Span::LastDays(365),
        ..Ask::default()
    };
    bencher.bench_local(|| review(black_box(&record), READER, &ask).is_ok());
}

static FOLDER: LazyLock<tempfile::TempDir> = LazyLock::new(|| tempfile::tempdir().expect("there is room"));

/// A second look at one moment after another of the last day of ten years, the book kept warm.
#[divan::bench(sample_count = 30, sample_size = 1)]
fn second_look_in_ten_years(bencher: Bencher) {
    let path = FOLDER.path().join("ten");
    let _book = (!path.exists()).then(|| book(3652, Some(&path)));
    let shelf = Shelf::new(&path);
    let last = START + 3652 * DAY_S - 300;
    let look = |minutes: Second| {
        let ask = SecondLookAsk {
            at: Some(last - 60 * minutes),
        };
        shelf.second_look(ask).expect("it is answered")
    };
    assert!(look(0).look.is_some(), "there is something to tell");
    let mut minutes = 0;
    bencher.bench_local(|| {
        minutes = (minutes + 25) % 900;
        look(minutes).alike
    });
}

/// The first look at a day of it: a month lived through again.
#[divan::bench(sample_count = 3, sample_size = 1)]
fn first_look_of_a_day(bencher: Bencher) {
    let path = FOLDER.path().join("ten");
    let _book = (!path.exists()).then(|| book(3652, Some(&path)));
    bencher.bench_local(|| {
        let shelf = Shelf::new(&path);
        shelf.second_look(SecondLookAsk::default()).is_ok()
    });
}
