//! The account of blood checks by themselves as text.

use interstice_findings::CheckFindings;
use interstice_glucose::Unit;
use interstice_tongue::say;

use super::table::wrap;
use crate::words::{
    Caution, Shown, checks_answer, checks_basis, checks_by_clock, checks_said, checks_table, insulin_logged,
    insulin_table, window,
};

/// The whole account in the unit the wearer reads, ending in a line feed.
pub fn checks(findings: &CheckFindings, unit: Unit) -> String {
    let shown = Shown { unit };
    let mut out = vec![window(&findings.window), String::new()];
    out.extend(body(findings, shown));
    out.push(String::new());
    out.extend(wrap(&Caution::CareTeam.text(shown), 0));
    out.push(String::new());
    out.join("\n")
}

/// The account between its title and its caution.
pub(super) fn body(findings: &CheckFindings, shown: Shown) -> Vec<String> {
    let mut out = wrap(&checks_answer(findings), 0);
    out.extend(wrap(&checks_basis(findings), 0));
    if findings.checks > 0 {
        out.extend(wrap(&checks_said(), 0));
        out.push(String::new());
        out.extend(checks_table(findings, shown).lines());
        out.push(String::new());
        out.push(say!("checks-by-clock"));
        out.extend(checks_by_clock(findings, shown).lines());
    }
    out.push(String::new());
    out.push(say!("insulin-heading"));
    out.extend(wrap(&insulin_logged(&findings.insulin, findings.window.days), 0));
    out.extend(
        insulin_table(&findings.insulin)
            .map(|table| table.lines())
            .unwrap_or_default(),
    );
    out
}
