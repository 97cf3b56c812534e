//! `interstice compare` as text.

use interstice_findings::compare::CompareFindings;
use interstice_findings::states::KnownState;
use interstice_glucose::Unit;

use super::table::wrap;
use crate::words::{
    Caution, Shown, compare_also_table, compare_answer, compare_basis, compare_many, compare_sides,
    compare_state, compare_table,
};

/// All of it in the unit the wearer reads, ending in a line feed.
pub fn compare(findings: &CompareFindings, unit: Unit) -> String {
    let shown = Shown { unit };
    let mut out = Vec::new();
    let mut say = |said: &str| out.extend(wrap(said, 0));
    compare_answer(findings).iter().for_each(|said| say(said));
    say("");
    compare_sides(findings).iter().for_each(|said| say(said));
    if findings.without_artefacts {
        say("Readings that count as pressed or are marked as not to be believed are left out.");
    }
    if !findings.figures.is_empty() {
        out.push(String::new());
        out.extend(compare_table(findings, shown).lines());
        out.push(String::new());
        out.extend(compare_also_table(findings, shown).lines());
        out.push(String::new());
        out.extend(wrap(&compare_many(findings), 0));
        out.extend(wrap(&compare_basis(findings), 0));
    }
    out.extend(findings.notes.iter().flat_map(|note| wrap(note, 0)));
    out.push(String::new());
    out.extend(wrap(&Caution::CareTeam.text(shown), 0));
    out.push(String::new());
    out.join("\n")
}

/// The kinds of days a book knows, one a line.
pub fn states(known: &[KnownState]) -> String {
    let mut out: Vec<String> = if known.is_empty() {
        wrap(
            "The book knows no kind of day yet; `interstice log tag WORD` tags one, with --until several.",
            0,
        )
    } else {
        vec!["Kinds of days to compare, with --days:".to_owned()]
    };
    out.extend(known.iter().map(|state| format!("  {}", compare_state(state))));
    out.push(String::new());
    out.join("\n")
}
