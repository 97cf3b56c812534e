//! How the person reacts: meals are dosed by a rough count, numbers that look high are corrected, lows are treated.
//!
//! All of it rests on what the sensor or the meter shows, right or wrong, so that false lows are treated and swings
//! begin by themselves. The rules make a believable record; they are no advice, and some of them are bad habits.

use std::collections::VecDeque;

use interstice_glucose::Second;

use crate::body::{Body, Gut};
use crate::days::{DoseTiming, PlannedMeal};
use crate::log::{Deed, DoseReason, Entry, MealReason};
use crate::meter::Meter;
use crate::random::{Dice, Purpose};

/// Grams the person takes one unit to cover.
const GRAMS_A_UNIT: f64 = 10.0;
/// mg/dL the person takes one unit to lower.
const MG_DL_A_UNIT: f64 = 42.0;
/// What a dose aims at, mg/dL.
const AIM_MG_DL: f64 = 126.0;
/// Units of long insulin a day.
pub(crate) const LONG_UNITS: f64 = 24.0;
/// Minutes a dose is felt to last.
const FELT_MIN: f64 = 240.0;
/// A swing's bad mood lasts this long at most.
const MOOD_S: Second = 7 * 3600;

/// What the person knows at a moment.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Seen {
    pub(crate) at: Second,
    /// Last reading of the last ten minutes, mg/dL.
    pub(crate) shown: Option<f64>,
    /// Its change over the last quarter of an hour, mg/dL a minute.
    pub(crate) slope: f64,
    pub(crate) asleep: bool,
    /// The sensor is in its first day, so its wearer trusts it less.
    pub(crate) new_sensor: bool,
}

/// A planted swing as it goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Mood {
    Calm,
    /// Correcting on top of corrections.
    Impatient {
        since: Second,
        corrections: u8,
    },
    /// After the fright: eats until it feels right, then waits for once.
    Spent {
        since: Second,
        helpings: u8,
    },
}

/// The person.
#[derive(Clone, Debug)]
pub(crate) struct Person {
    pub(crate) entries: Vec<Entry>,
    dice: Dice,
    meter: Meter,
    mood: Mood,
    /// (when, units) of rapid insulin still felt.
    felt: VecDeque<(Second, f64)>,
    /// Doses for meals still to be taken: (when, counted grams, timing, logged).
    due: Vec<(Second, f64, DoseTiming, bool)>,
    last_check: (Second, f64),
    last_correction: Second,
    last_treatment: Second,
    last_meal: Second,
    high_since: Option<Second>,
}

impl Person {
    pub(crate) fn new(seed: u64) -> Self {
        Person {
            entries: Vec::new(),
            dice: Dice::new(seed, Purpose::Person),
            meter: Meter::new(seed),
            mood: Mood::Calm,
            felt: VecDeque::new(),
            due: Vec::new(),
            last_check: (0, 0.0),
            last_correction: 0,
            last_treatment: 0,
            last_meal: 0,
            high_since: None,
        }
    }

    /// Writes down something that happened.
    pub(crate) fn enter(&mut self, at: Second, logged: bool, deed: Deed) {
        self.entries.push(Entry { at, logged, deed });
    }

    /// A blood check, unless there was one in the last five minutes.
    pub(crate) fn check(&mut self, at: Second, body: &Body) -> f64 {
        if at - self.last_check.0 < 300 {
            return self.last_check.1;
        }
        let (mg_dl, sugar_on_finger) = self.meter.check(body.glucose());
        let logged = !self.dice.chance(0.06);
        let true_mg_dl = crate::sensor::tenths(body.glucose());
        self.enter(
            at,
            logged,
            Deed::BloodCheck {
                mg_dl,
                true_mg_dl,
                sugar_on_finger,
            },
        );
        self.last_check = (at, f64::from(mg_dl));
        self.last_check.1
    }

    /// Long insulin.
    pub(crate) fn long_dose(&mut self, at: Second, body: &mut Body) {
        if self.dice.chance(0.012) {
            return;
        }
        let logged = !self.dice.chance(0.02);
        body.inject_long(LONG_UNITS);
        self.enter(at, logged, Deed::Long { units: LONG_UNITS });
    }

    /// Notes when the dose for a coming meal is due.
    pub(crate) fn expect_meal(&mut self, meal: &PlannedMeal) {
        if meal.timing != DoseTiming::Missed {
            self.due.push((
                meal.at + meal.dose_after_min * 60,
                meal.counted_g,
                meal.timing,
                meal.logged,
            ));
        }
    }

    /// Eats a planned meal.
    pub(crate) fn eat(&mut self, meal: &PlannedMeal, body: &mut Body) {
        body.eat(meal.true_g, meal.gut);
        self.last_meal = meal.at;
        if meal.swing {
            self.mood = Mood::Impatient {
                since: meal.at,
                corrections: 0,
            };
        }
        let deed = Deed::Meal {
            counted_g: meal.counted_g,
            true_g: meal.true_g,
            reason: MealReason::Meal,
            text: meal.text,
        };
        self.enter(meal.at, meal.logged, deed);
    }

