//! Placeholder.
pub(crate) fn take(_: &std::path::Path) -> anyhow::Result<()> {
    Ok(())
}
