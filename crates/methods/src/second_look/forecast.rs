//! What is expected of one moment: the blend, its fan, and the paths of the moments alike.

use interstice_glucose::Second;

use super::analogs::{Analog, Index, weighted_quantiles};
use super::features::{FEATURES, features, shape};
use super::moments::Moments;
use super::ridge::Ridge;
use super::spread::Spread;
use super::{HORIZONS, HORIZONS_MIN, LEVELS, level};

/// Part of the ridge in the centre, the rest being the mean of the moments alike: up to 45 minutes ahead, up to 75, and beyond.
/// Ours; chosen on the open recordings.
const RIDGE_PARTS: [f64; 3] = [0.65, 0.6, 0.55];
/// Part of the ridge's errors in the fan, the rest being the spread of the moments alike.
const SPREAD_PART: f64 = 0.5;
/// How much of what the ridge sees different between a moment alike and this one its path is moved by.
const MOVED_PART: f64 = 0.35;
/// A horizon needs so many moments alike that are known there.
const FEWEST_KNOWN: usize = 10;

/// What is expected of a moment, as changes from its glucose, mg/dL, before calibration.
#[derive(Clone, Debug, PartialEq)]
pub struct Forecast {
    /// Moments alike, nearest first.
    pub analogs: Vec<Analog>,
    /// Expected change by each horizon.
    pub centre: [f64; HORIZONS],
    /// The ridge's alone.
    pub ridge: [f64; HORIZONS],
    /// The fan at each horizon.
    pub fan: [[f64; LEVELS]; HORIZONS],
    /// Where each of the moments alike would lead from here; `None` where it is not known.
    pub paths: Vec<[Option<f64>; HORIZONS]>,
}

/// What a day's forecasts are made with, learned before it began.
#[derive(Clone, Debug)]
pub(super) struct Model {
    pub(super) ridge: Ridge,
    pub(super) spread: Spread,
    /// First instant that nothing is known of.
    pub(super) known_before: Second,
    /// Moments from this place on may be compared with.
    pub(super) from: usize,
    /// And before this one.
    pub(super) before: usize,
    /// How many of them there are.
    pub(super) there_are: usize,
}

impl Model {
    /// The forecast at a reading.
    pub(super) fn forecast(&self, moments: &Moments<'_>, index: &Index, reading: usize) -> Forecast {
        let laid = &moments.laid;
        let here = features(laid, reading);
        let analogs = index.nearest(&shape(laid, reading), self.from..self.before, self.there_are);
        let ridge = self.ridge.changes(&here);
        let seen: Vec<Seen> = analogs
            .iter()
            .map(|analog| {
                let there = moments.reading(analog.place);
                Seen {
                    weight: analog.weight,
                    changes: laid.changes(there, self.known_before),
                    ridge: self.ridge.changes(&features(laid, there)),
                }
            })
            .collect();
        self.blend(analogs, &here, ridge, &seen)
    }

    fn blend(
        &self,
        analogs: Vec<Analog>,
        here: &[f64; FEATURES],
        ridge: [f64; HORIZONS],
        seen: &[Seen],
    ) -> Forecast {
        let errors = self.spread.levels(here);
        let mut told = Forecast {
            analogs,
            centre: ridge,
            ridge,
            fan: [[0.0; LEVELS]; HORIZONS],
            paths: vec![[None; HORIZONS]; seen.len()],
        };
        for h in 0..HORIZONS {
            let known: Vec<(usize, f64, f64, f64)> = seen
                .iter()
                .enumerate()
                .filter_map(|(k, seen)| Some((k, seen.weight, seen.changes[h]?, seen.ridge[h])))
                .collect();
            if known.len() < FEWEST_KNOWN {
                told.fan[h] = errors[h].map(|error| ridge[h] + error);
                continue;
            }
            let total: f64 = known.iter().map(|of| of.1).sum();
            let mean = |of: &dyn Fn(f64, f64) -> f64| {
                known
                    .iter()
                    .map(|&(_, weight, change, ridge)| weight * of(change, ridge))
                    .sum::<f64>()
                    / total
            };
            let part = ridge_part(HORIZONS_MIN[h]);
            let centre = part * ridge[h] + (1.0 - part) * mean(&|change, _| change);
            let own = |change: f64, ridge: f64| change - MOVED_PART * ridge;
            let middle = mean(&own);
            let off: Vec<(f64, f64)> = known
                .iter()
                .map(|&(_, weight, change, ridge)| (own(change, ridge) - middle, weight))
                .collect();
            for (&(k, ..), &(off, _)) in known.iter().zip(&off) {
                told.paths[k][h] = Some(centre + off);
            }
            let levels: [f64; LEVELS] = std::array::from_fn(level);
            let spread = weighted_quantiles(off, levels);
            told.centre[h] = centre;
            told.fan[h] = std::array::from_fn(|place| {
                centre + (1.0 - SPREAD_PART) * spread[place] + SPREAD_PART * errors[h][place]
            });
        }
        told
    }
}

fn ridge_part(minutes: u32) -> f64 {
    match minutes {
        0..=45 => RIDGE_PARTS[0],
        46..=75 => RIDGE_PARTS[1],
        _ => RIDGE_PARTS[2],
    }
}

/// A moment alike, with what followed it and what the ridge expected there.
struct Seen {
    weight: f64,
    changes: [Option<f64>; HORIZONS],
    ridge: [f64; HORIZONS],
}
