//! Insulin still acting: what is left in the depot under the skin of doses that were logged.
//!
//! Shown, never advised on. Two published models of the same insulin differ by more than twice after four hours, so
//! what is left is a [`Span`], not a number; what is left in the depot is less than what is still to lower glucose.

mod absorption;
mod course;

use interstice_glucose::{Delivery, Dose, INSULIN_LASTS_MIN, InsulinKind, InsulinLasts, Second};

pub use absorption::{Absorption, absorptions};
pub use course::course;

/// How much later than it was taken a dose may have been written down: 5 to 20 minutes are usual (common practice, no
/// source).
pub const LOGGED_LATE_S: Second = 20 * 60;
/// The longest a basal rate is taken to run on when no other is logged: a pump's programme repeats daily, so its log names
/// a rate at least once a day (ours, no source).
pub const BASAL_RUNS_S: Second = 24 * 3600;
/// Share left at which insulin counts as spent where the wearer says how long theirs acts (ours, no source).
pub const SPENT: f64 = 0.05;
/// Doses older than this have nothing left that would show: 0.3 % of a rapid or short one at most, 9 % of 10 units of an
/// intermediate one.
const REACH_S: Second = 24 * 3600;

/// The least and the most that published models and late logging allow.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Span {
    /// Least.
    pub lo: f64,
    /// Most.
    pub hi: f64,
}

impl Span {
    fn of(scenarios: Scenarios) -> Span {
        Span {
            lo: scenarios.into_iter().fold(f64::INFINITY, f64::min),
            hi: scenarios.into_iter().fold(0.0, f64::max),
        }
    }

    /// Half way between.
    pub fn middle(self) -> f64 {
        0.5 * (self.lo + self.hi)
    }
}

/// What is left by either model, for doses taken when logged and for doses logged late. Summed over doses one by one: the
/// least of the sums is more than the sum of the least.
type Scenarios = [f64; 4];

/// How long the wearer says that an insulin of theirs acts, minutes; between 1 and 12 hours.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OwnDuration(f64);

impl OwnDuration {
    /// `None` outside 60 to 720 minutes.
    pub fn minutes(minutes: f64) -> Option<Self> {
        (f64::from(*INSULIN_LASTS_MIN.start())..=f64::from(*INSULIN_LASTS_MIN.end()))
            .contains(&minutes)
            .then_some(OwnDuration(minutes))
    }

    /// As said.
    pub fn as_minutes(self) -> f64 {
        self.0
    }
}

/// What the wearer says of their insulins; of one nothing is said of, the published curve stands.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct OwnDurations {
    /// Rapid-acting.
    pub rapid: Option<OwnDuration>,
    /// Short-acting.
    pub short: Option<OwnDuration>,
}

impl From<InsulinLasts> for OwnDurations {
    fn from(said: InsulinLasts) -> Self {
        let own = |minutes: Option<u16>| OwnDuration::minutes(minutes?.into());
        OwnDurations {
            rapid: own(said.rapid_min),
            short: own(said.short_min),
        }
    }
}

impl OwnDurations {
    /// Of an insulin.
    pub fn of(self, insulin: InsulinKind) -> Option<OwnDuration> {
        match insulin {
            InsulinKind::Rapid => self.rapid,
            InsulinKind::Short => self.short,
            _ => None,
        }
    }
}

/// What is still acting at a moment.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct OnBoard {
    /// Left of doses taken at once or spread, units.
    pub doses: Span,
    /// Left of what a pump's basal rate delivered, units.
    pub basal: Span,
    /// Not delivered yet of doses being spread, units.
    pub to_come: f64,
    /// Doses of the last 24 hours that no published curve is used for: long-acting, premixed, of unsaid kind, or into a
    /// vein.
    pub left_out: u32,
}

