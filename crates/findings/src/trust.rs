//! Trust: how far the sensors stand from the blood, when, where on the body, and how sure that is.

mod answer;
mod ask;
mod bedding;
mod blood_course;
mod blood_now;
mod breakdown;
mod brief;
mod effects;
mod estimate;
mod faults;
mod grid;
mod lag;
mod logged;
mod next;
mod pairs;
mod pressed;
mod pressure;
mod pressure_days;
mod pressure_out;
mod pressure_rates;
mod sensor;
mod sensor_answer;
mod teach;
mod wears;

use interstice_glucose::Unit;
use serde::ser::SerializeMap;
use serde::{Serialize, Serializer};

pub(crate) use answer::trust_with;
pub use answer::{trust, trust_book};
pub use ask::{Pairing, TrustAsk};
pub use bedding::BeddingHelps;
pub(crate) use bedding::bedding_helps;
pub(crate) use blood_course::{BloodCourse, KnownBy};
pub use blood_now::BloodNow;
pub(crate) use blood_now::blood_now;
pub(crate) use breakdown::DIRECTION_KEYS;
pub use brief::TrustBrief;
pub(crate) use brief::brief;
pub use effects::{EffectLine, Effects, LevelLine};
pub(crate) use estimate::Known;
pub use estimate::{EstimateAsk, EstimateFindings, LeftOut, SensorBlood, Told, estimate_book};
pub use faults::FaultLine;
pub use interstice_methods::agreement::{DEFAULT_SPLIT_MG_DL, SPLITS_MG_DL};
pub use interstice_methods::estimate::{Probable, ReadsHigh};
pub use lag::{Lag, LagOneWay};
pub(crate) use pairs::paired_checks;
pub use pressure::{Evidence, LowVerdict, OwnPrior, PressureEvent, PressureFindings, SaidLow, pressure_book};
pub use pressure_days::LowSpan;
pub(crate) use pressure_days::Lows;
pub(crate) use pressure_out::{PressureOut, Stretch, pressure_out, pressure_touching};
pub use pressure_rates::{PressureRates, RateLine, RateRatio};
pub use sensor::{
    Around, CheckLine, DayTick, OtherSensors, SensorFindings, SensorLife, SensorScale, WearDay,
};
pub(crate) use sensor_answer::sensor_with;
pub use sensor_answer::{sensor, sensor_book};
pub use teach::CheckWould;
pub use wears::{SensorWear, Started, wears};

use crate::figure::figure_entry;
use crate::{Figure, Time};

/// Everything the Trust page, the text and `trust --json` show of sensors beside blood checks.
#[derive(Clone, Debug, Serialize)]
pub struct TrustFindings {
    /// Unit the wearer reads; the numbers below are in mg/dL all the same.
    #[serde(serialize_with = "symbol")]
    pub unit: Unit,
    /// The one sensor asked for, `None` for all.
    pub sensor: Option<String>,
    /// How readings were found for checks.
    pub pairing: Pairing,
    /// Below this blood value an allowance is in mg/dL, from it on in percent.
    pub split_mg_dl: f64,
    /// Seed of the bootstrap intervals.
    pub seed: u64,
    /// What became of the blood checks.
    #[serde(flatten)]
    pub counts: Counts,
    /// The figures over all pairs.
    #[serde(flatten)]
    pub agreement: Agreement,
    /// How late the sensors are behind blood.
    #[serde(flatten)]
    pub lag: Lag,
    /// Possible pressure lows at night.
    pub pressure: PressureFindings,
    /// The meter's own allowed error.
    pub meter: Meter,
    /// The criteria for integrated sensors, for trials.
    pub icgm: Vec<CriterionLine>,
    /// Error grids.
    pub grid: Grids,
    /// The same figures by what the pairs have in common.
    pub by: By,
    /// Pairs of scans by hand, which are in no other figure; `None` where there are none.
    pub scans: Option<GroupLine>,
    /// The sensors, in the order they were worn.
    pub wears: Vec<WearLine>,
    /// Every pair, oldest first.
    pub points: Vec<Point>,
    /// What makes a sensor good or bad, and what would settle it.
    pub effects: Effects,
    /// What looks wrong with each sensor, in the order they were worn.
    pub faults: Vec<FaultLine>,
    /// Checks that would tell most.
    pub next: Vec<NextCheck>,
    /// What one more check would teach of the sensors read last.
    pub check_would: Vec<CheckWould>,
    /// Things the reader must know.
    pub notes: Vec<String>,
}

