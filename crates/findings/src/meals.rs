//! What glucose did after the meals of a window.

use std::collections::BTreeMap;

use interstice_book::Record;
use interstice_glucose::{DAY_S, Second};
use interstice_methods::meals::{self as method, Eaten, FEWEST_TIMED, MealCourse};
use interstice_methods::{Recording, swings::CarbsFor};
use serde::Serialize;

use crate::Time;

/// Meals and what followed.
#[derive(Clone, Debug, Default, Serialize)]
pub struct MealsFindings {
    /// Each that could be followed, by its start.
    pub meals: Vec<MealLine>,
    /// How many could not: no readings just before, or a gap in the two hours after.
    pub meals_unread: usize,
    /// The same meal again, those eaten most often first.
    pub repeated_meals: Vec<RepeatedLine>,
    /// What an earlier dose goes with.
    pub meal_timing: TimingLine,
}

/// One meal.
#[derive(Clone, Debug, Serialize)]
pub struct MealLine {
    /// When it began.
    pub at: Time,
    /// What it was, in the wearer's words.
    pub text: Option<String>,
    /// Grams of carbohydrate in all, where each part was counted.
    pub grams: Option<f64>,
    /// Units taken near it.
    pub units: Option<f64>,
    /// How long before it the first of them, minutes; negative after.
    pub lead_min: Option<f64>,
    /// Level before, mg/dL.
    pub before_mg_dl: f64,
    /// Highest within three hours, mg/dL.
    pub peak_mg_dl: f64,
    /// From the one to the other, mg/dL.
    pub rise_mg_dl: f64,
    /// Minutes to the peak.
    pub to_peak_min: f64,
    /// Incremental area over two hours, mg/dL × minutes; absent where something else was eaten meanwhile.
    pub area_mg_dl_min: Option<f64>,
    /// Minutes until back near the level before.
    pub back_after_min: Option<f64>,
}

/// The same meal again.
#[derive(Clone, Debug, Serialize)]
pub struct RepeatedLine {
    /// Its name as it was mostly written.
    pub name: String,
    /// How often it was followed.
    pub times: usize,
    /// How often with nothing else eaten within two hours.
    pub undisturbed: usize,
    /// Median grams.
    pub grams: Option<f64>,
    /// Mean rise, mg/dL.
    pub mean_rise_mg_dl: Option<f64>,
    /// Rise to be expected of the next, drawn towards all meals, mg/dL.
    pub expected_rise_mg_dl: Option<f64>,
    /// 95 %, lower end.
    pub expected_rise_mg_dl_lo95: Option<f64>,
    /// Upper end.
    pub expected_rise_mg_dl_hi95: Option<f64>,
    /// Median minutes to the peak.
    pub to_peak_min: Option<f64>,
    /// Median incremental area, mg/dL × minutes.
    pub area_mg_dl_min: Option<f64>,
    /// Rises of those undisturbed, mg/dL, by time.
    pub rises_mg_dl: Vec<f64>,
}

/// What an earlier dose goes with.
#[derive(Clone, Debug, Default, Serialize)]
pub struct TimingLine {
    /// Meals behind it.
    pub meals: usize,
    /// Median minutes of the dose before the meal.
    pub median_lead_min: Option<f64>,
    /// Rise for each ten minutes earlier, mg/dL.
    pub per_ten_min_mg_dl: Option<f64>,
    /// 95 %.
    pub per_ten_min_mg_dl_lo95: Option<f64>,
    /// 95 %.
    pub per_ten_min_mg_dl_hi95: Option<f64>,
    /// Why it is not told.
    pub reason: Option<String>,
}

/// The meals of a window.
///
/// * `roles`: whether each of the record's meals in the window was against a low, by its instant.
/// * `doses`, `aside`: rapid and short doses; stretches not to be believed.
pub(crate) fn meals(
    record: &Record,
    recording: &Recording<'_>,
    roles: &BTreeMap<Second, CarbsFor>,
    doses: &[(Second, f64)],
    aside: &[(Second, Second)],
    (from, to): (Second, Second),
) -> MealsFindings {
    let mut names = Names::default();
    let logged = record.meals.iter().map(|kept| &kept.it);
    let logged = logged.filter(|meal| (from..to).contains(&meal.at));
    let mut texts: BTreeMap<Second, String> = BTreeMap::new();
    let eaten: Vec<Eaten> = logged
        .filter(|meal| meal.carbohydrate_g.is_none_or(|grams| grams > 0.0))
        .map(|meal| {
            if let Some(text) = &meal.text {
                texts.entry(meal.at).or_insert_with(|| text.clone());
            }
            Eaten {
                at: meal.at,
                grams: meal.carbohydrate_g,
                name: meal.text.as_deref().and_then(|text| names.number(text)),
                against_low: roles.get(&meal.at) == Some(&CarbsFor::Low),
            }
        })
        .collect();
    let found = method::meals(recording, &eaten, doses, aside);
    let day = |meal: &MealCourse| {
        let day = record.clock.wall(meal.at).0.div_euclid(DAY_S);
        u32::try_from(day).unwrap_or(0)
    };
    let rises = |name: u32| {
        let of = found.meals.iter().filter(|meal| meal.name == Some(name));
        of.filter(|meal| meal.is_undisturbed())
            .map(MealCourse::rise_mg_dl)
            .collect()
    };
    MealsFindings {
        repeated_meals: method::repeated(&found.meals)
            .into_iter()
            .map(|meal| repeated_line(&meal, names.shown(meal.name), rises(meal.name)))
            .collect(),
        meal_timing: timing_line(&found.meals, day),
        meals: found
            .meals
            .iter()
            .map(|meal| meal_line(meal, Time(record.clock.moment(meal.at)), texts.get(&meal.at)))
            .collect(),
        meals_unread: found.unread,
    }
}

