//! One sensor: how far it stood from blood over its life.

use std::sync::Arc;

use axum::Router;
use axum::extract::{Path, Query, State};
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::IntoResponse;
use axum::routing::get;
use interstice_findings::TrustAsk;
use interstice_findings::trust::{SensorFindings, WearDay};
use interstice_glucose::Moment;
use interstice_render::chart::{self, Shape};
use interstice_render::text;
use interstice_render::words::{self, Caution, Shown, Table};
use maud::{Markup, html};
use serde::Deserialize;

use super::lows;
use crate::Trouble;
use crate::app::App;
use crate::query::{TrustQuery, encoded};
use crate::shell::{Tab, caution, glue, page, table};

/// Rows shown before the rest is folded away.
const OPEN_ROWS: usize = 20;

pub(crate) fn routes() -> Router<App> {
    Router::new()
        .route("/trust/sensor/{id}", get(sensor))
        .route("/trust/sensor/{id}/{table}", get(sensor_table))
        .route("/api/trust/sensor/{id}", get(sensor_json))
}

/// The address of a sensor's page. A name is any text: what a path cannot hold is percent-encoded, and a name of dots, which
/// browsers would take for a way up, gets a tilde before it, as does one that begins with a tilde.
pub(crate) fn address(name: &str) -> String {
    let tilde = name.starts_with('~') || name.chars().all(|letter| letter == '.');
    // The encoding of queries but for the space.
    let segment = encoded(name).replace('+', "%20");
    format!("/trust/sensor/{}{segment}", if tilde { "~" } else { "" })
}

/// The name an address stands for.
fn name(segment: &str) -> String {
    segment.strip_prefix('~').unwrap_or(segment).to_owned()
}

/// `?day=3`: one day of wear in place of the whole life.
#[derive(Deserialize)]
struct Closer {
    day: Option<String>,
}

impl Closer {
    fn day<'a>(&self, findings: &'a SensorFindings) -> Result<Option<&'a WearDay>, Trouble> {
        let Some(text) = self.day.as_deref().map(str::trim).filter(|text| !text.is_empty()) else {
            return Ok(None);
        };
        let found = findings.days.iter().find(|day| day.day.to_string() == text);
        found.map(Some).ok_or_else(|| {
            Trouble::Request(format!(
                "'{text}' is not a day of this sensor; choose one from 1 to {}",
                findings.days.len()
            ))
        })
    }
}

async fn sensor(
    State(app): State<App>,
    Path(id): Path<String>,
    Query(query): Query<TrustQuery>,
    Query(closer): Query<Closer>,
) -> Result<Markup, Trouble> {
    let settings = app.settings().await?;
    let shown = query.shown(&settings)?;
    let (ask, findings) = found(&app, &id, &query).await?;
    let title = format!("Sensor {}", findings.wear.sensor);
    let day = closer.day(&findings)?;
    let content = html! {
        link rel="stylesheet" href="/assets/trust.css";
        (answer(&findings, day, &ask, &query, shown))
    };
    Ok(page(&title, Tab::Trust, &[], content))
}

/// The findings themselves.
async fn sensor_json(
    State(app): State<App>,
    Path(id): Path<String>,
    Query(query): Query<TrustQuery>,
) -> Result<impl IntoResponse, Trouble> {
    let (_, findings) = found(&app, &id, &query).await?;
    let unwritten = |error| Trouble::Internal(format!("the answer could not be written: {error}"));
    let json = serde_json::to_string(&*findings).map_err(unwritten)? + "\n";
    Ok(([(CONTENT_TYPE, "application/json")], json))
}

/// One table as a file of comma-separated values, in the wearer's unit as on the page; 'readings' is reading by reading, in
/// the columns of `interstice trust --estimate`.
async fn sensor_table(
    State(app): State<App>,
    Path((id, file)): Path<(String, String)>,
    Query(query): Query<TrustQuery>,
) -> Result<impl IntoResponse, Trouble> {
    let table = file.strip_suffix(".csv").ok_or(Trouble::NotFound)?;
    let settings = app.settings().await?;
    let shown = query.shown(&settings)?;
    let (_, findings) = found(&app, &id, &query).await?;
    let text = if table == READINGS {
        text::estimate_file(&findings.life.blood)
    } else {
        let tables = words::sensor_tables(&findings, shown);
        let found = tables.iter().find(|one| one.id == table);
        found.ok_or(Trouble::NotFound)?.csv()
    };
    let headers = [
        (CONTENT_TYPE, "text/csv; charset=utf-8".to_owned()),
        (
            CONTENT_DISPOSITION,
            format!(
                "attachment; filename=\"sensor-{}-{table}.csv\"",
                plain(&findings.wear.sensor)
            ),
        ),
    ];
    Ok((headers, text))
}

const READINGS: &str = "readings";

/// A name as a part of a file's name on any system.
fn plain(name: &str) -> String {
    let letter = |letter: char| {
        if letter.is_ascii_alphanumeric() {
            letter
        } else {
            '-'
        }
    };
    name.chars().take(40).map(letter).collect()
}

