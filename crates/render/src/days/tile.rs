//! A view as bytes, for the script.
//!
//! Little-endian: `u32` 0x31594144 ('DAY1'), `u32` length of the head, the head (JSON, padded with spaces to a multiple
//! of four), then the series in the head's order, each column padded to a multiple of four. A series of readings is
//! `at: u32, value: f32, flag: u8`; one of columns is `at: u32, first: f32, lowest: f32, highest: f32, last: f32,
//! count: u32, flag: u8`. Values are in the wearer's unit. Flag bits: 1 not joined to the one before, 2 below and
//! 4 above what the sensor can measure, 8 some reading censored, 16 and up the range from the top, very high 0 to very
//! low 4.

use interstice_findings::days::{
    Happening, Lane, Point, Role, SeriesView, Spread, Stretch, TickStep, TimelineEvent, TimelineView,
};
use interstice_findings::swings::LinkName;
use interstice_glucose::{Censor, Delivery, InsulinKind, LivedClock, LowWas, Second};
use serde::Serialize;

use super::say::{event_label, event_text, swing_address, tick_label};
use super::{FROM_TOP, in_unit, range};
use crate::words::Shown;

const MAGIC: u32 = 0x3159_4144;

#[derive(Serialize)]
struct Head {
    from: Second,
    to: Second,
    step: u32,
    ticks: TickHead,
    nights: Vec<(Second, Second)>,
    #[serde(skip_serializing_if = "Option::is_none")]
    spread: Option<SpreadHead>,
    events: Vec<EventHead>,
    series: Vec<SeriesHead>,
}

#[derive(Serialize)]
struct TickHead {
    minor: Vec<(Second, String)>,
    major: Vec<(Second, String)>,
}

#[derive(Serialize)]
struct SpreadHead {
    kind: &'static str,
    rows: Vec<SpreadRow>,
}

/// From, to, count, then the 5th, 25th, 50th, 75th and 95th percentile.
type SpreadRow = (Second, Second, u32, f32, f32, f32, f32, f32);

#[derive(Serialize)]
struct SeriesHead {
    role: &'static str,
    name: String,
    raw: bool,
    n: usize,
}

#[derive(Default, Serialize)]
struct EventHead {
    lane: &'static str,
    kind: &'static str,
    at: Second,
    #[serde(skip_serializing_if = "Option::is_none")]
    until: Option<Second>,
    #[serde(skip_serializing_if = "is_one")]
    n: u32,
    #[serde(skip_serializing_if = "Option::is_none")]
    size: Option<f32>,
    #[serde(skip_serializing_if = "String::is_empty")]
    label: String,
    #[serde(skip_serializing_if = "String::is_empty")]
    text: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    low: Option<f32>,
    #[serde(skip_serializing_if = "Option::is_none")]
    high: Option<f32>,
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    second: bool,
    /// What a low is taken for.
    #[serde(skip_serializing_if = "Option::is_none")]
    was: Option<&'static str>,
    /// Of a swing: its links, and what each is drawn as.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    links: Vec<(Second, &'static str)>,
    /// Where it is told of.
    #[serde(skip_serializing_if = "Option::is_none")]
    href: Option<String>,
}

fn is_one(count: &u32) -> bool {
    *count == 1
}

/// The bytes of a view.
///
/// # Errors
/// Never for the values a view can hold; the type is that of the JSON writer.
pub fn tile(view: &TimelineView, clock: &LivedClock, shown: Shown) -> Result<Vec<u8>, serde_json::Error> {
    let head = serde_json::to_vec(&head(view, clock, shown))?;
    let padded = head.len().next_multiple_of(4);
    let mut bytes = Vec::with_capacity(8 + padded + view.series.iter().map(size).sum::<usize>());
    bytes.extend(MAGIC.to_le_bytes());
    bytes.extend(u32::try_from(padded).unwrap_or(u32::MAX).to_le_bytes());
    bytes.extend(&head);
    bytes.resize(8 + padded, b' ');
    for series in &view.series {
        if series.columns.is_empty() {
            readings(&mut bytes, &series.points, shown);
        } else {
            columns(&mut bytes, series, shown);
        }
    }
    Ok(bytes)
}

