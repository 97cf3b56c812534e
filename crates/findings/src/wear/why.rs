//! Why a sensor is planned so, and what the plan could not meet, in sentences.

use interstice_glucose::{LivedClock, SensorKind, WearChoices, counted};
use interstice_methods::plan;

use super::asked::{Act, Asked, is_away};
use super::places::Place;
use super::{InStock, Settled};

/// All that is said of one sensor rests on this.
pub(super) struct Choice<'a> {
    pub(super) one: &'a plan::Planned,
    /// Among all that were ever worn and will be.
    pub(super) number: u64,
    /// How long its place has rested by then; `None` where it was never used.
    pub(super) rested_min: Option<i64>,
    /// What of the record moved it there.
    pub(super) moved: Vec<String>,
    pub(super) there: Option<&'a Place>,
    /// Its turn among those still to be put on; `None` for the one that beds in.
    pub(super) turn: Option<usize>,
    pub(super) stock: Option<&'a InStock>,
    pub(super) kind: &'a SensorKind,
}

pub(super) struct Told<'a> {
    pub(super) asked: &'a Asked,
    pub(super) settled: &'a Settled,
    pub(super) clock: &'a LivedClock,
}

impl Told<'_> {
    fn choices(&self) -> &WearChoices {
        &self.settled.choices
    }

    /// Why then and there, a sentence each.
    pub(super) fn why(&self, choice: &Choice<'_>) -> Vec<String> {
        let mut why: Vec<String> = Vec::new();
        if choice.one.pinned {
            why.push("you settled when it is put on".to_owned());
        }
        why.extend(self.bedding(choice));
        why.push(if choice.one.uncovered_min == 0 {
            "it has warmed up before the one before it ends".to_owned()
        } else {
            let minutes = counted(choice.one.uncovered_min as u64, "minute", "minutes");
            format!("{minutes} before it reads no sensor does")
        });
        why.extend(self.hours(choice));
        if let Some(until) = choice.stock.and_then(|stock| stock.until) {
            let expires = day(self.clock, until);
            why.push(format!("of those in the drawer it expires first, on {expires}"));
        }
        let turn = choice.turn.and_then(|turn| self.settled.turns.get(turn));
        why.extend(turn.and_then(|turn| turn.why.clone()));
        if choice.turn.is_some() {
            why.extend(
                choice
                    .there
                    .into_iter()
                    .flat_map(|there| place(there, choice.rested_min)),
            );
            why.extend(choice.moved.iter().cloned());
        }
        why
    }

    fn bedding(&self, choice: &Choice<'_>) -> Option<String> {
        let one = choice.one;
        let bedding = (one.start_min - one.put_on_min) as f64 / 60.0;
        let wished = f64::from(self.asked.wished_min(choice.turn)) / 60.0;
        if bedding >= 1.0 {
            Some(format!(
                "worn {bedding:.0} h before it is started, so that its first unsteady hours are not used"
            ))
        } else if wished > 0.0 && choice.kind.longest_bedding_min == 0 {
            Some("started when it is put on: this kind is not worn before its start".to_owned())
        } else {
            None
        }
    }

    fn hours(&self, choice: &Choice<'_>) -> Vec<String> {
        let at = |minute: i64| self.asked.now + 60 * minute;
        let mut acts = vec![("started", Act::Start, at(choice.one.start_min))];
        if choice.turn.is_some() {
            acts.insert(0, ("put on", Act::PutOn, at(choice.one.put_on_min)));
        }
        let mut said = Vec::new();
        for (what, act, at) in acts {
            if is_away(self.choices(), self.clock, at) {
                said.push(format!("{what} on a day away, since no other time does as well"));
            } else if !act.suits(self.choices(), self.clock, at) {
                said.push(format!(
                    "{what} outside your hours, since no other time does as well"
                ));
            }
        }
        said
    }

    /// What could not be met, named.
    pub(super) fn unmet(&self, found: &plan::Plan, choices: &[Choice<'_>]) -> Vec<String> {
        let mut unmet = Vec::new();
        if found.uncovered_min > 0 {
            let hours = found.uncovered_min as f64 / 60.0;
            let days = self.choices().horizon_days;
            let beside = choices.first().is_none_or(|choice| choice.kind.side_by_side);
            unmet.push(if beside {
                format!("{hours:.1} h of the next {days} days cannot be covered")
            } else {
                format!("a new sensor cannot warm up beside the old one, so that {hours:.1} h of the next {days} days stay uncovered")
            });
        }
        unmet.extend(self.awkward(choices));
        unmet.extend(self.poorly_placed(choices));
        unmet
    }

    /// Places that rest for too short, or are not in the labelling.
    fn poorly_placed(&self, choices: &[Choice<'_>]) -> Vec<String> {
        let rest_min = i64::from(self.choices().rest_days) * 1440;
        let to_come: Vec<&Choice<'_>> = choices.iter().filter(|choice| choice.turn.is_some()).collect();
        let short = |choice: &&Choice<'_>| choice.rested_min.is_some_and(|rested| rested < rest_min);
        let unnamed = |choice: &&Choice<'_>| choice.there.is_some_and(|there| there.labelled == Some(false));
        let count = |fits: &dyn Fn(&&Choice<'_>) -> bool| to_come.iter().copied().filter(fits).count() as u64;
        let (short, unnamed) = (count(&short), count(&unnamed));
        let goes = |count: u64| {
            let go = if count == 1 { "goes" } else { "go" };
            format!("{} {go}", counted(count, "sensor", "sensors"))
        };
        let rest = format!(
            "{} to a place that has rested for less than {} days",
            goes(short),
            self.choices().rest_days
        );
        let own_risk = format!("{} to a place the instructions do not name", goes(unnamed));
        let said = [(short, rest), (unnamed, own_risk)];
        said.into_iter()
            .filter(|(count, _)| *count > 0)
            .map(|(_, said)| said)
            .collect()
    }

    /// What lies outside the hours and on days away.
    fn awkward(&self, choices: &[Choice<'_>]) -> Vec<String> {
        let mut said = Vec::new();
        let acts = [("put-on", "put-ons", Act::PutOn), ("start", "starts", Act::Start)];
        for (one, many, act) in acts {
            let moments = choices.iter().filter_map(|choice| match act {
                Act::PutOn => choice.turn.map(|_| choice.one.put_on_min),
                Act::Start => Some(choice.one.start_min),
            });
            let moments: Vec<i64> = moments.map(|minute| self.asked.now + 60 * minute).collect();
            let (away, home): (Vec<i64>, Vec<i64>) = moments
                .into_iter()
                .partition(|&at| is_away(self.choices(), self.clock, at));
            let late: Vec<i64> = home
                .into_iter()
                .filter(|&at| !act.suits(self.choices(), self.clock, at))
                .collect();
            for (when, where_) in [(away, "on days away"), (late, "outside your hours")] {
                if let Some(&first) = when.first() {
                    let count = counted(when.len() as u64, one, many);
                    let lies = if when.len() == 1 { "lies" } else { "lie" };
                    said.push(format!(
                        "{count} {lies} {where_}, the first on {}",
                        day(self.clock, first)
                    ));
                }
            }
        }
        said
    }
}

fn place(there: &Place, rested_min: Option<i64>) -> Vec<String> {
    let mut said = vec![match rested_min {
        None => "this place was never used".to_owned(),
        Some(rested) => format!(
            "this place has rested for {:.0} days by then",
            rested as f64 / 1440.0
        ),
    }];
    if there.labelled == Some(false) {
        said.push(
            "the sensor's own instructions do not name this place: wearing it there is your own choice"
                .to_owned(),
        );
    }
    said
}

/// '2025-03-01' on the wearer's clock.
fn day(clock: &LivedClock, at: i64) -> String {
    let civil = clock.wall(at).civil();
    civil.map_or_else(String::new, |civil| civil.date().to_string())
}
