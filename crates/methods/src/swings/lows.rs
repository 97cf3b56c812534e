//! How lows were treated, and what came of it.

use interstice_glucose::Second;

use super::chains::{FIRST_AID_MOST_G, rebound, recovered, treatments};
use super::roles::{Diary, Roles};
use crate::agreement::share_interval;
use crate::bootstrap::Interval;
use crate::episode::EpisodeKind;
use crate::quantile::quantile;

/// Fewest lows for a share or a median (ours, no source).
pub const FEWEST_LOWS: usize = 5;

/// One low that something was eaten against.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LowTreated {
    /// Its place among the episodes.
    pub low: usize,
    /// When something was first eaten against it.
    pub first: Second,
    /// How often something was.
    pub times: usize,
    /// Grams in all, where each was counted.
    pub grams: Option<f64>,
    /// Time from the first bite until the sensor was back above the low range, seconds; 0 where it already was, `None` where
    /// that was not seen.
    pub back_after_s: Option<Second>,
    /// Whether a high began within two hours of its end, with no meal between.
    pub high_after: bool,
}

/// All of them.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct LowsTreated {
    /// In time order.
    pub lows: Vec<LowTreated>,
    /// Lows that nothing was logged against; pressed ones are in neither.
    pub untreated: usize,
    /// Of those, how many a high followed within two hours.
    pub untreated_high_after: usize,
}

/// A share with its exact interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Share {
    /// So many …
    pub of: u64,
    /// … of so many.
    pub all: u64,
    /// 95 %, Clopper and Pearson 1934, Biometrika 26:404.
    pub interval: Interval,
}

impl Share {
    /// `None` with fewer than [`FEWEST_LOWS`].
    pub fn of(of: usize, all: usize) -> Option<Share> {
        (all >= FEWEST_LOWS).then(|| Share {
            of: of as u64,
            all: all as u64,
            interval: share_interval(of as u64, all as u64, 0.95),
        })
    }
}

/// Every low that counts as real, and what was eaten against it. Pressed lows are left out.
pub fn lows_treated(diary: &Diary<'_>, roles: &Roles) -> LowsTreated {
    let mut all = LowsTreated::default();
    for (place, low) in diary.episodes.iter().enumerate() {
        if low.kind != EpisodeKind::Low || super::chains::is_pressed(diary, low) {
            continue;
        }
        let eaten = treatments(diary, roles, low);
        let high_after = rebound(diary, roles, low).is_some();
        let Some(first) = eaten.first() else {
            all.untreated += 1;
            all.untreated_high_after += usize::from(high_after);
            continue;
        };
        let grams: Option<f64> = eaten.iter().map(|carbs| carbs.grams).sum();
        all.lows.push(LowTreated {
            low: place,
            first: first.at,
            times: eaten.len(),
            grams,
            back_after_s: recovered(low).map(|back| (back - first.at).max(0)),
            high_after,
        });
    }
    all
}

impl LowsTreated {
    /// Quartiles of the grams of those counted, lowest first; `None` with fewer than [`FEWEST_LOWS`].
    pub fn grams(&self) -> Option<[f64; 3]> {
        quartiles(self.lows.iter().filter_map(|low| low.grams))
    }

    /// Quartiles of the minutes until back.
    pub fn back_after_min(&self) -> Option<[f64; 3]> {
        let minutes = |low: &LowTreated| low.back_after_s.map(|seconds| seconds as f64 / 60.0);
        quartiles(self.lows.iter().filter_map(minutes))
    }

    /// Of the lows counted, those with more than first aid; ADA's 15 to 20 g.
    pub fn more_than_first_aid(&self) -> Option<Share> {
        let counted: Vec<f64> = self.lows.iter().filter_map(|low| low.grams).collect();
        let more = counted.iter().filter(|&&grams| grams > FIRST_AID_MOST_G).count();
        Share::of(more, counted.len())
    }

    /// How often a high followed within two hours, of those with more than first aid and of the others.
    pub fn high_after(&self, more_than_first_aid: bool) -> Option<Share> {
        let those = self.lows.iter().filter(|low| {
            low.grams
                .is_some_and(|g| (g > FIRST_AID_MOST_G) == more_than_first_aid)
        });
        let (mut of, mut all) = (0, 0);
        for low in those {
            all += 1;
            of += usize::from(low.high_after);
        }
        Share::of(of, all)
    }
}

/// Quartiles of at least [`FEWEST_LOWS`] numbers.
pub(super) fn quartiles(of: impl Iterator<Item = f64>) -> Option<[f64; 3]> {
    let mut sorted: Vec<f64> = of.collect();
    if sorted.len() < FEWEST_LOWS {
        return None;
    }
    sorted.sort_unstable_by(f64::total_cmp);
    Some([
        quantile(&sorted, 0.25)?,
        quantile(&sorted, 0.5)?,
        quantile(&sorted, 0.75)?,
    ])
}
