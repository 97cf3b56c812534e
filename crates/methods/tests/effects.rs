//! What is asked of invented sensors with planted truth.

#![expect(
    clippy::unwrap_used,
    reason = "a test that cannot make its own data must stop"
)]

use interstice_methods::effects::{
    Answer, Compared, Differences, Estimate, More, Quality, Question, Standing, Untold, Values, ask,
    benjamini_hochberg, levels,
};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Sensors with checks, and what was logged.
#[derive(Default)]
struct Book {
    sensor: Vec<u32>,
    day: Vec<u32>,
    percent: Vec<f64>,
    site: Vec<Option<u16>>,
    preparation: Vec<Option<u16>>,
    first_day: Vec<Option<u16>>,
    temperature: Vec<Option<f64>>,
}

/// What is planted, in points.
#[derive(Clone, Copy, Default)]
struct Planted {
    site: f64,
    first_day: f64,
    per_degree: f64,
}

struct Normal(ChaCha8Rng);

impl Normal {
    fn even(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// By sums of twelve even ones less six.
    fn draw(&mut self) -> f64 {
        (0..12).map(|_| self.even()).sum::<f64>() - 6.0
    }
}

/// Sensors at two sites in turn, prepared one way or the other in pairs, ten days, a check or two a day: differences of 10
/// points from check to check, 4 from sensor to sensor.
fn book(seed: u64, sensors: u32, planted: Planted) -> Book {
    let mut normal = Normal(ChaCha8Rng::seed_from_u64(seed));
    let mut book = Book::default();
    for sensor in 0..sensors {
        let (site, preparation) = ((sensor % 2) as u16, (sensor / 2 % 2) as u16);
        let shift = 4.0 * normal.draw() + planted.site * f64::from(site);
        for day in 0..10 {
            for _ in 0..1 + u32::from(normal.even() > 0.5) {
                let warm = 20.0 + 6.0 * normal.draw();
                let first = u16::from(day == 0);
                let mean = shift + planted.first_day * f64::from(first) + planted.per_degree * (warm - 20.0);
                book.sensor.push(sensor);
                book.day.push(day);
                book.percent.push(mean + 10.0 * normal.draw());
                book.site.push(Some(site));
                book.preparation.push(Some(preparation));
                book.first_day.push(Some(first));
                book.temperature.push(Some(warm));
            }
        }
    }
    book
}

impl Book {
    fn differences(&self) -> Differences<'_> {
        Differences {
            sensor: &self.sensor,
            day: &self.day,
            relative_percent: &self.percent,
        }
    }

    fn questions(&self) -> [Question<'_>; 4] {
        let levels = |values, held_equal| Question {
            values: Values::Levels(values),
            held_equal,
        };
        [
            levels(&self.site, false),
            levels(&self.preparation, false),
            levels(&self.first_day, true),
            Question {
                values: Values::Number {
                    value: &self.temperature,
                    step: 10.0,
                },
                held_equal: false,
            },
        ]
    }

    fn answers(&self) -> Vec<Answer> {
        ask(&self.differences(), &self.questions())
    }
}

fn estimate(answers: &[Answer], question: usize, quality: Quality) -> &Estimate {
    let asked = |answer: &&Answer| answer.question == question && answer.quality == quality;
    answers.iter().find(asked).unwrap().outcome.as_ref().unwrap()
}

#[test]
fn planted_effects_are_found_within_their_intervals() {
    let planted = Planted {
        site: 14.0,
        first_day: -15.0,
        per_degree: 0.8,
    };
    let answers = book(3, 12, planted).answers();
    for (question, truth) in [(0, 14.0), (2, -15.0), (3, 8.0)] {
        let found = estimate(&answers, question, Quality::Signed);
        assert!(found.holds, "{question}: {found:?}");
        assert!(
            found.interval.lo < truth && truth < found.interval.hi,
            "{question}: {found:?}"
        );
        assert_eq!(found.more, More::Nothing);
    }
    let none = estimate(&answers, 1, Quality::Signed);
    assert!(
        !none.holds && none.interval.lo < 0.0 && 0.0 < none.interval.hi,
        "{none:?}"
    );
    assert_eq!(none.sensors, (6, 6));
    // The site compared with itself would need no sensors held apart: its degrees of freedom are those of sensors.
    assert!(estimate(&answers, 0, Quality::Signed).freedom < 13.0);
}

