//! The first page: this moment where there is anything to tell, else what this is and how to begin.

use axum::Router;
use axum::extract::State;
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::get;
use maud::{Markup, html};

use super::bring::drop_form;
use crate::Trouble;
use crate::app::App;
use crate::shell::{Tab, page};

pub(crate) fn routes() -> Router<App> {
    Router::new().route("/", get(first))
}

async fn first(State(app): State<App>) -> Result<Response, Trouble> {
    let empty = app.ask(|backend| backend.is_empty()).await?;
    Ok(if empty {
        welcome().into_response()
    } else {
        Redirect::to("/now").into_response()
    })
}

fn welcome() -> Markup {
    let content = html! {
        h1 { "An empty book" }
        p.answer { "Give it a file your devices exported, and it will tell you, calmly and with its margin, what really happened." }
        (drop_form())
        section {
            h2 { "What happens then" }
            ol.steps {
                li { "The file is looked at, whoever made it: which column holds the time, which the glucose, in which unit." }
                li { "You see how it was understood, with its first rows. Where two readings are possible you are asked." }
                li { "Only then it is written into your book: one file, on this machine. It can be taken back whole." }
                li { "You get the account: time in range, the usual day, every low and high, and how sure each figure is." }
            }
        }
        section {
            h2 { "What it is not" }
            p {
                "Not a medical device, not an alarm, and it never names a dose. It shows what was logged and what \
                 followed. When symptoms and the sensor disagree, a blood check decides."
            }
        }
    };
    page("Begin", Tab::Elsewhere, &["app.js"], content)
}
