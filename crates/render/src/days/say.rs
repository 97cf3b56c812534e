//! Events, ticks and stretches as a person says them.

use interstice_findings::days::{
    DaysAccount, Extreme, Happening, Lane, Point, ReadingRange, Spread, Stretch, Tick, TickStep,
    TimelineEvent,
};
use interstice_findings::swings::{LinkName, SwingSpan};
use interstice_findings::trust::LowSpan;
use interstice_glucose::{
    BloodSource, Censor, DAY_S, Delivery, Dose, InsulinKind, LivedClock, LowWas, Mark, MarkKind, Meal,
    Moment, Second, SensorNote, SensorNoteKind, WallTime, counted, one_or_many,
};
use interstice_tongue::say;

use super::range;
use crate::words::{
    self, Range, Shown, amount, clock, day, duration, iso_date, month_and_year, short_date, short_month,
    short_weekday, units, weekday, weekday_and_date, which_time,
};

/// Longest text beside a mark in the picture.
const LABEL_LETTERS: usize = 28;

/// A tick's label: '14:00', 'Mon 17', '17 Mar', 'March', '2025'; as the name under the ticks: 'Monday 17 March 2025',
/// 'March 2025'. A day of 23 or 25 hours says so.
pub(super) fn tick_label(tick: &Tick, step: TickStep, major: bool) -> String {
    let Some(civil) = tick.wall.civil() else {
        return String::new();
    };
    let iso = civil.date().to_string();
    match step {
        TickStep::Seconds(_) => wall_clock(tick.wall),
        TickStep::Day if major => weekday_and_date(weekday(weekday_of(tick.wall)), &iso) + &odd_length(tick),
        TickStep::Day => say!(
            "time-weekday-day",
            weekday = short_weekday(weekday_of(tick.wall)),
            day = civil.day()
        ),
        TickStep::Week => short_date(&iso),
        TickStep::Months(_) if major => month_and_year(&iso),
        TickStep::Months(_) => short_month(&iso),
        TickStep::Years(_) => civil.year().to_string(),
    }
}

/// ' · 25 h' of a day that has not 24.
fn odd_length(tick: &Tick) -> String {
    match tick.day_s {
        Some(length) if length != DAY_S => format!(" · {}", duration(length as f64 / 60.0)),
        _ => String::new(),
    }
}

/// Monday is 1; 1970-01-01 was a Thursday, the fourth day of a week from Monday.
fn weekday_of(wall: WallTime) -> u8 {
    u8::try_from((wall.day() + 3).rem_euclid(7) + 1).unwrap_or(1)
}

fn wall_clock(wall: WallTime) -> String {
    clock(u32::try_from(wall.second_of_day() / 60).unwrap_or(0))
}

/// A lane's name.
pub fn lane_name(lane: Lane) -> &'static str {
    match lane {
        Lane::Artefact => "not believed",
        Lane::Check => "blood checks",
        Lane::Sensor => "sensor",
        Lane::Low => "pressure",
        Lane::Swing => "swings",
        Lane::Food => "food",
        Lane::Insulin => "insulin",
        Lane::Body => "body",
        Lane::Note => "notes",
    }
}

/// A range in words.
pub fn range_name(of: ReadingRange) -> &'static str {
    name(range(of))
}

pub(super) fn name(range: Range) -> &'static str {
    match range {
        Range::VeryLow => "very low",
        Range::Low => "low",
        Range::InRange => "in range",
        Range::High => "high",
        Range::VeryHigh => "very high",
    }
}

