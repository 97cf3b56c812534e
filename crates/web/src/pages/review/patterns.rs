//! Patterns on the Review page: sentences, each built from its numbers.

use interstice_findings::ReviewFindings;
use interstice_render::words::{self, Caution, Shown};
use interstice_tongue::say;
use maud::{Markup, html};

use super::{heading, method};
use crate::shell::{caution, glue};

pub(super) fn section(findings: &ReviewFindings, shown: Shown) -> Markup {
    let of = &findings.patterns;
    html! {
        section aria-labelledby="patterns" {
            (heading("patterns", &say!("patterns-heading"), findings))
            p.lead { (glue(&words::patterns_answer(of))) }
            @if !of.patterns.is_empty() {
                ul { @for pattern in &of.patterns { li { (glue(&words::pattern_said(pattern, shown))) } } }
            }
            @for after in &of.after { p { (glue(&words::after_said(after))) } }
            p { (glue(&words::dawn_said(&of.dawn, shown))) }
            (caution(Caution::Followed, shown))
            (method("patterns", &say!("patterns-method")))
        }
    }
}
