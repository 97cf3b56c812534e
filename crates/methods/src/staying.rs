//! How long sensors stay on: the product-limit curve, its mean up to a limit, and whether groups differ.
//!
//! A stay ends by loss (it came off, it failed) or is cut short on purpose (its time was over, it was taken off, it is still
//! on): of the latter only is known that it would have lasted longer. That the reasons for ending one on purpose have
//! nothing to do with how soon it would have been lost is supposed throughout.

mod apart;
mod compare;

pub use apart::{MeanApart, holm, mean_apart};
pub use compare::{Compared, log_rank};

use crate::bootstrap::{Interval, normal_quantile};

/// One sensor's time on the body.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stay {
    /// Hours from being put on to the end, above 0; others are left out.
    pub hours: f64,
    /// Whether that was a loss; else it might have lasted longer.
    pub lost: bool,
}

/// The curve at one time of loss.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Step {
    /// Hours after being put on.
    pub hours: f64,
    /// Sensors still on just before.
    pub at_risk: u64,
    /// Lost then.
    pub lost: u64,
    /// Share still on from then until the next step.
    pub still_on: f64,
    /// Standard error of that share.
    pub error: f64,
    /// Interval of that share; none where it is 0.
    pub within: Option<Interval>,
}

/// Share of sensors still on, by hours worn.
#[derive(Clone, Debug, PartialEq)]
pub struct Curve {
    /// One a time at which any was lost, in order. Before the first the share is 1.
    pub steps: Vec<Step>,
    /// Sensors in all.
    pub stays: u64,
    /// Lost of them.
    pub lost: u64,
    /// The longest stay, hours: nothing is known beyond it.
    pub longest: f64,
}

/// Kaplan and Meier's product-limit curve (1958, J Am Stat Assoc 53:457): still_on = product of (1 − lost / at_risk). `None`
/// without any stay.
///
/// A stay cut short at the very hour of a loss counts as at risk then. The error is Greenwood's (1926): still_on²
/// times the sum of lost / (at_risk (at_risk − lost)). The interval is taken on ln(−ln) of the share, so that it stays
/// within 0 and 1 (Kalbfleisch and Prentice 1980, section 1.3); it holds for each hour by itself, not for the whole curve at once.
///
/// * `confidence`: between 0 and 1, 0.95 as a rule.
pub fn still_on(stays: &[Stay], confidence: f64) -> Option<Curve> {
    let sorted = sorted(stays);
    let longest = sorted.last()?.hours;
    let z = normal_quantile((1.0 - confidence.clamp(0.0, 1.0)) / 2.0);
    let (mut share, mut greenwood) = (1.0, 0.0);
    let mut steps = Vec::new();
    let mut before = 0usize;
    for together in sorted.chunk_by(|a, b| a.hours.total_cmp(&b.hours).is_eq()) {
        let at_risk = (sorted.len() - before) as f64;
        before += together.len();
        let lost = together.iter().filter(|stay| stay.lost).count();
        if lost == 0 {
            continue;
        }
        let gone = lost as f64;
        share *= (at_risk - gone) / at_risk;
        greenwood += gone / (at_risk * (at_risk - gone));
        steps.push(Step {
            hours: together[0].hours,
            at_risk: at_risk as u64,
            lost: lost as u64,
            still_on: share,
            error: if share > 0.0 {
                share * greenwood.sqrt()
            } else {
                0.0
            },
            within: within(share, greenwood, z),
        });
    }
    Some(Curve {
        lost: steps.iter().map(|step| step.lost).sum(),
        steps,
        stays: sorted.len() as u64,
        longest,
    })
}

fn within(share: f64, greenwood: f64, z: f64) -> Option<Interval> {
    if share <= 0.0 {
        return None;
    }
    let log = libm::log(share);
    let reach = z * greenwood.sqrt() / log;
    // log is negative, so that a larger exponent makes a smaller share.
    let (one, other) = (
        libm::exp(log * libm::exp(reach)),
        libm::exp(log * libm::exp(-reach)),
    );
    Some(Interval {
        lo: one.min(other),
        hi: one.max(other),
    })
}

/// In order of hours, what is not a time left out.
fn sorted(stays: &[Stay]) -> Vec<Stay> {
    let mut sorted: Vec<Stay> = stays
        .iter()
        .filter(|stay| stay.hours.is_finite() && stay.hours > 0.0)
        .copied()
        .collect();
    sorted.sort_by(|a, b| a.hours.total_cmp(&b.hours));
    sorted
}

/// A mean, and how far it may be off.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MeanStay {
    /// Hours.
    pub hours: f64,
    /// Standard error, hours.
    pub error: f64,
    /// Interval, never beyond 0 and the limit.
    pub within: Interval,
}

impl Curve {
    /// Share still on at so many hours. `None` beyond the longest stay unless all were lost by then.
    pub fn at(&self, hours: f64) -> Option<f64> {
        let passed = self.steps.partition_point(|step| step.hours <= hours);
        let share = passed
            .checked_sub(1)
            .map_or(1.0, |last| self.steps[last].still_on);
        (hours <= self.longest || share <= 0.0).then_some(share)
    }

    /// The hours by which half were lost: the first time at which no more than half are still on. `None` where more always were.
    pub fn median(&self) -> Option<f64> {
        self.steps
            .iter()
            .find(|step| step.still_on <= 0.5)
            .map(|step| step.hours)
    }

    /// Mean hours worn, none counted beyond a limit: the area under the curve up to it. `None` where the curve does not reach
    /// so far.
    ///
    /// The error's square is the sum over losses of (area from there to the limit)² · lost / (at_risk (at_risk − lost))
    /// (Klein and Moeschberger 2003, Survival Analysis, 2nd ed., section 4.5).
    pub fn mean_up_to(&self, limit: f64, confidence: f64) -> Option<MeanStay> {
        self.at(limit)?;
        let steps: Vec<&Step> = self.steps.iter().filter(|step| step.hours < limit).collect();
        // Going back, the area from each loss to the limit.
        let (mut area, mut until, mut variance) = (0.0, limit, 0.0);
        for step in steps.iter().rev() {
            area += step.still_on * (until - step.hours);
            until = step.hours;
            let (at_risk, lost) = (step.at_risk as f64, step.lost as f64);
            if at_risk > lost {
                variance += area * area * lost / (at_risk * (at_risk - lost));
            }
        }
        let hours = area + until;
        let error = variance.sqrt();
        let reach = normal_quantile((1.0 - confidence.clamp(0.0, 1.0)) / 2.0) * error;
        Some(MeanStay {
            hours,
            error,
            within: Interval {
                lo: (hours - reach).max(0.0),
                hi: (hours + reach).min(limit),
            },
        })
    }
}
