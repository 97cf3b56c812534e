//! The possible pressure lows of some wears, looked for once, with the wearer's word on them.

use std::collections::BTreeSet;
use std::ops::Range;

use interstice_book::{NightHours, Record};
use interstice_glucose::{BodySite, DAY_S, Delivery, InsulinKind, LowWas, MarkKind, Second, Side, WallTime};
use interstice_methods::agreement::Check;
use interstice_methods::pressure::{
    Known, Night, Own, PressureLow, PressureParams, PressureTrace, pressure_lows,
};
use rayon::prelude::*;

use super::estimate::Columns;
use super::pairs;
use super::wears::{SensorWear, wears};

/// The hours looked at where no sleep is logged and no night is set: those that false alarms on people without diabetes
/// were counted in (docs/methods/pressure-lows.md). Longer than the night as it is drawn, for one lies down before it.
const IN_BED: NightHours = NightHours {
    from_minute: 23 * 60,
    to_minute: 7 * 60,
};

/// A time in bed: a night, or a piece of one where sleep was broken.
#[derive(Clone, Copy, Debug)]
pub(super) struct InBed {
    pub(super) night: Night,
    /// The night it is of, from noon to noon: the day it began on, counted from 1970.
    pub(super) evening: Second,
    /// The side slept on: as logged beside the night, else as told of the sensors worn in it.
    pub(super) side: Option<Side>,
}

/// What the wearer said of a low.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Said {
    /// By a word on it: which of `Record::low_verdicts`.
    Word(usize, LowWas),
    /// By a mark over at least half of it that its readings are not to be believed.
    Marked,
}

/// A dip as it is told.
#[derive(Clone, Debug)]
pub(super) struct Judged {
    /// With what the wearer's words on others make of it, where there is none on itself.
    pub(super) low: PressureLow,
    /// Probability by its own signs.
    pub(super) by_signs: f64,
    /// Whether it is flagged.
    pub(super) flagged: bool,
    pub(super) said: Option<Said>,
}

impl Judged {
    /// A word on it stands for any probability.
    pub(super) fn probability(&self) -> f64 {
        match self.said {
            Some(Said::Word(_, LowWas::Pressure)) => 1.0,
            Some(Said::Word(_, LowWas::Real)) => 0.0,
            Some(Said::Marked) | None => self.low.probability,
        }
    }

    /// Whether it counts as a pressure low: said to be one, or flagged and not said to be real.
    pub(super) fn counts(&self) -> bool {
        match self.said {
            Some(Said::Word(_, was)) => was == LowWas::Pressure,
            Some(Said::Marked) | None => self.flagged,
        }
    }
}

/// One wear, looked through.
#[derive(Clone, Debug, Default)]
pub(super) struct Looked {
    /// Times in bed in which it was read: places in [`Pressed::in_bed`].
    pub(super) nights: Vec<usize>,
    /// In time order.
    pub(super) dips: Vec<Judged>,
    /// Words about it where nothing was found: places in `Record::low_verdicts`.
    pub(super) apart: Vec<usize>,
}

/// The possible pressure lows of some wears.
pub(super) struct Pressed {
    /// All times in bed, in time order.
    pub(super) in_bed: Vec<InBed>,
    /// By wear; nothing is found where its readings are too few to tell noise.
    pub(super) wears: Vec<Looked>,
    /// What the wearer's words teach of the next one.
    pub(super) own: Own,
}

/// What is known beside the readings.
#[derive(Clone, Copy)]
pub(super) struct Beside<'a> {
    pub(super) checks: &'a [Check],
    pub(super) night: Option<NightHours>,
    /// Whether the wearer's words are heeded.
    pub(super) words: bool,
    /// Nothing that was logged for this instant or later is known; the readings and checks handed in must not be later either.
    pub(super) by: Second,
    /// Nights that touch none of these spans are not looked through.
    pub(super) only: Option<&'a [(Second, Second)]>,
}

impl<'a> Beside<'a> {
    /// All there is.
    pub(super) fn all(checks: &'a [Check], night: Option<NightHours>) -> Self {
        Beside {
            checks,
            night,
            words: true,
            by: Second::MAX,
            only: None,
        }
    }
}

