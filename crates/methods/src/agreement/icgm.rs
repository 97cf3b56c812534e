//! The United States' criteria for integrated sensors, as a yardstick.

use super::binomial::lower_bound;
use super::pair::Pair;
use super::rates::{CONFIDENCE, Rate};

/// What a criterion asks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Criterion {
    /// The one-sided 95 % lower bound of a rate must exceed `over_percent`.
    Rate {
        /// mg/dL, or percent of the blood value.
        within: f64,
        /// Whether it is percent.
        percent: bool,
        /// What the bound must exceed.
        over_percent: f64,
    },
    /// No blood value above this, mg/dL.
    NoneAbove(f64),
    /// No blood value below this, mg/dL.
    NoneBelow(f64),
    /// The sensor's rate of change against the true one: at most 1 % of readings on the wrong side.
    Trend {
        /// Whether the sensor rises by more than 1 mg/dL a minute while blood falls by more than 2; else the reverse.
        rising: bool,
    },
}

/// One line of the table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CriterionAnswer {
    /// 'A' to 'K', as in the rule.
    pub item: char,
    /// Sensor values it is about: from this, mg/dL.
    pub from_mg_dl: f64,
    /// Up to this, mg/dL.
    pub to_mg_dl: f64,
    /// What is asked.
    pub criterion: Criterion,
    /// Pairs that keep to it, of pairs it is about; `None` where single blood checks cannot tell.
    pub rate: Option<Rate>,
    /// Pairs that would be needed if not one failed; `None` where no bound is asked.
    pub fewest_pairs: Option<u64>,
    /// Whether what is asked is so in these pairs; `None` where there are none or too few to tell.
    pub met: Option<bool>,
}

const ENDLESS: f64 = f64::INFINITY;

/// Item, sensor values from and to (both included; readings of whole mg/dL), what is asked.
type Row = (char, f64, f64, Criterion);

const fn rate(within: f64, percent: bool, over_percent: f64) -> Criterion {
    Criterion::Rate {
        within,
        percent,
        over_percent,
    }
}

/// 21 CFR 862.1355(b)(1)(v)(A) to (K) (87 FR 9237, 18 February 2022; applied since 2018). The numbers are from memory,
/// not checked against the text of the code; that the bound is one-sided at 95 % is by Eichenlaub and others 2022.
const ROWS: [Row; 11] = [
    ('A', 0.0, 70.0, rate(15.0, false, 85.0)),
    ('B', 70.0, 180.0, rate(15.0, true, 70.0)),
    ('C', 180.0, ENDLESS, rate(15.0, true, 80.0)),
    ('D', 0.0, 70.0, rate(40.0, false, 98.0)),
    ('E', 70.0, 180.0, rate(40.0, true, 99.0)),
    ('F', 180.0, ENDLESS, rate(40.0, true, 99.0)),
    ('G', 0.0, ENDLESS, rate(20.0, true, 87.0)),
    ('H', 0.0, 70.0, Criterion::NoneAbove(180.0)),
    ('I', 180.0, ENDLESS, Criterion::NoneBelow(70.0)),
    ('J', 0.0, ENDLESS, Criterion::Trend { rising: true }),
    ('K', 0.0, ENDLESS, Criterion::Trend { rising: false }),
];

/// The criteria held against a set of pairs.
///
/// Ranges are of the sensor's value: below 70, 70 to 180, above 180 mg/dL. The criteria are for trials with a laboratory's
/// comparator and many people; a person's own checks on a meter can only hint. J and K ask for the rate of change of the
/// blood, which single checks cannot give: they have no answer here.
pub fn icgm(pairs: &[Pair]) -> Vec<CriterionAnswer> {
    ROWS.iter().map(|row| answer(*row, pairs)).collect()
}

