//! What happened, minute by minute, as the person did it.

use interstice_glucose::Second;
use serde::Serialize;

use crate::days::DoseTiming;
use crate::wear::as_utc;

/// Why a dose of rapid insulin was taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum DoseReason {
    /// For a meal.
    Meal,
    /// Because the number was high.
    Correction,
}

/// Why something was eaten.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum MealReason {
    /// Hunger.
    Meal,
    /// Before exercise.
    Exercise,
    /// To treat a low that was one.
    Low,
    /// To treat a low that only the sensor had.
    FalseLow,
}

/// What the person did.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "what")]
pub enum Deed {
    /// A blood check.
    BloodCheck {
        /// What the meter said, mg/dL.
        mg_dl: i32,
        /// What was true, mg/dL.
        true_mg_dl: f64,
        /// There was sugar on the finger.
        sugar_on_finger: bool,
    },
    /// Rapid insulin.
    Rapid {
        /// Units.
        units: f64,
        /// Why.
        reason: DoseReason,
        /// For a meal: when relative to it.
        timing: Option<DoseTiming>,
    },
    /// Long insulin.
    Long {
        /// Units.
        units: f64,
    },
    /// Carbohydrate.
    Meal {
        /// As counted, g.
        counted_g: f64,
        /// As eaten, g.
        true_g: f64,
        /// Why.
        reason: MealReason,
        /// In words.
        text: &'static str,
    },
    /// Exercise or hard work.
    Activity {
        /// How long, min.
        minutes: i64,
        /// In words.
        text: &'static str,
    },
    /// Asleep.
    Sleep {
        /// How long, min.
        minutes: i64,
        /// A bad one.
        bad: bool,
    },
    /// A sensor put on.
    PutOn {
        /// Index of the sensor.
        sensor: usize,
    },
    /// A sensor started.
    Started {
        /// Index of the sensor.
        sensor: usize,
    },
    /// A sensor ended.
    Ended {
        /// Index of the sensor.
        sensor: usize,
    },
    /// A note.
    Note {
        /// In words.
        text: &'static str,
    },
}

/// One entry.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Entry {
    /// When.
    #[serde(serialize_with = "as_utc")]
    pub at: Second,
    /// Whether the diary got to know.
    pub logged: bool,
    /// What.
    #[serde(flatten)]
    pub deed: Deed,
}

impl Entry {
    /// Whether it is a blood check.
    pub fn is_blood_check(&self) -> bool {
        matches!(self.deed, Deed::BloodCheck { .. })
    }
}
