//! One truth from several sources: of the readings told for one instant, the first stands.
//!
//! A source whose readings of the day are all stamped with whole minutes knows the minute alone: its reading and any
//! other of that minute can be of one instant. Two readings of one source never are, unless their stamps are equal.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use interstice_glucose::{Censor, Said, Unit};

const MINUTE_S: u32 = 60;

/// What a reading is, beside those told before it for the same instant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Verdict {
    /// The first for its instant: it stands.
    Stands,
    /// It agrees with one told before.
    AlreadyThere,
    /// It agrees with none told before: kept, counted and listed, but not standing.
    Conflict,
}

/// A reading with whatever its caller needs to know it by.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Told<S> {
    pub(crate) at: u32,
    pub(crate) said: Said,
    /// Place of its source in the order of precedence, the first 0.
    pub(crate) rank: u32,
    /// Its source knows the minute alone.
    pub(crate) to_minute: bool,
    pub(crate) source: S,
}

/// Whether a day's readings of one source are all stamped with whole minutes.
pub(crate) fn are_to_minute(mut at: impl Iterator<Item = u32>) -> bool {
    at.all(|at| at % MINUTE_S == 0)
}

/// Judges rows that are in time order, those of one instant in order of precedence. `tell` gets each row, the one
/// standing for its instant, and the verdict.
pub(crate) fn judge<S>(rows: &[Told<S>], mut tell: impl FnMut(&Told<S>, &Told<S>, Verdict)) {
    let to_minute = rows.iter().filter(|row| row.to_minute).count();
    if to_minute == 0 || to_minute == rows.len() {
        return judge_instants(rows, &mut tell);
    }
    for minute in rows.chunk_by(|a, b| a.at / MINUTE_S == b.at / MINUTE_S) {
        let to_minute = minute.iter().filter(|row| row.to_minute).count();
        if to_minute == 0 || to_minute == minute.len() {
            judge_instants(minute, &mut tell);
        } else {
            judge_minute(minute, &mut tell);
        }
    }
}

fn judge_instants<S>(rows: &[Told<S>], tell: &mut impl FnMut(&Told<S>, &Told<S>, Verdict)) {
    for instant in rows.chunk_by(|a, b| a.at == b.at) {
        let standing = &instant[0];
        tell(standing, standing, Verdict::Stands);
        let [_, others @ ..] = instant else { continue };
        if others.is_empty() {
            continue;
        }
        let mut known = Known::of(standing.said);
        for row in others {
            let verdict = if known.agrees(row.said) {
                Verdict::AlreadyThere
            } else {
                known.add(row.said);
                Verdict::Conflict
            };
            tell(row, standing, verdict);
        }
    }
}

/// One instant of a minute told of in different grains.
struct Slot {
    /// The row that stands for it.
    standing: usize,
    known: Known,
    /// Ranks of the sources that have told of it.
    told_by: BTreeSet<u32>,
}

/// Judges a minute of which some sources know the seconds and some do not. Each row, in order of precedence, is told
/// of an instant it agrees with that its source has not told of yet; else it conflicts with one; else it stands.
fn judge_minute<S>(rows: &[Told<S>], tell: &mut impl FnMut(&Told<S>, &Told<S>, Verdict)) {
    let mut order: Vec<usize> = (0..rows.len()).collect();
    order.sort_by_key(|&i| (rows[i].rank, i));
    let mut slots: Vec<Slot> = Vec::new();
    let mut verdicts = vec![(0, Verdict::Stands); rows.len()];
    for i in order {
        let row = &rows[i];
        let same_stamp = |slot: &Slot| rows[slot.standing].at == row.at;
        let may_be = |slot: &Slot| {
            same_stamp(slot)
                || ((row.to_minute || rows[slot.standing].to_minute) && !slot.told_by.contains(&row.rank))
        };
        let found = slots
            .iter()
            .position(|slot| may_be(slot) && slot.known.agrees(row.said))
            .or_else(|| slots.iter().position(same_stamp))
            .or_else(|| slots.iter().position(may_be));
        let Some(found) = found else {
            verdicts[i] = (i, Verdict::Stands);
            slots.push(Slot {
                standing: i,
                known: Known::of(row.said),
                told_by: BTreeSet::from([row.rank]),
            });
            continue;
        };
        let slot = &mut slots[found];
        slot.told_by.insert(row.rank);
        verdicts[i] = if slot.known.agrees(row.said) {
            (slot.standing, Verdict::AlreadyThere)
        } else {
            slot.known.add(row.said);
            (slot.standing, Verdict::Conflict)
        };
    }
    for (row, (standing, verdict)) in rows.iter().zip(verdicts) {
        tell(row, &rows[standing], verdict);
    }
}