    /// A bite before exercise when the number is not high.
    pub(crate) fn before_exercise(&mut self, seen: &Seen, body: &mut Body) {
        if seen.shown.is_some_and(|mg_dl| mg_dl < 150.0) && self.dice.chance(0.7) {
            let grams = (self.dice.between(12.0, 26.0) / 2.0).round() * 2.0;
            self.sugar(
                seen.at,
                grams,
                MealReason::Exercise,
                "fruit bar before moving",
                body,
            );
        }
    }

    /// Looks once every five minutes and does what the number seems to ask for.
    pub(crate) fn react(&mut self, seen: &Seen, body: &mut Body) {
        self.forget(seen.at);
        self.take_due_doses(seen, body);
        self.mood = match self.mood {
            Mood::Impatient { since, .. } | Mood::Spent { since, .. } if seen.at - since > MOOD_S => {
                Mood::Calm
            }
            mood => mood,
        };
        match seen.shown {
            Some(mg_dl) => {
                self.meet_low(seen, mg_dl, body);
                self.meet_high(seen, mg_dl, body);
                self.doubt(seen, mg_dl, body);
            }
            None => self.feel(seen, body),
        }
    }

    /// Whether a dose for a meal is due now, so that the loop looks at other minutes than every fifth too.
    pub(crate) fn has_due(&self, at: Second) -> bool {
        self.due.iter().any(|&(due, ..)| due <= at)
    }

    /// Takes the doses for meals that are due.
    pub(crate) fn take_due_doses(&mut self, seen: &Seen, body: &mut Body) {
        let Some(i) = self.due.iter().position(|&(due, ..)| due <= seen.at) else {
            return;
        };
        let (_, counted_g, timing, logged) = self.due.remove(i);
        let known = seen.shown.unwrap_or_else(|| {
            if seen.at - self.last_check.0 < 1800 {
                self.last_check.1
            } else {
                AIM_MG_DL
            }
        });
        let impatient = matches!(self.mood, Mood::Impatient { .. });
        let over = if impatient {
            0.0
        } else {
            (known - AIM_MG_DL) / MG_DL_A_UNIT
        };
        let already = self.felt_units(seen.at).min(over.max(0.0));
        self.inject(
            seen.at,
            counted_g / GRAMS_A_UNIT + over - already,
            DoseReason::Meal,
            Some(timing),
            logged,
            body,
        );
    }

    fn inject(
        &mut self,
        at: Second,
        units: f64,
        reason: DoseReason,
        timing: Option<DoseTiming>,
        logged: bool,
        body: &mut Body,
    ) {
        let units = (units * 2.0).round() / 2.0;
        let twice = self.felt.back().is_some_and(|&(last, _)| last == at);
        if units < 0.5 || twice {
            return;
        }
        body.inject_rapid(units);
        self.felt.push_back((at, units));
        self.enter(
            at,
            logged,
            Deed::Rapid {
                units,
                reason,
                timing,
            },
        );
    }

    fn felt_units(&self, at: Second) -> f64 {
        self.felt
            .iter()
            .map(|&(when, units)| units * (1.0 - (at - when) as f64 / 60.0 / FELT_MIN).max(0.0))
            .sum()
    }

    fn forget(&mut self, at: Second) {
        while self
            .felt
            .front()
            .is_some_and(|&(when, _)| (at - when) as f64 / 60.0 > FELT_MIN)
        {
            self.felt.pop_front();
        }
    }

    fn meet_low(&mut self, seen: &Seen, mg_dl: f64, body: &mut Body) {
        if let Mood::Spent { since, helpings } = self.mood {
            self.eat_on(seen, mg_dl, since, helpings, body);
        }
        let in_swing = matches!(self.mood, Mood::Impatient { corrections: 2.., .. });
        let falling = mg_dl < 74.0 && seen.slope < -1.0 && !in_swing;
        let worried = mg_dl < 70.0 || falling;
        let patience = if mg_dl < 55.0 { 15 * 60 } else { 25 * 60 };
        if !worried || seen.at - self.last_treatment < patience {
            return;
        }
        let wakes = !seen.asleep || (mg_dl < 64.0 && self.dice.chance(0.4));
        if !wakes || !self.dice.chance(0.24) {
            return;
        }
        let doubt = self.dice.chance(0.5);
        if doubt && !in_swing && self.check(seen.at, body) > 78.0 {
            self.last_treatment = seen.at;
            return;
        }
        self.treat(seen, in_swing, body);
    }

    /// After the low of a planted swing: up to two more helpings while the number will not move.
    fn eat_on(&mut self, seen: &Seen, mg_dl: f64, since: Second, helpings: u8, body: &mut Body) {
        let still_low = mg_dl < 125.0 && seen.slope < 1.0 && seen.at - self.last_treatment >= 20 * 60;
        if !still_low || seen.asleep || helpings >= 2 || seen.at - since > 90 * 60 {
            return;
        }
        let grams = self.dice.between(35.0, 50.0).round();
        self.mood = Mood::Spent {
            since,
            helpings: helpings + 1,
        };
        self.last_treatment = seen.at;
        let reason = if body.glucose() >= 78.0 {
            MealReason::FalseLow
        } else {
            MealReason::Low
        };
        self.sugar(seen.at, grams, reason, "still shaky, more juice", body);
    }

