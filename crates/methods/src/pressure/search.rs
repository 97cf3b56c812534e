//! Looking for the likeliest dip of a night.

use rayon::prelude::*;

use super::dip::{Course, Dip, HELD_MIN};
use super::filter::{Filter, Readings, State, TAIL_POWER, tail};

/// Readings this long after the release still speak, minutes.
const TAIL_MIN: f64 = 60.0;
/// Neighbourhood whose noise counts, minutes each way. Shorter, and an event would raise its own noise.
const AROUND_MIN: f64 = 120.0;
/// Squared misses count as this at most when noise is measured, in variances.
const LARGEST_RATIO: f64 = 9.0;
/// Least fall and least rise for a closer look: mg/dL, and part of the reading.
const LEAST_CHANGE: (f64, f64) = (8.0, 0.07);
/// A silence this long hides where a fall begins, minutes.
const BLIND_FALL_MIN: f64 = 20.0;
/// A silence this long hides where a recovery begins, minutes.
const BLIND_RISE_MIN: f64 = 60.0;
/// Parts tried first.
const PARTS: [f64; 3] = [0.16, 0.30, 0.50];
/// Time constant tried first, minutes.
const CONSTANT_MIN: f64 = 4.0;
/// Fewest onsets a thread tries at once.
const ONSETS_AT_ONCE: usize = 16;
/// How long after a dip the filter may still feel it, minutes.
const FORGOTTEN_MIN: f64 = 1440.0;

/// A trace as it stands (what was found is put right) and how the filter follows it.
#[derive(Clone, Debug)]
pub(super) struct Followed<'a> {
    pub(super) readings: &'a Readings<'a>,
    pub(super) filter: &'a Filter,
    /// Values with the dips found so far taken out, mg/dL.
    pub(super) mg_dl: Vec<f64>,
    /// State predicted for each reading.
    predicted: Vec<State>,
    /// Squared miss of each reading over its variance.
    pub(super) ratio: Vec<f64>,
    /// Noise around each reading over the trace's usual, 1 or more.
    around: Vec<f64>,
}

/// What readings under a dip have said so far.
#[derive(Clone, Copy, Debug)]
struct Telling {
    /// Predicted for the next one.
    state: State,
    course: Course,
    sum: f64,
    // Logarithms of sixteen factors at a time are taken of their product.
    given_back: f64,
    likelier: f64,
    factors: u32,
}

impl Telling {
    fn new(state: State, course: Course) -> Self {
        Telling {
            state,
            course,
            sum: 0.0,
            given_back: 1.0,
            likelier: 1.0,
            factors: 0,
        }
    }

    /// Hears reading `k`, the one after that heard last.
    #[inline]
    fn hear(&mut self, followed: &Followed<'_>, k: usize, noise: f64) {
        let filter = followed.filter;
        let scale = 1.0 / (1.0 - self.course.hidden(followed.readings.minute[k]));
        let miss = filter.miss(
            &self.state,
            followed.mg_dl[k] * scale,
            followed.readings.censor[k],
        );
        let with = miss * miss / filter.variance[k];
        self.given_back *= scale;
        self.likelier *= tail(followed.ratio[k] / noise) / tail(with / noise);
        self.factors += 1;
        if self.factors == 16 {
            self.sum += libm::log(self.given_back) + TAIL_POWER * libm::log(self.likelier);
            (self.given_back, self.likelier, self.factors) = (1.0, 1.0, 0);
        }
        self.state = filter.after(k, &self.state, miss);
    }

    /// The same where pressure is let go after so many minutes, all readings heard lying before that.
    fn let_go(self, held: f64) -> Self {
        Telling {
            course: self.course.let_go(held),
            ..self
        }
    }

    fn log_ratio(&self) -> f64 {
        self.sum + libm::log(self.given_back) + TAIL_POWER * libm::log(self.likelier)
    }
}

impl<'a> Followed<'a> {
    pub(super) fn new(readings: &'a Readings<'a>, filter: &'a Filter) -> Self {
        let count = readings.minute.len();
        let mut followed = Followed {
            readings,
            filter,
            mg_dl: readings.mg_dl.to_vec(),
            predicted: vec![State::default(); count],
            ratio: vec![0.0; count],
            around: Vec::new(),
        };
        followed.follow(0, count);
        followed.around = followed.noise_around();
        followed
    }

