//! The Kalman filter, and the smoother that goes back over what it kept.
//!
//! States are ordered so that the first three move together (a 3 × 3 block) and each of the rest only fades by itself:
//! that is the shape of every model here, and it makes a step cost N² rather than N³.

use nalgebra::{Matrix3, SMatrix, SVector};

use super::normal;

/// How the state moves over a stretch of time: x ← F x + noise of covariance Q.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Transition<const N: usize> {
    /// F of the first three states.
    pub(crate) block: Matrix3<f64>,
    /// Q of the first three states.
    pub(crate) block_noise: Matrix3<f64>,
    /// F of each other state; the first three entries are not used.
    pub(crate) fade: SVector<f64, N>,
    /// Q of each other state; the first three entries are not used.
    pub(crate) noise: SVector<f64, N>,
}

/// What was seen, as far as it was.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Seen {
    /// Nothing: the state is only carried here.
    Nothing,
    /// A value.
    Value,
    /// That it lies below the value.
    Below,
    /// That it lies above the value.
    Above,
}

/// One look at the state: value = h · x + noise.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Look<const N: usize> {
    /// Which of the transitions leads here from the look before (not used for the first).
    pub(crate) by: u32,
    /// What is looked at.
    pub(crate) h: SVector<f64, N>,
    /// What was seen.
    pub(crate) value: f64,
    /// Variance of the noise.
    pub(crate) variance: f64,
    /// As far as it was seen.
    pub(crate) seen: Seen,
}

/// Mean and covariance of the state.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Belief<const N: usize> {
    /// Mean.
    pub(crate) mean: SVector<f64, N>,
    /// Covariance.
    pub(crate) covariance: SMatrix<f64, N, N>,
}

impl<const N: usize> Belief<N> {
    /// Mean and variance of h · x.
    pub(crate) fn of(&self, h: &SVector<f64, N>) -> (f64, f64) {
        (h.dot(&self.mean), h.dot(&(self.covariance * h)))
    }

    /// The belief after a stretch of time.
    pub(crate) fn moved(&self, by: &Transition<N>) -> Self {
        let mut mean = self.mean.component_mul(&by.fade);
        let head = by.block * self.mean.fixed_rows::<3>(0);
        mean.fixed_rows_mut::<3>(0).copy_from(&head);
        let mut covariance = sandwich(&by.block, &by.fade, &self.covariance);
        for i in 0..3 {
            for j in 0..3 {
                covariance[(i, j)] += by.block_noise[(i, j)];
            }
        }
        for i in 3..N {
            covariance[(i, i)] += by.noise[i];
        }
        Belief { mean, covariance }
    }
}

/// A P Aᵀ with A of a block and a diagonal.
fn sandwich<const N: usize>(
    block: &Matrix3<f64>,
    fade: &SVector<f64, N>,
    p: &SMatrix<f64, N, N>,
) -> SMatrix<f64, N, N> {
    let mut out = SMatrix::<f64, N, N>::zeros();
    let corner = block * p.fixed_view::<3, 3>(0, 0) * block.transpose();
    for i in 0..3 {
        for j in 0..=i {
            // Symmetric to the last bit, or rounding feeds on itself.
            let both = 0.5 * (corner[(i, j)] + corner[(j, i)]);
            out[(i, j)] = both;
            out[(j, i)] = both;
        }
    }
    for j in 3..N {
        for i in 0..3 {
            let value =
                (block[(i, 0)] * p[(0, j)] + block[(i, 1)] * p[(1, j)] + block[(i, 2)] * p[(2, j)]) * fade[j];
            out[(i, j)] = value;
            out[(j, i)] = value;
        }
        for i in 3..=j {
            let value = p[(i, j)] * fade[i] * fade[j];
            out[(i, j)] = value;
            out[(j, i)] = value;
        }
    }
    out
}

