//! How long sensors stay on, by what they have in common.

use std::collections::BTreeMap;

use interstice_glucose::{Ending, SensorKind, counted};
use interstice_methods::Interval;
use interstice_methods::agreement::share_interval;
use interstice_methods::staying::{Stay, log_rank, still_on};
use serde::ser::SerializeMap;
use serde::{Serialize, Serializer};

use super::Worn;
use super::against::{Against, FEWEST_EXPECTED, against_others};
use crate::Figure;
use crate::figure::figure_entry;

/// Confidence of every interval.
pub(super) const CONFIDENCE: f64 = 0.95;
/// A group without any preparation or cover, as trials call it.
const NOTHING: &str = "nothing";
/// What stands for a week, hours.
const WEEK_H: f64 = 168.0;

/// How long sensors stayed on, by one thing they have in common.
#[derive(Clone, Debug)]
pub struct Staying {
    /// What they are told apart by: 'all', 'site', 'side', 'preparation', 'cover'.
    pub by: &'static str,
    /// The groups.
    pub groups: Vec<Group>,
    /// Chance of so large a difference between the groups if they were alike (log-rank), or why it cannot be told.
    pub p: Figure,
}

/// Sensors of one kind of wear.
#[derive(Clone, Debug)]
pub struct Group {
    /// What they have in common; 'all' where nothing is told apart.
    pub name: String,
    /// Sensors.
    pub sensors: u64,
    /// Lost of them: came off, failed, or taken off for pain or the skin.
    pub lost: u64,
    /// Lost because they came off or were knocked off.
    pub came_off: u64,
    /// Lost because they failed.
    pub failed: u64,
    /// Lost because they hurt, or because of the skin.
    pub pain_or_skin: u64,
    /// Share still on after a week, percent.
    pub week_percent: Figure,
    /// Share that lasts to the labelled end, percent.
    pub labelled_percent: Figure,
    /// Mean hours worn, none counted beyond the labelled wear.
    pub mean_h: Figure,
    /// The longest time any was worn, hours: the curve ends there.
    pub longest_h: f64,
    /// The curve: one point a loss.
    pub curve: Vec<Point>,
    /// Held against all others of the table; `None` where there are none.
    pub against_others: Option<Against>,
}

impl Serialize for Staying {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("by", self.by)?;
        map.serialize_entry("groups", &self.groups)?;
        figure_entry(&mut map, "p", &self.p)?;
        map.end()
    }
}

impl Serialize for Group {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("name", &self.name)?;
        map.serialize_entry("sensors", &self.sensors)?;
        map.serialize_entry("lost", &self.lost)?;
        map.serialize_entry("came_off", &self.came_off)?;
        map.serialize_entry("failed", &self.failed)?;
        map.serialize_entry("pain_or_skin", &self.pain_or_skin)?;
        figure_entry(&mut map, "week_percent", &self.week_percent)?;
        figure_entry(&mut map, "labelled_percent", &self.labelled_percent)?;
        figure_entry(&mut map, "mean_h", &self.mean_h)?;
        map.serialize_entry("longest_h", &self.longest_h)?;
        map.serialize_entry("curve", &self.curve)?;
        map.serialize_entry("against_others", &self.against_others)?;
        map.end()
    }
}

/// The curve at one loss.
#[derive(Clone, Debug, Serialize)]
pub struct Point {
    /// Hours after being put on.
    pub hours: f64,
    /// Share still on, percent.
    pub percent: f64,
    /// Its interval.
    pub lo95: Option<f64>,
    /// Its interval.
    pub hi95: Option<f64>,
    /// Sensors at risk just before.
    pub at_risk: u64,
}

