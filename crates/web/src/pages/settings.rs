//! Unit, targets and zone.

use axum::extract::{Query, State};
use axum::response::Redirect;
use axum::routing::{get, post};
use axum::{Form, Router};
use interstice_desk::{AwayWords, NightHours, clock_of, insulin_lasts, night_hours};
use interstice_findings::TargetGroup;
use interstice_glucose::{InsulinLasts, Unit, counted};
use interstice_render::words::{self, Caution, Shown};
use interstice_tongue::{Tongue, say, within};
use maud::{Markup, html};
use serde::Deserialize;

use crate::app::App;
use crate::query::parse_unit;
use crate::shell::{Tab, page};
use crate::{AboutBook, AwayLine, Settings, Trouble};

pub(crate) fn routes() -> Router<App> {
    Router::new()
        .route("/settings", get(settings).post(change))
        .route("/settings/cautions", post(cautions))
        .route("/settings/away", post(away))
        .route("/settings/away/strike", post(strike))
        .route("/settings/undo", post(undo))
}

#[derive(Debug, Deserialize)]
struct Told {
    saved: Option<String>,
    done: Option<i64>,
}

async fn settings(State(app): State<App>, Query(told): Query<Told>) -> Result<Markup, Trouble> {
    let settings = app.settings().await?;
    let about = app.ask(|backend| backend.about_book()).await?;
    Ok(page(
        "Settings",
        Tab::Settings,
        &[],
        html! {
            h1 { "Settings" }
            @if told.saved.is_some() { p.answer role="status" { "Saved. Every page now goes by these." } }
            @if let Some(change) = told.done { (taken(change)) }
            (form(&settings))
            p { a href="/devices" { "Devices and links" } ": who may come in over the home network, and what shows one page." }
            p { a href="/feeds" { "Feeds" } ": what brings readings by itself, and how it is." }
            (away_from_home(&about))
            (more(&about))
            (super::backups::section(&about.backups))
            (kept(&about))
            @if settings.cautions_read { (what_it_is_not(Shown { unit: settings.unit })) } @else { (to_be_read(Shown { unit: settings.unit })) }
        },
    ))
}

#[derive(Debug, Deserialize)]
struct Change {
    /// By its code; what is set where it is left out.
    #[serde(default)]
    language: String,
    unit: String,
    targets: String,
    zone: String,
    #[serde(default)]
    night_from: String,
    #[serde(default)]
    night_to: String,
    #[serde(default)]
    rapid_hours: String,
    #[serde(default)]
    short_hours: String,
    #[serde(default)]
    own_low: String,
    #[serde(default)]
    own_high: String,
    #[serde(default)]
    own_over: String,
    #[serde(default)]
    own_below: String,
}

impl Change {
    fn group(&self) -> Result<TargetGroup, Trouble> {
        let group = match self.targets.as_str() {
            "own" => {
                let (low, high, over, below) =
                    (&self.own_low, &self.own_high, &self.own_over, &self.own_below);
                TargetGroup::named(&format!(
                    "own {low}-{high} over {} below {}",
                    over.trim(),
                    below.trim()
                ))
            }
            name => TargetGroup::named(name),
        };
        let unknown = match self.targets.as_str() {
            "own" => {
                "targets of your own need two percentages from 1 to 99, together at most 100: the time in range that you aim for, and the time below that you stay under"
            }
            _ => "that is not a group with consensus targets; choose one of the list",
        };
        group.ok_or_else(|| Trouble::Request(unknown.to_owned()))
    }
}

async fn change(State(app): State<App>, Form(change): Form<Change>) -> Result<Redirect, Trouble> {
    let before = app.settings().await?;
    let settings = Settings {
        cautions_read: before.cautions_read,
        language: language(&change.language, before.language)?,
        night: night(&change.night_from, &change.night_to)?,
        unit: parse_unit(&change.unit)?,
        targets: change.group()?,
        zone: change.zone.trim().to_owned(),
        insulin: InsulinLasts {
            rapid_min: lasts(&change.rapid_hours)?,
            short_min: lasts(&change.short_hours)?,
        },
    };
    app.ask(move |backend| backend.change_settings(&settings)).await?;
    Ok(Redirect::to("/settings?saved=1"))
}

fn language(code: &str, before: Tongue) -> Result<Tongue, Trouble> {
    if code.is_empty() {
        return Ok(before);
    }
    let unknown = || {
        Trouble::Request(format!(
            "'{code}' is no language of this app; choose one of the list"
        ))
    };
    Tongue::named(code).ok_or_else(unknown)
}

/// The hours of the night as they were typed; `None` of two empty fields.
fn night(from: &str, to: &str) -> Result<Option<NightHours>, Trouble> {
    if from.trim().is_empty() && to.trim().is_empty() {
        return Ok(None);
    }
    night_hours(from, to).map(Some).map_err(Trouble::Request)
}

async fn cautions(State(app): State<App>) -> Result<Redirect, Trouble> {
    let settings = Settings {
        cautions_read: true,
        ..app.settings().await?
    };
    app.ask(move |backend| backend.change_settings(&settings)).await?;
    Ok(Redirect::to("/"))
}

