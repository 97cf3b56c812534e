//! The findings as they are shown and written.

use interstice_book::Record;
use interstice_glucose::{InsulinLasts, Second};
use interstice_methods::Interval;
use interstice_methods::swings::{
    Diary, Link, LinkKind, LowsTreated, Pause, PauseBefore, Reactions, Share, Swing, SwingKind, Tally,
    is_by_check, scans_a_day,
};
use serde::Serialize;

use super::SwingSpan;
use crate::Time;
use crate::account::Reader;

/// Swings and what goes with them.
#[derive(Clone, Debug, Default, Serialize)]
pub struct SwingsFindings {
    /// Each, by its start.
    pub swings: Vec<SwingLine>,
    /// Counted.
    pub swing_tally: SwingTally,
    /// How lows were treated.
    pub lows_treated: LowsTreatedLine,
    /// How soon the wearer acts on a rise.
    pub reaction_habit: HabitLine,
    /// How long their insulins act, by the wearer's own word, by which what is left of a dose goes here.
    pub insulin_lasts_hours: LastsLine,
}

/// Hours an insulin acts; the published curves stand where nothing was said.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct LastsLine {
    /// Rapid-acting.
    pub rapid: Option<f64>,
    /// Short-acting.
    pub short: Option<f64>,
}

impl LastsLine {
    pub(crate) fn of(said: InsulinLasts) -> Self {
        let hours = |minutes: Option<u16>| minutes.map(|minutes| f64::from(minutes) / 60.0);
        LastsLine {
            rapid: hours(said.rapid_min),
            short: hours(said.short_min),
        }
    }
}

/// What sets a swing off, or carries it on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum SwingKindLine {
    /// A correction while an earlier one still acted, then a low.
    StackedCorrections,
    /// A low, more eaten against it than first aid asks for, then a high.
    OverTreatedLow,
    /// A meal without a dose, then a high.
    MissedMealDose,
    /// A meal whose dose came late, then a high.
    LateMealDose,
    /// A low, then a high, and nothing logged that explains it.
    Rebound,
    /// Something eaten against a low that was probably pressure on the sensor.
    TreatedPressureLow,
}

impl From<SwingKind> for SwingKindLine {
    fn from(kind: SwingKind) -> Self {
        match kind {
            SwingKind::StackedCorrections => SwingKindLine::StackedCorrections,
            SwingKind::OverTreatedLow => SwingKindLine::OverTreatedLow,
            SwingKind::MissedMealDose => SwingKindLine::MissedMealDose,
            SwingKind::LateMealDose => SwingKindLine::LateMealDose,
            SwingKind::Rebound => SwingKindLine::Rebound,
            SwingKind::TreatedPressureLow => SwingKindLine::TreatedPressureLow,
        }
    }
}

/// One swing.
#[derive(Clone, Debug, Serialize)]
pub struct SwingLine {
    /// What is in it, in the order it came.
    pub kinds: Vec<SwingKindLine>,
    /// Its first link.
    pub start: Time,
    /// The end of its last episode.
    pub end: Time,
    /// Time low that it brought, minutes.
    pub low_min: f64,
    /// Time high that it brought, minutes.
    pub high_min: f64,
    /// One after another.
    pub links: Vec<LinkLine>,
    /// Where waiting may have changed it.
    pub pauses: Vec<PauseLine>,
    /// Instants and readings, mg/dL, from before its first link until after its end, for the picture.
    #[serde(skip)]
    pub course: Vec<(Second, f64)>,
}

/// One link.
#[derive(Clone, Debug, Serialize)]
pub struct LinkLine {
    /// When.
    pub at: Time,
    /// What.
    pub what: LinkName,
    /// Units of a dose.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub units: Option<f64>,
    /// Grams of carbohydrate.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub grams: Option<f64>,
    /// What the sensor showed then, mg/dL.
    pub shown_mg_dl: Option<f64>,
    /// Lowest or highest of an episode, mg/dL.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub extreme_mg_dl: Option<f64>,
    /// When an episode ended, where that was seen.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub until: Option<Time>,
    /// Share of the correction before that was left, percent, by the mean of the published models.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub left_percent: Option<f64>,
    /// After the correction before, or after its meal, minutes.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub after_min: Option<f64>,
    /// The rule it is in by, with its source.
    pub rule: &'static str,
}

/// What a link is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum LinkName {
    /// A high.
    High,
    /// A low.
    Low,
    /// A low that a blood check showed and the sensor did not.
    CheckedLow,
    /// A low that was probably pressure.
    PressureLow,
    /// A meal without a dose.
    UndosedMeal,
    /// A meal whose dose came late.
    Meal,
    /// That dose.
    LateDose,
    /// A correction, the first of a run.
    Correction,
    /// A correction while the one before still acted.
    StackedCorrection,
    /// Something eaten against a low.
    Treatment,
}

