//! Swings: highs, corrections, lows and what was eaten against them, each feeding the next.
//!
//! What is told is what followed what, by rules that stand beside each link with their source. That one thing followed
//! another does not say that it caused it.

mod chains;
mod checked;
mod lows;
mod pause;
mod reaction;
mod roles;
mod tally;

use interstice_glucose::{InsulinKind, Second};

pub use chains::{
    CORRECTION_TO_LOW_S, DOSE_LATE_S, FIRST_AID_MOST_G, HIGH_AFTER_MEAL_S, MEAL_DOSE_WITHIN_S, MEAL_G,
    REBOUND_WITHIN_S, STACKED_FROM, swings,
};
pub use checked::{is_by_check, with_checked_lows};
pub use lows::{FEWEST_LOWS, LowTreated, LowsTreated, Share, lows_treated};
pub use pause::{FIRST_AID_WAIT_S, Pause, PauseBefore};
pub use reaction::{FEWEST_SCAN_DAYS, Reaction, Reactions, SOON_S, reactions, scans_a_day};
pub use roles::{
    Carbs, CarbsFor, DOSE_AFTER_MEAL_S, DOSE_BEFORE_MEAL_S, Diary, DoseFor, LOW_LINGERS_S, RapidDose, Roles,
    SNACK_G,
};
pub use tally::{FEWEST_SWINGS, FEWEST_WEEKS, KindTally, Tally, USUAL_HOURS, UsualHours, Window, tally};

/// What sets a swing off, or carries it on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum SwingKind {
    /// A correction while an earlier one still acted, then a low.
    StackedCorrections,
    /// A low, more eaten against it than first aid asks for, then a high.
    OverTreatedLow,
    /// A meal without a dose, then a high.
    MissedMealDose,
    /// A meal whose dose came late, then a high.
    LateMealDose,
    /// A low, then a high, and nothing logged that explains it.
    Rebound,
    /// Something eaten against a low that was probably pressure on the sensor.
    TreatedPressureLow,
}

impl SwingKind {
    /// All, in the order they are told in.
    pub const ALL: [SwingKind; 6] = [
        SwingKind::StackedCorrections,
        SwingKind::OverTreatedLow,
        SwingKind::MissedMealDose,
        SwingKind::LateMealDose,
        SwingKind::Rebound,
        SwingKind::TreatedPressureLow,
    ];
}

/// One link of a swing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Link {
    /// When.
    pub at: Second,
    /// What.
    pub what: LinkKind,
    /// What the sensor showed then, mg/dL; `None` in a gap.
    pub shown_mg_dl: Option<f64>,
}

/// What a link is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum LinkKind {
    /// A high: its place among the diary's episodes.
    High(usize),
    /// A low.
    Low(usize),
    /// A low that was probably pressure on the sensor.
    PressureLow(usize),
    /// A meal.
    Meal {
        /// Grams, where counted.
        grams: Option<f64>,
        /// No dose was logged for it.
        undosed: bool,
    },
    /// The dose of that meal, so late.
    LateDose {
        /// Units.
        units: f64,
        /// After the meal began.
        late_s: Second,
    },
    /// A correction.
    Correction {
        /// Units.
        units: f64,
        /// Rapid or short.
        insulin: InsulinKind,
        /// Share of the correction before it that was left, by the mean of the published models; `None` for the first.
        left: Option<f64>,
        /// After the correction before it.
        after_s: Option<Second>,
    },
    /// Something eaten against a low.
    Treatment {
        /// Grams, where counted.
        grams: Option<f64>,
    },
}

/// One swing: links in time order.
#[derive(Clone, Debug, PartialEq)]
pub struct Swing {
    /// What is in it, in the order of the links.
    pub kinds: Vec<SwingKind>,
    /// Its links.
    pub links: Vec<Link>,
    /// Its first link.
    pub start: Second,
    /// The end of its last episode, or its last link.
    pub end: Second,
    /// Time low that it brought: of lows after a stacked correction.
    pub low_s: i64,
    /// Time high that it brought: of highs after a low or a meal in it, not of the high that was corrected.
    pub high_s: i64,
    /// Where waiting may have changed it.
    pub pauses: Vec<Pause>,
}