#[derive(Debug, Deserialize)]
struct Voyage {
    from: String,
    to: String,
    zone: String,
}

async fn away(State(app): State<App>, Form(voyage): Form<Voyage>) -> Result<Redirect, Trouble> {
    let words = AwayWords {
        from: voyage.from,
        to: voyage.to,
        zone: voyage.zone,
    };
    let change = app.ask(move |backend| backend.log_away(&words)).await?;
    Ok(Redirect::to(&format!("/settings?done={change}")))
}

#[derive(Debug, Deserialize)]
struct Which {
    from: i64,
    to: i64,
}

async fn strike(State(app): State<App>, Form(which): Form<Which>) -> Result<Redirect, Trouble> {
    let change = app
        .ask(move |backend| {
            let gone = || Trouble::Request("this stretch is no longer in the book".to_owned());
            let about = backend.about_book()?;
            let is_it = |line: &&AwayLine| (line.span.0.at, line.span.1.at) == (which.from, which.to);
            let line = about.away.iter().find(is_it).ok_or_else(gone)?;
            backend.strike(line.entry)
        })
        .await?;
    Ok(Redirect::to(&format!("/settings?done={change}")))
}

#[derive(Debug, Deserialize)]
struct Undo {
    change: i64,
}

async fn undo(State(app): State<App>, Form(undo): Form<Undo>) -> Result<Redirect, Trouble> {
    app.ask(move |backend| backend.take_back_entry(undo.change))
        .await?;
    Ok(Redirect::to("/settings"))
}

fn taken(change: i64) -> Markup {
    html! {
        form.in-line method="post" action="/settings/undo" {
            p.answer role="status" { "Written down." }
            input type="hidden" name="change" value=(change);
            button.quiet type="submit" { "Take it back" }
        }
    }
}

fn away_from_home(about: &AboutBook) -> Markup {
    html! {
        section aria-labelledby="away" {
            h2 #away { "Away from home" }
            p { "While you live by another clock, days, nights and usual hours go by it. Tell it afterwards or ahead, in whole days there." }
            @if !about.away.is_empty() {
                ul.plain {
                    @for line in &about.away {
                        li {
                            (line.zone) ", " (words::date_and_clock(line.span.0)) " to " (words::date_and_clock(line.span.1))
                            @if !line.by_hand { span.said { " (told by a file)" } }
                            form.in-line method="post" action="/settings/away/strike" {
                                input type="hidden" name="from" value=(line.span.0.at);
                                input type="hidden" name="to" value=(line.span.1.at);
                                button.quiet type="submit" aria-label={ "Strike out " (line.zone) " from " (words::date_and_clock(line.span.0)) } { "Strike out" }
                            }
                        }
                    }
                }
            }
            form.settings method="post" action="/settings/away" {
                label.field { span { "First day there" } input type="date" name="from" required; }
                label.field { span { "Last day there" } input type="date" name="to" required; }
                label.field { span { "Time zone there" } input name="zone" required placeholder="Asia/Tokyo" autocomplete="off" spellcheck="false"; }
                button type="submit" { "Write it down" }
            }
        }
    }
}

/// What is set elsewhere, and where.
fn more(about: &AboutBook) -> Markup {
    html! {
        section aria-labelledby="more" {
            h2 #more { "Set elsewhere" }
            ul.plain {
                li { a href="/wear#kind" { "The kind of sensor you wear" } ", as its instructions describe it, and by what the next is planned" }
                li { a href="/visit" { "Your name, visits, laboratory values and questions" } " for the sheet" }
                li {
                    @match about.tags.as_slice() {
                        [] => { "No tags yet. A tag is a word of yours for a kind of day, written down on " a href="/write?what=tag#form" { "Write" } }
                        tags => {
                            "Your tags: "
                            @for (place, (tag, days)) in tags.iter().enumerate() { @if place > 0 { ", " } (tag) " (" (counted(*days as u64, "day", "days")) ")" }
                            ". " a href="/review/compare" { "Compare days of one with the others" }
                        }
                    }
                }
            }
        }
    }
}

fn kept(about: &AboutBook) -> Markup {
    html! {
        section aria-labelledby="kept" {
            h2 #kept { "Where it is kept" }
            dl.facts {
                dt { "The book" } dd { code { (about.path) } @if let Some(bytes) = about.bytes { ", " (megabytes(bytes)) } @else { ", not there yet" } }
                dt { "Brought in" } dd { a href="/imports" { (counted(about.imports as u64, "file", "files")) } }
                dt { "Layouts it knows" } dd { @if about.layouts == 0 { "none yet" } @else { (counted(about.layouts as u64, "layout", "layouts")) } ": a file of one of them is understood at once. One is forgotten when the files that taught it are taken back." }
            }
            p { "It is one file. Everything in it can be taken out as tables, too, with " code { "interstice export" } "." }
        }
    }
}

fn megabytes(bytes: u64) -> String {
    format!("{:.1} MB", bytes as f64 / 1e6)
}

