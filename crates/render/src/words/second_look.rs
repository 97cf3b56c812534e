//! A second look in words.

use interstice_findings::second_look::{
    ChanceLine, FanLine, Looked, ScoreLine, SecondLookFindings, SecondLookScore,
};
use interstice_glucose::counted;

use super::{Shown, Table, date_and_clock, duration, percent};

/// '62 %, 48 to 74 with 95 % confidence'.
fn chance(chance: &ChanceLine) -> String {
    format!(
        "{} % ({} to {})",
        percent(chance.percent),
        percent(chance.percent_lo95),
        percent(chance.percent_hi95)
    )
}

/// When what follows was seen: 'when you waited', or that this cannot be told.
fn when(look: &Looked) -> &'static str {
    if look.only_waiting {
        "when you waited"
    } else {
        "whatever you did"
    }
}

/// What stands first: the moment, and how many past ones are alike.
pub fn second_look_moment(findings: &SecondLookFindings, shown: Shown) -> Vec<String> {
    let Some(look) = &findings.look else {
        let reason = findings.look_reason.as_deref().unwrap_or("it cannot be told");
        return vec![format!(
            "No second look at {}: {reason}.",
            date_and_clock(findings.asked.0)
        )];
    };
    let direction = if look.mg_dl_per_min >= 0.2 {
        "rising"
    } else if look.mg_dl_per_min <= -0.2 {
        "falling"
    } else {
        "level"
    };
    let mut said = vec![
        format!(
            "{}: {}, {direction}.",
            date_and_clock(look.at.0),
            shown.glucose_with_unit(look.mg_dl)
        ),
        format!(
            "{} of yours are alike, on {}: half of them within {}, and within {} of the clock.",
            counted(look.alike.moments as u64, "past moment", "past moments"),
            counted(look.alike.days as u64, "day", "days"),
            shown.glucose_with_unit(look.alike.half_within_mg_dl),
            duration(look.alike.half_within_min)
        ),
    ];
    if !look.only_waiting {
        said.push(
            "No insulin is written down here, so moments in which you waited cannot be told from others: this is what \
             followed, whatever you did."
                .to_owned(),
        );
    }
    said.extend(
        findings
            .insulin_lasts_hours
            .as_ref()
            .and_then(super::insulin_said),
    );
    said
}

/// The chances, and when it turned.
pub fn second_look_chances(findings: &SecondLookFindings, shown: Shown) -> Vec<String> {
    let Some(look) = &findings.look else {
        return Vec::new();
    };
    let (when, top) = (when(look), shown.glucose_with_unit(findings.range_high_mg_dl));
    let mut said = Vec::new();
    if let Some(back) = &look.back {
        said.push(format!(
            "Back at {top} or below within 3 h {when}: {}.",
            chance(back)
        ));
    }
    if let Some(episodes) = look.episodes.filter(|episodes| episodes.of > 0) {
        let only = if look.back.is_some() {
            ""
        } else {
            " More is told from 40 of them on."
        };
        said.push(format!(
            "Of {} above range {when}, {} came back within 3 h.{only}",
            counted(episodes.of as u64, "past episode", "past episodes"),
            episodes.back
        ));
    }
    match &look.low {
        Some(low) => said.push(format!(
            "A low, below {}, within 4 h {when}: {}.",
            shown.glucose_with_unit(findings.range_low_mg_dl),
            chance(low)
        )),
        None => {
            said.push("It is low now: that is for treating as you were taught, not for waiting.".to_owned())
        }
    }
    if let Some(minutes) = look.turn_min {
        let turned = if look.mg_dl_per_min > 0.0 {
            "highest"
        } else {
            "lowest"
        };
        said.push(if minutes < 1.0 {
            format!("In the middle case it was at its {turned} already.")
        } else {
            format!("It was {turned} after {} in the middle case.", duration(minutes))
        });
    }
    match &look.corrected {
        Some(corrected) => {
            let low = corrected.low.as_ref().map_or(String::new(), |low| {
                format!("; a low followed within 4 h in {}", chance(low))
            });
            let back = corrected.back.as_ref().map_or(String::new(), |back| {
                format!("; glucose was back in range within 3 h in {}", chance(back))
            });
            said.push(format!(
                "In {} alike, on {}, a correction was taken{back}{low}. You chose when to take one: the two cannot be \
                 compared as if by lot.",
                counted(corrected.moments as u64, "other moment", "other moments"),
                counted(corrected.days as u64, "day", "days")
            ));
        }
        None if look.only_waiting => said.push(format!(
            "Too few alike in which a correction was taken: {}; 10 are needed.",
            look.corrected_moments
        )),
        None => {}
    }
    said
}

