//! A sensor that ended before its time.

use interstice_glucose::{Ending, Second};

use super::fault::{Evidence, Fault};
use super::noise::rough_end;
use super::signal::Signal;
use crate::quantile::median;

/// An end is early from half a day before the planned one (ours): sensors are changed at a convenient hour.
const EARLY_S: Second = 12 * 3600;
/// And from a day before the time that other sensors lasted (ours): theirs differ by half a day already.
const EARLY_BESIDE_OTHERS_S: Second = 24 * 3600;
/// An end is one where readings would have gone on for so long (ours).
pub const SILENT_S: Second = 6 * 3600;
/// A dying signal was rough within this long of its end (ours).
const NEAR_END_S: Second = 3600;
/// And for at least so long (ours).
const SHORTEST_S: Second = 2 * 3600;
/// Bursts no further apart than this are one (ours).
const JOINED_S: Second = 3 * 3600;
/// The last hours looked at for silences (ours).
const LAST_S: Second = 8 * 3600;
/// Silences there are told from so long on, and where they are so many times what is usual in the trace (ours).
const TOLD_SILENT_S: Second = 3600;
const TIMES_SILENT: f64 = 5.0;

/// Other sensors looked at: those worn nearest before and after, since another model may last another time (ours).
const NEAREST: usize = 8;
/// Fewest that must have lasted alike (ours).
const FEWEST_ALIKE: usize = 3;
/// They lasted alike within so much of each other (ours).
const ALIKE_S: Second = 12 * 3600;

/// How long the sensors around one lasted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct UsualLife {
    /// From start to the end of the last reading's time, the middle of those that lasted alike.
    pub life_s: Second,
    /// Sensors that lasted so long.
    pub alike: u64,
    /// Of so many looked at.
    pub of: u64,
}

/// What is known of the end of a sensor beside its trace.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Wear {
    /// When it would have ended by its instructions, where that is known.
    pub planned_end: Option<Second>,
    /// When it was started, and how long the person's other sensors lasted.
    pub usual: Option<(Second, UsualLife)>,
    /// When the next sensor gave its first reading.
    pub next: Option<Second>,
    /// What was written down about the end.
    pub told: Option<Ending>,
}

impl Wear {
    /// When it would have ended, how early an end must be to be told, and whether that is by other sensors.
    fn expected(&self) -> Option<(Second, Second, Option<UsualLife>)> {
        let planned = self.planned_end.map(|end| (end, EARLY_S, None));
        let usual = |(started, usual): (Second, UsualLife)| {
            (started + usual.life_s, EARLY_BESIDE_OTHERS_S, Some(usual))
        };
        planned.or_else(|| self.usual.map(usual))
    }
}

/// How long the sensors worn around the one at `place` lasted, where most of them lasted alike: of the eight nearest before and
/// after, the largest group within 12 hours of one of them. `lives` are in order of wear, `None`
/// where one has not ended or its start is not known. `None` where fewer than three, or not more than half, lasted alike: people
/// who change sensors when it suits them have no usual life.
pub fn usual_life(lives: &[Option<Second>], place: usize) -> Option<UsualLife> {
    let mut others: Vec<(usize, Second)> = lives
        .iter()
        .enumerate()
        .filter(|&(other, _)| other != place)
        .filter_map(|(other, life)| Some((other.abs_diff(place), (*life)?)))
        .collect();
    others.sort_by_key(|&(away, _)| away);
    others.truncate(NEAREST);
    let alike = |life: Second| -> Vec<f64> {
        let all = others.iter().map(|other| other.1);
        all.filter(|other| (other - life).abs() <= ALIKE_S)
            .map(|other| other as f64)
            .collect()
    };
    let mut largest = others
        .iter()
        .map(|other| alike(other.1))
        .max_by_key(Vec::len)
        .filter(|group| group.len() >= FEWEST_ALIKE && 2 * group.len() > others.len())?;
    Some(UsualLife {
        alike: largest.len() as u64,
        of: others.len() as u64,
        life_s: median(&mut largest) as Second,
    })
}

