//! Finding days by what happened on them: pickers, an address to keep, and the way to each day.

use axum::Router;
use axum::extract::{Query, State};
use axum::routing::get;
use interstice_findings::Span;
use interstice_findings::find::{FindAsk, FindFindings, Sought};
use interstice_render::words::{self, Caution, Shown};
use maud::{Markup, html};
use serde::Deserialize;

use crate::Trouble;
use crate::app::App;
use crate::query::given;
use crate::shell::{Tab, caution, glue, nothing_yet, page};

/// Things listed before the rest is folded away.
const LISTED: usize = 60;
/// Days looked back over where nothing is said, and the choices.
const BACK: [(u32, &str); 4] = [
    (30, "30 days"),
    (90, "90 days"),
    (365, "a year"),
    (3650, "ten years"),
];
const WITHIN: [u32; 5] = [2, 4, 8, 16, 24];

pub(crate) fn routes() -> Router<App> {
    Router::new().route("/find", get(find))
}

/// `?what=low&from=02:00&to=05:00&after=activity&within=16&days=365`
#[derive(Clone, Debug, Default, Deserialize)]
struct FindQuery {
    what: Option<String>,
    from: Option<String>,
    to: Option<String>,
    after: Option<String>,
    within: Option<String>,
    days: Option<String>,
}

impl FindQuery {
    /// What is asked, where anything is.
    fn ask(&self) -> Result<Option<FindAsk>, Trouble> {
        let Some(what) = given(&self.what) else {
            return Ok(None);
        };
        let sought = |key: &str| {
            Sought::from_key(key)
                .ok_or_else(|| Trouble::Request(format!("'{key}' is nothing that days are found by")))
        };
        let number = |text: Option<String>, usual: u32, most: u32| match text {
            None => Ok(usual),
            Some(text) => text
                .parse()
                .ok()
                .filter(|number| (1..=most).contains(number))
                .ok_or_else(|| Trouble::Request(format!("'{text}' is not a number from 1 to {most}"))),
        };
        let within = number(given(&self.within), 16, 48)?;
        let after = given(&self.after).map(|key| sought(&key)).transpose()?;
        Ok(Some(FindAsk {
            span: Span::LastDays(number(given(&self.days), 90, 36_600)?),
            what: sought(&what)?,
            between: (minute(&self.from)?, minute(&self.to)?),
            after: after.map(|after| (after, within)),
        }))
    }
}

/// '02:00' as minutes of the day; midnight where nothing is said.
fn minute(text: &Option<String>) -> Result<u32, Trouble> {
    let Some(text) = given(text) else { return Ok(0) };
    let wrong = || Trouble::Request(format!("'{text}' is no time of day; write it like 02:00"));
    let (hour, minute) = text.split_once(':').ok_or_else(wrong)?;
    let (hour, minute) = (
        hour.parse::<u32>(),
        minute.get(..2).unwrap_or_default().parse::<u32>(),
    );
    match (hour, minute) {
        (Ok(hour), Ok(minute)) if hour < 24 && minute < 60 => Ok(60 * hour + minute),
        _ => Err(wrong()),
    }
}

async fn find(State(app): State<App>, Query(query): Query<FindQuery>) -> Result<Markup, Trouble> {
    let settings = app.settings().await?;
    let shown = Shown { unit: settings.unit };
    if app.ask(|backend| backend.is_empty()).await? {
        return Ok(page(
            "Find days",
            Tab::Days,
            &[],
            nothing_yet("Find days", "they can be found"),
        ));
    }
    let ask = query.ask()?;
    let found = match ask {
        None => None,
        Some(ask) => Some((app.ask(move |backend| backend.find(&ask)).await?, ask)),
    };
    let content = html! {
        header.answer-head {
            h1 { "Find days" }
            (form(&query))
            @if let Some((findings, ask)) = &found {
                @for (place, said) in words::days_found_said(findings, ask).iter().enumerate() {
                    p class=(if place == 0 { "answer" } else { "lead" }) { (glue(said)) }
                }
            } @else {
                p.answer { "Which days had something, at which hours, perhaps after something else?" }
                p { "Like " a href="/find?what=low&from=02:00&to=05:00&after=activity&within=16&days=365" { "a low between 02:00 and 05:00 after activity" } ". The address of an answer can be kept." }
            }
        }
        @if let Some((findings, ask)) = &found { (listed(findings, ask, shown)) }
    };
    Ok(page("Find days", Tab::Days, &[], content))
}

fn form(query: &FindQuery) -> Markup {
    let (what, after) = (given(&query.what), given(&query.after));
    let (within, days) = (given(&query.within), given(&query.days));
    let is = |chosen: &Option<String>, value: &str, usual: &str| chosen.as_deref().unwrap_or(usual) == value;
    html! {
        form.find method="get" action="/find" {
            label.field { span { "Days with" } select name="what" {
                @for sought in Sought::ALL { option value=(sought.key()) selected[is(&what, sought.key(), "low")] { (words::sought(sought)) } }
            } }
            label.field { span { "between" } input type="time" name="from" value=(given(&query.from).unwrap_or_else(|| "00:00".to_owned())); }
            label.field { span { "and" } input type="time" name="to" value=(given(&query.to).unwrap_or_else(|| "00:00".to_owned())); }
            label.field { span { "after" } select name="after" {
                option value="" selected[after.is_none()] { "anything" }
                @for sought in Sought::ALL { option value=(sought.key()) selected[after.as_deref() == Some(sought.key())] { (words::sought(sought)) } }
            } }
            label.field { span { "within" } select name="within" {
                @for hours in WITHIN { option value=(hours) selected[is(&within, &hours.to_string(), "16")] { (hours) " h" } }
            } }
            label.field { span { "in the last" } select name="days" {
                @for (count, name) in BACK { option value=(count) selected[is(&days, &count.to_string(), "90")] { (name) } }
            } }
            button type="submit" { "Find" }
        }
    }
}

fn listed(findings: &FindFindings, ask: &FindAsk, shown: Shown) -> Markup {
    let (open, folded) = findings.found.split_at(LISTED.min(findings.found.len()));
    let item = |line| {
        let line: &interstice_findings::find::FoundLine = line;
        html! {
            li {
                span.when { a href={ "/days?date=" (words::iso_date(line.at.0)) } { (words::date_and_clock(line.at.0)) } }
                span.what { (glue(&words::found_line(line, ask, shown))) }
            }
        }
    };
    html! {
        @if !findings.found.is_empty() {
            ul.entries { @for line in open { (item(line)) } }
            @if !folded.is_empty() {
                details { summary { (folded.len()) " more" } ul.entries { @for line in folded { (item(line)) } } }
            }
            (caution(if ask.what.is_read() { Caution::Lows } else { Caution::CareTeam }, shown))
        }
    }
}
