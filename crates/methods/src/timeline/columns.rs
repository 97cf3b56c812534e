//! The two columns a picture is made from.

use std::ops::Range;

use interstice_glucose::{Readings, Second};

use crate::Series;

/// Borrowed columns of equal length: seconds since 1970, ascending, and level indices.
#[derive(Clone, Copy, Debug, Default)]
pub struct Columns<'a> {
    /// Seconds since 1970.
    pub at: &'a [u32],
    /// Level indices, one an instant.
    pub level: &'a [u32],
}

impl Columns<'_> {
    /// Number of readings: the length of the shorter column.
    pub fn len(&self) -> usize {
        self.at.len().min(self.level.len())
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// The part with `from <= at < to`, as index range.
    pub fn range(&self, from: Second, to: Second) -> Range<usize> {
        let at = &self.at[..self.len()];
        let start = at.partition_point(|&at| Second::from(at) < from);
        let end = at.partition_point(|&at| Second::from(at) < to);
        start..end.max(start)
    }
}

impl<'a> From<&'a Readings> for Columns<'a> {
    fn from(readings: &'a Readings) -> Self {
        Columns {
            at: readings.at(),
            level: readings.level(),
        }
    }
}

impl<'a> From<&'a Series<'_>> for Columns<'a> {
    fn from(series: &'a Series<'_>) -> Self {
        Columns {
            at: series.at(),
            level: series.level(),
        }
    }
}
