//! Days that were found, in words.

use interstice_findings::find::{FindAsk, FindFindings, FoundLine, Sought};
use interstice_glucose::counted;

use super::number::units;
use super::{Shown, amount, clock, date_and_clock, duration};

/// What is sought, as it stands in a sentence: 'a low'.
pub fn sought(what: Sought) -> &'static str {
    match what {
        Sought::Low => "a low",
        Sought::VeryLow => "a low of level 2",
        Sought::High => "a high",
        Sought::VeryHigh => "a high of level 2",
        Sought::BloodCheck => "a blood check",
        Sought::Dose => "a rapid dose",
        Sought::Meal => "a meal",
        Sought::Activity => "an activity",
        Sought::Alcohol => "alcohol",
        Sought::Illness => "an illness",
        Sought::Symptom => "a symptom",
        Sought::Sensor => "a sensor put on or started",
    }
}

fn hours((from, to): (u32, u32)) -> String {
    if from == to {
        "at any hour".to_owned()
    } else {
        format!("between {} and {}", clock(from), clock(to))
    }
}

/// The answer, and what it means beside the other days.
pub fn days_found_said(findings: &FindFindings, ask: &FindAsk) -> Vec<String> {
    let after = ask.after.map_or_else(String::new, |(what, within)| {
        format!(" within {within} h after {}", sought(what))
    });
    let days = if ask.what.is_read() {
        "days read in those hours"
    } else {
        "days"
    };
    let mut said = vec![format!(
        "{} with {} {}{after}, of {} {days}.",
        counted(u64::from(findings.days_found), "day", "days"),
        sought(ask.what),
        hours(ask.between),
        findings.days
    )];
    if let (Some((what, _)), Some(with), Some(without)) =
        (ask.after, findings.with_before, findings.without_before)
    {
        said.push(format!(
            "Of {} with {} before those hours {} had it, of {} without {}: counted, not compared.",
            counted(u64::from(with.1), "day", "days"),
            sought(what),
            with.0,
            counted(u64::from(without.1), "day", "days"),
            without.0
        ));
    }
    said
}

/// One thing found, without its day.
pub fn found_line(line: &FoundLine, ask: &FindAsk, shown: Shown) -> String {
    let mut said = Vec::new();
    if let Some(mg_dl) = line.extreme_mg_dl {
        let value = shown.glucose_with_unit(mg_dl);
        said.push(match ask.what {
            Sought::Low | Sought::VeryLow => format!("down to {value}"),
            Sought::High | Sought::VeryHigh => format!("up to {value}"),
            _ => value,
        });
    }
    if let Some(value) = line.amount {
        said.push(match ask.what {
            Sought::Dose => units(value),
            _ => format!("{} g", amount(value)),
        });
    }
    if let Some(until) = line.until {
        let minutes = (until.0.at - line.at.0.at) as f64 / 60.0;
        if minutes > 0.0 {
            said.push(duration(minutes));
        }
    }
    said.extend(line.words.clone());
    if let (Some(after), Some((what, _))) = (line.after, ask.after) {
        said.push(format!("after {} of {}", sought(what), date_and_clock(after.0)));
    }
    said.join(", ")
}
