//! The account of blood checks by themselves, in words and tables.

use interstice_findings::{CheckFindings, CheckPartLine};
use interstice_tongue::say;

use super::{Range, Shown, Table, clock, percent, percent_figure, plain, rounded, tenths_percent};

/// What an account of checks is not.
pub fn checks_said() -> String {
    say!("checks-said")
}

/// The answer in a sentence.
pub fn checks_answer(findings: &CheckFindings) -> String {
    let summary = &findings.summary;
    if findings.checks == 0 {
        return say!("checks-none");
    }
    say!(
        "checks-answer",
        checks = findings.checks,
        days = say!("time-days", days = findings.days_with_checks),
        within = share(&summary.in_range_percent),
        below = share(&summary.below_percent),
        above = share(&summary.above_percent)
    )
}

fn share(figure: &interstice_findings::Figure) -> String {
    figure.value.map_or_else(
        || say!("checks-unknown-part"),
        |value| format!("{} %", percent(value)),
    )
}

/// How many there are to go on.
pub fn checks_basis(findings: &CheckFindings) -> String {
    let (with, days) = (findings.days_with_checks, findings.window.days);
    let told = match findings.checks_per_day {
        Some(a_day) => say!(
            "checks-basis-a-day",
            with = with,
            days = days,
            a_day = rounded(a_day, 1)
        ),
        None => say!("checks-basis", with = with, days = days),
    };
    match findings.meals {
        0 => told,
        meals => format!("{told} {}", say!("checks-meals", meals = meals)),
    }
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
        &[
            (&say!("checks-of-all"), false),
            (&say!("review-figure-head"), true),
        ],
        vec![
            row(
                say!("checks-in-range", bounds = within(Range::InRange)),
                percent_figure(&summary.in_range_percent),
            ),
            row(
                say!("checks-below", bound = low),
                percent_figure(&summary.below_percent),
            ),
            row(
                format!("   {}", say!("checks-of-it", bounds = within(Range::VeryLow))),
                percent_figure(&summary.very_low_percent),
            ),
            row(
                say!("checks-above", bound = high),
                percent_figure(&summary.above_percent),
            ),
            row(
                format!("   {}", say!("checks-of-it", bounds = within(Range::VeryHigh))),
                percent_figure(&summary.very_high_percent),
            ),
            row(say!("measure-mean"), shown.glucose_figure(&summary.mean_mg_dl)),
            row(say!("checks-sd"), shown.glucose_figure(&summary.sd_mg_dl)),
            row(say!("checks-cv"), tenths_percent(&summary.cv_percent)),
            row(say!("checks-lowest"), extreme(findings.lowest_mg_dl)),
            row(say!("checks-highest"), extreme(findings.highest_mg_dl)),
            row(say!("checks-lbgi"), plain(&summary.lbgi, 1)),
            row(say!("checks-hbgi"), plain(&summary.hbgi, 1)),
        ],
    )
}

/// The four quarters of the day.
pub fn checks_by_clock(findings: &CheckFindings, shown: Shown) -> Table {
    let row = |line: &CheckPartLine| {
        let middle = match (line.p25_mg_dl, line.p50_mg_dl, line.p75_mg_dl) {
            (Some(first), Some(middle), Some(third)) => say!(
                "number-with-margin",
                value = shown.glucose(middle),
                low = shown.glucose(first),
                high = shown.glucose(third)
            ),
            _ => say!("checks-too-few"),
        };
        vec![
            say!(
                "number-span",
                low = clock(60 * line.from_hour),
                high = clock_end(line.from_hour + 6)
            ),
            line.checks.to_string(),
            line.below.to_string(),
            line.above.to_string(),
            middle,
        ]
    };
    let middle = say!("checks-middle", unit = shown.unit.symbol());
    Table::new(
        "checks-by-clock",
        &[
            (&say!("review-clock"), false),
            (&say!("checks-head"), true),
            (&say!("review-day-below"), true),
            (&say!("review-day-above"), true),
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
