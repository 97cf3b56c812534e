//! A file whose way of writing dates changes further down, where no date of the later part can tell: read on as before,
//! its days would lie months away. Time that jumps back tells, and then the person is asked.

#![expect(clippy::unwrap_used, reason = "a test fails by panicking, helpers included")]

mod common;

use common::hints;
use interstice_intake::{DateOrder, Outcome, Question, ReadFile, read_bytes};
use jiff::civil::{Date, date};

const DAY_FIRST: &str = "%d/%m/%Y";
const MONTH_FIRST: &str = "%m/%d/%Y";

/// Blood checks at 07:30 and 19:10 of a day.
fn day(day: Date, written: &str) -> String {
    let text = day.strftime(written);
    let value = 90 + i32::from(day.day()) * 3;
    format!("{text} 07:30,{value}\n{text} 19:10,{}\n", value + 21)
}

fn days(from: Date, count: usize, written: &str) -> String {
    from.series(jiff::Span::new().days(1))
        .take(count)
        .map(|it| day(it, written))
        .collect()
}

fn bring(rows: &str, dates: Option<DateOrder>) -> Result<ReadFile, Question> {
    let mut hints = hints("UTC");
    hints.dates = dates;
    let text = format!("time,blood glucose (mg/dL)\n{rows}");
    match read_bytes("log.csv", text.as_bytes(), &hints, &mut ()).unwrap() {
        Outcome::Read(file) => Ok(*file),
        Outcome::Question { questions, .. } => Err(questions[0].clone()),
    }
}

fn newest_first(rows: &str) -> String {
    let lines: Vec<&str> = rows.lines().rev().collect();
    lines.join("\n") + "\n"
}

#[test]
fn dates_that_jump_back_by_months_are_asked_about() {
    // The line of the first row in the other order: after the headings and two rows a day.
    let winter = days(date(2025, 1, 1), 90, DAY_FIRST);
    let spring = days(date(2025, 4, 1), 12, MONTH_FIRST);
    let asked = bring(&format!("{winter}{spring}"), None).unwrap_err();
    assert!(
        asked.ask.contains("line 182")
            && asked.ask.contains("2025-03-31 to 2025-01-04")
            && asked.ask.contains("month first"),
        "{}",
        asked.ask
    );
    assert!(asked.ask.contains("a file of each part"), "{}", asked.ask);
    assert_eq!(asked.answers[0].0, "--dates day-first");
    // Newest first, the other part comes first.
    let asked = bring(&newest_first(&format!("{winter}{spring}")), None).unwrap_err();
    assert!(asked.ask.contains("line 26"), "{}", asked.ask);
    // Month first to begin with.
    let winter = days(date(2025, 1, 1), 90, MONTH_FIRST);
    let spring = days(date(2025, 4, 1), 12, DAY_FIRST);
    let asked = bring(&format!("{winter}{spring}"), None).unwrap_err();
    assert_eq!(asked.answers[0].0, "--dates month-first");
}

/// Rows that only the other order allows are refused one by one; those that both allow would be read wrongly.
#[test]
fn a_longer_part_in_the_other_order_is_asked_about_too() {
    let rows = days(date(2025, 1, 1), 90, DAY_FIRST) + &days(date(2025, 4, 1), 60, MONTH_FIRST);
    let asked = bring(&rows, None).unwrap_err();
    assert!(asked.ask.contains("line 182"), "{}", asked.ask);
}

#[test]
fn what_the_person_says_holds() {
    let rows = days(date(2025, 1, 1), 90, DAY_FIRST) + &days(date(2025, 4, 1), 12, MONTH_FIRST);
    let file = bring(&rows, Some(DateOrder::DayFirst)).unwrap();
    assert_eq!(file.draft.blood_checks.len(), 204);
}

/// Parts of a file that go over the same time again, gaps of months and single days out of order are not a change of
/// order.
#[test]
fn time_that_jumps_for_other_reasons_is_not_asked_about() {
    let year = days(date(2024, 1, 1), 366, DAY_FIRST);
    let again = format!("{year}{}", days(date(2024, 2, 3), 200, DAY_FIRST));
    let gap = days(date(2024, 1, 1), 40, DAY_FIRST) + &days(date(2024, 12, 1), 12, DAY_FIRST);
    let slip = days(date(2024, 1, 1), 90, DAY_FIRST)
        + &day(date(2024, 1, 7), DAY_FIRST)
        + &days(date(2024, 3, 31), 30, DAY_FIRST);
    let few: String = (1..=12)
        .map(|month| day(date(2024, month, 5), DAY_FIRST))
        .collect();
    let few = days(date(2024, 1, 1), 20, DAY_FIRST) + &few;
    for rows in [year, again, gap, slip, few] {
        for rows in [newest_first(&rows), rows] {
            if let Err(asked) = bring(&rows, None) {
                panic!("{}\n{}", asked.ask, &rows[..200]);
            }
        }
    }
}

/// A year of readings, five minutes apart, in several blocks; ten days of it in the other order.
#[test]
fn ten_days_in_a_year_of_readings_are_found() {
    let mut rows = String::new();
    for (index, day) in date(2024, 1, 1)
        .series(jiff::Span::new().days(1))
        .take(366)
        .enumerate()
    {
        let other = (91..=100).contains(&index);
        let text = day
            .strftime(if other { MONTH_FIRST } else { DAY_FIRST })
            .to_string();
        for minute in (0..1440).step_by(5) {
            let value = 90 + (minute / 5 + index) % 80;
            rows.push_str(&format!("{text} {:02}:{:02},{value}\n", minute / 60, minute % 60));
        }
    }
    let asked = bring(&rows, None).unwrap_err();
    assert!(
        asked.ask.contains(&format!("line {}", 2 + 91 * 288)),
        "{}",
        asked.ask
    );
}
