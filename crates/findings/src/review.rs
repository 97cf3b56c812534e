//! Review: what really happened in a window.

use interstice_glucose::{Pass, Unit};
use serde::ser::SerializeMap;
use serde::{Serialize, Serializer};

use interstice_methods::Targets;

use crate::figure::figure_entry;
use crate::meals::MealsFindings;
use crate::patterns::PatternsFindings;
use crate::swings::SwingsFindings;
use crate::{CheckFindings, Figure, Time};

/// Everything the Review page, the text account and `review --json` show.
#[derive(Clone, Debug, Serialize)]
pub struct ReviewFindings {
    /// Unit the wearer reads; the numbers below are in mg/dL all the same.
    #[serde(serialize_with = "symbol")]
    pub unit: Unit,
    /// Whether readings that count as pressed or are marked as artefacts were left out of every figure.
    pub without_artefacts: bool,
    /// What that is, and the figures with it; absent unless it was asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub left_out: Option<LeftOut>,
    /// What was asked for.
    pub window: Window,
    /// Whether there is enough to trust it.
    pub sufficiency: Sufficiency,
    /// All readings, or those not left out.
    pub summary: Summary,
    /// Without readings marked as artefacts; absent when none are marked, and where they are left out anyway.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub summary_without_artefacts: Option<Summary>,
    /// The edges of the ranges and the targets they are held against, of the wearer's group.
    #[serde(serialize_with = "targets")]
    pub targets: Targets,
    /// Time in each range of an average day.
    pub average_day: RangeMinutes,
    /// Percentiles by clock time, every five minutes; empty when nothing can be given.
    pub usual_day: Vec<UsualMinute>,
    /// The same for Monday to Friday.
    pub usual_weekday: Vec<UsualMinute>,
    /// The same for Saturday and Sunday.
    pub usual_weekend: Vec<UsualMinute>,
    /// One line a lived day, oldest first.
    pub days: Vec<DayLine>,
    /// Low and high episodes, oldest first.
    pub episodes: Vec<EpisodeLine>,
    /// The traces the readings came from.
    pub traces: Vec<TraceLine>,
    /// Swings, how lows were treated, and how soon the wearer acts.
    #[serde(flatten)]
    pub swings: SwingsFindings,
    /// Meals and what followed.
    #[serde(flatten)]
    pub meals: MealsFindings,
    /// What comes again.
    #[serde(flatten)]
    pub patterns: PatternsFindings,
    /// The blood checks of the window, where it has checks and no readings; absent otherwise.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub blood_checks: Option<CheckFindings>,
    /// Seed of the bootstrap intervals.
    pub seed: u64,
    /// Things the reader must know: 'clock changed on …', 'two sensors overlapped'.
    pub notes: Vec<String>,
}

pub(crate) fn symbol<S: Serializer>(unit: &Unit, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_str(unit.symbol())
}

/// What was left out of an account. All of it stays in the book and on every other page.
#[derive(Clone, Debug, Serialize)]
pub struct LeftOut {
    /// Possible pressure lows, not judged by the wearer.
    pub possible: u64,
    /// Lows the wearer said were pressure.
    pub said: u64,
    /// Stretches marked as not to be believed.
    pub marked: u64,
    /// Flagged lows the wearer said were real: they are in the figures.
    pub kept_real: u64,
    /// Readings left out.
    pub readings: u64,
    /// Time they stand for.
    pub minutes: f64,
    /// Each low left out, oldest first.
    pub lows: Vec<LeftOutLow>,
    /// The same figures with all of it; absent where nothing was left out.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub summary_with: Option<Summary>,
}

/// A low left out of an account.
#[derive(Clone, Debug, Serialize)]
pub struct LeftOutLow {
    /// The sensor's name in the file.
    pub sensor: String,
    /// Its first reading left out.
    pub start: Time,
    /// The last.
    pub end: Time,
    /// Whether the wearer said that it was pressure; else it is only possible.
    pub said: bool,
}

/// The window of a question.
#[derive(Clone, Debug, Serialize)]
pub struct Window {
    /// First instant.
    pub from: Time,
    /// First instant no longer in it.
    pub to: Time,
    /// Lived calendar days it touches.
    pub days: u32,
}

/// Whether there are enough readings.
#[derive(Clone, Debug, Serialize)]
pub struct Sufficiency {
    /// Readings a sensor worn all the time would have given.
    pub expected: u64,
    /// Readings received.
    pub received: u64,
    /// Time active, percent.
    pub active_percent: Option<f64>,
    /// Days with any reading.
    pub days_with_data: u32,
    /// Whether consensus sufficiency (14 days, 70 % active) is met.
    pub enough: bool,
    /// What is missing, in words; `None` when enough.
    pub reason: Option<String>,
}

