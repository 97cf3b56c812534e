//! Unit, targets and zone.

use axum::extract::{Query, State};
use axum::response::Redirect;
use axum::routing::{get, post};
use axum::{Form, Router};
use interstice_desk::{AwayWords, NightHours, clock_of, insulin_lasts, night_hours};
use interstice_findings::TargetGroup;
use interstice_glucose::{InsulinLasts, Unit};
use interstice_render::words::{self, Caution, Shown};
use interstice_tongue::{Tongue, say, within};
use maud::{Markup, html};
use serde::Deserialize;

use crate::app::App;
use crate::query::parse_unit;
use crate::shell::{Tab, linked, page, placed};
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
        &say!("settings-title"),
        Tab::Settings,
        &[],
        html! {
            h1 { (say!("settings-title")) }
            @if told.saved.is_some() { p.answer role="status" { (say!("settings-saved")) } }
            @if let Some(change) = told.done { (taken(change)) }
            (form(&settings))
            p { (linked(&say!("settings-devices"), &["/devices"])) }
            p { (linked(&say!("settings-feeds"), &["/feeds"])) }
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
            "own" => say!("settings-own-wrong"),
            _ => say!("settings-unknown-targets"),
        };
        group.ok_or(Trouble::Request(unknown))
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
    let unknown = || Trouble::Request(say!("settings-unknown-language", code = code));
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
            let gone = || Trouble::Request(say!("settings-away-gone"));
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
            p.answer role="status" { (say!("settings-done")) }
            input type="hidden" name="change" value=(change);
            button.quiet type="submit" { (say!("settings-undo")) }
        }
    }
}

fn away_from_home(about: &AboutBook) -> Markup {
    html! {
        section aria-labelledby="away" {
            h2 #away { (say!("settings-away-heading")) }
            p { (say!("settings-away-help")) }
            @if !about.away.is_empty() {
                ul.plain {
                    @for line in &about.away {
                        li {
                            @let (from, to) = (words::date_and_clock(line.span.0), words::date_and_clock(line.span.1));
                            (say!("settings-away-line", zone = &line.zone, from = &from, to = to))
                            @if !line.by_hand { span.said { " " (say!("settings-away-of-file")) } }
                            form.in-line method="post" action="/settings/away/strike" {
                                input type="hidden" name="from" value=(line.span.0.at);
                                input type="hidden" name="to" value=(line.span.1.at);
                                button.quiet type="submit" aria-label=(say!("settings-away-strike-which", zone = &line.zone, from = from)) { (say!("settings-away-strike")) }
                            }
                        }
                    }
                }
            }
            form.settings method="post" action="/settings/away" {
                label.field { span { (say!("settings-away-from")) } input type="date" name="from" required; }
                label.field { span { (say!("settings-away-to")) } input type="date" name="to" required; }
                label.field { span { (say!("settings-away-zone")) } input name="zone" required placeholder="Asia/Tokyo" autocomplete="off" spellcheck="false"; }
                button type="submit" { (say!("settings-away-submit")) }
            }
        }
    }
}

/// What is set elsewhere, and where.
fn more(about: &AboutBook) -> Markup {
    html! {
        section aria-labelledby="more" {
            h2 #more { (say!("settings-elsewhere-heading")) }
            ul.plain {
                li { (linked(&say!("settings-elsewhere-kind"), &["/wear#kind"])) }
                li { (linked(&say!("settings-elsewhere-sheet"), &["/visit"])) }
                li {
                    @if about.tags.is_empty() { (linked(&say!("settings-tags-none"), &["/write?what=tag#form"])) }
                    @else {
                        (say!("settings-tags", tags = tags(about))) " "
                        a href="/review/compare" { (say!("settings-tags-compare")) }
                    }
                }
            }
        }
    }
}

/// 'at sea (12 days), at home (3 days)'.
fn tags(about: &AboutBook) -> String {
    let tags = about.tags.iter();
    let tags = tags.map(|(tag, days)| say!("settings-tag", tag = tag, days = *days));
    tags.collect::<Vec<_>>().join(", ")
}

fn kept(about: &AboutBook) -> Markup {
    html! {
        section aria-labelledby="kept" {
            h2 #kept { (say!("settings-kept-heading")) }
            dl.facts {
                dt { (say!("settings-kept-book")) }
                dd { code { (about.path) } ", " @if let Some(bytes) = about.bytes { (megabytes(bytes)) } @else { (say!("settings-kept-not-yet")) } }
                dt { (say!("settings-kept-brought")) }
                dd { a href="/imports" { (say!("settings-kept-files", files = about.imports)) } }
                dt { (say!("settings-kept-layouts")) }
                dd { @if about.layouts == 0 { (say!("settings-layouts-none")) } @else { (say!("settings-layouts", layouts = about.layouts)) } }
            }
            p { (linked(&say!("settings-kept-help"), &[])) }
        }
    }
}

