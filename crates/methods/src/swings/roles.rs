//! What a dose or a bite was for: by the wearer's word, else by what stands around it.

use interstice_glucose::{InsulinKind, Second};

use crate::episode::{Episode, EpisodeKind};
use crate::insulin::OwnDurations;
use crate::recording::Recording;
use crate::trace::gap_limit_s;

/// A dose belongs to a meal that begins up to so long after it … (ours, no source)
pub const DOSE_BEFORE_MEAL_S: Second = 60 * 60;
/// … or began up to so long before it (ours, no source).
pub const DOSE_AFTER_MEAL_S: Second = 30 * 60;
/// Less carbohydrate than this asks for no dose, grams (ours, no source).
pub const SNACK_G: f64 = 10.0;
/// Something eaten up to so long after a low's end, still because of it (ours, no source).
pub const LOW_LINGERS_S: Second = 15 * 60;

/// Rapid or short-acting insulin as logged.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RapidDose {
    /// When.
    pub at: Second,
    /// Units.
    pub units: f64,
    /// Rapid or short.
    pub insulin: InsulinKind,
    /// What it was for, in the wearer's words.
    pub said: Option<DoseFor>,
}

/// What a dose was for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum DoseFor {
    /// For carbohydrate.
    Meal,
    /// Against a high.
    Correction,
    /// Neither can be told.
    Untold,
}

/// Carbohydrate as logged.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Carbs {
    /// When.
    pub at: Second,
    /// Grams, where counted.
    pub grams: Option<f64>,
    /// What it was for, in the wearer's words.
    pub said: Option<CarbsFor>,
}

/// What carbohydrate was for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum CarbsFor {
    /// Hunger.
    Meal,
    /// Against a low.
    Low,
}

/// Everything swings are looked for in. All in time order.
#[derive(Clone, Copy, Debug)]
pub struct Diary<'a> {
    /// The readings.
    pub recording: &'a Recording<'a>,
    /// Their episodes.
    pub episodes: &'a [Episode],
    /// Rapid and short doses.
    pub doses: &'a [RapidDose],
    /// Carbohydrate.
    pub carbs: &'a [Carbs],
    /// Stretches that count as pressed.
    pub pressed: &'a [(Second, Second)],
    /// How long the wearer says that their insulins act.
    pub own: OwnDurations,
}

/// What each dose and each bite was for, in the diary's order.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Roles {
    /// Of the doses.
    pub doses: Vec<DoseFor>,
    /// Of the carbohydrate.
    pub carbs: Vec<CarbsFor>,
}

impl Roles {
    /// A word of the wearer's stands. Else carbohydrate is against a low where the sensor showed one, or had until
    /// [`LOW_LINGERS_S`] before, and no dose that may have been for it was taken; and a dose is for a meal where one stands
    /// beside it, a correction where none does and the sensor showed a high. All ours, no source.
    pub fn of(diary: &Diary<'_>) -> Roles {
        let carbs: Vec<CarbsFor> = diary
            .carbs
            .iter()
            .map(|carbs| carbs.said.unwrap_or_else(|| carbs_for(diary, carbs)))
            .collect();
        let dose_for = |dose: &RapidDose| match dose.said {
            Some(said) => said,
            None if is_beside_a_meal(diary, &carbs, dose) => DoseFor::Meal,
            None if diary.shown(dose.at).is_some_and(|mg_dl| mg_dl > diary.high()) => DoseFor::Correction,
            None => DoseFor::Untold,
        };
        Roles {
            doses: diary.doses.iter().map(dose_for).collect(),
            carbs,
        }
    }
}

fn carbs_for(diary: &Diary<'_>, carbs: &Carbs) -> CarbsFor {
    let dosed = diary
        .doses_between(carbs.at - DOSE_BEFORE_MEAL_S, carbs.at + DOSE_AFTER_MEAL_S + 1)
        .any(|(_, dose)| dose.said != Some(DoseFor::Correction));
    let shown = diary.shown(carbs.at).is_some_and(|mg_dl| mg_dl < diary.low());
    let lingers = || {
        let begun = diary.episodes.partition_point(|e| e.start <= carbs.at);
        let last = diary.episodes[..begun]
            .iter()
            .rev()
            .find(|e| e.kind == EpisodeKind::Low);
        last.is_some_and(|low| carbs.at <= low.end + LOW_LINGERS_S)
    };
    if !dosed && (shown || lingers()) {
        CarbsFor::Low
    } else {
        CarbsFor::Meal
    }
}

fn is_beside_a_meal(diary: &Diary<'_>, roles: &[CarbsFor], dose: &RapidDose) -> bool {
    let (from, to) = (dose.at - DOSE_AFTER_MEAL_S, dose.at + DOSE_BEFORE_MEAL_S + 1);
    diary.carbs_between(from, to).any(|(place, carbs)| {
        roles[place] == CarbsFor::Meal && carbs.grams.is_none_or(|grams| grams >= SNACK_G)
    })
}

impl<'a> Diary<'a> {
    /// Upper edge of the target range, mg/dL.
    pub(super) fn high(&self) -> f64 {
        self.recording.group.targets().range_high_mg_dl
    }

    /// Its lower edge, mg/dL.
    pub(super) fn low(&self) -> f64 {
        self.recording.group.targets().range_low_mg_dl
    }

    /// What the sensor last showed at a moment, mg/dL; `None` in a gap.
    pub(super) fn shown(&self, at: Second) -> Option<f64> {
        let place = self.reading_by(at)?;
        Some(self.recording.mg_per_dl(place))
    }

    /// How fast it went up (or down, negative) over the quarter of an hour before, mg/dL/min; `None` where a gap lies in it.
    pub(super) fn slope(&self, at: Second) -> Option<f64> {
        let (last, first) = (self.reading_by(at)?, self.reading_by(at - 15 * 60)?);
        let minutes = f64::from(self.recording.at[last] - self.recording.at[first]) / 60.0;
        (minutes > 0.0).then(|| (self.recording.mg_per_dl(last) - self.recording.mg_per_dl(first)) / minutes)
    }

    fn reading_by(&self, at: Second) -> Option<usize> {
        let place = self
            .recording
            .at
            .partition_point(|&reading| Second::from(reading) <= at)
            .checked_sub(1)?;
        let age = at - Second::from(self.recording.at[place]);
        (age <= Second::from(gap_limit_s(0))).then_some(place)
    }

    pub(super) fn doses_between(
        &self,
        from: Second,
        to: Second,
    ) -> impl DoubleEndedIterator<Item = (usize, &'a RapidDose)> {
        let doses = self.doses;
        let range = between(doses.len(), from, to, |place| doses[place].at);
        range.map(move |place| (place, &doses[place]))
    }

    pub(super) fn carbs_between(
        &self,
        from: Second,
        to: Second,
    ) -> impl DoubleEndedIterator<Item = (usize, &'a Carbs)> {
        let carbs = self.carbs;
        let range = between(carbs.len(), from, to, |place| carbs[place].at);
        range.map(move |place| (place, &carbs[place]))
    }
}

/// Places of what lies in `[from, to)`, of a list in time order.
fn between(len: usize, from: Second, to: Second, at: impl Fn(usize) -> Second) -> std::ops::Range<usize> {
    let first_at = |second: Second| {
        let (mut low, mut high) = (0, len);
        while low < high {
            let middle = low.midpoint(high);
            if at(middle) < second {
                low = middle + 1;
            } else {
                high = middle;
            }
        }
        low
    };
    let first = first_at(from);
    first..first_at(to).max(first)
}
