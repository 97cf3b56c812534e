//! The ends of a device's range: values that pile up there, and 'low' or 'high' without a number.

use std::collections::BTreeMap;

use interstice_glucose::{Censor, Draft, Level, Said, TraceKind, Unit, counted, one_or_many};

use crate::assemble::is_edge_unknown;

/// Readings that must stand at an extreme value before it is taken as the edge of the range.
const PILE: usize = 4;
/// How many times more there must be than at each of the next values.
const PILE_RATIO: usize = 2;
/// Where devices end, mg/dL: below this, above that.
const LOWEST_EDGE: (f64, f64) = (18.0, 56.0);
const HIGHEST_EDGE: (f64, f64) = (350.0, 620.0);

/// Marks piled-up extreme values as censored and gives 'low' and 'high' their number. Says what was decided.
pub(crate) fn settle(draft: &mut Draft) -> Vec<String> {
    let mut notes = Vec::new();
    let counts = level_counts(draft);
    let low = edge(draft, &counts, Censor::Below);
    let high = edge(draft, &counts, Censor::Above);
    let mut replaced: Vec<(u32, Said)> = Vec::new();
    for (censor, found) in [(Censor::Below, low), (Censor::Above, high)] {
        if let Some(found) = found {
            let word = if censor == Censor::Below { "below" } else { "above" };
            if !found.pile.is_empty() {
                let many: usize = found.pile.iter().map(|&level| counts[level as usize]).sum();
                notes.push(format!(
                    "{} of {} {} up at the end of the sensor's range and {} as {word} it",
                    counted(many as u64, "value", "values"),
                    found.said,
                    one_or_many(&many, "piles", "pile"),
                    one_or_many(&many, "counts", "count")
                ));
            }
            for level in found.pile {
                let said = draft.levels.get(level).said;
                replaced.extend(
                    Said::new(said.mantissa(), said.decimals(), said.unit(), censor)
                        .ok()
                        .map(|s| (level, s)),
                );
            }
        }
        notes.extend(name_unknown(
            draft,
            censor,
            found_said(draft, &counts, censor),
            &mut replaced,
        ));
    }
    apply(draft, &replaced);
    notes
}

/// An edge found in the readings.
struct Edge {
    said: Said,
    pile: Vec<u32>,
}

/// How often each level stands in automatic readings.
fn level_counts(draft: &Draft) -> Vec<usize> {
    let mut counts = vec![0; draft.levels.len()];
    for trace in draft.traces.iter().filter(|t| t.kind == TraceKind::Automatic) {
        for &level in trace.readings.level() {
            counts[level as usize] += 1;
        }
    }
    counts
}

/// Levels in use from the extreme inwards, uncensored, with their counts.
fn from_extreme(draft: &Draft, counts: &[usize], censor: Censor) -> Vec<(u32, Level, usize)> {
    let mut levels: Vec<(u32, Level, usize)> = (0u32..)
        .zip(draft.levels.as_slice())
        .filter(|(_, level)| level.said.censor() == Censor::None)
        .map(|(index, &level)| (index, level, counts[index as usize]))
        .filter(|&(_, _, count)| count > 0)
        .collect();
    levels.sort_by(|a, b| a.1.mg_per_dl.total_cmp(&b.1.mg_per_dl));
    if censor == Censor::Above {
        levels.reverse();
    }
    levels
}

/// The value at which readings pile up, if they do. Values of a long chain of digits cannot pile up by chance.
fn edge(draft: &Draft, counts: &[usize], censor: Censor) -> Option<Edge> {
    let levels = from_extreme(draft, counts, censor);
    let &(index, extreme, count) = levels.first()?;
    let (least, most) = if censor == Censor::Below {
        LOWEST_EDGE
    } else {
        HIGHEST_EDGE
    };
    if !(least..=most).contains(&extreme.mg_per_dl) || count < PILE {
        return None;
    }
    let next = levels.iter().skip(1).take(3).map(|l| l.2).max().unwrap_or(0);
    (count >= PILE_RATIO * next.max(1)).then(|| Edge {
        said: extreme.said,
        pile: vec![index],
    })
}

