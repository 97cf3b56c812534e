//! How often possible pressure lows come, by where the sensor was and by the side slept on.

use std::collections::BTreeMap;

use interstice_glucose::Side;
use interstice_methods::rate::{count_interval, ratio_interval};
use serde::Serialize;

use super::pressed::{InBed, Judged, Pressed};
use super::wears::SensorWear;

/// Coverage of every interval here.
const CONFIDENCE: f64 = 0.95;
/// Where something is not known.
pub(super) const UNKNOWN: &str = "unknown";

/// Possible pressure lows a night worn. A night counts once for each sensor read in it.
#[derive(Clone, Debug, Serialize)]
pub struct PressureRates {
    /// Over all sensors looked at.
    pub all: RateLine,
    /// By part of the body.
    pub site: Vec<RateLine>,
    /// By side of the body.
    pub side: Vec<RateLine>,
    /// By side and part together.
    pub side_and_site: Vec<RateLine>,
    /// By the side slept on: 'left', 'right', 'unknown'.
    pub slept: Vec<RateLine>,
    /// Slept on the sensor's own side or on the other, where both are known.
    pub slept_on_it: Vec<RateLine>,
    /// How many times the rate of sensors on the left the rate on the right is; nothing where a side was never worn or
    /// neither had any.
    pub right_to_left: Option<RateRatio>,
}

/// Lows in nights.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RateLine {
    /// What the nights have in common.
    pub key: String,
    /// Nights worn, from noon to noon: broken sleep is one.
    pub nights: u64,
    /// Lows that count as pressure: flagged and not said to be real, or said to be pressure.
    pub lows: u64,
    /// How many of all flagged are to be expected to be pressure: the sum of their probabilities.
    pub expected: f64,
    /// Lows a night worn; nothing without a night.
    pub per_night: Option<f64>,
    /// Lower end of its exact interval.
    pub per_night_lo95: Option<f64>,
    /// Upper end.
    pub per_night_hi95: Option<f64>,
}

/// Two rates compared.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct RateRatio {
    /// The ratio; nothing where the first has none.
    pub ratio: Option<f64>,
    /// Lower end of its exact interval.
    pub lo95: f64,
    /// Upper end; nothing where it has none.
    pub hi95: Option<f64>,
}

/// Nights and lows that have something in common.
#[derive(Clone, Copy, Debug, Default)]
struct Tally {
    nights: u64,
    lows: u64,
    expected: f64,
}

/// A night of one sensor.
struct Cell<'a> {
    wear: &'a SensorWear,
    slept: Option<Side>,
    dips: Vec<&'a Judged>,
}

