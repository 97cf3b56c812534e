//! Bringing a file in: hand it over, see how it is understood, answer what it leaves open, then write.

use std::sync::Arc;

use axum::extract::multipart::{Multipart, MultipartError};
use axum::extract::{DefaultBodyLimit, Path, State};
use axum::response::Redirect;
use axum::routing::{get, post};
use axum::{Form, Router};
use interstice_desk::{FileReport, FileStatus, QuestionLine};
use interstice_glucose::Unit;
use interstice_render::chart::{self, DayDrawn, Shape};
use interstice_render::words::{self, Shown};
use interstice_tongue::say;
use maud::{Markup, html};

use super::imports::{brought, problem_table};
use super::understanding;
use crate::app::App;
use crate::shell::{Tab, count, page, sentence, table};
use crate::waiting::Waiting;
use crate::{Brought, Settings, Trouble, Upload};

/// Largest file taken over the page; larger ones stream from the command line.
const FILE_BYTES_AT_MOST: usize = 256 << 20;

pub(crate) fn routes() -> Router<App> {
    Router::new()
        .route(
            "/bring",
            post(hand_over).layer(DefaultBodyLimit::max(FILE_BYTES_AT_MOST)),
        )
        .route("/bring/{id}", get(look))
        .route("/bring/{id}/answer", post(answer))
        .route("/bring/{id}/write", post(write))
        .route("/bring/{id}/leave", post(leave))
}

/// Where a file is handed over. With a script it may be dropped; without, it is chosen.
pub(crate) fn drop_form() -> Markup {
    html! {
        form.drop method="post" action="/bring" enctype="multipart/form-data" {
            p { (say!("bring-drop")) }
            input type="file" name="file" required aria-label=(say!("bring-file"));
            " " button type="submit" { (say!("bring-look")) }
            p.help { (say!("bring-drop-help")) }
        }
    }
}

async fn hand_over(State(app): State<App>, mut form: Multipart) -> Result<Redirect, Trouble> {
    let upload = loop {
        match form.next_field().await.map_err(unreadable)? {
            None => {
                return Err(Trouble::Request(say!("bring-none-came")));
            }
            Some(field) if field.name() == Some("file") => {
                let name = field.file_name().unwrap_or_default().to_owned();
                break Upload {
                    name,
                    bytes: field.bytes().await.map_err(unreadable)?.to_vec(),
                };
            }
            Some(_) => {}
        }
    };
    if upload.name.is_empty() {
        return Err(Trouble::Request(say!("bring-none-chosen")));
    }
    Ok(Redirect::to(&format!("/bring/{}", app.waiting().enter(upload))))
}

fn unreadable(error: MultipartError) -> Trouble {
    if error.status() == axum::http::StatusCode::PAYLOAD_TOO_LARGE {
        return Trouble::Request(say!("bring-too-large"));
    }
    Trouble::Request(say!("bring-not-whole"))
}

fn waiting(app: &App, id: u64) -> Result<Waiting, Trouble> {
    app.waiting()
        .get(id)
        .ok_or_else(|| Trouble::Request(say!("bring-gone")))
}

async fn look(State(app): State<App>, Path(id): Path<u64>) -> Result<Markup, Trouble> {
    let waiting = waiting(&app, id)?;
    if let Some(receipt) = &waiting.receipt {
        return Ok(page(
            &say!("bring-receipt-title"),
            Tab::Imports,
            &[],
            receipt_page(receipt),
        ));
    }
    let (file, answers) = (Arc::clone(&waiting.file), waiting.answers.clone());
    let report = app
        .ask(move |backend| backend.understand(&file, &answers))
        .await?;
    let settings = app.settings().await?;
    Ok(page(
        &say!("bring-title"),
        Tab::Imports,
        &["app.js"],
        look_page(id, &waiting.file.name, &report, &settings),
    ))
}

async fn answer(
    State(app): State<App>,
    Path(id): Path<u64>,
    Form(fields): Form<Vec<(String, String)>>,
) -> Result<Redirect, Trouble> {
    waiting(&app, id)?;
    app.waiting().change(id, |file| file.answers.take_form(fields));
    Ok(Redirect::to(&format!("/bring/{id}")))
}

async fn write(State(app): State<App>, Path(id): Path<u64>) -> Result<Redirect, Trouble> {
    let waiting = waiting(&app, id)?;
    if waiting.receipt.is_none() {
        let (file, answers) = (Arc::clone(&waiting.file), waiting.answers);
        let report = Arc::new(app.ask(move |backend| backend.import(&file, &answers)).await?);
        if report.status == FileStatus::Imported {
            app.waiting().change(id, |file| file.receipt = Some(report));
        }
    }
    Ok(Redirect::to(&format!("/bring/{id}")))
}

async fn leave(State(app): State<App>, Path(id): Path<u64>) -> Redirect {
    app.waiting().leave(id);
    Redirect::to("/imports")
}