/// The number the file itself gives as the edge: a censored number, else a pile, else an extreme that stands where
/// devices end.
fn found_said(draft: &Draft, counts: &[usize], censor: Censor) -> Option<Said> {
    let said = draft
        .levels
        .as_slice()
        .iter()
        .map(|l| l.said)
        .find(|s| s.censor() == censor && !is_edge_unknown(*s));
    said.or_else(|| edge(draft, counts, censor).map(|e| e.said))
        .or_else(|| {
            let known = if censor == Censor::Below {
                [39.0, 40.0]
            } else {
                [400.0, 500.0]
            };
            let extreme = from_extreme(draft, counts, censor).first()?.1;
            known
                .iter()
                .any(|k| (extreme.mg_per_dl - k).abs() < 0.7)
                .then_some(extreme.said)
        })
}

/// Gives 'low' or 'high' without a number the file's own edge, or the usual one.
fn name_unknown(
    draft: &mut Draft,
    censor: Censor,
    own: Option<Said>,
    replaced: &mut Vec<(u32, Said)>,
) -> Option<String> {
    let unknown: Vec<(u32, Said)> = (0u32..)
        .zip(draft.levels.as_slice())
        .map(|(i, l)| (i, l.said))
        .filter(|(_, s)| s.censor() == censor && is_edge_unknown(*s))
        .collect();
    let in_blood = draft
        .blood_checks
        .iter()
        .any(|b| b.said.censor() == censor && is_edge_unknown(b.said));
    if unknown.is_empty() && !in_blood {
        return None;
    }
    let mut named = own.and_then(|s| Said::new(s.mantissa(), s.decimals(), s.unit(), censor).ok());
    for &(level, said) in &unknown {
        let edge = *named.get_or_insert_with(|| usual(said.unit(), censor));
        replaced.push((level, edge));
    }
    for check in draft
        .blood_checks
        .iter_mut()
        .filter(|b| b.said.censor() == censor && is_edge_unknown(b.said))
    {
        check.said = *named.get_or_insert_with(|| usual(check.said.unit(), censor));
    }
    let word = if censor == Censor::Below { "below" } else { "above" };
    let edge = named?;
    let whose = if own.is_some() {
        "the end of the range seen in the file"
    } else {
        "the usual end of the range, since the file names none"
    };
    Some(format!(
        "values that say only '{word} range' are kept as {edge}: {whose}"
    ))
}

/// 40 and 400 mg/dL, 2.2 and 22.2 mmol/L: the range of most devices.
fn usual(unit: Unit, censor: Censor) -> Said {
    let (mantissa, decimals) = match (unit, censor) {
        (Unit::MgPerDl, Censor::Above) => (400, 0),
        (Unit::MgPerDl, _) => (40, 0),
        (Unit::MmolPerL, Censor::Above) => (222, 1),
        (Unit::MmolPerL, _) => (22, 1),
    };
    Said::new(mantissa, decimals, unit, censor).unwrap_or(Said::whole_mg_per_dl(mantissa))
}

/// Replaces levels in all readings, in a table that holds only what is used.
fn apply(draft: &mut Draft, replaced: &[(u32, Said)]) {
    if replaced.is_empty() {
        return;
    }
    let replaced: BTreeMap<u32, Said> = replaced.iter().copied().collect();
    let old = std::mem::take(&mut draft.levels);
    let mut places: Vec<Option<u32>> = vec![None; old.len()];
    for trace in &mut draft.traces {
        for i in 0..trace.readings.len() {
            let level = trace.readings.level()[i];
            let place = places[level as usize].get_or_insert_with(|| {
                draft
                    .levels
                    .intern(replaced.get(&level).copied().unwrap_or(old.get(level).said))
            });
            trace.readings.set_level(i, *place);
        }
    }
}
