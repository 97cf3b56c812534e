//! A laboratory's HbA1c beside the sensors' own estimate.

use interstice_glucose::{Hba1cUnit, VisitNotes, day_words};
use interstice_methods::hba1c::{gmi_percent, ifcc_mmol_mol, ngsp_percent};
use interstice_methods::{SUFFICIENT_ACTIVE_PERCENT, Series};
use serde::Serialize;

use super::{Look, Stretch};
use crate::{FindingsError, window};

/// Days before the blood was taken over which the sensors' mean is put beside it: HbA1c tells of about three months (Nathan and
/// others 2008, Diabetes Care 31:1473, who took three).
const BESIDE_DAYS: u32 = 90;
/// So many are told, the latest.
const TOLD: usize = 8;

/// One laboratory HbA1c.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Hba1cLine {
    /// The day the blood was taken, 'YYYY-MM-DD'.
    pub date: String,
    /// As the laboratory said it.
    pub said: String,
    /// NGSP, percent.
    pub hba1c_percent: f64,
    /// IFCC, mmol/mol.
    pub hba1c_mmol_mol: f64,
    /// The days before it that the sensors' mean is over.
    pub beside: Stretch,
    /// Glucose management indicator of those days, percent.
    pub gmi_percent: Option<f64>,
    /// HbA1c less GMI, percentage points.
    pub gap_points: Option<f64>,
    /// Time active in those days, percent.
    pub active_percent: Option<f64>,
    /// Why there is no GMI.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

/// Those until the window's end, latest first.
pub(super) fn beside(
    look: &Look<'_>,
    whole: &Series<'_>,
    notes: &VisitNotes,
) -> Result<Vec<Hba1cLine>, FindingsError> {
    let clock = &look.record.clock;
    let last_day = clock.wall(look.span.1 - 1).day();
    let known = notes.hba1c.iter().rev().filter(|lab| lab.day <= last_day);
    let mut lines = Vec::new();
    for lab in known.take(TOLD) {
        let (from, to) = window::last_days(BESIDE_DAYS, clock, look.midnight(lab.day) - 1);
        let account = look.account(whole, from, to)?;
        let active = account.sufficiency.active_percent;
        let enough = active.is_some_and(|active| active >= SUFFICIENT_ACTIVE_PERCENT);
        let gmi = account
            .summary
            .mean_mg_dl
            .ok()
            .filter(|_| enough)
            .map(gmi_percent);
        let (percent, mmol_mol) = match lab.said.unit() {
            Hba1cUnit::Percent => (lab.said.number(), ifcc_mmol_mol(lab.said.number())),
            Hba1cUnit::MmolPerMol => (ngsp_percent(lab.said.number()), lab.said.number()),
        };
        lines.push(Hba1cLine {
            date: day_words(lab.day),
            said: lab.said.to_string(),
            hba1c_percent: percent,
            hba1c_mmol_mol: mmol_mol,
            beside: look.stretch(from, to),
            gmi_percent: gmi,
            gap_points: gmi.map(|gmi| percent - gmi),
            active_percent: active,
            reason: (!enough).then(|| {
                format!(
                    "readings cover {} % of the {BESIDE_DAYS} days before; {SUFFICIENT_ACTIVE_PERCENT} % are needed",
                    active.unwrap_or(0.0).floor()
                )
            }),
        });
    }
    Ok(lines)
}
