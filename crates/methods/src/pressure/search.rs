//! Looking for the likeliest dip of a night.

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
        let Some(mut state) = self.predicted.get(first).copied() else {
            return f64::NEG_INFINITY;
        };
        let last = dip.off() + TAIL_MIN;
        let mut course = Course::new(*dip);
        // Logarithms of sixteen factors at a time are taken of their product.
        let (mut sum, mut given_back, mut likelier, mut factors) = (0.0, 1.0, 1.0, 0);
        for k in first..self.mg_dl.len() {
            let at = self.readings.minute[k];
            if at > last {
                break;
            }
            let scale = 1.0 / (1.0 - course.hidden(at));
            let miss = self
                .filter
                .miss(&state, self.mg_dl[k] * scale, self.readings.censor[k]);
            let with = miss * miss / self.filter.variance[k];
            given_back *= scale;
            likelier *= tail(self.ratio[k] / noise) / tail(with / noise);
            factors += 1;
            if factors == 16 {
                sum += libm::log(given_back) + TAIL_POWER * libm::log(likelier);
                (given_back, likelier, factors) = (1.0, 1.0, 0);
            }
            state = self.filter.after(k, &state, miss);
        }
        sum + libm::log(given_back) + TAIL_POWER * libm::log(likelier)
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

    /// The likeliest dip that sets in between two minutes, with its score.
    pub(super) fn likeliest(&self, from: f64, to: f64) -> Option<(f64, Dip)> {
        let mut best: Option<(f64, Dip)> = None;
        let minute = &self.readings.minute;
        for k in self.from(from).max(3)..minute.len().saturating_sub(2) {
            if minute[k] > to + 5.0 {
                break;
            }
            if minute[k] - minute[k - 1] > BLIND_FALL_MIN || !self.falls_at(k) {
                continue;
            }
            let on = 0.5 * (minute[k] + minute[k - 1]);
            for m in k + 1..minute.len() {
                if minute[m - 1] - on >= HELD_MIN.1 || minute[m] - minute[m - 1] > BLIND_RISE_MIN {
                    break;
                }
                let held = 0.5 * (minute[m] + minute[m - 1]) - on;
                if held < HELD_MIN.0 || !self.rises_at(m) {
                    continue;
                }
                for part in PARTS {
                    let dip = Dip {
                        on,
                        held,
                        part,
                        fall: CONSTANT_MIN,
                        rise: CONSTANT_MIN,
                    };
                    let score = self.score(&dip);
                    if best.is_none_or(|(highest, _)| score > highest) {
                        best = Some((score, dip));
                    }
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
