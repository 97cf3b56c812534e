//! What was brought in.

use axum::Router;
use axum::extract::State;
use axum::routing::get;
use maud::{Markup, html};

use crate::app::App;
use crate::shell::{Tab, page};
use crate::{ImportLine, Trouble};

pub(crate) fn routes() -> Router<App> {
    Router::new().route("/imports", get(imports))
}

async fn imports(State(app): State<App>) -> Result<Markup, Trouble> {
    let lines = app.ask(|backend| backend.imports()).await?;
    Ok(page(
        "Imports",
        Tab::Imports,
        &[],
        html! { h1 { "Imports" } (table(&lines)) },
    ))
}

fn table(lines: &[ImportLine]) -> Markup {
    html! {
        @if lines.is_empty() { p { "Nothing has been brought in yet." } }
        @else {
            div.scroll {
                table {
                    thead { tr { th scope="col" { "File" } th scope="col" { "When" } th scope="col" { "Brought" } th.num scope="col" { "Rows not used" } } }
                    tbody {
                        @for line in lines {
                            tr {
                                th scope="row" { (line.file) }
                                td { (line.when) }
                                td { (line.brought.join(", ")) }
                                td.num { (line.rejected) }
                            }
                        }
                    }
                }
            }
        }
    }
}