impl Pressed {
    /// Looks through the nights of each wear. What words on other wears teach is taken from the whole record.
    pub(super) fn look(
        record: &Record,
        wears: &[SensorWear],
        columns: &[Columns<'_>],
        beside: Beside<'_>,
    ) -> Self {
        Self::look_knowing(record, wears, columns, beside, None)
    }

    /// The same where what the wearer's words teach is known already.
    pub(super) fn look_knowing(
        record: &Record,
        wears: &[SensorWear],
        columns: &[Columns<'_>],
        beside: Beside<'_>,
        own: Option<Own>,
    ) -> Self {
        let mut in_bed = nights(record, wears, beside.night);
        if let Some(only) = beside.only {
            // Nights the wearer said something of teach, wherever they lie.
            let said = |night: &Night| {
                let verdicts = record.low_verdicts.iter().map(|kept| &kept.it);
                verdicts
                    .into_iter()
                    .any(|word| word.at < Second::from(night.to) && word.until > Second::from(night.from))
            };
            in_bed.retain(|in_bed| touches(only, &in_bed.night) || said(&in_bed.night));
        }
        let words = Words::of(record, beside.words);
        let finder = Finder::new(record, &in_bed, beside);
        let found: Vec<Vec<PressureLow>> = columns.par_iter().map(|columns| finder.dips(columns)).collect();
        let own = own.unwrap_or_else(|| words.teach(wears, &found, &finder));
        let marked = pairs::artefacts(record);
        let looked = |((wear, columns), dips): ((&SensorWear, &Columns<'_>), Vec<PressureLow>)| Looked {
            nights: (0..in_bed.len())
                .filter(|&place| is_read(columns.at, &in_bed[place].night))
                .collect(),
            dips: dips
                .iter()
                .filter_map(|dip| judge(dip, &own, words.on(wear, dip), &marked))
                .collect(),
            apart: Vec::new(),
        };
        let mut all: Vec<Looked> = wears.iter().zip(columns).zip(found).map(looked).collect();
        let apart = words.apart(wears, &all);
        for (looked, apart) in all.iter_mut().zip(apart) {
            looked.apart = apart;
        }
        Pressed {
            in_bed,
            wears: all,
            own,
        }
    }

    /// The same of some of the wears, in the order of their places.
    pub(super) fn only(&self, places: &[usize]) -> Self {
        Pressed {
            in_bed: self.in_bed.clone(),
            wears: places.iter().map(|&place| self.wears[place].clone()).collect(),
            own: self.own,
        }
    }

    /// Nights in which any of the wears was read, and those of them with sleep logged.
    pub(super) fn nights_read(&self) -> (u64, u64) {
        let places: BTreeSet<usize> = self
            .wears
            .iter()
            .flat_map(|looked| looked.nights.iter().copied())
            .collect();
        let read = || places.iter().map(|&place| &self.in_bed[place]);
        let nights = |in_bed: &mut dyn Iterator<Item = &InBed>| {
            in_bed
                .map(|in_bed| in_bed.evening)
                .collect::<BTreeSet<Second>>()
                .len() as u64
        };
        (
            nights(&mut read()),
            nights(&mut read().filter(|in_bed| in_bed.night.logged)),
        )
    }

    /// Which of a wear's readings count as pressed.
    pub(super) fn mask(&self, record: &Record, wear: usize, at: &[u32]) -> Vec<bool> {
        let mut mask = vec![false; at.len()];
        for (touched, _) in self.wears[wear].left_out(record, at) {
            mask[touched].fill(true);
        }
        mask
    }
}

impl Looked {
    /// Ranges of its readings that count as pressed, and whether the wearer said so: dips, and where they said so though
    /// nothing was found.
    pub(super) fn left_out(&self, record: &Record, at: &[u32]) -> Vec<(Range<usize>, bool)> {
        let held = |range: &Range<usize>| range.start.min(at.len())..range.end.min(at.len());
        let mut ranges: Vec<(Range<usize>, bool)> = self
            .dips
            .iter()
            .filter(|dip| dip.counts())
            .map(|dip| (held(&dip.low.readings), dip.said.is_some()))
            .collect();
        let words = self.apart.iter().map(|&word| &record.low_verdicts[word].it);
        for word in words.filter(|word| word.was == LowWas::Pressure) {
            let place = |until: Second| at.partition_point(|&at| Second::from(at) < until);
            ranges.push((place(word.at)..place(word.until), true));
        }
        ranges.retain(|(range, _)| range.start < range.end);
        ranges
    }
}

fn judge(
    dip: &PressureLow,
    own: &Own,
    word: Option<(usize, LowWas)>,
    marked: &[(Second, Second)],
) -> Option<Judged> {
    let told = own.told(dip);
    let flagged = PressureParams::default().marks(&told);
    if !flagged && word.is_none() {
        return None;
    }
    // What was said of one is no evidence for that same one.
    let low = if word.is_some() { dip.clone() } else { told };
    let said = word
        .map(|(place, was)| Said::Word(place, was))
        .or_else(|| is_marked(&low, marked).then_some(Said::Marked));
    Some(Judged {
        by_signs: dip.probability,
        low,
        flagged,
        said,
    })
}

/// Whether the wearer marked at least half of it.
fn is_marked(low: &PressureLow, marked: &[(Second, Second)]) -> bool {
    let (from, to) = span_of(low);
    let shared: Second = marked.iter().map(|&stretch| shared((from, to), stretch)).sum();
    2 * shared >= to - from
}

fn span_of(low: &PressureLow) -> (Second, Second) {
    (low.from.into(), low.to.into())
}

/// Whether at least half of a stretch lies in another.
fn is_half(of: (Second, Second), within: (Second, Second)) -> bool {
    2 * shared(of, within) >= of.1 - of.0
}

fn shared(a: (Second, Second), b: (Second, Second)) -> Second {
    (a.1.min(b.1) - a.0.max(b.0)).max(0)
}

/// The wearer's words on lows.
struct Words<'a> {
    record: &'a Record,
    /// Places, the latest written first.
    places: Vec<usize>,
}

impl<'a> Words<'a> {
    fn of(record: &'a Record, heeded: bool) -> Self {
        let all = &record.low_verdicts;
        let mut places: Vec<usize> = (0..if heeded { all.len() } else { 0 }).collect();
        places.sort_by_key(|&place| std::cmp::Reverse((all[place].origin, all[place].entry)));
        Words { record, places }
    }

    fn is_about(&self, place: usize, wear: &SensorWear) -> bool {
        let word = &self.record.low_verdicts[place].it;
        let named = |name: &String| *name == wear.name || *name == self.record.traces[wear.trace].sensor;
        word.sensor.as_ref().is_none_or(named) && word.at <= wear.span.1 && word.until > wear.span.0
    }

    fn span(&self, place: usize) -> (Second, Second) {
        let word = &self.record.low_verdicts[place].it;
        (word.at, word.until)
    }

    /// The word on a dip: the latest over at least half of it.
    fn on(&self, wear: &SensorWear, dip: &PressureLow) -> Option<(usize, LowWas)> {
        let mut places = self.places.iter().copied();
        let place =
            places.find(|&place| self.is_about(place, wear) && is_half(span_of(dip), self.span(place)))?;
        Some((place, self.record.low_verdicts[place].it.was))
    }

    /// What they teach of the next low: those on the dips found on some wears, and on all others.
    fn teach(&self, wears: &[SensorWear], found: &[Vec<PressureLow>], finder: &Finder<'_>) -> Own {
        let others = self.wears_beside(wears);
        let elsewhere: Vec<Vec<PressureLow>> = others
            .par_iter()
            .map(|wear| finder.dips(&Columns::said(self.record, wear)))
            .collect();
        let judged: Vec<(&PressureLow, bool)> = (wears.iter().zip(found))
            .chain(others.iter().zip(&elsewhere))
            .flat_map(|(wear, dips)| dips.iter().map(move |dip| (wear, dip)))
            .filter_map(|(wear, dip)| Some((dip, self.on(wear, dip)?.1 == LowWas::Pressure)))
            .collect();
        Own::learned(&judged, &PressureParams::default())
    }

    /// For each wear, the words about it that are on no dip of any, in time order; of several on the same stretch the
    /// latest written.
    fn apart(&self, wears: &[SensorWear], looked: &[Looked]) -> Vec<Vec<usize>> {
        let is_on_a_dip = |place: usize| {
            wears.iter().zip(looked).any(|(wear, looked)| {
                let over = |dip: &Judged| is_half(span_of(&dip.low), self.span(place));
                self.is_about(place, wear) && looked.dips.iter().any(over)
            })
        };
        let free: Vec<usize> = self
            .places
            .iter()
            .copied()
            .filter(|&place| !is_on_a_dip(place))
            .collect();
        let of = |wear: &SensorWear| {
            let mut apart: Vec<usize> = Vec::new();
            for &place in free.iter().filter(|&&place| self.is_about(place, wear)) {
                let replaced = |&later: &usize| is_half(self.span(place), self.span(later));
                if !apart.iter().any(replaced) {
                    apart.push(place);
                }
            }
            apart.sort_unstable();
            apart
        };
        wears.iter().map(of).collect()
    }

    /// Wears that words are about, but for some.
    fn wears_beside(&self, some: &[SensorWear]) -> Vec<SensorWear> {
        if self.places.is_empty() {
            return Vec::new();
        }
        let mut others = wears(self.record);
        others.retain(|wear| {
            some.iter()
                .all(|one| (one.trace, &one.readings) != (wear.trace, &wear.readings))
                && self.places.iter().any(|&place| self.is_about(place, wear))
        });
        others
    }
}

/// Looks for dips with all that a record knows beside the readings.
struct Finder<'a> {
    nights: Vec<Night>,
    checks: &'a [Check],
    insulin: Vec<u32>,
    food: Vec<u32>,
}

impl<'a> Finder<'a> {
    fn new(record: &Record, in_bed: &[InBed], beside: Beside<'a>) -> Self {
        let instant = |at: Second| u32::try_from(at).ok().filter(|_| at < beside.by);
        let at_once = record
            .doses
            .iter()
            .filter(|kept| kept.it.delivery != Delivery::BasalRate && kept.it.insulin != InsulinKind::Long);
        Finder {
            nights: in_bed.iter().map(|in_bed| in_bed.night).collect(),
            checks: beside.checks,
            insulin: at_once.filter_map(|kept| instant(kept.it.at)).collect(),
            food: record
                .meals
                .iter()
                .filter_map(|kept| instant(kept.it.at))
                .collect(),
        }
    }

