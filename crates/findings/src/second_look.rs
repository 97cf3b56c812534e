//! A moment looked at a second time: what followed moments like it, and how well that would have been told.

use std::sync::{Arc, OnceLock};

use interstice_book::{Book, Record};
use interstice_glucose::{Delivery, Dose, InsulinKind, LowWas, Second, TraceKind, Unit};
use interstice_methods::Series;
use interstice_methods::insulin::course;
use interstice_methods::second_look::{
    self as method, Chance, Day, Eaten, FanPoint, Followed, Moments, NoLook, OfEvent, Past, REACH_DAYS,
    SecondLook, Taken,
};
use interstice_methods::trace::IntervalFrom;
use interstice_tongue::{Message, message};
use serde::Serialize;

mod blood;
mod why;

pub use blood::BloodLook;
use blood::{BloodGround, EarlierBlood};
use why::no_look;

use crate::account::{Reader, reader};
use crate::aside::{Aside, artefacts};
use crate::swings::LastsLine;
use crate::whole::whole;
use crate::window::last_days;
use crate::{FindingsError, Time};

/// What is asked.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct SecondLookAsk {
    /// Which moment; the last reading where left out.
    pub at: Option<Second>,
}

/// A chance in percent, with its 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ChanceLine {
    /// Percent.
    pub percent: f64,
    /// Lower end.
    pub percent_lo95: f64,
    /// Upper end.
    pub percent_hi95: f64,
}

impl From<Chance> for ChanceLine {
    fn from(chance: Chance) -> Self {
        ChanceLine {
            percent: 100.0 * chance.share,
            percent_lo95: 100.0 * chance.lo95,
            percent_hi95: 100.0 * chance.hi95,
        }
    }
}

/// Where glucose went, so many minutes later: shares of outcomes below.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct FanLine {
    /// Minutes after the moment.
    pub minutes: u32,
    /// 5 % lie below.
    pub p5_mg_dl: f64,
    /// 10 % lie below.
    pub p10_mg_dl: f64,
    /// 25 % lie below.
    pub p25_mg_dl: f64,
    /// Half lie below.
    pub p50_mg_dl: f64,
    /// 75 % lie below.
    pub p75_mg_dl: f64,
    /// 90 % lie below.
    pub p90_mg_dl: f64,
    /// 95 % lie below.
    pub p95_mg_dl: f64,
}

impl From<&FanPoint> for FanLine {
    fn from(point: &FanPoint) -> Self {
        let [p5, p10, p25, p50, p75, p90, p95] = point.mg_dl;
        FanLine {
            minutes: point.minutes,
            p5_mg_dl: p5,
            p10_mg_dl: p10,
            p25_mg_dl: p25,
            p50_mg_dl: p50,
            p75_mg_dl: p75,
            p90_mg_dl: p90,
            p95_mg_dl: p95,
        }
    }
}

/// The same as shares below, under the names it is measured by; glucose in mg/dL.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct FanShares {
    /// Minutes after the moment.
    pub minutes: u32,
    /// 10 % lie below.
    pub p10: f64,
    /// 25 % lie below.
    pub p25: f64,
    /// Half lie below.
    pub p50: f64,
    /// 75 % lie below.
    pub p75: f64,
    /// 90 % lie below.
    pub p90: f64,
}

impl From<&FanLine> for FanShares {
    fn from(line: &FanLine) -> Self {
        FanShares {
            minutes: line.minutes,
            p10: line.p10_mg_dl,
            p25: line.p25_mg_dl,
            p50: line.p50_mg_dl,
            p75: line.p75_mg_dl,
            p90: line.p90_mg_dl,
        }
    }
}

/// Coming back into range within three hours, as fractions.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct BackInRange {
    /// Told of this moment; `null` where only the base rate is.
    pub share: Option<f64>,
    /// 95 %, lower end.
    pub lo95: Option<f64>,
    /// Upper end.
    pub hi95: Option<f64>,
    /// The person's own share over past episodes; `null` without any.
    pub base_rate: Option<f64>,
    /// Such episodes.
    pub episodes: usize,
}

