//! Consensus ranges and targets.
//!
//! A reading is classified in its own unit: a mg/dL value by the mg/dL thresholds, a mmol/L value, rounded to one
//! decimal, by the mmol/L thresholds printed beside them. A converted reading is never held against a rounded
//! threshold: 70 mg/dL is 3.886 mmol/L, yet in range.
//!
//! Thresholds: Battelino et al. (2019), Diabetes Care 42:1593–1603; fractional mg/dL values follow the half-open
//! reading of its whole numbers: [54, 70), [70, 180], (180, 250].

use std::cmp::Ordering;

use interstice_glucose::{Censor, Said, Unit};

/// One of the five consensus ranges. In pregnancy the inner edges are 63 and 140 mg/dL (3.5 and 7.8 mmol/L) instead of
/// 70 and 180.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Range {
    /// Below 54 mg/dL (3.0 mmol/L): level 2 low.
    VeryLow,
    /// 54 to below 70 mg/dL (3.0 to 3.8 mmol/L): level 1 low.
    Low,
    /// 70 to 180 mg/dL (3.9 to 10.0 mmol/L).
    InRange,
    /// Above 180 to 250 mg/dL (10.1 to 13.9 mmol/L): level 1 high.
    High,
    /// Above 250 mg/dL (13.9 mmol/L): level 2 high.
    VeryHigh,
}

/// The coarsest division from which every consensus range can be put together.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[repr(u8)]
pub enum Band {
    /// Below 54 mg/dL, or below 3.0 mmol/L.
    Below54,
    /// 54 to below 63 mg/dL, or 3.0 to 3.4 mmol/L.
    From54,
    /// 63 to below 70 mg/dL, or 3.5 to 3.8 mmol/L.
    From63,
    /// 70 to 140 mg/dL, or 3.9 to 7.8 mmol/L.
    From70,
    /// Above 140 to 180 mg/dL, or 7.9 to 10.0 mmol/L.
    Above140,
    /// Above 180 to 250 mg/dL, or 10.1 to 13.9 mmol/L.
    Above180,
    /// Above 250 mg/dL, or above 13.9 mmol/L.
    Above250,
}

/// How many bands there are.
pub const BANDS: usize = 7;

/// Lower edges (a value below belongs lower), then upper edges (a value equal still belongs), in mg/dL.
const MG_PER_DL_EDGES: ([i128; 3], [i128; 3]) = ([54, 63, 70], [140, 180, 250]);
/// The same in tenths of mmol/L, as printed beside the mg/dL values.
const TENTH_MMOL_PER_L_EDGES: ([i128; 3], [i128; 3]) = ([30, 35, 39], [78, 100, 139]);

const ASCENDING: [Band; BANDS] = [
    Band::Below54,
    Band::From54,
    Band::From63,
    Band::From70,
    Band::Above140,
    Band::Above180,
    Band::Above250,
];

impl Band {
    /// The band of a value, in the unit it was said in. A value below the device's range lies below the edge it is
    /// kept at, one above it above.
    pub fn of(said: Said) -> Band {
        let (value, scale, (lower, upper)) = match said.unit() {
            Unit::MgPerDl => (
                i128::from(said.mantissa()),
                10_i128.pow(u32::from(said.decimals())),
                MG_PER_DL_EDGES,
            ),
            Unit::MmolPerL => (tenths(said), 1, TENTH_MMOL_PER_L_EDGES),
        };
        let against = |edge: i128| match (value.cmp(&(edge * scale)), said.censor()) {
            (Ordering::Equal, Censor::Below) => Ordering::Less,
            (Ordering::Equal, Censor::Above) => Ordering::Greater,
            (ordering, _) => ordering,
        };
        let above_lower = lower
            .iter()
            .filter(|&&edge| against(edge) != Ordering::Less)
            .count();
        let above_upper = upper
            .iter()
            .filter(|&&edge| against(edge) == Ordering::Greater)
            .count();
        ASCENDING[above_lower + above_upper]
    }

