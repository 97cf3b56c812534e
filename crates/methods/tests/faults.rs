//! Planted faults are found where they are, and not where they are not.

#![expect(
    clippy::unwrap_used,
    reason = "a test that cannot make its own data must stop"
)]

use interstice_glucose::{Ending, Second};
use interstice_methods::faults::{
    CheckedAt, DriftError, Evidence, Fault, Trace, UsualLife, Wear, drift, faults,
};
use proptest::prelude::*;

const DAY: Second = 86_400;

/// Invented: meals as bumps, a slow wander, noise of 2 mg/dL from reading to reading; whole mg/dL or tenths of a mmol/L.
#[derive(Clone, Debug)]
struct Made {
    interval_s: u32,
    at: Vec<u32>,
    mg_dl: Vec<f64>,
}

fn made(seed: u64, interval_s: u32, days: u32, mmol: bool) -> Made {
    let mut state = seed.wrapping_mul(2).wrapping_add(1);
    let mut even = move || {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (state >> 40) as f64 / (1u64 << 24) as f64
    };
    let (mut wander, mut made) = (
        0.0,
        Made {
            interval_s,
            at: Vec::new(),
            mg_dl: Vec::new(),
        },
    );
    let phase = even() * 3.0;
    for i in 0..days * 86_400 / interval_s {
        let hour = f64::from(i * interval_s) / 3600.0 % 24.0;
        wander = 0.98 * wander + 3.0 * (even() - 0.5);
        let meals: f64 = [8.0, 13.0, 19.0]
            .iter()
            .map(|at| 60.0 * libm::exp(-((hour - at - phase) / 1.2) * ((hour - at - phase) / 1.2)))
            .sum();
        let noise = 2.0 * (0..12).map(|_| even()).sum::<f64>() - 12.0;
        let value = 120.0 + meals + wander + noise;
        let step = if mmol { 1.801_56 } else { 1.0 };
        made.at.push(1_700_000_000 + i * interval_s);
        made.mg_dl.push((value / step).round() * step);
    }
    made
}

impl Made {
    fn faults(&self) -> Vec<Fault> {
        self.faults_planned(None)
    }

    fn faults_planned(&self, planned_end: Option<Second>) -> Vec<Fault> {
        let censored: Vec<bool> = self.mg_dl.iter().map(|&value| value <= 40.0).collect();
        let trace = Trace {
            at: &self.at,
            mg_dl: &self.mg_dl,
            censored: &censored,
            interval_s: self.interval_s,
        };
        let wear = Wear {
            planned_end,
            ..Wear::default()
        };
        faults(&trace, self.end() + DAY, &wear)
    }

    fn end(&self) -> Second {
        Second::from(*self.at.last().unwrap()) + Second::from(self.interval_s)
    }

    fn readings(&self, hours: f64) -> usize {
        (hours * 3600.0 / f64::from(self.interval_s)) as usize
    }

    /// Faults that meet readings `start..end`, and those that do not.
    fn found(&self, start: usize, end: usize) -> (Vec<Evidence>, usize) {
        let (from, to) = (Second::from(self.at[start - 1]), Second::from(self.at[end]));
        let all = self.faults();
        let meets = |fault: &&Fault| fault.from < to && fault.to > from;
        let inside: Vec<Evidence> = all.iter().filter(meets).map(|fault| fault.evidence).collect();
        let outside = all.len() - inside.len();
        (inside, outside)
    }
}

/// A trace and where something is planted in it.
struct Case {
    made: Made,
    /// Share of the trace.
    place: f64,
    up: bool,
    seed: u64,
}

/// Fixed, so that what is found in them is always the same: a rule that errs now and then would do so in some trace.
fn cases() -> Vec<Case> {
    (0..60)
        .map(|seed| Case {
            made: made(seed, [60, 300, 900][seed as usize % 3], 5, seed % 2 == 0),
            place: 0.2 + 0.5 * (seed as f64 * 0.618_034).fract(),
            up: seed % 4 < 2,
            seed,
        })
        .collect()
}