impl BackInRange {
    fn of(look: &Looked) -> Option<Self> {
        let episodes = look.episodes?;
        let fraction = |percent: f64| percent / 100.0;
        Some(BackInRange {
            share: look.back.map(|chance| fraction(chance.percent)),
            lo95: look.back.map(|chance| fraction(chance.percent_lo95)),
            hi95: look.back.map(|chance| fraction(chance.percent_hi95)),
            base_rate: (episodes.of > 0).then(|| episodes.back as f64 / episodes.of as f64),
            episodes: episodes.of,
        })
    }
}

/// How many past moments are alike, and how alike they are.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct AlikeLine {
    /// Past moments looked through.
    pub of: usize,
    /// Alike, a hundred at most.
    pub moments: usize,
    /// Lived days they are on.
    pub days: usize,
    /// Half of them are at most so far off in level.
    pub half_within_mg_dl: f64,
    /// In slope.
    pub half_within_mg_dl_per_min: f64,
    /// In clock time.
    pub half_within_min: f64,
}

/// How past episodes above range went when you waited.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct EpisodesLine {
    /// Came back within three hours.
    pub back: usize,
    /// Of so many.
    pub of: usize,
    /// The share.
    #[serde(flatten)]
    pub chance: Option<ChanceLine>,
}

/// What followed when a correction was taken.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CorrectedLine {
    /// Moments alike in which one was.
    pub moments: usize,
    /// Lived days they are on.
    pub days: usize,
    /// What followed.
    pub fan: Vec<FanLine>,
    /// A low within four hours.
    pub low: Option<ChanceLine>,
    /// Back in range within three hours, where the moment is above it.
    pub back: Option<ChanceLine>,
}

impl From<&Followed> for CorrectedLine {
    fn from(followed: &Followed) -> Self {
        CorrectedLine {
            moments: followed.moments,
            days: followed.days,
            fan: followed.fan.iter().map(FanLine::from).collect(),
            low: followed.low.map(ChanceLine::from),
            back: followed.back.map(ChanceLine::from),
        }
    }
}

/// What is told of a moment.
#[derive(Clone, Debug, Serialize)]
pub struct Looked {
    /// The reading looked at.
    pub at: Time,
    /// Glucose there.
    pub mg_dl: f64,
    /// Its change over the last quarter of an hour.
    pub mg_dl_per_min: f64,
    /// Whether insulin is written down, so that only moments in which you waited are told of.
    pub only_waiting: bool,
    /// Past moments alike.
    pub alike: AlikeLine,
    /// What followed over four hours.
    pub fan: Vec<FanLine>,
    /// Coming back into range within three hours; `null` unless above range, with 40 past episodes.
    pub back: Option<ChanceLine>,
    /// Past episodes above range; `null` unless above range.
    pub episodes: Option<EpisodesLine>,
    /// A low within four hours; `null` where it is low already.
    pub low: Option<ChanceLine>,
    /// Median time until it turned; `null` where it neither rises nor falls, or half had not turned after four hours.
    pub turn_min: Option<f64>,
    /// What followed when a correction was taken; `null` with fewer than ten such moments alike.
    pub corrected: Option<CorrectedLine>,
    /// Such moments alike.
    pub corrected_moments: usize,
}

/// A reading near the moment.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct CoursePoint {
    /// Minutes after the moment; negative before it.
    pub minutes: f64,
    /// What the sensor said.
    pub mg_dl: f64,
}