/// What taking in one look did.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Taken<const N: usize> {
    /// Variance of the forecast value, its own noise within: that noise raised for a value out of line, and for a limit
    /// what leaves the same belief as a value would.
    pub(crate) used: f64,
    /// Value less its forecast, likewise.
    pub(crate) used_surprise: f64,
    /// Logarithm of the density of what was seen.
    pub(crate) log_density: f64,
    /// Covariance of state and value.
    pub(crate) with_value: SVector<f64, N>,
}

/// How far a value may be out of line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Tails {
    /// Noise is normal.
    Normal,
    /// Noise has the tails of Student's t with so many degrees of freedom; a surprise of z standard deviations is
    /// taken in with its noise raised so that its weight is (ν + 1) / (ν + z²), never above one.
    Student(f64),
}

/// Takes one look into the belief. `None` where nothing was seen.
pub(crate) fn take<const N: usize>(belief: &mut Belief<N>, look: &Look<N>, tails: Tails) -> Option<Taken<N>> {
    if look.seen == Seen::Nothing {
        return None;
    }
    let with_value = belief.covariance * look.h;
    let forecast = look.h.dot(&belief.mean);
    let spread = look.h.dot(&with_value);
    let variance = spread + look.variance;
    let surprise = look.value - forecast;
    let (used_surprise, used, log_density) = match look.seen {
        Seen::Below => limited(surprise, variance, 1.0),
        Seen::Above => limited(surprise, variance, -1.0),
        _ => valued(surprise, variance, look.variance, tails),
    };
    belief.mean += with_value * (used_surprise / used);
    for j in 0..N {
        let by = with_value[j] / used;
        for i in 0..N {
            belief.covariance[(i, j)] -= with_value[i] * by;
        }
    }
    Some(Taken {
        used,
        used_surprise,
        log_density,
        with_value,
    })
}

/// Surprise, variance to use and log density of a value.
fn valued(surprise: f64, variance: f64, noise: f64, tails: Tails) -> (f64, f64, f64) {
    let square = surprise * surprise / variance;
    match tails {
        Tails::Normal => (
            surprise,
            variance,
            -0.5 * (libm::log(2.0 * std::f64::consts::PI * variance) + square),
        ),
        Tails::Student(nu) => {
            let weight = ((nu + 1.0) / (nu + square)).min(1.0);
            let raised = variance - noise + noise / weight;
            let density = student_constant(nu)
                - 0.5 * libm::log(variance)
                - 0.5 * (nu + 1.0) * libm::log1p(square / (nu - 2.0));
            (surprise, raised, density)
        }
    }
}

/// ln of the constant of Student's t scaled to variance one.
fn student_constant(nu: f64) -> f64 {
    libm::lgamma(0.5 * (nu + 1.0))
        - libm::lgamma(0.5 * nu)
        - 0.5 * libm::log(std::f64::consts::PI * (nu - 2.0))
}

/// A value known to lie beyond a limit: the surprise and variance of the normal look that would leave the same mean
/// and variance of the value (moment matching). `side` is 1 below the limit, −1 above.
fn limited(surprise: f64, variance: f64, side: f64) -> (f64, f64, f64) {
    let sd = variance.sqrt();
    let z = side * surprise / sd;
    let (log_chance, ratio) = normal::below(z);
    // Mean and variance of a standard normal known to lie below z: −ratio and 1 − ratio (ratio + z).
    let left = (1.0 - ratio * (ratio + z)).clamp(1e-6, 1.0 - 1e-9);
    let gained = 1.0 - left;
    // K (s − v′) / s² = 1 / used, and the mean moves by −ratio sd.
    let used = variance / gained;
    (-side * ratio * sd / gained, used, log_chance)
}

/// What the filter kept at one look.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Kept<const N: usize> {
    /// The belief before the look.
    pub(crate) before: Belief<N>,
    /// What the look did.
    pub(crate) taken: Option<Taken<N>>,
}

/// Runs over all looks. `each` sees what was kept at each, in order, and the belief after it.
pub(crate) fn filter<const N: usize>(
    start: Belief<N>,
    transitions: &[Transition<N>],
    looks: &[Look<N>],
    tails: Tails,
    mut each: impl FnMut(usize, &Kept<N>, &Belief<N>),
) {
    let mut belief = start;
    for (index, look) in looks.iter().enumerate() {
        if index > 0 {
            belief = belief.moved(&transitions[look.by as usize]);
        }
        let before = belief;
        let taken = take(&mut belief, look, tails);
        each(index, &Kept { before, taken }, &belief);
    }
}

