//! Pressure lows: planted ones are found, clean traces stay clean, and the simulated people with known truth and the
//! people without diabetes meet what is promised in docs/methods/pressure-lows.md.

#![expect(
    clippy::unwrap_used,
    reason = "a test that cannot make its own data must stop"
)]

mod open_data;

use interstice_glucose::{Censor, Unit};
use interstice_methods::Refusal;
use interstice_methods::agreement::Check;
use interstice_methods::pressure::{
    Evidence, Known, Night, Own, PressureLow, PressureParams, PressureTrace, pressure_lows, pressure_mask,
};
use proptest::prelude::*;
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

const START: u32 = 1_700_000_000;
const DAYS: u32 = 5;
/// The night looked at, minutes from the start, and whether anything else may be found is asked of it alone.
const NIGHT: (f64, f64) = (4000.0, 4480.0);

/// An invented trace: slow waves and lasting noise.
struct Invented {
    at: Vec<u32>,
    mg_dl: Vec<f64>,
    censor: Vec<Censor>,
}

impl Invented {
    /// * `level`: mg/dL the waves go about. * `noise`: SD of the lasting noise, mg/dL.
    fn new(seed: u64, step_min: u32, level: f64, noise: f64) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let mut even = move || (rng.next_u64() >> 11) as f64 / (1u64 << 53) as f64;
        let phase = 6.0 * even();
        let kept = libm::exp(-f64::from(step_min) / 40.0);
        let mut lasting = 0.0;
        let at: Vec<u32> = (0..DAYS * 1440 / step_min)
            .map(|i| START + i * step_min * 60)
            .collect();
        let mg_dl = at.iter().map(|&at| {
            let minute = f64::from(at - START) / 60.0;
            // Sum of twelve even numbers: normal enough.
            let kick: f64 = (0..12).map(|_| even()).sum::<f64>() - 6.0;
            lasting = kept * lasting + noise * (1.0 - kept * kept).sqrt() * kick;
            let wave = libm::sin(minute / 130.0 + phase) * 0.12 + libm::sin(minute / 410.0) * 0.10;
            (level * (1.0 + wave) + lasting).round()
        });
        let mg_dl: Vec<f64> = mg_dl.collect();
        let censor = vec![Censor::None; at.len()];
        Invented { at, mg_dl, censor }
    }

    /// Lies on the sensor: first-order in and out with 4 minutes.
    fn press(&mut self, on: f64, held: f64, part: f64) {
        for (&at, value) in self.at.iter().zip(&mut self.mg_dl) {
            let since = f64::from(at - START) / 60.0 - on;
            let climbed = 1.0 - libm::exp(-since.min(held) / 4.0);
            let faded = libm::exp(-(since - held).max(0.0) / 4.0);
            if since > 0.0 {
                *value = (*value * (1.0 - part * climbed * faded)).round();
            }
        }
    }

    fn limit(&mut self, lowest: f64) {
        for (value, censor) in self.mg_dl.iter_mut().zip(&mut self.censor) {
            if *value < lowest {
                (*value, *censor) = (lowest, Censor::Below);
            }
        }
    }

    fn keep(&mut self, wanted: impl Fn(f64) -> bool) {
        let kept: Vec<usize> = (0..self.at.len())
            .filter(|&i| wanted(f64::from(self.at[i] - START) / 60.0))
            .collect();
        self.at = kept.iter().map(|&i| self.at[i]).collect();
        self.mg_dl = kept.iter().map(|&i| self.mg_dl[i]).collect();
        self.censor = kept.iter().map(|&i| self.censor[i]).collect();
    }

    fn trace(&self) -> PressureTrace<'_> {
        PressureTrace {
            sensor: 7,
            at: &self.at,
            mg_dl: &self.mg_dl,
            censor: &self.censor,
        }
    }

    fn found(&self, known: &Known<'_>) -> Vec<PressureLow> {
        pressure_lows(&self.trace(), known, &PressureParams::default()).unwrap()
    }
}

fn second(minute: f64) -> u32 {
    START + (minute * 60.0) as u32
}

fn night() -> [Night; 1] {
    [Night {
        from: second(NIGHT.0),
        to: second(NIGHT.1),
        logged: true,
    }]
}