/// What stands beside a mark in the picture, short; empty where the mark says enough.
pub(super) fn event_label(event: &TimelineEvent) -> String {
    let text = match &event.what {
        Happening::Worn { sensor, by_hand, .. } => match (sensor.as_str(), by_hand) {
            ("", true) => "read by hand".to_owned(),
            (name, _) => name.to_owned(),
        },
        Happening::Sensor(note) => sensor_moment(note.kind).to_owned(),
        Happening::Check(_) | Happening::Checks { .. } | Happening::Several => String::new(),
        Happening::Dose(dose) if dose.delivery == Delivery::BasalRate => String::new(),
        Happening::Dose(dose) => units(dose.units),
        Happening::Meal(meal) => match (meal.carbohydrate_g, &meal.text) {
            (Some(grams), _) => format!("{} g", amount(grams)),
            (None, Some(text)) => text.clone(),
            (None, None) => String::new(),
        },
        Happening::Low(low) => low_label(low).to_owned(),
        Happening::Swing(_) => String::new(),
        Happening::Mark(mark) => mark
            .text
            .clone()
            .unwrap_or_else(|| mark_name(mark.kind).to_owned()),
    };
    cut(&text)
}

/// Whole letters up to a length, with '…' where some are left out.
fn cut(text: &str) -> String {
    let text = text.trim();
    if text.chars().count() <= LABEL_LETTERS {
        return text.to_owned();
    }
    let kept: String = text.chars().take(LABEL_LETTERS - 1).collect();
    format!("{}…", kept.trim_end())
}

/// An event in words with its clock time: '12:10 meal, 45 g carbohydrate: soup'.
pub fn event_text(event: &TimelineEvent, lived: &LivedClock, shown: Shown) -> String {
    let time = |at: Second| wall_clock(lived.wall(at)) + &which_time(lived.pass(at));
    let at = time(event.at);
    match &event.what {
        Happening::Several => format!("{} {}", event.count, several_name(event.lane)),
        Happening::Checks {
            lowest_mg_dl,
            highest_mg_dl,
        } => format!(
            "{}, {} to {}",
            counted(event.count as u64, "blood check", "blood checks"),
            shown.glucose(*lowest_mg_dl),
            shown.glucose_with_unit(*highest_mg_dl)
        ),
        Happening::Worn { sensor, .. } if sensor.is_empty() => "readings".to_owned(),
        Happening::Worn { sensor, .. } => sensor_name(sensor),
        // The last instant of a stretch that ends at midnight is of the day before.
        what if event.until.is_some_and(|until| until - event.at >= DAY_S) => {
            let days = [event.at, event.until.unwrap_or(event.at) - 1].map(|at| day(lived.moment(at)));
            let [first, last] = &days;
            let days = if first == last {
                first.clone()
            } else {
                format!("{first} to {last}")
            };
            format!("{days} {}", happening(what, shown))
        }
        what => match event.until.filter(|&until| until > event.at) {
            Some(until) => format!("{at} to {} {}", time(until), happening(what, shown)),
            None => format!("{at} {}", happening(what, shown)),
        },
    }
}

/// What several of a lane are called.
pub(super) fn several_name(lane: Lane) -> &'static str {
    match lane {
        Lane::Artefact => "stretches not believed",
        Lane::Check => "blood checks",
        Lane::Sensor => "sensor changes",
        Lane::Low => "possible pressure lows",
        Lane::Swing => "swings",
        Lane::Food => "meals or drinks",
        Lane::Insulin => "doses",
        Lane::Body => "entries of activity and sleep",
        Lane::Note => "notes",
    }
}

fn happening(what: &Happening, shown: Shown) -> String {
    match what {
        Happening::Sensor(note) => sensor_note(note),
        Happening::Check(check) => {
            let source = match check.source {
                BloodSource::Meter => "blood check",
                BloodSource::Laboratory => "laboratory value",
            };
            let edge = edge(check.said.censor());
            let value = shown.glucose_with_unit(check.said.glucose().mg_per_dl());
            with_note(&format!("{source} {edge}{value}"), check.note.as_deref())
        }
        Happening::Dose(dose) => dose_text(dose),
        Happening::Meal(meal) => meal_text(meal),
        Happening::Low(low) => low_text(low),
        Happening::Swing(swing) => swing_text(swing),
        Happening::Mark(mark) => mark_text(mark),
        Happening::Worn { .. } | Happening::Checks { .. } | Happening::Several => String::new(),
    }
}

