//! A personal trial, as it is settled before its first sensor. Nothing in it changes afterwards.

use crate::{BodySite, Region, Second, Side};

/// What the ways of a trial differ in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Compares {
    /// The place on the body.
    Place,
    /// How the skin is prepared.
    Preparation,
    /// What covers the sensor.
    Cover,
    /// Hours worn before the start.
    BeddingIn,
}

impl Compares {
    /// All of them.
    pub const ALL: [Compares; 4] = [
        Compares::Place,
        Compares::Preparation,
        Compares::Cover,
        Compares::BeddingIn,
    ];

    /// As it is written.
    pub fn name(self) -> &'static str {
        match self {
            Compares::Place => "place",
            Compares::Preparation => "preparation",
            Compares::Cover => "cover",
            Compares::BeddingIn => "bedding in",
        }
    }
}

/// One way of wearing a sensor.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Arm {
    /// At a part of the body, on one side or on either.
    Place {
        /// Part of the body.
        region: Region,
        /// Which side; either where not said.
        side: Option<Side>,
    },
    /// With the skin prepared so: tags in order, none for nothing.
    Preparation(Vec<String>),
    /// With these covers: tags in order, none for nothing.
    Cover(Vec<String>),
    /// Worn so many hours before the start.
    BeddingIn {
        /// Hours.
        hours: u32,
    },
}

/// What is typed for 'without any'.
const NOTHING: [&str; 3] = ["nothing", "none", "no"];

impl Arm {
    /// What it is a way of.
    pub fn compares(&self) -> Compares {
        match self {
            Arm::Place { .. } => Compares::Place,
            Arm::Preparation(_) => Compares::Preparation,
            Arm::Cover(_) => Compares::Cover,
            Arm::BeddingIn { .. } => Compares::BeddingIn,
        }
    }

    /// From what a person wrote: 'left upper arm', 'wipe + glue', 'nothing', '24'. `None` where that is no such way: no known
    /// part of the body, no words, no whole number of hours.
    pub fn from_words(compares: Compares, text: &str) -> Option<Self> {
        match compares {
            Compares::Place => {
                let site = BodySite::from_words(text).filter(|site| site.region != Region::Elsewhere)?;
                // A spot would be lost: the plan knows parts and sides.
                site.spot.is_none().then_some(Arm::Place {
                    region: site.region,
                    side: site.side,
                })
            }
            Compares::Preparation => tags_of(text).map(Arm::Preparation),
            Compares::Cover => tags_of(text).map(Arm::Cover),
            Compares::BeddingIn => {
                let words = text.trim().trim_end_matches('h').trim();
                words.parse().ok().map(|hours| Arm::BeddingIn { hours })
            }
        }
    }
}

impl std::fmt::Display for Arm {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Arm::Place { region, side } => {
                let side = side.map(|side| format!("{} ", side.name())).unwrap_or_default();
                write!(f, "{side}{}", region.name())
            }
            Arm::Preparation(tags) | Arm::Cover(tags) if tags.is_empty() => f.write_str("nothing"),
            Arm::Preparation(tags) | Arm::Cover(tags) => f.write_str(&tags.join(" + ")),
            Arm::BeddingIn { hours } => write!(f, "{hours} h"),
        }
    }
}

/// Tags with '+' or commas between, each once, in order; none for 'nothing'. `None` without any words.
fn tags_of(text: &str) -> Option<Vec<String>> {
    let words = text
        .split(['+', ','])
        .map(str::trim)
        .filter(|tag| !tag.is_empty());
    let tags: Vec<String> = words.map(str::to_owned).collect();
    match tags.as_slice() {
        [] => None,
        [one] if NOTHING.contains(&one.to_lowercase().as_str()) => Some(Vec::new()),
        _ => Some(same_tags(&tags)),
    }
}

/// Tags as they are compared: cut at '+' and commas, small letters, each once, in order.
pub fn same_tags(tags: &[String]) -> Vec<String> {
    let words = tags.iter().flat_map(|tag| tag.split(['+', ',']));
    let mut same: Vec<String> = words.map(|tag| tag.trim().to_lowercase()).collect();
    same.retain(|tag| !tag.is_empty());
    same.sort_unstable();
    same.dedup();
    same
}

