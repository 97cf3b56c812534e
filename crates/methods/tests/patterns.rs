//! Patterns: the exact tail, false discoveries on people without any, what is planted, and one bad day. All invented.

#![expect(
    clippy::unwrap_used,
    reason = "a test that cannot make its own data must stop"
)]

use interstice_glucose::{DAY_S, Levels, LivedClock, Readings, Said, Second};
use interstice_methods::patterns::{
    AfterAsked, Grid, PatternEvent, Patterns, adjusted, after, at_least, dawn, patterns,
};
use interstice_methods::{Recording, primary};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Binomial tails as tables print them: 8 or more of 10 at ½ is 56/1024; 3 or more of 20 at 0.05 is 0.0755.
#[test]
fn the_tail_of_unlike_coins() {
    assert!((at_least(&[0.5; 10], 8) - 56.0 / 1024.0).abs() < 1e-15);
    assert!((at_least(&[0.05; 20], 3) - 0.075_484).abs() < 1e-6);
    assert!(at_least(&[0.3, 0.4], 0) >= 1.0);
    // Both unlike: 0.3 × 0.4.
    assert!((at_least(&[0.3, 0.4], 2) - 0.12).abs() < 1e-15);
    // The approximation beyond 600 against the same tail added up: two halves that are exact apart.
    let many: Vec<f64> = (0..601).map(|i| 0.02 + 0.1 * f64::from(i % 7) / 7.0).collect();
    let mean: f64 = many.iter().sum();
    for over in [0.0, 8.0, 16.0, 24.0] {
        let count = (mean + over).round() as u32;
        let exact = at_least(&many[1..], count) * (1.0 - many[0]) + at_least(&many[1..], count - 1) * many[0];
        let about = at_least(&many, count);
        assert!(
            (about - exact).abs() < 2e-3 + 0.05 * exact,
            "{over}: {about} {exact}"
        );
    }
}

/// The example of Benjamini and Hochberg (1995), section 4: fifteen comparisons, four stand at 5 %; from memory.
#[test]
fn false_discoveries_are_held() {
    let p = [
        0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262, 0.5719,
        0.6528, 0.7590, 1.0,
    ];
    let stand = adjusted(&p).iter().filter(|&&p| p <= 0.05).count();
    assert_eq!(stand, 4);
    let mut turned: Vec<f64> = p.to_vec();
    turned.reverse();
    assert_eq!(adjusted(&turned).iter().filter(|&&p| p <= 0.05).count(), 4);
}

