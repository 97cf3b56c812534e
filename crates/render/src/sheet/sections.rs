//! The rest of the sheet: each part a title, a sentence or three, and a table.

use interstice_findings::swings::{LowsTreatedLine, SwingTally};
use interstice_findings::trust::GroupLine;
use interstice_findings::visit::{Hba1cLine, LostLine, PartOfDay};
use interstice_findings::{Figure, VisitFindings};
use interstice_glucose::{counted, round_half_up};

use super::measures::signed_tenths;
use super::{Note, Section};
use crate::words::{
    Shown, Table, amount, clock, date, dawn_said, insulin_logged, insulin_table, percent, percent_figure,
    repeated_table, short_day, signed, swing_kind, swings_answer, tenths_percent, timing_said,
};

pub(super) fn all(findings: &VisitFindings, shown: Shown) -> Vec<Section> {
    vec![
        swings(findings),
        day(findings, shown),
        insulin(findings),
        meals(findings, shown),
        trust(findings, shown),
        sensors(findings),
        hba1c(findings),
    ]
}

fn swings(findings: &VisitFindings) -> Section {
    let tally = &findings.review.swings.swing_tally;
    let rows: Vec<Vec<String>> = tally
        .kinds
        .iter()
        .filter(|kind| kind.swings > 0)
        .map(|kind| {
            let per_week = kind
                .rate
                .per_week
                .map_or_else(|| "–".to_owned(), |rate| round_half_up(rate, 1));
            vec![capital(&swing_kind(kind.kind)), kind.swings.to_string(), per_week]
        })
        .collect();
    let mut after: Vec<String> = usual_hours(tally).into_iter().collect();
    if tally.pause_was_enough > 0 {
        after.push(format!(
            "In {} of {} what followed shows that the high or low was over before the next dose or bite can have acted.",
            tally.pause_was_enough, tally.swings
        ));
    }
    after.extend(treated(&findings.review.swings.lows_treated));
    Section {
        id: "swings",
        title: "Swings and what started them",
        notes: vec![Note::Swings],
        said: vec![if tally.swings == 0 {
            "None was found: no low, high, dose and meal that fed each other.".to_owned()
        } else {
            swings_answer(tally)
        }],
        table: (!rows.is_empty()).then(|| {
            Table::new(
                "swings",
                &[("What fed what", false), ("Swings", true), ("A week", true)],
                rows,
            )
        }),
        after,
    }
}

/// When most of them begin, where that is more than chance.
fn usual_hours(tally: &SwingTally) -> Option<String> {
    let usual = tally.usual_hours.filter(|usual| usual.by_chance < 0.05)?;
    Some(format!(
        "Most begin between {} and {}: {} of {}.",
        clock(60 * usual.from_hour),
        clock(60 * ((usual.from_hour + usual.hours) % 24)),
        usual.swings,
        tally.swings
    ))
}

/// What was eaten against lows, where enough was counted.
fn treated(lows: &LowsTreatedLine) -> Option<String> {
    let grams = lows.grams?;
    let whole = |grams: f64| round_half_up(grams, 0);
    Some(format!(
        "Against lows {} g as a rule (half of the time {} to {}); first aid is 15 to 20 g, then a quarter of an hour's wait \
         (American Diabetes Association).",
        whole(grams.p50),
        whole(grams.p25),
        whole(grams.p75)
    ))
}

/// A capital first.
fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        format!("{}{}", first.to_uppercase(), letters.as_str())
    })
}

fn day(findings: &VisitFindings, shown: Shown) -> Section {
    let nights = &findings.nights;
    let span = format!(
        "{} to {}",
        clock(nights.from_minute.into()),
        clock(u32::from(nights.to_minute) % 1440)
    );
    let mut said = Vec::new();
    if nights.nights > 0 {
        let summary = &nights.summary;
        said.push(format!(
            "Nights, {span}: {} in range, {} below, {} above.",
            percent_figure_or(&summary.in_range_percent),
            percent_figure_or(&summary.below_percent),
            percent_figure_or(&summary.above_percent)
        ));
        let left_out = match nights.left_out {
            0 => String::new(),
            count => format!(
                "; {} more left out as probable pressure",
                counted(u64::from(count), "low", "lows")
            ),
        };
        said.push(format!(
            "A low began in {} of {} nights, below {} in {}{left_out}.",
            nights.with_low,
            nights.nights,
            shown.glucose_with_unit(findings.review.targets.very_low_below_mg_dl),
            nights.with_very_low
        ));
    }
    let dawn = &findings.review.patterns.dawn;
    if dawn.rise_mg_dl.is_some() {
        let told = dawn_said(dawn, shown);
        let told = told.split(" Nights left out").next().unwrap_or(&told);
        said.push(told.to_owned());
    }
    let row = |part: &PartOfDay| {
        let share = |value: Option<f64>| {
            value.map_or_else(|| "–".to_owned(), |value| format!("{} %", percent(value)))
        };
        let to = if part.to_minute == 1440 {
            "24:00".to_owned()
        } else {
            clock(part.to_minute.into())
        };
        vec![
            format!("{} to {to}", clock(part.from_minute.into())),
            share(part.below_percent),
            share(part.above_percent),
            share(part.of_all_below_percent),
            share(part.of_all_above_percent),
        ]
    };
    Section {
        id: "day",
        title: "Nights and times of day",
        notes: vec![Note::Pressure, Note::Episodes],
        said,
        table: Some(Table::new(
            "day",
            &[
                ("Clock", false),
                ("Below", true),
                ("Above", true),
                ("Of all below", true),
                ("Of all above", true),
            ],
            findings.parts.iter().map(row).collect(),
        )),
        after: Vec::new(),
    }
}

