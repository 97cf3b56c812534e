//! Places on the body in words: what came of the sensors worn there.

use interstice_findings::wear::{AtAge, OnNow, PlaceWorn, SpotWorn};
use interstice_findings::{Figure, WearFindings};
use interstice_glucose::{Region, counted};

use super::number::percent;
use super::time::{duration, short_day};
use super::trust_table::Table;

/// Which sensor is meant, for the form about it.
pub fn on_now_name(on: &OnNow) -> String {
    let which = on
        .sensor_id
        .as_ref()
        .map_or_else(|| "A sensor".to_owned(), |name| format!("Sensor {name}"));
    let site = on
        .site
        .as_ref()
        .map_or_else(String::new, |site| format!(", {site}"));
    let state = match (on.age_h, on.put_on) {
        (Some(age), _) => format!(", {} since its start", duration(60.0 * age)),
        (None, Some(_)) => ", not started".to_owned(),
        (None, None) => String::new(),
    };
    format!("{which}{site}{state}")
}

/// How far to trust a sensor at its age.
pub fn at_age_said(trust: &AtAge) -> Option<String> {
    let figure = &trust.mard_percent;
    let value = figure.value?;
    let which = if trust.of_that_day {
        format!("On day {} of wear", trust.day)
    } else {
        format!(
            "Over all days of wear (day {} alone has too few blood checks)",
            trust.day
        )
    };
    let margin = match (figure.lo95, figure.hi95) {
        (Some(lo), Some(hi)) => format!("{} to {}, ", percent(lo), percent(hi)),
        _ => String::new(),
    };
    Some(format!(
        "{which} your sensors were off by {} % on average ({margin}{}).",
        percent(value),
        counted(trust.pairs, "blood check", "blood checks")
    ))
}

/// What the marks of the map mean.
pub fn body_caption(findings: &WearFindings) -> String {
    let labelled = findings.places.iter().any(|place| place.labelled.is_some());
    let dashes = if labelled {
        " Dashed: your sensor's instructions do not name it."
    } else {
        ""
    };
    format!(
        "A number says how many days a place has rested; filled, one is on there now; with a ring, the next is planned there.{dashes} Left is \
         your own left."
    )
}

/// Words for spots of a part of the body, offered to whoever has not used any yet.
pub fn spots_offered(region: Region) -> &'static [&'static str] {
    match region {
        Region::UpperArm => &["outer", "back"],
        Region::Thigh => &["front", "outer"],
        Region::Abdomen => &["upper", "lower"],
        _ => &[],
    }
}

/// A spot to tap, with how long it has rested: 'outer, 12 days'.
pub fn spot_said(spot: &SpotWorn) -> String {
    match spot.rested_days {
        _ if spot.on_now => format!("{}, one is on there", spot.name),
        Some(days) => format!("{}, rested {}", spot.name, whole_days(days)),
        None => spot.name.clone(),
    }
}

/// One place in a sentence or two, for whoever is about to choose it.
pub fn place_said(place: &PlaceWorn) -> String {
    let mut said = vec![used(place)];
    if let Some(mard) = mard(place) {
        said.push(format!("Readings there were off by {mard} on average."));
    }
    if let Some(pressure) = place.pressure.as_ref().filter(|pressure| pressure.lows > 0) {
        said.push(format!(
            "{} in {} there.",
            counted(pressure.lows, "possible pressure low", "possible pressure lows"),
            counted(pressure.nights, "night", "nights")
        ));
    }
    if place.labelled == Some(false) {
        said.push(
            "Your sensor's own instructions do not name this place: wearing it there is your own choice."
                .to_owned(),
        );
    }
    said.join(" ")
}

fn used(place: &PlaceWorn) -> String {
    if place.sensors == 0 {
        return "Never used so far.".to_owned();
    }
    let count = counted(place.sensors, "sensor", "sensors");
    let lost = if place.lost > 0 {
        format!(", {} lost", place.lost)
    } else {
        String::new()
    };
    let rest = match place.rested_days {
        _ if place.on_now => "one is on there now".to_owned(),
        Some(days) => format!("it has rested for {}", whole_days(days)),
        None => "when the last came off is not known".to_owned(),
    };
    format!("{count} worn there{lost}; {rest}.")
}

fn whole_days(days: f64) -> String {
    counted(days as u64, "day", "days")
}

/// The mean error there, where there were checks enough.
fn mard(place: &PlaceWorn) -> Option<String> {
    let group = place.agreement.as_ref()?;
    group
        .mard_percent
        .value
        .map(|value| format!("{} %", percent(value)))
}

/// Every place with what came of it.
pub fn places_table(places: &[PlaceWorn]) -> Table {
    let heads = [
        ("Place", false),
        ("Sensors", true),
        ("Lost", true),
        ("Rested", false),
        ("Worn", false),
        ("Mean error", false),
        ("Pressure lows a night", false),
    ];
    Table::new("places", &heads, places.iter().map(row).collect())
}

fn row(place: &PlaceWorn) -> Vec<String> {
    let rested = match (place.on_now, place.rested_days, place.last_off) {
        (true, _, _) => "on now".to_owned(),
        (false, Some(days), Some(off)) => format!("{}, since {}", whole_days(days), short_day(off.0)),
        _ => "never used".to_owned(),
    };
    // With the rest of each, where there are several.
    let spots: Vec<String> = place
        .spots
        .iter()
        .map(|spot| match spot.rested_days.filter(|_| place.spots.len() > 1) {
            Some(days) => format!("{}: {}", spot.name, whole_days(days)),
            None => spot.name.clone(),
        })
        .collect();
    let name = if place.spots.is_empty() {
        place.name()
    } else {
        format!("{} ({})", place.name(), spots.join("; "))
    };
    let group = place.agreement.as_ref();
    vec![
        name,
        place.sensors.to_string(),
        place.lost.to_string(),
        rested,
        if place.sensors == 0 {
            String::new()
        } else {
            duration(60.0 * place.worn_h)
        },
        group.map_or_else(String::new, |group| {
            let pairs = counted(group.pairs, "check", "checks");
            match &group.mard_percent {
                Figure {
                    value: Some(value),
                    lo95: Some(lo),
                    hi95: Some(hi),
                    ..
                } => {
                    format!(
                        "{} % ({} to {}; {pairs})",
                        percent(*value),
                        percent(*lo),
                        percent(*hi)
                    )
                }
                Figure {
                    value: Some(value), ..
                } => format!("{} % ({pairs})", percent(*value)),
                _ => format!("too few: {pairs}"),
            }
        }),
        place.pressure.as_ref().map_or_else(String::new, |pressure| {
            let nights = counted(pressure.nights, "night", "nights");
            match (pressure.per_night.value, pressure.per_night.hi95) {
                (Some(value), Some(hi)) => format!("{value:.2} (at most {hi:.2}; {nights})"),
                (Some(value), None) => format!("{value:.2} ({nights})"),
                _ => String::new(),
            }
        }),
    ]
}
