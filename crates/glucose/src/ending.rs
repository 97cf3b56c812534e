//! How a sensor's wear ended, how it came off the skin, and how the skin was afterwards.

/// How a sensor's wear ended. Four say no more than what an ending does; the others say why.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Ending {
    /// Its time was over: the limit of its wear.
    Planned,
    /// Taken off before that, on purpose: for a journey, a picture of the body, or because it suited.
    TakenOff,
    /// Taken off because it hurt or because of the skin.
    PainOrSkin,
    /// It came off, why was not said.
    CameOff,
    /// It was knocked or torn off.
    KnockedOff,
    /// Its adhesive gave way.
    AdhesiveGaveWay,
    /// It failed, how was not said.
    Failed,
    /// No signal came any more.
    SignalLost,
    /// Its readings failed: errors, or values that could not be used.
    FailedReadings,
    /// Something else.
    Other,
}

impl Ending {
    /// All of them.
    pub const ALL: [Ending; 10] = [
        Ending::Planned,
        Ending::TakenOff,
        Ending::PainOrSkin,
        Ending::CameOff,
        Ending::KnockedOff,
        Ending::AdhesiveGaveWay,
        Ending::Failed,
        Ending::SignalLost,
        Ending::FailedReadings,
        Ending::Other,
    ];

    /// As it is written.
    pub fn name(self) -> &'static str {
        match self {
            Ending::Planned => "planned",
            Ending::TakenOff => "taken off",
            Ending::PainOrSkin => "pain or skin",
            Ending::CameOff => "came off",
            Ending::KnockedOff => "knocked off",
            Ending::AdhesiveGaveWay => "adhesive gave way",
            Ending::Failed => "failed",
            Ending::SignalLost => "signal lost",
            Ending::FailedReadings => "failed readings",
            Ending::Other => "other",
        }
    }

    /// Whether it came off by itself or was knocked off.
    pub fn is_off(self) -> bool {
        matches!(
            self,
            Ending::CameOff | Ending::KnockedOff | Ending::AdhesiveGaveWay
        )
    }

    /// Whether the sensor failed.
    pub fn is_failure(self) -> bool {
        matches!(self, Ending::Failed | Ending::SignalLost | Ending::FailedReadings)
    }

    /// Whether it is an unplanned loss: off, failed, or not to be borne any longer. 'Other' does not say, and is none.
    pub fn is_loss(self) -> bool {
        self.is_off() || self.is_failure() || self == Ending::PainOrSkin
    }

    /// Whether the wearer took it off, for whatever reason: its readings stop there without anything wrong with it.
    pub fn is_by_the_wearer(self) -> bool {
        matches!(self, Ending::Planned | Ending::TakenOff | Ending::PainOrSkin)
    }

    /// From a remark beside a sensor's end, by plain English words; `None` where it does not say.
    pub fn from_words(text: &str) -> Option<Self> {
        let lower = text.to_lowercase();
        SAID.iter()
            .find(|(_, phrases)| phrases.iter().any(|phrase| lower.contains(phrase)))
            .map(|(ending, _)| *ending)
    }
}

/// What is said of an end, what says more before what says less.
const SAID: [(Ending, &[&str]); 9] = [
    (
        Ending::KnockedOff,
        &["knocked off", "torn off", "ripped off", "bumped off", "caught on"],
    ),
    (
        Ending::AdhesiveGaveWay,
        &[
            "adhesive gave",
            "adhesive failed",
            "adhesive let go",
            "lost adhesion",
            "peeled off",
            "came unstuck",
            "glue gave",
            "would not stick",
        ],
    ),
    (Ending::CameOff, &["fell off", "came off", "fallen off"]),
    (
        Ending::SignalLost,
        &[
            "signal lost",
            "lost signal",
            "lost its signal",
            "no signal",
            "signal loss",
        ],
    ),
    (
        Ending::FailedReadings,
        &["failed readings", "no readings", "wrong readings", "error"],
    ),
    (
        Ending::Failed,
        &["failed", "failure", "stopped working", "defective"],
    ),
    (
        Ending::PainOrSkin,
        &[
            "pain or skin",
            "skin reaction",
            "because of pain",
            "because it hurt",
            "because it itched",
            "too painful",
            "hurt too much",
            "itched too much",
        ],
    ),
    (
        Ending::TakenOff,
        &["taken off", "took off", "took it off", "removed early", "pulled"],
    ),
    (
        Ending::Planned,
        &[
            "planned",
            "expired",
            "days over",
            "time over",
            "wear limit",
            "end of life",
            "wear time",
            "finished",
        ],
    ),
];

/// How a sensor was taken off the skin.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Removal {
    /// With nothing on the adhesive.
    Dry,
    /// With oil.
    Oil,
    /// With an adhesive remover.
    Remover,
}

impl Removal {
    /// All of them.
    pub const ALL: [Removal; 3] = [Removal::Dry, Removal::Oil, Removal::Remover];

