//! From a record to [`ReviewFindings`]: picks the primary series, calls the methods, fills the struct.

use interstice_book::{Book, NightHours, Record};
use interstice_glucose::{
    DAY_S, InsulinLasts, LivedClock, Moment, Second, TraceKind, Unit, counted, one_or_many,
};
use interstice_methods::{
    self as methods, Account, DayAccount, Episode, Range, Recording, Series, TargetGroup, UsualBin,
};

use crate::aside::{Aside, artefacts};
use crate::ask::{Ask, FindingsError, Span};
use crate::figure::Time;
use crate::nearby::Logged;
use crate::review::{
    DayLine, EpisodeKind, EpisodeLine, LeftOut, RangeMinutes, ReviewFindings, Sufficiency, TraceLine,
    UsualMinute, Window,
};
use crate::swings::{self, Followed};
use crate::whole::{last_automatic, whole};
use crate::{CheckFindings, checks, summary, window};

const MINUTES_IN_A_DAY: f64 = 1440.0;
/// A window that runs on for longer after the last reading says so.
const HOUR_S: Second = 3600;

/// How the wearer reads an account: unit, targets and night, as set in the book.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Reader {
    /// Unit glucose is shown in.
    pub unit: Unit,
    /// Whose targets.
    pub group: TargetGroup,
    /// The night, where it was set.
    pub night: Option<NightHours>,
    /// How long the wearer says that their insulins act.
    pub insulin: InsulinLasts,
}

/// The account of a window, loading no more of the book than it needs.
///
/// # Errors
/// As [`review`], and `Book` where the book cannot be read.
pub fn review_book(book: &Book, ask: &Ask) -> Result<ReviewFindings, FindingsError> {
    let (record, reader) = (load(book, ask.span)?, reader(book)?);
    if ask.exclude_pressure {
        review_in(&record, &book.load_all()?, reader, ask)
    } else {
        review(&record, reader, ask)
    }
}

/// As much of the book as a span needs, with two days of slack for zones and for the interval a reading stands for.
pub(crate) fn load(book: &Book, span: Span) -> Result<Record, FindingsError> {
    let (_, last) = book.span()?.ok_or(FindingsError::Empty)?;
    match span {
        Span::Dates { from, to } => {
            let (from, to) = window::generous(from, to)?;
            Ok(book.load(from, to)?)
        }
        Span::LastDays(days) => {
            let reach = (Second::from(days) + 2) * DAY_S;
            let record = book.load(last - reach, Second::MAX)?;
            // The last readings of all may be scans; the span counts back from the last automatic one.
            let enough = last_automatic(&record).is_some_and(|at| at - reach + DAY_S >= record.from);
            if enough { Ok(record) } else { Ok(book.load_all()?) }
        }
    }
}

/// How the book's wearer reads an account.
///
/// # Errors
/// `Book` where the book cannot be read.
pub fn reader(book: &Book) -> Result<Reader, FindingsError> {
    let settings = book.settings()?;
    let group = settings.target_group.as_deref().and_then(TargetGroup::named);
    Ok(Reader {
        unit: settings.unit.unwrap_or(Unit::MgPerDl),
        group: group.unwrap_or_default(),
        night: settings.night,
        insulin: settings.insulin_lasts,
    })
}

/// The account of a record already loaded; of the whole book where pressure is excluded.
///
/// # Errors
/// `Empty` without automatic readings; `Window` where a date is beyond what a book holds.
pub fn review(record: &Record, reader: Reader, ask: &Ask) -> Result<ReviewFindings, FindingsError> {
    review_in(record, record, reader, ask)
}

