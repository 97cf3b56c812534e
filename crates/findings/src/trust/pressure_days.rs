//! Possible pressure lows for the timeline: sensor by sensor, as they come into view.

use std::sync::OnceLock;

use interstice_book::{NightHours, Record};
use interstice_glucose::{LowWas, Second};
use interstice_methods::pressure::Own;

use super::estimate::Columns;
use super::pairs;
use super::pressed::{Beside, Pressed, Said};
use super::wears::{SensorWear, wears};

/// A low as the timeline shows it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LowSpan {
    /// Its first instant.
    pub from: Second,
    /// Its first instant after.
    pub to: Second,
    /// What the wearer said it was.
    pub said: Option<LowWas>,
    /// Probability that it was pressure, where they did not; nothing where nothing in the readings says so.
    pub probability: Option<f64>,
}

/// The lows of a book. What is found on a sensor is kept once it was asked for: a year takes a third of a second.
#[derive(Debug)]
pub(crate) struct Lows {
    wears: Vec<SensorWear>,
    night: Option<NightHours>,
    own: OnceLock<Own>,
    found: Vec<OnceLock<Vec<LowSpan>>>,
}

impl Lows {
    /// `night`: the hours that were set, if any.
    pub(crate) fn new(record: &Record, night: Option<NightHours>) -> Self {
        let wears = wears(record);
        Lows {
            found: wears.iter().map(|_| OnceLock::new()).collect(),
            wears,
            night,
            own: OnceLock::new(),
        }
    }

    /// Whether there is a sensor to have any.
    pub(crate) fn is_empty(&self) -> bool {
        self.wears.is_empty()
    }

    /// Those of `[from, to)` in time order, flagged or judged, as they count on Trust.
    pub(crate) fn within(&self, record: &Record, from: Second, to: Second) -> Vec<LowSpan> {
        let worn = |wear: &SensorWear| wear.span.0 < to && wear.span.1 >= from;
        let places = (0..self.wears.len()).filter(|&place| worn(&self.wears[place]));
        let mut lows: Vec<LowSpan> = places
            .flat_map(|place| self.found[place].get_or_init(|| self.look(record, place)))
            .filter(|low| low.from < to && low.to > from)
            .copied()
            .collect();
        lows.sort_by_key(|low| (low.from, low.to));
        lows.dedup();
        lows
    }

    fn look(&self, record: &Record, place: usize) -> Vec<LowSpan> {
        let checks = pairs::checks(record);
        let beside = Beside::all(&checks, self.night);
        let own = *self
            .own
            .get_or_init(|| Pressed::look(record, &[], &[], beside).own);
        let wear = std::slice::from_ref(&self.wears[place]);
        let columns = [Columns::said(record, &wear[0])];
        let pressed = Pressed::look_knowing(record, wear, &columns, beside, Some(own));
        let looked = &pressed.wears[0];
        let dips = looked.dips.iter().map(|dip| LowSpan {
            from: dip.low.from.into(),
            to: dip.low.to.into(),
            said: dip.said.map(|said| match said {
                Said::Word(_, was) => was,
                Said::Marked => LowWas::Pressure,
            }),
            probability: Some(dip.low.probability),
        });
        let words = looked.apart.iter().map(|&word| {
            let word = &record.low_verdicts[word].it;
            LowSpan {
                from: word.at,
                to: word.until,
                said: Some(word.was),
                probability: None,
            }
        });
        dips.chain(words).collect()
    }
}
