//! Days: the long timeline, and what it needs from the server while it is moved.

use std::sync::Arc;

use axum::Router;
use axum::extract::{Query, State};
use axum::http::header::CONTENT_TYPE;
use axum::response::IntoResponse;
use axum::routing::get;
use interstice_findings::Targets;
use interstice_findings::days::{
    self, AccountRow, DaysAccount, DaysBook, Happening, Lane, ReadingRow, Spread, Stretch, TimelineEvent,
    TimelineView, ViewAsk, ViewSpan,
};
use interstice_glucose::{Unit, counted};
use interstice_render::days as draw;
use interstice_render::words::{self, Caution, Shown};
use maud::{Markup, PreEscaped, html};
use serde::Deserialize;

mod aside;
mod beside;
mod episodes;

use super::lows::anchor;
use crate::app::App;
use crate::query::parse_unit;
use crate::shell::{Tab, caution, nothing_yet, page};
use crate::{Settings, Trouble};

/// Width of the picture drawn without a script, in its own units.
const PICTURE_WIDTH: u32 = 920;

/// Hours shown before and after the instant of `?at=`.
const HOURS_AROUND: [i64; 2] = [3, 5];

pub(crate) fn routes() -> Router<App> {
    Router::new()
        .merge(aside::routes())
        .merge(beside::routes())
        .route("/days", get(page_of_days))
        .route("/days/data", get(data))
        .route("/days/account", get(account))
        .route("/days/day", get(day))
}

/// `?from=2025-03-17T11:00:00Z&to=…`, `?date=2025-03-17`, `?at=1742209440` for the hours around, `&unit=mmol`; for data `&px=1280&density=2`.
#[derive(Clone, Debug, Default, Deserialize)]
struct DaysQuery {
    from: Option<String>,
    to: Option<String>,
    date: Option<String>,
    at: Option<String>,
    unit: Option<String>,
    marked: Option<String>,
    away: Option<String>,
    back: Option<String>,
    px: Option<u32>,
    density: Option<u32>,
}

/// A stretch of time.
#[derive(Clone, Copy, Debug)]
struct Window {
    from: i64,
    to: i64,
}

impl DaysQuery {
    /// The stretch asked for: from and to, a date's lived day, or the last two weeks.
    fn window(&self, book: &DaysBook) -> Result<Window, Trouble> {
        if let Some(text) = given(&self.date) {
            return lived_day(book, text);
        }
        let last = book.last_days(14);
        let [before, after] = HOURS_AROUND.map(|hours| hours * 3600);
        let last = match given(&self.at).map(|text| days::instant(book.clock(), text, false)) {
            Some(Some(at)) => (at - before, at + after),
            _ => last,
        };
        let read = |text: &Option<String>, end: bool, otherwise: i64| match given(text) {
            None => Ok(otherwise),
            Some(text) => days::instant(book.clock(), text, end).ok_or_else(|| {
                Trouble::Request(format!(
                    "'{text}' is not a time; write one like 2025-03-17 or 2025-03-17T12:04"
                ))
            }),
        };
        let window = Window {
            from: read(&self.from, false, last.0)?,
            to: read(&self.to, true, last.1)?,
        };
        if window.from >= window.to {
            return Err(Trouble::Request(
                "the stretch ends before it begins; give 'from' before 'to'".to_owned(),
            ));
        }
        Ok(window)
    }

    /// The unit to show: the address's, else the book's.
    fn shown(&self, settings: &Settings) -> Result<Shown, Trouble> {
        match given(&self.unit) {
            None => Ok(Shown { unit: settings.unit }),
            Some(text) => parse_unit(text).map(|unit| Shown { unit }),
        }
    }
}

fn given(field: &Option<String>) -> Option<&str> {
    field.as_deref().map(str::trim).filter(|text| !text.is_empty())
}

fn lived_day(book: &DaysBook, text: &str) -> Result<Window, Trouble> {
    let wrong = || {
        Trouble::Request(format!(
            "'{text}' is not a date that was lived; write one like 2025-03-17"
        ))
    };
    let date = days::date(text).ok_or_else(wrong)?;
    let (from, to) = book.day(date).ok_or_else(wrong)?;
    Ok(Window { from, to })
}

