//! What the plan could not meet, in sentences.

use interstice_glucose::{DAY_S, counted};
use interstice_methods::plan;

use super::InStock;
use super::asked::{Act, SLOT_MIN, is_away};
use super::why::{Choice, Told, day, moment};

impl Told<'_> {
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
            unmet.extend(self.causes(found, choices));
        }
        unmet.extend(self.awkward(choices));
        unmet.extend(self.poorly_placed(choices));
        unmet.extend(self.too_short(choices));
        unmet.extend(self.unused(choices));
        unmet
    }

    /// What keeps hours uncovered.
    fn causes(&self, found: &plan::Plan, choices: &[Choice<'_>]) -> Vec<String> {
        let mut said = Vec::new();
        if let Some(first) = choices.first().filter(|_| !self.asked.reads_now()) {
            let reads = moment(self.clock, self.asked.now + 60 * first.one.reads_from_min);
            said.push(format!("no sensor reads now; the next can from {reads} on"));
        }
        let waits = choices.iter().any(|choice| {
            let bought = choice.one.taken == plan::Taken::Bought && choice.one.uncovered_min > 0;
            bought && choice.one.put_on_min < self.asked.bought_from_min() + i64::from(SLOT_MIN)
        });
        if let Some(from) = self.settled.bought_from.filter(|_| waits) {
            let from = day(self.clock, from);
            said.push(format!(
                "the drawer is empty before one that is ordered now is there, on {from}"
            ));
        }
        if choices.iter().any(|choice| choice.one.pinned)
            && let Ok(free) = plan::plan(&self.asked.ask(&[]))
            && free.uncovered_min < found.uncovered_min
        {
            let hours = (found.uncovered_min - free.uncovered_min) as f64 / 60.0;
            said.push(format!(
                "for the put-ons you settled, {hours:.1} h stay uncovered that need not"
            ));
        }
        said
    }

    /// Those that bed in for less than they should, though their kind would allow it.
    fn too_short(&self, choices: &[Choice<'_>]) -> Option<String> {
        let short = choices.iter().filter(|choice| {
            let wished = self
                .asked
                .wished_min(choice.turn)
                .min(choice.kind.longest_bedding_min);
            choice.one.start_min - choice.one.put_on_min + 60 <= i64::from(wished)
        });
        let count = short.count() as u64;
        let beds = if count == 1 { "beds" } else { "bed" };
        let sensors = counted(count, "sensor", "sensors");
        (count > 0).then(|| format!("{sensors} {beds} in for less than wished"))
    }

    /// Those in the drawer that expire within the days ahead before their turn.
    fn unused(&self, choices: &[Choice<'_>]) -> Option<String> {
        let end = self.asked.now + i64::from(self.choices().horizon_days) * DAY_S;
        let taken = |one: &InStock| {
            choices
                .iter()
                .any(|choice| choice.stock.is_some_and(|it| std::ptr::eq(it, one)))
        };
        let left = self.settled.stock.iter().filter(|one| !taken(one));
        let expires: Vec<i64> = left
            .filter_map(|one| one.until)
            .filter(|&until| until < end)
            .collect();
        let first = expires.iter().min()?;
        let (expire, its) = if expires.len() == 1 {
            ("expires", "its")
        } else {
            ("expire", "their")
        };
        Some(format!(
            "{} in the drawer {expire} before {its} turn comes, the first on {}",
            counted(expires.len() as u64, "sensor", "sensors"),
            day(self.clock, *first)
        ))
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
