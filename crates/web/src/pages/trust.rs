//! Trust: how far the sensors stand from the blood.

use axum::Router;
use axum::extract::{Path, Query, State};
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::IntoResponse;
use axum::routing::get;
use interstice_findings::trust::{Grid, Point};
use interstice_findings::{TrustAsk, TrustFindings};
use interstice_render::chart::{self, Shape};
use interstice_render::words::{self, Caution, GroupTable, Shown, Table};
use maud::{Markup, html};

use super::{lows, pairs};
use crate::Trouble;
use crate::app::App;
use crate::pages::sensor::address;
use crate::query::TrustQuery;
use crate::shell::{Tab, caution, glue, page};

/// Sensors listed before they are folded away.
const OPEN_SENSORS: usize = 20;

pub(crate) fn routes() -> Router<App> {
    Router::new()
        .route("/trust", get(trust))
        .route("/api/trust", get(trust_json))
        .route("/trust/{table}", get(trust_table))
}

async fn trust(State(app): State<App>, Query(query): Query<TrustQuery>) -> Result<Markup, Trouble> {
    let settings = app.settings().await?;
    let shown = query.shown(&settings)?;
    let content = match found(&app, &query).await? {
        Some((ask, findings)) => answer(&findings, &ask, &query, shown),
        None => html! {
            h1 { "Trust" }
            p.answer { "There are no sensor readings yet." }
            p { a href="/" { "Bring in a file" } " and what your blood checks say of your sensors appears here." }
        },
    };
    Ok(page(
        "Trust",
        Tab::Trust,
        &[],
        html! {
            link rel="stylesheet" href="/assets/trust.css";
            (content)
        },
    ))
}

/// The same document as `interstice trust --json`.
async fn trust_json(
    State(app): State<App>,
    Query(query): Query<TrustQuery>,
) -> Result<impl IntoResponse, Trouble> {
    let ask = query.ask()?;
    let findings = app.ask(move |backend| backend.trust(&ask)).await?;
    let unwritten = |error| Trouble::Internal(format!("the answer could not be written: {error}"));
    let json = serde_json::to_string(&*findings).map_err(unwritten)? + "\n";
    Ok(([(CONTENT_TYPE, "application/json")], json))
}

/// One table as a file of comma-separated values, in the wearer's unit as on the page.
async fn trust_table(
    State(app): State<App>,
    Path(name): Path<String>,
    Query(query): Query<TrustQuery>,
) -> Result<impl IntoResponse, Trouble> {
    let id = name.strip_suffix(".csv").ok_or(Trouble::NotFound)?.to_owned();
    let settings = app.settings().await?;
    let shown = query.shown(&settings)?;
    let (_, findings) = found(&app, &query).await?.ok_or(Trouble::NotFound)?;
    let tables = words::trust_tables(&findings, shown);
    let table = tables
        .iter()
        .find(|table| table.id == id)
        .ok_or(Trouble::NotFound)?;
    let headers = [
        (CONTENT_TYPE, "text/csv; charset=utf-8".to_owned()),
        (
            CONTENT_DISPOSITION,
            format!("attachment; filename=\"trust-{id}.csv\""),
        ),
    ];
    Ok((headers, table.csv()))
}

pub(super) type Found = (TrustAsk, std::sync::Arc<TrustFindings>);

/// `None` where the book has no readings.
pub(super) async fn found(app: &App, query: &TrustQuery) -> Result<Option<Found>, Trouble> {
    if app.ask(|backend| backend.is_empty()).await? {
        return Ok(None);
    }
    let ask = query.ask()?;
    let asked = ask.clone();
    let findings = app.ask(move |backend| backend.trust(&asked)).await?;
    Ok(Some((ask, findings)))
}

