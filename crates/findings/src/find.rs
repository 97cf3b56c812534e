//! Days found by what happened on them: something between two clock times, perhaps after something else.

use interstice_book::Record;
use interstice_glucose::{DAY_S, Delivery, InsulinKind, MarkKind, Second, SensorNoteKind};
use interstice_methods::{Episode, EpisodeKind, EpisodeParams, Recording, episodes};
use serde::Serialize;

use crate::account::Reader;
use crate::ask::{FindingsError, Span};
use crate::patterns::is_alcohol;
use crate::whole::whole;
use crate::{Time, window};

/// What is looked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Sought {
    /// An episode below the target range.
    Low,
    /// One of level 2.
    VeryLow,
    /// An episode above it.
    High,
    /// One of level 2.
    VeryHigh,
    /// A blood check.
    BloodCheck,
    /// Rapid or short insulin.
    Dose,
    /// Something eaten.
    Meal,
    /// An activity.
    Activity,
    /// Something with alcohol, by its words.
    Alcohol,
    /// An illness.
    Illness,
    /// A symptom.
    Symptom,
    /// A sensor put on or started.
    Sensor,
}

impl Sought {
    /// All of them.
    pub const ALL: [Sought; 12] = [
        Sought::Low,
        Sought::VeryLow,
        Sought::High,
        Sought::VeryHigh,
        Sought::BloodCheck,
        Sought::Dose,
        Sought::Meal,
        Sought::Activity,
        Sought::Alcohol,
        Sought::Illness,
        Sought::Symptom,
        Sought::Sensor,
    ];

    /// Its key in addresses.
    pub fn key(self) -> &'static str {
        match self {
            Sought::Low => "low",
            Sought::VeryLow => "very-low",
            Sought::High => "high",
            Sought::VeryHigh => "very-high",
            Sought::BloodCheck => "blood-check",
            Sought::Dose => "dose",
            Sought::Meal => "meal",
            Sought::Activity => "activity",
            Sought::Alcohol => "alcohol",
            Sought::Illness => "illness",
            Sought::Symptom => "symptom",
            Sought::Sensor => "sensor",
        }
    }

    /// By its key.
    pub fn from_key(key: &str) -> Option<Self> {
        Sought::ALL.into_iter().find(|sought| sought.key() == key)
    }

    /// Whether readings tell it, rather than what was written down.
    pub fn is_read(self) -> bool {
        matches!(
            self,
            Sought::Low | Sought::VeryLow | Sought::High | Sought::VeryHigh
        )
    }
}

/// Which days.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct FindAsk {
    /// In which stretch.
    pub span: Span,
    /// What must have begun.
    pub what: Sought,
    /// Between these minutes of the lived clock, the second not included; it may pass midnight. The whole day where equal.
    pub between: (u32, u32),
    /// After what, and within how many hours of its end.
    pub after: Option<(Sought, u32)>,
}

/// Something found.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FoundLine {
    /// When it began.
    pub at: Time,
    /// When it ended, where it lasts.
    pub until: Option<Time>,
    /// Lowest or highest reading of an episode, or a blood check.
    pub extreme_mg_dl: Option<f64>,
    /// Units of a dose, grams of a meal.
    pub amount: Option<f64>,
    /// What was logged, in the wearer's words.
    pub words: Option<String>,
    /// What it came after.
    pub after: Option<Time>,
}

/// What was found.
#[derive(Clone, Debug, Serialize)]
pub struct FindFindings {
    /// First instant looked at.
    pub from: Time,
    /// First instant no longer looked at.
    pub to: Time,
    /// Lived days of it with readings in those hours (of what readings tell), or of it at all.
    pub days: u32,
    /// Days on which it was found.
    pub days_found: u32,
    /// Of days on which the thing it should come after came before those hours, and so many had it; and of the others. `null` where
    /// nothing was asked to come before.
    pub with_before: Option<(u32, u32)>,
    /// The others.
    pub without_before: Option<(u32, u32)>,
    /// Latest first.
    pub found: Vec<FoundLine>,
}

/// A thing that happened.
struct Happened {
    at: Second,
    until: Option<Second>,
    extreme_mg_dl: Option<f64>,
    amount: Option<f64>,
    words: Option<String>,
}

