//! Each question as a mixed model.

use std::collections::{BTreeMap, BTreeSet};

use super::answer::{Answer, Compared, Estimate, MOST_FALSE, More, Quality, Untold};
use super::column::{Differences, FEWEST_CHECKS, Question, Values, columns, sensors_by_level, truth};
use super::plan::{Design, Plan, is_too_small};
use crate::mixed::{Bounds, Contrast, Freedom, MixedError, Nested};

/// Confidence of the intervals.
const CONFIDENCE: f64 = 0.95;
/// Fewest sensors of either side, and fewest that show both sides where each is compared with itself.
const FEWEST_A_SIDE: usize = 2;
/// Fewest sensors for the slope of a number.
const FEWEST_FOR_SLOPE: usize = 4;
/// Fewest days of wear with a value for the slope of a number: checks of one day share what that day had.
const FEWEST_DAYS: usize = 10;
/// Share of a comparison that another question explains on the same sensors, above which the answer says so.
const ENTANGLED: f64 = 0.5;
/// Share above which the two are one.
const TOGETHER: f64 = 0.999;
/// Part of its size an effect must keep without any one sensor.
const KEPT: f64 = 0.5;

/// Answers every question for both qualities.
///
/// The model of a question: a constant; its levels but the one most sensors have, or its number; the questions that are held
/// equal; a random shift of every sensor; and, where sensors differ within themselves in what is asked, one of every
/// level of every sensor (or every day of it, for a number), without which intervals would hold the truth in 90 of 100
/// samples rather than 95. Rows without a value are left out of that question. Levels found on a single sensor are left out
/// and say so.
///
/// In the order of the questions, signed before absolute.
pub fn ask(differences: &Differences<'_>, questions: &[Question<'_>]) -> Vec<Answer> {
    let mut asked: Vec<Asked> = Vec::new();
    for question in 0..questions.len() {
        for quality in [Quality::Signed, Quality::Absolute] {
            let asking = Asking {
                differences,
                questions,
                question,
                quality,
            };
            let answered = |compared, outcome| Asked {
                question,
                quality,
                compared,
                outcome,
            };
            match asking.comparisons() {
                Err(untold) => asked.push(answered(None, Err(untold))),
                Ok(comparisons) => asked.extend(
                    comparisons
                        .into_iter()
                        .map(|(compared, outcome)| answered(Some(compared), outcome)),
                ),
            }
        }
    }
    counted(asked)
}

/// One comparison, not yet counted among the others.
struct Asked {
    question: usize,
    quality: Quality,
    compared: Option<Compared>,
    outcome: Result<Found, Untold>,
}

/// An estimate, and from what its next sensors are planned.
struct Found {
    estimate: Estimate,
    plan: Plan,
    /// The same without the sensor that makes most of it, where that one makes it alone.
    without: Option<Plan>,
}

/// Counts everything asked into `q`, takes back what no longer holds, and says what would settle the rest.
fn counted(asked: Vec<Asked>) -> Vec<Answer> {
    let p: Vec<f64> = asked
        .iter()
        .filter_map(|one| one.outcome.as_ref().ok())
        .map(|found| found.estimate.p)
        .collect();
    let all = benjamini_hochberg(&p);
    let there = all.iter().filter(|&&q| q <= MOST_FALSE).count();
    let mut q = all.iter().copied();
    let mut count = |found: Found| {
        let q = q.next().unwrap_or(1.0);
        // To be shown as there it must come next after those that are: its p-value be at most this.
        let others = there - usize::from(q <= MOST_FALSE);
        let level = MOST_FALSE * (others + 1) as f64 / p.len().max(1) as f64;
        found.counted(q, level)
    };
    asked
        .into_iter()
        .map(|one| Answer {
            question: one.question,
            quality: one.quality,
            compared: one.compared,
            outcome: one.outcome.map(&mut count),
        })
        .collect()
}

