//! Numbers in sentences: one thing, several things.

use std::fmt::Display;

/// '0 rows', '1 row', '2 rows'.
///
/// ```
/// use interstice_glucose::counted;
/// assert_eq!([0, 1, 2].map(|n| counted(n, "row", "rows")), ["0 rows", "1 row", "2 rows"]);
/// ```
pub fn counted<N: Display + PartialEq + From<u8>>(n: N, one: &str, many: &str) -> String {
    let word = one_or_many(&n, one, many);
    format!("{n} {word}")
}

/// The word alone, for a sentence whose verb or pronoun goes with the number: `one` for 1, else `many`.
///
/// ```
/// use interstice_glucose::one_or_many;
/// assert_eq!([0, 1, 2].map(|n| one_or_many(&n, "is", "are")), ["are", "is", "are"]);
/// ```
pub fn one_or_many<'a, N: PartialEq + From<u8>>(n: &N, one: &'a str, many: &'a str) -> &'a str {
    if *n == N::from(1) { one } else { many }
}
