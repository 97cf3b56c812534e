//! Which days belong to which side.

use std::collections::BTreeSet;

use interstice_book::Record;
use interstice_glucose::counted;
use interstice_methods::LivedDay;

use super::{Against, LATEST_DAYS, NEAR_DAYS, day_of};
use crate::ask::FindingsError;
use crate::states::{DayKind, KnownBy, named};
use crate::window::date_text;

/// Two sets of dates, days since 1970-01-01.
pub(super) struct Sides {
    pub(super) dates: [BTreeSet<i64>; 2],
    /// How each is called: `None` of a window, which its dates name, and of days without the other's kind.
    pub(super) names: [Option<String>; 2],
    pub(super) known_by: Option<KnownBy>,
    /// Days in both kinds, which belong to neither.
    pub(super) in_both: usize,
}

impl Sides {
    /// * `lived`: dates from the first reading to the last.
    pub(super) fn of(
        record: &Record,
        lived: &BTreeSet<i64>,
        against: &Against,
    ) -> Result<Self, FindingsError> {
        match against {
            Against::Windows { before, after } => windows(lived, *before, *after),
            Against::Kind { state, than, among } => {
                let among = among
                    .map(|(from, to)| Ok::<_, FindingsError>((day_of(from)?, day_of(to)?)))
                    .transpose()?;
                kinds(record, lived, (state, than.as_deref()), among)
            }
        }
    }

    pub(super) fn first_date(&self) -> i64 {
        self.all().min().unwrap_or(0)
    }

    pub(super) fn last_date(&self) -> i64 {
        self.all().max().unwrap_or(0)
    }

    fn all(&self) -> impl Iterator<Item = i64> {
        self.dates.iter().flatten().copied()
    }

    /// Places of either side's days among these.
    pub(super) fn places(&self, days: &[LivedDay]) -> [Vec<usize>; 2] {
        self.dates.each_ref().map(|dates| {
            let is_in = |place: &usize| dates.contains(&days[*place].date);
            (0..days.len()).filter(is_in).collect()
        })
    }
}

fn windows(
    lived: &BTreeSet<i64>,
    before: (jiff::civil::Date, jiff::civil::Date),
    after: (jiff::civil::Date, jiff::civil::Date),
) -> Result<Sides, FindingsError> {
    let mut dates = [BTreeSet::new(), BTreeSet::new()];
    for (side, (from, to)) in dates.iter_mut().zip([before, after]) {
        if to < from {
            return Err(FindingsError::Window(format!(
                "the window ends on {to}, before it begins on {from}; swap the two"
            )));
        }
        *side = lived.range(day_of(from)?..=day_of(to)?).copied().collect();
        if side.is_empty() {
            return Err(FindingsError::Window(format!(
                "the book has no readings from {from} to {to}; {}",
                book_reaches(lived)
            )));
        }
    }
    let shared = dates[0].intersection(&dates[1]).count();
    if shared > 0 {
        return Err(FindingsError::Window(format!(
            "the two windows share {}; choose windows that do not overlap",
            counted(shared as u64, "day", "days")
        )));
    }
    Ok(Sides {
        dates,
        names: [None, None],
        known_by: None,
        in_both: 0,
    })
}

fn book_reaches(lived: &BTreeSet<i64>) -> String {
    let end = |date: Option<&i64>| date.map(|&date| date_text(date)).unwrap_or_default();
    format!(
        "its readings reach from {} to {}",
        end(lived.first()),
        end(lived.last())
    )
}

fn kinds(
    record: &Record,
    lived: &BTreeSet<i64>,
    (state, than): (&str, Option<&str>),
    among: Option<(i64, i64)>,
) -> Result<Sides, FindingsError> {
    let after = known_kind(record, lived, state)?;
    let before = than.map(|than| known_kind(record, lived, than)).transpose()?;
    let kept: BTreeSet<i64> = match among {
        Some((from, to)) if from <= to => lived.range(from..=to).copied().collect(),
        Some(_) => {
            return Err(FindingsError::Window(
                "the days end before they begin; swap the two dates".to_owned(),
            ));
        }
        None => near(lived, &after, before.as_ref()),
    };
    let of = |days: &BTreeSet<i64>| -> BTreeSet<i64> { kept.intersection(days).copied().collect() };
    let in_both = before.as_ref().map_or(0, |before| {
        of(&before.days).intersection(&of(&after.days)).count()
    });
    let with: BTreeSet<i64> = match &before {
        Some(before) => of(&after.days).difference(&before.days).copied().collect(),
        None => of(&after.days),
    };
    let without: BTreeSet<i64> = match &before {
        Some(before) => of(&before.days).difference(&after.days).copied().collect(),
        None => kept.difference(&after.days).copied().collect(),
    };
    let sides = Sides {
        dates: [without, with],
        names: [before.map(|before| before.name), Some(after.name)],
        known_by: Some(after.known_by),
        in_both,
    };
    for (dates, name) in sides.dates.iter().zip(&sides.names) {
        if dates.is_empty() {
            return Err(FindingsError::Window(format!(
                "among these days there is none {}; choose other dates",
                name.as_ref()
                    .map_or_else(|| "without it".to_owned(), |name| format!("with '{name}'"))
            )));
        }
    }
    Ok(sides)
}

fn known_kind(record: &Record, lived: &BTreeSet<i64>, name: &str) -> Result<DayKind, FindingsError> {
    named(record, lived, name).ok_or_else(|| {
        FindingsError::Window(format!(
            "no day with readings is tagged '{0}' or has it logged beside it; `interstice compare` lists what the book knows, \
             and `interstice log tag '{0}'` tags a day",
            name.trim()
        ))
    })
}

/// Days near those of the kinds: from four weeks before the first to four weeks after the last, of the latest.
fn near(lived: &BTreeSet<i64>, after: &DayKind, before: Option<&DayKind>) -> BTreeSet<i64> {
    let all = after.days.iter().chain(before.iter().flat_map(|kind| &kind.days));
    let (first, last) = all.fold((i64::MAX, i64::MIN), |(first, last), &day| {
        (first.min(day), last.max(day))
    });
    let latest = lived.last().map_or(first, |last| last - LATEST_DAYS + 1);
    let (from, to) = ((first - NEAR_DAYS).max(latest), last + NEAR_DAYS);
    if from > to {
        return BTreeSet::new();
    }
    lived.range(from..=to).copied().collect()
}