/// A pause that was not made.
#[derive(Clone, Debug, Serialize)]
pub struct PauseLine {
    /// When something was done.
    pub at: Time,
    /// `another_correction` or `more_eaten`.
    pub before: &'static str,
    /// Share of the correction before that was left, percent.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub left_percent: Option<f64>,
    /// How long until little of it would have been left, minutes.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub spent_after_min: Option<f64>,
    /// How fast the sensor rose then, mg/dL/min; negative where it fell.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub slope_mg_dl_min: Option<f64>,
    /// After what was eaten before, minutes.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub after_min: Option<f64>,
    /// Grams eaten before it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub before_grams: Option<f64>,
    /// When the high or the low was over.
    pub over_at: Option<Time>,
    /// Whether what followed shows that waiting would have been enough.
    pub was_enough: bool,
}

/// A rate with its interval.
#[derive(Clone, Copy, Debug, PartialEq, Default, Serialize)]
pub struct Rate {
    /// A week.
    pub per_week: Option<f64>,
    /// 95 %, lower end.
    pub lo95: Option<f64>,
    /// 95 %, upper end.
    pub hi95: Option<f64>,
}

impl Rate {
    fn of(per_week: Option<f64>, interval: Option<Interval>) -> Self {
        Rate {
            per_week,
            lo95: interval.map(|interval| interval.lo),
            hi95: interval.map(|interval| interval.hi),
        }
    }
}

/// One kind of swing, counted.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct KindLine {
    /// Which.
    pub kind: SwingKindLine,
    /// Swings it is in.
    pub swings: u64,
    /// How often.
    #[serde(flatten)]
    pub rate: Rate,
}

/// How many times as often, 95 %.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct RatioLine {
    /// Lower end.
    pub lo95: f64,
    /// Upper end; `None` where it has none.
    pub hi95: Option<f64>,
}

/// The four hours most swings begin in.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct UsualHoursLine {
    /// Hour of the clock.
    pub from_hour: u32,
    /// How many hours on.
    pub hours: u32,
    /// Swings that began in them.
    pub swings: u64,
    /// How often the fullest hours would hold as many, were all alike.
    pub by_chance: f64,
}

/// Swings, counted.
#[derive(Clone, Debug, Default, Serialize)]
pub struct SwingTally {
    /// In all.
    pub swings: u64,
    /// How often.
    #[serde(flatten)]
    pub rate: Rate,
    /// Hours low they brought, a week.
    pub low_hours_per_week: Option<f64>,
    /// Hours high.
    pub high_hours_per_week: Option<f64>,
    /// Both, 95 %, lower end.
    pub hours_per_week_lo95: Option<f64>,
    /// Upper end.
    pub hours_per_week_hi95: Option<f64>,
    /// By kind.
    pub kinds: Vec<KindLine>,
    /// Later half of the window against the earlier.
    pub later_to_earlier: Option<RatioLine>,
    /// Weekends against weekdays.
    pub weekend_to_weekday: Option<RatioLine>,
    /// When they begin.
    pub usual_hours: Option<UsualHoursLine>,
    /// Swings in which waiting would have been enough.
    pub pause_was_enough: u64,
    /// Why there is no trend, hour or kind of day; `None` where there is.
    pub reason: Option<String>,
}

/// A share with its exact interval, percent.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ShareLine {
    /// So many …
    pub of: u64,
    /// … of so many.
    pub all: u64,
    /// Percent.
    pub percent: f64,
    /// 95 %.
    pub lo95: f64,
    /// 95 %.
    pub hi95: f64,
}

impl ShareLine {
    fn of(share: Share) -> Self {
        ShareLine {
            of: share.of,
            all: share.all,
            percent: 100.0 * share.of as f64 / share.all as f64,
            lo95: 100.0 * share.interval.lo,
            hi95: 100.0 * share.interval.hi,
        }
    }
}

/// Lower quartile, median, upper quartile.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Quartiles {
    /// Lower quartile.
    pub p25: f64,
    /// Median.
    pub p50: f64,
    /// Upper quartile.
    pub p75: f64,
}

impl Quartiles {
    fn of([p25, p50, p75]: [f64; 3]) -> Self {
        Quartiles { p25, p50, p75 }
    }
}

