//! What the wearer's own record says for and against places: agreement with blood, pressure lows, losses, the skin. Each is
//! drawn towards no difference, the more the less was seen there (`interstice_methods::plan::drawn_rate`).

use interstice_glucose::{LivedClock, PlanWeight, Region, Side, WearChoices, counted};
use interstice_methods::plan::{drawn_rate, drawn_share, hours_lost};

use super::{PlaceWorn, Worn};
use crate::TrustFindings;

/// One thing a record can say of a place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum About {
    Agreement,
    Pressure,
    Loss,
    Skin,
}

impl About {
    pub(super) const ALL: [About; 4] = [About::Agreement, About::Pressure, About::Loss, About::Skin];

    fn weight(self) -> PlanWeight {
        match self {
            About::Agreement => PlanWeight::PoorAgreement,
            About::Pressure => PlanWeight::PressureLow,
            About::Loss => PlanWeight::LostHour,
            About::Skin => PlanWeight::SkinTrouble,
        }
    }
}

/// What is to be expected of a sensor at a place, and what was seen there.
#[derive(Clone, Debug, Default, PartialEq)]
struct Expected {
    /// In the unit of the weight: points, lows, hours, sensors with trouble.
    value: f64,
    seen: String,
}

/// What is to be expected at one place, by [`About::ALL`].
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Grounds([Expected; 4]);

impl Grounds {
    fn of(&self, about: About) -> &Expected {
        &self.0[about as usize]
    }

    /// What speaks against the place, without one thing where that is asked.
    pub(super) fn cost(&self, choices: &WearChoices, without: Option<About>) -> f64 {
        let about = About::ALL.into_iter().filter(|&about| Some(about) != without);
        about
            .map(|about| choices.weight(about.weight()) * self.of(about).value)
            .sum()
    }

    /// Why this place rather than another, where the other does worse in this.
    pub(super) fn rather_than(&self, other: &Grounds, name: &str, about: About) -> Option<String> {
        let (here, there) = (self.of(about), other.of(about));
        if there.value <= here.value {
            return None;
        }
        let (here_is, there_is) = (here.value, there.value);
        let what = match about {
            About::Agreement => {
                format!(
                    "sensors should agree better with blood here ({here_is:.1} against {there_is:.1} % MARD)"
                )
            }
            About::Pressure => {
                format!(
                    "fewer lows from pressure are to be expected here ({here_is:.1} against {there_is:.1} a sensor)"
                )
            }
            About::Loss => {
                format!(
                    "fewer hours should be lost here ({here_is:.0} against {there_is:.0} h of a sensor's labelled wear)"
                )
            }
            About::Skin => {
                let percent = |share: f64| 100.0 * share;
                let (here_is, there_is) = (percent(here_is), percent(there_is));
                format!(
                    "trouble with the skin is less to be expected here ({here_is:.0} against {there_is:.0} of 100 sensors)"
                )
            }
        };
        let seen = [("here", here), ("there", there)]
            .map(|(place, expected)| format!("{place} {}", expected.seen))
            .join(", ");
        Some(format!(
            "rather than the {name}: {what}; seen {seen}, drawn towards all places"
        ))
    }
}

/// The whole record, against which places are held.
pub(super) struct Evidence<'a> {
    pub(super) clock: &'a LivedClock,
    pub(super) worn: &'a [Worn],
    pub(super) places: &'a [PlaceWorn],
    /// Nothing where trust was not looked at.
    pub(super) trust: Option<&'a TrustFindings>,
    /// Labelled wear, hours.
    pub(super) wear_h: f64,
}

