//! How often intervals of a mixed model hold the truth with few sensors, by simulation with known truth.
//!
//! `cargo run -p interstice-methods --example mixed_coverage`
//!
//! Invented sensors of 4 to 24 checks; differences from blood of 12 points from check to check, 6 from sensor to sensor,
//! 3 for each sensor's first day against its rest. Nothing that is asked has any effect, so an interval is right where it
//! holds 0.

#![expect(clippy::print_stdout, reason = "it prints a table")]

use interstice_methods::mixed::{Bounds, Freedom, Nested};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

const REPLICATES: u64 = 2000;
const CHECK_SD: f64 = 12.0;
const FIRST_DAY_SD: f64 = 3.0;

/// What is asked.
#[derive(Clone, Copy, PartialEq)]
enum Asked {
    /// One of two sites, half of the sensors each.
    Site,
    /// The first day against the rest.
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

struct Rows {
    sensor: Vec<u32>,
    day: Vec<u32>,
    x: Vec<f64>,
    y: Vec<f64>,
}

fn rows(normal: &mut Normal, sensors: u32, asked: Asked, sensor_sd: f64, absolute: bool) -> Rows {
    let mut rows = Rows {
        sensor: Vec::new(),
        day: Vec::new(),
        x: Vec::new(),
        y: Vec::new(),
    };
    for sensor in 0..sensors {
        let shift = sensor_sd * normal.draw();
        let days = [FIRST_DAY_SD * normal.draw(), FIRST_DAY_SD * normal.draw()];
        let checks = 4 + (21.0 * normal.even()) as u32;
        for check in 0..checks {
            // A quarter of the checks, and at least one, fall on the first day.
            let day = u32::from(check > 0 && normal.even() > 0.25);
            let y = shift + days[day as usize] + CHECK_SD * normal.draw();
            rows.sensor.push(sensor);
            rows.day.push(day);
            rows.x.push(match asked {
                Asked::Site => f64::from(sensor % 2),
                Asked::FirstDay => f64::from(1 - day),
            });
            rows.y.push(if absolute { y.abs() } else { y });
        }
    }
    rows
}

/// Whether an interval holds 0, and its width; `None` where the rows give none.
type Held = Option<(bool, f64)>;

/// Each kind of interval.
fn held(rows: &Rows, asked: Asked) -> [Held; 5] {
    let constant = vec![1.0; rows.y.len()];
    let sensors = f64::from(1 + rows.sensor.last().copied().unwrap_or(0));
    let most = sensors - if asked == Asked::Site { 2.0 } else { 1.0 };
    let fit = |inner: bool, bounds, freedom, most: f64| -> Held {
        let inner = (inner && asked == Asked::FirstDay).then_some(rows.day.as_slice());
        let nested = Nested::new(&[&constant, &rows.x], &rows.y, &rows.sensor, inner).ok()?;
        let mut contrast = nested.fit(bounds).ok()?.contrast(&[0.0, 1.0], freedom)?;
        contrast.freedom = contrast.freedom.min(most);
        let interval = contrast.interval(0.95);
        Some((
            interval.lo <= 0.0 && 0.0 <= interval.hi,
            interval.hi - interval.lo,
        ))
    };
    [
        fit(true, Bounds::NotNegative, Freedom::KenwardRoger, most),
        fit(true, Bounds::NotNegative, Freedom::KenwardRoger, f64::INFINITY),
        fit(true, Bounds::NotNegative, Freedom::Satterthwaite, f64::INFINITY),
        fit(true, Bounds::Free, Freedom::KenwardRoger, f64::INFINITY),
        fit(false, Bounds::NotNegative, Freedom::KenwardRoger, f64::INFINITY),
    ]
}

fn effects() {
    println!(
        "95 % intervals of an effect that is 0: percent that hold it (median width, points); {REPLICATES} replicates"
    );
    println!(
        "{:8} {:9} {:>9} {:>8} {:>14} {:>14} {:>14} {:>14} {:>14}",
        "sensors", "asked", "sensor SD", "of", "KR, capped", "KR", "Satterthwaite", "KR, below 0", "no inner"
    );
    for sensors in [4u32, 6, 8, 16] {
        for (asked, name) in [(Asked::Site, "site"), (Asked::FirstDay, "first day")] {
            for (sensor_sd, absolute) in [(6.0, false), (0.0, false), (6.0, true)] {
                let results: Vec<[Held; 5]> = (0..REPLICATES)
                    .into_par_iter()
                    .map(|seed| {
                        let mut normal = Normal(ChaCha8Rng::seed_from_u64(seed));
                        held(&rows(&mut normal, sensors, asked, sensor_sd, absolute), asked)
                    })
                    .collect();
                let cell = |kind: usize| {
                    let given: Vec<(bool, f64)> = results.iter().filter_map(|result| result[kind]).collect();
                    let hits = given.iter().filter(|one| one.0).count();
                    let mut widths: Vec<f64> = given.iter().map(|one| one.1).collect();
                    widths.sort_by(f64::total_cmp);
                    let share = 100.0 * hits as f64 / given.len() as f64;
                    format!("{share:.1} ({:.1})", widths[widths.len() / 2])
                };
                let of = if absolute { "size" } else { "signed" };
                println!(
                    "{sensors:<8} {name:9} {sensor_sd:9.0} {of:>8} {:>14} {:>14} {:>14} {:>14} {:>14}",
                    cell(0),
                    cell(1),
                    cell(2),
                    cell(3),
                    cell(4)
                );
            }
        }
    }
}

/// Levels of sites: how often the interval holds the true level, and how far off it is beside the plain mean.
fn levels() {
    println!(
        "\n95 % intervals of a site's level: percent that hold it; root mean square error, shrunken and plain"
    );
    for sites in [2u32, 3, 5] {
        for site_sd in [0.0, 4.0, 10.0] {
            let all: Vec<(bool, f64, f64)> = (0..REPLICATES / 4)
                .into_par_iter()
                .flat_map_iter(|seed| one_person(seed, sites, site_sd))
                .collect();
            let hits = all.iter().filter(|one| one.0).count();
            let root = |of: fn(&(bool, f64, f64)) -> f64| {
                (all.iter().map(|one| of(one) * of(one)).sum::<f64>() / all.len() as f64).sqrt()
            };
            println!(
                "{sites} sites, SD {site_sd:4.1}: {:.1} %   {:.2} {:.2}",
                100.0 * hits as f64 / all.len() as f64,
                root(|one| one.1),
                root(|one| one.2)
            );
        }
    }
}

fn one_person(seed: u64, sites: u32, site_sd: f64) -> Vec<(bool, f64, f64)> {
    let mut normal = Normal(ChaCha8Rng::seed_from_u64(900_000 + seed));
    let (mut site_of, mut sensor_of, mut y, mut truth) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    let mut sensor = 0;
    for site in 0..sites {
        let level = 10.0 + site_sd * normal.draw();
        truth.push(level);
        for _ in 0..=(4.0 * normal.even()) as u32 {
            let shift = 6.0 * normal.draw();
            for _ in 0..4 + (21.0 * normal.even()) as u32 {
                site_of.push(site);
                sensor_of.push(sensor);
                y.push(level + shift + CHECK_SD * normal.draw());
            }
            sensor += 1;
        }
    }
    let constant = vec![1.0; y.len()];
    let Ok(nested) = Nested::new(&[&constant], &y, &site_of, Some(&sensor_of)) else {
        return Vec::new();
    };
    let levels = nested.shrunken(&[1.0], 0.95);
    levels
        .iter()
        .map(|level| {
            let truth = truth[level.group as usize];
            let holds = level.interval.lo <= truth && truth <= level.interval.hi;
            (holds, level.level - truth, level.raw_mean - truth)
        })
        .collect()
}

fn main() {
    effects();
    levels();
}
