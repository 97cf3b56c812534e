//! Kinds of days: by the wearer's own tags, by what was logged, by words of theirs, by the calendar.

use std::collections::{BTreeMap, BTreeSet};

use interstice_book::Record;
use interstice_glucose::{DAY_S, Mark, MarkKind, Second};
use interstice_methods::is_weekend;
use serde::Serialize;

use crate::patterns::is_alcohol;

/// What stands for longer than this says nothing of its days (ours).
const LONGEST_DAYS: i64 = 366;
/// Words of notes that stand on fewer days are not offered; they can still be asked for.
const OFFERED_FROM_DAYS: usize = 7;
/// Saturday and Sunday.
pub const WEEKEND: &str = "weekend";
/// The wall clock is not that of the book's zone.
pub const AWAY: &str = "another time zone";

/// Kinds of marks that make a day one of theirs, by the name they are asked for.
const KINDS: [(&str, MarkKind); 6] = [
    ("activity", MarkKind::Activity),
    ("illness", MarkKind::Illness),
    ("symptom", MarkKind::Symptom),
    ("ketones", MarkKind::Ketones),
    ("medicine", MarkKind::Medicine),
    ("sleep", MarkKind::Sleep),
];
const ALCOHOL: &str = "alcohol";

/// How a kind of day is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum KnownBy {
    /// A tag covers it.
    Tag,
    /// Something of the kind is logged on it.
    Logged,
    /// The words stand beside something logged on it.
    Words,
    /// The calendar or the wall clock.
    Calendar,
}

/// A kind of day.
#[derive(Clone, Debug)]
pub(crate) struct DayKind {
    pub(crate) name: String,
    pub(crate) known_by: KnownBy,
    /// Days since 1970-01-01 on the wall clock.
    pub(crate) days: BTreeSet<i64>,
}

/// A kind of day the book knows, to choose from.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct KnownState {
    /// Its name.
    pub name: String,
    /// How it is known.
    pub known_by: KnownBy,
    /// Days of it with readings.
    pub days: usize,
}

/// Days of each of the wearer's own tags.
pub(crate) fn tags(record: &Record) -> BTreeMap<String, BTreeSet<i64>> {
    let mut tags: BTreeMap<String, BTreeSet<i64>> = BTreeMap::new();
    let marks = record.marks.iter().map(|kept| &kept.it);
    for mark in marks.filter(|mark| mark.kind == MarkKind::Tag) {
        if let Some(name) = words(mark.text.as_deref()) {
            tags.entry(name).or_default().extend(covered(record, mark));
        }
    }
    tags.retain(|_, days| !days.is_empty());
    tags
}

/// Lower case, without what stands around; `None` of nothing.
fn words(text: Option<&str>) -> Option<String> {
    let text = text?.trim().to_lowercase();
    (!text.is_empty()).then_some(text)
}

/// Days a mark lies on.
fn covered(record: &Record, mark: &Mark) -> impl Iterator<Item = i64> {
    let day = |at: Second| record.clock.wall(at).day();
    // What ended at midnight says nothing of the day that began then.
    let last = mark.until.map_or(mark.at, |until| (until - 1).max(mark.at));
    let (first, last) = (day(mark.at), day(last));
    let end = if last - first < LONGEST_DAYS {
        last
    } else {
        first - 1
    };
    first..=end
}

/// The kind of day of that name among those with readings; `None` where the book has no such day.
///
/// A tag of that name, else what is logged under it, else the words, one after another, beside anything logged.
pub(crate) fn named(record: &Record, lived: &BTreeSet<i64>, name: &str) -> Option<DayKind> {
    let name = words(Some(name))?;
    let (known_by, days) = if let Some(days) = tags(record).remove(&name) {
        (KnownBy::Tag, days)
    } else if let Some(days) = by_calendar(record, lived, &name) {
        (KnownBy::Calendar, days)
    } else if let Some(days) = logged(record, &name) {
        (KnownBy::Logged, days)
    } else {
        (KnownBy::Words, with_words(record, &name))
    };
    let days: BTreeSet<i64> = days.intersection(lived).copied().collect();
    (!days.is_empty()).then_some(DayKind { name, known_by, days })
}

fn by_calendar(record: &Record, lived: &BTreeSet<i64>, name: &str) -> Option<BTreeSet<i64>> {
    let all = lived.iter().copied();
    match name {
        WEEKEND => Some(all.filter(|&day| is_weekend(day)).collect()),
        AWAY => Some(all.filter(|&day| is_away(record, day)).collect()),
        _ => None,
    }
}