fn answer(findings: &TrustFindings, ask: &TrustAsk, query: &TrustQuery, shown: Shown) -> Markup {
    let tables = words::trust_tables(findings, shown);
    let table = |id: &str| tables.iter().find(|table| table.id == id);
    let pairs = findings.counts.pairs;
    html! {
        header.answer-head {
            h1 { "Trust " span.window { (words::trust_window(findings)) } }
            p.answer { (glue(&words::trust_answer(findings, shown))) }
            @if pairs > 0 { p.lead { (glue(&words::trust_basis(findings, shown))) } }
            (caution(Caution::FirstDay, shown))
            (caution(Caution::CareTeam, shown))
        }
        (next(findings, shown))
        @if pairs > 0 { (by_day(findings, table("day-of-wear"), query, shown)) }
        (late(findings))
        (lows::section(findings, &tables, query, shown))
        @if pairs > 0 { (effects(findings, &table, query)) }
        (faults(findings, shown))
        @if pairs > 0 {
            (grids(findings, shown))
            @if let Some(figures) = table("figures") { (figures_section(findings, figures, query, shown)) }
            (differences(findings, query, shown))
            (groups(findings, &tables, query, shown))
            @if let Some(criteria) = table("criteria") { (criteria_section(criteria, query)) }
            (pairs::section(findings, table("pairs"), query))
        }
        (choices(findings, ask, query))
        (sensors(findings, query, shown))
        @if !findings.notes.is_empty() {
            section aria-labelledby="notes" {
                h2 #notes { "To know" }
                @for note in &findings.notes { p { (note) } }
            }
        }
    }
}

fn next(findings: &TrustFindings, shown: Shown) -> Markup {
    html! {
        @if !findings.next.is_empty() {
            section.next aria-labelledby="next" {
                h2 #next { "What would tell most next" }
                ul { @for next in &findings.next { li { (glue(&words::next_check(*next, shown))) } } }
            }
        }
    }
}

/// Comparisons between sensors; of one sensor alone there are none.
fn effects<'a>(
    findings: &TrustFindings,
    table: &impl Fn(&str) -> Option<&'a Table>,
    query: &TrustQuery,
) -> Markup {
    let there = words::effects_there(&findings.effects);
    let folded = |id: &str, title: &str| {
        table(id).filter(|table| !table.rows.is_empty()).map(|table| {
            html! { details { summary { (title) } (table_of(table, query, id)) } }
        })
    };
    html! {
        @if findings.sensor.is_none() && !findings.effects.asked.is_empty() {
            section aria-labelledby="effects" {
                h2 #effects { "What makes your sensors better or worse" }
                p.help { (words::EFFECTS_HELP) }
                @if !there.is_empty() {
                    ul { @for said in there { li { strong { (said.name) } " – " (glue(&said.says.join("; "))) "." } } }
                }
                @for said in words::effects_rest(&findings.effects) { p { (glue(&said)) } }
                @if let Some(comparisons) = folded("effects", words::EFFECTS_TABLE) { (comparisons) }
                @if let Some(levels) = folded("levels", words::LEVELS_TABLE) { (levels) }
                p.method-link { a href="/methods/effects" { "How they are compared, and what would settle them" } }
            }
        }
    }
}

fn faults(findings: &TrustFindings, shown: Shown) -> Markup {
    let silences = words::silences_said(findings);
    html! {
        @if !findings.faults.is_empty() {
            section aria-labelledby="faults" {
                h2 #faults { "What looks wrong with a sensor" }
                p { (words::FAULTS_HELP) }
                ul { @for line in words::faults_apart(findings) { li { (glue(&words::fault_said(line, shown))) "." } } }
                @if !silences.is_empty() { p { (glue(&silences)) } }
            }
        }
    }
}

fn grids(findings: &TrustFindings, shown: Shown) -> Markup {
    let one = |title: &str, grid: &Grid, zone: fn(&Point) -> char, id: &str| {
        html! {
            div {
                h3 { (title) }
                figure { (chart::error_grid(title, grid, &findings.points, zone, shown, id)) }
                (zone_table(grid))
            }
        }
    };
    html! {
        section aria-labelledby="grids" {
            h2 #grids { "What a difference could lead to" }
            div.grids {
                (one("Consensus grid, type 1", &findings.grid.consensus, |point| point.consensus, "consensus"))
                (one("Clarke grid", &findings.grid.clarke, |point| point.clarke, "clarke"))
            }
            p.help {
                "Blood across, sensor up. Zone A, pale, is near enough; in B a difference hardly changes what one would do; C could lead to \
                 a needless correction, D hides what needs attention, E could lead to the opposite of what is needed. An open ring lies in \
                 A, a disc in B, a triangle in C, a square in D, a cross in E."
            }
            (method("How pairs and zones are found"))
        }
    }
}

