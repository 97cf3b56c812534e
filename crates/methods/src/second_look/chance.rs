//! Chances: of coming back into range, and of a low.

use super::HORIZONS_MIN;
use super::forecast::Forecast;
use super::laid::Laid;
use super::moments::Moments;

/// Normal deviate of a two-sided 95 % interval.
const Z95: f64 = 1.959_963_984_540_054;
/// How far back into range may take, minutes.
pub(super) const BACK_MIN: u32 = 180;
/// How far ahead a low is looked for, minutes.
pub(super) const LOW_MIN: u32 = 240;
/// Episodes before a chance of coming back is told beside the person's own rate.
pub(super) const FEWEST_EPISODES: usize = 40;
/// An episode has lasted so long, seconds (Battelino 2019, Diabetes Care 42:1593: at least 15 minutes).
const EPISODE_S: u32 = 900;
/// A chance is held within this of 0 and 1 before its odds are taken.
const EDGE: f64 = 0.01;
/// Step of the calibration of chances.
const STEP: f64 = 0.02;
/// Part of that step for the slope.
const SLOPE_PART: f64 = 0.3;
/// The slope stays above this.
const LEAST_SLOPE: f64 = 0.1;

/// A chance with its 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Chance {
    /// Between 0 and 1.
    pub share: f64,
    /// Lower end.
    pub lo95: f64,
    /// Upper end.
    pub hi95: f64,
}

/// How episodes above range went before.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EpisodeRate {
    /// How many came back within three hours.
    pub back: usize,
    /// Of how many.
    pub of: usize,
    /// The share, with its interval; `None` of none.
    pub chance: Option<Chance>,
}

/// The score interval of a share (Wilson 1927, J Am Stat Assoc 22:209).
///
/// * `share`: 0 to 1.
/// * `of`: what it is a share of, above 0; where things hang together, the number of independent ones they are worth.
///
/// ```
/// let chance = interstice_methods::second_look::wilson(0.0, 10.0);
/// assert_eq!(chance.lo95, 0.0);
/// assert!((chance.hi95 - 0.277_533).abs() < 1e-6); // z² / (n + z²)
/// ```
pub fn wilson(share: f64, of: f64) -> Chance {
    let share = share.clamp(0.0, 1.0);
    let z2 = Z95 * Z95;
    let middle = (share + z2 / (2.0 * of)) / (1.0 + z2 / of);
    let half = Z95 / (1.0 + z2 / of) * (share * (1.0 - share) / of + z2 / (4.0 * of * of)).sqrt();
    Chance {
        share,
        lo95: (middle - half).clamp(0.0, share),
        hi95: (middle + half).clamp(share, 1.0),
    }
}

/// What may come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Event {
    /// At or under the top of the range within three hours.
    Back,
    /// Below its bottom within four hours.
    Low,
}

impl Event {
    pub(super) fn minutes(self) -> u32 {
        match self {
            Event::Back => BACK_MIN,
            Event::Low => LOW_MIN,
        }
    }

    fn is_met(self, mg_dl: f64, range: (f64, f64)) -> bool {
        match self {
            Event::Back => mg_dl <= range.1,
            Event::Low => mg_dl < range.0,
        }
    }

    /// Whether it can be asked at a level.
    pub(super) fn is_asked(self, mg_dl: f64, range: (f64, f64)) -> bool {
        match self {
            Event::Back => mg_dl > range.1,
            Event::Low => mg_dl >= range.0,
        }
    }

    /// Whether it came after a reading; `None` where a gap hides that.
    pub(super) fn came(self, laid: &Laid<'_>, i: usize) -> Option<bool> {
        let range = laid.past.range_mg_dl;
        let until = laid.at(i).saturating_add(self.minutes() * 60);
        let end = laid.run_end(i);
        for k in i + 1..=end {
            if laid.at(k) > until {
                return Some(false);
            }
            if self.is_met(laid.came_mg_dl(k), range) {
                return Some(true);
            }
        }
        (2 * until.saturating_sub(laid.at(end)) <= laid.interval_s(end)).then_some(false)
    }

