//! The timeline over forty years at a reading a minute: building it, and any view of it.
//!
//! `cargo bench -p interstice-methods --bench timeline`

use divan::{Bencher, black_box};
use interstice_glucose::{DAY_S, Levels, Readings, Said, Second};
use interstice_methods::timeline::{Pyramid, column_step_s, spreads};

/// Forty years of minutes.
const MINUTES: u32 = 40 * 365 * 1440;

fn main() {
    divan::main();
}

/// A slow wave with a fast one on it, 40 to 300 mg/dL, a day missing every other week.
fn forty_years() -> (Readings, Levels) {
    let mut levels = Levels::new();
    let index: Vec<u32> = (0..=400)
        .map(|value| levels.intern(Said::whole_mg_per_dl(value)))
        .collect();
    let mut readings = Readings::with_capacity(MINUTES as usize);
    for minute in (0..MINUTES).filter(|minute| minute / 1440 % 14 != 9) {
        let (slow, fast) = (f64::from(minute) / 190.0, f64::from(minute) / 17.0);
        let value = 150.0 + 85.0 * libm::sin(slow) + 25.0 * libm::sin(fast);
        readings.push(minute * 60, index[value as usize]);
    }
    (readings, levels)
}

#[divan::bench(sample_count = 20, sample_size = 1)]
fn build(bencher: Bencher) {
    let (readings, levels) = forty_years();
    bencher.bench_local(|| Pyramid::build(black_box((&readings).into()), &levels));
}

#[divan::bench(sample_count = 20, sample_size = 1, args = [1, 7, 30])]
fn spread_by_days(bencher: Bencher, days: i64) {
    let (readings, levels) = forty_years();
    let bounds: Vec<Second> = (0..=40 * 365 / days).map(|i| i * days * DAY_S).collect();
    bencher.bench_local(|| spreads(black_box((&readings).into()), &levels, &bounds));
}

/// 2,560 columns over so many days, somewhere in the middle.
#[divan::bench(args = [14_600, 3650, 365, 30, 1])]
fn view_of_days(bencher: Bencher, days: i64) {
    let (readings, levels) = forty_years();
    let pyramid = Pyramid::build((&readings).into(), &levels).expect("in order and of one table");
    let (span, whole) = (days * DAY_S, Second::from(MINUTES) * 60);
    let (from, step_s) = ((whole - span) / 2, column_step_s(span, 2560));
    let columns = u32::try_from(span / Second::from(step_s)).expect("fits a screen");
    bencher.bench_local(|| pyramid.cells(black_box((&readings).into()), from, step_s, columns));
}
