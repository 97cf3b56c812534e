//! A sensor on the body: where, how prepared, from which lot, how it ended and what it left.

use crate::ending::{Comfort, Ending, Removal, SkinAfter};

/// Part of the body a sensor is worn on. Which parts a sensor is meant for is said by its own instructions.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Region {
    /// Upper arm; also where only 'arm' is said.
    UpperArm,
    /// Forearm.
    Forearm,
    /// Thigh.
    Thigh,
    /// Calf.
    Calf,
    /// Abdomen.
    Abdomen,
    /// Chest.
    Chest,
    /// Buttock or hip.
    Buttock,
    /// Lower back.
    LowerBack,
    /// Back; also where only that is said.
    Back,
    /// Anywhere else, or nothing that is known here.
    Elsewhere,
}

impl Region {
    /// All of them.
    pub const ALL: [Region; 10] = [
        Region::UpperArm,
        Region::Forearm,
        Region::Thigh,
        Region::Calf,
        Region::Abdomen,
        Region::Chest,
        Region::Buttock,
        Region::LowerBack,
        Region::Back,
        Region::Elsewhere,
    ];

    /// As it is written.
    pub fn name(self) -> &'static str {
        match self {
            Region::UpperArm => "upper arm",
            Region::Forearm => "forearm",
            Region::Thigh => "thigh",
            Region::Calf => "calf",
            Region::Abdomen => "abdomen",
            Region::Chest => "chest",
            Region::Buttock => "buttock",
            Region::LowerBack => "lower back",
            Region::Back => "back",
            Region::Elsewhere => "elsewhere",
        }
    }
}

/// Side of the body.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Side {
    /// Left.
    Left,
    /// Right.
    Right,
}

impl Side {
    /// As it is written.
    pub fn name(self) -> &'static str {
        match self {
            Side::Left => "left",
            Side::Right => "right",
        }
    }
}

/// A place on the body: region, side and spot.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct BodySite {
    /// Part of the body.
    pub region: Region,
    /// Which side, where it was said.
    pub side: Option<Side>,
    /// What else was said of it: 'outer', 'two fingers below the navel'.
    pub spot: Option<String>,
}

/// Words for regions, longer phrases before what they contain. English first, then words in general use in the
/// languages files are read in.
const REGIONS: &[(Region, &[&str])] = &[
    (
        Region::UpperArm,
        &[
            "upper arm",
            "oberarm",
            "haut du bras",
            "parte superior del brazo",
            "bovenarm",
            "overarm",
            "överarm",
            "olkavarsi",
        ],
    ),
    (
        Region::Forearm,
        &[
            "forearm",
            "lower arm",
            "unterarm",
            "avant bras",
            "antebrazo",
            "avambraccio",
            "antebraço",
            "onderarm",
            "underarm",
            "kyynärvarsi",
        ],
    ),
    (
        Region::UpperArm,
        &["arm", "bras", "brazo", "braccio", "braço", "käsivarsi"],
    ),
    (
        Region::Thigh,
        &[
            "thigh",
            "oberschenkel",
            "cuisse",
            "muslo",
            "coscia",
            "coxa",
            "dij",
            "bovenbeen",
            "lår",
            "reisi",
        ],
    ),
    (
        Region::Calf,
        &[
            "calf",
            "wade",
            "mollet",
            "pantorrilla",
            "polpaccio",
            "panturrilha",
            "kuit",
            "læg",
            "legg",
            "vad",
            "pohje",
        ],
    ),
    (
        Region::Abdomen,
        &[
            "abdomen", "belly", "stomach", "tummy", "bauch", "ventre", "vientre", "addome", "pancia",
            "barriga", "abdómen", "buik", "mave", "mage", "vatsa",
        ],
    ),
    (
        Region::Chest,
        &[
            "chest", "brust", "poitrine", "pecho", "petto", "peito", "borst", "bryst", "bröst", "rinta",
        ],
    ),
    (
        Region::Buttock,
        &[
            "buttock", "hip", "gesäß", "gesäss", "hüfte", "fesse", "hanche", "nalga", "cadera", "gluteo",
            "glúteo", "anca", "nádega", "bil", "heup", "balde", "hofte", "skinka", "höft", "pakara",
            "lonkka",
        ],
    ),
    (
        Region::LowerBack,
        &[
            "lower back",
            "small of the back",
            "unterer rücken",
            "unteren rücken",
            "bas du dos",
            "parte baja de la espalda",
            "zona lumbar",
            "basso schiena",
            "onderrug",
            "korsrygg",
            "ländrygg",
            "lænd",
            "alaselkä",
        ],
    ),
    (
        Region::Back,
        &[
            "back", "rücken", "dos", "espalda", "schiena", "costas", "rug", "ryg", "rygg", "selkä",
        ],
    ),
];