fn answer((item, from, to, criterion): Row, pairs: &[Pair]) -> CriterionAnswer {
    let about: Vec<&Pair> = pairs
        .iter()
        .filter(|pair| is_about(pair.sensor_mg_dl, from, to))
        .collect();
    let kept = about.iter().filter(|pair| keeps(criterion, pair)).count() as u64;
    let rate = Rate {
        within: kept,
        of: about.len() as u64,
    };
    let (fewest_pairs, met) = verdict(criterion, rate);
    CriterionAnswer {
        item,
        from_mg_dl: from,
        to_mg_dl: to,
        criterion,
        rate: (!matches!(criterion, Criterion::Trend { .. })).then_some(rate),
        fewest_pairs,
        met,
    }
}

/// 70 and 180 belong to the middle range.
fn is_about(sensor: f64, from: f64, to: f64) -> bool {
    let above_start = if from > 70.0 {
        sensor > from
    } else {
        sensor >= from
    };
    let below_end = if to > 70.0 { sensor <= to } else { sensor < to };
    above_start && below_end
}

fn keeps(criterion: Criterion, pair: &Pair) -> bool {
    match criterion {
        Criterion::Rate { within, percent, .. } => {
            let allowed = if percent {
                within / 100.0 * pair.blood_mg_dl
            } else {
                within
            };
            pair.difference_mg_dl().abs() <= allowed + 1e-6
        }
        Criterion::NoneAbove(limit) => pair.blood_mg_dl <= limit,
        Criterion::NoneBelow(limit) => pair.blood_mg_dl >= limit,
        Criterion::Trend { .. } => true,
    }
}

fn verdict(criterion: Criterion, rate: Rate) -> (Option<u64>, Option<bool>) {
    match criterion {
        Criterion::Rate { over_percent, .. } => {
            let fewest = fewest_without_failure(over_percent / 100.0);
            let reached = lower_bound(rate.within, rate.of, CONFIDENCE) > over_percent / 100.0;
            (Some(fewest), (rate.of >= fewest).then_some(reached))
        }
        Criterion::NoneAbove(_) | Criterion::NoneBelow(_) => {
            (None, (rate.of > 0).then_some(rate.within == rate.of))
        }
        Criterion::Trend { .. } => (None, None),
    }
}

/// The fewest pairs whose bound exceeds `share` when all agree: the bound is then 0.05 to the power 1/n.
fn fewest_without_failure(share: f64) -> u64 {
    let exact = libm::log(1.0 - CONFIDENCE) / libm::log(share);
    exact.floor() as u64 + 1
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The table of section 4.3 of Clopper and Pearson bounds, worked from the formula with scipy: 9 for 70 %, 14 for 80 %,
    /// 19 for 85 %, 22 for 87 %, 149 for 98 %, 299 for 99 %.
    #[test]
    fn fewest_pairs_that_could_meet_a_bound() {
        for (share, want) in [
            (0.70, 9),
            (0.80, 14),
            (0.85, 19),
            (0.87, 22),
            (0.98, 149),
            (0.99, 299),
        ] {
            assert_eq!(fewest_without_failure(share), want, "{share}");
        }
    }

    #[test]
    fn seventy_and_one_hundred_eighty_are_in_the_middle() {
        let middle: Vec<f64> = [69.0, 70.0, 180.0, 181.0]
            .into_iter()
            .filter(|&sensor| is_about(sensor, 70.0, 180.0))
            .collect();
        assert_eq!(middle, [70.0, 180.0]);
        assert!(is_about(69.9, 0.0, 70.0) && !is_about(70.0, 0.0, 70.0));
        assert!(is_about(180.1, 180.0, ENDLESS) && !is_about(180.0, 180.0, ENDLESS));
    }

    #[test]
    fn one_high_blood_value_beside_a_low_reading_fails_h_alone() {
        let pairs = vec![Pair::of(190.0, 65.0); 1];
        let answers = icgm(&pairs);
        let of = |item: char| answers.iter().find(|answer| answer.item == item).unwrap();
        assert_eq!(of('H').met, Some(false));
        assert_eq!(of('I').met, None);
        assert_eq!((of('A').met, of('A').fewest_pairs), (None, Some(19)));
        assert_eq!((of('J').rate, of('J').met), (None, None));
    }
}
