//! How far the sensors can be trusted, in few lines: for those who see them for ten minutes.

use interstice_book::Record;
use interstice_methods::agreement::{ALLOWANCES, Bin, ClusterBootstrap, GroupFigures, Pair, day_of_wear};
use serde::Serialize;

use super::answer::{agreement, allowance, counts};
use super::lag::{self, Lag};
use super::wears::wears;
use super::{Agreement, Counts, GroupLine, Known, TrustAsk, breakdown, pairs};
use crate::account::Reader;

/// The sensors beside blood checks, over all of a record.
#[derive(Clone, Debug, Serialize)]
pub struct TrustBrief {
    /// What became of the blood checks.
    #[serde(flatten)]
    pub counts: Counts,
    /// The figures over all pairs.
    #[serde(flatten)]
    pub agreement: Agreement,
    /// On a sensor's first day.
    pub first_day: GroupLine,
    /// On later days.
    pub later_days: GroupLine,
    /// While glucose falls, faster than 1 mg/dL a minute.
    pub falling: GroupLine,
    /// While it rises so fast.
    pub rising: GroupLine,
    /// How late the sensors are behind blood.
    #[serde(flatten)]
    pub lag: Lag,
}

/// `None` where no sensor was read. `known`: what is learned of the record's sensors, where that was found out before.
pub(crate) fn brief(record: &Record, reader: Reader, known: Option<&Known>) -> Option<TrustBrief> {
    let ask = TrustAsk::default();
    let worn = wears(record);
    if worn.is_empty() {
        return None;
    }
    let checks = pairs::checks(record);
    let paired = pairs::paired(record, &worn, &checks, ask.pairing);
    let other = pairs::paired(record, &worn, &checks, ask.pairing.other());
    let allowance = allowance(&ask, ALLOWANCES[0]);
    let bootstrap = ClusterBootstrap::seeded(ask.seed);
    let group = |key: &str, belongs: &dyn Fn(&Pair) -> bool| {
        let of: Vec<Pair> = paired
            .pairs
            .iter()
            .filter(|pair| belongs(pair))
            .copied()
            .collect();
        breakdown::line(key, &GroupFigures::of(&of, allowance, bootstrap), allowance)
    };
    let on_first = |pair: &Pair| pair.worn_s.map(|worn_s| day_of_wear(worn_s) == 1);
    let moves = |pair: &Pair, keys: [usize; 2]| {
        let direction = pair.rate_mg_dl_min.and_then(Bin::direction);
        direction.is_some_and(|direction| keys.contains(&direction))
    };
    let anew;
    let known = match known {
        Some(known) => known,
        None => {
            anew = Known::of_all(record, reader.night).ok()?;
            &anew
        }
    };
    Some(TrustBrief {
        counts: counts(&worn, &checks, &paired, &other, allowance),
        agreement: agreement(&paired.pairs, &ask, bootstrap),
        first_day: group("1", &|pair| on_first(pair) == Some(true)),
        later_days: group("2+", &|pair| on_first(pair) == Some(false)),
        falling: group("falling", &|pair| moves(pair, [0, 1])),
        rising: group("rising", &|pair| moves(pair, [3, 4])),
        lag: lag::of(&known.learned),
    })
}