impl Found {
    fn counted(self, q: f64, level: f64) -> Estimate {
        let holds = self.estimate.holds && q <= MOST_FALSE;
        let plan = if q <= MOST_FALSE {
            self.without.unwrap_or(self.plan)
        } else {
            self.plan
        };
        let more = if holds || is_too_small(self.estimate.interval) {
            More::Nothing
        } else {
            plan.more(level)
        };
        Estimate {
            q,
            holds,
            more,
            ..self.estimate
        }
    }
}

/// Each p-value as the smallest share of false findings at which it would still be called one: `min over k >= rank of
/// p(k) n / k`, at most 1 (Benjamini and Hochberg 1995, J R Stat Soc B 57:289–300). In the order given.
///
/// ```
/// let q = interstice_methods::effects::benjamini_hochberg(&[0.01, 0.04, 0.03]);
/// assert!((q[0] - 0.03).abs() < 1e-12 && (q[1] - 0.04).abs() < 1e-12 && (q[2] - 0.04).abs() < 1e-12);
/// ```
pub fn benjamini_hochberg(p: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..p.len()).collect();
    order.sort_by(|&a, &b| p[a].total_cmp(&p[b]));
    let mut q = vec![1.0; p.len()];
    let mut lowest = 1.0f64;
    for (rank, &place) in order.iter().enumerate().rev() {
        lowest = lowest.min(p[place] * p.len() as f64 / (rank + 1) as f64);
        q[place] = lowest;
    }
    q
}

/// One question and one quality.
struct Asking<'a> {
    differences: &'a Differences<'a>,
    questions: &'a [Question<'a>],
    question: usize,
    quality: Quality,
}

impl Model {
    /// Where only sensors differ, an interval has no more degrees of freedom than there are sensors beyond what is compared.
    /// Kenward and Roger's own would be those of checks where the spread between sensors happens to be estimated at 0, as
    /// with few sensors it often is; of four sensors' intervals 91 in 100 would then hold the truth.
    fn by_sensors(&self, contrast: Contrast, sensors: usize) -> Contrast {
        let most = sensors.saturating_sub(1 + self.asked.len()).max(1) as f64;
        Contrast {
            freedom: if self.within {
                contrast.freedom
            } else {
                contrast.freedom.min(most)
            },
            ..contrast
        }
    }
}

type Outcome = (Compared, Result<Found, Untold>);

/// The rows and columns of a question's model; the asked columns come straight after the constant.
struct Model {
    rows: Vec<usize>,
    asked: Vec<Vec<f64>>,
    held: Vec<Vec<f64>>,
    within: bool,
}