/// 'swing: high, correction, correction, low, eaten against it, high'.
fn swing_text(swing: &SwingSpan) -> String {
    let link = |what: LinkName| match what {
        LinkName::High => "high",
        LinkName::Low => "low",
        LinkName::CheckedLow => "low by a blood check",
        LinkName::PressureLow => "low, probably pressure",
        LinkName::UndosedMeal => "meal without a logged dose",
        LinkName::Meal => "meal",
        LinkName::LateDose => "late dose",
        LinkName::Correction => "correction",
        LinkName::StackedCorrection => "correction while one still acted",
        LinkName::Treatment => "eaten against it",
    };
    let links: Vec<&str> = swing.links.iter().map(|&(_, what)| link(what)).collect();
    format!("swing: {}", links.join(", "))
}

/// Where the account tells of a swing: its days, and the place on the page. `None` of anything else.
pub fn swing_address(event: &TimelineEvent, lived: &LivedClock) -> Option<String> {
    let Happening::Swing(swing) = &event.what else {
        return None;
    };
    let date = |at: Second| Some(lived.wall(at).civil()?.date());
    Some(format!(
        "/review?from={}&to={}#{}",
        date(swing.from)?,
        date(swing.to)?,
        words::swing_anchor(swing.from)
    ))
}

fn low_label(low: &LowSpan) -> &'static str {
    match low.said {
        Some(LowWas::Pressure) => "pressure, you said",
        Some(LowWas::Real) => "real, you said",
        None => "possible pressure",
    }
}

fn low_text(low: &LowSpan) -> String {
    match (low.said, low.probability) {
        (Some(LowWas::Pressure), _) => "low: pressure, you said".to_owned(),
        (Some(LowWas::Real), _) => "low: real, you said".to_owned(),
        (None, likely) => {
            let likely = likely.map_or(String::new(), |likely| {
                format!(", {} likely", words::chance(likely))
            });
            format!("possible pressure low, a blood check decides{likely}")
        }
    }
}

fn sensor_moment(kind: SensorNoteKind) -> &'static str {
    match kind {
        SensorNoteKind::PutOn => "put on",
        SensorNoteKind::Started => "started",
        SensorNoteKind::Ended => "ended",
        SensorNoteKind::Noted => "noted",
    }
}

/// 'sensor A12', or the name alone where it says that it is one.
fn sensor_name(name: &str) -> String {
    match name.trim() {
        "" => "sensor".to_owned(),
        name if name.to_lowercase().contains("sensor") => name.to_owned(),
        name => format!("sensor {name}"),
    }
}

fn sensor_note(note: &SensorNote) -> String {
    let name = sensor_name(note.sensor.as_deref().unwrap_or_default());
    let site = note
        .site
        .as_deref()
        .map(|site| format!(", {site}"))
        .unwrap_or_default();
    let detail = &note.detail;
    let ending = detail.ending.map(|ending| ending.name().to_owned());
    let lot = detail.lot.as_ref().map(|lot| format!("lot {lot}"));
    let tags = detail.preparation.iter().chain(&detail.cover).cloned();
    let known: String = ending
        .into_iter()
        .chain(tags)
        .chain(lot)
        .map(|word| format!(", {word}"))
        .collect();
    with_note(
        &format!("{name} {}{site}{known}", sensor_moment(note.kind)),
        note.note.as_deref(),
    )
}