fn meal_line(meal: &MealCourse, at: Time, text: Option<&String>) -> MealLine {
    MealLine {
        at,
        text: text.cloned(),
        grams: meal.grams,
        units: meal.units,
        lead_min: meal.lead_min,
        before_mg_dl: meal.before_mg_dl,
        peak_mg_dl: meal.peak_mg_dl,
        rise_mg_dl: meal.rise_mg_dl(),
        to_peak_min: meal.to_peak_min,
        area_mg_dl_min: meal.area_mg_dl_min,
        back_after_min: meal.back_after_min,
    }
}

fn repeated_line(meal: &method::RepeatedMeal, name: String, rises_mg_dl: Vec<f64>) -> RepeatedLine {
    RepeatedLine {
        name,
        times: meal.times,
        undisturbed: meal.undisturbed,
        grams: meal.grams,
        mean_rise_mg_dl: meal.mean_rise_mg_dl,
        expected_rise_mg_dl: meal.expected_rise_mg_dl,
        expected_rise_mg_dl_lo95: meal.expected_interval.map(|interval| interval.lo),
        expected_rise_mg_dl_hi95: meal.expected_interval.map(|interval| interval.hi),
        to_peak_min: meal.to_peak_min,
        area_mg_dl_min: meal.area_mg_dl_min,
        rises_mg_dl,
    }
}

fn timing_line(meals: &[MealCourse], day: impl Fn(&MealCourse) -> u32) -> TimingLine {
    let timing = method::timing(meals, day);
    let usable = meals
        .iter()
        .filter(|meal| meal.is_undisturbed() && meal.lead_min.is_some() && meal.grams.is_some())
        .count();
    TimingLine {
        meals: usable,
        median_lead_min: timing.map(|timing| timing.median_lead_min),
        per_ten_min_mg_dl: timing.map(|timing| timing.per_ten_min_mg_dl),
        per_ten_min_mg_dl_lo95: timing.map(|timing| timing.interval.lo),
        per_ten_min_mg_dl_hi95: timing.map(|timing| timing.interval.hi),
        reason: timing.is_none().then(|| match usable {
            usable if usable < FEWEST_TIMED => {
                format!("{usable} of the {FEWEST_TIMED} counted, dosed and undisturbed meals it takes")
            }
            _ => "all doses came at one time before the meal".to_owned(),
        }),
    }
}

/// Names by the wearer's own words: the same words in any order, case and punctuation are one name.
#[derive(Default)]
struct Names {
    numbers: BTreeMap<Vec<String>, u32>,
    /// How often each spelling was used.
    spellings: Vec<BTreeMap<String, u32>>,
}

impl Names {
    fn number(&mut self, text: &str) -> Option<u32> {
        let mut words: Vec<String> = text
            .to_lowercase()
            .split(|c: char| !c.is_alphanumeric())
            .filter(|word| !word.is_empty())
            .map(str::to_owned)
            .collect();
        words.sort_unstable();
        words.dedup();
        if words.is_empty() || is_no_name(&text.to_lowercase()) {
            return None;
        }
        let next = u32::try_from(self.spellings.len()).ok()?;
        let number = *self.numbers.entry(words).or_insert(next);
        if number == next {
            self.spellings.push(BTreeMap::new());
        }
        let spellings = self.spellings.get_mut(number as usize)?;
        *spellings.entry(text.trim().to_owned()).or_insert(0) += 1;
        Some(number)
    }

    /// The spelling used most, the first in order of several.
    fn shown(&self, number: u32) -> String {
        let spellings = self.spellings.get(number as usize);
        spellings
            .and_then(|all| all.iter().max_by(|a, b| a.1.cmp(b.1).then(b.0.cmp(a.0))))
            .map_or_else(String::new, |(text, _)| text.clone())
    }
}

/// What stands where nobody said what was eaten is no meal's name: whole, or as the words after the kind of meal.
const NO_NAME: [&str; 14] = [
    "not reported",
    "not recorded",
    "not available",
    "unknown",
    "none",
    "n/a",
    "nicht angegeben",
    "unbekannt",
    "inconnu",
    "non renseigné",
    "desconocido",
    "sconosciuto",
    "onbekend",
    "未记录",
];

fn is_no_name(text: &str) -> bool {
    let said = text.rsplit([',', ';', ':']).next().unwrap_or(text).trim();
    NO_NAME.contains(&said) || NO_NAME.contains(&text.trim())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_meal_nobody_named_is_not_the_same_again() {
        let mut names = Names::default();
        for text in [
            "Dinner, Not Reported",
            "unknown",
            "data not available, 未记录",
            "N/A",
        ] {
            assert_eq!(names.number(text), None, "{text}");
        }
        assert!(names.number("Breakfast, standard").is_some());
    }

    #[test]
    fn the_same_words_are_one_name() {
        let mut names = Names::default();
        let first = names.number("Bread; cheese, jam");
        assert_eq!(names.number("bread, jam; cheese"), first);
        assert_eq!(names.number("bread, jam; cheese"), first);
        assert_ne!(names.number("bread"), first);
        assert_eq!(names.number(" – "), None);
        assert_eq!(names.shown(0), "bread, jam; cheese");
    }
}
