//! The table of measures: what each is, in one sentence, and where its method is written down.

use interstice_findings::{ReviewFindings, TargetGroup};

use super::number::{percent_figure, tenths_percent};
use super::{Shown, Standing, percent, plain};

/// One line of the table of measures.
#[derive(Clone, Debug, PartialEq)]
pub struct Measure {
    /// The trade's name.
    pub name: &'static str,
    /// Value, unit and margin, or why there is none.
    pub value: String,
    /// What it means, in one sentence.
    pub meaning: String,
    /// Its page in docs/methods.
    pub method: &'static str,
    /// How it stands to its target, where it has one.
    pub standing: Standing,
}

/// Every measure that is not a time in range, in the order they are read.
pub fn measures(findings: &ReviewFindings, shown: Shown) -> Vec<Measure> {
    let mut list = consensus(findings, shown);
    list.extend(risk(findings));
    list.extend(swing(findings, shown));
    list
}

fn measure(name: &'static str, value: String, method: &'static str, meaning: impl Into<String>) -> Measure {
    Measure {
        name,
        value,
        meaning: meaning.into(),
        method,
        standing: Standing::None,
    }
}

fn consensus(findings: &ReviewFindings, shown: Shown) -> Vec<Measure> {
    let summary = &findings.summary;
    let cv_target = findings.targets.cv_at_most_percent;
    let tight = format!(
        "Time from {} to {}: a narrower look, without an agreed target.",
        shown.glucose(70.0),
        shown.glucose_with_unit(140.0)
    );
    let mut cv = measure(
        "Coefficient of variation (CV)",
        tenths_percent(&summary.cv_percent),
        "summary",
        format!(
            "How much glucose swings for its mean; at most {} % is the target.",
            percent(cv_target)
        ),
    );
    cv.standing = Standing::at_most(&summary.cv_percent, cv_target).of(findings);
    vec![
        measure(
            "Mean",
            shown.glucose_figure(&summary.mean_mg_dl),
            "summary",
            "The average over time.",
        ),
        measure(
            "Standard deviation (SD)",
            shown.glucose_figure(&summary.sd_mg_dl),
            "summary",
            "The usual distance from the mean.",
        ),
        cv,
        measure(
            "GMI",
            tenths_percent(&summary.gmi_percent),
            "summary",
            "Glucose management indicator: an estimate from the sensor's mean. A laboratory HbA1c can differ either way.",
        ),
        measure(
            "Time in tight range",
            percent_figure(&summary.tight_range_percent),
            "summary",
            tight,
        ),
    ]
}

fn risk(findings: &ReviewFindings) -> Vec<Measure> {
    let s = &findings.summary;
    let gri = match findings.targets.group {
        TargetGroup::Pregnancy | TargetGroup::Own(_) => {
            "Glycaemia risk index, 0 (best) to 100: lows and highs weighed together, by the ranges outside pregnancy."
        }
        _ => "Glycaemia risk index, 0 (best) to 100: lows and highs weighed together.",
    };
    vec![
        measure(
            "LBGI",
            plain(&s.lbgi, 1),
            "risk",
            "Low blood glucose index: how often and how deep the lows go.",
        ),
        measure(
            "HBGI",
            plain(&s.hbgi, 1),
            "risk",
            "High blood glucose index: how often and how far the highs go.",
        ),
        measure("GRI", plain(&s.gri, 0), "risk", gri),
        measure(
            "GRI, lows",
            plain(&s.gri_hypo, 1),
            "risk",
            "Its hypoglycaemia component.",
        ),
        measure(
            "GRI, highs",
            plain(&s.gri_hyper, 1),
            "risk",
            "Its hyperglycaemia component.",
        ),
    ]
}

fn swing(findings: &ReviewFindings, shown: Shown) -> Vec<Measure> {
    let s = &findings.summary;
    vec![
        measure(
            "MAGE",
            shown.glucose_figure(&s.mage_mg_dl),
            "variability",
            "The mean of the day's large swings.",
        ),
        measure(
            "MODD",
            shown.glucose_figure(&s.modd_mg_dl),
            "variability",
            "The mean difference from the same clock time a day before.",
        ),
        measure(
            "CONGA, 1 h",
            shown.glucose_figure(&s.conga1_mg_dl),
            "variability",
            "How much glucose changes from one hour to the next.",
        ),
        measure(
            "J-index",
            plain(&s.j_index, 0),
            "variability",
            "Mean and swing in one number.",
        ),
    ]
}
