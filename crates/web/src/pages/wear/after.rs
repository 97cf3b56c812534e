//! What comes after a sensor: the skin, losses, claims, the record to send, and what nobody wrote down.

use axum::extract::{DefaultBodyLimit, Path, Query, State};
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use axum::{Form, Router};
use interstice_findings::WearFindings;
use interstice_findings::wear::{Claim, LostSensor, SensorRecord};
use interstice_glucose::ClaimWhat;
use interstice_render::pdf::{self, PhotoBytes};
use interstice_render::text;
use interstice_render::words::{self, Shown};
use maud::{Markup, html};
use serde::Deserialize;

use super::sent::{FORM_AT_MOST, Sent};
use crate::app::App;
use crate::shell::{Tab, glue, page, sentence, table};
use crate::{SensorPhoto, Trouble};

pub(super) fn routes() -> Router<App> {
    Router::new()
        .route("/wear/record", get(record))
        .route("/wear/record.pdf", get(record_pdf))
        .route("/wear/record.txt", get(record_text))
        .route("/wear/photo/{id}", get(photo))
        .route(
            "/wear/photo",
            post(keep_photo).layer(DefaultBodyLimit::max(FORM_AT_MOST)),
        )
        .route("/wear/claim", post(claim))
        .route("/wear/claim/undo", post(take_back_claim))
        .route("/wear/found", post(confirm))
}

/// Which sensor, by the name it is listed by: a name may hold any character, so it is no part of the path.
#[derive(Debug, Deserialize)]
struct Which {
    sensor: String,
}

fn address(page: &str, sensor: &str) -> String {
    let query = serde_urlencoded::to_string([("sensor", sensor)]).unwrap_or_default();
    format!("/wear/{page}?{query}")
}

/// The skin, what was lost and claimed, what is offered.
pub(super) fn sections(findings: &WearFindings) -> Markup {
    html! {
        @if !findings.found.is_empty() { (found(findings)) }
        @if !findings.skin.is_empty() {
            section {
                h2 id="skin" { "The skin afterwards" }
                p { (words::SKIN_SAID) }
                @for skin in &findings.skin { (table(&words::skin_table(skin), "skin")) }
            }
        }
        @if !findings.lost.is_empty() || !findings.claims.is_empty() { (lost(findings)) }
    }
}

fn found(findings: &WearFindings) -> Markup {
    html! {
        section {
            h2 id="found" { "Not written down" }
            p { "The readings tell of this, and nobody wrote it down. Confirm what is right; it can be taken back." }
            @for found in &findings.found {
                form method="post" action="/wear/found" {
                    p { (glue(&words::found_said(found))) }
                    input type="hidden" name="key" value=(found.key);
                    button type="submit" { "Write it down so" }
                }
            }
        }
    }
}

fn lost(findings: &WearFindings) -> Markup {
    html! {
        section {
            h2 id="lost" { "Lost sensors" }
            @let (latest, earlier) = findings.lost.split_at(findings.lost.len().min(LATEST));
            @if !latest.is_empty() { (lost_list(latest)) }
            @if !earlier.is_empty() { details { summary { (earlier.len()) " earlier" } (lost_list(earlier)) } }
            @for claim in &findings.claims { (claimed(claim)) }
            (claim_form(findings))
        }
    }
}

/// Lost sensors shown at once; the others open on demand.
const LATEST: usize = 5;

fn lost_list(lost: &[LostSensor]) -> Markup {
    html! {
        (table(&words::lost_table(lost), "lost"))
        p { "The record of one, to send to whoever supplied it: "
            @for (i, one) in lost.iter().enumerate() {
                @if i > 0 { ", " }
                a href=(address("record", &one.record)) { (one.record) }
            }
            "."
        }
    }
}

fn claimed(claim: &Claim) -> Markup {
    html! {
        h3 { "Claim for " (claim.record) }
        ul { @for step in words::claim_steps(claim) { li { (glue(&step)) } } }
        form.says method="post" action="/wear/claim/undo" {
            input type="hidden" name="sensor" value=(claim.record);
            button.quiet type="submit" { "Take the last step back" }
        }
    }
}

