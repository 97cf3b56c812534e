//! What files say between the lines: columns nobody knows, columns nobody has, units that change below a heading that
//! names one, dates told once a day, values and rows out of shape. Each with what the person is told.

#![expect(clippy::unwrap_used, reason = "a test fails by panicking, helpers included")]

mod common;

use common::{counts, hints};
use interstice_glucose::{MarkKind, Unit};
use interstice_intake::{Hints, Outcome, ReadFile, Role, read_bytes};

fn with(text: &[u8], hints: &Hints) -> Result<ReadFile, String> {
    match read_bytes("log.csv", text, hints, &mut ()) {
        Ok(Outcome::Read(file)) => Ok(*file),
        Ok(Outcome::Question { questions, .. }) => Err(questions[0].ask.clone()),
        Err(error) => Err(error.to_string()),
    }
}

fn brought(text: &str) -> ReadFile {
    with(text.as_bytes(), &hints("Europe/Lisbon")).unwrap()
}

/// Times of a sensor, five minutes apart.
fn time(i: usize) -> String {
    format!("2025-03-{:02} {:02}:{:02}", 1 + i / 288, i % 288 / 12, i % 12 * 5)
}

fn notes(file: &ReadFile) -> String {
    file.understanding.notes.join("\n")
}

fn rejected(file: &ReadFile) -> Vec<String> {
    file.draft
        .rejected
        .iter()
        .map(|r| format!("{} '{}': {}", r.row, r.text, r.reason))
        .collect()
}

#[test]
fn a_column_nobody_knows_is_named_and_sentences_are_kept() {
    let rows: String = (0..60)
        .map(|i| {
            format!(
                "{},{},K{},{}\n",
                time(i),
                100 + i,
                i % 7,
                if i == 9 { "rained all day" } else { "" }
            )
        })
        .collect();
    let file = brought(&format!("time,glucose (mg/dL),Zzyx,Qwrt\n{rows}"));
    assert!(
        notes(&file).contains("left out, since the book has no place for it: 'Zzyx'"),
        "{}",
        notes(&file)
    );
    assert!(notes(&file).contains("--as 'Zzyx=note'"), "{}", notes(&file));
    let mark = &file.draft.marks[0];
    assert_eq!(
        (mark.kind, mark.text.as_deref()),
        (MarkKind::Note, Some("rained all day"))
    );
}

#[test]
fn a_column_that_no_table_has_is_a_slip() {
    let rows: String = (0..40).map(|i| format!("{},{}\n", time(i), 100 + i)).collect();
    let text = format!("time,glucose (mg/dL)\n{rows}");
    for name in ["gluccose", "3", "gluccose:58"] {
        let mut hints = hints("Europe/Lisbon");
        hints.roles = vec![(name.to_owned(), Role::BloodGlucose)];
        let message = with(text.as_bytes(), &hints).unwrap_err();
        assert!(
            message.contains(&format!("no column '{name}'")) && message.contains("time, glucose (mg/dL)"),
            "{message}"
        );
    }
    let mut hints = hints("Europe/Lisbon");
    hints.roles = vec![
        ("2".to_owned(), Role::BloodGlucose),
        ("Time".to_owned(), Role::DateTime),
    ];
    assert_eq!(
        with(text.as_bytes(), &hints).unwrap().draft.blood_checks.len(),
        40
    );
}

/// The change stands far below what is looked at first.
#[test]
fn a_unit_that_changes_below_a_heading_that_names_one_is_not_read_wrongly() {
    for (unit, before, after) in [
        (Unit::MgPerDl, "118", ["7.1", "12.4"]),
        (Unit::MmolPerL, "7.1", ["118", "62"]),
    ] {
        let many = 70_000;
        let value = |i: usize| if i < many { before } else { after[i % 2] };
        let rows: String = (0..many + 400)
            .map(|i| {
                let at = 1_700_000_000 + i * 60;
                format!("{at},{}\n", value(i))
            })
            .collect();
        let file = brought(&format!("timestamp,glucose ({unit})\n{rows}"));
        assert_eq!(file.draft.traces[0].readings.len(), many, "{unit}");
        assert_eq!(file.draft.rejected_count(), 400);
        assert_eq!(file.rows_read as usize, many + 400);
        assert!(
            notes(&file).contains("where the unit changed on the way"),
            "{}",
            notes(&file)
        );
    }
}

