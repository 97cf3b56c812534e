//! Stretches marked on the timeline: the form, the list, and taking them away.

use axum::extract::State;
use axum::response::Redirect;
use axum::routing::post;
use axum::{Form, Router};
use interstice_desk::{Jot, JotWords};
use interstice_findings::days::{self, AsideLine, DaysAccount, DaysBook};
use interstice_findings::written::EntryRef;
use interstice_glucose::{AsideWhy, InsulinKind, MarkKind, Second, counted};
use interstice_render::words;
use maud::{Markup, html};
use serde::Deserialize;

use super::given;
use crate::app::App;
use crate::{Jotted, Trouble};

pub(super) fn routes() -> Router<App> {
    Router::new()
        .route("/days/aside", post(mark))
        .route("/days/aside/away", post(away))
        .route("/days/aside/undo", post(undo))
}

/// The form. What was picked on the picture comes as instants beside the times that are shown: a wall clock reads an hour
/// twice in autumn.
#[derive(Debug, Deserialize)]
struct Marked {
    at: Option<String>,
    until: Option<String>,
    picked_at: Option<String>,
    picked_until: Option<String>,
    why: Option<String>,
    words: Option<String>,
    view_from: Option<String>,
    view_to: Option<String>,
}

async fn mark(State(app): State<App>, Form(sent): Form<Marked>) -> Result<Redirect, Trouble> {
    let why = given(&sent.why).and_then(AsideWhy::from_words);
    let why = why.ok_or_else(|| request("say why: pressure, sensor wrong, or left out"))?;
    let text = why.told(given(&sent.words));
    let back = view(&sent.view_from, &sent.view_to);
    let jotted = app
        .ask(move |backend| {
            let book = backend.days()?;
            let at = instant(&book, &sent.picked_at, &sent.at, "when it begins")?;
            let until = instant(&book, &sent.picked_until, &sent.until, "when it ends")?;
            if at >= until {
                return Err(request("the stretch ends before it begins; give a later end"));
            }
            backend.jot(&words_of(at, until, text), None)
        })
        .await?;
    match jotted {
        Jotted::Written(change) => Ok(Redirect::to(&format!("/days?{back}marked={change}#aside"))),
        Jotted::WhichUnit(why) => Err(Trouble::Internal(why)),
    }
}

fn words_of(at: Second, until: Second, text: String) -> JotWords {
    JotWords {
        what: Jot::Mark(MarkKind::Artefact),
        at: Some(days::address(at)),
        until: Some(days::address(until)),
        amount: None,
        unit: None,
        laboratory: false,
        insulin: InsulinKind::Unsaid,
        words: Some(text),
    }
}

fn request(why: &str) -> Trouble {
    Trouble::Request(why.to_owned())
}

fn instant(
    book: &DaysBook,
    picked: &Option<String>,
    typed: &Option<String>,
    what: &str,
) -> Result<Second, Trouble> {
    let text = given(picked)
        .or_else(|| given(typed))
        .ok_or_else(|| request(&format!("say {what}")))?;
    days::instant(book.clock(), text, false).ok_or_else(|| {
        request(&format!(
            "'{text}' is not a time; write one like 2025-03-17T12:04"
        ))
    })
}

/// The view to come back to, as the beginning of a query.
fn view(from: &Option<String>, to: &Option<String>) -> String {
    let plain = |text: &str| {
        text.chars()
            .all(|c| c.is_ascii_alphanumeric() || ":-".contains(c))
    };
    match (given(from), given(to)) {
        (Some(from), Some(to)) if plain(from) && plain(to) => format!("from={from}&to={to}&"),
        _ => String::new(),
    }
}

#[derive(Debug, Deserialize)]
struct Away {
    entry: i64,
    view_from: Option<String>,
    view_to: Option<String>,
}

async fn away(State(app): State<App>, Form(sent): Form<Away>) -> Result<Redirect, Trouble> {
    let back = view(&sent.view_from, &sent.view_to);
    let change = app
        .ask(move |backend| {
            let known = backend.days()?.aside_entry(sent.entry);
            let entry: EntryRef = known
                .ok_or_else(|| request("there is no such stretch; it may have been taken away already"))?;
            backend.strike(entry)
        })
        .await?;
    Ok(Redirect::to(&format!("/days?{back}away={change}#aside")))
}

#[derive(Debug, Deserialize)]
struct Undo {
    change: i64,
    view_from: Option<String>,
    view_to: Option<String>,
}

