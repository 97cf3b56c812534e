//! What the wearer chose of when and where sensors go on. Whatever was not chosen has a default.

use jiff::civil::Date;

use crate::{BodySite, DAY_S, Moment, Region, Second, WallTime};

/// Hours of the lived day; they may pass midnight.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DayHours {
    /// Minute of the day they begin, 0 to 1439.
    pub from_minute: u16,
    /// Minute of the day they end, 0 to 1440; as they begin: the whole day.
    pub to_minute: u16,
}

impl DayHours {
    /// Whether a minute of the day lies in them.
    pub fn holds(self, minute: i64) -> bool {
        let (from, to) = (i64::from(self.from_minute), i64::from(self.to_minute));
        if from < to {
            (from..to).contains(&minute)
        } else {
            minute >= from || minute < to
        }
    }

    /// '08:00-21:00', '20:00-02:00'.
    pub fn from_words(text: &str) -> Option<Self> {
        let (from, to) = text.split_once('-')?;
        let minute = |text: &str| -> Option<u16> {
            let (hour, minute) = text.trim().split_once(':').unwrap_or((text.trim(), "0"));
            let (hour, minute): (u16, u16) = (hour.parse().ok()?, minute.parse().ok()?);
            (minute < 60 && hour * 60 + minute <= 1440).then_some(hour * 60 + minute)
        };
        let (from_minute, to_minute) = (minute(from)?, minute(to)?);
        (from_minute < 1440).then_some(DayHours {
            from_minute,
            to_minute,
        })
    }
}

impl std::fmt::Display for DayHours {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let (from, to) = (self.from_minute, self.to_minute);
        write!(
            f,
            "{:02}:{:02}-{:02}:{:02}",
            from / 60,
            from % 60,
            to / 60,
            to % 60
        )
    }
}

/// Days on which no sensor should be put on or started: a journey, a hospital stay.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Away {
    /// First day, counted from 1970-01-01 on the lived clock.
    pub from_day: i64,
    /// Last day, included.
    pub to_day: i64,
    /// Why.
    pub note: Option<String>,
}

impl Away {
    /// The days as they are written: '2025-05-01..2025-05-20'; one day alone is both ends.
    pub fn days_from_words(text: &str) -> Option<(i64, i64)> {
        let (from, to) = text.split_once("..").unwrap_or((text, text));
        Some((day(from)?, day(to)?))
    }

    /// '2025-05-01..2025-05-20'.
    pub fn days(&self) -> String {
        format!("{}..{}", date(self.from_day), date(self.to_day))
    }

    /// Whether a day lies in it.
    pub fn holds(&self, day: i64) -> bool {
        (self.from_day..=self.to_day).contains(&day)
    }
}

fn day(text: &str) -> Option<i64> {
    let date: Date = text.trim().parse().ok()?;
    Some(WallTime::new(date.year(), date.month(), date.day(), 0)?.day())
}

fn date(day: i64) -> String {
    let civil = WallTime(day.saturating_mul(DAY_S)).civil();
    civil.map_or_else(|| format!("day {day}"), |civil| civil.date().to_string())
}

/// A put-on the wearer settled.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Pin {
    /// When.
    pub at: Second,
    /// Where, in the wearer's words; anywhere where nothing was said.
    pub site: Option<String>,
}

impl Pin {
    /// The instant as it is kept: RFC 3339 at universal time.
    pub fn instant(&self) -> String {
        Moment {
            at: self.at,
            offset_s: 0,
        }
        .to_string()
    }

    /// The instant as it was kept.
    pub fn instant_from_words(text: &str) -> Option<Second> {
        let instant: jiff::Timestamp = text.parse().ok()?;
        Some(instant.as_second())
    }

    /// The part of the body that was settled, where it is one that is known.
    pub fn place(&self) -> Option<BodySite> {
        let site = self.site.as_deref().and_then(BodySite::from_words)?;
        (site.region != Region::Elsewhere).then_some(site)
    }
}

/// What is weighed against what in the plan. All in one unit, so that hours and habits can be compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum PlanWeight {
    /// An hour of labelled wear that is not used.
    UnusedHour,
    /// An hour worn beyond the labelled wear.
    ExtraHour,
    /// An hour of bedding in more or less than wished.
    BeddingHour,
    /// A put-on outside the preferred hours.
    AwkwardPutOn,
    /// A start outside the preferred hours.
    AwkwardStart,
    /// A put-on or a start on a day away.
    Away,
    /// A sensor left in the drawer though a later one is taken.
    PassedOver,
    /// A sensor that is not in the drawer yet.
    Bought,
    /// An hour of rest that a place is short of.
    MissingRestHour,
    /// A place the labelling does not name.
    Unlabelled,
    /// A point of percent by which readings are to be expected to differ from blood (MARD).
    PoorAgreement,
    /// A low from pressure that is to be expected.
    PressureLow,
    /// An hour of labelled wear that is to be expected to be lost.
    LostHour,
    /// Trouble with the skin, where it is certain.
    SkinTrouble,
}

