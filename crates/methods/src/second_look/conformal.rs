//! Bands that learn from how often they missed.

use super::{HORIZONS, HORIZONS_MIN, LEVELS};

/// Places of 10 %, 50 % and 90 % in a fan.
pub(super) const LOWER: usize = 1;
pub(super) const MIDDLE: usize = 9;
pub(super) const UPPER: usize = 17;
/// Share that may miss on either side.
const MISS: f64 = 0.1;
/// Stretch before anything was learned: what the open recordings take on average.
const FIRST: f64 = 1.04;
/// How the step falls with the number learned from.
const STEP_FALL: f64 = 0.6;

/// Outcomes further ahead overlap and miss together: their steps are smaller by the root of how many times this they are
/// ahead, minutes.
const FULL_STEP_MIN: u32 = 60;

/// Steps of what is learned: the first, and the one it falls to, for people change and what is learned must be able to.
#[derive(Clone, Copy, Debug)]
struct Steps {
    largest: f64,
    smallest: f64,
}

const OF_ALL: Steps = Steps {
    largest: 0.08,
    smallest: 0.01,
};
const OF_ZONE: Steps = Steps {
    largest: 0.04,
    smallest: 0.01,
};

/// A band is never stretched or shrunk beyond this.
const WITHIN: (f64, f64) = (0.2, 5.0);
/// Limits of the zones, mg/dL: bands are learned apart where glucose is low, where it is high, and between.
const LOW_MG_DL: f64 = 90.0;
const HIGH_MG_DL: f64 = 180.0;

/// Where glucose is when a fan is told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Zone {
    /// Below 90 mg/dL.
    Low,
    /// From 90 to 180.
    Middle,
    /// Above 180.
    High,
}

impl Zone {
    /// The zone of a level, mg/dL.
    pub fn of(mg_dl: f64) -> Self {
        if mg_dl < LOW_MG_DL {
            Zone::Low
        } else if mg_dl > HIGH_MG_DL {
            Zone::High
        } else {
            Zone::Middle
        }
    }
}

/// How much wider than it came the lower and the upper half of a fan are shown.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch {
    /// Below the middle.
    pub down: f64,
    /// Above it.
    pub up: f64,
}

impl Stretch {
    /// A fan with its two halves stretched about its middle.
    pub fn applied(self, fan: &[f64; LEVELS]) -> [f64; LEVELS] {
        let middle = fan[MIDDLE];
        fan.map(|value| {
            let off = value - middle;
            middle + off * if off < 0.0 { self.down } else { self.up }
        })
    }
}

/// What is added to the stretch of a zone, or of all: learned, with how often it was.
#[derive(Clone, Copy, Debug)]
struct Learned {
    stretch: Stretch,
    times: u32,
}

impl Learned {
    fn from(first: f64) -> Self {
        Learned {
            stretch: Stretch {
                down: first,
                up: first,
            },
            times: 0,
        }
    }

    fn learn(&mut self, missed: (bool, bool), steps: Steps, horizon: usize) {
        self.times += 1;
        let fallen = steps.largest * libm::pow(f64::from(self.times), -STEP_FALL);
        let overlap = f64::from(HORIZONS_MIN[horizon].max(FULL_STEP_MIN)) / f64::from(FULL_STEP_MIN);
        let step = fallen.max(steps.smallest) / overlap.sqrt();
        let moved = |missed: bool| step * (if missed { 1.0 } else { 0.0 } - MISS);
        self.stretch.down += moved(missed.0);
        self.stretch.up += moved(missed.1);
    }
}

/// The stretch at each horizon in each zone, learned online.
///
/// After each outcome the half on either side widens by a step times 0.9 where the outcome lay beyond its 80 % band, and
/// narrows by a step times 0.1 where it did not, so that over time one in ten misses on either side, whatever the fan is
/// like. That is the quantile tracking of Angelopoulos, Candès and Tibshirani 2023 (NeurIPS 36; from memory), in the line of
/// Gibbs and Candès 2021 (NeurIPS 34:1660), with the falling step of Angelopoulos, Barber and Bates 2024 (ICML; from
/// memory) down to a floor, on the stretch instead of a width. A stretch is the sum of what is learned from all
/// outcomes, which comes fast, and from those of the zone.
#[derive(Clone, Debug)]
pub struct Stretches {
    all: [Learned; HORIZONS],
    zones: [[Learned; 3]; HORIZONS],
}

impl Default for Stretches {
    fn default() -> Self {
        Stretches {
            all: [Learned::from(FIRST); HORIZONS],
            zones: [[Learned::from(0.0); 3]; HORIZONS],
        }
    }
}

impl Stretches {
    /// The stretch at a horizon, by its place, in a zone.
    pub fn at(&self, horizon: usize, zone: Zone) -> Stretch {
        let (all, own) = (
            self.all[horizon].stretch,
            self.zones[horizon][zone as usize].stretch,
        );
        Stretch {
            down: (all.down + own.down).clamp(WITHIN.0, WITHIN.1),
            up: (all.up + own.up).clamp(WITHIN.0, WITHIN.1),
        }
    }

    /// Learns from a fan as it was shown and what came.
    pub fn learn(&mut self, horizon: usize, zone: Zone, shown: &[f64; LEVELS], came: f64) {
        let missed = (came < shown[LOWER], came > shown[UPPER]);
        self.all[horizon].learn(missed, OF_ALL, horizon);
        self.zones[horizon][zone as usize].learn(missed, OF_ZONE, horizon);
    }
}