const SIDES: &[(Side, &[&str])] = &[
    (
        Side::Left,
        &[
            "left",
            "l",
            "links",
            "linke",
            "linker",
            "linkes",
            "gauche",
            "izquierdo",
            "izquierda",
            "sinistro",
            "sinistra",
            "esquerdo",
            "esquerda",
            "venstre",
            "vänster",
            "vasen",
        ],
    ),
    (
        Side::Right,
        &[
            "right", "r", "rechts", "rechte", "rechter", "rechtes", "droit", "droite", "derecho", "derecha",
            "destro", "destra", "direito", "direita", "højre", "høyre", "höger", "oikea",
        ],
    ),
];

impl BodySite {
    /// From what a person or a file wrote: 'left upper arm, outer'. What is no known part is `Elsewhere`, all its words
    /// the spot. `None` where there are no words.
    pub fn from_words(text: &str) -> Option<Self> {
        let lower = text.to_lowercase();
        let mut words: Vec<&str> = lower
            .split(|c: char| !c.is_alphanumeric())
            .filter(|word| !word.is_empty())
            .collect();
        if words.is_empty() {
            return None;
        }
        let region = REGIONS
            .iter()
            .find(|(_, phrases)| phrases.iter().any(|phrase| take(&mut words, phrase)))
            .map_or(Region::Elsewhere, |(region, _)| *region);
        let side = SIDES
            .iter()
            .find(|(_, names)| names.iter().any(|name| take(&mut words, name)))
            .map(|(side, _)| *side);
        Some(BodySite {
            region,
            side,
            spot: (!words.is_empty()).then(|| words.join(" ")),
        })
    }
}

impl std::fmt::Display for BodySite {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let side = self
            .side
            .map(|side| format!("{} ", side.name()))
            .unwrap_or_default();
        match (self.region, &self.spot) {
            (Region::Elsewhere, Some(spot)) => write!(f, "{side}{spot}"),
            (region, Some(spot)) => write!(f, "{side}{}, {spot}", region.name()),
            (region, None) => write!(f, "{side}{}", region.name()),
        }
    }
}

/// Takes the words of a phrase out, where they stand one after another.
fn take(words: &mut Vec<&str>, phrase: &str) -> bool {
    let phrase: Vec<&str> = phrase.split(' ').collect();
    let Some(place) = words.windows(phrase.len()).position(|part| part == phrase) else {
        return false;
    };
    words.drain(place..place + phrase.len());
    true
}

/// What is known of a sensor beside its moments. Tags are the person's own words.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct SensorDetail {
    /// How the skin was prepared.
    pub preparation: Vec<String>,
    /// What holds it or covers it.
    pub cover: Vec<String>,
    /// Lot number.
    pub lot: Option<String>,
    /// Serial number.
    pub serial: Option<String>,
    /// How it ended.
    pub ending: Option<Ending>,
    /// How it was taken off the skin.
    pub removal: Option<Removal>,
    /// How that felt.
    pub comfort: Option<Comfort>,
    /// How the skin was afterwards.
    pub skin: Option<SkinAfter>,
    /// For how many days that could be seen or felt.
    pub skin_days: Option<u16>,
    /// The side mostly slept on while it was worn.
    pub slept: Option<Side>,
}

impl SensorDetail {
    /// Whether nothing is known.
    pub fn is_empty(&self) -> bool {
        *self == SensorDetail::default()
    }

    /// Takes over what the other says and this does not.
    pub fn fill(&mut self, other: &Self) {
        fn tags(mine: &mut Vec<String>, other: &[String]) {
            if mine.is_empty() {
                other.clone_into(mine);
            }
        }
        tags(&mut self.preparation, &other.preparation);
        tags(&mut self.cover, &other.cover);
        if self.lot.is_none() {
            self.lot.clone_from(&other.lot);
        }
        if self.serial.is_none() {
            self.serial.clone_from(&other.serial);
        }
        self.ending = self.ending.or(other.ending);
        self.removal = self.removal.or(other.removal);
        self.comfort = self.comfort.or(other.comfort);
        self.skin = self.skin.or(other.skin);
        self.skin_days = self.skin_days.or(other.skin_days);
        self.slept = self.slept.or(other.slept);
    }

