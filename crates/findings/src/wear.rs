//! What is on, how long sensors stay on, and what comes next.

mod against;
mod asked;
mod at_age;
mod chosen;
mod coming;
mod drawer;
mod found;
mod grounds;
mod habits;
mod lost;
mod places;
mod places_worn;
mod settled;
mod skin;
mod staying;
mod teach;
pub mod trials;
mod unmet;
mod why;

use interstice_book::{Book, Record};
use interstice_glucose::{BodySite, Ending, LivedClock, Second, SensorKind, SkinAfter};
use interstice_methods::staying::Stay;
use serde::Serialize;

use crate::account::reader;
use crate::trust::{BeddingHelps, bedding_helps, trust};
use crate::worn::{SensorWorn, sensors_worn};
use crate::{FindingsError, Time, TrustAsk, TrustFindings};

pub use against::{Against, Standing};
pub use at_age::AtAge;
pub use chosen::{AwayDays, Chosen, Settlement};
use coming::labelled_end;
pub use coming::{Coming, Planned};
pub use drawer::{Bedding, CostIn, CostOf, Costs, Drawer, DrawerLot, NeverWorn, Supply, Year};
pub use found::{Found, Would};
pub use habits::Habits;
pub use lost::{
    Asked, Claim, LostSensor, SensorRecord, Step, TraceFacts, record_asked, record_book, sensor_record,
};
pub use places_worn::{PlaceWorn, PressureThere, SpotWorn};
pub use settled::{InStock, Settled, Turn};
pub use skin::{SkinGroup, SkinTable};
pub use staying::{Group, Point, Staying};
pub use teach::{SteadyHour, WorthChecking, WorthLine};
pub use trials::TrialLine;

/// Readings this recent belong to a sensor that is still on, seconds. Ours.
const STILL_ON_S: Second = 6 * 3600;
/// One that was put on, or started, and has not read waits so long at most where nothing more is known, seconds. Ours: longer
/// than anyone beds in and than any warm-up.
const WAITS_S: Second = 3 * 86_400;

/// What is worn, was worn and will be.
#[derive(Clone, Debug, Serialize)]
pub struct WearFindings {
    /// The moment all this is told for.
    pub now: Time,
    /// The last automatic reading before it.
    pub last_reading: Option<Time>,
    /// The kind of sensor in use, as the wearer described it.
    pub kind: Option<Kind>,
    /// Sensors on the body now.
    pub on_now: Vec<OnNow>,
    /// How long sensors stayed on, all of them and by group; empty where none ended.
    pub survival: Vec<Staying>,
    /// How sensors ended.
    pub ends: Vec<End>,
    /// Sensors that were lost, latest first.
    pub lost: Vec<LostSensor>,
    /// What was claimed of them.
    pub claims: Vec<Claim>,
    /// How the skin was afterwards, all together and by group; empty where nothing was told.
    pub skin: Vec<SkinTable>,
    /// What the readings tell of and nobody wrote down.
    pub found: Vec<Found>,
    /// Places on the body, and what came of the sensors worn there.
    pub places: Vec<PlaceWorn>,
    /// What the wearer does when one is put on.
    pub habits: Habits,
    /// What tells this book from others, for the names of calendar events.
    pub book_id: String,
    /// Sensors to come.
    pub plan: Vec<Planned>,
    /// Why there is no plan.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub plan_reason: Option<String>,
    /// What the plan could not satisfy.
    pub unmet: Vec<String>,
    /// Minutes of the days ahead in which no sensor reads.
    pub uncovered_min: Option<i64>,
    /// What the plan rests on: choices and weights, chosen or usual.
    pub choices: Chosen,
    /// The drawer: `stock`, `supply` and `cost`.
    #[serde(flatten)]
    pub drawer: Drawer,
    /// Personal trials, by when they began.
    pub trials: Vec<TrialLine>,
    /// The first day with and without bedding in; what it costs is in `cost`.
    pub bedding: BeddingHelps,
    /// Blood checks that would teach most today.
    pub worth_checking: WorthChecking,
}

/// A kind of sensor.
#[derive(Clone, Debug, Serialize)]
pub struct Kind {
    /// The wearer's name of it.
    pub name: String,
    /// Labelled wear, hours.
    pub wear_h: f64,
    /// What may follow, hours.
    pub extra_h: f64,
    /// Warm-up, minutes.
    pub warm_up_min: u32,
}

