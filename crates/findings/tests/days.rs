//! The long timeline over small invented records: what is joined, what is left open, what is grouped, what is told.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

use std::sync::Arc;

use interstice_book::{ChangeId, EntryKind, EntryRef, Kept, Record, Trace};
use interstice_findings::TargetGroup;
use interstice_findings::days::{
    AccountRow, Column, DaysBook, Happening, Lane, Point, ReadingRange, Role, Stretch, TimelineError,
    TimelineView, USUAL_NIGHT, ViewAsk,
};
use interstice_glucose::{
    BloodCheck, BloodSource, Censor, DAY_S, Levels, LivedClock, Mark, MarkKind, Meal, Pass, Readings, Said,
    Second, TraceKind, Unit, Zone,
};
use proptest::prelude::*;

/// 2025-01-01T00:00:00Z.
const START: Second = 1_735_689_600;

/// Seconds from the start, mg/dL.
type Rows<'a> = &'a [(Second, i64)];

/// A record of traces given as (sensor, kind, (seconds from the start, mg/dL)…).
fn record(traces: &[(&str, TraceKind, Rows<'_>)]) -> Record {
    let mut levels = Levels::new();
    let traces = traces
        .iter()
        .map(|&(sensor, kind, rows)| {
            let mut readings = Readings::default();
            for &(at, value) in rows {
                readings.push(
                    u32::try_from(START + at).unwrap(),
                    levels.intern(Said::whole_mg_per_dl(value)),
                );
            }
            Trace {
                sensor: sensor.to_owned(),
                kind,
                readings,
            }
        })
        .collect();
    Record {
        from: Second::MIN,
        to: Second::MAX,
        levels,
        traces,
        blood_checks: Vec::new(),
        doses: Vec::new(),
        meals: Vec::new(),
        marks: Vec::new(),
        sensor_notes: Vec::new(),
        photos: Vec::new(),
        low_verdicts: Vec::new(),
        lived: Vec::new(),
        base_zone: Zone::utc(),
        clock: LivedClock::fixed(0),
        conflicts: 0,
    }
}

fn kept<T>(kind: EntryKind, entries: impl IntoIterator<Item = T>) -> Vec<Kept<T>> {
    let kept = |(id, it)| Kept {
        entry: EntryRef { kind, id },
        origin: ChangeId(1),
        by_hand: false,
        it,
        also: Vec::new(),
    };
    (1..).zip(entries).map(kept).collect()
}

fn book(record: Record) -> DaysBook {
    DaysBook::new(Arc::new(record), USUAL_NIGHT, TargetGroup::Adult).unwrap()
}

fn view(book: &DaysBook, from: Second, to: Second, width: u32) -> TimelineView {
    book.view(ViewAsk {
        from: START + from,
        to: START + to,
        width,
        density: 1,
    })
    .unwrap()
}

/// A reading every five minutes from one second to another.
fn steady(from: Second, to: Second, value: i64) -> Vec<(Second, i64)> {
    (from..to).step_by(300).map(|at| (at, value)).collect()
}

/// Seconds from the start at which the line is left open.
fn open(points: &[Point]) -> Vec<Second> {
    points
        .iter()
        .filter(|point| point.open)
        .map(|point| Second::from(point.at) - START)
        .collect()
}

#[test]
fn the_line_is_open_after_a_gap_and_at_another_sensor() {
    let first = [steady(0, 7200, 110), steady(10_800, 14_400, 120)].concat();
    let second = steady(14_700, 20_000, 130);
    let book = book(record(&[
        ("A", TraceKind::Automatic, &first),
        ("B", TraceKind::Automatic, &second),
    ]));
    let view = view(&book, 0, 20_000, 900);
    assert_eq!(open(&view.series[0].points), [0, 10_800, 14_700]);
    assert_eq!(
        view.series.len(),
        1,
        "neither trace has anything that the primary has not"
    );
}

#[test]
fn a_missed_reading_is_no_gap() {
    let rows: Vec<_> = steady(0, 7200, 110)
        .into_iter()
        .filter(|&(at, _)| at != 3000)
        .collect();
    let book = book(record(&[("A", TraceKind::Automatic, &rows)]));
    assert_eq!(open(&view(&book, 0, 7200, 900).series[0].points), [0]);
}

#[test]
fn columns_are_open_where_readings_are() {
    let rows = [steady(0, 40 * DAY_S, 110), steady(45 * DAY_S, 90 * DAY_S, 120)].concat();
    let book = book(record(&[("A", TraceKind::Automatic, &rows)]));
    let columns: Vec<Column> = view(&book, 0, 90 * DAY_S, 300).series[0].columns.clone();
    let open: Vec<Second> = columns
        .iter()
        .filter(|column| column.open)
        .map(|column| Second::from(column.at) - START)
        .collect();
    assert_eq!(open.len(), 2);
    assert!(
        open[0] <= 0 && open[1] <= 45 * DAY_S && open[1] > 44 * DAY_S,
        "{open:?}"
    );
    let empty = columns
        .windows(2)
        .map(|pair| pair[1].at - pair[0].at)
        .max()
        .unwrap();
    assert!(Second::from(empty) > 4 * DAY_S, "nothing is drawn within the gap");
}

#[test]
fn other_sensors_and_readings_by_hand_stand_aside() {
    let (first, second) = (steady(0, 40_000, 110), steady(20_000, 60_000, 150));
    let scans = [(5_000, 210), (33_000, 65)];
    let book = book(record(&[
        ("A", TraceKind::Automatic, &first),
        ("B", TraceKind::Automatic, &second),
        ("A", TraceKind::Scan, &scans),
    ]));
    let all = view(&book, 0, 60_000, 900);
    let roles: Vec<Role> = all.series.iter().map(|series| series.role).collect();
    assert_eq!(roles, [Role::Primary, Role::Aside, Role::Scan]);
    assert_eq!(all.series[1].sensor, "B");
    assert_eq!(
        all.series[1].points.len(),
        second.len(),
        "the whole of the other sensor is shown"
    );
    assert!(
        all.series[2].points.iter().all(|point| point.open),
        "readings by hand are never joined"
    );
    assert_eq!(all.series[2].points[1].range, ReadingRange::Low);
    assert_eq!(
        view(&book, 0, 15_000, 900).series.len(),
        2,
        "the other sensor is elsewhere"
    );
    assert_eq!(
        view(&book, -60 * DAY_S, 60 * DAY_S, 900).series.len(),
        1,
        "too far away to be seen"
    );
}

#[test]
fn values_beyond_the_sensor_are_kept_as_such() {
    let mut record = record(&[("A", TraceKind::Automatic, &steady(0, 3000, 45))]);
    let below = record
        .levels
        .intern(Said::new(40, 0, Unit::MgPerDl, Censor::Below).unwrap());
    record.traces[0]
        .readings
        .push(u32::try_from(START + 3000).unwrap(), below);
    let book = book(record);
    let told = book.account(START, START + 6000).unwrap();
    assert_eq!(told.lowest.unwrap().censor, Censor::Below);
    assert_eq!(told.highest.unwrap().censor, Censor::None);
    assert_eq!(
        view(&book, 0, 6000, 900).series[0].points.last().unwrap().censor,
        Censor::Below
    );
}

#[test]
fn events_are_grouped_where_they_would_lie_on_each_other() {
    let mut record = record(&[("A", TraceKind::Automatic, &steady(0, 20 * DAY_S, 110))]);
    let meal = |at| Meal {
        at: START + at,
        carbohydrate_g: Some(40.0),
        protein_g: None,
        fat_g: None,
        fibre_g: None,
        energy_kcal: None,
        text: None,
    };
    record.meals = kept(EntryKind::Meal, (0..60).map(|i| meal(i * 28_800)));
    let check = |(at, value)| BloodCheck {
        at: START + at,
        said: Said::whole_mg_per_dl(value),
        source: BloodSource::Meter,
        note: None,
    };
    record.blood_checks = kept(EntryKind::BloodCheck, [(0, 100), (60, 250), (120, 48)].map(check));
    let book = book(record);

    let wide = view(&book, 0, 20 * DAY_S, 100);
    let meals: Vec<_> = wide
        .events
        .iter()
        .filter(|event| event.lane == Lane::Food)
        .collect();
    assert!(meals.len() < 20, "{} marks on 100 pixels", meals.len());
    assert_eq!(meals.iter().map(|event| event.count).sum::<u32>(), 60);
    let checks: Vec<_> = wide
        .events
        .iter()
        .filter(|event| event.lane == Lane::Check)
        .collect();
    let expected = Happening::Checks {
        lowest_mg_dl: 48.0,
        highest_mg_dl: 250.0,
    };
    assert_eq!(
        (checks.len(), checks[0].count, &checks[0].what),
        (1, 3, &expected)
    );

    let day = view(&book, 0, DAY_S, 900);
    assert_eq!(
        day.events.iter().filter(|event| event.lane == Lane::Food).count(),
        3
    );
    let told = book.account(START, START + DAY_S).unwrap();
    assert_eq!(told.counts, [(Lane::Check, 3), (Lane::Food, 3)]);
    assert_eq!((told.events.len(), told.events_in_all), (6, 6));
}

#[test]
fn what_lasts_is_seen_from_within() {
    let mut record = record(&[("A", TraceKind::Automatic, &steady(0, DAY_S, 110))]);
    let sleep = Mark {
        at: START - 7200,
        until: Some(START + 20_000),
        kind: MarkKind::Sleep,
        value: None,
        text: None,
    };
    record.marks = kept(EntryKind::Mark, [sleep]);
    let book = book(record);
    let within = view(&book, 3600, 7200, 900);
    assert!(within.events.iter().any(|event| event.lane == Lane::Body));
    assert!(
        !view(&book, 30_000, 40_000, 900)
            .events
            .iter()
            .any(|event| event.lane == Lane::Body)
    );
    assert_eq!(
        book.timeline().span(),
        Some((START - 7200, START + DAY_S - 300 + 1))
    );
}

#[test]
fn tables_are_capped_and_say_so() {
    let rows: Vec<_> = (0..800 * 24).map(|hour| (hour * 3600, 100 + hour % 50)).collect();
    let book = book(record(&[("A", TraceKind::Automatic, &rows)]));
    let by = |days: Second| match book.account(START, START + days * DAY_S).unwrap().rows {
        AccountRow::Readings(rows) => (None, rows.len()),
        AccountRow::Stretches(stretch, rows) => (Some(stretch), rows.len()),
    };
    assert_eq!(by(1), (None, 24));
    assert_eq!(by(30), (Some(Stretch::Day), 30));
    assert_eq!(by(300), (Some(Stretch::Day), 300));
    assert_eq!(by(400).0, Some(Stretch::Week));
    let minutes: Vec<_> = (0..1440).map(|minute| (minute * 60, 100 + minute % 50)).collect();
    let dense = self::book(record(&[("A", TraceKind::Automatic, &minutes)]));
    let told = dense.account(START, START + DAY_S).unwrap();
    let AccountRow::Readings(rows) = told.rows else {
        panic!("a day is told reading by reading")
    };
    assert_eq!((rows.len(), told.rows_in_all, told.readings), (300, 1440, 1440));
    assert!(told.is_day);
}

/// 65 mg/dL is low, in pregnancy in range; 150 is in range, in pregnancy high (Battelino et al. 2019).
#[test]
fn readings_are_named_by_the_range_of_the_group() {
    let record = Arc::new(record(&[("A", TraceKind::Automatic, &[(0, 65), (300, 150)])]));
    let names = |group| {
        let book = DaysBook::new(Arc::clone(&record), USUAL_NIGHT, group).unwrap();
        let told = book.account(START, START + 3600).unwrap();
        let AccountRow::Readings(rows) = told.rows else {
            panic!("an hour is told reading by reading")
        };
        let drawn = view(&book, 0, 3600, 900).series[0].points.clone();
        assert!(
            rows.iter()
                .map(|row| row.point.range)
                .eq(drawn.iter().map(|point| point.range))
        );
        (rows[0].point.range, rows[1].point.range)
    };
    assert_eq!(
        names(TargetGroup::Adult),
        (ReadingRange::Low, ReadingRange::InRange)
    );
    assert_eq!(
        names(TargetGroup::Pregnancy),
        (ReadingRange::InRange, ReadingRange::High)
    );
}

#[test]
fn a_row_of_a_day_has_its_extremes() {
    let rows = [
        steady(0, DAY_S, 110),
        vec![(DAY_S, 48), (DAY_S + 300, 262)],
        steady(2 * DAY_S, 4 * DAY_S, 120),
    ]
    .concat();
    let book = book(record(&[("A", TraceKind::Automatic, &rows)]));
    let AccountRow::Stretches(Stretch::Day, rows) = book.account(START, START + 4 * DAY_S).unwrap().rows
    else {
        panic!("four days are told by day")
    };
    let extremes: Vec<(f64, f64)> = rows
        .iter()
        .map(|row| (row.lowest_mg_dl, row.highest_mg_dl))
        .collect();
    assert_eq!(
        extremes,
        [(110.0, 110.0), (48.0, 262.0), (120.0, 120.0), (120.0, 120.0)]
    );
}

/// Summer time ended in Lisbon at 01:00 UTC on 26 October 2025 (directive 2000/84/EC): 01:00 to 02:00 came twice.
#[test]
fn a_repeated_hour_is_told_apart() {
    let mut record = record(&[]);
    record.base_zone = Zone::named("Europe/Lisbon").unwrap();
    record.clock = LivedClock::new(&record.base_zone, &[], 0, 4_000_000_000);
    let midnight = 1_761_433_200;
    let level = record.levels.intern(Said::whole_mg_per_dl(110));
    let mut readings = Readings::default();
    for i in 0..300 {
        readings.push(u32::try_from(midnight).unwrap() + i * 300, level);
    }
    record.traces.push(Trace {
        sensor: "A".to_owned(),
        kind: TraceKind::Automatic,
        readings,
    });
    let told = book(record).account(midnight, midnight + 25 * 3600).unwrap();
    let AccountRow::Readings(rows) = told.rows else {
        panic!("a day is told reading by reading")
    };
    let at = |hour: usize, minute: usize| hour * 12 + minute / 5;
    let passes: Vec<Option<Pass>> = [at(0, 55), at(1, 0), at(1, 55), at(2, 0), at(2, 55), at(3, 0)]
        .map(|i| rows[i].pass)
        .to_vec();
    let (first, second) = (Some(Pass::First), Some(Pass::Second));
    assert_eq!(passes, [None, first, first, second, second, None]);
    let said: std::collections::BTreeSet<_> = rows
        .iter()
        .map(|row| (row.moment.wall().0, format!("{:?}", row.pass)))
        .collect();
    assert_eq!(said.len(), 300, "no two rows read the same");
}

#[test]
fn an_empty_book_is_drawn_empty() {
    let empty = book(record(&[]));
    assert_eq!(empty.timeline().span(), None);
    let view = view(&empty, 0, DAY_S, 900);
    assert!(view.series[0].points.is_empty() && view.events.is_empty() && !view.ticks.minor.is_empty());
    assert_eq!(empty.account(START, START + DAY_S).unwrap().readings, 0);
    let backwards = ViewAsk {
        from: START,
        to: START,
        width: 900,
        density: 1,
    };
    assert_eq!(empty.view(backwards).err(), Some(TimelineError::EmptyWindow));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]
    /// Whatever the window and the width, the picture's lowest and highest are those of the readings in it.
    #[test]
    fn no_window_hides_an_extreme(
        steps in proptest::collection::vec((60i64..4000, 30i64..500), 1..1500),
        from in -100_000i64..1_000_000,
        length in 600i64..3_000_000,
        width in 1u32..200,
    ) {
        let mut at = 0;
        let rows: Vec<(Second, i64)> = steps.iter().map(|&(step, value)| { at += step; (at, value) }).collect();
        let book = book(record(&[("A", TraceKind::Automatic, &rows)]));
        let view = view(&book, from, from + length, width);
        let step = Second::from(view.step_s);
        let series = &view.series[0];
        // A column at either end may hold readings just outside: the truth is taken over whole columns.
        let (first, last) = match series.columns.is_empty() {
            true => (START + from, START + from + length),
            false => {
                let first = (START + from).div_euclid(step) * step;
                (first, first + ((START + from + length - first) / step + 1) * step)
            }
        };
        let inside = |rows: &[(Second, i64)]| -> Vec<f64> {
            rows.iter().filter(|&&(at, _)| first <= START + at && START + at < last).map(|&(_, value)| value as f64).collect()
        };
        let truth = inside(&rows);
        let lows = series.points.iter().map(|point| point.mg_dl).chain(series.columns.iter().map(|column| column.lowest_mg_dl));
        let highs = series.points.iter().map(|point| point.mg_dl).chain(series.columns.iter().map(|column| column.highest_mg_dl));
        let count = series.points.len() + series.columns.iter().map(|column| column.count as usize).sum::<usize>();
        prop_assert_eq!(count, truth.len());
        prop_assert_eq!(
            (lows.fold(f64::MAX, f64::min), highs.fold(0.0, f64::max)),
            (truth.iter().copied().fold(f64::MAX, f64::min), truth.iter().copied().fold(0.0, f64::max))
        );
        prop_assert!(series.columns.len() <= 2 * width as usize + 2);
    }
}
