//! The five ranges, their names and their targets.

use interstice_findings::{Figure, ReviewFindings, Targets};

use super::number::percent_figure;
use super::{Shown, hours_minutes, percent_of_day};

/// One of the five ranges.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Range {
    /// Below 54 mg/dL.
    VeryLow,
    /// From 54 mg/dL up to the target range.
    Low,
    /// The target range.
    InRange,
    /// Above the target range up to 250 mg/dL.
    High,
    /// Above 250 mg/dL.
    VeryHigh,
}

impl Range {
    /// All, from low to high.
    pub const ALL: [Range; 5] = [
        Range::VeryLow,
        Range::Low,
        Range::InRange,
        Range::High,
        Range::VeryHigh,
    ];

    /// The style class of its colour.
    pub fn class(self) -> &'static str {
        match self {
            Range::VeryLow => "below2",
            Range::Low => "below1",
            Range::InRange => "within",
            Range::High => "above1",
            Range::VeryHigh => "above2",
        }
    }

    /// Its bounds in words: 'below 54', '54 to 69', '70 to 180', '181 to 250', 'above 250'.
    pub fn bounds(self, targets: &Targets, shown: Shown) -> String {
        let at = |mg_dl: f64| shown.glucose(mg_dl);
        let step = if shown.unit == interstice_glucose::Unit::MgPerDl {
            1.0
        } else {
            1.801_56
        };
        let (very_low, very_high) = (targets.very_low_below_mg_dl, targets.very_high_above_mg_dl);
        match self {
            Range::VeryLow => format!("below {}", at(very_low)),
            Range::Low => format!("{} to {}", at(very_low), at(targets.range_low_mg_dl - step)),
            Range::InRange => format!(
                "{} to {}",
                at(targets.range_low_mg_dl),
                at(targets.range_high_mg_dl)
            ),
            Range::High => format!("{} to {}", at(targets.range_high_mg_dl + step), at(very_high)),
            Range::VeryHigh => format!("above {}", at(very_high)),
        }
    }
}

/// How a figure stands to its target, its margin considered.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standing {
    /// The whole margin meets it.
    Met,
    /// The value meets it or not, but the margin reaches across.
    Unsure,
    /// The whole margin misses it.
    Missed,
    /// There are too few readings to hold anything against a target.
    Early,
    /// No target, or no figure.
    None,
}

impl Standing {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Standing::Met => "met",
            Standing::Unsure => "too close to call",
            Standing::Missed => "not met",
            Standing::Early => "not enough yet",
            Standing::None => "",
        }
    }

    /// In a word or two, for narrow tables.
    pub fn short(self) -> &'static str {
        match self {
            Standing::Unsure => "unsure",
            Standing::Early => "not yet",
            other => other.words(),
        }
    }

    /// Against 'more than `bound`'.
    pub(crate) fn over(figure: &Figure, bound: f64) -> Self {
        Self::compare(figure, |value| value > bound)
    }

    /// Against 'less than `bound`'.
    pub(crate) fn under(figure: &Figure, bound: f64) -> Self {
        Self::compare(figure, |value| value < bound)
    }

    /// Against 'at most `bound`'.
    pub(crate) fn at_most(figure: &Figure, bound: f64) -> Self {
        Self::compare(figure, |value| value <= bound)
    }

    /// The same of an account with enough readings; of another, that there are not enough yet.
    pub(crate) fn of(self, findings: &ReviewFindings) -> Self {
        if self == Standing::None || findings.sufficiency.enough {
            self
        } else {
            Standing::Early
        }
    }

    fn compare(figure: &Figure, meets: impl Fn(f64) -> bool) -> Self {
        let Some(value) = figure.value else {
            return Standing::None;
        };
        let (lo, hi) = (figure.lo95.unwrap_or(value), figure.hi95.unwrap_or(value));
        match (meets(lo), meets(hi)) {
            (true, true) => Standing::Met,
            (false, false) => Standing::Missed,
            _ => Standing::Unsure,
        }
    }
}

/// One line of the table of ranges.
#[derive(Clone, Debug, PartialEq)]
pub struct RangeRow {
    /// The range; `None` for a line that adds two up.
    pub range: Option<Range>,
    /// 'Above range in all', 'Very low'.
    pub name: &'static str,
    /// '181 to 250 mg/dL'.
    pub bounds: String,
    /// '4 h 2 min'.
    pub minutes: String,
    /// '17 % (14 to 20)'.
    pub percent: String,
    /// 'less than 25 % (6 h)', empty where there is none.
    pub target: String,
    /// How it stands to the target.
    pub standing: Standing,
}

/// The table of ranges, highest first, with the sums the targets are set on.
pub fn range_rows(findings: &ReviewFindings, shown: Shown) -> Vec<RangeRow> {
    let (summary, average, targets) = (&findings.summary, &findings.average_day, &findings.targets);
    let part = |range: Range, name, minutes, figure| {
        row(Some(range), name, range.bounds(targets, shown), minutes, figure)
    };
    let (low, high) = (
        shown.glucose(targets.range_low_mg_dl),
        shown.glucose(targets.range_high_mg_dl),
    );
    let sum = |name, bounds, minutes, figure| row(None, name, bounds, minutes, figure);
    let mut rows = vec![
        sum(
            "Above range in all",
            format!("above {high}"),
            average.above_min,
            &summary.above_percent,
        )
        .under(&summary.above_percent, targets.above_under_percent),
        part(
            Range::VeryHigh,
            "very high",
            average.very_high_min,
            &summary.very_high_percent,
        )
        .under(&summary.very_high_percent, targets.very_high_under_percent),
        part(Range::High, "high", average.high_min, &summary.high_percent),
        part(
            Range::InRange,
            "In range",
            average.in_range_min,
            &summary.in_range_percent,
        )
        .over(&summary.in_range_percent, targets.in_range_over_percent),
        sum(
            "Below range in all",
            format!("below {low}"),
            average.below_min,
            &summary.below_percent,
        )
        .under(&summary.below_percent, Some(targets.below_under_percent)),
        part(Range::Low, "low", average.low_min, &summary.low_percent),
        part(
            Range::VeryLow,
            "very low",
            average.very_low_min,
            &summary.very_low_percent,
        )
        .under(&summary.very_low_percent, targets.very_low_under_percent),
    ];
    for row in &mut rows {
        row.standing = row.standing.of(findings);
    }
    rows
}

fn row(
    range: Option<Range>,
    name: &'static str,
    bounds: String,
    minutes: Option<f64>,
    figure: &Figure,
) -> RangeRow {
    RangeRow {
        range,
        name,
        bounds,
        minutes: minutes.map_or_else(|| "–".to_owned(), hours_minutes),
        percent: percent_figure(figure),
        target: String::new(),
        standing: Standing::None,
    }
}

impl RangeRow {
    fn under(mut self, figure: &Figure, bound: Option<f64>) -> Self {
        let Some(bound) = bound else { return self };
        self.target = format!("less than {bound} % ({})", hours_minutes(percent_of_day(bound)));
        self.standing = Standing::under(figure, bound);
        self
    }

    fn over(mut self, figure: &Figure, bound: f64) -> Self {
        self.target = format!("more than {bound} % ({})", hours_minutes(percent_of_day(bound)));
        self.standing = Standing::over(figure, bound);
        self
    }
}