/// A second look.
#[derive(Clone, Debug, Serialize)]
pub struct SecondLookFindings {
    /// Unit the wearer reads.
    #[serde(serialize_with = "crate::second_look::symbol")]
    pub unit: Unit,
    /// Bottom and top of the target range.
    pub range_low_mg_dl: f64,
    /// Its top.
    pub range_high_mg_dl: f64,
    /// The moment asked for.
    pub asked: Time,
    /// Past moments alike.
    pub alike: usize,
    /// What followed, under the names it is measured by; the same as in `look`.
    pub fan: Vec<FanShares>,
    /// Coming back into range; `null` unless above it.
    pub back_in_range: Option<BackInRange>,
    /// The answer; `null` with a reason.
    pub look: Option<Looked>,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub look_reason: Option<Message>,
    /// The same of blood, by the estimate; `null` where the look is, with a reason, and in what is told of now.
    pub blood: Option<BloodLook>,
    /// How long insulin is taken to act, where the look rests on what is written down; `null` where none is.
    pub insulin_lasts_hours: Option<LastsLine>,
    /// Why blood is not told.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub blood_reason: Option<Message>,
    /// The readings of that sensor from three hours before the moment to four hours after it: what really came, where that is
    /// known. None of those after it is used for the look.
    pub course: Vec<CoursePoint>,
    /// Readings left out as artefacts or pressure, said or possible.
    pub left_out_readings: u64,
    /// What stands beside it.
    pub caution: &'static str,
}

/// What stands beside every second look.
pub const CAUTION: &str = "This is what was logged and what followed, not advice: it knows nothing of what you are about to eat, take or do. \
When symptoms and the sensor disagree, a blood check decides; a low is for treating, not for waiting. What to take belongs \
with your care team.";

pub(crate) fn symbol<S: serde::Serializer>(unit: &Unit, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_str(unit.symbol())
}

/// A second look at a moment of a book.
///
/// # Errors
/// `Empty` without automatic readings; `Book` where the book cannot be read.
pub fn second_look_book(book: &Book, ask: SecondLookAsk) -> Result<SecondLookFindings, FindingsError> {
    book.span()?.ok_or(FindingsError::Empty)?;
    second_look(&book.load_all()?, reader(book)?, ask)
}

/// The same of a record already loaded.
///
/// # Errors
/// `Empty` without automatic readings.
pub fn second_look(
    record: &Record,
    reader: Reader,
    ask: SecondLookAsk,
) -> Result<SecondLookFindings, FindingsError> {
    let (asked, ground) = Ground::of(record, reader, ask, None)?;
    Ok(second_look_on(record, reader, asked, &ground, true))
}

/// The same of what the sensor says alone.
pub(crate) fn second_look_of_sensor(
    record: &Record,
    reader: Reader,
    at: Second,
) -> Result<SecondLookFindings, FindingsError> {
    let ask = SecondLookAsk { at: Some(at) };
    let (asked, ground) = Ground::of(record, reader, ask, None)?;
    Ok(second_look_on(record, reader, asked, &ground, false))
}

/// What looks at the moments of one lived day rest on.
#[derive(Debug)]
pub(crate) struct Ground {
    /// First instant of the lived day, and the first after it.
    day: (Second, Second),
    laid: Laid,
    /// Made at the first look that can be answered.
    ready: OnceLock<Arc<Day>>,
    /// First instant that is looked at.
    from: Second,
    /// The same of blood, made when it is first asked for; `None` where no sensor was read before the day.
    blood: OnceLock<Option<BloodGround>>,
    /// What was made ready of blood in an earlier state of the book.
    earlier: Option<EarlierBlood>,
}

