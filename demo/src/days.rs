//! The plan of every day before glucose has its say: sleep, meals, exercise, long insulin, usual blood checks.

use interstice_glucose::Second;

use crate::body::Gut;
use crate::calendar::{Calendar, DAYS, DayKind, day_kind};
use crate::random::{Dice, Purpose};

/// When the dose for a meal is taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum DoseTiming {
    /// Ten to twenty minutes before.
    Before,
    /// With the first bite.
    With,
    /// Twenty to fifty minutes late.
    Late,
    /// Not at all.
    Missed,
}

/// A meal as planned.
#[derive(Clone, Debug)]
pub(crate) struct PlannedMeal {
    pub(crate) at: Second,
    pub(crate) true_g: f64,
    pub(crate) counted_g: f64,
    pub(crate) gut: Gut,
    pub(crate) text: &'static str,
    pub(crate) timing: DoseTiming,
    /// Minutes between dose and first bite, negative when the dose comes first.
    pub(crate) dose_after_min: i64,
    /// Whether the diary gets to know.
    pub(crate) logged: bool,
    /// A swing is planted at this meal.
    pub(crate) swing: bool,
}

/// Time asleep.
#[derive(Clone, Debug)]
pub(crate) struct Sleep {
    pub(crate) from: Second,
    pub(crate) to: Second,
    /// Woken more than once, or far too late to bed.
    pub(crate) bad: bool,
}

/// Exercise or hard work.
#[derive(Clone, Debug)]
pub(crate) struct Activity {
    pub(crate) from: Second,
    pub(crate) minutes: i64,
    /// Factor on uptake without insulin.
    pub(crate) effort: f64,
    pub(crate) text: &'static str,
}

/// Everything planned, each list in time order.
#[derive(Clone, Debug, Default)]
pub(crate) struct Plan {
    pub(crate) meals: Vec<PlannedMeal>,
    pub(crate) sleeps: Vec<Sleep>,
    pub(crate) activities: Vec<Activity>,
    pub(crate) long_doses: Vec<Second>,
    pub(crate) checks: Vec<Second>,
    /// Swings planted, by the instant of their meal.
    pub(crate) notes: Vec<(Second, &'static str)>,
}

impl Plan {
    pub(crate) fn new(calendar: &Calendar, seed: u64) -> Self {
        let mut dice = Dice::new(seed, Purpose::Days);
        let mut plan = Plan::default();
        for day in 0..DAYS {
            plan.add_sleep(calendar, day, &mut dice);
        }
        plan.settle_sleep();
        plan.wake_in_the_repeated_hour();
        for day in 0..DAYS {
            let kind = day_kind(day);
            plan.add_meals(calendar, day, kind, &mut dice);
            plan.add_activity(calendar, day, kind, &mut dice);
            plan.long_doses
                .push(calendar.at(day, long_dose_minute(kind) + dice.about(0.0, 14.0) as i64));
            plan.add_checks(calendar, day, kind, &mut dice);
        }
        plan.add_notes(calendar, &mut dice);
        plan.notes.sort_unstable();
        plan.meals.sort_by_key(|meal| meal.at);
        plan.meals
            .dedup_by(|later, earlier| later.at - earlier.at < 40 * 60);
        plan.plant_swings(calendar, &mut dice);
        plan.activities.sort_by_key(|activity| activity.from);
        plan.long_doses.sort_unstable();
        plan.checks.sort_unstable();
        plan
    }

    /// The sleep that contains `at`.
    pub(crate) fn sleep_at(&self, at: Second) -> Option<&Sleep> {
        let next = self.sleeps.partition_point(|sleep| sleep.from <= at);
        self.sleeps
            .get(next.checked_sub(1)?)
            .filter(|sleep| at < sleep.to)
    }

    /// `at`, or a quarter of an hour after waking when that is in a sleep.
    pub(crate) fn awake(&self, at: Second) -> Second {
        self.sleep_at(at).map_or(at, |sleep| sleep.to + 15 * 60)
    }

    fn add_sleep(&mut self, calendar: &Calendar, day: usize, dice: &mut Dice) {
        let kind = day_kind(day);
        let bad = dice.chance(0.13);
        for &(from, to, jitter) in usual_sleep(kind) {
            let late = if bad { dice.between(30.0, 100.0) } else { 0.0 };
            let from = calendar.at(day, from + (dice.about(0.0, jitter) + late) as i64);
            let to = calendar.at(day, to + dice.about(0.0, jitter) as i64);
            if bad && to - from > 4 * 3600 && dice.chance(0.6) {
                let broken = from + ((to - from) as f64 * dice.between(0.35, 0.7)) as i64 / 60 * 60;
                let awake = dice.between(25.0, 80.0) as i64 * 60;
                self.sleeps.push(Sleep {
                    from,
                    to: broken,
                    bad,
                });
                self.sleeps.push(Sleep {
                    from: broken + awake,
                    to,
                    bad,
                });
            } else {
                self.sleeps.push(Sleep { from, to, bad });
            }
        }
    }

