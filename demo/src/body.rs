//! The body: glucose and insulin as ordinary differential equations, one minute at a time.
//!
//! Put together from published pieces, with constants of our own choosing for one invented adult:
//! * glucose and insulin effect: the minimal model (Bergman, Ider, Bowden, Cobelli 1979, Am J Physiol 236:E667;
//!   Bergman, Phillips, Cobelli 1981, J Clin Invest 68:1456), with production as a constant of its own as in its
//!   form for type 1 diabetes (Kanderian, Weinzimer, Voskanyan, Steil 2009, J Diabetes Sci Technol 3:1047);
//! * insulin under the skin: two compartments in a row (Hovorka et al. 2004, Physiol Meas 25:905), one chain for
//!   rapid and one for long insulin;
//! * the gut: two compartments in a row (same paper), one chain for quick sugar and one for meals.
//!
//! Counter-regulation below 70 mg/dL, loss by the kidney, exercise and the daily rhythm are simple terms of ours.

/// Distribution volume of glucose, dL.
const GLUCOSE_VOLUME_DL: f64 = 190.0;
/// Share of eaten carbohydrate that reaches the blood (Hovorka 2004 has 0.8).
const CARBOHYDRATE_SHARE: f64 = 0.82;
/// Glucose uptake at zero insulin, 1/min (Kanderian 2009 has 0.0022 on average).
const EFFECT_AT_ZERO_INSULIN: f64 = 0.0022;
/// Production at zero insulin, mg/dL/min (Kanderian 2009 has 1.33 on average).
const PRODUCTION: f64 = 1.33;
/// Decay of insulin effect, 1/min.
const P2: f64 = 0.0125;
/// Insulin sensitivity, 1/min per mU/L.
const SENSITIVITY: f64 = 4.9e-4;
/// Distribution volume of insulin, L (0.12 L/kg at 82 kg; Hovorka 2004).
const INSULIN_VOLUME_L: f64 = 9.84;
/// Insulin clearance, 1/min (Hovorka 2004).
const INSULIN_CLEARANCE: f64 = 0.138;
/// Time to peak of rapid insulin under the skin, min (Hovorka 2004).
const RAPID_PEAK_MIN: f64 = 52.0;
/// Time to peak of long insulin under the skin, min.
const LONG_PEAK_MIN: f64 = 560.0;
/// Time to peak of quick sugar, min.
const QUICK_PEAK_MIN: f64 = 16.0;
/// Time to peak of a meal, min (Hovorka 2004 has 40).
const MEAL_PEAK_MIN: f64 = 42.0;
/// Glucose above which the kidney loses some, mg/dL, and how fast, 1/min (after Hovorka 2004).
const KIDNEY: (f64, f64) = (180.0, 0.0024);
/// Production added for each mg/dL below a threshold: threshold mg/dL, 1/min (ours).
const COUNTER_REGULATION: [(f64, f64); 2] = [(70.0, 0.006), (52.0, 0.03)];

const GLUCOSE: usize = 0;
const EFFECT: usize = 1;
const PLASMA: usize = 2;
const RAPID: usize = 3;
const LONG: usize = 5;
const QUICK: usize = 7;
const MEAL: usize = 9;
const STATES: usize = 11;

type State = [f64; STATES];

/// What acts on the body in the minute to come.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Influence {
    /// Factor on insulin sensitivity.
    pub(crate) sensitivity: f64,
    /// Factor on glucose production.
    pub(crate) production: f64,
    /// Factor on uptake without insulin.
    pub(crate) uptake: f64,
}

/// How quickly eaten carbohydrate appears.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Gut {
    /// Sugar, juice.
    Quick,
    /// A meal.
    Slow,
}

/// The state of the body.
#[derive(Clone, Debug)]
pub(crate) struct Body {
    /// Glucose mg/dL; insulin effect 1/min; plasma insulin mU/L; under the skin mU; in the gut mg.
    state: State,
}

impl Body {
    /// In balance with `long_units` of long insulin a day, at the glucose that balance gives.
    pub(crate) fn in_balance(long_units: f64) -> Self {
        let flow = long_units * 1000.0 / 1440.0;
        let plasma = flow / (INSULIN_VOLUME_L * INSULIN_CLEARANCE);
        let mut state = [0.0; STATES];
        state[PLASMA] = plasma;
        state[EFFECT] = SENSITIVITY * plasma;
        state[LONG] = flow * LONG_PEAK_MIN;
        state[LONG + 1] = flow * LONG_PEAK_MIN;
        state[GLUCOSE] = PRODUCTION / (EFFECT_AT_ZERO_INSULIN + state[EFFECT]);
        Body { state }
    }

    /// Blood glucose, mg/dL.
    pub(crate) fn glucose(&self) -> f64 {
        self.state[GLUCOSE]
    }

    /// Rapid insulin under the skin, units.
    pub(crate) fn inject_rapid(&mut self, units: f64) {
        self.state[RAPID] += units * 1000.0;
    }

