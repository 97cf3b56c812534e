//! Risk of a glucose value, and the indices made of it.

/// Values below and above are taken at these ends before the logarithm: the function was made for 20–600 mg/dL.
const ENDS_MG_PER_DL: (f64, f64) = (20.0, 600.0);

/// Risk of a glucose value on the low and on the high side, each from 0 to 100; at most one is above 0.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Risk {
    /// Low side.
    pub low: f64,
    /// High side.
    pub high: f64,
}

/// The symmetrised scale: `f = 1.509 ((ln g)^1.084 - 5.381)`, g in mg/dL held within 20 to 600. Zero near 112.5.
///
/// Kovatchev et al. (1997), Diabetes Care 20:1655–1658.
pub fn symmetrised(mg_per_dl: f64) -> f64 {
    let held = mg_per_dl.clamp(ENDS_MG_PER_DL.0, ENDS_MG_PER_DL.1);
    1.509 * (libm::pow(libm::log(held), 1.084) - 5.381)
}

/// The risk of a value: `10 f²` on the side of its sign. LBGI and HBGI are the time-weighted means of the two
/// sides over all readings.
pub fn risk(mg_per_dl: f64) -> Risk {
    let f = symmetrised(mg_per_dl);
    let r = 10.0 * f * f;
    if f < 0.0 {
        Risk { low: r, high: 0.0 }
    } else {
        Risk { low: 0.0, high: r }
    }
}

/// The glycaemia risk index and its two components.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GlycaemiaRisk {
    /// `very low + 0.8 low`.
    pub hypo: f64,
    /// `very high + 0.5 high`.
    pub hyper: f64,
    /// `3.0 hypo + 1.6 hyper`, at most 100.
    pub index: f64,
}

/// GRI from percentages of time below 54, 54 to below 70, above 180 to 250 and above 250 mg/dL.
///
/// Klonoff et al. (2023), J Diabetes Sci Technol 17:1226–1242. `low` excludes `very_low`, `high` excludes
/// `very_high`.
pub fn glycaemia_risk(very_low: f64, low: f64, high: f64, very_high: f64) -> GlycaemiaRisk {
    let hypo = very_low + 0.8 * low;
    let hyper = very_high + 0.5 * high;
    GlycaemiaRisk {
        hypo,
        hyper,
        index: (3.0 * hypo + 1.6 * hyper).min(100.0),
    }
}

impl GlycaemiaRisk {
    /// Its zone, A (0 to 20) to E (above 80 to 100). A good zone can still hide a missed low target.
    pub fn zone(&self) -> char {
        match self.index {
            index if index <= 20.0 => 'A',
            index if index <= 40.0 => 'B',
            index if index <= 60.0 => 'C',
            index if index <= 80.0 => 'D',
            _ => 'E',
        }
    }
}
