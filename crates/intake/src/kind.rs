//! What a row is, from the word in its kind column.

use interstice_glucose::InsulinKind;

use crate::api::Role;
use crate::concept::{Concept, Concepts, concepts_of};
use crate::insulin::kind_of;

/// What a row of a mixed table is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum RowKind {
    /// Glucose of the table's own kind: the word adds nothing.
    Glucose,
    Automatic,
    Scan,
    Blood,
    Laboratory,
    /// Insulin at once.
    Insulin(InsulinKind),
    /// Basal insulin, as a rate or as a dose a day: the unit or the evidence says.
    Basal,
    BasalRate,
    Meal,
    Ketones,
    Activity,
    Sleep,
    SleepStart,
    SleepEnd,
    SensorPutOn,
    SensorStart,
    SensorEnd,
    Symptom,
    Illness,
    Drink,
    Medicine,
    Device,
    Note,
    /// The person said to leave these out.
    LeftOut,
    /// A word or code that says nothing known.
    Unknown,
}

impl RowKind {
    /// Whether its value is glucose.
    pub(crate) fn is_glucose(self) -> bool {
        matches!(
            self,
            RowKind::Glucose | RowKind::Automatic | RowKind::Scan | RowKind::Blood | RowKind::Laboratory
        )
    }

    /// From a role the person gave to a code.
    pub(crate) fn of_role(role: Role) -> RowKind {
        match role {
            Role::Glucose => RowKind::Automatic,
            Role::Scan => RowKind::Scan,
            Role::BloodGlucose => RowKind::Blood,
            Role::RapidInsulin => RowKind::Insulin(InsulinKind::Rapid),
            Role::ShortInsulin => RowKind::Insulin(InsulinKind::Short),
            Role::IntermediateInsulin => RowKind::Insulin(InsulinKind::Intermediate),
            Role::LongInsulin => RowKind::Insulin(InsulinKind::Long),
            Role::MixedInsulin => RowKind::Insulin(InsulinKind::Mixed),
            Role::Insulin => RowKind::Insulin(InsulinKind::Unsaid),
            Role::BasalRate => RowKind::BasalRate,
            Role::Carbohydrate | Role::FoodText => RowKind::Meal,
            Role::Ketones => RowKind::Ketones,
            Role::Activity => RowKind::Activity,
            Role::Sleep => RowKind::Sleep,
            Role::Symptom => RowKind::Symptom,
            Role::Medicine => RowKind::Medicine,
            Role::SensorStart => RowKind::SensorStart,
            Role::SensorEnd => RowKind::SensorEnd,
            Role::Device => RowKind::Device,
            Role::Note => RowKind::Note,
            _ => RowKind::LeftOut,
        }
    }
}

/// The kind a word or phrase names.
pub(crate) fn row_kind(text: &str) -> RowKind {
    let c = concepts_of(text);
    if c.is_empty() {
        return RowKind::Unknown;
    }
    if c.has(Concept::Note) && !c.any(&[Concept::Value]) {
        return RowKind::Note;
    }
    sensor_life(c)
        .or_else(|| sleep(c))
        .or_else(|| insulin(c))
        .or_else(|| glucose(c))
        .or_else(|| other(c))
        .unwrap_or(RowKind::Unknown)
}

fn sensor_life(c: Concepts) -> Option<RowKind> {
    if !c.has(Concept::Sensor) || c.any(&[Concept::Glucose]) && !c.any(&[Concept::Start, Concept::End]) {
        return None;
    }
    if c.has(Concept::PutOn) {
        return Some(RowKind::SensorPutOn);
    }
    match (c.has(Concept::Start), c.has(Concept::End)) {
        (true, false) => Some(RowKind::SensorStart),
        (false, true) => Some(RowKind::SensorEnd),
        _ if c.any(&[Concept::WarmUp, Concept::Device, Concept::Trend]) => Some(RowKind::Device),
        _ => None,
    }
}

fn sleep(c: Concepts) -> Option<RowKind> {
    if !c.has(Concept::Sleep) {
        return None;
    }
    Some(match (c.has(Concept::Start), c.has(Concept::End)) {
        (true, false) => RowKind::SleepStart,
        (false, true) => RowKind::SleepEnd,
        _ => RowKind::Sleep,
    })
}

