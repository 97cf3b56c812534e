//! What was brought in, and taking it back.

use axum::extract::{Path, Query, State};
use axum::response::Redirect;
use axum::routing::{get, post};
use axum::{Form, Router};
use interstice_desk::ProblemLine;
use interstice_glucose::one_or_many;
use interstice_render::words;
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
        h1 { "Imports" }
        @if let Some(what) = told.undone { p.answer role="status" { "Taken back: " (what) } }
        (table(&files))
        @if !fed.is_empty() {
            details {
                summary { "What feeds brought, day by day" }
                (table(&fed))
            }
        }
        h2 { "Bring in another file" }
        (drop_form())
    };
    Ok(page("Imports", Tab::Imports, &["app.js"], content))
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
        h1 { "Rows that could not be used" }
        (problem_table(&problems))
        p { a href="/imports" { "Back to the imports" } }
    };
    Ok(page("Rows not used", Tab::Imports, &[], content))
}

fn table(lines: &[ImportLine]) -> Markup {
    if lines.is_empty() {
        return html! { p { "No file has been brought in yet." } };
    }
    html! {
        div.scroll {
            table.stack {
                thead { tr {
                    th scope="col" { "File" } th scope="col" { "When" } th scope="col" { "Brought" }
                    th scope="col" { "Rows not used" } th scope="col" { "Take back" }
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
            td data-label="rows not used:" {
                @if line.rejected == 0 { "none" }
                @else { a href={ "/imports/" (line.id) "/rejected" } { (count(line.rejected)) } }
            }
            td {
                form method="post" action="/imports/undo" {
                    input type="hidden" name="id" value=(line.id);
                    button.quiet type="submit" aria-label={ "Take back " (line.file) } { "Take back" }
                }
            }
        }
    }
}

/// '3,401 readings, 12 meals'.
pub(crate) fn brought(brought: &Brought) -> String {
    let parts = [
        (brought.readings, "reading", "readings"),
        (brought.scans, "scan", "scans"),
        (brought.blood_checks, "blood check", "blood checks"),
        (brought.doses, "dose", "doses"),
        (brought.meals, "meal", "meals"),
        (brought.other, "other entry", "other entries"),
    ];
    let list: Vec<String> = parts
        .iter()
        .filter(|(n, ..)| *n > 0)
        .map(|&(n, one, many)| format!("{} {}", count(n), one_or_many(&n, one, many)))
        .collect();
    if list.is_empty() {
        "nothing new".to_owned()
    } else {
        list.join(", ")
    }
}

/// Rows that could not be used, with place, text and reason.
pub(crate) fn problem_table(problems: &[ProblemLine]) -> Markup {
    if problems.is_empty() {
        return html! { p { "Every row was used." } };
    }
    html! {
        div.scroll {
            table.stack {
                thead { tr {
                    th scope="col" { "Row" } th scope="col" { "Column" } th scope="col" { "Text" } th scope="col" { "Why" }
                } }
                tbody {
                    @for problem in problems {
                        tr {
                            th scope="row" data-label=[(problem.row > 0).then_some("row")] { @if problem.row > 0 { (problem.row) } @else { "file" } }
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
