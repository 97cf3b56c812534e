//! Feeds: what brings readings by itself, how each is, and files that wait for the person.

use std::sync::Arc;

use axum::extract::State;
use axum::response::Redirect;
use axum::routing::{get, post};
use axum::{Form, Router};
use interstice_findings::feeds::{ComesAsk, FeedLine, FileLine};
use interstice_render::words;
use maud::{Markup, html};
use serde::Deserialize;

use crate::app::App;
use crate::door::Door;
use crate::folders::feeds_of;
use crate::shell::{Tab, glue, page, sentence};
use crate::{Trouble, Upload};

/// Largest file that is looked at in the page; larger ones stream from the command line.
const FILE_BYTES_AT_MOST: u64 = 256 << 20;

pub(crate) fn routes() -> Router<App> {
    Router::new()
        .route("/feeds", get(list))
        .route("/feeds/token", post(token))
        .route("/feeds/end", post(end))
        .route("/feeds/look", post(look))
}

fn door(app: &App) -> Result<Arc<Door>, Trouble> {
    app.door().ok_or(Trouble::NotFound)
}

/// The feeds of the wearer's own book; none where nothing can be looked after.
async fn feeds(app: &App) -> Result<Vec<FeedLine>, Trouble> {
    let Some(door) = app.door() else {
        return Ok(Vec::new());
    };
    let ask = move |own: &dyn crate::Backend| {
        let asked = feeds_of(door.household())?;
        if asked.is_empty() {
            return Ok(Vec::new());
        }
        Ok(own.feeds(&asked)?.feeds)
    };
    app.ask_own(ask).await
}

async fn list(State(app): State<App>) -> Result<Markup, Trouble> {
    door(&app)?;
    shown(&app, None).await
}

async fn shown(app: &App, made: Option<(String, String)>) -> Result<Markup, Trouble> {
    let feeds = feeds(app).await?;
    let content = html! {
        div #now data-unreached=(super::now::unreached()) {
            h1 { "Feeds" }
            p.answer { (answer(&feeds)) }
            @if let Some((name, token)) = &made { (new_token(name, token)) }
            @for feed in &feeds { (in_full(feed)) }
        }
        section aria-labelledby="new" {
            h2 #new { "Let something send" }
            form.settings method="post" action="/feeds/token" {
                label.field { span { "A name for it, to know it by" } input name="name" autocomplete="off" required maxlength="40"; }
                button type="submit" { "Make a token" }
            }
            p.help { "Whoever has the token may send readings to " code { "/push" } " of this app, and can read nothing. It is good until it is ended." }
            p.help { "A folder is looked into from the terminal: " code { "interstice feeds --watch FOLDER" } "." }
            p.help { "A sensor or transmitter that speaks the open Bluetooth service is listened to from there too: " code { "interstice feeds --radio ADDRESS" } "." }
        }
        p { a href="/settings" { "Back to Settings" } }
    };
    Ok(page("Feeds", Tab::Settings, &["now.js"], content))
}

fn answer(feeds: &[FeedLine]) -> String {
    let troubled = feeds
        .iter()
        .filter(|feed| !words::feed_troubles(feed).is_empty())
        .count();
    match (feeds.len(), troubled) {
        (0, _) => "Nothing brings readings by itself yet.".to_owned(),
        (1, 0) => "One feed, and nothing is wrong with it.".to_owned(),
        (many, 0) => format!("{many} feeds, and nothing is wrong with them."),
        (_, 1) => "One feed needs a look.".to_owned(),
        (_, some) => format!("{some} feeds need a look."),
    }
}

fn in_full(feed: &FeedLine) -> Markup {
    let id = format!("feed-{}", feed.number);
    html! {
        section aria-labelledby=(id) {
            h2 id=(id) { (feed.name) }
            p { (sentence(&glue(&words::feed_last(feed)))) }
            @if let Some(folder) = &feed.folder { p.help { "The folder " code { (folder) } ", " (words::feed_files(feed)) "." } }
            @if let Some(address) = &feed.address { p.help { "By radio from " code { (address) } "." } }
            @if let Some(note) = &feed.note { p.help { (sentence(&glue(note))) } }
            @for said in words::feed_troubles(feed) { p.lead { (sentence(&glue(&said))) } }
            @if feed.rejected > 0 {
                @if let Some(id) = feed.import_id { p { a href={ "/imports/" (id) "/rejected" } { "The rows that could not be used" } } }
            }
            (waiting(feed.number, &feed.waiting))
            (files("Files that may not be whole yet", &feed.arriving))
            (files("Files that are no records", &feed.not_used))
            form method="post" action="/feeds/end" {
                input type="hidden" name="number" value=(feed.number);
                button.quiet type="submit" aria-label={ "End " (feed.name) } { "End it" }
            }
        }
    }
}