fn insulin(c: Concepts) -> Option<RowKind> {
    if c.has(Concept::Basal) && c.any(&[Concept::Rate, Concept::PerHour]) {
        return Some(RowKind::BasalRate);
    }
    if c.has(Concept::Basal) && !c.has(Concept::Bolus) {
        return Some(if c.has(Concept::Insulin) && c.has(Concept::Long) {
            RowKind::Insulin(InsulinKind::Long)
        } else {
            RowKind::Basal
        });
    }
    let is_insulin = c.any(&[Concept::Insulin, Concept::Bolus, Concept::Dose]);
    let names = [
        Concept::Rapid,
        Concept::Short,
        Concept::Intermediate,
        Concept::Long,
        Concept::Mixed,
    ];
    if is_insulin
        || (c.any(&names)
            && !c.any(&[
                Concept::Glucose,
                Concept::Food,
                Concept::Carbohydrate,
                Concept::Blood,
            ]))
    {
        return Some(RowKind::Insulin(kind_of(c).unwrap_or(InsulinKind::Unsaid)));
    }
    None
}

fn glucose(c: Concepts) -> Option<RowKind> {
    if c.any(&[
        Concept::Ketones,
        Concept::Carbohydrate,
        Concept::Food,
        Concept::Activity,
    ]) {
        return None;
    }
    if c.has(Concept::Laboratory) {
        return Some(RowKind::Laboratory);
    }
    if c.has(Concept::Scan) {
        return Some(RowKind::Scan);
    }
    if c.any(&[Concept::Sensor, Concept::Stored]) {
        return Some(RowKind::Automatic);
    }
    if c.any(&[Concept::Blood, Concept::Manual]) {
        return Some(RowKind::Blood);
    }
    c.has(Concept::Glucose).then_some(RowKind::Glucose)
}

fn other(c: Concepts) -> Option<RowKind> {
    let order = [
        (Concept::Ketones, RowKind::Ketones),
        (Concept::Carbohydrate, RowKind::Meal),
        (Concept::Food, RowKind::Meal),
        (Concept::Activity, RowKind::Activity),
        (Concept::Symptom, RowKind::Symptom),
        (Concept::Illness, RowKind::Illness),
        (Concept::Drink, RowKind::Drink),
        (Concept::Medicine, RowKind::Medicine),
        (Concept::Device, RowKind::Device),
        (Concept::WarmUp, RowKind::Device),
        (Concept::Suspend, RowKind::Device),
        (Concept::Note, RowKind::Note),
        // 'Reading', 'Messwert': a value of the table's own kind.
        (Concept::Value, RowKind::Glucose),
    ];
    order
        .into_iter()
        .find(|&(concept, _)| c.has(concept))
        .map(|(_, kind)| kind)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn kinds_in_the_words_of_real_files() {
        for (word, kind) in [
            ("cgm", RowKind::Automatic),
            ("manual", RowKind::Blood),
            ("stored_15min", RowKind::Automatic),
            ("on_demand", RowKind::Scan),
            ("strip_blood", RowKind::Blood),
            ("food_note", RowKind::Note),
            ("insulin_note", RowKind::Note),
            ("fingerstick", RowKind::Blood),
            ("meal", RowKind::Meal),
            ("bolus", RowKind::Insulin(InsulinKind::Rapid)),
            ("long_acting", RowKind::Insulin(InsulinKind::Long)),
            ("basal_rate", RowKind::BasalRate),
            ("exercise", RowKind::Activity),
            ("sleep_start", RowKind::SleepStart),
            ("sleep_end", RowKind::SleepEnd),
            ("sensor_start", RowKind::SensorStart),
            ("sensor_end", RowKind::SensorEnd),
            ("other", RowKind::Unknown),
            ("Blutzucker", RowKind::Blood),
            ("Gewebeglukose", RowKind::Automatic),
            ("Mahlzeit", RowKind::Meal),
            ("schnellwirkendes Insulin", RowKind::Insulin(InsulinKind::Rapid)),
            ("insuline lente", RowKind::Insulin(InsulinKind::Long)),
            ("Koolhydraten", RowKind::Meal),
            ("scan", RowKind::Scan),
            ("Ketonkörper", RowKind::Ketones),
            ("sueño", RowKind::Sleep),
            ("motion", RowKind::Activity),
        ] {
            assert_eq!(row_kind(word), kind, "{word}");
        }
    }
}