fn symbol<S: Serializer>(unit: &Unit, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_str(unit.symbol())
}

/// What became of the blood checks.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Counts {
    /// Blood checks in the book.
    pub checks: u64,
    /// Pairs in the figures; a check beside two sensors makes two.
    pub pairs: u64,
    /// Sensors they are from.
    pub sensors: u64,
    /// Checks while no sensor was read.
    pub without_sensor: u64,
    /// Checks while a sensor was worn that found no reading by the rule.
    pub unpaired: u64,
    /// Checks whose reading is marked as an artefact.
    pub artefact: u64,
    /// Pairs beyond what sensor or meter measures; in no figure.
    pub censored: u64,
    /// Those of them that differ by more than 15 mg/dL or 15 % whatever the true values were.
    pub censored_apart: u64,
    /// Pairs the other rule would give.
    pub pairs_by_other_rule: u64,
}

/// So many pairs of so many within an allowance.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Share {
    /// mg/dL below the split, percent from it on.
    pub limit: f64,
    /// Pairs within.
    pub within: u64,
    /// Pairs.
    pub of: u64,
    /// Percent with its exact two-sided interval.
    pub percent: Figure,
    /// Exact one-sided 95 % lower bound, percent.
    pub lower95: Option<f64>,
}

/// What an interval of a mean rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum IntervalBy {
    /// Whole sensors were drawn: it tells of sensors like these.
    Sensors,
    /// Days were drawn: it tells of these sensors alone.
    Days,
    /// Single pairs were drawn: likely too narrow.
    Pairs,
}

/// The figures over all pairs.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Agreement {
    /// Mean absolute relative difference, percent.
    pub mard_percent: Figure,
    /// Median absolute relative difference, percent.
    pub median_ard_percent: Figure,
    /// Mean absolute difference, mg/dL.
    pub mad_mg_dl: Figure,
    /// Mean of sensor less blood, mg/dL.
    pub bias_mg_dl: Figure,
    /// Mean relative difference, percent.
    pub relative_bias_percent: Figure,
    /// Standard deviation of the differences, mg/dL.
    pub sd_mg_dl: Figure,
    /// Lower limit of agreement, mg/dL.
    pub limits_lower_mg_dl: Figure,
    /// Upper limit of agreement, mg/dL.
    pub limits_upper_mg_dl: Figure,
    /// Shares within 15/15, 20/20, 30/30, 40/40.
    pub within: Vec<Share>,
    /// What the intervals of the means rest on.
    pub interval_by: Option<IntervalBy>,
}

impl Agreement {
    /// The share within an allowance, 15 for 15/15.
    pub fn share(&self, limit: f64) -> Option<&Share> {
        self.within.iter().find(|share| (share.limit - limit).abs() < 0.5)
    }

    /// Every mean with its name in `--json`.
    pub fn named(&self) -> [(&'static str, &Figure); 8] {
        [
            ("mard_percent", &self.mard_percent),
            ("median_ard_percent", &self.median_ard_percent),
            ("mad_mg_dl", &self.mad_mg_dl),
            ("bias_mg_dl", &self.bias_mg_dl),
            ("relative_bias_percent", &self.relative_bias_percent),
            ("sd_mg_dl", &self.sd_mg_dl),
            ("limits_lower_mg_dl", &self.limits_lower_mg_dl),
            ("limits_upper_mg_dl", &self.limits_upper_mg_dl),
        ]
    }
}

impl Serialize for Agreement {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        for (name, figure) in self.named() {
            figure_entry(&mut map, name, figure)?;
        }
        for share in &self.within {
            let name = format!("within_{}_percent", share.limit);
            figure_entry(&mut map, &name, &share.percent)?;
            map.serialize_entry(&format!("{name}_lower95"), &share.lower95)?;
            map.serialize_entry(&format!("within_{}_pairs", share.limit), &share.within)?;
        }
        map.serialize_entry("interval_by", &self.interval_by)?;
        map.end()
    }
}

/// What the meter may be off by, beside what is measured with it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Meter {
    /// The standard a home meter is taken to keep.
    pub standard: &'static str,
    /// mg/dL below `split_mg_dl`, percent from it on, for 95 % of results.
    pub limit: f64,
    /// Blood glucose, mg/dL.
    pub split_mg_dl: f64,
    /// The MARD a perfect sensor would show beside a meter that only just keeps it, for these checks, percent.
    pub mard_percent: Option<f64>,
    /// Whether the MARD found is below that, and so not believable as the sensor's own.
    pub below_meter: bool,
}

