//! Settling a trial: which ways, how many sensors it takes, and beginning it; giving one up.

use axum::Router;
use axum::extract::State;
use axum::response::Redirect;
use axum::routing::{get, post};
use interstice_desk::trial::TrialWords;
use interstice_findings::TrialLine;
use interstice_findings::wear::trials::TrialSize;
use interstice_glucose::{Compares, TrialOutcome};
use interstice_render::words::{self, Caution, Shown};
use maud::{Markup, html};

use super::sent::{Asked, Filled, Sent};
use crate::app::App;
use crate::shell::{Tab, caution, glue, page, table};
use crate::{TrialAsk, Trouble};

pub(super) fn routes() -> Router<App> {
    Router::new()
        .route("/wear/trial", get(plan).post(begin))
        .route("/wear/trial/abandon", post(abandon))
}

/// Ways a form takes.
const WAYS: usize = 4;
/// Blood checks of each sensor that are offered first.
const CHECKS: u32 = 6;

fn asked(filled: &Filled) -> Result<TrialAsk, Trouble> {
    let missing = |what: &str| Trouble::Request(format!("say {what}: choose one"));
    let difference = filled.one("difference").map(|text| {
        let number: Option<f64> = text.replace(',', ".").parse().ok();
        let wrong = || Trouble::Request(format!("'{text}' is no difference; write a number above 0"));
        number
            .filter(|number| number.is_finite() && *number > 0.0)
            .ok_or_else(wrong)
    });
    let ask = TrialAsk {
        compares: filled
            .choice("compare", Compares::ALL, Compares::name)?
            .ok_or_else(|| missing("what the ways differ in"))?,
        arms: filled.all("arm"),
        outcome: filled
            .choice("measure", TrialOutcome::ALL, TrialOutcome::name)?
            .ok_or_else(|| missing("what is measured"))?,
        difference: difference.transpose()?,
    };
    if ask.arms.len() < 2 {
        return Err(Trouble::Request(
            "write two ways or more, each in a field of its own".to_owned(),
        ));
    }
    Ok(ask)
}

async fn plan(State(app): State<App>, Asked(filled): Asked) -> Result<Markup, Trouble> {
    let ask = asked(&filled)?;
    let unit = app.settings().await?.unit;
    let asked = ask.clone();
    let size = app.ask(move |backend| backend.trial_size(&asked)).await?;
    let title = "A trial of your own";
    let content = html! {
        link rel="stylesheet" href="/assets/trust.css";
        link rel="stylesheet" href="/assets/wear.css";
        link rel="stylesheet" href="/assets/drawer.css";
        header.answer-head {
            h1 { (title) }
            p { (glue(&words::sentence(&size.says))) }
        }
        @if !size.table.is_empty() {
            section {
                h2 { "How often such a trial finds it" }
                (table(&words::size_table(&size), "trial-size"))
            }
        }
        section {
            h2 { "Begin it" }
            p {
                "What is settled here is not changed afterwards: the order is drawn at once, the plan follows it, and what the ways show is told \
                 at the end. A trial can be given up, which stays on record."
            }
            (begin_form(&ask, &size))
            (caution(Caution::Wear, Shown { unit }))
        }
        p { a href="/wear#trials" { "Back to Wear" } }
    };
    Ok(page(title, Tab::Wear, &[], content))
}

/// So many sensors as are enough with the checks offered, where that is known.
fn enough(size: &TrialSize) -> Option<u32> {
    let of = size
        .enough
        .iter()
        .find(|one| one.checks.is_none_or(|checks| checks == CHECKS));
    of.and_then(|one| one.sensors)
}

fn begin_form(ask: &TrialAsk, size: &TrialSize) -> Markup {
    html! {
        form.lot method="post" action="/wear/trial" {
            input type="hidden" name="compare" value=(ask.compares.name());
            input type="hidden" name="measure" value=(ask.outcome.name());
            @for arm in &ask.arms { input type="hidden" name="arm" value=(arm); }
            label { span { "A name of your own" } input type="text" name="name" required maxlength="80" autocomplete="off"; }
            label { span { "Sensors in all" } input name="sensors" inputmode="numeric" size="4" required value=[enough(size)] autocomplete="off"; }
            @if ask.outcome.needs_checks() {
                label { span { "Blood checks meant for each" } input name="checks" inputmode="numeric" size="4" required value=(CHECKS) autocomplete="off"; }
            }
            label { span { "Look once after so many sensors, where you want to" } input name="look_after" inputmode="numeric" size="4" autocomplete="off"; }
            label { span { "End once so many of one way came off or failed" } input name="most_losses" inputmode="numeric" size="4" autocomplete="off"; }
            button type="submit" { "Draw the order and begin" }
        }
    }
}

