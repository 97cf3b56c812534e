//! Whether bedding in helps, personal trials, and which blood check would teach most.

use interstice_findings::{TrialLine, WearFindings};
use interstice_render::words::{self, Caution, Shown};
use maud::{Markup, html};

use super::settle;
use crate::shell::{caution, glue, table};

/// The checks that would teach most today.
pub(super) fn worth_checking(findings: &WearFindings) -> Markup {
    let worth = &findings.worth_checking;
    html! {
        section {
            h2 id="worth" { "Which blood check would teach most today" }
            @if worth.list.is_empty() {
                @for said in words::worth_said(worth) { p { (glue(&said)) } }
            } @else {
                p { "None of these is needed; each would make the answers surer." }
                ol { @for said in words::worth_said(worth) { li { (glue(&said)) } } }
            }
            @if let Some(said) = words::worth_when(worth) { p { (glue(&said)) } }
            p.more { a href="/methods/blood-estimate" { "How it is worked out" } }
        }
    }
}

/// The first day with and without bedding in, and its cost.
pub(super) fn bedding(findings: &WearFindings) -> Markup {
    html! {
        section {
            h2 id="bedding" { "Does bedding in help me?" }
            @for said in words::bedding_said(&findings.bedding) { p { (glue(&said)) } }
            @if let Some(cost) = &findings.drawer.cost.bedding { p { (glue(&words::bedding_cost_said(cost))) } }
            p.more { a href="/methods/effects" { "How it is compared" } }
        }
    }
}

/// Personal trials.
pub(super) fn trials(findings: &WearFindings, shown: Shown) -> Markup {
    html! {
        section {
            h2 id="trials" { "Trials" }
            @if findings.trials.is_empty() {
                p {
                    "No trial was begun. One compares two or more ways of wearing a sensor in an order drawn beforehand, with an exact \
                     answer at the end."
                }
            } @else {
                @for trial in findings.trials.iter().rev() { (one(trial)) }
                (caution(Caution::Wear, shown))
            }
            @if !findings.trials.iter().any(TrialLine::is_running) { (settle::ask_form()) }
            p.more { a href="/methods/trials" { "How trials are drawn and answered" } }
        }
    }
}

fn one(trial: &TrialLine) -> Markup {
    html! {
        h3 { (trial.name) }
        p { (glue(&words::sentence(&trial.says))) }
        @if let Some(answer) = &trial.answer { (table(&words::answer_table(answer, trial), "trial-answer")) }
        @if trial.is_running() { (settle::abandon_form(trial)) }
        details open[trial.is_running()] {
            summary { "What was settled, and its sensors so far" }
            p { (glue(&words::trial_settled(trial))) }
            @if !trial.given.is_empty() { (table(&words::given_table(trial), "given")) }
            @if trial.is_running() { p { "What the ways showed is told at the end: who sees it sooner may wear, check or stop otherwise." } }
        }
    }
}
