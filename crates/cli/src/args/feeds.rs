//! `feeds` and `watch`: what brings readings by itself.

use std::path::PathBuf;

use clap::Args;

/// `feeds`
#[derive(Args, Debug)]
pub(crate) struct FeedsArgs {
    /// Let a phone or transmitter send readings: makes a token, shown once.
    #[arg(long, value_name = "NAME")]
    pub(crate) make_token: Option<String>,
    /// Look into a folder from now on, while the app or `watch` runs: files of a known layout are brought in.
    #[arg(long, value_name = "FOLDER", conflicts_with = "make_token")]
    pub(crate) watch: Option<PathBuf>,
    /// Listen from now on, while the app or `watch` runs, to a paired sensor or transmitter that speaks the open Bluetooth
    /// service; without an address, list those there are.
    #[arg(long, value_name = "ADDRESS", num_args = 0..=1, default_missing_value = "", conflicts_with_all = ["make_token", "watch"])]
    pub(crate) radio: Option<String>,
    /// With --watch or --radio: a name for it; its own where left out.
    #[arg(long, value_name = "NAME", conflicts_with = "make_token")]
    pub(crate) name: Option<String>,
    /// End a feed, by its number, at once. What it brought stays in the book.
    #[arg(long, value_name = "NUMBER", conflicts_with_all = ["make_token", "watch", "radio"])]
    pub(crate) revoke: Vec<u32>,
}

/// `watch`
#[derive(Args, Debug)]
pub(crate) struct WatchArgs {
    /// Look twice, a few seconds apart, and end: a file is read when two looks found it alike.
    #[arg(long)]
    pub(crate) once: bool,
}
