//! The summary figures of an account with their intervals.

use interstice_methods::{Account, Bootstrap, Figures, Interval, Refusal};

use crate::figure::Figure;
use crate::review::Summary;

/// Figures and bootstrap intervals of an account.
pub(crate) fn of(account: &Account, seed: u64) -> Summary {
    let intervals = Bootstrap::seeded(seed).intervals(account);
    let mut ranges: Vec<Result<Interval, Refusal>> = match intervals {
        Ok(intervals) => intervals.into_array().into(),
        Err(refusal) => vec![Err(refusal); Figures::COUNT],
    };
    let mut ranges = ranges.drain(..);
    let figures = account
        .summary
        .map(|value| figure(value, ranges.next().unwrap_or(Err(Refusal::Patchy))));
    Summary {
        mean_mg_dl: figures.mean_mg_dl,
        sd_mg_dl: figures.sd_mg_dl,
        cv_percent: figures.cv_percent,
        gmi_percent: figures.gmi_percent,
        very_low_percent: figures.very_low_percent,
        low_percent: figures.low_percent,
        below_percent: figures.below_percent,
        in_range_percent: figures.in_range_percent,
        high_percent: figures.high_percent,
        very_high_percent: figures.very_high_percent,
        above_percent: figures.above_percent,
        tight_range_percent: figures.tight_range_percent,
        lbgi: figures.lbgi,
        hbgi: figures.hbgi,
        gri: figures.gri,
        gri_hypo: figures.gri_hypo,
        gri_hyper: figures.gri_hyper,
        mage_mg_dl: figures.mage_mg_dl,
        modd_mg_dl: figures.modd_mg_dl,
        j_index: figures.j_index,
        conga1_mg_dl: figures.conga1_mg_dl,
    }
}

pub(crate) fn figure(value: Result<f64, Refusal>, interval: Result<Interval, Refusal>) -> Figure {
    match (value, interval) {
        (Err(why), _) => Figure::missing(why.to_string()),
        (Ok(value), Ok(interval)) => Figure {
            value: Some(value),
            lo95: Some(interval.lo),
            hi95: Some(interval.hi),
            reason: None,
        },
        (Ok(value), Err(why)) => Figure {
            reason: Some(format!("no interval: {why}")),
            ..Figure::plain(value)
        },
    }
}
