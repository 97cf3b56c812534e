//! Pressure lows: a sleeper lies on the sensor, and it reads falsely low.
//!
//! The sensor falls sharply, shows a copy of the true course with a part taken off, and comes back sharply. Looked for
//! in hindsight, a night at a time; see docs/methods/pressure-lows.md. Nothing found here is hidden from anyone: it is
//! a *possible* pressure low, and a blood check decides. Start at [`pressure_lows`].

mod dip;
mod filter;
mod own;
mod search;
mod weigh;

use std::ops::Range;

use interstice_glucose::Censor;

use crate::Refusal;
use crate::agreement::Check;

pub use own::Own;
pub use weigh::{Evidence, Signs};

use dip::Dip;
use filter::{Filter, Readings};
use search::Followed;

/// What a marked one is called, wherever it is shown.
pub const CALLED: &str = "possible pressure low, a blood check decides";

/// The readings of one sensor.
#[derive(Clone, Copy, Debug)]
pub struct PressureTrace<'a> {
    /// The caller's number of the sensor; comes back with every finding.
    pub sensor: u32,
    /// Instants, seconds since 1970, in time order.
    pub at: &'a [u32],
    /// What they say, mg/dL; at a limit of the sensor, the limit.
    pub mg_dl: &'a [f64],
    /// Whether they lie beyond what the sensor measures.
    pub censor: &'a [Censor],
}

/// A time in bed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Night {
    /// Seconds since 1970.
    pub from: u32,
    /// Seconds since 1970.
    pub to: u32,
    /// Whether sleep was logged; else the usual hours on the lived clock.
    pub logged: bool,
}

/// What is known beside the readings. All of it may be empty but the nights.
#[derive(Clone, Copy, Debug, Default)]
pub struct Known<'a> {
    /// Where to look.
    pub nights: &'a [Night],
    /// Blood checks, in any order.
    pub checks: &'a [Check],
    /// Instants of insulin taken at once (not basal), seconds since 1970.
    pub insulin: &'a [u32],
    /// Instants of food, seconds since 1970.
    pub food: &'a [u32],
}

/// What is marked.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PressureParams {
    /// Least probability of one that shows no low.
    pub least_probability: f64,
    /// Least probability of one with a reading below [`low_mg_dl`](Self::low_mg_dl): leaving a false low unmarked
    /// costs more.
    pub least_probability_low: f64,
    /// One that shows no low is marked only from this depth, mg/dL: shallower dips are too many on real sensors and
    /// change nothing.
    pub least_depth_mg_dl: f64,
    /// A reading below this is a low, mg/dL.
    pub low_mg_dl: f64,
    /// With more noise beside it than this multiple (in variance) of the trace's usual, nothing is marked: a failing
    /// sensor dips by itself.
    pub most_noise: f64,
}

impl Default for PressureParams {
    fn default() -> Self {
        PressureParams {
            least_probability: 0.37,
            least_probability_low: 0.2,
            least_depth_mg_dl: 24.0,
            low_mg_dl: 70.0,
            most_noise: 3.0,
        }
    }
}

impl PressureParams {
    /// Everything looked at closely, however unlikely.
    pub const EVERYTHING: Self = PressureParams {
        least_probability: 0.0,
        least_probability_low: 0.0,
        least_depth_mg_dl: 0.0,
        low_mg_dl: 70.0,
        most_noise: f64::INFINITY,
    };

    /// Whether a dip is marked.
    pub fn marks(&self, low: &PressureLow) -> bool {
        let likely = if low.shows_low {
            low.probability >= self.least_probability_low
        } else {
            low.probability >= self.least_probability && low.depth_mg_dl >= self.least_depth_mg_dl
        };
        likely && low.signs.noise <= self.most_noise
    }
}

/// A possible pressure low.
#[derive(Clone, Debug, PartialEq)]
pub struct PressureLow {
    /// The caller's number of the sensor.
    pub sensor: u32,
    /// Pressure sets in, seconds since 1970.
    pub from: u32,
    /// The sensor has recovered, seconds since 1970.
    pub to: u32,
    /// The readings touched, as a range of the trace.
    pub readings: Range<usize>,
    /// Probability that it was pressure.
    pub probability: f64,
    /// Largest part taken off, percent; at least this where readings lie below what the sensor measures.
    pub attenuation_percent: f64,
    /// The largest difference it made, mg/dL.
    pub depth_mg_dl: f64,
    /// Lowest reading, mg/dL; the sensor's limit where it lies beyond.
    pub nadir_mg_dl: f64,
    /// Whether a reading lies below the low threshold.
    pub shows_low: bool,
    /// The measured signs.
    pub signs: Signs,
    /// What speaks for and against, to be said in words.
    pub evidence: Vec<Evidence>,
}

