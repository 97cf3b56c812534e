use proptest::prelude::*;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

use super::*;

const WEAR_H: f64 = 336.0;

fn plain() -> Habit {
    Habit {
        wear_h: WEAR_H,
        clock: WearClock::Start,
        before_h: 0.0,
        warm_up_h: 0.0,
    }
}

fn stays(lost: &[f64], whole: usize) -> Vec<Past> {
    let lost = lost.iter().map(|&hours| Past::Early(hours));
    lost.chain(std::iter::repeat_n(Past::Whole, whole)).collect()
}

fn always() -> Supplied {
    Supplied {
        from_h: f64::NEG_INFINITY,
        until_h: f64::INFINITY,
    }
}

fn ask<'a>(past: &'a [Past], drawer: &'a [Supplied]) -> Ask<'a> {
    Ask {
        past,
        habit: plain(),
        on: None,
        waiting: 0,
        drawer,
        futures: FUTURES,
        seed: 7,
    }
}

fn ln_choose(n: f64, k: f64) -> f64 {
    libm::lgamma(n + 1.0) - libm::lgamma(k + 1.0) - libm::lgamma(n - k + 1.0)
}

fn ln_beta(a: f64, b: f64) -> f64 {
    libm::lgamma(a) + libm::lgamma(b) - libm::lgamma(a + b)
}

/// Of six coming sensors, how many are lost: with l of n lost before, none cut short, exactly beta-binomial(6, l + ½, n − l + ½) (Johnson, Kemp and Kotz 2005, Univariate Discrete Distributions, section 6.2.2; from memory).
#[test]
fn losses_to_come_are_beta_binomial() {
    const COMING: u32 = 6;
    const RUNS: u64 = 40_000;
    for (lost, kept) in [(vec![40.0, 100.0, 250.0], 9), (vec![], 8), (vec![10.0; 5], 0)] {
        let all = stays(&lost, kept);
        let known = curve::Known::of(&all);
        let mut found = [0_u32; COMING as usize + 1];
        for run in 0..RUNS {
            let mut dice = ChaCha8Rng::seed_from_u64(run);
            let curve = Curve::drawn(&known, WEAR_H, &mut dice);
            let gone = (0..COMING)
                .filter(|_| curve.draw(0.0, &mut dice) < WEAR_H)
                .count();
            found[gone] += 1;
        }
        let (a, b) = (lost.len() as f64 + 0.5, kept as f64 + 0.5);
        for (gone, &count) in (0_u32..).zip(&found) {
            let (k, n) = (f64::from(gone), f64::from(COMING));
            let expected = libm::exp(ln_choose(n, k) + ln_beta(k + a, n - k + b) - ln_beta(a, b));
            let share = f64::from(count) / RUNS as f64;
            // Four standard errors.
            let reach = 4.0 * (expected * (1.0 - expected) / RUNS as f64).sqrt() + 1e-9;
            assert!(
                (share - expected).abs() <= reach,
                "{lost:?}, {kept}: {gone} lost in {share}, not {expected}"
            );
        }
    }
}

/// With hardly a loss to be expected the futures are arithmetic.
#[test]
fn without_losses_the_drawer_lasts_as_long_as_its_labels_say() {
    let all = stays(&[], 4000);
    let drawer = [always(); 5];
    let mut asked = ask(&all, &drawer);
    let near =
        |found: f64, expected: f64| assert!((found - expected).abs() < 1e-9, "{found}, not {expected}");
    near(lasting(&asked).unwrap().middle_h(), 5.0 * WEAR_H);
    asked.on = Some(OnNow {
        worn_h: 36.0,
        left_h: 300.0,
    });
    near(lasting(&asked).unwrap().middle_h(), 300.0 + 5.0 * WEAR_H);
    asked.waiting = 1;
    near(lasting(&asked).unwrap().middle_h(), 300.0 + 6.0 * WEAR_H);
    // Put on 25 hours before, of these one to warm up: each reads one hour less for itself, and the last is followed 25 hours before its end.
    asked.habit = Habit {
        before_h: 25.0,
        warm_up_h: 1.0,
        ..plain()
    };
    near(
        lasting(&asked).unwrap().middle_h(),
        300.0 + 6.0 * (WEAR_H - 1.0) - 25.0,
    );
    // A clock that runs from being put on takes the bedding in from the wear.
    asked.habit.clock = WearClock::PutOn;
    near(
        lasting(&asked).unwrap().middle_h(),
        300.0 + 6.0 * (WEAR_H - 25.0) - 25.0,
    );
    let used = used_within(&asked, 8760.0).unwrap();
    near(used[used.len() / 2], 1.0 + (8760.0 - WEAR_H) / (WEAR_H - 25.0));
    asked.habit = plain();
    let used = used_within(&asked, 8760.0).unwrap();
    near(used[used.len() / 2], 8760.0 / WEAR_H);
}

