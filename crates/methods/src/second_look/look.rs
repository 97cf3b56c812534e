//! One moment looked at a second time.

use interstice_glucose::Second;

use super::analogs::{Analog, Index, weighted_quantiles};
use super::chance::{Chance, EpisodeRate, Event, FEWEST_EPISODES, episodes, wilson, worth};
use super::features::shape;
use super::forecast::Model;
use super::moments::{After, Moments};
use super::replay::{Dealt, Replay};
use super::{FEWEST_DAYS, HORIZONS, HORIZONS_MIN, LEVELS};
use crate::day::LivedDay;
use crate::estimate::{P95, QUARTILE};

/// Moments nearer than this are called alike: such as 50 mg/dL apart in level alone, or 1.25 mg/dL a minute in slope (ours).
const ALIKE: f64 = 1.25;
/// Fewest of them for an answer (ours).
const FEWEST_ALIKE: usize = 10;
/// Days they must come from (ours).
const FEWEST_ALIKE_DAYS: usize = 3;
/// Fewest corrections for what followed them (ours).
const FEWEST_CORRECTED: usize = 10;
/// Half an hour: a reading further back is not 'now'.
const STALE_S: Second = 1800;
/// What followed a moment is over after so long, seconds.
const OVER_S: Second = 4 * 3600 + 900;
/// Change over a quarter of an hour under which glucose counts as level, mg/dL (ours).
const LEVEL_MG_DL: f64 = 3.0;
/// Levels told of each time: 5, 10, 25, 50, 75, 90 and 95 %.
const TOLD: [usize; 7] = [0, 1, 4, 9, 14, 17, 18];

/// Why a second look is refused.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum NoLook {
    /// Nothing near the moment.
    #[error("there is no reading within the half hour before that moment")]
    NoReading,
    /// A gap in the last hour.
    #[error("the hour before that moment has a gap; its shape cannot be compared")]
    Gap,
    /// Too short a past.
    #[error("the fan begins on the seventh day; this is day {day} with readings")]
    TooEarly {
        /// Which day it is.
        day: i64,
    },
    /// Too little that could be learned from.
    #[error("too few past moments are followed by readings without a gap")]
    TooLittle,
    /// Too few alike.
    #[error("too few alike: {moments} past moments on {days} days; {need} on {need_days} days are needed")]
    TooFewAlike {
        /// Moments there are.
        moments: usize,
        /// Days they are on.
        days: usize,
        /// Moments needed.
        need: usize,
        /// Days needed.
        need_days: usize,
    },
}

/// How many past moments are alike, and how alike they are.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Alike {
    /// Past moments looked through.
    pub of: usize,
    /// Nearest ones that are alike, a hundred at most.
    pub moments: usize,
    /// Lived days they are on.
    pub days: usize,
    /// Half of them are at most so far off in level, mg/dL.
    pub level_mg_dl: f64,
    /// In slope over the last quarter of an hour, mg/dL a minute.
    pub slope_mg_dl_min: f64,
    /// In clock time, minutes.
    pub clock_min: f64,
}

/// A fan at one time ahead, mg/dL.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FanPoint {
    /// Minutes ahead.
    pub minutes: u32,
    /// 5, 10, 25, 50, 75, 90 and 95 % of outcomes lie below.
    pub mg_dl: [f64; 7],
}

/// What followed moments alike in which a correction was taken.
#[derive(Clone, Debug, PartialEq)]
pub struct Followed {
    /// How many.
    pub moments: usize,
    /// Lived days they are on.
    pub days: usize,
    /// What followed, counted and not modelled.
    pub fan: Vec<FanPoint>,
    /// How often a low followed within four hours.
    pub low: Option<Chance>,
    /// How often glucose was back in range within three hours, where it was above.
    pub back: Option<Chance>,
}