/// One of the criteria for integrated sensors.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CriterionLine {
    /// 'A' to 'K'.
    pub item: char,
    /// Which sensor values: below 70, 70 to 180, above 180 mg/dL, all.
    pub sensor_range: SensorRange,
    /// What is asked.
    pub asks: CriterionAsk,
    /// Pairs that keep to it; `None` where single blood checks cannot tell.
    pub within: Option<u64>,
    /// Pairs it is about.
    pub of: Option<u64>,
    /// One-sided 95 % lower bound, percent, where a bound is asked.
    pub lower95_percent: Option<f64>,
    /// Pairs needed if not one failed.
    pub fewest_pairs: Option<u64>,
    /// Whether it is so in these pairs; `None` where too few or where it cannot be told.
    pub met: Option<bool>,
}

/// Sensor values a criterion is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum SensorRange {
    /// Below 70 mg/dL.
    Below70,
    /// 70 to 180 mg/dL.
    From70To180,
    /// Above 180 mg/dL.
    Above180,
    /// All.
    All,
}

/// What a criterion asks.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case", tag = "kind")]
pub enum CriterionAsk {
    /// The lower bound of the share within so many mg/dL or percent must exceed so much.
    Rate {
        /// mg/dL or percent.
        within: f64,
        /// Whether `within` is percent.
        percent: bool,
        /// What the bound must exceed, percent.
        over_percent: f64,
    },
    /// No blood value above this.
    NoneAbove {
        /// mg/dL.
        mg_dl: f64,
    },
    /// No blood value below this.
    NoneBelow {
        /// mg/dL.
        mg_dl: f64,
    },
    /// Rates of change on opposite sides in at most 1 % of readings.
    Trend {
        /// Whether it is about a rising sensor.
        rising: bool,
    },
}

/// The two error grids.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Grids {
    /// Clarke and others 1987.
    pub clarke: Grid,
    /// The consensus grid for type 1 diabetes.
    pub consensus: Grid,
}

/// One error grid.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Grid {
    /// Zones A to E.
    pub zones: Vec<ZoneLine>,
    /// Borders as corners (blood, sensor) in mg/dL, for drawing.
    #[serde(skip)]
    pub lines: Vec<Vec<(f64, f64)>>,
    /// Corners of zone A, (blood, sensor) in mg/dL, for drawing.
    #[serde(skip)]
    pub zone_a: Vec<(f64, f64)>,
    /// A place in each region for its letter, (blood, sensor) in mg/dL.
    #[serde(skip)]
    pub letters: Vec<(char, f64, f64)>,
}

/// One zone of a grid.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ZoneLine {
    /// 'A' to 'E'.
    pub zone: char,
    /// Pairs in it.
    pub pairs: u64,
    /// Share of all pairs; `None` of none.
    pub percent: Option<f64>,
}

/// Figures by what pairs have in common. A group named 'unknown' holds pairs of which it is not known.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct By {
    /// '1' to '14', '15+': 24-hour days since the start.
    pub day_of_wear: Vec<GroupLine>,
    /// '0-2', '2-4', '4-8', '8-12', '12-24': hours since the start, on the first day.
    pub first_day_hours: Vec<GroupLine>,
    /// 'very_low', 'low', 'in_range', 'high', 'very_high': consensus range of the blood value.
    pub range: Vec<GroupLine>,
    /// 'falling_fast', 'falling', 'steady', 'rising', 'rising_fast'.
    pub direction: Vec<GroupLine>,
    /// By sensor.
    pub sensor: Vec<GroupLine>,
    /// By place on the body, without the side.
    pub site: Vec<GroupLine>,
    /// 'left', 'right'.
    pub side: Vec<GroupLine>,
    /// By side and part of the body together: 'left upper arm'.
    pub place: Vec<GroupLine>,
    /// By lot.
    pub lot: Vec<GroupLine>,
    /// By how the skin was prepared.
    pub preparation: Vec<GroupLine>,
    /// 'under_2_h', '2_to_12_h', '12_h_or_more': worn before the start.
    pub bedding_in: Vec<GroupLine>,
    /// '00-06', '06-12', '12-18', '18-24' by the wearer's clock.
    pub time_of_day: Vec<GroupLine>,
}