fn dose_text(dose: &Dose) -> String {
    let insulin = match dose.insulin {
        InsulinKind::Rapid => " rapid insulin",
        InsulinKind::Short => " short-acting insulin",
        InsulinKind::Intermediate => " intermediate insulin",
        InsulinKind::Long => " long-acting insulin",
        InsulinKind::Mixed => " mixed insulin",
        InsulinKind::Unsaid => " insulin",
    };
    let text = match dose.delivery {
        Delivery::AtOnce => format!("{}{insulin}", units(dose.units)),
        Delivery::Spread { minutes } => {
            format!(
                "{}{insulin} over {}",
                units(dose.units),
                duration(f64::from(minutes))
            )
        }
        Delivery::BasalRate => format!("basal rate {} an hour", units(dose.units)),
        Delivery::Intravenous => format!("{}{insulin} into a vein", units(dose.units)),
    };
    with_note(&text, dose.note.as_deref())
}

fn meal_text(meal: &Meal) -> String {
    let parts = [
        (meal.carbohydrate_g, "g carbohydrate"),
        (meal.protein_g, "g protein"),
        (meal.fat_g, "g fat"),
        (meal.fibre_g, "g fibre"),
        (meal.energy_kcal, "kcal"),
    ];
    let amounts: Vec<String> = parts
        .iter()
        .filter_map(|(value, unit)| Some(format!("{} {unit}", amount((*value)?))))
        .collect();
    let text = if amounts.is_empty() {
        "meal".to_owned()
    } else {
        format!("meal, {}", amounts.join(", "))
    };
    with_note(&text, meal.text.as_deref())
}

fn mark_name(kind: MarkKind) -> &'static str {
    match kind {
        MarkKind::Activity => "activity",
        MarkKind::Sleep => "sleep",
        MarkKind::Ketones => "ketones",
        MarkKind::Symptom => "symptom",
        MarkKind::Illness => "illness",
        MarkKind::Drink => "drink",
        MarkKind::Temperature => "temperature",
        MarkKind::Medicine => "medicine",
        MarkKind::Device => "device",
        MarkKind::Note => "note",
        MarkKind::Tag => "tag",
        MarkKind::Artefact => "not believed",
    }
}

fn mark_text(mark: &Mark) -> String {
    let unit = match mark.kind {
        MarkKind::Ketones => " mmol/L",
        MarkKind::Drink => " ml",
        MarkKind::Temperature => " °C",
        _ => "",
    };
    let value = mark
        .value
        .map(|value| format!(" {}{unit}", amount(value)))
        .unwrap_or_default();
    with_note(&format!("{}{value}", mark_name(mark.kind)), mark.text.as_deref())
}

fn with_note(text: &str, note: Option<&str>) -> String {
    match note.map(str::trim).filter(|note| !note.is_empty()) {
        Some(note) => format!("{text}: {note}"),
        None => text.to_owned(),
    }
}

fn edge(censor: Censor) -> &'static str {
    match censor {
        Censor::None => "",
        Censor::Below => "below ",
        Censor::Above => "above ",
    }
}

/// A reading's value: '104', 'below 40'.
pub fn reading_value(point: &Point, shown: Shown) -> String {
    format!("{}{}", edge(point.censor), shown.glucose(point.mg_dl))
}

/// The lowest and the highest of a stretch: '62 to 214', 'below 40 to 214'.
pub fn extremes(of: &Spread, shown: Shown) -> String {
    words::extremes(
        of.lowest_mg_dl,
        of.lowest_beyond,
        of.highest_mg_dl,
        of.highest_beyond,
        shown,
    )
}

fn extreme(extreme: &Extreme, shown: Shown) -> String {
    format!("{}{}", edge(extreme.censor), shown.glucose(extreme.mg_dl))
}

