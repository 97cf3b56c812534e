//! Writing a sensor's moments down: put on, started, ended. A place on the map, a choice, a button.

use axum::extract::{DefaultBodyLimit, State};
use axum::response::Redirect;
use axum::routing::post;
use axum::{Form, Router};
use interstice_findings::WearFindings;
use interstice_findings::wear::{OnNow, PlaceWorn, Planned};
use interstice_glucose::{Comfort, Ending, Region, Removal, SensorDetail, SensorNoteKind, Side, SkinAfter};
use interstice_render::chart;
use interstice_render::words::{self, Caution, Shown};
use maud::{Markup, html};
use serde::Deserialize;

use super::sent::{FORM_AT_MOST, Filled, Sent};
use crate::app::App;
use crate::shell::{caution, glue};
use crate::{SensorWords, Trouble};

/// Own spots of a place that are offered, the last used ones.
const MOST_SPOTS: usize = 6;

pub(super) fn routes() -> Router<App> {
    Router::new()
        .route("/wear/put-on", post(put_on))
        .route("/wear/start", post(start))
        .route("/wear/end", post(end))
        .layer(DefaultBodyLimit::max(FORM_AT_MOST))
        .route("/wear/undo", post(take_back))
}

/// `?place=left+thigh`, `?written=12`, `?at=2025-03-01T07:30`.
#[derive(Debug, Default, Deserialize)]
pub(super) struct WearQuery {
    /// The place that was tapped.
    place: Option<String>,
    /// The change that was just written, to take it back by.
    written: Option<String>,
    /// As of when.
    at: Option<String>,
}

impl WearQuery {
    /// As of when, where that was said.
    pub(super) fn at(&self) -> Option<String> {
        self.at.clone().filter(|text| !text.trim().is_empty())
    }
}

async fn put_on(State(app): State<App>, Sent { filled, photo }: Sent) -> Result<Redirect, Trouble> {
    let place = filled
        .one("place")
        .ok_or_else(|| Trouble::Request("say where it was put on: choose a place".to_owned()))?;
    let spot = filled.one("another_spot").or_else(|| filled.one("spot"));
    let site: Vec<String> = std::iter::once(place).chain(spot).collect();
    let mut moments = vec![SensorNoteKind::PutOn];
    if filled.one("then").as_deref() == Some("start") {
        moments.push(SensorNoteKind::Started);
    }
    write(
        &app,
        SensorWords {
            when: filled.one("at"),
            moments,
            sensor: filled.one("sensor"),
            site: Some(site.join(", ")),
            note: filled.one("note"),
            detail: SensorDetail {
                preparation: filled.all("preparation"),
                cover: filled.all("cover"),
                lot: filled.one("lot"),
                serial: filled.one("serial"),
                ..SensorDetail::default()
            },
            photo,
        },
    )
    .await
}

async fn start(State(app): State<App>, Sent { filled, photo }: Sent) -> Result<Redirect, Trouble> {
    write(
        &app,
        SensorWords {
            when: filled.one("at"),
            moments: vec![SensorNoteKind::Started],
            sensor: filled.one("sensor"),
            site: None,
            note: filled.one("note"),
            detail: SensorDetail::default(),
            photo,
        },
    )
    .await
}

async fn end(State(app): State<App>, Sent { filled, photo }: Sent) -> Result<Redirect, Trouble> {
    let detail = ended(&filled)?;
    write(
        &app,
        SensorWords {
            when: filled.one("at"),
            moments: vec![SensorNoteKind::Ended],
            sensor: filled.one("sensor"),
            site: None,
            note: filled.one("note"),
            detail,
            photo,
        },
    )
    .await
}

/// What the form says of a sensor's end.
fn ended(filled: &Filled) -> Result<SensorDetail, Trouble> {
    Ok(SensorDetail {
        ending: filled.choice("how", Ending::ALL, Ending::name)?,
        removal: filled.choice("removal", Removal::ALL, Removal::name)?,
        comfort: filled.choice("comfort", Comfort::ALL, Comfort::name)?,
        skin: filled.choice("skin", SkinAfter::ALL, SkinAfter::name)?,
        skin_days: filled.whole("skin_days", "a number of days")?,
        slept: filled.choice("slept", [Side::Left, Side::Right], Side::name)?,
        ..SensorDetail::default()
    })
}

async fn write(app: &App, words: SensorWords) -> Result<Redirect, Trouble> {
    let change = app.ask(move |backend| backend.write_sensor(&words)).await?;
    Ok(Redirect::to(&format!("/wear?written={change}#written")))
}

#[derive(Debug, Deserialize)]
struct Undo {
    change: i64,
}

