//! A filter of one trace: what the next reading should be, and how far it may miss.

use std::collections::HashMap;

use interstice_glucose::Censor;

use crate::matern::Smooth;
use crate::quantile::median;

/// How long the sensor's noise lasts, minutes: what it forgets to 1/e in.
const NOISE_LASTS_MIN: f64 = 40.0;
/// Spread of glucose about its middle, mg/dL.
const SPREAD_MG_DL: f64 = 50.0;
/// Independent noise of a reading, mg/dL: the rounding and what little is not lasting.
const ROUNDING_MG_DL: f64 = 1.0;
/// Degrees of freedom of Student's t: misses several times the usual size are rare, not impossible.
const TAILS: f64 = 5.0;

/// Minutes glucose keeps its course, tried in turn.
const COURSES_MIN: [f64; 5] = [14.0, 20.0, 30.0, 45.0, 65.0];
/// Lasting noise, mg/dL, tried in turn.
const NOISES_MG_DL: [f64; 5] = [1.0, 2.0, 4.0, 8.0, 14.0];
/// Readings looked at together when noise and course are fitted.
const BLOCK: usize = 512;
/// Blocks looked at, spread evenly over the trace.
const BLOCKS: usize = 10;

/// Steps of one length bring the gains to rest; a variance that changes by a smaller share than this from one to the next
/// counts as there. What is left of the way is of the size of the rounding of a sum.
const SETTLED: f64 = 1e-14;

/// Level, rate and acceleration of glucose about its middle, and the lasting noise.
pub(super) type State = [f64; 4];

/// Readings of one sensor, minutes from the first.
#[derive(Clone, Debug)]
pub(super) struct Readings<'a> {
    pub(super) minute: Vec<f64>,
    pub(super) mg_dl: &'a [f64],
    pub(super) censor: &'a [Censor],
}

/// How smooth and how noisy a trace is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Manner {
    /// Minutes glucose keeps its course: 1/λ of a Matérn process with ν = 5/2.
    course_min: f64,
    /// Standard deviation of the lasting noise, mg/dL.
    noise_mg_dl: f64,
}

/// How the state moves over a step: the three of glucose row by row, and what is left of the noise.
#[derive(Clone, Copy, Debug)]
struct Step {
    glucose: [[f64; 3]; 3],
    noise: f64,
}

impl Step {
    /// Over so many minutes: of the Matérn process and of first-order noise.
    fn over(minutes: f64, manner: Manner) -> Self {
        let f = manner.smooth().over(minutes);
        Step {
            glucose: std::array::from_fn(|i| std::array::from_fn(|j| f[(i, j)])),
            noise: libm::exp(-minutes / NOISE_LASTS_MIN),
        }
    }

    #[inline]
    fn moved(&self, x: &State) -> State {
        let g = &self.glucose;
        [
            g[0][0] * x[0] + g[0][1] * x[1] + g[0][2] * x[2],
            g[1][0] * x[0] + g[1][1] * x[1] + g[1][2] * x[2],
            g[2][0] * x[0] + g[2][1] * x[1] + g[2][2] * x[2],
            self.noise * x[3],
        ]
    }
}

type Covariance = [[f64; 4]; 4];

/// Covariance of the state when nothing is known.
fn at_rest(manner: Manner) -> Covariance {
    let glucose = manner.smooth().stationary();
    let mut rest = Covariance::default();
    for i in 0..3 {
        for j in 0..3 {
            rest[i][j] = glucose[(i, j)];
        }
    }
    rest[3][3] = manner.noise_mg_dl * manner.noise_mg_dl;
    rest
}

/// P after a step: what was known fades, and the rest comes back (P∞ + F (P − P∞) Fᵀ).
fn carried(p: &Covariance, rest: &Covariance, step: &Step) -> Covariance {
    let mut columns = [[0.0; 4]; 4];
    for j in 0..4 {
        columns[j] = step.moved(&std::array::from_fn(|i| p[i][j] - rest[i][j]));
    }
    let mut out = *rest;
    for i in 0..4 {
        let row = step.moved(&std::array::from_fn(|j| columns[j][i]));
        for j in 0..4 {
            out[i][j] += row[j];
        }
    }
    out
}

/// What a reading found, for the next.
#[derive(Clone, Copy, Debug)]
struct Last {
    /// The step that led to it, minutes, as bits.
    gone: u64,
    index: usize,
    /// Whether the gains no longer change while steps are as long.
    settled: bool,
    gain: State,
    variance: f64,
}

impl Default for Last {
    fn default() -> Self {
        Last {
            gone: f64::NAN.to_bits(),
            index: usize::MAX,
            settled: false,
            gain: State::default(),
            variance: f64::NAN,
        }
    }
}

/// The gains of a trace. They depend on when readings came and not on what they say, so that a trace put right in
/// one place is followed again from there at little cost.
#[derive(Clone, Debug)]
pub(super) struct Filter {
    steps: Vec<Step>,
    /// Step that leads to each reading.
    step: Vec<usize>,
    gain: Vec<State>,
    /// Variance of what each reading misses its prediction by.
    pub(super) variance: Vec<f64>,
    middle: f64,
}