/// The stretch of an account: 'Monday 17 March 2025', 'Monday 17 March 2025, 08:00 to 14:30', '3 March 2025 to 17 March
/// 2025'.
pub fn view_name(account: &DaysAccount) -> String {
    let (from, last) = (
        account.from,
        Moment {
            at: account.to.at - 1,
            ..account.to
        },
    );
    let same_day = from.wall().day() == last.wall().day();
    if account.is_day {
        return day_name(Moment {
            at: account.day.0,
            ..from
        });
    }
    if same_day {
        return format!(
            "{}, {} to {}",
            day_name(from),
            wall_clock(from.wall()),
            wall_clock(account.to.wall())
        );
    }
    if account.to.at - account.from.at <= 2 * DAY_S {
        return format!(
            "{}, {} to {}, {}",
            day_name(from),
            wall_clock(from.wall()),
            day_name(account.to),
            wall_clock(account.to.wall())
        );
    }
    format!("{} to {}", day(from), day(last))
}

fn day_name(moment: Moment) -> String {
    weekday_and_date(weekday(weekday_of(moment.wall())), &iso_date(moment))
}

/// The stretch in one sentence: readings, extremes, what was written down.
pub fn account_sentence(account: &DaysAccount, shown: Shown) -> String {
    let written = written(&account.counts);
    match (&account.lowest, &account.highest) {
        (Some(lowest), Some(highest)) if account.readings > 1 => format!(
            "{} readings, from {} to {} {}{written}.",
            thousands(account.readings.into()),
            extreme(lowest, shown),
            extreme(highest, shown),
            shown.unit
        ),
        (Some(only), _) => format!("One reading, {} {}{written}.", extreme(only, shown), shown.unit),
        _ => format!("No readings here{written}."),
    }
}

/// 'At 02:00 the clock was set to 01:00.' for each time it was; empty where it was not.
pub fn clock_set(account: &DaysAccount) -> String {
    let said = account.clock_set.iter();
    let said: Vec<String> = said
        .map(|&(before, after)| {
            format!(
                "At {} the clock was set to {}.",
                wall_clock(before),
                wall_clock(after)
            )
        })
        .collect();
    said.join(" ")
}

/// '; 3 meals, 4 doses, 2 blood checks and 5 other entries', or nothing.
fn written(counts: &[(Lane, usize)]) -> String {
    let count = |lane: Lane| {
        counts
            .iter()
            .find(|(other, _)| *other == lane)
            .map_or(0, |&(_, count)| count)
    };
    let in_all: usize = counts.iter().map(|&(_, count)| count).sum();
    let [meals, doses, checks, lows, swings] =
        [Lane::Food, Lane::Insulin, Lane::Check, Lane::Low, Lane::Swing].map(count);
    let parts = [
        (meals, "meal", "meals"),
        (doses, "dose", "doses"),
        (checks, "blood check", "blood checks"),
        (lows, "possible pressure low", "possible pressure lows"),
        (swings, "swing", "swings"),
        (
            in_all - meals - doses - checks - lows - swings,
            "other entry",
            "other entries",
        ),
    ];
    let said: Vec<String> = parts
        .into_iter()
        .filter(|&(count, ..)| count > 0)
        .map(|(count, one, many)| format!("{} {}", thousands(count as u64), one_or_many(&count, one, many)))
        .collect();
    match said.split_last() {
        None => String::new(),
        Some((only, [])) => format!("; {only}"),
        Some((last, rest)) => format!("; {} and {last}", rest.join(", ")),
    }
}

/// '1,234,567'.
pub(super) fn thousands(count: u64) -> String {
    let digits = count.to_string();
    let mut text = String::new();
    for (i, digit) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i).is_multiple_of(3) {
            text.push(',');
        }
        text.push(digit);
    }
    text
}

/// 'Day', 'Week from', 'Month': the heading of the table's first column.
pub fn stretch_heading(stretch: Stretch) -> &'static str {
    match stretch {
        Stretch::Day => "Day",
        Stretch::Week => "Week from",
        Stretch::Month => "Month",
    }
}

