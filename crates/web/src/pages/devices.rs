//! Who may come in: devices of the home network and links that show one page; pairing one, revoking one.

use std::sync::Arc;

use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::http::header::CONTENT_TYPE;
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use axum::{Form, Router};
use interstice_findings::visit::VISIT_DAYS;
use interstice_glucose::{Moment, Second, Zone};
use interstice_home::{Device, LONGEST_LINK_DAYS, Link, Page};
use interstice_render::sheet::{html as sheet_html, sheet};
use interstice_render::words::{self, Shown};
use interstice_tongue::say;
use maud::{Markup, html};
use serde::Deserialize;

use crate::app::App;
use crate::door::{Door, PAIR, Pairing, welcome};
use crate::shell::{Tab, alone, linked as with_links, page, sentence};
use crate::{ReviewWindow, Trouble, VisitWindow};

/// Days a link is good for, where nothing else is chosen.
const LINK_DAYS: u32 = 7;

pub(crate) fn routes() -> Router<App> {
    Router::new()
        .route("/devices", get(list))
        .route("/devices/revoke", post(revoke))
        .route("/devices/link", post(link))
        .route("/devices/link/revoke", post(revoke_link))
        .route(PAIR, get(pair_form).post(pair))
        .route("/home/root.crt", get(root))
        .route("/link/{secret}", get(linked))
}

fn door(app: &App) -> Result<Arc<Door>, Trouble> {
    app.door().ok_or(Trouble::NotFound)
}

/// What is asked of the door may read the disk.
async fn ask<T: Send + 'static>(
    door: &Arc<Door>,
    question: impl FnOnce(&Door) -> Result<T, interstice_home::HomeError> + Send + 'static,
) -> Result<T, Trouble> {
    let door = Arc::clone(door);
    let answer = tokio::task::spawn_blocking(move || question(&door)).await;
    Ok(answer.map_err(|_| Trouble::Internal("the door did not answer".to_owned()))??)
}

async fn list(State(app): State<App>) -> Result<Markup, Trouble> {
    shown(&app, None).await
}

async fn shown(app: &App, made: Option<String>) -> Result<Markup, Trouble> {
    let door = door(app)?;
    let (devices, links) = ask(&door, |door| {
        Ok((
            door.household().devices(door.now())?,
            door.household().links(door.now())?,
        ))
    })
    .await?;
    let zone = app.settings().await?.zone;
    let zone = Zone::named(&zone).unwrap_or_else(|_| Zone::utc());
    let day = |at: Second| {
        let offset_s = zone.offset_s(at);
        words::date_and_clock(Moment { at, offset_s })
    };
    let content = html! {
        h1 { (say!("feeds-devices-title")) }
        p.answer { (answer(door.is_at_home(), devices.len())) }
        @if let Some(made) = &made { (new_link(made)) }
        section aria-labelledby="devices" {
            h2 #devices { (say!("feeds-devices-heading")) }
            @if devices.is_empty() { p { (say!("feeds-devices-none")) } } @else { (device_list(&devices, &day)) }
            p.help { (say!("feeds-devices-help")) }
        }
        section aria-labelledby="links" {
            h2 #links { (say!("feeds-links-heading")) }
            @if links.is_empty() { p { (say!("feeds-links-none")) } } @else { (link_list(&links, &day)) }
            form.settings method="post" action="/devices/link" {
                label.field {
                    span { (say!("feeds-links-days")) }
                    input type="number" name="days" min="1" max=(LONGEST_LINK_DAYS) value=(LINK_DAYS) required;
                }
                button type="submit" { (say!("feeds-links-submit")) }
            }
            p.help { (say!("feeds-links-help")) }
        }
        p { a href="/settings" { (say!("feeds-to-settings")) } }
    };
    Ok(page(&say!("feeds-devices-title"), Tab::Settings, &[], content))
}

fn answer(at_home: bool, devices: usize) -> String {
    if at_home {
        say!("feeds-devices-home", devices = devices)
    } else {
        say!("feeds-devices-alone", devices = devices)
    }
}

fn device_list(devices: &[Device], day: &dyn Fn(Second) -> String) -> Markup {
    html! {
        ul.entries {
            @for device in devices {
                li {
                    span.when { (device.name) }
                    span.what {
                        (say!("feeds-device-line", paired = day(device.paired), seen = day(device.seen)))
                        span.why { (say!("feeds-device-until", until = day(device.until()))) }
                    }
                    span.tools { (revoke_form("/devices/revoke", device.id, &say!("feeds-device-out"))) }
                }
            }
        }
    }
}

