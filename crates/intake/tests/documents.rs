//! FHIR and Open mHealth from elsewhere: what is measured is taken in, what is not is told, and what is meant ill ends in a
//! message.

#![expect(clippy::unwrap_used, reason = "a test fails by panicking, helpers included")]

mod common;

use common::hints;
use interstice_glucose::{Delivery, InsulinKind};
use interstice_intake::{Hints, Outcome, ReadFile, read_bytes};

fn outcome(text: &str) -> Result<Outcome, String> {
    read_bytes("a.json", text.as_bytes(), &hints("UTC"), &mut ()).map_err(|error| error.to_string())
}

fn taken(text: &str) -> ReadFile {
    match outcome(text).unwrap() {
        Outcome::Read(file) => *file,
        Outcome::Question { questions, .. } => panic!("it asked {questions:?}"),
    }
}

fn reason(text: &str) -> String {
    let file = taken(text);
    assert_eq!(file.draft.rejected.len(), 1, "{text}");
    file.draft.rejected[0].reason.clone()
}

fn observation(code: &str, when: &str, value: &str) -> String {
    format!(
        r#"{{"resourceType": "Observation", "status": "final", "code": {{"coding": [{{"system": "http://loinc.org", "code": "{code}"}}]}},
            "subject": {{"reference": "Patient/1"}}, "effectiveDateTime": "{when}", "valueQuantity": {value}}}"#
    )
}

const WHEN: &str = "2026-03-01T07:30:00+01:00";
const MMOL: &str =
    r#"{"value": 5.40, "unit": "mmol/l", "system": "http://unitsofmeasure.org", "code": "mmol/L"}"#;

#[test]
fn observations_are_known_by_their_codes() {
    let all = [
        observation("105272-9", WHEN, MMOL),
        observation("15074-8", WHEN, MMOL),
        observation("14749-6", WHEN, MMOL),
        observation("8310-5", WHEN, r#"{"value": 37, "unit": "Cel"}"#),
    ];
    let file = taken(&format!("[{}]", all.join(",")));
    assert_eq!(file.draft.traces[0].readings.len(), 1);
    assert_eq!(file.draft.levels.get(0).said.to_string(), "5.4 mmol/L");
    let sources: Vec<String> = file
        .draft
        .blood_checks
        .iter()
        .map(|check| format!("{:?}", check.source))
        .collect();
    assert_eq!(sources, ["Meter", "Laboratory"]);
    assert_eq!(file.draft.lived[0].zone.name(), "+01:00");
    assert_eq!(file.understanding.notes.len(), 1);
    assert!(
        file.understanding.notes[0].contains("Observation 8310-5"),
        "{:?}",
        file.understanding.notes
    );
    // The same one after another, as bulk files have them.
    assert_eq!(taken(&all.join("\n")).rows_read, 4);
}

#[test]
fn a_bundles_sensor_is_known_by_what_points_at_it() {
    let reading = observation("99504-3", WHEN, r#"{"value": 104, "unit": "mg/dL"}"#).replace(
        r#""subject""#,
        r#""device": {"reference": "urn:uuid:1"}, "subject""#,
    );
    let text = format!(
        r#"{{"resourceType": "Bundle", "type": "collection", "entry": [{{"resource": {reading}}},
            {{"fullUrl": "urn:uuid:1", "resource": {{"resourceType": "Device", "deviceName": [{{"name": "left arm"}}]}}}},
            {{"resource": {{"resourceType": "Patient"}}}}, {{}}]}}"#
    );
    assert_eq!(taken(&text).draft.traces[0].sensor, "left arm");
}