impl Ground {
    /// For a moment, the last reading where none is asked for; gives it too.
    ///
    /// * `earlier`: of the same day and an earlier state of the book; what it made ready is used again where nothing that came
    ///   before the day differs.
    ///
    /// # Errors
    /// `Empty` without automatic readings.
    pub(crate) fn of(
        record: &Record,
        reader: Reader,
        ask: SecondLookAsk,
        earlier: Option<&Ground>,
    ) -> Result<(Second, Self), FindingsError> {
        let (automatic, whole) = whole(record);
        let (_, last) = whole.span().ok_or(FindingsError::Empty)?;
        let asked = ask.at.unwrap_or(last);
        let (from, to) = last_days(REACH_DAYS as u32, &record.clock, asked);
        let (day, _) = last_days(1, &record.clock, asked);
        let aside = Aside::near(record, reader, &whole, &automatic, (from, to));
        let laid = Laid::without((record, reader), (&whole, &automatic), aside.spans, (from, to));
        let ground = Ground {
            day: (day, to),
            laid,
            ready: OnceLock::new(),
            from,
            blood: OnceLock::new(),
            earlier: earlier.and_then(Ground::of_blood_before),
        };
        if let Some(ready) = earlier.and_then(|earlier| earlier.ready.get())
            && ready.is_of(&Moments::of(ground.laid.past(record, reader)), asked)
        {
            ground.ready.get_or_init(|| Arc::clone(ready));
        }
        Ok((asked, ground))
    }

    fn of_blood_before(&self) -> Option<EarlierBlood> {
        let made = self.blood.get().and_then(Option::as_ref);
        made.map_or_else(|| self.earlier.clone(), |made| Some(made.kept()))
    }

    /// The look at blood, or why there is none.
    fn look_at_blood(&self, record: &Record, reader: Reader, asked: Second) -> Result<BloodLook, Message> {
        let ground = self.blood.get_or_init(|| {
            let window = (self.from, self.day.0, self.day.1);
            BloodGround::of((record, reader), &self.laid, window, asked, self.earlier.as_ref())
        });
        match ground {
            Some(blood) => blood.look(record, reader, asked).map_err(no_look),
            None => Err(message!("look-blood-no-sensor")),
        }
    }

    /// Whether it is of the lived day of a moment.
    pub(crate) fn holds(&self, asked: Second) -> bool {
        (self.day.0..self.day.1).contains(&asked)
    }

    fn look(&self, moments: &Moments<'_>, asked: Second) -> Result<SecondLook, NoLook> {
        let day = match self.ready.get() {
            Some(day) => day,
            None => {
                let made = Arc::new(Day::of(moments, asked)?);
                self.ready.get_or_init(|| made)
            }
        };
        day.look(moments, asked)
    }
}

/// A look that rests on ground already made, of the same record.
///
/// * `of_blood`: whether it is told of blood too, which takes longer.
pub(crate) fn second_look_on(
    record: &Record,
    reader: Reader,
    asked: Second,
    ground: &Ground,
    of_blood: bool,
) -> SecondLookFindings {
    let moments = Moments::of(ground.laid.past(record, reader));
    let looked = ground.look(&moments, asked);
    let targets = reader.group.targets();
    let look_reason = looked.as_ref().err().copied().map(no_look);
    let wanted = of_blood && looked.is_ok();
    let blood = wanted.then(|| ground.look_at_blood(record, reader, asked));
    let (blood, blood_reason) = match blood.transpose() {
        Ok(blood) => (blood, None),
        Err(reason) => (None, Some(reason)),
    };
    let look = looked.ok().as_ref().map(|look| told(look, record));
    SecondLookFindings {
        unit: reader.unit,
        range_low_mg_dl: targets.range_low_mg_dl,
        range_high_mg_dl: targets.range_high_mg_dl,
        asked: Time(record.clock.moment(asked)),
        alike: look.as_ref().map_or(0, |look| look.alike.moments),
        fan: look
            .iter()
            .flat_map(|look| &look.fan)
            .map(FanShares::from)
            .collect(),
        back_in_range: look.as_ref().and_then(BackInRange::of),
        course: course_around(record, look.as_ref().map_or(asked, |look| look.at.0.at)),
        look,
        look_reason,
        blood,
        blood_reason,
        insulin_lasts_hours: moments
            .insulin_is_written()
            .then(|| LastsLine::of(reader.insulin)),
        left_out_readings: ground.laid.left_out,
        caution: CAUTION,
    }
}