    /// Puts sleeps in order and keeps them apart where two kinds of day meet.
    fn settle_sleep(&mut self) {
        self.sleeps.sort_by_key(|sleep| sleep.from);
        let mut awake_from = Second::MIN;
        self.sleeps.retain_mut(|sleep| {
            sleep.from = sleep.from.max(awake_from);
            let keep = sleep.to - sleep.from > 40 * 60;
            if keep {
                awake_from = sleep.to + 25 * 60;
            }
            keep
        });
    }

    fn add_meals(&mut self, calendar: &Calendar, day: usize, kind: DayKind, dice: &mut Dice) {
        for slot in meal_slots(kind) {
            let eaten = dice.chance(slot.chance);
            let at = calendar.at(day, slot.minute + dice.about(0.0, 22.0) as i64);
            let true_g = (slot.grams * libm::exp(dice.about(0.0, 0.26)))
                .clamp(8.0, 120.0)
                .round();
            let counted_g = (true_g * libm::exp(dice.about(0.0, 0.36).clamp(-0.7, 0.55)) / 5.0)
                .round()
                .clamp(1.0, 26.0)
                * 5.0;
            let timing = pick_timing(slot.snack, dice);
            let dose_after_min = match timing {
                DoseTiming::Before => -(dice.between(8.0, 18.0) as i64),
                DoseTiming::With | DoseTiming::Missed => 0,
                DoseTiming::Late => dice.between(18.0, 50.0) as i64,
            };
            let text = *dice.pick(slot.texts);
            let logged = !dice.chance(0.04);
            let asleep = self.sleep_at(at).map(|sleep| sleep.to + 20 * 60);
            let at = asleep.unwrap_or(at);
            let too_late = asleep.is_some_and(|woken| woken > calendar.at(day, slot.minute + 110));
            if eaten && !too_late {
                let gut = if slot.snack && true_g < 25.0 {
                    Gut::Quick
                } else {
                    Gut::Slow
                };
                self.meals.push(PlannedMeal {
                    at,
                    true_g,
                    counted_g,
                    gut,
                    text,
                    timing,
                    dose_after_min,
                    logged,
                    swing: false,
                });
            }
        }
    }

    fn add_activity(&mut self, calendar: &Calendar, day: usize, kind: DayKind, dice: &mut Dice) {
        let (chance, minute, texts) = match kind {
            DayKind::Home => (0.40, *dice.pick(&[570, 1020]), HOME_ACTIVITIES),
            DayKind::MorningWatch => (0.34, 900, SHIP_ACTIVITIES),
            DayKind::DawnWatch => (0.30, 660, SHIP_ACTIVITIES),
            DayKind::NightWatch => (0.30, 1050, SHIP_ACTIVITIES),
        };
        let (does, minutes) = (dice.chance(chance), dice.between(28.0, 68.0) as i64);
        let from = calendar.at(day, minute + dice.about(0.0, 25.0) as i64);
        let (effort, text) = (dice.between(1.6, 2.6), *dice.pick(texts));
        if does && self.sleep_at(from).is_none() && self.sleep_at(from + minutes * 60).is_none() {
            self.activities.push(Activity {
                from,
                minutes,
                effort,
                text,
            });
        }
    }

    /// After waking, before the evening meal, before bed.
    fn add_checks(&mut self, calendar: &Calendar, day: usize, kind: DayKind, dice: &mut Dice) {
        let evening = match kind {
            DayKind::Home | DayKind::MorningWatch => 18 * 60 - 5,
            DayKind::DawnWatch => 20 * 60 - 10,
            DayKind::NightWatch => 16 * 60,
        };
        let (begin, end) = (calendar.at(day, 0), calendar.at(day + 1, 0));
        let long_enough = |sleep: &&Sleep| sleep.to - sleep.from > 3 * 3600;
        let woken = self
            .sleeps
            .iter()
            .find(|s| s.to >= begin && s.to < end && s.to - s.from > 2 * 3600);
        let to_bed = self
            .sleeps
            .iter()
            .filter(long_enough)
            .find(|s| s.from >= begin && s.from < end);
        let mut checks = Vec::new();
        let minutes = |low: f64, high: f64, dice: &mut Dice| dice.between(low, high) as i64 * 60;
        checks.extend(woken.map(|s| (0.85, s.to + minutes(3.0, 20.0, dice))));
        checks.push((0.66, calendar.at(day, evening) + minutes(-25.0, 25.0, dice)));
        checks.extend(to_bed.map(|s| (0.5, s.from - minutes(8.0, 40.0, dice))));
        checks.push((0.25, calendar.at(day, 13 * 60) + minutes(-120.0, 150.0, dice)));
        for (chance, at) in checks {
            if dice.chance(chance) && self.sleep_at(at).is_none() {
                self.checks.push(at);
            }
        }
    }

