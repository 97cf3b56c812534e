//! Writing it down: a choice, a number, a button; what was written lately, to correct or take back.

use axum::extract::{Query, State};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use axum::{Form, Router};
use interstice_desk::{Jot, JotWords};
use interstice_findings::written::{Entry as BookEntry, EntryRef, WrittenFindings, WrittenLine};
use interstice_glucose::{InsulinKind, MarkKind, Unit};
use interstice_render::words::{self, Caution, Shown, digits};
use interstice_tongue::say;
use maud::{Markup, html};
use serde::Deserialize;

use super::away::waiting;
use crate::app::App;
use crate::query::{given, parse_unit};
use crate::shell::{Tab, caution, page};
use crate::{Jotted, Settings, Trouble};

/// Insulin that can be chosen.
const INSULINS: [InsulinKind; 5] = [
    InsulinKind::Rapid,
    InsulinKind::Short,
    InsulinKind::Intermediate,
    InsulinKind::Long,
    InsulinKind::Mixed,
];

pub(crate) fn routes() -> Router<App> {
    Router::new()
        .route("/write", get(write))
        .route("/write/new", post(new))
        .route("/write/entry", get(entry))
        .route("/write/correct", post(correct))
        .route("/write/strike", post(strike))
        .route("/write/undo", post(undo))
}

/// `?what=blood`, `?done=12`: the change just made; `?back=1`: one was taken back.
#[derive(Debug, Default, Deserialize)]
struct WriteQuery {
    what: Option<String>,
    done: Option<String>,
    back: Option<String>,
}

/// A form as the browser sends it.
#[derive(Clone, Debug, Default, Deserialize)]
pub(super) struct Sent {
    what: String,
    entry: Option<String>,
    at: Option<String>,
    until: Option<String>,
    amount: Option<String>,
    unit: Option<String>,
    laboratory: Option<String>,
    insulin: Option<String>,
    words: Option<String>,
}

impl Sent {
    pub(super) fn words(&self) -> Result<JotWords, Trouble> {
        let unknown = |what: &str| Trouble::Request(say!("write-unknown-kind", what = what));
        let insulin = given(&self.insulin);
        let insulin = INSULINS
            .into_iter()
            .find(|kind| Some(kind.name()) == insulin.as_deref());
        Ok(JotWords {
            what: Jot::from_key(&self.what).ok_or_else(|| unknown(&self.what))?,
            at: given(&self.at),
            until: given(&self.until),
            amount: given(&self.amount),
            unit: given(&self.unit).map(|unit| parse_unit(&unit)).transpose()?,
            laboratory: given(&self.laboratory).is_some(),
            insulin: insulin.unwrap_or(InsulinKind::Unsaid),
            words: given(&self.words),
        })
    }
}

async fn write(State(app): State<App>, Query(query): Query<WriteQuery>) -> Result<Markup, Trouble> {
    let settings = app.settings().await?;
    let (findings, identity) = app
        .ask(|backend| Ok((backend.written()?, backend.identity()?)))
        .await?;
    let chosen = query.what.as_deref().and_then(Jot::from_key);
    let done = given(&query.done).and_then(|change| change.parse::<i64>().ok());
    let shown = Shown { unit: settings.unit };
    let content = html! {
        h1 { (say!("write-title")) }
        @if let Some(change) = done { (written_down(change)) }
        @if query.back.is_some() { p.answer role="status" { (say!("write-undone")) } }
        (waiting(&identity))
        (again(&findings))
        (choices(chosen))
        @let open = chosen.unwrap_or(Jot::Blood);
        (form(&Filling { what: open, findings: Some(&findings), settings: &settings, of: None }))
        (lately(&findings, shown))
        (caution(Caution::CareTeam, shown))
    };
    Ok(page(
        &say!("write-title"),
        Tab::Write,
        &["write.js", "queue.js"],
        content,
    ))
}

fn written_down(change: i64) -> Markup {
    html! {
        div.done role="status" {
            p.answer { (say!("write-done")) }
            form method="post" action="/write/undo" {
                input type="hidden" name="change" value=(change);
                button.quiet type="submit" { (say!("write-undo")) }
            }
        }
    }
}

/// What is written again and again, one tap each.
fn again(findings: &WrittenFindings) -> Markup {
    html! {
        @if !findings.doses.is_empty() || !findings.meals.is_empty() || !findings.drinks_ml.is_empty() {
            section.again aria-labelledby="again" {
                h2 #again { (say!("write-again-heading")) }
                p.help { (say!("write-again-help")) }
                div.taps {
                    @for meal in &findings.meals {
                        @let grams = meal.grams.map(digits);
                        (tap("meal", &[("amount", grams.as_deref().unwrap_or("")), ("words", meal.words.as_deref().unwrap_or(""))], &meal_name(meal.words.as_deref(), meal.grams)))
                    }
                    @for dose in &findings.doses {
                        (tap("dose", &[("amount", &digits(dose.units)), ("insulin", dose.insulin.name())], &words::dose_said(dose.units, dose.insulin)))
                    }
                    @for ml in &findings.drinks_ml { (tap("drink", &[("amount", &digits(*ml))], &say!("write-again-drink", ml = words::amount(*ml)))) }
                }
            }
        }
    }
}

