//! Writing without the app at hand: a page that a phone keeps, entries that wait there, and the one address that takes
//! them, each once.

use axum::extract::State;
use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use axum::{Form, Router};
use interstice_desk::Jot;
use interstice_tongue::say;
use maud::{Markup, html};
use serde::Deserialize;

use super::write::{Sent, blank, name};
use crate::app::App;
use crate::assets::digest;
use crate::query::{given, parse_unit};
use crate::shell::{Tab, linked, page, sentence};
use crate::{Jotted, Trouble};

/// Where the page lies that is kept.
const AWAY: &str = "/write/away";

/// What a phone keeps: nothing that tells of the book.
const KEPT: [&str; 8] = [
    AWAY,
    "/assets/chart.css",
    "/assets/app.css",
    "/assets/queue.js",
    "/assets/icon.svg",
    "/assets/icon-192.png",
    "/assets/icon-512.png",
    "/app.webmanifest",
];

pub(crate) fn routes() -> Router<App> {
    Router::new()
        .route(AWAY, get(away))
        .route("/write/queued", post(queued))
        .route("/sw.js", get(worker))
        .route("/app.webmanifest", get(manifest))
}

/// Where entries that wait are shown; hidden where none do.
pub(super) fn waiting(identity: &str) -> Markup {
    html! {
        section #waiting.waiting hidden data-book=(identity) data-words=(queue_words()) aria-labelledby="waiting-head" {
            h2 #waiting-head {}
            p.help role="status" {}
            ul.entries {}
            button.quiet type="button" { (say!("write-queue-send")) }
        }
    }
}

/// What the script says of entries that wait; between braces stands what it fills in.
fn queue_words() -> String {
    serde_json::json!({
        "strike": say!("write-strike"),
        "waits": say!("write-queue-waits", entries = 1),
        "wait": say!("write-queue-waits", entries = "{entries}"),
        "stuck": say!("write-queue-stuck", entries = 1),
        "stucks": say!("write-queue-stuck", entries = "{entries}"),
        "tried": say!("write-queue-tried", why = "{why}", clock = "{clock}"),
        "unreached": say!("write-queue-unreached"),
        "unpaired": say!("write-queue-unpaired"),
        "busy": say!("write-queue-busy"),
        "answered": say!("write-queue-answered", status = "{status}"),
        "was": say!("write-queue-was", unit = "{unit}"),
        "thisBook": say!("write-queue-this-book"),
        "again": say!("write-queue-again"),
        "which-unit": say!("write-queue-which", said = "{said}"),
        "another-book": say!("write-queue-another-book"),
        "refused": say!("write-queue-refused", why = "{why}"),
    })
    .to_string()
}

async fn away(State(app): State<App>) -> Result<Markup, Trouble> {
    let settings = app.settings().await?;
    let identity = app.ask(|backend| backend.identity()).await?;
    let content = html! {
        div #away.old {
            h1 { (say!("write-away-title")) }
            p.answer { (say!("write-away-answer")) }
            p.lead { (say!("write-away-lead")) }
            p #asked.help hidden { (say!("write-away-asked")) " " span {} "." }
        }
        p #reached.answer hidden { (linked(&say!("write-away-reached"), &["/write"])) }
        noscript { p.answer { (say!("write-away-no-script")) } }
        (waiting(&identity))
        section aria-labelledby="forms" {
            h2 #forms { (say!("write-title")) }
            @for jot in Jot::ALL {
                details.away name="jot" {
                    summary { (name(jot)) }
                    (blank(jot, &settings))
                }
            }
        }
    };
    Ok(page(
        &say!("write-away-title"),
        Tab::Elsewhere,
        &["queue.js"],
        content,
    ))
}

/// An entry that waited: the form as it was filled in, and what makes it one.
#[derive(Debug, Deserialize)]
struct Waited {
    key: String,
    /// The identity of the book it was written for.
    book: String,
    labelled: Option<String>,
    #[serde(flatten)]
    sent: Sent,
}

/// Answers what became of it: `written`, `which-unit`, `another-book`, or `refused` and why. What may go well later has a
/// status of 429 or 5xx.
async fn queued(State(app): State<App>, Form(waited): Form<Waited>) -> Response {
    match take(&app, &waited).await {
        Ok(answer) => json(answer),
        Err(trouble @ (Trouble::Request(_) | Trouble::NoSensor(_))) => {
            json(serde_json::json!({ "state": "refused", "why": sentence(&trouble.to_string()) }))
        }
        Err(trouble) => {
            let why = serde_json::json!({ "state": "later", "why": sentence(&trouble.to_string()) });
            (trouble.status(), json(why)).into_response()
        }
    }
}

async fn take(app: &App, waited: &Waited) -> Result<serde_json::Value, Trouble> {
    let identity = app.ask_own(|own| own.identity()).await?;
    // What was written while the book had nothing in it yet is of the book that was begun since.
    let nothing = interstice_desk::digest(b"");
    if waited.book != identity && waited.book != nothing[..16] {
        return Ok(serde_json::json!({ "state": "another-book" }));
    }
    let (words, key) = (waited.sent.words()?, waited.key.clone());
    let labelled = given(&waited.labelled)
        .map(|unit| parse_unit(&unit))
        .transpose()?;
    let jotted = app
        .ask_own(move |own| own.jot_once(&words, &key, labelled))
        .await?;
    Ok(match jotted {
        Jotted::Written(change) => serde_json::json!({ "state": "written", "change": change }),
        Jotted::WhichUnit(said) => serde_json::json!({ "state": "which-unit", "said": said }),
    })
}

fn json(value: serde_json::Value) -> Response {
    ([(CONTENT_TYPE, "application/json")], value.to_string() + "\n").into_response()
}

/// The worker that answers with the kept page while the app cannot be reached. Its text changes with all it keeps, and so
/// does what the browser keeps.
async fn worker(State(app): State<App>) -> Result<Response, Trouble> {
    let kept = away(State(app)).await?.into_string();
    let version = digest(&kept);
    let list = serde_json::json!(KEPT);
    let text = format!("\"use strict\";\nconst version = \"{version}\";\nconst kept = {list};\n{WORKER}");
    Ok((
        [(CONTENT_TYPE, "text/javascript"), (CACHE_CONTROL, "no-cache")],
        text,
    )
        .into_response())
}

const WORKER: &str = include_str!("worker.js");

async fn manifest() -> Response {
    let icon = |size: &str, file: &str, kind: &str| serde_json::json!({ "src": format!("/assets/{file}"), "sizes": size, "type": kind, "purpose": "any maskable" });
    let manifest = serde_json::json!({
        "name": "Interstice",
        "short_name": "Interstice",
        "description": "Your own book for living on a glucose sensor",
        "id": "/",
        "start_url": "/now",
        "scope": "/",
        "display": "standalone",
        "background_color": "#f7f8fa",
        "theme_color": "#1d2733",
        "icons": [
            icon("192x192", "icon-192.png", "image/png"),
            icon("512x512", "icon-512.png", "image/png"),
        ],
        "shortcuts": [{ "name": say!("write-title"), "url": "/write" }],
    });
    let text = manifest.to_string() + "\n";
    (
        [
            (CONTENT_TYPE, "application/manifest+json"),
            (CACHE_CONTROL, "no-cache"),
        ],
        text,
    )
        .into_response()
}
