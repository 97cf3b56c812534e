//! The rules that link one thing to the next.

use interstice_glucose::Second;

use super::checked::is_by_check;
use super::pause::{self, Pause};
use super::roles::{Carbs, CarbsFor, Diary, DoseFor, Roles};
use super::{Link, LinkKind, Swing, SwingKind};
use crate::episode::{Episode, EpisodeEnd, EpisodeKind};
use crate::insulin::left_by_models;

/// A correction counts as stacked while at least this share of the one before is left (ours; no consensus definition was
/// found).
pub const STACKED_FROM: f64 = 0.20;
/// And while at least so many units are left of all corrections before (ours; the smallest step of pens): what a pump gives by
/// the dozen, in tenths of units, is no first dose for a second to come on top of.
const STACKED_UNITS: f64 = 0.5;
/// Corrections before this long are spent, seconds.
const STACKED_REACH_S: Second = 8 * 3600;
/// A low up to so long after the last correction belongs to it (ours, no source): rapid insulin lowers glucose for two to
/// four hours (Osteopath Med Prim Care 2007;1:9, table 4).
pub const CORRECTION_TO_LOW_S: Second = 4 * 3600;
/// A high that begins within this time after a low is a rebound (Acciaroli et al. 2022, J Diabetes Sci Technol 16:677).
pub const REBOUND_WITHIN_S: Second = 2 * 3600;
/// More than this against one low is more than first aid: 15 to 20 g (American Diabetes Association, Standards of Care).
pub const FIRST_AID_MOST_G: f64 = 20.0;
/// A meal of so many grams or more asks for a dose (ours, no source).
pub const MEAL_G: f64 = 20.0;
/// A dose so long after a meal began is late (ours). Taking it a quarter of an hour before lowers the rise by about 30 %
/// (Slattery et al. 2018, Diabet Med 35:306).
pub const DOSE_LATE_S: Second = 15 * 60;
/// A first dose up to so long after a meal is its own, though the sensor be high by then (ours, no source); a later one is an
/// answer to the high.
pub const MEAL_DOSE_WITHIN_S: Second = 3600;
/// Carbohydrate raises what the sensor shows no sooner than this (ours, no source): a high that begins before it was on its
/// way already.
const MEAL_ACTS_AFTER_S: Second = 15 * 60;
/// A high that begins within this time after a meal belongs to it (ours, no source).
pub const HIGH_AFTER_MEAL_S: Second = 3 * 3600;
/// A dose up to so long before a meal is its own (ours, no source).
const DOSE_BEFORE_S: Second = 60 * 60;
/// Someone who logs no rapid dose for so long around a meal does not log doses: nothing is told of a missing one.
const LOGS_DOSES_WITHIN_S: Second = 24 * 3600;

/// A part of a swing, by one rule.
struct Piece {
    kind: SwingKind,
    links: Vec<Link>,
    /// Episodes it brought: places in the diary.
    brought: Vec<usize>,
}

/// The swings of a diary, by their start.
///
/// * A **stacked correction**: a low within [`CORRECTION_TO_LOW_S`] after a correction, that itself came while
///   [`STACKED_FROM`] of the one before was left, and of all before at least half a unit; as many as follow one another
///   so.
/// * An **over-treated low**: more than [`FIRST_AID_MOST_G`] eaten against a low, and a high within [`REBOUND_WITHIN_S`]
///   of its end, with no meal between.
/// * A **rebound**: the same high with less eaten, or nothing.
/// * A **missed or late meal dose**: a meal of at least [`MEAL_G`] while the sensor was in range, no dose from an hour before to
///   [`DOSE_LATE_S`] after its start, a high that begins a quarter of an hour to [`HIGH_AFTER_MEAL_S`] later with no low between; late where
///   one was taken within [`MEAL_DOSE_WITHIN_S`]. Told only of a wearer who logs doses that day.
/// * A **treated pressure low**: something eaten against a low of which at least half counts as pressed. Such a low is in no
///   other swing.
///
/// Pieces that share an episode are one swing.
pub fn swings(diary: &Diary<'_>, roles: &Roles) -> Vec<Swing> {
    let mut pieces = Vec::new();
    for (place, episode) in diary.episodes.iter().enumerate() {
        if episode.kind == EpisodeKind::Low {
            of_low(diary, roles, place, &mut pieces);
        }
    }
    for (place, carbs) in diary.carbs.iter().enumerate() {
        if roles.carbs[place] == CarbsFor::Meal {
            pieces.extend(of_meal(diary, carbs));
        }
    }
    pieces.sort_by_key(|piece| (piece.links.first().map_or(0, |link| link.at), piece.kind));
    joined(pieces)
        .into_iter()
        .map(|pieces| swing(diary, pieces))
        .collect()
}

