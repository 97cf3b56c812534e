//! What was logged around each pair: water drunk, temperature, pressure on the sensor.

use interstice_book::{NightHours, Record};
use interstice_glucose::{DAY_S, Mark, MarkKind, Second};
use interstice_methods::agreement::Pair;

use super::estimate::Columns;
use super::pressed::{Beside, Pressed};
use super::wears::SensorWear;

/// Amounts of one drink that are meant, millilitres; others are taken as not said.
const DRINK_ML: std::ops::RangeInclusive<f64> = 10.0..=5000.0;
/// A temperature stands for so long after it was written down (ours).
const WARM_FOR_S: Second = 6 * 3600;
/// A sensor is pressed for so long after a possible pressure low has passed (ours).
const PRESSED_FOR_S: Second = 3600;

/// Litres drunk in the 24 hours before each pair, by the drinks written down.
///
/// Known where each drink of these hours has its amount, and where drinks were written down in the 24 hours before them too:
/// else logging may only have begun, and what was drunk without being written down would count as nothing.
pub(super) fn litres(record: &Record, pairs: &[Pair]) -> Vec<Option<f64>> {
    let drinks: Vec<&Mark> = marks(record, MarkKind::Drink).collect();
    let between = |from: Second, to: Second| {
        let first = drinks.partition_point(|drink| drink.at <= from);
        let after = drinks.partition_point(|drink| drink.at <= to);
        &drinks[first..after.max(first)]
    };
    let of = |pair: &Pair| {
        let own = between(pair.at - DAY_S, pair.at);
        if own.is_empty() || between(pair.at - 2 * DAY_S, pair.at - DAY_S).is_empty() {
            return None;
        }
        let amounts: Option<Vec<f64>> = own
            .iter()
            .map(|drink| drink.value.filter(|ml| DRINK_ML.contains(ml)))
            .collect();
        amounts.map(|amounts| amounts.iter().sum::<f64>() / 1000.0)
    };
    pairs.iter().map(of).collect()
}

/// Degrees Celsius around the wearer at each pair: the last temperature written down in the six hours before.
pub(super) fn celsius(record: &Record, pairs: &[Pair]) -> Vec<Option<f64>> {
    let told: Vec<&Mark> = marks(record, MarkKind::Temperature)
        .filter(|mark| mark.value.is_some())
        .collect();
    let of = |pair: &Pair| {
        let after = told.partition_point(|mark| mark.at <= pair.at);
        let last = told[..after].last()?;
        (pair.at - last.at <= WARM_FOR_S).then_some(last.value).flatten()
    };
    pairs.iter().map(of).collect()
}

/// What pressure there may have been on the sensor of each pair.
pub(super) struct Pressure {
    /// Whether the pair lies in a possible pressure low of its sensor or within an hour after it.
    pub(super) pressed: Vec<bool>,
    /// In bed, where the side slept on was logged: whether it is the sensor's.
    pub(super) own_side: Vec<Option<bool>>,
}

/// The lows are looked for without the blood checks and without the wearer's words, which may rest on them: a check that
/// stands above the readings is a sign of pressure, and what was found by its difference must not then explain it.
pub(super) fn pressure(
    record: &Record,
    wears: &[SensorWear],
    pairs: &[Pair],
    night: Option<NightHours>,
) -> Pressure {
    let columns: Vec<Columns<'_>> = wears.iter().map(|wear| Columns::said(record, wear)).collect();
    let beside = Beside {
        words: false,
        ..Beside::all(&[], night)
    };
    let found = Pressed::look(record, wears, &columns, beside);
    let masks: Vec<Vec<bool>> = columns
        .iter()
        .enumerate()
        .map(|(wear, columns)| found.mask(record, wear, columns.at))
        .collect();
    let pressed = |pair: &Pair| {
        let (Some(columns), Some(mask)) = (columns.get(pair.sensor), masks.get(pair.sensor)) else {
            return false;
        };
        let from = columns
            .at
            .partition_point(|&at| Second::from(at) < pair.at - PRESSED_FOR_S);
        // The reading of the pair itself comes up to five minutes after the check.
        let after = columns
            .at
            .partition_point(|&at| Second::from(at) <= pair.at + pair.later_s);
        mask[from..after.max(from)].contains(&true)
    };
    let own_side = |pair: &Pair| {
        let side = wears.get(pair.sensor)?.worn.site.as_ref()?.side?;
        let at = u32::try_from(pair.at).ok()?;
        let mut nights = found.in_bed.iter();
        let in_bed = nights.find(|in_bed| (in_bed.night.from..in_bed.night.to).contains(&at))?;
        in_bed.side.map(|slept| slept == side)
    };
    Pressure {
        pressed: pairs.iter().map(pressed).collect(),
        own_side: pairs.iter().map(own_side).collect(),
    }
}

/// In time order, as the record has them.
fn marks(record: &Record, kind: MarkKind) -> impl Iterator<Item = &Mark> {
    let all = record.marks.iter().map(|kept| &kept.it);
    all.filter(move |mark| mark.kind == kind)
}
