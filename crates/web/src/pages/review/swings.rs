//! Swings on the Review page: a sentence, pictures, tables.

use interstice_findings::ReviewFindings;
use interstice_findings::swings::SwingLine;
use interstice_render::chart;
use interstice_render::words::{self, Caution, Shown};
use interstice_tongue::say;
use maud::{Markup, html};

use super::{heading, meals::table, method};
use crate::shell::{caution, glue};

/// Swings drawn before the rest is folded away.
const DRAWN: usize = 6;

pub(super) fn section(findings: &ReviewFindings, shown: Shown) -> Markup {
    let (all, tally) = (&findings.swings.swings, &findings.swings.swing_tally);
    let ordered = words::swings_shown(all);
    let (drawn, rest) = ordered.split_at(DRAWN.min(ordered.len()));
    html! {
        section aria-labelledby="swings" {
            (heading("swings", &say!("swings-heading"), findings))
            p.lead { (glue(&words::swings_answer(tally))) }
            @if !all.is_empty() {
                (table(&words::swing_table(tally)))
                @for said in words::swings_when(tally) { p { (glue(&said)) } }
                div.swings { @for (place, swing) in drawn.iter().enumerate() { (card(swing, findings, shown, place)) } }
                (folded(rest, shown))
            }
            (lows(findings, shown))
            (habit(findings))
            @if let Some(said) = words::insulin_said(&findings.swings.insulin_lasts_hours) { p { (glue(&said)) } }
            (caution(Caution::Followed, shown))
            (method("swings", &say!("swings-method")))
            (method("insulin-on-board", &say!("swings-left-method")))
        }
    }
}

/// One swing, drawn, its links numbered as in the picture.
fn card(swing: &SwingLine, findings: &ReviewFindings, shown: Shown, place: usize) -> Markup {
    let day = words::iso_date(swing.start.0);
    html! {
        article.swing id=(words::swing_anchor(swing.start.0.at)) {
            h3 { a href={ "/days?date=" (day) } { (words::date_and_clock(swing.start.0)) } ": " (words::swing_cost(swing)) }
            (chart::swing(swing, &findings.targets, shown, &format!("swing-{place}")))
            ol { @for link in &swing.links { li { (glue(&words::swing_link(link, shown))) } } }
            @for pause in &swing.pauses { p.pause { (glue(&words::swing_pause(pause, shown))) } }
        }
    }
}

fn folded(swings: &[&SwingLine], shown: Shown) -> Markup {
    html! {
        @if !swings.is_empty() {
            details {
                summary { (say!("swings-more", more = swings.len())) }
                ul { @for swing in swings {
                    li id=(words::swing_anchor(swing.start.0.at)) { (glue(&words::swing_said(swing, shown))) "; " (words::swing_cost(swing)) }
                } }
            }
        }
    }
}

fn lows(findings: &ReviewFindings, shown: Shown) -> Markup {
    let lows = &findings.swings.lows_treated;
    html! {
        h3 #lows-treated { (say!("swings-lows-heading")) }
        @for said in words::lows_treated_said(lows) { p { (glue(&said)) } }
        @if !lows.lows.is_empty() {
            details {
                summary { (say!("swings-lows-each")) }
                div.scroll {
                    table.stack {
                        thead { tr {
                            th scope="col" { (say!("review-began")) } th.num scope="col" { (say!("swings-lowest", unit = shown.unit.symbol())) } th.num scope="col" { (say!("swings-eaten")) }
                            th.num scope="col" { (say!("swings-bites")) } th.num scope="col" { (say!("meals-back-after")) } th scope="col" { (say!("swings-high-after")) }
                        } }
                        tbody {
                            @for low in lows.lows.iter().rev() {
                                tr {
                                    th scope="row" { (words::date_and_clock(low.start.0)) }
                                    td.num data-label=(say!("swings-lowest-label")) { (shown.glucose(low.lowest_mg_dl)) @if low.by_blood_check { ", " (say!("review-near-check-untold")) } }
                                    td.num data-label=(say!("swings-eaten-label")) { (words::grams(low.grams)) }
                                    td.num data-label=(say!("swings-bites-label")) { (low.times) }
                                    td.num data-label=(say!("swings-back-label")) { (words::back_after(low.back_after_min)) }
                                    td data-label=(say!("swings-high-label")) { (say!("swings-high-after-it", high = low.high_after)) }
                                }
                            }
                        }
                    }
                }
            }
        }
        (caution(Caution::Lows, shown))
    }
}

fn habit(findings: &ReviewFindings) -> Markup {
    html! {
        h3 #habit { (say!("swings-habit-heading")) }
        @for said in words::habit_said(&findings.swings.reaction_habit) { p { (glue(&said)) } }
    }
}