/// Consensus measures and indices.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Summary {
    /// Mean, mg/dL.
    pub mean_mg_dl: Figure,
    /// Standard deviation, mg/dL.
    pub sd_mg_dl: Figure,
    /// Coefficient of variation, percent.
    pub cv_percent: Figure,
    /// Glucose management indicator, percent.
    pub gmi_percent: Figure,
    /// Time below 54 mg/dL, percent.
    pub very_low_percent: Figure,
    /// Time from 54 mg/dL to below the target range, percent.
    pub low_percent: Figure,
    /// Time below the target range in all (very low and low together), percent. Consensus targets are set on this.
    pub below_percent: Figure,
    /// Time in the target range of the wearer's group (70 to 180 mg/dL; 63 to 140 in pregnancy), percent.
    pub in_range_percent: Figure,
    /// Time above the target range to 250 mg/dL, percent.
    pub high_percent: Figure,
    /// Time above 250 mg/dL, percent.
    pub very_high_percent: Figure,
    /// Time above the target range in all (high and very high together), percent.
    pub above_percent: Figure,
    /// Time from 70 to 140 mg/dL, percent.
    pub tight_range_percent: Figure,
    /// Low blood glucose index.
    pub lbgi: Figure,
    /// High blood glucose index.
    pub hbgi: Figure,
    /// Glycaemia risk index.
    pub gri: Figure,
    /// Its hypoglycaemia component.
    pub gri_hypo: Figure,
    /// Its hyperglycaemia component.
    pub gri_hyper: Figure,
    /// Mean amplitude of glycaemic excursions, mg/dL.
    pub mage_mg_dl: Figure,
    /// Mean of daily differences, mg/dL.
    pub modd_mg_dl: Figure,
    /// J-index.
    pub j_index: Figure,
    /// Continuous overall net glycaemic action over one hour, mg/dL.
    pub conga1_mg_dl: Figure,
}

impl Summary {
    /// Every figure with its name in `--json`, in that order.
    pub fn named(&self) -> [(&'static str, &Figure); 21] {
        [
            ("mean_mg_dl", &self.mean_mg_dl),
            ("sd_mg_dl", &self.sd_mg_dl),
            ("cv_percent", &self.cv_percent),
            ("gmi_percent", &self.gmi_percent),
            ("very_low_percent", &self.very_low_percent),
            ("low_percent", &self.low_percent),
            ("below_percent", &self.below_percent),
            ("in_range_percent", &self.in_range_percent),
            ("high_percent", &self.high_percent),
            ("very_high_percent", &self.very_high_percent),
            ("above_percent", &self.above_percent),
            ("tight_range_percent", &self.tight_range_percent),
            ("lbgi", &self.lbgi),
            ("hbgi", &self.hbgi),
            ("gri", &self.gri),
            ("gri_hypo", &self.gri_hypo),
            ("gri_hyper", &self.gri_hyper),
            ("mage_mg_dl", &self.mage_mg_dl),
            ("modd_mg_dl", &self.modd_mg_dl),
            ("j_index", &self.j_index),
            ("conga1_mg_dl", &self.conga1_mg_dl),
        ]
    }
}

impl Serialize for Summary {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        for (name, figure) in self.named() {
            figure_entry(&mut map, name, figure)?;
        }
        map.end()
    }
}

/// The targets under the names they have in `--json`; percentages of time, glucose in mg/dL.
pub(crate) fn targets<S: Serializer>(of: &Targets, serializer: S) -> Result<S::Ok, S::Error> {
    let mut map = serializer.serialize_map(None)?;
    map.serialize_entry("group", of.group.name())?;
    for (name, value) in [
        ("very_low_below_mg_dl", Some(of.very_low_below_mg_dl)),
        ("range_low_mg_dl", Some(of.range_low_mg_dl)),
        ("range_high_mg_dl", Some(of.range_high_mg_dl)),
        ("very_high_above_mg_dl", Some(of.very_high_above_mg_dl)),
        ("in_range_over_percent", Some(of.in_range_over_percent)),
        ("below_under_percent", Some(of.below_under_percent)),
        ("very_low_under_percent", of.very_low_under_percent),
        ("above_under_percent", of.above_under_percent),
        ("very_high_under_percent", of.very_high_under_percent),
        ("cv_at_most_percent", Some(of.cv_at_most_percent)),
    ] {
        map.serialize_entry(name, &value)?;
    }
    map.end()
}

/// Minutes of an average 24-hour day in each range.
#[derive(Clone, Debug, Default, Serialize)]
pub struct RangeMinutes {
    /// Below 54 mg/dL.
    pub very_low_min: Option<f64>,
    /// From 54 mg/dL to below the target range.
    pub low_min: Option<f64>,
    /// Below the target range in all.
    pub below_min: Option<f64>,
    /// In the target range.
    pub in_range_min: Option<f64>,
    /// Above the target range to 250 mg/dL.
    pub high_min: Option<f64>,
    /// Above 250 mg/dL.
    pub very_high_min: Option<f64>,
    /// Above the target range in all.
    pub above_min: Option<f64>,
}

