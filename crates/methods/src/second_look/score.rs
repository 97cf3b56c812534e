//! How well the second look would have done: told day by day from the past alone, held against what came.

use interstice_glucose::DAY_S;

use super::chance::{Event, FEWEST_EPISODES, above_since, is_episode};
use super::conformal::{LOWER, UPPER, Zone};
use super::look::near;
use super::moments::Moments;
use super::replay::{Dealt, Replay};
use super::{HORIZONS_MIN, LEVELS, level};

/// Horizons that are scored, minutes.
const SCORED_MIN: [u32; 4] = [30, 60, 120, 240];
/// Hours of the clock.
const HOURS: usize = 24;

/// How the forecasts of one horizon did.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct AtHorizon {
    /// Minutes ahead.
    pub minutes: u32,
    /// Forecasts with an outcome.
    pub forecasts: u64,
    /// Root of the mean squared error, mg/dL.
    pub rmse: f64,
    /// That of glucose staying as it is.
    pub rmse_persistence: f64,
    /// That of the person's own mean at that hour of the clock, from the past.
    pub rmse_clock: f64,
    /// That of the ridge alone.
    pub rmse_ridge: f64,
    /// Continuous ranked probability score over the levels of the fan, mg/dL.
    pub crps: f64,
    /// That of glucose staying as it is, give or take the person's own past changes over that time.
    pub crps_persistence: f64,
    /// Outcomes within the 80 % band: below 90 mg/dL, between, above 180; with how many there were.
    pub covered: [(u64, u64); 3],
    /// Outcomes within the 50 % band.
    pub within_half: u64,
    /// Outcomes within the 90 % band.
    pub within_nine_tenths: u64,
}

impl AtHorizon {
    /// Outcomes within the 80 % band, percent.
    pub fn covered_percent(&self) -> f64 {
        let (within, of) = self
            .covered
            .iter()
            .fold((0, 0), |sum, zone| (sum.0 + zone.0, sum.1 + zone.1));
        100.0 * within as f64 / (of as f64).max(1.0)
    }
}

/// How chances did.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct OfEvent {
    /// Chances told whose outcome is known.
    pub told: u64,
    /// How many came.
    pub came: u64,
    /// Mean squared error of the chance.
    pub brier: f64,
    /// That of the person's own rate until then, (came + 1) / (told + 2).
    pub brier_rate: f64,
    /// That of the rate over all of them, known only afterwards.
    pub brier_hindsight: f64,
}

/// A person's second look, scored.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Score {
    /// Horizons of 30, 60, 120 and 240 minutes.
    pub horizons: Vec<AtHorizon>,
    /// Coming back into range within three hours, once for each episode above it, when it has lasted a quarter of an hour.
    pub episodes: OfEvent,
    /// The same at every moment above range.
    pub back: OfEvent,
    /// A low within four hours, at every moment that is not low.
    pub low: OfEvent,
    /// Lived days told.
    pub days: u64,
    /// Moments told.
    pub moments: u64,
    /// Of them, moments with too few alike, of which the person would have been told nothing; they are scored all the same.
    pub too_few_alike: u64,
}

impl Score {
    /// Whether there were enough episodes for a chance to be told beside the person's own rate.
    pub fn has_episodes(&self) -> bool {
        self.episodes.told >= FEWEST_EPISODES as u64
    }
}

/// Scores the second look over a past, from the seventh day on.
pub fn score(moments: &Moments<'_>) -> Score {
    let mut score = Score {
        horizons: SCORED_MIN
            .map(|minutes| AtHorizon {
                minutes,
                ..AtHorizon::default()
            })
            .to_vec(),
        ..Score::default()
    };
    let Some(first) = moments.first_told() else {
        return score;
    };
    let mut replay = Replay::from_the_start(moments);
    let mut events = Events::default();
    for day in first..moments.days.len() {
        let mut today = None;
        let mut told = false;
        replay.day(moments, day, |dealt, replay| {
            let today = today.get_or_insert_with(|| Today::of(moments, replay, day));
            told = true;
            for (k, at) in score.horizons.iter_mut().enumerate() {
                add(at, &today.changes[k], today, dealt, moments);
            }
            events.add(dealt, moments);
            score.moments += 1;
            score.too_few_alike += u64::from(near(moments, &dealt.told.analogs).is_err());
        });
        score.days += u64::from(told);
    }
    for at in &mut score.horizons {
        let of = (at.forecasts as f64).max(1.0);
        for squares in [
            &mut at.rmse,
            &mut at.rmse_persistence,
            &mut at.rmse_clock,
            &mut at.rmse_ridge,
        ] {
            *squares = (*squares / of).sqrt();
        }
        at.crps /= of;
        at.crps_persistence /= of;
    }
    score.episodes = events.episodes.scored();
    score.back = events.back.scored();
    score.low = events.low.scored();
    score
}

/// What the plain forecasts know when a day begins.
struct Today {
    /// Levels of past changes, by scored horizon.
    changes: Vec<[f64; LEVELS]>,
    /// Mean of the past at each hour of the clock, mg/dL.
    by_hour: [f64; HOURS],
}

