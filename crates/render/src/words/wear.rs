//! What is on, how long sensors stay on, what comes next.

use interstice_findings::wear::{End, Kind, OnNow, Planned};
use interstice_findings::{Figure, WearFindings};
use interstice_glucose::{PlanWeight, counted};

use super::time::{date, date_and_clock, duration, short_day};
use super::trust_table::Table;

/// The answer in a sentence or two.
pub fn wear_answer(findings: &WearFindings) -> String {
    let mut said: Vec<String> = findings.on_now.iter().map(on_said).collect();
    if said.is_empty() {
        said.push("No sensor is known to be on now.".to_owned());
    }
    said.extend(findings.plan.first().map(next_said));
    said.join(" ")
}

fn on_said(on: &OnNow) -> String {
    let which = on
        .sensor_id
        .as_ref()
        .map_or_else(|| "A sensor".to_owned(), |name| format!("Sensor {name}"));
    let site = on
        .site
        .as_ref()
        .map_or_else(String::new, |site| format!(" on the {site}"));
    match (on.age_h, on.left_h) {
        (None, _) => format!("{which}{site} is put on and not started."),
        (Some(age), None) => format!("{which}{site} is {} old.", duration(60.0 * age)),
        (Some(age), Some(left)) if left > 0.0 => {
            format!(
                "{which}{site} is {} old; {} of its labelled wear are left.",
                duration(60.0 * age),
                duration(60.0 * left)
            )
        }
        (Some(age), Some(left)) => format!(
            "{which}{site} is {} old, {} beyond its labelled wear.",
            duration(60.0 * age),
            duration(-60.0 * left)
        ),
    }
}

fn next_said(next: &Planned) -> String {
    if next.is_on() {
        return format!("Next: start it on {}.", date_and_clock(next.start.0));
    }
    let place = place(next);
    let put_on = date_and_clock(next.put_on.0);
    if next.put_on.0.at == next.start.0.at {
        return format!("Next: put one on{place} and start it on {put_on}.");
    }
    format!(
        "Next: put one on{place} on {put_on}, and start it on {}.",
        date_and_clock(next.start.0)
    )
}

fn place(planned: &Planned) -> String {
    let side = planned.side.map_or_else(String::new, |side| format!("{side} "));
    let spot = planned
        .spot
        .as_ref()
        .map_or_else(String::new, |spot| format!(", {spot}"));
    planned
        .site
        .map_or_else(String::new, |site| format!(" the {side}{site}{spot}"))
}

/// Readings older than this say nothing of what is on, hours.
const OLD_H: f64 = 72.0;

/// Where the readings end long before the moment told of: that, in a sentence.
pub fn wear_old(findings: &WearFindings) -> Option<String> {
    let last = findings.last_reading?;
    let hours = (findings.now.0.at - last.0.at) as f64 / 3600.0;
    (hours > OLD_H && findings.on_now.is_empty()).then(|| {
        format!(
            "The last reading is of {}, {} ago: what was worn since is not known.",
            date_and_clock(last.0),
            duration(60.0 * hours)
        )
    })
}

/// The kind in use, as it was described.
pub fn kind_said(kind: &Kind) -> String {
    let extra = if kind.extra_h > 0.0 {
        format!(" and {} more", duration(60.0 * kind.extra_h))
    } else {
        String::new()
    };
    format!(
        "Your sensors ({}) are worn for {}{extra}; the first reading comes {} after the start.",
        kind.name,
        duration(60.0 * kind.wear_h),
        duration(f64::from(kind.warm_up_min))
    )
}

/// The sensors to come.
pub fn plan_table(plan: &[Planned]) -> Table {
    let row = |one: &Planned| {
        vec![
            date_and_clock(one.put_on.0),
            date_and_clock(one.start.0),
            date_and_clock(one.reads_from.0),
            short_day(one.end.0),
            place(one).trim_start_matches(" the ").to_owned(),
        ]
    };
    let heads = ["Put on", "Start", "Reads from", "Labelled end", "Where"];
    Table::new(
        "coming",
        &heads.map(|head| (head, false)),
        plan.iter().map(row).collect(),
    )
}

/// How sensors ended, in one sentence.
pub fn ends_said(ends: &[End]) -> String {
    let all: u64 = ends.iter().map(|end| end.sensors).sum();
    if all == 0 {
        return "No sensor has ended yet.".to_owned();
    }
    let ways: Vec<String> = ends
        .iter()
        .map(|end| format!("{} {}", end.sensors, end.how))
        .collect();
    let short: f64 = ends
        .iter()
        .filter(|end| end.loss)
        .filter_map(|end| end.hours_lost)
        .sum();
    let lost: u64 = ends.iter().filter(|end| end.loss).map(|end| end.sensors).sum();
    let cost = if lost > 0 && short >= 1.0 {
        format!(
            " {} lost: {} of labelled wear.",
            counted(lost, "sensor was", "sensors were"),
            duration(60.0 * short)
        )
    } else {
        String::new()
    };
    format!(
        "{} ended: {}.{cost}",
        counted(all, "sensor", "sensors"),
        ways.join(", ")
    )
}

pub(super) fn by_name(by: &'static str) -> &'static str {
    match by {
        "site" => "Site",
        "side" => "Side",
        "preparation" => "Preparation",
        "cover" => "Cover",
        _ => "Together",
    }
}

/// '83 % (57 to 94)'; a dash where it cannot be given.
pub(super) fn with_margin(figure: &Figure, scale: f64, decimals: usize, unit: &str) -> String {
    let Some(value) = figure.value else {
        return "–".to_owned();
    };
    let within = figure.lo95.zip(figure.hi95).map_or_else(String::new, |(lo, hi)| {
        format!(" ({:.decimals$} to {:.decimals$})", lo * scale, hi * scale)
    });
    format!("{:.decimals$}{unit}{within}", value * scale)
}

/// '1 May 2025 to 20 May 2025' from '2025-05-01..2025-05-20'; one day alone once.
pub fn days_said(days: &str) -> String {
    match days.split_once("..") {
        Some((from, to)) if from != to => format!("{} to {}", date(from), date(to)),
        Some((day, _)) => date(day),
        None => date(days),
    }
}

/// What one thing of the plan is weighed by.
pub fn weight_said(weight: PlanWeight) -> &'static str {
    match weight {
        PlanWeight::UnusedHour => "An hour of labelled wear not used",
        PlanWeight::ExtraHour => "An hour worn beyond the label",
        PlanWeight::BeddingHour => "An hour of bedding in more or less than wished",
        PlanWeight::AwkwardPutOn => "A put-on outside your hours",
        PlanWeight::AwkwardStart => "A start outside your hours",
        PlanWeight::Away => "A put-on or start on a day away",
        PlanWeight::PassedOver => "A sensor passed over in the drawer",
        PlanWeight::Bought => "A sensor that has to be bought",
        PlanWeight::MissingRestHour => "An hour of rest missing",
        PlanWeight::Unlabelled => "A place the instructions do not name",
        PlanWeight::PoorAgreement => "A percent of error to be expected",
        PlanWeight::PressureLow => "A low from pressure to be expected",
        PlanWeight::LostHour => "An hour of wear to be expected lost",
        PlanWeight::SkinTrouble => "Trouble with the skin, certain",
    }
}
