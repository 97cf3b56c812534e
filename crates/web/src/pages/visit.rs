//! Visit: the sheet for the care team, what it needs from the wearer, and the files to print and to send.

mod notes;

use axum::Router;
use axum::extract::{Query, State};
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use interstice_findings::VisitFindings;
use interstice_findings::visit::VISIT_DAYS;
use interstice_render::pdf::{self, PaperSize};
use interstice_render::sheet::{html as sheet_html, sheet, workbook};
use interstice_render::words::{self, Shown};
use maud::{Markup, html};

use crate::app::App;
use crate::query::VisitQuery;
use crate::shell::{Tab, nothing_yet, page};
use crate::{ReviewWindow, Trouble, VisitWindow};

/// The registered name of the spreadsheet's kind (IANA media types).
const WORKBOOK: &str = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";

/// Lengths of window that are offered, days.
const LENGTHS: [(u32, &str); 5] = [
    (14, "14 days"),
    (30, "30 days"),
    (60, "60 days"),
    (VISIT_DAYS, "90 days"),
    (180, "180 days"),
];

pub(crate) fn routes() -> Router<App> {
    Router::new()
        .route("/visit", get(visit))
        .route("/visit/sheet.pdf", get(as_pdf))
        .route("/visit/sheet.html", get(as_html))
        .route("/visit/sheet.xlsx", get(as_workbook))
        .route("/api/visit", get(as_json))
        .merge(notes::routes())
}

async fn visit(State(app): State<App>, Query(query): Query<VisitQuery>) -> Result<Markup, Trouble> {
    let settings = app.settings().await?;
    let (ask, shown) = (query.ask()?, query.shown(&settings)?);
    let kept = app.ask(|backend| backend.visit_notes()).await?;
    let change = query.change();
    if app.ask(|backend| backend.is_empty()).await? {
        let content = html! {
            (nothing_yet("Visit", "the sheet for your care team appears"))
            (notes::taken(change))
            (notes::section(&kept))
        };
        return Ok(page("Visit", Tab::Visit, &[], content));
    }
    let asked = ask.clone();
    let findings = app.ask(move |backend| backend.visit(&asked)).await?;
    let content = html! {
        (head(&query, &ask))
        (notes::taken(change))
        (sheet_html::content(&findings, &sheet(&findings, shown), shown))
        (ways(&query))
        (notes::section(&kept))
    };
    let title = format!("Visit, {}", words::window(&findings.review.window));
    Ok(page(&title, Tab::Visit, &[], content))
}

/// Where the sheet's pictures stand as tables, and where its figures are explained: the sheet itself is for paper.
fn ways(query: &VisitQuery) -> Markup {
    const METHODS: [(&str, &str); 10] = [
        ("visit", "what stands out"),
        ("ranges", "ranges"),
        ("summary", "measures"),
        ("usual-day", "usual day"),
        ("pressure-lows", "pressure lows"),
        ("swings", "swings"),
        ("patterns", "what comes again"),
        ("meals", "meals"),
        ("agreement", "how far to trust the sensor"),
        ("hba1c", "HbA1c and GMI"),
    ];
    html! {
        section.sheet-ways aria-labelledby="sheet-ways" {
            h2 #sheet-ways { "Behind the sheet" }
            p { a href={ "/review" (query.again("")) "#usual" } data-table { "The pictures as tables, in the account of the same days" } "." }
            p.method-link {
                "How it is computed: "
                @for (place, (page, name)) in METHODS.into_iter().enumerate() {
                    @if place > 0 { ", " }
                    a href={ "/methods/" (page) } { (name) }
                }
                "."
            }
        }
    }
}

