//! The days lived through again: each with a model that knows nothing of it, bands learned as outcomes come in.

use std::collections::VecDeque;

use interstice_glucose::Second;
use rayon::prelude::*;

use super::analogs::Index;
use super::chance::{Event, Odds};
use super::conformal::{Stretches, Zone};
use super::features::features;
use super::forecast::{Forecast, Model};
use super::moments::Moments;
use super::ridge::Sums;
use super::spread::{Row, Spread};
use super::{HORIZONS, HORIZONS_MIN, LEVELS};

/// Lived days over which bands are learned before a look.
pub const REPLAY_DAYS: usize = 28;
/// Lived days before those that the ridge is learned from: a year, people change.
const RIDGE_DAYS: usize = 365;
/// Lived days before a day in which moments alike are looked for (ours): a year and a month, people change.
const SEARCHED_DAYS: usize = 400;
/// Lived days before a day beyond which nothing is looked at: searched, from the first day that is lived through again, and
/// a week for the mean before the first of them.
pub const REACH_DAYS: usize = SEARCHED_DAYS + REPLAY_DAYS + 8;
/// A moment is learned from when its last horizon is over.
const LEARNED_S: Second = 4 * 3600 + 900;
/// Room after a horizon for the reading that tells its outcome.
const LATE_S: u32 = 450;

/// A moment as it was told.
#[derive(Clone, Debug)]
pub struct Dealt {
    /// Which reading.
    pub reading: usize,
    /// Glucose there, mg/dL.
    pub mg_dl: f64,
    /// What was expected, before calibration.
    pub told: Forecast,
    /// The fan as shown: changes, mg/dL.
    pub fan: [[f64; LEVELS]; HORIZONS],
    /// Chance of coming back into range within three hours, where it was above.
    pub back: Option<f64>,
    /// Chance of a low within four hours, where it was not low.
    pub low: Option<f64>,
}

/// What waits for its outcome.
#[derive(Debug)]
struct Waiting {
    at: u32,
    reading: usize,
    zone: Zone,
    fan: [[f64; LEVELS]; HORIZONS],
    back: Option<f64>,
    low: Option<f64>,
}

/// Days lived through again. Each call is given the same moments, or ones that differ only after the day told.
#[derive(Debug)]
pub struct Replay {
    index: Index,
    sums: Sums,
    rows: Vec<Row>,
    /// First moment not yet learned from.
    next: usize,
    stretches: Stretches,
    back: Odds,
    low: Odds,
    waiting: VecDeque<Waiting>,
    /// For each horizon, and for both events, how many of those waiting are dealt with.
    dealt: [usize; HORIZONS + 2],
}

impl Replay {
    /// Begins with everything before the first day to be told.
    pub fn from_the_start(moments: &Moments<'_>) -> Self {
        Replay::new(moments, 0)
    }

    /// Begins so that the bands are learned over four weeks before a day, by its place, and the ridge over a year before
    /// them; gives the first day to live through too.
    pub fn before_day(moments: &Moments<'_>, day: usize) -> (Self, usize) {
        let first_told = moments.first_told().unwrap_or(usize::MAX);
        let first = day.saturating_sub(REPLAY_DAYS).max(first_told);
        let from = moments
            .days
            .get(first.saturating_sub(RIDGE_DAYS).min(moments.days.len() - 1))
            .map_or(0, |day| moments.first_from(day.from));
        (Replay::new(moments, from), first)
    }

    fn new(moments: &Moments<'_>, next: usize) -> Self {
        Replay {
            index: Index::of(moments, |place| moments.counts_as_waiting(place)),
            sums: Sums::new(),
            rows: Vec::new(),
            next,
            stretches: Stretches::default(),
            back: Odds::default(),
            low: Odds::default(),
            waiting: VecDeque::new(),
            dealt: [0; HORIZONS + 2],
        }
    }

    /// The model of a lived day, from what was known before it began; `None` while that is too little.
    pub(super) fn model(&mut self, moments: &Moments<'_>, day: usize) -> Option<Model> {
        let known_before = moments.days.get(day)?.from;
        while self.next < moments.len() && Second::from(moments.at(self.next)) + LEARNED_S < known_before {
            self.learn_from(moments, self.next);
            self.next += 1;
        }
        let ridge = self.sums.fit()?;
        let spread = Spread::fit(&ridge, &self.sums, &self.rows)?;
        let oldest = moments.days[day.saturating_sub(SEARCHED_DAYS)].from;
        let from = moments.first_from(oldest);
        let before = moments.first_from(known_before - 2 * 3600);
        Some(Model {
            ridge,
            spread,
            known_before,
            from,
            before,
            there_are: self.index.between(from, before),
        })
    }

