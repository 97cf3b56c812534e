//! Events that would lie on one another.

use std::ops::Range;

use interstice_glucose::Second;

/// Groups instants by the stretch of `bin_s` seconds they fall in, stretches being counted from 1970. Returns index
/// ranges of `at`, in order, none empty, each instant in exactly one.
///
/// * `at`: ascending.
/// * `bin_s`: at least 1 (0 counts as 1). At 1, instants of one second still share a group.
pub fn clusters(at: &[Second], bin_s: u32) -> Vec<Range<usize>> {
    let bin = |at: Second| at.div_euclid(Second::from(bin_s.max(1)));
    let mut groups = Vec::new();
    let mut start = 0;
    while let Some(&first) = at.get(start) {
        let end = start + at[start..].partition_point(|&at| bin(at) <= bin(first));
        groups.push(start..end);
        start = end;
    }
    groups
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn each_instant_is_in_one_group_with_its_like(
            mut at in proptest::collection::vec(-5000i64..5000, 0..300),
            bin_s in 1u32..900,
        ) {
            at.sort_unstable();
            let groups = clusters(&at, bin_s);
            let flat: Vec<usize> = groups.iter().cloned().flatten().collect();
            prop_assert_eq!(flat, (0..at.len()).collect::<Vec<_>>());
            let bin = |i: usize| at[i].div_euclid(i64::from(bin_s));
            for group in &groups {
                prop_assert_eq!(bin(group.start), bin(group.end - 1));
            }
            for pair in groups.windows(2) {
                prop_assert!(bin(pair[0].end - 1) < bin(pair[1].start));
            }
        }
    }

    #[test]
    fn a_width_of_nothing_groups_by_second() {
        assert_eq!(clusters(&[5, 5, 6], 0), vec![0..2, 2..3]);
    }
}
