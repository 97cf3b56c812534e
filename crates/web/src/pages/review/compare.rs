//! Before and after: two stretches, or days of a kind against others.

use axum::Router;
use axum::extract::{Query, State};
use axum::http::header::CONTENT_TYPE;
use axum::response::IntoResponse;
use axum::routing::get;
use interstice_findings::ReviewFindings;
use interstice_findings::compare::{Against, CompareAsk, CompareFindings, with_the_one_before};
use interstice_findings::states::{KnownBy, KnownState};
use interstice_render::chart;
use interstice_render::words::{self, Caution, Shown};
use maud::{Markup, html};

use super::meals::table;
use super::{both_shapes, method};
use crate::Trouble;
use crate::app::App;
use crate::query::{CompareQuery, ReviewQuery};
use crate::shell::{Tab, caution, glue, nothing_yet, page, sentence};

pub(super) fn routes() -> Router<App> {
    Router::new()
        .route("/review/compare", get(compare))
        .route("/api/compare", get(compare_json))
}

async fn compare(State(app): State<App>, Query(query): Query<CompareQuery>) -> Result<Markup, Trouble> {
    let settings = app.settings().await?;
    let (asked, shown) = (query.ask()?, query.shown(&settings)?);
    if app.ask(|backend| backend.is_empty()).await? {
        let nothing = nothing_yet("Before and after", "it can be compared");
        return Ok(page("Before and after", Tab::Review, &[], nothing));
    }
    let known = app.ask(|backend| backend.states()).await?;
    let Some(asked) = asked else {
        let suggested = suggested(&app).await?;
        return Ok(whole(&query, &known, (suggested.as_ref(), true), html! {}));
    };
    let ask = asked.clone();
    // Days that make no two sets are answered beside the form, where they can be mended.
    let (answer, is_open) = match app.ask(move |backend| backend.compare(&ask)).await {
        Ok(findings) => (told(&findings, &query, shown), false),
        Err(Trouble::Request(why)) => (html! { p.answer role="alert" { (sentence(&why)) } }, true),
        Err(other) => return Err(other),
    };
    Ok(whole(&query, &known, (Some(&asked.against), is_open), answer))
}

/// The last four weeks against the four before, to begin with.
async fn suggested(app: &App) -> Result<Option<Against>, Trouble> {
    const WEEKS: &str = "28";
    let ask = ReviewQuery::last_days(WEEKS).ask()?;
    let review = app.ask(move |backend| backend.review(&ask)).await?;
    Ok(with_the_one_before(&review.window))
}

/// The same document as `interstice compare --json`.
async fn compare_json(
    State(app): State<App>,
    Query(query): Query<CompareQuery>,
) -> Result<impl IntoResponse, Trouble> {
    let ask: CompareAsk = query
        .ask()?
        .ok_or_else(|| Trouble::Request("say which days; the page has the forms".to_owned()))?;
    let findings = app.ask(move |backend| backend.compare(&ask)).await?;
    let unwritten = |error| Trouble::Internal(format!("the comparison could not be written: {error}"));
    let json = serde_json::to_string(&*findings).map_err(unwritten)? + "\n";
    Ok(([(CONTENT_TYPE, "application/json")], json))
}

/// From the account: its window against the one before.
pub(super) fn links(findings: &ReviewFindings) -> Markup {
    let before = with_the_one_before(&findings.window).and_then(|against| address(&against));
    html! {
        nav.windows aria-label="Before and after" {
            span { "Before and after" }
            @if let Some(before) = before { a href=(before) { "these days and those before" } }
            a href="/review/compare" { "any two stretches, or kinds of days" }
        }
    }
}

fn address(against: &Against) -> Option<String> {
    let Against::Windows { before, after } = against else {
        return None;
    };
    Some(format!(
        "/review/compare?before_from={}&before_to={}&after_from={}&after_to={}",
        before.0, before.1, after.0, after.1
    ))
}

/// * `against`: what the forms are filled in with, and whether that one stands open.
fn whole(
    query: &CompareQuery,
    known: &[KnownState],
    against: (Option<&Against>, bool),
    answer: Markup,
) -> Markup {
    page(
        "Before and after",
        Tab::Review,
        &[],
        html! {
            header.answer-head {
                h1 { "Before and after" }
                p.lead { "Two stretches of days, or days of a kind against the others: what differed, how sure that is, and what else was different." }
                (forms(query, known, against))
            }
            (answer)
        },
    )
}

