//! Which findings of a window stand first: a stated rule, so that nobody's eye picks them.

use crate::risk::glycaemia_risk;

/// What can be told first of a window.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Matter {
    /// There are too few readings to judge by.
    TooLittle,
    /// Time low.
    Lows,
    /// Time high.
    Highs,
    /// Swings: highs, lows and what was done about them feeding each other.
    Swings,
    /// Time low that is probably pressure on the sensor.
    Pressure,
    /// What is different since the last visit.
    Change,
    /// Time in range.
    InRange,
}

/// A matter and what it weighs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ranked {
    /// Which.
    pub matter: Matter,
    /// Points of the glycaemia risk index; 0 where it is told for another reason.
    pub points: f64,
}

/// What is known of a window. Times are percent of the time read.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Weighed {
    /// Whether the consensus' sufficiency is missed.
    pub too_little: bool,
    /// Very low (below 54 mg/dL) and low (54 to 69), without what is probably pressure.
    pub low: (f64, f64),
    /// Whether such time misses a consensus target.
    pub lows_miss_target: bool,
    /// High (181 to 250 mg/dL) and very high.
    pub high: (f64, f64),
    /// Low and high that swings brought, where any insulin or food was logged.
    pub swings: Option<(f64, f64)>,
    /// Very low and low that is probably pressure.
    pub pressure: (f64, f64),
    /// Points of the index now less at the last visit, where something differs with everything compared allowed for.
    pub change: Option<f64>,
}

/// Points of the glycaemia risk index that shares of time make, not held at 100:
/// `3.0 (very low + 0.8 low) + 1.6 (very high + 0.5 high)`, Klonoff et al. (2023), J Diabetes Sci Technol 17:1226–1242. The index is a sum over the ranges, so that
/// parts of a window can be weighed one by one.
pub fn points(very_low: f64, low: f64, high: f64, very_high: f64) -> f64 {
    let risk = glycaemia_risk(very_low, low, high, very_high);
    3.0 * risk.hypo + 1.6 * risk.hyper
}

/// The matters of a window, what stands first first.
///
/// 1. Too few readings: nothing else can be trusted then.
/// 2. Lows that miss a consensus target: a low can hurt at once, a high over years. (Ours.)
/// 3. All else by the points of the glycaemia risk index it makes: that index is how 330 clinicians weighed lows against
///    highs. Swings weigh with the time low and high that they brought, counted as level 1; a change with the points between
///    then and now. Ties: in the order of [`Matter`].
/// 4. Time in range last, where less than `fewest` are told without it.
///
/// What makes no points is not told. A swing's time is also time low or high: the points are no shares of a whole.
pub fn ranked(of: &Weighed, fewest: usize) -> Vec<Ranked> {
    let swings = of.swings.map_or(0.0, |(low, high)| points(0.0, low, high, 0.0));
    let mut by_points = vec![
        (Matter::Lows, points(of.low.0, of.low.1, 0.0, 0.0)),
        (Matter::Highs, points(0.0, 0.0, of.high.0, of.high.1)),
        (Matter::Swings, swings),
        (Matter::Pressure, points(of.pressure.0, of.pressure.1, 0.0, 0.0)),
        (Matter::Change, of.change.map_or(0.0, f64::abs)),
    ];
    by_points.retain(|&(_, points)| points > 0.0);
    let is_first = |matter: Matter| matter == Matter::Lows && of.lows_miss_target;
    by_points.sort_by(|a, b| {
        is_first(b.0)
            .cmp(&is_first(a.0))
            .then(b.1.total_cmp(&a.1))
            .then(a.0.cmp(&b.0))
    });
    if of.too_little {
        by_points.insert(0, (Matter::TooLittle, 0.0));
    }
    if by_points.len() < fewest {
        by_points.push((Matter::InRange, 0.0));
    }
    by_points
        .into_iter()
        .map(|(matter, points)| Ranked { matter, points })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn order(of: &Weighed) -> Vec<Matter> {
        ranked(of, 3).into_iter().map(|ranked| ranked.matter).collect()
    }

    const BUSY: Weighed = Weighed {
        too_little: false,
        low: (0.3, 2.1),
        lows_miss_target: false,
        high: (21.0, 4.3),
        swings: Some((0.5, 4.0)),
        pressure: (0.1, 0.4),
        change: Some(-2.0),
    };

    /// By hand: lows 3 (0.3 + 0.8 · 2.1) = 5.94; highs 1.6 (4.3 + 10.5) = 23.68; swings 3 · 0.4 + 1.6 · 2 = 4.4; pressure
    /// 3 (0.1 + 0.32) = 1.26; change 2.
    #[test]
    fn the_index_weighs_what_stands_first() {
        use Matter::{Change, Highs, Lows, Pressure, Swings};
        assert_eq!(order(&BUSY), [Highs, Lows, Swings, Change, Pressure]);
        let points: Vec<f64> = ranked(&BUSY, 3).iter().map(|ranked| ranked.points).collect();
        for (got, want) in points.iter().zip([23.68, 5.94, 4.4, 2.0, 1.26]) {
            assert!((got - want).abs() < 1e-9, "{got} {want}");
        }
    }

    #[test]
    fn lows_beyond_their_target_and_too_few_readings_stand_first() {
        use Matter::{Highs, Lows, TooLittle};
        let missed = Weighed {
            lows_miss_target: true,
            ..BUSY
        };
        assert_eq!(order(&missed)[..2], [Lows, Highs]);
        let little = Weighed {
            too_little: true,
            ..missed
        };
        assert_eq!(order(&little)[..3], [TooLittle, Lows, Highs]);
    }

    #[test]
    fn a_quiet_window_tells_its_time_in_range() {
        assert_eq!(order(&Weighed::default()), [Matter::InRange]);
        let quiet = Weighed {
            high: (1.0, 0.0),
            ..Weighed::default()
        };
        assert_eq!(order(&quiet), [Matter::Highs, Matter::InRange]);
    }

    /// The published index of the same shares (the worked values of `testdata/methods/gri.csv` hold that function).
    #[test]
    fn points_of_parts_add_up_to_the_index() {
        let whole = points(1.0, 3.0, 20.0, 5.0);
        assert!((whole - glycaemia_risk(1.0, 3.0, 20.0, 5.0).index).abs() < 1e-9);
        let parts = points(1.0, 3.0, 0.0, 0.0) + points(0.0, 0.0, 20.0, 5.0);
        assert!((whole - parts).abs() < 1e-9);
    }
}