fn of_low(diary: &Diary<'_>, roles: &Roles, place: usize, pieces: &mut Vec<Piece>) {
    let low = &diary.episodes[place];
    let treatments = treatments(diary, roles, low);
    let rebound = rebound(diary, roles, low);
    if is_pressed(diary, low) {
        if !treatments.is_empty() {
            pieces.push(after_low(
                diary,
                SwingKind::TreatedPressureLow,
                LinkKind::PressureLow(place),
                &treatments,
                rebound,
            ));
        }
        return;
    }
    if let Some(stacked) = stacked(diary, roles, place) {
        pieces.push(stacked);
    }
    if rebound.is_some() {
        let counted: f64 = treatments.iter().filter_map(|carbs| carbs.grams).sum();
        let kind = if counted > FIRST_AID_MOST_G {
            SwingKind::OverTreatedLow
        } else {
            SwingKind::Rebound
        };
        pieces.push(after_low(diary, kind, LinkKind::Low(place), &treatments, rebound));
    }
}

/// What was eaten against a low, from a quarter of an hour before it showed to half an hour after.
pub(super) fn treatments<'a>(diary: &Diary<'a>, roles: &Roles, low: &Episode) -> Vec<&'a Carbs> {
    let (from, to) = (low.start - 15 * 60, low.end + 30 * 60);
    let eaten = diary.carbs_between(from, to + 1);
    eaten
        .filter(|(place, _)| roles.carbs[*place] == CarbsFor::Low)
        .map(|(_, carbs)| carbs)
        .collect()
}

/// The high that followed a low soon, unless a meal came between: place among the episodes.
pub(super) fn rebound(diary: &Diary<'_>, roles: &Roles, low: &Episode) -> Option<usize> {
    let from = diary.episodes.partition_point(|e| e.start <= low.start);
    let high = diary.episodes[from..]
        .iter()
        .take_while(|e| e.start <= low.end + REBOUND_WITHIN_S)
        .position(|e| e.kind == EpisodeKind::High)?
        + from;
    let mut between = diary.carbs_between(low.start, diary.episodes[high].start);
    let meal = |(place, carbs): (usize, &Carbs)| {
        roles.carbs[place] == CarbsFor::Meal && carbs.grams.is_none_or(|grams| grams >= MEAL_G)
    };
    (!between.any(meal)).then_some(high)
}

fn after_low(
    diary: &Diary<'_>,
    kind: SwingKind,
    low: LinkKind,
    treatments: &[&Carbs],
    rebound: Option<usize>,
) -> Piece {
    let mut links = Vec::with_capacity(treatments.len() + 2);
    if let LinkKind::Low(place) | LinkKind::PressureLow(place) = low {
        links.push(link(diary, diary.episodes[place].start, low));
    }
    for carbs in treatments {
        links.push(link(diary, carbs.at, LinkKind::Treatment { grams: carbs.grams }));
    }
    if let Some(high) = rebound {
        links.push(link(diary, diary.episodes[high].start, LinkKind::High(high)));
    }
    Piece {
        kind,
        links,
        brought: rebound.into_iter().collect(),
    }
}

