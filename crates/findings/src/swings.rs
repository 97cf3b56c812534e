//! Swings of a window, how lows were treated and how soon the wearer acts, from what was logged.

mod lines;
mod words;

use interstice_book::Record;
use interstice_glucose::{DAY_S, Delivery, InsulinKind, Second, TraceKind};
use interstice_methods::patterns::LATEST_DAYS;
use interstice_methods::swings::{self as method, Carbs, Diary, RapidDose, Roles};
use interstice_methods::{Bootstrap, Episode, EpisodeKind, EpisodeParams, LivedDay, Recording, episodes};

pub use lines::{
    HabitLine, KindLine, LastsLine, LinkLine, LinkName, LowTreatedLine, LowsTreatedLine, PauseLine,
    Quartiles, Rate, RatioLine, ShareLine, SwingKindLine, SwingLine, SwingTally, SwingsFindings,
    UsualHoursLine,
};

use crate::FindingsError;
use crate::account::Reader;
use crate::aside::artefacts;
use crate::meals::{MealsFindings, meals};
use crate::patterns::{PatternsFindings, patterns};
use crate::trust::pressure_touching;
use crate::whole::whole;

/// Before a window's start, what was logged still explains its first hours.
const LEAD_S: Second = 24 * 3600;

/// Everything about swings, meals and patterns in a window.
///
/// * `book`: the record pressure is looked for in, the whole book where it is at hand.
/// * `recording`: all readings of the window, pressed ones too, and their episodes.
pub(crate) fn followed(
    (record, book): (&Record, &Record),
    reader: Reader,
    (recording, episodes): (&Recording<'_>, &[Episode]),
    (from, to): (Second, Second),
    seed: u64,
) -> Followed {
    let basis = Basis::of((record, book), reader, episodes, (from, to));
    let diary = basis.diary(recording, reader);
    let Basis {
        doses,
        carbs,
        pressed,
        ..
    } = &basis;
    let roles = Roles::of(&diary);
    let found = basis.swings(&diary, &roles);
    let window = method::Window {
        from,
        to,
        read_s: recording.seconds_read() as f64,
        clock: &record.clock,
    };
    let tally = method::tally(&found, &window, &Bootstrap::seeded(seed));
    let told = lines::told(
        (record, reader),
        &diary,
        &found,
        &tally,
        &method::lows_treated(&diary, &roles),
        (&method::reactions(&diary, &roles), &scans(record, recording)),
    );
    let by_instant = carbs
        .iter()
        .map(|carbs| carbs.at)
        .zip(roles.carbs.iter().copied());
    let taken: Vec<(Second, f64)> = doses.iter().map(|dose| (dose.at, dose.units)).collect();
    let aside: Vec<(Second, Second)> = pressed
        .iter()
        .copied()
        .chain(artefacts(record, from, to))
        .collect();
    let meals = meals(
        record,
        recording,
        &by_instant.collect(),
        &taken,
        &aside,
        (from, to),
    );
    let patterns = patterns(record, recording, &taken, &aside, (from, to));
    Followed {
        swings: told,
        meals,
        patterns,
    }
}

/// The episodes of a window, and the lows that blood checks alone show.
pub(crate) fn with_checked_lows(
    record: &Record,
    episodes: &[Episode],
    reader: Reader,
    (from, to): (Second, Second),
) -> Vec<Episode> {
    let checks = record.blood_checks.iter().map(|kept| (kept.it.at, kept.it.said));
    let checks: Vec<_> = checks.filter(|(at, _)| (from..to).contains(at)).collect();
    method::with_checked_lows(episodes, &checks, reader.group)
}

/// Scans on each lived day with any reading; none where no scan is kept.
fn scans(record: &Record, recording: &Recording<'_>) -> Vec<u32> {
    let by_hand = record.traces.iter().filter(|trace| trace.kind == TraceKind::Scan);
    let by_hand: Vec<_> = by_hand.collect();
    let of = |day: &LivedDay| {
        let scans = by_hand
            .iter()
            .map(|trace| trace.readings.range(day.from, day.to).len());
        let scans: usize = scans.sum();
        let is_read = scans > 0 || recording.course(day.from, day.to).next().is_some();
        is_read.then_some(u32::try_from(scans).unwrap_or(u32::MAX))
    };
    recording.days().iter().filter_map(of).collect()
}

/// What swings are told from.
struct Basis {
    doses: Vec<RapidDose>,
    carbs: Vec<Carbs>,
    /// With the lows that blood checks alone show.
    episodes: Vec<Episode>,
    pressed: Vec<(Second, Second)>,
}

impl Basis {
    fn of(
        (record, book): (&Record, &Record),
        reader: Reader,
        episodes: &[Episode],
        (from, to): (Second, Second),
    ) -> Self {
        let (doses, carbs) = (doses(record, from - LEAD_S, to), carbs(record, from - LEAD_S, to));
        let episodes = with_checked_lows(record, episodes, reader, (from, to));
        let lows = episodes
            .iter()
            .filter(|episode| episode.kind == EpisodeKind::Low)
            .map(|low| (low.start, low.end.max(low.start + 1)));
        let lows: Vec<(Second, Second)> = lows.collect();
        // Looking for pressure takes longest. Where nothing is logged no swing can be told of, pressed or not.
        let pressed = if doses.is_empty() && carbs.is_empty() {
            Vec::new()
        } else {
            let found = pressure_touching(book, reader.night, &lows, (from, to));
            let spans = found.stretches.iter();
            spans.map(|stretch| (stretch.from, stretch.to)).collect()
        };
        Basis {
            doses,
            carbs,
            episodes,
            pressed,
        }
    }

    fn diary<'a>(&'a self, recording: &'a Recording<'a>, reader: Reader) -> Diary<'a> {
        Diary {
            recording,
            episodes: &self.episodes,
            doses: &self.doses,
            carbs: &self.carbs,
            pressed: &self.pressed,
            own: reader.insulin.into(),
        }
    }

    fn swings(&self, diary: &Diary<'_>, roles: &Roles) -> Vec<method::Swing> {
        if self.doses.is_empty() && self.carbs.is_empty() {
            return Vec::new();
        }
        method::swings(diary, roles)
    }
}