fn late(findings: &TrustFindings) -> Markup {
    html! {
        section aria-labelledby="late" {
            h2 #late { "How late" }
            p { (glue(&words::lag(&findings.lag))) }
            p.method-link { a href="/methods/blood-estimate" { "How the delay is learned, and what blood probably was" } }
        }
    }
}

fn zone_table(grid: &Grid) -> Markup {
    html! {
        div.scroll {
            table.narrow.zones {
                thead { tr { th scope="col" { "Zone" } @for zone in &grid.zones { th.num scope="col" { (zone.zone) } } } }
                tbody {
                    tr { th scope="row" { "Pairs" } @for zone in &grid.zones { td.num { (zone.pairs) } } }
                    tr {
                        th scope="row" { "Share" }
                        @for zone in &grid.zones { td.num { (zone.percent.map_or_else(|| "–".to_owned(), |share| format!("{} %", words::percent(share)))) } }
                    }
                }
            }
        }
    }
}

fn figures_section(findings: &TrustFindings, table: &Table, query: &TrustQuery, shown: Shown) -> Markup {
    html! {
        section aria-labelledby="figures" {
            h2 #figures { "Figures" }
            (table_of(table, query, "measures"))
            p { (glue(&words::interval_basis(findings.agreement.interval_by, findings.counts.sensors))) }
            p.meter { (glue(&words::meter(&findings.meter, shown))) }
            p.help { (words::pairing(findings.pairing)) " " (words::checks_account(findings)) " Seed " (findings.seed) "." }
            (method("How the figures and their margins are computed"))
        }
    }
}

fn differences(findings: &TrustFindings, query: &TrustQuery, shown: Shown) -> Markup {
    html! {
        section aria-labelledby="differences" {
            h2 #differences { "Does the sensor stand differently at low and at high glucose?" }
            figure {
                (chart::differences(findings, shown, Shape::Phone, "differences-p"))
                (chart::differences(findings, shown, Shape::Wide, "differences-w"))
                figcaption {
                    "Sensor less blood against the mean of both. Unbroken line: the bias. Broken lines: the limits between which 95 of \
                     100 differences would lie. Dark bands: their margins. Marks as in the consensus grid."
                }
            }
            p { a href={ "/trust/pairs" (query.again(&[])) } data-table { "Every pair as a table" } }
            (method("How the limits of agreement are computed"))
        }
    }
}

fn by_day(findings: &TrustFindings, table: Option<&Table>, query: &TrustQuery, shown: Shown) -> Markup {
    html! {
        @if let Some(table) = table {
            section aria-labelledby="by-day" {
                h2 #by-day { "Day by day of wear" }
                figure {
                    (chart::difference_by_day(findings, shown, Shape::Phone, "by-day-p"))
                    (chart::difference_by_day(findings, shown, Shape::Wide, "by-day-w"))
                    figcaption { "Sensor less blood by the time since the start. Bar: the day's bias, with its margin. The first day is shaded." }
                }
                (table_of(table, query, "groups"))
                (method("How the bias and its margin are computed"))
            }
        }
    }
}

/// Every breakdown but the day of wear, which has a picture of its own.
fn groups(findings: &TrustFindings, tables: &[Table], query: &TrustQuery, shown: Shown) -> Markup {
    let groups = words::group_tables(findings, shown);
    let others: Vec<&GroupTable> = groups.iter().filter(|group| group.id != "day-of-wear").collect();
    html! {
        @for group in others {
            @if let Some(table) = tables.iter().find(|table| table.id == group.id) {
                section aria-labelledby=(group.id) {
                    h2 id=(group.id) { (group.title) }
                    @if !group.help.is_empty() { p.help { (group.help) } }
                    (table_of(table, query, "groups"))
                }
            }
        }
    }
}