/// The answer.
#[derive(Clone, Debug, PartialEq)]
pub struct SecondLook {
    /// The reading looked at.
    pub at: Second,
    /// Glucose there, mg/dL.
    pub mg_dl: f64,
    /// Its change over the last quarter of an hour, mg/dL a minute.
    pub slope_mg_dl_min: f64,
    /// Whether insulin is written down, so that moments of waiting are known as such.
    pub insulin_is_written: bool,
    /// Moments alike.
    pub alike: Alike,
    /// What followed when the person waited.
    pub fan: Vec<FanPoint>,
    /// Of coming back into range within three hours; `None` where glucose is not above it, or with fewer than 40 past
    /// episodes.
    pub back: Option<Chance>,
    /// How past episodes above range went; `None` where glucose is not above it.
    pub episodes: Option<EpisodeRate>,
    /// Of a low within four hours; `None` where glucose is low.
    pub low: Option<Chance>,
    /// Median minutes until glucose turned; `None` where it is level, or more than half did not turn within four hours.
    pub turn_min: Option<f64>,
    /// What followed when a correction was taken instead; `None` where too few moments alike were such.
    pub corrected: Option<Followed>,
    /// Moments alike in which one was.
    pub corrected_moments: usize,
}

/// What the looks at one lived day rest on, knowing nothing of it.
#[derive(Debug)]
pub struct Day {
    replay: Replay,
    model: Model,
    corrected: Index,
    from: Second,
    to: Second,
    rests_on: u64,
}

impl Day {
    /// Of the lived day of the last reading by a moment.
    ///
    /// # Errors
    /// As [`NoLook`] says.
    pub fn of(moments: &Moments<'_>, at: Second) -> Result<Self, NoLook> {
        let (_, day) = reading_at(moments, at)?;
        let (mut replay, first) = Replay::before_day(moments, day);
        for past in first..day {
            replay.day(moments, past, |_, _| ());
        }
        let model = replay.model(moments, day).ok_or(NoLook::TooLittle)?;
        replay.learn_by(moments, model.known_before);
        let LivedDay { from, whole_s, .. } = moments.days[day];
        Ok(Day {
            replay,
            model,
            corrected: Index::of(moments, |place| moments.all[place].after == After::Corrected),
            from,
            // The readings may end before it does.
            to: from + whole_s,
            rests_on: moments.known_by(from),
        })
    }

    /// Whether looks at a moment can rest on this: it is of this day, and nothing known by its beginning differs.
    pub fn is_of(&self, moments: &Moments<'_>, at: Second) -> bool {
        let read = moments
            .laid
            .last_by(at)
            .map(|reading| Second::from(moments.laid.at(reading)));
        read.is_some_and(|read| (self.from..self.to).contains(&read))
            && moments.known_by(self.from) == self.rests_on
    }

    /// Looks at a moment of that day, or the last reading before it, a second time.
    ///
    /// * `moments`: those the day was made of, or ones that differ only after its beginning.
    ///
    /// # Errors
    /// As [`NoLook`] says; `NoReading` where the moment is of another day.
    pub fn look(&self, moments: &Moments<'_>, at: Second) -> Result<SecondLook, NoLook> {
        let (reading, _) = reading_at(moments, at)?;
        if !(self.from..self.to).contains(&Second::from(moments.laid.at(reading))) {
            return Err(NoLook::NoReading);
        }
        let told = self.replay.forecast(moments, &self.model, reading);
        let alike = alike(moments, reading, &told.analogs, self.model.there_are)?;
        let dealt = self.replay.deal(moments, reading, told);
        Ok(self.answer(moments, &dealt, alike))
    }

    fn answer(&self, moments: &Moments<'_>, dealt: &Dealt, alike: Alike) -> SecondLook {
        let laid = &moments.laid;
        let (mg_dl, reading) = (dealt.mg_dl, dealt.reading);
        let worth = worth(&dealt.told, moments).max(1.0);
        let above = mg_dl > laid.past.range_mg_dl.1;
        // What followed must have been over before the day began.
        let before = moments.first_from(self.model.known_before - OVER_S);
        let from = self.model.from.min(before);
        let episodes = above.then(|| episodes(moments, from..before, self.model.known_before));
        let enough = episodes.is_some_and(|rate| rate.of >= FEWEST_EPISODES);
        let near: Vec<Analog> = self
            .corrected
            .nearest(&shape(laid, reading), from..before, usize::MAX)
            .into_iter()
            .filter(|analog| analog.distance2 <= ALIKE * ALIKE)
            .collect();
        SecondLook {
            at: Second::from(laid.at(reading)),
            mg_dl,
            slope_mg_dl_min: slope(moments, reading),
            insulin_is_written: moments.insulin_is_written(),
            alike,
            fan: fan(mg_dl, &dealt.fan),
            back: dealt.back.filter(|_| enough).map(|share| wilson(share, worth)),
            episodes,
            low: dealt.low.map(|share| wilson(share, worth)),
            turn_min: turn(moments, dealt),
            corrected_moments: near.len(),
            corrected: (near.len() >= FEWEST_CORRECTED).then(|| followed(moments, mg_dl, &near)),
        }
    }
}