fn forms(query: &CompareQuery, known: &[KnownState], (against, is_open): (Option<&Against>, bool)) -> Markup {
    let is_kind = matches!(against, Some(Against::Kind { .. }));
    let windows = match against {
        Some(Against::Windows { before, after }) => {
            [before.0, before.1, after.0, after.1].map(|date| Some(date.to_string()))
        }
        _ => [const { None }; 4],
    };
    let date = |name: &str, value: &Option<String>| html! { input type="date" name=(name) value=[value.as_deref()] required; };
    html! {
        div.compare-forms {
            details open[is_open && !is_kind] name="compare" {
                summary { "Two stretches" }
                form method="get" action="/review/compare" {
                    fieldset {
                        legend { "The former" }
                        label.date { "From " (date("before_from", &windows[0])) }
                        label.date { "to " (date("before_to", &windows[1])) }
                    }
                    fieldset {
                        legend { "The latter" }
                        label.date { "From " (date("after_from", &windows[2])) }
                        label.date { "to " (date("after_to", &windows[3])) }
                    }
                    button type="submit" { "Compare" }
                }
            }
            details open[is_open && is_kind] name="compare" {
                summary { "Days of a kind" }
                form method="get" action="/review/compare" {
                    label.field { span { "Days with" } (choice("days", query.days.as_deref(), known, "your words below")) }
                    label.field {
                        span { "or with these words of yours" }
                        input name="words" value=[query.words.as_deref()] autocomplete="off" placeholder="slow run";
                    }
                    label.field { span { "Against" } (choice("than", query.than.as_deref(), known, "days without it")) }
                    label.date { "Among the days from " input type="date" name="from" value=[query.from.as_deref()]; }
                    label.date { "to " input type="date" name="to" value=[query.to.as_deref()]; }
                    button type="submit" { "Compare" }
                    p.help { "Without dates: among the days up to four weeks from the first and the last of them. Tag days of your own with " code { "interstice log tag" } "." }
                }
            }
        }
    }
}

fn choice(name: &str, chosen: Option<&str>, known: &[KnownState], none: &str) -> Markup {
    const GROUPS: [(KnownBy, &str); 4] = [
        (KnownBy::Tag, "Your tags"),
        (KnownBy::Calendar, "By the calendar"),
        (KnownBy::Logged, "By what was logged"),
        (KnownBy::Words, "Words beside it"),
    ];
    let chosen = chosen.unwrap_or_default().trim();
    html! {
        select name=(name) {
            option value="" { (none) }
            @for (known_by, title) in GROUPS {
                @let of: Vec<&KnownState> = known.iter().filter(|state| state.known_by == known_by).collect();
                @if !of.is_empty() {
                    optgroup label=(title) {
                        @for state in of {
                            option value=(state.name) selected[state.name == chosen] { (words::compare_option(state)) }
                        }
                    }
                }
            }
        }
    }
}

fn told(findings: &CompareFindings, query: &CompareQuery, shown: Shown) -> Markup {
    let said = words::compare_answer(findings);
    let enough = !findings.figures.is_empty();
    html! {
        section aria-labelledby="told" {
            h2 #told { "What differed" }
            @for (place, said) in said.iter().enumerate() {
                @if place == 0 { p.answer { (glue(said)) } } @else { p.lead { (glue(said)) } }
            }
            ul.sides { @for said in words::compare_sides(findings) { li { (glue(&said)) } } }
            (switch(findings, query))
            @if enough {
                figure {
                    (both_shapes(|shape, id| chart::compare(findings, shown, shape, id), "compare"))
                    figcaption {
                        (words::compare_less(findings)) " Bar: 95 % margin. A full dot where all of it lies to one \
                         side of zero, a ring where it does not; a name in bold stands with everything asked allowed for."
                    }
                }
                (table(&words::compare_table(findings, shown)))
                (method("compare", "How days are compared"))
                p { (glue(&words::compare_many(findings))) }
            }
            (caution(Caution::CareTeam, shown))
        }
        @if enough {
            section aria-labelledby="also" {
                h2 #also { "What else was different" }
                p { "Insulin over days with a dose logged, food over days with a meal logged; which sensor was worn is told as it was. What nobody logged is not seen." }
                (table(&words::compare_also_table(findings, shown)))
                (caution(Caution::Followed, shown))
            }
        }
        section aria-labelledby="basis" {
            h2 #basis { "Worth knowing" }
            ul {
                @if enough { li { (words::compare_basis(findings)) } }
                @for note in &findings.notes { li { (note) } }
            }
            (method("compare", "How days are compared"))
        }
    }
}

/// Whether possible pressure lows count: one link, the other way.
fn switch(findings: &CompareFindings, query: &CompareQuery) -> Markup {
    html! {
        nav.windows.switch aria-label="Possible pressure lows" {
            @if findings.without_artefacts {
                strong { "Possible pressure lows are left out of every figure." }
                a href=(query.with_pressure("in")) { "Count every reading" }
            } @else {
                span { "Every reading counts." }
                a href=(query.with_pressure("out")) { "Leave out possible pressure lows" }
            }
        }
    }
}