/// Readings every five minutes of some days.
fn with_grid<T>(
    days: u32,
    glucose: impl FnMut(u32) -> f64,
    with: impl FnOnce(&Grid, &Recording<'_>) -> T,
) -> T {
    let (mut levels, mut readings) = (Levels::new(), Readings::default());
    let mut glucose = glucose;
    for step in 0..days * 288 {
        let value = glucose(step).round().clamp(40.0, 400.0) as i64;
        readings.push(step * 300, levels.intern(Said::whole_mg_per_dl(value)));
    }
    let columns = [&readings];
    let series = primary(&columns);
    let clock = LivedClock::fixed(0);
    let recording = Recording::new(&series, &levels, &clock, 0, Second::from(days) * DAY_S).unwrap();
    with(&Grid::of(&recording, &[]), &recording)
}

fn found(days: u32, glucose: impl FnMut(u32) -> f64) -> Patterns {
    let weekend = |day: i64| matches!(day.rem_euclid(7), 2 | 3);
    let weekday = |day: i64| !weekend(day);
    with_grid(days, glucose, |grid, _| {
        patterns(grid, &[(0, &weekday), (1, &weekend)])
    })
}

/// Glucose that wanders with a memory of three hours and no clock.
fn wandering(seed: u64) -> impl FnMut(u32) -> f64 {
    let mut stream = ChaCha8Rng::seed_from_u64(seed);
    let mut state = 0.0;
    move |_| {
        let normal: f64 = (0..12).map(|_| stream.random::<f64>()).sum::<f64>() - 6.0;
        state = state * (1.0 - 1.0 / 36.0) + normal * (2.0_f64 / 36.0).sqrt();
        140.0 + 48.0 * state
    }
}

/// People without patterns: at most one in twenty is shown any, over four hundred of thirty days.
#[test]
fn people_without_patterns_are_shown_none() {
    let runs = 400;
    let shown = (0..runs)
        .filter(|&seed| !found(30, wandering(seed)).found.is_empty())
        .count();
    println!("{shown} of {runs} people without patterns are shown any");
    assert!(shown * 20 <= runs as usize, "{shown} of {runs}");
}

#[test]
fn what_is_planted_is_found_where_it_is() {
    let mut wander = wandering(7);
    // Lows from two to half past three on two nights of three.
    let planted = found(42, |step| {
        let (day, minute) = (step / 288, step % 288 * 5);
        let calm = 140.0 + 0.5 * (wander(step) - 140.0);
        if day % 3 > 0 && (120..210).contains(&minute) {
            60.0
        } else {
            calm
        }
    });
    let low = planted
        .found
        .iter()
        .find(|of| of.event == PatternEvent::Low)
        .unwrap();
    assert!(
        (60..=180).contains(&low.from_min) && low.kind.is_none(),
        "{low:?}"
    );
    assert!(
        low.days_with >= 26 && low.halves.iter().all(|&half| half > 0.5),
        "{low:?}"
    );
    assert!(planted.asked > 250);
}

#[test]
fn no_bad_day_alone_makes_one() {
    let mut wander = wandering(8);
    let one = found(30, |step| {
        let calm = 140.0 + 0.3 * (wander(step) - 140.0);
        // All bad hours lie in the first week.
        if step / 288 < 6 && (96..120).contains(&(step % 288)) {
            60.0
        } else {
            calm
        }
    });
    assert!(
        one.found.iter().all(|of| of.event != PatternEvent::Low),
        "{one:?}"
    );
}

#[test]
fn after_is_against_the_same_hours_of_other_days() {
    // Low at 22:00 after every activity that ended at 18:00, on each fourth day; and low at 10:00 every day.
    let glucose = |step: u32| {
        let (day, minute) = (step / 288, step % 288 * 5);
        let after = day % 4 == 0 && (1320..1350).contains(&minute);
        if after || (600..630).contains(&minute) {
            60.0
        } else {
            130.0
        }
    };
    let ends: Vec<(i64, u32)> = (0..40)
        .filter(|day| day % 4 == 0)
        .map(|day| (day, 1080))
        .collect();
    let (soon, later) = with_grid(41, glucose, |grid, _| {
        let ask = |from, to| AfterAsked {
            event: PatternEvent::Low,
            from,
            to,
        };
        (
            after(grid, &ends, ask(0, 8)).unwrap(),
            after(grid, &ends, ask(16, 32)).unwrap(),
        )
    });
    assert_eq!((soon.with, soon.times), (0, 10));
    assert_eq!((later.with, later.times), (10, 10));
    assert!(later.p < 1e-6 && later.expected < 1.0, "{later:?}");
    with_grid(41, glucose, |grid, _| {
        // The low at ten comes on all days: sixteen hours after is nothing of it.
        let asked = AfterAsked {
            event: PatternEvent::Low,
            from: 60,
            to: 68,
        };
        let same = after(grid, &ends, asked).unwrap();
        assert!(same.p > 0.5, "{same:?}");
    });
}

#[test]
fn the_rise_towards_morning_leaves_out_nights_that_would_fake_it() {
    // 100 at three, 130 at seven, every night.
    let glucose = |step: u32| {
        let minute = f64::from(step % 288 * 5);
        if minute <= 180.0 {
            110.0 - minute / 18.0
        } else {
            (100.0 + (minute - 180.0) / 8.0).min(130.0)
        }
    };
    let breakfasts: Vec<Second> = (0..20).map(|day| day * DAY_S + 7 * 3600).collect();
    let told = with_grid(20, glucose, |_, recording| dawn(recording, &breakfasts, &[], &[]));
    assert_eq!(told.nights, 20);
    let rise = told.rise_mg_dl.unwrap();
    assert!((rise[1] - 30.0).abs() < 1.5, "{rise:?}");
    assert_eq!(told.share, Some(1.0));
    // Night food on the first, a dose on the second, pressure on the third, no breakfast on the fourth.
    let mut carbs = breakfasts.clone();
    carbs[0] = 2 * 3600;
    carbs.insert(1, 7 * 3600);
    carbs.remove(4);
    let doses = [DAY_S + 4 * 3600];
    let aside = [(2 * DAY_S + 3600, 2 * DAY_S + 7200)];
    let left = with_grid(20, glucose, |_, recording| {
        dawn(recording, &carbs, &doses, &aside)
    });
    assert_eq!(left.nights, 16, "{left:?}");
    assert_eq!(
        (
            left.excluded.low_food_or_pressure,
            left.excluded.dose,
            left.excluded.no_breakfast
        ),
        (2, 1, 1)
    );
}
