//! What goes in: a sensor's readings and the blood checks made while it was worn.

use interstice_glucose::Censor;

/// The readings of one sensor.
#[derive(Clone, Copy, Debug)]
pub struct SensorTrace<'a> {
    /// When it was started, or put on where that is what its first readings settle from; seconds since 1970.
    pub started: u32,
    /// Instants of the readings, in time order; seconds since 1970.
    pub at: &'a [u32],
    /// What they say, mg/dL; at a limit, the limit. Same length.
    pub mg_dl: &'a [f64],
    /// Whether they lie beyond what the sensor measures. Same length.
    pub censor: &'a [Censor],
    /// Whether the reading is set aside (pressure, a fault, the wearer's own mark). Same length.
    pub aside: &'a [bool],
}

/// A blood check.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BloodCheck {
    /// Seconds since 1970.
    pub at: u32,
    /// mg/dL.
    pub mg_dl: f64,
}

/// One place on the common time line of a sensor's readings and checks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Place {
    /// A reading, by its index.
    Reading(u32),
    /// A check, by its index among the sensor's.
    Check(u32),
    /// What a sensor worn at the same time says of blood, by its index.
    Other(u32),
}

/// What a sensor worn at the same time says of blood.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Other {
    pub(crate) at: u32,
    pub(crate) mg_dl: f64,
    pub(crate) variance: f64,
}

/// Readings and checks of one sensor on one time line.
#[derive(Clone, Debug)]
pub(crate) struct Line<'a> {
    pub(crate) trace: SensorTrace<'a>,
    /// The checks within its wear, in time order.
    pub(crate) checks: Vec<BloodCheck>,
    /// Their places among all the person's checks.
    pub(crate) check_index: Vec<usize>,
    /// What other sensors say, in time order.
    pub(crate) others: Vec<Other>,
    /// Instant and what is there, in time order; readings before checks of the same instant.
    pub(crate) places: Vec<(u32, Place)>,
}

/// Checks this long outside the readings still belong to the sensor, seconds.
const REACH_S: u32 = 600;

impl<'a> Line<'a> {
    /// Lays out a sensor's readings and those of the checks that fall within its wear.
    pub(crate) fn new(trace: SensorTrace<'a>, all: &[BloodCheck]) -> Self {
        let (Some(&first), Some(&last)) = (trace.at.first(), trace.at.last()) else {
            return Line {
                trace,
                checks: Vec::new(),
                check_index: Vec::new(),
                others: Vec::new(),
                places: Vec::new(),
            };
        };
        let within = first.saturating_sub(REACH_S)..=last.saturating_add(REACH_S);
        let mut check_index: Vec<usize> = (0..all.len()).filter(|&i| within.contains(&all[i].at)).collect();
        check_index.sort_by_key(|&i| all[i].at);
        let checks: Vec<BloodCheck> = check_index.iter().map(|&i| all[i]).collect();
        let readings = trace
            .at
            .iter()
            .zip(0u32..)
            .map(|(&at, i)| (at, Place::Reading(i)));
        let made = checks
            .iter()
            .zip(0u32..)
            .map(|(check, i)| (check.at, Place::Check(i)));
        let mut places: Vec<(u32, Place)> = readings.chain(made).collect();
        places.sort_by_key(|&(at, place)| (at, matches!(place, Place::Check(_))));
        Line {
            trace,
            checks,
            check_index,
            others: Vec::new(),
            places,
        }
    }

    /// The same line with what another sensor says, in time order.
    pub(crate) fn beside(&self, others: Vec<Other>) -> Line<'a> {
        let mut line = self.clone();
        line.places.extend(
            others
                .iter()
                .zip(0u32..)
                .map(|(other, i)| (other.at, Place::Other(i))),
        );
        line.places
            .sort_by_key(|&(at, place)| (at, !matches!(place, Place::Reading(_))));
        line.others = others;
        line
    }

    /// Minutes from the start of the sensor, never negative.
    pub(crate) fn age_min(&self, at: u32) -> f64 {
        f64::from(at.saturating_sub(self.trace.started)) / 60.0
    }
}

impl<'a> Line<'a> {
    /// Some of its readings, without checks.
    pub(crate) fn part(&self, readings: std::ops::Range<usize>) -> Line<'a> {
        let trace = SensorTrace {
            started: self.trace.started,
            at: &self.trace.at[readings.clone()],
            mg_dl: &self.trace.mg_dl[readings.clone()],
            censor: &self.trace.censor[readings.clone()],
            aside: &self.trace.aside[readings],
        };
        Line::new(trace, &[])
    }
}
