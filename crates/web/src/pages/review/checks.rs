//! Review of days that have blood checks and no sensor readings.

use interstice_findings::CheckFindings;
use interstice_render::chart;
use interstice_render::words::{self, Caution, Shown};
use interstice_tongue::say;
use maud::{Markup, html};

use super::{both_shapes, method, windows};
use crate::ReviewAsk;
use crate::shell::{caution, glue, table};

/// The account of a book that has checks alone.
pub(super) fn account(findings: &CheckFindings, ask: &ReviewAsk, shown: Shown) -> Markup {
    html! {
        header.answer-head {
            h1 { (say!("review-title")) " " span.window { (words::window(&findings.window)) } }
            (windows(ask))
            p.answer { (glue(&words::checks_answer(findings))) }
            p.sufficiency { (words::checks_basis(findings)) }
            (caution(Caution::CareTeam, shown))
        }
        (section(findings, shown))
    }
}

/// What the checks of these days say.
pub(super) fn section(findings: &CheckFindings, shown: Shown) -> Markup {
    html! {
        section aria-labelledby="blood-checks" {
            h2 #blood-checks { (say!("checks-heading")) }
            @if findings.checks > 0 {
                p { (words::checks_said()) }
                (both_shapes(|shape, id| chart::checks(findings, shown, shape, id), "checks-picture"))
                (table(&words::checks_by_clock(findings, shown), "checks-by-clock"))
            }
            (method("blood-checks", &say!("checks-method")))
        }
        @if findings.checks > 0 {
            section aria-labelledby="check-figures" {
                h2 #check-figures { (say!("checks-of-all")) }
                (table(&words::checks_table(findings, shown), "checks"))
                (method("blood-checks", &say!("checks-figures-method")))
            }
        }
        section aria-labelledby="check-insulin" {
            h2 #check-insulin { (say!("insulin-heading")) }
            p { (words::insulin_logged(&findings.insulin, findings.window.days)) }
            @if let Some(given) = words::insulin_table(&findings.insulin) { (table(&given, "insulin")) }
            (method("visit", &say!("insulin-method")))
        }
    }
}
