//! Review: what really happened.

use axum::Router;
use axum::extract::{Query, State};
use axum::http::header::CONTENT_TYPE;
use axum::response::IntoResponse;
use axum::routing::get;
use interstice_findings::{DayLine, EpisodeLine, Nearby, ReviewFindings, TraceLine, UsualMinute};
use interstice_render::chart::{self, Shape};
use interstice_render::words::{self, Caution, Measure, RangeRow, Shown, Standing};
use interstice_tongue::say;
use maud::{Markup, html};

mod checks;
mod compare;
mod meals;
mod patterns;
mod swings;

use crate::app::App;
use crate::query::ReviewQuery;
use crate::shell::{Tab, caution, glue, nothing_yet, page};
use crate::{ReviewAsk, ReviewWindow, Trouble};

/// Episodes and days shown before the rest is folded away.
const OPEN_ROWS: usize = 14;

pub(crate) fn routes() -> Router<App> {
    Router::new()
        .route("/review", get(review))
        .route("/api/review", get(review_json))
        .merge(compare::routes())
}

async fn review(State(app): State<App>, Query(query): Query<ReviewQuery>) -> Result<Markup, Trouble> {
    let settings = app.settings().await?;
    let (ask, shown) = (query.ask()?, query.shown(&settings)?);
    let asked = ask.clone();
    if app.ask(|backend| backend.is_empty()).await? {
        let checks = app.ask(move |backend| backend.checks(&asked)).await?;
        let title = say!("review-title");
        let (content, scripts): (_, &[&str]) = match &checks {
            Some(findings) => (checks::account(findings, &ask, shown), &["app.js"]),
            None => (nothing_yet(&title, &say!("review-empty")), &[]),
        };
        return Ok(page(&title, Tab::Review, scripts, content));
    }
    let findings = app.ask(move |backend| backend.review(&asked)).await?;
    Ok(page(
        &say!("review-title-window", window = words::window(&findings.window)),
        Tab::Review,
        &["app.js"],
        account(&findings, &ask, shown),
    ))
}

/// The same document as `interstice review --json`.
async fn review_json(
    State(app): State<App>,
    Query(query): Query<ReviewQuery>,
) -> Result<impl IntoResponse, Trouble> {
    let ask = query.ask()?;
    let asked = ask.clone();
    let unwritten = |error| Trouble::Internal(format!("the account could not be written: {error}"));
    let checks = match app.ask(|backend| backend.is_empty()).await? {
        true => app.ask(move |backend| backend.checks(&asked)).await?,
        false => None,
    };
    let json = match checks {
        Some(checks) => serde_json::to_string(&serde_json::json!({ "blood_checks": checks })),
        None => serde_json::to_string(&*app.ask(move |backend| backend.review(&ask)).await?),
    };
    let json = json.map_err(unwritten)? + "\n";
    Ok(([(CONTENT_TYPE, "application/json")], json))
}

fn account(findings: &ReviewFindings, ask: &ReviewAsk, shown: Shown) -> Markup {
    html! {
        (head(findings, ask, shown))
        @if findings.sufficiency.received > 0 {
            (ranges(findings, shown))
            (both_ways(findings, shown))
            (usual_day(findings, shown))
            (week_halves(findings, shown))
            (when_it_happened(findings, shown))
            (swings::section(findings, shown))
            (meals::section(findings, shown))
            (patterns::section(findings, shown))
            (measures(findings, shown))
            (days(findings, shown))
            (traces(&findings.traces, shown))
        }
        @if let Some(found) = &findings.blood_checks { (checks::section(found, shown)) }
        (notes(findings))
    }
}

fn head(findings: &ReviewFindings, ask: &ReviewAsk, shown: Shown) -> Markup {
    html! {
        header.answer-head {
            h1 { (say!("review-title")) " " span.window { (words::window(&findings.window)) } }
            (windows(ask))
            (switch(ask))
            (compare::links(findings))
            p.answer { (glue(&words::answer(findings))) }
            p.lead { (glue(&words::target_sentence(findings, shown))) }
            p.sufficiency.short[!findings.sufficiency.enough] { (words::sufficiency(&findings.sufficiency, &findings.window)) }
            (caution(Caution::CareTeam, shown))
        }
    }
}

