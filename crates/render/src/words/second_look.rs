//! A second look in words.

use interstice_findings::second_look::{ChanceLine, FanLine, ScoreLine, SecondLookFindings, SecondLookScore};
use interstice_tongue::say;

use super::now::reason_or_untold;
use super::{Shown, Table, date_and_clock, duration, percent, rounded};

/// '62 % (48 to 74)', with 95 % confidence.
fn chance(chance: &ChanceLine) -> String {
    say!(
        "look-chance",
        percent = percent(chance.percent),
        low = percent(chance.percent_lo95),
        high = percent(chance.percent_hi95)
    )
}

/// What stands first: the moment, and how many past ones are alike.
pub fn second_look_moment(findings: &SecondLookFindings, shown: Shown) -> Vec<String> {
    let Some(look) = &findings.look else {
        let reason = reason_or_untold(findings.look_reason.as_ref());
        let when = date_and_clock(findings.asked.0);
        return vec![say!("look-none-at", when = when, reason = reason)];
    };
    let way = if look.mg_dl_per_min >= 0.2 {
        "rising"
    } else if look.mg_dl_per_min <= -0.2 {
        "falling"
    } else {
        "level"
    };
    let mut said = vec![
        say!(
            "look-moment",
            way = way,
            when = date_and_clock(look.at.0),
            glucose = shown.glucose_with_unit(look.mg_dl)
        ),
        say!(
            "look-alike",
            moments = look.alike.moments,
            days = say!("look-days", days = look.alike.days),
            glucose = shown.glucose_with_unit(look.alike.half_within_mg_dl),
            clock = duration(look.alike.half_within_min)
        ),
    ];
    if !look.only_waiting {
        said.push(say!("look-whatever"));
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
    let (waiting, top) = (
        look.only_waiting,
        shown.glucose_with_unit(findings.range_high_mg_dl),
    );
    let mut said = Vec::new();
    if let Some(back) = &look.back {
        said.push(say!(
            "look-back",
            waiting = waiting,
            top = top,
            chance = chance(back)
        ));
    }
    if let Some(episodes) = look.episodes.filter(|episodes| episodes.of > 0) {
        let told = say!(
            "look-episodes",
            waiting = waiting,
            of = episodes.of,
            back = episodes.back
        );
        said.push(if look.back.is_some() {
            told
        } else {
            format!("{told} {}", say!("look-episodes-more"))
        });
    }
    said.push(match &look.low {
        Some(low) => say!(
            "look-low",
            waiting = waiting,
            bound = shown.glucose_with_unit(findings.range_low_mg_dl),
            chance = chance(low)
        ),
        None => say!("look-is-low"),
    });
    if let Some(minutes) = look.turn_min {
        let turn = if look.mg_dl_per_min > 0.0 {
            "highest"
        } else {
            "lowest"
        };
        said.push(if minutes < 1.0 {
            say!("look-turned-already", turn = turn)
        } else {
            say!("look-turned", turn = turn, time = duration(minutes))
        });
    }
    match &look.corrected {
        Some(corrected) => {
            let (low, back) = (corrected.low.as_ref(), corrected.back.as_ref());
            said.push(say!(
                "look-corrected",
                moments = corrected.moments,
                days = say!("look-days", days = corrected.days),
                back = back.map_or_else(String::new, |it| say!("look-corrected-back", chance = chance(it))),
                low = low.map_or_else(String::new, |it| say!("look-corrected-low", chance = chance(it)))
            ));
        }
        None if look.only_waiting => {
            said.push(say!("look-corrected-few", moments = look.corrected_moments));
        }
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
        let reason = reason_or_untold(findings.blood_reason.as_ref());
        return vec![say!("look-blood-untold", reason = reason)];
    };
    let Some(two) = blood.fan.iter().find(|point| point.minutes == 120) else {
        return vec![say!("look-blood-unknown")];
    };
    let mut said = vec![say!(
        "look-blood",
        blood = shown.glucose_with_unit(blood.mg_dl),
        half_low = shown.glucose(two.p25_mg_dl),
        half_high = shown.glucose(two.p75_mg_dl),
        low = shown.glucose(two.p10_mg_dl),
        high = shown.glucose_with_unit(two.p90_mg_dl)
    )];
    if let Some(low) = &blood.low {
        said.push(say!("look-blood-low", chance = chance(low)));
    }
    said.push(say!("look-blood-basis", checks = blood.checks));
    said
}

/// The fan as a table.
pub fn second_look_fan(fan: &[FanLine], shown: Shown) -> Table {
    let names = [
        say!("look-fan-after"),
        say!("look-fan-p10"),
        say!("look-fan-p25"),
        say!("look-fan-p50"),
        say!("look-fan-p75"),
        say!("look-fan-p90"),
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
    Table::new(
        "second-look",
        &numbers_after_first(&names),
        fan.iter().map(row).collect(),
    )
}

/// Heads of a table whose first column has words and whose others have numbers.
fn numbers_after_first(names: &[String]) -> Vec<(&str, bool)> {
    let named = names.iter().enumerate();
    named.map(|(place, name)| (name.as_str(), place > 0)).collect()
}

/// How well it would have been told.
pub fn second_look_score(score: &SecondLookScore) -> (Vec<String>, Table) {
    let mut said = vec![
        say!(
            "look-score",
            moments = score.moments,
            days = say!("look-days", days = score.days),
            few = score.too_few_alike
        ),
        say!("look-score-basis"),
    ];
    let names = [
        say!("look-fan-after"),
        say!("look-score-told"),
        say!("look-score-skill"),
        say!("look-score-fan"),
        say!("look-score-clock"),
        say!("look-score-band"),
    ];
    let better = |own: f64, other: f64| {
        if other > 0.0 {
            rounded(100.0 * (1.0 - own / other), 1)
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
            rounded(at.covered_percent, 1),
        ]
    };
    let rows = score.horizons.iter().map(row).collect();
    let table = Table::new("second-look-score", &numbers_after_first(&names), rows);
    for (what, of) in [("back", &score.episodes), ("low", &score.low)] {
        if of.told > 0 {
            said.push(say!(
                "look-score-chance",
                what = what,
                told = of.told,
                came = of.came,
                past = better(of.brier, of.brier_past_rate),
                afterwards = better(of.brier, of.brier_rate_afterwards)
            ));
        }
    }
    (said, table)
}