/// The cautions, all of them.
fn cautions_of(shown: Shown) -> Markup {
    html! {
        p { (say!("caution-device")) }
        @for caution in [Caution::CareTeam, Caution::Lows, Caution::FirstDay, Caution::Pressure, Caution::Ketones] { p { (caution.text(shown)) } }
    }
}

/// The cautions before they were read: once, with a button that says so.
pub(crate) fn to_be_read(shown: Shown) -> Markup {
    html! {
        section.to-be-read aria-labelledby="cautions" {
            p #cautions { strong { (say!("settings-before-you-begin")) } }
            (cautions_of(shown))
            form method="post" action="/settings/cautions" { button type="submit" { (say!("settings-have-read")) } }
        }
    }
}

fn what_it_is_not(shown: Shown) -> Markup {
    html! {
        section aria-labelledby="cautions" {
            h2 #cautions { "The cautions" }
            details { summary { "You have read them. Here they are again" } (cautions_of(shown)) }
        }
    }
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
                legend { (say!("settings-language")) }
                @for tongue in Tongue::ALL {
                    label lang=(tongue.code()) {
                        input type="radio" name="language" value=(tongue.code()) checked[tongue == settings.language]; " "
                        (within(tongue, || language_name(tongue)))
                    }
                }
            }
            fieldset {
                legend { "Glucose is shown in" }
                @for unit in [Unit::MgPerDl, Unit::MmolPerL] {
                    label { input type="radio" name="unit" value=(unit.symbol()) checked[unit == settings.unit]; " " (unit.symbol()) }
                }
            }
            fieldset {
                legend { "Ranges and targets: the consensus for" }
                @for group in TargetGroup::ALL {
                    label {
                        input type="radio" name="targets" value=(group.name()) checked[group == settings.targets]; " " (group_words(group))
                        span.bounds { "in range " (bounds(group, settings.unit)) }
                    }
                }
                (own_targets(settings))
            }
            label.field {
                span { "Home time zone" }
                input name="zone" value=(settings.zone) required autocomplete="off" spellcheck="false" aria-describedby="zone-help";
            }
            p.help id="zone-help" { "By name, like Europe/Lisbon or Asia/Kolkata, or as an offset like +02:00. It says when your days begin." }
            fieldset.insulin {
                legend { "Your night" }
                label { input type="time" name="night_from" value=[settings.night.map(|night| clock_of(night.from_minute))] aria-describedby="night-help"; " it begins" }
                label { input type="time" name="night_to" value=[settings.night.map(|night| clock_of(night.to_minute))] aria-describedby="night-help"; " it ends" }
            }
            p.help id="night-help" {
                "Nights in the account, and when you may be lying on a sensor, go by it where no sleep is written down. Left empty, usual hours stand."
            }
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

/// Targets of one's own: the range by its printed edges, and two percentages.
fn own_targets(settings: &Settings) -> Markup {
    let own = match settings.targets {
        TargetGroup::Own(own) => Some(own),
        _ => None,
    };
    let ((low, high), (over, below)) =
        own.map_or(((70, 180), (70, 4)), |own| (own.range_mg_dl(), own.percents()));
    let shown = Shown { unit: settings.unit };
    let edge = |name: &str, label: &str, edges: [u16; 2], chosen: u16| {
        html! {
            select name=(name) aria-label=(label) {
                @for mg_dl in edges {
                    option value=(mg_dl) selected[mg_dl == chosen] { (shown.glucose(mg_dl.into())) }
                }
            }
        }
    };
    let percent = |name: &str, label: &str, value: u8| {
        html! { input type="number" name=(name) min="1" max="99" step="1" value=(value) inputmode="numeric" aria-label=(label); " %" }
    };
    html! {
        label { input type="radio" name="targets" value="own" checked[own.is_some()]; " my own, as agreed with my care team" }
        p.own-targets {
            "in range " (edge("own_low", "Lower end of my range", [63, 70], low))
            " to " (edge("own_high", "Upper end of my range", [140, 180], high)) " " (shown.unit)
            ", over " (percent("own_over", "Time in range I aim for, percent", over))
            " of the time, below it under " (percent("own_below", "Time below range I stay under, percent", below))
        }
    }
}

fn hours_field(name: &str, kind: &str, minutes: Option<u16>) -> Markup {
    let hours = minutes.map(|minutes| words::digits(f64::from(minutes) / 60.0));
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

/// A language by its own name, and whether it is whole.
fn language_name(tongue: Tongue) -> String {
    if tongue.is_finished() {
        tongue.name().to_owned()
    } else {
        say!("settings-unfinished", language = tongue.name())
    }
}

fn group_words(group: TargetGroup) -> &'static str {
    match group {
        TargetGroup::Adult => "adults with type 1 or type 2 diabetes",
        TargetGroup::OlderOrHighRisk => "older people and those at high risk",
        TargetGroup::Pregnancy => "pregnancy with type 1 diabetes",
        TargetGroup::Own(_) => "my own",
    }
}
