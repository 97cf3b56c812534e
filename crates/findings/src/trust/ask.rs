//! What is asked of sensors beside blood.

use interstice_methods::agreement;
use serde::Serialize;

use crate::DEFAULT_SEED;

/// How a reading is found for a blood check.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Pairing {
    /// The nearest reading at the check or within five minutes after it.
    #[default]
    NearestAfter,
    /// A straight line between the neighbours, neither more than one native interval away.
    Interpolated,
}

impl Pairing {
    /// Both rules.
    pub const ALL: [Pairing; 2] = [Pairing::NearestAfter, Pairing::Interpolated];

    /// As it is typed and sent.
    pub fn key(self) -> &'static str {
        match self {
            Pairing::NearestAfter => "nearest-after",
            Pairing::Interpolated => "interpolated",
        }
    }

    /// By [`Pairing::key`].
    pub fn from_key(key: &str) -> Option<Self> {
        Pairing::ALL.into_iter().find(|rule| rule.key() == key)
    }

    /// The other one.
    pub fn other(self) -> Self {
        match self {
            Pairing::NearestAfter => Pairing::Interpolated,
            Pairing::Interpolated => Pairing::NearestAfter,
        }
    }

    pub(super) fn rule(self) -> agreement::Pairing {
        match self {
            Pairing::NearestAfter => agreement::Pairing::NearestAfter,
            Pairing::Interpolated => agreement::Pairing::Interpolated,
        }
    }
}

/// A question about sensors beside blood, over the whole book.
#[derive(Clone, Debug, PartialEq)]
pub struct TrustAsk {
    /// One sensor by its name, or all.
    pub sensor: Option<String>,
    /// How readings are found for checks.
    pub pairing: Pairing,
    /// Below this blood value, mg/dL, an allowance is in mg/dL.
    pub split_mg_dl: f64,
    /// Seed of the bootstrap intervals.
    pub seed: u64,
}

impl Default for TrustAsk {
    fn default() -> Self {
        TrustAsk {
            sensor: None,
            pairing: Pairing::default(),
            split_mg_dl: agreement::DEFAULT_SPLIT_MG_DL,
            seed: DEFAULT_SEED,
        }
    }
}
