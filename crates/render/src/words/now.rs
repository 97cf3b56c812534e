//! This moment in words.

use interstice_findings::NowFindings;
use interstice_findings::now::{Acting, ActingDose, LastReading};
use interstice_findings::second_look::SecondLookFindings;
use interstice_glucose::counted;

use super::number::units;
use super::{Shown, amount, date_and_clock, duration, percent};

/// A sensor started less than this ago is in its first day, hours.
const FIRST_DAY_H: f64 = 24.0;
/// From this chance on it is said that the sensor may be lain on, percent. Ours.
const PRESSED_PERCENT: f64 = 20.0;
/// A blood estimate this far from the reading is given a reason, part of the reading. Ours.
const APART: f64 = 0.05;
/// Fewer checks beside a sensor than this are said to be few. Ours.
const FEW_CHECKS: u64 = 2;

/// The answer: what the sensor says, how old that is, and where it is going.
pub fn now_answer(findings: &NowFindings, shown: Shown) -> String {
    let Some(reading) = &findings.reading else {
        return "There is no reading yet.".to_owned();
    };
    let said = reading_said(reading, shown);
    if reading.is_old {
        return format!(
            "The last reading, {said}, is {} old: it says nothing of now.",
            duration(reading.age_min)
        );
    }
    let age = if reading.age_min < 1.0 {
        "now".to_owned()
    } else {
        format!("{} ago", duration(reading.age_min))
    };
    format!("The sensor said {said} {age}, {}.", going(reading, shown))
}

fn reading_said(reading: &LastReading, shown: Shown) -> String {
    let value = shown.glucose_with_unit(reading.mg_dl);
    match reading.beyond {
        Some("below") => format!("below {value}"),
        Some(_) => format!("above {value}"),
        None => value,
    }
}

fn going(reading: &LastReading, shown: Shown) -> String {
    let Some(rate) = reading.mg_dl_per_min else {
        return "and where it is going cannot be told".to_owned();
    };
    let way = match reading.direction {
        Some("falling_fast") => "falling fast",
        Some("falling") => "falling",
        Some("rising_fast") => "rising fast",
        Some("rising") => "rising",
        _ => return "steady".to_owned(),
    };
    format!("{way}, {} a minute", shown.rate_with_unit(rate.abs()))
}

/// What blood probably is, and why it may differ from the sensor.
pub fn now_blood(findings: &NowFindings, shown: Shown) -> Vec<String> {
    let (Some(reading), Some(blood)) = (&findings.reading, &findings.blood) else {
        let reason = findings.blood_reason.as_deref().unwrap_or("it cannot be told");
        return vec![format!("What blood probably is cannot be told: {reason}.")];
    };
    let mut said = vec![format!(
        "Blood is probably about {}; nine times in ten between {} and {}.",
        shown.glucose_with_unit(blood.mg_dl),
        shown.glucose(blood.p5_mg_dl),
        shown.glucose_with_unit(blood.p95_mg_dl)
    )];
    let rate = reading.mg_dl_per_min.unwrap_or(0.0);
    let ahead = blood.mg_dl - reading.mg_dl;
    if ahead.abs() > APART * reading.mg_dl && rate * ahead > 0.0 && rate.abs() >= 1.0 {
        let way = if rate < 0.0 { "falling" } else { "rising" };
        let late = blood.lag.lag_min.map_or_else(String::new, |minutes| {
            format!(", by about {minutes:.0} min with yours")
        });
        said.push(format!(
            "Glucose is {way}, and a sensor follows blood late{late}."
        ));
    }
    if let Some(hours) = reading
        .sensor_age_h
        .filter(|hours| (0.0..FIRST_DAY_H).contains(hours))
    {
        said.push(format!(
            "The sensor was started {} ago: in the first day it can stand far from blood.",
            duration(60.0 * hours)
        ));
    }
    if blood.pressed_percent >= PRESSED_PERCENT {
        said.push(format!(
            "The fall looks as if you may be lying on the sensor ({} % likely); a blood check tells.",
            percent(blood.pressed_percent)
        ));
    }
    if blood.sensor_checks < FEW_CHECKS {
        said.push(format!(
            "There {} beside this sensor so far, so the band is wide.",
            match blood.sensor_checks {
                0 => "is no blood check".to_owned(),
                checks => format!("is only {}", counted(checks, "blood check", "blood checks")),
            }
        ));
    }
    said
}

