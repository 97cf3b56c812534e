//! What lies in the drawer: lots of sensors and of what holds or prepares them.

use jiff::civil::Date;

use crate::Money;

/// What a lot is of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Holds {
    /// Sensors.
    Sensors,
    /// Covers: what holds a sensor on or lies over it.
    Covers,
    /// What the skin is prepared with.
    Preparations,
}

impl Holds {
    /// All of them.
    pub const ALL: [Holds; 3] = [Holds::Sensors, Holds::Covers, Holds::Preparations];

    /// As it is written.
    pub fn name(self) -> &'static str {
        match self {
            Holds::Sensors => "sensors",
            Holds::Covers => "covers",
            Holds::Preparations => "preparations",
        }
    }

    /// From its name.
    pub fn named(text: &str) -> Option<Self> {
        Holds::ALL.into_iter().find(|holds| holds.name() == text)
    }
}

/// When a lot came, or is to come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Arrival {
    /// It is there since this day.
    Arrived(Date),
    /// It is to come on this day.
    Expected(Date),
}

impl Arrival {
    /// The day, come or to come.
    pub fn date(self) -> Date {
        match self {
            Arrival::Arrived(date) | Arrival::Expected(date) => date,
        }
    }
}

/// Pieces that went or turned up otherwise than by being put on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Correction {
    /// How many more; fewer where negative.
    pub by: i32,
    /// When.
    pub on: Date,
    /// Why, in the person's own words: 'dropped', 'given away', 'miscounted'.
    pub reason: String,
}

/// Pieces that came together.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Lot {
    /// What it is of.
    pub holds: Holds,
    /// The kind of sensor, by the person's own name of it; or the cover or preparation as it is written down beside a sensor.
    /// `None` of sensors: the kind in use.
    pub name: Option<String>,
    /// Lot number, as on the box.
    pub number: Option<String>,
    /// Pieces that came.
    pub count: u32,
    /// What all of them cost together; `None` where that was not said, zero where they were free.
    pub price: Option<Price>,
    /// Where they came from, in the person's own words: 'bought', 'subsidised', 'free starter'.
    pub source: Option<String>,
    /// When they came.
    pub arrival: Arrival,
    /// Last day on which one may be put on; `None` where none is printed.
    pub use_by: Option<Date>,
    /// What else was said of it.
    pub note: Option<String>,
    /// Corrections of the count, as they were made.
    pub corrections: Vec<Correction>,
}

/// What a lot cost.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Price {
    /// Nothing.
    Free,
    /// So much for all pieces together.
    All(Money),
}

impl Lot {
    /// The most pieces a lot can have: more is taken for a slip of the finger.
    pub const MOST: u32 = 1_000;
    /// The most letters of any words.
    const LONGEST: usize = 200;

    /// Pieces there would be had none been put on.
    pub fn pieces(&self) -> i64 {
        let corrected: i64 = self.corrections.iter().map(|one| i64::from(one.by)).sum();
        i64::from(self.count) + corrected
    }

    /// What is wrong with it, and what to do; `None` where it can lie in a drawer.
    pub fn trouble(&self) -> Option<&'static str> {
        if self.count == 0 || self.count > Self::MOST {
            return Some("a lot has from 1 to 1,000 pieces; look at the count");
        }
        if self.holds != Holds::Sensors && self.name.as_ref().is_none_or(|name| name.trim().is_empty()) {
            return Some("say which cover or preparation it is, in the words you write beside a sensor");
        }
        let reasons = self.corrections.iter().map(|one| Some(&one.reason));
        let mut words = [&self.name, &self.number, &self.source, &self.note]
            .into_iter()
            .map(Option::as_ref)
            .chain(reasons);
        if words.any(|words| words.is_some_and(|words| words.chars().count() > Self::LONGEST)) {
            return Some("its words are longer than 200 letters; shorten them");
        }
        let years = 1990..=2200;
        let dates = self
            .corrections
            .iter()
            .map(|one| one.on)
            .chain([self.arrival.date()])
            .chain(self.use_by);
        if dates.into_iter().any(|date| !years.contains(&date.year())) {
            return Some("a date lies outside the years 1990 to 2200; write it like 2026-03-31");
        }
        if self
            .corrections
            .iter()
            .any(|one| one.by == 0 || one.reason.trim().is_empty())
        {
            return Some("a correction changes the count and says why: dropped, given away, miscounted");
        }
        if self.pieces() < 0 {
            return Some("that takes away more pieces than came; look at the number");
        }
        if self.pieces() > i64::from(Self::MOST) {
            return Some("that makes more than 1,000 pieces; look at the number");
        }
        None
    }
}

/// Whether two lot numbers, or two names, are the same but for case, spaces and marks between.
pub fn same_words(one: &str, other: &str) -> bool {
    let bare = |text: &str| -> String {
        let letters = text.chars().filter(|c| c.is_alphanumeric());
        letters.flat_map(char::to_lowercase).collect()
    };
    bare(one) == bare(other)
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;

    fn lot() -> Lot {
        Lot {
            holds: Holds::Sensors,
            name: None,
            number: Some("AB-12".to_owned()),
            count: 3,
            price: Some(Price::Free),
            source: Some("free starter".to_owned()),
            arrival: Arrival::Arrived(date(2026, 3, 1)),
            use_by: Some(date(2026, 9, 30)),
            note: None,
            corrections: Vec::new(),
        }
    }

    fn corrected(by: i32, reason: &str) -> Lot {
        let on = date(2026, 4, 1);
        let reason = reason.to_owned();
        Lot {
            corrections: vec![Correction { by, on, reason }],
            ..lot()
        }
    }

    #[test]
    fn what_cannot_lie_in_a_drawer_is_refused_with_what_to_do() {
        assert_eq!(lot().trouble(), None);
        assert_eq!(
            (corrected(-3, "lost").trouble(), corrected(-3, "lost").pieces()),
            (None, 0)
        );
        for (wrong, word) in [
            (Lot { count: 0, ..lot() }, "count"),
            (
                Lot {
                    count: 10_001,
                    ..lot()
                },
                "count",
            ),
            (
                Lot {
                    holds: Holds::Covers,
                    ..lot()
                },
                "which cover",
            ),
            (
                Lot {
                    note: Some("x".repeat(201)),
                    ..lot()
                },
                "shorten",
            ),
            (
                Lot {
                    use_by: Some(date(26, 9, 30)),
                    ..lot()
                },
                "years",
            ),
            (corrected(-4, "lost"), "more pieces than came"),
            (corrected(1_000, "found"), "1,000"),
            (corrected(0, "lost"), "correction"),
            (corrected(-1, " "), "correction"),
        ] {
            let said = wrong.trouble().unwrap_or_else(|| panic!("{wrong:?}"));
            assert!(said.contains(word), "{said}");
        }
    }

    #[test]
    fn numbers_on_boxes_are_the_same_however_they_are_typed() {
        assert!(same_words("KR-204", "kr 204") && same_words("Clear Patch", "clear-patch"));
        assert!(!same_words("KR-204", "KR-205"));
    }
}