/// Fewest readings from which a trace's noise can be told.
const FEWEST_READINGS: usize = 24;
/// Looked at from so long before a night, minutes: the log of sleep is not exact.
const BEFORE_NIGHT_MIN: f64 = 15.0;
/// Looked for at most so often in one night.
const MOST_IN_A_NIGHT: usize = 6;
/// Scores a dip must reach before and after it is made to fit.
const PROMISING: f64 = -3.0;
const WORTH_WEIGHING: f64 = 2.0;
/// Insulin so long before the fall, and so little after its start, can explain it, minutes.
const INSULIN_MIN: (f64, f64) = (150.0, 10.0);
/// Food from so soon after the onset can explain the recovery, minutes.
const FOOD_AFTER_MIN: f64 = 3.0;
/// A reading so far from a blood check still stands for it, minutes.
const CHECK_REACH_MIN: f64 = 10.0;

/// The possible pressure lows of one sensor, in time order.
///
/// Each night the dip is found under which the readings are likeliest (with prior), it is weighed, the trace is put
/// right there and looked at again. Readings that are not numbers, or not later than the one before, are passed over.
///
/// # Errors
/// `NoReadings`, or `TooFewReadings` where noise cannot be told from glucose.
pub fn pressure_lows(
    trace: &PressureTrace<'_>,
    known: &Known<'_>,
    params: &PressureParams,
) -> Result<Vec<PressureLow>, Refusal> {
    let usable = Usable::of(trace);
    match usable.index.len() {
        0 => return Err(Refusal::NoReadings),
        have if have < FEWEST_READINGS => {
            return Err(Refusal::TooFewReadings {
                have: have as u64,
                need: FEWEST_READINGS as u64,
            });
        }
        _ => {}
    }
    let readings = Readings {
        minute: usable.minute(),
        mg_dl: &usable.mg_dl,
        censor: &usable.censor,
    };
    let filter = Filter::fit(&readings);
    let mut followed = Followed::new(&readings, &filter);
    let mut nights = known.nights.to_vec();
    nights.sort_unstable_by_key(|night| (night.from, night.to));
    let person = Person {
        sensor: trace.sensor,
        usable: &usable,
        known,
    };
    let mut found: Vec<PressureLow> = Vec::new();
    let mut taken: Vec<Dip> = Vec::new();
    for night in nights {
        let (from, to) = (
            usable.minute_of(night.from) - BEFORE_NIGHT_MIN,
            usable.minute_of(night.to),
        );
        for _ in 0..MOST_IN_A_NIGHT {
            let Some((score, dip)) = followed.likeliest(from, to) else {
                break;
            };
            if score < PROMISING {
                break;
            }
            let (score, dip) = followed.refined(score, dip);
            if score < WORTH_WEIGHING {
                break;
            }
            if taken
                .iter()
                .all(|other| dip.end() <= other.on || other.end() <= dip.on)
            {
                found.extend(person.weighed(&followed, &dip, night, params));
                taken.push(dip);
            }
            followed.put_right(&dip);
        }
    }
    found.sort_by_key(|low| low.from);
    Ok(found)
}

/// Which of a trace's readings are touched.
///
/// * `readings`: how many the trace has.
pub fn pressure_mask(found: &[PressureLow], readings: usize) -> Vec<bool> {
    let mut mask = vec![false; readings];
    for touched in found.iter().filter_map(|low| mask_part(&low.readings, readings)) {
        mask[touched].fill(true);
    }
    mask
}

fn mask_part(touched: &Range<usize>, readings: usize) -> Option<Range<usize>> {
    (touched.start < readings).then(|| touched.start..touched.end.min(readings))
}

/// Readings that can be used, and where they stand in the trace.
struct Usable {
    index: Vec<usize>,
    at: Vec<u32>,
    mg_dl: Vec<f64>,
    censor: Vec<Censor>,
}

impl Usable {
    fn of(trace: &PressureTrace<'_>) -> Self {
        let mut usable = Usable {
            index: Vec::new(),
            at: Vec::new(),
            mg_dl: Vec::new(),
            censor: Vec::new(),
        };
        let rows = trace.at.iter().zip(trace.mg_dl).zip(trace.censor).enumerate();
        for (index, ((&at, &mg_dl), &censor)) in rows {
            if mg_dl.is_finite() && mg_dl > 0.0 && usable.at.last().is_none_or(|&last| at > last) {
                usable.index.push(index);
                usable.at.push(at);
                usable.mg_dl.push(mg_dl);
                usable.censor.push(censor);
            }
        }
        usable
    }