/// The same of a record that holds the window, where pressure is looked for in all of the book.
fn review_in(
    record: &Record,
    book: &Record,
    reader: Reader,
    ask: &Ask,
) -> Result<ReviewFindings, FindingsError> {
    let (automatic, whole) = whole(record);
    let last = match (whole.span(), ask.span) {
        (Some((_, last)), _) => last,
        // Dates stand by themselves; that no sensor was read on them is the account.
        (None, Span::Dates { .. }) => 0,
        (None, Span::LastDays(_)) => return Err(FindingsError::Empty),
    };
    let (from, to) = window::instants(ask.span, &record.clock, last)?;
    let marked = artefacts(record, from, to);
    let out = ask
        .exclude_pressure
        .then(|| Aside::of((record, book), reader, &whole, &automatic, (from, to)));
    let spans = out.as_ref().map_or(&marked, |out| &out.spans);
    let sparse = (!spans.is_empty()).then(|| whole.without(spans));
    let account_of = |series: &Series<'_>| -> Result<Account, FindingsError> {
        let recording = Recording::new(series, &record.levels, &record.clock, from, to)?;
        Ok(Account::of(&recording.for_group(reader.group)))
    };
    let shown = sparse.as_ref().filter(|_| out.is_some()).unwrap_or(&whole);
    let account = account_of(shown)?;
    // The other way round, beside it: without what is marked, or with what was left out.
    let other = sparse
        .as_ref()
        .map(|sparse| account_of(if out.is_some() { &whole } else { sparse }))
        .transpose()?;
    let recent = from.max(to - methods::patterns::LATEST_DAYS * DAY_S);
    let all = Recording::new(&whole, &record.levels, &record.clock, recent, to)?.for_group(reader.group);
    let episodes = match &other {
        Some(other) if out.is_some() => &other.episodes,
        _ => &account.episodes,
    };
    let episodes = &episodes[episodes.partition_point(|episode| episode.start < recent)..];
    let followed = swings::followed((record, book), reader, (&all, episodes), (recent, to), ask.seed);
    let beside = other.map(|account| summary::of(&account, ask.seed));
    let other = Other::new(out.map(|out| out.told(record, &whole, shown)), beside);
    let mut notes = notes(record, &whole, &account, from, to);
    if recent > from {
        notes.push(format!(
            "Swings, meals and what comes again are told of the last {} days of this window.",
            methods::patterns::LATEST_DAYS
        ));
    }
    let said = Said { followed, notes };
    Ok(fill(record, reader, ask, (from, to), account, other, said))
}

/// What is told beside the figures.
struct Said {
    followed: Followed,
    notes: Vec<String>,
}

/// What stands beside the account.
struct Other {
    left_out: Option<LeftOut>,
    without_marked: Option<crate::Summary>,
}

impl Other {
    /// The other summary is of all readings where something was left out, else without what is marked.
    fn new(left_out: Option<LeftOut>, summary: Option<crate::Summary>) -> Self {
        match left_out {
            Some(left_out) => Other {
                left_out: Some(LeftOut {
                    summary_with: summary,
                    ..left_out
                }),
                without_marked: None,
            },
            None => Other {
                left_out: None,
                without_marked: summary,
            },
        }
    }
}

fn fill(
    record: &Record,
    reader: Reader,
    ask: &Ask,
    (from, to): (Second, Second),
    account: Account,
    other: Other,
    said: Said,
) -> ReviewFindings {
    let time = |at: Second| Time(record.clock.moment(at));
    ReviewFindings {
        unit: reader.unit,
        without_artefacts: ask.exclude_pressure,
        left_out: other.left_out,
        window: Window {
            from: time(from),
            to: time(to),
            days: whole_days(&account),
        },
        sufficiency: sufficiency(&account),
        summary: summary::of(&account, ask.seed),
        summary_without_artefacts: other.without_marked,
        targets: reader.group.targets(),
        average_day: average_day(&account),
        usual_day: account.usual_day.iter().map(usual_minute).collect(),
        usual_weekday: account.usual_weekday.iter().map(usual_minute).collect(),
        usual_weekend: account.usual_weekend.iter().map(usual_minute).collect(),
        days: account
            .days
            .iter()
            .map(|day| day_line(day, account.group, &time))
            .collect(),
        episodes: episodes(record, &account, &time),
        traces: traces(record, from, to, &time),
        swings: said.followed.swings,
        meals: said.followed.meals,
        patterns: said.followed.patterns,
        blood_checks: blood_checks(record, reader, (from, to), &account, ask.seed),
        seed: ask.seed,
        notes: said.notes,
    }
}

/// Where no reading tells of the window, the checks that do.
fn blood_checks(
    record: &Record,
    reader: Reader,
    window: (Second, Second),
    account: &Account,
    seed: u64,
) -> Option<CheckFindings> {
    let found = (account.sufficiency.received == 0).then(|| checks::of(record, reader, window, seed));
    found.filter(|found| found.checks > 0)
}