/// Percentiles at one clock time.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct UsualMinute {
    /// Minutes since midnight on the wall clock.
    pub minute: u32,
    /// Days behind it.
    pub days: u32,
    /// 5th percentile, mg/dL; `None` when too few days.
    pub p5_mg_dl: Option<f64>,
    /// 25th percentile.
    pub p25_mg_dl: Option<f64>,
    /// Median.
    pub p50_mg_dl: Option<f64>,
    /// 75th percentile.
    pub p75_mg_dl: Option<f64>,
    /// 95th percentile.
    pub p95_mg_dl: Option<f64>,
}

/// One lived day.
#[derive(Clone, Debug, Serialize)]
pub struct DayLine {
    /// Calendar date, 'YYYY-MM-DD'.
    pub date: String,
    /// Monday = 1 to Sunday = 7.
    pub weekday: u8,
    /// Its first instant.
    pub from: Time,
    /// Its length: 23, 24 or 25 hours, or what a voyage made of it.
    pub hours: f64,
    /// Readings received.
    pub received: u64,
    /// Time active, percent.
    pub active_percent: f64,
    /// Mean, mg/dL.
    pub mean_mg_dl: Option<f64>,
    /// Lowest reading, mg/dL.
    pub lowest_mg_dl: Option<f64>,
    /// Highest reading, mg/dL.
    pub highest_mg_dl: Option<f64>,
    /// Readings below what the sensor can measure; they are kept at its limit.
    pub censored_below: u32,
    /// Readings above what the sensor can measure; they are kept at its limit.
    pub censored_above: u32,
    /// Time below 54 mg/dL, percent.
    pub very_low_percent: Option<f64>,
    /// Time from 54 mg/dL to below the target range, percent.
    pub low_percent: Option<f64>,
    /// Time below the target range in all, percent.
    pub below_percent: Option<f64>,
    /// Time in range, percent.
    pub in_range_percent: Option<f64>,
    /// Time above the target range to 250 mg/dL, percent.
    pub high_percent: Option<f64>,
    /// Time above 250 mg/dL, percent.
    pub very_high_percent: Option<f64>,
    /// Time above the target range in all, percent.
    pub above_percent: Option<f64>,
}

/// Low or high.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum EpisodeKind {
    /// Below the target range.
    Low,
    /// Above the target range.
    High,
}

/// One episode. A level 2 episode stands once, at its level, not again as the level 1 episode around it.
#[derive(Clone, Debug, Serialize)]
pub struct EpisodeLine {
    /// Low or high.
    pub kind: EpisodeKind,
    /// The most serious consensus level it reached: 1 (out of the target range) or 2 (below 54, above 250 mg/dL).
    pub level: u8,
    /// Lasting: below the target range for over two hours, or above 250 mg/dL for 90 of 120 minutes.
    pub extended: bool,
    /// First reading beyond the threshold.
    pub start: Time,
    /// Where the wall clock read that time twice, which of them; in `--json` the offset tells.
    #[serde(skip)]
    pub start_pass: Option<Pass>,
    /// First recovered reading, or the last reading before a gap.
    pub end: Time,
    /// Whether it ended in a gap, its true end unknown.
    pub end_unknown: bool,
    /// Length, minutes.
    pub minutes: f64,
    /// Lowest or highest reading, mg/dL.
    pub extreme_mg_dl: f64,
    /// When that was.
    pub extreme_at: Time,
    /// Area beyond the threshold, mg/dL × minutes.
    pub area_mg_dl_min: f64,
    /// Doses, meals, activity and blood checks in the three hours before its start, oldest first.
    pub before: Vec<Nearby>,
    /// The same from its start until two hours after it.
    pub after: Vec<Nearby>,
}

/// Something logged near an episode. That it lies near does not say that it was the cause.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Nearby {
    /// When.
    pub at: Time,
    /// Minutes from the start of the episode; negative before it.
    pub minutes: f64,
    /// What.
    pub what: NearbyKind,
    /// Units, grams or mg/dL, by kind; `None` where none was logged.
    pub amount: Option<f64>,
    /// What was written beside it.
    pub text: Option<String>,
}

/// Kinds of things logged near an episode.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum NearbyKind {
    /// Rapid or short-acting insulin, units.
    RapidInsulin,
    /// Intermediate or long-acting insulin, units.
    LongInsulin,
    /// Insulin of another or unsaid kind, units.
    OtherInsulin,
    /// Carbohydrate, grams.
    Carbohydrate,
    /// Activity.
    Activity,
    /// A blood check, mg/dL.
    BloodCheck,
}

/// One trace in the window.
#[derive(Clone, Debug, Serialize)]
pub struct TraceLine {
    /// The sensor's name, empty where the files give none.
    pub sensor: String,
    /// Read by hand rather than automatically.
    pub by_hand: bool,
    /// Native interval, minutes.
    pub interval_min: Option<f64>,
    /// Readings in the window.
    pub received: u64,
    /// First reading.
    pub from: Time,
    /// Last reading.
    pub to: Time,
    /// Readings below or above the sensor's own range.
    pub censored: u64,
}