/// What is measured of each sensor.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum TrialOutcome {
    /// How far it stands from blood on its first day: mean absolute relative difference, percent.
    FirstDayError,
    /// The same over all its wear.
    Error,
    /// How long it stays on, hours, up to a limit that is the same for all.
    HoursOn,
}

impl TrialOutcome {
    /// All of them.
    pub const ALL: [TrialOutcome; 3] = [
        TrialOutcome::FirstDayError,
        TrialOutcome::Error,
        TrialOutcome::HoursOn,
    ];

    /// As it is written.
    pub fn name(self) -> &'static str {
        match self {
            TrialOutcome::FirstDayError => "first-day error",
            TrialOutcome::Error => "error",
            TrialOutcome::HoursOn => "hours on",
        }
    }

    /// Whether it is made of blood checks.
    pub fn needs_checks(self) -> bool {
        self != TrialOutcome::HoursOn
    }
}

/// A trial.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Trial {
    /// The wearer's name of it.
    pub name: String,
    /// The ways compared, at least two, all of one kind. The first is what the others are held against.
    pub arms: Vec<Arm>,
    /// What is measured.
    pub outcome: TrialOutcome,
    /// Sensors in all, whole blocks.
    pub sensors: u32,
    /// Sensors of a block, which holds each way equally often.
    pub block: u32,
    /// Blood checks meant for each sensor within what is measured; 0 where none are needed.
    pub checks: u32,
    /// A sensor with fewer has no outcome.
    pub fewest_checks: u32,
    /// Of hours on: the limit, minutes; 0 where another thing is measured.
    pub limit_min: u32,
    /// The order is drawn with it.
    pub seed: u64,
    /// Sensors put on from then on belong to it.
    pub begun: Second,
    /// After so many sensors it is looked at once, and may end; whole blocks.
    pub look_after: Option<u32>,
    /// It ends, without an answer, once so many sensors of one way came off or failed.
    pub most_losses: Option<u32>,
}

impl Trial {
    /// Most sensors: four years of fortnights.
    pub const MOST_SENSORS: u32 = 104;
    /// Most ways.
    pub const MOST_ARMS: usize = 6;
    /// Most blood checks of a sensor.
    pub const MOST_CHECKS: u32 = 500;
    /// Longest name, characters.
    pub const LONGEST_NAME: usize = 60;

    /// What its ways differ in.
    pub fn compares(&self) -> Option<Compares> {
        self.arms.first().map(Arm::compares)
    }

    /// What is wrong with it, and what to do; `None` where it can begin.
    pub fn trouble(&self) -> Option<String> {
        let arms = self.arms.len() as u32;
        let named = 1..=Self::LONGEST_NAME;
        if !named.contains(&self.name.trim().chars().count()) {
            return Some(format!("give it a name of up to {} letters", Self::LONGEST_NAME));
        }
        if !(2..=Self::MOST_ARMS).contains(&self.arms.len()) {
            return Some(format!("a trial compares 2 to {} ways", Self::MOST_ARMS));
        }
        if self
            .arms
            .iter()
            .any(|arm| Some(arm.compares()) != self.compares())
        {
            return Some("its ways must all differ in the same thing".to_owned());
        }
        let mut apart = self.arms.clone();
        apart.sort_unstable();
        apart.dedup();
        if apart.len() < self.arms.len() || holds_another(&self.arms) {
            return Some("two of its ways are the same, or one is part of another".to_owned());
        }
        if self.block == 0 || !self.block.is_multiple_of(arms) {
            return Some(format!("a block must hold each of {arms} ways equally often"));
        }
        if self.sensors == 0 || !self.sensors.is_multiple_of(self.block) {
            return Some(format!(
                "say a number of sensors that is a multiple of {}",
                self.block
            ));
        }
        if self.sensors > Self::MOST_SENSORS {
            return Some(format!(
                "more than {} sensors are not looked at",
                Self::MOST_SENSORS
            ));
        }
        self.trouble_with_measure().or_else(|| self.trouble_with_end())
    }

    fn trouble_with_measure(&self) -> Option<String> {
        if !self.outcome.needs_checks() {
            return (self.limit_min == 0)
                .then(|| "nothing is known of how long your sensors last; describe them first".to_owned());
        }
        let fewest = 1..=self.checks.min(Self::MOST_CHECKS);
        (!fewest.contains(&self.fewest_checks) || self.checks > Self::MOST_CHECKS).then(|| {
            format!(
                "each sensor needs 1 to {} blood checks, and the fewest that count can be no more than those meant",
                Self::MOST_CHECKS
            )
        })
    }