/// With nothing planted, something is shown as there in at most 5 of 100 books, and a little for chance.
#[test]
fn nothing_is_found_where_nothing_is() {
    let books = 200;
    let wrong = (0..books)
        .filter(|&seed| {
            let answers = book(5000 + seed, 8, Planted::default()).answers();
            assert_eq!(answers.len(), 8);
            answers
                .iter()
                .any(|answer| answer.outcome.as_ref().is_ok_and(|estimate| estimate.holds))
        })
        .count();
    assert!(wrong <= 16, "{wrong} of {books}");
}

/// One of eight sensors reads 60 points high: its site looks bad, and it alone makes it.
#[test]
fn one_sensor_makes_no_effect() {
    let mut book = book(9, 8, Planted::default());
    for row in 0..book.sensor.len() {
        if book.sensor[row] == 1 {
            book.percent[row] += 60.0;
        }
    }
    for quality in [Quality::Signed, Quality::Absolute] {
        assert!(!estimate(&book.answers(), 0, quality).holds);
    }
    // A site of one sensor is not even compared.
    for row in 0..book.sensor.len() {
        book.site[row] = Some(u16::from(book.sensor[row] == 1));
    }
    let answers = book.answers();
    let of_site: Vec<&Answer> = answers.iter().filter(|answer| answer.question == 0).collect();
    assert_eq!(of_site.len(), 2);
    for answer in of_site {
        assert_eq!(
            answer.compared,
            Some(Compared::Level {
                level: 1,
                reference: 0
            })
        );
        assert_eq!(answer.outcome, Err(Untold::OneSensor));
    }
}

#[test]
fn what_cannot_be_told_says_why() {
    let mut book = book(10, 8, Planted::default());
    book.preparation.clone_from(&book.site);
    let answers = book.answers();
    let outcome = |question| {
        &answers
            .iter()
            .find(|answer| answer.question == question)
            .unwrap()
            .outcome
    };
    assert_eq!(*outcome(0), Err(Untold::Together { with: 1 }));
    assert_eq!(*outcome(1), Err(Untold::Together { with: 0 }));

    book.site = vec![Some(4); book.sensor.len()];
    book.preparation = vec![None; book.sensor.len()];
    book.preparation[0] = Some(1);
    let answers = book.answers();
    let outcome = |question| {
        &answers
            .iter()
            .find(|answer| answer.question == question)
            .unwrap()
            .outcome
    };
    assert_eq!(*outcome(0), Err(Untold::OneLevel));
    assert_eq!(*outcome(1), Err(Untold::NotLogged { have: 1, need: 8 }));
    let few = self::book(11, 3, Planted::default()).answers();
    let slope = few.iter().find(|answer| answer.question == 3).unwrap();
    assert_eq!(slope.outcome, Err(Untold::TooFewSensors { have: 3, need: 4 }));
    // No rows at all.
    let empty = Book::default();
    assert!(empty.answers().iter().all(|answer| answer.outcome.is_err()));
}

/// Other lots on mostly the same sensors as the sites: the answer says so.
#[test]
fn entangled_questions_are_named() {
    let mut book = book(12, 10, Planted::default());
    for row in 0..book.sensor.len() {
        let odd = book.sensor[row] == 2;
        book.preparation[row] = book.site[row].map(|site| if odd { 1 - site } else { site });
    }
    let answers = book.answers();
    assert_eq!(estimate(&answers, 0, Quality::Signed).entangled, [1]);
    assert_eq!(estimate(&answers, 1, Quality::Signed).entangled, [0]);
}