/// The window, and the files of it.
fn head(query: &VisitQuery, ask: &VisitWindow) -> Markup {
    let (from, to) = match &ask.window {
        ReviewWindow::Dates { from, to } => (from.as_deref(), to.as_deref()),
        ReviewWindow::Days(_) => (None, None),
    };
    html! {
        nav.windows aria-label="Window" {
            span { "Last" }
            @for (days, name) in LENGTHS {
                a href={ "/visit?days=" (days) } aria-current=[(ask.window == ReviewWindow::Days(days)).then_some("true")] { (name) }
            }
            details open[from.is_some() || to.is_some() || ask.since.is_some()] {
                summary { "Other dates" }
                form method="get" action="/visit" {
                    label { "From " input type="date" name="from" value=[from]; }
                    label { "to " input type="date" name="to" value=[to]; }
                    label { "changed since " input type="date" name="since" value=[ask.since.as_deref()]; }
                    button type="submit" { "Show" }
                }
            }
        }
        p.tools.sheet-files {
            a.button href={ "/visit/sheet.pdf" (query.again("")) } download { "PDF, A4" } " "
            a.button href={ "/visit/sheet.pdf" (query.again("paper=letter")) } download { "PDF, letter" } " "
            a.button href={ "/visit/sheet.html" (query.again("")) } download { "HTML, to send" } " "
            a.button href={ "/visit/sheet.xlsx" (query.again("")) } download { "Tables, XLSX" } " "
            a href="#notes" { "Your questions, name, visits, HbA1c" }
        }
        p.help { "Look through it before you hand it on: it shows your glucose, what was logged and your questions." }
    }
}

async fn asked(app: &App, query: &VisitQuery) -> Result<(std::sync::Arc<VisitFindings>, Shown), Trouble> {
    let settings = app.settings().await?;
    let (ask, shown) = (query.ask()?, query.shown(&settings)?);
    Ok((app.ask(move |backend| backend.visit(&ask)).await?, shown))
}

async fn as_pdf(State(app): State<App>, Query(query): Query<VisitQuery>) -> Result<Response, Trouble> {
    let (findings, shown) = asked(&app, &query).await?;
    let paper = match query.paper() {
        None => PaperSize::default(),
        Some(name) => PaperSize::named(name)
            .ok_or_else(|| Trouble::Request(format!("'{name}' is not a paper; choose a4 or letter")))?,
    };
    let bytes = pdf::visit(&findings, shown, paper);
    let bytes = bytes.map_err(|error| Trouble::Internal(error.to_string()))?;
    Ok(file(&findings, "application/pdf", "pdf", bytes))
}

async fn as_html(State(app): State<App>, Query(query): Query<VisitQuery>) -> Result<Response, Trouble> {
    let (findings, shown) = asked(&app, &query).await?;
    let bytes = sheet_html::page(&findings, shown).into_bytes();
    Ok(file(&findings, "text/html; charset=utf-8", "html", bytes))
}

async fn as_workbook(State(app): State<App>, Query(query): Query<VisitQuery>) -> Result<Response, Trouble> {
    let (findings, shown) = asked(&app, &query).await?;
    let bytes = workbook(&findings, shown).map_err(|error| Trouble::Internal(error.to_string()))?;
    Ok(file(&findings, WORKBOOK, "xlsx", bytes))
}

/// The same document as `interstice visit --json` has under `visit`.
async fn as_json(
    State(app): State<App>,
    Query(query): Query<VisitQuery>,
) -> Result<impl IntoResponse, Trouble> {
    let (findings, _) = asked(&app, &query).await?;
    let unwritten = |error| Trouble::Internal(format!("the sheet could not be written: {error}"));
    let json = serde_json::to_string(&*findings).map_err(unwritten)? + "\n";
    Ok(([(CONTENT_TYPE, "application/json")], json))
}

/// A download, named by the day it was made.
fn file(findings: &VisitFindings, media: &'static str, ending: &str, bytes: Vec<u8>) -> Response {
    let disposition = format!("attachment; filename=\"visit-{}.{ending}\"", findings.made);
    (
        [
            (CONTENT_TYPE, media.to_owned()),
            (CONTENT_DISPOSITION, disposition),
        ],
        bytes,
    )
        .into_response()
}