/// A swing as the timeline shows it.
#[derive(Clone, Debug, PartialEq)]
pub struct SwingSpan {
    /// Its first link.
    pub from: Second,
    /// The end of its last episode.
    pub to: Second,
    /// What its links are, and when.
    pub links: Vec<(Second, LinkName)>,
}

/// The swings of the latest days of a book, by their start: those the account tells of.
///
/// # Errors
/// `Recording` of a record whose columns do not fit together.
pub(crate) fn spans(record: &Record, reader: Reader) -> Result<Vec<SwingSpan>, FindingsError> {
    let (_, series) = whole(record);
    let Some((first, last)) = series.span() else {
        return Ok(Vec::new());
    };
    let to = last + 1;
    let from = first.max(to - LATEST_DAYS * DAY_S);
    let recording = Recording::new(&series, &record.levels, &record.clock, from, to)?.for_group(reader.group);
    let shown = episodes(&recording, &EpisodeParams::default());
    let basis = Basis::of((record, record), reader, &shown, (from, to));
    let diary = basis.diary(&recording, reader);
    let found = basis.swings(&diary, &Roles::of(&diary));
    Ok(found.iter().map(|swing| lines::span(swing, &diary)).collect())
}

/// What followed what in a window, and what comes again.
pub(crate) struct Followed {
    pub(crate) swings: SwingsFindings,
    pub(crate) meals: MealsFindings,
    pub(crate) patterns: PatternsFindings,
}

/// Rapid and short-acting insulin under the skin.
pub(crate) fn doses(record: &Record, from: Second, to: Second) -> Vec<RapidDose> {
    let all = record.doses.iter().map(|kept| &kept.it);
    all.filter(|dose| (from..to).contains(&dose.at) && dose.units > 0.0)
        .filter(|dose| matches!(dose.insulin, InsulinKind::Rapid | InsulinKind::Short))
        .filter(|dose| matches!(dose.delivery, Delivery::AtOnce | Delivery::Spread { .. }))
        .map(|dose| RapidDose {
            at: dose.at,
            units: dose.units,
            insulin: dose.insulin,
            said: dose.note.as_deref().and_then(words::dose_for),
        })
        .collect()
}

pub(crate) fn carbs(record: &Record, from: Second, to: Second) -> Vec<Carbs> {
    let all = record.meals.iter().map(|kept| &kept.it);
    all.filter(|meal| (from..to).contains(&meal.at) && meal.carbohydrate_g.is_none_or(|grams| grams > 0.0))
        .map(|meal| Carbs {
            at: meal.at,
            grams: meal.carbohydrate_g,
            said: meal.text.as_deref().and_then(words::carbs_for),
        })
        .collect()
}
