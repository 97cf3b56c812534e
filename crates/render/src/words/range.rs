//! The five ranges, their names and their targets.

use interstice_findings::{Figure, ReviewFindings, Targets};
use interstice_tongue::say;

use super::number::{amount, percent_figure};
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
        let span = |low: f64, high: f64| say!("number-span", low = at(low), high = at(high));
        match self {
            Range::VeryLow => say!("number-below", value = at(very_low)),
            Range::Low => span(very_low, targets.range_low_mg_dl - step),
            Range::InRange => span(targets.range_low_mg_dl, targets.range_high_mg_dl),
            Range::High => span(targets.range_high_mg_dl + step, very_high),
            Range::VeryHigh => say!("number-above", value = at(very_high)),
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
    pub fn words(self) -> String {
        match self {
            Standing::Met => say!("review-met"),
            Standing::Unsure => say!("review-unsure"),
            Standing::Missed => say!("review-missed"),
            Standing::Early => say!("review-early"),
            Standing::None => String::new(),
        }
    }

    /// In a word or two, for narrow tables.
    pub fn short(self) -> String {
        match self {
            Standing::Unsure => say!("review-unsure-short"),
            Standing::Early => say!("review-early-short"),
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
    /// The name of its figure in documents: 'above_percent'.
    pub figure: &'static str,
    /// 'Above range in all', 'very low'.
    pub name: String,
    /// The same for narrow tables: 'Above in all'.
    pub short_name: String,
    /// '181 to 250 mg/dL'.
    pub bounds: String,
    /// '4 h 2 min'.
    pub minutes: String,
    /// '17 % (14 to 20)'.
    pub percent: String,
    /// 'less than 25 % (6 h)', empty where there is none.
    pub target: String,
    /// The same for narrow tables: '< 25 %'.
    pub short_target: String,
    /// How it stands to the target.
    pub standing: Standing,
}

/// The table of ranges, highest first, with the sums the targets are set on.
pub fn range_rows(findings: &ReviewFindings, shown: Shown) -> Vec<RangeRow> {
    let (summary, average, targets) = (&findings.summary, &findings.average_day, &findings.targets);
    let part = |range: Range, name: (&'static str, String), minutes, figure| {
        row(Some(range), name, range.bounds(targets, shown), minutes, figure)
    };
    let sum = |name, bounds, minutes, figure| row(None, name, bounds, minutes, figure);
    let mut above = sum(
        ("above_percent", say!("review-above-all")),
        say!("number-above", value = shown.glucose(targets.range_high_mg_dl)),
        average.above_min,
        &summary.above_percent,
    );
    above.short_name = say!("review-above-all-short");
    let mut below = sum(
        ("below_percent", say!("review-below-all")),
        say!("number-below", value = shown.glucose(targets.range_low_mg_dl)),
        average.below_min,
        &summary.below_percent,
    );
    below.short_name = say!("review-below-all-short");
    let mut rows = vec![
        above.under(&summary.above_percent, targets.above_under_percent),
        part(
            Range::VeryHigh,
            ("very_high_percent", say!("review-very-high")),
            average.very_high_min,
            &summary.very_high_percent,
        )
        .under(&summary.very_high_percent, targets.very_high_under_percent),
        part(
            Range::High,
            ("high_percent", say!("review-high")),
            average.high_min,
            &summary.high_percent,
        ),
        part(
            Range::InRange,
            ("in_range_percent", say!("review-in-range")),
            average.in_range_min,
            &summary.in_range_percent,
        )
        .over(&summary.in_range_percent, targets.in_range_over_percent),
        below.under(&summary.below_percent, Some(targets.below_under_percent)),
        part(
            Range::Low,
            ("low_percent", say!("review-low")),
            average.low_min,
            &summary.low_percent,
        ),
        part(
            Range::VeryLow,
            ("very_low_percent", say!("review-very-low")),
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
    (name_in_documents, name): (&'static str, String),
    bounds: String,
    minutes: Option<f64>,
    figure: &Figure,
) -> RangeRow {
    RangeRow {
        range,
        figure: name_in_documents,
        short_name: name.clone(),
        name,
        bounds,
        minutes: minutes.map_or_else(|| "–".to_owned(), hours_minutes),
        percent: percent_figure(figure),
        target: String::new(),
        short_target: String::new(),
        standing: Standing::None,
    }
}

impl RangeRow {
    fn under(mut self, figure: &Figure, bound: Option<f64>) -> Self {
        let Some(bound) = bound else { return self };
        let time = hours_minutes(percent_of_day(bound));
        self.target = say!("review-target-less", bound = amount(bound), time = time);
        self.short_target = format!("< {} %", amount(bound));
        self.standing = Standing::under(figure, bound);
        self
    }

    fn over(mut self, figure: &Figure, bound: f64) -> Self {
        let time = hours_minutes(percent_of_day(bound));
        self.target = say!("review-target-more", bound = amount(bound), time = time);
        self.short_target = format!("> {} %", amount(bound));
        self.standing = Standing::over(figure, bound);
        self
    }
}