    /// As it is written.
    pub fn name(self) -> &'static str {
        match self {
            Removal::Dry => "dry",
            Removal::Oil => "oil",
            Removal::Remover => "remover",
        }
    }
}

/// How taking a sensor off felt, from 0 to 3.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Comfort(u8);

impl Comfort {
    /// From the worst on.
    pub const ALL: [Comfort; 4] = [Comfort(0), Comfort(1), Comfort(2), Comfort(3)];

    /// `None` above 3.
    pub fn new(level: u8) -> Option<Self> {
        (level <= 3).then_some(Comfort(level))
    }

    /// 0 to 3.
    pub fn level(self) -> u8 {
        self.0
    }

    /// In words.
    pub fn name(self) -> &'static str {
        match self.0 {
            0 => "it hurt a lot",
            1 => "it hurt",
            2 => "hardly felt",
            _ => "not felt",
        }
    }
}

/// How the skin was after a sensor, as the wearer saw it; none of these is a diagnosis. The classes are those skin under
/// devices is described by (Cichon 2023, Int J Mol Sci 24:10697, for the first two reactions and their causes).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum SkinAfter {
    /// Nothing to see or feel.
    Clear,
    /// Red or sore, no further than what stuck to it: as irritant contact dermatitis is.
    Irritant,
    /// Itchy, beyond what stuck to it, sooner each time: as allergic contact dermatitis is.
    Allergic,
    /// A blister, a bruise or torn skin.
    Mechanical,
    /// Hot, swollen, weeping.
    Infection,
    /// A lump under the skin, or a scar.
    LumpOrScar,
}

impl SkinAfter {
    /// All of them.
    pub const ALL: [SkinAfter; 6] = [
        SkinAfter::Clear,
        SkinAfter::Irritant,
        SkinAfter::Allergic,
        SkinAfter::Mechanical,
        SkinAfter::Infection,
        SkinAfter::LumpOrScar,
    ];

    /// As it is written.
    pub fn name(self) -> &'static str {
        match self {
            SkinAfter::Clear => "clear",
            SkinAfter::Irritant => "irritant",
            SkinAfter::Allergic => "allergic",
            SkinAfter::Mechanical => "mechanical",
            SkinAfter::Infection => "infection",
            SkinAfter::LumpOrScar => "lump or scar",
        }
    }

    /// What is seen or felt.
    pub fn looks(self) -> &'static str {
        match self {
            SkinAfter::Clear => "nothing to see or feel",
            SkinAfter::Irritant => "red or sore, no further than what stuck to it",
            SkinAfter::Allergic => "itchy, beyond what stuck to it",
            SkinAfter::Mechanical => "a blister, a bruise or torn skin",
            SkinAfter::Infection => "hot, swollen or weeping",
            SkinAfter::LumpOrScar => "a lump under the skin, or a scar",
        }
    }

    /// Whether the skin reacted.
    pub fn is_reaction(self) -> bool {
        self != SkinAfter::Clear
    }
}

/// Words suggested for how the skin is prepared. Any others do too.
pub const PREPARATIONS: [&str; 5] = [
    "wash",
    "alcohol",
    "skin barrier wipe",
    "liquid adhesive",
    "shaved",
];
/// Words suggested for what holds or covers a sensor. Any others do too.
pub const COVERS: [&str; 3] = ["over-patch", "arm band", "tape"];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_ending_is_a_loss_or_cut_short_and_is_found_again_from_its_name() {
        for ending in Ending::ALL {
            let meant = matches!(ending, Ending::Planned | Ending::TakenOff | Ending::Other);
            assert_eq!(ending.is_loss(), !meant, "{ending:?}");
            assert!(!(ending.is_off() && ending.is_failure()), "{ending:?}");
            if ending != Ending::Other {
                assert_eq!(Ending::from_words(ending.name()), Some(ending));
            }
        }
    }

    #[test]
    fn a_remark_tells_why_a_sensor_ended() {
        let said = [
            ("fell off in the shower", Some(Ending::CameOff)),
            ("knocked off at a door frame", Some(Ending::KnockedOff)),
            ("peeled off by itself", Some(Ending::AdhesiveGaveWay)),
            ("signal lost, then nothing", Some(Ending::SignalLost)),
            ("error after error", Some(Ending::FailedReadings)),
            ("defective", Some(Ending::Failed)),
            ("took it off because it hurt", Some(Ending::PainOrSkin)),
            ("taken off for an X-ray", Some(Ending::TakenOff)),
            ("fourteen days over", Some(Ending::Planned)),
            ("itched", None),
            ("", None),
        ];
        for (text, ending) in said {
            assert_eq!(Ending::from_words(text), ending, "{text}");
        }
    }

    #[test]
    fn comfort_goes_from_0_to_3() {
        assert_eq!(Comfort::new(4), None);
        for level in 0..=3 {
            assert_eq!(Comfort::new(level).unwrap().level(), level);
        }
    }
}