    fn minute_of(&self, at: u32) -> f64 {
        (f64::from(at) - f64::from(self.at[0])) / 60.0
    }

    fn second_of(&self, minute: f64) -> u32 {
        // A float beyond the column's years is held at their end.
        (f64::from(self.at[0]) + (minute * 60.0).round()) as u32
    }

    fn minute(&self) -> Vec<f64> {
        self.at.iter().map(|&at| self.minute_of(at)).collect()
    }
}

/// What is known of one person with one sensor.
struct Person<'a> {
    sensor: u32,
    usable: &'a Usable,
    known: &'a Known<'a>,
}

impl Person<'_> {
    fn weighed(
        &self,
        followed: &Followed<'_>,
        dip: &Dip,
        night: Night,
        params: &PressureParams,
    ) -> Option<PressureLow> {
        let touched = followed.after(dip.on)..followed.after(dip.end());
        if touched.is_empty() {
            return None;
        }
        let minute = &followed.readings.minute;
        let hidden = touched.clone().map(|k| {
            let part = dip.hidden(minute[k]);
            followed.mg_dl[k] * part / (1.0 - part)
        });
        let shown = &self.usable.mg_dl[touched.clone()];
        let nadir_mg_dl = shown.iter().copied().fold(f64::INFINITY, f64::min);
        let signs = Signs::of(followed, dip);
        let evidence = self.evidence(dip, &signs, night);
        let mut low = PressureLow {
            sensor: self.sensor,
            from: self.usable.second_of(dip.on),
            to: self.usable.second_of(dip.end()),
            readings: self.usable.index[touched.start]..self.usable.index[touched.end - 1] + 1,
            probability: 0.0,
            attenuation_percent: 100.0 * dip.part,
            depth_mg_dl: hidden.fold(0.0, f64::max),
            nadir_mg_dl,
            shows_low: nadir_mg_dl < params.low_mg_dl,
            signs,
            evidence,
        };
        low.probability = low.scored();
        params.marks(&low).then_some(low)
    }

    fn evidence(&self, dip: &Dip, signs: &Signs, night: Night) -> Vec<Evidence> {
        let minute = |&at: &u32| self.usable.minute_of(at);
        let within =
            |list: &[u32], from: f64, to: f64| list.iter().map(minute).any(|at| at > from && at < to);
        let mut evidence = vec![
            Evidence::Fell {
                mg_dl: signs.fall_mg_dl,
            },
            Evidence::CameBack {
                mg_dl: signs.rise_mg_dl,
            },
            Evidence::Copy {
                percent: 100.0 * signs.part,
            },
            if night.logged {
                Evidence::Asleep
            } else {
                Evidence::UsualNight
            },
        ];
        if signs.noise > 1.5 {
            evidence.push(Evidence::Noisy { times: signs.noise });
        }
        if signs.terms()[5] > 0.0 {
            evidence.push(Evidence::NewSensor { hours: signs.age_h });
        }
        if within(self.known.insulin, dip.on - INSULIN_MIN.0, dip.on + INSULIN_MIN.1) {
            evidence.push(Evidence::Insulin);
        }
        if within(self.known.food, dip.on + FOOD_AFTER_MIN, dip.end() + 5.0) {
            evidence.push(Evidence::Food);
        }
        evidence.extend(
            self.known
                .checks
                .iter()
                .filter_map(|check| self.check(check, dip)),
        );
        evidence
    }

    /// A blood check while at least half of the dip's part was hidden, against the nearest reading.
    fn check(&self, check: &Check, dip: &Dip) -> Option<Evidence> {
        let at = u32::try_from(check.at).ok()?;
        if check.censor != Censor::None || !check.mg_dl.is_finite() {
            return None;
        }
        let minute = self.usable.minute_of(at);
        let after = self.usable.at.partition_point(|&reading| reading < at);
        let nearest = [after.checked_sub(1), Some(after)]
            .into_iter()
            .flatten()
            .filter(|&k| k < self.usable.at.len())
            .min_by_key(|&k| self.usable.at[k].abs_diff(at))?;
        let its = self.usable.minute_of(self.usable.at[nearest]);
        let hidden = dip.hidden(its);
        if hidden < 0.5 * dip.part || (its - minute).abs() > CHECK_REACH_MIN {
            return None;
        }
        let sensor_mg_dl = self.usable.mg_dl[nearest];
        let weight = weigh::check_weight(check.mg_dl, sensor_mg_dl, hidden);
        Some(Evidence::BloodCheck {
            blood_mg_dl: check.mg_dl,
            sensor_mg_dl,
            weight,
        })
    }
}