/// A single odd value under a heading that names the unit stays a value or a rejected row of its own.
#[test]
fn one_odd_value_does_not_make_a_unit_doubtful() {
    let rows: String = (0..60)
        .map(|i| format!("{},{}\n", time(i), if i == 30 { 15 } else { 90 + i }))
        .collect();
    let file = brought(&format!("time,glucose (mg/dL)\n{rows}"));
    assert_eq!(
        (file.draft.traces[0].readings.len(), notes(&file).as_str()),
        (60, "")
    );
}

#[test]
fn a_date_told_once_a_day_holds_for_the_rows_below() {
    let text = "Date;Time;Blood glucose (mmol/L)\n3.3.2025;07:30;6.5\n;12:15;8.1\n;18:40;7.2\n\n4.3.2025;08:00;5.9\n;12:00;9.4\n;00:10;4.4\n15.3.2025;07:45;6.6\n;23:00;7.0\n";
    let file = brought(text);
    assert_eq!(file.draft.blood_checks.len(), 7);
    let days: Vec<i64> = file
        .draft
        .blood_checks
        .iter()
        .map(|b| (b.at - 1_740_960_000).div_euclid(86_400))
        .collect();
    assert_eq!(days, [0, 0, 0, 1, 1, 12, 12]);
    assert_eq!(
        rejected(&file),
        ["8 '00:10': there is no date in this row, and its time does not follow the row above"]
    );
    // Newest first.
    let text = "Date;Time;Blood glucose (mmol/L)\n15.3.2025;18:40;6.5\n;12:15;8.1\n;07:30;7.2\n14.3.2025;20:00;5.9\n;12:00;9.4\n";
    assert_eq!(brought(text).draft.blood_checks.len(), 5);
}

/// No time is made up for a value of which only the meal is known.
#[test]
fn meals_in_place_of_times_are_refused_by_name() {
    let days: String = (1..=12)
        .map(|day| {
            format!(
                "{day}.3.2025;{}.{};7.1;8.{};6.5;all well\n",
                5 + day % 4,
                day % 9,
                day % 9
            )
        })
        .collect();
    for headings in [
        "Date;Before breakfast;Before lunch;Before dinner;Bedtime;Notes",
        "Datum;Frühstück nüchtern;Mittagessen;Abendessen;Vor dem Schlafengehen;Notizen",
        "Päivämäärä;Aamupala;Lounas;Päivällinen;Iltapala;Huomiot",
    ] {
        let why = with(format!("{headings}\n{days}").as_bytes(), &hints("UTC")).unwrap_err();
        let second = headings.split(';').nth(1).unwrap();
        assert!(
            why.contains(&format!("'{second}'"))
                && why.contains("guessed time")
                && why.contains("date, time, value"),
            "{why}"
        );
    }
    let text = format!("Date;Weight;Steps;Height;Width;Notes\n{days}");
    let why = with(text.as_bytes(), &hints("UTC")).unwrap_err();
    assert!(why.contains("no times of day"), "{why}");
}

/// Dates that repeat from row to row are not told once a day: an empty one is a slip, and nobody knows its day.
#[test]
fn a_missing_date_is_not_made_up() {
    let mut rows: Vec<String> = (0..40)
        .map(|i| format!("2025-03-03;{:02}:{:02};{}", 6 + i / 12, i % 12 * 5, 100 + i))
        .collect();
    rows[20] = rows[20].replace("2025-03-03", "");
    let file = brought(&format!("Date;Time;Glucose (mg/dL)\n{}\n", rows.join("\n")));
    assert_eq!(rejected(&file), ["22 '07:40': there is no date in this row"]);
}

