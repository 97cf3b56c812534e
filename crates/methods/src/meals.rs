//! What glucose did after meals: each one, the same meal again, and the dose's timing against the rise.
//!
//! What is told is what followed, with everything that was done meanwhile in it. A correction taken after a meal stays in:
//! leaving such meals out would leave out those that rose most.

mod repeated;

use interstice_glucose::Second;

pub use repeated::{FEWEST_TIMED, MealTiming, RepeatedMeal, repeated, timing};

use crate::recording::Recording;

/// Things eaten so soon after one another are one meal (ours, no source).
pub const ONE_MEAL_S: Second = 30 * 60;
/// How long the incremental area is taken over: two hours (FAO/WHO 1998, Food and Nutrition Paper 66).
pub const AREA_S: Second = 2 * 3600;
/// How long a peak is looked for (ours, no source).
pub const PEAK_S: Second = 3 * 3600;
/// A next meal cuts it no shorter than this (ours, no source).
const LEAST_PEAK_S: Second = 60 * 60;
/// How long the return is looked for (ours, no source).
pub const RETURN_S: Second = 5 * 3600;
/// Back is within so much of where it began, mg/dL (ours, no source).
pub const BACK_WITHIN_MG_DL: f64 = 20.0;
/// Less carbohydrate than this within the two hours does not disturb a meal, grams (ours, no source).
pub const DISTURBS_G: f64 = 10.0;
/// A dose up to so long before or after a meal is its own (ours, no source).
pub const DOSE_NEAR_S: Second = 60 * 60;
/// Readings the level before a meal is the mean of (ours, no source).
const BEFORE_S: Second = 15 * 60;

/// Something eaten, as logged.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Eaten {
    /// When.
    pub at: Second,
    /// Grams of carbohydrate, where counted.
    pub grams: Option<f64>,
    /// Number of its name; the same for the same words.
    pub name: Option<u32>,
    /// Whether it was eaten against a low.
    pub against_low: bool,
}

/// One meal and what followed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MealCourse {
    /// When it began.
    pub at: Second,
    /// Grams in all, where each part was counted.
    pub grams: Option<f64>,
    /// Number of the name of its largest part.
    pub name: Option<u32>,
    /// Units taken for it.
    pub units: Option<f64>,
    /// How long before it the first of them, minutes; negative after it.
    pub lead_min: Option<f64>,
    /// Mean of the quarter of an hour before, mg/dL.
    pub before_mg_dl: f64,
    /// Highest reading within three hours, or until the next meal but an hour at least, mg/dL.
    pub peak_mg_dl: f64,
    /// When, minutes after it began.
    pub to_peak_min: f64,
    /// Incremental area over two hours, what lies below the level before ignored, mg/dL × minutes; `None` where something else
    /// was eaten meanwhile.
    pub area_mg_dl_min: Option<f64>,
    /// Minutes until back within [`BACK_WITHIN_MG_DL`] of the level before, after the peak; `None` where that was not seen.
    pub back_after_min: Option<f64>,
}

impl MealCourse {
    /// From the level before to the peak, mg/dL; negative where it only fell.
    pub fn rise_mg_dl(&self) -> f64 {
        self.peak_mg_dl - self.before_mg_dl
    }

    /// Whether nothing else was eaten within two hours.
    pub fn is_undisturbed(&self) -> bool {
        self.area_mg_dl_min.is_some()
    }
}

/// Meals, and how many could not be followed.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Meals {
    /// In time order.
    pub meals: Vec<MealCourse>,
    /// Meals without readings just before, or with a gap or a stretch not to be believed in the two hours after.
    pub unread: usize,
}

/// Every meal and what followed.
///
/// * `eaten`: in time order; what was eaten against a low is no meal but disturbs one.
/// * `doses`: instants and units of rapid and short doses, in time order; corrections among them where they fall near a meal.
/// * `aside`: stretches not to be believed, pressed ones among them.
pub fn meals(
    recording: &Recording<'_>,
    eaten: &[Eaten],
    doses: &[(Second, f64)],
    aside: &[(Second, Second)],
) -> Meals {
    let mut all = Meals::default();
    let groups = groups(eaten);
    for (place, group) in groups.iter().enumerate() {
        let next = groups.get(place + 1).map_or(Second::MAX, |next| next.at);
        match course(recording, group, next, eaten, aside) {
            None => all.unread += 1,
            Some(mut course) => {
                let near = doses.iter().filter(|dose| {
                    (dose.0 - group.at).abs() <= DOSE_NEAR_S && dose.0 < next - DOSE_NEAR_S / 2
                });
                let near: Vec<&(Second, f64)> = near.collect();
                course.lead_min = near.first().map(|dose| (group.at - dose.0) as f64 / 60.0);
                course.units = (!near.is_empty()).then(|| near.iter().map(|dose| dose.1).sum());
                all.meals.push(course);
            }
        }
    }
    all
}