impl Evidence<'_> {
    /// What is to be expected of a sensor at a place.
    pub(super) fn grounds(&self, region: Region, side: Option<Side>) -> Grounds {
        let mut places = self.places.iter();
        let place = places.find(|place| (place.region, place.side) == (region, side));
        Grounds([
            self.agreement(region),
            self.pressure(place, side),
            self.loss(place),
            self.skin(region, side),
        ])
    }

    /// Expected MARD, percent, as the mixed model draws the parts of the body towards each other; the same everywhere while
    /// it cannot tell.
    fn agreement(&self, region: Region) -> Expected {
        let Some(trust) = self.trust else {
            return Expected::default();
        };
        let levels = trust.effects.levels.iter().filter(|level| level.about == "site");
        let levels: Vec<_> = levels.collect();
        let sensors: u64 = levels.iter().map(|level| level.sensors).sum();
        let mean = levels
            .iter()
            .map(|level| level.expected_percent * level.sensors as f64)
            .sum::<f64>()
            / sensors.max(1) as f64;
        match levels.iter().find(|level| level.level == region.name()) {
            Some(level) => Expected {
                value: level.expected_percent,
                seen: format!(
                    "{} at {}",
                    counted(level.pairs, "blood check", "blood checks"),
                    counted(level.sensors, "sensor", "sensors")
                ),
            },
            None => Expected {
                value: mean,
                seen: "none".to_owned(),
            },
        }
    }

    /// Expected pressure lows in the labelled wear.
    fn pressure(&self, place: Option<&PlaceWorn>, side: Option<Side>) -> Expected {
        let Some(trust) = self.trust else {
            return Expected::default();
        };
        let usual = self.usual_pressure(trust, side);
        let there = place.and_then(|place| place.pressure.as_ref());
        let (lows, nights) = there.map_or((0, 0), |there| (there.lows, there.nights));
        Expected {
            value: drawn_rate(lows as f64, nights as f64, usual) * self.wear_h / 24.0,
            seen: format!("{lows} in {}", counted(nights, "night", "nights")),
        }
    }

    /// Pressure lows a night to be expected on a side where nothing was seen at the place itself: as often as that side is
    /// slept on, what sensors slept on show, else what the others do.
    fn usual_pressure(&self, trust: &TrustFindings, side: Option<Side>) -> f64 {
        let rates = &trust.pressure.rates;
        let all = rates.all.per_night.unwrap_or(0.0);
        let Some(side) = side else { return all };
        let of = |key: &str| {
            let line = rates.slept_on_it.iter().find(|line| line.key == key);
            line.map_or(all, |line| drawn_rate(line.lows as f64, line.nights as f64, all))
        };
        let nights = |side: Side| {
            let line = rates.slept.iter().find(|line| line.key == side.name());
            line.map_or(0.0, |line| line.nights as f64)
        };
        let known = nights(Side::Left) + nights(Side::Right);
        let share = drawn_share(nights(side), known, 0.5);
        share * of("its own side") + (1.0 - share) * of("the other side")
    }

    /// Expected hours of labelled wear that are lost.
    fn loss(&self, place: Option<&PlaceWorn>) -> Expected {
        let ended = self.worn.iter().filter(|worn| worn.site().is_some());
        let (lost, hours) = ended.fold((0.0, 0.0), |(lost, hours), worn| {
            (lost + f64::from(u8::from(worn.is_lost())), hours + worn.hours)
        });
        let usual = if hours > 0.0 { lost / hours } else { 0.0 };
        let (lost, hours, sensors) =
            place.map_or((0, 0.0, 0), |place| (place.lost, place.worn_h, place.sensors));
        Expected {
            value: hours_lost(drawn_rate(lost as f64, hours, usual), self.wear_h),
            seen: format!("{lost} of {} lost", counted(sensors, "sensor", "sensors")),
        }
    }

    /// Expected share of sensors with trouble of the skin, of those of which it was told.
    fn skin(&self, region: Region, side: Option<Side>) -> Expected {
        let (mut troubled, mut told) = ([0.0; 2], [0.0; 2]);
        for worn in self.worn {
            let (Some(site), Some(trouble)) = (worn.site(), worn.skin_trouble()) else {
                continue;
            };
            let here = (site.region, site.side) == (region, side);
            for of in [true, here].into_iter().enumerate().filter(|(_, holds)| *holds) {
                told[of.0] += 1.0;
                troubled[of.0] += f64::from(u8::from(trouble));
            }
        }
        let usual = if told[0] > 0.0 { troubled[0] / told[0] } else { 0.0 };
        Expected {
            value: drawn_share(troubled[1], told[1], usual),
            seen: format!("{:.0} of {:.0} sensors", troubled[1], told[1]),
        }
    }
}