fn windows(ask: &ReviewAsk) -> Markup {
    let choices = [
        (7, say!("time-days", days = 7)),
        (14, say!("time-days", days = 14)),
        (30, say!("time-days", days = 30)),
        (90, say!("time-days", days = 90)),
        (365, say!("review-a-year")),
    ];
    let (from, to) = match &ask.window {
        ReviewWindow::Dates { from, to } => (from.as_deref(), to.as_deref()),
        ReviewWindow::Days(_) => (None, None),
    };
    html! {
        nav.windows aria-label=(say!("review-window-label")) {
            span { (say!("review-last")) }
            @for (days, name) in choices {
                a href={ "/review?days=" (days) (if ask.exclude_pressure { "&pressure=out" } else { "" }) } aria-current=[(ask.window == ReviewWindow::Days(days)).then_some("true")] { (name) }
            }
            details open[from.is_some() || to.is_some()] {
                summary { (say!("review-other-dates")) }
                form method="get" action="/review" {
                    label { (say!("review-from")) " " input type="date" name="from" value=[from]; }
                    label { (say!("review-to")) " " input type="date" name="to" value=[to]; }
                    @if ask.exclude_pressure { input type="hidden" name="pressure" value="out"; }
                    button type="submit" { (say!("review-show")) }
                }
            }
        }
    }
}

/// Whether possible pressure lows count: one link, the other way.
fn switch(ask: &ReviewAsk) -> Markup {
    let mut parts: Vec<String> = match &ask.window {
        ReviewWindow::Days(days) => vec![format!("days={days}")],
        ReviewWindow::Dates { from, to } => [("from", from), ("to", to)]
            .into_iter()
            .filter_map(|(name, date)| Some(format!("{name}={}", date.as_ref()?)))
            .collect(),
    };
    if !ask.exclude_pressure {
        parts.push("pressure=out".to_owned());
    }
    let other = format!("/review?{}", parts.join("&"));
    html! {
        nav.windows.switch aria-label=(say!("review-pressure-label")) {
            @if ask.exclude_pressure {
                strong { (say!("review-pressure-out")) }
                a href=(other) { (say!("review-pressure-count")) }
            } @else {
                span { (say!("review-pressure-in")) }
                a href=(other) { (say!("review-pressure-leave")) }
            }
        }
    }
}

/// What is left out, and the figures both ways; also where stretches are marked and nothing was asked to be left out.
fn both_ways(findings: &ReviewFindings, shown: Shown) -> Markup {
    let table = words::with_and_without(findings, shown);
    let title = if findings.left_out.is_some() {
        say!("review-both-pressure")
    } else {
        say!("review-both-marked")
    };
    html! {
        @if findings.left_out.is_some() || table.is_some() {
            section aria-labelledby="both-ways" {
                (heading("both-ways", &title, findings))
                @for said in words::left_out_said(findings, shown) { p { (glue(&said)) } }
                @if let Some(table) = table {
                    div.scroll {
                        table.stack.both {
                            thead { tr { @for head in &table.heads { th.num[head.number] scope="col" { (head.name) } } } }
                            tbody {
                                @for row in &table.rows {
                                    tr {
                                        @for (i, (cell, head)) in row.iter().zip(&table.heads).enumerate() {
                                            @if i == 0 { th scope="row" { (cell) } }
                                            @else { td.num data-label=(head.name) { (glue(cell)) } }
                                        }
                                    }
                                }
                            }
                        }
                    }
                }
                (left_out_lows(findings, shown))
                (method("pressure-lows", &say!("review-left-method")))
            }
        }
    }
}

fn left_out_lows(findings: &ReviewFindings, shown: Shown) -> Markup {
    let lows = findings.left_out.as_ref().map_or(&[][..], |out| &out.lows);
    html! {
        @if !lows.is_empty() {
            (caution(Caution::Pressure, shown))
            details {
                summary { (say!("review-left-each")) }
                ul { @for low in lows { li { (glue(&words::left_out_low(low))) } } }
            }
            p { a href="/trust?lows=open#pressure" { (say!("review-left-signs")) } }
        }
    }
}

/// The title of figures, and beside it that there are too few readings for them. On paper it carries the window, since
/// a sheet may be handed on without the first.
fn heading(id: &str, title: &str, findings: &ReviewFindings) -> Markup {
    html! {
        h2 id=(id) {
            (title)
            @if let Some(words) = words::early(findings) { " " span.early { (words) } }
            " " span.on-paper { (words::window(&findings.window)) }
        }
    }
}

