//! The summary figures, and whether there is enough to trust them.

use crate::Refusal;
use crate::hba1c::gmi_percent;
use crate::level::CENTRE_MG_PER_DL;
use crate::ranges::{Range, TargetGroup};
use crate::risk::glycaemia_risk;
use crate::sums::{
    CONGA, CONGA_SQUARES, CONGA_WEIGHT, CONGA_WEIGHT2, COVERED_DAYS, COVERED_PART, HIGH_RISK, LOW_RISK, MAGE,
    MAGE_DAYS, MODD, MODD_WEIGHT, Sums, WEIGHT, X, XX, weighted_variance,
};

macro_rules! figures {
    ($($(#[$doc:meta])* $name:ident,)+) => {
        /// One `T` for every summary figure: its value, its interval, its name.
        #[derive(Clone, Copy, Debug, PartialEq)]
        pub struct Figures<T> {
            $($(#[$doc])* pub $name: T,)+
        }

        impl Figures<()> {
            /// Number of figures.
            pub const COUNT: usize = [$(stringify!($name)),+].len();

            /// The field names, in order.
            pub const NAMES: [&'static str; Figures::COUNT] = [$(stringify!($name)),+];
        }

        impl<T> Figures<T> {
            /// In the order of [`Figures::NAMES`].
            pub fn into_array(self) -> [T; Figures::COUNT] {
                [$(self.$name),+]
            }

            /// From the order of [`Figures::NAMES`].
            pub fn from_array(array: [T; Figures::COUNT]) -> Self {
                let [$($name),+] = array;
                Figures { $($name),+ }
            }
        }
    };
}

figures! {
    /// Mean, mg/dL.
    mean_mg_dl,
    /// Standard deviation, mg/dL; of the form with n - 1.
    sd_mg_dl,
    /// Coefficient of variation over all readings, percent.
    cv_percent,
    /// Glucose management indicator, percent; an estimate, not an HbA1c.
    gmi_percent,
    /// Time below 54 mg/dL (3.0 mmol/L), percent of the time read.
    very_low_percent,
    /// Time from 54 mg/dL to below the target range (70 mg/dL; 63 in pregnancy), percent.
    low_percent,
    /// Time in the target range (70 to 180 mg/dL; 63 to 140 in pregnancy), percent.
    in_range_percent,
    /// Time above the target range (180 mg/dL; 140 in pregnancy) to 250 mg/dL, percent.
    high_percent,
    /// Time above 250 mg/dL, percent.
    very_high_percent,
    /// Time from 70 to 140 mg/dL, percent.
    tight_range_percent,
    /// Time below the target range in all, percent.
    below_percent,
    /// Time above the target range in all, percent.
    above_percent,
    /// Low blood glucose index, 0 to 100.
    lbgi,
    /// High blood glucose index, 0 to 100.
    hbgi,
    /// Glycaemia risk index, 0 to 100.
    gri,
    /// Its hypoglycaemia component, percent.
    gri_hypo,
    /// Its hyperglycaemia component, percent.
    gri_hyper,
    /// Mean amplitude of glycaemic excursions, mg/dL: mean over days of the mean swing beyond one standard deviation
    /// of the day, in the direction of the day's first.
    mage_mg_dl,
    /// Mean of daily differences, mg/dL: mean absolute difference to the reading at the same wall time a day earlier.
    modd_mg_dl,
    /// J-index: `0.001 (mean + SD)²` in mg/dL.
    j_index,
    /// CONGA over one hour, mg/dL: standard deviation of differences to the reading an hour earlier.
    conga1_mg_dl,
}

impl<T> Figures<T> {
    /// Each figure through `f`.
    pub fn map<U>(self, f: impl FnMut(T) -> U) -> Figures<U> {
        Figures::from_array(self.into_array().map(f))
    }
}

/// A summary: each figure, or why it is not given.
pub type Summary = Figures<Result<f64, Refusal>>;

/// Figures from sums, times in range by the target range of `group`; NaN where a figure cannot be given.
pub(crate) fn figures(sums: &Sums, group: TargetGroup) -> Figures<f64> {
    let s = &sums.0;
    let weight = s[WEIGHT];
    let mean = if weight > 0.0 {
        CENTRE_MG_PER_DL + s[X] / weight
    } else {
        f64::NAN
    };
    let sd = weighted_variance(&s[WEIGHT..=XX]).map_or(f64::NAN, f64::sqrt);
    let bands = sums.band_seconds();
    let share = |seconds: f64| {
        if weight > 0.0 {
            100.0 * seconds / weight
        } else {
            f64::NAN
        }
    };
    let range = |range: Range| share(bands.range_for(group, range));
    let (very_low, low, high, very_high) = (
        range(Range::VeryLow),
        range(Range::Low),
        range(Range::High),
        range(Range::VeryHigh),
    );
    // The index was fitted to 54, 70, 180 and 250 mg/dL and keeps them in every group.
    let fixed = |range: Range| share(bands.range(range));
    let gri = glycaemia_risk(very_low, fixed(Range::Low), fixed(Range::High), very_high);
    let conga = [s[CONGA_WEIGHT], s[CONGA_WEIGHT2], s[CONGA], s[CONGA_SQUARES]];
    let ratio = |sum: f64, of: f64| if of > 0.0 { sum / of } else { f64::NAN };
    Figures {
        mean_mg_dl: mean,
        sd_mg_dl: sd,
        cv_percent: if mean > 0.0 { 100.0 * sd / mean } else { f64::NAN },
        gmi_percent: gmi_percent(mean),
        very_low_percent: very_low,
        low_percent: low,
        in_range_percent: range(Range::InRange),
        high_percent: high,
        very_high_percent: very_high,
        tight_range_percent: share(bands.tight()),
        below_percent: very_low + low,
        above_percent: high + very_high,
        lbgi: ratio(s[LOW_RISK], weight),
        hbgi: ratio(s[HIGH_RISK], weight),
        // `min` against the cap would turn NaN into 100.
        gri: if weight > 0.0 { gri.index } else { f64::NAN },
        gri_hypo: gri.hypo,
        gri_hyper: gri.hyper,
        mage_mg_dl: ratio(s[MAGE], s[MAGE_DAYS]),
        modd_mg_dl: ratio(s[MODD], s[MODD_WEIGHT]),
        j_index: 0.001 * (mean + sd) * (mean + sd),
        conga1_mg_dl: weighted_variance(&conga).map_or(f64::NAN, f64::sqrt),
    }
}

/// Figures from sums, with reasons.
pub(crate) fn summary(sums: &Sums, group: TargetGroup, received: u64) -> Summary {
    let values = figures(sums, group).into_array();
    let mut index = 0;
    Figures::from_array(values).map(|value| {
        let name = Figures::NAMES[index];
        index += 1;
        if value.is_nan() {
            Err(reason(name, sums, received))
        } else {
            Ok(value)
        }
    })
}

/// Why a figure is missing.
pub(crate) fn reason(name: &str, sums: &Sums, received: u64) -> Refusal {
    if received == 0 {
        return Refusal::NoReadings;
    }
    match name {
        "modd_mg_dl" => Refusal::NoPairs { hours: 24 },
        "conga1_mg_dl" => Refusal::NoPairs { hours: 1 },
        "mage_mg_dl" if sums.0[COVERED_DAYS] > 0.0 => Refusal::NoSwing,
        "mage_mg_dl" => Refusal::NoCoveredDay {
            need: (100.0 * COVERED_PART) as u64,
        },
        "cv_percent" if received > 1 => Refusal::MeanNotPositive,
        _ => Refusal::TooFewReadings {
            have: received,
            need: 2,
        },
    }
}

/// Consensus sufficiency: at least this many days …
pub const SUFFICIENT_DAYS: u32 = 14;
/// … covered for at least this percentage (Danne et al. 2017, Diabetes Care 40:1631; Battelino et al. 2019).
pub const SUFFICIENT_ACTIVE_PERCENT: f64 = 70.0;

/// How much there is to go on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sufficiency {
    /// Readings received.
    pub received: u64,
    /// Readings a sensor worn all the time would have given.
    pub expected: u64,
    /// Time the readings stand for, percent of the window, at most 100; `None` of an empty window.
    pub active_percent: Option<f64>,
    /// Lived days of the window, outer ones in part.
    pub lived_days: f64,
    /// Days with any reading.
    pub days_with_data: u32,
    /// `Ok` when the window spans 14 days and 70 % of it is active; else what is missing.
    pub verdict: Result<(), Refusal>,
}

impl Sufficiency {
    pub(crate) fn new(
        received: u64,
        expected: f64,
        seconds: f64,
        window_s: f64,
        lived_days: f64,
        with: u32,
    ) -> Self {
        let active_percent = (window_s > 0.0).then(|| (100.0 * seconds / window_s).min(100.0));
        let active = active_percent.unwrap_or(0.0);
        // An hour's slack: a window of 14 days by the calendar may be cut at its last reading.
        let verdict = if received == 0 {
            Err(Refusal::NoReadings)
        } else if lived_days < f64::from(SUFFICIENT_DAYS) - 1.0 / 24.0 {
            Err(Refusal::ShortWindow {
                have: lived_days as u64,
                need: SUFFICIENT_DAYS.into(),
            })
        } else if active < SUFFICIENT_ACTIVE_PERCENT {
            Err(Refusal::LowActive {
                have: active as u64,
                need: SUFFICIENT_ACTIVE_PERCENT as u64,
            })
        } else {
            Ok(())
        };
        let expected = expected.round() as u64;
        Sufficiency {
            received,
            expected,
            active_percent,
            lived_days,
            days_with_data: with,
            verdict,
        }
    }
}
