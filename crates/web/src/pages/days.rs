//! The Days page.

use axum::Router;
use axum::extract::{Query, State};
use axum::routing::get;
use maud::{Markup, html};

use super::review::day_table;
use crate::Trouble;
use crate::app::App;
use crate::query::ReviewQuery;
use crate::shell::{Tab, page};

pub(crate) fn routes() -> Router<App> {
    Router::new().route("/days", get(days))
}

async fn days(State(app): State<App>, Query(query): Query<ReviewQuery>) -> Result<Markup, Trouble> {
    let settings = app.settings().await?;
    let (ask, shown) = (query.ask()?, query.shown(&settings)?);
    let findings = app.ask(move |backend| backend.review(&ask)).await?;
    Ok(page(
        "Days",
        Tab::Days,
        &[],
        html! { h1 { "Days" } (day_table(&findings.days, shown)) },
    ))
}
