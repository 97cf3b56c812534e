//! When episodes happened: one row a day, one stroke an episode.

use std::fmt::Write as _;

use interstice_findings::{EpisodeKind, EpisodeLine, ReviewFindings};
use interstice_glucose::{DAY_S, WallTime};
use interstice_tongue::say;
use maud::{Markup, html};

use super::axis::{ClockAxis, DAY_MIN, FIRST_MIN, at};
use super::{NIGHT_MIN, Shape};
use crate::words::{clock, day, episode_count, short_date};

const LEFT: f64 = 44.0;
const RIGHT: f64 = 10.0;
const TOP: f64 = 8.0;

/// Draws every episode at its clock time, a row a day from six in the morning to six, the oldest day on top. Strokes of
/// one clock time under each other are a habit; a lone stroke is an accident.
pub fn when(findings: &ReviewFindings, shape: Shape, id: &str) -> Markup {
    let raster = Raster::new(findings, shape);
    let height = TOP + raster.height() + 22.0;
    html! {
        svg class={ "picture when " (shape.class()) } viewBox={ "0 0 " (at(shape.width())) " " (at(height)) } role="img"
            aria-labelledby={ (id) "-t " (id) "-d" } {
            title id={ (id) "-t" } { (say!("review-when-title")) }
            desc id={ (id) "-d" } {
                (say!(
                    "review-when-described",
                    counted = episode_count(&findings.episodes),
                    from = day(findings.window.from.0)
                ))
            }
            (raster.ground())
            (raster.strokes(&findings.episodes))
            (raster.clock_labels())
            (raster.dates())
        }
    }
}

struct Raster {
    shape: Shape,
    clock: ClockAxis,
    first_row: i64,
    rows: i64,
    row_height: f64,
}

impl Raster {
    fn new(findings: &ReviewFindings, shape: Shape) -> Self {
        let first_row = row_of(findings.window.from.0.wall().0);
        let rows = (row_of(findings.window.to.0.wall().0 - 1) - first_row + 1).max(1);
        let room = if shape == Shape::Phone { 220.0 } else { 260.0 };
        Raster {
            shape,
            clock: ClockAxis {
                left: LEFT,
                width: shape.width() - LEFT - RIGHT,
            },
            first_row,
            rows,
            row_height: (room / to_f64(rows)).clamp(0.6, 12.0),
        }
    }

    fn height(&self) -> f64 {
        self.row_height * to_f64(self.rows)
    }

    fn ground(&self) -> Markup {
        let (left, right) = (self.clock.x(NIGHT_MIN.0), self.clock.right());
        let bottom = TOP + self.height();
        let mut hours = String::new();
        for step in 0..=8_u32 {
            let x = at(self.clock.along(f64::from(step) * 180.0));
            let _ = write!(hours, "M{x} {}V{}", at(TOP), at(bottom));
        }
        html! {
            rect.night x=(at(left)) y=(at(TOP)) width=(at(right - left)) height=(at(bottom - TOP)) {}
            path.rule d=(hours) {}
        }
    }

    /// Highs first, so that a low is never hidden.
    fn strokes(&self, episodes: &[EpisodeLine]) -> Markup {
        let groups = [
            (EpisodeKind::High, 1, "above1"),
            (EpisodeKind::High, 2, "above2"),
            (EpisodeKind::Low, 1, "below1"),
            (EpisodeKind::Low, 2, "below2"),
        ];
        html! {
            @for (kind, level, class) in groups {
                @let path = self.group(episodes.iter().filter(|e| e.kind == kind && e.level.clamp(1, 2) == level));
                @if !path.is_empty() {
                    path class={ "stroke " (class) } stroke-width=(at(self.thickness(kind))) d=(path) {}
                }
            }
        }
    }

    /// Lows are thick and highs thin, so that they differ without colour.
    fn thickness(&self, kind: EpisodeKind) -> f64 {
        let share = if kind == EpisodeKind::Low { 0.9 } else { 0.45 };
        (self.row_height * share).max(1.0)
    }

    fn group<'a>(&self, episodes: impl Iterator<Item = &'a EpisodeLine>) -> String {
        let mut path = String::new();
        for episode in episodes {
            let start = episode.start.0.wall().0;
            let end = episode.end.0.wall().0.max(start);
            for row in row_of(start)..=row_of(end) {
                self.stroke(&mut path, row, start, end);
            }
        }
        path
    }

    /// The part of an episode that lies in a row.
    fn stroke(&self, path: &mut String, row: i64, start: i64, end: i64) {
        if row < self.first_row || row >= self.first_row + self.rows {
            return;
        }
        let midnight = row * DAY_S + i64::from(FIRST_MIN) * 60;
        let minute = |wall: i64| to_f64(wall - midnight) / 60.0;
        let from = self.clock.along(minute(start).max(0.0));
        let to = self.clock.along(minute(end).min(f64::from(DAY_MIN)));
        let y = TOP + self.row_height * (to_f64(row - self.first_row) + 0.5);
        let _ = write!(path, "M{} {}h{}", at(from), at(y), at((to - from).max(2.0)));
    }

    /// The date of the first row and of each row a week on, or a multiple of weeks where rows are narrow.
    fn dates(&self) -> Markup {
        let weeks = [1, 2, 4, 8, 13, 26, 52, 104]
            .into_iter()
            .find(|&w| self.row_height * to_f64(w * 7) >= 14.0)
            .unwrap_or(520);
        let rows = (0..self.rows).step_by(usize::try_from(weeks * 7).unwrap_or(7));
        html! {
            @for row in rows {
                @let wall = WallTime((self.first_row + row) * DAY_S);
                @if let Some(civil) = wall.civil() {
                    text.dates x="0" y=(at(TOP + self.row_height * (to_f64(row) + 0.5) + 3.5)) { (short_date(&civil.date().to_string())) }
                }
            }
        }
    }

    fn clock_labels(&self) -> Markup {
        let y = at(TOP + self.height() + 15.0);
        let step = if self.shape == Shape::Phone { 6 } else { 3 };
        html! {
            @for hour in (0..=24_u32).step_by(step) {
                @let place = match hour { 0 => "", 24 => "end", _ => "mid" };
                text class=(place) x=(at(self.clock.along(f64::from(hour) * 60.0))) y=(y) {
                    (clock((hour * 60 + FIRST_MIN) % DAY_MIN))
                }
            }
        }
    }
}

/// The row of a wall-clock second: its calendar day, counted from six in the morning.
fn row_of(wall_s: i64) -> i64 {
    (wall_s - i64::from(FIRST_MIN) * 60).div_euclid(DAY_S)
}

/// A count small enough to be exact.
fn to_f64(count: i64) -> f64 {
    i32::try_from(count).map_or(f64::from(i32::MAX), f64::from)
}