/// A sensor on the body.
#[derive(Clone, Debug, Serialize)]
pub struct OnNow {
    /// Its number among all that were ever worn, from 1.
    pub number: u64,
    /// Its name, where it has one.
    pub sensor_id: Option<String>,
    /// Where.
    pub site: Option<String>,
    /// Put on, where that was told.
    pub put_on: Option<Time>,
    /// Started; `None` where it beds in.
    pub started: Option<Time>,
    /// Hours since it was started.
    pub age_h: Option<f64>,
    /// Hours of labelled wear left; negative beyond it. `None` without a kind, and while it beds in.
    pub left_h: Option<f64>,
    /// Its labelled end.
    pub labelled_end: Option<Time>,
    /// How far to trust it at its age; `None` while it beds in, where trust was not looked at, or with too few checks in all.
    pub trust: Option<AtAge>,
}

/// How many sensors ended in one way.
#[derive(Clone, Debug, Serialize)]
pub struct End {
    /// As [`Ending::name`] has it, or 'not told'.
    pub how: &'static str,
    /// Sensors.
    pub sensors: u64,
    /// Whether it counts as a loss.
    pub loss: bool,
    /// Labelled hours that were not worn, of those whose wear is known; `None` without a kind.
    pub hours_lost: Option<f64>,
}

/// What is asked.
#[derive(Clone, Copy, Debug)]
pub struct WearAsk {
    /// The moment, seconds since 1970.
    pub now: Second,
    /// How long to bed in, hours, in place of what was chosen.
    pub bedding_h: Option<u32>,
}

impl WearAsk {
    /// As of a moment, with what was chosen.
    pub fn at(now: Second) -> Self {
        WearAsk { now, bedding_h: None }
    }
}

/// What is worn, was worn and will be.
///
/// # Errors
/// `Book` where the book cannot be read.
pub fn wear_book(book: &Book, ask: WearAsk) -> Result<WearFindings, FindingsError> {
    // What came later was not known then.
    let record = book.load(Second::MIN, ask.now.saturating_add(1))?;
    let judged = match trust(&record, reader(book)?, &TrustAsk::default()) {
        Ok(trust) => Some(trust),
        // Without readings there is nothing to judge; what was written down is told all the same.
        Err(FindingsError::Empty) => None,
        Err(error) => return Err(error),
    };
    Ok(wear(&record, &Settled::of(book)?, judged.as_ref(), ask))
}

/// The drawer alone.
///
/// # Errors
/// `Book` where the book cannot be read.
pub fn drawer_book(book: &Book, ask: WearAsk) -> Result<Drawer, FindingsError> {
    let (record, settled) = (book.load_all()?, Settled::of(book)?);
    let worn = worn(&record, &settled, ask.now);
    Ok(drawer::drawer(&worn, &settled, &record.clock, ask))
}

/// The same of a record already loaded, which should reach up to the moment that is asked for and no further. `trust`: of the same
/// record, for how far sensors at each place can be trusted.
pub fn wear(record: &Record, settled: &Settled, trust: Option<&TrustFindings>, ask: WearAsk) -> WearFindings {
    let kinds = &settled.kinds;
    let kind = kinds.in_use.map(|place| &kinds.all[place]);
    let worn = worn(record, settled, ask.now);
    let drawer = drawer::drawer(&worn, settled, &record.clock, ask);
    let beside = trials::Beside {
        record,
        worn: &worn,
        now: ask.now,
    };
    let (trials, asks) = trials::trials(&settled.trials, beside, kind);
    let settled = &Settled {
        turns: asks.coming,
        waiting: asks.waiting,
        ..drawer.settle(settled, ask.now)
    };
    let places = places_worn::places_worn(&worn, kind, &record.clock, ask.now, trust);
    let evidence = grounds::Evidence {
        clock: &record.clock,
        worn: &worn,
        places: &places,
        trust,
        wear_h: kind.map_or(0.0, |kind| f64::from(kind.wear_min) / 60.0),
    };
    let coming = coming::coming(&worn, settled, &evidence, ask);
    WearFindings {
        now: Time(record.clock.moment(ask.now)),
        last_reading: worn
            .iter()
            .filter_map(|worn| worn.it.readings)
            .map(|(_, last)| last.min(ask.now))
            .max()
            .map(|at| Time(record.clock.moment(at))),
        kind: kind.map(told),
        on_now: worn
            .iter()
            .zip(1..)
            .filter(|(worn, _)| worn.is_on)
            .map(|(worn, number)| on_now((worn, number), kind, &record.clock, ask.now, trust))
            .collect(),
        survival: staying::staying(&worn, kind),
        ends: ends(&worn, kind),
        lost: lost::lost(&worn, kind, settled, &record.clock),
        claims: lost::claims(settled, &record.clock),
        skin: skin::skin(&worn),
        found: found::found(record, &worn, kind),
        places,
        habits: habits::habits(&worn),
        book_id: settled.book_id.clone(),
        plan: coming.planned,
        plan_reason: coming.reason,
        unmet: coming.unmet,
        uncovered_min: coming.uncovered_min,
        choices: Chosen::of(&settled.choices, &record.clock),
        drawer,
        worth_checking: teach::worth_checking(&teach::Looked {
            record,
            worn: &worn,
            trials: &trials,
            trust,
            now: ask.now,
        }),
        trials,
        bedding: bedding_helps(record, ask.now),
    }
}