    fn follow(&mut self, from: usize, to: usize) {
        let Some(mut state) = self.predicted.get(from).copied() else {
            return;
        };
        for k in from..to {
            self.predicted[k] = state;
            let miss = self.filter.miss(&state, self.mg_dl[k], self.readings.censor[k]);
            self.ratio[k] = miss * miss / self.filter.variance[k];
            state = self.filter.after(k, &state, miss);
        }
    }

    /// First reading after this minute.
    pub(super) fn after(&self, minute: f64) -> usize {
        self.readings.minute.partition_point(|&at| at <= minute)
    }

    /// First reading at or after this minute.
    pub(super) fn from(&self, minute: f64) -> usize {
        self.readings.minute.partition_point(|&at| at < minute)
    }

    fn noise_around(&self) -> Vec<f64> {
        let mut sums = vec![0.0];
        for ratio in &self.ratio {
            sums.push(sums[sums.len() - 1] + ratio.min(LARGEST_RATIO));
        }
        let (mut from, mut to) = (0, 0);
        let minute = &self.readings.minute;
        (0..minute.len())
            .map(|k| {
                while minute[from] < minute[k] - AROUND_MIN {
                    from += 1;
                }
                while to < minute.len() && minute[to] <= minute[k] + AROUND_MIN {
                    to += 1;
                }
                ((sums[to] - sums[from]) / (to - from) as f64).max(1.0)
            })
            .collect()
    }

    /// Noise around a dip without the dip itself, over the trace's usual; drawn to 1 by three readings' worth.
    pub(super) fn noise_beside(&self, dip: &Dip) -> f64 {
        let (mut sum, mut count) = (3.0, 3.0);
        for k in self.after(dip.on - AROUND_MIN)..self.from(dip.end() + AROUND_MIN) {
            let at = self.readings.minute[k];
            if at <= dip.on - 1.0 || at >= dip.end() + 11.0 {
                sum += self.ratio[k].min(16.0);
                count += 1.0;
            }
        }
        sum / count
    }

    /// How much likelier the readings are with the dip than without, as a natural logarithm.
    ///
    /// Both are followed by the same filter; under the dip what the sensor hid is given back first. Tails are
    /// Student's t; `noise` widens them.
    pub(super) fn log_ratio(&self, dip: &Dip, noise: f64) -> f64 {
        let first = self.after(dip.on);
        match self.predicted.get(first) {
            Some(&state) => self.told(Telling::new(state, Course::new(*dip)), first, dip, noise),
            None => f64::NEG_INFINITY,
        }
    }

    /// The same, told as far as the readings before `from` already.
    fn told(&self, mut telling: Telling, from: usize, dip: &Dip, noise: f64) -> f64 {
        let last = dip.off() + TAIL_MIN;
        for k in from..self.mg_dl.len() {
            if self.readings.minute[k] > last {
                break;
            }
            telling.hear(self, k, noise);
        }
        telling.log_ratio()
    }

    /// Score of a dip: log likelihood ratio and prior.
    fn score(&self, dip: &Dip) -> f64 {
        let prior = dip.log_prior();
        let first = self.after(dip.on);
        if prior == f64::NEG_INFINITY || first < 3 || first + 2 >= self.mg_dl.len() {
            return f64::NEG_INFINITY;
        }
        self.log_ratio(dip, self.around[first]) + prior
    }

    /// The likeliest dip that sets in between two minutes, with its score; of two equally likely ones the earlier.
    pub(super) fn likeliest(&self, from: f64, to: f64) -> Option<(f64, Dip)> {
        let minute = &self.readings.minute;
        let first = self.from(from).max(3);
        let onsets = first..self.after(to + 5.0).min(minute.len().saturating_sub(2));
        let rises: Vec<bool> = (first..self.after(to + 5.0 + HELD_MIN.1 + BLIND_RISE_MIN))
            .map(|m| self.rises_at(m))
            .collect();
        onsets
            .into_par_iter()
            .with_min_len(ONSETS_AT_ONCE)
            .filter(|&k| minute[k] - minute[k - 1] <= BLIND_FALL_MIN && self.falls_at(k))
            .filter_map(|k| self.likeliest_from(k, |m| rises[m - first]))
            .reduce_with(|one, other| if other.0 > one.0 { other } else { one })
    }