    /// All bands, ascending.
    pub const fn all() -> [Band; BANDS] {
        ASCENDING
    }

    /// Its place from the lowest, 0 to 6.
    pub const fn index(self) -> usize {
        self as usize
    }

    /// The consensus range it is part of, outside pregnancy.
    pub const fn range(self) -> Range {
        self.range_for(TargetGroup::Adult)
    }

    /// The range it is part of, by the target range of a group: in pregnancy 63–140 mg/dL (3.5–7.8 mmol/L) is in range.
    /// The outer edges, 54 and 250 mg/dL, are those of every group.
    pub const fn range_for(self, group: TargetGroup) -> Range {
        let (from_63, to_140) = group.inner_edges();
        match self {
            Band::Below54 => Range::VeryLow,
            Band::From54 => Range::Low,
            Band::From63 if from_63 => Range::InRange,
            Band::From63 => Range::Low,
            Band::From70 => Range::InRange,
            Band::Above140 if to_140 => Range::High,
            Band::Above140 => Range::InRange,
            Band::Above180 => Range::High,
            Band::Above250 => Range::VeryHigh,
        }
    }

    /// Whether it is the tight range, 70–140 mg/dL (3.9–7.8 mmol/L); a secondary range of Danne et al. (2017),
    /// Diabetes Care 40:1631.
    pub const fn is_tight(self) -> bool {
        matches!(self, Band::From70)
    }
}

/// A mmol/L value in tenths, halves away from zero, exact on its decimals.
fn tenths(said: Said) -> i128 {
    let mantissa = i128::from(said.mantissa());
    let Some(surplus) = u32::from(said.decimals()).checked_sub(1) else {
        return mantissa * 10;
    };
    let scale = 10_i128.pow(surplus);
    let (whole, rest) = (mantissa / scale, mantissa % scale);
    if 2 * rest.abs() >= scale {
        whole + rest.signum()
    } else {
        whole
    }
}

/// Time in each band, in one unit of the caller's choice (seconds, percent).
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct BandTimes(pub [f64; BANDS]);

impl BandTimes {
    /// Time in all bands.
    pub fn total(&self) -> f64 {
        self.0.iter().sum()
    }

    /// Time in one consensus range, outside pregnancy.
    pub fn range(&self, range: Range) -> f64 {
        self.range_for(TargetGroup::Adult, range)
    }

    /// Time in one range by the target range of a group.
    pub fn range_for(&self, group: TargetGroup, range: Range) -> f64 {
        self.part(|band| band.range_for(group) == range)
    }

    /// Time in the tight range.
    pub fn tight(&self) -> f64 {
        self.part(Band::is_tight)
    }

    /// The same as percent of the whole; `None` of nothing.
    pub fn percent(&self) -> Option<BandTimes> {
        let total = self.total();
        (total > 0.0).then(|| BandTimes(self.0.map(|time| 100.0 * time / total)))
    }

    fn part(&self, belongs: impl Fn(Band) -> bool) -> f64 {
        ASCENDING
            .iter()
            .zip(self.0)
            .filter(|&(&band, _)| belongs(band))
            .map(|(_, time)| time)
            .sum()
    }
}

/// For whom targets are set.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum TargetGroup {
    /// Adults with type 1 or type 2 diabetes.
    #[default]
    Adult,
    /// Older people and those at high risk.
    OlderOrHighRisk,
    /// Pregnancy with type 1 diabetes. With type 2 or gestational diabetes the range is the same, but no
    /// percentages are set.
    Pregnancy,
    /// The wearer's own, as agreed with their care team.
    Own(OwnTargets),
}

/// Targets of one's own. The range lies between edges that consensus documents name: each has a printed value in either unit,
/// and a value is only ever held against that of its own unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct OwnTargets {
    from_63: bool,
    to_140: bool,
    in_range_over_percent: u8,
    below_under_percent: u8,
}

