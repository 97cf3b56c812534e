//! The record of one sensor, what was claimed, the skin afterwards, and what the readings tell that nobody wrote down.

use interstice_findings::Time;
use interstice_findings::wear::{Claim, Found, LostSensor, SensorRecord, SkinGroup, SkinTable, TraceFacts};
use interstice_glucose::counted;

use super::number::percent;
use super::trust::signed;
use super::trust_table::Table;
use super::wear::{by_name, with_margin};
use super::{Shown, day_and_clock, duration};

/// The title of a record.
pub fn record_title(record: &SensorRecord) -> String {
    format!("Record of sensor {}", record.record)
}

/// What stands above the facts.
pub const RECORD_SAID: &str = "What the wearer wrote down and what the sensor's readings and blood checks showed. It says nothing of the cause.";

/// The facts of a record, each with its name. What is not known is said so where a supplier would ask for it.
pub fn record_facts(record: &SensorRecord) -> Vec<(&'static str, String)> {
    let unknown = || "not written down".to_owned();
    let time = |time: Option<Time>| time.map_or_else(unknown, |time| day_and_clock(time.0));
    let read = |told: bool, time: Option<Time>, which: &str| match (told, time) {
        (false, Some(at)) => format!("not written down; {which} reading {}", day_and_clock(at.0)),
        (_, at) => at.map_or_else(unknown, |at| day_and_clock(at.0)),
    };
    let kind = record.kind.as_ref().map(|kind| {
        format!(
            "{}, labelled to be worn {}",
            kind.name,
            duration(60.0 * kind.wear_h)
        )
    });
    let hours = |hours: Option<f64>| hours.map(|hours| duration(60.0 * hours));
    let tags = |tags: &[String]| (!tags.is_empty()).then(|| tags.join(", "));
    let facts = [
        ("Kind of sensor", Some(kind.unwrap_or_else(unknown))),
        ("Lot", Some(record.lot.clone().unwrap_or_else(unknown))),
        (
            "Serial number",
            Some(record.serial.clone().unwrap_or_else(unknown)),
        ),
        ("Name in the readings", record.sensor_id.clone()),
        ("Worn on", Some(record.site.clone().unwrap_or_else(unknown))),
        ("Skin prepared with", tags(&record.preparation)),
        ("Covered with", tags(&record.cover)),
        ("Put on", Some(time(record.put_on))),
        ("Started", Some(read(record.start_told, record.started, "first"))),
        ("Ended", Some(read(record.end_told, record.ended, "last"))),
        (
            "How it ended",
            Some(record.ending.map_or_else(unknown, str::to_owned)),
        ),
        (
            "Labelled end",
            record.labelled_end.map(|end| day_and_clock(end.0)),
        ),
        ("From start to end", hours(record.hours_worn)),
        (
            "Short of its labelled wear",
            hours(record.hours_short.filter(|&hours| hours > 0.0)),
        ),
        ("Skin afterwards", record.skin.map(str::to_owned)),
    ];
    facts
        .into_iter()
        .filter_map(|(name, value)| Some((name, value?)))
        .collect()
}

/// What the readings showed, in sentences.
pub fn record_trace(record: &SensorRecord, shown: Shown) -> Vec<String> {
    let Some(trace) = &record.trace else {
        return vec!["There are no readings of this sensor in the book.".to_owned()];
    };
    let mut said = vec![readings_said(trace)];
    said.extend(trace.faults.iter().map(|line| {
        format!(
            "{}: {}.",
            day_and_clock(line.from.0),
            line.fault.words(shown.unit)
        )
    }));
    said
}

fn readings_said(trace: &TraceFacts) -> String {
    format!(
        "{} from {} to {}, one every {} minutes: {} % of those expected.",
        counted(trace.readings, "reading", "readings"),
        day_and_clock(trace.first.0),
        day_and_clock(trace.last.0),
        trace.interval_min,
        percent(trace.active_percent)
    )
}

/// What the blood checks beside it showed.
pub fn record_checks(record: &SensorRecord, shown: Shown) -> Table {
    let row = |check: &interstice_findings::trust::CheckLine| {
        vec![
            day_and_clock(check.point.at.0),
            shown.glucose(check.point.blood_mg_dl),
            shown.glucose(check.point.sensor_mg_dl),
            signed(check.difference_mg_dl, shown),
            format!("{:+.0}", check.difference_percent).replace('-', "−"),
        ]
    };
    let unit = shown.unit;
    let heads = [
        ("Blood check", false),
        (&*format!("Blood, {unit}"), true),
        (&*format!("Sensor, {unit}"), true),
        (&*format!("Difference, {unit}"), true),
        ("Difference, %", true),
    ];
    Table::new("record-checks", &heads, record.checks.iter().map(row).collect())
}