fn refused(error: days::TimelineError) -> Trouble {
    match error {
        days::TimelineError::EmptyWindow => Trouble::Request(error.to_string()),
        days::TimelineError::Columns(_) => Trouble::Internal(error.to_string()),
    }
}

fn unwritten(error: serde_json::Error) -> Trouble {
    Trouble::Internal(format!("the timeline could not be written: {error}"))
}

/// The binary tile of a stretch; its layout is that of [`draw::tile`].
async fn data(State(app): State<App>, Query(query): Query<DaysQuery>) -> Result<impl IntoResponse, Trouble> {
    let settings = app.settings().await?;
    let shown = query.shown(&settings)?;
    let bytes = app
        .ask(move |backend| {
            let book = backend.days()?;
            let Window { from, to } = query.window(&book)?;
            let (width, density) = (query.px.unwrap_or(PICTURE_WIDTH), query.density.unwrap_or(1));
            let view = book
                .view(ViewAsk {
                    from,
                    to,
                    width,
                    density,
                })
                .map_err(refused)?;
            draw::tile(&view, book.clock(), shown).map_err(unwritten)
        })
        .await?;
    Ok(([(CONTENT_TYPE, "application/octet-stream")], bytes))
}

/// A date's lived day, as seconds since 1970.
async fn day(State(app): State<App>, Query(query): Query<DaysQuery>) -> Result<impl IntoResponse, Trouble> {
    let date = given(&query.date).unwrap_or_default().to_owned();
    let Window { from, to } = app
        .ask(move |backend| lived_day(&*backend.days()?, &date))
        .await?;
    Ok((
        [(CONTENT_TYPE, "application/json")],
        format!("{{\"from\":{from},\"to\":{to}}}"),
    ))
}

/// The words and the table of a stretch, to be put into the page.
async fn account(State(app): State<App>, Query(query): Query<DaysQuery>) -> Result<Markup, Trouble> {
    let settings = app.settings().await?;
    let shown = query.shown(&settings)?;
    let (book, told) = app
        .ask(move |backend| {
            let book = backend.days()?;
            let Window { from, to } = query.window(&book)?;
            let told = book.account(from, to).map_err(refused)?;
            Ok((book, told))
        })
        .await?;
    Ok(html! {
        div data-part="answer" { (answer(&told, shown)) }
        div data-part="account" { (rows(&book, &told, shown)) }
    })
}

/// What the whole page is made of.
struct Shows {
    book: Arc<DaysBook>,
    view: TimelineView,
    told: DaysAccount,
    shown: Shown,
    data: String,
    query: DaysQuery,
}

async fn page_of_days(State(app): State<App>, Query(query): Query<DaysQuery>) -> Result<Markup, Trouble> {
    if app.ask(|backend| backend.is_empty()).await? {
        return Ok(page(
            "Days",
            Tab::Days,
            &[],
            nothing_yet("Days", "its days appear"),
        ));
    }
    let settings = app.settings().await?;
    let shown = query.shown(&settings)?;
    let shows = app
        .ask(move |backend| shows(backend.days()?, &query, shown))
        .await?;
    let title = format!("Days, {}", draw::view_name(&shows.told));
    Ok(page(&title, Tab::Days, &[], whole(&shows)))
}

fn shows(book: Arc<DaysBook>, query: &DaysQuery, shown: Shown) -> Result<Shows, Trouble> {
    let Window { from, to } = query.window(&book)?;
    let ask = ViewAsk {
        from,
        to,
        width: PICTURE_WIDTH,
        density: 1,
    };
    let (view, told) = (
        book.view(ask).map_err(refused)?,
        book.account(from, to).map_err(refused)?,
    );
    let unit = match given(&query.unit) {
        Some(text) if parse_unit(text)? == Unit::MmolPerL => "unit=mmol",
        Some(_) => "unit=mg",
        None => "",
    };
    let first = draw::PageView {
        from,
        to,
        data: "/days/data",
        account: "/days/account",
        day: "/days/day",
        ask: unit,
    };
    let data = draw::page_data(&book, &first, shown).map_err(unwritten)?;
    Ok(Shows {
        book,
        view,
        told,
        shown,
        data,
        query: query.clone(),
    })
}

