//! What depends on a reading's value alone, worked out once a level.

use interstice_glucose::{Censor, Levels};

use crate::ranges::Band;
use crate::risk;

/// Sums are taken about this value so that squares stay small; it cancels out of every figure.
pub(crate) const CENTRE_MG_PER_DL: f64 = 120.0;

/// One level.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Row {
    /// mg/dL less [`CENTRE_MG_PER_DL`].
    pub(crate) x: f64,
    /// The square of that.
    pub(crate) xx: f64,
    /// Risk on the low side.
    pub(crate) low_risk: f64,
    /// Risk on the high side.
    pub(crate) high_risk: f64,
}

/// All levels, by index, and their order.
#[derive(Clone, Debug)]
pub(crate) struct LevelTable {
    pub(crate) rows: Vec<Row>,
    pub(crate) band: Vec<Band>,
    pub(crate) censor: Vec<Censor>,
    pub(crate) mg_per_dl: Vec<f64>,
    /// Level indices by ascending value.
    pub(crate) ascending: Vec<u32>,
}

impl LevelTable {
    pub(crate) fn new(levels: &Levels) -> Self {
        let levels = levels.as_slice();
        let mg_per_dl: Vec<f64> = levels.iter().map(|level| level.mg_per_dl).collect();
        let mut ascending: Vec<u32> = (0u32..).take(levels.len()).collect();
        ascending.sort_by(|&a, &b| {
            mg_per_dl[a as usize]
                .total_cmp(&mg_per_dl[b as usize])
                .then(a.cmp(&b))
        });
        LevelTable {
            rows: mg_per_dl.iter().map(|&value| row(value)).collect(),
            band: levels.iter().map(|level| Band::of(level.said)).collect(),
            censor: levels.iter().map(|level| level.said.censor()).collect(),
            mg_per_dl,
            ascending,
        }
    }

    pub(crate) fn len(&self) -> usize {
        self.rows.len()
    }
}

fn row(mg_per_dl: f64) -> Row {
    let x = mg_per_dl - CENTRE_MG_PER_DL;
    let risk = risk::risk(mg_per_dl);
    Row {
        x,
        xx: x * x,
        low_risk: risk.low,
        high_risk: risk.high,
    }
}
