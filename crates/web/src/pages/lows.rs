//! Possible pressure lows on the Trust page, and the wearer's word on them.

use axum::extract::{Query, State};
use axum::response::Redirect;
use axum::routing::post;
use axum::{Form, Router};
use interstice_findings::TrustFindings;
use interstice_findings::trust::{PressureEvent, PressureFindings};
use interstice_glucose::{LowVerdict, LowWas, Second};
use interstice_render::words::{self, Caution, Shown, Table};
use maud::{Markup, html};
use serde::Deserialize;

use super::sensor::address;
use super::trust::table_of;
use crate::Trouble;
use crate::app::App;
use crate::query::TrustQuery;
use crate::shell::{caution, glue};

/// Lows listed before the rest is folded away.
const OPEN_LOWS: usize = 6;

pub(crate) fn routes() -> Router<App> {
    Router::new()
        .route("/trust/low", post(say))
        .route("/trust/low/undo", post(take_back))
}

/// A word on a low, as the form of its row says it.
#[derive(Debug, Deserialize)]
struct Word {
    from: Second,
    to: Second,
    sensor: Option<String>,
    was: String,
    page: Option<String>,
}

async fn say(
    State(app): State<App>,
    Query(query): Query<TrustQuery>,
    Form(word): Form<Word>,
) -> Result<Redirect, Trouble> {
    let was = match word.was.as_str() {
        "pressure" => LowWas::Pressure,
        "real" => LowWas::Real,
        other => {
            return Err(Trouble::Request(format!(
                "'{other}' is not what a low can be; choose pressure or real"
            )));
        }
    };
    let from = word.from;
    let verdict = LowVerdict {
        at: from,
        until: word.to,
        sensor: word.sensor.filter(|name| !name.is_empty()),
        was,
        note: None,
    };
    app.ask(move |backend| backend.judge_low(&verdict)).await?;
    Ok(back_to(&query, Some(from), word.page.as_deref()))
}

#[derive(Debug, Deserialize)]
struct Undo {
    change: i64,
    from: Option<Second>,
    page: Option<String>,
}

async fn take_back(
    State(app): State<App>,
    Query(query): Query<TrustQuery>,
    Form(undo): Form<Undo>,
) -> Result<Redirect, Trouble> {
    let change = undo.change;
    app.ask(move |backend| backend.take_back_word(change)).await?;
    Ok(back_to(&query, undo.from, undo.page.as_deref()))
}

/// The page the form was on, at the low it was about. `page`: the sensor whose page that is; else the Trust page.
fn back_to(query: &TrustQuery, from: Option<Second>, page: Option<&str>) -> Redirect {
    let place = from.map_or_else(|| "pressure".to_owned(), anchor);
    let page = page.filter(|sensor| !sensor.is_empty()).map(address);
    let page = page.unwrap_or_else(|| "/trust".to_owned());
    Redirect::to(&format!("{page}{}#{place}", query.again(&[("lows", "open")])))
}

pub(super) fn anchor(from: Second) -> String {
    format!("low-{from}")
}

/// The section of the Trust page.
pub(super) fn section(
    findings: &TrustFindings,
    tables: &[Table],
    query: &TrustQuery,
    shown: Shown,
) -> Markup {
    let found = &findings.pressure;
    let table = |id: &str| tables.iter().find(|table| table.id == id);
    html! {
        section aria-labelledby="pressure" {
            h2 #pressure { "Possible pressure lows" }
            p { (glue(&words::pressure_account(found))) }
            @if let Some(said) = words::pressure_said(found) { p { (glue(&said)) } }
            (caution(Caution::Pressure, shown))
            (how_often(found, table("pressure-rates"), query))
            (listed(found, query, shown))
            @if !found.said.is_empty() {
                ul.lows {
                    @for said in &found.said {
                        li { p { (glue(&words::said_low(said))) } (undo_form(said.verdict.change.map(|change| change.0), None, query, None)) }
                    }
                }
            }
            @if !found.events.is_empty() {
                p.tools { a href={ "/trust/pressure.csv" (query.again(&[("lows", "")])) } download { "Download as CSV" } }
                p { a href="/review?pressure=out" { "The account without them" } ", beside the one with them." }
            }
            p.method-link { a href="/methods/pressure-lows" { "How they are told from true lows" } }
        }
    }
}