/// One low that something was eaten against.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct LowTreatedLine {
    /// When it began.
    pub start: Time,
    /// Lowest, mg/dL.
    pub lowest_mg_dl: f64,
    /// When something was first eaten.
    pub first: Time,
    /// How often.
    pub times: usize,
    /// Grams in all.
    pub grams: Option<f64>,
    /// Minutes until back above the low range.
    pub back_after_min: Option<f64>,
    /// Whether a high followed within two hours.
    pub high_after: bool,
    /// Whether blood checks alone showed it.
    pub by_blood_check: bool,
}

/// How lows were treated.
#[derive(Clone, Debug, Default, Serialize)]
pub struct LowsTreatedLine {
    /// In time order.
    pub lows: Vec<LowTreatedLine>,
    /// Lows with nothing logged against them.
    pub untreated: usize,
    /// Grams.
    pub grams: Option<Quartiles>,
    /// Minutes until back.
    pub back_after_min: Option<Quartiles>,
    /// More than 20 g.
    pub more_than_first_aid: Option<ShareLine>,
    /// A high within two hours, after more than 20 g.
    pub high_after_more: Option<ShareLine>,
    /// The same after 20 g or less.
    pub high_after_less: Option<ShareLine>,
    /// Why there are no figures.
    pub reason: Option<String>,
}

/// How soon the wearer acts on a rise.
#[derive(Clone, Debug, Default, Serialize)]
pub struct HabitLine {
    /// Corrections logged.
    pub corrections: usize,
    /// Highs.
    pub highs: usize,
    /// Highs without a correction.
    pub left_alone: usize,
    /// Minutes from the rise to the correction.
    pub after_rise_min: Option<Quartiles>,
    /// Corrections within an hour of the dose before.
    pub within_an_hour: Option<ShareLine>,
    /// A low within four hours, after those.
    pub low_after_soon: Option<ShareLine>,
    /// The same after the others.
    pub low_after_others: Option<ShareLine>,
    /// How often a day the wearer looked by hand; `None` where scans are not kept, or too few days.
    pub scans_per_day: Option<Quartiles>,
    /// Days behind that.
    pub scan_days: usize,
    /// Why there are no figures.
    pub reason: Option<String>,
}

/// How much is drawn before and after a swing.
const DRAWN_BESIDE_S: Second = 45 * 60;

/// Everything, as lines.
pub(super) fn told(
    (record, reader): (&Record, Reader),
    diary: &Diary<'_>,
    swings: &[Swing],
    tally: &Tally,
    lows: &LowsTreated,
    (reactions, scans): (&Reactions, &[u32]),
) -> SwingsFindings {
    let time = |at: Second| Time(record.clock.moment(at));
    SwingsFindings {
        swings: swings
            .iter()
            .map(|swing| swing_line(swing, diary, &time))
            .collect(),
        swing_tally: tally_line(tally),
        lows_treated: lows_line(lows, diary, &time),
        reaction_habit: habit_line(reactions, scans),
        insulin_lasts_hours: LastsLine::of(reader.insulin),
    }
}

fn swing_line(swing: &Swing, diary: &Diary<'_>, time: &impl Fn(Second) -> Time) -> SwingLine {
    SwingLine {
        kinds: swing.kinds.iter().map(|&kind| kind.into()).collect(),
        start: time(swing.start),
        end: time(swing.end),
        low_min: swing.low_s as f64 / 60.0,
        high_min: swing.high_s as f64 / 60.0,
        links: swing
            .links
            .iter()
            .map(|link| link_line(link, diary, time))
            .collect(),
        pauses: swing.pauses.iter().map(|pause| pause_line(pause, time)).collect(),
        course: diary
            .recording
            .course(swing.start - DRAWN_BESIDE_S, swing.end + DRAWN_BESIDE_S)
            .collect(),
    }
}

/// A swing for the timeline.
pub(super) fn span(swing: &Swing, diary: &Diary<'_>) -> SwingSpan {
    SwingSpan {
        from: swing.start,
        to: swing.end,
        links: swing
            .links
            .iter()
            .map(|link| (link.at, link_name(link.what, diary)))
            .collect(),
    }
}

fn link_name(what: LinkKind, diary: &Diary<'_>) -> LinkName {
    match what {
        LinkKind::High(_) => LinkName::High,
        LinkKind::Low(place) if is_by_check(&diary.episodes[place]) => LinkName::CheckedLow,
        LinkKind::Low(_) => LinkName::Low,
        LinkKind::PressureLow(_) => LinkName::PressureLow,
        LinkKind::Meal { undosed: true, .. } => LinkName::UndosedMeal,
        LinkKind::Meal { .. } => LinkName::Meal,
        LinkKind::LateDose { .. } => LinkName::LateDose,
        LinkKind::Correction { left: Some(_), .. } => LinkName::StackedCorrection,
        LinkKind::Correction { .. } => LinkName::Correction,
        LinkKind::Treatment { .. } => LinkName::Treatment,
    }
}