fn criteria_section(table: &Table, query: &TrustQuery) -> Markup {
    html! {
        section aria-labelledby="criteria" {
            h2 #criteria { "Beside the criteria for integrated sensors" }
            p { "They are for trials with a laboratory beside many people: yours can only hint. The limits are as remembered, not checked against the text of the rule." }
            details {
                summary { "The eleven criteria" }
                (table_of(table, query, "criteria"))
            }
            (method("Where the criteria come from"))
        }
    }
}

/// A table with its name in the tools: copy it, or take it as a file.
pub(super) fn table_of(table: &Table, query: &TrustQuery, class: &str) -> Markup {
    html! {
        (crate::shell::table(table, class))
        p.tools { a href={ "/trust/" (table.id) ".csv" (query.again(&[])) } download { "Download as CSV" } }
    }
}

/// How it is asked: rule of pairing, split, one sensor.
fn choices(findings: &TrustFindings, ask: &TrustAsk, query: &TrustQuery) -> Markup {
    use interstice_findings::trust::{Pairing, SPLITS_MG_DL};
    let names = [
        (Pairing::NearestAfter, "nearest reading within five minutes after"),
        (
            Pairing::Interpolated,
            "line between the readings before and after",
        ),
    ];
    let current = |is: bool| is.then_some("true");
    html! {
        section aria-labelledby="asked" {
            h2 #asked { "Asked another way" }
            nav.windows aria-label="Pairing" {
                span { "Pairing" }
                @for (rule, name) in names {
                    a href={ "/trust" (query.again(&[("pairing", rule.key())])) } aria-current=[current(rule == ask.pairing)] { (name) }
                }
            }
            nav.windows aria-label="Split" {
                span { "mg/dL below, percent from" }
                @for split in SPLITS_MG_DL {
                    a href={ "/trust" (query.again(&[("split", &split.to_string())])) } aria-current=[current((split - ask.split_mg_dl).abs() < 0.5)] { (split) " mg/dL" }
                }
            }
            @if findings.sensor.is_some() {
                p { a href={ "/trust" (query.again(&[("sensor", "")])) } { "All sensors" } }
            }
        }
    }
}

/// Each sensor with its own page.
fn sensors(findings: &TrustFindings, query: &TrustQuery, shown: Shown) -> Markup {
    let or_dash = |text: Option<&String>| text.map_or("–", String::as_str).to_owned();
    let again = query.again(&[("sensor", "")]);
    html! {
        section aria-labelledby="sensors" {
            h2 #sensors { "The sensors" }
            p { "Each has a page of its own: what it said, what blood probably was, and how it scaled over its life." }
            details open[findings.wears.len() <= OPEN_SENSORS] {
                summary { (findings.wears.len()) " sensors, the last one first" }
                div.scroll {
                    table.stack.wears {
                        thead { tr {
                            th scope="col" { "Sensor" } th scope="col" { "From" } th scope="col" { "To" }
                            th scope="col" { "Site" } th scope="col" { "Lot" } th.num scope="col" { "Worn before" }
                            th.num scope="col" { "Pairs" } th.num scope="col" { "Within 15" } th.num scope="col" { "Bias, " (shown.unit) }
                        } }
                        tbody {
                            @for wear in findings.wears.iter().rev() {
                                @let [within, bias] = words::wear_figures(findings, wear, shown);
                                tr {
                                    th scope="row" { a href={ (address(&wear.sensor)) (again) } { (wear.sensor) } }
                                    td data-label="from" { (words::short_day(wear.from.0)) }
                                    td data-label="to" { (words::short_day(wear.to.0)) }
                                    td data-label="site" { (or_dash(words::wear_site(wear).as_ref())) }
                                    td data-label="lot" { (or_dash(wear.lot.as_ref())) }
                                    td.num data-label="worn before" { (wear.bedding_in_h.map_or_else(|| "–".to_owned(), |hours| words::duration(hours * 60.0))) }
                                    td.num data-label="pairs" { (wear.pairs) }
                                    td.num data-label="within 15" { (within) }
                                    td.num data-label="bias" { (bias) }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn method(text: &str) -> Markup {
    html! { p.method-link { a href="/methods/agreement" { (text) } } }
}
