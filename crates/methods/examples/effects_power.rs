//! How often a question is settled by the further sensors that were said to settle it, by simulation.
//!
//! `cargo run -p interstice-methods --release --example effects_power`
//!
//! An invented book of a few sensors is asked. Where it says 'about N more sensors would settle it', N more are invented,
//! whose true effect is what the answer planned for: the effect as estimated, or 3 points where that is less. The book is asked
//! again with all sensors: settled is what is then shown as there, or as too small to matter. *Anew*: the first sensors too
//! are invented again with that effect, so that nothing of the first estimate is in the second.
//!
//! Before that: how often the interval of a whole answer holds the truth, with 6 sensors.

#![expect(clippy::print_stdout, reason = "it prints a table")]

use interstice_methods::effects::{
    Answer, Differences, Estimate, More, Quality, Question, Standing, Values, ask,
};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

const REPLICATES: u64 = 400;
const COVERED: u64 = 2000;
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
    Water,
}

impl About {
    /// Its place among the questions.
    fn place(self) -> usize {
        match self {
            About::Site => 0,
            About::FirstDay => 1,
            About::Water => 3,
        }
    }

    fn name(self) -> &'static str {
        match self {
            About::Site => "site",
            About::FirstDay => "first day",
            About::Water => "water",
        }
    }
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
    litres: Vec<Option<f64>>,
}

impl Book {
    /// Adds sensors of ten days, a check or two a day, at two sites in turn, prepared one way or the other in pairs.
    fn wear(&mut self, sensors: u32, about: About, effect: f64, normal: &mut Normal) {
        for sensor in self.sensors..self.sensors + sensors {
            let (site, preparation) = ((sensor % 2) as u16, (sensor / 2 % 2) as u16);
            let shift = SENSOR_SD * normal.draw();
            for day in 0..10 {
                let of_day = DAY_SD * normal.draw();
                let litres = 1.0 + 2.0 * normal.even();
                for _ in 0..1 + u32::from(normal.even() > 0.5) {
                    let first = u16::from(day == 0);
                    let has = match about {
                        About::Site => f64::from(site),
                        About::FirstDay => f64::from(first),
                        About::Water => litres,
                    };
                    self.sensor.push(sensor);
                    self.day.push(day);
                    self.percent
                        .push(shift + of_day + effect * has + CHECK_SD * normal.draw());
                    self.site.push(Some(site));
                    self.preparation.push(Some(preparation));
                    self.first_day.push(Some(first));
                    self.litres.push(Some(litres));
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
        let mut questions = vec![
            levels(&self.site, false),
            levels(&self.first_day, true),
            levels(&self.preparation, false),
        ];
        if about == About::Water {
            questions.push(Question {
                values: Values::Number {
                    value: &self.litres,
                    step: 1.0,
                },
                held_equal: false,
            });
        }
        let asked = |answer: &Answer| answer.question == about.place() && answer.quality == Quality::Signed;
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

/// How often the 95 % interval holds the planted effect.
fn coverage() {
    println!(
        "95 % intervals of whole answers, 6 sensors: percent of {COVERED} books that hold the planted effect"
    );
    for about in [About::Site, About::FirstDay, About::Water] {
        for effect in [0.0, 8.0] {
            let held: Vec<bool> = (0..COVERED)
                .into_par_iter()
                .filter_map(|seed| {
                    let mut normal = Normal(ChaCha8Rng::seed_from_u64(50_000 + seed));
                    let mut book = Book::default();
                    book.wear(6, about, effect, &mut normal);
                    let interval = book.answer(about)?.interval;
                    Some(interval.lo <= effect && effect <= interval.hi)
                })
                .collect();
            let share = held.iter().filter(|&&held| held).count() as f64 / held.len().max(1) as f64;
            println!("{:10} {effect:>4} {:.1}", about.name(), 100.0 * share);
        }
    }
}

fn main() {
    coverage();
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
                    about.name(),
                    said.len(),
                    format!("{} ({} to {})", at(0.5), at(0.05), at(0.95)),
                    share(|one| one.kept),
                    share(|one| one.anew),
                );
            }
        }
    }
}
