//! Lows that a blood check showed and the sensor did not.

use interstice_glucose::{Said, Second};

use crate::episode::{Episode, EpisodeEnd, EpisodeKind};
use crate::ranges::{Band, Range, TargetGroup};

/// A sensor's low from so long before a check … (ours)
const BEFORE_S: Second = 15 * 60;
/// … to so long after it is the same low: sensors lag, and a low shows after a quarter of an hour of it (ours).
const AFTER_S: Second = 30 * 60;
/// A check in range up to so long after a low one says that it was over (ours).
const OVER_WITHIN_S: Second = 2 * 3600;
/// Where none does it is taken to go on for as long as first aid waits (American Diabetes Association, Standards of Care).
const GOES_ON_S: Second = 15 * 60;

/// The episodes, and among them those lows that blood checks alone show, by their start.
///
/// A check below the target range is a low, with those that follow it within two hours and are below it too, unless the sensor
/// shows one from a quarter of an hour before to half an hour after it. It ends with the first check in range within two hours, else a
/// quarter of an hour after the last low one, its end not seen. How long it lasted is not known: its length counts as nothing.
///
/// * `checks`: in time order, as the meter said them; held against the range in their own unit.
pub fn with_checked_lows(
    episodes: &[Episode],
    checks: &[(Second, Said)],
    group: TargetGroup,
) -> Vec<Episode> {
    let range = |said: Said| Band::of(said).range_for(group);
    let is_low = |said: Said| range(said) < Range::InRange;
    let mut all = episodes.to_vec();
    let mut next = 0;
    while let Some(&(at, said)) = checks.get(next) {
        next += 1;
        if !is_low(said) || shown(episodes, at) {
            continue;
        }
        let mut low = Episode {
            kind: EpisodeKind::Low,
            level: 1,
            extended: false,
            start: at,
            start_unknown: true,
            level2_start: None,
            end: at + GOES_ON_S,
            ending: EpisodeEnd::Gap,
            seconds: 0,
            extreme_mg_dl: f64::INFINITY,
            extreme_at: at,
            area_mg_dl_min: 0.0,
        };
        add(&mut low, at, said, range(said));
        while let Some(&(later, said)) = checks.get(next).filter(|check| check.0 <= at + OVER_WITHIN_S) {
            if !is_low(said) {
                (low.end, low.ending) = (later, EpisodeEnd::Recovered);
                break;
            }
            if shown(episodes, later) {
                break;
            }
            low.end = later + GOES_ON_S;
            add(&mut low, later, said, range(said));
            next += 1;
        }
        all.push(low);
    }
    all.sort_by_key(|episode| episode.start);
    all
}

/// Whether an episode is known by blood checks alone. One a sensor showed lasted a quarter of an hour.
pub fn is_by_check(episode: &Episode) -> bool {
    episode.seconds == 0
}

fn add(low: &mut Episode, at: Second, said: Said, range: Range) {
    let mg_dl = said.glucose().mg_per_dl();
    if mg_dl < low.extreme_mg_dl {
        (low.extreme_mg_dl, low.extreme_at) = (mg_dl, at);
    }
    if range == Range::VeryLow {
        low.level = 2;
        low.level2_start = low.level2_start.or(Some(at));
    }
}

/// Whether the sensor shows a low about then.
fn shown(episodes: &[Episode], at: Second) -> bool {
    let begun = episodes.partition_point(|episode| episode.start <= at + AFTER_S);
    let lows = episodes[..begun].iter().rev();
    lows.filter(|episode| episode.kind == EpisodeKind::Low)
        .take(1)
        .any(|low| low.end + BEFORE_S >= at)
}
