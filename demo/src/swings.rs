//! The swings: those planted, and those that came about by themselves under the rule below.
//!
//! A swing is complete when blood glucose was above 180 mg/dL at its first correction; two or more corrections came
//! within 150 minutes of each other; blood or reading then fell below 70 within five hours of the last; at least 28 g
//! were eaten against it from half an hour before to an hour and a half after; and blood rose above 180 again within
//! four hours of that.

use interstice_glucose::Second;
use serde::Serialize;

use crate::life::Life;
use crate::log::{Deed, DoseReason, MealReason};
use crate::wear::{as_utc, utc_text};

const HIGH_MG_DL: f64 = 180.0;
const LOW_MG_DL: f64 = 70.0;
const STACKED_S: Second = 150 * 60;
const LOW_WITHIN_S: Second = 5 * 3600;
const TREATED_S: (Second, Second) = (-30 * 60, 90 * 60);
const TOO_MUCH_G: f64 = 28.0;
const REBOUND_WITHIN_S: Second = 4 * 3600;

/// One swing as it went.
#[derive(Clone, Debug, Serialize)]
pub struct Swing {
    /// Planted at this meal; otherwise it came about by itself.
    pub planted_at_meal: Option<String>,
    /// First correction.
    #[serde(serialize_with = "as_utc")]
    pub first_correction: Second,
    /// Last correction before the low.
    #[serde(serialize_with = "as_utc")]
    pub last_correction: Second,
    /// How many corrections.
    pub corrections: usize,
    /// First moment of blood or reading below 70 mg/dL.
    pub low: Option<String>,
    /// Lowest true blood glucose from there to an hour and a half on, mg/dL.
    pub lowest_mg_dl: Option<f64>,
    /// Grams eaten against it.
    pub treatment_g: Option<f64>,
    /// First moment of blood above 180 mg/dL afterwards.
    pub rebound: Option<String>,
    /// All links are there.
    pub complete: bool,
}

/// All swings, in time order.
pub(crate) fn swings(life: &Life) -> Vec<Swing> {
    let mut found: Vec<Swing> = chains(life).iter().map(|chain| follow(life, chain)).collect();
    found.retain(|swing| swing.complete || swing.planted_at_meal.is_some());
    found
}

/// Corrections in runs of two or more, none more than 150 minutes after the one before.
fn chains(life: &Life) -> Vec<Vec<Second>> {
    let mut chains: Vec<Vec<Second>> = Vec::new();
    for entry in &life.entries {
        if !matches!(
            entry.deed,
            Deed::Rapid {
                reason: DoseReason::Correction,
                ..
            }
        ) {
            continue;
        }
        match chains.last_mut() {
            Some(chain) if chain.last().is_some_and(|&last| entry.at - last <= STACKED_S) => {
                chain.push(entry.at)
            }
            _ => chains.push(vec![entry.at]),
        }
    }
    chains.retain(|chain| chain.len() > 1 && blood_at(life, chain[0]) > HIGH_MG_DL);
    chains
}

fn follow(life: &Life, chain: &[Second]) -> Swing {
    let (first, last) = (chain[0], chain[chain.len() - 1]);
    let planted = life
        .plan
        .meals
        .iter()
        .rev()
        .find(|m| m.at <= first)
        .filter(|m| m.swing)
        .map(|m| m.at);
    let low = first_low(life, last, last + LOW_WITHIN_S);
    let treatment = low.and_then(|low| treatment(life, low));
    let rebound = treatment
        .and_then(|(at, _)| first_blood(life, at, at + REBOUND_WITHIN_S, |mg_dl| mg_dl > HIGH_MG_DL));
    let lowest = low.map(|low| {
        let after = life
            .blood
            .iter()
            .filter(|b| b.0 >= low - 300 && b.0 <= low + 5400);
        after.map(|b| b.1).fold(f64::INFINITY, f64::min)
    });
    Swing {
        planted_at_meal: planted.map(utc_text),
        first_correction: first,
        last_correction: last,
        corrections: chain.len(),
        low: low.map(utc_text),
        lowest_mg_dl: lowest,
        treatment_g: treatment.map(|t| t.1),
        rebound: rebound.map(utc_text),
        complete: rebound.is_some(),
    }
}

fn blood_at(life: &Life, at: Second) -> f64 {
    let next = life.blood.partition_point(|b| b.0 <= at);
    life.blood[next.max(1) - 1].1
}

fn first_blood(life: &Life, from: Second, to: Second, is: impl Fn(f64) -> bool) -> Option<Second> {
    let start = life.blood.partition_point(|b| b.0 < from);
    life.blood[start..]
        .iter()
        .take_while(|b| b.0 < to)
        .find(|b| is(b.1))
        .map(|b| b.0)
}

fn first_low(life: &Life, from: Second, to: Second) -> Option<Second> {
    let blood = first_blood(life, from, to, |mg_dl| mg_dl < LOW_MG_DL);
    let start = life.readings.partition_point(|r| r.at < from);
    let mut readings = life.readings[start..].iter().take_while(|r| r.at < to);
    let shown = readings.find(|r| f64::from(r.mg_dl) < LOW_MG_DL).map(|r| r.at);
    blood.into_iter().chain(shown).min()
}

fn treatment(life: &Life, low: Second) -> Option<(Second, f64)> {
    life.entries
        .iter()
        .filter(|e| e.at >= low + TREATED_S.0 && e.at <= low + TREATED_S.1)
        .find_map(|e| match e.deed {
            Deed::Meal {
                true_g,
                reason: MealReason::Low | MealReason::FalseLow,
                ..
            } if true_g >= TOO_MUCH_G => Some((e.at, true_g)),
            _ => None,
        })
}
