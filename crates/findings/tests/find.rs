//! Days found by what happened on them.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

use interstice_book::{Book, Provenance};
use interstice_findings::find::{FindAsk, Sought, find};
use interstice_findings::{Reader, Span, TargetGroup};
use interstice_glucose::{
    Draft, InsulinLasts, Mark, MarkKind, Meal, Readings, Said, Second, TraceDraft, TraceKind, Unit,
};

/// 1 March 2025, 00:00 UTC.
const START: Second = 1_740_787_200;
const DAY_S: Second = 86_400;

/// Twenty days. Every third evening has an activity, and the night after it a low from 03:00 to 03:40; the sixth night has one
/// without. Nothing was read on the ninth night.
fn book() -> Book {
    let mut draft = Draft::default();
    let mut column = Readings::default();
    for i in 0..20 * 288_u32 {
        let (day, minute) = (i / 288, i % 288 * 5);
        let low = (180..220).contains(&minute) && (day % 3 == 1 || day == 6);
        if day == 9 && minute < 360 {
            continue;
        }
        let level = draft
            .levels
            .intern(Said::whole_mg_per_dl(if low { 60 } else { 120 }));
        column.push(u32::try_from(START).unwrap() + 300 * i, level);
    }
    draft.traces.push(TraceDraft {
        sensor: "made up".to_owned(),
        kind: TraceKind::Automatic,
        readings: column,
    });
    for day in (0..20).step_by(3) {
        let at = START + day * DAY_S + 18 * 3600;
        draft.marks.push(Mark {
            at,
            until: Some(at + 2700),
            kind: MarkKind::Activity,
            value: None,
            text: Some("rowing".to_owned()),
        });
    }
    draft.meals.push(Meal {
        at: START + 4 * DAY_S + 19 * 3600,
        carbohydrate_g: Some(40.0),
        protein_g: None,
        fat_g: None,
        fibre_g: None,
        energy_kcal: None,
        text: Some("pasta, two beers".to_owned()),
    });
    let mut book = Book::in_memory().unwrap();
    let go_on = &mut |_, _| std::ops::ControlFlow::Continue(());
    book.import(&draft, &Provenance::named("made up", [0; 32]), go_on)
        .unwrap();
    book
}

fn ask(what: Sought, between: (u32, u32), after: Option<(Sought, u32)>) -> FindAsk {
    FindAsk {
        span: Span::LastDays(20),
        what,
        between,
        after,
    }
}

fn reader() -> Reader {
    Reader {
        unit: Unit::MgPerDl,
        group: TargetGroup::Adult,
        night: None,
        insulin: InsulinLasts::default(),
    }
}

#[test]
fn lows_of_the_night_after_activity_are_found() {
    let record = book().load_all().unwrap();
    let night = (2 * 60, 5 * 60);
    let all = find(&record, reader(), &ask(Sought::Low, night, None)).unwrap();
    // Days 1, 4, 6, 7, 10, 13, 16 and 19; the ninth night was not read.
    assert_eq!((all.days, all.days_found, all.found.len()), (19, 8, 8));
    assert!(all.found.windows(2).all(|pair| pair[0].at.0.at > pair[1].at.0.at));
    let after = find(
        &record,
        reader(),
        &ask(Sought::Low, night, Some((Sought::Activity, 16))),
    )
    .unwrap();
    assert_eq!(after.days_found, 7);
    assert!(after.found.iter().all(|line| line.after.is_some()));
    // Seven nights came within 16 hours after an activity, and each had one; of the twelve others one had.
    assert_eq!(
        (after.with_before, after.without_before),
        (Some((7, 7)), Some((1, 12)))
    );
    let soon = find(
        &record,
        reader(),
        &ask(Sought::Low, night, Some((Sought::Activity, 4))),
    )
    .unwrap();
    assert_eq!(soon.days_found, 0, "nine hours lie between");
}

#[test]
fn hours_may_pass_midnight_and_words_tell_of_alcohol() {
    let record = book().load_all().unwrap();
    let late = find(&record, reader(), &ask(Sought::Low, (22 * 60, 4 * 60), None)).unwrap();
    assert_eq!(late.found.len(), 8);
    let morning = find(&record, reader(), &ask(Sought::Low, (6 * 60, 12 * 60), None)).unwrap();
    assert_eq!((morning.found.len(), morning.days), (0, 20));
    let beer = find(&record, reader(), &ask(Sought::Alcohol, (0, 0), None)).unwrap();
    assert_eq!(beer.found.len(), 1);
    assert_eq!(beer.found[0].words.as_deref(), Some("pasta, two beers"));
    assert!(
        find(
            &Book::in_memory().unwrap().load_all().unwrap(),
            reader(),
            &ask(Sought::Low, (0, 0), None)
        )
        .is_err()
    );
}
