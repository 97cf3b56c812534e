//! What can be typed of a sensor that was lost.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

/// `sensor-record`
#[derive(Args, Debug)]
pub(crate) struct SensorRecordArgs {
    /// The sensor, as `interstice wear` lists it among the lost.
    pub(crate) sensor: String,
    /// Write it into this file: a PDF where its name ends in .pdf, else plain text.
    #[arg(long, value_name = "FILE")]
    pub(crate) out: Option<PathBuf>,
}

/// `claim`
#[derive(Args, Debug)]
pub(crate) struct ClaimArgs {
    /// The sensor, as `interstice wear` lists it among the lost; none lists all claims.
    #[arg(requires = "what")]
    pub(crate) sensor: Option<String>,
    /// What happened.
    #[arg(value_enum)]
    pub(crate) what: Option<ClaimStepWhat>,
    /// When: '07:30', '2025-03-01 07:30'; now where left out.
    #[arg(long, value_name = "TIME")]
    pub(crate) at: Option<String>,
    /// Words to keep beside it.
    #[arg(long, value_name = "TEXT")]
    pub(crate) note: Option<String>,
}

/// A step of a claim.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub(crate) enum ClaimStepWhat {
    /// The record was sent.
    Sent,
    /// An answer came that settles nothing yet.
    Answered,
    /// It was replaced, or paid back.
    Replaced,
    /// It was refused.
    Refused,
}