fn told(look: &SecondLook, record: &Record) -> Looked {
    Looked {
        at: Time(record.clock.moment(look.at)),
        mg_dl: look.mg_dl,
        mg_dl_per_min: look.slope_mg_dl_min,
        only_waiting: look.insulin_is_written,
        alike: AlikeLine {
            of: look.alike.of,
            moments: look.alike.moments,
            days: look.alike.days,
            half_within_mg_dl: look.alike.level_mg_dl,
            half_within_mg_dl_per_min: look.alike.slope_mg_dl_min,
            half_within_min: look.alike.clock_min,
        },
        fan: look.fan.iter().map(FanLine::from).collect(),
        back: look.back.map(ChanceLine::from),
        episodes: look.episodes.map(|rate| EpisodesLine {
            back: rate.back,
            of: rate.of,
            chance: rate.chance.map(ChanceLine::from),
        }),
        low: look.low.map(ChanceLine::from),
        turn_min: look.turn_min,
        corrected: look.corrected.as_ref().map(CorrectedLine::from),
        corrected_moments: look.corrected_moments,
    }
}

/// Readings around a moment are shown from so long before to so long after it, seconds.
const COURSE_S: (Second, Second) = (3 * 3600, 4 * 3600);

/// Readings around a moment, of the automatic trace that has one there.
fn course_around(record: &Record, at: Second) -> Vec<CoursePoint> {
    let trace = record
        .traces
        .iter()
        .find(|trace| trace.kind == TraceKind::Automatic && !trace.readings.range(at, at + 1).is_empty());
    let Some(readings) = trace.map(|trace| &trace.readings) else {
        return Vec::new();
    };
    let range = readings.range(at - COURSE_S.0, at + COURSE_S.1 + 1);
    let rows = readings.at()[range.clone()].iter().zip(&readings.level()[range]);
    rows.map(|(&read, &level)| CoursePoint {
        minutes: (Second::from(read) - at) as f64 / 60.0,
        mg_dl: record.levels.get(level).mg_per_dl,
    })
    .collect()
}

/// How the fan of one time ahead did, against glucose staying as it is and against the person's own mean by the clock.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ScoreLine {
    /// Minutes ahead.
    pub minutes: u32,
    /// Moments with an outcome.
    pub moments: u64,
    /// Root mean squared error.
    pub rmse_mg_dl: f64,
    /// How much smaller it is than that of glucose staying as it is, a fraction.
    pub skill_vs_persistence: Option<f64>,
    /// The same of the ranked probability score.
    pub crps_skill: Option<f64>,
    /// Outcomes within the 50 % band, a fraction.
    pub coverage50: Option<f64>,
    /// Within the 80 % band.
    pub coverage80: Option<f64>,
    /// Within the 90 % band.
    pub coverage90: Option<f64>,
    /// That of glucose staying as it is.
    pub rmse_persistence_mg_dl: f64,
    /// That of the mean of the past at that hour of the clock.
    pub rmse_clock_mg_dl: f64,
    /// That of the ridge alone.
    pub rmse_ridge_mg_dl: f64,
    /// Continuous ranked probability score.
    pub crps_mg_dl: f64,
    /// That of glucose staying as it is, give or take past changes over that time.
    pub crps_persistence_mg_dl: f64,
    /// Outcomes within the 80 % band.
    pub covered_percent: f64,
    /// Below 90 mg/dL: within the band, of so many.
    pub covered_below_90: (u64, u64),
    /// From 90 to 180 mg/dL.
    pub covered_between: (u64, u64),
    /// Above 180 mg/dL.
    pub covered_above_180: (u64, u64),
}

/// How chances did.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct EventScore {
    /// Chances told whose outcome is known.
    pub told: u64,
    /// How many came.
    pub came: u64,
    /// Brier score of the chances.
    pub brier: f64,
    /// Of the person's own rate until then.
    pub brier_past_rate: f64,
    /// Of the rate over all of them, known only afterwards.
    pub brier_rate_afterwards: f64,
}

