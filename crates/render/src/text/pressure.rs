//! `interstice trust --pressure` as text.

use interstice_findings::trust::PressureFindings;
use interstice_glucose::Unit;

use super::table::wrap;
use crate::words::{Caution, Shown, pressure_account, pressure_event};

/// Every possible pressure low with what speaks for and against it.
pub fn pressure(findings: &PressureFindings, unit: Unit) -> String {
    let shown = Shown { unit };
    let mut out = wrap(&pressure_account(findings), 0);
    if !findings.events.is_empty() {
        out.extend(wrap(&format!("Each is a {}.", findings.called), 0));
    }
    for event in &findings.events {
        out.push(String::new());
        out.extend(wrap(&pressure_event(event, shown), 0));
        for sign in &event.evidence {
            out.extend(wrap(sign, 2));
        }
    }
    out.push(String::new());
    out.extend(wrap(&Caution::Pressure.text(shown), 0));
    out.push(String::new());
    out.join("\n")
}