fn size(series: &SeriesView) -> usize {
    series.points.len() * 9 + series.columns.len() * 25 + 8
}

fn readings(bytes: &mut Vec<u8>, points: &[Point], shown: Shown) {
    column(bytes, points.iter().map(|point| point.at.to_le_bytes()));
    column(bytes, points.iter().map(|point| value(point.mg_dl, shown)));
    column(bytes, points.iter().map(|point| [flag(point)]));
}

fn columns(bytes: &mut Vec<u8>, series: &SeriesView, shown: Shown) {
    let columns = || series.columns.iter();
    column(bytes, columns().map(|column| column.at.to_le_bytes()));
    column(bytes, columns().map(|column| value(column.first_mg_dl, shown)));
    column(bytes, columns().map(|column| value(column.lowest_mg_dl, shown)));
    column(bytes, columns().map(|column| value(column.highest_mg_dl, shown)));
    column(bytes, columns().map(|column| value(column.last_mg_dl, shown)));
    column(bytes, columns().map(|column| column.count.to_le_bytes()));
    column(
        bytes,
        columns().map(|column| [u8::from(column.open) | u8::from(column.censored) << 3]),
    );
}

/// One column, padded.
fn column<const N: usize>(bytes: &mut Vec<u8>, values: impl Iterator<Item = [u8; N]>) {
    bytes.extend(values.flatten());
    bytes.resize(bytes.len().next_multiple_of(4), 0);
}

fn value(mg_dl: f64, shown: Shown) -> [u8; 4] {
    (in_unit(mg_dl, shown) as f32).to_le_bytes()
}

fn flag(point: &Point) -> u8 {
    let censor = match point.censor {
        Censor::None => 0,
        Censor::Below => 2,
        Censor::Above => 4,
    };
    let place = (0u8..)
        .zip(FROM_TOP)
        .find(|&(_, name)| name == range(point.range))
        .map_or(2, |(place, _)| place);
    u8::from(point.open) | censor | place << 4
}

fn head(view: &TimelineView, clock: &LivedClock, shown: Shown) -> Head {
    let ticks = &view.ticks;
    let label = |step: TickStep, major: bool| {
        move |tick: &interstice_findings::days::Tick| (tick.at, tick_label(tick, step, major))
    };
    Head {
        from: view.from,
        to: view.to,
        step: view.step_s,
        ticks: TickHead {
            minor: ticks.minor.iter().map(label(ticks.minor_step, false)).collect(),
            major: ticks.major_step.map_or_else(Vec::new, |step| {
                ticks.major.iter().map(label(step, true)).collect()
            }),
        },
        nights: view.nights.clone(),
        spread: view.spread.as_ref().map(|spread| SpreadHead {
            kind: stretch_key(spread.stretch),
            rows: spread.rows.iter().map(|row| spread_row(row, shown)).collect(),
        }),
        events: view
            .events
            .iter()
            .map(|event| event_head(event, clock, shown))
            .collect(),
        series: view.series.iter().map(series_head).collect(),
    }
}

fn series_head(series: &SeriesView) -> SeriesHead {
    let role = match series.role {
        Role::Primary => "primary",
        Role::Aside => "aside",
        Role::Scan => "scan",
    };
    let raw = series.columns.is_empty();
    let n = if raw {
        series.points.len()
    } else {
        series.columns.len()
    };
    SeriesHead {
        role,
        name: series.sensor.clone(),
        raw,
        n,
    }
}

fn stretch_key(stretch: Stretch) -> &'static str {
    match stretch {
        Stretch::Day => "day",
        Stretch::Week => "week",
        Stretch::Month => "month",
    }
}