#[test]
fn what_expires_is_not_used_and_what_has_not_come_is_not_there() {
    let all = stays(&[], 4000);
    let until = |until_h: f64| Supplied { until_h, ..always() };
    // Three, one of which expires before it is needed; the order they are given in has no say.
    let drawer = [always(), until(WEAR_H - 1.0), until(WEAR_H - 1.0)];
    let found = lasting(&ask(&all, &drawer)).unwrap();
    assert!((found.middle_h() - 2.0 * WEAR_H).abs() < 1e-9);
    assert!(
        found.expires_unused[0] < 0.01 && found.expires_unused[1] < 0.01 && found.expires_unused[2] > 0.98
    );
    // One that comes an hour too late does not help, and is not called expired.
    let late = Supplied {
        from_h: WEAR_H + 1.0,
        ..always()
    };
    let found = lasting(&ask(&all, &[always(), late])).unwrap();
    assert!((found.middle_h() - WEAR_H).abs() < 1e-9 && found.expires_unused[1] < 0.01);
    let none = lasting(&ask(&all, &[])).unwrap();
    assert!(none.middle_h().abs() < 1e-9 && none.order_by_h(72.0) <= -72.0);
}

#[test]
fn too_little_and_what_cannot_be_are_refused() {
    let few = stays(&[50.0], FEWEST_STAYS - 2);
    let said = lasting(&ask(&few, &[])).unwrap_err().to_string();
    assert!(said.starts_with("4 of your sensors are over"), "{said}");
    let all = stays(&[50.0], 9);
    for (before_h, warm_up_h, wear_h) in [(336.0, 0.0, 336.0), (1.0, 2.0, 336.0), (0.0, 0.0, f64::NAN)] {
        let habit = Habit {
            wear_h,
            before_h,
            warm_up_h,
            ..plain()
        };
        let asked = Ask {
            habit,
            ..ask(&all, &[])
        };
        assert_eq!(lasting(&asked), Err(Untold::Habit));
    }
}

#[test]
fn the_order_is_early_enough_in_95_of_100_futures() {
    let all = stays(&[20.0, 90.0, 200.0, 310.0], 8);
    let drawer = [always(); 4];
    let asked = ask(&all, &drawer);
    let found = lasting(&asked).unwrap();
    assert_eq!(found, lasting(&asked).unwrap());
    let by = found.order_by_h(240.0);
    assert!(found.out_before(by + 240.0) <= MAY_RUN_OUT);
    // An hour later would be too late, where the futures lie close.
    assert!(found.out_before(by + 250.0) > MAY_RUN_OUT);
    let within = found.within_h();
    assert!(within.lo < found.middle_h() && found.middle_h() < within.hi && within.hi <= 4.0 * WEAR_H);
}

#[test]
fn fewer_sensors_of_ones_own_leave_more_open() {
    let share = |times: usize| {
        let lost: Vec<f64> = [60.0, 200.0].repeat(times);
        let all = stays(&lost, 6 * times);
        let drawer = [always(); 6];
        let within = lasting(&ask(&all, &drawer)).unwrap().within_h();
        within.hi - within.lo
    };
    assert!(share(1) > share(20), "{} and {}", share(1), share(20));
}

#[test]
fn an_hour_worn_costs_what_was_paid_over_what_was_worn() {
    let of = |price_minor, worn_h| Paid {
        price_minor,
        labelled_h: 336.0,
        worn_h,
    };
    // Worn out; lost half-way; free and lost after a quarter; worn beyond its label; and one that is no number.
    let all = [
        of(6000.0, 336.0),
        of(6000.0, 168.0),
        of(0.0, 84.0),
        of(6720.0, 348.0),
        of(f64::NAN, 1.0),
    ];
    let found = cost(&all);
    assert_eq!((found.sensors, found.free), (4, 1));
    assert!((found.spent_minor - 18_720.0).abs() < 1e-9 && (found.worn_h - 936.0).abs() < 1e-9);
    assert!((found.per_worn_hour_minor.unwrap() - 20.0).abs() < 1e-12);
    assert!((found.unworn_h - 420.0).abs() < 1e-9 && (found.lost_minor - 3000.0).abs() < 1e-9);
    assert_eq!(cost(&[]).per_worn_hour_minor, None);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// One sensor more never runs out sooner; a bigger share never runs out before; the chances are chances.
    #[test]
    fn more_never_lasts_shorter(
        lost in prop::collection::vec(1.0..336.0_f64, 0..8),
        kept in 5_usize..12,
        count in 0_usize..9,
        worn in 0.0..336.0_f64,
        before in 0.0..48.0_f64,
        seed in 0_u64..1000,
    ) {
        let all = stays(&lost, kept);
        let drawer = vec![always(); count + 1];
        let habit = Habit { before_h: before, warm_up_h: before / 4.0, ..plain() };
        let on = Some(OnNow { worn_h: worn, left_h: WEAR_H - worn });
        let asked = Ask { habit, on, futures: 200, seed, ..ask(&all, &drawer[..count]) };
        let fewer = lasting(&asked).unwrap();
        let more = lasting(&Ask { drawer: &drawer, ..asked }).unwrap();
        for (one, other) in fewer.out_h.iter().zip(&more.out_h) {
            prop_assert!(one <= other && *one >= 0.0 && other.is_finite());
        }
        prop_assert!(more.expires_unused.iter().all(|share| *share <= 0.0));
        let used = used_within(&asked, 8760.0).unwrap();
        prop_assert!(used.iter().all(|used| *used >= 8760.0 / (WEAR_H + 1.0) - 1.0));
    }
}