fn tap(what: &str, fields: &[(&str, &str)], name: &str) -> Markup {
    html! {
        form method="post" action="/write/new" data-told=(name) {
            input type="hidden" name="what" value=(what);
            @for (field, value) in fields { input type="hidden" name=(field) value=(value); }
            button.quiet type="submit" { (name) }
        }
    }
}

fn meal_name(called: Option<&str>, grams: Option<f64>) -> String {
    match (called, grams) {
        (Some(called), Some(grams)) => say!("write-again-meal", words = called, grams = words::amount(grams)),
        (Some(called), None) => called.to_owned(),
        (None, Some(grams)) => words::carbohydrate_said(grams),
        (None, None) => say!("write-again-unnamed"),
    }
}

fn choices(chosen: Option<Jot>) -> Markup {
    html! {
        nav.kinds aria-label=(say!("write-kinds")) {
            @for jot in Jot::ALL {
                a href={ "/write?what=" (jot.key()) "#form" } aria-current=[(chosen.unwrap_or(Jot::Blood) == jot).then_some("true")] { (name(jot)) }
            }
            a href="/wear#put-on" { (say!("write-kind-sensor")) }
        }
    }
}

pub(super) fn name(jot: Jot) -> String {
    say!("write-kind", kind = jot.key())
}

/// A form being filled in: anew, or with an entry to correct; with what the book knows, or on a device that is away.
struct Filling<'a> {
    what: Jot,
    findings: Option<&'a WrittenFindings>,
    settings: &'a Settings,
    of: Option<&'a WrittenLine>,
}

/// A form that says nothing of the book but its unit.
pub(super) fn blank(what: Jot, settings: &Settings) -> Markup {
    form(&Filling {
        what,
        findings: None,
        settings,
        of: None,
    })
}

fn form(filling: &Filling<'_>) -> Markup {
    let of = filling.of;
    let is_away = filling.findings.is_none();
    let read_in = filling.settings.unit.symbol();
    let unit = match filling.what {
        Jot::Blood => Some(read_in.to_owned()),
        Jot::Dose => Some(say!("write-unit-dose")),
        Jot::Meal => Some(say!("write-unit-meal")),
        _ => None,
    };
    let action = if of.is_some() {
        "/write/correct"
    } else {
        "/write/new"
    };
    let at = of.map(|line| local(&line.at.0));
    let until = of
        .and_then(|line| line.until.as_ref())
        .map(|until| local(&until.0));
    html! {
        form.jot id=[(!is_away).then_some("form")] method="post" action=(action) data-name=(name(filling.what)) data-unit=[unit] {
            input type="hidden" name="what" value=(filling.what.key());
            @if is_away && filling.what == Jot::Blood { input type="hidden" name="labelled" value=(read_in); }
            @if let Some(line) = of { input type="hidden" name="entry" value=(key(line.entry)); }
            h2 { (name(filling.what)) }
            (number_field(filling))
            @if filling.what == Jot::Dose { (insulin_field(filling)) }
            (words_field(filling))
            @let (began, ended) = times(filling.what);
            label.field { span { (began) } input type="datetime-local" name="at" value=[at]; }
            @if let Some(ended) = ended { label.field { span { (ended) } input type="datetime-local" name="until" value=[until]; } }
            @if filling.what == Jot::Blood {
                label.field { input type="checkbox" name="laboratory" value="1" checked[is_laboratory(of)]; " " (say!("write-laboratory")) }
            }
            button type="submit" { @if of.is_some() { (say!("write-correct-submit")) } @else { (say!("write-submit")) } }
        }
    }
}

/// What the times are called; the second where it may last.
fn times(what: Jot) -> (String, Option<String>) {
    match what {
        Jot::Mark(MarkKind::Sleep) => (say!("write-sleep-began"), Some(say!("write-sleep-ended"))),
        Jot::Mark(MarkKind::Tag) => (say!("write-tag-began"), Some(say!("write-tag-ended"))),
        _ if what.lasts() => (say!("write-began"), Some(say!("write-ended"))),
        _ => (say!("write-at"), None),
    }
}

fn is_laboratory(of: Option<&WrittenLine>) -> bool {
    matches!(of.map(|line| &line.it), Some(BookEntry::BloodCheck(check)) if check.source == interstice_glucose::BloodSource::Laboratory)
}