/// Looks at a moment, or the last reading before it, a second time, knowing nothing of what came after its day began but the
/// hours before it. For several looks at one day, see [`Day`].
///
/// # Errors
/// As [`NoLook`] says.
pub fn look(moments: &Moments<'_>, at: Second) -> Result<SecondLook, NoLook> {
    Day::of(moments, at)?.look(moments, at)
}

/// The reading to look at, and the place of its lived day.
fn reading_at(moments: &Moments<'_>, at: Second) -> Result<(usize, usize), NoLook> {
    let laid = &moments.laid;
    let reading = laid.last_by(at).ok_or(NoLook::NoReading)?;
    let read = Second::from(laid.at(reading));
    if at - read > STALE_S {
        return Err(NoLook::NoReading);
    }
    if !laid.has_last_hour(reading) {
        return Err(NoLook::Gap);
    }
    let day = moments.day_of(read).ok_or(NoLook::NoReading)?;
    if (day as i64) < FEWEST_DAYS {
        return Err(NoLook::TooEarly { day: day as i64 + 1 });
    }
    Ok((reading, day))
}

fn slope(moments: &Moments<'_>, reading: usize) -> f64 {
    let laid = &moments.laid;
    let ago = laid.before(reading, 15).unwrap_or(laid.mg_dl(reading));
    (laid.mg_dl(reading) - ago) / 15.0
}

fn alike(
    moments: &Moments<'_>,
    reading: usize,
    analogs: &[Analog],
    there_are: usize,
) -> Result<Alike, NoLook> {
    let laid = &moments.laid;
    let (near, days) = near(moments, analogs)?;
    let middle = |of: &dyn Fn(usize) -> f64| {
        let mut off: Vec<f64> = near.iter().map(|&i| of(i).abs()).collect();
        crate::quantile::median(&mut off)
    };
    let second = |i: usize| laid.past.clock.wall(laid.at(i).into()).second_of_day() as f64;
    let round = |seconds: f64| (seconds.abs()).min(86_400.0 - seconds.abs());
    Ok(Alike {
        of: there_are,
        moments: near.len(),
        days,
        level_mg_dl: middle(&|i| laid.mg_dl(i) - laid.mg_dl(reading)),
        slope_mg_dl_min: middle(&|i| slope(moments, i) - slope(moments, reading)),
        clock_min: middle(&|i| round(second(i) - second(reading)) / 60.0),
    })
}

/// Readings of the moments that are alike, and on how many days they are.
pub(super) fn near(moments: &Moments<'_>, analogs: &[Analog]) -> Result<(Vec<usize>, usize), NoLook> {
    let near: Vec<usize> = analogs
        .iter()
        .filter(|analog| analog.distance2 <= ALIKE * ALIKE)
        .map(|analog| moments.reading(analog.place))
        .collect();
    let days = days(moments, near.iter().map(|&i| moments.laid.at(i)));
    if near.len() < FEWEST_ALIKE || days < FEWEST_ALIKE_DAYS {
        return Err(NoLook::TooFewAlike {
            moments: near.len(),
            days,
            need: FEWEST_ALIKE,
            need_days: FEWEST_ALIKE_DAYS,
        });
    }
    Ok((near, days))
}

fn days(moments: &Moments<'_>, at: impl Iterator<Item = u32>) -> usize {
    let days: std::collections::BTreeSet<_> = at.map(|at| moments.day_of(at.into())).collect();
    days.len()
}

fn fan(mg_dl: f64, changes: &[[f64; LEVELS]; HORIZONS]) -> Vec<FanPoint> {
    let points = HORIZONS_MIN.into_iter().zip(changes);
    points
        .map(|(minutes, changes)| FanPoint {
            minutes,
            mg_dl: TOLD.map(|place| (mg_dl + changes[place]).max(0.0)),
        })
        .collect()
}

