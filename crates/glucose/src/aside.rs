//! Why a stretch of readings is set aside.

/// Why readings are not to be believed, or not to be counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum AsideWhy {
    /// Pressure on the sensor.
    Pressure,
    /// The sensor was wrong.
    SensorWrong,
    /// Left out for a reason of the wearer's own.
    LeftOut,
}

impl AsideWhy {
    /// All of them.
    pub const ALL: [AsideWhy; 3] = [AsideWhy::Pressure, AsideWhy::SensorWrong, AsideWhy::LeftOut];

    /// Its words, as the book keeps them.
    pub fn words(self) -> &'static str {
        match self {
            AsideWhy::Pressure => "pressure",
            AsideWhy::SensorWrong => "sensor wrong",
            AsideWhy::LeftOut => "left out",
        }
    }

    /// By its words.
    pub fn from_words(words: &str) -> Option<Self> {
        AsideWhy::ALL.into_iter().find(|why| why.words() == words.trim())
    }

    /// The text of the mark: the reason, and words beside it where there are any.
    pub fn told(self, beside: Option<&str>) -> String {
        match beside.map(str::trim).filter(|beside| !beside.is_empty()) {
            Some(beside) => format!("{}: {beside}", self.words()),
            None => self.words().to_owned(),
        }
    }

    /// The reason and the words beside it, of a mark's text. A text that begins with none of the reasons is words alone.
    pub fn of(text: &str) -> (Option<Self>, Option<&str>) {
        let (head, beside) = text.split_once(':').map_or((text, None), |(head, beside)| {
            (head, Some(beside.trim()).filter(|beside| !beside.is_empty()))
        });
        match AsideWhy::from_words(head) {
            Some(why) => (Some(why), beside),
            None => (None, Some(text.trim()).filter(|text| !text.is_empty())),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reason_is_read_as_it_was_told() {
        for why in AsideWhy::ALL {
            assert_eq!(AsideWhy::of(&why.told(None)), (Some(why), None));
            assert_eq!(
                AsideWhy::of(&why.told(Some(" slept: on it "))),
                (Some(why), Some("slept: on it"))
            );
        }
        assert_eq!(AsideWhy::of("a knock: at noon"), (None, Some("a knock: at noon")));
        assert_eq!(AsideWhy::of(" "), (None, None));
    }
}
