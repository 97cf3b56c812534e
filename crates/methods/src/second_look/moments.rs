//! The moments of a past: readings ten minutes apart, each with the hour before it.

use std::hash::{DefaultHasher, Hasher};

use interstice_glucose::Second;

use super::features::{SHAPE, shape};
use super::laid::Laid;
use super::{FEWEST_DAYS, Past};
use crate::day::{LivedDay, lived_days};

/// Time between moments, seconds.
const STEP_S: u32 = 600;
/// A moment can be compared with where the readings go on so long after it.
const FOLLOWED_S: u32 = 2 * 3600;
/// What was waited for: no further insulin in so long.
const WAITED_S: u32 = 4 * 3600;
/// Insulin counts as written down around a moment where some is within this before it and after it (ours).
const WRITTEN_S: u32 = 86_400;
/// Insulin is written down where what was done is known after so many moments, three days of them (ours); a dose now and then
/// does not tell moments of waiting.
const FEWEST_KNOWN: usize = 432;
/// A dose so soon after a moment was taken because of what was seen there (ours).
const CORRECTED_S: u32 = 1800;
/// A meal this long before the dose or after it makes it no correction (ours).
const NEAR_MEAL_S: u32 = 3600;

/// What the person did after a moment.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum After {
    /// Took no further insulin in four hours.
    Waited,
    /// Took insulin within half an hour, with no meal near it.
    Corrected,
    /// Took insulin otherwise.
    Dosed,
    /// No insulin is written down around it, so this cannot be told.
    Unknown,
}

/// One moment.
#[derive(Clone, Copy, Debug)]
pub(super) struct Moment {
    /// Which reading.
    pub(super) reading: u32,
    /// Whether two hours follow without a gap.
    pub(super) followed: bool,
    pub(super) after: After,
}

/// A person's past with its moments.
#[derive(Clone, Debug)]
pub struct Moments<'a> {
    pub(super) laid: Laid<'a>,
    /// In time order.
    pub(super) all: Vec<Moment>,
    /// Where each lies among the others.
    pub(super) shapes: Vec<[f64; SHAPE]>,
    /// Lived days from the first reading to the last.
    pub(super) days: Vec<LivedDay>,
    insulin_is_written: bool,
}

impl<'a> Moments<'a> {
    /// Finds the moments of a past.
    pub fn of(past: Past<'a>) -> Self {
        let laid = Laid::of(past);
        let mut all = Vec::new();
        let mut shapes = Vec::new();
        let mut next = 0;
        for i in 0..laid.len() {
            let at = laid.at(i);
            // Ten minutes less half an interval, so that a reading that comes early is not passed over.
            if at < next || !laid.has_last_hour(i) {
                continue;
            }
            let step = STEP_S.saturating_sub(laid.interval_s(i).min(STEP_S) / 2).max(1);
            next = at.saturating_add(step);
            let reach = at.saturating_add(FOLLOWED_S - laid.interval_s(i).min(FOLLOWED_S) / 2);
            all.push(Moment {
                reading: i as u32,
                followed: laid.at(laid.run_end(i)) >= reach,
                after: after(&past, at),
            });
            shapes.push(shape(&laid, i));
        }
        let days = match (past.at.first(), past.at.last()) {
            (Some(&first), Some(&last)) => {
                lived_days(past.clock, Second::from(first), Second::from(last) + 1)
            }
            _ => Vec::new(),
        };
        let known = all.iter().filter(|moment| moment.after != After::Unknown).count();
        Moments {
            laid,
            insulin_is_written: known >= FEWEST_KNOWN,
            all,
            shapes,
            days,
        }
    }

    /// How many there are.
    pub fn len(&self) -> usize {
        self.all.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.all.is_empty()
    }

    /// Whether the person writes insulin down, so that waiting can be told from not waiting.
    pub fn insulin_is_written(&self) -> bool {
        self.insulin_is_written
    }

    /// Whether a moment counts where waiting is looked for: the person waited, or insulin is not written down.
    pub(super) fn counts_as_waiting(&self, place: usize) -> bool {
        !self.insulin_is_written() || self.all[place].after == After::Waited
    }

    pub(super) fn at(&self, place: usize) -> u32 {
        self.laid.at(self.reading(place))
    }

    pub(super) fn reading(&self, place: usize) -> usize {
        self.all[place].reading as usize
    }

    /// First moment at or after an instant.
    pub(super) fn first_from(&self, at: Second) -> usize {
        let reading = self.laid.first_from(at);
        self.all
            .partition_point(|moment| (moment.reading as usize) < reading)
    }

    /// What was known by an instant, as one number: two pasts that have the same one do not differ before it. Of doses and meals
    /// those of a day later count too, since they tell what was done after a moment.
    pub(super) fn known_by(&self, at: Second) -> u64 {
        let past = &self.laid.past;
        let mut known = DefaultHasher::new();
        known.write_u8(u8::from(self.insulin_is_written));
        let readings = self.laid.first_from(at);
        for i in 0..readings {
            known.write_u64(u64::from(self.laid.at(i)));
            known.write_u64(self.laid.mg_dl(i).to_bits());
            known.write_u64(self.laid.came_mg_dl(i).to_bits());
            known.write_u64(past.on_board.get(i).map_or(0, |units| units.to_bits()));
        }
        let logged = at + Second::from(WRITTEN_S);
        for dose in past
            .insulin
            .iter()
            .take_while(|dose| Second::from(dose.at) < logged)
        {
            known.write_u64(u64::from(dose.at));
            known.write_u64(dose.units.to_bits());
        }
        for meal in past
            .meals
            .iter()
            .take_while(|meal| Second::from(meal.at) < logged)
        {
            known.write_u64(u64::from(meal.at));
            known.write_u64(meal.grams.map_or(u64::MAX, f64::to_bits));
        }
        known.finish()
    }

    /// The lived day an instant is in, by its place; the last one for later instants.
    pub(super) fn day_of(&self, at: Second) -> Option<usize> {
        self.days.partition_point(|day| day.from <= at).checked_sub(1)
    }

    /// Start of the first lived day of which a fan is told.
    pub(super) fn first_told(&self) -> Option<usize> {
        let first = usize::try_from(FEWEST_DAYS).unwrap_or(usize::MAX);
        (first < self.days.len()).then_some(first)
    }
}

/// What was done after an instant.
fn after(past: &Past<'_>, at: u32) -> After {
    let doses = past.insulin;
    let next = doses.partition_point(|dose| dose.at <= at);
    let before = next.checked_sub(1).map(|last| doses[last].at);
    let written_before = before.is_some_and(|last| at - last <= WRITTEN_S);
    let Some(following) = doses.get(next).map(|dose| dose.at) else {
        return After::Unknown;
    };
    if following - at > WAITED_S {
        let written = written_before && following - at <= WRITTEN_S;
        return if written { After::Waited } else { After::Unknown };
    }
    let first_meal = past
        .meals
        .partition_point(|meal| meal.at < following.saturating_sub(NEAR_MEAL_S));
    let with_meal = past
        .meals
        .get(first_meal)
        .is_some_and(|meal| meal.at <= following.saturating_add(NEAR_MEAL_S));
    if following - at <= CORRECTED_S && !with_meal {
        After::Corrected
    } else {
        After::Dosed
    }
}
