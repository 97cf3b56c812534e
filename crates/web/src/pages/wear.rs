//! Wear: what is on, what comes next, how long sensors stay on.

mod after;
mod choose;
mod drawer;
mod kind;
mod sent;
mod settle;
mod trials;
mod write;

use std::sync::Arc;

use axum::Router;
use axum::extract::{Query, State};
use axum::http::header::CONTENT_TYPE;
use axum::response::IntoResponse;
use axum::routing::get;
use interstice_findings::WearFindings;
use interstice_findings::wear::Staying;
use interstice_render::chart::{self, Shape};
use interstice_render::words::{self, Shown};
use maud::{Markup, html};
use write::WearQuery;

use crate::Trouble;
use crate::app::App;
use crate::shell::{Tab, glue, page, table};

pub(crate) fn routes() -> Router<App> {
    Router::new()
        .route("/wear", get(wear))
        .route("/api/wear", get(wear_json))
        .route("/wear/calendar.ics", get(wear_calendar))
        .merge(write::routes())
        .merge(kind::routes())
        .merge(choose::routes())
        .merge(settle::routes())
        .merge(drawer::routes())
        .merge(after::routes())
}

async fn wear(
    State(app): State<App>,
    Query(query): Query<WearQuery>,
    Query(changed): Query<drawer::Changed>,
) -> Result<Markup, Trouble> {
    let settings = app.settings().await?;
    let is_empty = app.ask(|backend| backend.is_empty()).await?;
    let at = query.at();
    let findings = app.ask(move |backend| backend.wear(at.as_deref())).await?;
    let shown = Shown { unit: settings.unit };
    let content = html! {
        link rel="stylesheet" href="/assets/trust.css";
        link rel="stylesheet" href="/assets/wear.css";
        link rel="stylesheet" href="/assets/drawer.css";
        @if is_empty {
            p.sufficiency.short {
                "No readings have been brought in yet: " a href="/" { "bring in a file" }
                ", and what they tell of your sensors appears here. What you write down below is kept meanwhile."
            }
        }
        (answer(&findings, &query, &changed, shown))
    };
    Ok(page("Wear", Tab::Wear, &[], content))
}

/// The same document as `interstice wear --json`.
async fn wear_json(
    State(app): State<App>,
    Query(query): Query<WearQuery>,
) -> Result<impl IntoResponse, Trouble> {
    let at = query.at();
    let findings: Arc<WearFindings> = app.ask(move |backend| backend.wear(at.as_deref())).await?;
    let unwritten = |error| Trouble::Internal(format!("the answer could not be written: {error}"));
    let json = serde_json::to_string(&*findings).map_err(unwritten)? + "\n";
    Ok(([(CONTENT_TYPE, "application/json")], json))
}

/// What is on and what comes, for a calendar that subscribes to this address.
async fn wear_calendar(
    State(app): State<App>,
    Query(query): Query<WearQuery>,
) -> Result<impl IntoResponse, Trouble> {
    let at = query.at();
    let findings: Arc<WearFindings> = app.ask(move |backend| backend.wear(at.as_deref())).await?;
    let text = interstice_render::calendar::calendar(&findings);
    Ok(([(CONTENT_TYPE, "text/calendar; charset=utf-8")], text))
}

fn answer(findings: &WearFindings, query: &WearQuery, changed: &drawer::Changed, shown: Shown) -> Markup {
    html! {
        header.answer-head {
            h1 { "Wear " span.window { (words::date_and_clock(findings.now.0)) } }
            p.answer { (glue(&words::wear_answer(findings))) }
            @if let Some(kind) = &findings.kind { p.lead { (glue(&words::kind_said(kind))) } }
            (old(findings))
            (write::written(query))
            (write::on_now(findings))
        }
        (write::put_on_section(findings, query, shown))
        (coming(findings))
        (drawer::section(&findings.drawer, changed))
        (trials::worth_checking(findings))
        (staying_on(findings))
        (after::sections(findings))
        (trials::bedding(findings))
        (trials::trials(findings, shown))
    }
}

/// Where the readings end long ago: that nothing is known since, and the page as it was then.
fn old(findings: &WearFindings) -> Markup {
    html! {
        @if let Some(said) = words::wear_old(findings) {
            @let then = findings.last_reading.map(|last| last.0.to_string()).unwrap_or_default();
            p.sufficiency.short { (glue(&said)) " " a href={ "/wear?at=" (then.replace('+', "%2B")) } { "The page as of then" } }
        }
    }
}

fn coming(findings: &WearFindings) -> Markup {
    html! {
        section {
            h2 id="coming" { "The next " (findings.choices.days_ahead) " days" }
            @if let Some(reason) = &findings.plan_reason { p { "There is no plan: " (reason) "." } }
            @for unmet in &findings.unmet { p { strong { "Not met: " } (glue(unmet)) "." } }
            @if !findings.plan.is_empty() {
                (table(&words::plan_table(&findings.plan), "coming"))
                details {
                    summary { "Why then and there" }
                    @for one in &findings.plan {
                        h3 { (words::date_and_clock(one.put_on.0)) }
                        ul { @for why in &one.why { li { (glue(why)) } } }
                    }
                }
            }
            @if !findings.plan.is_empty() {
                p.more {
                    "As a calendar: " a href="/wear/calendar.ics" download { "download it" } ", or subscribe to this address on this machine (" code { "/wear/calendar.ics" }
                    "; keep the port with " code { "interstice serve --port" } "). A new plan moves its events."
                }
            }
            p.more { a href="/methods/plan" { "How the plan is made" } }
            (choose::section(findings))
            (kind::form(findings))
        }
    }
}

fn staying_on(findings: &WearFindings) -> Markup {
    let all = findings
        .survival
        .first()
        .and_then(|staying| staying.groups.first());
    html! {
        section {
            h2 id="staying" { "How long sensors stay on" }
            p { (glue(&words::ends_said(&findings.ends))) }
            @if let Some(all) = all {
                @for shape in Shape::BOTH {
                    (chart::staying(all, findings.kind.as_ref().map(|kind| kind.wear_h), shape, &format!("staying-{}", shape.class())))
                }
                p.caption {
                    "Line: share of sensors still on. Shaded: its 95 % margin, from the first loss on. Dotted: the labelled end. A sensor taken off \
                     on purpose, or still on, might have lasted longer and is counted so."
                }
                @for staying in &findings.survival { (by(staying)) }
                @if words::staying_differs(&findings.survival) { p.caption { (words::STAYING_CAUTION) } }
            }
            p.more { a href="/methods/staying-on" { "How it is computed" } }
        }
    }
}

fn by(staying: &Staying) -> Markup {
    html! {
        @if staying.groups.len() > 1 {
            h3 { (words::by_said(staying.by)) }
            @for said in words::staying_said(staying) { p { (glue(&said)) } }
            details { summary { "The figures" } (table(&words::staying_table(staying), "staying")) }
        } @else {
            (table(&words::staying_table(staying), "staying"))
        }
    }
}
