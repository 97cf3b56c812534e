//! Insulin as it was logged.

use interstice_book::Record;
use interstice_glucose::{Dose, InsulinKind, Second};
use interstice_methods::given::{self as method, Given, QUARTERS};
use interstice_methods::insulin::BASAL_RUNS_S;
use serde::Serialize;

/// Insulin that was logged in a window.
#[derive(Clone, Debug, Default, Serialize)]
pub struct InsulinGiven {
    /// Lived days with any.
    pub days_logged: u32,
    /// By kind.
    pub kinds: Vec<InsulinLine>,
}

/// One kind.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct InsulinLine {
    /// `rapid`, `short`, `intermediate`, `long`, `mixed`, `unsaid`.
    pub insulin: &'static str,
    /// Whether it came as a pump's basal rate.
    pub basal_rate: bool,
    /// Entries.
    pub logged: u64,
    /// Lived days with any of it.
    pub days_logged: u32,
    /// Mean units on such a day.
    pub units_per_day_logged: f64,
    /// The same by quarter of the lived day.
    pub units_by_quarter: [f64; QUARTERS],
}

pub(crate) fn given(record: &Record, from: Second, to: Second) -> InsulinGiven {
    let all = record.doses.iter().map(|kept| &kept.it);
    let near: Vec<Dose> = all
        .filter(|dose| (from - BASAL_RUNS_S..to).contains(&dose.at))
        .cloned()
        .collect();
    let found = method::given(&near, &record.clock, (from, to));
    InsulinGiven {
        days_logged: found.days,
        kinds: found
            .kinds
            .iter()
            .filter(|given| given.days > 0)
            .map(line)
            .collect(),
    }
}

fn line(given: &Given) -> InsulinLine {
    let days = f64::from(given.days.max(1));
    InsulinLine {
        insulin: match given.insulin {
            InsulinKind::Rapid => "rapid",
            InsulinKind::Short => "short",
            InsulinKind::Intermediate => "intermediate",
            InsulinKind::Long => "long",
            InsulinKind::Mixed => "mixed",
            InsulinKind::Unsaid => "unsaid",
        },
        basal_rate: given.basal_rate,
        logged: given.logged,
        days_logged: given.days,
        units_per_day_logged: given.total() / days,
        units_by_quarter: given.units.map(|units| units / days),
    }
}
