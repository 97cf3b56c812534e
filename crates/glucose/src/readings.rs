//! Columns of readings: an instant and a level each.

use std::collections::HashMap;

use crate::{Said, Second};

/// One distinct value in a set of readings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Level {
    /// As the device said it.
    pub said: Said,
    /// The same in mg/dL.
    pub mg_per_dl: f64,
}

/// The distinct values of a set of readings. A sensor says a few hundred different numbers in its life, so a
/// column keeps an index into this table, and anything that depends on the value alone (a range, a logarithm) is
/// computed once a level rather than once a reading.
#[derive(Clone, Debug, Default)]
pub struct Levels {
    levels: Vec<Level>,
    index: HashMap<Said, u32>,
}

impl Levels {
    /// An empty table.
    pub fn new() -> Self {
        Levels::default()
    }

    /// The index of a value, added when new.
    pub fn intern(&mut self, said: Said) -> u32 {
        if let Some(&index) = self.index.get(&said) {
            return index;
        }
        let index = u32::try_from(self.levels.len()).unwrap_or(u32::MAX);
        self.levels.push(Level {
            said,
            mg_per_dl: said.glucose().mg_per_dl(),
        });
        self.index.insert(said, index);
        index
    }

    /// The level at an index handed out by [`Levels::intern`].
    ///
    /// # Panics
    /// With an index of another table.
    pub fn get(&self, index: u32) -> &Level {
        &self.levels[index as usize]
    }

    /// All levels, by index.
    pub fn as_slice(&self) -> &[Level] {
        &self.levels
    }

    /// How many there are.
    pub fn len(&self) -> usize {
        self.levels.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.levels.is_empty()
    }
}

/// Two columns of equal length: when, and which level. The table of levels is kept beside them by whoever owns
/// several such columns.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Readings {
    at: Vec<u32>,
    level: Vec<u32>,
}

impl Readings {
    /// Empty columns with room for `capacity` readings.
    pub fn with_capacity(capacity: usize) -> Self {
        Readings {
            at: Vec::with_capacity(capacity),
            level: Vec::with_capacity(capacity),
        }
    }

    /// From two columns of equal length; `None` where the lengths differ.
    pub fn from_columns(at: Vec<u32>, level: Vec<u32>) -> Option<Self> {
        (at.len() == level.len()).then_some(Readings { at, level })
    }

    /// Appends one reading. `at` is in seconds since 1970, `level` an index of the table in use.
    pub fn push(&mut self, at: u32, level: u32) {
        self.at.push(at);
        self.level.push(level);
    }

    /// Puts another instant in place `index`.
    ///
    /// # Panics
    /// With an index not below [`Readings::len`].
    pub fn set_at(&mut self, index: usize, at: u32) {
        self.at[index] = at;
    }

    /// Puts another level in place `index`.
    ///
    /// # Panics
    /// With an index not below [`Readings::len`].
    pub fn set_level(&mut self, index: usize, level: u32) {
        self.level[index] = level;
    }

    /// Appends all of `other`, whose levels must be of the same table.
    pub fn append(&mut self, other: &mut Readings) {
        self.at.append(&mut other.at);
        self.level.append(&mut other.level);
    }

    /// Seconds since 1970, one a reading.
    pub fn at(&self) -> &[u32] {
        &self.at
    }

    /// Level indices, one a reading.
    pub fn level(&self) -> &[u32] {
        &self.level
    }

    /// Number of readings.
    pub fn len(&self) -> usize {
        self.at.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.at.is_empty()
    }

    /// First and last instant, of columns in time order.
    pub fn span(&self) -> Option<(Second, Second)> {
        Some((Second::from(*self.at.first()?), Second::from(*self.at.last()?)))
    }

    /// Whether instants never step back.
    pub fn is_sorted(&self) -> bool {
        self.at.is_sorted()
    }

    /// Puts the readings in time order; readings of one instant keep the order they came in.
    pub fn sort(&mut self) {
        if self.is_sorted() {
            return;
        }
        let mut rows: Vec<(u32, u32)> = self.at.iter().copied().zip(self.level.iter().copied()).collect();
        rows.sort_by_key(|&(at, _)| at);
        for (i, (at, level)) in rows.into_iter().enumerate() {
            self.at[i] = at;
            self.level[i] = level;
        }
    }

    /// The part with `from <= at < to`, of columns in time order, as index range.
    pub fn range(&self, from: Second, to: Second) -> std::ops::Range<usize> {
        let start = self.at.partition_point(|&at| Second::from(at) < from);
        let end = self.at.partition_point(|&at| Second::from(at) < to);
        start..end.max(start)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn sorting_is_stable_and_loses_nothing(ats in proptest::collection::vec(0u32..50, 0..200)) {
            let mut readings = Readings::default();
            for (i, &at) in ats.iter().enumerate() {
                readings.push(at, u32::try_from(i).unwrap());
            }
            readings.sort();
            prop_assert!(readings.is_sorted());
            for pair in readings.at().iter().zip(readings.level()).collect::<Vec<_>>().windows(2) {
                prop_assert!(pair[0].0 < pair[1].0 || pair[0].1 < pair[1].1);
            }
            prop_assert_eq!(readings.len(), ats.len());
        }
    }

    #[test]
    fn equal_values_share_a_level() {
        let mut levels = Levels::new();
        let first = levels.intern(Said::whole_mg_per_dl(100));
        assert_eq!(first, levels.intern(Said::whole_mg_per_dl(100)));
        assert_ne!(first, levels.intern(Said::whole_mg_per_dl(101)));
        assert_eq!(levels.len(), 2);
    }
}