/// All sensors put on until now.
pub(crate) fn worn(record: &Record, settled: &Settled, now: Second) -> Vec<Worn> {
    let kind = settled.kinds.in_use.map(|place| &settled.kinds.all[place]);
    sensors_worn(record, Second::MIN / 2, now + 1)
        .into_iter()
        .map(|worn| Worn::new(worn, kind, now))
        .collect()
}

/// A sensor with what is asked of it here.
pub(crate) struct Worn {
    pub(crate) it: SensorWorn,
    /// Whether it is still on.
    pub(crate) is_on: bool,
    /// Hours on the body, from being put on, or from its start where only that is known, until its end or now.
    pub(crate) hours: f64,
}

impl Worn {
    fn new(it: SensorWorn, kind: Option<&SensorKind>, now: Second) -> Self {
        // Where no readings are brought in, one that was started is on until its time is over.
        let lasts = kind
            .zip(it.started)
            .map(|(kind, started)| started + 60 * Second::from(kind.wear_min + kind.extra_min));
        let seen_until = match it.readings {
            Some((_, last)) => last + STILL_ON_S,
            None => lasts.unwrap_or(it.from() + WAITS_S),
        };
        let is_on = it.ended.is_none_or(|ended| ended > now) && now <= seen_until;
        let until = if is_on { now } else { it.end().unwrap_or(it.from()) };
        let hours = (until - it.from()).max(0) as f64 / 3600.0;
        Worn { it, is_on, hours }
    }

    pub(crate) fn is_lost(&self) -> bool {
        !self.is_on && self.it.ending().is_some_and(Ending::is_loss)
    }

    /// Whether the skin took it badly; `None` where nothing was told of the skin.
    pub(crate) fn skin_trouble(&self) -> Option<bool> {
        let taken_off = self.it.ending() == Some(Ending::PainOrSkin);
        let told = self.it.detail.skin.map(SkinAfter::is_reaction);
        told.map(|told| told || taken_off).or(taken_off.then_some(true))
    }

    pub(crate) fn stay(&self) -> Stay {
        Stay {
            hours: self.hours,
            lost: self.is_lost(),
        }
    }

    pub(crate) fn site(&self) -> Option<&BodySite> {
        self.it.site.as_ref()
    }
}

fn told(kind: &SensorKind) -> Kind {
    Kind {
        name: kind.name.clone(),
        wear_h: f64::from(kind.wear_min) / 60.0,
        extra_h: f64::from(kind.extra_min) / 60.0,
        warm_up_min: kind.warm_up_min,
    }
}

fn on_now(
    (worn, number): (&Worn, u64),
    kind: Option<&SensorKind>,
    clock: &LivedClock,
    now: Second,
    trust: Option<&TrustFindings>,
) -> OnNow {
    let time = |at: Second| Time(clock.moment(at));
    let started = worn.it.start().filter(|&at| at <= now);
    let end = kind.and_then(|kind| labelled_end(worn, kind));
    OnNow {
        number,
        sensor_id: worn.it.sensor.clone(),
        site: worn.site().map(ToString::to_string),
        put_on: worn.it.put_on.map(time),
        started: started.map(time),
        age_h: started.map(|at| (now - at) as f64 / 3600.0),
        left_h: end
            .filter(|_| started.is_some())
            .map(|end| (end - now) as f64 / 3600.0),
        labelled_end: end.filter(|_| started.is_some()).map(time),
        trust: started
            .zip(trust)
            .and_then(|(at, trust)| at_age::at_age(now - at, trust)),
    }
}

fn ends(worn: &[Worn], kind: Option<&SensorKind>) -> Vec<End> {
    let ways = Ending::ALL.into_iter().map(Some).chain([None]);
    let of = |way: Option<Ending>| -> Vec<&Worn> {
        worn.iter()
            .filter(|worn| !worn.is_on && worn.it.ending() == way)
            .collect()
    };
    ways.map(|way| (way, of(way)))
        .filter(|(_, sensors)| !sensors.is_empty())
        .map(|(way, sensors)| End {
            how: way.map_or("not told", Ending::name),
            sensors: sensors.len() as u64,
            loss: way.is_some_and(Ending::is_loss),
            hours_lost: kind.map(|kind| sensors.iter().map(|worn| short(worn, kind)).sum()),
        })
        .collect()
}

/// Labelled hours a sensor was not worn.
fn short(worn: &Worn, kind: &SensorKind) -> f64 {
    let (Some(end), Some(ended)) = (labelled_end(worn, kind), worn.it.end()) else {
        return 0.0;
    };
    (end - ended).max(0) as f64 / 3600.0
}
