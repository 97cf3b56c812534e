//! `trial`

use clap::{Args, Subcommand, ValueEnum};

/// `trial`
#[derive(Args, Debug)]
pub(crate) struct TrialArgs {
    #[command(subcommand)]
    pub(crate) what: TrialWhat,
}

/// What to do with trials.
#[derive(Debug, Subcommand)]
pub(crate) enum TrialWhat {
    /// How many sensors and blood checks a trial takes, by what your own differ by. Writes nothing.
    Plan(PlanTrialArgs),
    /// Settle a trial and begin it: the order is drawn, and nothing of it changes afterwards.
    Start(StartTrialArgs),
    /// How each trial stands.
    List,
    /// What a trial says, once it has ended.
    Answer {
        /// Its name.
        name: String,
    },
    /// Give a trial up. That it was, and why, stays on record.
    Abandon {
        /// Its name.
        name: String,
        /// Why.
        #[arg(long, value_name = "TEXT")]
        because: String,
    },
}

/// What the ways differ in.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub(crate) enum Compare {
    /// Part of the body.
    Place,
    /// How the skin is prepared; '+' between several, or 'nothing'.
    Preparation,
    /// What covers the sensor; '+' between several, or 'nothing'.
    Cover,
    /// Hours worn before the start.
    BeddingIn,
}

/// What is measured of each sensor.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub(crate) enum Outcome {
    /// How far it stands from blood on its first day.
    FirstDayError,
    /// How far it stands from blood over all its wear.
    Error,
    /// How long it stays on, up to its labelled wear.
    HoursOn,
}

/// The ways of a trial.
#[derive(Args, Debug)]
pub(crate) struct WaysArgs {
    /// What the ways differ in.
    #[arg(long, value_enum, value_name = "WHAT")]
    pub(crate) compare: Compare,
    /// One way, like 'thigh', 'glue + wipe' or '24'; twice or more, the first being what the others are held against.
    #[arg(long = "arm", value_name = "WAY", required = true)]
    pub(crate) arms: Vec<String>,
    /// What is measured of each sensor.
    #[arg(long, value_enum, value_name = "OUTCOME", default_value_t = Outcome::FirstDayError)]
    pub(crate) measure: Outcome,
    /// Sensors of a block, in which each way comes equally often; as suits their number where left out.
    #[arg(long, value_name = "SENSORS", value_parser = clap::value_parser!(u32).range(2..=24))]
    pub(crate) block: Option<u32>,
    /// The difference that would be worth knowing: points of error (5), or hours (48).
    #[arg(long, value_name = "MUCH")]
    pub(crate) difference: Option<f64>,
}

/// `trial plan`
#[derive(Args, Debug)]
pub(crate) struct PlanTrialArgs {
    #[command(flatten)]
    pub(crate) ways: WaysArgs,
    /// Seed of the simulated trials.
    #[arg(long, default_value_t = interstice_findings::DEFAULT_SEED)]
    pub(crate) seed: u64,
}

/// `trial start`
#[derive(Args, Debug)]
pub(crate) struct StartTrialArgs {
    /// A name of your own.
    pub(crate) name: String,
    #[command(flatten)]
    pub(crate) ways: WaysArgs,
    /// Sensors in all: whole blocks.
    #[arg(long, value_name = "SENSORS", value_parser = clap::value_parser!(u32).range(1..=104))]
    pub(crate) sensors: u32,
    /// Blood checks meant for each sensor, within what is measured.
    #[arg(long, value_name = "CHECKS", default_value_t = 6, value_parser = clap::value_parser!(u32).range(1..=500))]
    pub(crate) checks: u32,
    /// A sensor with fewer has no outcome; half of those meant where left out.
    #[arg(long, value_name = "CHECKS", value_parser = clap::value_parser!(u32).range(1..=500))]
    pub(crate) fewest_checks: Option<u32>,
    /// Seed of the order; the moment it begins where left out.
    #[arg(long)]
    pub(crate) seed: Option<u64>,
    /// Look once after so many sensors, and end there where the answer is clear already.
    #[arg(long, value_name = "SENSORS")]
    pub(crate) look_after: Option<u32>,
    /// End, without an answer, once so many sensors of one way came off or failed.
    #[arg(long, value_name = "SENSORS")]
    pub(crate) stop_after_losses: Option<u32>,
}