async fn found(app: &App, id: &str, query: &TrustQuery) -> Result<(TrustAsk, Arc<SensorFindings>), Trouble> {
    let ask = TrustAsk {
        sensor: Some(name(id)),
        ..query.ask()?
    };
    let asked = ask.clone();
    let findings = app.ask(move |backend| backend.sensor(&asked)).await?;
    Ok((ask, findings))
}

fn answer(
    findings: &SensorFindings,
    day: Option<&WearDay>,
    ask: &TrustAsk,
    query: &TrustQuery,
    shown: Shown,
) -> Markup {
    let tables = words::sensor_tables(findings, shown);
    let of = |id: &str| tables.iter().find(|table| table.id == id);
    html! {
        header.answer-head {
            h1 { "Sensor " (findings.wear.sensor) " " span.window { (words::sensor_span(findings)) } }
            p.answer { (glue(&words::sensor_answer(findings))) }
            @if findings.counts.pairs > 0 { p.lead { (glue(&words::sensor_basis(findings, shown))) } }
            (caution(Caution::FirstDay, shown))
            (caution(Caution::CareTeam, shown))
            (neighbours(findings, query))
        }
        (life(findings, day, query, shown))
        @if let Some(days) = of("days") { (section("days", "Day by day of wear", "wear-days", days, findings, query)) }
        (checks(findings, of("checks"), query))
        (wrong(findings, of("faults"), query, shown))
        @if let Some(figures) = of("figures").filter(|_| findings.counts.pairs > 0) {
            (section("figures", "Beside your other sensors", "groups", figures, findings, query))
            p.method-link { a href="/methods/agreement" { "How the figures and their margins are computed" } }
        }
        (facts(findings))
        p { a href={ "/trust?sensor=" (encoded(ask.sensor.as_deref().unwrap_or_default())) } { "Error grids and every other figure of this sensor alone" } }
    }
}

/// The sensors before and after it.
fn neighbours(findings: &SensorFindings, query: &TrustQuery) -> Markup {
    let link = |name: &str| format!("{}{}", address(name), again(query));
    html! {
        p.neighbours {
            @if let Some(previous) = &findings.previous { span { "Before it " a rel="prev" href=(link(previous)) { (previous) } } }
            @if let Some(next) = &findings.next { span { "After it " a rel="next" href=(link(next)) { (next) } } }
            a href={ "/trust" (again(query)) "#sensors" } { "All sensors" }
        }
    }
}

fn again(query: &TrustQuery) -> String {
    query.again(&[("sensor", "")])
}

/// The whole life, or each of its days.
fn closer(findings: &SensorFindings, shown: Option<&WearDay>, query: &TrustQuery) -> Markup {
    let here = address(&findings.wear.sensor);
    let of_day = |day: u32| {
        let again = again(query);
        let joint = if again.is_empty() { "?" } else { "&" };
        format!("{here}{again}{joint}day={day}#life")
    };
    let current = |is: bool| is.then_some("true");
    html! {
        nav.windows.wear aria-label="How much to show" {
            a href={ (here) (again(query)) "#life" } aria-current=[current(shown.is_none())] { "whole life" }
            span { "day of wear" }
            @for day in &findings.days {
                a href=(of_day(day.day)) aria-current=[current(shown.is_some_and(|shown| shown.day == day.day))] { (day.day) }
            }
        }
    }
}

fn life(findings: &SensorFindings, day: Option<&WearDay>, query: &TrustQuery, shown: Shown) -> Markup {
    let wear = &findings.wear;
    html! {
        section.life aria-labelledby="life" {
            h2 #life { @match day { Some(day) => { "Day " (day.day) " of wear" } None => { "Over its life" } } }
            (closer(findings, day, query))
            @if let Some(day) = day { p { (glue(&words::day_picture(day))) } }
            figure {
                (chart::sensor_life(findings, day, shown, Shape::Phone, "life-p"))
                (chart::sensor_life(findings, day, shown, Shape::Wide, "life-w"))
                figcaption { (legend(findings)) " " a href="#checks" data-table { "Its checks as a table" } "." }
            }
            p.tools {
                a href={ (address(&wear.sensor)) "/" (READINGS) ".csv" (again(query)) } download { "Download every reading with what blood probably was" }
                @if let (Some(from), Some(to)) = (date(wear.from.0), date(wear.to.0)) {
                    a href={ "/days?from=" (from) "&to=" (to) } { "These days closer" }
                }
            }
            h3 #scale { "How this sensor scales" }
            p { (glue(&words::scale_said(findings, shown))) }
            p.help { (glue(&words::lag(&findings.lag))) " A likely range is not a measurement: when it matters, a blood check decides." }
            p.method-link { a href="/methods/blood-estimate" { "How what blood probably was, and the scale, are computed" } }
        }
    }
}