impl OwnTargets {
    /// * `low_mg_dl`: 63 or 70.
    /// * `high_mg_dl`: 140 or 180.
    /// * `in_range_over_percent`, `below_under_percent`: 1 to 99, together at most 100.
    ///
    /// `None` of anything else.
    pub const fn new(
        low_mg_dl: u16,
        high_mg_dl: u16,
        in_range_over_percent: u8,
        below_under_percent: u8,
    ) -> Option<Self> {
        let (over, below) = (in_range_over_percent, below_under_percent);
        if !matches!(low_mg_dl, 63 | 70)
            || !matches!(high_mg_dl, 140 | 180)
            || over == 0
            || below == 0
            || over as u16 + below as u16 > 100
        {
            return None;
        }
        Some(OwnTargets {
            from_63: low_mg_dl == 63,
            to_140: high_mg_dl == 140,
            in_range_over_percent,
            below_under_percent,
        })
    }

    /// From 'own 70-140 over 60 below 4', the edges in mg/dL or as printed in mmol/L (3.5 or 3.9, 7.8 or 10).
    fn of_text(text: &str) -> Option<Self> {
        let words: Vec<&str> = text.split_whitespace().collect();
        let ["own", range, "over", over, "below", below] = words.as_slice() else {
            return None;
        };
        let (low, high) = range.split_once(['-', '–'])?;
        let low = match low.replace(',', ".").as_str() {
            "63" | "3.5" => 63,
            "70" | "3.9" => 70,
            _ => return None,
        };
        let high = match high.replace(',', ".").as_str() {
            "140" | "7.8" => 140,
            "180" | "10" | "10.0" => 180,
            _ => return None,
        };
        let percent = |word: &str| word.trim_end_matches('%').parse().ok();
        OwnTargets::new(low, high, percent(over)?, percent(below)?)
    }

    /// Lower and upper end, mg/dL.
    pub const fn range_mg_dl(self) -> (u16, u16) {
        (
            if self.from_63 { 63 } else { 70 },
            if self.to_140 { 140 } else { 180 },
        )
    }

    /// Percent of the time in range that is aimed for, and of the time below that is not to be reached.
    pub const fn percents(self) -> (u8, u8) {
        (self.in_range_over_percent, self.below_under_percent)
    }
}

/// Consensus targets: percentages of time, `None` where the sources set none.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Targets {
    /// For whom.
    pub group: TargetGroup,
    /// Very low is below this, mg/dL.
    pub very_low_below_mg_dl: f64,
    /// Lower end of the target range, mg/dL.
    pub range_low_mg_dl: f64,
    /// Upper end of the target range, mg/dL.
    pub range_high_mg_dl: f64,
    /// Very high is above this, mg/dL.
    pub very_high_above_mg_dl: f64,
    /// In range: more than this, percent.
    pub in_range_over_percent: f64,
    /// Below range in all: less than this, percent.
    pub below_under_percent: f64,
    /// Below 54 mg/dL: less than this, percent.
    pub very_low_under_percent: Option<f64>,
    /// Above range in all: less than this, percent.
    pub above_under_percent: Option<f64>,
    /// Above 250 mg/dL: less than this, percent.
    pub very_high_under_percent: Option<f64>,
    /// Coefficient of variation: at most this, percent.
    pub cv_at_most_percent: f64,
}

impl Targets {
    /// The edges of the five ranges, mg/dL, ascending.
    pub const fn edges_mg_dl(&self) -> [f64; 4] {
        [
            self.very_low_below_mg_dl,
            self.range_low_mg_dl,
            self.range_high_mg_dl,
            self.very_high_above_mg_dl,
        ]
    }
}

impl TargetGroup {
    /// All groups that consensus targets are set for.
    pub const ALL: [TargetGroup; 3] = [
        TargetGroup::Adult,
        TargetGroup::OlderOrHighRisk,
        TargetGroup::Pregnancy,
    ];