fn over(found: &[PressureLow], on: f64, held: f64) -> Option<&PressureLow> {
    let span = (second(on), second(on + held));
    found
        .iter()
        .find(|low| open_data::half_of(span, (low.from, low.to)))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn a_planted_one_is_found_with_its_depth_and_a_clean_trace_stays_clean(
        seed in 0u64..1_000_000,
        level in 100.0f64..170.0,
        noise in 1.0f64..4.0,
        on in NIGHT.0 + 60.0..NIGHT.1 - 120.0,
        held in 25.0f64..70.0,
        part in 0.4f64..0.55,
    ) {
        let nights = night();
        let known = Known { nights: &nights, ..Known::default() };
        let mut invented = Invented::new(seed, 5, level, noise);
        prop_assert!(invented.found(&known).is_empty(), "made up in {seed}");
        invented.press(on, held, part);
        let found = invented.found(&known);
        let low = over(&found, on, held).expect("the planted one");
        prop_assert!((low.attenuation_percent / 100.0 - part).abs() < 0.15, "{low:?}");
        prop_assert!(low.probability > 0.5 && low.sensor == 7);
        prop_assert_eq!(found.len(), 1);
        prop_assert_eq!(&found, &invented.found(&known), "the same twice");
    }

    #[test]
    fn nothing_read_makes_it_panic(
        rows in prop::collection::vec((0u32..40_000, -50.0f64..600.0, 0u8..4), 0..300),
        from in 0u32..40_000,
        length in 0u32..40_000,
        ascending in any::<bool>(),
    ) {
        let mut rows = rows;
        if ascending {
            rows.sort_by_key(|row| row.0);
        }
        let at: Vec<u32> = rows.iter().map(|row| row.0).collect();
        let mg_dl: Vec<f64> = rows.iter().map(|row| if row.2 == 3 { f64::NAN } else { row.1 }).collect();
        let censor: Vec<Censor> = rows
            .iter()
            .map(|row| [Censor::None, Censor::Below, Censor::Above, Censor::None][usize::from(row.2)])
            .collect();
        let nights = [Night { from, to: from + length, logged: false }, Night { from: 9, to: 3, logged: true }];
        let checks = [Check { at: -5, mg_dl: f64::NAN, censor: Censor::None }, Check { at: i64::from(from), mg_dl: 0.0, censor: Censor::None }];
        let known = Known { nights: &nights, checks: &checks, ..Known::default() };
        let trace = PressureTrace { sensor: 0, at: &at, mg_dl: &mg_dl, censor: &censor };
        if let Ok(found) = pressure_lows(&trace, &known, &PressureParams::EVERYTHING) {
            for low in &found {
                prop_assert!((0.0..=1.0).contains(&low.probability));
                prop_assert!(low.readings.end <= at.len() && !low.readings.is_empty());
                prop_assert!(low.from <= low.to);
            }
            let touched: usize = found.iter().map(|low| low.readings.len()).sum();
            prop_assert_eq!(pressure_mask(&found, at.len()).iter().filter(|&&it| it).count(), touched);
        }
    }
}

#[test]
fn readings_below_what_the_sensor_measures_gaps_and_a_slow_sensor_do_not_hide_it() {
    let nights = night();
    let known = Known {
        nights: &nights,
        ..Known::default()
    };
    let mut deep = Invented::new(1, 5, 80.0, 2.0);
    deep.press(4200.0, 40.0, 0.6);
    deep.limit(40.0);
    assert!(deep.censor.contains(&Censor::Below));
    let found = deep.found(&known);
    let low = over(&found, 4200.0, 40.0).unwrap();
    assert!(low.shows_low && low.nadir_mg_dl <= 40.0);

    let mut gap = Invented::new(2, 5, 140.0, 2.0);
    gap.press(4200.0, 50.0, 0.45);
    gap.keep(|minute| !(4220.0..4240.0).contains(&minute) && !(3000.0..3100.0).contains(&minute));
    assert!(over(&gap.found(&known), 4200.0, 50.0).is_some());

    let mut slow = Invented::new(3, 15, 140.0, 2.0);
    slow.press(4200.0, 60.0, 0.5);
    assert!(over(&slow.found(&known), 4200.0, 60.0).is_some());
}

#[test]
fn too_little_is_refused_and_without_nights_nothing_is_looked_for() {
    let none = PressureTrace {
        sensor: 0,
        at: &[],
        mg_dl: &[],
        censor: &[],
    };
    let params = PressureParams::default();
    assert_eq!(
        pressure_lows(&none, &Known::default(), &params),
        Err(Refusal::NoReadings)
    );
    let mut short = Invented::new(4, 5, 120.0, 2.0);
    short.keep(|minute| minute < 60.0);
    let refused = pressure_lows(&short.trace(), &Known::default(), &params);
    assert_eq!(refused, Err(Refusal::TooFewReadings { have: 12, need: 24 }));
    let mut pressed = Invented::new(5, 5, 140.0, 2.0);
    pressed.press(4200.0, 40.0, 0.5);
    assert!(pressed.found(&Known::default()).is_empty());
}