fn number_field(filling: &Filling<'_>) -> Markup {
    let value = filling.of.and_then(|line| number_of(&line.it));
    let unit = filling.of.and_then(|line| match &line.it {
        BookEntry::BloodCheck(check) => Some(check.said.unit()),
        _ => None,
    });
    let asked_in = unit.unwrap_or(filling.settings.unit);
    let (label, required) = match filling.what {
        Jot::Blood => (say!("write-blood-number", unit = asked_in.symbol()), true),
        Jot::Dose => (say!("write-dose-number"), true),
        Jot::Meal => (say!("write-meal-number"), false),
        Jot::Mark(MarkKind::Drink) => (say!("write-drink-number"), false),
        Jot::Mark(MarkKind::Ketones) => (say!("write-ketones-number"), true),
        Jot::Mark(MarkKind::Temperature) => (say!("write-temperature-number"), true),
        Jot::Mark(_) => return html! {},
    };
    html! {
        label.field {
            span { (label) }
            input name="amount" inputmode="decimal" autocomplete="off" value=[value] required[required] autofocus[required && filling.findings.is_some()];
            @if let Some(unit) = unit { input type="hidden" name="unit" value=(unit.symbol()); }
        }
    }
}

fn number_of(entry: &BookEntry) -> Option<String> {
    match entry {
        BookEntry::BloodCheck(check) => Some(check.said.number().to_string()),
        BookEntry::Dose(dose) => Some(digits(dose.units)),
        BookEntry::Meal(meal) => meal.carbohydrate_g.map(digits),
        BookEntry::Mark(mark) => mark.value.map(digits),
        _ => None,
    }
}

fn insulin_field(filling: &Filling<'_>) -> Markup {
    let chosen = match filling.of.map(|line| &line.it) {
        Some(BookEntry::Dose(dose)) => dose.insulin,
        _ => filling
            .findings
            .map_or(InsulinKind::Unsaid, |findings| findings.insulin),
    };
    html! {
        fieldset.insulins {
            legend { (say!("write-insulin")) }
            @for kind in INSULINS {
                label { input type="radio" name="insulin" value=(kind.name()) checked[kind == chosen] required data-told=(insulin_name(kind)); " " (insulin_name(kind)) }
            }
        }
    }
}

fn insulin_name(kind: InsulinKind) -> String {
    say!("write-insulin-kind", insulin = kind.name())
}

fn words_field(filling: &Filling<'_>) -> Markup {
    let value = filling.of.and_then(|line| words_of(&line.it));
    let is_tag = filling.what == Jot::Mark(MarkKind::Tag);
    let tags = filling.findings.filter(|_| is_tag).map(|findings| &findings.tags);
    let label = match filling.what {
        Jot::Meal => say!("write-meal-words"),
        Jot::Mark(MarkKind::Activity) => say!("write-activity-words"),
        Jot::Mark(MarkKind::Symptom) => say!("write-symptom-words"),
        Jot::Mark(MarkKind::Medicine) => say!("write-medicine-words"),
        Jot::Mark(MarkKind::Tag) => say!("write-tag-words"),
        Jot::Mark(MarkKind::Note) => say!("write-note-words"),
        _ => say!("write-words"),
    };
    html! {
        label.field {
            span { (label) }
            input name="words" value=[value] autocomplete="off" list=[tags.map(|_| "tags")];
            @if let Some(tags) = tags {
                datalist #tags { @for tag in tags { option value=(tag) {} } }
            }
        }
    }
}

fn words_of(entry: &BookEntry) -> Option<&str> {
    match entry {
        BookEntry::BloodCheck(check) => check.note.as_deref(),
        BookEntry::Dose(dose) => dose.note.as_deref(),
        BookEntry::Meal(meal) => meal.text.as_deref(),
        BookEntry::Mark(mark) => mark.text.as_deref(),
        _ => None,
    }
}

/// A moment as the browser's own field takes it, by the clock that was lived by.
fn local(moment: &interstice_glucose::Moment) -> String {
    let text = moment.to_string();
    text.get(..16).unwrap_or_default().to_owned()
}

fn key(entry: EntryRef) -> String {
    format!("{}-{}", entry.kind.name().replace(' ', "_"), entry.id)
}