fn link_list(links: &[Link], day: &dyn Fn(Second) -> String) -> Markup {
    html! {
        ul.entries {
            @for link in links {
                li {
                    span.when { (say!("feeds-link-sheet")) }
                    span.what { (say!("feeds-link-line", made = day(link.made), until = day(link.until))) }
                    span.tools { (revoke_form("/devices/link/revoke", link.id, &say!("feeds-link-end"))) }
                }
            }
        }
    }
}

fn revoke_form(action: &str, id: u32, words: &str) -> Markup {
    html! {
        form method="post" action=(action) {
            input type="hidden" name="id" value=(id);
            button.quiet type="submit" { (words) }
        }
    }
}

fn new_link(address: &str) -> Markup {
    html! {
        div.question role="status" {
            p { strong { (say!("feeds-link-new")) } }
            p { (say!("feeds-link-address")) " " code { (address) } }
            p { a href=(address) { (say!("feeds-link-look")) } }
        }
    }
}

#[derive(Debug, Deserialize)]
struct Which {
    id: u32,
}

async fn revoke(State(app): State<App>, Form(which): Form<Which>) -> Result<Redirect, Trouble> {
    ask(&door(&app)?, move |door| door.household().revoke(which.id)).await?;
    Ok(Redirect::to("/devices"))
}

async fn revoke_link(State(app): State<App>, Form(which): Form<Which>) -> Result<Redirect, Trouble> {
    ask(&door(&app)?, move |door| door.household().revoke_link(which.id)).await?;
    Ok(Redirect::to("/devices#links"))
}

#[derive(Debug, Deserialize)]
struct Days {
    days: u32,
}

async fn link(State(app): State<App>, Form(days): Form<Days>) -> Result<Markup, Trouble> {
    let door = door(&app)?;
    let made = ask(&door, move |door| {
        door.household().link(Page::Visit, days.days, door.now())
    });
    let (_, secret) = made.await?;
    shown(&app, Some(format!("/link/{secret}"))).await
}

/// One page without any way to another. A secret that is wrong, ended or over is answered as if nothing were there.
async fn linked(State(app): State<App>, Path(secret): Path<String>) -> Result<Markup, Trouble> {
    let found = ask(&door(&app)?, move |door| {
        door.household().link_of(&secret, door.now())
    })
    .await?;
    let Page::Visit = found.ok_or(Trouble::NoLink)?.page;
    let settings = app.ask_own(|own| own.settings()).await?;
    let shown = Shown { unit: settings.unit };
    let window = VisitWindow {
        window: ReviewWindow::Days(VISIT_DAYS),
        since: None,
    };
    let findings = app.ask_own(move |own| own.visit(&window)).await?;
    let content = sheet_html::content(&findings, &sheet(&findings, shown), shown);
    let title = say!(
        "feeds-link-title",
        window = words::window(&findings.review.window)
    );
    Ok(alone(&title, content))
}

async fn pair_form(State(app): State<App>) -> Result<Markup, Trouble> {
    let door = door(&app)?;
    if !door.is_at_home() {
        return Err(Trouble::NotFound);
    }
    Ok(pair_page(None))
}

async fn pair(State(app): State<App>, Form(said): Form<Pairing>) -> Result<Response, Trouble> {
    match door(&app)?.pair(said).await {
        Ok(cookie) => Ok(welcome(cookie)),
        Err(Trouble::Refused(why)) => {
            Ok((StatusCode::FORBIDDEN, pair_page(Some(&sentence(&why)))).into_response())
        }
        Err(other) => Err(other),
    }
}

fn pair_page(why: Option<&str>) -> Markup {
    let content = html! {
        h1 { (say!("feeds-pair-title")) }
        p.answer { @if let Some(why) = why { (why) } @else { (say!("feeds-pair-answer")) } }
        form.jot method="post" action=(PAIR) {
            label.field { span { (say!("feeds-pair-code")) } input name="code" inputmode="numeric" autocomplete="one-time-code" required maxlength="12"; }
            label.field { span { (say!("feeds-pair-passphrase")) } input type="password" name="passphrase" autocomplete="current-password" required maxlength="200"; }
            label.field { span { (say!("feeds-pair-name")) } input name="name" autocomplete="off" required maxlength="40"; }
            button type="submit" { (say!("feeds-pair-submit")) }
        }
        p.help { (with_links(&say!("feeds-pair-already"), &["/now"])) }
        p.help { (with_links(&say!("feeds-pair-certificate"), &["/home/root.crt"])) }
    };
    alone(&say!("feeds-pair-title"), content)
}

async fn root(State(app): State<App>) -> Result<Response, Trouble> {
    let door = door(&app)?;
    if door.root().is_empty() {
        return Err(Trouble::NotFound);
    }
    Ok((
        [(CONTENT_TYPE, "application/x-x509-ca-cert")],
        door.root().to_vec(),
    )
        .into_response())
}
