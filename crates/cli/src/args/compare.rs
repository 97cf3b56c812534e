//! `compare`

use clap::Args;

/// `compare`
#[derive(Args, Debug)]
pub(crate) struct CompareArgs {
    /// The former days, first and last, like 2025-03-01..2025-03-28.
    #[arg(long, value_name = "DATES", requires = "after", conflicts_with = "days")]
    pub(crate) before: Option<String>,
    /// The latter days.
    #[arg(long, value_name = "DATES", requires = "before", conflicts_with = "days")]
    pub(crate) after: Option<String>,
    /// Days of a kind: your tag, activity, illness, alcohol, weekend, words of your notes; none at all lists what the book knows.
    #[arg(long, value_name = "KIND")]
    pub(crate) days: Option<String>,
    /// Against days of this kind; against days without the first where left out.
    #[arg(long, value_name = "KIND", requires = "days")]
    pub(crate) than: Option<String>,
    /// Among these days only; else among those up to four weeks from the first and the last of the kind.
    #[arg(long, value_name = "DATES", requires = "days")]
    pub(crate) among: Option<String>,
    /// Leave out readings marked as pressure lows or other artefacts.
    #[arg(long)]
    pub(crate) exclude_pressure: bool,
    /// Seed of the bootstrap intervals.
    #[arg(long, default_value_t = interstice_findings::DEFAULT_SEED)]
    pub(crate) seed: u64,
    /// Show glucose in this unit instead of the book's.
    #[arg(long, value_name = "UNIT", value_parser = ["mg/dL", "mmol/L"], ignore_case = true)]
    pub(crate) unit: Option<String>,
}
