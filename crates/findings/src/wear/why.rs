//! Why a sensor is planned so, in sentences.

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
    pub(super) fn choices(&self) -> &WearChoices {
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
            why.push(format!(
                "taken from the drawer: it expires on {expires}, and the first to expire are taken first"
            ));
        }
        let turn = match choice.turn {
            Some(turn) => self.settled.turns.get(turn),
            None => self.settled.waiting.as_ref(),
        };
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
        if choice.one.pinned {
            acts.retain(|&(_, act, _)| matches!(act, Act::Start));
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
}

fn place(there: &Place, rested_min: Option<i64>) -> Vec<String> {
    let what = if there.part.is_some() { "spot" } else { "place" };
    let mut said = vec![match rested_min {
        None => format!("this {what} was never used"),
        Some(rested) => format!(
            "this {what} has rested for {:.0} days by then",
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

/// '1 March 2025' on the wearer's clock.
pub(super) fn day(clock: &LivedClock, at: i64) -> String {
    let civil = clock.wall(at).civil();
    civil.map_or_else(String::new, |civil| civil.strftime("%-d %B %Y").to_string())
}

/// '1 March 2025, 07:30' on the wearer's clock.
pub(super) fn moment(clock: &LivedClock, at: i64) -> String {
    let civil = clock.wall(at).civil();
    civil.map_or_else(String::new, |civil| {
        civil.strftime("%-d %B %Y, %H:%M").to_string()
    })
}
