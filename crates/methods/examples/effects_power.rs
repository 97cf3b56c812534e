//! How often a question is settled by the further sensors that were said to settle it, by simulation.
//!
//! `cargo run -p interstice-methods --release --example effects_power`
//!
//! An invented book of a few sensors is asked. Where it says 'about N more sensors would settle it', N more are invented,
//! whose true effect is what the answer planned for: the effect as estimated, or 3 points where that is less. The book is asked
//! again with all sensors: settled is what is then shown as there, or as too small to matter. *Anew*: the first sensors too
//! are invented again with that effect, so that nothing of the first estimate is in the second.

#![expect(clippy::print_stdout, reason = "it prints a table")]

use interstice_methods::effects::{
    Answer, Differences, Estimate, More, Quality, Question, Standing, Values, ask,
};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

const REPLICATES: u64 = 400;
/// Points from check to check, from day to day, from sensor to sensor.
const CHECK_SD: f64 = 10.0;
const DAY_SD: f64 = 3.0;
const SENSOR_SD: f64 = 4.0;
/// As the answers have it.
const WORTH_POINTS: f64 = 3.0;

/// What is asked about.
#[derive(Clone, Copy, PartialEq)]
enum About {
    Site,
    FirstDay,
}

/// Random numbers of a normal distribution, by the polar method.
struct Normal(ChaCha8Rng);

impl Normal {
    fn even(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1u64 << 53) as f64
    }

    fn draw(&mut self) -> f64 {
        loop {
            let (a, b) = (2.0 * self.even() - 1.0, 2.0 * self.even() - 1.0);
            let square = a * a + b * b;
            if square > 0.0 && square < 1.0 {
                return a * (-2.0 * libm::log(square) / square).sqrt();
            }
        }
    }
}

#[derive(Default)]
struct Book {
    sensors: u32,
    sensor: Vec<u32>,
    day: Vec<u32>,
    percent: Vec<f64>,
    site: Vec<Option<u16>>,
    preparation: Vec<Option<u16>>,
    first_day: Vec<Option<u16>>,
}

impl Book {
    /// Adds sensors of ten days, a check or two a day, at two sites in turn, prepared one way or the other in pairs.
    fn wear(&mut self, sensors: u32, about: About, effect: f64, normal: &mut Normal) {
        for sensor in self.sensors..self.sensors + sensors {
            let (site, preparation) = ((sensor % 2) as u16, (sensor / 2 % 2) as u16);
            let shift = SENSOR_SD * normal.draw();
            for day in 0..10 {
                let of_day = DAY_SD * normal.draw();
                for _ in 0..1 + u32::from(normal.even() > 0.5) {
                    let first = u16::from(day == 0);
                    let has = match about {
                        About::Site => site,
                        About::FirstDay => first,
                    };
                    self.sensor.push(sensor);
                    self.day.push(day);
                    self.percent
                        .push(shift + of_day + effect * f64::from(has) + CHECK_SD * normal.draw());
                    self.site.push(Some(site));
                    self.preparation.push(Some(preparation));
                    self.first_day.push(Some(first));
                }
            }
        }
        self.sensors += sensors;
    }

    fn answer(&self, about: About) -> Option<Estimate> {
        let levels = |values, held_equal| Question {
            values: Values::Levels(values),
            held_equal,
        };
        let differences = Differences {
            sensor: &self.sensor,
            day: &self.day,
            relative_percent: &self.percent,
        };
        let questions = [
            levels(&self.site, false),
            levels(&self.first_day, true),
            levels(&self.preparation, false),
        ];
        let place = usize::from(about == About::FirstDay);
        let asked = |answer: &Answer| answer.question == place && answer.quality == Quality::Signed;
        ask(&differences, &questions)
            .into_iter()
            .find(asked)
            .and_then(|answer| answer.outcome.ok())
    }
}

/// The number said, and whether it settled the question.
struct Said {
    more: u32,
    /// With the first sensors kept.
    kept: Option<bool>,
    /// With these too invented again.
    anew: Option<bool>,
}

fn one(seed: u64, sensors: u32, about: About, effect: f64) -> Option<Said> {
    let mut normal = Normal(ChaCha8Rng::seed_from_u64(seed));
    let mut book = Book::default();
    book.wear(sensors, about, effect, &mut normal);
    let first = book.answer(about)?;
    let More::Sensors(more) = first.more else {
        return None;
    };
    if first.standing() != Standing::Open && first.standing() != Standing::AmongMany {
        return None;
    }
    let truth = first.points.abs().max(WORTH_POINTS) * first.points.signum();
    let settled = |book: &Book| Some(book.answer(about)?.standing().is_settled());
    // A book made with another effect: the difference is added to what has it already.
    book.wear(more, about, truth, &mut normal);
    let mut anew = Book::default();
    anew.wear(sensors + more, about, truth, &mut normal);
    Some(Said {
        more,
        kept: settled(&book),
        anew: settled(&anew),
    })
}

fn main() {
    println!("'N more sensors would settle it': percent of {REPLICATES} books in which N more did");
    println!(
        "{:>8} {:10} {:>7} {:>8} {:>22} {:>8} {:>8}",
        "sensors", "asked", "planted", "said N", "N: median (90 %)", "kept", "anew"
    );
    for about in [About::Site, About::FirstDay] {
        for sensors in [4, 6, 8, 12] {
            for effect in [0.0, 6.0, 12.0] {
                let all: Vec<Said> = (0..REPLICATES)
                    .into_par_iter()
                    .filter_map(|seed| one(seed, sensors, about, effect))
                    .collect();
                let mut said: Vec<u32> = all.iter().map(|one| one.more).collect();
                said.sort_unstable();
                let share = |of: fn(&Said) -> Option<bool>| {
                    let known: Vec<bool> = all.iter().filter_map(of).collect();
                    let yes = known.iter().filter(|&&yes| yes).count();
                    format!("{:.0}", 100.0 * yes as f64 / known.len().max(1) as f64)
                };
                let at = |part: f64| {
                    said.get((said.len() as f64 * part) as usize)
                        .copied()
                        .unwrap_or(0)
                };
                println!(
                    "{sensors:>8} {:10} {effect:>7} {:>8} {:>22} {:>8} {:>8}",
                    if about == About::Site { "site" } else { "first day" },
                    said.len(),
                    format!("{} ({} to {})", at(0.5), at(0.05), at(0.95)),
                    share(|one| one.kept),
                    share(|one| one.anew),
                );
            }
        }
    }
}
