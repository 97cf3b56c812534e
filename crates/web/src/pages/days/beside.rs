//! A day beside another, or beside the usual day; its address can be kept and handed on.

use axum::Router;
use axum::extract::{Query, State};
use axum::routing::get;
use interstice_findings::days::{self, Beside, BesideFindings, DaysBook, USUAL_DAYS};
use interstice_glucose::{DAY_S, WallTime};
use interstice_render::chart::{self, Shape};
use interstice_render::words::{self, Caution, Shown};
use maud::{Markup, html};
use serde::Deserialize;

use super::given;
use crate::app::App;
use crate::query::parse_unit;
use crate::shell::{Tab, caution, glue, nothing_yet, page, table};
use crate::{Settings, Trouble};

pub(super) fn routes() -> Router<App> {
    Router::new().route("/days/beside", get(beside))
}

/// `?day=2025-03-17&other=2025-03-10`, `&other=usual`, `&unit=mmol`.
#[derive(Clone, Debug, Default, Deserialize)]
struct BesideQuery {
    day: Option<String>,
    other: Option<String>,
    with: Option<String>,
    unit: Option<String>,
}

impl BesideQuery {
    fn shown(&self, settings: &Settings) -> Result<Shown, Trouble> {
        match given(&self.unit) {
            None => Ok(Shown { unit: settings.unit }),
            Some(text) => parse_unit(text).map(|unit| Shown { unit }),
        }
    }

    /// The day asked for, else the last with readings; the other, else the usual day.
    fn dates(&self, book: &DaysBook) -> Result<(WallTime, Option<WallTime>), Trouble> {
        let read = |text: &str| {
            days::date(text)
                .ok_or_else(|| Trouble::Request(format!("'{text}' is not a date; write one like 2025-03-17")))
        };
        let day = match given(&self.day) {
            Some(text) => read(text)?,
            None => WallTime(book.clock().wall(book.last_read_day().0).day() * DAY_S),
        };
        let is_usual = given(&self.with) == Some("usual");
        let other = given(&self.other).filter(|text| *text != "usual" && !is_usual);
        Ok((day, other.map(read).transpose()?))
    }
}

async fn beside(State(app): State<App>, Query(query): Query<BesideQuery>) -> Result<Markup, Trouble> {
    const TITLE: &str = "A day beside another";
    if app.ask(|backend| backend.is_empty()).await? {
        return Ok(page(TITLE, Tab::Days, &[], nothing_yet(TITLE, "its days appear")));
    }
    let settings = app.settings().await?;
    let shown = query.shown(&settings)?;
    let findings = app
        .ask(move |backend| {
            let book = backend.days()?;
            let (day, other) = query.dates(&book)?;
            Ok(book.beside(day, other)?)
        })
        .await?;
    Ok(page(TITLE, Tab::Days, &[], whole(&findings, shown)))
}

fn whole(findings: &BesideFindings, shown: Shown) -> Markup {
    let [day, other] = words::beside_name(findings);
    html! {
        h1 { "A day beside another" span.window { (day) } }
        p.answer { (glue(&words::beside_answer(findings))) }
        (form(findings))
        figure {
            @for shape in Shape::BOTH { (chart::beside(findings, shown, shape, &format!("beside-{}", shape.class()))) }
            figcaption {
                "The line is " (day) "; "
                @match &findings.beside {
                    Beside::Day(_) => { "the broken one " (other) ". " }
                    Beside::Usual(usual) => {
                        "the broken one the median of the " (USUAL_DAYS) " days before it, " (usual.days)
                        " of them with readings; bands hold half and nine tenths of theirs. "
                    }
                }
                "The shaded height is in range. Where a line is open, nothing was read."
            }
        }
        section aria-labelledby="beside-figures" {
            h2 #beside-figures { "The figures beside" }
            (table(&words::beside_figures(findings, shown), "both"))
            p.help { "One day beside another is two days: it shows what happened, not what makes the difference. " a href="/review/compare" { "Many days against others" } ", with margins." }
        }
        section aria-labelledby="beside-hours" {
            h2 #beside-hours { "Hour by hour" }
            details { summary { "The median of each hour" } (table(&words::beside_hours(findings, shown), "both")) }
        }
        p.method-link { a href="/methods/days" { "How days are told" } " · " a href="/methods/usual-day" { "How the usual day is made" } }
        (caution(Caution::CareTeam, shown))
    }
}

fn form(findings: &BesideFindings) -> Markup {
    let other = match &findings.beside {
        Beside::Day(day) => Some(day.line.date.as_str()),
        Beside::Usual(_) => None,
    };
    let day = &findings.day.line.date;
    html! {
        form.windows method="get" action="/days/beside" {
            label { "Day " input type="date" name="day" value=(day) required; }
            label { "beside " input type="date" name="other" value=[other]; }
            button.quiet type="submit" { "Show" }
            button.quiet type="submit" name="with" value="usual" { "Beside the usual day" }
            a href={ "/days?date=" (day) } { "The day itself" }
        }
    }
}

/// Where a day that is shown alone can be held beside others.
pub(super) fn ways(book: &DaysBook, from: i64, before: i64) -> Markup {
    let date = |at: i64| book.clock().moment(at).to_string().get(..10).map(str::to_owned);
    html! {
        @if let (Some(day), Some(before)) = (date(from), date(before)) {
            a href={ "/days/beside?day=" (day) "&other=usual" } { "Beside the usual day" }
            a href={ "/days/beside?day=" (day) "&other=" (before) } { "Beside the day before" }
        }
    }
}
