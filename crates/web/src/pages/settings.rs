//! Unit, targets and zone.

use axum::extract::{Query, State};
use axum::response::Redirect;
use axum::routing::get;
use axum::{Form, Router};
use interstice_desk::insulin_lasts;
use interstice_findings::TargetGroup;
use interstice_glucose::{InsulinLasts, Unit};
use interstice_render::words::{self, Shown};
use maud::{Markup, html};
use serde::Deserialize;

use crate::app::App;
use crate::query::parse_unit;
use crate::shell::{Tab, page};
use crate::{Settings, Trouble};

pub(crate) fn routes() -> Router<App> {
    Router::new().route("/settings", get(settings).post(change))
}

#[derive(Debug, Deserialize)]
struct Told {
    saved: Option<String>,
}

async fn settings(State(app): State<App>, Query(told): Query<Told>) -> Result<Markup, Trouble> {
    let settings = app.settings().await?;
    Ok(page(
        "Settings",
        Tab::Settings,
        &[],
        html! {
            h1 { "Settings" }
            @if told.saved.is_some() { p.answer role="status" { "Saved. Every page now goes by these." } }
            (form(&settings))
            p { a href="/devices" { "Devices and links" } ": who may come in over the home network, and what shows one page." }
        },
    ))
}

#[derive(Debug, Deserialize)]
struct Change {
    unit: String,
    targets: String,
    zone: String,
    #[serde(default)]
    rapid_hours: String,
    #[serde(default)]
    short_hours: String,
}

async fn change(State(app): State<App>, Form(change): Form<Change>) -> Result<Redirect, Trouble> {
    let unknown =
        || Trouble::Request("that is not a group with consensus targets; choose one of the list".to_owned());
    let settings = Settings {
        unit: parse_unit(&change.unit)?,
        targets: TargetGroup::named(&change.targets).ok_or_else(unknown)?,
        zone: change.zone.trim().to_owned(),
        insulin: InsulinLasts {
            rapid_min: lasts(&change.rapid_hours)?,
            short_min: lasts(&change.short_hours)?,
        },
    };
    app.ask(move |backend| backend.change_settings(&settings)).await?;
    Ok(Redirect::to("/settings?saved=1"))
}

/// Hours as they were typed, in minutes; `None` of an empty field.
fn lasts(typed: &str) -> Result<Option<u16>, Trouble> {
    let typed = typed.trim().replace(',', ".");
    if typed.is_empty() {
        return Ok(None);
    }
    insulin_lasts(&typed).map(Some).map_err(Trouble::Request)
}

fn form(settings: &Settings) -> Markup {
    html! {
        form.settings method="post" action="/settings" {
            fieldset {
                legend { "Glucose is shown in" }
                @for unit in [Unit::MgPerDl, Unit::MmolPerL] {
                    label { input type="radio" name="unit" value=(unit.symbol()) checked[unit == settings.unit]; " " (unit.symbol()) }
                }
            }
            fieldset {
                legend { "Ranges are held against the consensus targets for" }
                @for group in TargetGroup::ALL {
                    label {
                        input type="radio" name="targets" value=(group.name()) checked[group == settings.targets]; " " (group_words(group))
                        span.bounds { "in range " (bounds(group, settings.unit)) }
                    }
                }
            }
            label.field {
                span { "Home time zone" }
                input name="zone" value=(settings.zone) required autocomplete="off" spellcheck="false" aria-describedby="zone-help";
            }
            p.help id="zone-help" { "By name, like Europe/Lisbon or Asia/Kolkata, or as an offset like +02:00. It says when your days begin." }
            fieldset.insulin {
                legend { "Your insulin acts for" }
                (hours_field("rapid_hours", "rapid-acting", settings.insulin.rapid_min))
                (hours_field("short_hours", "short-acting", settings.insulin.short_min))
            }
            p.help id="insulin-help" {
                "Hours under the skin until a twentieth is left, as you have found it with your care team; 1 to 12. Left empty, published curves stand. How \
                 much of a dose is left, on Now, in swings and in a second look, goes by it; no dose is ever worked out from it."
            }
            button type="submit" { "Save" }
        }
    }
}

fn hours_field(name: &str, kind: &str, minutes: Option<u16>) -> Markup {
    let hours = minutes.map(|minutes| words::hours(f64::from(minutes) / 60.0));
    html! {
        label {
            input type="number" name=(name) min="1" max="12" step="0.25" value=[hours] inputmode="decimal" aria-describedby="insulin-help";
            " hours, " (kind)
        }
    }
}

/// '63 to 140 mg/dL'.
fn bounds(group: TargetGroup, unit: Unit) -> String {
    let (targets, shown) = (group.targets(), Shown { unit });
    format!(
        "{} to {}",
        shown.glucose(targets.range_low_mg_dl),
        shown.glucose_with_unit(targets.range_high_mg_dl)
    )
}

fn group_words(group: TargetGroup) -> &'static str {
    match group {
        TargetGroup::Adult => "adults with type 1 or type 2 diabetes",
        TargetGroup::OlderOrHighRisk => "older people and those at high risk",
        TargetGroup::Pregnancy => "pregnancy with type 1 diabetes",
    }
}
