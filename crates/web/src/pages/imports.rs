//! What was brought in, and taking it back.

use axum::extract::{Path, Query, State};
use axum::response::Redirect;
use axum::routing::{get, post};
use axum::{Form, Router};
use interstice_desk::ProblemLine;
use interstice_render::words;
use interstice_tongue::say;
use maud::{Markup, html};
use serde::Deserialize;

use super::bring::drop_form;
use crate::app::App;
use crate::shell::{Tab, count, page};
use crate::{Brought, ImportLine, Trouble};

pub(crate) fn routes() -> Router<App> {
    Router::new()
        .route("/imports", get(imports))
        .route("/imports/{id}/rejected", get(rejected))
        .route("/imports/undo", post(undo))
}

#[derive(Debug, Deserialize)]
struct Told {
    undone: Option<String>,
}

async fn imports(State(app): State<App>, Query(told): Query<Told>) -> Result<Markup, Trouble> {
    let lines = app.ask(|backend| backend.imports()).await?;
    let (fed, files): (Vec<ImportLine>, Vec<ImportLine>) =
        lines.into_iter().partition(|line| line.is_of_feed);
    let content = html! {
        h1 { (say!("bring-imports-title")) }
        @if let Some(what) = told.undone { p.answer role="status" { (say!("bring-imports-undone", what = what)) } }
        (table(&files))
        @if !fed.is_empty() {
            details {
                summary { (say!("bring-imports-fed")) }
                (table(&fed))
            }
        }
        h2 { (say!("bring-imports-another")) }
        (drop_form())
    };
    Ok(page(
        &say!("bring-imports-title"),
        Tab::Imports,
        &["app.js"],
        content,
    ))
}

#[derive(Debug, Deserialize)]
struct Undo {
    id: i64,
}

async fn undo(State(app): State<App>, Form(undo): Form<Undo>) -> Result<Redirect, Trouble> {
    let what = app.ask(move |backend| backend.undo(undo.id)).await?;
    let query = serde_urlencoded::to_string([("undone", what)]).unwrap_or_default();
    Ok(Redirect::to(&format!("/imports?{query}")))
}

async fn rejected(State(app): State<App>, Path(id): Path<i64>) -> Result<Markup, Trouble> {
    let problems = app.ask(move |backend| backend.rejected(id)).await?;
    let content = html! {
        h1 { (say!("bring-rows-heading")) }
        (problem_table(&problems))
        p { a href="/imports" { (say!("bring-rows-back")) } }
    };
    Ok(page(&say!("bring-rows-title"), Tab::Imports, &[], content))
}

fn table(lines: &[ImportLine]) -> Markup {
    if lines.is_empty() {
        return html! { p { (say!("bring-imports-none")) } };
    }
    html! {
        div.scroll {
            table.stack {
                thead { tr {
                    th scope="col" { (say!("bring-imports-file")) } th scope="col" { (say!("bring-imports-when")) } th scope="col" { (say!("bring-imports-brought")) }
                    th scope="col" { (say!("bring-imports-not-used")) } th scope="col" { (say!("bring-imports-undo")) }
                } }
                tbody { @for line in lines { (row(line)) } }
            }
        }
    }
}

fn row(line: &ImportLine) -> Markup {
    html! {
        tr {
            th.wide scope="row" { (line.file) }
            td.wide { (words::day_and_clock(line.when)) }
            td.wide { (brought(&line.brought)) }
            td data-label=(say!("bring-imports-not-used-label")) {
                @if line.rejected == 0 { (say!("bring-imports-all-used")) }
                @else { a href={ "/imports/" (line.id) "/rejected" } { (count(line.rejected)) } }
            }
            td {
                form method="post" action="/imports/undo" {
                    input type="hidden" name="id" value=(line.id);
                    button.quiet type="submit" aria-label=(say!("bring-imports-undo-which", file = &line.file)) { (say!("bring-imports-undo")) }
                }
            }
        }
    }
}

/// '3,401 readings, 12 meals'.
pub(crate) fn brought(of: &Brought) -> String {
    let parts = [
        (
            of.readings,
            say!("bring-readings", n = of.readings, shown = count(of.readings)),
        ),
        (
            of.scans,
            say!("bring-scans", n = of.scans, shown = count(of.scans)),
        ),
        (
            of.blood_checks,
            say!(
                "bring-blood-checks",
                n = of.blood_checks,
                shown = count(of.blood_checks)
            ),
        ),
        (
            of.doses,
            say!("bring-doses", n = of.doses, shown = count(of.doses)),
        ),
        (
            of.meals,
            say!("bring-meals", n = of.meals, shown = count(of.meals)),
        ),
        (
            of.other,
            say!("bring-others", n = of.other, shown = count(of.other)),
        ),
    ];
    let list: Vec<String> = parts
        .into_iter()
        .filter_map(|(n, said)| (n > 0).then_some(said))
        .collect();
    if list.is_empty() {
        say!("bring-nothing-new")
    } else {
        list.join(", ")
    }
}

/// Rows that could not be used, with place, text and reason.
pub(crate) fn problem_table(problems: &[ProblemLine]) -> Markup {
    if problems.is_empty() {
        return html! { p { (say!("bring-rows-none")) } };
    }
    html! {
        div.scroll {
            table.stack {
                thead { tr {
                    th scope="col" { (say!("bring-rows-row")) } th scope="col" { (say!("bring-rows-column")) } th scope="col" { (say!("bring-rows-text")) } th scope="col" { (say!("bring-rows-why")) }
                } }
                tbody {
                    @for problem in problems {
                        tr {
                            th scope="row" data-label=[(problem.row > 0).then(|| say!("bring-rows-row-label"))] { @if problem.row > 0 { (problem.row) } @else { (say!("bring-rows-of-file")) } }
                            td { (problem.column) }
                            td.wide { code { (problem.text) } }
                            td.wide { (problem.reason) }
                        }
                    }
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_brought_is_counted_in_words() {
        let said = [0, 1, 2].map(|n| {
            brought(&Brought {
                readings: n,
                scans: n,
                blood_checks: n,
                doses: n,
                meals: n,
                other: n,
            })
        });
        assert_eq!(
            said,
            [
                "nothing new",
                "1 reading, 1 scan, 1 blood check, 1 dose, 1 meal, 1 other entry",
                "2 readings, 2 scans, 2 blood checks, 2 doses, 2 meals, 2 other entries",
            ]
        );
    }
}