impl PlanWeight {
    /// All of them.
    pub const ALL: [PlanWeight; 14] = [
        PlanWeight::UnusedHour,
        PlanWeight::ExtraHour,
        PlanWeight::BeddingHour,
        PlanWeight::AwkwardPutOn,
        PlanWeight::AwkwardStart,
        PlanWeight::Away,
        PlanWeight::PassedOver,
        PlanWeight::Bought,
        PlanWeight::MissingRestHour,
        PlanWeight::Unlabelled,
        PlanWeight::PoorAgreement,
        PlanWeight::PressureLow,
        PlanWeight::LostHour,
        PlanWeight::SkinTrouble,
    ];

    /// As it is written.
    pub fn name(self) -> &'static str {
        match self {
            PlanWeight::UnusedHour => "unused-hour",
            PlanWeight::ExtraHour => "extra-hour",
            PlanWeight::BeddingHour => "bedding-hour",
            PlanWeight::AwkwardPutOn => "awkward-put-on",
            PlanWeight::AwkwardStart => "awkward-start",
            PlanWeight::Away => "away",
            PlanWeight::PassedOver => "passed-over",
            PlanWeight::Bought => "bought",
            PlanWeight::MissingRestHour => "missing-rest-hour",
            PlanWeight::Unlabelled => "unlabelled",
            PlanWeight::PoorAgreement => "poor-agreement",
            PlanWeight::PressureLow => "pressure-low",
            PlanWeight::LostHour => "lost-hour",
            PlanWeight::SkinTrouble => "skin-trouble",
        }
    }

    /// The one of this name.
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|weight| weight.name() == name)
    }

    /// What it is unless changed. Ours: a day of wear lost weighs like four hours of bedding in too short and like one
    /// put-on at an awkward hour; a day away like eight of these. What the labelling names comes before anything but that.
    pub fn usual(self) -> f64 {
        match self {
            PlanWeight::UnusedHour => 0.5,
            PlanWeight::ExtraHour => 0.25,
            PlanWeight::BeddingHour => 3.0,
            PlanWeight::AwkwardPutOn => 12.0,
            PlanWeight::AwkwardStart => 6.0,
            PlanWeight::Away => 100.0,
            PlanWeight::PassedOver => 50.0,
            PlanWeight::Bought => 1.0,
            PlanWeight::MissingRestHour => 0.1,
            PlanWeight::Unlabelled => 100.0,
            PlanWeight::PoorAgreement | PlanWeight::PressureLow => 2.0,
            PlanWeight::LostHour => 0.5,
            PlanWeight::SkinTrouble => 20.0,
        }
    }
}

/// All that was chosen.
#[derive(Clone, Debug, PartialEq)]
pub struct WearChoices {
    /// Hours in which it suits to put one on.
    pub put_on_hours: DayHours,
    /// Hours in which it suits to start one.
    pub start_hours: DayHours,
    /// How long a new one is worn before its start, hours, as far as its kind allows.
    pub bedding_h: u32,
    /// How long a place rests, days.
    pub rest_days: u32,
    /// How far the plan looks, days.
    pub horizon_days: u32,
    /// Days away, by their first.
    pub away: Vec<Away>,
    /// Put-ons that are settled, by time.
    pub pins: Vec<Pin>,
    /// Weights that were changed.
    pub weights: std::collections::BTreeMap<PlanWeight, f64>,
}

impl Default for WearChoices {
    /// Waking hours, a day of bedding in, a week of rest, ninety days ahead. Ours, until chosen.
    fn default() -> Self {
        let hours = |from: u16, to: u16| DayHours {
            from_minute: 60 * from,
            to_minute: 60 * to,
        };
        WearChoices {
            put_on_hours: hours(8, 21),
            start_hours: hours(7, 22),
            bedding_h: 24,
            rest_days: 7,
            horizon_days: 90,
            away: Vec::new(),
            pins: Vec::new(),
            weights: std::collections::BTreeMap::new(),
        }
    }
}

impl WearChoices {
    /// What one thing weighs.
    pub fn weight(&self, weight: PlanWeight) -> f64 {
        self.weights.get(&weight).copied().unwrap_or(weight.usual())
    }
}

/// One choice; `None` forgets it.
#[derive(Clone, Debug, PartialEq)]
pub enum WearChoice {
    /// See [`WearChoices::put_on_hours`].
    PutOnHours(Option<DayHours>),
    /// See [`WearChoices::start_hours`].
    StartHours(Option<DayHours>),
    /// See [`WearChoices::bedding_h`].
    BeddingHours(Option<u32>),
    /// See [`WearChoices::rest_days`].
    RestDays(Option<u32>),
    /// See [`WearChoices::horizon_days`].
    HorizonDays(Option<u32>),
    /// One of [`WearChoices::weights`].
    Weight(PlanWeight, Option<f64>),
    /// Days away; the note is of the second.
    Away(Away),
    /// No longer away on exactly these days.
    NotAway(Away),
    /// A settled put-on.
    Pin(Pin),
    /// No longer settled.
    Unpin(Second),
}