fn whole(shows: &Shows) -> Markup {
    let Shows {
        book,
        view,
        told,
        shown,
        data,
        query,
    } = shows;
    let just = aside::Just {
        marked: given(&query.marked),
        away: given(&query.away),
        back: query.back.is_some(),
    };
    html! {
        link rel="stylesheet" href="/assets/days.css";
        div #timeline-answer { (answer(told, *shown)) }
        (scales(book, told))
        figure #timeline {
            p.read-out data-readout data-idle=(IDLE) { (IDLE) }
            canvas tabindex="0" role="application" aria-label="Timeline of glucose and what was written down"
                aria-describedby="days-said timeline-help" {}
            (draw::picture(book.timeline(), view, *shown, "timeline-picture", &draw::view_name(told)))
            figcaption #timeline-help {
                "Slate is in range, " (in_range(&book.timeline().targets(), *shown)) "; indigo is below, ochre above; stronger and hatched is \
                 very low or very high. "
                "Rings are blood checks. "
                @if book.lanes().contains(&Lane::Low) {
                    "In the lane 'pressure' an open bar is a possible pressure low, a pale one you called pressure, a dark one real; \
                     beyond 45 days those you judged. "
                }
                @if book.lanes().contains(&Lane::Swing) {
                    "In the lane 'swings' each chain is one, its links in order: highs, lows, doses, food; up to 45 days. "
                    span.for-script { "Touch one, or point at it with the arrows and press Enter, for its evidence on Review. " }
                }
                "Where the line is open, nothing was read. "
                span.for-script {
                    "Drag to move, turn the wheel or pinch to come closer. Keys: arrows read out, with Shift they move; "
                    "+ and − change the scale; Home and End go to the ends of the book; M marks a stretch. "
                }
                a href="/methods/timeline" { "How this is drawn" } "."
            }
        }
        script #timeline-book type="application/json" { (PreEscaped(data)) }
        script type="module" src="/assets/days.js" {}
        (aside::form(told, &just))
        div #timeline-account { (rows(book, told, *shown)) }
        (caution(Caution::CareTeam, *shown))
    }
}

/// '70 to 180 mg/dL'.
fn in_range(targets: &Targets, shown: Shown) -> String {
    words::Range::InRange.bounds(targets, shown) + " " + shown.unit.symbol()
}

/// What stands in the read-out when nothing is pointed at.
const IDLE: &str = "Point at the picture to read it out.";

fn answer(told: &DaysAccount, shown: Shown) -> Markup {
    html! {
        h1 { "Days" span.window { (draw::view_name(told)) } }
        p.days-answer #days-said { (draw::account_sentence(told, shown)) " " (draw::clock_set(told)) }
    }
}

/// From everything to an hour, about the middle of what is shown.
fn scales(book: &DaysBook, told: &DaysAccount) -> Markup {
    html! {
        nav.windows.scales aria-label="How much to show" {
            @for scale in book.scales(told.from.at, told.to.at) {
                a href=(link(scale.view)) data-span=(scale.seconds) { (scale.name) }
            }
            span.moves {
                @for step in book.moves(told.from.at, told.to.at) {
                    a href=(link(step.view)) data-shift=(step.share) { (step.name) }
                }
            }
        }
    }
}

fn link(view: ViewSpan) -> String {
    format!(
        "/days?from={}&to={}",
        days::address(view.from),
        days::address(view.to)
    )
}

fn rows(book: &DaysBook, told: &DaysAccount, shown: Shown) -> Markup {
    html! {
        (day_by_day(book, told))
        (episodes::listed(told, shown))
        (aside::listed(told))
        @if !told.events.is_empty() { (events(book, told, shown)) }
        section aria-labelledby="timeline-table" {
            h2 #timeline-table { "The same as a table" }
            @match &told.rows {
                AccountRow::Readings(rows) => (readings(rows, told, shown)),
                AccountRow::Stretches(stretch, rows) => (stretches(book, *stretch, rows, told, shown)),
            }
        }
    }
}

/// The days before and after, and any other.
fn day_by_day(book: &DaysBook, told: &DaysAccount) -> Markup {
    let name = |from: i64| draw::stretch_name(Stretch::Day, from, book.clock());
    let to_day = |(from, to): (i64, i64), text: String| {
        html! {
            a href=(link(ViewSpan { from, to })) data-from=(from) data-to=(to) { (text) }
        }
    };
    html! {
        nav.windows.day-by-day aria-label="Day by day" {
            (to_day(told.day_before, format!("← {}", name(told.day_before.0))))
            @if !told.is_day { (to_day(told.day, name(told.day.0))) }
            (to_day(told.day_after, format!("{} →", name(told.day_after.0))))
            form method="get" action="/days" data-jump {
                label { "Go to " input type="date" name="date" required; }
                button.quiet type="submit" { "Show" }
            }
            a href="/find" { "Find days" }
            (beside::ways(book, told.day.0, told.day_before.0))
        }
    }
}