    /// Long insulin under the skin, units.
    pub(crate) fn inject_long(&mut self, units: f64) {
        self.state[LONG] += units * 1000.0;
    }

    /// Carbohydrate, grams.
    pub(crate) fn eat(&mut self, grams: f64, gut: Gut) {
        let chain = if gut == Gut::Quick { QUICK } else { MEAL };
        self.state[chain] += grams * 1000.0 * CARBOHYDRATE_SHARE;
    }

    /// One minute on (Runge and Kutta, fourth order).
    pub(crate) fn minute(&mut self, influence: &Influence) {
        let k1 = slope(&self.state, influence);
        let k2 = slope(&along(&self.state, &k1, 0.5), influence);
        let k3 = slope(&along(&self.state, &k2, 0.5), influence);
        let k4 = slope(&along(&self.state, &k3, 1.0), influence);
        for i in 0..STATES {
            self.state[i] += (k1[i] + 2.0 * k2[i] + 2.0 * k3[i] + k4[i]) / 6.0;
        }
    }
}

fn along(state: &State, slope: &State, minutes: f64) -> State {
    let mut next = *state;
    for i in 0..STATES {
        next[i] += minutes * slope[i];
    }
    next
}

/// Change a minute of every state.
fn slope(x: &State, by: &Influence) -> State {
    let glucose = x[GLUCOSE];
    let appearance = (x[QUICK + 1] / QUICK_PEAK_MIN + x[MEAL + 1] / MEAL_PEAK_MIN) / GLUCOSE_VOLUME_DL;
    let kidney = KIDNEY.1 * (glucose - KIDNEY.0).max(0.0);
    let alarm: f64 = COUNTER_REGULATION
        .iter()
        .map(|(below, rate)| rate * (below - glucose).max(0.0))
        .sum();
    let absorbed = x[RAPID + 1] / RAPID_PEAK_MIN + x[LONG + 1] / LONG_PEAK_MIN;
    let mut d = [0.0; STATES];
    d[GLUCOSE] = PRODUCTION * by.production + alarm + appearance
        - kidney
        - (EFFECT_AT_ZERO_INSULIN * by.uptake + x[EFFECT]) * glucose;
    d[EFFECT] = P2 * (SENSITIVITY * by.sensitivity * x[PLASMA] - x[EFFECT]);
    d[PLASMA] = absorbed / INSULIN_VOLUME_L - INSULIN_CLEARANCE * x[PLASMA];
    for (chain, peak) in [
        (RAPID, RAPID_PEAK_MIN),
        (LONG, LONG_PEAK_MIN),
        (QUICK, QUICK_PEAK_MIN),
        (MEAL, MEAL_PEAK_MIN),
    ] {
        d[chain] = -x[chain] / peak;
        d[chain + 1] = (x[chain] - x[chain + 1]) / peak;
    }
    d
}

#[cfg(test)]
mod tests {
    use super::*;

    const CALM: Influence = Influence {
        sensitivity: 1.0,
        production: 1.0,
        uptake: 1.0,
    };

    /// An even supply keeps the balance: the derivative is zero there by construction, so a day changes nothing
    /// when the depot is refilled as fast as it empties.
    #[test]
    fn balance_holds_when_long_insulin_is_even() {
        let mut body = Body::in_balance(22.0);
        let before = body.glucose();
        for _ in 0..1440 {
            body.inject_long(22.0 / 1440.0);
            body.minute(&CALM);
        }
        assert!(
            (body.glucose() - before).abs() < 1.0,
            "{before} became {}",
            body.glucose()
        );
    }

    /// Against a thousand Euler steps a minute, whose own error over these four hours is a few hundredths of a mg/dL.
    #[test]
    fn integrator_agrees_with_small_euler_steps() {
        let mut body = Body::in_balance(22.0);
        body.eat(60.0, Gut::Slow);
        body.inject_rapid(5.0);
        let mut euler = body.state;
        for _ in 0..240 {
            body.minute(&CALM);
            for _ in 0..1000 {
                euler = along(&euler, &slope(&euler, &CALM), 0.001);
            }
        }
        assert!(
            (body.glucose() - euler[GLUCOSE]).abs() < 0.05,
            "{} and {}",
            body.glucose(),
            euler[GLUCOSE]
        );
    }

    #[test]
    fn insulin_lowers_and_sugar_raises() {
        let after = |sugar: f64, insulin: f64| {
            let mut body = Body::in_balance(22.0);
            body.eat(sugar, Gut::Quick);
            body.inject_rapid(insulin);
            (0..90).for_each(|_| body.minute(&CALM));
            body.glucose()
        };
        assert!(after(20.0, 0.0) > after(0.0, 0.0) + 20.0);
        assert!(after(0.0, 3.0) < after(0.0, 0.0) - 20.0);
    }
}