/// An early end: by the plan or by other sensors where either is known, else by a dying signal where the last hours were
/// rough. One that the wearer wrote down as planned or taken off
/// is none.
pub(super) fn early_end(signal: &Signal, noise: &[Fault], until: Second, wear: &Wear) -> Option<Fault> {
    let last = signal.len().checked_sub(1)?;
    let end = signal.end(last);
    let meant = wear.told.is_some_and(Ending::is_by_the_wearer);
    if until - end < SILENT_S || meant {
        return None;
    }
    let expected = wear.expected();
    let short = expected
        .map(|(planned, least, others)| (planned - end, least, others))
        .filter(|&(short, least, _)| short > least);
    let dying = dying(noise, end).or_else(|| rough_end(signal));
    if short.is_none() && (dying.is_none() || expected.is_some()) {
        return None;
    }
    Some(Fault {
        from: dying.map_or(end, |(from, _)| from),
        to: end,
        evidence: Evidence::EarlyEnd {
            short_s: short.map(|short| short.0),
            others: short.and_then(|short| short.2),
            dying: dying.map(|(_, times)| times),
            silent_s: silent_at_end(signal),
            next_s: wear.next.map(|next| next - end),
            told: wear.told,
        },
    })
}

/// Silence in the last eight hours, where it is much more than is usual in the trace.
fn silent_at_end(signal: &Signal) -> Option<Second> {
    let last = signal.len().checked_sub(1)?;
    let (begin, end) = (signal.at[0], signal.end(last));
    let from = (end - LAST_S).max(begin);
    let silent = |from: Second| -> Second {
        (1..=last)
            .filter(|&i| !signal.follows(i - 1))
            .map(|i| (signal.at[i] - signal.end(i - 1).max(from)).max(0))
            .sum()
    };
    let (here, all) = (silent(from), silent(begin));
    let share = |silent: Second, of: Second| silent as f64 / of.max(1) as f64;
    let many = share(here, end - from) >= TIMES_SILENT * share(all - here, from - begin);
    (here >= TOLD_SILENT_S && many).then_some(here)
}

/// When the last rough hours began, and how rough they were.
fn dying(noise: &[Fault], end: Second) -> Option<(Second, f64)> {
    let mut from = end;
    let mut roughest = 0.0f64;
    let mut reach = NEAR_END_S;
    for burst in noise.iter().rev() {
        if from - burst.to > reach {
            break;
        }
        from = burst.from;
        reach = JOINED_S;
        if let Evidence::Noise { times_usual, .. } = burst.evidence {
            roughest = roughest.max(times_usual);
        }
    }
    (end - from >= SHORTEST_S).then_some((from, roughest))
}

#[cfg(test)]
mod tests {
    use super::*;

    const DAY: Second = 86_400;

    fn days(lives: &[f64]) -> Vec<Option<Second>> {
        lives
            .iter()
            .map(|&days| (days > 0.0).then_some((days * DAY as f64) as Second))
            .collect()
    }

    #[test]
    fn most_sensors_around_one_say_how_long_it_would_have_lasted() {
        let lives = days(&[14.0, 13.9, 6.2, 14.0, 14.1, 0.0]);
        let usual = usual_life(&lives, 2).unwrap();
        assert_eq!((usual.life_s, usual.alike, usual.of), (14 * DAY, 4, 4));
        // One that fell off is looked at for the others too, and does not count among those alike.
        let usual = usual_life(&lives, 0).unwrap();
        assert_eq!((usual.life_s, usual.alike, usual.of), (14 * DAY, 3, 4));
    }

    #[test]
    fn no_usual_life_where_sensors_are_changed_as_it_suits() {
        assert_eq!(usual_life(&days(&[14.0, 9.0, 11.5, 6.0, 13.0, 14.0]), 2), None);
        assert_eq!(usual_life(&days(&[14.0, 3.0, 14.0]), 1), None, "two are too few");
        assert_eq!(usual_life(&[], 0), None);
    }

    /// Ten-day sensors before, fourteen-day ones after: each is judged by those near it.
    #[test]
    fn another_model_is_judged_by_its_own() {
        let lives = days(&[10.0; 12].into_iter().chain([14.0; 12]).collect::<Vec<_>>());
        assert_eq!(usual_life(&lives, 2).unwrap().life_s, 10 * DAY);
        assert_eq!(usual_life(&lives, 21).unwrap().life_s, 14 * DAY);
    }
}
