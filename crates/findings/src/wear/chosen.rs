//! What was chosen, as it is shown.

use std::collections::BTreeMap;

use interstice_glucose::{LivedClock, PlanWeight, WearChoices};
use serde::Serialize;

use crate::Time;

/// What the plan rests on, chosen or usual.
#[derive(Clone, Debug, Serialize)]
pub struct Chosen {
    /// Hours in which it suits to put one on, like '08:00-21:00'.
    pub put_on_hours: String,
    /// Hours in which it suits to start one.
    pub start_hours: String,
    /// Hours to bed in, as far as the kind allows.
    pub bedding_h: u32,
    /// Days a place rests.
    pub rest_days: u32,
    /// Days the plan looks ahead.
    pub days_ahead: u32,
    /// Days away.
    pub away: Vec<AwayDays>,
    /// Put-ons that are settled.
    pub pinned: Vec<Settlement>,
    /// What is weighed against what, by name.
    pub weights: BTreeMap<&'static str, f64>,
}

/// Days away.
#[derive(Clone, Debug, Serialize)]
pub struct AwayDays {
    /// Like '2025-05-01..2025-05-20'.
    pub days: String,
    /// Why.
    pub note: Option<String>,
}

/// A settled put-on.
#[derive(Clone, Debug, Serialize)]
pub struct Settlement {
    /// When.
    pub put_on: Time,
    /// Where; anywhere where nothing was said.
    pub site: Option<String>,
}

impl Chosen {
    /// On the wearer's clock.
    pub fn of(choices: &WearChoices, clock: &LivedClock) -> Self {
        let away = choices.away.iter().map(|away| AwayDays {
            days: away.days(),
            note: away.note.clone(),
        });
        let pinned = choices.pins.iter().map(|pin| Settlement {
            put_on: Time(clock.moment(pin.at)),
            site: pin.site.clone(),
        });
        Chosen {
            put_on_hours: choices.put_on_hours.to_string(),
            start_hours: choices.start_hours.to_string(),
            bedding_h: choices.bedding_h,
            rest_days: choices.rest_days,
            days_ahead: choices.horizon_days,
            away: away.collect(),
            pinned: pinned.collect(),
            weights: PlanWeight::ALL
                .into_iter()
                .map(|weight| (weight.name(), choices.weight(weight)))
                .collect(),
        }
    }
}