/// The run of corrections before a low, each while enough of the one before was left; `None` with fewer than two.
fn stacked(diary: &Diary<'_>, roles: &Roles, place: usize) -> Option<Piece> {
    let low = &diary.episodes[place];
    let is_correction = |dose: usize| roles.doses[dose] == DoseFor::Correction;
    let mut near = diary.doses_between(low.start - CORRECTION_TO_LOW_S, low.start + 1);
    let last = near.rfind(|(dose, _)| is_correction(*dose))?.0;
    let mut links = Vec::new();
    let mut this = last;
    loop {
        let dose = &diary.doses[this];
        let before = (0..this)
            .rev()
            .find(|&dose| is_correction(dose))
            .and_then(|earlier| {
                let first = &diary.doses[earlier];
                let left = left_by_models(
                    first.insulin,
                    (dose.at - first.at) as f64 / 60.0,
                    first.units,
                    diary.own,
                )?;
                (left >= STACKED_FROM && counts_beside(diary, roles, this)).then_some((earlier, left))
            });
        let what = LinkKind::Correction {
            units: dose.units,
            insulin: dose.insulin,
            left: before.map(|(_, left)| left),
            after_s: before.map(|(earlier, _)| dose.at - diary.doses[earlier].at),
        };
        links.push(link(diary, dose.at, what));
        let Some((earlier, _)) = before else { break };
        this = earlier;
    }
    if links.len() < 2 {
        return None;
    }
    let first_at = diary.doses[this].at;
    if let Some(high) = high_at(diary, first_at) {
        links.push(link(diary, diary.episodes[high].start, LinkKind::High(high)));
    }
    links.reverse();
    links.push(link(diary, low.start, LinkKind::Low(place)));
    Some(Piece {
        kind: SwingKind::StackedCorrections,
        links,
        brought: vec![place],
    })
}

/// Whether what is left of the corrections before a dose is anything beside it.
fn counts_beside(diary: &Diary<'_>, roles: &Roles, this: usize) -> bool {
    let dose = &diary.doses[this];
    let left: f64 = diary
        .doses_between(dose.at - STACKED_REACH_S, dose.at)
        .filter(|(place, _)| roles.doses[*place] == DoseFor::Correction)
        .filter_map(|(_, before)| {
            let minutes = (dose.at - before.at) as f64 / 60.0;
            Some(before.units * left_by_models(before.insulin, minutes, before.units, diary.own)?)
        })
        .sum();
    left >= STACKED_UNITS
}

/// The high under way at a moment.
fn high_at(diary: &Diary<'_>, at: Second) -> Option<usize> {
    let begun = diary.episodes.partition_point(|e| e.start <= at);
    let last = (0..begun)
        .rev()
        .find(|&place| diary.episodes[place].kind == EpisodeKind::High)?;
    (diary.episodes[last].end >= at).then_some(last)
}

/// A meal without its dose, or with a late one, and the high after it.
fn of_meal(diary: &Diary<'_>, meal: &Carbs) -> Option<Piece> {
    if meal.grams.is_none_or(|grams| grams < MEAL_G) {
        return None;
    }
    let in_range = diary.low()..=diary.high();
    if !diary
        .shown(meal.at)
        .is_some_and(|mg_dl| in_range.contains(&mg_dl))
    {
        return None;
    }
    let in_time = (meal.at - DOSE_BEFORE_S, meal.at + DOSE_LATE_S + 1);
    if diary.doses_between(in_time.0, in_time.1).next().is_some() || !logs_doses(diary, meal.at) {
        return None;
    }
    let from = diary.episodes.partition_point(|e| e.start <= meal.at);
    let soon = diary.episodes[from..].first();
    if soon.is_some_and(|e| e.kind == EpisodeKind::High && e.start < meal.at + MEAL_ACTS_AFTER_S) {
        return None;
    }
    // A low in between, and what is eaten against it, has more to do with a high after it than the meal.
    let is_its = |e: &Episode| e.kind == EpisodeKind::High && e.start <= meal.at + HIGH_AFTER_MEAL_S;
    let high = diary.episodes.get(from).is_some_and(is_its).then_some(from)?;
    let eaten = |undosed: bool| LinkKind::Meal {
        grams: meal.grams,
        undosed,
    };
    let late = diary
        .doses_between(in_time.1, meal.at + MEAL_DOSE_WITHIN_S)
        .next();
    let mut links = vec![link(diary, meal.at, eaten(late.is_none()))];
    if let Some((_, dose)) = late {
        let what = LinkKind::LateDose {
            units: dose.units,
            late_s: dose.at - meal.at,
        };
        links.push(link(diary, dose.at, what));
    }
    links.push(link(diary, diary.episodes[high].start, LinkKind::High(high)));
    Some(Piece {
        kind: if late.is_some() {
            SwingKind::LateMealDose
        } else {
            SwingKind::MissedMealDose
        },
        links,
        brought: vec![high],
    })
}

fn logs_doses(diary: &Diary<'_>, at: Second) -> bool {
    let (from, to) = (at - LOGS_DOSES_WITHIN_S, at + LOGS_DOSES_WITHIN_S);
    diary.doses_between(from, to).next().is_some()
}

