//! Logs in which a row that holds only a day stands above the rows of that day.

#![expect(clippy::unwrap_used, reason = "a test fails by panicking, helpers included")]

mod common;

use common::hints;
use interstice_intake::{DateOrder, Outcome, ReadFile, read_bytes};

fn with(text: &str, dates: Option<DateOrder>) -> Result<ReadFile, String> {
    let mut hints = hints("Europe/Lisbon");
    hints.dates = dates;
    match read_bytes("log.csv", text.as_bytes(), &hints, &mut ()) {
        Ok(Outcome::Read(file)) => Ok(*file),
        Ok(Outcome::Question { questions, .. }) => Err(questions[0].ask.clone()),
        Err(error) => Err(error.to_string()),
    }
}

fn brought(text: &str) -> ReadFile {
    with(text, None).unwrap_or_else(|why| panic!("{why}\n{text}"))
}

/// Days since 3 March 2025 and clock times of all blood checks.
fn checks(file: &ReadFile) -> Vec<String> {
    let said = |at: i64| {
        let from = at - 1_740_960_000;
        let minute = from.rem_euclid(86_400) / 60;
        format!(
            "{} {:02}:{:02}",
            from.div_euclid(86_400),
            minute / 60,
            minute % 60
        )
    };
    file.draft
        .blood_checks
        .iter()
        .map(|check| said(check.at))
        .collect()
}

fn rejected(file: &ReadFile) -> Vec<String> {
    let said = |r: &interstice_glucose::Rejected| format!("{} '{}': {}", r.row, r.text, r.reason);
    file.draft.rejected.iter().map(said).collect()
}

const THREE_DAYS: [&str; 5] = ["0 07:30", "0 12:15", "1 08:00", "1 22:10", "13 07:45"];

/// The same three days with the heading of each as given, `{}` standing for the rows of a day.
fn log(days: [&str; 3], headings: &str) -> String {
    let rows = ["07:30;6.5\n12:15;8.1\n", "08:00;5.9\n22:10;9.4\n", "07:45;6.6\n"];
    let body: String = days
        .iter()
        .zip(rows)
        .map(|(day, rows)| format!("{day}\n{rows}"))
        .collect();
    format!("{headings}{body}")
}

#[test]
fn a_day_above_its_rows_is_their_day() {
    let headings = "Time;Blood glucose (mmol/L)\n";
    for days in [
        ["3.3.2025", "4.3.2025", "16.3.2025"],
        ["2025-03-03;", "2025-03-04;", "2025-03-16;"],
        [
            "Monday, 3 March 2025",
            "Tuesday, 4 March 2025",
            "Sunday, 16 March 2025",
        ],
        ["Date: 2025-03-03", "Date: 2025-03-04", "Date: 2025-03-16"],
        ["03/03/2025;Mon", "04/03/2025;Tue", "16/03/2025;Sun"],
        ["Mon;03/03/2025", "Tue;04/03/2025", "Sun;16/03/2025"],
        ["03.03.2025 (Mo)", "04.03.2025 (Di)", "16.03.2025 (So)"],
        ["\n3.3.2025", "\n4.3.2025", "\n16.3.2025"],
    ] {
        let file = brought(&log(days, headings));
        assert_eq!(checks(&file), THREE_DAYS, "{days:?}");
        assert_eq!(rejected(&file), [""; 0], "{days:?}");
        assert_eq!(file.rows_read, 5, "{days:?}");
        assert_eq!(file.understanding.notes, [""; 0], "{days:?}");
        let rule = &file.understanding.tables[0].time_rule;
        assert!(rule.contains("above the rows"), "{rule}");
    }
}

/// Headings that stand again under every day.
#[test]
fn headings_may_stand_under_every_day() {
    let each = |day: &str| format!("{day}\nTime;Blood glucose (mmol/L)");
    let days = ["3.3.2025", "4.3.2025", "16.3.2025"].map(each);
    let file = brought(&log([&days[0], &days[1], &days[2]], ""));
    assert_eq!(checks(&file), THREE_DAYS);
}

/// The order of dates is a question here as anywhere.
#[test]
fn days_that_can_be_read_two_ways_are_asked_about() {
    let text = log(
        ["3/4/2025", "4/5/2025", "5/6/2025"],
        "Time;Blood glucose (mmol/L)\n",
    );
    let asked = with(&text, None).unwrap_err();
    assert!(asked.contains("more than one way"), "{asked}");
    let file = with(&text, Some(DateOrder::DayFirst)).unwrap();
    assert_eq!(checks(&file)[0], "31 06:30");
}

/// A heading that cannot be read leaves its rows without a day; they are not put under the day before.
#[test]
fn rows_under_a_day_that_cannot_be_read_are_not_put_under_another() {
    for broken in ["32.3.2025", "Tuesday", "4.3.", "3 rd of March 2025"] {
        let text = log(["3.3.2025", broken, "16.3.2025"], "Time;Blood glucose (mmol/L)\n");
        let file = brought(&text);
        assert_eq!(checks(&file), ["0 07:30", "0 12:15", "13 07:45"], "{broken}");
        let said = rejected(&file);
        assert_eq!(said.len(), 3, "{said:?}");
        assert!(said[0].contains(broken) && said[0].contains("day"), "{said:?}");
        assert!(said[1].contains("'08:00': no day"), "{said:?}");
    }
}

/// Times without any day cannot be placed, and the date of a print-out is not theirs.
#[test]
fn times_without_a_day_are_still_refused() {
    let rows = "07:30;6.5\n12:15;8.1\n08:00;5.9\n22:10;9.4\n";
    for above in ["", "Printed on 5 March 2025\n", "Printed on 5 March 2025\n\n"] {
        let why = with(&format!("{above}Time;Blood glucose (mmol/L)\n{rows}"), None).unwrap_err();
        assert!(why.contains("no dates"), "{why}");
    }
}

/// A sensor's log of some length: a day may begin in an earlier block than its rows.
#[test]
fn days_reach_over_long_files() {
    let mut text = String::from("Time;Glucose (mg/dL);Note\n");
    for day in 0..600_i64 {
        let date = jiff::civil::date(2023, 1, 1)
            .checked_add(jiff::Span::new().days(day))
            .unwrap();
        text.push_str(&format!("{date}\n"));
        for minute in (0..1440).step_by(15) {
            let value = 80 + (day + minute) % 120;
            text.push_str(&format!(
                "{:02}:{:02};{value};{:40}\n",
                minute / 60,
                minute % 60,
                "."
            ));
        }
    }
    assert!(text.len() > 2 << 20, "{}", text.len());
    let file = brought(&text);
    let readings: usize = file.draft.traces.iter().map(|trace| trace.readings.len()).sum();
    let never = file.draft.rejected_count() as usize;
    // Twice a year an hour of the clock does not exist in Lisbon.
    assert_eq!((readings + never, never), (600 * 96, 8), "{:?}", rejected(&file));
}