    fn learn_from(&mut self, moments: &Moments<'_>, place: usize) {
        if !moments.counts_as_waiting(place) {
            return;
        }
        let (laid, reading) = (&moments.laid, moments.reading(place));
        let row = Row {
            features: features(laid, reading),
            changes: laid.changes(reading, Second::MAX),
        };
        self.sums.add(&row.features, &row.changes);
        self.rows.push(row);
    }

    /// Changes of the rows learned from, at a horizon by its place.
    pub(super) fn past_changes(&self, h: usize) -> Vec<f64> {
        self.rows.iter().filter_map(|row| row.changes[h]).collect()
    }

    /// Lives through a day: every moment of it that counts is told, then learned from once its outcomes are in.
    pub fn day(&mut self, moments: &Moments<'_>, day: usize, mut see: impl FnMut(&Dealt, &Self)) {
        let Some(model) = self.model(moments, day) else {
            return;
        };
        let (from, to) = (moments.days[day].from, moments.days[day].to);
        self.learn_by(moments, model.known_before);
        let places: Vec<usize> = (moments.first_from(from)..moments.first_from(to))
            .filter(|&place| moments.counts_as_waiting(place))
            .collect();
        let told: Vec<(usize, Forecast)> = places
            .par_iter()
            .map(|&place| {
                let reading = moments.reading(place);
                (reading, model.forecast(moments, &self.index, reading))
            })
            .collect();
        for (reading, told) in told {
            let dealt = self.deal(moments, reading, told);
            see(&dealt, self);
            self.waiting.push_back(Waiting {
                at: moments.laid.at(reading),
                reading,
                zone: Zone::of(dealt.mg_dl),
                fan: dealt.fan,
                back: dealt.back.and_then(|_| share(moments, Event::Back, &dealt)),
                low: dealt.low.and_then(|_| share(moments, Event::Low, &dealt)),
            });
        }
    }

    /// Shows a forecast with what was learned by the beginning of its day.
    pub(super) fn deal(&self, moments: &Moments<'_>, reading: usize, told: Forecast) -> Dealt {
        let laid = &moments.laid;
        let mg_dl = laid.mg_dl(reading);
        let zone = Zone::of(mg_dl);
        let mut fan = told.fan;
        for (h, fan) in fan.iter_mut().enumerate() {
            *fan = self.stretches.at(h, zone).applied(fan);
        }
        let range = laid.past.range_mg_dl;
        let chance = |event: Event, odds: &Odds| {
            let asked = event.is_asked(mg_dl, range);
            asked
                .then(|| event.share(&told, mg_dl, range))
                .flatten()
                .map(|share| odds.right(share))
        };
        Dealt {
            reading,
            mg_dl,
            fan,
            back: chance(Event::Back, &self.back),
            low: chance(Event::Low, &self.low),
            told,
        }
    }

    /// The forecast of a reading by a model.
    pub(super) fn forecast(&self, moments: &Moments<'_>, model: &Model, reading: usize) -> Forecast {
        model.forecast(moments, &self.index, reading)
    }

    /// Learns from every outcome that is in by an instant.
    pub(super) fn learn_by(&mut self, moments: &Moments<'_>, by: Second) {
        let laid = &moments.laid;
        let is_in = |waiting: &Waiting, minutes: u32| Second::from(waiting.at + minutes * 60 + LATE_S) <= by;
        for (h, minutes) in HORIZONS_MIN.into_iter().enumerate() {
            while let Some(waiting) = self.waiting.get(self.dealt[h]).filter(|of| is_in(of, minutes)) {
                self.dealt[h] += 1;
                if let Some(found) = laid.after(waiting.reading, minutes) {
                    let came = laid.came_mg_dl(found) - laid.mg_dl(waiting.reading);
                    self.stretches.learn(h, waiting.zone, &waiting.fan[h], came);
                }
            }
        }
        for (k, event) in [Event::Back, Event::Low].into_iter().enumerate() {
            while let Some(waiting) = self
                .waiting
                .get(self.dealt[HORIZONS + k])
                .filter(|of| is_in(of, event.minutes()))
            {
                self.dealt[HORIZONS + k] += 1;
                let (share, odds) = match event {
                    Event::Back => (waiting.back, &mut self.back),
                    Event::Low => (waiting.low, &mut self.low),
                };
                if let (Some(share), Some(came)) = (share, event.came(laid, waiting.reading)) {
                    odds.learn(share, came);
                }
            }
        }
        let over = self.dealt.iter().copied().min().unwrap_or(0);
        self.waiting.drain(..over);
        for dealt in &mut self.dealt {
            *dealt -= over;
        }
    }
}

fn share(moments: &Moments<'_>, event: Event, dealt: &Dealt) -> Option<f64> {
    event.share(&dealt.told, dealt.mg_dl, moments.laid.past.range_mg_dl)
}
