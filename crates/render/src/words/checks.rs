//! The account of blood checks by themselves, in words and tables.

use interstice_findings::{CheckFindings, CheckPartLine};
use interstice_glucose::{counted, round_half_up};

use super::{Range, Shown, Table, clock, percent, percent_figure, plain, tenths_percent};

/// What an account of checks is not.
pub const CHECKS_SAID: &str = "There are no sensor readings in these days. What follows is of blood checks, not of time: a check is \
                               made when somebody wants to know, so lows and highs may be found more often than they lasted, \
                               and what came between two checks is not known.";

/// The answer in a sentence.
pub fn checks_answer(findings: &CheckFindings) -> String {
    let summary = &findings.summary;
    if findings.checks == 0 {
        return "There are neither sensor readings nor blood checks in these days.".to_owned();
    }
    format!(
        "Of {} on {}, {} in range, {} below and {} above.",
        counted(findings.checks, "blood check", "blood checks"),
        counted(findings.days_with_checks, "day", "days"),
        share(&summary.in_range_percent),
        share(&summary.below_percent),
        share(&summary.above_percent)
    )
}

fn share(figure: &interstice_findings::Figure) -> String {
    figure.value.map_or_else(
        || "an unknown part".to_owned(),
        |value| format!("{} %", percent(value)),
    )
}

/// How many there are to go on.
pub fn checks_basis(findings: &CheckFindings) -> String {
    let a_day = findings.checks_per_day.map_or_else(String::new, |a_day| {
        format!(", {} a day on them", round_half_up(a_day, 1))
    });
    let meals = match findings.meals {
        0 => String::new(),
        meals => format!(" {} logged.", counted(meals, "meal was", "meals were")),
    };
    format!(
        "{} of {} have checks{a_day}.{meals}",
        findings.days_with_checks,
        counted(findings.window.days, "day", "days")
    )
}

/// Every figure with its margin.
pub fn checks_table(findings: &CheckFindings, shown: Shown) -> Table {
    let (summary, targets) = (&findings.summary, &findings.targets);
    let within = |range: Range| range.bounds(targets, shown);
    let (low, high) = (
        shown.glucose(targets.range_low_mg_dl),
        shown.glucose(targets.range_high_mg_dl),
    );
    let row = |name: String, value: String| vec![name, value];
    let extreme = |value: Option<f64>| value.map_or_else(|| "–".to_owned(), |v| shown.glucose_with_unit(v));
    Table::new(
        "checks",
        &[("Of all checks", false), ("Figure, 95 % margin", true)],
        vec![
            row(
                format!("In range, {}", within(Range::InRange)),
                percent_figure(&summary.in_range_percent),
            ),
            row(
                format!("Below range, below {low}"),
                percent_figure(&summary.below_percent),
            ),
            row(
                format!("   of it {}", within(Range::VeryLow)),
                percent_figure(&summary.very_low_percent),
            ),
            row(
                format!("Above range, above {high}"),
                percent_figure(&summary.above_percent),
            ),
            row(
                format!("   of it {}", within(Range::VeryHigh)),
                percent_figure(&summary.very_high_percent),
            ),
            row("Mean".to_owned(), shown.glucose_figure(&summary.mean_mg_dl)),
            row(
                "Standard deviation".to_owned(),
                shown.glucose_figure(&summary.sd_mg_dl),
            ),
            row("CV".to_owned(), tenths_percent(&summary.cv_percent)),
            row("Lowest".to_owned(), extreme(findings.lowest_mg_dl)),
            row("Highest".to_owned(), extreme(findings.highest_mg_dl)),
            row(
                "LBGI, low blood glucose index".to_owned(),
                plain(&summary.lbgi, 1),
            ),
            row(
                "HBGI, high blood glucose index".to_owned(),
                plain(&summary.hbgi, 1),
            ),
        ],
    )
}

/// The four quarters of the day.
pub fn checks_by_clock(findings: &CheckFindings, shown: Shown) -> Table {
    let row = |line: &CheckPartLine| {
        let middle = match (line.p25_mg_dl, line.p50_mg_dl, line.p75_mg_dl) {
            (Some(first), Some(middle), Some(third)) => format!(
                "{} ({} to {})",
                shown.glucose(middle),
                shown.glucose(first),
                shown.glucose(third)
            ),
            _ => "too few".to_owned(),
        };
        vec![
            format!(
                "{} to {}",
                clock(60 * line.from_hour),
                clock_end(line.from_hour + 6)
            ),
            line.checks.to_string(),
            line.below.to_string(),
            line.above.to_string(),
            middle,
        ]
    };
    let middle = format!("Middle (half between), {}", shown.unit);
    Table::new(
        "checks-by-clock",
        &[
            ("Clock", false),
            ("Checks", true),
            ("Below", true),
            ("Above", true),
            (&middle, true),
        ],
        findings.parts.iter().map(row).collect(),
    )
}

fn clock_end(hour: u32) -> String {
    if hour >= 24 {
        "24:00".to_owned()
    } else {
        clock(60 * hour)
    }
}