/// What is left at `at` of `doses`, which stand in time order; later ones do not count.
///
/// Absorption models of [`absorptions`], fractions added up over doses (superposition). The span reaches from the least to
/// the most that the models say, for a dose taken when logged or up to [`LOGGED_LATE_S`] before. Doses older than 24 hours
/// are taken as spent.
pub fn on_board(doses: &[Dose], at: Second, own: OwnDurations) -> OnBoard {
    let mut all = OnBoard::default();
    let (mut of_doses, mut of_basal) = (Scenarios::default(), Scenarios::default());
    let first = doses.partition_point(|dose| dose.at < at - REACH_S - BASAL_RUNS_S);
    let last = doses.partition_point(|dose| dose.at <= at);
    let near = &doses[first.min(last)..last];
    for (place, dose) in near.iter().enumerate() {
        if dose.delivery == Delivery::BasalRate {
            let next = near[place + 1..]
                .iter()
                .find(|next| next.delivery == Delivery::BasalRate);
            let until = next.map_or(at, |next| next.at).min(dose.at + BASAL_RUNS_S);
            add(&mut of_basal, left_of_basal(dose, until, at, own));
        } else if dose.at >= at - REACH_S {
            match scenarios(dose, at, own) {
                None => all.left_out += 1,
                Some(left) => add(&mut of_doses, left.map(|share| share * dose.units)),
            }
            if let Delivery::Spread { minutes } = dose.delivery {
                all.to_come += dose.units * (1.0 - given(minutes, at - dose.at));
            }
        }
    }
    (all.doses, all.basal) = (Span::of(of_doses), Span::of(of_basal));
    all
}

fn add(all: &mut Scenarios, more: Scenarios) {
    for (sum, more) in all.iter_mut().zip(more) {
        *sum += more;
    }
}

/// Share of a spread dose delivered by so long after its start.
fn given(minutes: u32, elapsed: Second) -> f64 {
    let over_s = 60.0 * f64::from(minutes.max(1));
    (elapsed as f64 / over_s).clamp(0.0, 1.0)
}

/// Share of one dose that is left in the depot at `at`; of a spread one, of what was delivered by then, as a share of all of
/// it. `None` for doses that no published curve is used for, and for basal rates.
pub fn left(dose: &Dose, at: Second, own: OwnDurations) -> Option<Span> {
    scenarios(dose, at, own).map(Span::of)
}

fn scenarios(dose: &Dose, at: Second, own: OwnDurations) -> Option<Scenarios> {
    let (over_min, late_min) = match dose.delivery {
        Delivery::AtOnce => (0.0, LOGGED_LATE_S as f64 / 60.0),
        // What a pump spreads it logs itself.
        Delivery::Spread { minutes } => (f64::from(minutes), 0.0),
        Delivery::BasalRate | Delivery::Intravenous => return None,
    };
    let models = absorptions(dose.insulin)?;
    let minutes = (at - dose.at) as f64 / 60.0;
    if minutes < 0.0 {
        return Some(Scenarios::default());
    }
    Some(by_model(models, |model| {
        let paced = model.lasting(own.of(dose.insulin), dose.units);
        [minutes, minutes + late_min].map(|minutes| paced.left_of_spread(minutes, over_min, dose.units))
    }))
}

/// Two figures of each model; of an insulin with one model, of that one twice.
fn by_model(models: &[Absorption], of: impl Fn(&Absorption) -> [f64; 2]) -> Scenarios {
    let mut all = Scenarios::default();
    for (pair, model) in all.chunks_exact_mut(2).zip(models.iter().cycle()) {
        pair.copy_from_slice(&of(model));
    }
    all
}

/// Share left of a dose taken at once so many minutes ago, the mean of the published models; what rules go by that need one
/// number. `None` as [`left`].
pub fn left_by_models(insulin: InsulinKind, minutes: f64, units: f64, own: OwnDurations) -> Option<f64> {
    let models = absorptions(insulin)?;
    let sum: f64 = models
        .iter()
        .map(|model| model.lasting(own.of(insulin), units).left(minutes, units))
        .sum();
    Some(sum / models.len() as f64)
}

/// Units left of a rate that ran from `dose.at` until `until`.
fn left_of_basal(dose: &Dose, until: Second, at: Second, own: OwnDurations) -> Scenarios {
    let ran_min = (until - dose.at) as f64 / 60.0;
    let kind = match dose.insulin {
        // A pump holds rapid or short insulin, whatever its log calls the rate.
        InsulinKind::Short => InsulinKind::Short,
        _ => InsulinKind::Rapid,
    };
    let Some(models) = absorptions(kind).filter(|_| ran_min > 0.0) else {
        return Scenarios::default();
    };
    let units = dose.units * ran_min / 60.0;
    let minutes = (at - dose.at) as f64 / 60.0;
    by_model(models, |model| {
        [units
            * model
                .lasting(own.of(kind), units)
                .left_of_spread(minutes, ran_min, units); 2]
    })
}

#[cfg(test)]
mod tests;