/// Logarithm of the density of all looks, given those before each.
pub(crate) fn log_likelihood<const N: usize>(
    start: Belief<N>,
    transitions: &[Transition<N>],
    looks: &[Look<N>],
    tails: Tails,
) -> f64 {
    let mut sum = 0.0;
    filter(start, transitions, looks, tails, |_, kept, _| {
        sum += kept.taken.map_or(0.0, |taken| taken.log_density);
    });
    sum
}

/// Everything the filter kept, for the way back.
pub(crate) fn keep<const N: usize>(
    start: Belief<N>,
    transitions: &[Transition<N>],
    looks: &[Look<N>],
    tails: Tails,
) -> Vec<Kept<N>> {
    let mut kept = Vec::with_capacity(looks.len());
    filter(start, transitions, looks, tails, |_, one, _| kept.push(*one));
    kept
}

/// What all looks together say about the state at one of them.
///
/// The smoothed mean is `before.mean + before.covariance · r`, the covariance `P − P N P`.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Behind<'a, const N: usize> {
    /// What the filter had.
    pub(crate) kept: &'a Kept<N>,
    /// Weighted surprises of this look and all later ones.
    pub(crate) r: SVector<f64, N>,
    /// Their information.
    pub(crate) n: SMatrix<f64, N, N>,
}

impl<const N: usize> Behind<'_, N> {
    /// Smoothed mean and variance of h · x.
    pub(crate) fn of(&self, h: &SVector<f64, N>) -> (f64, f64) {
        let before = &self.kept.before;
        let with = before.covariance * h;
        let mean = h.dot(&before.mean) + with.dot(&self.r);
        let variance = h.dot(&with) - with.dot(&(self.n * with));
        (mean, variance.max(0.0))
    }

    /// Smoothed covariance of g · x and h · x.
    pub(crate) fn between(&self, g: &SVector<f64, N>, h: &SVector<f64, N>) -> f64 {
        let p = &self.kept.before.covariance;
        let (with_g, with_h) = (p * g, p * h);
        g.dot(&with_h) - with_g.dot(&(self.n * with_h))
    }
}

/// Goes back over what the filter kept, last look first (the fixed-interval smoother without inverses).
///
/// # References
/// de Jong P (1989). J Am Stat Assoc 84:1085–1088. Durbin J, Koopman SJ (2012). Time Series Analysis by State Space
/// Methods, 2nd ed., section 4.4.
pub(crate) fn smooth<const N: usize>(
    transitions: &[Transition<N>],
    looks: &[Look<N>],
    kept: &[Kept<N>],
    mut each: impl FnMut(usize, &Behind<'_, N>),
) {
    let mut r = SVector::<f64, N>::zeros();
    let mut n = SMatrix::<f64, N, N>::zeros();
    for index in (0..looks.len()).rev() {
        let (look, one) = (&looks[index], &kept[index]);
        if let Some(taken) = &one.taken {
            let gain = taken.with_value / taken.used;
            let back = taken.used_surprise / taken.used - gain.dot(&r);
            r += look.h * back;
            let n_gain = n * gain;
            let middle = 1.0 / taken.used + gain.dot(&n_gain);
            for j in 0..N {
                for i in 0..N {
                    n[(i, j)] +=
                        look.h[i] * look.h[j] * middle - look.h[i] * n_gain[j] - n_gain[i] * look.h[j];
                }
            }
        }
        each(index, &Behind { kept: one, r, n });
        if index > 0 {
            let by = &transitions[look.by as usize];
            let head = by.block.transpose() * r.fixed_rows::<3>(0);
            r.component_mul_assign(&by.fade);
            r.fixed_rows_mut::<3>(0).copy_from(&head);
            n = sandwich(&by.block.transpose(), &by.fade, &n);
        }
    }
}