fn megabytes(bytes: u64) -> String {
    format!("{} MB", words::rounded(bytes as f64 / 1e6, 1))
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
            h2 #cautions { (say!("settings-cautions")) }
            details { summary { (say!("settings-cautions-again")) } (cautions_of(shown)) }
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
                legend { (say!("settings-unit")) }
                @for unit in [Unit::MgPerDl, Unit::MmolPerL] {
                    label { input type="radio" name="unit" value=(unit.symbol()) checked[unit == settings.unit]; " " (unit.symbol()) }
                }
            }
            fieldset {
                legend { (say!("settings-targets")) }
                @for group in TargetGroup::ALL {
                    label {
                        input type="radio" name="targets" value=(group.name()) checked[group == settings.targets]; " " (group_words(group))
                        span.bounds { (bounds(group, settings.unit)) }
                    }
                }
                (own_targets(settings))
            }
            label.field {
                span { (say!("settings-zone")) }
                input name="zone" value=(settings.zone) required autocomplete="off" spellcheck="false" aria-describedby="zone-help";
            }
            p.help id="zone-help" { (say!("settings-zone-help")) }
            fieldset.insulin {
                legend { (say!("settings-night")) }
                label { input type="time" name="night_from" value=[settings.night.map(|night| clock_of(night.from_minute))] aria-describedby="night-help"; " " (say!("settings-night-begins")) }
                label { input type="time" name="night_to" value=[settings.night.map(|night| clock_of(night.to_minute))] aria-describedby="night-help"; " " (say!("settings-night-ends")) }
            }
            p.help id="night-help" { (say!("settings-night-help")) }
            fieldset.insulin {
                legend { (say!("settings-insulin")) }
                (hours_field("rapid_hours", say!("settings-insulin-rapid"), settings.insulin.rapid_min))
                (hours_field("short_hours", say!("settings-insulin-short"), settings.insulin.short_min))
            }
            p.help id="insulin-help" { (say!("settings-insulin-help")) }
            button type="submit" { (say!("settings-save")) }
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
    let edge = |name: &str, label: String, edges: [u16; 2], chosen: u16| {
        html! {
            select name=(name) aria-label=(label) {
                @for mg_dl in edges {
                    option value=(mg_dl) selected[mg_dl == chosen] { (shown.glucose(mg_dl.into())) }
                }
            }
        }
    };
    let percent = |name: &str, label: String, value: u8| {
        html! { input type="number" name=(name) min="1" max="99" step="1" value=(value) inputmode="numeric" aria-label=(label); }
    };
    let fields = [
        ("low", edge("own_low", say!("settings-own-low"), [63, 70], low)),
        (
            "high",
            edge("own_high", say!("settings-own-high"), [140, 180], high),
        ),
        ("over", percent("own_over", say!("settings-own-over"), over)),
        ("below", percent("own_below", say!("settings-own-below"), below)),
    ];
    html! {
        label { input type="radio" name="targets" value="own" checked[own.is_some()]; " " (say!("settings-own")) }
        p.own-targets { (placed(&say!("settings-own-fields", unit = shown.unit.symbol()), &fields)) }
    }
}

fn hours_field(name: &str, kind: String, minutes: Option<u16>) -> Markup {
    let hours = minutes.map(|minutes| words::digits(f64::from(minutes) / 60.0));
    html! {
        label {
            input type="number" name=(name) min="1" max="12" step="0.25" value=[hours] inputmode="decimal" aria-describedby="insulin-help";
            " " (kind)
        }
    }
}

/// 'in range 63 to 140 mg/dL'.
fn bounds(group: TargetGroup, unit: Unit) -> String {
    let (targets, shown) = (group.targets(), Shown { unit });
    say!(
        "settings-targets-bounds",
        low = shown.glucose(targets.range_low_mg_dl),
        high = shown.glucose_with_unit(targets.range_high_mg_dl)
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

fn group_words(group: TargetGroup) -> String {
    let group = match group {
        TargetGroup::Adult => "adult",
        TargetGroup::OlderOrHighRisk => "older",
        TargetGroup::Pregnancy => "pregnancy",
        TargetGroup::Own(_) => "own",
    };
    say!("settings-targets-for", group = group)
}