    /// Treats a low: mostly 12 to 20 g, sometimes whatever the hand finds.
    fn treat(&mut self, seen: &Seen, in_swing: bool, body: &mut Body) {
        let too_much = in_swing || self.dice.chance(0.2);
        let grams = match (in_swing, too_much) {
            (true, _) => self.dice.between(80.0, 105.0),
            (_, true) => self.dice.between(30.0, 48.0),
            _ => self.dice.between(12.0, 20.0),
        };
        let reason = if body.glucose() >= 78.0 {
            MealReason::FalseLow
        } else {
            MealReason::Low
        };
        let text = if too_much {
            "juice, biscuits, and some more"
        } else {
            "glucose tablets"
        };
        if in_swing {
            self.mood = Mood::Spent {
                since: seen.at,
                helpings: 0,
            };
        }
        self.sugar(seen.at, grams.round(), reason, text, body);
        self.last_treatment = seen.at;
    }

    fn sugar(&mut self, at: Second, grams: f64, reason: MealReason, text: &'static str, body: &mut Body) {
        body.eat(grams, Gut::Quick);
        let logged = grams > 28.0 || !self.dice.chance(0.08);
        self.enter(
            at,
            logged,
            Deed::Meal {
                counted_g: grams,
                true_g: grams,
                reason,
                text,
            },
        );
    }

    fn meet_high(&mut self, seen: &Seen, mg_dl: f64, body: &mut Body) {
        if let Mood::Impatient { since, corrections } = self.mood {
            return self.lose_patience(seen, mg_dl, since, corrections, body);
        }
        if mg_dl < 215.0 || seen.asleep {
            self.high_since = None;
            return;
        }
        let since = *self.high_since.get_or_insert(seen.at);
        let waited = seen.at - since > 25 * 60 && seen.at - self.last_meal > 100 * 60;
        let rested = seen.at - self.last_correction > 130 * 60 && self.mood == Mood::Calm;
        if waited && rested && self.dice.chance(0.16) {
            let known = if self.dice.chance(0.3) {
                self.check(seen.at, body)
            } else {
                mg_dl
            };
            let careful = if self.dice.chance(0.75) {
                self.felt_units(seen.at)
            } else {
                0.0
            };
            let logged = !self.dice.chance(0.03);
            self.last_correction = seen.at;
            self.inject(
                seen.at,
                (known - AIM_MG_DL) / MG_DL_A_UNIT - careful,
                DoseReason::Correction,
                None,
                logged,
                body,
            );
        }
    }

    /// In a planted swing: up to three corrections, each as if there had been none before.
    fn lose_patience(&mut self, seen: &Seen, mg_dl: f64, since: Second, corrections: u8, body: &mut Body) {
        let ready = seen.at - since > 50 * 60 && seen.at - self.last_correction > 38 * 60;
        let least = if corrections < 2 { 185.0 } else { 220.0 };
        if mg_dl < least || !ready || corrections >= 3 || seen.asleep {
            return;
        }
        self.last_correction = seen.at;
        self.mood = Mood::Impatient {
            since,
            corrections: corrections + 1,
        };
        let units = ((mg_dl - 80.0) / MG_DL_A_UNIT * 1.55).clamp(6.0, 11.0);
        self.inject(seen.at, units, DoseReason::Correction, None, true, body);
    }

    /// A check out of doubt: a new sensor, or a number that jumps.
    fn doubt(&mut self, seen: &Seen, mg_dl: f64, body: &mut Body) {
        if seen.asleep || seen.at - self.last_check.0 < 3 * 3600 {
            return;
        }
        let chance = if seen.new_sensor { 0.012 } else { 0.0015 } + if mg_dl > 260.0 { 0.02 } else { 0.0 };
        if self.dice.chance(chance) {
            self.check(seen.at, body);
        }
    }

    /// Without a sensor only symptoms and the meter are left.
    fn feel(&mut self, seen: &Seen, body: &mut Body) {
        let glucose = body.glucose();
        let symptoms = glucose < 62.0 && self.dice.chance(if seen.asleep { 0.1 } else { 0.35 });
        let curious = !seen.asleep && seen.at - self.last_check.0 > 3 * 3600 && self.dice.chance(0.03);
        if !(symptoms || curious) || seen.at - self.last_treatment < 20 * 60 {
            return;
        }
        let known = self.check(seen.at, body);
        if known < 72.0 {
            self.treat(seen, false, body);
        } else if known > 230.0
            && seen.at - self.last_correction > 3 * 3600
            && seen.at - self.last_meal > 7200
        {
            self.last_correction = seen.at;
            let units = (known - AIM_MG_DL) / MG_DL_A_UNIT - self.felt_units(seen.at);
            self.inject(seen.at, units, DoseReason::Correction, None, true, body);
        }
    }
}
