//! `interstice second-look` as text.

use interstice_findings::{SecondLookFindings, SecondLookScore};
use interstice_glucose::Unit;
use interstice_tongue::say;

use super::table::wrap;
use crate::words::{self, Shown, second_look_chances, second_look_fan, second_look_moment};

/// A moment looked at a second time, the caution beside it.
pub fn second_look(findings: &SecondLookFindings, unit: Unit) -> String {
    let shown = Shown { unit };
    let mut out: Vec<String> = second_look_moment(findings, shown)
        .iter()
        .flat_map(|said| wrap(said, 0))
        .collect();
    if let Some(look) = &findings.look {
        out.push(String::new());
        out.extend(
            second_look_chances(findings, shown)
                .iter()
                .flat_map(|said| wrap(said, 0)),
        );
        out.push(String::new());
        let when = if look.only_waiting {
            "when you waited"
        } else {
            "whatever you did"
        };
        out.push(format!("What followed {when}, {unit}"));
        out.extend(second_look_fan(&look.fan, shown).lines());
        out.push(String::new());
        let said = words::second_look_blood(findings, shown);
        out.extend(said.iter().flat_map(|said| wrap(said, 0)));
        if let Some(blood) = &findings.blood {
            out.push(String::new());
            out.push(format!("The same in blood, {unit}"));
            out.extend(second_look_fan(&blood.fan, shown).lines());
        }
        if let Some(corrected) = &look.corrected {
            out.push(String::new());
            out.push(format!("What followed when a correction was taken, {unit}"));
            out.extend(second_look_fan(&corrected.fan, shown).lines());
        }
    }
    out.push(String::new());
    out.extend(wrap(&say!("look-caution"), 0));
    out.push(String::new());
    out.join("\n")
}

/// How well it would have been told.
pub fn second_look_score(score: &SecondLookScore) -> String {
    let (said, table) = words::second_look_score(score);
    let mut out: Vec<String> = said.iter().flat_map(|said| wrap(said, 0)).collect();
    out.push(String::new());
    out.extend(table.lines());
    out.push(String::new());
    out.join("\n")
}