impl Filter {
    /// The filter of a trace, as smooth and noisy as its own readings make most likely.
    pub(super) fn fit(readings: &Readings<'_>) -> Self {
        let middle = median(&mut readings.mg_dl.to_vec());
        let count = readings.minute.len();
        let starts: Vec<usize> = if count <= BLOCK * BLOCKS {
            vec![0]
        } else {
            (0..BLOCKS).map(|i| (count - BLOCK) * i / (BLOCKS - 1)).collect()
        };
        let length = if starts.len() == 1 { count } else { BLOCK };
        let mut best = (
            f64::NEG_INFINITY,
            Manner {
                course_min: 30.0,
                noise_mg_dl: 4.0,
            },
        );
        for course_min in COURSES_MIN {
            for noise_mg_dl in NOISES_MG_DL {
                let manner = Manner {
                    course_min,
                    noise_mg_dl,
                };
                let mut likely = manner.log_prior();
                for &start in &starts {
                    let part = Readings {
                        minute: readings.minute[start..start + length].to_vec(),
                        mg_dl: &readings.mg_dl[start..start + length],
                        censor: &readings.censor[start..start + length],
                    };
                    likely += Filter::new(&part.minute, manner, middle).log_likelihood(&part);
                }
                if likely > best.0 {
                    best = (likely, manner);
                }
            }
        }
        Filter::new(&readings.minute, best.1, middle)
    }

    fn new(minute: &[f64], manner: Manner, middle: f64) -> Self {
        let rest = at_rest(manner);
        let white = ROUNDING_MG_DL * ROUNDING_MG_DL;
        let mut known: HashMap<u64, usize> = HashMap::new();
        let mut filter = Filter {
            steps: Vec::new(),
            step: Vec::with_capacity(minute.len()),
            gain: Vec::with_capacity(minute.len()),
            variance: Vec::with_capacity(minute.len()),
            middle,
        };
        let mut p = rest;
        let mut before = minute.first().copied().unwrap_or(0.0);
        let mut last = Last::default();
        for (k, &now) in minute.iter().enumerate() {
            let gone = now - before;
            before = now;
            let index = if gone.to_bits() == last.gone {
                last.index
            } else {
                *known.entry(gone.to_bits()).or_insert_with(|| {
                    filter.steps.push(Step::over(gone, manner));
                    filter.steps.len() - 1
                })
            };
            if !(last.settled && index == last.index) {
                if k > 0 {
                    p = carried(&p, &rest, &filter.steps[index]);
                }
                let seen: State = std::array::from_fn(|i| p[i][0] + p[i][3]);
                let variance = seen[0] + seen[3] + white;
                for i in 0..4 {
                    for j in 0..4 {
                        p[i][j] -= seen[i] * seen[j] / variance;
                    }
                }
                last = Last {
                    gone: gone.to_bits(),
                    index,
                    settled: index == last.index && (variance - last.variance).abs() <= SETTLED * variance,
                    gain: seen.map(|x| x / variance),
                    variance,
                };
            }
            filter.step.push(index);
            filter.gain.push(last.gain);
            filter.variance.push(last.variance);
        }
        filter
    }

    fn log_likelihood(&self, readings: &Readings<'_>) -> f64 {
        let mut state = State::default();
        let mut sum = 0.0;
        let (mut variance, mut log) = (f64::NAN, 0.0);
        for (k, &value) in readings.mg_dl.iter().enumerate() {
            let miss = self.miss(&state, value, readings.censor[k]);
            if self.variance[k].to_bits() != variance.to_bits() {
                variance = self.variance[k];
                log = libm::log(variance);
            }
            let ratio = miss * miss / variance;
            sum -= 0.5 * log + surprise(ratio);
            state = self.after(k, &state, miss);
        }
        sum
    }

    /// What a reading of this value lies off its prediction, mg/dL. At a limit of the sensor, a prediction beyond
    /// the limit is met.
    #[inline]
    pub(super) fn miss(&self, predicted: &State, value: f64, censor: Censor) -> f64 {
        let miss = value - self.middle - predicted[0] - predicted[3];
        match censor {
            Censor::Below => miss.min(0.0),
            Censor::Above => miss.max(0.0),
            Censor::None => miss,
        }
    }

    /// The state predicted for the reading after `k`.
    #[inline]
    pub(super) fn after(&self, k: usize, predicted: &State, miss: f64) -> State {
        let gain = &self.gain[k];
        let met: State = std::array::from_fn(|i| predicted[i] + gain[i] * miss);
        match self.step.get(k + 1) {
            Some(&step) => self.steps[step].moved(&met),
            None => met,
        }
    }
}

impl Manner {
    fn smooth(self) -> Smooth {
        Smooth {
            rate_per_min: 1.0 / self.course_min,
            spread_mg_dl: SPREAD_MG_DL,
        }
    }

    /// Most traces keep their course for some 25 minutes and are noisy by some 3 mg/dL (ours, from the open traces).
    fn log_prior(self) -> f64 {
        let course = libm::log(self.course_min / 25.0) / 0.5;
        let noise = libm::log(self.noise_mg_dl / 3.0);
        -0.5 * (course * course + noise * noise)
    }
}

/// The power of [`tail`] that Student's t density falls with.
pub(super) const TAIL_POWER: f64 = 0.5 * (TAILS + 1.0);

/// How a density with the variance of the filter and Student's tails falls with a miss, given as its square over the
/// variance.
#[inline]
pub(super) fn tail(ratio: f64) -> f64 {
    1.0 + ratio / (TAILS - 2.0)
}

/// Minus the logarithm of Student's t density, constant left out.
pub(super) fn surprise(ratio: f64) -> f64 {
    TAIL_POWER * libm::log(tail(ratio))
}
