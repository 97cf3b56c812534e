//! What can be typed of a sensor.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

/// `photo`
#[derive(Args, Debug)]
pub(crate) struct PhotoArgs {
    /// Number of the photo; none lists them.
    pub(crate) id: Option<i64>,
    /// The file to write it into; by default photo-NUMBER in this folder.
    #[arg(long, value_name = "FILE", requires = "id")]
    pub(crate) out: Option<PathBuf>,
}

/// A moment in a sensor's life.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum SensorWhat {
    /// Put on the body.
    PutOn,
    /// Started.
    Started,
    /// Ended or taken off.
    Ended,
    /// Something to add to what is known of it.
    Noted,
}

/// `log sensor`
#[derive(Args, Debug)]
pub(crate) struct SensorArgs {
    /// Which of these.
    #[arg(value_enum)]
    pub(crate) what: SensorWhat,
    /// Where on the body: upper arm, thigh, abdomen, or your own words.
    #[arg(long, value_name = "PLACE")]
    pub(crate) site: Option<String>,
    /// Which side.
    #[arg(long, value_enum)]
    pub(crate) side: Option<BodySide>,
    /// Where there, in your own words: outer, a hand above the knee.
    #[arg(long, value_name = "TEXT")]
    pub(crate) spot: Option<String>,
    /// The sensor's name.
    #[arg(long)]
    pub(crate) name: Option<String>,
    /// How the skin was prepared: wash, alcohol, skin barrier wipe, liquid adhesive, or your own word; may be given several times.
    #[arg(long, value_name = "TAG")]
    pub(crate) prep: Vec<String>,
    /// What covers it: over-patch, arm band, or your own word; may be given several times.
    #[arg(long, value_name = "TAG")]
    pub(crate) cover: Vec<String>,
    /// Lot number.
    #[arg(long)]
    pub(crate) lot: Option<String>,
    /// Serial number.
    #[arg(long)]
    pub(crate) serial: Option<String>,
    /// How it ended.
    #[arg(long, value_enum, value_name = "HOW")]
    pub(crate) how: Option<HowEnded>,
    /// How it was taken off the skin.
    #[arg(long, value_enum, value_name = "HOW")]
    pub(crate) removal: Option<HowTakenOff>,
    /// How taking it off felt, from 0 (it hurt a lot) to 3 (not felt).
    #[arg(long, value_name = "0-3", value_parser = clap::value_parser!(u8).range(0..=3))]
    pub(crate) comfort: Option<u8>,
    /// How the skin was afterwards, as you saw it.
    #[arg(long, value_enum, value_name = "WHAT")]
    pub(crate) skin: Option<Skin>,
    /// For how many days that could be seen or felt.
    #[arg(long, value_name = "DAYS", value_parser = clap::value_parser!(u16).range(0..=366))]
    pub(crate) skin_days: Option<u16>,
    /// The side you mostly slept on while it was worn; what is written beside a night's sleep goes before it.
    #[arg(long, value_enum, value_name = "SIDE")]
    pub(crate) slept: Option<BodySide>,
    /// A photo to keep beside it: JPEG, PNG or WebP, up to 8 MB. It is kept as it is, with what the camera wrote into it.
    #[arg(long, value_name = "FILE")]
    pub(crate) photo: Option<PathBuf>,
}

/// Side of the body.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub(crate) enum BodySide {
    /// Left.
    Left,
    /// Right.
    Right,
}

/// How a sensor ended.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub(crate) enum HowEnded {
    /// Its time was over: the limit of its wear.
    Planned,
    /// Taken off early, on purpose.
    TakenOff,
    /// Taken off because it hurt or because of the skin.
    PainOrSkin,
    /// It came off.
    CameOff,
    /// It was knocked or torn off.
    KnockedOff,
    /// Its adhesive gave way.
    AdhesiveGaveWay,
    /// It failed.
    Failed,
    /// No signal came any more.
    SignalLost,
    /// Its readings failed.
    FailedReadings,
    /// Something else; say what with --note.
    Other,
}

/// How a sensor was taken off the skin.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub(crate) enum HowTakenOff {
    /// With nothing on the adhesive.
    Dry,
    /// With oil.
    Oil,
    /// With an adhesive remover.
    Remover,
}

/// How the skin was afterwards, as the wearer saw it: no diagnosis.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub(crate) enum Skin {
    /// Nothing to see or feel.
    Clear,
    /// Red or sore, no further than what stuck to it.
    Irritant,
    /// Itchy, beyond what stuck to it.
    Allergic,
    /// A blister, a bruise or torn skin.
    Mechanical,
    /// Hot, swollen or weeping: have it looked at.
    Infection,
    /// A lump under the skin, or a scar.
    LumpOrScar,
}
