//! `export`

use std::path::PathBuf;

use clap::{Args, ValueEnum};

/// `export`
#[derive(Args, Debug)]
pub(crate) struct ExportArgs {
    /// A new or empty folder.
    #[arg(value_name = "DIR")]
    pub(crate) dir: PathBuf,
    /// What it is written as.
    #[arg(long, value_enum, value_name = "FORMAT")]
    pub(crate) r#as: ExportAs,
    /// With `--as fhir` and days: the visit sheet of these days too, as a report. It holds your name and questions.
    #[arg(long)]
    pub(crate) sheet: bool,
    /// The last so many days that have readings; everything where no days are said.
    #[arg(long, value_name = "N", conflicts_with_all = ["from", "to"], value_parser = clap::value_parser!(u32).range(1..=40_000))]
    pub(crate) days: Option<u32>,
    /// First day, like 2025-03-01.
    #[arg(long, value_name = "DATE")]
    pub(crate) from: Option<String>,
    /// Last day, included.
    #[arg(long, value_name = "DATE")]
    pub(crate) to: Option<String>,
}

/// Formats that others read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum ExportAs {
    /// Comma-separated text, which `import` reads back.
    Csv,
    /// Parquet: columns for programs that work on many rows.
    Parquet,
    /// FHIR R4 bundles by the HL7 guide for continuous glucose monitoring; `import` reads them back.
    Fhir,
    /// Open mHealth documents of blood glucose; `import` reads them back.
    Omh,
    /// The visit's tables as a spreadsheet.
    Xlsx,
}