/// What the blood checks are, above their table.
pub fn record_checks_said(record: &SensorRecord) -> String {
    match record.checks.len() as u64 {
        0 => "No blood check was taken beside a reading of it.".to_owned(),
        checks => format!(
            "{} beside a reading of it. Difference: the sensor less the blood.",
            counted(checks, "blood check", "blood checks")
        ),
    }
}

/// 'photo 3' of each photo.
pub fn record_photos(record: &SensorRecord) -> Option<String> {
    let photos: Vec<String> = record.photos.iter().map(|id| format!("photo {id}")).collect();
    (!photos.is_empty()).then(|| photos.join(", "))
}

/// Sensors that were lost, each with its claim.
pub fn lost_table(lost: &[LostSensor]) -> Table {
    let heads = [
        ("Sensor", false),
        ("How it ended", false),
        ("Ended", false),
        ("Lot", false),
        ("Short of labelled wear", true),
        ("Claim", false),
    ];
    let row = |one: &LostSensor| {
        vec![
            one.record.clone(),
            one.ending.to_owned(),
            one.ended.map_or_else(|| "–".to_owned(), |at| day_and_clock(at.0)),
            one.lot.clone().unwrap_or_else(|| "–".to_owned()),
            one.hours_short
                .map_or_else(|| "–".to_owned(), |hours| duration(60.0 * hours)),
            one.claim.unwrap_or("none").to_owned(),
        ]
    };
    Table::new("lost", &heads, lost.iter().map(row).collect())
}

/// A claim's steps, one a line.
pub fn claim_steps(claim: &Claim) -> Vec<String> {
    let step = |step: &interstice_findings::wear::Step| {
        let words = step
            .words
            .as_ref()
            .map_or_else(String::new, |words| format!(": {words}"));
        format!("{} {}{words}", day_and_clock(step.at.0), step.what)
    };
    claim.steps.iter().map(step).collect()
}

/// The skin after sensors of each group.
pub fn skin_table(skin: &SkinTable) -> Table {
    let heads = [
        (by_name(skin.by), false),
        ("Ended", true),
        ("Skin told of", true),
        ("Reacted", true),
        ("Share", true),
        ("What", false),
        ("Longest", true),
    ];
    Table::new("skin", &heads, skin.groups.iter().map(skin_row).collect())
}

fn skin_row(group: &SkinGroup) -> Vec<String> {
    let classes: Vec<String> = group
        .classes
        .iter()
        .map(|(class, count)| format!("{count} {}", class.name()))
        .collect();
    let share = match &group.reacted_percent.reason {
        Some(_) => format!("needs {} more", more(group)),
        None => with_margin(&group.reacted_percent, 1.0, 0, " %"),
    };
    let dash = || "–".to_owned();
    vec![
        group.name.clone(),
        group.ended.to_string(),
        group.told.to_string(),
        group.reactions.to_string(),
        share,
        if classes.is_empty() {
            dash()
        } else {
            classes.join(", ")
        },
        group
            .longest_days
            .map_or_else(dash, |days| counted(u64::from(days), "day", "days")),
    ]
}

/// How many more are needed, as the findings say it at the end of their reason.
fn more(group: &SkinGroup) -> String {
    let reason = group.reacted_percent.reason.as_deref().unwrap_or_default();
    let more = reason.rsplit(", ").next().unwrap_or_default();
    more.trim_end_matches(" more").to_owned()
}

/// What the table of the skin is.
pub const SKIN_SAID: &str = "How the skin was after a sensor, as you saw it; no diagnosis. Shares are of the sensors whose skin was told of, \
     with margins that hold in 95 of 100 cases; where these are too few, the number that is missing stands in their place.";

/// What the readings tell that nobody wrote down.
pub fn found_said(found: &Found) -> String {
    let which = found.sensor_id.as_ref().map_or_else(
        || "A sensor without a name".to_owned(),
        |name| format!("Sensor {name}"),
    );
    let what = match found.what {
        "end" => format!("{which}, its end"),
        "change" => format!("{which}, another one under the same name"),
        _ => which,
    };
    let would: Vec<String> = found
        .would_write
        .iter()
        .map(|would| format!("{} {}", would.what, day_and_clock(would.at.0)))
        .collect();
    format!(
        "{what}: {}. To be written down: {}. Until then {}.",
        found.why,
        would.join(", "),
        found.meanwhile
    )
}