pub(super) fn is_pressed(diary: &Diary<'_>, low: &Episode) -> bool {
    // Blood is not pressed.
    if is_by_check(low) {
        return false;
    }
    let until = low.end.max(low.start + 1);
    let pressed: Second = diary
        .pressed
        .iter()
        .map(|&(from, to)| (to.min(until) - from.max(low.start)).max(0))
        .sum();
    2 * pressed >= until - low.start
}

fn link(diary: &Diary<'_>, at: Second, what: LinkKind) -> Link {
    Link {
        at,
        what,
        shown_mg_dl: diary.shown(at),
    }
}

/// Pieces that share an episode, together; they come by their start, and so do the groups.
fn joined(pieces: Vec<Piece>) -> Vec<Vec<Piece>> {
    let mut groups: Vec<Vec<Piece>> = Vec::new();
    let mut group_of = std::collections::BTreeMap::<usize, usize>::new();
    for piece in pieces {
        let episodes = episodes_of(&piece.links);
        let mut met: Vec<usize> = episodes.iter().filter_map(|e| group_of.get(e).copied()).collect();
        met.sort_unstable();
        met.dedup();
        let group = met.first().copied().unwrap_or_else(|| {
            groups.push(Vec::new());
            groups.len() - 1
        });
        for &other in met.iter().skip(1) {
            let moved = std::mem::take(&mut groups[other]);
            groups[group].extend(moved);
            for of in group_of.values_mut().filter(|of| **of == other) {
                *of = group;
            }
        }
        for episode in episodes {
            group_of.insert(episode, group);
        }
        groups[group].push(piece);
    }
    groups.retain(|group| !group.is_empty());
    groups
}

fn episodes_of(links: &[Link]) -> Vec<usize> {
    links.iter().filter_map(|link| episode_of(link.what)).collect()
}

fn episode_of(what: LinkKind) -> Option<usize> {
    match what {
        LinkKind::High(place) | LinkKind::Low(place) | LinkKind::PressureLow(place) => Some(place),
        _ => None,
    }
}

fn swing(diary: &Diary<'_>, pieces: Vec<Piece>) -> Swing {
    let (mut links, mut kinds, mut brought) = (Vec::<Link>::new(), Vec::new(), Vec::new());
    for piece in pieces {
        for link in piece.links {
            // A dose may stand in two pieces, told more fully in one: the first time is enough.
            if !links
                .iter()
                .any(|have| have.at == link.at && alike(have.what, link.what))
            {
                links.push(link);
            }
        }
        if !kinds.contains(&piece.kind) {
            kinds.push(piece.kind);
        }
        brought.extend(piece.brought);
    }
    brought.sort_unstable();
    brought.dedup();
    links.sort_by_key(|link| (link.at, order(link.what)));
    let seconds = |kind: EpisodeKind| -> i64 {
        let episodes = brought.iter().map(|&place| &diary.episodes[place]);
        episodes.filter(|e| e.kind == kind).map(|e| e.seconds).sum()
    };
    let ends = episodes_of(&links)
        .into_iter()
        .map(|place| diary.episodes[place].end)
        .chain(links.last().map(|link| link.at));
    let pauses: Vec<Pause> = pause::pauses(diary, &links);
    Swing {
        kinds,
        start: links.first().map_or(0, |link| link.at),
        end: ends.max().unwrap_or(0),
        low_s: seconds(EpisodeKind::Low),
        high_s: seconds(EpisodeKind::High),
        pauses,
        links,
    }
}

fn alike(a: LinkKind, b: LinkKind) -> bool {
    match (episode_of(a), episode_of(b)) {
        (None, None) => std::mem::discriminant(&a) == std::mem::discriminant(&b),
        (a, b) => a == b,
    }
}

/// Where two links fall on one instant: cause before what it brought.
fn order(what: LinkKind) -> u8 {
    match what {
        LinkKind::Meal { .. } => 0,
        LinkKind::LateDose { .. } => 1,
        LinkKind::High(_) => 2,
        LinkKind::Correction { .. } => 3,
        LinkKind::Low(_) | LinkKind::PressureLow(_) => 4,
        LinkKind::Treatment { .. } => 5,
    }
}

/// Whether an episode's end was seen.
pub(super) fn recovered(episode: &Episode) -> Option<Second> {
    (episode.ending == EpisodeEnd::Recovered).then_some(episode.end)
}
