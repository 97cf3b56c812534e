//! Swings on the Review page: a sentence, pictures, tables.

use interstice_findings::ReviewFindings;
use interstice_findings::swings::SwingLine;
use interstice_render::chart;
use interstice_render::words::{self, Caution, Shown};
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
            (heading("swings", "Swings: what fed what", findings))
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
            (method("swings", "The rules, and where they come from"))
            (method("insulin-on-board", "How much of a dose is taken to be left"))
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
                summary { (swings.len()) " more" }
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
        h3 #lows-treated { "Lows treated" }
        @for said in words::lows_treated_said(lows) { p { (glue(&said)) } }
        @if !lows.lows.is_empty() {
            details {
                summary { "Each low something was logged against" }
                div.scroll {
                    table.stack {
                        thead { tr {
                            th scope="col" { "Began" } th.num scope="col" { "Lowest, " (shown.unit) } th.num scope="col" { "Eaten, g" }
                            th.num scope="col" { "In how many bites" } th.num scope="col" { "Back after" } th scope="col" { "High within 2 h" }
                        } }
                        tbody {
                            @for low in lows.lows.iter().rev() {
                                tr {
                                    th scope="row" { (words::date_and_clock(low.start.0)) }
                                    td.num data-label="lowest" { (shown.glucose(low.lowest_mg_dl)) @if low.by_blood_check { ", blood check" } }
                                    td.num data-label="eaten, g" { (words::grams(low.grams)) }
                                    td.num data-label="bites" { (low.times) }
                                    td.num data-label="back after" { (words::back_after(low.back_after_min)) }
                                    td data-label="high within 2 h" { (if low.high_after { "yes" } else { "no" }) }
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
        h3 #habit { "How soon you act" }
        @for said in words::habit_said(&findings.swings.reaction_habit) { p { (glue(&said)) } }
    }
}