fn both_shapes(draw: impl Fn(Shape, &str) -> Markup, id: &str) -> Markup {
    html! {
        @for shape in Shape::BOTH { (draw(shape, &format!("{id}-{}", shape.class()))) }
    }
}

fn ranges(findings: &ReviewFindings, shown: Shown) -> Markup {
    html! {
        section aria-labelledby="ranges" {
            (heading("ranges", &say!("review-ruler-title"), findings))
            figure { (both_shapes(|shape, id| chart::ruler(findings, shape, id), "ruler")) }
            div.scroll {
                table.stack.ranges {
                    thead { tr {
                        th scope="col" { (say!("review-ranges-range", unit = shown.unit.symbol())) } th.num scope="col" { (say!("review-ranges-day")) }
                        th.num scope="col" { (say!("review-ranges-share")) } th scope="col" { (say!("review-ranges-target")) }
                    } }
                    tbody { @for row in words::range_rows(findings, shown) { (range_row(&row)) } }
                }
            }
            (method("summary", &say!("review-ranges-method")))
        }
    }
}

fn range_row(row: &RangeRow) -> Markup {
    let part = row.range.is_some_and(|range| range != words::Range::InRange);
    html! {
        tr.part[part] {
            th scope="row" {
                @if let Some(range) = row.range { span.swatch.(range.class()) {} }
                (row.name) span.bounds { (row.bounds) }
            }
            td.num { (row.minutes) }
            td.num.share { (row.percent) }
            td.wide { @if row.standing != Standing::None { (row.target) ": " (standing(row.standing)) } }
        }
    }
}

fn standing(standing: Standing) -> Markup {
    html! { strong.standing { (standing.words()) } }
}

fn usual_day(findings: &ReviewFindings, shown: Shown) -> Markup {
    html! {
        section aria-labelledby="usual" {
            (heading("usual", &say!("review-usual-heading"), findings))
            (usual_figure(findings, &findings.usual_day, shown, "usual-day", &Shape::BOTH))
            (method("usual-day", &say!("review-usual-method")))
        }
    }
}

fn usual_figure(
    findings: &ReviewFindings,
    points: &[UsualMinute],
    shown: Shown,
    id: &str,
    shapes: &[Shape],
) -> Markup {
    if let Some(why) = words::no_usual_day(points) {
        return html! { p { (why) } };
    }
    html! {
        figure.readable data-points=(chart::usual_day_points(points, shown)) data-unit=(shown.unit) {
            @for shape in shapes {
                (chart::usual_day(points, &findings.targets, shown, *shape, &format!("{id}-{}", shape.class())))
            }
            output.read-out {}
            @if shapes.len() > 1 {
                figcaption { (say!("review-usual-caption")) }
            }
            details {
                summary { (say!("review-usual-table")) }
                (usual_table(points, shown))
            }
        }
    }
}

fn usual_table(points: &[UsualMinute], shown: Shown) -> Markup {
    let cell = |value: Option<f64>| value.map_or_else(|| "–".to_owned(), |v| shown.glucose(v));
    let percentile = |percent: u8| say!("review-percentile", percent = percent);
    html! {
        div.scroll {
            table.narrow.percentiles {
                caption { (say!("review-usual-table-caption", unit = shown.unit.symbol())) }
                thead { tr {
                    th scope="col" { (say!("review-clock")) } th.num scope="col" { (percentile(5)) } th.num scope="col" { (percentile(25)) }
                    th.num scope="col" { (say!("review-median")) } th.num scope="col" { (percentile(75)) } th.num scope="col" { (percentile(95)) }
                    th.num scope="col" { (say!("review-days-head")) }
                } }
                tbody {
                    @for p in points.iter().filter(|p| p.minute % 30 == 0) {
                        tr {
                            th { (words::clock(p.minute)) }
                            td { (cell(p.p5_mg_dl)) } td { (cell(p.p25_mg_dl)) } td { (cell(p.p50_mg_dl)) }
                            td { (cell(p.p75_mg_dl)) } td { (cell(p.p95_mg_dl)) } td { (p.days) }
                        }
                    }
                }
            }
        }
    }
}