/// The same in blood, by the estimate; nothing where there is no look.
pub fn second_look_blood(findings: &SecondLookFindings, shown: Shown) -> Vec<String> {
    if findings.look.is_none() {
        return Vec::new();
    }
    let Some(blood) = &findings.blood else {
        let reason = findings.blood_reason.as_deref().unwrap_or("it cannot be told");
        return vec![format!("What blood did cannot be told: {reason}.")];
    };
    let Some(two) = blood.fan.iter().find(|point| point.minutes == 120) else {
        return vec!["What blood did is not known.".to_owned()];
    };
    let mut said = vec![format!(
        "Blood was probably about {}. Two hours after moments like it, half of what followed in blood lay between {} and {}, eight \
         tenths between {} and {}.",
        shown.glucose_with_unit(blood.mg_dl),
        shown.glucose(two.p25_mg_dl),
        shown.glucose(two.p75_mg_dl),
        shown.glucose(two.p10_mg_dl),
        shown.glucose_with_unit(two.p90_mg_dl)
    )];
    if let Some(low) = &blood.low {
        said.push(format!("A low in blood within 4 h: {}.", chance(low)));
    }
    said.push(format!(
        "That is the estimate from your sensors and {}: the sensor's delay and scale undone as far as they are known, and what is \
         not known within the bands. A blood check settles it.",
        counted(blood.checks as u64, "blood check", "blood checks")
    ));
    said
}

/// The fan as a table.
pub fn second_look_fan(fan: &[FanLine], shown: Shown) -> Table {
    let names = [
        "After",
        "10 % below",
        "25 % below",
        "middle",
        "25 % above",
        "10 % above",
    ];
    let row = |at: &FanLine| {
        let values = [
            at.p10_mg_dl,
            at.p25_mg_dl,
            at.p50_mg_dl,
            at.p75_mg_dl,
            at.p90_mg_dl,
        ];
        let mut row = vec![duration(f64::from(at.minutes))];
        row.extend(values.map(|value| shown.glucose(value)));
        row
    };
    let heads = names.map(|name| (name, name != "After"));
    Table::new("second-look", &heads, fan.iter().map(row).collect())
}

/// How well it would have been told.
pub fn second_look_score(score: &SecondLookScore) -> (Vec<String>, Table) {
    let mut said = vec![
        format!(
            "{} on {}, each day told from the days before it alone. In {} of them too few were alike, and you would have been \
             told so; they are scored all the same.",
            counted(score.moments, "moment", "moments"),
            counted(score.days, "day", "days"),
            score.too_few_alike
        ),
        "Skill in percent: how much smaller the error of the middle (root mean square) and of the fan (CRPS) are than those of \
         glucose staying as it is, and the error of the middle than that of your own mean at that hour. In band: outcomes \
         within the 80 % band."
            .to_owned(),
    ];
    let names = [
        "After",
        "told",
        "skill",
        "of the fan",
        "to the clock",
        "in band, %",
    ];
    let better = |own: f64, other: f64| {
        if other > 0.0 {
            format!("{:.1}", 100.0 * (1.0 - own / other))
        } else {
            "–".to_owned()
        }
    };
    let row = |at: &ScoreLine| {
        vec![
            duration(f64::from(at.minutes)),
            at.moments.to_string(),
            better(at.rmse_mg_dl, at.rmse_persistence_mg_dl),
            better(at.crps_mg_dl, at.crps_persistence_mg_dl),
            better(at.rmse_mg_dl, at.rmse_clock_mg_dl),
            format!("{:.1}", at.covered_percent),
        ]
    };
    let rows = score.horizons.iter().map(row).collect();
    let table = Table::new(
        "second-look-score",
        &names.map(|name| (name, name != "After")),
        rows,
    );
    for (name, of) in [
        ("Back in range within 3 h, once an episode", &score.episodes),
        ("A low within 4 h", &score.low),
    ] {
        if of.told > 0 {
            said.push(format!(
                "{name}: told {} times, came {}; the chance was {} % nearer than your own rate until then, {} % than the rate \
                 known only afterwards.",
                of.told,
                of.came,
                better(of.brier, of.brier_past_rate),
                better(of.brier, of.brier_rate_afterwards)
            ));
        }
    }
    (said, table)
}