    /// Whether it tells of what comes after a sensor has ended.
    pub fn is_of_the_end(&self) -> bool {
        self.ending.is_some()
            || self.removal.is_some()
            || self.comfort.is_some()
            || self.skin.is_some()
            || self.skin_days.is_some()
    }

    /// What a remark tells by generic words: 'lot KR-204', 'fell off'. The ending is looked for only where the remark
    /// stands beside a sensor's end.
    pub fn from_words(text: &str, is_end: bool) -> Self {
        SensorDetail {
            lot: after(text, &["lot", "batch", "charge", "lote", "lotto"]),
            serial: after(text, &["serial", "sn"]),
            ending: if is_end { Ending::from_words(text) } else { None },
            ..SensorDetail::default()
        }
    }
}

/// The word after one of these that holds a digit: '204' of 'lot no. 204'.
fn after(text: &str, names: &[&str]) -> Option<String> {
    let mut words = text
        .split(|c: char| c.is_whitespace() || matches!(c, ':' | ',' | ';' | '#' | '='))
        .filter(|word| !word.is_empty());
    words.find(|word| names.contains(&word.to_lowercase().as_str()))?;
    let is_number = |word: &&str| word.chars().any(|c| c.is_ascii_digit());
    let next = words.next()?;
    let number = match next.to_lowercase().trim_end_matches('.') {
        "no" | "nr" | "number" => words.next()?,
        _ => next,
    };
    Some(number).filter(is_number).map(str::to_owned)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn site(text: &str) -> (Region, Option<Side>, Option<String>) {
        let site = BodySite::from_words(text).unwrap();
        (site.region, site.side, site.spot)
    }

    #[test]
    fn places_are_understood_from_words() {
        assert_eq!(site("left upper arm"), (Region::UpperArm, Some(Side::Left), None));
        assert_eq!(site("Arm, R"), (Region::UpperArm, Some(Side::Right), None));
        assert_eq!(site("forearm"), (Region::Forearm, None, None));
        let outer = Some("outer".to_owned());
        assert_eq!(
            site("thigh / right / outer"),
            (Region::Thigh, Some(Side::Right), outer)
        );
        assert_eq!(site("linker Oberarm"), (Region::UpperArm, Some(Side::Left), None));
        assert_eq!(
            site("back of left upper arm"),
            (Region::UpperArm, Some(Side::Left), Some("back of".to_owned()))
        );
        assert_eq!(
            site("right lower back"),
            (Region::LowerBack, Some(Side::Right), None)
        );
        assert_eq!(site("back, upper").0, Region::Back);
        assert_eq!(site("ankle"), (Region::Elsewhere, None, Some("ankle".to_owned())));
        assert_eq!(BodySite::from_words(" - "), None);
        for text in [
            "left upper arm",
            "right thigh, outer",
            "left ankle",
            "abdomen",
            "left lower back",
        ] {
            assert_eq!(BodySite::from_words(text).unwrap().to_string(), text);
        }
    }

    #[test]
    fn remarks_tell_lot_and_end() {
        let told = SensorDetail::from_words("lot KR-204, itched", false);
        assert_eq!((told.lot.as_deref(), told.ending), (Some("KR-204"), None));
        assert_eq!(
            SensorDetail::from_words("Lot no. 17; SN: 00A3", false)
                .serial
                .as_deref(),
            Some("00A3")
        );
        assert_eq!(SensorDetail::from_words("a lot of 3 things", false).lot, None);
        let end = |text| SensorDetail::from_words(text, true).ending;
        assert_eq!(end("fell off in the shower"), Some(Ending::CameOff));
        assert_eq!(end("signal lost, then nothing"), Some(Ending::SignalLost));
        assert_eq!(end("fourteen days over"), Some(Ending::Planned));
        assert_eq!(end("nothing said"), None);
        assert_eq!(SensorDetail::from_words("fell off", false).ending, None);
    }
}