fn is_away(record: &Record, day: i64) -> bool {
    let noon = record
        .clock
        .first_at_or_after(interstice_glucose::WallTime(day * DAY_S + DAY_S / 2));
    record.clock.offset_s(noon) != record.base_zone.offset_s(noon)
}

fn logged(record: &Record, name: &str) -> Option<BTreeSet<i64>> {
    let marks = record.marks.iter().map(|kept| &kept.it);
    if name == ALCOHOL {
        let drunk = marks.filter(|mark| mark.kind == MarkKind::Drink && is_alcohol(mark.text.as_deref()));
        let eaten = record.meals.iter().map(|kept| &kept.it);
        let eaten = eaten.filter(|meal| is_alcohol(meal.text.as_deref()));
        let at = drunk.map(|mark| mark.at).chain(eaten.map(|meal| meal.at));
        return Some(at.map(|at| record.clock.wall(at).day()).collect());
    }
    let kind = KINDS.iter().find(|kind| kind.0 == name)?.1;
    let of_kind = marks.filter(|mark| mark.kind == kind);
    Some(of_kind.flat_map(|mark| covered(record, mark)).collect())
}

fn with_words(record: &Record, phrase: &str) -> BTreeSet<i64> {
    let asked = parts(phrase);
    if asked.is_empty() {
        return BTreeSet::new();
    }
    let holds = |text: Option<&str>| {
        text.is_some_and(|text| {
            parts(&text.to_lowercase())
                .windows(asked.len())
                .any(|part| part == asked)
        })
    };
    let mut days = BTreeSet::new();
    for mark in record.marks.iter().map(|kept| &kept.it) {
        if holds(mark.text.as_deref()) {
            days.extend(covered(record, mark));
        }
    }
    let of = |at: Second| record.clock.wall(at).day();
    let meals = record.meals.iter().map(|kept| (kept.it.at, &kept.it.text));
    let doses = record.doses.iter().map(|kept| (kept.it.at, &kept.it.note));
    let checks = record.blood_checks.iter().map(|kept| (kept.it.at, &kept.it.note));
    let texts = meals.chain(doses).chain(checks);
    days.extend(
        texts
            .filter(|(_, text)| holds(text.as_deref()))
            .map(|(at, _)| of(at)),
    );
    days
}

fn parts(text: &str) -> Vec<String> {
    text.split(|c: char| !c.is_alphanumeric())
        .filter(|word| !word.is_empty())
        .map(str::to_owned)
        .collect()
}

/// Kinds of days to choose from: those with readings on some days of them and on some without, tags first, the commonest first.
pub(crate) fn known(record: &Record, lived: &BTreeSet<i64>) -> Vec<KnownState> {
    let mut all: Vec<KnownState> = Vec::new();
    let mut offer = |name: &str, known_by: KnownBy, days: &BTreeSet<i64>, from: usize| {
        let count = days.intersection(lived).count();
        if count >= from && count < lived.len() && all.iter().all(|state| state.name != name) {
            all.push(KnownState {
                name: name.to_owned(),
                known_by,
                days: count,
            });
        }
    };
    for (name, days) in tags(record) {
        offer(&name, KnownBy::Tag, &days, 1);
    }
    for name in [WEEKEND, AWAY] {
        if let Some(days) = by_calendar(record, lived, name) {
            offer(name, KnownBy::Calendar, &days, 1);
        }
    }
    for name in KINDS.iter().map(|kind| kind.0).chain([ALCOHOL]) {
        if let Some(days) = logged(record, name) {
            offer(name, KnownBy::Logged, &days, 1);
        }
    }
    for (text, days) in texts(record) {
        offer(&text, KnownBy::Words, &days, OFFERED_FROM_DAYS);
    }
    all.sort_by(|a, b| (a.known_by, b.days, &a.name).cmp(&(b.known_by, a.days, &b.name)));
    all
}

/// Whole texts beside marks, and their days.
fn texts(record: &Record) -> BTreeMap<String, BTreeSet<i64>> {
    let mut texts: BTreeMap<String, BTreeSet<i64>> = BTreeMap::new();
    for mark in record.marks.iter().map(|kept| &kept.it) {
        let tells = !matches!(mark.kind, MarkKind::Tag | MarkKind::Artefact | MarkKind::Device);
        if let Some(text) = words(mark.text.as_deref()).filter(|_| tells) {
            texts.entry(text).or_default().extend(covered(record, mark));
        }
    }
    texts
}
