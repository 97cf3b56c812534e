//! Sensors beside blood by what the pairs have in common, in words.

use interstice_findings::TrustFindings;
use interstice_findings::trust::GroupLine;
use interstice_glucose::counted;

use super::Shown;
use super::number::{percent_figure, tenths_percent};
use super::trust::{rate, signed_figure};

/// One breakdown as it is shown.
#[derive(Clone, Debug, PartialEq)]
pub struct GroupTable {
    /// For addresses and files.
    pub id: &'static str,
    /// What the pairs have in common.
    pub title: &'static str,
    /// What the reader must know of it.
    pub help: String,
    /// One line a group.
    pub rows: Vec<GroupRow>,
}

/// One group as it is shown.
#[derive(Clone, Debug, PartialEq)]
pub struct GroupRow {
    /// Its name.
    pub name: String,
    /// Pairs in it.
    pub pairs: u64,
    /// MARD with its margin, or how many more pairs would do.
    pub mard: String,
    /// Bias with its margin, in the wearer's unit.
    pub bias: String,
    /// Share within 15/15 with its exact margin.
    pub within: String,
    /// About how many more pairs would tell the MARD within 2 points.
    pub more: String,
}

/// Every breakdown that tells something, in the order in which they are asked for.
pub fn group_tables(findings: &TrustFindings, shown: Shown) -> Vec<GroupTable> {
    let by = &findings.by;
    let all: [(&'static str, &'static str, &Vec<GroupLine>); 11] = [
        ("day-of-wear", "Day of wear", &by.day_of_wear),
        (
            "first-day",
            "Hours since the start, first day",
            &by.first_day_hours,
        ),
        ("direction", "Direction and speed of change", &by.direction),
        ("range", "Range of the blood value", &by.range),
        ("sensor", "Sensor", &by.sensor),
        ("site", "Site", &by.site),
        ("side", "Side", &by.side),
        ("lot", "Lot", &by.lot),
        ("preparation", "Preparation of the skin", &by.preparation),
        ("bedding-in", "Worn before the start", &by.bedding_in),
        ("time-of-day", "Time of day", &by.time_of_day),
    ];
    all.into_iter()
        .filter(|(_, _, lines)| lines.iter().any(|line| !line.is_unknown() && line.pairs > 0))
        .map(|(id, title, lines)| GroupTable {
            id,
            title,
            help: help(id, shown),
            rows: lines.iter().map(|line| group_row(id, line, shown)).collect(),
        })
        .collect()
}

fn group_row(table: &str, line: &GroupLine, shown: Shown) -> GroupRow {
    let missing = format!("{} more would do", counted(line.pairs_missing, "pair", "pairs"));
    let given = line.mard_percent.value.is_some();
    GroupRow {
        name: group_name(table, &line.key, shown),
        pairs: line.pairs,
        mard: if given {
            tenths_percent(&line.mard_percent)
        } else {
            missing
        },
        bias: if given {
            signed_figure(&line.bias_mg_dl, shown)
        } else {
            "–".to_owned()
        },
        within: if line.within_15.of > 0 {
            format!(
                "{} of {}, {}",
                line.within_15.within,
                line.within_15.of,
                percent_figure(&line.within_15.percent)
            )
        } else {
            "–".to_owned()
        },
        more: match line.pairs_for_2_points {
            Some(0) => "enough".to_owned(),
            Some(more) => format!("about {more}"),
            None => "–".to_owned(),
        },
    }
}

fn help(table: &str, shown: Shown) -> String {
    match table {
        "day-of-wear" => "Days of 24 hours from the sensor's start.".to_owned(),
        "direction" => format!(
            "By the sensor, from the readings of the quarter of an hour before and after the check. Fast is more than {} a \
             minute; steady is at most {} either way.",
            rate(2.0, shown),
            rate(1.0, shown)
        ),
        "sensor" | "site" | "side" | "lot" | "preparation" | "bedding-in" => {
            "Looked at one by one: sensors that differ in one thing may differ in others too, and of many groups one stands \
             out by chance."
                .to_owned()
        }
        "time-of-day" => "By the clock that was lived by.".to_owned(),
        _ => String::new(),
    }
}

fn group_name(table: &str, key: &str, shown: Shown) -> String {
    if key == GroupLine::UNKNOWN {
        return "not known".to_owned();
    }
    let glucose = |mg_dl: f64| shown.glucose(mg_dl);
    match (table, key) {
        ("day-of-wear", "15+") => "day 15 and later".to_owned(),
        ("day-of-wear", day) => format!("day {day}"),
        ("first-day", hours) => format!("{} h", hours.replace('-', " to ")),
        ("direction", "falling_fast") => "falling fast".to_owned(),
        ("direction", "rising_fast") => "rising fast".to_owned(),
        ("range", "very_low") => format!("below {}", glucose(54.0)),
        ("range", "low") => format!("{} to below {}", glucose(54.0), glucose(70.0)),
        ("range", "in_range") => format!("{} to {}", glucose(70.0), glucose(180.0)),
        ("range", "high") => format!("above {} to {}", glucose(180.0), glucose(250.0)),
        ("range", "very_high") => format!("above {}", glucose(250.0)),
        ("bedding-in", "under_2_h") => "under 2 h".to_owned(),
        ("bedding-in", "2_to_12_h") => "2 to 12 h".to_owned(),
        ("bedding-in", "12_h_or_more") => "12 h or more".to_owned(),
        ("time-of-day", hours) => {
            let (from, to) = hours.split_once('-').unwrap_or((hours, ""));
            format!("{from}:00 to {to}:00")
        }
        _ => key.to_owned(),
    }
}
