//! Placeholder.

pub mod timeline;
