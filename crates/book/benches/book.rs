//! Placeholder until measured.
fn main() {}