fn link_line(link: &Link, diary: &Diary<'_>, time: &impl Fn(Second) -> Time) -> LinkLine {
    let mut line = LinkLine {
        at: time(link.at),
        what: LinkName::High,
        units: None,
        grams: None,
        shown_mg_dl: link.shown_mg_dl,
        extreme_mg_dl: None,
        until: None,
        left_percent: None,
        after_min: None,
        rule: match link.what {
            LinkKind::Low(place) if is_by_check(&diary.episodes[place]) => CHECKED_RULE,
            what => rule(what),
        },
    };
    let mut episode = |place: usize, what: LinkName| {
        line.what = what;
        let of = &diary.episodes[place];
        line.extreme_mg_dl = Some(of.extreme_mg_dl);
        line.until = (of.ending == interstice_methods::EpisodeEnd::Recovered).then(|| time(of.end));
    };
    match link.what {
        LinkKind::High(place) => episode(place, LinkName::High),
        LinkKind::Low(place) if is_by_check(&diary.episodes[place]) => episode(place, LinkName::CheckedLow),
        LinkKind::Low(place) => episode(place, LinkName::Low),
        LinkKind::PressureLow(place) => episode(place, LinkName::PressureLow),
        LinkKind::Meal { grams, undosed } => {
            line.what = if undosed {
                LinkName::UndosedMeal
            } else {
                LinkName::Meal
            };
            line.grams = grams;
        }
        LinkKind::LateDose { units, late_s } => {
            line.what = LinkName::LateDose;
            (line.units, line.after_min) = (Some(units), Some(late_s as f64 / 60.0));
        }
        LinkKind::Correction {
            units, left, after_s, ..
        } => {
            line.what = match left {
                Some(_) => LinkName::StackedCorrection,
                None => LinkName::Correction,
            };
            line.units = Some(units);
            line.left_percent = left.map(|left| 100.0 * left);
            line.after_min = after_s.map(|seconds| seconds as f64 / 60.0);
        }
        LinkKind::Treatment { grams } => {
            line.what = LinkName::Treatment;
            line.grams = grams;
        }
    }
    line
}

/// The rule of a low that a blood check alone showed.
const CHECKED_RULE: &str = "a blood check below the target range, with no low of the sensor from a quarter of an hour before it to half an hour after (ours); within 4 hours of the last correction (ours)";

/// The rule of a link in words; docs/methods/swings.md says more.
fn rule(what: LinkKind) -> &'static str {
    match what {
        LinkKind::High(_) => {
            "above the target range for 15 minutes (Battelino et al. 2023); after a low, beginning within 2 hours of it (Acciaroli et al. 2022); after a meal, within 3 hours (ours)"
        }
        LinkKind::Low(_) => {
            "below the target range for 15 minutes (Battelino et al. 2023); within 4 hours of the last correction (ours)"
        }
        LinkKind::PressureLow(_) => {
            "at least half of it probably pressure on the sensor, or said to be (ours)"
        }
        LinkKind::Meal { undosed: true, .. } => {
            "20 g or more while in range, no dose from an hour before to an hour after, on a day with doses logged (ours)"
        }
        LinkKind::Meal { .. } => {
            "20 g or more while in range, no dose from an hour before to 15 minutes after (ours)"
        }
        LinkKind::LateDose { .. } => {
            "the first dose, 15 minutes to an hour after the meal began (ours; before eating is what trials compared: Slattery et al. 2018)"
        }
        LinkKind::Correction { left: Some(_), .. } => {
            "at least 20 % of the correction before was left, by the mean of two published models (Hovorka et al. 2004, Wilinska et al. 2005; the share is ours)"
        }
        LinkKind::Correction { .. } => {
            "a dose said to be one, or taken above the target range with no meal beside it (ours)"
        }
        LinkKind::Treatment { .. } => {
            "said to be against a low, or eaten while the sensor showed one with no dose beside it (ours); more than 20 g is more than first aid (American Diabetes Association)"
        }
    }
}

