//! The first page: this moment where there is anything to tell, else what this is and how to begin.

use axum::Router;
use axum::extract::State;
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use interstice_render::words::Shown;
use interstice_tongue::say;
use maud::{Markup, html};

use super::bring::drop_form;
use super::settings::to_be_read;
use crate::app::App;
use crate::shell::{Tab, linked, page};
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
        h1 { (say!("bring-welcome-heading")) }
        p.answer { (say!("bring-welcome-answer")) }
        (drop_form())
        section.ways aria-labelledby="ways" {
            h2 #ways { (say!("bring-ways")) }
            ul.plain {
                li { (linked(&say!("bring-way-write"), &["/write"])) }
                li { (linked(&say!("bring-way-wear"), &["/wear#put-on"])) }
                li {
                    (linked(&say!("bring-way-settings"), &["/settings"])) " "
                    (say!("bring-way-settings-now", unit = settings.unit.symbol(), zone = &settings.zone))
                }
                @if can_invent {
                    li {
                        form.in-line method="post" action="/begin/invented" {
                            button.quiet type="submit" { (say!("bring-way-invented")) }
                            " " (say!("bring-way-invented-help"))
                        }
                    }
                }
            }
        }
        section {
            h2 { (say!("bring-steps")) }
            ol.steps {
                li { (say!("bring-step-look")) }
                li { (say!("bring-step-see")) }
                li { (say!("bring-step-write")) }
                li { (say!("bring-step-account")) }
            }
        }
        @if settings.cautions_read {
            section {
                h2 { (say!("bring-not")) }
                p { (say!("bring-not-said")) }
            }
        } @else { (to_be_read(Shown { unit: settings.unit })) }
    };
    page(&say!("bring-welcome-title"), Tab::Elsewhere, &["app.js"], content)
}