fn how_often(found: &PressureFindings, table: Option<&Table>, query: &TrustQuery) -> Markup {
    html! {
        @if found.nights > 0 {
            h3 { "How often, and where" }
            @for said in words::pressure_rates(&found.rates) { p { (glue(&said)) } }
            @if let Some(table) = table.filter(|table| table.rows.len() > 1) {
                details {
                    summary { "By side, part of the body and side slept on" }
                    (table_of(table, query, "groups"))
                    p.help { (words::RATES_HELP) }
                }
            }
        }
    }
}

/// Each, newest first; many are folded away, unless the wearer has just judged one.
fn listed(found: &PressureFindings, query: &TrustQuery, shown: Shown) -> Markup {
    let events: Vec<&PressureEvent> = found.events.iter().rev().collect();
    let open = events.len() <= OPEN_LOWS || query.lists_lows();
    html! {
        @if !events.is_empty() {
            details open[open] {
                summary { "Each a possible pressure low, a blood check decides: its signs, and say which it was" }
                ul.lows {
                    @for (i, event) in events.iter().enumerate() {
                        // Of two that begin at once, of two sensors, the first has the name.
                        @let named = i == 0 || events[i - 1].span.0 != event.span.0;
                        li id=[named.then(|| anchor(event.span.0))] { (one(event, query, shown)) }
                    }
                }
            }
        }
    }
}

fn one(event: &PressureEvent, query: &TrustQuery, shown: Shown) -> Markup {
    html! {
        p { (glue(&words::pressure_event(event, shown))) }
        details {
            summary { "Signs" }
            ul { @for sign in event.evidence.words(shown.unit) { li { (glue(&sign)) } } }
            p { a href={ "/days?date=" (words::iso_date(event.start.0)) } { "The day it was in" } }
        }
        (word_form(event, query, None))
    }
}

/// Says what a low was, or takes that back. `page`: the sensor on whose page it stands; the Trust page where none is named.
pub(super) fn word_form(event: &PressureEvent, query: &TrustQuery, page: Option<&str>) -> Markup {
    let said = event.verdict.and_then(|verdict| verdict.change);
    html! {
        @if said.is_some() {
            (undo_form(said.map(|change| change.0), Some(event.span.0), query, page))
        } @else {
            (say_form(event, query, page))
        }
    }
}

fn say_form(event: &PressureEvent, query: &TrustQuery, page: Option<&str>) -> Markup {
    let when = words::date_and_clock(event.start.0);
    html! {
        form.says method="post" action={ "/trust/low" (query.again(&[])) } {
            input type="hidden" name="from" value=(event.span.0);
            input type="hidden" name="to" value=(event.span.1);
            @if let Some(name) = &event.trace { input type="hidden" name="sensor" value=(name); }
            @if let Some(page) = page { input type="hidden" name="page" value=(page); }
            button.quiet type="submit" name="was" value="pressure" aria-label={ (when) ": it was pressure" } { "It was pressure" }
            button.quiet type="submit" name="was" value="real" aria-label={ (when) ": it was real" } { "It was real" }
        }
    }
}

fn undo_form(change: Option<i64>, from: Option<Second>, query: &TrustQuery, page: Option<&str>) -> Markup {
    html! {
        @if let Some(change) = change {
            form.says method="post" action={ "/trust/low/undo" (query.again(&[])) } {
                input type="hidden" name="change" value=(change);
                @if let Some(from) = from { input type="hidden" name="from" value=(from); }
                @if let Some(page) = page { input type="hidden" name="page" value=(page); }
                button.quiet type="submit" { "Take that back" }
            }
        }
    }
}
