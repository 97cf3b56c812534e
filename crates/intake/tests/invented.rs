//! Small invented files in many languages and layouts, each read without a flag but the zone.

#![expect(clippy::unwrap_used, reason = "a test fails by panicking, helpers included")]

mod common;

use common::{bring, counts, hints, understood};
use interstice_glucose::{Censor, InsulinKind, TraceKind, Unit};
use interstice_intake::{DateOrder, Outcome, Role, read_bytes};

const ZONE: &str = "Europe/Lisbon";

/// Each file and how it is understood, as reviewed by hand against the file.
#[test]
fn every_language_is_understood() {
    for name in [
        "deutsch_gemischt.csv",
        "francais_carnet.csv",
        "espanol_sensor.tsv",
        "italiano.csv",
        "nederlands_utf16.txt",
        "portugues.csv",
        "dansk.csv",
        "norsk.csv",
        "svenska.csv",
        "suomi.csv",
        "english_three_tables.csv",
        "no_headings.csv",
        "epoch_ms.csv",
        "unit_changes.csv",
        "clock_changes.csv",
    ] {
        let file = bring(name, &hints(ZONE)).unwrap();
        insta::with_settings!({ prepend_module_to_snapshot => false, omit_expression => true }, {
            insta::assert_snapshot!(name, understood(&file));
        });
    }
}

#[test]
fn mixed_rows_go_where_they_belong() {
    let draft = bring("deutsch_gemischt.csv", &hints(ZONE)).unwrap().draft;
    assert_eq!(draft.count(TraceKind::Automatic), 60);
    assert_eq!(draft.blood_checks[0].said.to_string(), "6.8 mmol/L");
    assert_eq!(draft.blood_checks[0].note.as_deref(), Some("Fingerbeere"));
    let doses: Vec<_> = draft.doses.iter().map(|d| (d.units, d.insulin)).collect();
    assert_eq!(doses, [(4.5, InsulinKind::Rapid), (14.0, InsulinKind::Long)]);
    assert_eq!(draft.meals[0].carbohydrate_g, Some(45.0));
    assert_eq!(draft.meals[0].text.as_deref(), Some("Müsli mit Äpfeln"));
}

#[test]
fn grams_per_litre_are_exact() {
    let draft = bring("francais_carnet.csv", &hints(ZONE)).unwrap().draft;
    assert_eq!(draft.blood_checks[0].said.to_string(), "92 mg/dL");
    assert_eq!(
        draft
            .doses
            .iter()
            .filter(|d| d.insulin == InsulinKind::Long)
            .count(),
        12
    );
}