impl Today {
    fn of(moments: &Moments<'_>, replay: &Replay, day: usize) -> Self {
        let changes = SCORED_MIN
            .into_iter()
            .map(|minutes| {
                let mut past = replay.past_changes(place_of(minutes));
                past.sort_unstable_by(f64::total_cmp);
                std::array::from_fn(|place| crate::quantile(&past, level(place)).unwrap_or(0.0))
            })
            .collect();
        let laid = &moments.laid;
        let until = laid.first_from(moments.days[day].from);
        let mut sums = [(0.0, 0.0); HOURS];
        for i in 0..until {
            let sum = &mut sums[hour(moments, laid.at(i).into())];
            sum.0 += laid.mg_dl(i);
            sum.1 += 1.0;
        }
        let all = sums.iter().fold((0.0, 0.0), |a, b| (a.0 + b.0, a.1 + b.1));
        let by_hour = sums.map(|sum| {
            if sum.1 > 0.0 {
                sum.0 / sum.1
            } else {
                all.0 / f64::max(all.1, 1.0)
            }
        });
        Today { changes, by_hour }
    }
}

fn place_of(minutes: u32) -> usize {
    HORIZONS_MIN.iter().position(|&of| of == minutes).unwrap_or(0)
}

fn hour(moments: &Moments<'_>, at: i64) -> usize {
    let second = moments.laid.past.clock.wall(at).second_of_day();
    usize::try_from(second * HOURS as i64 / DAY_S)
        .unwrap_or(0)
        .min(HOURS - 1)
}

fn add(at: &mut AtHorizon, changes: &[f64; LEVELS], today: &Today, dealt: &Dealt, moments: &Moments<'_>) {
    let laid = &moments.laid;
    let Some(found) = laid.after(dealt.reading, at.minutes) else {
        return;
    };
    let h = place_of(at.minutes);
    let came = laid.came_mg_dl(found) - dealt.mg_dl;
    let ahead = i64::from(laid.at(dealt.reading)) + i64::from(at.minutes) * 60;
    let clock = today.by_hour[hour(moments, ahead)] - dealt.mg_dl;
    at.forecasts += 1;
    at.rmse += (came - dealt.told.centre[h]).powi(2);
    at.rmse_ridge += (came - dealt.told.ridge[h]).powi(2);
    at.rmse_persistence += came.powi(2);
    at.rmse_clock += (came - clock).powi(2);
    at.crps += crps(&dealt.fan[h], came);
    at.crps_persistence += crps(changes, came);
    let within =
        |lower: usize, upper: usize| u64::from((dealt.fan[h][lower]..=dealt.fan[h][upper]).contains(&came));
    at.within_half += within(4, LEVELS - 5);
    at.within_nine_tenths += within(0, LEVELS - 1);
    let covered = &mut at.covered[Zone::of(dealt.mg_dl) as usize];
    covered.1 += 1;
    covered.0 += within(LOWER, UPPER);
}

/// Twice the mean over the levels of the quantile loss (Gneiting and Raftery 2007, J Am Stat Assoc 102:359; the integral
/// over levels taken as a sum).
fn crps(fan: &[f64; LEVELS], came: f64) -> f64 {
    let loss = |(place, value): (usize, &f64)| {
        let off = came - value;
        (level(place) - if off < 0.0 { 1.0 } else { 0.0 }) * off
    };
    2.0 * fan.iter().enumerate().map(loss).sum::<f64>() / LEVELS as f64
}

#[derive(Default)]
struct Told {
    chances: Vec<(f64, f64, bool)>,
    came: u64,
}

impl Told {
    fn add(&mut self, chance: f64, came: bool) {
        let rate = (self.came as f64 + 1.0) / (self.chances.len() as f64 + 2.0);
        self.chances.push((chance, rate, came));
        self.came += u64::from(came);
    }

    fn scored(&self) -> OfEvent {
        let of = (self.chances.len() as f64).max(1.0);
        let rate = self.came as f64 / of;
        let square = |chance: f64, came: bool| (chance - if came { 1.0 } else { 0.0 }).powi(2);
        let mean =
            |of_one: &dyn Fn(&(f64, f64, bool)) -> f64| self.chances.iter().map(of_one).sum::<f64>() / of;
        OfEvent {
            told: self.chances.len() as u64,
            came: self.came,
            brier: mean(&|of| square(of.0, of.2)),
            brier_rate: mean(&|of| square(of.1, of.2)),
            brier_hindsight: mean(&|of| square(rate, of.2)),
        }
    }
}

/// Chances as they were told.
#[derive(Default)]
struct Events {
    episodes: Told,
    back: Told,
    low: Told,
    last: Option<usize>,
}

impl Events {
    fn add(&mut self, dealt: &Dealt, moments: &Moments<'_>) {
        let laid = &moments.laid;
        if let (Some(chance), Some(came)) = (dealt.back, Event::Back.came(laid, dealt.reading)) {
            self.back.add(chance, came);
            let since = above_since(laid, dealt.reading);
            if is_episode(laid, dealt.reading) && self.last != Some(since) {
                self.last = Some(since);
                self.episodes.add(chance, came);
            }
        }
        if let (Some(chance), Some(came)) = (dealt.low, Event::Low.came(laid, dealt.reading)) {
            self.low.add(chance, came);
        }
    }
}