#[test]
fn values_and_rows_out_of_shape_are_told_one_by_one() {
    let mut rows: Vec<String> = (0..40).map(|i| format!("{},{}", time(i), 100 + i)).collect();
    rows[5] = format!("{},inf", time(5));
    rows[6] = format!("{},NaN", time(6));
    rows[7] = format!("{},-104", time(7));
    rows[8] = format!("{},\"9,999\"", time(8));
    rows[9] = "1970-01-01 00:05,105".to_owned();
    rows[10] = "2099-06-01 10:00,105".to_owned();
    rows[11] = time(11);
    rows[12] = format!("{},112,extra,cells", time(12));
    rows[13] = "2025-03-32 10:00,105".to_owned();
    let file = brought(&format!("time,glucose (mg/dL)\n{}\n", rows.join("\n")));
    assert_eq!(
        rejected(&file),
        [
            "7 'inf': this cannot be read as a glucose value",
            "8 'NaN': there is no value in this row",
            "9 '-104': a glucose value cannot be zero or negative",
            "10 '9,999': 9999 mg/dL cannot be a person's glucose",
            "11 '1970-01-01 00:05': the year cannot be right: the device's clock was not set",
            "12 '2099-06-01 10:00': the year cannot be right: the device's clock was not set",
            "13 '': there is no value in this row",
            "15 '2025-03-32 10:00': this cannot be read as a date and time",
        ]
    );
    assert_eq!(
        counts(&file),
        "40 rows: 32 automatic, 0 scans, 0 blood, 0 doses, 0 meals, 0 marks, 0 sensor notes, 8 rejected"
    );
}

#[test]
fn invalid_utf8_and_mixed_line_ends_lose_nothing() {
    let mut bytes = b"time;glucose (mg/dL);notes\n".to_vec();
    for i in 0..60 {
        let end: &[u8] = [&b"\n"[..], b"\r\n"][i % 2];
        let note: &[u8] = if i == 40 { b"caf\xe9 \x81 t\xc3\xa9" } else { b"" };
        bytes.extend(format!("{};{};", time(i), 100 + i).as_bytes());
        bytes.extend([note, end].concat());
    }
    let file = with(&bytes, &hints("Europe/Lisbon")).unwrap();
    assert_eq!(file.draft.traces[0].readings.len(), 60);
    assert!(
        file.draft.marks[0].text.as_deref().unwrap().starts_with("café"),
        "{:?}",
        file.draft.marks
    );
}

#[test]
fn two_tables_with_other_columns_in_one_file() {
    let sensor: String = (0..50).map(|i| format!("{};{}\n", time(i), 100 + i)).collect();
    let text = format!(
        "Sensor\nTime;Glucose (mg/dL)\n{sensor}\nInsulin\nDate;Time;Rapid insulin (U);Carbs (g)\n2025-03-01;08:00;4;40\n2025-03-01;12:30;5.5;55\n"
    );
    let file = brought(&text);
    assert_eq!(
        counts(&file),
        "52 rows: 50 automatic, 0 scans, 0 blood, 2 doses, 2 meals, 0 marks, 0 sensor notes, 0 rejected"
    );
    assert_eq!(file.understanding.tables.len(), 2);
}

#[test]
fn a_unit_that_cannot_be_is_refused_with_the_other() {
    let rows: String = (0..40).map(|i| format!("{},{}\n", time(i), 100 + i)).collect();
    let mut hints = hints("Europe/Lisbon");
    hints.unit = Some(Unit::MmolPerL);
    let message = with(format!("time,glucose\n{rows}").as_bytes(), &hints).unwrap_err();
    assert!(
        message.contains("cannot be mmol/L") && message.contains("--unit mg/dL"),
        "{message}"
    );
}

