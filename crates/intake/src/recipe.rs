//! Layouts remembered: a digest of headings and shapes.

use crate::column::{Column, Sample};
use crate::fold::fold;

/// A digest of a table's layout: delimiter, headings, and what each column's cells look like; no value goes in.
pub(crate) fn layout(sample: &Sample, delimiter: u8) -> String {
    let mut text = format!("1|{}|", char::from(delimiter));
    for column in &sample.columns {
        text.push_str(&fold(column.heading.trim()));
        text.push('\u{1}');
        // Columns with headings keep their meaning whether or not this file happens to fill them.
        if column.heading.is_empty() {
            text.push_str(shape(column));
        }
        text.push('\u{2}');
    }
    format!("{:016x}-{}", fnv(text.as_bytes()), sample.columns.len())
}

fn shape(column: &Column) -> &'static str {
    let p = &column.profile;
    if p.filled == 0 {
        "empty"
    } else if p.share(p.moments) > 0.5 {
        "moment"
    } else if p.share(p.dates) > 0.5 {
        "date"
    } else if p.share(p.clocks) > 0.5 {
        "clock"
    } else if p.is_numeric() {
        "number"
    } else {
        "text"
    }
}

/// FNV-1a, 64 bits: a short name for a layout, not a guard against ill will.
fn fnv(bytes: &[u8]) -> u64 {
    bytes.iter().fold(0xcbf2_9ce4_8422_2325, |hash, &byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Vector of the FNV authors' test suite: 'foobar'.
    #[test]
    fn known_digest() {
        assert_eq!(fnv(b"foobar"), 0x85944171f73967e8);
    }
}
