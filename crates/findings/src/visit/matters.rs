//! What stands first on a sheet.

use interstice_methods::matters::{self as method, Matter, Weighed};
use serde::Serialize;

use super::{Change, WithoutPressure};
use crate::{Figure, ReviewFindings, Summary};

/// So many are told in sentences.
pub const MATTERS_TOLD: usize = 3;
const HOURS_IN_A_WEEK: f64 = 168.0;

/// One matter.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct MatterLine {
    /// Which.
    pub matter: MatterName,
    /// Points of the glycaemia risk index it makes; 0 where it is told for another reason.
    pub points: f64,
}

/// What a matter is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum MatterName {
    /// Too few readings to judge by.
    TooLittle,
    /// Time low.
    Lows,
    /// Time high.
    Highs,
    /// Swings.
    Swings,
    /// Time low that is probably pressure on the sensor.
    Pressure,
    /// What is different since the last visit.
    Change,
    /// Time in range.
    InRange,
}

impl From<Matter> for MatterName {
    fn from(matter: Matter) -> Self {
        match matter {
            Matter::TooLittle => MatterName::TooLittle,
            Matter::Lows => MatterName::Lows,
            Matter::Highs => MatterName::Highs,
            Matter::Swings => MatterName::Swings,
            Matter::Pressure => MatterName::Pressure,
            Matter::Change => MatterName::Change,
            Matter::InRange => MatterName::InRange,
        }
    }
}

/// All that weigh anything, by rank.
pub(super) fn matters(
    review: &ReviewFindings,
    without: Option<&WithoutPressure>,
    change: &Change,
) -> Vec<MatterLine> {
    let all = &review.summary;
    if all.mean_mg_dl.value.is_none() {
        let nothing = Weighed {
            too_little: true,
            ..Weighed::default()
        };
        return lines(&nothing, 1);
    }
    let basis: &Summary = without.map_or(all, |without| &without.summary);
    let value = |figure: &Figure| figure.value.unwrap_or(0.0);
    let tally = &review.swings.swing_tally;
    let targets = &review.targets;
    let misses = |figure: &Figure, under: Option<f64>| {
        figure
            .value
            .zip(under)
            .is_some_and(|(value, under)| value >= under)
    };
    let weighed = Weighed {
        too_little: !review.sufficiency.enough,
        low: (value(&basis.very_low_percent), value(&basis.low_percent)),
        lows_miss_target: misses(&basis.below_percent, Some(targets.below_under_percent))
            || misses(&basis.very_low_percent, targets.very_low_under_percent),
        high: (value(&basis.high_percent), value(&basis.very_high_percent)),
        swings: tally
            .low_hours_per_week
            .zip(tally.high_hours_per_week)
            .map(|(low, high)| (100.0 * low / HOURS_IN_A_WEEK, 100.0 * high / HOURS_IN_A_WEEK)),
        pressure: (
            (value(&all.very_low_percent) - value(&basis.very_low_percent)).max(0.0),
            (value(&all.low_percent) - value(&basis.low_percent)).max(0.0),
        ),
        change: change.points,
    };
    lines(&weighed, MATTERS_TOLD)
}

fn lines(weighed: &Weighed, fewest: usize) -> Vec<MatterLine> {
    method::ranked(weighed, fewest)
        .into_iter()
        .map(|ranked| MatterLine {
            matter: ranked.matter.into(),
            points: ranked.points,
        })
        .collect()
}