    /// The group of a [`text`](Self::text).
    pub fn named(text: &str) -> Option<TargetGroup> {
        let group = TargetGroup::ALL.into_iter().find(|group| group.name() == text);
        group.or_else(|| OwnTargets::of_text(text).map(TargetGroup::Own))
    }

    /// As it is kept in the book: its name, and of own targets what they are: 'own 70-140 over 60 below 4'.
    pub fn text(self) -> String {
        let TargetGroup::Own(own) = self else {
            return self.name().to_owned();
        };
        let ((low, high), (over, below)) = (own.range_mg_dl(), own.percents());
        format!("own {low}-{high} over {over} below {below}")
    }

    /// Whether the target range begins at 63 instead of 70 mg/dL, and whether it ends at 140 instead of 180.
    const fn inner_edges(self) -> (bool, bool) {
        match self {
            TargetGroup::Adult | TargetGroup::OlderOrHighRisk => (false, false),
            TargetGroup::Pregnancy => (true, true),
            TargetGroup::Own(own) => (own.from_63, own.to_140),
        }
    }

    /// The targets of Battelino et al. (2019), Diabetes Care 42:1593. 'Below' and 'above' include the outer range.
    /// The coefficient of variation is held against `<= 36 %` as there, not `< 36 %` as in Danne et al. (2017).
    pub const fn targets(self) -> Targets {
        let adult = Targets {
            group: self,
            very_low_below_mg_dl: 54.0,
            range_low_mg_dl: 70.0,
            range_high_mg_dl: 180.0,
            very_high_above_mg_dl: 250.0,
            in_range_over_percent: 70.0,
            below_under_percent: 4.0,
            very_low_under_percent: Some(1.0),
            above_under_percent: Some(25.0),
            very_high_under_percent: Some(5.0),
            cv_at_most_percent: 36.0,
        };
        match self {
            TargetGroup::Adult => adult,
            TargetGroup::OlderOrHighRisk => Targets {
                in_range_over_percent: 50.0,
                below_under_percent: 1.0,
                very_low_under_percent: None,
                above_under_percent: None,
                very_high_under_percent: Some(10.0),
                ..adult
            },
            TargetGroup::Pregnancy => Targets {
                range_low_mg_dl: 63.0,
                range_high_mg_dl: 140.0,
                very_high_under_percent: None,
                ..adult
            },
            TargetGroup::Own(own) => Targets {
                range_low_mg_dl: own.range_mg_dl().0 as f64,
                range_high_mg_dl: own.range_mg_dl().1 as f64,
                in_range_over_percent: own.in_range_over_percent as f64,
                below_under_percent: own.below_under_percent as f64,
                very_low_under_percent: None,
                above_under_percent: None,
                very_high_under_percent: None,
                ..adult
            },
        }
    }