async fn take_back(State(app): State<App>, Form(undo): Form<Undo>) -> Result<Redirect, Trouble> {
    app.ask(move |backend| backend.take_back_sensor(undo.change))
        .await?;
    Ok(Redirect::to("/wear"))
}

/// What was just written, with the way back.
pub(super) fn written(query: &WearQuery) -> Markup {
    html! {
        @if let Some(change) = query.written.as_deref().and_then(|text| text.parse::<i64>().ok()) {
            form.written #written method="post" action="/wear/undo" {
                p role="status" { "Written down." }
                input type="hidden" name="change" value=(change);
                button.quiet type="submit" { "Take it back" }
            }
        }
    }
}

/// What is on, each with what can be written of it.
pub(super) fn on_now(findings: &WearFindings) -> Markup {
    html! {
        div #on-now {}
        @for on in &findings.on_now {
            div.on-now {
                p { strong { (words::on_now_name(on)) } }
                @if let Some(said) = on.trust.as_ref().and_then(words::at_age_said) { p { (glue(&said)) " " a href="/trust" { "How far to trust them" } } }
                @if on.started.is_none() {
                    form method="post" action="/wear/start" {
                        (named(on))
                        button type="submit" { "It is started now" }
                        (another_time())
                    }
                }
                details {
                    summary { "It ended" }
                    form method="post" action="/wear/end" enctype="multipart/form-data" {
                        (named(on))
                        fieldset.choices {
                            legend { "How" }
                            @for ending in Ending::ALL {
                                label { input type="radio" name="how" value=(ending.name()) required; " " (ending.name()) }
                            }
                        }
                        (afterwards())
                        label.field { span { "Anything to remember" } input type="text" name="note" maxlength="500"; }
                        (photo_field())
                        (another_time())
                        button type="submit" { "Write it down" }
                    }
                }
            }
        }
    }
}

/// How it came off and what it left; all of it may stay unsaid.
fn afterwards() -> Markup {
    html! {
        details {
            summary { "How it came off, and the skin afterwards" }
            (radios("Taken off", "removal", Removal::ALL, Removal::name, Removal::name))
            (radios("That was", "comfort", Comfort::ALL, Comfort::name, Comfort::name))
            (radios("The skin", "skin", SkinAfter::ALL, SkinAfter::name, SkinAfter::looks))
            label.field { span { "To be seen for so many days" } input type="number" name="skin_days" min="0" max="365" inputmode="numeric"; }
            (radios("Slept mostly on the side", "slept", [Side::Left, Side::Right], Side::name, Side::name))
        }
    }
}

fn radios<T: Copy, const N: usize>(
    legend: &str,
    field: &str,
    all: [T; N],
    name: fn(T) -> &'static str,
    shown: fn(T) -> &'static str,
) -> Markup {
    html! {
        fieldset.choices {
            legend { (legend) }
            @for one in all {
                label { input type="radio" name=(field) value=(name(one)); " " (shown(one)) }
            }
        }
    }
}

fn named(on: &OnNow) -> Markup {
    html! { @if let Some(name) = &on.sensor_id { input type="hidden" name="sensor" value=(name); } }
}

/// A photo to keep beside it.
fn photo_field() -> Markup {
    html! {
        label.field { span { "Photo (JPEG, PNG or WebP, up to 8 MB, kept as it is)" }
            input type="file" name="photo" accept="image/jpeg,image/png,image/webp"; }
    }
}

fn another_time() -> Markup {
    html! {
        details {
            summary { "At another time" }
            label.field { span { "When" } input type="datetime-local" name="at"; }
        }
    }
}

/// The body map and the form for putting one on.
pub(super) fn put_on_section(findings: &WearFindings, query: &WearQuery, shown: Shown) -> Markup {
    let chosen = chosen(findings, query);
    let next = next_put_on(findings).and_then(planned_place);
    let link = |name: &str| format!("/wear?place={}#put-on-form", name.replace(' ', "+"));
    html! {
        section {
            h2 #put-on { "Put one on" }
            p { "Tap the place, and write it down below it." }
            div.where {
                figure {
                    (chart::body(&findings.places, next, &link, "body"))
                    figcaption { (words::body_caption(findings)) " " a href="/methods/plan" { "How places are chosen" } "." }
                }
                div {
                    (form(findings, chosen.as_deref()))
                    (caution(Caution::Wear, shown))
                }
            }
            @if findings.places.iter().any(|place| place.sensors > 0) {
                details { summary { "All places, as a table" } (crate::shell::table(&words::places_table(&findings.places), "places")) }
            }
        }
    }
}

/// The next that is to be put on: one that beds in is on already.
fn next_put_on(findings: &WearFindings) -> Option<&Planned> {
    findings.plan.iter().find(|planned| !planned.is_on())
}

