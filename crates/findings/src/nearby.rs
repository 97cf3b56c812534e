//! What was logged near an episode.

use interstice_book::Record;
use interstice_glucose::{Delivery, InsulinKind, MarkKind, Second};

use crate::figure::Time;
use crate::review::{Nearby, NearbyKind};

/// How long before an episode's start things are listed. Rapid insulin does most of its work in three hours
/// (clinical sources in docs/methods/episodes.md); the bound is ours.
const BEFORE_S: Second = 3 * 3600;
/// How long after its start things are listed: a rebound is looked for within two hours (Acciaroli et al. 2022, J
/// Diabetes Sci Technol 16:677).
const AFTER_S: Second = 2 * 3600;

/// Everything logged, in time order.
pub(crate) struct Logged {
    entries: Vec<(Second, NearbyKind, Option<f64>, Option<String>)>,
}

impl Logged {
    /// Of a record. Basal rates are left out: they are always there.
    pub(crate) fn of(record: &Record) -> Self {
        let doses = record
            .doses
            .iter()
            .map(|kept| &kept.it)
            .filter(|dose| dose.delivery != Delivery::BasalRate);
        let doses = doses.map(|dose| {
            let kind = match dose.insulin {
                InsulinKind::Rapid | InsulinKind::Short => NearbyKind::RapidInsulin,
                InsulinKind::Intermediate | InsulinKind::Long => NearbyKind::LongInsulin,
                InsulinKind::Mixed | InsulinKind::Unsaid => NearbyKind::OtherInsulin,
            };
            (dose.at, kind, Some(dose.units), dose.note.clone())
        });
        let meals = record.meals.iter().map(|kept| &kept.it);
        let meals = meals.map(|meal| {
            (
                meal.at,
                NearbyKind::Carbohydrate,
                meal.carbohydrate_g,
                meal.text.clone(),
            )
        });
        let activities = record
            .marks
            .iter()
            .map(|kept| &kept.it)
            .filter(|mark| mark.kind == MarkKind::Activity);
        let activities = activities.map(|mark| (mark.at, NearbyKind::Activity, None, mark.text.clone()));
        let checks = record.blood_checks.iter().map(|kept| &kept.it);
        let checks = checks.map(|check| {
            (
                check.at,
                NearbyKind::BloodCheck,
                Some(check.said.glucose().mg_per_dl()),
                check.note.clone(),
            )
        });
        let mut entries: Vec<_> = doses.chain(meals).chain(activities).chain(checks).collect();
        entries.sort_by_key(|entry| entry.0);
        Logged { entries }
    }

    /// What lies in the three hours before `start`, and from `start` to two hours after it.
    pub(crate) fn around(&self, start: Second, time: &impl Fn(Second) -> Time) -> (Vec<Nearby>, Vec<Nearby>) {
        let part = |from: Second, to: Second| {
            let first = self.entries.partition_point(|entry| entry.0 < from);
            let last = self.entries.partition_point(|entry| entry.0 < to);
            let near = self.entries[first..last.max(first)].iter();
            near.map(|(at, what, amount, text)| Nearby {
                at: time(*at),
                minutes: (at - start) as f64 / 60.0,
                what: *what,
                amount: *amount,
                text: text.clone(),
            })
            .collect()
        };
        (part(start - BEFORE_S, start), part(start, start + AFTER_S))
    }
}