    /// The likeliest of the dips that set in just before reading `k` and are let go at a rise.
    fn likeliest_from(&self, k: usize, rises: impl Fn(usize) -> bool) -> Option<(f64, Dip)> {
        let minute = &self.readings.minute;
        let on = 0.5 * (minute[k] + minute[k - 1]);
        let noise = self.around[k];
        let mut best: Option<(f64, Dip)> = None;
        for part in PARTS {
            let held_on = Dip {
                on,
                held: f64::INFINITY,
                part,
                fall: CONSTANT_MIN,
                rise: CONSTANT_MIN,
            };
            // What is heard while pressure lasts is the same whenever it is let go, and heard once.
            let mut telling = Telling::new(self.predicted[k], Course::new(held_on));
            for m in k + 1..minute.len() {
                if minute[m - 1] - on >= HELD_MIN.1 || minute[m] - minute[m - 1] > BLIND_RISE_MIN {
                    break;
                }
                telling.hear(self, m - 1, noise);
                let held = 0.5 * (minute[m] + minute[m - 1]) - on;
                let dip = Dip { held, ..held_on };
                let prior = dip.log_prior();
                if prior == f64::NEG_INFINITY || !rises(m) {
                    continue;
                }
                let score = self.told(telling.let_go(held), m, &dip, noise) + prior;
                if best.is_none_or(|(highest, _)| score > highest) {
                    best = Some((score, dip));
                }
            }
        }
        best
    }

    /// Whether readings from `k` on fall well below those before.
    fn falls_at(&self, k: usize) -> bool {
        let minute = &self.readings.minute;
        let mut before = self.mg_dl[k - 1];
        if minute[k] - minute[k - 2] < 25.0 {
            before = before.max(self.mg_dl[k - 2]);
        }
        let until = minute[k - 1] + 16.0;
        let lowest = (k + 1..minute.len())
            .take_while(|&q| minute[q] <= until)
            .fold(self.mg_dl[k], |lowest, q| lowest.min(self.mg_dl[q]));
        before - lowest >= LEAST_CHANGE.0.max(LEAST_CHANGE.1 * before)
    }

    /// Whether readings from `m` on rise well above the one before.
    fn rises_at(&self, m: usize) -> bool {
        let minute = &self.readings.minute;
        let until = minute[m - 1] + 20.0;
        let highest = (m + 1..minute.len())
            .take_while(|&q| minute[q] <= until)
            .fold(self.mg_dl[m], |highest, q| highest.max(self.mg_dl[q]));
        highest - self.mg_dl[m - 1] >= LEAST_CHANGE.0.max(LEAST_CHANGE.1 * highest)
    }

    /// The dip made to fit better, by steps along each of its five numbers that are halved three times. Moving the
    /// onset leaves the release where it is.
    pub(super) fn refined(&self, mut score: f64, mut dip: Dip) -> (f64, Dip) {
        let mut size = 1.0;
        for _ in 0..4 {
            for _ in 0..4 {
                let before = score;
                for direction in 0..10 {
                    let tried = stepped(dip, direction, size);
                    let its = self.score(&tried);
                    if its > score {
                        (score, dip) = (its, tried);
                    }
                }
                if score <= before {
                    break;
                }
            }
            size *= 0.5;
        }
        (score, dip)
    }

    /// Gives back what the dip hid; from here on the trace is followed as put right.
    pub(super) fn put_right(&mut self, dip: &Dip) {
        let (from, to) = (self.after(dip.on), self.after(dip.over()));
        for k in from..to {
            self.mg_dl[k] /= 1.0 - dip.hidden(self.readings.minute[k]);
        }
        self.follow(from, self.after(dip.over() + FORGOTTEN_MIN));
    }
}

fn stepped(dip: Dip, direction: usize, size: f64) -> Dip {
    let sign = if direction.is_multiple_of(2) { -size } else { size };
    match direction / 2 {
        0 => Dip {
            on: dip.on + 2.0 * sign,
            held: dip.held - 2.0 * sign,
            ..dip
        },
        1 => Dip {
            held: dip.held + 4.0 * sign,
            ..dip
        },
        2 => Dip {
            part: dip.part + 0.06 * sign,
            ..dip
        },
        3 => Dip {
            fall: dip.fall + 1.3 * sign,
            ..dip
        },
        _ => Dip {
            rise: dip.rise + 1.3 * sign,
            ..dip
        },
    }
}
