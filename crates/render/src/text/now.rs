//! `interstice now` as text.

use interstice_findings::{NowFindings, WearFindings};
use interstice_glucose::Unit;
use interstice_tongue::say;

use super::table::wrap;
use crate::words::{
    Shown, date_and_clock, now_acting, now_answer, now_blood, second_look_chances, second_look_fan,
    second_look_sentence, wear_answer, worth_said,
};

/// This moment, what is due, the caution beside it.
pub fn now(findings: &NowFindings, wear: Option<&WearFindings>, unit: Unit) -> String {
    let shown = Shown { unit };
    let mut out = Vec::new();
    let mut part = |said: &[String]| {
        for said in said {
            out.extend(wrap(said, 0));
        }
        out.push(String::new());
    };
    part(&[date_and_clock(findings.now.0), now_answer(findings, shown)]);
    part(&now_blood(findings, shown));
    part(&now_acting(&findings.acting));
    if let Some(look) = &findings.look {
        let mut said = vec![second_look_sentence(look, shown)];
        said.extend(second_look_chances(look, shown));
        part(&said);
        if let Some(look) = &look.look {
            part(&second_look_fan(&look.fan, shown).lines());
        }
    }
    if let Some(wear) = wear {
        let mut said = vec![wear_answer(wear)];
        said.extend(worth_said(&wear.worth_checking));
        part(&said);
    }
    part(&[say!("look-caution")]);
    out.pop();
    out.join("\n") + "\n"
}