async fn begin(State(app): State<App>, Sent { filled, .. }: Sent) -> Result<Redirect, Trouble> {
    let ask = asked(&filled)?;
    let sensors = filled.whole("sensors", "a number of sensors")?;
    let words = TrialWords {
        name: filled
            .one("name")
            .ok_or_else(|| Trouble::Request("give the trial a name of your own".to_owned()))?,
        compares: ask.compares,
        arms: ask.arms,
        outcome: ask.outcome,
        sensors: sensors.ok_or_else(|| Trouble::Request("say how many sensors it takes".to_owned()))?,
        // As suits their number.
        block: 0,
        checks: filled
            .whole("checks", "a number of blood checks")?
            .unwrap_or(CHECKS),
        fewest_checks: None,
        seed: None,
        look_after: filled.whole("look_after", "a number of sensors")?,
        most_losses: filled.whole("most_losses", "a number of sensors")?,
    };
    app.ask(move |backend| backend.begin_trial(&words)).await?;
    Ok(Redirect::to("/wear#trials"))
}

async fn abandon(State(app): State<App>, Sent { filled, .. }: Sent) -> Result<Redirect, Trouble> {
    let (name, because) = (
        filled.one("name").unwrap_or_default(),
        filled.one("because").unwrap_or_default(),
    );
    app.ask(move |backend| backend.abandon_trial(&name, &because))
        .await?;
    Ok(Redirect::to("/wear#trials"))
}

/// What a trial is to compare; answers with its size.
pub(super) fn ask_form() -> Markup {
    let compares = |compares: Compares| match compares {
        Compares::Place => "places: 'upper arm', 'left thigh'",
        Compares::Preparation => "preparations: 'wash', 'wash + wipe', 'nothing'",
        Compares::Cover => "covers: 'over-patch', 'nothing'",
        Compares::BeddingIn => "hours before the start: '0', '24'",
    };
    let measured = |outcome: TrialOutcome| match outcome {
        TrialOutcome::FirstDayError => "how far it stands from blood on its first day",
        TrialOutcome::Error => "how far it stands from blood over all its wear",
        TrialOutcome::HoursOn => "how long it stays on",
    };
    html! {
        details.describe {
            summary { "Plan a trial" }
            form method="get" action="/wear/trial" {
                fieldset.choices {
                    legend { "Compare" }
                    @for one in Compares::ALL {
                        label { input type="radio" name="compare" value=(one.name()) required; " " (compares(one)) }
                    }
                }
                @for place in 0..WAYS {
                    label.field {
                        span { @if place == 0 { "The first way, which the others are held against" } @else if place == 1 { "The second" } @else { "Another, if any" } }
                        input type="text" name="arm" maxlength="80" required[place < 2] autocomplete="off";
                    }
                }
                fieldset.choices {
                    legend { "Measured of each sensor" }
                    @for one in TrialOutcome::ALL {
                        label { input type="radio" name="measure" value=(one.name()) required; " " (measured(one)) }
                    }
                }
                label.field {
                    span { "A difference worth knowing, in percentage points or hours; 5 or 48 where you leave it out" }
                    input type="text" name="difference" inputmode="decimal" maxlength="8" autocomplete="off";
                }
                button type="submit" { "How many sensors does it take?" }
            }
        }
    }
}

/// Giving a running one up.
pub(super) fn abandon_form(trial: &TrialLine) -> Markup {
    html! {
        details {
            summary { "Give it up" }
            form.lot method="post" action="/wear/trial/abandon" {
                input type="hidden" name="name" value=(trial.name);
                label { span { "Why" } input type="text" name="because" required maxlength="300" autocomplete="off"; }
                button type="submit" { "Give it up" }
            }
            p.help { "It is not looked at again; that it was given up, and why, stays on record." }
        }
    }
}
