//! The table of measures: what each is, in one sentence, and where its method is written down.

use interstice_findings::{ReviewFindings, TargetGroup};

use interstice_tongue::say;

use super::number::{percent_figure, tenths_percent};
use super::{Shown, Standing, percent, plain};

/// One line of the table of measures.
#[derive(Clone, Debug, PartialEq)]
pub struct Measure {
    /// The trade's name.
    pub name: String,
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

fn measure(name: String, value: String, method: &'static str, meaning: String) -> Measure {
    Measure {
        name,
        value,
        meaning,
        method,
        standing: Standing::None,
    }
}

fn consensus(findings: &ReviewFindings, shown: Shown) -> Vec<Measure> {
    let summary = &findings.summary;
    let cv_target = findings.targets.cv_at_most_percent;
    let tight = say!(
        "measure-tight-says",
        low = shown.glucose(70.0),
        high = shown.glucose_with_unit(140.0)
    );
    let mut cv = measure(
        say!("measure-cv"),
        tenths_percent(&summary.cv_percent),
        "summary",
        say!("measure-cv-says", bound = percent(cv_target)),
    );
    cv.standing = Standing::at_most(&summary.cv_percent, cv_target).of(findings);
    vec![
        measure(
            say!("measure-mean"),
            shown.glucose_figure(&summary.mean_mg_dl),
            "summary",
            say!("measure-mean-says"),
        ),
        measure(
            say!("measure-sd"),
            shown.glucose_figure(&summary.sd_mg_dl),
            "summary",
            say!("measure-sd-says"),
        ),
        cv,
        measure(
            say!("measure-gmi"),
            tenths_percent(&summary.gmi_percent),
            "summary",
            say!("measure-gmi-says"),
        ),
        measure(
            say!("measure-tight"),
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
            say!("measure-gri-says-outside-pregnancy")
        }
        _ => say!("measure-gri-says"),
    };
    vec![
        measure(
            say!("measure-lbgi"),
            plain(&s.lbgi, 1),
            "risk",
            say!("measure-lbgi-says"),
        ),
        measure(
            say!("measure-hbgi"),
            plain(&s.hbgi, 1),
            "risk",
            say!("measure-hbgi-says"),
        ),
        measure(say!("measure-gri"), plain(&s.gri, 0), "risk", gri),
        measure(
            say!("measure-gri-lows"),
            plain(&s.gri_hypo, 1),
            "risk",
            say!("measure-gri-lows-says"),
        ),
        measure(
            say!("measure-gri-highs"),
            plain(&s.gri_hyper, 1),
            "risk",
            say!("measure-gri-highs-says"),
        ),
    ]
}

fn swing(findings: &ReviewFindings, shown: Shown) -> Vec<Measure> {
    let s = &findings.summary;
    vec![
        measure(
            say!("measure-mage"),
            shown.glucose_figure(&s.mage_mg_dl),
            "variability",
            say!("measure-mage-says"),
        ),
        measure(
            say!("measure-modd"),
            shown.glucose_figure(&s.modd_mg_dl),
            "variability",
            say!("measure-modd-says"),
        ),
        measure(
            say!("measure-conga"),
            shown.glucose_figure(&s.conga1_mg_dl),
            "variability",
            say!("measure-conga-says"),
        ),
        measure(
            say!("measure-j-index"),
            plain(&s.j_index, 0),
            "variability",
            say!("measure-j-index-says"),
        ),
    ]
}