/// The place tapped, else that of the next planned.
fn chosen(findings: &WearFindings, query: &WearQuery) -> Option<String> {
    let planned = next_put_on(findings).and_then(planned_place);
    query
        .place
        .clone()
        .or_else(|| planned.map(|(region, side)| place_name(region, side)))
}

fn planned_place(planned: &Planned) -> Option<(Region, Option<Side>)> {
    let site = planned.site?;
    let region = Region::ALL.into_iter().find(|region| region.name() == site)?;
    let side = [Side::Left, Side::Right]
        .into_iter()
        .find(|side| Some(side.name()) == planned.side);
    Some((region, side))
}

fn place_name(region: Region, side: Option<Side>) -> String {
    let side = side.map_or_else(String::new, |side| format!("{} ", side.name()));
    format!("{side}{}", region.name())
}

fn form(findings: &WearFindings, chosen: Option<&str>) -> Markup {
    let habits = &findings.habits;
    let place = chosen.and_then(|name| findings.places.iter().find(|place| place.name() == name));
    html! {
        form.put-on #put-on-form method="post" action="/wear/put-on" enctype="multipart/form-data" {
            label.field {
                span { "Where" }
                select name="place" required {
                    @if chosen.is_none() { option value="" { "choose a place" } }
                    @for name in place_names(findings, chosen) {
                        option value=(name) selected[Some(name.as_str()) == chosen] { (name) }
                    }
                }
            }
            @if let Some(place) = place { p.help { (glue(&words::place_said(place))) } }
            @if let Some(chosen) = chosen { (spots(chosen, place, findings)) }
            (tags("Skin", "preparation", &habits.preparation, &habits.last_preparation))
            (tags("Cover", "cover", &habits.cover, &habits.last_cover))
            details {
                summary { "Another spot, lot, name, photo, another time" }
                label.field { span { "Another spot, in your own words" } input type="text" name="another_spot" maxlength="80" placeholder="outer side, a hand above the elbow"; }
                label.field { span { "Lot" } input type="text" name="lot" maxlength="80" value=(habits.last_lot.as_deref().unwrap_or_default()); }
                label.field { span { "Serial number" } input type="text" name="serial" maxlength="80"; }
                label.field { span { "Its name in your device's file, where it has one" } input type="text" name="sensor" maxlength="80"; }
                label.field { span { "Anything to remember" } input type="text" name="note" maxlength="500"; }
                (photo_field())
                label.field { span { "When, if not now" } input type="datetime-local" name="at"; }
            }
            p.buttons {
                button type="submit" name="then" value="wait" { "Put on, started later" }
                button type="submit" name="then" value="start" { "Put on and started" }
            }
        }
    }
}

/// The wearer's own spots of a place to tap, each with its rest, then words that are offered; none need be chosen.
fn spots(chosen: &str, place: Option<&PlaceWorn>, findings: &WearFindings) -> Markup {
    let own = place.map_or(&[][..], |place| &place.spots);
    let region = Region::ALL
        .into_iter()
        .find(|region| chosen.ends_with(region.name()));
    let offered = region.map_or(&[][..], words::spots_offered);
    let offered = offered
        .iter()
        .filter(|name| own.iter().all(|spot| spot.name != **name));
    let planned = next_put_on(findings)
        .filter(|next| planned_place(next).is_some_and(|(region, side)| place_name(region, side) == chosen));
    let planned = planned.and_then(|next| next.spot.as_deref());
    html! {
        fieldset.choices {
            legend { "Spot" }
            @for spot in own.iter().take(MOST_SPOTS) {
                label { input type="radio" name="spot" value=(spot.name) checked[planned == Some(spot.name.as_str())]; " " (words::spot_said(spot)) }
            }
            @for name in offered { label { input type="radio" name="spot" value=(name); " " (name) } }
            label { input type="radio" name="spot" value="" checked[planned.is_none()]; " not told" }
        }
    }
}

/// Every place of the map, and those that were used beside it.
pub(super) fn place_names(findings: &WearFindings, chosen: Option<&str>) -> Vec<String> {
    let sides = [Side::Left, Side::Right];
    let drawn = chart::body_regions().flat_map(|region| sides.map(|side| place_name(region, Some(side))));
    let mut names: Vec<String> = drawn.collect();
    let used = findings.places.iter().map(PlaceWorn::name);
    for name in used.chain(chosen.map(str::to_owned)) {
        if !names.contains(&name) {
            names.push(name);
        }
    }
    names
}

fn tags(legend: &str, name: &str, known: &[String], last: &[String]) -> Markup {
    html! {
        fieldset.choices {
            legend { (legend) }
            @for tag in known {
                label { input type="checkbox" name=(name) value=(tag) checked[last.contains(tag)]; " " (tag) }
            }
        }
    }
}
