//! The first page: this moment where there is anything to tell, else what this is and how to begin.

use axum::Router;
use axum::extract::State;
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use interstice_render::words::Shown;
use maud::{Markup, html};

use super::bring::drop_form;
use super::settings::to_be_read;
use crate::app::App;
use crate::shell::{Tab, page};
use crate::{Settings, Trouble};

pub(crate) fn routes() -> Router<App> {
    Router::new()
        .route("/", get(first))
        .route("/begin/invented", post(invented))
        .route("/begin/own", post(own))
}

async fn first(State(app): State<App>) -> Result<Response, Trouble> {
    let empty = app.ask(|backend| backend.is_empty()).await?;
    Ok(if empty {
        let settings = app.settings().await?;
        welcome(&settings, app.can_invent()).into_response()
    } else {
        Redirect::to("/now").into_response()
    })
}

async fn invented(State(app): State<App>) -> Result<Redirect, Trouble> {
    app.show_invented().await?;
    Ok(Redirect::to("/now"))
}

async fn own(State(app): State<App>) -> Redirect {
    app.show_own();
    Redirect::to("/")
}

fn welcome(settings: &Settings, can_invent: bool) -> Markup {
    let content = html! {
        h1 { "An empty book" }
        p.answer { "Give it a file your devices exported, and it will tell you, calmly and with its margin, what really happened." }
        (drop_form())
        section.ways aria-labelledby="ways" {
            h2 #ways { "Or begin otherwise" }
            ul.plain {
                li { a href="/write" { "Write something down by hand" } ": a blood check, a dose, a meal. The file can come later; nothing is asked twice." }
                li { a href="/wear#put-on" { "Write down the sensor you wear" } ", and when the next one goes on is planned from it." }
                li { a href="/settings" { "Set your unit, targets and time zone" } " first. It shows " (settings.unit.symbol()) " and lives by the clock of " (settings.zone) " now." }
                @if can_invent {
                    li {
                        form.in-line method="post" action="/begin/invented" {
                            button.quiet type="submit" { "Look at an invented recording" }
                            " Half a year of a ship's engineer who does not exist, to see every page filled. Your book stays empty."
                        }
                    }
                }
            }
        }
        section {
            h2 { "What happens with a file" }
            ol.steps {
                li { "The file is looked at, whoever made it: which column holds the time, which the glucose, in which unit." }
                li { "You see how it was understood, with its first rows and days. Where two readings are possible you are asked, one question at a time." }
                li { "Only then it is written into your book: one file, on this machine. It can be taken back whole." }
                li { "You get the account: time in range, the usual day, every low and high, and how sure each figure is." }
            }
        }
        @if settings.cautions_read {
            section {
                h2 { "What it is not" }
                p {
                    "Not a medical device, not an alarm, and it never names a dose. It shows what was logged and what \
                     followed. When symptoms and the sensor disagree, a blood check decides."
                }
            }
        } @else { (to_be_read(Shown { unit: settings.unit })) }
    };
    page("Begin", Tab::Elsewhere, &["app.js"], content)
}