fn percent_figure_or(figure: &Figure) -> String {
    if figure.value.is_some() {
        percent_figure(figure)
    } else {
        "–".to_owned()
    }
}

fn insulin(findings: &VisitFindings) -> Section {
    Section {
        id: "insulin",
        title: "Insulin as it was logged",
        notes: vec![Note::Insulin],
        said: vec![insulin_logged(&findings.insulin, findings.review.window.days)],
        table: insulin_table(&findings.insulin),
        after: Vec::new(),
    }
}

fn meals(findings: &VisitFindings, shown: Shown) -> Section {
    let meals = &findings.review.meals;
    let table = repeated_table(meals, shown);
    let rows: Vec<Vec<String>> = table
        .rows
        .into_iter()
        .map(|row| {
            let [name, times, grams, _, expected, _] = <[String; 6]>::try_from(row).unwrap_or_default();
            vec![name, times, grams, expected]
        })
        .collect();
    let rise = format!("Rise, {}", shown.unit);
    let followed = meals.meals.len() as u64;
    let mut said = vec![match followed {
        0 => "No meal was logged that could be followed.".to_owned(),
        _ => format!(
            "{} followed.",
            counted(followed, "logged meal was", "logged meals were")
        ),
    }];
    if meals.meal_timing.per_ten_min_mg_dl.is_some() {
        let told = timing_said(&meals.meal_timing, shown);
        said.push(told.split(" It says").next().unwrap_or(&told).to_owned());
    }
    Section {
        id: "meals",
        title: "Meals eaten again and again",
        notes: vec![Note::Meals],
        said,
        table: (!rows.is_empty()).then(|| {
            Table::new(
                "meals",
                &[("Meal", false), ("Times", true), ("Grams", true), (&rise, true)],
                rows,
            )
        }),
        after: Vec::new(),
    }
}

fn trust(findings: &VisitFindings, shown: Shown) -> Section {
    let mut section = Section {
        id: "trust",
        title: "How far to trust the sensor",
        notes: vec![Note::Trust],
        said: Vec::new(),
        table: None,
        after: Vec::new(),
    };
    let Some(trust) = findings.trust.as_ref().filter(|trust| trust.counts.pairs > 0) else {
        section.said.push(
            "No blood check stands beside a reading: how far the sensors are off is not known.".to_owned(),
        );
        return section;
    };
    let all = GroupLine {
        pairs: trust.counts.pairs,
        mard_percent: trust.agreement.mard_percent.clone(),
        bias_mg_dl: trust.agreement.bias_mg_dl.clone(),
        within_15: trust.agreement.share(15.0).cloned().unwrap_or_default(),
        ..GroupLine::default()
    };
    let row = |name: &str, line: &GroupLine| {
        let figure = |figure: &Figure, write: &dyn Fn(&Figure) -> String| {
            if figure.value.is_some() {
                write(figure)
            } else {
                "–".to_owned()
            }
        };
        vec![
            name.to_owned(),
            line.pairs.to_string(),
            figure(&line.mard_percent, &tenths_percent),
            figure(&line.bias_mg_dl, &|figure| signed_figure(figure, shown)),
            line.within_15
                .percent
                .value
                .map_or_else(|| "–".to_owned(), |value| format!("{} %", percent(value))),
        ]
    };
    let bias = format!("Bias, {}", shown.unit);
    section.said.push(format!(
        "{} of blood and sensor on {}, over the whole book.",
        counted(trust.counts.pairs, "pair", "pairs"),
        counted(trust.counts.sensors, "sensor", "sensors")
    ));
    section.table = Some(Table::new(
        "trust",
        &[
            ("Group", false),
            ("Pairs", true),
            ("MARD", true),
            (&bias, true),
            ("Within 15", true),
        ],
        vec![
            row("All", &all),
            row("First day", &trust.first_day),
            row("Later", &trust.later_days),
            row("Falling", &trust.falling),
            row("Rising", &trust.rising),
        ],
    ));
    let lag = &trust.lag;
    if let (Some(min), Some(lo), Some(hi)) = (lag.lag_min, lag.lag_min_lo90, lag.lag_min_hi90) {
        section.after.push(format!(
            "About {} min behind blood (90 %: {} to {}).",
            round_half_up(min, 0),
            round_half_up(lo, 0),
            round_half_up(hi, 0)
        ));
    }
    section
        .after
        .push("To discount: the first day of a sensor, lows at night that look like pressure, and readings while glucose moves fast.".to_owned());
    section
}