fn pause_line(pause: &Pause, time: &impl Fn(Second) -> Time) -> PauseLine {
    let mut line = PauseLine {
        at: time(pause.at),
        before: "another_correction",
        left_percent: None,
        spent_after_min: None,
        slope_mg_dl_min: None,
        after_min: None,
        before_grams: None,
        over_at: None,
        was_enough: pause.was_enough,
    };
    match pause.before {
        PauseBefore::Correction {
            left,
            spent_after_s,
            slope_mg_dl_min,
            high_over,
        } => {
            line.left_percent = Some(100.0 * left);
            line.spent_after_min = Some(spent_after_s as f64 / 60.0);
            line.slope_mg_dl_min = slope_mg_dl_min;
            line.over_at = high_over.map(time);
        }
        PauseBefore::MoreEaten {
            after_s,
            before_g,
            low_over,
        } => {
            line.before = "more_eaten";
            line.after_min = Some(after_s as f64 / 60.0);
            line.before_grams = Some(before_g);
            line.over_at = low_over.map(time);
        }
    }
    line
}

fn tally_line(tally: &Tally) -> SwingTally {
    let ratio = |interval: Option<Interval>| {
        interval.map(|interval| RatioLine {
            lo95: interval.lo,
            hi95: interval.hi.is_finite().then_some(interval.hi),
        })
    };
    SwingTally {
        swings: tally.swings,
        rate: Rate::of(tally.per_week, tally.per_week_interval),
        low_hours_per_week: tally.low_hours_per_week,
        high_hours_per_week: tally.high_hours_per_week,
        hours_per_week_lo95: tally.hours_interval.map(|interval| interval.lo),
        hours_per_week_hi95: tally.hours_interval.map(|interval| interval.hi),
        kinds: tally
            .kinds
            .iter()
            .map(|kind| KindLine {
                kind: kind.kind.into(),
                swings: kind.swings,
                rate: Rate::of(kind.per_week, kind.per_week_interval),
            })
            .collect(),
        later_to_earlier: ratio(tally.later_to_earlier),
        weekend_to_weekday: ratio(tally.weekend_to_weekday),
        usual_hours: tally.usual_hours.map(|usual| UsualHoursLine {
            from_hour: usual.from_hour,
            hours: interstice_methods::swings::USUAL_HOURS,
            swings: usual.swings,
            by_chance: usual.by_chance,
        }),
        pause_was_enough: tally.pause_was_enough,
        reason: tally.usual_hours.is_none().then(|| {
            format!(
                "too few swings to tell when they come or whether there are more of them lately: {} of the {} it takes",
                tally.swings,
                interstice_methods::swings::FEWEST_SWINGS
            )
        }),
    }
}

fn lows_line(lows: &LowsTreated, diary: &Diary<'_>, time: &impl Fn(Second) -> Time) -> LowsTreatedLine {
    let line = |low: &interstice_methods::swings::LowTreated| LowTreatedLine {
        start: time(diary.episodes[low.low].start),
        lowest_mg_dl: diary.episodes[low.low].extreme_mg_dl,
        first: time(low.first),
        times: low.times,
        grams: low.grams,
        back_after_min: low.back_after_s.map(|seconds| seconds as f64 / 60.0),
        high_after: low.high_after,
        by_blood_check: is_by_check(&diary.episodes[low.low]),
    };
    let grams = lows.grams().map(Quartiles::of);
    LowsTreatedLine {
        untreated: lows.untreated,
        back_after_min: lows.back_after_min().map(Quartiles::of),
        more_than_first_aid: lows.more_than_first_aid().map(ShareLine::of),
        high_after_more: lows.high_after(true).map(ShareLine::of),
        high_after_less: lows.high_after(false).map(ShareLine::of),
        reason: grams.is_none().then(|| {
            format!(
                "something counted was logged against {} of the {} lows it takes",
                lows.lows.iter().filter(|low| low.grams.is_some()).count(),
                interstice_methods::swings::FEWEST_LOWS
            )
        }),
        grams,
        lows: lows.lows.iter().map(line).collect(),
    }
}

fn habit_line(reactions: &Reactions, scans: &[u32]) -> HabitLine {
    let corrections = reactions.all.len();
    HabitLine {
        corrections,
        highs: reactions.highs,
        left_alone: reactions.left_alone,
        after_rise_min: reactions.after_rise_min().map(Quartiles::of),
        within_an_hour: reactions.soon().map(ShareLine::of),
        low_after_soon: reactions.low_after(true).map(ShareLine::of),
        low_after_others: reactions.low_after(false).map(ShareLine::of),
        scans_per_day: scans_a_day(scans).map(Quartiles::of),
        scan_days: scans.len(),
        reason: (corrections < interstice_methods::swings::FEWEST_LOWS).then(|| {
            format!(
                "{corrections} of the {} corrections it takes",
                interstice_methods::swings::FEWEST_LOWS
            )
        }),
    }
}