fn events(book: &DaysBook, told: &DaysAccount, shown: Shown) -> Markup {
    html! {
        section aria-labelledby="timeline-events" {
            h2 #timeline-events { "Written down" }
            ul.events {
                @for (_, event) in &told.events {
                    li { (draw::event_text(event, book.clock(), shown)) (to_judge(event)) (to_swing(event, book)) }
                }
            }
            @if told.events.len() < told.events_in_all {
                p.help { (told.events.len()) " of " (told.events_in_all) " shown; a shorter stretch shows the rest." }
            }
        }
    }
}

/// Where a low is judged, and where a word on it is taken back.
fn to_judge(event: &TimelineEvent) -> Markup {
    let Happening::Low(low) = &event.what else {
        return html! {};
    };
    let asked = match low.said {
        None => "say which it was",
        Some(_) => "its signs, and your word on it",
    };
    html! { " – " a href={ "/trust?lows=open#" (anchor(low.from)) } { (asked) } }
}

/// Where the account tells of a swing.
fn to_swing(event: &TimelineEvent, book: &DaysBook) -> Markup {
    html! {
        @if let Some(address) = draw::swing_address(event, book.clock()) { " – " a href=(address) { "its links and their evidence" } }
    }
}

fn readings(rows: &[ReadingRow], told: &DaysAccount, shown: Shown) -> Markup {
    if rows.is_empty() {
        return html! { p { "There are no readings in this stretch." } };
    }
    html! {
        details {
            summary { (shown_of(rows.len(), told.rows_in_all, ["reading", "readings"])) }
            div.scroll {
                table.narrow {
                    thead { tr { th scope="col" { "When" } th.num scope="col" { (shown.unit) } th scope="col" { "Range" } } }
                    tbody {
                        @for row in rows {
                            tr {
                                th scope="row" { (words::date_and_clock(row.moment)) (words::which_time(row.pass)) }
                                td.num { (draw::reading_value(&row.point, shown)) }
                                td { (draw::range_name(row.point.range)) }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn stretches(book: &DaysBook, stretch: Stretch, rows: &[Spread], told: &DaysAccount, shown: Shown) -> Markup {
    if rows.is_empty() {
        return html! { p { "There are no readings in this stretch." } };
    }
    let between = |low: f64, high: f64| format!("{} to {}", shown.glucose(low), shown.glucose(high));
    html! {
        details {
            summary { (shown_of(rows.len(), told.rows_in_all, ["row", "rows"])) }
            div.scroll {
                table {
                    caption { "What was read in each, every reading counted once, in " (shown.unit) ". A row does not say what is usual." }
                    thead { tr {
                        th scope="col" { (draw::stretch_heading(stretch)) }
                        th.num scope="col" { "Readings" }
                        th.num scope="col" { "Median" }
                        th.num scope="col" { "Half between" }
                        th.num scope="col" { "Nine in ten between" }
                        th.num scope="col" { "Lowest to highest" }
                    } }
                    tbody {
                        @for row in rows {
                            tr {
                                th scope="row" {
                                    a href=(link(ViewSpan { from: row.from, to: row.to })) data-from=(row.from) data-to=(row.to) {
                                        (draw::stretch_name(stretch, row.from, book.clock()))
                                    }
                                }
                                td.num { (row.count) }
                                td.num { (shown.glucose(row.p50_mg_dl)) }
                                td.num { (between(row.p25_mg_dl, row.p75_mg_dl)) }
                                td.num { (between(row.p5_mg_dl, row.p95_mg_dl)) }
                                td.num { (draw::extremes(row, shown)) }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// '288 readings', 'The first 300 of 1,440 readings'.
fn shown_of(here: usize, in_all: usize, [one, many]: [&str; 2]) -> String {
    let in_all_counted = counted(in_all as u64, one, many);
    if here < in_all {
        format!("{here} of {in_all_counted}; a shorter stretch shows the rest")
    } else {
        in_all_counted
    }
}
