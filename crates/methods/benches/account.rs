//! The account of a window and its bootstrap intervals, from two weeks at five minutes to forty years at one minute.
//!
//! `cargo bench -p interstice-methods --bench account`

use std::fmt;

use divan::{Bencher, black_box};
use interstice_glucose::{DAY_S, Levels, LivedClock, Readings, Said, Second, Zone};
use interstice_methods::{Account, Bootstrap, Series, primary};

fn main() {
    divan::main();
}

/// A window of invented readings.
#[derive(Clone, Copy)]
struct Size {
    days: i64,
    step_s: u32,
}

impl fmt::Display for Size {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} days at {} min", self.days, self.step_s / 60)
    }
}

const SIZES: [Size; 4] = [
    Size {
        days: 14,
        step_s: 300,
    },
    Size {
        days: 90,
        step_s: 300,
    },
    Size {
        days: 365,
        step_s: 60,
    },
    Size {
        days: 14_610,
        step_s: 60,
    },
];

/// 1980-01-01, so that forty years end before 2038.
const FROM: Second = 315_532_800;

/// A wandering slope drawn back to 150 mg/dL, minute by minute: as smooth as a sensor, standard deviation near 55 mg/dL,
/// whole numbers from 40 to 400, two hours of each two hundred lost.
fn readings(size: Size, levels: &mut Levels) -> Readings {
    let index: Vec<u32> = (0..=400)
        .map(|value| levels.intern(Said::whole_mg_per_dl(value)))
        .collect();
    let minutes = u32::try_from(size.days * DAY_S / 60).expect("within a column");
    let from = u32::try_from(FROM).expect("positive");
    let mut readings = Readings::with_capacity((minutes / (size.step_s / 60)) as usize);
    let (mut state, mut value, mut slope) = (1u64, 150.0f64, 0.0f64);
    for minute in 0..minutes {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        let noise = (state >> 40) as f64 / (1u64 << 24) as f64 - 0.5;
        slope += 0.25 * noise - 0.02 * slope;
        value = (value + slope - 0.002 * (value - 150.0)).clamp(40.0, 400.0);
        if minute % (size.step_s / 60) == 0 && (minute / 120) % 100 < 99 {
            readings.push(from + minute * 60, index[value as usize]);
        }
    }
    readings
}

struct Case {
    levels: Levels,
    readings: Readings,
    clock: LivedClock,
    to: Second,
}

fn case(size: Size) -> Case {
    let mut levels = Levels::new();
    let readings = readings(size, &mut levels);
    let to = FROM + size.days * DAY_S;
    let zone = Zone::named("Europe/Lisbon").expect("in the table");
    let clock = LivedClock::new(&zone, &[], FROM - 2 * DAY_S, to);
    Case {
        levels,
        readings,
        clock,
        to,
    }
}

fn account(case: &Case, series: &Series<'_>) -> Account {
    Account::compute(series, &case.levels, &case.clock, FROM, case.to).expect("of one table")
}

/// From one trace to a series.
#[divan::bench(args = SIZES, sample_count = 20)]
fn series(bencher: Bencher, size: Size) {
    let case = case(size);
    bencher.bench_local(|| primary(black_box(&[&case.readings])));
}

/// All figures, days, usual days and episodes.
#[divan::bench(args = SIZES, sample_count = 20)]
fn whole_account(bencher: Bencher, size: Size) {
    let case = case(size);
    let series = primary(&[&case.readings]);
    bencher.bench_local(|| account(black_box(&case), &series));
}

/// 2,000 replicates of all figures.
#[divan::bench(args = SIZES, sample_count = 20)]
fn intervals(bencher: Bencher, size: Size) {
    let case = case(size);
    let series = primary(&[&case.readings]);
    let account = account(&case, &series);
    bencher.bench_local(|| Bootstrap::seeded(1).intervals(black_box(&account)));
}
