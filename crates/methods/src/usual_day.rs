//! The usual day: percentiles of glucose by clock time.

mod tally;

use rayon::prelude::*;

use crate::columns::Columns;
use crate::day::LivedDay;
use crate::quantile::Weighted;
use crate::recording::Recording;

pub(crate) use tally::Dense;
use tally::{BinTally, tally_by_sorting};

/// Width of a bin of the usual day, seconds.
pub const BIN_S: u32 = 300;
/// Bins of a day.
pub const BINS: usize = 288;
/// Fewest days behind a bin for its median and quartiles.
pub const FEWEST_DAYS_MIDDLE: u32 = 3;
/// Fewest days behind a bin for its 5th and 95th percentile.
pub const FEWEST_DAYS_OUTER: u32 = 5;

/// Percentiles at one clock time, mg/dL; `None` with too few days behind them.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct UsualBin {
    /// Minutes since midnight on the wall clock at which the bin's five minutes begin.
    pub minute: u32,
    /// Distinct lived days behind it.
    pub days: u32,
    /// Seconds of readings behind it.
    pub seconds: u64,
    /// 5th percentile.
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

/// The usual day over the lived days that `belongs` picks: 288 bins of five minutes by lived wall time.
///
/// A reading counts in the bin of its instant; one that stands for longer than five minutes counts in as many bins
/// from there on as its time rounds to, in equal parts, so that a 15-minute sensor fills three. Nothing else is
/// smoothed, and nothing reaches into missing data. Percentiles are time-weighted, linear between order statistics;
/// with readings of one interval exactly those of the readings in the bin.
///
/// A bin with fewer than [`FEWEST_DAYS_MIDDLE`] days has no median and quartiles, with fewer than
/// [`FEWEST_DAYS_OUTER`] no outer percentiles: from fewer days they would be single days.
pub fn usual_day(recording: &Recording<'_>, belongs: impl Fn(&LivedDay) -> bool) -> Vec<UsualBin> {
    let classes: Vec<Option<usize>> = recording
        .days
        .iter()
        .map(|day| belongs(day).then_some(0))
        .collect();
    let tallies = if Dense::fits(1, recording) {
        let mut dense = Dense::new(1, recording);
        let mut columns = Columns::default();
        for (day, &class) in classes.iter().enumerate() {
            let Some(class) = class else { continue };
            columns.fill(recording, recording.readings[day].clone());
            dense.add_day(recording, day, class, &columns);
        }
        dense.close(recording)
    } else {
        tally_by_sorting(recording, &classes, 1)
    };
    over(recording, &tallies, &[0])
}

/// The class of a lived day in [`apart`].
pub(crate) fn weekday_class(day: &LivedDay) -> usize {
    usize::from(day.is_weekend())
}

/// All days, Monday to Friday, Saturday and Sunday.
///
/// * `dense`: weights of all days by [`weekday_class`], where a table of them fits.
pub(crate) fn apart(recording: &Recording<'_>, dense: Option<Dense>) -> [Vec<UsualBin>; 3] {
    let tallies = dense.map_or_else(
        || {
            let classes: Vec<_> = recording
                .days
                .iter()
                .map(|day| Some(weekday_class(day)))
                .collect();
            tally_by_sorting(recording, &classes, 2)
        },
        |dense| dense.close(recording),
    );
    [&[0, 1][..], &[0], &[1]].map(|classes| over(recording, &tallies, classes))
}

/// The usual day over some classes of days.
fn over(recording: &Recording<'_>, tallies: &[Vec<BinTally>], classes: &[usize]) -> Vec<UsualBin> {
    let bins = (0..BINS).into_par_iter().with_min_len(48);
    bins.map(|bin| usual_bin(recording, bin, classes.iter().map(|&class| &tallies[class][bin])))
        .collect()
}

fn usual_bin<'t>(
    recording: &Recording<'_>,
    bin: usize,
    parts: impl Iterator<Item = &'t BinTally>,
) -> UsualBin {
    let mut rows: Vec<(u32, u64)> = Vec::new();
    let mut weighted = Weighted::default();
    let mut days = 0;
    for part in parts {
        rows.extend_from_slice(&part.weights);
        weighted.add_squares(part.squares);
        days += part.days;
    }
    // Each part is in order already, which a stable sort takes as it finds it.
    rows.sort();
    for (place, weight) in rows {
        let level = recording.table.ascending[place as usize];
        weighted.push(recording.table.mg_per_dl[level as usize], weight);
    }
    let given = |p: f64, fewest: u32| {
        if days >= fewest {
            weighted.quantile(p)
        } else {
            None
        }
    };
    UsualBin {
        minute: bin as u32 * (BIN_S / 60),
        days,
        seconds: weighted.total(),
        p5_mg_dl: given(0.05, FEWEST_DAYS_OUTER),
        p25_mg_dl: given(0.25, FEWEST_DAYS_MIDDLE),
        p50_mg_dl: given(0.5, FEWEST_DAYS_MIDDLE),
        p75_mg_dl: given(0.75, FEWEST_DAYS_MIDDLE),
        p95_mg_dl: given(0.95, FEWEST_DAYS_OUTER),
    }
}