/// Row, text and reason of every row that could not be used.
#[test]
fn every_unusable_row_is_named() {
    let file = bring("bad_values.csv", &hints(ZONE)).unwrap();
    assert_eq!(file.draft.rejected_count(), 9);
    let rejected: Vec<String> = file
        .draft
        .rejected
        .iter()
        .map(|r| format!("{} '{}': {}", r.row, r.text, r.reason))
        .collect();
    insta::assert_snapshot!(rejected.join("\n"), @r"
    7 '9999': 9999 mg/dL cannot be a person's glucose
    8 '-20': a glucose value cannot be zero or negative
    9 'NaN': there is no value in this row
    10 'abc': this cannot be read as a glucose value
    11 '0': a glucose value cannot be zero or negative
    22 '1970-01-01 00:00': the year cannot be right: the device's clock was not set
    23 '2099-01-01 00:00': the year cannot be right: the device's clock was not set
    24 '2025-02-30 10:00': this cannot be read as a date and time
    25 '': there is no time in this row
    ");
    let censored = |censor| {
        let trace = &file.draft.traces[0].readings;
        trace
            .level()
            .iter()
            .filter(|&&l| file.draft.levels.get(l).said.censor() == censor)
            .count()
    };
    assert_eq!((censored(Censor::Below), censored(Censor::Above)), (2, 1));
}

/// 01:00 to 01:50 comes twice on 2025-10-26 in Lisbon: readings ten minutes apart from 00:00 UTC stay so.
#[test]
fn the_repeated_hour_is_told_by_the_order_of_rows() {
    let draft = bring("clock_changes.csv", &hints(ZONE)).unwrap().draft;
    let at = draft.traces[0].readings.at();
    assert_eq!(at[0], 1_761_436_800);
    assert!(at.windows(2).all(|pair| pair[1] - pair[0] == 600), "{at:?}");
    assert_eq!(draft.rejected[0].text, "2025-03-30 01:30");
}

#[test]
fn doubt_is_a_question_and_its_answer_is_taken() {
    let mut hints = hints(ZONE);
    let questions = bring("ambiguous_dates.csv", &hints).unwrap_err();
    assert_eq!(questions[0].answers[0].0, "--dates day-first");
    hints.dates = Some(DateOrder::MonthFirst);
    let file = bring("ambiguous_dates.csv", &hints).unwrap();
    assert_eq!(file.draft.traces[0].readings.at()[0], 1_741_075_200);

    let questions = bring("two_people.csv", &hints).unwrap_err();
    assert_eq!(questions[0].answers.len(), 2);
    hints.subject = Some("A".to_owned());
    let file = bring("two_people.csv", &hints).unwrap();
    assert_eq!(file.draft.count(TraceKind::Automatic), 50);
    assert!(
        file.understanding
            .notes
            .iter()
            .any(|n| n.contains("50 rows of other people left alone"))
    );
}

/// A remembered layout answers the question that was answered once, and does not outweigh a file's own evidence.
#[test]
fn a_remembered_layout_helps_and_does_not_command() {
    let mut hints = hints(ZONE);
    hints.dates = Some(DateOrder::MonthFirst);
    let first = bring("ambiguous_dates.csv", &hints).unwrap();
    hints.dates = None;
    hints.recipes = first.recipes;
    let again = bring("ambiguous_dates.csv", &hints).unwrap();
    assert_eq!(again.draft.traces[0].readings, first.draft.traces[0].readings);

    // The same headings with a value every few hours are blood checks, whatever the last file was.
    let rows: Vec<String> = (1..28)
        .flat_map(|d| [7, 12, 19].map(|h| format!("01/{d:02}/2025 {h:02}:00,{}", 90 + d + h)))
        .collect();
    let text = format!("time,glucose\n{}\n", rows.join("\n"));
    let Outcome::Read(file) = read_bytes("log.csv", text.as_bytes(), &hints, &mut ()).unwrap() else {
        panic!("a question")
    };
    assert_eq!(
        counts(&file),
        "81 rows: 0 automatic, 0 scans, 81 blood, 0 doses, 0 meals, 0 marks, 0 sensor notes, 0 rejected"
    );
}

#[test]
fn what_the_person_says_of_a_column_is_done_and_remembered() {
    let text: String = (0..60)
        .map(|i| {
            format!(
                "2025-03-03 {:02}:{:02},{},{}\n",
                6 + i / 12,
                i % 12 * 5,
                100 + i,
                200 - i
            )
        })
        .collect();
    let mut hints = hints(ZONE);
    hints.roles = vec![("3".to_owned(), Role::Glucose), ("2".to_owned(), Role::Ignored)];
    let Outcome::Read(file) = read_bytes("x.csv", text.as_bytes(), &hints, &mut ()).unwrap() else {
        panic!("a question")
    };
    let first = file.draft.traces[0].readings.level()[0];
    assert_eq!(file.draft.levels.get(first).said.to_string(), "200 mg/dL");
    assert_eq!(file.unit, Some(Unit::MgPerDl));
    assert_eq!(file.recipes[0].said, [2, 3]);
    hints.roles.clear();
    hints.recipes = file.recipes;
    let Outcome::Read(again) = read_bytes("x.csv", text.as_bytes(), &hints, &mut ()).unwrap() else {
        panic!("a question")
    };
    assert_eq!(again.draft.traces[0].readings, file.draft.traces[0].readings);
}