/// The figures of one group.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct GroupLine {
    /// Its name.
    pub key: String,
    /// Pairs in it.
    pub pairs: u64,
    /// Sensors they are from.
    pub sensors: u64,
    /// Mean absolute relative difference, percent; its reason says how many more pairs would do.
    pub mard_percent: Figure,
    /// Mean of sensor less blood, mg/dL.
    pub bias_mg_dl: Figure,
    /// Share within 15/15.
    pub within_15: Share,
    /// What the intervals rest on.
    pub interval_by: Option<IntervalBy>,
    /// Pairs missing for any mean; 0 where there is one.
    pub pairs_missing: u64,
    /// About how many more pairs would tell the MARD within 2 points; `None` where that cannot be guessed yet.
    pub pairs_for_2_points: Option<u64>,
}

impl GroupLine {
    /// The group of pairs of which it is not known where they belong.
    pub const UNKNOWN: &'static str = "unknown";

    /// Whether it is that one.
    pub fn is_unknown(&self) -> bool {
        self.key == GroupLine::UNKNOWN
    }
}

impl Serialize for GroupLine {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("key", &self.key)?;
        map.serialize_entry("pairs", &self.pairs)?;
        map.serialize_entry("sensors", &self.sensors)?;
        figure_entry(&mut map, "mard_percent", &self.mard_percent)?;
        figure_entry(&mut map, "bias_mg_dl", &self.bias_mg_dl)?;
        figure_entry(&mut map, "within_15_percent", &self.within_15.percent)?;
        map.serialize_entry("within_15_pairs", &self.within_15.within)?;
        map.serialize_entry("interval_by", &self.interval_by)?;
        map.serialize_entry("pairs_missing", &self.pairs_missing)?;
        map.serialize_entry("pairs_for_2_points", &self.pairs_for_2_points)?;
        map.end()
    }
}

/// One sensor as the book knows it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WearLine {
    /// Its name here and in every pair.
    pub sensor: String,
    /// When it was put on, where that is known.
    pub put_on: Option<Time>,
    /// When it was started, where that is known.
    pub started: Option<Time>,
    /// How that is known.
    pub started_by: Started,
    /// First reading.
    pub from: Time,
    /// Last reading.
    pub to: Time,
    /// Place on the body.
    pub site: Option<String>,
    /// 'left' or 'right'.
    pub side: Option<String>,
    /// Lot.
    pub lot: Option<String>,
    /// How the skin was prepared.
    pub preparation: Option<String>,
    /// Hours worn before the start.
    pub bedding_in_h: Option<f64>,
    /// Pairs it has.
    pub pairs: u64,
}

/// One pair.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Point {
    /// When the check was taken.
    pub at: Time,
    /// Which sensor.
    pub sensor: String,
    /// Its place in `wears`.
    pub wear: usize,
    /// Blood, mg/dL.
    pub blood_mg_dl: f64,
    /// Sensor, mg/dL.
    pub sensor_mg_dl: f64,
    /// Seconds from the check to the reading taken.
    pub reading_later_s: i64,
    /// Rate of change, mg/dL a minute, where it is known.
    pub rate_mg_dl_min: Option<f64>,
    /// Its direction by name.
    pub direction: Option<&'static str>,
    /// Hours since the sensor was started, where that is known.
    pub worn_h: Option<f64>,
    /// Zone of the Clarke grid.
    pub clarke: char,
    /// Zone of the consensus grid.
    pub consensus: char,
    /// Whether it was a laboratory's value.
    pub laboratory: bool,
}

/// A kind of check that would tell most, the most useful first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case", tag = "when")]
pub enum NextCheck {
    /// While glucose is flat: the plainest look at the sensor itself.
    Flat {
        /// More pairs for any mean there.
        more: u64,
    },
    /// In a sensor's first day.
    FirstDay {
        /// More pairs for any mean there.
        more: u64,
    },
    /// While glucose is falling faster than 1 mg/dL a minute.
    Falling {
        /// More pairs for any mean there.
        more: u64,
    },
    /// While the sensor shows a low.
    Low {
        /// More pairs for any mean there.
        more: u64,
    },
    /// On further sensors: what is known is of too few.
    OtherSensors {
        /// More sensors until whole sensors can be drawn.
        more: u64,
    },
}
