//! Which character separates the fields.

use std::collections::BTreeMap;

use crate::cell::{CellShape, shape};
use crate::records::Records;

/// Characters that are tried.
const CANDIDATES: [u8; 4] = [b',', b';', b'\t', b'|'];
/// Records looked at.
const MOST_RECORDS: usize = 400;

/// The delimiter under which most records have one number of fields and their cells are times and numbers rather
/// than torn words. `None` where no candidate gives two fields.
pub(crate) fn sniff_delimiter(sample: &[u8]) -> Option<u8> {
    let scored = CANDIDATES
        .iter()
        .map(|&delimiter| (delimiter, score(sample, delimiter)));
    scored
        .filter(|&(_, score)| score > 0.0)
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .map(|(delimiter, _)| delimiter)
}

/// Share of records with the commonest number of fields, weighted by the share of their cells that have a shape.
fn score(sample: &[u8], delimiter: u8) -> f64 {
    let (mut records, mut fields) = (Records::new(sample, delimiter), Vec::new());
    // Number of fields → (records, filled cells, cells with a shape).
    let mut counts: BTreeMap<usize, (usize, usize, usize)> = BTreeMap::new();
    let mut seen = 0;
    while let Some(range) = records.next(&mut fields) {
        let record = &sample[range];
        if record.trim_ascii().is_empty() || record.starts_with(b"#") {
            continue;
        }
        let shapes: Vec<CellShape> = fields.iter().map(|f| shape(f.raw(sample))).collect();
        let count = counts.entry(fields.len()).or_default();
        count.0 += 1;
        count.1 += shapes.iter().filter(|&&s| s != CellShape::Empty).count();
        count.2 += shapes
            .iter()
            .filter(|&&s| matches!(s, CellShape::Number | CellShape::Time))
            .count();
        seen += 1;
        if seen == MOST_RECORDS {
            break;
        }
    }
    let best = counts
        .iter()
        .filter(|&(&fields, _)| fields > 1)
        .max_by_key(|(_, count)| count.0);
    best.map_or(0.0, |(&fields, &(records, filled, shaped))| {
        let typed = shaped as f64 / filled.max(1) as f64;
        records as f64 / seen as f64 * (0.1 + typed) + 1e-4 * fields as f64
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn decimal_commas_do_not_mislead() {
        assert_eq!(
            sniff_delimiter(b"Datum;Zeit;Glukose\n20.10.2025;12:35;7,7\n20.10.2025;12:40;7,8\n"),
            Some(b';')
        );
        assert_eq!(
            sniff_delimiter(b"Datum\tGlukose\n20.10.2025 12:35\t7,7\n20.10.2025 12:40\t7,8\n"),
            Some(b'\t')
        );
        assert_eq!(sniff_delimiter(b"a|b\n2025-01-01 10:00|5\n"), Some(b'|'));
        assert_eq!(sniff_delimiter(b"some text\nwith lines\n"), None);
    }
}