/// What is still acting of what was logged. Shown, never advised on.
pub fn now_acting(acting: &Acting) -> Vec<String> {
    if !acting.is_written {
        return vec!["No insulin is written down, so what is still acting is not known.".to_owned()];
    }
    let mut said = Vec::new();
    let (lo, hi) = (acting.doses_units_lo, acting.doses_units_hi);
    if hi < 0.05 {
        said.push("Of the rapid insulin that was written down hardly any is left.".to_owned());
    } else {
        said.push(format!(
            "Of the insulin that was written down, between {} and {} are still under the skin: {}.",
            tenths(lo),
            units((hi * 10.0).round() / 10.0),
            doses(&acting.doses)
        ));
    }
    if acting.to_come_units > 0.0 {
        said.push(format!(
            "{} of a spread dose are still to be given.",
            units((acting.to_come_units * 10.0).round() / 10.0)
        ));
    }
    if acting.basal_units_hi >= 0.05 {
        said.push(format!(
            "Of the pump's basal rate, between {} and {}.",
            tenths(acting.basal_units_lo),
            units((acting.basal_units_hi * 10.0).round() / 10.0)
        ));
    }
    if acting.left_out_doses > 0 {
        said.push(format!(
            "{} of the last day, long-acting, premixed or of no named kind, {} not counted.",
            counted(u64::from(acting.left_out_doses), "dose", "doses"),
            if acting.left_out_doses == 1 { "is" } else { "are" }
        ));
    }
    said.extend(super::insulin_said(&acting.insulin_lasts_hours));
    said
}

fn tenths(value: f64) -> String {
    amount((value * 10.0).round() / 10.0)
}

fn doses(all: &[ActingDose]) -> String {
    /// Doses named before the rest is counted.
    const NAMED: usize = 3;
    let named: Vec<String> = all
        .iter()
        .take(NAMED)
        .map(|dose| {
            format!(
                "{} {} {} ago",
                units(dose.units),
                dose.insulin,
                duration(dose.age_min)
            )
        })
        .collect();
    let more = match all.len().saturating_sub(NAMED) {
        0 => String::new(),
        more => format!(", and {} before", counted(more as u64, "dose", "doses")),
    };
    if named.is_empty() {
        "of doses more than 8 h ago".to_owned()
    } else {
        format!("{}{more}", named.join(", "))
    }
}

/// The second look in one sentence.
pub fn second_look_sentence(findings: &SecondLookFindings, shown: Shown) -> String {
    let Some(look) = &findings.look else {
        let reason = findings.look_reason.as_deref().unwrap_or("it cannot be told");
        return format!("No second look: {reason}.");
    };
    let when = if look.only_waiting {
        "when you waited"
    } else {
        "whatever you did"
    };
    let Some(two) = look.fan.iter().find(|point| point.minutes == 120) else {
        return "No second look: what followed is not known.".to_owned();
    };
    let alike = counted(look.alike.moments as u64, "past moment", "past moments");
    format!(
        "In {alike} most like this one, {when}, half of them stood between {} and {} two hours later.",
        shown.glucose(two.p25_mg_dl),
        shown.glucose_with_unit(two.p75_mg_dl)
    )
}

/// Of a past moment: where it really went, in one sentence; `None` while that is not known.
pub fn second_look_came(findings: &SecondLookFindings, shown: Shown) -> Option<String> {
    let look = findings.look.as_ref()?;
    let two = look.fan.iter().find(|point| point.minutes == 120)?;
    let came = findings
        .course
        .iter()
        .filter(|point| (point.minutes - 120.0).abs() <= 7.5)
        .min_by(|a, b| {
            let off = |minutes: f64| (minutes - 120.0).abs();
            off(a.minutes).total_cmp(&off(b.minutes))
        })?;
    let inside = if came.mg_dl < two.p10_mg_dl || came.mg_dl > two.p90_mg_dl {
        "outside the band that holds eight in ten"
    } else if came.mg_dl < two.p25_mg_dl || came.mg_dl > two.p75_mg_dl {
        "inside the band that holds eight in ten, outside its middle half"
    } else {
        "inside the middle half"
    };
    Some(format!(
        "Two hours after {} it stood at {}, {inside}. The dotted line is what really came.",
        date_and_clock(look.at.0),
        shown.glucose_with_unit(came.mg_dl)
    ))
}