#[test]
fn nothing_is_found_in_a_clean_trace() {
    for Case { made, .. } in cases() {
        assert_eq!(made.faults(), Vec::new());
    }
}

#[test]
fn a_stuck_run_is_found_and_nothing_else() {
    for Case { made, place, .. } in cases() {
        let mut made = made;
        let start = (place * made.at.len() as f64) as usize;
        let end = start + made.readings(6.0);
        let value = made.mg_dl[start];
        made.mg_dl[start..end].fill(value);
        let (inside, outside) = made.found(start, end);
        // The trace goes on from another level: that is a jump, and may be told as one.
        let stuck = inside
            .iter()
            .filter(|evidence| matches!(evidence, Evidence::Stuck { .. }))
            .count();
        assert_eq!((stuck, outside), (1, 0), "{:?}", inside);
    }
}

#[test]
fn a_step_is_found_where_it_is() {
    for Case { made, place, up, .. } in cases() {
        let mut made = made;
        let start = (place * made.at.len() as f64) as usize;
        // What no glucose does in one interval, and beyond the bumps of meals that may follow.
        let size = (f64::from(made.interval_s) / 60.0 * 5.0 + 140.0) * if up { 1.0 } else { -1.0 };
        made.mg_dl.iter_mut().skip(start).for_each(|value| *value += size);
        made.mg_dl.iter_mut().for_each(|value| *value += 400.0);
        let (inside, outside) = made.found(start, start);
        let steps: Vec<f64> = inside
            .iter()
            .filter_map(|evidence| match evidence {
                Evidence::Step { mg_dl, .. } => Some(*mg_dl),
                _ => None,
            })
            .collect();
        assert_eq!((steps.len(), outside), (1, 0), "{:?}", inside);
        assert!((steps[0] - size).abs() < 60.0, "{} {}", steps[0], size);
    }
}

/// A dip that comes back within the hour is no step: pressure does that. At a calm time: with a meal's rise inside the dip
/// the level after it may well be another.
#[test]
fn a_dip_is_no_step() {
    for Case { made, place, .. } in cases() {
        let mut made = made;
        let start = (place * made.at.len() as f64) as usize;
        let end = start + made.readings(0.75).max(1);
        made.mg_dl
            .iter_mut()
            .for_each(|value| *value = (120.0 + 0.3 * (*value - 120.0)).round());
        made.mg_dl[start..end].iter_mut().for_each(|value| *value -= 70.0);
        let steps = made
            .faults()
            .iter()
            .filter(|fault| matches!(fault.evidence, Evidence::Step { .. }))
            .count();
        assert_eq!(steps, 0);
    }
}

#[test]
fn a_burst_is_found_where_it_is() {
    for Case {
        made, place, seed, ..
    } in cases()
    {
        let mut made = made;
        let start = (place * made.at.len() as f64) as usize;
        let end = start + made.readings(8.0);
        let mut state = seed | 1;
        for value in &mut made.mg_dl[start..end] {
            let mut noise = -6.0;
            for _ in 0..12 {
                state = state
                    .wrapping_mul(6_364_136_223_846_793_005)
                    .wrapping_add(1_442_695_040_888_963_407);
                noise += (state >> 40) as f64 / (1u64 << 24) as f64;
            }
            *value += 40.0 * noise;
        }
        let (inside, outside) = made.found(start, end);
        let noise = inside
            .iter()
            .filter(|evidence| matches!(evidence, Evidence::Noise { .. }))
            .count();
        assert!(noise >= 1, "{:?}", inside);
        assert_eq!(outside, 0);
    }
}

#[test]
fn a_silence_is_found_exactly() {
    for Case { made, place, .. } in cases() {
        let mut made = made;
        let start = (place * made.at.len() as f64) as usize;
        let end = start + made.readings(3.0);
        let (from, to) = (
            Second::from(made.at[start - 1] + made.interval_s),
            Second::from(made.at[end]),
        );
        made.at.drain(start..end);
        made.mg_dl.drain(start..end);
        let dropout = Fault {
            from,
            to,
            evidence: Evidence::Dropout,
        };
        assert_eq!(made.faults(), vec![dropout]);
    }
}