impl WearChoice {
    /// Longest bedding in that can be chosen, hours.
    pub const LONGEST_BEDDING_H: u32 = 240;
    /// Longest rest that can be chosen, days.
    pub const LONGEST_REST_DAYS: u32 = 365;
    /// How far a plan may look, days.
    pub const HORIZON_DAYS: std::ops::RangeInclusive<u32> = 7..=180;
    /// Most a weight may be.
    pub const HEAVIEST: f64 = 1e6;

    /// The last day that can be chosen, 2199-12-31, counted from 1970-01-01: beyond it a date is a slip, and the calendar of
    /// dates has an end.
    pub const LAST_DAY: i64 = 84_005;

    /// What is wrong with it, and what to do; `None` where it can be planned with.
    pub fn trouble(&self) -> Option<&'static str> {
        match self {
            WearChoice::BeddingHours(Some(hours)) if *hours > Self::LONGEST_BEDDING_H => {
                Some("bedding in lasts ten days at most; give hours from 0 to 240")
            }
            WearChoice::RestDays(Some(days)) if *days > Self::LONGEST_REST_DAYS => {
                Some("a place rests for a year at most; give days from 0 to 365")
            }
            WearChoice::HorizonDays(Some(days)) if !Self::HORIZON_DAYS.contains(days) => {
                Some("a plan looks ahead from 7 to 180 days")
            }
            WearChoice::Weight(_, Some(weight)) if !(0.0..=Self::HEAVIEST).contains(weight) => {
                Some("a weight is a number from 0 to a million")
            }
            WearChoice::Away(away) if away.from_day > away.to_day => {
                Some("the last day away lies before the first; write the earlier first")
            }
            WearChoice::Away(away)
                if !(0..=Self::LAST_DAY).contains(&away.from_day) || away.to_day > Self::LAST_DAY =>
            {
                Some("days away lie between 1970 and 2199; look at the year")
            }
            WearChoice::Pin(pin) if !(0..=Self::LAST_DAY * DAY_S).contains(&pin.at) => {
                Some("a settled put-on lies between 1970 and 2199; look at the year")
            }
            WearChoice::Pin(pin) if pin.site.is_some() && pin.place().is_none() => Some(
                "no part of the body that is known here is named; say one like 'left upper arm' or 'thigh'",
            ),
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_chosen_can_be_read_again() {
        let (last, _) = Away::days_from_words("2199-12-31").unwrap();
        assert_eq!(last, WearChoice::LAST_DAY);
        for (words, is_fine) in [
            ("2199-12-31", true),
            ("2026-05-01..9999-12-31", false),
            ("1969-12-31..1970-01-02", false),
        ] {
            let (from_day, to_day) = Away::days_from_words(words).unwrap();
            let away = Away {
                from_day,
                to_day,
                note: None,
            };
            if is_fine {
                assert_eq!(
                    Away::days_from_words(&away.days()),
                    Some((from_day, to_day)),
                    "{words}"
                );
            }
            assert_eq!(WearChoice::Away(away).trouble().is_none(), is_fine, "{words}");
        }
    }

    #[test]
    fn hours_are_read_written_and_pass_midnight() {
        let day = DayHours::from_words("08:00-21:30").unwrap();
        assert_eq!(day.to_string(), "08:00-21:30");
        assert!(day.holds(480) && day.holds(1289) && !day.holds(1290) && !day.holds(479));
        let night = DayHours::from_words("20-02:00").unwrap();
        assert!(night.holds(1200) && night.holds(119) && !night.holds(120));
        let whole = DayHours::from_words("00:00-24:00").unwrap();
        assert!(whole.holds(0) && whole.holds(1439));
        for wrong in ["", "8", "24:00-25:00", "08:60-09:00", "a-b", "-", "24:00-01:00"] {
            assert_eq!(DayHours::from_words(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn days_away_are_read_and_written() {
        let (from_day, to_day) = Away::days_from_words("2025-05-01..2025-05-20").unwrap();
        let away = Away {
            from_day,
            to_day,
            note: None,
        };
        assert_eq!(
            (away.days().as_str(), to_day - from_day),
            ("2025-05-01..2025-05-20", 19)
        );
        assert!(away.holds(from_day) && away.holds(to_day) && !away.holds(to_day + 1));
        assert_eq!(Away::days_from_words("2025-02-30"), None);
    }

    #[test]
    fn what_cannot_be_planned_with_says_so() {
        let back = Away {
            from_day: 2,
            to_day: 1,
            note: None,
        };
        let nowhere = Pin {
            at: 0,
            site: Some("left foot sole".to_owned()),
        };
        for wrong in [
            WearChoice::Away(back),
            WearChoice::Pin(nowhere),
            WearChoice::Weight(PlanWeight::Away, Some(f64::NAN)),
            WearChoice::Weight(PlanWeight::Away, Some(-1.0)),
            WearChoice::HorizonDays(Some(6)),
            WearChoice::BeddingHours(Some(241)),
            WearChoice::RestDays(Some(366)),
        ] {
            assert!(wrong.trouble().is_some(), "{wrong:?}");
        }
    }
}
