//! Every pair of reading and blood check, a page at a time: the Trust page shows the newest.

use axum::Router;
use axum::extract::{Query, State};
use axum::routing::get;
use interstice_findings::TrustFindings;
use interstice_render::words::{self, Table};
use maud::{Markup, html};
use serde::Deserialize;

use super::trust::{found, table_of};
use crate::Trouble;
use crate::app::App;
use crate::query::TrustQuery;
use crate::shell::{Tab, count, page};

/// Pairs on the Trust page itself.
const NEWEST: usize = 20;
/// Pairs a page.
const A_PAGE: usize = 200;

pub(crate) fn routes() -> Router<App> {
    Router::new().route("/trust/pairs", get(pairs))
}

/// `?page=2`; the first is of the newest.
#[derive(Debug, Deserialize)]
struct PageOf {
    page: Option<usize>,
}

async fn pairs(
    State(app): State<App>,
    Query(query): Query<TrustQuery>,
    Query(PageOf { page: number }): Query<PageOf>,
) -> Result<Markup, Trouble> {
    let settings = app.settings().await?;
    let shown = query.shown(&settings)?;
    let (_, findings) = found(&app, &query).await?.ok_or(Trouble::NotFound)?;
    let tables = words::trust_tables(&findings, shown);
    let table = tables.iter().find(|table| table.id == "pairs");
    let table = table.ok_or(Trouble::NotFound)?;
    let pages = table.rows.len().div_ceil(A_PAGE).max(1);
    let number = number.unwrap_or(1);
    if !(1..=pages).contains(&number) {
        return Err(Trouble::NotFound);
    }
    let from = (number - 1) * A_PAGE;
    let part = part(table, from, A_PAGE);
    Ok(page(
        "Every pair",
        Tab::Trust,
        &[],
        html! {
            link rel="stylesheet" href="/assets/trust.css";
            h1 { "Every pair " span.window { (words::trust_window(&findings)) } }
            p { (account(table.rows.len(), from, part.rows.len())) }
            (turn("Newer and older pairs", number, pages, &query))
            (table_of(&part, &query, "pairs"))
            (turn("Newer and older pairs, below the table", number, pages, &query))
            p.method-link { a href="/methods/agreement" { "How a reading is paired with a check" } }
            p.method-link { a href={ "/trust" (query.again(&[])) "#pairs" } { "How far your sensors stand from blood" } }
        },
    ))
}

fn account(all: usize, from: usize, shown: usize) -> String {
    if all == shown {
        return format!("All {} pairs, newest first.", count(all as u64));
    }
    format!(
        "Pairs {} to {} of {}, newest first. The file holds all of them.",
        count(from as u64 + 1),
        count((from + shown) as u64),
        count(all as u64)
    )
}

/// Newer and older pages.
fn turn(label: &str, number: usize, pages: usize, query: &TrustQuery) -> Markup {
    let to = |number: usize| {
        let asked = query.again(&[]);
        let joined = if asked.is_empty() { "?" } else { "&" };
        format!("/trust/pairs{asked}{joined}page={number}")
    };
    html! {
        @if pages > 1 {
            nav.windows aria-label=(label) {
                @if number > 1 { a href=(to(number - 1)) { "← newer" } }
                span { "Page " (number) " of " (pages) }
                @if number < pages { a href=(to(number + 1)) { "older →" } }
            }
        }
    }
}

fn part(table: &Table, from: usize, most: usize) -> Table {
    Table {
        id: table.id,
        heads: table.heads.clone(),
        rows: table.rows.iter().skip(from).take(most).cloned().collect(),
    }
}

/// The section of the Trust page: the newest of them, and where the others are.
pub(super) fn section(findings: &TrustFindings, table: Option<&Table>, query: &TrustQuery) -> Markup {
    let all = findings.points.len();
    html! {
        @if let Some(table) = table {
            section aria-labelledby="pairs" {
                h2 #pairs { "Every pair" }
                @if all > NEWEST {
                    details {
                        summary { "The newest " (NEWEST) " of " (count(all as u64)) " pairs" }
                        (table_of(&part(table, 0, NEWEST), query, "pairs"))
                    }
                    p { a href={ "/trust/pairs" (query.again(&[])) } { "All " (count(all as u64)) " pairs" } ", each check beside what the sensor showed." }
                } @else {
                    details open { summary { "All " (all) " pairs, newest first" } (table_of(table, query, "pairs")) }
                }
            }
        }
    }
}