impl From<&OfEvent> for EventScore {
    fn from(of: &OfEvent) -> Self {
        EventScore {
            told: of.told,
            came: of.came,
            brier: of.brier,
            brier_past_rate: of.brier_rate,
            brier_rate_afterwards: of.brier_hindsight,
        }
    }
}

/// How the chance of coming back into range within three hours did, once an episode.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ComeBack {
    /// Episodes told.
    pub episodes: u64,
    /// How much smaller its Brier score is than that of the person's own rate until then, a fraction.
    pub brier_skill: Option<f64>,
}

/// How much smaller an error is than another, a fraction; `None` where the other is none.
fn skill(error: f64, other: f64) -> Option<f64> {
    (other > 0.0).then(|| 1.0 - error / other)
}

fn fraction(of: u64, all: u64) -> Option<f64> {
    (all > 0).then(|| of as f64 / all as f64)
}

/// How well the second look would have done over a book.
#[derive(Clone, Debug, Serialize)]
pub struct SecondLookScore {
    /// Lived days told.
    pub days: u64,
    /// Moments told.
    pub moments: u64,
    /// Of them, with too few alike: scored, but the person would have been told so.
    pub too_few_alike: u64,
    /// Whether only moments in which you waited were told.
    pub only_waiting: bool,
    /// By time ahead.
    pub horizons: Vec<ScoreLine>,
    /// How the chance of coming back did, under the names it is measured by.
    pub come_back: ComeBack,
    /// Coming back into range within three hours, once an episode.
    pub episodes: EventScore,
    /// The same at every moment above range.
    pub back: EventScore,
    /// A low within four hours.
    pub low: EventScore,
}

/// Scores the second look over a whole book, each day told from the days before it alone. Only what was marked or said to be
/// pressure is left out, since what is only possible is told from what came after it.
///
/// # Errors
/// `Empty` without automatic readings; `Book` where the book cannot be read.
pub fn second_look_score(book: &Book) -> Result<SecondLookScore, FindingsError> {
    book.span()?.ok_or(FindingsError::Empty)?;
    let (record, reader) = (book.load_all()?, reader(book)?);
    let laid = Laid::all(&record, reader)?;
    let moments = Moments::of(laid.past(&record, reader));
    let score = method::score(&moments);
    let horizons = score.horizons.iter().map(|at| ScoreLine {
        minutes: at.minutes,
        moments: at.forecasts,
        skill_vs_persistence: skill(at.rmse, at.rmse_persistence),
        crps_skill: skill(at.crps, at.crps_persistence),
        coverage50: fraction(at.within_half, at.forecasts),
        coverage80: (at.forecasts > 0).then(|| at.covered_percent() / 100.0),
        coverage90: fraction(at.within_nine_tenths, at.forecasts),
        rmse_mg_dl: at.rmse,
        rmse_persistence_mg_dl: at.rmse_persistence,
        rmse_clock_mg_dl: at.rmse_clock,
        rmse_ridge_mg_dl: at.rmse_ridge,
        crps_mg_dl: at.crps,
        crps_persistence_mg_dl: at.crps_persistence,
        covered_percent: at.covered_percent(),
        covered_below_90: at.covered[0],
        covered_between: at.covered[1],
        covered_above_180: at.covered[2],
    });
    Ok(SecondLookScore {
        days: score.days,
        moments: score.moments,
        too_few_alike: score.too_few_alike,
        only_waiting: moments.insulin_is_written(),
        horizons: horizons.collect(),
        come_back: ComeBack {
            episodes: score.episodes.told,
            brier_skill: skill(score.episodes.brier, score.episodes.brier_rate),
        },
        episodes: EventScore::from(&score.episodes),
        back: EventScore::from(&score.back),
        low: EventScore::from(&score.low),
    })
}

/// A record as the methods take it.
#[derive(Clone, Debug)]
struct Laid {
    at: Vec<u32>,
    mg_dl: Vec<f64>,
    /// What it is known to have been; empty where that is the same.
    came_mg_dl: Vec<f64>,
    intervals: Vec<IntervalFrom>,
    /// The trace of each of those stretches, by its place in the record.
    traces: Vec<usize>,
    insulin: Vec<Taken>,
    meals: Vec<Eaten>,
    on_board: Vec<f64>,
    left_out: u64,
}