/// All together, and by each thing that at least two groups tell apart.
pub(super) fn staying(worn: &[Worn], kind: Option<&SensorKind>) -> Vec<Staying> {
    let limit = kind.map(|kind| f64::from(kind.wear_min) / 60.0);
    let all: Vec<&Worn> = worn.iter().filter(|worn| worn.hours > 0.0).collect();
    if all.is_empty() {
        return Vec::new();
    }
    let mut out = vec![Staying {
        by: "all",
        groups: vec![group("all".to_owned(), &all, limit)],
        p: Figure::missing("nothing is told apart"),
    }];
    type Name = fn(&Worn) -> Option<String>;
    let ways: [(&'static str, Name); 4] = [
        ("site", |worn| {
            worn.site().map(|site| site.region.name().to_owned())
        }),
        ("side", |worn| {
            worn.site()?.side.map(|side| side.name().to_owned())
        }),
        ("preparation", |worn| {
            tags_or_nothing(&worn.it.detail.preparation, &worn.it.detail.cover)
        }),
        ("cover", |worn| {
            tags_or_nothing(&worn.it.detail.cover, &worn.it.detail.preparation)
        }),
    ];
    for (by, name) in ways {
        let mut groups: BTreeMap<String, Vec<&Worn>> = BTreeMap::new();
        for worn in &all {
            if let Some(name) = name(worn) {
                groups.entry(name).or_default().push(worn);
            }
        }
        if groups.len() >= 2 {
            out.push(told_apart(by, groups, limit));
        }
    }
    out
}

/// Tags in one order, so that 'wash, alcohol' and 'alcohol, wash' are one.
pub(super) fn tags(tags: &[String]) -> Option<String> {
    let mut sorted: Vec<&str> = tags.iter().map(String::as_str).collect();
    sorted.sort_unstable();
    sorted.dedup();
    (!sorted.is_empty()).then(|| sorted.join(", "))
}

/// Where one of the two was written down and the other was not, there was none of it.
fn tags_or_nothing(of: &[String], beside: &[String]) -> Option<String> {
    tags(of).or_else(|| tags(beside).map(|_| NOTHING.to_owned()))
}

fn told_apart(by: &'static str, groups: BTreeMap<String, Vec<&Worn>>, limit: Option<f64>) -> Staying {
    let stays: Vec<Vec<Stay>> = groups.values().map(|worn| stays(worn)).collect();
    let slices: Vec<&[Stay]> = stays.iter().map(Vec::as_slice).collect();
    let p = match log_rank(&slices) {
        None => Figure::missing("no sensor was lost while others of another group were on"),
        Some(compared) => {
            let fewest = compared
                .groups
                .iter()
                .map(|&(_, _, expected)| expected)
                .fold(f64::INFINITY, f64::min);
            if fewest < FEWEST_EXPECTED {
                let lost: u64 = compared.groups.iter().map(|&(_, lost, _)| lost).sum();
                Figure::missing(format!(
                    "{} too few to compare groups; about {} would do at this pace",
                    counted(lost, "loss is", "losses are"),
                    enough(lost, fewest)
                ))
            } else {
                Figure::plain(compared.p)
            }
        }
    };
    Staying {
        by,
        groups: groups
            .into_iter()
            .zip(against_others(&stays, limit))
            .map(|((name, worn), against)| Group {
                against_others: Some(against),
                ..group(name, &worn, limit)
            })
            .collect(),
        p,
    }
}

/// Losses in all at which five would be expected in the group that has fewest.
fn enough(lost: u64, fewest: f64) -> u64 {
    (lost as f64 * FEWEST_EXPECTED / fewest.max(0.05)).ceil() as u64
}

fn stays(worn: &[&Worn]) -> Vec<Stay> {
    worn.iter().map(|worn| worn.stay()).collect()
}

fn group(name: String, worn: &[&Worn], limit: Option<f64>) -> Group {
    let stays = stays(worn);
    let curve = still_on(&stays, CONFIDENCE);
    let share = |hours: f64| match &curve {
        None => Figure::missing("no sensor was worn for any time"),
        Some(curve) => match curve.at(hours) {
            None => Figure::missing(format!(
                "no sensor was worn for {} days yet",
                (hours / 24.0).round()
            )),
            Some(share) => {
                let step = curve.steps.iter().rev().find(|step| step.hours <= hours);
                // Where none was lost the curve gives no margin; those worn so long give one that is exact.
                let within = step.map_or_else(|| Some(none_lost(&stays, hours)), |step| step.within);
                Figure {
                    value: Some(100.0 * share),
                    lo95: within.map(|within| 100.0 * within.lo),
                    hi95: within.map(|within| 100.0 * within.hi),
                    reason: None,
                }
            }
        },
    };
    let labelled = |hours: Option<f64>| hours.map_or_else(no_kind, share);
    let mean = limit.map_or_else(no_kind, |limit| {
        match curve
            .as_ref()
            .and_then(|curve| curve.mean_up_to(limit, CONFIDENCE))
        {
            None => Figure::missing("no sensor was worn to its labelled end yet"),
            Some(mean) if mean.error > 0.0 => Figure {
                value: Some(mean.hours),
                lo95: Some(mean.within.lo),
                hi95: Some(mean.within.hi),
                reason: None,
            },
            Some(mean) => Figure {
                value: Some(mean.hours),
                reason: Some("none was lost, so that no margin can be given".to_owned()),
                ..Figure::default()
            },
        }
    });
    let lost = |cause: fn(Ending) -> bool| {
        let by_it = |worn: &&&Worn| worn.is_lost() && worn.it.ending().is_some_and(cause);
        worn.iter().filter(by_it).count() as u64
    };
    Group {
        name,
        sensors: stays.len() as u64,
        lost: stays.iter().filter(|stay| stay.lost).count() as u64,
        came_off: lost(Ending::is_off),
        failed: lost(Ending::is_failure),
        pain_or_skin: lost(|ending| ending == Ending::PainOrSkin),
        week_percent: share(WEEK_H),
        labelled_percent: labelled(limit),
        mean_h: mean,
        longest_h: curve.as_ref().map_or(0.0, |curve| curve.longest),
        curve: curve.iter().flat_map(|curve| &curve.steps).map(point).collect(),
        against_others: None,
    }
}

/// The margin of 'all of those worn so long': exact (Clopper and Pearson).
fn none_lost(stays: &[Stay], hours: f64) -> Interval {
    let so_long = stays.iter().filter(|stay| stay.hours >= hours).count() as u64;
    share_interval(so_long, so_long, CONFIDENCE)
}

fn no_kind() -> Figure {
    Figure::missing("describe your kind of sensor first, with `interstice sensor-kind`")
}

fn point(step: &interstice_methods::staying::Step) -> Point {
    Point {
        hours: step.hours,
        percent: 100.0 * step.still_on,
        lo95: step.within.map(|within| 100.0 * within.lo),
        hi95: step.within.map(|within| 100.0 * within.hi),
        at_risk: step.at_risk,
    }
}
