//! Meals: the published area, what is followed and what is not, the same meal again. The meals are invented.

#![expect(
    clippy::unwrap_used,
    reason = "a test that cannot make its own data must stop"
)]

use interstice_glucose::{Levels, LivedClock, Readings, Said};
use interstice_methods::meals::{Eaten, MealCourse, Meals, incremental_area, meals, repeated, timing};
use interstice_methods::{Recording, primary};

/// The worked example of testdata/methods/iauc.csv (FAO/WHO 1998), row by row.
#[test]
fn the_incremental_area_is_that_of_the_worked_example() {
    let text = include_str!("../../../testdata/methods/iauc.csv");
    let rows: Vec<Vec<f64>> = text
        .lines()
        .filter(|line| line.starts_with(|c: char| c.is_ascii_digit()))
        .map(|line| line.split(',').map(|cell| cell.parse().unwrap()).collect())
        .collect();
    assert_eq!(rows.len(), 7);
    for end in 1..rows.len() {
        let points = rows[1..=end].iter().map(|row| (row[0], row[1]));
        let area = incremental_area(rows[0][1], points);
        assert!((area - rows[end][3]).abs() < 1e-9, "{end}: {area}");
    }
}

/// Worked out by hand from the values of a teaching example: 660 + 697.5 + 637.5 + 1,170 + 67.5.
#[test]
fn the_incremental_area_takes_steps_of_any_length() {
    let points = [
        (30.0, 133.0),
        (45.0, 138.0),
        (60.0, 125.0),
        (120.0, 92.0),
        (180.0, 88.0),
    ];
    assert!((incremental_area(89.0, points) - 3232.5).abs() < 1e-9);
}

/// Glucose by straight lines between (minute, mg/dL), read every five minutes but for `gap`.
fn followed(course: &[(f64, f64)], eaten: &[Eaten], doses: &[(i64, f64)], gap: (u32, u32)) -> Meals {
    let (mut levels, mut readings) = (Levels::new(), Readings::default());
    let last = course.last().unwrap().0 as u32;
    for minute in (0..=last)
        .step_by(5)
        .filter(|minute| !(gap.0..gap.1).contains(minute))
    {
        let next = course
            .partition_point(|point| point.0 <= f64::from(minute))
            .clamp(1, course.len() - 1);
        let (a, b) = (course[next - 1], course[next]);
        let value = a.1 + (b.1 - a.1) * (f64::from(minute) - a.0) / (b.0 - a.0);
        readings.push(
            minute * 60,
            levels.intern(Said::whole_mg_per_dl(value.round() as i64)),
        );
    }
    let columns = [&readings];
    let series = primary(&columns);
    let clock = LivedClock::fixed(0);
    let recording = Recording::new(&series, &levels, &clock, 0, i64::from(last + 5) * 60).unwrap();
    meals(&recording, eaten, doses, &[])
}

fn ate(minute: i64, grams: f64) -> Eaten {
    Eaten {
        at: minute * 60,
        grams: Some(grams),
        name: Some(1),
        against_low: false,
    }
}

const HILL: [(f64, f64); 5] = [
    (0.0, 100.0),
    (60.0, 100.0),
    (120.0, 220.0),
    (240.0, 100.0),
    (500.0, 100.0),
];

#[test]
fn a_meal_is_followed_from_before_to_its_return() {
    let found = followed(&HILL, &[ate(60, 50.0), ate(70, 10.0)], &[(45 * 60, 5.0)], (0, 0));
    let [meal] = found.meals[..] else {
        panic!("{found:?}")
    };
    assert_eq!(
        (meal.grams, meal.units, meal.lead_min),
        (Some(60.0), Some(5.0), Some(15.0))
    );
    assert_eq!(
        (meal.before_mg_dl, meal.peak_mg_dl, meal.to_peak_min),
        (100.0, 220.0, 60.0)
    );
    assert!((meal.rise_mg_dl() - 120.0).abs() < 1e-9);
    // A triangle up over 60 minutes, and half of the way down over the next 60.
    assert!((meal.area_mg_dl_min.unwrap() - (3600.0 + 0.5 * (120.0 + 60.0) * 60.0)).abs() < 1e-6);
    // Within 20 of where it began 100 minutes after the peak.
    assert_eq!(meal.back_after_min, Some(160.0));
}

