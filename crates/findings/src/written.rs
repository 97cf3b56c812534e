//! What was written down lately, and what is written down again and again.

use std::collections::BTreeMap;

pub use interstice_book::{Entry, EntryRef};
use interstice_book::{Kept, Record};
use interstice_glucose::{DAY_S, Delivery, InsulinKind, MarkKind, Second, Unit};

use crate::Time;
use crate::account::Reader;

/// Entries are listed from so long before the moment on: all of a day, those by hand of a week.
const LISTED_S: Second = DAY_S;
const LISTED_BY_HAND_S: Second = 7 * DAY_S;
/// Most that are listed.
const MOST_LISTED: usize = 30;
/// What is written again and again is looked for in so many days. Ours.
const USUAL_DAYS: i64 = 45;
/// Fewest times of one that is offered again. Ours.
const FEWEST_TIMES: usize = 3;
/// Most that are offered of each.
const MOST_OFFERED: usize = 4;

/// One entry.
#[derive(Clone, Debug, PartialEq)]
pub struct WrittenLine {
    /// To edit or strike it out by.
    pub entry: EntryRef,
    /// Whether it was written by hand rather than imported.
    pub by_hand: bool,
    /// When.
    pub at: Time,
    /// When it ended.
    pub until: Option<Time>,
    /// The entry itself.
    pub it: Entry,
}

/// A dose that is written down again and again.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct UsualDose {
    /// Units.
    pub units: f64,
    /// Of which insulin.
    pub insulin: InsulinKind,
    /// How often, lately.
    pub times: usize,
}

/// A meal that is written down again and again.
#[derive(Clone, Debug, PartialEq)]
pub struct UsualMeal {
    /// What it was called.
    pub words: Option<String>,
    /// Grams of carbohydrate, where they were counted.
    pub grams: Option<f64>,
    /// How often, lately.
    pub times: usize,
}

/// What the page to write on goes by.
#[derive(Clone, Debug, PartialEq)]
pub struct WrittenFindings {
    /// The moment.
    pub now: Time,
    /// Unit the wearer reads.
    pub unit: Unit,
    /// Written lately, latest first.
    pub lately: Vec<WrittenLine>,
    /// Doses offered again, the most often written first.
    pub doses: Vec<UsualDose>,
    /// Meals likewise.
    pub meals: Vec<UsualMeal>,
    /// Drinks likewise, millilitres.
    pub drinks_ml: Vec<f64>,
    /// Tags in use, the latest first.
    pub tags: Vec<String>,
    /// The insulin of the last dose that acts within hours.
    pub insulin: InsulinKind,
}

/// Of a record as of a moment.
pub fn written(record: &Record, reader: Reader, now: Second) -> WrittenFindings {
    let from = now - USUAL_DAYS * DAY_S;
    let lately = |at: Second| (from..=now).contains(&at);
    let doses = record.doses.iter().map(|kept| &kept.it);
    let taken = || {
        let soon = |kind| !matches!(kind, InsulinKind::Intermediate | InsulinKind::Long);
        doses
            .clone()
            .filter(move |dose| lately(dose.at) && dose.delivery == Delivery::AtOnce && soon(dose.insulin))
    };
    let meals = record
        .meals
        .iter()
        .map(|kept| &kept.it)
        .filter(|meal| lately(meal.at));
    let marks = || record.marks.iter().map(|kept| &kept.it);
    let drinks = marks().filter(|mark| mark.kind == MarkKind::Drink && lately(mark.at));
    let mut tags: Vec<String> = Vec::new();
    for tag in marks().rev().filter(|mark| mark.kind == MarkKind::Tag) {
        tags.extend(tag.text.clone().filter(|text| !tags.contains(text)));
    }
    tags.truncate(2 * MOST_OFFERED);
    WrittenFindings {
        now: Time(record.clock.moment(now)),
        unit: reader.unit,
        lately: listed(record, now),
        doses: most_often(taken().map(|dose| ((dose.units * 100.0).round() as i64, dose.insulin)))
            .into_iter()
            .map(|((hundredths, insulin), times)| UsualDose {
                units: hundredths as f64 / 100.0,
                insulin,
                times,
            })
            .collect(),
        meals: most_often(meals.map(|meal| {
            let grams = meal.carbohydrate_g.map(|grams| grams.round() as i64);
            (meal.text.clone(), grams)
        }))
        .into_iter()
        .map(|((words, grams), times)| UsualMeal {
            words,
            grams: grams.map(|grams| grams as f64),
            times,
        })
        .collect(),
        drinks_ml: most_often(drinks.filter_map(|mark| Some(mark.value?.round() as i64)))
            .into_iter()
            .map(|(ml, _)| ml as f64)
            .collect(),
        tags,
        insulin: taken()
            .next_back()
            .map_or(InsulinKind::Rapid, |dose| dose.insulin),
    }
}

/// Those that come at least so many times, the most often first; of equally frequent ones the lesser.
fn most_often<T: Ord>(all: impl Iterator<Item = T>) -> Vec<(T, usize)> {
    let mut counts: BTreeMap<T, usize> = BTreeMap::new();
    for one in all {
        *counts.entry(one).or_default() += 1;
    }
    let mut counts: Vec<(T, usize)> = counts
        .into_iter()
        .filter(|&(_, times)| times >= FEWEST_TIMES)
        .collect();
    counts.sort_by_key(|&(_, times)| std::cmp::Reverse(times));
    counts.truncate(MOST_OFFERED);
    counts
}

fn listed(record: &Record, now: Second) -> Vec<WrittenLine> {
    let time = |at: Second| Time(record.clock.moment(at));
    let mut all: Vec<(Second, WrittenLine)> = Vec::new();
    let mut add = |at: Second, until: Option<Second>, (entry, by_hand): (EntryRef, bool), it: Entry| {
        let from = now - if by_hand { LISTED_BY_HAND_S } else { LISTED_S };
        if (from..=now + 60).contains(&at) {
            let line = WrittenLine {
                entry,
                by_hand,
                at: time(at),
                until: until.map(time),
                it,
            };
            all.push((at, line));
        }
    };
    fn who<T>(kept: &Kept<T>) -> (EntryRef, bool) {
        (kept.entry, kept.by_hand)
    }
    for kept in &record.blood_checks {
        add(kept.it.at, None, who(kept), Entry::BloodCheck(kept.it.clone()));
    }
    for kept in &record.doses {
        if kept.it.delivery == Delivery::AtOnce {
            add(kept.it.at, None, who(kept), Entry::Dose(kept.it.clone()));
        }
    }
    for kept in &record.meals {
        add(kept.it.at, None, who(kept), Entry::Meal(kept.it.clone()));
    }
    for kept in &record.marks {
        if !matches!(kept.it.kind, MarkKind::Device | MarkKind::Artefact) {
            add(kept.it.at, kept.it.until, who(kept), Entry::Mark(kept.it.clone()));
        }
    }
    all.sort_by_key(|(at, line)| (std::cmp::Reverse(*at), line.entry));
    all.truncate(MOST_LISTED);
    all.into_iter().map(|(_, line)| line).collect()
}
