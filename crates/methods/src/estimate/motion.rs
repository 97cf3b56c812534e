//! How the state moves between two looks.

use std::collections::HashMap;

use nalgebra::{Matrix3, SVector};

use super::filter::Transition;

/// A value that forgets: the Ornstein–Uhlenbeck process about zero.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Forgetful {
    /// Time after which 1/e is left, minutes.
    pub(crate) memory_min: f64,
    /// Standard deviation.
    pub(crate) spread: f64,
}

impl Forgetful {
    /// F and Q over so many minutes.
    pub(crate) fn step(&self, minutes: f64) -> (f64, f64) {
        let fade = libm::exp(-minutes / self.memory_min);
        let lost = -libm::expm1(-2.0 * minutes / self.memory_min);
        (fade, self.spread * self.spread * lost)
    }
}

/// The transitions of a run of looks, one for each distinct time between neighbours.
#[derive(Debug)]
pub(crate) struct Moves<const N: usize> {
    index: HashMap<u32, u32>,
    /// By index.
    pub(crate) all: Vec<Transition<N>>,
}

impl<const N: usize> Moves<N> {
    pub(crate) fn new() -> Self {
        Moves {
            index: HashMap::new(),
            all: Vec::new(),
        }
    }

    /// The index of the transition over so many seconds, made when new.
    pub(crate) fn over(&mut self, seconds: u32, make: impl FnOnce(f64) -> Transition<N>) -> u32 {
        let next = self.all.len() as u32;
        let found = *self.index.entry(seconds).or_insert(next);
        if found == next {
            self.all.push(make(f64::from(seconds) / 60.0));
        }
        found
    }
}

/// A transition of three states that move together and others that fade.
pub(crate) fn transition<const N: usize>(
    (block, block_noise): (Matrix3<f64>, Matrix3<f64>),
    rest: &[(f64, f64)],
) -> Transition<N> {
    let mut fade = SVector::<f64, N>::repeat(1.0);
    let mut noise = SVector::<f64, N>::zeros();
    for (place, &(f, q)) in rest.iter().enumerate() {
        fade[3 + place] = f;
        noise[3 + place] = q;
    }
    Transition {
        block,
        block_noise,
        fade,
        noise,
    }
}