fn spread_row(row: &Spread, shown: Shown) -> SpreadRow {
    let value = |mg_dl: f64| in_unit(mg_dl, shown) as f32;
    (
        row.from,
        row.to,
        row.count,
        value(row.p5_mg_dl),
        value(row.p25_mg_dl),
        value(row.p50_mg_dl),
        value(row.p75_mg_dl),
        value(row.p95_mg_dl),
    )
}

fn event_head(event: &TimelineEvent, clock: &LivedClock, shown: Shown) -> EventHead {
    let value = |mg_dl: f64| Some(in_unit(mg_dl, shown) as f32);
    let (low, high) = match &event.what {
        Happening::Check(check) => (value(check.said.glucose().mg_per_dl()), None),
        Happening::Checks {
            lowest_mg_dl,
            highest_mg_dl,
        } => (value(*lowest_mg_dl), value(*highest_mg_dl)),
        _ => (None, None),
    };
    EventHead {
        lane: lane_key(event.lane),
        kind: kind(event),
        at: event.at,
        until: event.until,
        n: event.count,
        size: event.share.map(|share| (share * 100.0).round() as f32 / 100.0),
        label: event_label(event),
        // Several are named by the script, which holds their names by lane: a wide view has thousands.
        text: if event.count > 1 {
            String::new()
        } else {
            event_text(event, clock, shown)
        },
        low,
        high,
        second: matches!(event.what, Happening::Worn { second: true, .. }),
        was: was(event),
        links: links(event),
        href: swing_address(event, clock),
    }
}

/// The links of a swing: 'high', 'low', 'dose' or 'food'.
pub(super) fn links(event: &TimelineEvent) -> Vec<(Second, &'static str)> {
    let Happening::Swing(swing) = &event.what else {
        return Vec::new();
    };
    let drawn = |what: LinkName| match what {
        LinkName::High => "high",
        LinkName::Low | LinkName::CheckedLow | LinkName::PressureLow => "low",
        LinkName::LateDose | LinkName::Correction | LinkName::StackedCorrection => "dose",
        LinkName::UndosedMeal | LinkName::Meal | LinkName::Treatment => "food",
    };
    swing.links.iter().map(|&(at, what)| (at, drawn(what))).collect()
}

/// Of a low: said to be pressure, said to be real, or open; nothing of anything else.
pub(super) fn was(event: &TimelineEvent) -> Option<&'static str> {
    let Happening::Low(low) = &event.what else {
        return None;
    };
    Some(match low.said {
        Some(LowWas::Pressure) => "pressure",
        Some(LowWas::Real) => "real",
        None => "open",
    })
}

pub(super) fn lane_key(lane: Lane) -> &'static str {
    match lane {
        Lane::Artefact => "artefact",
        Lane::Check => "check",
        Lane::Sensor => "sensor",
        Lane::Low => "low",
        Lane::Swing => "swing",
        Lane::Food => "food",
        Lane::Insulin => "insulin",
        Lane::Body => "body",
        Lane::Note => "note",
    }
}

/// How it is drawn.
pub(super) fn kind(event: &TimelineEvent) -> &'static str {
    match &event.what {
        Happening::Several | Happening::Checks { .. } => "several",
        Happening::Check(_) if event.is_laboratory() => "laboratory",
        Happening::Check(_) => "meter",
        Happening::Sensor(_) => "change",
        Happening::Worn { .. } => "bar",
        Happening::Swing(_) => "chain",
        _ if event.until.is_some_and(|until| until > event.at) => "bar",
        Happening::Meal(_) => "meal",
        Happening::Dose(dose) => match (dose.delivery, dose.insulin) {
            (Delivery::BasalRate, _) => "rate",
            (_, InsulinKind::Long | InsulinKind::Intermediate) => "long",
            _ => "dose",
        },
        Happening::Mark(_) | Happening::Low(_) => "note",
    }
}
