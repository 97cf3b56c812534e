//! A 12-hour clock whose half of the day stands in a column of its own.

use crate::stamp::is_afternoon;

/// The second of the day of a 12-hour time by the half in another cell; `None` where that does not say it.
pub(crate) fn with_half(second: i64, cell: &[u8]) -> Option<i64> {
    let afternoon = is_afternoon(cell)?;
    // A 24-hour time with a needless half beside it says it all.
    if second >= 13 * 3600 {
        return Some(second);
    }
    Some(second % 43_200 + if afternoon { 43_200 } else { 0 })
}

/// Whether a cell says only which half of the day it is.
pub(crate) fn is_half(cell: &[u8]) -> bool {
    is_afternoon(cell).is_some()
}
