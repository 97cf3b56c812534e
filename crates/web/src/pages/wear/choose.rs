//! What the wearer chooses of the plan: hours of the day, bedding in, rest, days away, settled put-ons, weights.

use axum::Router;
use axum::extract::State;
use axum::response::Redirect;
use axum::routing::post;
use interstice_findings::WearFindings;
use interstice_findings::wear::Chosen;
use interstice_glucose::{Away, DayHours, Pin, PlanWeight, WearChoice};
use interstice_render::words;
use maud::{Markup, html};

use super::sent::{Filled, Sent};
use super::write::place_names;
use crate::Trouble;
use crate::app::App;

pub(super) fn routes() -> Router<App> {
    Router::new()
        .route("/wear/choose", post(choose))
        .route("/wear/choose/away", post(away))
        .route("/wear/choose/pin", post(pin))
        .route("/wear/choose/weights", post(weigh))
        .route("/wear/choose/usual", post(usual))
}

async fn write(app: &App, choices: Vec<WearChoice>) -> Result<Redirect, Trouble> {
    app.ask(move |backend| backend.choose(&choices)).await?;
    Ok(Redirect::to("/wear#choices"))
}

async fn choose(State(app): State<App>, Sent { filled, .. }: Sent) -> Result<Redirect, Trouble> {
    write(&app, chosen(&filled)?).await
}

fn chosen(filled: &Filled) -> Result<Vec<WearChoice>, Trouble> {
    let mut choices = Vec::new();
    choices.extend(hours(filled, "put_on")?.map(|hours| WearChoice::PutOnHours(Some(hours))));
    choices.extend(hours(filled, "start")?.map(|hours| WearChoice::StartHours(Some(hours))));
    let bedding = filled.whole("bedding_h", "a number of hours to bed in")?;
    choices.extend(bedding.map(|hours| WearChoice::BeddingHours(Some(hours))));
    let rest = filled.whole("rest_days", "a number of days of rest")?;
    choices.extend(rest.map(|days| WearChoice::RestDays(Some(days))));
    let ahead = filled.whole("days_ahead", "a number of days ahead")?;
    choices.extend(ahead.map(|days| WearChoice::HorizonDays(Some(days))));
    Ok(choices)
}

fn hours(filled: &Filled, of: &str) -> Result<Option<DayHours>, Trouble> {
    let (from, to) = (filled.one(&format!("{of}_from")), filled.one(&format!("{of}_to")));
    let words = match (from, to) {
        (None, None) => return Ok(None),
        (from, to) => format!("{}-{}", from.unwrap_or_default(), to.unwrap_or_default()),
    };
    let wrong = || Trouble::Request("write both hours, like 08:00 and 21:00".to_owned());
    DayHours::from_words(&words).ok_or_else(wrong).map(Some)
}

async fn away(State(app): State<App>, Sent { filled, .. }: Sent) -> Result<Redirect, Trouble> {
    let days = match (filled.one("days"), filled.one("from"), filled.one("to")) {
        (Some(days), _, _) => days,
        (None, Some(from), Some(to)) => format!("{from}..{to}"),
        (None, Some(day), None) | (None, None, Some(day)) => day,
        (None, None, None) => return Err(Trouble::Request("say from which day to which".to_owned())),
    };
    let wrong = || {
        Trouble::Request(format!(
            "'{days}' are no days; write them like 2025-05-01..2025-05-20"
        ))
    };
    let (from_day, to_day) = Away::days_from_words(&days).ok_or_else(wrong)?;
    let away = Away {
        from_day,
        to_day,
        note: filled.one("note"),
    };
    let choice = if filled.one("then").as_deref() == Some("remove") {
        WearChoice::NotAway(away)
    } else {
        WearChoice::Away(away)
    };
    write(&app, vec![choice]).await
}

async fn pin(State(app): State<App>, Sent { filled, .. }: Sent) -> Result<Redirect, Trouble> {
    if let Some(at) = filled.whole("unpin", "a settled put-on")? {
        return write(&app, vec![WearChoice::Unpin(at)]).await;
    }
    let when = filled
        .one("at")
        .ok_or_else(|| Trouble::Request("say the day and the time of the put-on".to_owned()))?;
    let at = app.ask(move |backend| backend.moment_of(&when)).await?;
    let site = filled.one("place");
    write(&app, vec![WearChoice::Pin(Pin { at, site })]).await
}

async fn weigh(State(app): State<App>, Sent { filled, .. }: Sent) -> Result<Redirect, Trouble> {
    let mut choices = Vec::new();
    for weight in PlanWeight::ALL {
        let Some(text) = filled.one(weight.name()) else {
            continue;
        };
        let value: f64 = text.replace(',', ".").parse().map_err(|_| {
            Trouble::Request(format!("'{text}' is not a number to weigh {} by", weight.name()))
        })?;
        // What is as usual stays unchosen, so that a better usual reaches whoever never chose.
        let is_usual = (value - weight.usual()).abs() < f64::EPSILON;
        choices.push(WearChoice::Weight(weight, (!is_usual).then_some(value)));
    }
    write(&app, choices).await
}

