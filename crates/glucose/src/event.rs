//! What is written down beside the readings. All instants are seconds since 1970 (UTC).

use crate::{Said, Second, SensorDetail};

/// Where a blood value came from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum BloodSource {
    /// A finger-prick on a meter.
    Meter,
    /// A laboratory.
    Laboratory,
}

/// A blood check.
#[derive(Clone, Debug, PartialEq)]
pub struct BloodCheck {
    /// When it was taken.
    pub at: Second,
    /// The value as the meter said it.
    pub said: Said,
    /// Meter or laboratory.
    pub source: BloodSource,
    /// Anything written beside it.
    pub note: Option<String>,
}

/// Insulin by how long it acts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum InsulinKind {
    /// Rapid-acting analogue (lispro, aspart, glulisine).
    Rapid,
    /// Short-acting human (regular).
    Short,
    /// Intermediate (NPH).
    Intermediate,
    /// Long-acting (glargine, detemir, degludec, zinc suspensions).
    Long,
    /// A premixed insulin.
    Mixed,
    /// The file does not say.
    Unsaid,
}

impl InsulinKind {
    /// Its name in plain words; 'insulin' where the file does not say which.
    pub fn name(self) -> &'static str {
        match self {
            InsulinKind::Rapid => "rapid",
            InsulinKind::Short => "short-acting",
            InsulinKind::Intermediate => "intermediate",
            InsulinKind::Long => "long-acting",
            InsulinKind::Mixed => "premixed",
            InsulinKind::Unsaid => "insulin",
        }
    }
}

/// Shortest and longest that an insulin may be said to act, minutes. The published curves of rapid and short insulin leave a
/// twentieth after about 4 to 11 hours; stretched far beyond that they would describe no insulin under the skin (ours).
pub const INSULIN_LASTS_MIN: std::ops::RangeInclusive<u16> = 60..=720;

/// How long the wearer says that their insulins act, minutes; published curves stand where nothing is said.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct InsulinLasts {
    /// Rapid-acting.
    pub rapid_min: Option<u16>,
    /// Short-acting.
    pub short_min: Option<u16>,
}

/// How a dose was delivered.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Delivery {
    /// All at once, by pen, syringe or pump; units.
    AtOnce,
    /// Spread evenly over some minutes; units.
    Spread {
        /// Over how long.
        minutes: u32,
    },
    /// A pump's basal rate from this instant on; units an hour.
    BasalRate,
    /// Into a vein; units.
    Intravenous,
}

/// A dose of insulin as logged.
#[derive(Clone, Debug, PartialEq)]
pub struct Dose {
    /// When.
    pub at: Second,
    /// Units, or units an hour for a basal rate; finite and not negative.
    pub units: f64,
    /// By action.
    pub insulin: InsulinKind,
    /// By delivery.
    pub delivery: Delivery,
    /// Generic name or anything written beside it.
    pub note: Option<String>,
}

/// Something eaten or drunk for its carbohydrate.
#[derive(Clone, Debug, PartialEq)]
pub struct Meal {
    /// When.
    pub at: Second,
    /// Carbohydrate, grams, when counted.
    pub carbohydrate_g: Option<f64>,
    /// Protein, grams.
    pub protein_g: Option<f64>,
    /// Fat, grams.
    pub fat_g: Option<f64>,
    /// Fibre, grams.
    pub fibre_g: Option<f64>,
    /// Energy, kilocalories.
    pub energy_kcal: Option<f64>,
    /// What it was.
    pub text: Option<String>,
}

/// Kinds of other entries.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum MarkKind {
    /// Exercise or work.
    Activity,
    /// Time in bed.
    Sleep,
    /// Blood ketones, mmol/L in `value`.
    Ketones,
    /// A symptom felt.
    Symptom,
    /// Illness.
    Illness,
    /// A drink (water), millilitres in `value` when said.
    Drink,
    /// How warm it was around the wearer, degrees Celsius in `value`.
    Temperature,
    /// Another medicine.
    Medicine,
    /// Something a device reported about itself.
    Device,
    /// Free text.
    Note,
    /// The person's own day kind or tag ('watch', 'home').
    Tag,
    /// A stretch of readings not to be believed; `text` says why, as [`crate::AsideWhy`] tells it.
    Artefact,
}

/// Any other entry: an activity, a night, a note.
#[derive(Clone, Debug, PartialEq)]
pub struct Mark {
    /// When it began.
    pub at: Second,
    /// When it ended, where it lasted.
    pub until: Option<Second>,
    /// What kind.
    pub kind: MarkKind,
    /// A number belonging to it, unit by kind.
    pub value: Option<f64>,
    /// Words.
    pub text: Option<String>,
}

/// What a low that a sensor showed was, by its wearer's own word.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum LowWas {
    /// Pressure on the sensor.
    Pressure,
    /// A real low.
    Real,
}

/// The wearer's word on a low that a sensor showed.
#[derive(Clone, Debug, PartialEq)]
pub struct LowVerdict {
    /// When it began.
    pub at: Second,
    /// When it had ended.
    pub until: Second,
    /// The sensor's name in the file; any sensor worn at the time where none is said.
    pub sensor: Option<String>,
    /// What it was.
    pub was: LowWas,
    /// Words.
    pub note: Option<String>,
}

/// What was noted about a sensor.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum SensorNoteKind {
    /// Put on the body (it may be started later).
    PutOn,
    /// Started.
    Started,
    /// Ended or taken off.
    Ended,
    /// Nothing: something about the sensor was written down at this moment.
    Noted,
}

/// A moment in a sensor's life as a file or the wearer tells it.
#[derive(Clone, Debug, PartialEq)]
pub struct SensorNote {
    /// When.
    pub at: Second,
    /// What happened.
    pub kind: SensorNoteKind,
    /// The sensor's name in the file, if any.
    pub sensor: Option<String>,
    /// Where on the body, as written; [`BodySite::from_words`](crate::BodySite::from_words) understands it.
    pub site: Option<String>,
    /// Anything else written beside it.
    pub note: Option<String>,
    /// Preparation, cover, lot, serial number and ending, where they were said apart.
    pub detail: SensorDetail,
}