impl Asking<'_> {
    fn values(&self) -> &Values<'_> {
        &self.questions[self.question].values
    }

    fn sensor(&self, row: usize) -> u32 {
        self.differences.sensor[row]
    }

    fn comparisons(&self) -> Result<Vec<Outcome>, Untold> {
        let all = self
            .differences
            .relative_percent
            .len()
            .min(self.differences.sensor.len());
        let rows: Vec<usize> = (0..all).filter(|&row| self.values().is_known(row)).collect();
        if rows.len() < FEWEST_CHECKS {
            return Err(Untold::NotLogged {
                have: rows.len() as u64,
                need: FEWEST_CHECKS as u64,
            });
        }
        match self.values() {
            Values::Levels(_) => self.by_level(&rows),
            Values::Number { .. } => self.by_number(rows),
        }
    }

    fn by_level(&self, rows: &[usize]) -> Result<Vec<Outcome>, Untold> {
        let sensors = sensors_by_level(self.differences, self.values(), rows);
        if sensors.len() < 2 {
            return Err(Untold::OneLevel);
        }
        let reference = reference(&sensors);
        let usable = |level: u16| sensors[&level].len() >= FEWEST_A_SIDE;
        let used: Vec<u16> = sensors
            .keys()
            .copied()
            .filter(|&level| usable(level) && level != reference)
            .collect();
        let model = self.level_model(rows, reference, &used, usable(reference));
        let mut outcomes = Vec::new();
        for &level in sensors.keys().filter(|&&level| level != reference) {
            let compared = Compared::Level {
                level: level.into(),
                reference: reference.into(),
            };
            let place = used.iter().position(|&other| other == level);
            let outcome = match place {
                Some(place) if usable(reference) => {
                    let (of, against) = (&sensors[&level], &sensors[&reference]);
                    self.compare(&model, place, (of, against))
                }
                _ => Err(Untold::OneSensor),
            };
            outcomes.push((compared, outcome));
        }
        Ok(outcomes)
    }

    fn level_model(&self, rows: &[usize], reference: u16, used: &[u16], with_reference: bool) -> Model {
        let level = |row: usize| self.values().level(row);
        let kept = |row: &usize| {
            level(*row).is_some_and(|l| used.contains(&l) || (with_reference && l == reference))
        };
        let rows: Vec<usize> = rows.iter().copied().filter(kept).collect();
        let indicator = |&one: &u16| rows.iter().map(|&row| truth(level(row) == Some(one))).collect();
        let mut seen: BTreeMap<u32, BTreeSet<u16>> = BTreeMap::new();
        for &row in &rows {
            seen.entry(self.sensor(row)).or_default().extend(level(row));
        }
        Model {
            asked: used.iter().map(indicator).collect(),
            held: self.held(&rows),
            within: seen.values().any(|levels| levels.len() > 1),
            rows,
        }
    }

    fn by_number(&self, rows: Vec<usize>) -> Result<Vec<Outcome>, Untold> {
        let number = |row: usize| self.values().number(row).unwrap_or(0.0);
        let mut by_sensor: BTreeMap<u32, Vec<f64>> = BTreeMap::new();
        for &row in &rows {
            by_sensor.entry(self.sensor(row)).or_default().push(number(row));
        }
        let varies = |values: &Vec<f64>| values.iter().any(|value| (value - values[0]).abs() > 1e-9);
        let every: Vec<f64> = rows.iter().map(|&row| number(row)).collect();
        if !varies(&every) {
            return Err(Untold::OneLevel);
        }
        if by_sensor.len() < FEWEST_FOR_SLOPE {
            return Err(Untold::TooFewSensors {
                have: by_sensor.len() as u64,
                need: FEWEST_FOR_SLOPE as u64,
            });
        }
        let day = |row: &usize| (self.sensor(*row), self.differences.day.get(*row).copied());
        let days: BTreeSet<(u32, Option<u32>)> = rows.iter().map(day).collect();
        if days.len() < FEWEST_DAYS {
            return Err(Untold::TooFewDays {
                have: days.len() as u64,
                need: FEWEST_DAYS as u64,
            });
        }
        let sensors: BTreeSet<u32> = by_sensor.keys().copied().collect();
        let model = Model {
            asked: vec![every],
            held: self.held(&rows),
            within: by_sensor.values().any(varies),
            rows,
        };
        let outcome = self.compare(&model, 0, (&sensors, &sensors));
        Ok(vec![(Compared::Step, outcome)])
    }

    /// Columns of the questions that are held equal, this one apart.
    fn held(&self, rows: &[usize]) -> Vec<Vec<f64>> {
        let others = self.questions.iter().enumerate();
        others
            .filter(|(place, question)| *place != self.question && question.held_equal)
            .flat_map(|(_, question)| columns(&question.values, rows))
            .collect()
    }

    fn compare(
        &self,
        model: &Model,
        place: usize,
        sensors: (&BTreeSet<u32>, &BTreeSet<u32>),
    ) -> Result<Found, Untold> {
        let entangled = self.entangled(model, place);
        if let Some(&(with, _)) = entangled.iter().find(|(_, share)| *share > TOGETHER) {
            return Err(Untold::Together { with });
        }
        let contrast = self.fit(model, place, None)?;
        let interval = contrast.interval(CONFIDENCE);
        // Leaving every sensor out once is worth it only for what may be shown as there.
        let weakest = (contrast.p() <= MOST_FALSE)
            .then(|| self.weakest(model, place, sensors, &contrast))
            .flatten();
        let plan = |contrast: &Contrast, without: Option<u32>| Plan {
            design: design(model.within, self.values(), sensors, without),
            points: contrast.estimate,
            standard_error: contrast.standard_error,
            freedom: contrast.freedom,
        };
        let count = |on: f64| {
            let on_side = |value: &&f64| (**value - on).abs() < 0.5;
            model.asked[place].iter().filter(on_side).count() as u64
        };
        let checks = match self.values() {
            Values::Levels(_) => (count(1.0), self.reference_checks(model)),
            Values::Number { .. } => (model.rows.len() as u64, model.rows.len() as u64),
        };
        let estimate = Estimate {
            points: contrast.estimate,
            interval,
            p: contrast.p(),
            q: contrast.p(),
            freedom: contrast.freedom,
            sensors: (sensors.0.len() as u64, sensors.1.len() as u64),
            checks,
            entangled: entangled.into_iter().map(|(with, _)| with).collect(),
            holds: contrast.p() <= MOST_FALSE && weakest.is_none(),
            more: More::Nothing,
        };
        Ok(Found {
            estimate,
            plan: plan(&contrast, None),
            without: weakest.and_then(|(sensor, left)| Some(plan(&left?, Some(sensor)))),
        })
    }

    /// The sensor without which an effect does not keep its sign and half of its size, and what is left of it then: `None`
    /// where the rest cannot be compared, so that the one sensor made it all. Of several the one that leaves least.
    fn weakest(
        &self,
        model: &Model,
        place: usize,
        sensors: (&BTreeSet<u32>, &BTreeSet<u32>),
        whole: &Contrast,
    ) -> Option<(u32, Option<Contrast>)> {
        let kept = |left: &Contrast| left.estimate / whole.estimate;
        let mut weakest: Option<(u32, Option<Contrast>)> = None;
        for &sensor in sensors.0.union(sensors.1) {
            let Ok(left) = self.fit(model, place, Some(sensor)) else {
                return Some((sensor, None));
            };
            let least = weakest
                .and_then(|(_, left)| left)
                .map_or(KEPT, |least| kept(&least));
            if kept(&left) < least {
                weakest = Some((sensor, Some(left)));
            }
        }
        weakest
    }

    /// Checks of no asked level: those of the reference.
    fn reference_checks(&self, model: &Model) -> u64 {
        let of_none = |row: &usize| model.asked.iter().all(|column| column[*row] < 0.5);
        (0..model.rows.len()).filter(of_none).count() as u64
    }

    /// The contrast of one asked column, all rows or without one sensor's. Columns that are held equal give way where they
    /// say nothing more.
    fn fit(&self, model: &Model, place: usize, without: Option<u32>) -> Result<Contrast, Untold> {
        let chosen: Vec<usize> = (0..model.rows.len())
            .filter(|&i| Some(self.sensor(model.rows[i])) != without)
            .collect();
        let pick = |column: &Vec<f64>| -> Vec<f64> { chosen.iter().map(|&i| column[i]).collect() };
        let row = |i: usize| model.rows[i];
        let y: Vec<f64> = chosen
            .iter()
            .map(|&i| {
                let signed = self.differences.relative_percent[row(i)];
                if self.quality == Quality::Absolute {
                    signed.abs()
                } else {
                    signed
                }
            })
            .collect();
        let outer: Vec<u32> = chosen.iter().map(|&i| self.sensor(row(i))).collect();
        let inner: Vec<u32> = chosen.iter().map(|&i| self.inner(row(i))).collect();
        let mut x = vec![vec![1.0; chosen.len()]];
        x.extend(model.asked.iter().map(pick));
        x.extend(model.held.iter().map(pick));
        loop {
            let columns: Vec<&[f64]> = x.iter().map(Vec::as_slice).collect();
            match Nested::new(&columns, &y, &outer, model.within.then_some(inner.as_slice())) {
                Err(MixedError::Aliased { column }) if column > model.asked.len() => {
                    x.remove(column);
                }
                Err(error) => return Err(error.into()),
                Ok(nested) => {
                    let mut weights = vec![0.0; x.len()];
                    weights[1 + place] = 1.0;
                    let contrast = nested
                        .fit(Bounds::NotNegative)?
                        .contrast(&weights, Freedom::KenwardRoger)
                        .ok_or(Untold::NoInterval)?;
                    return Ok(model.by_sensors(contrast, nested.groups()));
                }
            }
        }
    }

    /// What rows of a sensor share besides the sensor: the level asked about, or the day.
    fn inner(&self, row: usize) -> u32 {
        match self.values() {
            Values::Levels(_) => self.values().level(row).map_or(0, u32::from),
            Values::Number { .. } => self.differences.day.get(row).copied().unwrap_or(0),
        }
    }

    /// Other questions that explain much of the asked column on the same sensors: only for what does not differ within
    /// sensors, since what does is held apart by the sensors themselves.
    fn entangled(&self, model: &Model, place: usize) -> Vec<(usize, f64)> {
        if model.within || matches!(self.values(), Values::Number { .. }) {
            return Vec::new();
        }
        let mut own: BTreeMap<u32, f64> = BTreeMap::new();
        for (i, &row) in model.rows.iter().enumerate() {
            own.insert(self.sensor(row), model.asked[place][i]);
        }
        let others = self
            .questions
            .iter()
            .enumerate()
            .filter(|(other, _)| *other != self.question);
        others
            .filter_map(|(other, question)| {
                Some((other, self.explained(&own, &question.values, &model.rows)?))
            })
            .filter(|(_, share)| *share >= ENTANGLED)
            .collect()
    }

    /// Share of the variance of `own` between sensors that the levels of another question explain. Its levels of a single
    /// sensor explain that sensor by its name alone, so they are left out.
    fn explained(&self, own: &BTreeMap<u32, f64>, other: &Values<'_>, rows: &[usize]) -> Option<f64> {
        let sensors = sensors_by_level(self.differences, other, rows);
        let mut level_of: BTreeMap<u32, u16> = BTreeMap::new();
        for (&level, sensors) in sensors
            .iter()
            .filter(|(_, sensors)| sensors.len() >= FEWEST_A_SIDE)
        {
            for &sensor in sensors {
                if level_of.insert(sensor, level).is_some() {
                    return None; // It differs within a sensor.
                }
            }
        }
        let levels: BTreeSet<u16> = level_of.values().copied().collect();
        if levels.len() < 2 {
            return None;
        }
        let values: Vec<(u16, f64)> = level_of
            .iter()
            .filter_map(|(sensor, &level)| Some((level, *own.get(sensor)?)))
            .collect();
        let mean = |of: &[f64]| of.iter().sum::<f64>() / of.len().max(1) as f64;
        let all: Vec<f64> = values.iter().map(|(_, value)| *value).collect();
        let grand = mean(&all);
        let total: f64 = all.iter().map(|value| (value - grand) * (value - grand)).sum();
        let mut explained = 0.0;
        for level in levels {
            let part: Vec<f64> = values
                .iter()
                .filter(|(l, _)| *l == level)
                .map(|(_, value)| *value)
                .collect();
            explained += part.len() as f64 * (mean(&part) - grand) * (mean(&part) - grand);
        }
        (total > 0.0).then_some(explained / total)
    }
}

/// The level most sensors have, the first of them at a tie.
fn reference(sensors: &BTreeMap<u16, BTreeSet<u32>>) -> u16 {
    let most = sensors.values().map(BTreeSet::len).max().unwrap_or(0);
    let first = sensors.iter().find(|(_, on)| on.len() == most);
    first.map_or(0, |(&level, _)| level)
}

fn design(
    within: bool,
    values: &Values<'_>,
    sensors: (&BTreeSet<u32>, &BTreeSet<u32>),
    without: Option<u32>,
) -> Design {
    let count = |on: &mut dyn Iterator<Item = &u32>| {
        on.filter(|&&sensor| Some(sensor) != without).count().max(1) as u64
    };
    let both = sensors.0.intersection(sensors.1).count();
    match values {
        Values::Levels(_) if !within || both < 2 => Design::Between {
            sensors: (count(&mut sensors.0.iter()), count(&mut sensors.1.iter())),
        },
        _ => Design::Within {
            sensors: count(&mut sensors.0.intersection(sensors.1)),
        },
    }
}