#[test]
fn what_cannot_be_followed_is_counted_and_what_is_disturbed_has_no_area() {
    let gap = followed(&HILL, &[ate(60, 50.0)], &[], (80, 110));
    assert_eq!((gap.meals.len(), gap.unread), (0, 1));
    let unread_before = followed(&HILL, &[ate(60, 50.0)], &[], (40, 65));
    assert_eq!(unread_before.unread, 1);
    let disturbed = followed(&HILL, &[ate(60, 50.0), ate(120, 20.0)], &[], (0, 0));
    assert_eq!(disturbed.meals[0].area_mg_dl_min, None);
    let low = Eaten {
        against_low: true,
        ..ate(120, 20.0)
    };
    let treated = followed(&HILL, &[ate(60, 50.0), low], &[], (0, 0));
    assert_eq!((treated.meals.len(), treated.meals[0].area_mg_dl_min), (1, None));
    // The return is after a gap: not seen.
    let later = followed(&HILL, &[ate(60, 50.0)], &[], (190, 260));
    assert_eq!((later.meals.len(), later.meals[0].back_after_min), (1, None));
}

fn meal(name: u32, day: i64, rise: f64, lead_min: f64, grams: f64) -> MealCourse {
    MealCourse {
        at: day * 86_400 + 43_200,
        grams: Some(grams),
        name: Some(name),
        units: Some(4.0),
        lead_min: Some(lead_min),
        before_mg_dl: 110.0,
        peak_mg_dl: 110.0 + rise,
        to_peak_min: 70.0,
        area_mg_dl_min: Some(4000.0),
        back_after_min: None,
    }
}

/// A meal seen twice is drawn far towards the others, one seen often little.
#[test]
fn a_meal_seen_twice_is_drawn_in() {
    let mut all = Vec::new();
    for (name, rise) in [(1, 40.0), (2, 55.0), (3, 60.0), (4, 70.0), (5, 50.0)] {
        for i in 0..30_i64 {
            all.push(meal(
                name,
                i64::from(name) * 40 + i,
                rise + f64::from((i * 37 % 61) as i32) - 30.0,
                5.0,
                50.0,
            ));
        }
    }
    all.push(meal(6, 400, 150.0, 5.0, 50.0));
    all.push(meal(6, 401, 130.0, 5.0, 50.0));
    let found = repeated(&all);
    let of = |name: u32| found.iter().find(|meal| meal.name == name).unwrap();
    let (twice, often) = (of(6), of(1));
    assert_eq!((twice.times, twice.mean_rise_mg_dl), (2, Some(140.0)));
    let expected = twice.expected_rise_mg_dl.unwrap();
    assert!(expected > 60.0 && expected < 135.0, "{expected}");
    let drawn = |meal: &interstice_methods::meals::RepeatedMeal| {
        (meal.mean_rise_mg_dl.unwrap() - meal.expected_rise_mg_dl.unwrap()).abs()
    };
    assert!(
        drawn(twice) > 2.0 * drawn(often),
        "{} {}",
        drawn(twice),
        drawn(often)
    );
    let width = |meal: &interstice_methods::meals::RepeatedMeal| {
        let interval = meal.expected_interval.unwrap();
        interval.hi - interval.lo
    };
    assert!(width(twice) > 1.5 * width(often));
}

#[test]
fn an_earlier_dose_is_told_with_what_it_goes_with() {
    let day = |meal: &MealCourse| u32::try_from(meal.at / 86_400).unwrap();
    // Ten minutes earlier go with 12 mg/dL less; five grams more with 5 more.
    let all: Vec<MealCourse> = (0..60_i64)
        .map(|i| {
            let lead = f64::from((i % 7) as i32 * 5 - 10);
            let grams = 40.0 + f64::from((i * 13 % 11) as i32 * 5);
            let noise = f64::from((i * 29 % 23) as i32) - 11.0;
            meal(1, i / 2, 60.0 - 1.2 * lead + grams + noise, lead, grams)
        })
        .collect();
    let told = timing(&all, day).unwrap();
    assert_eq!(told.meals, 60);
    assert!(told.interval.lo < -12.0 && -12.0 < told.interval.hi, "{told:?}");
    assert!(told.interval.hi < 0.0);
    assert_eq!(timing(&all[..10], day), None);
}