    fn trouble_with_end(&self) -> Option<String> {
        if let Some(after) = self.look_after
            && (after == 0 || after >= self.sensors || !after.is_multiple_of(self.block))
        {
            return Some(format!(
                "look after a multiple of {} sensors that is less than all {}",
                self.block, self.sensors
            ));
        }
        (self.most_losses == Some(0)).then(|| "losses that end a trial are one or more".to_owned())
    }
}

/// Whether a part of the body is asked for with and without its side.
fn holds_another(arms: &[Arm]) -> bool {
    let place = |arm: &Arm| match arm {
        Arm::Place { region, side } => Some((*region, *side)),
        _ => None,
    };
    let places: Vec<_> = arms.iter().filter_map(place).collect();
    places
        .iter()
        .any(|&(region, side)| side.is_none() && places.iter().filter(|other| other.0 == region).count() > 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn arm(compares: Compares, text: &str) -> Option<String> {
        Arm::from_words(compares, text).map(|arm| arm.to_string())
    }

    #[test]
    fn ways_are_understood_from_words() {
        let same = |compares, text: &str| assert_eq!(arm(compares, text).as_deref(), Some(text));
        same(Compares::Place, "upper arm");
        same(Compares::Place, "left thigh");
        same(Compares::Preparation, "glue + wipe");
        same(Compares::Cover, "nothing");
        same(Compares::BeddingIn, "24 h");
        assert_eq!(
            arm(Compares::Preparation, "Wipe, glue"),
            Some("glue + wipe".to_owned())
        );
        assert_eq!(arm(Compares::BeddingIn, "0"), Some("0 h".to_owned()));
        for (compares, text) in [
            (Compares::Place, "ankle"),
            (Compares::Place, "thigh, outer"),
            (Compares::Preparation, " + "),
            (Compares::BeddingIn, "a day"),
            (Compares::BeddingIn, "-3"),
        ] {
            assert_eq!(arm(compares, text), None, "{text}");
        }
    }

    fn sound() -> Trial {
        Trial {
            name: "arm or thigh".to_owned(),
            arms: ["upper arm", "thigh"]
                .iter()
                .filter_map(|text| Arm::from_words(Compares::Place, text))
                .collect(),
            outcome: TrialOutcome::FirstDayError,
            sensors: 8,
            block: 4,
            checks: 6,
            fewest_checks: 3,
            limit_min: 0,
            seed: 1,
            begun: 0,
            look_after: None,
            most_losses: None,
        }
    }

    #[test]
    fn what_cannot_be_is_said() {
        assert_eq!(sound().trouble(), None);
        let arms = |texts: &[&str]| {
            texts
                .iter()
                .filter_map(|text| Arm::from_words(Compares::Place, text))
                .collect()
        };
        let wrong = [
            Trial {
                name: " ".to_owned(),
                ..sound()
            },
            Trial {
                arms: arms(&["thigh"]),
                ..sound()
            },
            Trial {
                arms: arms(&["thigh", "thigh"]),
                ..sound()
            },
            Trial {
                arms: arms(&["thigh", "left thigh"]),
                ..sound()
            },
            Trial {
                arms: vec![Arm::BeddingIn { hours: 0 }, sound().arms.remove(0)],
                ..sound()
            },
            Trial { block: 3, ..sound() },
            Trial {
                sensors: 6,
                ..sound()
            },
            Trial {
                sensors: 108,
                ..sound()
            },
            Trial {
                fewest_checks: 7,
                ..sound()
            },
            Trial {
                fewest_checks: 0,
                ..sound()
            },
            Trial {
                outcome: TrialOutcome::HoursOn,
                ..sound()
            },
            Trial {
                look_after: Some(8),
                ..sound()
            },
            Trial {
                look_after: Some(2),
                ..sound()
            },
            Trial {
                most_losses: Some(0),
                ..sound()
            },
        ];
        for trial in wrong {
            assert!(trial.trouble().is_some(), "{trial:?}");
        }
        let sides = Trial {
            arms: arms(&["left thigh", "right thigh"]),
            look_after: Some(4),
            ..sound()
        };
        assert_eq!(sides.trouble(), None);
    }
}