impl Laid {
    /// The whole record; only what is marked or said to be pressure is left out.
    fn all(record: &Record, reader: Reader) -> Result<Self, FindingsError> {
        let (automatic, whole) = whole(record);
        let (first, last) = whole.span().ok_or(FindingsError::Empty)?;
        let window = (first, last + 1);
        Ok(Laid::without(
            (record, reader),
            (&whole, &automatic),
            marked(record, window),
            window,
        ))
    }

    fn without(
        (record, reader): (&Record, Reader),
        (whole, automatic): (&Series<'_>, &[usize]),
        mut spans: Vec<(Second, Second)>,
        (from, to): (Second, Second),
    ) -> Self {
        let outside = [(Second::MIN, from), (to, Second::MAX)];
        let inside = whole.without(&outside).len();
        spans.extend(outside);
        let series: Series<'_> = whole.without(&spans);
        let levels: Vec<f64> = record
            .levels
            .as_slice()
            .iter()
            .map(|level| level.said.glucose().mg_per_dl())
            .collect();
        let intervals = series.segments().iter().map(|segment| IntervalFrom {
            start: segment.start,
            interval_s: segment.interval_s,
        });
        let times: Vec<Second> = series.at().iter().map(|&at| at.into()).collect();
        let doses: Vec<Dose> = record.doses.iter().map(|kept| kept.it.clone()).collect();
        Laid {
            mg_dl: series
                .level()
                .iter()
                .map(|&level| levels[level as usize])
                .collect(),
            came_mg_dl: Vec::new(),
            intervals: intervals.collect(),
            traces: series
                .segments()
                .iter()
                .map(|segment| automatic[segment.trace])
                .collect(),
            insulin: insulin(record),
            meals: meals(record),
            on_board: course(&doses, &times, reader.insulin.into()),
            left_out: (inside - series.len()) as u64,
            at: series.at().to_vec(),
        }
    }

    fn past<'a>(&'a self, record: &'a Record, reader: Reader) -> Past<'a> {
        let targets = reader.group.targets();
        Past {
            at: &self.at,
            mg_dl: &self.mg_dl,
            came_mg_dl: &self.came_mg_dl,
            intervals: &self.intervals,
            clock: &record.clock,
            insulin: &self.insulin,
            meals: &self.meals,
            range_mg_dl: (targets.range_low_mg_dl, targets.range_high_mg_dl),
            on_board: &self.on_board,
        }
    }
}

fn marked(record: &Record, (from, to): (Second, Second)) -> Vec<(Second, Second)> {
    let mut spans = artefacts(record, from, to);
    let said = record.low_verdicts.iter().map(|kept| &kept.it);
    spans.extend(
        said.filter(|verdict| verdict.was == LowWas::Pressure)
            .map(|verdict| (verdict.at, verdict.until + 1)),
    );
    spans
}

/// Insulin taken at once or spread that acts within hours; a kind that is not said counts, since it may be such.
fn insulin(record: &Record) -> Vec<Taken> {
    let doses = record.doses.iter().map(|kept| &kept.it);
    doses
        .filter(|dose| {
            let soon = !matches!(dose.insulin, InsulinKind::Intermediate | InsulinKind::Long);
            soon && dose.delivery != Delivery::BasalRate && dose.units > 0.0
        })
        .filter_map(|dose| {
            Some(Taken {
                at: u32::try_from(dose.at).ok()?,
                units: dose.units,
            })
        })
        .collect()
}

fn meals(record: &Record) -> Vec<Eaten> {
    let meals = record.meals.iter().map(|kept| &kept.it);
    meals
        .filter_map(|meal| {
            Some(Eaten {
                at: u32::try_from(meal.at).ok()?,
                grams: meal.carbohydrate_g,
            })
        })
        .collect()
}
