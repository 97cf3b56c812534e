//! Describing a kind of sensor, as its own instructions have it.

use axum::Router;
use axum::extract::State;
use axum::response::Redirect;
use axum::routing::post;
use interstice_findings::WearFindings;
use interstice_glucose::{Region, SensorKind, WearFrom};
use maud::{Markup, html};

use super::sent::{Filled, Sent};
use crate::Trouble;
use crate::app::App;

pub(super) fn routes() -> Router<App> {
    Router::new().route("/wear/kind", post(describe))
}

async fn describe(State(app): State<App>, Sent { filled, .. }: Sent) -> Result<Redirect, Trouble> {
    let kind = described(&filled)?;
    app.ask(move |backend| backend.describe_kind(&kind)).await?;
    Ok(Redirect::to("/wear#coming"))
}

fn described(filled: &Filled) -> Result<SensorKind, Trouble> {
    let minutes = |field: &str, of: &str, unit_min: f64| -> Result<u32, Trouble> {
        let text = filled
            .one(field)
            .unwrap_or_else(|| "0".to_owned())
            .replace(',', ".");
        let number: Option<f64> = text.parse().ok().filter(|number: &f64| number.is_finite());
        let minutes = number.map(|number| (number * unit_min).round());
        // Beyond a year the kind itself says what is wrong.
        let most = f64::from(SensorKind::LONGEST_MIN) + 1.0;
        let minutes = minutes.filter(|minutes| *minutes >= 0.0);
        let wrong = || {
            Trouble::Request(format!(
                "'{text}' is no length for {of}; write a number that is not below 0"
            ))
        };
        Ok(minutes.ok_or_else(wrong)?.min(most) as u32)
    };
    let sites = filled.all("site");
    let region = |name: &String| {
        let known = Region::ALL.into_iter().find(|region| region.name() == name);
        known.ok_or_else(|| Trouble::Request(format!("'{name}' is no part of the body that is known here")))
    };
    Ok(SensorKind {
        name: filled.one("name").unwrap_or_default(),
        wear_min: minutes("wear_days", "the wear", 1440.0)?,
        extra_min: minutes("extra_h", "the hours after it", 60.0)?,
        warm_up_min: minutes("warm_up_min", "the warm-up", 1.0)?,
        longest_bedding_min: minutes("longest_bedding_h", "bedding in", 60.0)?,
        wear_from: match filled.one("clock").as_deref() {
            Some("put on") => WearFrom::PutOn,
            _ => WearFrom::Started,
        },
        side_by_side: filled.one("one_at_a_time").is_none(),
        sites: sites.iter().map(region).collect::<Result<_, _>>()?,
    })
}

/// The form, open where no kind was described yet.
pub(super) fn form(findings: &WearFindings) -> Markup {
    let none_yet = findings.kind.is_none();
    html! {
        details.describe #kind open[none_yet] {
            summary { @if none_yet { "Describe your sensors" } @else { "Describe another kind, or this one anew" } }
            p.help { "As their own instructions have it; there is no catalogue. A kind of the same name is changed." }
            form method="post" action="/wear/kind" {
                label.field { span { "A name of your own" } input type="text" name="name" required maxlength="80"; }
                label.field { span { "Days it may be worn" } input type="number" name="wear_days" required min="0.5" max="366" step="0.5" inputmode="decimal"; }
                label.field { span { "Hours it goes on reading after that" } input type="number" name="extra_h" min="0" max="240" value="0" inputmode="numeric"; }
                label.field { span { "Minutes from its start to the first reading" } input type="number" name="warm_up_min" required min="0" max="1440" inputmode="numeric"; }
                fieldset.choices {
                    legend { "Its days run" }
                    label { input type="radio" name="clock" value="start" checked; " from its start" }
                    label { input type="radio" name="clock" value="put on"; " from being put on" }
                }
                label.field {
                    span { "The longest you would wear one before starting it, in hours" }
                    input type="number" name="longest_bedding_h" min="0" max="240" value="0" inputmode="numeric";
                }
                p.help { "Most instructions know no wear before the start: it is your own choice. 0 means that it is started when it is put on." }
                fieldset.choices {
                    legend { "Places its instructions name" }
                    @for region in Region::ALL.into_iter().filter(|&region| region != Region::Elsewhere) {
                        label { input type="checkbox" name="site" value=(region.name()); " " (region.name()) }
                    }
                }
                fieldset.choices {
                    legend { "Two at once" }
                    label { input type="checkbox" name="one_at_a_time" value="yes"; " a new one cannot warm up while the old one still reads" }
                }
                button type="submit" { "Keep it" }
            }
        }
    }
}