/// What was eaten together.
struct Group {
    at: Second,
    end: Second,
    grams: Option<f64>,
    name: Option<u32>,
}

fn groups(eaten: &[Eaten]) -> Vec<Group> {
    let mut groups: Vec<(Group, f64)> = Vec::new();
    for part in eaten.iter().filter(|part| !part.against_low) {
        let grams = part.grams.unwrap_or(0.0);
        match groups.last_mut() {
            Some((group, largest)) if part.at - group.at <= ONE_MEAL_S => {
                group.end = part.at;
                group.grams = group.grams.zip(part.grams).map(|(a, b)| a + b);
                if grams > *largest {
                    (group.name, *largest) = (part.name, grams);
                }
            }
            _ => groups.push((
                Group {
                    at: part.at,
                    end: part.at,
                    grams: part.grams,
                    name: part.name,
                },
                grams,
            )),
        }
    }
    groups.into_iter().map(|(group, _)| group).collect()
}

fn course(
    recording: &Recording<'_>,
    meal: &Group,
    next: Second,
    eaten: &[Eaten],
    aside: &[(Second, Second)],
) -> Option<MealCourse> {
    let until = meal.at + AREA_S;
    if aside
        .iter()
        .any(|&(from, to)| from < until && to > meal.at - BEFORE_S)
    {
        return None;
    }
    let before: Vec<f64> = recording
        .course(meal.at - BEFORE_S, meal.at + 1)
        .map(|reading| reading.1)
        .collect();
    let before_mg_dl = before.iter().sum::<f64>() / before.len().max(1) as f64;
    if before.is_empty() || recording.unbroken_until(meal.at, until) < until {
        return None;
    }
    // A next meal within the hour does not cut it shorter: the first's peak would not have come.
    let end = (meal.at + PEAK_S).min(next.max(meal.at + LEAST_PEAK_S));
    let unbroken = recording.unbroken_until(meal.at, end);
    let mut peak = (meal.at, f64::NEG_INFINITY);
    for (at, mg_dl) in recording.course(meal.at + 1, unbroken + 1) {
        if mg_dl > peak.1 {
            peak = (at, mg_dl);
        }
    }
    let disturbed = eaten.iter().any(|part| {
        part.at > meal.end && part.at < until && part.grams.is_none_or(|grams| grams >= DISTURBS_G)
    });
    let area = || {
        let points = recording
            .course(meal.at + 1, until + 1)
            .map(|(at, mg_dl)| ((at - meal.at) as f64 / 60.0, mg_dl));
        incremental_area(before_mg_dl, points)
    };
    let back_by = recording.unbroken_until(peak.0, meal.at + RETURN_S);
    let back = recording
        .course(peak.0 + 1, back_by + 1)
        .find(|reading| reading.1 <= before_mg_dl + BACK_WITHIN_MG_DL);
    Some(MealCourse {
        at: meal.at,
        grams: meal.grams,
        name: meal.name,
        units: None,
        lead_min: None,
        before_mg_dl,
        peak_mg_dl: peak.1,
        to_peak_min: (peak.0 - meal.at) as f64 / 60.0,
        area_mg_dl_min: (!disturbed).then(area),
        back_after_min: back.map(|(at, _)| (at - meal.at) as f64 / 60.0),
    })
    .filter(|course| course.peak_mg_dl.is_finite())
}

/// Incremental area under the curve, what lies below the level at the start ignored: triangles where the curve crosses it
/// (FAO/WHO 1998; Brouns et al. 2005, Nutr Res Rev 18:145; Wolever 2004, Br J Nutr 91:295).
///
/// * `start`: level at minute 0, mg/dL.
/// * `points`: minutes after it and mg/dL, in time order.
pub fn incremental_area(start: f64, points: impl IntoIterator<Item = (f64, f64)>) -> f64 {
    let (mut minute, mut above) = (0.0, 0.0);
    let mut area = 0.0;
    for (now, mg_dl) in points {
        let (step, next) = (now - minute, mg_dl - start);
        area += match (above > 0.0, next > 0.0) {
            (false, false) => 0.0,
            (true, true) => 0.5 * (above + next) * step,
            (true, false) => 0.5 * above * step * above / (above - next),
            (false, true) => 0.5 * next * step * next / (next - above),
        };
        (minute, above) = (now, next);
    }
    area
}