fn legend(findings: &SensorFindings) -> Markup {
    html! {
        "Thin line: what the sensor said. Strong line: what blood probably was; the inner band holds it half of the time, the outer one \
         nine times in ten. Rings: blood checks, each with what a meter that just keeps its standard may be off by. Shaded: night. Hatched: "
        "possible pressure, or marked by you; it has no say in the estimate. "
        @if findings.scale.reason.is_none() {
            "Below, by how much the sensor reads high or low against blood, with the same two bands; a disc is what one check shows by \
             itself, a ring one while glucose moved fast, when the delay weighs most."
        }
    }
}

fn date(moment: Moment) -> Option<String> {
    Some(moment.wall().civil()?.date().to_string())
}

/// A table under a heading, with its file.
fn section(
    id: &str,
    title: &str,
    class: &str,
    content: &Table,
    findings: &SensorFindings,
    query: &TrustQuery,
) -> Markup {
    html! {
        section aria-labelledby=(id) {
            h2 id=(id) { (title) }
            (with_file(content, class, findings, query))
        }
    }
}

fn with_file(content: &Table, class: &str, findings: &SensorFindings, query: &TrustQuery) -> Markup {
    let file = format!(
        "{}/{}.csv{}",
        address(&findings.wear.sensor),
        content.id,
        again(query)
    );
    html! {
        (table(content, class))
        p.tools { a href=(file) download { "Download as CSV" } }
    }
}

fn checks(findings: &SensorFindings, content: Option<&Table>, query: &TrustQuery) -> Markup {
    let counts = &findings.counts;
    let left_out = counts.unpaired + counts.artefact + counts.censored;
    html! {
        @if let Some(content) = content.filter(|content| !content.rows.is_empty()) {
            section aria-labelledby="checks" {
                h2 #checks { "Check by check" }
                details open[content.rows.len() <= OPEN_ROWS] {
                    summary { "All " (content.rows.len()) " pairs of this sensor" }
                    (with_file(content, "wear-checks", findings, query))
                }
                p.help {
                    (words::pairing(findings.pairing))
                    @if left_out > 0 {
                        " In no figure: " (counts.unpaired) " without a reading near enough, " (counts.artefact) " in readings marked as artefacts, "
                        (counts.censored) " beyond what sensor or meter measures."
                    }
                }
            }
        }
    }
}

fn wrong(findings: &SensorFindings, content: Option<&Table>, query: &TrustQuery, shown: Shown) -> Markup {
    html! {
        section aria-labelledby="wrong" {
            h2 #wrong { "What looks wrong with it" }
            @let faults = words::sensor_faults(findings, shown);
            @if !faults.is_empty() { ul { @for fault in &faults { li { (glue(fault)) } } } }
            p { (glue(&words::faults_account(findings))) }
            @if let Some(content) = content.filter(|content| !content.rows.is_empty()) {
                details { summary { "All of it as a table" } (with_file(content, "criteria", findings, query)) }
            }
            p.help { (words::FAULTS_HELP) }
            p.method-link { a href="/methods/faults" { "How faults are told" } }
        }
        section aria-labelledby="pressure" {
            h2 #pressure { "Possible pressure lows" }
            p { (words::sensor_pressure(findings)) }
            @if !findings.pressure.is_empty() {
                (caution(Caution::Pressure, shown))
                ul.lows {
                    @for event in &findings.pressure {
                        li id=(lows::anchor(event.span.0)) {
                            details {
                                summary { (glue(&words::pressure_event(event, shown))) }
                                ul { @for sign in event.evidence.words(shown.unit) { li { (glue(&sign)) } } }
                            }
                            (lows::word_form(event, query, Some(&findings.wear.sensor)))
                        }
                    }
                }
                p { a href={ "/trust" (again(query)) "#pressure" } { "All possible pressure lows" } }
            }
            p.method-link { a href="/methods/pressure-lows" { "How they are told from true lows" } }
        }
    }
}

fn facts(findings: &SensorFindings) -> Markup {
    html! {
        section aria-labelledby="known" {
            h2 #known { "What is known of it" }
            div.scroll {
                table.narrow.facts {
                    tbody {
                        @for (name, value) in words::sensor_facts(findings) {
                            tr { th scope="row" { (name) } td { (glue(&value)) } }
                        }
                    }
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 3986: a slash, a percent sign, a question mark within a segment are percent-encoded; WHATWG URL takes '..' and
    /// '%2e%2e' for the way up.
    #[test]
    fn any_name_has_an_address() {
        for (name, path) in [
            ("S03", "S03"),
            ("sensor from 2025-03-03", "sensor%20from%202025-03-03"),
            ("a/b?c#d%e+f&g", "a%2Fb%3Fc%23d%25e%2Bf%26g"),
            ("Ärmel", "%C3%84rmel"),
            ("..", "~.."),
            ("~a", "~%7Ea"),
        ] {
            assert_eq!(address(name), format!("/trust/sensor/{path}"));
        }
        for segment in ["S03", "~..", "~~a"] {
            let said = name(segment);
            assert_eq!(
                address(&said).replace("%7E", "~"),
                format!("/trust/sensor/{segment}")
            );
        }
    }
}
