//! The cautions, each defined once.

use interstice_tongue::say;

use super::Shown;

/// Where a figure could be acted on, one of these stands beside it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Caution {
    /// Beside every account.
    CareTeam,
    /// Beside lows.
    Lows,
    /// Beside long highs.
    Ketones,
    /// Beside what followed doses and meals.
    Followed,
    /// Beside a sensor.
    FirstDay,
    /// Beside possible pressure lows.
    Pressure,
    /// Beside a plan of sensors.
    Wear,
}

impl Caution {
    /// The words, with thresholds in the wearer's unit.
    pub fn text(self, shown: Shown) -> String {
        match self {
            Caution::CareTeam => say!("caution-care-team"),
            Caution::Lows => say!("caution-lows", serious = shown.glucose_with_unit(54.0)),
            Caution::Ketones => say!("caution-ketones", high = shown.glucose_with_unit(250.0)),
            Caution::Pressure => say!("caution-pressure"),
            Caution::Followed => say!("caution-followed"),
            Caution::Wear => say!("caution-wear"),
            Caution::FirstDay => say!("caution-first-day"),
        }
    }
}