    /// Every dip looked at closely, however unlikely.
    fn dips(&self, columns: &Columns<'_>) -> Vec<PressureLow> {
        let known = Known {
            nights: &self.nights,
            checks: self.checks,
            insulin: &self.insulin,
            food: &self.food,
        };
        let trace = PressureTrace {
            sensor: 0,
            at: columns.at,
            mg_dl: &columns.mg_dl,
            censor: &columns.censor,
        };
        pressure_lows(&trace, &known, &PressureParams::EVERYTHING).unwrap_or_default()
    }
}

/// Whether a night touches one of some spans in time order.
fn touches(spans: &[(Second, Second)], night: &Night) -> bool {
    let first = spans.partition_point(|span| span.1 <= Second::from(night.from));
    spans
        .get(first)
        .is_some_and(|span| span.0 < Second::from(night.to))
}

fn is_read(at: &[u32], night: &Night) -> bool {
    let next = at.partition_point(|&at| at < night.from);
    at.get(next).is_some_and(|&at| at < night.to)
}

/// The times in bed: as logged, and the usual night wherever none is logged.
fn nights(record: &Record, wears: &[SensorWear], set: Option<NightHours>) -> Vec<InBed> {
    let logged: Vec<InBed> = record
        .marks
        .iter()
        .map(|kept| &kept.it)
        .filter(|mark| mark.kind == MarkKind::Sleep)
        .filter_map(|mark| {
            let night = night(mark.at, mark.until?, true)?;
            Some(InBed {
                night,
                evening: evening(record, &night),
                side: mark.text.as_deref().and_then(slept_side),
            })
        })
        .collect();
    let apart = |night: &Night| {
        logged
            .iter()
            .all(|other| other.night.to <= night.from || night.to <= other.night.from)
    };
    let usual = usual_nights(record, set).into_iter().filter(apart);
    let mut nights = logged.clone();
    nights.extend(usual.map(|night| InBed {
        night,
        evening: evening(record, &night),
        side: None,
    }));
    nights.sort_by_key(|in_bed| in_bed.night.from);
    for in_bed in &mut nights {
        in_bed.side = in_bed.side.or_else(|| mostly_slept(wears, &in_bed.night));
    }
    nights
}

/// Broken sleep is one night: all that begins from one noon to the next by the lived clock.
fn evening(record: &Record, night: &Night) -> Second {
    (record.clock.wall(night.from.into()).0 - DAY_S / 2).div_euclid(DAY_S)
}

/// The side mostly slept on while the sensors of a night were worn, where it was told of any and all say the same.
fn mostly_slept(wears: &[SensorWear], night: &Night) -> Option<Side> {
    let worn =
        |wear: &&SensorWear| wear.span.0 < Second::from(night.to) && Second::from(night.from) <= wear.span.1;
    let mut told = wears
        .iter()
        .filter(worn)
        .filter_map(|wear| wear.worn.detail.slept);
    let side = told.next()?;
    told.all(|other| other == side).then_some(side)
}

/// Which readings fall in the usual night.
pub(super) fn in_bed(record: &Record, set: Option<NightHours>, at: &[u32]) -> Vec<bool> {
    let mut in_bed = vec![false; at.len()];
    for night in usual_nights(record, set) {
        let first = at.partition_point(|&at| at < night.from);
        let after = at.partition_point(|&at| at < night.to);
        in_bed[first..after].fill(true);
    }
    in_bed
}

/// The usual night of every day, from the one before the first reading on.
fn usual_nights(record: &Record, set: Option<NightHours>) -> Vec<Night> {
    let Some((first, last)) = span(record) else {
        return Vec::new();
    };
    let usual = set.unwrap_or(IN_BED);
    let (from_s, to_s) = (
        Second::from(usual.from_minute) * 60,
        Second::from(usual.to_minute) * 60,
    );
    let past_midnight = if to_s <= from_s { DAY_S } else { 0 };
    (record.clock.wall(first).day() - 1..=record.clock.wall(last).day())
        .filter_map(|day| {
            let at = |second: Second| record.clock.first_at_or_after(WallTime(day * DAY_S + second));
            night(at(from_s), at(to_s + past_midnight), false)
        })
        .collect()
}

/// The side a night was slept on, from what is written beside it: 'left', 'on my right side'. Nothing where both are
/// named, or where the words may be about something else ('left the bed at three').
fn slept_side(text: &str) -> Option<Side> {
    const SIDE: [&str; 8] = ["side", "seite", "côté", "lado", "lato", "zij", "sida", "kylki"];
    let said = BodySite::from_words(text)?;
    let rest = said.spot.unwrap_or_default();
    let is_side = rest.is_empty() || rest.split(' ').any(|word| SIDE.contains(&word));
    let other = BodySite::from_words(&rest).and_then(|rest| rest.side);
    said.side.filter(|_| is_side && other.is_none())
}

fn night(from: Second, to: Second, logged: bool) -> Option<Night> {
    let (from, to) = (u32::try_from(from).ok()?, u32::try_from(to).ok()?);
    (from < to).then_some(Night { from, to, logged })
}

/// First and last reading of all traces.
fn span(record: &Record) -> Option<(Second, Second)> {
    let spans = record.traces.iter().filter_map(|trace| trace.readings.span());
    spans.reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slept_side_is_told_from_words_that_mean_it() {
        let cases = [
            ("left", Some(Side::Left)),
            ("on my right side", Some(Side::Right)),
            ("linke Seite", Some(Side::Left)),
            ("left the bed at three", None),
            ("left side, later the right side", None),
            ("slept badly", None),
            ("", None),
        ];
        for (text, side) in cases {
            assert_eq!(slept_side(text), side, "{text}");
        }
    }
}