/// The first instant after the last reading and the interval it stands for.
fn end_of_readings(series: &Series<'_>) -> Option<Second> {
    let (_, last) = series.span()?;
    Some(last + Second::from(series.segments().last()?.interval_s))
}

/// Lived days of the window, rounded to whole ones.
fn whole_days(account: &Account) -> u32 {
    account.sufficiency.lived_days.round() as u32
}

fn sufficiency(account: &Account) -> Sufficiency {
    let of = &account.sufficiency;
    Sufficiency {
        expected: of.expected,
        received: of.received,
        active_percent: of.active_percent,
        days_with_data: of.days_with_data,
        enough: of.verdict.is_ok(),
        reason: of.verdict.err().map(|refusal| refusal.to_string()),
    }
}

fn average_day(account: &Account) -> RangeMinutes {
    let Some(shares) = account.bands.percent() else {
        return RangeMinutes::default();
    };
    let minutes = |range: Range| shares.range_for(account.group, range) / 100.0 * MINUTES_IN_A_DAY;
    let (very_low, low) = (minutes(Range::VeryLow), minutes(Range::Low));
    let (high, very_high) = (minutes(Range::High), minutes(Range::VeryHigh));
    RangeMinutes {
        very_low_min: Some(very_low),
        low_min: Some(low),
        below_min: Some(very_low + low),
        in_range_min: Some(minutes(Range::InRange)),
        high_min: Some(high),
        very_high_min: Some(very_high),
        above_min: Some(high + very_high),
    }
}

pub(crate) fn usual_minute(bin: &UsualBin) -> UsualMinute {
    UsualMinute {
        minute: bin.minute,
        days: bin.days,
        p5_mg_dl: bin.p5_mg_dl,
        p25_mg_dl: bin.p25_mg_dl,
        p50_mg_dl: bin.p50_mg_dl,
        p75_mg_dl: bin.p75_mg_dl,
        p95_mg_dl: bin.p95_mg_dl,
    }
}

pub(crate) fn day_line(of: &DayAccount, group: TargetGroup, time: &impl Fn(Second) -> Time) -> DayLine {
    let shares = of.bands.percent();
    let share = |range: Range| shares.map(|shares| shares.range_for(group, range));
    let both = |a: Option<f64>, b: Option<f64>| Some(a? + b?);
    let (very_low, low) = (share(Range::VeryLow), share(Range::Low));
    let (high, very_high) = (share(Range::High), share(Range::VeryHigh));
    DayLine {
        date: window::date_text(of.day.date),
        weekday: of.day.weekday(),
        from: time(of.day.from),
        hours: of.day.seconds() as f64 / 3600.0,
        received: u64::from(of.received),
        active_percent: of.active_percent,
        mean_mg_dl: of.mean_mg_dl,
        lowest_mg_dl: of.lowest_mg_dl,
        highest_mg_dl: of.highest_mg_dl,
        censored_below: of.censored_below,
        censored_above: of.censored_above,
        very_low_percent: very_low,
        low_percent: low,
        below_percent: both(very_low, low),
        in_range_percent: share(Range::InRange),
        high_percent: high,
        very_high_percent: very_high,
        above_percent: both(high, very_high),
    }
}

pub(crate) fn episodes(
    record: &Record,
    account: &Account,
    time: &impl Fn(Second) -> Time,
) -> Vec<EpisodeLine> {
    let logged = Logged::of(record);
    account
        .episodes
        .iter()
        .map(|episode| episode_line(episode, &logged, &record.clock, time))
        .collect()
}

fn episode_line(
    episode: &Episode,
    logged: &Logged,
    clock: &LivedClock,
    time: &impl Fn(Second) -> Time,
) -> EpisodeLine {
    let (before, after) = logged.around(episode.start, time);
    EpisodeLine {
        kind: match episode.kind {
            methods::EpisodeKind::Low => EpisodeKind::Low,
            methods::EpisodeKind::High => EpisodeKind::High,
        },
        level: episode.level,
        extended: episode.extended,
        start: time(episode.start),
        start_pass: clock.pass(episode.start),
        end: time(episode.end),
        end_unknown: episode.ending != methods::EpisodeEnd::Recovered,
        minutes: episode.seconds as f64 / 60.0,
        extreme_mg_dl: episode.extreme_mg_dl,
        extreme_at: time(episode.extreme_at),
        area_mg_dl_min: episode.area_mg_dl_min,
        before,
        after,
    }
}