/// One form for all that are not settled, the latest first.
fn claim_form(findings: &WearFindings) -> Markup {
    let is_settled = |one: &&LostSensor| {
        let mut claims = findings.claims.iter();
        claims.any(|claim| claim.record == one.record && claim.settled)
    };
    let open: Vec<&LostSensor> = findings.lost.iter().filter(|one| !is_settled(one)).collect();
    html! {
        @if !open.is_empty() {
            details {
                summary { "What became of a claim" }
                form method="post" action="/wear/claim" {
                    label.field { span { "For which sensor" } select name="sensor" {
                        @for one in &open { option value=(one.record) { (one.record) ", " (one.ending) } }
                    } }
                    fieldset.choices {
                        legend { "What" }
                        @for what in ClaimWhat::ALL {
                            label { input type="radio" name="what" value=(what.name()) required; " " (what.name()) }
                        }
                    }
                    label.field { span { "Words to keep beside it" } input type="text" name="words" maxlength="500"; }
                    button type="submit" { "Write it down" }
                }
            }
        }
    }
}

async fn asked(app: &App, sensor: String) -> Result<(SensorRecord, Vec<SensorPhoto>), Trouble> {
    app.ask(move |backend| {
        let record = backend.sensor_record(&sensor)?;
        let photos: Result<Vec<SensorPhoto>, Trouble> =
            record.photos.iter().map(|&id| backend.photo(id)).collect();
        Ok((record, photos?))
    })
    .await
}

async fn record(State(app): State<App>, Query(which): Query<Which>) -> Result<Markup, Trouble> {
    let shown = Shown {
        unit: app.settings().await?.unit,
    };
    let (record, _) = asked(&app, which.sensor).await?;
    let title = words::record_title(&record);
    let checks = words::record_checks(&record, shown);
    let content = html! {
        link rel="stylesheet" href="/assets/trust.css";
        header.answer-head {
            h1 { (title) }
            p.lead { (words::RECORD_SAID) }
            p { "To send: " a href=(address("record.pdf", &record.record)) { "PDF" } " or "
                a href=(address("record.txt", &record.record)) { "plain text" }
                ". Look through it first: it shows this sensor's glucose, your notes and your photos. What the camera wrote into a photo is \
                 taken out of the PDF."
            }
        }
        section {
            h2 { "Facts" }
            dl.facts { @for (name, value) in words::record_facts(&record) { dt { (name) } dd { (glue(&value)) } } }
        }
        section {
            h2 { "What its readings showed" }
            @for said in words::record_trace(&record, shown) { p { (glue(&said)) } }
        }
        section {
            h2 { "Blood checks" }
            p { (words::record_checks_said(&record)) }
            @if !checks.rows.is_empty() { (table(&checks, "checks")) }
        }
        @if !record.notes.is_empty() {
            section { h2 { "What was written beside it" } @for note in &record.notes { p { (sentence(note)) } } }
        }
        @if !record.photos.is_empty() {
            section {
                h2 { "Photos" }
                @for id in &record.photos {
                    figure {
                        img src={ "/wear/photo/" (id) } alt={ "Photo " (id) };
                        figcaption { "Photo " (id) }
                    }
                }
            }
        }
        @if let Some(sensor) = &record.sensor_id { (photo_form(sensor)) }
        @if let Some(claim) = &record.claim { section { (claimed(claim)) } }
        p { a href="/wear#lost" { "Back to Wear" } }
    };
    Ok(page(&title, Tab::Wear, &[], content))
}

async fn record_pdf(State(app): State<App>, Query(which): Query<Which>) -> Result<Response, Trouble> {
    let unit = app.settings().await?.unit;
    let (record, photos) = asked(&app, which.sensor).await?;
    let ids = record.photos.clone();
    let photos: Vec<PhotoBytes<'_>> = ids
        .iter()
        .zip(&photos)
        .map(|(&id, photo)| PhotoBytes {
            id,
            bytes: &photo.bytes,
        })
        .collect();
    let bytes = pdf::sensor_record(&record, Shown { unit }, &photos);
    let bytes = bytes.map_err(|error| Trouble::Internal(error.to_string()))?;
    Ok(file(&record, "application/pdf", "pdf", bytes))
}