/// Normal deviates at those levels.
const DEVIATES: [f64; 7] = [
    -P95,
    -1.281_551_565_544_600_4,
    -QUARTILE,
    0.0,
    QUARTILE,
    1.281_551_565_544_600_4,
    P95,
];

/// A fan at one time ahead made wider by an error of its own that what followed does not show: a normal one, of a standard
/// deviation that is such a part of glucose. Each level goes out from the middle as if it and the error were both normal.
///
/// ```
/// use interstice_methods::second_look::{FanPoint, blurred};
///
/// let sure = FanPoint { minutes: 60, mg_dl: [100.0; 7] };
/// let unsure = blurred(&sure, 0.1);
/// assert_eq!(unsure.mg_dl[3], 100.0);
/// assert!((unsure.mg_dl[5] - (100.0 + 10.0 * 1.281_551_565_544_600_4)).abs() < 1e-9);
/// ```
pub fn blurred(point: &FanPoint, part: f64) -> FanPoint {
    let middle = point.mg_dl[TOLD.len() / 2];
    let mut wide = *point;
    for (value, deviate) in wide.mg_dl.iter_mut().zip(DEVIATES) {
        let off = libm::hypot(*value - middle, deviate * part * middle);
        *value = (middle + off * deviate.signum()).max(0.0);
    }
    wide.mg_dl[TOLD.len() / 2] = middle;
    wide
}

/// Median time to the top of a rise or the bottom of a fall, over the paths.
fn turn(moments: &Moments<'_>, dealt: &Dealt) -> Option<f64> {
    let change = slope(moments, dealt.reading) * 15.0;
    if change.abs() < LEVEL_MG_DL {
        return None;
    }
    let last = f64::from(HORIZONS_MIN[HORIZONS - 1]);
    let times: Vec<(f64, f64)> = dealt
        .told
        .paths
        .iter()
        .zip(&dealt.told.analogs)
        .filter_map(|(path, analog)| {
            let path: Option<Vec<f64>> = path.iter().copied().collect();
            let mut best = (0.0, 0.0);
            for (value, minutes) in path?.into_iter().zip(HORIZONS_MIN) {
                if value * change.signum() > best.0 {
                    best = (value * change.signum(), f64::from(minutes));
                }
            }
            Some((best.1, analog.weight))
        })
        .collect();
    if times.is_empty() {
        return None;
    }
    let [median] = weighted_quantiles(times, [0.5]);
    (median < last).then_some(median)
}

/// What followed some moments, counted.
fn followed(moments: &Moments<'_>, mg_dl: f64, near: &[Analog]) -> Followed {
    let laid = &moments.laid;
    let levels = TOLD.map(super::level);
    let all: Vec<_> = near
        .iter()
        .map(|analog| laid.changes(moments.reading(analog.place), Second::MAX))
        .collect();
    let points = HORIZONS_MIN.into_iter().enumerate().filter_map(|(h, minutes)| {
        let known: Vec<(f64, f64)> = all
            .iter()
            .filter_map(|changes| Some((changes[h]?, 1.0)))
            .collect();
        (known.len() >= FEWEST_CORRECTED).then(|| FanPoint {
            minutes,
            mg_dl: weighted_quantiles(known, levels).map(|change| (mg_dl + change).max(0.0)),
        })
    });
    let days = days(moments, near.iter().map(|analog| moments.at(analog.place)));
    let chance = |event: Event| {
        let came = near.iter().filter_map(|analog| {
            let reading = moments.reading(analog.place);
            event
                .is_asked(laid.mg_dl(reading), laid.past.range_mg_dl)
                .then(|| event.came(laid, reading))?
        });
        let (met, of) = came.fold((0.0, 0.0), |sum, came| {
            (sum.0 + f64::from(u8::from(came)), sum.1 + 1.0)
        });
        (of > 0.0).then(|| wilson(met / of, f64::min(of, days as f64)))
    };
    Followed {
        moments: near.len(),
        days,
        fan: points.collect(),
        low: chance(Event::Low),
        back: (mg_dl > laid.past.range_mg_dl.1)
            .then(|| chance(Event::Back))
            .flatten(),
    }
}
