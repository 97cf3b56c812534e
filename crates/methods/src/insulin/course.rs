//! What is left at many moments, in one walk.

use interstice_glucose::{Delivery, Dose, Second};

use super::{OwnDurations, absorptions};

/// Minutes after which nothing of a rapid or short dose is added up any more: 0.1 to 2 % is left.
const SPENT_AFTER_S: Second = 12 * 3600;

/// Units left of the rapid and short doses at each of `times`, the mean of the published models; basal rates and longer
/// acting insulins are not in it.
///
/// * `doses`, `times`: in time order.
pub fn course(doses: &[Dose], times: &[Second], own: OwnDurations) -> Vec<f64> {
    use interstice_glucose::InsulinKind::{Rapid, Short};
    let counted: Vec<&Dose> = doses
        .iter()
        .filter(|dose| matches!(dose.insulin, Rapid | Short))
        .filter(|dose| matches!(dose.delivery, Delivery::AtOnce | Delivery::Spread { .. }))
        .collect();
    let mut first = 0;
    times
        .iter()
        .map(|&at| {
            while counted
                .get(first)
                .is_some_and(|dose| dose.at < at - SPENT_AFTER_S)
            {
                first += 1;
            }
            let acting = counted[first..].iter().take_while(|dose| dose.at <= at);
            acting.map(|dose| units_left(dose, at, own)).sum()
        })
        .collect()
}

fn units_left(dose: &Dose, at: Second, own: OwnDurations) -> f64 {
    let Some(models) = absorptions(dose.insulin) else {
        return 0.0;
    };
    let over = match dose.delivery {
        Delivery::Spread { minutes } => f64::from(minutes),
        _ => 0.0,
    };
    let minutes = (at - dose.at) as f64 / 60.0;
    let left: f64 = models
        .iter()
        .map(|model| {
            model
                .lasting(own.of(dose.insulin), dose.units)
                .left_of_spread(minutes, over, dose.units)
        })
        .sum();
    dose.units * left / models.len() as f64
}
