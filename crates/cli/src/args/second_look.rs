//! `now` and `second-look`

use clap::Args;

/// `second-look`
#[derive(Args, Debug)]
pub(crate) struct SecondLookArgs {
    /// Which moment, like '2025-03-01 07:30'; the last reading where left out.
    #[arg(long, value_name = "TIME", conflicts_with = "evaluate")]
    pub(crate) at: Option<String>,
    /// Tell instead how well it would have done over all your readings, each day told from the days before it alone.
    #[arg(long)]
    pub(crate) evaluate: bool,
    /// Show glucose in this unit instead of the book's.
    #[arg(long, value_name = "UNIT", value_parser = ["mg/dL", "mmol/L"], ignore_case = true)]
    pub(crate) unit: Option<String>,
}

/// `now`
#[derive(Args, Debug)]
pub(crate) struct NowArgs {
    /// As of this moment, with what was known then, like '2025-03-01 07:30'.
    #[arg(long, value_name = "TIME")]
    pub(crate) at: Option<String>,
    /// Show glucose in this unit instead of the book's.
    #[arg(long, value_name = "UNIT", value_parser = ["mg/dL", "mmol/L"], ignore_case = true)]
    pub(crate) unit: Option<String>,
}
