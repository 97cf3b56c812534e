//! Seeded chance. Every purpose draws from a stream of its own, so that a change in one part of the scenario
//! leaves the draws of the others alone.

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// What a stream of random numbers is for. The number is part of the bytes of every scenario: never reuse one.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Purpose {
    /// Meals, sleep, activity and planned checks.
    Days = 1,
    /// Traits of the sensors and their wear.
    Wear = 2,
    /// Pressure on sensors in bed.
    Pressure = 3,
    /// Sensitivity from day to day and hour to hour.
    Body = 4,
    /// What the person decides.
    Person = 5,
    /// Sensor noise and holes.
    Sensor = 6,
    /// Error of the blood meter.
    Meter = 7,
    /// Planted conflicts and repeats in the files.
    Files = 8,
    /// Plain traces of any length.
    Long = 9,
    /// How long sensors stayed on before the record.
    Before = 10,
}

/// A seeded source of chance.
#[derive(Clone, Debug)]
pub(crate) struct Dice {
    source: ChaCha8Rng,
    spare_normal: Option<f64>,
}

impl Dice {
    /// The stream of `purpose` under `seed`.
    pub(crate) fn new(seed: u64, purpose: Purpose) -> Self {
        Dice::numbered(seed, purpose, 0)
    }

    /// The `number`-th stream of `purpose` under `seed`, `number` below 2^48.
    pub(crate) fn numbered(seed: u64, purpose: Purpose, number: u64) -> Self {
        let mut source = ChaCha8Rng::seed_from_u64(seed);
        source.set_stream(((purpose as u64) << 48) | number);
        Dice {
            source,
            spare_normal: None,
        }
    }

    /// Uniform in [0, 1), 53 bits.
    pub(crate) fn unit(&mut self) -> f64 {
        (self.source.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Uniform in [low, high).
    pub(crate) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// True with probability `p`.
    pub(crate) fn chance(&mut self, p: f64) -> bool {
        self.unit() < p
    }

    /// A whole number in 0..n; 0 when `n` is 0.
    pub(crate) fn below(&mut self, n: usize) -> usize {
        (self.unit() * n as f64) as usize
    }

    /// Standard normal (Box and Muller 1958, Ann Math Stat 29:610), with libm so that every machine agrees.
    pub(crate) fn normal(&mut self) -> f64 {
        if let Some(spare) = self.spare_normal.take() {
            return spare;
        }
        let radius = libm::sqrt(-2.0 * libm::log(1.0 - self.unit()));
        let angle = std::f64::consts::TAU * self.unit();
        self.spare_normal = Some(radius * libm::sin(angle));
        radius * libm::cos(angle)
    }

    /// Normal with mean and standard deviation.
    pub(crate) fn about(&mut self, mean: f64, sd: f64) -> f64 {
        mean + sd * self.normal()
    }

    /// One of `choices`.
    pub(crate) fn pick<'a, T>(&mut self, choices: &'a [T]) -> &'a T {
        &choices[self.below(choices.len())]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn streams_differ_and_repeat() {
        let draw = |purpose, number| Dice::numbered(7, purpose, number).unit();
        assert_eq!(draw(Purpose::Days, 0).to_bits(), draw(Purpose::Days, 0).to_bits());
        assert_ne!(draw(Purpose::Days, 0).to_bits(), draw(Purpose::Wear, 0).to_bits());
        assert_ne!(draw(Purpose::Long, 1).to_bits(), draw(Purpose::Long, 2).to_bits());
    }

    /// Of 20,000 standard normal draws the mean has standard error 0.007 and the variance 0.01; the bounds are
    /// five of these.
    #[test]
    fn normal_has_mean_zero_and_variance_one() {
        let mut dice = Dice::new(1, Purpose::Body);
        let draws: Vec<f64> = (0..20_000).map(|_| dice.normal()).collect();
        let mean = draws.iter().sum::<f64>() / 20_000.0;
        let variance = draws.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / 20_000.0;
        assert!(mean.abs() < 0.035, "{mean}");
        assert!((variance - 1.0).abs() < 0.05, "{variance}");
    }
}