    /// Share of the paths by which it comes, by weight; `None` where too little of any path is known.
    pub(super) fn share(self, told: &Forecast, mg_dl: f64, range: (f64, f64)) -> Option<f64> {
        let (mut met, mut all) = (0.0, 0.0);
        for (path, analog) in told.paths.iter().zip(&told.analogs) {
            let within = path
                .iter()
                .zip(HORIZONS_MIN)
                .filter(|&(_, minutes)| minutes <= self.minutes());
            let mut came = false;
            let mut known = true;
            for (change, _) in within {
                match change {
                    Some(change) => came |= self.is_met(mg_dl + change, range),
                    None => known = false,
                }
            }
            if came || known {
                all += analog.weight;
                met += if came { analog.weight } else { 0.0 };
            }
        }
        (all > 0.0).then(|| met / all)
    }
}

/// Chances set right by how often things came: a logistic line through the odds, moved a little after each outcome (Platt
/// 1999; moved online as by Gupta and Ramdas 2023, ICML; both from memory).
#[derive(Clone, Copy, Debug)]
pub(super) struct Odds {
    constant: f64,
    slope: f64,
}

impl Default for Odds {
    fn default() -> Self {
        Odds {
            constant: 0.0,
            slope: 1.0,
        }
    }
}

fn odds(share: f64) -> f64 {
    let share = share.clamp(EDGE, 1.0 - EDGE);
    libm::log(share / (1.0 - share))
}

impl Odds {
    pub(super) fn right(&self, share: f64) -> f64 {
        1.0 / (1.0 + libm::exp(-(self.constant + self.slope * odds(share))))
    }

    pub(super) fn learn(&mut self, share: f64, came: bool) {
        let error = if came { 1.0 } else { 0.0 } - self.right(share);
        self.constant += STEP * error;
        self.slope = (self.slope + STEP * SLOPE_PART * error * odds(share)).max(LEAST_SLOPE);
    }
}

/// How many independent moments the weighted ones are worth: those of one day count as one (after Kish 1965).
pub(super) fn worth(told: &Forecast, moments: &Moments<'_>) -> f64 {
    let mut by_day = std::collections::BTreeMap::new();
    for analog in &told.analogs {
        let day = moments.day_of(moments.at(analog.place).into());
        *by_day.entry(day).or_insert(0.0) += analog.weight;
    }
    let sum: f64 = by_day.values().sum();
    let squares: f64 = by_day.values().map(|weight| weight * weight).sum();
    if squares > 0.0 { sum * sum / squares } else { 0.0 }
}

/// First reading of the stretch above the range that a reading is in.
pub(super) fn above_since(laid: &Laid<'_>, i: usize) -> usize {
    let top = laid.past.range_mg_dl.1;
    let mut first = i;
    while first > laid.run_start(i) && laid.mg_dl(first - 1) > top {
        first -= 1;
    }
    first
}

/// Whether glucose has been above the range for a quarter of an hour at a reading.
pub(super) fn is_episode(laid: &Laid<'_>, i: usize) -> bool {
    laid.mg_dl(i) > laid.past.range_mg_dl.1 && laid.at(i) - laid.at(above_since(laid, i)) >= EPISODE_S
}

/// How the episodes among some moments went, where that is known by an instant: each once, at the first of these moments
/// by which it had lasted a quarter of an hour.
pub(super) fn episodes(moments: &Moments<'_>, places: std::ops::Range<usize>, by: i64) -> EpisodeRate {
    let laid = &moments.laid;
    let (mut back, mut of) = (0, 0);
    let mut last = None;
    for place in places {
        let i = moments.reading(place);
        if i64::from(laid.at(i)) + i64::from(BACK_MIN) * 60 > by {
            break;
        }
        if !is_episode(laid, i) || !moments.counts_as_waiting(place) {
            continue;
        }
        let since = above_since(laid, i);
        if last == Some(since) {
            continue;
        }
        last = Some(since);
        if let Some(came) = Event::Back.came(laid, i) {
            of += 1;
            back += usize::from(came);
        }
    }
    EpisodeRate {
        back,
        of,
        chance: (of > 0).then(|| wilson(back as f64 / of as f64, of as f64)),
    }
}
