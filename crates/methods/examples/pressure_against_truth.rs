//! Pressure lows against planted truth, and flags a night on real recordings.
//!
//! `cargo run --release -p interstice-methods --example pressure_against_truth [signs]`
//!
//! With `signs`, one line for every dip looked at closely instead: what the weights were fitted on.

#![expect(clippy::print_stdout, reason = "it prints a table")]

#[path = "../tests/open_data/mod.rs"]
mod open_data;

use interstice_methods::pressure::PressureParams;
use open_data::{Person, REAL, data, half_of, press, real, score, simulated};

fn main() {
    let Some(data) = data() else {
        println!("The recordings are not here: name their directory in INTERSTICE_DATA.");
        return;
    };
    let mut people = simulated(&data);
    if std::env::args().any(|argument| argument == "signs") {
        println!("set,person,sensor,event,low,p,depth,nadir,from,one,root,noise,part,edge,first");
        signs("sim", &people);
        for set in REAL {
            signs(set, &real(&data, set));
        }
        return;
    }
    println!("simulated people, sleep, doses, food and checks as logged");
    planted(&people);
    for person in &mut people {
        person.checks.clear();
    }
    println!("\nthe same without blood checks");
    planted(&people);
    for person in &mut people {
        person.insulin.clear();
        person.food.clear();
    }
    println!("\nthe same with nothing but glucose and the times in bed");
    planted(&people);
    for (from, to) in [(23, 7), (21, 11)] {
        println!("\nthe same, in bed from {from} to {to} by the clock instead of as logged");
        for person in &mut people {
            person.by_the_clock(from, to);
        }
        planted(&people);
    }
    println!("\nreal people, glucose only, 23 to 7 by the file's clock (no truth)");
    println!(
        "{:22}{:>7}{:>7}{:>11}{:>16}{:>22}",
        "", "nights", "flags", "a night", "showing a low", "% of night readings"
    );
    for set in REAL {
        flags(&data, set);
    }
}

fn planted(people: &[Person]) {
    let score = score(people, &PressureParams::default());
    let rate = score.false_alarms as f64 / score.nights as f64;
    println!("  found {} of {}", score.found, score.planted);
    println!(
        "  of those over 24 mg/dL deep or below 70: {} of {}",
        score.grave_found, score.grave
    );
    println!(
        "  false alarms: {} in {} nights, {rate:.3} a night",
        score.false_alarms, score.nights
    );
    println!(
        "  true night lows called pressure: {} of {}",
        score.miscalled, score.true_lows
    );
    for note in &score.notes {
        println!("    {note}");
    }
}

fn flags(data: &std::path::Path, set: &str) {
    let params = PressureParams::default();
    let (mut nights, mut flags, mut lows, mut marked, mut readings) = (0, 0, 0, 0, 0);
    for person in real(data, set) {
        nights += person.nights_seen();
        for sensor in &person.sensors {
            let found = person.found(sensor, &params);
            flags += found.len();
            lows += found.iter().filter(|low| low.shows_low).count();
            marked += found.iter().map(|low| low.readings.len()).sum::<usize>();
            let abed = |at: &&u32| {
                person
                    .nights
                    .iter()
                    .any(|night| (night.from..night.to).contains(at))
            };
            readings += sensor.at.iter().filter(abed).count();
        }
    }
    let (mut pressed, mut pressed_found) = (0, 0);
    for mut person in real(data, set) {
        for (index, from, to) in press(&mut person) {
            pressed += 1;
            let found = person.found(&person.sensors[index], &params);
            let hit = found.iter().any(|low| half_of((from, to), (low.from, low.to)));
            pressed_found += usize::from(hit);
        }
    }
    let rate = flags as f64 / nights.max(1) as f64;
    let share = 100.0 * marked as f64 / readings.max(1) as f64;
    println!(
        "{set:22}{nights:>7}{flags:>7}{rate:>11.3}{lows:>16}{share:>22.2}{:>17}",
        format!("{pressed_found} of {pressed}")
    );
}

fn signs(set: &str, people: &[Person]) {
    for person in people {
        for (number, sensor) in person.sensors.iter().enumerate() {
            for low in person.found(sensor, &PressureParams::EVERYTHING) {
                let span = (low.from, low.to);
                let event = sensor
                    .planted
                    .iter()
                    .position(|it| half_of((it.from, it.to), span));
                let calls = |it: &(u32, u32)| half_of(*it, span) || half_of(span, *it);
                let terms = low.signs.terms().map(|term| format!("{term:.4}")).join(",");
                println!(
                    "{set},{},{number},{},{},{:.3},{:.1},{},{},{terms}",
                    person.name,
                    event.map_or(-1, |event| event as i64),
                    u8::from(person.true_lows.iter().any(calls)),
                    low.probability,
                    low.depth_mg_dl,
                    low.nadir_mg_dl,
                    low.from,
                );
            }
        }
    }
}
