//! The second look told of blood instead of the sensor.

use std::sync::Arc;

use interstice_book::Record;
use interstice_glucose::Second;
use interstice_methods::quantile;
use interstice_methods::second_look::{Day, Moments, NoLook, blurred};
use interstice_methods::trace::IntervalFrom;
use serde::Serialize;

use super::{ChanceLine, FanLine, Laid};
use crate::account::Reader;
use crate::trust::{BloodCourse, KnownBy};

/// What followed moments like this one in blood, by the estimate: the moments as they would have been told then, what followed
/// as it is known looking back.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BloodLook {
    /// What blood probably was at the moment.
    pub mg_dl: f64,
    /// Past moments alike.
    pub alike: usize,
    /// What followed over four hours. What the estimate itself does not know is within.
    pub fan: Vec<FanLine>,
    /// Coming back into range within three hours, as in the look at the sensor.
    pub back: Option<ChanceLine>,
    /// A low within four hours; `null` where it is low already.
    pub low: Option<ChanceLine>,
    /// Median time until it turned.
    pub turn_min: Option<f64>,
    /// Blood checks that the estimate was learned from.
    pub checks: usize,
    /// What the estimate looking back does not know of blood, one standard deviation as a part of it, percent.
    pub unsure_percent: f64,
}

/// What looks at blood over one lived day rest on.
#[derive(Debug)]
pub(super) struct BloodGround {
    laid: Laid,
    known: Arc<KnownBy>,
    checks: usize,
    unsure_part: f64,
    day: Result<Arc<Day>, NoLook>,
}

/// What may be used again when the book has changed.
#[derive(Clone, Debug)]
pub(super) struct EarlierBlood {
    known: Arc<KnownBy>,
    day: Option<Arc<Day>>,
}

impl BloodGround {
    pub(super) fn kept(&self) -> EarlierBlood {
        EarlierBlood {
            known: Arc::clone(&self.known),
            day: self.day.as_ref().ok().cloned(),
        }
    }

    /// Of the day of a moment; `None` where no sensor was read before it.
    ///
    /// * `sensor`: the same record as the sensors said it, over `window`; the day begins at `by`.
    /// * `earlier`: used again as far as nothing that came before the day differs.
    pub(super) fn of(
        (record, reader): (&Record, Reader),
        sensor: &Laid,
        (from, by, to): (Second, Second, Second),
        at: Second,
        earlier: Option<&EarlierBlood>,
    ) -> Option<Self> {
        let known = earlier.map(|earlier| &earlier.known);
        let course = BloodCourse::of(record, reader.night, (from, by, to), known)?;
        let (laid, unsure) = of_blood(sensor, &course);
        let moments = Moments::of(laid.past(record, reader));
        let kept = earlier.and_then(|earlier| earlier.day.as_ref());
        let day = match kept.filter(|day| day.is_of(&moments, at)) {
            Some(day) => Ok(Arc::clone(day)),
            None => Day::of(&moments, at).map(Arc::new),
        };
        Some(BloodGround {
            checks: course.checks_used(),
            known: Arc::clone(&course.known),
            unsure_part: middle(unsure),
            day,
            laid,
        })
    }

    pub(super) fn look(&self, record: &Record, reader: Reader, asked: Second) -> Result<BloodLook, NoLook> {
        let moments = Moments::of(self.laid.past(record, reader));
        let day = self.day.as_ref().map_err(|reason| *reason)?;
        let look = day.look(&moments, asked)?;
        let fan = look
            .fan
            .iter()
            .map(|point| FanLine::from(&blurred(point, self.unsure_part)));
        Ok(BloodLook {
            mg_dl: look.mg_dl,
            alike: look.alike.moments,
            fan: fan.collect(),
            back: look.back.map(ChanceLine::from),
            low: look.low.map(ChanceLine::from),
            turn_min: look.turn_min,
            checks: self.checks,
            unsure_percent: 100.0 * self.unsure_part,
        })
    }
}

/// The same readings as blood; those that belong to no sensor are left out. With how unsure those are that came before the day.
fn of_blood(sensor: &Laid, course: &BloodCourse) -> (Laid, Vec<f64>) {
    let mut laid = Laid {
        at: Vec::new(),
        mg_dl: Vec::new(),
        came_mg_dl: Vec::new(),
        intervals: Vec::new(),
        traces: Vec::new(),
        on_board: Vec::new(),
        ..sensor.clone()
    };
    let mut unsure = Vec::new();
    for (place, (stretch, &trace)) in sensor.intervals.iter().zip(&sensor.traces).enumerate() {
        let end = sensor
            .intervals
            .get(place + 1)
            .map_or(sensor.at.len(), |next| next.start);
        let start = laid.at.len();
        for i in stretch.start..end {
            let Some(then) = course.at(trace, sensor.at[i]) else {
                laid.left_out += 1;
                continue;
            };
            laid.at.push(sensor.at[i]);
            laid.mg_dl.push(then.told_mg_dl);
            laid.came_mg_dl.push(then.known_mg_dl);
            laid.on_board.push(sensor.on_board[i]);
            unsure.extend(then.unsure_part);
        }
        if laid.at.len() > start {
            laid.intervals.push(IntervalFrom { start, ..*stretch });
            laid.traces.push(trace);
        }
    }
    (laid, unsure)
}

fn middle(mut of: Vec<f64>) -> f64 {
    of.sort_unstable_by(f64::total_cmp);
    quantile(&of, 0.5).unwrap_or(0.0)
}
