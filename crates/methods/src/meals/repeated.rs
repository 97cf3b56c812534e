//! The same meal again, and what the timing of its dose goes with.

use super::MealCourse;
use crate::bootstrap::Interval;
use crate::mixed::{Bounds, Freedom, Nested};
use crate::quantile::median;

/// Fewest meals with a dose for its timing to be told (ours, no source).
pub const FEWEST_TIMED: usize = 20;

/// A meal eaten at least twice, by its name.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RepeatedMeal {
    /// Number of its name.
    pub name: u32,
    /// How often it was followed.
    pub times: usize,
    /// Of these, how often nothing else was eaten within two hours.
    pub undisturbed: usize,
    /// Median grams, where counted.
    pub grams: Option<f64>,
    /// Mean rise of those undisturbed, mg/dL; nothing drawn in.
    pub mean_rise_mg_dl: Option<f64>,
    /// What the next one may be expected to rise by, drawn towards all of the wearer's meals the more the fewer there are.
    pub expected_rise_mg_dl: Option<f64>,
    /// 95 % of that expectation (not of a single meal).
    pub expected_interval: Option<Interval>,
    /// Median minutes to the peak.
    pub to_peak_min: Option<f64>,
    /// Median incremental area, mg/dL × minutes.
    pub area_mg_dl_min: Option<f64>,
}

/// What an earlier dose goes with.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MealTiming {
    /// Undisturbed meals with a dose, named or not.
    pub meals: usize,
    /// Median minutes of the dose before the meal; negative after.
    pub median_lead_min: f64,
    /// How much more each rose for each ten minutes that the dose came earlier, at like grams, mg/dL.
    pub per_ten_min_mg_dl: f64,
    /// 95 %.
    pub interval: Interval,
}

/// Meals by name, those eaten most often first.
///
/// The expected rise is the level of a group in a model with one mean and a shift of each name, shrunken, all variances unknown
/// ([`Nested::shrunken`]); a meal seen twice is mostly told by all others.
pub fn repeated(meals: &[MealCourse]) -> Vec<RepeatedMeal> {
    let mut names: Vec<u32> = meals.iter().filter_map(|meal| meal.name).collect();
    names.sort_unstable();
    names.dedup();
    let undisturbed: Vec<(&MealCourse, u32)> = meals
        .iter()
        .filter(|meal| meal.is_undisturbed())
        .filter_map(|meal| Some((meal, meal.name?)))
        .collect();
    let expected = expected(&undisturbed);
    let mut all: Vec<RepeatedMeal> = names
        .into_iter()
        .map(|name| one(name, meals, &expected))
        .filter(|meal| meal.times > 1)
        .collect();
    all.sort_by_key(|meal| (std::cmp::Reverse(meal.times), meal.name));
    all
}

fn expected(meals: &[(&MealCourse, u32)]) -> Vec<(u32, f64, Interval)> {
    let ones = vec![1.0; meals.len()];
    let rises: Vec<f64> = meals.iter().map(|(meal, _)| meal.rise_mg_dl()).collect();
    let names: Vec<u32> = meals.iter().map(|&(_, name)| name).collect();
    let Ok(nested) = Nested::new(&[&ones], &rises, &names, None) else {
        return Vec::new();
    };
    let levels = nested.shrunken(&[1.0], 0.95);
    levels
        .into_iter()
        .map(|of| (of.group, of.level, of.interval))
        .collect()
}

fn one(name: u32, meals: &[MealCourse], expected: &[(u32, f64, Interval)]) -> RepeatedMeal {
    let all: Vec<&MealCourse> = meals.iter().filter(|meal| meal.name == Some(name)).collect();
    let clear: Vec<&&MealCourse> = all.iter().filter(|meal| meal.is_undisturbed()).collect();
    let middle = |mut values: Vec<f64>| (!values.is_empty()).then(|| median(&mut values));
    let level = expected.iter().find(|of| of.0 == name);
    RepeatedMeal {
        name,
        times: all.len(),
        undisturbed: clear.len(),
        grams: middle(all.iter().filter_map(|meal| meal.grams).collect()),
        mean_rise_mg_dl: (!clear.is_empty())
            .then(|| clear.iter().map(|meal| meal.rise_mg_dl()).sum::<f64>() / clear.len() as f64),
        expected_rise_mg_dl: level.map(|of| of.1),
        expected_interval: level.map(|of| of.2),
        to_peak_min: middle(clear.iter().map(|meal| meal.to_peak_min).collect()),
        area_mg_dl_min: middle(clear.iter().filter_map(|meal| meal.area_mg_dl_min).collect()),
    }
}

/// How the rise goes with the timing of the dose, grams and the level before held equal, days apart.
///
/// A linear model with a shift of each day by restricted maximum likelihood, the slope's interval by Kenward and Roger. `None` with fewer
/// than [`FEWEST_TIMED`] undisturbed meals that were counted and dosed, or where all doses came at one time. It says what went
/// together, not what would: who doses early may do other things too.
///
/// * `day`: the day of each meal, of the wearer's own counting.
pub fn timing(meals: &[MealCourse], day: impl Fn(&MealCourse) -> u32) -> Option<MealTiming> {
    let timed: Vec<(&MealCourse, f64, f64)> = meals
        .iter()
        .filter(|meal| meal.is_undisturbed())
        .filter_map(|meal| Some((meal, meal.lead_min?, meal.grams?)))
        .collect();
    if timed.len() < FEWEST_TIMED {
        return None;
    }
    let rises: Vec<f64> = timed.iter().map(|of| of.0.rise_mg_dl()).collect();
    let days: Vec<u32> = timed.iter().map(|of| day(of.0)).collect();
    let mut columns = vec![
        vec![1.0; timed.len()],
        centred(timed.iter().map(|of| of.1 / 10.0)),
    ];
    let held = [
        centred(timed.iter().map(|of| of.2)),
        centred(timed.iter().map(|of| of.0.before_mg_dl)),
    ];
    // What is the same at every meal is held equal already.
    columns.extend(
        held.into_iter()
            .filter(|column| column.iter().any(|value| value.abs() > 1e-9)),
    );
    let x: Vec<&[f64]> = columns.iter().map(Vec::as_slice).collect();
    let nested = Nested::new(&x, &rises, &days, None).ok()?;
    let fit = nested.fit(Bounds::NotNegative).ok()?;
    let mut weights = vec![0.0; x.len()];
    weights[1] = 1.0;
    let slope = fit.contrast(&weights, Freedom::KenwardRoger)?;
    Some(MealTiming {
        meals: timed.len(),
        median_lead_min: median(&mut timed.iter().map(|of| of.1).collect::<Vec<f64>>()),
        per_ten_min_mg_dl: slope.estimate,
        interval: slope.interval(0.95),
    })
}

fn centred(column: impl Iterator<Item = f64>) -> Vec<f64> {
    let mut column: Vec<f64> = column.collect();
    let mean = column.iter().sum::<f64>() / column.len().max(1) as f64;
    for value in &mut column {
        *value -= mean;
    }
    column
}