#[test]
fn insulin_is_known_by_class_or_word() {
    let dose = |medication: &str, rest: &str| {
        format!(
            r#"{{"resourceType": "MedicationAdministration", "status": "completed", "medicationCodeableConcept": {medication}, {rest}}}"#
        )
    };
    let at = format!(r#""effectiveDateTime": "{WHEN}", "dosage": {{"dose": {{"value": 4.5, "unit": "U"}}}}"#);
    let over = r#""effectivePeriod": {"start": "2026-03-01T07:30:00+01:00", "end": "2026-03-01T09:30:00+01:00"}, "dosage": {"dose": {"value": 2, "unit": "IU"}}"#;
    let rate = format!(
        r#""effectiveDateTime": "{WHEN}", "dosage": {{"rateQuantity": {{"value": 0.8, "unit": "U/h"}}}}"#
    );
    let class = |class: &str| {
        format!(r#"{{"coding": [{{"system": "http://www.whocc.no/atc", "code": "{class}"}}]}}"#)
    };
    let all = [
        dose(&class("A10AE04"), &at),
        dose(r#"{"text": "Insulin of some kind"}"#, over),
        dose(&class("A10AB"), &rate),
        dose(r#"{"text": "aspirin"}"#, &at),
    ];
    let file = taken(&format!("[{}]", all.join(",")));
    let told: Vec<_> = file
        .draft
        .doses
        .iter()
        .map(|dose| (dose.units, dose.insulin, dose.delivery))
        .collect();
    assert_eq!(
        told,
        [
            (4.5, InsulinKind::Long, Delivery::AtOnce),
            (2.0, InsulinKind::Unsaid, Delivery::Spread { minutes: 120 }),
            (0.8, InsulinKind::Rapid, Delivery::BasalRate),
        ]
    );
    assert_eq!(file.understanding.notes.len(), 1);
}

#[test]
fn what_cannot_be_used_is_kept_with_its_reason() {
    for (text, word) in [
        (observation("99504-3", "2026-03-01", MMOL), "day alone"),
        (observation("99504-3", "2026-03-01T07:30:00", MMOL), "offset"),
        (observation("99504-3", "1960-03-01T07:30:00Z", MMOL), "1970"),
        (
            observation("99504-3", WHEN, r#"{"value": 5.4, "unit": "furlong"}"#),
            "furlong",
        ),
        (
            observation("99504-3", WHEN, r#"{"value": "5.4", "unit": "mmol/L"}"#),
            "no decimal",
        ),
        (
            observation("99504-3", WHEN, r#"{"value": -5.4, "unit": "mmol/L"}"#),
            "no decimal",
        ),
        (
            observation("99504-3", WHEN, r#"{"value": 1e400, "unit": "mmol/L"}"#),
            "no decimal",
        ),
        (
            observation("99504-3", WHEN, r#"{"value": null, "unit": "mmol/L"}"#),
            "no decimal",
        ),
        (
            observation(
                "99504-3",
                WHEN,
                r#"{"value": 5, "comparator": "~", "unit": "mmol/L"}"#,
            ),
            "comparison",
        ),
        (observation("99504-3", WHEN, "[1, 2]"), "not as the standard"),
        (
            observation("99504-3", WHEN, MMOL).replace("final", "entered-in-error"),
            "entered-in-error",
        ),
        (
            observation("9059-7", WHEN, r#"{"value": 1e999, "unit": "g"}"#),
            "no number",
        ),
        (r#"{"resourceType": 5}"#.to_owned(), "does not say what it is"),
        (r#"{"resourceType": "Bundle", "entry": 5}"#.to_owned(), "entries"),
    ] {
        let reason = reason(&text);
        assert!(reason.contains(word), "{text}: {reason}");
    }
}

#[test]
fn several_people_are_a_question() {
    let other = observation("99504-3", WHEN, MMOL).replace("Patient/1", "Patient/2");
    let text = format!("[{}, {other}]", observation("99504-3", WHEN, MMOL));
    let Outcome::Question { questions, .. } = outcome(&text).unwrap() else {
        panic!("it was read");
    };
    assert_eq!(questions[0].answers.len(), 2);
    let asked = Hints {
        subject: Some("Patient/2".to_owned()),
        ..hints("UTC")
    };
    let Outcome::Read(file) = read_bytes("a.json", text.as_bytes(), &asked, &mut ()).unwrap() else {
        panic!("it asked again");
    };
    assert_eq!(file.draft.traces[0].readings.len(), 1);
}

#[test]
fn open_mhealth_is_read_with_and_without_header() {
    let body = r#"{"blood_glucose": {"unit": "mg/dL", "value": 95}, "effective_time_frame": {"date_time": "2013-02-05T07:25:00Z"}, "specimen_source": "capillary blood"}"#;
    let point = format!(
        r#"{{"header": {{"schema_id": {{"namespace": "omh", "name": "blood-glucose", "version": "3.0"}}}}, "body": {body}}}"#
    );
    let other = r#"{"header": {"schema_id": {"name": "heart-rate"}}, "body": {"heart_rate": {"unit": "beats/min", "value": 50}}}"#;
    let file = taken(&format!("[{point}, {body}, {other}]"));
    assert_eq!((file.draft.blood_checks.len(), file.rows_read), (2, 3));
    assert!(file.understanding.notes[0].contains("heart-rate"));
    assert!(
        file.draft.lived.is_empty(),
        "universal time says nothing of where it was lived"
    );
    let statistic = body.replace(
        r#""specimen_source""#,
        r#""descriptive_statistic": "average", "specimen_source""#,
    );
    assert!(taken(&statistic).draft.blood_checks.is_empty());
    let frame = body.replace(r#""date_time": "2013-02-05T07:25:00Z""#, r#""date_time": 5"#);
    assert!(reason(&frame).contains("not as the schema"));
}

#[test]
fn what_is_meant_ill_ends_in_a_message() {
    let deep = |open: &str, close: &str| {
        format!(
            r#"{{"resourceType": "Observation", "x": {}{}}}"#,
            open.repeat(200_000),
            close.repeat(200_000)
        )
    };
    for text in [
        deep("[", "]"),
        deep(r#"{"a":"#, "}").replace(r#""a":}"#, r#""a":1}"#),
        format!(
            r#"{{"resourceType": "Bundle", "entry": [{}]}}"#,
            vec!["{}"; 200_000].join(",")
        ),
        format!(
            r#"{{"resourceType": "Bundle", "entry": {}}}"#,
            "[".repeat(100_000)
        ),
        r#"{"resourceType": "Observation""#.to_owned(),
        "[\"resourceType\"".to_owned(),
        "{\"resourceType\": \"\\ud800\"}".to_owned(),
        "[\"resourceType\"]".to_owned(),
        r#"{"blood_glucose": {}}"#.to_owned(),
    ] {
        match outcome(&text) {
            Err(message) => assert!(message.contains(';'), "no next step: {message}"),
            Ok(Outcome::Read(file)) => assert!(file.draft.traces.is_empty()),
            Ok(Outcome::Question { .. }) => panic!("it asked"),
        }
    }
}
