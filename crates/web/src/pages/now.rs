//! Now: this moment, and a second look at it or at any other.

use axum::Router;
use axum::extract::{Query, State};
use axum::http::header::CONTENT_TYPE;
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use interstice_findings::second_look::{Looked, SecondLookFindings};
use interstice_findings::{NowFindings, WearFindings};
use interstice_render::chart::{self, FanOf, Shape};
use interstice_render::words::{self, Caution, Shown};
use interstice_tongue::say;
use maud::{Markup, html};
use serde::Deserialize;
use serde::Serialize;

use super::away::waiting;
use super::feeds::on_now;
use super::settings::to_be_read;
use crate::Trouble;
use crate::app::App;
use crate::query::{UnitQuery, given};
use crate::shell::{Tab, caution, glue, linked, nothing_yet, page, table};

pub(crate) fn routes() -> Router<App> {
    Router::new()
        .route("/now", get(now))
        .route("/now/latest", get(latest))
        .route("/api/now", get(now_json))
        .route("/second-look", get(second_look))
        .route("/api/second-look", get(second_look_json))
}

/// `?at=2025-03-01T14:30`, `&unit=mmol`.
#[derive(Clone, Debug, Default, Deserialize)]
struct LookQuery {
    at: Option<String>,
    #[serde(flatten)]
    unit: UnitQuery,
}

async fn now(State(app): State<App>, Query(query): Query<UnitQuery>) -> Result<Markup, Trouble> {
    let settings = app.settings().await?;
    let shown = query.shown(&settings)?;
    if app.ask(|backend| backend.is_empty()).await? {
        return Ok(page(
            &say!("now-title"),
            Tab::Now,
            &[],
            nothing_yet(&say!("now-title"), &say!("now-empty")),
        ));
    }
    let (findings, wear) = app
        .ask(|backend| Ok((backend.now()?, backend.wear(None)?)))
        .await?;
    let identity = app.ask(|backend| backend.identity()).await?;
    let feeds = on_now(&app).await?;
    let reminder = app.ask(|backend| backend.backup_reminder()).await?;
    let content = html! {
        (waiting(&identity))
        @if !settings.cautions_read { (to_be_read(shown)) }
        (moment(&findings, Some(&wear), &feeds, shown))
        (super::backups::reminder(reminder))
    };
    Ok(page(
        &say!("now-title"),
        Tab::Now,
        &["now.js", "queue.js"],
        content,
    ))
}

/// The same without what is due, which an open page keeps: it takes seconds to work out, and a reading should not wait for it.
async fn latest(State(app): State<App>, Query(query): Query<UnitQuery>) -> Result<Markup, Trouble> {
    let shown = query.shown(&app.settings().await?)?;
    let findings = app.ask(|backend| backend.now()).await?;
    Ok(moment(&findings, None, &on_now(&app).await?, shown))
}

async fn now_json(State(app): State<App>) -> Result<Response, Trouble> {
    json(&app.ask(|backend| backend.now()).await?)
}

async fn second_look(State(app): State<App>, Query(query): Query<LookQuery>) -> Result<Markup, Trouble> {
    let settings = app.settings().await?;
    let shown = query.unit.shown(&settings)?;
    let title = say!("look-title");
    if app.ask(|backend| backend.is_empty()).await? {
        let nothing = nothing_yet(&title, &say!("look-empty"));
        return Ok(page(&title, Tab::Now, &[], nothing));
    }
    let at = given(&query.at);
    let asked = at.clone();
    let findings = app
        .ask(move |backend| backend.second_look(asked.as_deref()))
        .await?;
    let content = looked(&findings, at.as_deref(), shown);
    Ok(page(&title, Tab::Now, &[], content))
}

/// The same document as `interstice second-look --json`.
async fn second_look_json(
    State(app): State<App>,
    Query(query): Query<LookQuery>,
) -> Result<Response, Trouble> {
    let at = given(&query.at);
    json(&app.ask(move |backend| backend.second_look(at.as_deref())).await?)
}

fn json(findings: &impl Serialize) -> Result<Response, Trouble> {
    let unwritten = |error| Trouble::Internal(format!("the answer could not be written: {error}"));
    let text = serde_json::to_string(findings).map_err(unwritten)? + "\n";
    Ok(([(CONTENT_TYPE, "application/json")], text).into_response())
}

fn moment(findings: &NowFindings, wear: Option<&WearFindings>, feeds: &Markup, shown: Shown) -> Markup {
    let is_old = findings.reading.as_ref().is_none_or(|reading| reading.is_old);
    html! {
        div #now.old[is_old] data-latest="/now/latest" data-unreached=(unreached()) data-read=[findings.reading.as_ref().map(|reading| reading.at.0.at)] {
            header.answer-head {
                h1 { (say!("now-title")) " " span.window { (words::date_and_clock(findings.now.0)) } }
                p.answer { (glue(&words::now_answer(findings, shown))) }
                @if !is_old { @for said in words::now_blood(findings, shown) { p.lead { (glue(&said)) } } }
                @else {
                    p.lead { (linked(&say!("now-not-live"), &["/imports"])) }
                }
                (caution(Caution::FirstDay, shown))
                nav.taps aria-label=(say!("now-write-it-down")) {
                    @for (what, name) in taps() {
                        a.tap href={ "/write?what=" (what) "#form" } { (name) }
                    }
                    a.tap href="/write" { (say!("now-tap-else")) }
                }
            }
            @if let Some(look) = &findings.look { (short_look(findings, look, shown)) }
            section aria-labelledby="acting" {
                h2 #acting { (say!("now-acting-heading")) }
                @for said in words::now_acting(&findings.acting) { p { (glue(&said)) } }
                p.method-link { a href="/methods/insulin-on-board" { (say!("now-acting-method")) } }
            }
            @if let Some(wear) = wear { (due(wear)) } @else { div data-due {} }
            (feeds)
        }
    }
}