    fn add_notes(&mut self, calendar: &Calendar, dice: &mut Dice) {
        for (i, &text) in NOTES.iter().enumerate() {
            let day = 4 + i * 19 + dice.below(11);
            self.notes.push((self.awake(calendar.at(day, 15 * 60 + 7)), text));
        }
    }

    /// In the night the clocks go back the engineer checks twice: at 2:40, and half an hour later, at 2:10.
    fn wake_in_the_repeated_hour(&mut self) {
        let passes: [Second; 2] = [1_761_439_200, 1_761_441_000];
        if let Some(i) = self
            .sleeps
            .iter()
            .position(|s| s.from < passes[0] && passes[1] < s.to)
        {
            let rest = Sleep {
                from: passes[1] + 900,
                bad: true,
                ..self.sleeps[i]
            };
            self.sleeps[i] = Sleep {
                to: passes[0] - 180,
                bad: true,
                ..self.sleeps[i]
            };
            self.sleeps.insert(i + 1, rest);
        }
        self.checks.extend(passes);
        self.notes.push((
            passes[1] + 60,
            "clock says ten past two again; checked, back to bed",
        ));
    }

    /// Marks about one meal in eleven days as the start of a swing: far too little insulin for it, corrections on
    /// top of corrections after it, and a fright at the end. The person must be awake for seven hours after it and
    /// sit down to nothing else for four.
    fn plant_swings(&mut self, calendar: &Calendar, dice: &mut Dice) {
        for round in 0..17 {
            let from = calendar.at(5 + round * 11 + dice.below(5), 0);
            let found = (0..self.meals.len()).find(|&i| self.meals[i].at >= from && self.suits_swing(i));
            let Some(i) = found else { continue };
            let meal = &mut self.meals[i];
            meal.swing = true;
            meal.logged = true;
            meal.true_g = dice.between(88.0, 112.0).round();
            meal.counted_g = (meal.true_g * 0.38 / 5.0).round() * 5.0;
            meal.timing = DoseTiming::With;
            meal.dose_after_min = 0;
            let (at, calm) = (meal.at, meal.at + 4 * 3600);
            self.meals.retain(|other| other.at <= at || other.at > calm);
            self.activities
                .retain(|activity| (activity.from - at).abs() > 7 * 3600);
        }
    }

    fn suits_swing(&self, i: usize) -> bool {
        let meal = &self.meals[i];
        let busy = self.meals[i + 1..]
            .iter()
            .take_while(|m| m.at < meal.at + 4 * 3600)
            .any(|m| m.true_g > 40.0);
        let asleep = self
            .sleeps
            .iter()
            .any(|s| s.from < meal.at + 7 * 3600 && s.to > meal.at);
        meal.true_g >= 35.0 && !meal.swing && !busy && !asleep
    }
}

fn pick_timing(snack: bool, dice: &mut Dice) -> DoseTiming {
    let draw = dice.unit();
    let (before, with, late) = if snack {
        (0.15, 0.62, 0.74)
    } else {
        (0.36, 0.68, 0.91)
    };
    if draw < before {
        DoseTiming::Before
    } else if draw < with {
        DoseTiming::With
    } else if draw < late {
        DoseTiming::Late
    } else {
        DoseTiming::Missed
    }
}

/// (from, to, jitter) of usual sleep, minutes of the day.
fn usual_sleep(kind: DayKind) -> &'static [(i64, i64, f64)] {
    match kind {
        DayKind::Home => &[(-55, 425, 24.0)],
        DayKind::MorningWatch => &[(40, 425, 12.0)],
        DayKind::DawnWatch => &[(-175, 205, 10.0), (800, 900, 15.0)],
        DayKind::NightWatch => &[(275, 660, 14.0), (1215, 1395, 12.0)],
    }
}

