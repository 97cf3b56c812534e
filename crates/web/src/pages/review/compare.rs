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
use interstice_tongue::say;
use maud::{Markup, html};

use super::meals::table;
use super::{both_shapes, method};
use crate::Trouble;
use crate::app::App;
use crate::query::{CompareQuery, ReviewQuery};
use crate::shell::{Tab, caution, glue, linked, nothing_yet, page, sentence};

pub(super) fn routes() -> Router<App> {
    Router::new()
        .route("/review/compare", get(compare))
        .route("/api/compare", get(compare_json))
}

async fn compare(State(app): State<App>, Query(query): Query<CompareQuery>) -> Result<Markup, Trouble> {
    let settings = app.settings().await?;
    let (asked, shown) = (query.ask()?, query.shown(&settings)?);
    if app.ask(|backend| backend.is_empty()).await? {
        let title = say!("compare-title");
        let nothing = nothing_yet(&title, &say!("compare-empty"));
        return Ok(page(&title, Tab::Review, &[], nothing));
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
        nav.windows aria-label=(say!("compare-title")) {
            span { (say!("compare-title")) }
            @if let Some(before) = before { a href=(before) { (say!("compare-these-days")) } }
            a href="/review/compare" { (say!("compare-any-days")) }
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
        &say!("compare-title"),
        Tab::Review,
        &[],
        html! {
            header.answer-head {
                h1 { (say!("compare-title")) }
                p.lead { (say!("compare-lead")) }
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
                summary { (say!("compare-two-stretches")) }
                form method="get" action="/review/compare" {
                    fieldset {
                        legend { (say!("compare-the-former")) }
                        label.date { (say!("review-from")) " " (date("before_from", &windows[0])) }
                        label.date { (say!("review-to")) " " (date("before_to", &windows[1])) }
                    }
                    fieldset {
                        legend { (say!("compare-the-latter")) }
                        label.date { (say!("review-from")) " " (date("after_from", &windows[2])) }
                        label.date { (say!("review-to")) " " (date("after_to", &windows[3])) }
                    }
                    button type="submit" { (say!("compare-compare")) }
                }
            }
            details open[is_open && is_kind] name="compare" {
                summary { (say!("compare-kind-of-days")) }
                form method="get" action="/review/compare" {
                    label.field { span { (say!("compare-days-with")) } (choice("days", query.days.as_deref(), known, &say!("compare-words-below"))) }
                    label.field {
                        span { (say!("compare-or-words")) }
                        input name="words" value=[query.words.as_deref()] autocomplete="off" placeholder=(say!("compare-words-example"));
                    }
                    label.field { span { (say!("compare-against")) } (choice("than", query.than.as_deref(), known, &say!("compare-days-without"))) }
                    label.date { (say!("compare-among-from")) " " input type="date" name="from" value=[query.from.as_deref()]; }
                    label.date { (say!("review-to")) " " input type="date" name="to" value=[query.to.as_deref()]; }
                    button type="submit" { (say!("compare-compare")) }
                    p.help { (linked(&say!("compare-among-help"), &[])) }
                }
            }
        }
    }
}

fn choice(name: &str, chosen: Option<&str>, known: &[KnownState], none: &str) -> Markup {
    let groups = [
        (KnownBy::Tag, say!("compare-your-tags")),
        (KnownBy::Calendar, say!("compare-by-calendar")),
        (KnownBy::Logged, say!("compare-by-logged")),
        (KnownBy::Words, say!("compare-words-beside")),
    ];
    let chosen = chosen.unwrap_or_default().trim();
    html! {
        select name=(name) {
            option value="" { (none) }
            @for (known_by, title) in groups {
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
            h2 #told { (say!("compare-differed")) }
            @for (place, said) in said.iter().enumerate() {
                @if place == 0 { p.answer { (glue(said)) } } @else { p.lead { (glue(said)) } }
            }
            ul.sides { @for said in words::compare_sides(findings) { li { (glue(&said)) } } }
            (switch(findings, query))
            @if enough {
                figure {
                    (both_shapes(|shape, id| chart::compare(findings, shown, shape, id), "compare"))
                    figcaption {
                        (words::compare_less(findings)) " " (say!("compare-caption"))
                    }
                }
                (table(&words::compare_table(findings, shown)))
                (method("compare", &say!("compare-method")))
                p { (glue(&words::compare_many(findings))) }
            }
            (caution(Caution::CareTeam, shown))
        }
        @if enough {
            section aria-labelledby="also" {
                h2 #also { (say!("compare-also")) }
                p { (say!("compare-also-basis")) }
                (table(&words::compare_also_table(findings, shown)))
                (caution(Caution::Followed, shown))
            }
        }
        section aria-labelledby="basis" {
            h2 #basis { (say!("review-worth-knowing")) }
            ul {
                @if enough { li { (words::compare_basis(findings)) } }
                @for note in &findings.notes { li { (note) } }
            }
            (method("compare", &say!("compare-method")))
        }
    }
}

/// Whether possible pressure lows count: one link, the other way.
fn switch(findings: &CompareFindings, query: &CompareQuery) -> Markup {
    html! {
        nav.windows.switch aria-label=(say!("review-pressure-label")) {
            @if findings.without_artefacts {
                strong { (say!("review-pressure-out")) }
                a href=(query.with_pressure("in")) { (say!("review-pressure-count")) }
            } @else {
                span { (say!("review-pressure-in")) }
                a href=(query.with_pressure("out")) { (say!("review-pressure-leave")) }
            }
        }
    }
}