fn week_halves(findings: &ReviewFindings, shown: Shown) -> Markup {
    html! {
        section aria-labelledby="week" {
            (heading("week", &say!("review-week-heading"), findings))
            div.pair {
                div { h3 { (say!("review-weekdays")) } (usual_figure(findings, &findings.usual_weekday, shown, "weekday", &[Shape::Phone])) }
                div { h3 { (say!("review-weekend")) } (usual_figure(findings, &findings.usual_weekend, shown, "weekend", &[Shape::Phone])) }
            }
            (method("usual-day", &say!("review-usual-method")))
        }
    }
}

fn when_it_happened(findings: &ReviewFindings, shown: Shown) -> Markup {
    html! {
        section aria-labelledby="when" {
            (heading("when", &say!("review-when-heading"), findings))
            p.lead { (say!("review-there-were", counted = words::episode_count(&findings.episodes))) }
            figure {
                (both_shapes(|shape, id| chart::when(findings, shape, id), "when"))
                figcaption { (say!("review-when-caption")) }
            }
            (episode_table(&findings.episodes, shown))
            (caution(Caution::Lows, shown))
            (caution(Caution::Ketones, shown))
            (method("episodes", &say!("review-when-method")))
        }
    }
}

fn episode_table(episodes: &[EpisodeLine], shown: Shown) -> Markup {
    let logged = episodes
        .iter()
        .any(|episode| !(episode.before.is_empty() && episode.after.is_empty()));
    html! {
        @if !episodes.is_empty() {
            details open[episodes.len() <= OPEN_ROWS] {
                summary { (say!("review-every-episode")) }
                div.scroll {
                    table.stack.episodes {
                        thead { tr {
                            th scope="col" { (say!("review-began")) } th scope="col" { (say!("review-kind")) } th.num scope="col" { (say!("review-lasted")) }
                            th.num scope="col" { (say!("review-extreme", unit = shown.unit.symbol())) }
                            @if logged { th scope="col" { (say!("review-before")) } th scope="col" { (say!("review-after")) } }
                        } }
                        tbody {
                            @for episode in episodes {
                                tr {
                                    th { a href=(closer(episode)) { (words::date_and_clock(episode.start.0)) } (words::which_time(episode.start_pass)) }
                                    td.kind.(episode_class(episode)) { (words::episode_kind(episode)) }
                                    td { (words::episode_length(episode)) }
                                    td { (shown.glucose(episode.extreme_mg_dl)) }
                                    @if logged { td { (nearby(&episode.before, shown)) } td { (nearby(&episode.after, shown)) } }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// The hours around an episode on the timeline. Short, for a page may hold hundreds.
fn closer(episode: &EpisodeLine) -> String {
    format!("/days?at={}", episode.start.0.at)
}

/// What was logged near an episode, a line each.
fn nearby(list: &[Nearby], shown: Shown) -> Markup {
    html! { @for (i, near) in list.iter().enumerate() { @if i > 0 { br; } (words::nearby(near, shown)) } }
}

fn episode_class(episode: &EpisodeLine) -> &'static str {
    use interstice_findings::EpisodeKind::{High, Low};
    match (episode.kind, episode.level) {
        (Low, 1) => "below1",
        (Low, _) => "below2",
        (High, 1) => "above1",
        (High, _) => "above2",
    }
}

fn measures(findings: &ReviewFindings, shown: Shown) -> Markup {
    html! {
        section aria-labelledby="measures" {
            (heading("measures", &say!("measure-heading"), findings))
            div.scroll {
                table.stack.measures {
                    thead { tr {
                        th scope="col" { (say!("measure-head")) } th scope="col" { (say!("measure-value-head")) } th scope="col" { (say!("measure-says-head")) }
                    } }
                    tbody { @for measure in words::measures(findings, shown) { (measure_row(&measure)) } }
                }
            }
            p.help { (say!("measure-resampled", seed = findings.seed.to_string())) }
        }
    }
}

fn measure_row(measure: &Measure) -> Markup {
    html! {
        tr {
            th scope="row" { a href={ "/methods/" (measure.method) } { (measure.name) } }
            td.value { (glue(&measure.value)) }
            td.wide { (measure.meaning) @if measure.standing != Standing::None { " " (standing(measure.standing)) } }
        }
    }
}

fn days(findings: &ReviewFindings, shown: Shown) -> Markup {
    html! {
        section aria-labelledby="days" {
            h2 #days { (say!("review-days-heading")) }
            @if findings.days.len() <= OPEN_ROWS * 2 { (day_table(&findings.days, shown)) }
            @else { details { summary { (say!("review-days-all", days = findings.days.len())) } (day_table(&findings.days, shown)) } }
        }
    }
}

/// The list of days.
pub(crate) fn day_table(days: &[DayLine], shown: Shown) -> Markup {
    html! {
        div.scroll {
            table.stack.days {
                thead { tr {
                    th scope="col" { (say!("review-day")) } th scope="col" { (say!("review-day-24")) } th.num scope="col" { (say!("review-in-range")) }
                    th.num scope="col" { (say!("review-day-below")) } th.num scope="col" { (say!("review-day-above")) }
                    th.num scope="col" { (say!("review-day-mean", unit = shown.unit.symbol())) } th.num scope="col" { (say!("review-day-extremes")) } th.num scope="col" { (say!("review-day-measured")) }
                } }
                tbody {
                    @for row in words::day_rows(days) {
                        @match row {
                            words::DayRow::Day(day) => (day_row(day, shown)),
                            words::DayRow::Silent(first, last, count) => (silent_row(first, last, count)),
                        }
                    }
                }
            }
        }
    }
}

/// Days on end without a reading.
fn silent_row(first: &DayLine, last: &DayLine, count: usize) -> Markup {
    html! {
        tr.silent {
            th scope="row" { (say!("review-silent", from = words::short_date(&first.date), to = words::short_date(&last.date))) }
            td colspan="7" { (say!("review-silent-days", days = count)) }
        }
    }
}

fn day_row(day: &DayLine, shown: Shown) -> Markup {
    let share =
        |value: Option<f64>| value.map_or_else(|| "–".to_owned(), |v| format!("{} %", words::percent(v)));
    let glucose = |value: Option<f64>| value.map_or_else(|| "–".to_owned(), |v| shown.glucose(v));
    html! {
        tr {
            th {
                a href={ "/days?date=" (day.date) } { (words::weekday(day.weekday)) " " (words::short_date(&day.date)) }
            }
            td.strip { (chart::day_strip(day)) }
            td { (share(day.in_range_percent)) }
            td { (share(day.below_percent)) }
            td { (share(day.above_percent)) }
            td { (glucose(day.mean_mg_dl)) }
            td { (words::day_extremes(day, shown)) }
            td { (words::percent(day.active_percent)) " %" }
        }
    }
}

fn traces(traces: &[TraceLine], shown: Shown) -> Markup {
    html! {
        section aria-labelledby="sensors" {
            h2 #sensors { (say!("review-sensors-heading")) }
            div.scroll {
                table.stack {
                    thead { tr {
                        th scope="col" { (say!("review-sensor")) } th scope="col" { (say!("review-sensor-reads")) } th.num scope="col" { (say!("review-sensor-readings")) }
                        th scope="col" { (say!("review-sensor-from")) } th scope="col" { (say!("review-sensor-to")) } th.num scope="col" { (say!("review-sensor-beyond")) }
                    } }
                    tbody {
                        @for trace in traces {
                            tr {
                                th scope="row" { (words::trace_name(trace)) }
                                td { (words::trace_kind(trace)) }
                                td.num data-label=(say!("review-sensor-readings-label")) { (trace.received) }
                                td data-label=(say!("review-sensor-from-label")) { (words::date_and_clock(trace.from.0)) }
                                td data-label=(say!("review-sensor-to-label")) { (words::date_and_clock(trace.to.0)) }
                                td.num data-label=(say!("review-sensor-beyond-label")) { (trace.censored) }
                            }
                        }
                    }
                }
            }
            (caution(Caution::FirstDay, shown))
            (method("traces", &say!("review-sensors-method")))
        }
    }
}

fn notes(findings: &ReviewFindings) -> Markup {
    html! {
        @if !findings.notes.is_empty() {
            section aria-labelledby="notes" {
                h2 #notes { (say!("review-worth-knowing")) }
                ul { @for note in &findings.notes { li { (note) } } }
            }
        }
    }
}

fn method(name: &str, words: &str) -> Markup {
    html! { p.method-link { a href={ "/methods/" (name) } { (words) } } }
}