/// Hours, bedding in, rest and days ahead back to the usual; days away and settled put-ons stay.
async fn usual(State(app): State<App>, Sent { filled, .. }: Sent) -> Result<Redirect, Trouble> {
    let choices = if filled.one("of").as_deref() == Some("weights") {
        let all = PlanWeight::ALL.into_iter();
        all.map(|weight| WearChoice::Weight(weight, None)).collect()
    } else {
        vec![
            WearChoice::PutOnHours(None),
            WearChoice::StartHours(None),
            WearChoice::BeddingHours(None),
            WearChoice::RestDays(None),
            WearChoice::HorizonDays(None),
        ]
    };
    write(&app, choices).await
}

/// What is chosen, with the forms to choose otherwise.
pub(super) fn section(findings: &WearFindings) -> Markup {
    let choices = &findings.choices;
    html! {
        details.describe #choices {
            summary { "Hours that suit you, days away, settled put-ons, weights" }
            (times(choices))
            (days_away(choices))
            (pins(choices, findings))
            (weights(choices))
        }
    }
}

fn times(choices: &Chosen) -> Markup {
    let ends = |hours: &str| -> (String, String) {
        let (from, to) = hours.split_once('-').unwrap_or_default();
        // A field for a time of day has no 24:00.
        (
            from.to_owned(),
            if to == "24:00" {
                "00:00".to_owned()
            } else {
                to.to_owned()
            },
        )
    };
    let (put_on, start) = (ends(&choices.put_on_hours), ends(&choices.start_hours));
    let hours = |what: &str, name: &str, (from, to): &(String, String)| {
        html! {
            label { span { (what) " from" } input type="time" name={ (name) "_from" } value=(from) required; }
            label { span { "to" } input type="time" name={ (name) "_to" } value=(to) required; }
        }
    };
    html! {
        form.lot method="post" action="/wear/choose" {
            (hours("Put on", "put_on", &put_on))
            (hours("Start", "start", &start))
            label { span { "Hours to bed in" } input name="bedding_h" inputmode="numeric" size="4" required value=(choices.bedding_h) autocomplete="off"; }
            label { span { "Days a place rests" } input name="rest_days" inputmode="numeric" size="4" required value=(choices.rest_days) autocomplete="off"; }
            label { span { "Days the plan looks ahead" } input name="days_ahead" inputmode="numeric" size="4" required value=(choices.days_ahead) autocomplete="off"; }
            button type="submit" { "Keep it" }
            button.quiet type="submit" formaction="/wear/choose/usual" formnovalidate { "Back to the usual" }
        }
    }
}

fn days_away(choices: &Chosen) -> Markup {
    html! {
        h3 { "Days away" }
        @for away in &choices.away {
            form.says method="post" action="/wear/choose/away" {
                input type="hidden" name="days" value=(away.days);
                span { (words::days_said(&away.days)) @if let Some(note) = &away.note { " (" (note) ")" } }
                button.quiet type="submit" name="then" value="remove" { "Not away then" }
            }
        }
        form.lot method="post" action="/wear/choose/away" {
            label { span { "From" } input type="date" name="from" required; }
            label { span { "To" } input type="date" name="to"; }
            label { span { "Why, where you want to say" } input type="text" name="note" maxlength="200" autocomplete="off"; }
            button type="submit" { "Away then" }
        }
        p.help { "No sensor is put on or started on these days where another will do." }
    }
}

fn pins(choices: &Chosen, findings: &WearFindings) -> Markup {
    html! {
        h3 { "Settled put-ons" }
        @for pin in &choices.pinned {
            form.says method="post" action="/wear/choose/pin" {
                input type="hidden" name="unpin" value=(pin.put_on.0.at);
                span { (words::date_and_clock(pin.put_on.0)) @if let Some(site) = &pin.site { ", " (site) } }
                button.quiet type="submit" { "No longer settled" }
            }
        }
        form.lot method="post" action="/wear/choose/pin" {
            label { span { "When" } input type="datetime-local" name="at" required; }
            label { span { "Where" } select name="place" {
                option value="" { "as the plan has it" }
                @for name in place_names(findings, None) { option value=(name) { (name) } }
            } }
            button type="submit" { "Settle it" }
        }
    }
}

fn weights(choices: &Chosen) -> Markup {
    html! {
        details {
            summary { "What is weighed against what" }
            p.help { "All in one unit: an hour of labelled wear not used is 0.5 unless you change it. Hours that nothing covers come before all of these." }
            form.lot method="post" action="/wear/choose/weights" {
                @for weight in PlanWeight::ALL {
                    label { span { (words::weight_said(weight)) }
                        input name=(weight.name()) inputmode="decimal" size="6" required value=[choices.weights.get(weight.name())] autocomplete="off"; }
                }
                button type="submit" { "Keep them" }
                button.quiet type="submit" name="of" value="weights" formaction="/wear/choose/usual" formnovalidate { "Back to the usual" }
            }
        }
    }
}