async fn undo(State(app): State<App>, Form(sent): Form<Undo>) -> Result<Redirect, Trouble> {
    let back = view(&sent.view_from, &sent.view_to);
    app.ask(move |backend| backend.take_back_entry(sent.change))
        .await?;
    Ok(Redirect::to(&format!("/days?{back}back=1#aside")))
}

/// The change just made, and the view it was made in.
pub(super) struct Just<'a> {
    pub(super) marked: Option<&'a str>,
    pub(super) away: Option<&'a str>,
    pub(super) back: bool,
}

/// What is marked in the stretch that is shown, with the ways to take it away.
pub(super) fn listed(told: &DaysAccount) -> Markup {
    html! {
        @if !told.aside.is_empty() {
            section aria-labelledby="aside-listed" {
                h2 #aside-listed { "Marked as not to be believed" }
                ul.events.asides { @for line in &told.aside { li { (line_said(line)) (away_form(line, told)) } } }
                @if told.aside.len() < told.aside_in_all {
                    p.help { (told.aside.len()) " of " (told.aside_in_all) " shown; a shorter stretch shows the rest." }
                }
                p.help {
                    "The readings stay in the book. " a href="/review?pressure=out" { "The account without them" }
                    " leaves them out of every figure, with the lows that count as pressure."
                }
            }
        }
    }
}

fn line_said(line: &AsideLine) -> Markup {
    let minutes = (line.to.at - line.from.at) as f64 / 60.0;
    let why = line.why.map_or("not believed", AsideWhy::words);
    html! {
        span {
            (words::date_and_clock(line.from)) ", " (words::duration(minutes)) ": " (why)
            @if let Some(beside) = &line.words { ", " (beside) }
            " – " (counted(line.readings, "reading", "readings"))
        }
    }
}

fn away_form(line: &AsideLine, told: &DaysAccount) -> Markup {
    html! {
        form method="post" action="/days/aside/away" {
            input type="hidden" name="entry" value=(line.entry.id);
            (view_fields(told))
            button.quiet type="submit" aria-label={ "Take away the mark of " (words::date_and_clock(line.from)) } { "Take away" }
        }
    }
}

fn view_fields(told: &DaysAccount) -> Markup {
    html! {
        input type="hidden" name="view_from" value=(days::address(told.from.at)) data-view="from";
        input type="hidden" name="view_to" value=(days::address(told.to.at)) data-view="to";
    }
}

/// The form: by two times; a script fills it from what is picked on the picture.
pub(super) fn form(told: &DaysAccount, just: &Just<'_>) -> Markup {
    html! {
        (just_said(told, just))
        details #aside {
            summary { "Mark a stretch as not to be believed" }
            p.help {
                "For readings that were not glucose: pressure on the sensor, a sensor that was wrong. It stays in the book, is shown on the axis and can be taken away. "
                span.for-script { "Press 'Pick on the picture' and drag, or press M at either end while the arrows read out; or give two times. " }
            }
            form.mark method="post" action="/days/aside" {
                (view_fields(told))
                button.quiet.for-script type="button" data-pick aria-pressed="false" { "Pick on the picture" }
                label { span { "From" } input type="datetime-local" name="at" required; }
                label { span { "Until" } input type="datetime-local" name="until" required; }
                input type="hidden" name="picked_at"; input type="hidden" name="picked_until";
                fieldset {
                    legend { "Why" }
                    @for (place, why) in AsideWhy::ALL.into_iter().enumerate() {
                        label { input type="radio" name="why" value=(why.words()) checked[place == 0]; " " (why_said(why)) }
                    }
                }
                label { span { "A note, if you like" } input type="text" name="words" maxlength="200" autocomplete="off"; }
                button type="submit" { "Mark it" }
            }
        }
    }
}

fn why_said(why: AsideWhy) -> &'static str {
    match why {
        AsideWhy::Pressure => "Pressure on the sensor",
        AsideWhy::SensorWrong => "The sensor was wrong",
        AsideWhy::LeftOut => "Left out for another reason",
    }
}

fn just_said(told: &DaysAccount, just: &Just<'_>) -> Markup {
    let (change, said) = match (just.marked, just.away) {
        (Some(change), _) => (Some(change), "Marked."),
        (_, Some(change)) => (Some(change), "Taken away."),
        _ if just.back => (None, "Taken back."),
        _ => return html! {},
    };
    html! {
        div.done role="status" {
            p.answer { (said) }
            @if let Some(change) = change {
                form method="post" action="/days/aside/undo" {
                    input type="hidden" name="change" value=(change);
                    (view_fields(told))
                    button.quiet type="submit" { "Take it back" }
                }
            }
        }
    }
}