pub(super) fn rates(pressed: &Pressed, wears: &[SensorWear]) -> PressureRates {
    let cells = cells(pressed, wears);
    let by = |key: &dyn Fn(&Cell<'_>) -> Option<String>| lines(&cells, key);
    let side = |cell: &Cell<'_>| cell.wear.worn.site.as_ref()?.side;
    let known = |key: Option<String>| Some(key.unwrap_or_else(|| UNKNOWN.to_owned()));
    let of_side = |wanted: Side| tally(cells.iter().filter(|cell| side(cell) == Some(wanted)));
    PressureRates {
        all: line("all".to_owned(), tally(cells.iter())),
        site: by(&|cell| known(cell.wear.site.clone())),
        side: by(&|cell| known(cell.wear.side())),
        side_and_site: by(&|cell| known(Some(cell.wear.place()?))),
        slept: by(&|cell| known(cell.slept.map(|side| side.name().to_owned()))),
        slept_on_it: by(&|cell| {
            let same = side(cell)? == cell.slept?;
            Some(if same { "its own side" } else { "the other side" }.to_owned())
        }),
        right_to_left: compared(of_side(Side::Left), of_side(Side::Right)),
    }
}

/// Every night of every wear with the dips in it, the pieces of a broken one together. A dip that begins just before a night
/// belongs to it.
fn cells<'a>(pressed: &'a Pressed, wears: &'a [SensorWear]) -> Vec<Cell<'a>> {
    let mut cells = Vec::new();
    for (looked, wear) in pressed.wears.iter().zip(wears) {
        let mut next = 0;
        let evening = |place: usize| pressed.in_bed[place].evening;
        for pieces in looked.nights.chunk_by(|&a, &b| evening(a) == evening(b)) {
            let in_bed: Vec<&InBed> = pieces.iter().map(|&place| &pressed.in_bed[place]).collect();
            let until = in_bed.last().map_or(0, |piece| piece.night.to);
            let began = |dip: &Judged| dip.low.from < until;
            let end = next + looked.dips[next..].iter().take_while(|dip| began(dip)).count();
            let side = in_bed[0].side;
            cells.push(Cell {
                wear,
                slept: side.filter(|_| in_bed.iter().all(|piece| piece.side == side)),
                dips: looked.dips[next..end].iter().collect(),
            });
            next = end;
        }
    }
    cells
}

fn tally<'a>(cells: impl Iterator<Item = &'a Cell<'a>>) -> Tally {
    let mut tally = Tally::default();
    for cell in cells {
        tally.nights += 1;
        for dip in &cell.dips {
            tally.lows += u64::from(dip.counts());
            tally.expected += dip.probability();
        }
    }
    tally
}

/// A line for each key, in its order; what is not known last. One group alone tells nothing.
fn lines(cells: &[Cell<'_>], key: &dyn Fn(&Cell<'_>) -> Option<String>) -> Vec<RateLine> {
    let mut groups: BTreeMap<String, Vec<&Cell<'_>>> = BTreeMap::new();
    for cell in cells {
        if let Some(key) = key(cell) {
            groups.entry(key).or_default().push(cell);
        }
    }
    let mut unknown = groups.remove(UNKNOWN).map(|cells| (UNKNOWN.to_owned(), cells));
    if groups.is_empty() {
        return Vec::new();
    }
    groups
        .into_iter()
        .chain(unknown.take())
        .map(|(key, cells)| line(key, tally(cells.into_iter())))
        .collect()
}

fn line(key: String, tally: Tally) -> RateLine {
    let nights = tally.nights as f64;
    let interval = (tally.nights > 0).then(|| count_interval(tally.lows, CONFIDENCE));
    RateLine {
        key,
        nights: tally.nights,
        lows: tally.lows,
        expected: tally.expected,
        per_night: interval.map(|_| tally.lows as f64 / nights),
        per_night_lo95: interval.map(|interval| interval.lo / nights),
        per_night_hi95: interval.map(|interval| interval.hi / nights),
    }
}

fn compared(left: Tally, right: Tally) -> Option<RateRatio> {
    let time = |tally: Tally| (tally.lows, tally.nights as f64);
    let interval = ratio_interval(time(left), time(right), CONFIDENCE)?;
    let rate = |tally: Tally| tally.lows as f64 / tally.nights as f64;
    Some(RateRatio {
        ratio: (left.lows > 0).then(|| rate(right) / rate(left)),
        lo95: interval.lo,
        hi95: interval.hi.is_finite().then_some(interval.hi),
    })
}

impl PressureRates {
    /// Pairs of sites, of those known, whose intervals do not overlap: the one with more, the one with less.
    pub fn sites_apart(&self) -> Vec<(&RateLine, &RateLine)> {
        let known = || self.site.iter().filter(|line| line.key != UNKNOWN);
        let above = |a: &RateLine, b: &RateLine| {
            let ends = a.per_night_lo95.zip(b.per_night_hi95);
            ends.is_some_and(|(lo, hi)| lo > hi)
        };
        known()
            .flat_map(|a| known().filter(move |b| above(a, b)).map(move |b| (a, b)))
            .collect()
    }
}