/// The sensors that were said to settle a question do so, in about 4 of 5 books or more: those said are invented with the effect that
/// was planned for, and everything is asked again. Of 60 true chances of 0.8 fewer than 39 come once in 490 times.
#[test]
fn so_many_sensors_settle_it() {
    let (mut said, mut settled) = (0, 0);
    for seed in 0..200 {
        let planted = Planted {
            site: 7.0,
            ..Planted::default()
        };
        let first = book(7000 + seed, 6, planted);
        let answers = first.answers();
        let found = estimate(&answers, 0, Quality::Signed);
        let More::Sensors(more) = found.more else { continue };
        if found.standing() == Standing::OneSensor || more > 30 {
            continue; // Many sensors take long to make.
        }
        let truth = Planted {
            site: found.points.signum() * found.points.abs().max(3.0),
            ..Planted::default()
        };
        let again = book(17_000 + seed, 6 + more, truth).answers();
        said += 1;
        settled += u32::from(estimate(&again, 0, Quality::Signed).standing().is_settled());
        if said == 60 {
            break;
        }
    }
    assert!(said == 60 && settled >= 39, "{settled} of {said}");
}

/// Checked against R's p.adjust(method = "BH") by its definition, worked by hand.
#[test]
fn false_findings_are_counted_over_everything() {
    let q = benjamini_hochberg(&[0.005, 0.011, 0.02, 0.04, 0.13]);
    for (got, want) in q.iter().zip([0.025, 0.0275, 0.1 / 3.0, 0.05, 0.13]) {
        assert!((got - want).abs() < 1e-12, "{got} {want}");
    }
    assert!(benjamini_hochberg(&[]).is_empty());
}

/// Levels lie between their own mean and that of all, nearer to their own the more sensors there are.
#[test]
fn levels_are_drawn_towards_each_other() {
    let planted = Planted {
        site: 8.0,
        ..Planted::default()
    };
    let few = book(21, 4, planted);
    let many = book(21, 40, planted);
    let drawn = |book: &Book| -> Vec<f64> {
        let found = levels(&book.differences(), &book.questions(), 0, Quality::Signed, 0.95).unwrap();
        assert_eq!(found.len(), 2);
        let mean = book.percent.iter().sum::<f64>() / book.percent.len() as f64;
        found
            .iter()
            .map(|level| {
                let shrunken = level.shrunken;
                assert!(shrunken.interval.lo < shrunken.level && shrunken.level < shrunken.interval.hi);
                (shrunken.level - mean) / (shrunken.raw_mean - mean)
            })
            .collect()
    };
    for (few, many) in drawn(&few).iter().zip(drawn(&many)) {
        assert!(*few < 1.0 && many > 0.8, "{few} {many}");
    }
    let refused = levels(&few.differences(), &few.questions(), 3, Quality::Signed, 0.95);
    assert!(matches!(refused, Err(Untold::NotLogged { .. })));
}

/// The same rows in another order and other numbers for sensors change nothing that matters.
#[test]
fn order_changes_nothing() {
    let book = book(30, 8, Planted::default());
    let mut turned = Book::default();
    for row in (0..book.sensor.len()).rev() {
        turned.sensor.push(1000 - book.sensor[row]);
        turned.day.push(book.day[row]);
        turned.percent.push(book.percent[row]);
        turned.site.push(book.site[row]);
        turned.preparation.push(book.preparation[row]);
        turned.first_day.push(book.first_day[row]);
        turned.temperature.push(book.temperature[row]);
    }
    for (a, b) in book.answers().iter().zip(turned.answers()) {
        let (a, b) = (a.outcome.as_ref().unwrap(), b.outcome.unwrap());
        assert!((a.points - b.points).abs() < 1e-6 && (a.interval.lo - b.interval.lo).abs() < 1e-5);
        assert_eq!(a.more, b.more);
    }
}