async fn record_text(State(app): State<App>, Query(which): Query<Which>) -> Result<Response, Trouble> {
    let unit = app.settings().await?.unit;
    let (record, _) = asked(&app, which.sensor).await?;
    let text = text::sensor_record(&record, Shown { unit });
    Ok(file(
        &record,
        "text/plain; charset=utf-8",
        "txt",
        text.into_bytes(),
    ))
}

/// A download, named by letters and digits alone.
fn file(record: &SensorRecord, media: &'static str, ending: &str, bytes: Vec<u8>) -> Response {
    let plain = |c: char| if c.is_ascii_alphanumeric() { c } else { '-' };
    let name: String = record.record.chars().map(plain).collect();
    let disposition = format!("attachment; filename=\"sensor-record-{name}.{ending}\"");
    (
        [
            (CONTENT_TYPE, media.to_owned()),
            (CONTENT_DISPOSITION, disposition),
        ],
        bytes,
    )
        .into_response()
}

async fn photo(State(app): State<App>, Path(id): Path<i64>) -> Result<Response, Trouble> {
    let photo = app.ask(move |backend| backend.photo(id)).await?;
    Ok(([(CONTENT_TYPE, photo.media)], photo.bytes).into_response())
}

fn photo_form(sensor: &str) -> Markup {
    html! {
        details {
            summary { "Add a photo" }
            form method="post" action="/wear/photo" enctype="multipart/form-data" {
                input type="hidden" name="sensor" value=(sensor);
                label.field { span { "JPEG, PNG or WebP, up to 8 MB" }
                    input type="file" name="photo" accept="image/jpeg,image/png,image/webp" required; }
                p.help { "It is kept in your book as it is, with what the camera wrote into it." }
                button type="submit" { "Keep it" }
            }
        }
    }
}

async fn keep_photo(State(app): State<App>, Sent { filled, photo }: Sent) -> Result<Redirect, Trouble> {
    let missing = || Trouble::Request("no photo was chosen; choose one and try again".to_owned());
    let (sensor, photo) = filled.one("sensor").zip(photo).ok_or_else(missing)?;
    let change = app
        .ask(move |backend| backend.keep_photo(&sensor, &photo))
        .await?;
    Ok(Redirect::to(&format!("/wear?written={change}#written")))
}

#[derive(Debug, Deserialize)]
struct Claimed {
    sensor: String,
    what: String,
    words: Option<String>,
}

async fn claim(State(app): State<App>, Form(form): Form<Claimed>) -> Result<Redirect, Trouble> {
    let what = ClaimWhat::ALL.into_iter().find(|what| what.name() == form.what);
    let what = what.ok_or_else(|| {
        Trouble::Request("choose what became of it: sent, answered, replaced or refused".to_owned())
    })?;
    let words = form
        .words
        .map(|words| words.trim().to_owned())
        .filter(|words| !words.is_empty());
    app.ask(move |backend| backend.claim(&form.sensor, what, words.clone()))
        .await?;
    Ok(Redirect::to("/wear#lost"))
}

async fn take_back_claim(State(app): State<App>, Form(which): Form<Which>) -> Result<Redirect, Trouble> {
    app.ask(move |backend| backend.take_back_claim(&which.sensor))
        .await?;
    Ok(Redirect::to("/wear#lost"))
}

#[derive(Debug, Deserialize)]
struct Key {
    key: String,
}

async fn confirm(State(app): State<App>, Form(form): Form<Key>) -> Result<Redirect, Trouble> {
    let change = app.ask(move |backend| backend.confirm_found(&form.key)).await?;
    Ok(Redirect::to(&format!("/wear?written={change}#written")))
}
