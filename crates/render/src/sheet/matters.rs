//! What stands first, in sentences with their evidence.

use interstice_findings::patterns::EventName;
use interstice_findings::visit::{MATTERS_TOLD, MatterName, PartOfDay};
use interstice_findings::{EpisodeKind, Figure, VisitFindings};
use interstice_glucose::{counted, round_half_up};

use super::measures::{changed_by, signed_tenths};
use crate::words::{
    Shown, Standing, clock, date, duration, percent, percent_figure, percent_of_day, swing_kind,
};

/// One of them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MatterSaid {
    /// In a word or two.
    pub title: &'static str,
    /// The sentence.
    pub sentence: String,
    /// What it rests on.
    pub evidence: String,
}

pub(super) fn said(findings: &VisitFindings, shown: Shown) -> Vec<MatterSaid> {
    let told = findings.matters.iter().take(MATTERS_TOLD);
    told.map(|line| {
        let (title, sentence, evidence) = match line.matter {
            MatterName::TooLittle => too_little(findings),
            MatterName::Lows => lows(findings, shown),
            MatterName::Highs => highs(findings, shown),
            MatterName::Swings => swings(findings),
            MatterName::Pressure => pressure(findings),
            MatterName::Change => change(findings),
            MatterName::InRange => in_range(findings, shown),
        };
        MatterSaid {
            title,
            sentence,
            evidence,
        }
    })
    .collect()
}

type Said = (&'static str, String, String);

fn share(figure: &Figure) -> String {
    figure
        .value
        .map_or_else(|| "–".to_owned(), |value| format!("{} %", percent(value)))
}

fn a_day(figure: &Figure) -> String {
    figure.value.map_or_else(String::new, |value| {
        format!(", {} of an average day", duration(percent_of_day(value)))
    })
}

fn held(bound: Option<f64>, word: &str, standing: Standing) -> String {
    match bound {
        Some(bound) if standing != Standing::None => {
            format!(
                "; target {word} {} %: {}",
                round_half_up(bound, 0),
                standing.words()
            )
        }
        _ => String::new(),
    }
}

fn too_little(findings: &VisitFindings) -> Said {
    let review = &findings.review;
    let reason = review
        .sufficiency
        .reason
        .as_deref()
        .unwrap_or("there are too few readings");
    (
        "Too few readings",
        format!("All below rests on too little to call it usual: {reason}."),
        "The consensus asks for 14 days or more, with readings for 70 % of the time.".to_owned(),
    )
}

/// Where most of it lies, if any quarter stands out: more than a third of it. (A quarter of it would lie in each.)
fn where_most(parts: &[PartOfDay], of: fn(&PartOfDay) -> Option<f64>) -> Option<String> {
    let most = parts
        .iter()
        .max_by(|a, b| of(a).unwrap_or(0.0).total_cmp(&of(b).unwrap_or(0.0)))?;
    let share = of(most).filter(|&share| share > 100.0 / 3.0)?;
    Some(format!(
        "{} % of that time lies between {} and {}",
        percent(share),
        clock(most.from_minute.into()),
        if most.to_minute == 1440 {
            "24:00".to_owned()
        } else {
            clock(most.to_minute.into())
        }
    ))
}

fn pattern(findings: &VisitFindings, event: EventName) -> Option<String> {
    let mut all = findings.review.patterns.patterns.iter();
    let found = all.find(|pattern| pattern.event == event && pattern.days_kind == "all")?;
    Some(format!(
        "it comes again between {} and {}, on {} of {} days",
        clock(found.from_minute),
        clock((found.from_minute + found.minutes) % 1440),
        found.days_with,
        found.days
    ))
}

fn together(parts: Vec<String>) -> String {
    let text = parts.join("; ");
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        format!("{}{}.", first.to_uppercase(), letters.as_str())
    })
}

fn episodes(findings: &VisitFindings, kind: EpisodeKind) -> (u64, u64, u64) {
    let all = findings
        .review
        .episodes
        .iter()
        .filter(|episode| episode.kind == kind);
    all.fold((0, 0, 0), |(all, serious, lasting), episode| {
        (
            all + 1,
            serious + u64::from(episode.level > 1),
            lasting + u64::from(episode.extended),
        )
    })
}

fn lows(findings: &VisitFindings, shown: Shown) -> Said {
    let (review, targets) = (&findings.review, &findings.review.targets);
    let summary = &review.summary;
    let standing = Standing::under(&summary.below_percent, targets.below_under_percent).of(review);
    let mut parts = Vec::new();
    let (all, serious, _) = episodes(findings, EpisodeKind::Low);
    parts.push(format!(
        "{}, {serious} of them below {}",
        counted(all, "low", "lows"),
        shown.glucose_with_unit(targets.very_low_below_mg_dl)
    ));
    if let Some(without) = &findings.without_pressure {
        let (with, out) = (
            share(&summary.below_percent),
            share(&without.summary.below_percent),
        );
        if with != out {
            parts.push(format!("{out} without probable pressure on the sensor"));
        }
    }
    parts.extend(where_most(&findings.parts, |part| part.of_all_below_percent));
    parts.extend(pattern(findings, EventName::Low));
    (
        "Lows",
        format!(
            "{} of the time below {}{}{}. Below {}: {}{}.",
            share(&summary.below_percent),
            shown.glucose_with_unit(targets.range_low_mg_dl),
            a_day(&summary.below_percent),
            held(Some(targets.below_under_percent), "under", standing),
            shown.glucose(targets.very_low_below_mg_dl),
            share(&summary.very_low_percent),
            held(
                targets.very_low_under_percent,
                "under",
                targets
                    .very_low_under_percent
                    .map_or(Standing::None, |bound| Standing::under(
                        &summary.very_low_percent,
                        bound
                    )
                    .of(review))
            )
        ),
        together(parts),
    )
}