fn traces(record: &Record, from: Second, to: Second, time: &impl Fn(Second) -> Time) -> Vec<TraceLine> {
    let mut lines = Vec::new();
    for trace in &record.traces {
        let range = trace.readings.range(from, to);
        let (at, level) = (
            &trace.readings.at()[range.clone()],
            &trace.readings.level()[range],
        );
        let (Some(&first), Some(&last)) = (at.first(), at.last()) else {
            continue;
        };
        let censored = methods::trace::censored(level, &record.levels);
        lines.push(TraceLine {
            sensor: trace.sensor.clone(),
            by_hand: trace.kind == TraceKind::Scan,
            interval_min: methods::trace::native_interval(at)
                .ok()
                .map(|seconds| f64::from(seconds) / 60.0),
            received: at.len() as u64,
            from: time(first.into()),
            to: time(last.into()),
            censored,
        });
    }
    lines.sort_by_key(|line| (line.from.0.at, line.sensor.clone(), line.by_hand));
    lines
}

/// '26 October 2025, 01:00'.
fn said(moment: Moment) -> String {
    let civil = moment.wall().civil();
    civil.map_or_else(String::new, |civil| {
        civil.strftime("%-d %B %Y, %H:%M").to_string()
    })
}

/// What a reader must know to read the figures rightly.
fn notes(record: &Record, series: &Series<'_>, account: &Account, from: Second, to: Second) -> Vec<String> {
    let mut notes = Vec::new();
    if let Some(end) = end_of_readings(series).filter(|&end| from < end && end + HOUR_S < to) {
        notes.push(format!(
            "The book's readings end at {}: what comes after that in the window counts as not measured.",
            said(record.clock.moment(end))
        ));
    }
    let aside: u64 = series.set_aside().iter().sum();
    if aside > 0 {
        notes.push(format!(
            "Two sensors ran at once for a while: {} of the later one {} aside from the figures; kept, and shown on \
             Days.",
            counted(aside, "reading", "readings"),
            one_or_many(&aside, "stands", "stand")
        ));
    }
    if account.censored_below + account.censored_above > 0 {
        notes.push(beyond_the_sensor(account.censored_below, account.censored_above));
    }
    for &(start, offset) in record
        .clock
        .pieces()
        .iter()
        .filter(|piece| piece.0 > from && piece.0 < to)
    {
        let before = record.clock.moment(start - 1);
        let by = (offset - before.offset_s) as f64 / 3600.0;
        notes.push(format!(
            "The clock moved by {by:+} h, to {}.",
            said(record.clock.moment(start))
        ));
    }
    if record.conflicts > 0 {
        notes.push(format!(
            "{} came in twice with different values; the first value stands.",
            counted(record.conflicts, "reading", "readings")
        ));
    }
    notes
}

/// What is known of readings beyond the sensor's range.
fn beyond_the_sensor(below: u64, above: u64) -> String {
    let were = one_or_many(&below, "reading was", "readings were");
    let (they, count) = match below + above {
        1 => ("it", "counts in its range"),
        _ => ("they", "count in their range"),
    };
    format!(
        "{below} {were} below and {above} above what the sensor can measure; {they} {count}, and in the mean at the sensor's \
         limit."
    )
}

#[cfg(test)]
mod tests {
    use super::beyond_the_sensor;

    #[test]
    fn one_reading_beyond_the_sensor_is_one() {
        let opening = |below, above| {
            let note = beyond_the_sensor(below, above);
            note.split_once(", and").map(|(opening, _)| opening.to_owned())
        };
        let said =
            [(1, 0), (0, 1), (0, 2), (2, 1)].map(|(below, above)| opening(below, above).unwrap_or_default());
        assert_eq!(
            said,
            [
                "1 reading was below and 0 above what the sensor can measure; it counts in its range",
                "0 readings were below and 1 above what the sensor can measure; it counts in its range",
                "0 readings were below and 2 above what the sensor can measure; they count in their range",
                "2 readings were below and 1 above what the sensor can measure; they count in their range",
            ]
        );
    }
}
