//! From blood checks and a sensor's readings to pairs.

use interstice_glucose::{Censor, Level, Levels, LivedClock, Second, WallTime};

use super::slope::slope_mg_dl_min;

/// How long after a check its reading may come, seconds, by [`Pairing::NearestAfter`]: five minutes, as studies of
/// sensors commonly pair.
pub const AFTER_S: Second = 300;

/// How a reading is found for a check.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Pairing {
    /// The nearest reading at the check or within [`AFTER_S`] after it.
    #[default]
    NearestAfter,
    /// A straight line between the neighbours before and after, neither more than one native interval away; a reading
    /// of the same second is taken as it is.
    Interpolated,
}

/// A blood check as pairing needs it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Check {
    /// When.
    pub at: Second,
    /// Blood glucose, mg/dL; of a censored one the meter's limit.
    pub mg_dl: f64,
    /// Whether the meter could not measure it.
    pub censor: Censor,
}

/// One sensor's readings while it was worn.
#[derive(Clone, Copy, Debug)]
pub struct Worn<'a> {
    /// Number of the sensor; pairs carry it.
    pub sensor: usize,
    /// Instants, ascending.
    pub at: &'a [u32],
    /// Level of each.
    pub level: &'a [u32],
    /// The table they belong to.
    pub levels: &'a Levels,
    /// Native interval, seconds.
    pub interval_s: u32,
    /// When it was started, where that is known.
    pub started: Option<Second>,
}

/// One check beside one sensor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pair {
    /// Which check, by its place in the input.
    pub check: usize,
    /// Which sensor: [`Worn::sensor`].
    pub sensor: usize,
    /// When the check was taken.
    pub at: Second,
    /// What the wearer's clock showed then.
    pub wall: WallTime,
    /// Blood glucose, mg/dL.
    pub blood_mg_dl: f64,
    /// The sensor, mg/dL.
    pub sensor_mg_dl: f64,
    /// Seconds from the check to the reading taken; 0 where it lies between two.
    pub later_s: Second,
    /// Rate of change then, by the sensor, mg/dL a minute; see [`slope_mg_dl_min`] for when it is not known.
    pub rate_mg_dl_min: Option<f64>,
    /// Seconds since the sensor was started, where that is known.
    pub worn_s: Option<Second>,
}

impl Pair {
    /// Two values alone, as of a worked example: nothing else is known of them.
    pub fn of(blood_mg_dl: f64, sensor_mg_dl: f64) -> Self {
        Pair {
            check: 0,
            sensor: 0,
            at: 0,
            wall: WallTime(0),
            blood_mg_dl,
            sensor_mg_dl,
            later_s: 0,
            rate_mg_dl_min: None,
            worn_s: None,
        }
    }

    /// Sensor less blood, mg/dL.
    pub fn difference_mg_dl(&self) -> f64 {
        self.sensor_mg_dl - self.blood_mg_dl
    }

    /// Sensor less blood in percent of the blood.
    pub fn relative_percent(&self) -> f64 {
        100.0 * self.difference_mg_dl() / self.blood_mg_dl
    }
}

/// A pair of which one side (or both) is only known to be beyond a limit: the value kept is the device's limit, so how far
/// the two lie apart is not known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CensoredPair {
    /// The pair, with limits in place of values.
    pub pair: Pair,
    /// The sensor's side.
    pub sensor: Censor,
    /// The meter's side.
    pub blood: Censor,
}

impl CensoredPair {
    /// The values the two can have that lie nearest to each other: (blood, sensor), mg/dL. What does not agree there does not
    /// agree at all.
    pub fn nearest_mg_dl(&self) -> (f64, f64) {
        let blood = reach(self.pair.blood_mg_dl, self.blood);
        let sensor = reach(self.pair.sensor_mg_dl, self.sensor);
        let overlap = blood.0.max(sensor.0);
        if overlap <= blood.1.min(sensor.1) {
            (overlap, overlap)
        } else if sensor.1 < blood.0 {
            (blood.0, sensor.1)
        } else {
            (blood.1, sensor.0)
        }
    }
}

/// Lowest and highest value a device can have met.
fn reach(limit: f64, censor: Censor) -> (f64, f64) {
    match censor {
        Censor::None => (limit, limit),
        Censor::Below => (0.0, limit),
        Censor::Above => (limit, f64::INFINITY),
    }
}

/// What became of the checks taken while a sensor was worn.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Paired {
    /// Usable pairs, in the order of the checks.
    pub pairs: Vec<Pair>,
    /// Pairs of which one side is beyond what its device can measure. They are in no figure.
    pub censored: Vec<CensoredPair>,
    /// Checks whose reading lies in a stretch marked as an artefact.
    pub artefact: u64,
    /// Checks between the sensor's first and last reading that found no reading.
    pub unpaired: u64,
}

impl Paired {
    /// Adds those of another sensor.
    pub fn append(&mut self, mut other: Paired) {
        self.pairs.append(&mut other.pairs);
        self.censored.append(&mut other.censored);
        self.artefact += other.artefact;
        self.unpaired += other.unpaired;
    }
}

