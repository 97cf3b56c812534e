//! Numbers in sentences.

/// '1 reading', '2 readings'.
pub(crate) fn count(many: u64, one: &str, several: &str) -> String {
    format!("{many} {}", if many == 1 { one } else { several })
}
