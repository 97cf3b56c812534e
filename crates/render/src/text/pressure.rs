//! `interstice trust --pressure` as text.

use interstice_findings::trust::PressureFindings;
use interstice_glucose::Unit;

use super::table::wrap;
use crate::words::{
    self, Caution, RATES_HELP, Shown, pressure_account, pressure_event, pressure_rates, pressure_said,
    said_low,
};

/// Every possible pressure low with what speaks for and against it.
pub fn pressure(findings: &PressureFindings, unit: Unit) -> String {
    let shown = Shown { unit };
    let mut out = wrap(&pressure_account(findings), 0);
    out.extend(pressure_said(findings).iter().flat_map(|said| wrap(said, 0)));
    if !findings.events.is_empty() {
        out.extend(wrap(&format!("Each is a {}.", findings.called), 0));
    }
    for event in &findings.events {
        out.push(String::new());
        out.extend(wrap(&pressure_event(event, shown), 0));
        for sign in event.evidence.words(shown.unit) {
            out.extend(wrap(&sign, 2));
        }
    }
    if !findings.said.is_empty() {
        out.push(String::new());
        out.extend(findings.said.iter().flat_map(|said| wrap(&said_low(said), 0)));
    }
    rates(&mut out, findings);
    out.push(String::new());
    out.extend(wrap(&Caution::Pressure.text(shown), 0));
    out.push(String::new());
    out.join("\n")
}

fn rates(out: &mut Vec<String>, findings: &PressureFindings) {
    out.push(String::new());
    out.push("How often".to_owned());
    for said in pressure_rates(&findings.rates) {
        out.extend(wrap(&said, 0));
    }
    let twin = words::rate_table(&findings.rates);
    out.extend(twin.lines());
    out.extend(wrap(RATES_HELP, 0));
}