fn files(heading: &str, files: &[FileLine]) -> Markup {
    let told: Vec<&FileLine> = files.iter().filter(|file| !file.why.is_empty()).collect();
    html! {
        @if !told.is_empty() {
            details {
                summary { (heading) }
                ul { @for file in told { li { (file.file) ": " (sentence(&file.why)) } } }
            }
        }
    }
}

fn waiting(number: u32, files: &[FileLine]) -> Markup {
    html! {
        @if !files.is_empty() {
            ul.entries {
                @for file in files {
                    li {
                        span.when { "waits" }
                        span.what { (file.file) span.why { (sentence(&file.why)) } }
                        span.tools {
                            form method="post" action="/feeds/look" {
                                input type="hidden" name="number" value=(number);
                                input type="hidden" name="file" value=(file.file);
                                button.quiet type="submit" aria-label={ "Look at " (file.file) } { "Look at it" }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn new_token(name: &str, token: &str) -> Markup {
    html! {
        div.question role="status" {
            p { strong { "The token of " (name) ", shown this once:" } }
            p { code.token { (token) } }
        }
    }
}

/// How the feeds are, on the page of this moment; nothing where there are none, or another recording is shown.
pub(super) async fn on_now(app: &App) -> Result<Markup, Trouble> {
    if app.is_another_shown() {
        return Ok(html! {});
    }
    let feeds = feeds(app).await?;
    if feeds.is_empty() {
        return Ok(html! {});
    }
    Ok(html! {
        section aria-labelledby="feeds" {
            h2 #feeds { "Feeds" }
            @for feed in &feeds {
                p { (sentence(&glue(&words::feed(feed)))) }
                @for said in words::feed_troubles(feed) { p.lead { (sentence(&glue(&said))) } }
            }
            p { a href="/feeds" { "Each feed, and files that wait" } }
        }
    })
}

#[derive(Debug, Deserialize)]
struct Named {
    name: String,
}

async fn token(State(app): State<App>, Form(named): Form<Named>) -> Result<Markup, Trouble> {
    let door = door(&app)?;
    let made = app
        .ask_own(move |_| Ok(door.household().let_send(&named.name, door.now())?))
        .await?;
    shown(&app, Some((made.0.name, made.1))).await
}

#[derive(Debug, Deserialize)]
struct Which {
    number: u32,
}

async fn end(State(app): State<App>, Form(which): Form<Which>) -> Result<Redirect, Trouble> {
    let door = door(&app)?;
    app.ask_own(move |_| Ok(door.household().revoke_source(which.number)?))
        .await?;
    Ok(Redirect::to("/feeds"))
}

#[derive(Debug, Deserialize)]
struct File {
    number: u32,
    file: String,
}

/// Hands a file that waits over, as if it had been dropped on the page: only one that was found to wait in its folder.
async fn look(State(app): State<App>, Form(asked): Form<File>) -> Result<Redirect, Trouble> {
    let door = door(&app)?;
    let upload = app
        .ask_own(move |_| {
            let gone = || Trouble::Request("this file is no longer waiting; look at the feeds again".to_owned());
            let feeds = feeds_of(door.household())?;
            let folder = feeds.into_iter().find(|feed| feed.number == asked.number).and_then(|feed| match feed.comes {
                ComesAsk::Folder(folder) => Some(folder),
                ComesAsk::Sent | ComesAsk::Radio(_) => None,
            });
            let folder = folder.ok_or_else(gone)?;
            let file = folder.waiting.into_iter().find(|file| file.file == asked.file).ok_or_else(gone)?;
            let path = std::path::Path::new(&folder.path).join(&file.file);
            let about = std::fs::symlink_metadata(&path).map_err(|_| gone())?;
            if !about.is_file() {
                return Err(gone());
            }
            if about.len() > FILE_BYTES_AT_MOST {
                let why = "the file is larger than 256 MB; bring it in with `interstice import FILE`, which reads it in a stream";
                return Err(Trouble::Request(why.to_owned()));
            }
            let bytes = std::fs::read(&path).map_err(|_| gone())?;
            Ok(Upload { name: file.file, bytes })
        })
        .await?;
    Ok(Redirect::to(&format!("/bring/{}", app.waiting().enter(upload))))
}
