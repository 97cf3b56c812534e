//! What can be typed of visits.

use std::path::PathBuf;

use clap::Args;

/// `visit`
#[derive(Args, Debug)]
pub(crate) struct VisitArgs {
    /// Write it into this file: .pdf, .html for sending, or .xlsx for its tables. May be given several times; without it, it is printed as text.
    #[arg(long, value_name = "FILE")]
    pub(crate) out: Vec<PathBuf>,
    /// The last so many days that have readings; 90 where nothing is said.
    #[arg(long, value_name = "N", conflicts_with_all = ["from", "to"], value_parser = clap::value_parser!(u32).range(1..=40_000))]
    pub(crate) days: Option<u32>,
    /// First day, like 2025-03-01.
    #[arg(long, value_name = "DATE")]
    pub(crate) from: Option<String>,
    /// Last day, included.
    #[arg(long, value_name = "DATE")]
    pub(crate) to: Option<String>,
    /// Day of the last visit, to tell what changed since; else the last one that was written down.
    #[arg(long, value_name = "DATE")]
    pub(crate) since: Option<String>,
    /// Paper of the PDF.
    #[arg(long, value_name = "PAPER", default_value = "a4", value_parser = ["a4", "letter"], ignore_case = true)]
    pub(crate) paper: String,
    /// The day it is made, as it stands on the sheet; today where nothing is said.
    #[arg(long, value_name = "DATE")]
    pub(crate) made: Option<String>,
    /// Seed of the bootstrap intervals.
    #[arg(long, default_value_t = interstice_findings::DEFAULT_SEED)]
    pub(crate) seed: u64,
    /// Show glucose in this unit instead of the book's.
    #[arg(long, value_name = "UNIT", value_parser = ["mg/dL", "mmol/L"], ignore_case = true)]
    pub(crate) unit: Option<String>,
}

/// `visit-set`
#[derive(Args, Debug)]
pub(crate) struct VisitSetArgs {
    /// The name that stands on the sheet.
    #[arg(long, value_name = "NAME")]
    pub(crate) name: Option<String>,
    /// No name: a line to write on.
    #[arg(long, conflicts_with = "name")]
    pub(crate) no_name: bool,
    /// There was a visit on that day, like 2025-03-01; may be given several times.
    #[arg(long, value_name = "DATE")]
    pub(crate) visit: Vec<String>,
    /// There was none.
    #[arg(long, value_name = "DATE")]
    pub(crate) not_visit: Vec<String>,
    /// Something to ask at the next visit; may be given several times.
    #[arg(long, value_name = "TEXT")]
    pub(crate) question: Vec<String>,
    /// Take a question away, by its number in the list.
    #[arg(long, value_name = "NUMBER")]
    pub(crate) drop_question: Vec<usize>,
    /// A laboratory's HbA1c and the day the blood was taken, like '2025-03-01=7.1 %' or '2025-03-01=54 mmol/mol'.
    #[arg(long, value_name = "DATE=VALUE")]
    pub(crate) hba1c: Vec<String>,
    /// Take the HbA1c of that day away.
    #[arg(long, value_name = "DATE")]
    pub(crate) no_hba1c: Vec<String>,
}
