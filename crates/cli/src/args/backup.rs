//! `backup`, `backup-set`, `restore`.

use std::path::PathBuf;

use clap::Args;

/// `backup`
#[derive(Args, Debug)]
pub(crate) struct BackupArgs {
    /// The new file; where left out, the folder of `backup-set`, where earlier ones are then removed by its rule.
    #[arg(value_name = "NEW-FILE")]
    pub(crate) file: Option<PathBuf>,
    /// Only where one is due by `backup-set`; for a timer of this machine.
    #[arg(long, conflicts_with = "file")]
    pub(crate) if_due: bool,
    /// The first time: read the passphrase from the first line of this file instead of asking; INTERSTICE_BACKUP_PASSPHRASE does the same.
    #[arg(long, value_name = "FILE")]
    pub(crate) passphrase_file: Option<PathBuf>,
}

/// `backup-set`
#[derive(Args, Debug)]
pub(crate) struct BackupSetArgs {
    /// Make backups by itself in this folder, while the app is open or by a timer.
    #[arg(long, value_name = "DIR")]
    pub(crate) folder: Option<PathBuf>,
    /// Hours between two.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=8760))]
    pub(crate) every_hours: Option<u32>,
    /// Keep the last one of each of so many days.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(0..=3660))]
    pub(crate) keep_days: Option<u32>,
    /// And of so many weeks.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(0..=520))]
    pub(crate) keep_weeks: Option<u32>,
    /// And of so many months.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(0..=1200))]
    pub(crate) keep_months: Option<u32>,
    /// No more by itself. What was made stays.
    #[arg(long, conflicts_with_all = ["folder", "every_hours", "keep_days", "keep_weeks", "keep_months"])]
    pub(crate) off: bool,
    /// Choose another passphrase for backups from now on. Earlier ones keep theirs.
    #[arg(long)]
    pub(crate) new_passphrase: bool,
    /// Read it from the first line of this file instead of asking; INTERSTICE_BACKUP_PASSPHRASE does the same.
    #[arg(long, value_name = "FILE")]
    pub(crate) passphrase_file: Option<PathBuf>,
}

/// `restore`
#[derive(Args, Debug)]
pub(crate) struct RestoreArgs {
    /// The backup. The book is brought back to where `--book` says, where there must be none yet.
    #[arg(value_name = "BACKUP")]
    pub(crate) file: PathBuf,
    /// Only see whether it could be brought back; nothing is left behind.
    #[arg(long = "try")]
    pub(crate) only_try: bool,
    /// Read the passphrase from the first line of this file instead of asking; INTERSTICE_BACKUP_PASSPHRASE does the same.
    #[arg(long, value_name = "FILE")]
    pub(crate) passphrase_file: Option<PathBuf>,
}