fn lately(findings: &WrittenFindings, shown: Shown) -> Markup {
    html! {
        section aria-labelledby="lately" {
            h2 #lately { (say!("write-lately-heading")) }
            @if findings.lately.is_empty() { p { (say!("write-lately-none")) } }
            @else {
                ul.entries {
                    @for line in &findings.lately {
                        li {
                            span.when { (words::date_and_clock(line.at.0)) }
                            span.what { (words::written_said(line, shown)) @if !line.by_hand { span.bounds { (say!("write-from-file")) } } }
                            span.tools {
                                a href={ "/write/entry?entry=" (key(line.entry)) } { (say!("write-correct")) }
                                form method="post" action="/write/strike" {
                                    input type="hidden" name="entry" value=(key(line.entry));
                                    button.quiet type="submit" { (say!("write-strike")) }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

async fn new(State(app): State<App>, Form(sent): Form<Sent>) -> Result<Response, Trouble> {
    let words = sent.words()?;
    answer(
        app.ask(move |backend| backend.jot(&words, None)).await?,
        &sent,
        "/write/new",
    )
}

/// Back to the page, or the question which unit is meant.
fn answer(jotted: Jotted, sent: &Sent, action: &str) -> Result<Response, Trouble> {
    Ok(match jotted {
        Jotted::Written(change) => {
            Redirect::to(&format!("/write?what={}&done={change}", sent.what)).into_response()
        }
        Jotted::WhichUnit(said) => which_unit(&said, sent, action).into_response(),
    })
}

/// Both ways to mean a number, the likely one first.
fn which_unit(said: &str, sent: &Sent, action: &str) -> Markup {
    let number = given(&sent.amount).unwrap_or_default();
    let likely = if said.ends_with(Unit::MgPerDl.symbol()) {
        [Unit::MmolPerL, Unit::MgPerDl]
    } else {
        [Unit::MgPerDl, Unit::MmolPerL]
    };
    let content = html! {
        h1 { (say!("write-unit-title")) }
        p.answer { (say!("write-unit-doubt", said = said)) }
        p { (say!("write-unit-nothing", unit = likely[1].symbol())) }
        div.taps {
            @for unit in likely {
                form method="post" action=(action) {
                    input type="hidden" name="what" value=(sent.what);
                    input type="hidden" name="unit" value=(unit.symbol());
                    @for (field, value) in [("entry", &sent.entry), ("at", &sent.at), ("amount", &sent.amount), ("laboratory", &sent.laboratory), ("words", &sent.words)] {
                        @if let Some(value) = given(value) { input type="hidden" name=(field) value=(value); }
                    }
                    button type="submit" { (say!("write-unit-was", number = &number, unit = unit.symbol())) }
                }
            }
        }
        p { a href={ "/write?what=" (sent.what) } { (say!("write-unit-neither")) } }
    };
    page(&say!("write-unit-title"), Tab::Write, &[], content)
}

#[derive(Debug, Deserialize)]
struct Which {
    entry: String,
}

fn find<'a>(findings: &'a WrittenFindings, name: &str) -> Result<&'a WrittenLine, Trouble> {
    let found = findings.lately.iter().find(|line| key(line.entry) == name);
    found.ok_or_else(|| Trouble::Request(say!("write-unknown-entry")))
}

async fn entry(State(app): State<App>, Query(which): Query<Which>) -> Result<Markup, Trouble> {
    let settings = app.settings().await?;
    let findings = app.ask(|backend| backend.written()).await?;
    let line = find(&findings, &which.entry)?;
    let what = match &line.it {
        BookEntry::BloodCheck(_) => Jot::Blood,
        BookEntry::Dose(_) => Jot::Dose,
        BookEntry::Meal(_) => Jot::Meal,
        BookEntry::Mark(mark) => Jot::Mark(mark.kind),
        _ => {
            return Err(Trouble::Request(say!("write-elsewhere")));
        }
    };
    let filling = Filling {
        what,
        findings: Some(&findings),
        settings: &settings,
        of: Some(line),
    };
    let content = html! {
        h1 { (say!("write-correct-title")) }
        p { (say!("write-correct-help")) }
        (form(&filling))
        p { a href="/write" { (say!("write-correct-leave")) } }
    };
    Ok(page(&say!("write-correct-title"), Tab::Write, &[], content))
}

async fn correct(State(app): State<App>, Form(sent): Form<Sent>) -> Result<Response, Trouble> {
    let words = sent.words()?;
    let name = given(&sent.entry).unwrap_or_default();
    let jotted = app
        .ask(move |backend| {
            let entry = find(&backend.written()?, &name)?.entry;
            backend.jot(&words, Some(entry))
        })
        .await?;
    answer(jotted, &sent, "/write/correct")
}

async fn strike(State(app): State<App>, Form(which): Form<Which>) -> Result<Redirect, Trouble> {
    let change = app
        .ask(move |backend| {
            let entry = find(&backend.written()?, &which.entry)?.entry;
            backend.strike(entry)
        })
        .await?;
    Ok(Redirect::to(&format!("/write?done={change}")))
}

#[derive(Debug, Deserialize)]
struct Undo {
    change: i64,
}

async fn undo(State(app): State<App>, Form(undo): Form<Undo>) -> Result<Redirect, Trouble> {
    app.ask(move |backend| backend.take_back_entry(undo.change))
        .await?;
    Ok(Redirect::to("/write?back=1"))
}
