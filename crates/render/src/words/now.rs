//! This moment in words.

use interstice_findings::NowFindings;
use interstice_findings::now::{Acting, ActingDose, LastReading};
use interstice_findings::second_look::SecondLookFindings;
use interstice_tongue::{Message, say};

use super::number::units;
use super::{Shown, amount, date_and_clock, duration, hours_minutes, percent};

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
        return say!("now-answer-none");
    };
    let said = reading_said(reading, shown);
    let age = duration(reading.age_min);
    if reading.is_old {
        return say!("now-answer-old", reading = said, age = age);
    }
    let going = going(reading, shown);
    if reading.age_min < 1.0 {
        return say!("now-answer-just-now", reading = said, going = going);
    }
    say!("now-answer", reading = said, age = age, going = going)
}

fn reading_said(reading: &LastReading, shown: Shown) -> String {
    let value = shown.glucose_with_unit(reading.mg_dl);
    match reading.beyond {
        Some("below") => say!("number-below", value = value),
        Some(_) => say!("number-above", value = value),
        None => value,
    }
}

fn going(reading: &LastReading, shown: Shown) -> String {
    let Some(rate) = reading.mg_dl_per_min else {
        return say!("now-going-untold");
    };
    say!(
        "now-going",
        way = reading.direction.unwrap_or("steady"),
        rate = shown.rate_with_unit(rate.abs())
    )
}

/// What blood probably is, and why it may differ from the sensor.
pub fn now_blood(findings: &NowFindings, shown: Shown) -> Vec<String> {
    let (Some(reading), Some(blood)) = (&findings.reading, &findings.blood) else {
        let reason = reason_or_untold(findings.blood_reason.as_ref());
        return vec![say!("now-blood-untold", reason = reason)];
    };
    let mut said = vec![say!(
        "now-blood",
        blood = shown.glucose_with_unit(blood.mg_dl),
        low = shown.glucose(blood.p5_mg_dl),
        high = shown.glucose_with_unit(blood.p95_mg_dl)
    )];
    let rate = reading.mg_dl_per_min.unwrap_or(0.0);
    let ahead = blood.mg_dl - reading.mg_dl;
    if ahead.abs() > APART * reading.mg_dl && rate * ahead > 0.0 && rate.abs() >= 1.0 {
        let way = if rate < 0.0 { "falling" } else { "rising" };
        said.push(match blood.lag.lag_min {
            Some(minutes) => say!("now-blood-late-by", way = way, lag = hours_minutes(minutes)),
            None => say!("now-blood-late", way = way),
        });
    }
    if let Some(hours) = reading
        .sensor_age_h
        .filter(|hours| (0.0..FIRST_DAY_H).contains(hours))
    {
        said.push(say!("now-first-day", age = duration(60.0 * hours)));
    }
    if blood.pressed_percent >= PRESSED_PERCENT {
        said.push(say!("now-pressed", percent = percent(blood.pressed_percent)));
    }
    match blood.sensor_checks {
        0 => said.push(say!("now-no-checks")),
        checks if checks < FEW_CHECKS => said.push(say!("now-few-checks", checks = checks)),
        _ => {}
    }
    said
}

/// Why something is not told, as findings say it.
pub(super) fn reason_or_untold(reason: Option<&Message>) -> String {
    reason.map_or_else(|| say!("now-reason-untold"), Message::say)
}

/// What is still acting of what was logged. Shown, never advised on.
pub fn now_acting(acting: &Acting) -> Vec<String> {
    if !acting.is_written {
        return vec![say!("now-acting-unwritten")];
    }
    let mut said = Vec::new();
    let (lo, hi) = (acting.doses_units_lo, acting.doses_units_hi);
    if hi < 0.05 {
        said.push(say!("now-acting-spent"));
    } else {
        said.push(say!(
            "now-acting",
            least = amount(tenths(lo)),
            most = units(tenths(hi)),
            doses = doses(&acting.doses)
        ));
    }
    if acting.to_come_units > 0.0 {
        said.push(say!(
            "now-acting-to-come",
            units = units(tenths(acting.to_come_units))
        ));
    }
    if acting.basal_units_hi >= 0.05 {
        said.push(say!(
            "now-acting-basal",
            least = amount(tenths(acting.basal_units_lo)),
            most = units(tenths(acting.basal_units_hi))
        ));
    }
    if acting.left_out_doses > 0 {
        said.push(say!("now-acting-left-out", doses = acting.left_out_doses));
    }
    said.extend(super::insulin_said(&acting.insulin_lasts_hours));
    said
}

fn tenths(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}

fn doses(all: &[ActingDose]) -> String {
    /// Doses named before the rest is counted.
    const NAMED: usize = 3;
    let named: Vec<String> = all
        .iter()
        .take(NAMED)
        .map(|dose| {
            say!(
                "now-dose",
                insulin = dose.insulin,
                units = units(dose.units),
                age = duration(dose.age_min)
            )
        })
        .collect();
    match all.len().saturating_sub(NAMED) {
        _ if named.is_empty() => say!("now-doses-older"),
        0 => named.join(", "),
        more => say!("now-doses-more", named = named.join(", "), more = more),
    }
}

/// The second look in one sentence.
pub fn second_look_sentence(findings: &SecondLookFindings, shown: Shown) -> String {
    let Some(look) = &findings.look else {
        let reason = reason_or_untold(findings.look_reason.as_ref());
        return say!("look-none", reason = reason);
    };
    let Some(two) = look.fan.iter().find(|point| point.minutes == 120) else {
        return say!("look-unknown");
    };
    say!(
        "look-sentence",
        waiting = look.only_waiting,
        moments = look.alike.moments,
        low = shown.glucose(two.p25_mg_dl),
        high = shown.glucose_with_unit(two.p75_mg_dl)
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
    let place = if came.mg_dl < two.p10_mg_dl || came.mg_dl > two.p90_mg_dl {
        "outside"
    } else if came.mg_dl < two.p25_mg_dl || came.mg_dl > two.p75_mg_dl {
        "wide"
    } else {
        "half"
    };
    Some(say!(
        "look-came",
        place = place,
        when = date_and_clock(look.at.0),
        glucose = shown.glucose_with_unit(came.mg_dl)
    ))
}
