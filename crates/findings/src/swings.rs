//! Swings of a window, how lows were treated and how soon the wearer acts, from what was logged.

mod lines;
mod words;

use interstice_book::Record;
use interstice_glucose::{Delivery, InsulinKind, Second};
use interstice_methods::swings::{self as method, Carbs, Diary, RapidDose, Roles};
use interstice_methods::{Bootstrap, Episode, EpisodeKind, Recording};

pub use lines::{
    HabitLine, KindLine, LinkLine, LinkName, LowTreatedLine, LowsTreatedLine, PauseLine, Quartiles, Rate,
    RatioLine, ShareLine, SwingKindLine, SwingLine, SwingTally, SwingsFindings, UsualHoursLine,
};

use crate::account::Reader;
use crate::aside::artefacts;
use crate::meals::{MealsFindings, meals};
use crate::patterns::{PatternsFindings, patterns};
use crate::trust::pressure_touching;

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
    let (doses, carbs) = (doses(record, from - LEAD_S, to), carbs(record, from - LEAD_S, to));
    let lows = episodes
        .iter()
        .filter(|episode| episode.kind == EpisodeKind::Low)
        .map(|low| (low.start, low.end.max(low.start + 1)));
    let lows: Vec<(Second, Second)> = lows.collect();
    // Looking for pressure takes longest. Where nothing is logged no swing can be told of, pressed or not.
    let is_logged = !doses.is_empty() || !carbs.is_empty();
    let pressed: Vec<(Second, Second)> = if is_logged {
        let found = pressure_touching(book, reader.night, &lows, (from, to));
        found
            .stretches
            .iter()
            .map(|stretch| (stretch.from, stretch.to))
            .collect()
    } else {
        Vec::new()
    };
    let diary = Diary {
        recording,
        episodes,
        doses: &doses,
        carbs: &carbs,
        pressed: &pressed,
    };
    let roles = Roles::of(&diary);
    let found = if is_logged {
        method::swings(&diary, &roles)
    } else {
        Vec::new()
    };
    let window = method::Window {
        from,
        to,
        read_s: recording.seconds_read() as f64,
        clock: &record.clock,
    };
    let tally = method::tally(&found, &window, &Bootstrap::seeded(seed));
    let told = lines::told(
        record,
        &diary,
        &found,
        &tally,
        &method::lows_treated(&diary, &roles),
        &method::reactions(&diary, &roles),
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
