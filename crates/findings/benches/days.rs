//! The timeline of forty years at a reading a minute: making it, any view of it, and its account.
//!
//! `cargo bench -p interstice-findings --bench days`

use std::sync::{Arc, LazyLock};

use divan::{Bencher, black_box};
use interstice_book::{Record, Trace};
use interstice_findings::TargetGroup;
use interstice_findings::days::{DaysBook, USUAL_NIGHT, ViewAsk};
use interstice_glucose::{DAY_S, Levels, LivedClock, Readings, Said, Second, TraceKind, Zone};

/// Forty years of minutes.
const MINUTES: u32 = 40 * 365 * 1440;
/// A new sensor every fourteen days.
const SENSOR_MINUTES: usize = 14 * 1440;

fn main() {
    divan::main();
}

/// A slow zigzag with a fast one on it, a day missing every other week, lived in Lisbon.
fn forty_years() -> Record {
    let mut levels = Levels::new();
    let index: Vec<u32> = (0..=400)
        .map(|value| levels.intern(Said::whole_mg_per_dl(value)))
        .collect();
    let minutes: Vec<u32> = (0..MINUTES).collect();
    let traces = (1..)
        .zip(minutes.chunks(SENSOR_MINUTES))
        .map(|(number, minutes)| {
            let mut readings = Readings::with_capacity(minutes.len());
            for &minute in minutes.iter().filter(|&minute| minute / 1440 % 14 != 9) {
                readings.push(
                    minute * 60,
                    index[60 + (minute % 1194).abs_diff(597) as usize / 3 + (minute % 107) as usize / 3],
                );
            }
            Trace {
                sensor: format!("{number}"),
                kind: TraceKind::Automatic,
                readings,
            }
        })
        .collect();
    let base_zone = Zone::named("Europe/Lisbon").expect("Lisbon is in the zone table");
    Record {
        from: Second::MIN,
        to: Second::MAX,
        levels,
        traces,
        blood_checks: Vec::new(),
        doses: Vec::new(),
        meals: Vec::new(),
        marks: Vec::new(),
        sensor_notes: Vec::new(),
        photos: Vec::new(),
        low_verdicts: Vec::new(),
        lived: Vec::new(),
        clock: LivedClock::new(&base_zone, &[], 0, 4_000_000_000),
        base_zone,
        conflicts: 0,
    }
}

static BOOK: LazyLock<DaysBook> = LazyLock::new(|| {
    DaysBook::new(Arc::new(forty_years()), USUAL_NIGHT, TargetGroup::Adult)
        .expect("in order and of one table")
});

#[divan::bench(sample_count = 8, sample_size = 1)]
fn make(bencher: Bencher) {
    let record = Arc::new(forty_years());
    bencher.bench_local(|| {
        DaysBook::new(Arc::clone(black_box(&record)), USUAL_NIGHT, TargetGroup::Adult)
            .map(|book| book.timeline().len())
    });
}

/// So many days, somewhere in the middle, as a laptop asks with half of the view again on either side.
#[divan::bench(args = [14_600, 3650, 365, 30, 1])]
fn view_of_days(bencher: Bencher, days: i64) {
    let from = (Second::from(MINUTES) * 60 - days * DAY_S) / 2;
    let ask = ViewAsk {
        from,
        to: from + days * DAY_S,
        width: 1736,
        density: 2,
    };
    LazyLock::force(&BOOK);
    bencher.bench_local(|| BOOK.view(black_box(ask)).map(|view| view.series.len()));
}

#[divan::bench(args = [14_600, 365, 1])]
fn account_of_days(bencher: Bencher, days: i64) {
    let from = (Second::from(MINUTES) * 60 - days * DAY_S) / 2;
    LazyLock::force(&BOOK);
    bencher.bench_local(|| {
        BOOK.account(black_box(from), from + days * DAY_S)
            .map(|told| told.readings)
    });
}