proptest! {
    /// Any bytes at all: no panic, and intervals the right way round, in order.
    #[test]
    fn any_trace_is_judged(rows in proptest::collection::vec((0u32..200_000, -10.0f64..600.0, any::<bool>()), 0..400), interval_s in 0u32..2000) {
        let mut rows = rows;
        rows.sort_by_key(|row| row.0);
        let at: Vec<u32> = rows.iter().map(|row| row.0).collect();
        let mg_dl: Vec<f64> = rows.iter().map(|row| row.1).collect();
        let censored: Vec<bool> = rows.iter().map(|row| row.2).collect();
        let trace = Trace { at: &at, mg_dl: &mg_dl, censored: &censored, interval_s };
        let wear = Wear { planned_end: Some(250_000), ..Wear::default() };
        let found = faults(&trace, 300_000, &wear);
        prop_assert!(found.iter().all(|fault| fault.from <= fault.to));
        prop_assert!(found.windows(2).all(|pair| pair[0].from <= pair[1].from));
    }
}

#[test]
fn an_end_is_early_by_the_plan_or_by_a_dying_signal() {
    let mut made = made(5, 300, 5, false);
    let end = made.end();
    assert_eq!(made.faults_planned(Some(end + 6 * 3600)), Vec::new());
    let early = made.faults_planned(Some(end + 3 * DAY));
    let evidence = Evidence::EarlyEnd {
        short_s: Some(3 * DAY),
        others: None,
        dying: None,
        silent_s: None,
        next_s: None,
        told: None,
    };
    assert_eq!(
        early,
        [Fault {
            from: end,
            to: end,
            evidence
        }]
    );
    // Rough in the last six hours: to and fro by 30 mg/dL.
    let last = made.at.len();
    for i in last - 72..last {
        made.mg_dl[i] += if i % 3 == 0 { 40.0 } else { -20.0 };
    }
    for planned in [None, Some(end + 3 * DAY)] {
        let found = made.faults_planned(planned);
        let dying = found
            .iter()
            .find(|fault| matches!(fault.evidence, Evidence::EarlyEnd { .. }))
            .unwrap();
        assert!((dying.from - (end - 6 * 3600)).abs() <= 3600, "{dying:?}");
        let Evidence::EarlyEnd {
            short_s,
            dying: Some(times),
            ..
        } = dying.evidence
        else {
            panic!("{dying:?}");
        };
        assert_eq!(short_s, planned.map(|_| 3 * DAY));
        assert!(times > 6.0);
    }
    // Readings still coming in: nothing has ended.
    let trace = Trace {
        at: &made.at,
        mg_dl: &made.mg_dl,
        censored: &vec![false; made.at.len()],
        interval_s: 300,
    };
    let planned = Wear {
        planned_end: Some(end + 3 * DAY),
        ..Wear::default()
    };
    let none = faults(&trace, end + 600, &planned);
    assert!(
        none.iter()
            .all(|fault| !matches!(fault.evidence, Evidence::EarlyEnd { .. }))
    );
}

/// A quiet end is early by what the person's other sensors lasted, with what the trace and the next sensor show; one that was
/// meant is none, and one within a day of the others' is none.
#[test]
fn an_end_is_early_by_other_sensors() {
    let mut made = made(6, 300, 5, true);
    // Two hours of the last eight are missing.
    let cut = made.at.len() - 60;
    made.at.drain(cut..cut + 24);
    made.mg_dl.drain(cut..cut + 24);
    let end = made.end();
    let usual = |days: f64| UsualLife {
        life_s: (days * DAY as f64) as Second,
        alike: 6,
        of: 8,
    };
    let found = |days: f64, told| {
        let wear = Wear {
            usual: Some((end - 5 * DAY, usual(days))),
            next: Some(end + 7200),
            told,
            ..Wear::default()
        };
        let censored = vec![false; made.at.len()];
        let trace = Trace {
            at: &made.at,
            mg_dl: &made.mg_dl,
            censored: &censored,
            interval_s: 300,
        };
        let all = faults(&trace, end + DAY, &wear);
        all.into_iter()
            .find(|fault| matches!(fault.evidence, Evidence::EarlyEnd { .. }))
            .map(|fault| fault.evidence)
    };
    let early = |told| Evidence::EarlyEnd {
        short_s: Some(5 * DAY),
        others: Some(usual(10.0)),
        dying: None,
        silent_s: Some(7200),
        next_s: Some(7200),
        told,
    };
    assert_eq!(found(10.0, None), Some(early(None)));
    let failed = Some(Ending::Failed);
    assert_eq!(found(10.0, failed), Some(early(failed)));
    assert_eq!(found(10.0, Some(Ending::TakenOff)), None);
    assert_eq!(found(5.9, None), None);
}

