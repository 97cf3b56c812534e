//! What holds for the whole book, as JSON beside the page's canvas.

use interstice_findings::days::{DaysBook, Lane};
use interstice_glucose::{LivedClock, Second};
use serde::Serialize;

use super::say::{lane_name, name, several_name};
use super::tile::lane_key;
use super::{FROM_TOP, in_unit, scale};
use crate::chart::GlucoseAxis;
use crate::words::Shown;

/// What the page shows first, and where its data are.
#[derive(Clone, Debug)]
pub struct PageView<'a> {
    /// First instant shown.
    pub from: Second,
    /// First instant no longer shown.
    pub to: Second,
    /// Where tiles are fetched.
    pub data: &'a str,
    /// Where the words and the table are fetched.
    pub account: &'a str,
    /// Where a date is turned into a lived day.
    pub day: &'a str,
    /// What every request carries: 'unit=mmol', or nothing.
    pub ask: &'a str,
}

#[derive(Serialize)]
struct Book<'a> {
    data: &'a str,
    account: &'a str,
    day: &'a str,
    ask: &'a str,
    view: View,
    from: Second,
    to: Second,
    unit: &'static str,
    decimals: usize,
    bottom: f64,
    top: f64,
    edges: [f64; 4],
    /// Value, label, 2 for an edge of the target range and 1 for the others.
    lines: Vec<(f64, String, u8)>,
    /// From the top.
    ranges: [&'static str; 5],
    lanes: Vec<LaneHead>,
    /// What several of a lane are called, by its key.
    several: Vec<(&'static str, &'static str)>,
    /// Offsets of the lived clock, seconds east, from an instant on.
    clock: Vec<(Second, i32)>,
}

#[derive(Serialize)]
struct View {
    from: Second,
    to: Second,
}

#[derive(Serialize)]
struct LaneHead {
    key: &'static str,
    label: &'static str,
}

/// The JSON of a book. `</` is written `<\/`, so that it can stand inside a page.
///
/// # Errors
/// Never for the values a timeline can hold; the type is that of the JSON writer.
pub fn page_data(kept: &DaysBook, view: &PageView<'_>, shown: Shown) -> Result<String, serde_json::Error> {
    let (timeline, clock) = (kept.timeline(), kept.clock());
    let (from, to) = timeline.span().unwrap_or((view.from, view.to));
    let (bottom, top) = scale(timeline.extremes_mg_dl());
    let edges = timeline.targets().edges_mg_dl();
    let drawn = |lane: &Lane| !matches!(lane, Lane::Artefact | Lane::Check);
    let book = Book {
        data: view.data,
        account: view.account,
        day: view.day,
        ask: view.ask,
        view: View {
            from: view.from,
            to: view.to,
        },
        from,
        to,
        unit: shown.unit.symbol(),
        decimals: shown.unit.shown_decimals(),
        bottom: in_unit(bottom, shown),
        top: in_unit(top, shown),
        edges: edges.map(|edge| in_unit(edge, shown)),
        lines: lines(top, edges, shown),
        ranges: FROM_TOP.map(name),
        lanes: kept
            .lanes()
            .into_iter()
            .filter(drawn)
            .map(|lane| LaneHead {
                key: lane_key(lane),
                label: lane_name(lane),
            })
            .collect(),
        several: Lane::ALL
            .map(|lane| (lane_key(lane), several_name(lane)))
            .to_vec(),
        clock: offsets(clock, from, to),
    };
    Ok(serde_json::to_string(&book)?.replace("</", "<\\/"))
}

/// Edges of the ranges, then quiet values between them, from the top.
fn lines(top: f64, edges_mg_dl: [f64; 4], shown: Shown) -> Vec<(f64, String, u8)> {
    let [very_low, low, high, very_high] = edges_mg_dl;
    let edges = [(very_low, 1), (low, 2), (high, 2), (very_high, 1)]
        .map(|(edge, weight)| (edge, shown.glucose(edge), weight));
    let quiet = GlucoseAxis {
        top: 0.0,
        height: 1.0,
        highest_mg_dl: top,
    }
    .quiet_ticks(edges_mg_dl, shown)
    .into_iter()
    .map(|(mg_dl, label)| (mg_dl, label, 0));
    let mut lines: Vec<(f64, String, u8)> = edges.into_iter().chain(quiet).collect();
    lines.sort_by(|a, b| b.0.total_cmp(&a.0));
    lines
        .into_iter()
        .map(|(mg_dl, label, weight)| (in_unit(mg_dl, shown), label, weight))
        .collect()
}

/// The offsets in force from `from` to `to`.
fn offsets(clock: &LivedClock, from: Second, to: Second) -> Vec<(Second, i32)> {
    let later = clock
        .pieces()
        .iter()
        .copied()
        .filter(|&(start, _)| from < start && start < to);
    std::iter::once((from, clock.offset_s(from)))
        .chain(later)
        .collect()
}
