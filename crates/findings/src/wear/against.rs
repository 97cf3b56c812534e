//! Each group of sensors held against all others that were told of: which place loses them, which cover helps.

use interstice_methods::staying::{Compared, Stay, holm, log_rank, mean_apart, still_on};
use serde::ser::SerializeMap;
use serde::{Serialize, Serializer};

use super::staying::CONFIDENCE;
use crate::Figure;
use crate::figure::figure_entry;

/// Fewest losses to be expected in a group before a test of it is told. Common practice, no source.
pub(super) const FEWEST_EXPECTED: f64 = 5.0;
/// A chance below this is told as a difference. Common practice.
const SELDOM: f64 = 0.05;

/// What a comparison comes to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standing {
    /// They stay on longer than the others.
    Longer,
    /// They are lost sooner than the others.
    Shorter,
    /// They are not lost alike, but by how much on average cannot be told.
    Differs,
    /// It may be chance.
    Open,
    /// Too few to tell anything.
    TooFew,
}

impl Standing {
    /// As it is written in files.
    pub fn name(self) -> &'static str {
        match self {
            Standing::Longer => "longer",
            Standing::Shorter => "shorter",
            Standing::Differs => "differs",
            Standing::Open => "open",
            Standing::TooFew => "too few",
        }
    }
}

/// A group held against all others of its table.
#[derive(Clone, Debug)]
pub struct Against {
    /// What it comes to.
    pub standing: Standing,
    /// Mean hours it stays on longer than the others, none counted beyond the labelled wear; negative where less long.
    pub longer_h: Figure,
    /// Chance of so large a difference if they were alike (log-rank), raised for the comparisons of the table made at once.
    pub p: Figure,
    /// Comparisons made at once.
    pub comparisons: u64,
    /// Sensors of the group that are missing; `None` where the others are too few, or where none can be told.
    pub more_sensors: Option<u64>,
}

impl Serialize for Against {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("standing", self.standing.name())?;
        figure_entry(&mut map, "longer_h", &self.longer_h)?;
        figure_entry(&mut map, "p", &self.p)?;
        map.serialize_entry("comparisons", &self.comparisons)?;
        map.serialize_entry("more_sensors", &self.more_sensors)?;
        map.end()
    }
}

/// One for each group, in their order.
pub(super) fn against_others(groups: &[Vec<Stay>], limit: Option<f64>) -> Vec<Against> {
    let pairs: Vec<(Vec<Stay>, Vec<Stay>)> = (0..groups.len()).map(|place| split(groups, place)).collect();
    let tests: Vec<Option<Compared>> = pairs
        .iter()
        .map(|(its, others)| log_rank(&[its, others]))
        .collect();
    let enough: Vec<bool> = tests
        .iter()
        .map(|test| {
            let expected = |compared: &Compared| compared.groups.iter().all(|of| of.2 >= FEWEST_EXPECTED);
            test.as_ref().is_some_and(expected)
        })
        .collect();
    let chances: Vec<f64> = tests
        .iter()
        .zip(&enough)
        .map(|(test, enough)| test.as_ref().filter(|_| *enough).map_or(f64::NAN, |test| test.p))
        .collect();
    // Of two groups the second comparison is the first over again.
    let (raised, comparisons) = if groups.len() == 2 {
        (chances, 1)
    } else {
        (holm(&chances), enough.iter().filter(|it| **it).count() as u64)
    };
    (0..groups.len())
        .map(|place| {
            if !enough[place] {
                return too_few(tests[place].as_ref(), comparisons);
            }
            compared(&pairs[place], limit, (raised[place], comparisons))
        })
        .collect()
}

/// A group, and all others together.
fn split(groups: &[Vec<Stay>], place: usize) -> (Vec<Stay>, Vec<Stay>) {
    let others = groups.iter().enumerate().filter(|(other, _)| *other != place);
    (
        groups[place].clone(),
        others.flat_map(|(_, stays)| stays).copied().collect(),
    )
}

fn too_few(test: Option<&Compared>, comparisons: u64) -> Against {
    let (its, others) = test.map_or(((0, 0.0), (0, 0.0)), |test| {
        let of = |place: usize| (test.groups[place].0, test.groups[place].2);
        (of(0), of(1))
    });
    // So many of them that, at the losses seen, enough would be expected.
    let wanted = |(sensors, expected): (u64, f64)| (sensors as f64 * FEWEST_EXPECTED / expected).ceil();
    let more_sensors = (its.1 > 0.0 && its.1 < FEWEST_EXPECTED && others.1 >= FEWEST_EXPECTED)
        .then(|| (wanted(its) as u64).saturating_sub(its.0));
    let reason = "fewer than five losses would be expected in one of the groups";
    Against {
        standing: Standing::TooFew,
        longer_h: Figure::missing(reason),
        p: Figure::missing(reason),
        comparisons,
        more_sensors,
    }
}

fn compared(
    (its, others): &(Vec<Stay>, Vec<Stay>),
    limit: Option<f64>,
    (p, comparisons): (f64, u64),
) -> Against {
    let curves = still_on(its, CONFIDENCE).zip(still_on(others, CONFIDENCE));
    let apart = limit
        .zip(curves)
        .and_then(|(limit, (its, others))| mean_apart(&its, &others, limit, CONFIDENCE));
    let standing = match apart {
        _ if p >= SELDOM => Standing::Open,
        Some(apart) if apart.within.lo > 0.0 => Standing::Longer,
        Some(apart) if apart.within.hi < 0.0 => Standing::Shorter,
        _ => Standing::Differs,
    };
    Against {
        standing,
        longer_h: apart.map_or_else(
            || Figure::missing("one of the groups lost none, or was not worn to the labelled end yet"),
            |apart| Figure {
                value: Some(apart.hours),
                lo95: Some(apart.within.lo),
                hi95: Some(apart.within.hi),
                reason: None,
            },
        ),
        p: Figure::plain(p),
        comparisons,
        more_sensors: None,
    }
}
