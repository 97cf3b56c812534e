//! A day beside another, in words and tables.

use interstice_findings::DayLine;
use interstice_findings::days::{Beside, BesideFindings, OneDay, UsualBeside};

use super::{Shown, Table, clock, day_extremes, percent, short_date, weekday};

/// 'Fri 20 Mar 2026'.
fn day_name(line: &DayLine) -> String {
    format!("{} {}", weekday(line.weekday), short_date(&line.date))
}

/// What the other is called: a day, or 'the usual day of the 28 days before'.
pub fn beside_name(findings: &BesideFindings) -> [String; 2] {
    let other = match &findings.beside {
        Beside::Day(day) => day_name(&day.line),
        Beside::Usual(usual) => format!(
            "usual, {} to {}",
            short_date(&usual.first),
            short_date(&usual.last)
        ),
    };
    [day_name(&findings.day.line), other]
}

/// The answer in a sentence or two.
pub fn beside_answer(findings: &BesideFindings) -> String {
    let [day, other] = beside_name(findings);
    let range = |share: Option<f64>| {
        share.map_or_else(
            || "without readings".to_owned(),
            |share| format!("{} % in range", percent(share)),
        )
    };
    let beside = match &findings.beside {
        Beside::Day(day) => range(day.line.in_range_percent),
        Beside::Usual(usual) => range(usual.in_range_percent),
    };
    format!(
        "{day}: {}. {}: {beside}.",
        range(findings.day.line.in_range_percent),
        capital(&other)
    )
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters
        .next()
        .map(|first| first.to_uppercase().collect::<String>() + letters.as_str())
        .unwrap_or_default()
}

/// The figures of both, one beside the other.
pub fn beside_figures(findings: &BesideFindings, shown: Shown) -> Table {
    let names = beside_name(findings);
    let share = |value: Option<f64>| value.map_or_else(dash, |value| format!("{} %", percent(value)));
    let glucose = |value: Option<f64>| value.map_or_else(dash, |value| shown.glucose_with_unit(value));
    let of_day = |line: &DayLine| {
        [
            glucose(line.mean_mg_dl),
            share(line.in_range_percent),
            share(line.below_percent),
            share(line.above_percent),
            extremes(line, shown),
            format!("{} %", percent(line.active_percent)),
        ]
    };
    let of_usual = |usual: &UsualBeside| {
        [
            glucose(usual.mean_mg_dl),
            share(usual.in_range_percent),
            share(usual.below_percent),
            share(usual.above_percent),
            dash(),
            format!("{} days", usual.days),
        ]
    };
    let heads = [
        ("Figure", false),
        (names[0].as_str(), true),
        (names[1].as_str(), true),
    ];
    let other = match &findings.beside {
        Beside::Day(day) => of_day(&day.line),
        Beside::Usual(usual) => of_usual(usual),
    };
    let rows = [
        "Mean",
        "In range",
        "Below",
        "Above",
        "Lowest to highest",
        "Measured",
    ]
    .into_iter()
    .zip(of_day(&findings.day.line))
    .zip(other)
    .map(|((name, one), other)| vec![name.to_owned(), one, other])
    .collect();
    Table::new("beside", &heads, rows)
}

fn extremes(line: &DayLine, shown: Shown) -> String {
    match day_extremes(line, shown) {
        none if none == dash() => none,
        both => format!("{both} {}", shown.unit),
    }
}

fn dash() -> String {
    "–".to_owned()
}

/// The picture's own table: the median of each hour.
pub fn beside_hours(findings: &BesideFindings, shown: Shown) -> Table {
    let names = beside_name(findings);
    let unit = shown.unit.symbol();
    let named = |name: &str| format!("{name}, {unit}");
    let value = |value: Option<f64>| value.map_or_else(dash, |value| shown.glucose(value));
    let day_hour = |day: &OneDay, hour: usize| value(day.hours.get(hour).copied().flatten());
    let mut heads = vec![("Hour".to_owned(), false), (named(&names[0]), true)];
    match &findings.beside {
        Beside::Day(_) => heads.push((named(&names[1]), true)),
        Beside::Usual(_) => {
            heads.push((format!("Usual median at half past, {unit}"), true));
            heads.push((format!("Half of usual between, {unit}"), true));
        }
    }
    let rows = (0..24_usize).map(|hour| {
        let start = u32::try_from(hour * 60).unwrap_or(0);
        let mut row = vec![clock(start), day_hour(&findings.day, hour)];
        match &findings.beside {
            Beside::Day(day) => row.push(day_hour(day, hour)),
            Beside::Usual(usual) => {
                let bin = usual.bins.iter().find(|bin| bin.minute == start + 30);
                row.push(value(bin.and_then(|bin| bin.p50_mg_dl)));
                let half = bin.and_then(|bin| bin.p25_mg_dl.zip(bin.p75_mg_dl));
                row.push(half.map_or_else(dash, |(low, high)| {
                    format!("{} to {}", shown.glucose(low), shown.glucose(high))
                }));
            }
        }
        row
    });
    let heads: Vec<(&str, bool)> = heads
        .iter()
        .map(|(name, number)| (name.as_str(), *number))
        .collect();
    Table::new("beside-hours", &heads, rows.collect())
}