/// 'Mon 17 March 2025', '17 March 2025', 'March 2025'.
pub fn stretch_name(stretch: Stretch, from: Second, lived: &LivedClock) -> String {
    let moment = lived.moment(from);
    match stretch {
        Stretch::Day => weekday_and_date(short_weekday(weekday_of(moment.wall())), &iso_date(moment)),
        Stretch::Week => day(moment),
        Stretch::Month => month_and_year(&iso_date(moment)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use interstice_glucose::Unit;

    fn event(what: Happening, at: Second, until: Option<Second>) -> TimelineEvent {
        TimelineEvent {
            lane: Lane::Note,
            at,
            until,
            count: 1,
            share: None,
            what,
        }
    }

    #[test]
    fn events_are_said_with_their_clock_time() {
        let lived = LivedClock::fixed(3600);
        let said = |what, until| {
            event_text(
                &event(what, 39_600, until),
                &lived,
                Shown { unit: Unit::MmolPerL },
            )
        };
        let dose = |units, delivery, insulin| {
            Happening::Dose(Dose {
                at: 0,
                units,
                insulin,
                delivery,
                note: None,
            })
        };
        assert_eq!(
            said(dose(1.0, Delivery::AtOnce, InsulinKind::Rapid), None),
            "12:00 1 unit rapid insulin"
        );
        assert_eq!(
            said(
                dose(4.5, Delivery::Spread { minutes: 90 }, InsulinKind::Rapid),
                Some(45_000)
            ),
            "12:00 to 13:30 4.5 units rapid insulin over 1 h 30 min"
        );
        assert_eq!(
            said(dose(0.85, Delivery::BasalRate, InsulinKind::Rapid), None),
            "12:00 basal rate 0.85 units an hour"
        );
        let meal = Meal {
            at: 0,
            carbohydrate_g: Some(45.0),
            protein_g: None,
            fat_g: Some(9.25),
            fibre_g: None,
            energy_kcal: None,
            text: Some("soup ".to_owned()),
        };
        assert_eq!(
            said(Happening::Meal(meal), None),
            "12:00 meal, 45 g carbohydrate, 9.25 g fat: soup"
        );
    }

    #[test]
    fn what_lasts_for_days_is_said_with_its_dates() {
        let mark = Mark {
            at: 0,
            until: None,
            kind: MarkKind::Tag,
            value: None,
            text: Some("on board".to_owned()),
        };
        let day = WallTime::new(2025, 10, 4, 0).unwrap().0;
        let said = |until| {
            let event = event(Happening::Mark(mark.clone()), day, Some(until));
            event_text(&event, &LivedClock::fixed(0), Shown { unit: Unit::MgPerDl })
        };
        assert_eq!(
            said(day + 28 * DAY_S),
            "4 October 2025 to 31 October 2025 tag: on board"
        );
        assert_eq!(said(day + DAY_S), "4 October 2025 tag: on board");
        assert_eq!(said(day + 7200), "00:00 to 02:00 tag: on board");
    }

    #[test]
    fn a_day_of_odd_length_says_so() {
        let wall = WallTime::new(2025, 10, 26, 0).unwrap();
        let tick = |length| Tick {
            at: 0,
            wall,
            day_s: Some(length),
        };
        assert_eq!(
            tick_label(&tick(25 * 3600), TickStep::Day, true),
            "Sunday 26 October 2025 · 25 h"
        );
        assert_eq!(tick_label(&tick(DAY_S), TickStep::Day, false), "Sun 26");
        assert_eq!(tick_label(&tick(DAY_S), TickStep::Week, false), "26 Oct");
        assert_eq!(
            tick_label(&tick(DAY_S), TickStep::Months(1), true),
            "October 2025"
        );
    }

    #[test]
    fn long_labels_are_cut_between_letters() {
        assert_eq!(
            cut("ärger mit dem sensor am arm, wieder"),
            "ärger mit dem sensor am arm…"
        );
        assert_eq!(thousands(1_234_567), "1,234,567");
        assert_eq!(thousands(12), "12");
    }
}
