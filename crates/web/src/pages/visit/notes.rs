//! What the sheet needs from the wearer: name, days of visits, questions, a laboratory's HbA1c. Each can be taken back.

use axum::extract::State;
use axum::response::Redirect;
use axum::routing::post;
use axum::{Form, Router};
use interstice_glucose::{
    Hba1c, LabHba1c, Question, Second, VisitChoice, VisitNotes, day_from_words, day_words,
};
use interstice_render::words;
use maud::{Markup, html};
use serde::Deserialize;

use crate::Trouble;
use crate::app::App;

pub(super) fn routes() -> Router<App> {
    Router::new()
        .route("/visit/question", post(question))
        .route("/visit/question/change", post(change_question))
        .route("/visit/name", post(name))
        .route("/visit/day", post(day))
        .route("/visit/hba1c", post(hba1c))
        .route("/visit/undo", post(undo))
}

#[derive(Debug, Deserialize)]
struct Asked {
    text: String,
}

async fn question(State(app): State<App>, Form(asked): Form<Asked>) -> Result<Redirect, Trouble> {
    let change = app.ask(move |backend| backend.ask_at_visit(&asked.text)).await?;
    Ok(back(change))
}

/// A question changed, or taken away where nothing is left of it.
#[derive(Debug, Deserialize)]
struct Again {
    written: Second,
    text: String,
    drop: Option<String>,
}

async fn change_question(State(app): State<App>, Form(again): Form<Again>) -> Result<Redirect, Trouble> {
    let is_gone = again.drop.is_some() || again.text.trim().is_empty();
    let text = (!is_gone).then_some(again.text);
    keep(app, VisitChoice::Question(again.written, text)).await
}

#[derive(Debug, Deserialize)]
struct Named {
    name: String,
}

async fn name(State(app): State<App>, Form(named): Form<Named>) -> Result<Redirect, Trouble> {
    let name = named.name.trim();
    keep(
        app,
        VisitChoice::Name((!name.is_empty()).then(|| name.to_owned())),
    )
    .await
}

#[derive(Debug, Deserialize)]
struct Day {
    day: String,
    drop: Option<String>,
}

async fn day(State(app): State<App>, Form(day): Form<Day>) -> Result<Redirect, Trouble> {
    let on = day_of(&day.day)?;
    keep(app, VisitChoice::Visit(on, day.drop.is_none())).await
}

#[derive(Debug, Deserialize)]
struct Lab {
    day: String,
    #[serde(default)]
    value: String,
    drop: Option<String>,
}

async fn hba1c(State(app): State<App>, Form(lab): Form<Lab>) -> Result<Redirect, Trouble> {
    let on = day_of(&lab.day)?;
    if lab.drop.is_some() {
        return keep(app, VisitChoice::Hba1c(on, None)).await;
    }
    let said = Hba1c::from_words(&lab.value).ok_or_else(|| {
        Trouble::Request(format!(
            "'{}' is no HbA1c; write it as the laboratory did, like 7.1 % or 54 mmol/mol",
            lab.value.trim()
        ))
    })?;
    keep(app, VisitChoice::Hba1c(on, Some(said))).await
}

#[derive(Debug, Deserialize)]
struct Undo {
    change: i64,
}

async fn undo(State(app): State<App>, Form(undo): Form<Undo>) -> Result<Redirect, Trouble> {
    app.ask(move |backend| backend.take_back_visit_note(undo.change))
        .await?;
    Ok(back(None))
}

fn day_of(text: &str) -> Result<i64, Trouble> {
    day_from_words(text)
        .ok_or_else(|| Trouble::Request(format!("'{text}' is not a date; write it like 2025-03-01")))
}

/// Writes it down, and goes back to where it can be taken back.
async fn keep(app: App, choice: VisitChoice) -> Result<Redirect, Trouble> {
    let change = app.ask(move |backend| backend.keep_for_visit(&choice)).await?;
    Ok(back(change))
}

fn back(change: Option<i64>) -> Redirect {
    let query = change.map_or_else(String::new, |change| format!("?note={change}"));
    Redirect::to(&format!("/visit{query}"))
}

/// What was just written down, above the sheet, and the way to take it back.
pub(super) fn taken(change: Option<i64>) -> Markup {
    html! {
        @if let Some(change) = change {
            form.says method="post" action="/visit/undo" {
                input type="hidden" name="change" value=(change);
                p role="status" { "Written down. " button.quiet type="submit" { "Take it back" } }
            }
        }
    }
}

/// The forms, below the sheet.
pub(super) fn section(kept: &VisitNotes) -> Markup {
    html! {
        section.visit-notes aria-labelledby="notes" {
            h2 #notes { "For the visit" }
            h3 { "To ask" }
            @for question in &kept.questions { (question_form(question)) }
            form.line method="post" action="/visit/question" {
                label { "What do you want to ask? " input.wide type="text" name="text" maxlength="400" required; }
                button.quiet type="submit" { "Write it down" }
            }
            details {
                summary { "Your name, visits, laboratory HbA1c" }
                form.line method="post" action="/visit/name" {
                    label { "Name on the sheet " input type="text" name="name" maxlength="120" value=[kept.name.as_deref()] autocomplete="off"; }
                    button.quiet type="submit" { "Save" }
                }
                p.help { "Without a name there is a line to write on." }
                form.line method="post" action="/visit/day" {
                    label { "Day of a visit " input type="date" name="day" required; }
                    button.quiet type="submit" { "Write it down" }
                }
                p.help { "With a visit written down, the next sheet tells what changed since." }
                @for &day in kept.visits.iter().rev() { (visit_form(day)) }
                form.line method="post" action="/visit/hba1c" {
                    label { "Blood taken " input type="date" name="day" required; }
                    label { "HbA1c " input type="text" name="value" size="12" required placeholder="7.1 %"; }
                    button.quiet type="submit" { "Write it down" }
                }
                p.help { "As the laboratory said it: in % or in mmol/mol." }
                @for lab in kept.hba1c.iter().rev() { (lab_form(lab)) }
            }
        }
    }
}

fn question_form(question: &Question) -> Markup {
    html! {
        form.line method="post" action="/visit/question/change" {
            input type="hidden" name="written" value=(question.written);
            input.wide type="text" name="text" maxlength="400" value=(question.text) aria-label="A question";
            button.quiet type="submit" { "Change" }
            button.quiet type="submit" name="drop" value="1" { "Delete" }
        }
    }
}

fn visit_form(day: i64) -> Markup {
    let day = day_words(day);
    html! {
        form.line method="post" action="/visit/day" {
            input type="hidden" name="day" value=(day);
            span { "Visit on " (words::date(&day)) }
            button.quiet type="submit" name="drop" value="1" { "Delete" }
        }
    }
}

fn lab_form(lab: &LabHba1c) -> Markup {
    let day = day_words(lab.day);
    html! {
        form.line method="post" action="/visit/hba1c" {
            input type="hidden" name="day" value=(day);
            span { (lab.said) " on " (words::date(&day)) }
            button.quiet type="submit" name="drop" value="1" { "Delete" }
        }
    }
}
