//! How soon the wearer acts on a rise, and how that goes.

use interstice_glucose::Second;

use super::chains::CORRECTION_TO_LOW_S;
use super::lows::{Share, quartiles};
use super::roles::{Diary, DoseFor, Roles};
use crate::episode::EpisodeKind;

/// A correction this soon after the last dose of any kind counts as soon (ours, no source).
pub const SOON_S: Second = 3600;

/// One correction.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reaction {
    /// When.
    pub at: Second,
    /// After the high it answers began, seconds; `None` where none was under way.
    pub after_rise_s: Option<Second>,
    /// After the last rapid dose of any kind, where there was one within half a day.
    pub after_dose_s: Option<Second>,
    /// Whether a low began within [`CORRECTION_TO_LOW_S`], unless the readings broke off before.
    pub low_after: Option<bool>,
}

/// All of them.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Reactions {
    /// In time order.
    pub all: Vec<Reaction>,
    /// Highs that no correction was logged for.
    pub left_alone: usize,
    /// Highs in all.
    pub highs: usize,
}

/// Every correction of a diary.
pub fn reactions(diary: &Diary<'_>, roles: &Roles) -> Reactions {
    let corrections = (0..diary.doses.len()).filter(|&dose| roles.doses[dose] == DoseFor::Correction);
    let all: Vec<Reaction> = corrections.map(|dose| reaction(diary, dose)).collect();
    let highs = diary.episodes.iter().filter(|e| e.kind == EpisodeKind::High);
    let (mut left_alone, mut counted) = (0, 0);
    for high in highs {
        let from = all.partition_point(|reaction| reaction.at < high.start);
        counted += 1;
        left_alone += usize::from(all.get(from).is_none_or(|reaction| reaction.at > high.end));
    }
    Reactions {
        all,
        left_alone,
        highs: counted,
    }
}

fn reaction(diary: &Diary<'_>, place: usize) -> Reaction {
    let dose = &diary.doses[place];
    let begun = diary.episodes.partition_point(|e| e.start <= dose.at);
    let high = diary.episodes[..begun]
        .iter()
        .rev()
        .find(|e| e.kind == EpisodeKind::High)
        .filter(|high| high.end >= dose.at && !high.start_unknown);
    let before = place
        .checked_sub(1)
        .map(|before| dose.at - diary.doses[before].at);
    let until = dose.at + CORRECTION_TO_LOW_S;
    let low = diary.episodes[begun..]
        .iter()
        .take_while(|e| e.start <= until)
        .any(|e| e.kind == EpisodeKind::Low && !super::chains::is_pressed(diary, e));
    Reaction {
        at: dose.at,
        after_rise_s: high.map(|high| dose.at - high.start),
        after_dose_s: before.filter(|&before| before <= 12 * 3600),
        low_after: if low {
            Some(true)
        } else {
            (diary.recording.unbroken_until(dose.at, until) >= until).then_some(false)
        },
    }
}

impl Reactions {
    /// Quartiles of the minutes from the rise to the correction.
    pub fn after_rise_min(&self) -> Option<[f64; 3]> {
        quartiles(
            self.all
                .iter()
                .filter_map(|r| Some(r.after_rise_s? as f64 / 60.0)),
        )
    }

    /// Corrections within [`SOON_S`] of the dose before.
    pub fn soon(&self) -> Option<Share> {
        let soon = self.all.iter().filter(|reaction| is_soon(reaction)).count();
        Share::of(soon, self.all.len())
    }

    /// How often a low followed, of those soon after another dose and of the others.
    pub fn low_after(&self, soon: bool) -> Option<Share> {
        let those = self.all.iter().filter(|reaction| is_soon(reaction) == soon);
        let told: Vec<bool> = those.filter_map(|reaction| reaction.low_after).collect();
        Share::of(told.iter().filter(|&&low| low).count(), told.len())
    }
}

/// Fewest days for quartiles of scans (ours, no source).
pub const FEWEST_SCAN_DAYS: usize = 7;

/// Quartiles of how often a day the wearer looked at the sensor by hand, lowest first; `None` with fewer than
/// [`FEWEST_SCAN_DAYS`] days, or without any scan: then looking is not kept, and says nothing.
pub fn scans_a_day(days: &[u32]) -> Option<[f64; 3]> {
    let is_kept = days.iter().any(|&scans| scans > 0) && days.len() >= FEWEST_SCAN_DAYS;
    is_kept.then(|| quartiles(days.iter().map(|&scans| f64::from(scans))))?
}

fn is_soon(reaction: &Reaction) -> bool {
    reaction.after_dose_s.is_some_and(|after| after <= SOON_S)
}
