//! Possible pressure lows in words.

use interstice_findings::trust::{PressureEvent, PressureFindings};

use super::{Shown, date_and_clock};

/// How many there are, in how many nights.
pub fn pressure_account(findings: &PressureFindings) -> String {
    let count = match findings.events.len() {
        0 => "No possible pressure low".to_owned(),
        1 => "1 possible pressure low".to_owned(),
        count => format!("{count} possible pressure lows"),
    };
    format!(
        "{count} in {} times in bed with readings, {} of them with sleep logged.",
        findings.nights, findings.nights_logged
    )
}

/// One of them: when, how low, how likely, and what the wearer said.
pub fn pressure_event(event: &PressureEvent, shown: Shown) -> String {
    format!(
        "{} to {}, sensor {}: lowest reading {}, about {:.0} % taken off; {:.0} % likely by these signs.{}",
        date_and_clock(event.start.0),
        date_and_clock(event.end.0),
        event.sensor_id,
        shown.glucose_with_unit(event.nadir_mg_dl),
        event.attenuation_percent,
        100.0 * event.probability,
        event
            .verdict
            .map_or(String::new(), |verdict| format!(" You marked it: {verdict}."))
    )
}