impl Happened {
    fn end(&self) -> Second {
        self.until.unwrap_or(self.at)
    }
}

/// Finds days in a record.
///
/// # Errors
/// `Empty` without automatic readings; `Window` where a date is beyond what the book can hold.
pub fn find(record: &Record, reader: Reader, ask: &FindAsk) -> Result<FindFindings, FindingsError> {
    let (_, whole) = whole(record);
    let (_, last) = whole.span().ok_or(FindingsError::Empty)?;
    let (from, to) = window::instants(ask.span, &record.clock, last)?;
    let lead = ask.after.map_or(0, |(_, hours)| 3600 * Second::from(hours)) + DAY_S;
    let recording =
        Recording::new(&whole, &record.levels, &record.clock, from - lead, to)?.for_group(reader.group);
    let found_episodes = if ask.what.is_read() || ask.after.is_some_and(|(what, _)| what.is_read()) {
        episodes(&recording, &EpisodeParams::default())
    } else {
        Vec::new()
    };
    let happened = |what: Sought| happened(record, &found_episodes, what, (from - lead, to));
    let before = ask.after.map(|(what, hours)| (happened(what), hours));
    let clock = |at: Second| record.clock.wall(at);
    let in_hours = |at: Second| {
        let minute = u32::try_from(clock(at).second_of_day() / 60).unwrap_or(0);
        let (first, end) = ask.between;
        match first.cmp(&end) {
            std::cmp::Ordering::Equal => true,
            std::cmp::Ordering::Less => (first..end).contains(&minute),
            std::cmp::Ordering::Greater => minute >= first || minute < end,
        }
    };
    let preceded = |at: Second| {
        let (before, hours) = before.as_ref()?;
        let since = at - 3600 * Second::from(*hours);
        before
            .iter()
            .rev()
            .find(|one| one.at < at && one.end() >= since)
            .map(|one| one.at)
    };
    let mut found: Vec<(Second, FoundLine)> = happened(ask.what)
        .into_iter()
        .filter(|one| (from..to).contains(&one.at) && in_hours(one.at))
        .filter_map(|one| {
            let after = preceded(one.at);
            (ask.after.is_none() || after.is_some()).then(|| {
                let time = |at: Second| Time(record.clock.moment(at));
                let line = FoundLine {
                    at: time(one.at),
                    until: one.until.map(time),
                    extreme_mg_dl: one.extreme_mg_dl,
                    amount: one.amount,
                    words: one.words,
                    after: after.map(time),
                };
                (one.at, line)
            })
        })
        .collect();
    found.sort_by_key(|(at, _)| std::cmp::Reverse(*at));
    let night = Night {
        record,
        ask,
        recording: &recording,
        window: (from, to),
    };
    let days = night.days();
    let on = |of: &dyn Fn(Second) -> bool| days.iter().filter(|&&start| of(start)).count() as u32;
    let all = happened(ask.what);
    let has = |start: Second| {
        let end = start + night.length_s();
        all.iter().any(|one| (start..end).contains(&one.at))
    };
    let (with_before, without_before) = if ask.after.is_some() {
        let met = |start: Second| preceded(start + 1).is_some();
        (
            Some((on(&|start| met(start) && has(start)), on(&met))),
            Some((on(&|start| !met(start) && has(start)), on(&|start| !met(start)))),
        )
    } else {
        (None, None)
    };
    let dates: std::collections::BTreeSet<i64> = found.iter().map(|(at, _)| clock(*at).day()).collect();
    Ok(FindFindings {
        from: Time(record.clock.moment(from)),
        to: Time(record.clock.moment(to)),
        days: days.len() as u32,
        days_found: dates.len() as u32,
        with_before,
        without_before,
        found: found.into_iter().map(|(_, line)| line).collect(),
    })
}

/// The hours asked about, day by day.
struct Night<'a> {
    record: &'a Record,
    ask: &'a FindAsk,
    recording: &'a Recording<'a>,
    window: (Second, Second),
}