fn highs(findings: &VisitFindings, shown: Shown) -> Said {
    let (review, targets) = (&findings.review, &findings.review.targets);
    let summary = &review.summary;
    let standing = targets.above_under_percent.map_or(Standing::None, |bound| {
        Standing::under(&summary.above_percent, bound).of(review)
    });
    let mut parts = Vec::new();
    let (all, serious, lasting) = episodes(findings, EpisodeKind::High);
    let lasting = match lasting {
        0 => String::new(),
        lasting => format!(", {lasting} lasting"),
    };
    parts.push(format!(
        "{}, {serious} of them above {}{lasting}",
        counted(all, "high", "highs"),
        shown.glucose_with_unit(targets.very_high_above_mg_dl)
    ));
    parts.extend(where_most(&findings.parts, |part| part.of_all_above_percent));
    parts.extend(pattern(findings, EventName::High));
    (
        "Highs",
        format!(
            "{} of the time above {}{}{}. Above {}: {}.",
            share(&summary.above_percent),
            shown.glucose_with_unit(targets.range_high_mg_dl),
            a_day(&summary.above_percent),
            held(targets.above_under_percent, "under", standing),
            shown.glucose(targets.very_high_above_mg_dl),
            share(&summary.very_high_percent)
        ),
        together(parts),
    )
}

fn swings(findings: &VisitFindings) -> Said {
    let tally = &findings.review.swings.swing_tally;
    let tenths = |value: f64| round_half_up(value, 1);
    let rate = tally.rate.per_week.map_or_else(String::new, |per_week| {
        let margin = tally
            .rate
            .lo95
            .zip(tally.rate.hi95)
            .map_or_else(String::new, |(lo, hi)| {
                format!(" ({} to {})", tenths(lo), tenths(hi))
            });
        format!(", {} a week{margin}", tenths(per_week))
    });
    let mut parts = Vec::new();
    if let Some(most) = tally
        .kinds
        .iter()
        .max_by_key(|kind| kind.swings)
        .filter(|kind| kind.swings > 0)
    {
        parts.push(format!(
            "most often {}: {} of {}",
            swing_kind(most.kind),
            most.swings,
            tally.swings
        ));
    }
    if let Some((low, high)) = tally.low_hours_per_week.zip(tally.high_hours_per_week) {
        parts.push(format!(
            "they brought {} h low and {} h high a week",
            tenths(low),
            tenths(high)
        ));
    }
    (
        "Swings",
        format!(
            "{}{rate}: lows, highs and what was done about them that fed each other.",
            counted(tally.swings, "swing", "swings")
        ),
        together(parts),
    )
}

fn pressure(findings: &VisitFindings) -> Said {
    let Some(without) = &findings.without_pressure else {
        return ("Pressure", String::new(), String::new());
    };
    let out = &without.left_out;
    let mut parts = vec![format!(
        "{}, {} in nights, {} of readings",
        counted(out.possible + out.said, "such low", "such lows"),
        findings.nights.left_out,
        duration(out.minutes)
    )];
    if out.said > 0 {
        parts.push(format!("{} said to be pressure by the wearer", out.said));
    }
    if out.kept_real > 0 {
        parts.push(format!(
            "{} that look like it are counted, said to be real",
            out.kept_real
        ));
    }
    (
        "Pressure on the sensor",
        format!(
            "Without lows that are probably pressure on the sensor, {} of the time is below range, not {}.",
            share(&without.summary.below_percent),
            share(&findings.review.summary.below_percent)
        ),
        together(parts),
    )
}

fn change(findings: &VisitFindings) -> Said {
    let change = &findings.change;
    let since = change.since.as_deref().map_or_else(String::new, date);
    let line = |name: &str| {
        change
            .of(name)
            .map_or_else(|| "–".to_owned(), |line| changed_by(line, signed_tenths))
    };
    let points = change.points.unwrap_or(0.0);
    (
        "Since the last visit",
        format!(
            "Since {since} time in range changed by {} percentage points.",
            line("in_range_percent")
        ),
        together(vec![
            format!(
                "below range {}, above range {}",
                line("below_percent"),
                line("above_percent")
            ),
            format!(
                "weighed together {} by {} points of the glycaemia risk index",
                if points < 0.0 { "better" } else { "worse" },
                round_half_up(points.abs(), 1)
            ),
        ]),
    )
}

fn in_range(findings: &VisitFindings, shown: Shown) -> Said {
    let review = &findings.review;
    let summary = &review.summary;
    let over = review.targets.in_range_over_percent;
    let standing = Standing::over(&summary.in_range_percent, over).of(review);
    (
        "In range",
        format!(
            "{} of the time in range{}.",
            share(&summary.in_range_percent),
            held(Some(over), "over", standing)
        ),
        format!(
            "In range {}; mean {}.",
            percent_figure(&summary.in_range_percent),
            shown.glucose_figure(&summary.mean_mg_dl)
        ),
    )
}