    /// The name in words.
    pub const fn name(self) -> &'static str {
        match self {
            TargetGroup::Adult => "adult",
            TargetGroup::OlderOrHighRisk => "older or at high risk",
            TargetGroup::Pregnancy => "pregnancy",
            TargetGroup::Own(_) => "own",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(mantissa: i64, decimals: u8, unit: Unit, censor: Censor) -> Said {
        Said::new(mantissa, decimals, unit, censor).unwrap()
    }

    #[test]
    fn mmol_values_meet_the_printed_mmol_thresholds() {
        let range =
            |mantissa, decimals| Band::of(said(mantissa, decimals, Unit::MmolPerL, Censor::None)).range();
        assert_eq!(range(29, 1), Range::VeryLow);
        assert_eq!(range(30, 1), Range::Low);
        assert_eq!(range(38, 1), Range::Low);
        assert_eq!(range(39, 1), Range::InRange);
        // 70 mg/dL written in mmol/L with four decimals shows as 3.9.
        assert_eq!(range(38_855, 4), Range::InRange);
        assert_eq!(range(3_849, 3), Range::Low);
        assert_eq!(range(10, 0), Range::InRange);
        assert_eq!(range(101, 1), Range::High);
        assert_eq!(range(1_004, 2), Range::InRange);
        assert_eq!(range(1_005, 2), Range::High);
        assert_eq!(range(139, 1), Range::High);
        assert_eq!(range(14, 0), Range::VeryHigh);
    }

    #[test]
    fn censored_values_lie_beyond_their_edge() {
        assert_eq!(Band::of(said(54, 0, Unit::MgPerDl, Censor::Below)), Band::Below54);
        assert_eq!(
            Band::of(said(250, 0, Unit::MgPerDl, Censor::Above)),
            Band::Above250
        );
        assert_eq!(Band::of(said(40, 0, Unit::MgPerDl, Censor::Below)), Band::Below54);
        assert_eq!(Band::of(said(70, 0, Unit::MgPerDl, Censor::Above)), Band::From70);
    }

    #[test]
    fn own_targets_are_read_as_they_are_written() {
        let own = OwnTargets::new(70, 140, 60, 4).map(TargetGroup::Own).unwrap();
        assert_eq!(own.text(), "own 70-140 over 60 below 4");
        assert_eq!(TargetGroup::named(&own.text()), Some(own));
        assert_eq!(TargetGroup::named("own 3.9-7,8 over 60% below 4%"), Some(own));
        assert_eq!(
            TargetGroup::named("own 63-180 over 50 below 1")
                .map(TargetGroup::text)
                .as_deref(),
            Some("own 63-180 over 50 below 1")
        );
        for wrong in [
            "own",
            "own 70-140",
            "own 80-140 over 60 below 4",
            "own 70-150 over 60 below 4",
            "own 140-70 over 60 below 4",
            "own 70-140 over 0 below 4",
            "own 70-140 over 98 below 4",
            "own 70-140 over -60 below 4",
            "own 70-140 over 60 below 4 above 20",
        ] {
            assert_eq!(TargetGroup::named(wrong), None, "{wrong}");
        }
        for group in TargetGroup::ALL {
            assert_eq!(TargetGroup::named(&group.text()), Some(group));
        }
    }

    /// 140 mg/dL is in a range that ends there, 141 is above; in the other unit the printed 7.8 and 7.9.
    #[test]
    fn an_own_range_is_held_against_printed_edges() {
        let own = OwnTargets::new(70, 140, 60, 4).map(TargetGroup::Own).unwrap();
        let range =
            |mantissa, decimals, unit| Band::of(said(mantissa, decimals, unit, Censor::None)).range_for(own);
        assert_eq!(range(140, 0, Unit::MgPerDl), Range::InRange);
        assert_eq!(range(141, 0, Unit::MgPerDl), Range::High);
        assert_eq!(range(69, 0, Unit::MgPerDl), Range::Low);
        assert_eq!(range(78, 1, Unit::MmolPerL), Range::InRange);
        assert_eq!(range(79, 1, Unit::MmolPerL), Range::High);
        assert_eq!(range(251, 0, Unit::MgPerDl), Range::VeryHigh);
        assert_eq!(
            own.targets().edges_mg_dl().map(|edge| edge as i64),
            [54, 70, 140, 250]
        );
    }

    #[test]
    fn extreme_numbers_do_not_overflow() {
        assert_eq!(
            Band::of(said(i64::MAX, 18, Unit::MgPerDl, Censor::None)),
            Band::Below54
        );
        assert_eq!(
            Band::of(said(i64::MAX, 0, Unit::MmolPerL, Censor::None)),
            Band::Above250
        );
        assert_eq!(
            Band::of(said(i64::MIN, 0, Unit::MgPerDl, Censor::None)),
            Band::Below54
        );
        assert_eq!(
            Band::of(said(i64::MIN, 18, Unit::MmolPerL, Censor::None)),
            Band::Below54
        );
    }
}