/// Values told for one instant, none of which agree. Few are compared one by one; of many, those of one unit and
/// number of decimals lie in order.
struct Known {
    few: Vec<Said>,
    many: HashMap<(Unit, Censor, u8), BTreeMap<i64, Said>>,
}

/// So many values are compared one by one.
const FEW: usize = 8;

impl Known {
    fn of(said: Said) -> Self {
        Known {
            few: vec![said],
            many: HashMap::new(),
        }
    }

    fn add(&mut self, said: Said) {
        if self.few.len() < FEW {
            self.few.push(said);
        } else {
            let class = (said.unit(), said.censor(), said.decimals());
            self.many.entry(class).or_default().insert(said.mantissa(), said);
        }
    }

    fn agrees(&self, said: Said) -> bool {
        self.few.iter().any(|known| known.agrees_with(said))
            || self.many.iter().any(|(&(unit, censor, decimals), values)| {
                let same_class = (unit, decimals) == (said.unit(), said.decimals());
                censor == said.censor()
                    && if same_class {
                        values.contains_key(&said.mantissa())
                    } else {
                        near(values, unit, decimals, said)
                    }
            })
    }
}

/// Whether any of the values of one class agrees with one of another: those next to where it would lie do, or none.
fn near(values: &BTreeMap<i64, Said>, unit: Unit, decimals: u8, said: Said) -> bool {
    // A float beyond the range of i64 becomes its end.
    let place = (said.glucose().in_unit(unit) * 10_f64.powi(i32::from(decimals))) as i64;
    let below = values.range(..=place).next_back();
    let above = values.range(place.saturating_add(1)..).next();
    below
        .into_iter()
        .chain(above)
        .any(|(_, known)| known.agrees_with(said))
}

#[cfg(test)]
mod tests {
    use super::Verdict::{AlreadyThere, Conflict, Stands};
    use super::*;

    fn verdicts(rows: &[(u32, i64, u32)]) -> Vec<Verdict> {
        let to_minute = |rank: u32| are_to_minute(rows.iter().filter(|row| row.2 == rank).map(|row| row.0));
        let mut told: Vec<Told<()>> = rows
            .iter()
            .map(|&(at, mg, rank)| Told {
                at,
                said: Said::whole_mg_per_dl(mg),
                rank,
                to_minute: to_minute(rank),
                source: (),
            })
            .collect();
        told.sort_by_key(|row| row.at);
        let mut verdicts = Vec::new();
        judge(&told, |_, _, verdict| verdicts.push(verdict));
        verdicts
    }

    #[test]
    fn first_stands_equal_is_known_other_conflicts_once() {
        let rows = [
            (10, 100, 0),
            (10, 100, 1),
            (10, 120, 2),
            (10, 120, 3),
            (20, 90, 0),
        ];
        assert_eq!(
            verdicts(&rows),
            [Stands, AlreadyThere, Conflict, AlreadyThere, Stands]
        );
    }

    #[test]
    fn a_stamp_to_the_minute_is_any_of_that_minute() {
        assert_eq!(verdicts(&[(60, 100, 0), (80, 100, 1)]), [Stands, AlreadyThere]);
        assert_eq!(verdicts(&[(60, 100, 1), (80, 100, 0)]), [AlreadyThere, Stands]);
        assert_eq!(verdicts(&[(60, 100, 0), (80, 130, 1)]), [Stands, Conflict]);
        // Both know the seconds: two instants.
        assert_eq!(verdicts(&[(61, 100, 0), (80, 100, 1)]), [Stands, Stands]);
        // Two of one source are two instants; each of the other's finds its own.
        let two = [(65, 104, 0), (110, 106, 0), (60, 106, 1), (60, 104, 1)];
        assert_eq!(verdicts(&two), [AlreadyThere, AlreadyThere, Stands, Stands]);
    }

    #[test]
    fn many_values_of_an_instant_are_judged_as_few_are() {
        let said = |mantissa, decimals, unit| Said::new(mantissa, decimals, unit, Censor::None).unwrap();
        let mut all: Vec<Said> = (0..200)
            .map(|i| said(700 + i * 37 % 300, 1, Unit::MgPerDl))
            .collect();
        all.extend((0..100).map(|i| said(30 + i * 7 % 40, 1, Unit::MmolPerL)));
        all.extend((0..100).map(|i| said(60 + i * 11 % 60, 0, Unit::MgPerDl)));
        let (mut known, mut plain) = (Known::of(all[0]), vec![all[0]]);
        for &value in &all[1..] {
            let agrees = plain.iter().any(|known| known.agrees_with(value));
            assert_eq!(known.agrees(value), agrees, "{value}");
            if !agrees {
                plain.push(value);
                known.add(value);
            }
        }
        assert!(plain.len() > 100);
    }
}