/// What was answered once is told as remembered, not as said now.
#[test]
fn a_remembered_answer_is_told_as_one() {
    let rows: String = (0..30)
        .map(|i| format!("03/04/2025 {:02}:{:02},{},58\n", 8 + i / 12, i % 12 * 5, 100 + i))
        .collect();
    let text = format!("time,glucose (mg/dL),kind\n{rows}");
    let mut hints = hints("Europe/Lisbon");
    hints.dates = Some(interstice_intake::DateOrder::DayFirst);
    hints.roles = vec![("kind:58".to_owned(), Role::BloodGlucose)];
    let first = with(text.as_bytes(), &hints).unwrap();
    let told = |file: &ReadFile| {
        let table = &file.understanding.tables[0];
        let kinds: Vec<String> = table.columns.iter().flat_map(|c| c.evidence.clone()).collect();
        format!("{}; {}", table.time_rule, kinds.join("; "))
    };
    assert!(
        told(&first).contains("you said so") && told(&first).contains("you said what its codes are"),
        "{}",
        told(&first)
    );
    let mut later = common::hints("Europe/Lisbon");
    later.recipes = first.recipes;
    let again = with(text.as_bytes(), &later).unwrap();
    assert!(
        !told(&again).contains("you said so") && !told(&again).contains("you said what"),
        "{}",
        told(&again)
    );
    assert!(
        told(&again).contains("an earlier file of this layout"),
        "{}",
        told(&again)
    );
    assert_eq!(again.draft.blood_checks.len(), 30);
}

#[test]
fn a_count_of_seconds_is_universal_time_and_an_offset_beside_it_the_wall_clock() {
    let rows: String = (0..40)
        .map(|i| format!("{},120,{}\n", 1_740_812_400_000_i64 + i * 300_000, 100 + i))
        .collect();
    let file = brought(&format!("ts_ms,tz_min,glucose (mg/dL)\n{rows}"));
    assert_eq!(file.draft.traces[0].readings.at()[0], 1_740_812_400);
    assert_eq!(file.draft.lived[0].zone.offset_s(1_740_812_400), 7200);
    assert!(
        file.understanding.tables[0].parsed[0].starts_with("2025-03-01T09:00:00+02:00"),
        "{:?}",
        file.understanding.tables[0].parsed
    );
}

#[test]
fn calibrations_among_readings_are_blood_checks() {
    let rows: String = (0..100)
        .map(|i| {
            format!(
                "{};{};{}\n",
                time(i),
                if i % 40 == 20 { "Calibration" } else { "Reading" },
                100 + i
            )
        })
        .collect();
    let file = brought(&format!("Time;Event;mg/dL\n{rows}"));
    assert_eq!(
        (file.draft.traces[0].readings.len(), file.draft.blood_checks.len()),
        (98, 2)
    );
}

#[test]
fn a_meter_tested_with_its_control_solution_is_no_blood_check() {
    let rows: String = (0..30)
        .map(|i| {
            format!(
                "2025-03-{:02};07:30;{};{}\n",
                1 + i,
                90 + i,
                if i == 7 { "Kontrolllösung" } else { "" }
            )
        })
        .collect();
    let file = brought(&format!("Datum;Uhrzeit;Blutzucker mg/dl;Bemerkung\n{rows}"));
    assert_eq!(file.draft.blood_checks.len(), 29);
    assert_eq!(
        rejected(&file),
        ["9 '97': a test of the meter with control solution, not of blood"]
    );
    assert!(file.draft.marks.is_empty());
}

#[test]
fn grams_per_litre_are_known_by_their_values() {
    let rows: String = (0..60).map(|i| format!("{};1,{:02}\n", time(i), 5 + i)).collect();
    let file = brought(&format!("Horodatage;Glucose capteur\n{rows}"));
    let first = file.draft.traces[0].readings.level()[0];
    assert_eq!(file.draft.levels.get(first).said.to_string(), "105 mg/dL");
}