impl Night<'_> {
    fn length_s(&self) -> Second {
        let (first, end) = self.ask.between;
        let minutes = (end + 1440 - first) % 1440;
        60 * Second::from(if minutes == 0 { 1440 } else { minutes })
    }

    /// Where those hours begin on each lived day of the window; of what readings tell, only where half of them were read.
    fn days(&self) -> Vec<Second> {
        let clock = &self.record.clock;
        let (from, to) = self.window;
        let first = Second::from(self.ask.between.0) * 60;
        let last = clock.wall(to - 1).day();
        (clock.wall(from).day()..=last)
            .map(|day| clock.first_at_or_after(interstice_glucose::WallTime(day * DAY_S + first)))
            .filter(|start| (from..to).contains(start))
            .filter(|&start| !self.ask.what.is_read() || self.is_read(start))
            .collect()
    }

    fn is_read(&self, start: Second) -> bool {
        let end = start + self.length_s();
        let expected = self.recording.expected(start, end);
        let read = self.recording.course(start, end).count() as f64;
        expected > 0.0 && read >= 0.5 * expected
    }
}

fn happened(record: &Record, found: &[Episode], what: Sought, (from, to): (Second, Second)) -> Vec<Happened> {
    let inside = |at: Second| (from..to).contains(&at);
    let episode = |kind: EpisodeKind, level: u8| {
        let of = found
            .iter()
            .filter(move |one| one.kind == kind && one.level >= level);
        of.map(|one| Happened {
            at: one.start,
            until: Some(one.end),
            extreme_mg_dl: Some(one.extreme_mg_dl),
            amount: None,
            words: None,
        })
        .collect()
    };
    let mark = |kind: MarkKind| {
        let of = record.marks.iter().map(|kept| &kept.it);
        of.filter(|one| one.kind == kind && inside(one.at))
            .map(|one| Happened {
                at: one.at,
                until: one.until,
                extreme_mg_dl: None,
                amount: None,
                words: one.text.clone(),
            })
            .collect()
    };
    let point = |at: Second, words: Option<String>| Happened {
        at,
        until: None,
        extreme_mg_dl: None,
        amount: None,
        words,
    };
    match what {
        Sought::Low => episode(EpisodeKind::Low, 1),
        Sought::VeryLow => episode(EpisodeKind::Low, 2),
        Sought::High => episode(EpisodeKind::High, 1),
        Sought::VeryHigh => episode(EpisodeKind::High, 2),
        Sought::BloodCheck => {
            let of = record.blood_checks.iter().map(|kept| &kept.it);
            of.filter(|one| inside(one.at))
                .map(|one| Happened {
                    extreme_mg_dl: Some(one.said.glucose().mg_per_dl()),
                    ..point(one.at, one.note.clone())
                })
                .collect()
        }
        Sought::Dose => {
            let of = record.doses.iter().map(|kept| &kept.it);
            of.filter(|one| {
                let soon = matches!(one.insulin, InsulinKind::Rapid | InsulinKind::Short);
                inside(one.at) && soon && one.delivery != Delivery::BasalRate
            })
            .map(|one| Happened {
                amount: Some(one.units),
                ..point(one.at, one.note.clone())
            })
            .collect()
        }
        Sought::Meal => {
            let of = record.meals.iter().map(|kept| &kept.it);
            of.filter(|one| inside(one.at))
                .map(|one| Happened {
                    amount: one.carbohydrate_g,
                    ..point(one.at, one.text.clone())
                })
                .collect()
        }
        Sought::Activity => mark(MarkKind::Activity),
        Sought::Illness => mark(MarkKind::Illness),
        Sought::Symptom => mark(MarkKind::Symptom),
        Sought::Alcohol => {
            let meals = record.meals.iter().map(|kept| (kept.it.at, &kept.it.text));
            let marks = record.marks.iter().map(|kept| (kept.it.at, &kept.it.text));
            let mut all: Vec<Happened> = meals
                .chain(marks)
                .filter(|(at, text)| inside(*at) && is_alcohol(text.as_deref()))
                .map(|(at, text)| point(at, text.clone()))
                .collect();
            all.sort_by_key(|one| one.at);
            all
        }
        Sought::Sensor => {
            let of = record.sensor_notes.iter().map(|kept| &kept.it);
            of.filter(|one| {
                let on = matches!(one.kind, SensorNoteKind::PutOn | SensorNoteKind::Started);
                inside(one.at) && on
            })
            .map(|one| point(one.at, one.sensor.clone()))
            .collect()
        }
    }
}
