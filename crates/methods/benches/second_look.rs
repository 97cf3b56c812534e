//! A second look over ten invented years: a reading each five minutes.

use divan::Bencher;
use interstice_glucose::LivedClock;
use interstice_methods::second_look::{Day, Moments, Past};
use interstice_methods::trace::IntervalFrom;

fn main() {
    divan::main();
}

const START: u32 = 1_420_070_400;
const EACH_5_MIN: [IntervalFrom; 1] = [IntervalFrom {
    start: 0,
    interval_s: 300,
}];

/// A cheap repeatable wobble between −1 and 1.
fn wobble(i: u32) -> f64 {
    f64::from(i.wrapping_mul(2_654_435_761) >> 8) / f64::from(1u32 << 23) - 1.0
}

struct Person {
    at: Vec<u32>,
    mg_dl: Vec<f64>,
    clock: LivedClock,
}

/// Meals of every size at three times a day, a slow wander, a lost hour now and then.
fn person(days: u32) -> Person {
    let mut wander = 0.0;
    let (mut at, mut mg_dl) = (Vec::new(), Vec::new());
    for i in 0..days * 288 {
        wander = 0.985 * wander + 6.0 * wobble(i);
        let hour = f64::from(i % 288) / 12.0;
        let meals: f64 = [8.0, 13.0, 19.5]
            .into_iter()
            .enumerate()
            .map(|(k, meal)| {
                let off = (hour - meal) / 1.4;
                (60.0 + 40.0 * wobble(i / 288 * 3 + k as u32)) * libm::exp(-off * off)
            })
            .sum();
        if i % 1777 > 12 {
            at.push(START + i * 300);
            mg_dl.push((125.0 + meals + wander).clamp(40.0, 400.0).round());
        }
    }
    Person {
        at,
        mg_dl,
        clock: LivedClock::fixed(0),
    }
}

impl Person {
    fn past(&self) -> Past<'_> {
        Past {
            at: &self.at,
            mg_dl: &self.mg_dl,
            came_mg_dl: &[],
            intervals: &EACH_5_MIN,
            clock: &self.clock,
            insulin: &[],
            meals: &[],
            range_mg_dl: (70.0, 180.0),
            on_board: &[],
        }
    }

    fn now(&self) -> i64 {
        i64::from(self.at[self.at.len() - 40])
    }
}

/// Laying out the past: once for a record.
#[divan::bench(args = [90, 3652], sample_count = 5)]
fn lay_out(bencher: Bencher<'_, '_>, days: u32) {
    let person = person(days);
    bencher.bench(|| Moments::of(person.past()).len());
}

/// What a day's looks rest on: a year's ridge, four weeks of bands. Once a day.
#[divan::bench(args = [90, 3652], sample_count = 5)]
fn ready_a_day(bencher: Bencher<'_, '_>, days: u32) {
    let person = person(days);
    let moments = Moments::of(person.past());
    bencher.bench(|| Day::of(&moments, person.now()).is_ok());
}

/// One look.
#[divan::bench(args = [90, 3652], sample_count = 50)]
fn look(bencher: Bencher<'_, '_>, days: u32) {
    let person = person(days);
    let moments = Moments::of(person.past());
    let day = Day::of(&moments, person.now()).expect("the last day can be told");
    assert!(
        day.look(&moments, person.now()).is_ok(),
        "there is something to tell"
    );
    bencher.bench(|| day.look(&moments, person.now()).is_ok());
}