fn checks(slope: f64, count: i64, noise: f64) -> Vec<CheckedAt> {
    let wave = [0.3, -1.0, 0.8, 0.1, -0.5, 1.0, -0.7, 0.0];
    (0..count)
        .map(|i| {
            let days = 1.0 + 0.5 * i as f64;
            CheckedAt {
                at: (days * DAY as f64) as Second,
                relative_percent: slope * days + noise * wave[i as usize % 8],
            }
        })
        .collect()
}

#[test]
fn a_drift_is_found_with_its_slope() {
    let found = drift(&checks(-3.0, 16, 5.0), 0).unwrap().unwrap();
    let Evidence::Drift {
        points_per_day,
        interval,
        checks: count,
    } = found.evidence
    else {
        panic!("{found:?}");
    };
    assert_eq!(count, 16);
    assert!(
        (points_per_day + 3.0).abs() < 0.5 && interval.lo < -3.0 && -3.0 < interval.hi && interval.hi < 0.0
    );
    // A contaminated finger does not undo it, nor make one.
    let mut bent = checks(-3.0, 16, 5.0);
    bent[12].relative_percent += 80.0;
    assert!(drift(&bent, 0).unwrap().is_some());
    let mut still = checks(0.0, 16, 5.0);
    still[15].relative_percent += 80.0;
    assert_eq!(drift(&still, 0), Ok(None));
    // Real, but too small to matter.
    assert_eq!(drift(&checks(0.5, 16, 0.1), 0), Ok(None));
}

#[test]
fn a_drift_that_cannot_be_told_says_why() {
    assert_eq!(drift(&[], 0), Err(DriftError::TooFewChecks { have: 0, need: 7 }));
    assert_eq!(
        drift(&checks(-3.0, 6, 1.0), 0),
        Err(DriftError::TooFewChecks { have: 6, need: 7 })
    );
    // The first day is left out.
    let late = DAY;
    assert_eq!(
        drift(&checks(-3.0, 8, 1.0), late),
        Err(DriftError::TooFewChecks { have: 6, need: 7 })
    );
    let mut close = checks(-3.0, 8, 1.0);
    for (i, check) in close.iter_mut().enumerate() {
        check.at = DAY + 3600 * i as Second;
    }
    assert_eq!(drift(&close, 0), Err(DriftError::TooShort { need: 3 }));
}

/// Slopes and interval by scipy.stats.theilslopes(y, x, 0.99), scipy 1.17, on ten checks half a day apart.
#[test]
fn slopes_are_those_of_scipy() {
    let y = [3.0, -1.0, -6.0, 2.0, -9.0, -12.0, -8.0, -17.0, -15.0, -22.0];
    let checks: Vec<CheckedAt> = y
        .iter()
        .enumerate()
        .map(|(i, &relative_percent)| CheckedAt {
            at: DAY + i as Second * DAY / 2,
            relative_percent,
        })
        .collect();
    let found = drift(&checks, 0).unwrap().unwrap();
    let Evidence::Drift {
        points_per_day,
        interval,
        ..
    } = found.evidence
    else {
        panic!("{found:?}");
    };
    for (got, want) in [
        (points_per_day, SCIPY[0]),
        (interval.lo, SCIPY[1]),
        (interval.hi, SCIPY[2]),
    ] {
        assert!((got - want).abs() < 1e-9, "{got} {want}");
    }
}

const SCIPY: [f64; 3] = [-5.25, -9.0, -2.0];
