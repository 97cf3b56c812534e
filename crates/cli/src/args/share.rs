//! `share`

use std::path::PathBuf;

use clap::Args;

/// `share`
#[derive(Args, Debug)]
pub(crate) struct ShareArgs {
    /// A new or empty folder, or a new file that ends in .zip.
    #[arg(value_name = "OUT")]
    pub(crate) out: PathBuf,
    /// The last so many days that have readings.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=40_000))]
    pub(crate) days: u32,
    /// What is in it, with commas between: readings, scans, checks, doses, meals, entries, sensors, lows, account.
    #[arg(long, value_name = "PARTS", value_delimiter = ',', required = true)]
    pub(crate) with: Vec<String>,
    /// Words too: notes, what a meal was, preparations and covers.
    #[arg(long)]
    pub(crate) notes: bool,
    /// Move all dates by a number of whole weeks, drawn anew unless it is said.
    #[arg(long, value_name = "WEEKS", num_args = 0..=1, require_equals = true, value_parser = clap::value_parser!(u32).range(1..=2000))]
    pub(crate) shift_dates: Option<Option<u32>>,
    /// Number the sensors anew, leave out lots and serial numbers, and give zones as offsets.
    #[arg(long)]
    pub(crate) without_names: bool,
    /// Write it. Without this it is only listed.
    #[arg(long)]
    pub(crate) yes: bool,
}
