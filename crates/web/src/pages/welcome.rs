//! The first page: the account where there is one, else what this is and how to begin.

use axum::Router;
use axum::extract::State;
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::get;
use maud::{Markup, html};

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
        Redirect::temporary("/review").into_response()
    })
}

fn welcome() -> Markup {
    page(
        "Begin",
        Tab::Elsewhere,
        &["app.js"],
        html! {
            h1 { "A calm look at what really happened" }
            p.answer { "This book is still empty. Give it a file your devices exported, and it will tell you what is in it." }
        },
    )
}