fn look_page(id: u64, name: &str, report: &FileReport, settings: &Settings) -> Markup {
    html! {
        h1 { (say!("bring-heading", name = name)) }
        @match report.questions.first() {
            Some(first) => (question(id, first, report.questions.len())),
            None if report.status == FileStatus::Rejected => (refused(id, report)),
            None => (ready(id)),
        }
        (first_days(report, settings))
        @if let Some(understood) = &report.understanding { (understanding::view(understood)) (understanding::correct(id, understood)) }
    }
}

/// The first days as they would stand in the book, in the unit of the file: a wrong unit, zone or order of dates shows here.
fn first_days(report: &FileReport, settings: &Settings) -> Markup {
    if report.first_days.is_empty() {
        return html! {};
    }
    let said = report.unit.as_deref();
    let units = [Unit::MgPerDl, Unit::MmolPerL];
    let unit = units.into_iter().find(|unit| Some(unit.symbol()) == said);
    let shown = Shown {
        unit: unit.unwrap_or(settings.unit),
    };
    let days: Vec<DayDrawn<'_>> = report
        .first_days
        .iter()
        .map(|day| DayDrawn {
            date: &day.date,
            readings: day.readings,
            points: &day.points,
        })
        .collect();
    html! {
        section aria-labelledby="first-days" {
            h2 #first-days { (say!("bring-days-heading")) }
            figure {
                @for shape in Shape::BOTH {
                    (chart::first_days(&days, settings.targets, shown, shape, &format!("first-{}", shape.class())))
                }
                figcaption {
                    @let zone = report.zone.clone().unwrap_or_else(|| say!("bring-days-zone-of-file"));
                    (say!("bring-days-caption", unit = shown.unit.symbol(), zone = zone))
                }
            }
            details {
                summary { (say!("bring-days-summary")) }
                (table(&words::first_days(&days, shown), "days"))
            }
            p.method-link { a href="/methods/traces" { (say!("bring-days-method")) } }
        }
    }
}

/// One question at a time, before anything is written.
fn question(id: u64, question: &QuestionLine, open: usize) -> Markup {
    html! {
        p.answer { (say!("bring-question")) }
        form.question method="post" action={ "/bring/" (id) "/answer" } {
            fieldset {
                legend { (sentence(&question.ask)) }
                @for answer in &question.answers {
                    label { input type="radio" name="answer" value=(answer.flag) required; " " (answer.meaning) }
                }
            }
            p { button type="submit" { (say!("bring-question-go-on")) } @if open > 1 { span.help { " " (say!("bring-question-more", more = open - 1)) } } }
        }
        (leave_form(id))
    }
}

fn ready(id: u64) -> Markup {
    html! {
        p.answer { (say!("bring-ready")) }
        form method="post" action={ "/bring/" (id) "/write" } { p { button type="submit" { (say!("bring-in")) } } }
        (leave_form(id))
    }
}

fn refused(id: u64, report: &FileReport) -> Markup {
    html! {
        p.answer { (say!("bring-refused")) }
        @for problem in &report.problems { p { (problem.reason) "." } }
        @if report.understanding.is_none() { (understanding::name_a_column(id)) }
        (leave_form(id))
    }
}

fn leave_form(id: u64) -> Markup {
    html! {
        form method="post" action={ "/bring/" (id) "/leave" } { p { button.quiet type="submit" { (say!("bring-leave")) } } }
    }
}

fn receipt_page(report: &FileReport) -> Markup {
    let new = Brought {
        readings: report.readings_new,
        scans: report.scans_new,
        blood_checks: report.blood_checks_new,
        doses: report.doses_new,
        meals: report.meals_new,
        other: report.other_new,
    };
    html! {
        h1 { (say!("bring-receipt-heading", file = &report.file)) }
        p.answer { (say!("bring-receipt-new", brought = brought(&new))) }
        dl.facts {
            dt { (say!("bring-receipt-rows")) } dd { (count(report.rows_read)) }
            dt { (say!("bring-receipt-there")) } dd { (count(report.already_there)) }
            dt { (say!("bring-receipt-conflicting")) } dd { (count(report.conflicts)) @if report.conflicts > 0 { " " (say!("bring-receipt-first-stands")) } }
            dt { (say!("bring-receipt-not-used")) } dd { (count(report.rejected)) }
        }
        @for note in &report.notes { p { (sentence(note)) } }
        p { a href="/review" { (say!("bring-receipt-account")) } }
        @if report.rejected > 0 { h2 { (say!("bring-rows-title")) } (problem_table(&report.problems)) }
        @if let Some(id) = report.import_id {
            form method="post" action="/imports/undo" {
                input type="hidden" name="id" value=(id);
                p { button.quiet type="submit" { (say!("bring-receipt-undo")) } }
            }
        }
    }
}