/// Pairs the checks with a sensor.
///
/// * `checks`: in time order; values above 0.
/// * `artefacts`: stretches `[from, to)` of readings not to be believed, in any order. They take part in no pair and in
///   no rate of change.
///
/// Every check is looked at by itself: two within a minute of each other make two pairs. Checks at 0 mg/dL or below
/// are passed over: nothing can be divided by them.
pub fn pair_up(
    checks: &[Check],
    worn: &Worn<'_>,
    artefacts: &[(Second, Second)],
    clock: &LivedClock,
    rule: Pairing,
) -> Paired {
    let mut paired = Paired::default();
    let (Some(&first), Some(&last)) = (worn.at.first(), worn.at.last()) else {
        return paired;
    };
    let (first, last) = (Second::from(first), Second::from(last));
    let start = checks.partition_point(|check| check.at < first - AFTER_S);
    let end = checks.partition_point(|check| check.at <= last);
    let clean = without(worn, artefacts, first, last);
    for (index, check) in (start..).zip(&checks[start..end.max(start)]) {
        if check.mg_dl <= 0.0 {
            continue;
        }
        let Some(found) = reading(worn, check.at, rule) else {
            paired.unpaired += u64::from(check.at >= first);
            continue;
        };
        if found.touches(artefacts) {
            paired.artefact += 1;
            continue;
        }
        let (at, level) = clean
            .as_ref()
            .map_or((worn.at, worn.level), |clean| (&clean.0, &clean.1));
        let pair = Pair {
            check: index,
            sensor: worn.sensor,
            at: check.at,
            wall: clock.wall(check.at),
            blood_mg_dl: check.mg_dl,
            sensor_mg_dl: found.mg_dl,
            later_s: found.later_s,
            rate_mg_dl_min: slope_mg_dl_min(at, level, worn.levels, worn.interval_s, check.at),
            worn_s: worn.started.map(|started| check.at - started),
        };
        if found.censor != Censor::None || check.censor != Censor::None {
            paired.censored.push(CensoredPair {
                pair,
                sensor: found.censor,
                blood: check.censor,
            });
        } else {
            paired.pairs.push(pair);
        }
    }
    paired
}

/// Readings outside the artefacts, where any lies inside.
fn without(
    worn: &Worn<'_>,
    artefacts: &[(Second, Second)],
    first: Second,
    last: Second,
) -> Option<(Vec<u32>, Vec<u32>)> {
    let near: Vec<_> = artefacts
        .iter()
        .filter(|span| span.0 <= last && span.1 > first)
        .collect();
    if near.is_empty() {
        return None;
    }
    let inside = |at: u32| {
        near.iter()
            .any(|span| (span.0..span.1).contains(&Second::from(at)))
    };
    let rows = worn.at.iter().copied().zip(worn.level.iter().copied());
    Some(rows.filter(|&(at, _)| !inside(at)).unzip())
}

/// What a sensor says at a check.
struct Found {
    mg_dl: f64,
    later_s: Second,
    censor: Censor,
    /// The readings it rests on.
    from: Second,
    to: Second,
}

impl Found {
    fn touches(&self, spans: &[(Second, Second)]) -> bool {
        spans
            .iter()
            .any(|span| (span.0..span.1).contains(&self.from) || (span.0..span.1).contains(&self.to))
    }
}

fn reading(worn: &Worn<'_>, moment: Second, rule: Pairing) -> Option<Found> {
    let next = worn.at.partition_point(|&at| Second::from(at) < moment);
    let after = told(worn, next);
    let exact = after.filter(|(at, _)| *at == moment);
    match rule {
        Pairing::NearestAfter => after
            .filter(|(at, _)| at - moment <= AFTER_S)
            .map(|(at, level)| Found {
                mg_dl: level.mg_per_dl,
                later_s: at - moment,
                censor: level.said.censor(),
                from: at,
                to: at,
            }),
        Pairing::Interpolated => match exact {
            Some((at, level)) => Some(between((at, level), (at, level), moment)),
            None => {
                let reach = Second::from(worn.interval_s);
                let before = told(worn, next.checked_sub(1)?).filter(|(at, _)| moment - at <= reach)?;
                let after = after.filter(|(at, _)| at - moment <= reach)?;
                Some(between(before, after, moment))
            }
        },
    }
}

/// Instant and level of a reading.
fn told<'a>(worn: &Worn<'a>, index: usize) -> Option<(Second, &'a Level)> {
    let level = worn.levels.as_slice().get(*worn.level.get(index)? as usize)?;
    Some((Second::from(*worn.at.get(index)?), level))
}

fn between(before: (Second, &Level), after: (Second, &Level), moment: Second) -> Found {
    let (low, high) = (before.1.mg_per_dl, after.1.mg_per_dl);
    let length = (after.0 - before.0) as f64;
    let part = if length > 0.0 {
        (moment - before.0) as f64 / length
    } else {
        0.0
    };
    Found {
        mg_dl: low + (high - low) * part,
        later_s: 0,
        censor: match before.1.said.censor() {
            Censor::None => after.1.said.censor(),
            beyond => beyond,
        },
        from: before.0,
        to: after.0,
    }
}