fn long_dose_minute(kind: DayKind) -> i64 {
    match kind {
        DayKind::Home => 22 * 60 + 5,
        DayKind::MorningWatch => 22 * 60 + 30,
        DayKind::DawnWatch => 20 * 60 + 25,
        DayKind::NightWatch => 19 * 60 + 40,
    }
}

struct Slot {
    minute: i64,
    grams: f64,
    chance: f64,
    snack: bool,
    texts: &'static [&'static str],
}

const fn meal(minute: i64, grams: f64, texts: &'static [&'static str]) -> Slot {
    Slot {
        minute,
        grams,
        chance: 0.96,
        snack: false,
        texts,
    }
}

const fn snack(minute: i64, grams: f64, chance: f64, texts: &'static [&'static str]) -> Slot {
    Slot {
        minute,
        grams,
        chance,
        snack: true,
        texts,
    }
}

fn meal_slots(kind: DayKind) -> &'static [Slot] {
    const HOME: [Slot; 5] = [
        meal(455, 48.0, BREAKFASTS),
        meal(765, 62.0, LUNCHES),
        snack(935, 20.0, 0.35, SNACKS),
        meal(1120, 68.0, DINNERS),
        snack(1290, 20.0, 0.28, SNACKS),
    ];
    const MORNING: [Slot; 5] = [
        snack(12, 24.0, 0.45, SNACKS),
        meal(445, 52.0, BREAKFASTS),
        meal(750, 68.0, LUNCHES),
        snack(940, 20.0, 0.3, SNACKS),
        meal(1100, 70.0, DINNERS),
    ];
    const DAWN: [Slot; 5] = [
        snack(225, 22.0, 0.7, SNACKS),
        meal(500, 54.0, BREAKFASTS),
        meal(745, 60.0, LUNCHES),
        snack(930, 18.0, 0.3, SNACKS),
        meal(1215, 58.0, DINNERS),
    ];
    const NIGHT: [Slot; 4] = [
        snack(125, 26.0, 0.75, SNACKS),
        meal(690, 58.0, BREAKFASTS),
        meal(985, 72.0, DINNERS),
        meal(1415, 36.0, LUNCHES),
    ];
    match kind {
        DayKind::Home => &HOME,
        DayKind::MorningWatch => &MORNING,
        DayKind::DawnWatch => &DAWN,
        DayKind::NightWatch => &NIGHT,
    }
}

const BREAKFASTS: &[&str] = &[
    "porridge with apple",
    "bread; cheese, jam",
    "two rolls, egg",
    "muesli and yoghurt",
    "pancakes, \"small\" pile",
];
const LUNCHES: &[&str] = &[
    "potatoes, fish, beans",
    "lentil soup + bread",
    "rice and chicken",
    "noodles",
    "stew; \"whatever was left\"",
];
const DINNERS: &[&str] = &[
    "pasta, tomato sauce",
    "pizza, half",
    "curry with rice",
    "meatballs, potatoes",
    "bread, soup, apple",
];
const SNACKS: &[&str] = &[
    "banana",
    "biscuits",
    "apple",
    "rye bread with cheese",
    "yoghurt, honey",
];
const HOME_ACTIVITIES: &[&str] = &["run", "cycling", "swimming", "garden work"];
const SHIP_ACTIVITIES: &[&str] = &[
    "rowing machine",
    "weights",
    "engine room, heavy work",
    "stairs, up and down",
];
const NOTES: &[&str] = &[
    "INVENTED person, INVENTED diary",
    "new strips, other batch",
    "alarm in the engine room; no sleep worth the name",
    "reader said \"low\", blood said no",
    "slept on the sensor again, I think",
    "sensor itches; moved my belt",
    "tired,\tbut fine",
    "blood and sensor far apart all week: which one is right?",
    "cook made \"light\" dumplings.\nThey were not.",
    "home tomorrow",
];

#[cfg(test)]
mod tests {
    use super::*;

    fn plan() -> Plan {
        Plan::new(&Calendar::new(), 1)
    }

    #[test]
    fn sleeps_stay_apart_and_meals_are_eaten_awake() {
        let plan = plan();
        assert!(plan.sleeps.windows(2).all(|w| w[0].to < w[1].from));
        assert!(plan.meals.iter().all(|meal| plan.sleep_at(meal.at).is_none()));
        assert!(plan.checks.iter().all(|&at| plan.sleep_at(at).is_none()));
    }

    #[test]
    fn at_least_twelve_swings_find_a_place() {
        let swings = plan().meals.iter().filter(|meal| meal.swing).count();
        assert!((12..=17).contains(&swings), "{swings}");
    }
}