/// What the script says where the app cannot be reached; it fills in since when.
pub(super) fn unreached() -> String {
    say!("now-unreached", clock = "{clock}")
}

fn short_look(findings: &NowFindings, look: &SecondLookFindings, shown: Shown) -> Markup {
    html! {
        section aria-labelledby="look" {
            h2 #look { (say!("look-title")) }
            p.lead { (glue(&words::second_look_sentence(look, shown))) }
            @if let Some(looked) = &look.look {
                figure {
                    @for shape in Shape::BOTH {
                        (chart::fan((look, FanOf::Sensor), findings.blood.as_ref(), shown, shape, &format!("fan-{}", shape.class())))
                    }
                    figcaption { (caption(findings.blood.is_some())) }
                }
                details {
                    summary { (say!("look-fan-summary", unit = shown.unit.symbol())) }
                    (table(&words::second_look_fan(&looked.fan, shown), "percentiles"))
                }
                p.method-link { a href="/methods/second-look" { (say!("look-method")) } }
            }
            p.caution role="note" { (say!("look-caution")) }
            p { a href="/second-look" { (say!("look-in-full")) } }
        }
    }
}

fn caption(has_blood: bool) -> String {
    if has_blood {
        say!("look-caption-with-blood")
    } else {
        say!("look-caption")
    }
}

/// What is written down most.
fn taps() -> [(&'static str, String); 4] {
    [
        ("blood", say!("now-tap-blood")),
        ("dose", say!("now-tap-dose")),
        ("meal", say!("now-tap-meal")),
        ("activity", say!("now-tap-activity")),
    ]
}

fn due(wear: &WearFindings) -> Markup {
    html! {
        section aria-labelledby="due" {
            h2 #due { (say!("now-due-heading")) }
            p { (glue(&words::wear_answer(wear))) }
            @for said in words::supply_said(&wear.drawer.supply).iter().take(1) { p { (glue(said)) } }
            @let worth = words::worth_said(&wear.worth_checking);
            @if !worth.is_empty() {
                h3 { (say!("now-worth-heading")) }
                @for said in &worth { p { (glue(said)) } }
                @if let Some(when) = words::worth_when(&wear.worth_checking) { p { (glue(&when)) } }
            }
            p { a href="/wear" { (say!("now-due-link")) } }
        }
    }
}

fn looked(findings: &SecondLookFindings, at: Option<&str>, shown: Shown) -> Markup {
    html! {
        header.answer-head {
            h1 { (say!("look-title")) " " span.window { (words::date_and_clock(findings.asked.0)) } }
            form.look method="get" action="/second-look" {
                label { (say!("look-another")) " " input type="datetime-local" name="at" value=[at] required; }
                button.quiet type="submit" { (say!("look-look")) }
            }
            p.answer { (glue(&words::second_look_sentence(findings, shown))) }
            @for said in words::second_look_moment(findings, shown) { p.lead { (glue(&said)) } }
            p.caution role="note" { (say!("look-caution")) }
        }
        @if let Some(look) = &findings.look { (in_full(findings, look, shown)) }
    }
}

fn in_full(findings: &SecondLookFindings, look: &Looked, shown: Shown) -> Markup {
    html! {
        section aria-labelledby="followed" {
            h2 #followed { (say!("look-followed-heading", waiting = look.only_waiting)) }
            figure {
                @for shape in Shape::BOTH {
                    (chart::fan((findings, FanOf::Sensor), None, shown, shape, &format!("fan-{}", shape.class())))
                }
                figcaption { (caption(false)) }
            }
            @if let Some(came) = words::second_look_came(findings, shown) { p { (glue(&came)) } }
            @for said in words::second_look_chances(findings, shown) { p { (glue(&said)) } }
            details {
                summary { (say!("look-fan-summary", unit = shown.unit.symbol())) }
                (table(&words::second_look_fan(&look.fan, shown), "percentiles"))
            }
            @if let Some(corrected) = &look.corrected {
                details {
                    summary { (say!("look-corrected-summary", unit = shown.unit.symbol())) }
                    (table(&words::second_look_fan(&corrected.fan, shown), "percentiles"))
                }
            }
            p.method-link { a href="/methods/second-look" { (say!("look-method")) } }
        }
        (in_blood(findings, shown))
    }
}

fn in_blood(findings: &SecondLookFindings, shown: Shown) -> Markup {
    html! {
        section aria-labelledby="blood" {
            h2 #blood { (say!("look-blood-heading")) }
            @if let Some(blood) = &findings.blood {
                figure {
                    @for shape in Shape::BOTH {
                        (chart::fan((findings, FanOf::Blood), None, shown, shape, &format!("blood-{}", shape.class())))
                    }
                    figcaption { (say!("look-caption-of-blood")) }
                }
                @for said in words::second_look_blood(findings, shown) { p { (glue(&said)) } }
                details {
                    summary { (say!("look-fan-summary-blood", unit = shown.unit.symbol())) }
                    (table(&words::second_look_fan(&blood.fan, shown), "percentiles"))
                }
            } @else {
                @for said in words::second_look_blood(findings, shown) { p { (glue(&said)) } }
            }
            p.method-link { a href="/methods/blood-estimate" { (say!("look-blood-method")) } }
        }
    }
}