#[test]
fn an_untidy_column_named_glucose_is_glucose() {
    let cell = |i: usize| match i % 3 {
        0 => format!("{}*", 100 + i),
        1 => format!("{} mg/dL", 100 + i),
        _ => "forgot".to_owned(),
    };
    let rows: String = (0..30)
        .map(|i| format!("2025-03-{:02} 07:30,{},4\n", 1 + i, cell(i)))
        .collect();
    let file = brought(&format!("When,Sugar,Insulin\n{rows}"));
    assert_eq!(
        (
            file.draft.blood_checks.len(),
            file.draft.doses.len(),
            file.draft.rejected_count()
        ),
        (20, 30, 10)
    );
}

#[test]
fn a_half_of_the_day_in_a_column_of_its_own() {
    let text = "Date,Time,AM/PM,Blood sugar mg/dL\n03/13/2025,07:05,AM,101\n03/13/2025,12:30,PM,140\n03/13/2025,07:05,PM,120\n03/14/2025,12:10,AM,95\n03/14/2025,06:00,,99\n"
        .replace("03/14/2025,06:00,,99\n", &format!("{}03/14/2025,06:00,,99\n", "03/14/2025,09:00,AM,99\n".repeat(10)));
    let file = brought(&text);
    let hours: Vec<i64> = file
        .draft
        .blood_checks
        .iter()
        .take(4)
        .map(|b| (b.at - 1_741_824_000) / 60)
        .collect();
    assert_eq!(hours, [425, 750, 1145, 1450]);
    assert_eq!(
        rejected(&file),
        ["16 '03/14/2025 06:00': nothing says whether this time is before or after noon"]
    );
}

#[test]
fn a_time_may_stand_before_its_date() {
    let rows: String = (0..30)
        .map(|i| format!("{:02}:00 {:02}/03/2025;6,{}\n", i % 24, 13 + i / 24, i % 10))
        .collect();
    let file = brought(&format!("Zeitpunkt;Glukose\n{rows}"));
    assert_eq!(
        file.draft.blood_checks.len() + file.draft.traces.iter().map(|t| t.readings.len()).sum::<usize>(),
        30
    );
}

#[test]
fn two_devices_in_one_file_are_two_traces() {
    let rows: String = (0..200)
        .map(|i| {
            format!(
                "{},{},{}\n",
                ["arm", "belly"][i % 2],
                time(i / 2),
                100 + i / 4 + i % 2
            )
        })
        .collect();
    let file = brought(&format!("device,timestamp,glucose mg/dL\n{rows}"));
    let traces: Vec<(&str, usize)> = file
        .draft
        .traces
        .iter()
        .map(|t| (t.sensor.as_str(), t.readings.len()))
        .collect();
    assert_eq!(traces, [("arm", 100), ("belly", 100)]);
}

#[test]
fn units_beside_each_value_of_every_kind() {
    let rows: String = (0..80)
        .map(|i| {
            let (what, value) = [
                ("Fingerstick", "6.4 mmol/L"),
                ("Rapid insulin", "5 U"),
                ("Carbs", "45 g"),
                ("Weight", "81.2 kg"),
            ][i % 4];
            format!(
                "{:02}-Mar-2025 {:02}:00|{what}|{value}\n",
                1 + i / 4,
                6 + i % 4 * 3
            )
        })
        .collect();
    let file = brought(&format!("When|What|Result\n{rows}"));
    assert_eq!(
        counts(&file),
        "80 rows: 0 automatic, 0 scans, 20 blood, 20 doses, 20 meals, 0 marks, 0 sensor notes, 20 rejected"
    );
    assert_eq!(file.draft.blood_checks[0].said.to_string(), "6.4 mmol/L");
    assert!(
        rejected(&file)[0].contains("name it with --as"),
        "{:?}",
        rejected(&file)[0]
    );
}
