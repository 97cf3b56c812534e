//! Agreement of sensors with blood: pairs by a stated rule, how far they lie apart, and how sure that is.
//!
//! Start at [`pair_up`] (checks and one sensor's readings to [`Pair`]s), then [`measures`], [`Allowance`] and
//! [`ClusterBootstrap`] for the figures, [`ClarkeGrid`] and [`ConsensusGrid`] for the zones, and [`Grouped`] for
//! figures by day of wear, direction and the like. Differences are sensor less blood; the blood is what is divided by.

mod binomial;
mod breakdown;
mod clarke;
mod cluster;
mod consensus;
mod icgm;
mod measures;
mod meter;
mod pair;
mod rates;
mod slope;
mod zone;

pub(crate) use binomial::beta_share;
pub use binomial::{lower_bound, share_interval, student_quantile};
pub use breakdown::{
    BEDDING_IN, Bin, DAY_QUARTERS, DIRECTIONS, FIRST_DAY, GroupFigures, Grouped, LAST_DAY_APART, day_of_wear,
};
pub use clarke::ClarkeGrid;
pub use cluster::{ClusterBootstrap, FEWEST_SENSORS, Resampled, ResampledBy};
pub use consensus::ConsensusGrid;
pub use icgm::{Criterion, CriterionAnswer, icgm};
pub use measures::{FEWEST_PAIRS, Limits, Measures, measures};
pub use meter::{METER_LIMIT, METER_SPLIT_MG_DL, meter_mard_percent};
pub use pair::{AFTER_S, CensoredPair, Check, Pair, Paired, Pairing, Worn, pair_up};
pub use rates::{ALLOWANCES, Allowance, DEFAULT_SPLIT_MG_DL, Rate, SPLITS_MG_DL};
pub use slope::{SLOPE_SPAN_S, SLOPE_WINDOW_S, slope_mg_dl_min};
pub use zone::{Line, Zone, Zones};