#[test]
fn a_slow_low_with_insulin_that_food_turns_is_not_called_pressure() {
    let mut invented = Invented::new(6, 5, 130.0, 3.0);
    for (&at, value) in invented.at.iter().zip(&mut invented.mg_dl) {
        let minute = f64::from(at - START) / 60.0;
        // Down by 75 mg/dL within an hour and a half, then up again within 40 minutes.
        let down = ((minute - 4100.0) / 90.0).clamp(0.0, 1.0);
        let up = ((minute - 4210.0) / 40.0).clamp(0.0, 1.0);
        *value -= (75.0 * (down - up)).round();
    }
    let (insulin, food) = ([second(4060.0)], [second(4200.0)]);
    let nights = night();
    let known = Known {
        nights: &nights,
        insulin: &insulin,
        food: &food,
        ..Known::default()
    };
    assert!(invented.mg_dl.iter().any(|&value| value < 70.0));
    assert!(invented.found(&known).is_empty());
}

#[test]
fn blood_checks_insulin_and_verdicts_move_the_probability() {
    let mut invented = Invented::new(8, 5, 130.0, 4.0);
    let before = invented.mg_dl.clone();
    invented.press(4200.0, 40.0, 0.3);
    let nights = night();
    let plain = Known {
        nights: &nights,
        ..Known::default()
    };
    let everything = |known: &Known<'_>| {
        let found = pressure_lows(&invented.trace(), known, &PressureParams::EVERYTHING).unwrap();
        over(&found, 4200.0, 40.0).unwrap().clone()
    };
    let alone = everything(&plain).probability;
    let at = second(4225.0);
    let index = invented.at.partition_point(|&reading| reading < at);
    let check = |mg_dl| {
        [Check {
            at: at.into(),
            mg_dl,
            censor: Censor::None,
        }]
    };
    let (disagrees, agrees) = (check(before[index]), check(invented.mg_dl[index]));
    assert!(
        everything(&Known {
            checks: &disagrees,
            ..plain
        })
        .probability
            > alone
    );
    assert!(
        everything(&Known {
            checks: &agrees,
            ..plain
        })
        .probability
            < alone
    );
    let insulin = [second(4180.0)];
    let with_insulin = everything(&Known {
        insulin: &insulin,
        ..plain
    });
    assert!(with_insulin.probability < alone);
    assert!(with_insulin.evidence.contains(&Evidence::Insulin));
    let low = everything(&plain);
    let told = |pressure| Own::of([(0.6, pressure); 6]).told(&low);
    assert!(told(true).probability > alone);
    let rejected = told(false);
    assert!(rejected.probability < alone);
    assert_eq!(Own::UNKNOWN.told(&low), low, "without verdicts nothing changes");
    for evidence in &rejected.evidence {
        assert!(evidence.words(Unit::MmolPerL).ends_with('.'));
    }
}

/// The promises, against the simulated people's planted truth and the people without diabetes of Hall et al. 2018,
/// PLoS Biol 16(7):e2005143. Measured: 44 of 46, 42 of 42, none made up in 94 nights; 2 flags in 27 nights.
#[test]
fn what_is_promised_holds_on_the_recordings() {
    let Some(data) = open_data::data() else {
        eprintln!("skipped: the recordings are not on this machine");
        return;
    };
    let params = PressureParams::default();
    let mut people = open_data::simulated(&data);
    for logged in [true, false] {
        let score = open_data::score(&people, &params);
        assert_eq!((score.planted, score.grave), (46, 42));
        assert!(score.found * 100 >= score.planted * 95, "{score:?}");
        assert_eq!(score.grave_found, score.grave, "{score:?}");
        assert!(score.false_alarms * 100 <= score.nights * 2, "{score:?}");
        assert!(score.true_lows >= 46 && score.miscalled <= 1, "{score:?}");
        if logged {
            for person in &mut people {
                person.checks.clear();
                person.insulin.clear();
                person.food.clear();
            }
        }
    }
    let without_diabetes = open_data::real(&data, "hall2018_no_diabetes");
    let nights: usize = without_diabetes.iter().map(open_data::Person::nights_seen).sum();
    let flags: usize = without_diabetes
        .iter()
        .flat_map(|person| {
            person
                .sensors
                .iter()
                .map(|sensor| person.found(sensor, &params).len())
        })
        .sum();
    assert!(
        nights >= 25 && flags * 10 <= nights,
        "{flags} flags in {nights} nights"
    );
}