fn signed_figure(figure: &Figure, shown: Shown) -> String {
    let value = figure
        .value
        .map_or_else(String::new, |value| signed(value, shown));
    let margin = figure.lo95.zip(figure.hi95).map_or_else(String::new, |(lo, hi)| {
        format!(" ({} to {})", signed(lo, shown), signed(hi, shown))
    });
    format!("{value}{margin}")
}

fn sensors(findings: &VisitFindings) -> Section {
    let used = &findings.sensors;
    let sites: Vec<String> = used
        .sites
        .iter()
        .map(|site| match site.site.as_str() {
            "not told" => format!("site not told {}", site.sensors),
            told => format!("{told} {}", site.sensors),
        })
        .collect();
    let lost = used.lost.len();
    let said = match used.worn {
        0 => "No sensor is known to have been worn.".to_owned(),
        worn => format!(
            "{} worn, {} started in this window ({}); {}.",
            counted(u64::from(worn), "sensor was", "sensors were"),
            used.started,
            sites.join(", "),
            match lost {
                0 => "none was lost".to_owned(),
                lost => format!("{lost} lost"),
            }
        ),
    };
    let row = |line: &LostLine| {
        vec![
            short_day(line.ended.0),
            line.sensor_id.clone().unwrap_or_else(|| "unnamed".to_owned()),
            line.site.clone().unwrap_or_else(|| "–".to_owned()),
            line.ending.to_owned(),
            format!("{} d", amount(round_tenth(line.days_worn))),
        ]
    };
    Section {
        id: "sensors",
        title: "Sensors used and lost",
        notes: vec![Note::Lost],
        said: vec![said],
        table: (lost > 0).then(|| {
            Table::new(
                "lost",
                &[
                    ("Ended", false),
                    ("Sensor", false),
                    ("Site", false),
                    ("How", false),
                    ("Worn", true),
                ],
                used.lost.iter().rev().map(row).collect(),
            )
        }),
        after: Vec::new(),
    }
}

fn round_tenth(value: f64) -> f64 {
    (10.0 * value).round() / 10.0
}

fn hba1c(findings: &VisitFindings) -> Section {
    let row = |line: &Hba1cLine| {
        vec![
            date(&line.date),
            both_scales(line),
            line.gmi_percent
                .map_or_else(|| "–".to_owned(), |gmi| format!("{} %", round_half_up(gmi, 1))),
            line.gap_points.map_or_else(|| "–".to_owned(), signed_tenths),
        ]
    };
    let said = if findings.hba1c.is_empty() {
        "No laboratory HbA1c is written down.".to_owned()
    } else {
        let missing = findings
            .hba1c
            .iter()
            .filter(|line| line.gmi_percent.is_none())
            .count();
        match missing {
            0 => "The laboratory's HbA1c beside GMI of the 90 days before it.".to_owned(),
            missing => format!(
                "The laboratory's HbA1c beside GMI of the 90 days before it; too few readings beside {missing} of {}.",
                findings.hba1c.len()
            ),
        }
    };
    Section {
        id: "hba1c",
        title: "Laboratory HbA1c beside GMI",
        notes: vec![Note::Gmi, Note::Hba1c],
        said: vec![said],
        table: (!findings.hba1c.is_empty()).then(|| {
            Table::new(
                "hba1c",
                &[
                    ("Taken", false),
                    ("HbA1c", true),
                    ("GMI", true),
                    ("Gap, points", true),
                ],
                findings.hba1c.iter().map(row).collect(),
            )
        }),
        after: Vec::new(),
    }
}

/// '7.1 % (54 mmol/mol)', as the laboratory said it first.
fn both_scales(line: &Hba1cLine) -> String {
    if line.said.ends_with('%') {
        format!(
            "{} ({} mmol/mol)",
            line.said,
            round_half_up(line.hba1c_mmol_mol, 0)
        )
    } else {
        format!("{} ({} %)", line.said, round_half_up(line.hba1c_percent, 1))
    }
}
