//! Folders that say they are an export of this program: what is wrong in them is told, and nothing outside is read.

#![expect(clippy::unwrap_used, reason = "a test fails by panicking, helpers included")]

mod common;

use std::path::Path;

use common::hints;
use interstice_intake::{Outcome, ReadFile, read};

const READINGS: &str = "time_utc,kind,sensor,value_as_said,unit_as_said,bound\r\n\
    2026-03-01T00:00:00Z,automatic,S1,5.4,mmol/L,\r\n2026-03-01T00:05:00Z,automatic,S1,40,mg/dL,below\r\n";

/// A folder of one table.
fn folder(table: &str, path: &str, text: &str) -> tempfile::TempDir {
    let dir = tempfile::tempdir().unwrap();
    std::fs::write(dir.path().join("table.csv"), text).unwrap();
    let rows = text.lines().count().saturating_sub(1);
    let manifest = format!(
        r#"{{"format": "interstice export", "version": 1, "files_as": "csv", "zone": "Europe/Lisbon", "unit": "mg/dL",
            "tables": [{{"name": "{table}", "files": [{{"path": "{path}", "rows": {rows}}}]}}]}}"#
    );
    std::fs::write(dir.path().join("manifest.json"), manifest).unwrap();
    dir
}

fn outcome(dir: &Path) -> Result<ReadFile, String> {
    match read(dir, &hints("UTC"), &mut ()) {
        Ok(Outcome::Read(file)) => Ok(*file),
        Ok(Outcome::Question { questions, .. }) => panic!("it asked {questions:?}"),
        Err(error) => Err(error.to_string()),
    }
}

fn of_table(table: &str, text: &str) -> ReadFile {
    outcome(folder(table, "table.csv", text).path()).unwrap()
}

fn refused(manifest: &str) -> String {
    let dir = tempfile::tempdir().unwrap();
    std::fs::write(dir.path().join("manifest.json"), manifest).unwrap();
    let message = outcome(dir.path()).unwrap_err();
    assert!(message.contains(';'), "no next step: {message}");
    message
}

#[test]
fn readings_are_read_as_they_were_said() {
    let file = of_table("readings", READINGS);
    assert_eq!((file.rows_read, file.draft.rejected.len()), (2, 0));
    let said: Vec<String> = file
        .draft
        .levels
        .as_slice()
        .iter()
        .map(|level| level.said.to_string())
        .collect();
    assert_eq!(said, ["5.4 mmol/L", "below 40 mg/dL"]);
    assert_eq!(file.base_zone.unwrap().name(), "Europe/Lisbon");
}

#[test]
fn rows_of_the_wrong_kind_are_kept_and_told() {
    for (table, text, column) in [
        (
            "readings",
            "time_utc,kind,value_as_said,unit_as_said\nnoon,scan,5,mg/dL\n",
            "time_utc",
        ),
        (
            "readings",
            "time_utc,kind,value_as_said,unit_as_said\n1960-01-01T00:00:00Z,scan,5,mg/dL\n",
            "time_utc",
        ),
        (
            "readings",
            "time_utc,kind,value_as_said,unit_as_said\n2026-03-01T00:00:00.5Z,scan,5,mg/dL\n",
            "time_utc",
        ),
        (
            "readings",
            "time_utc,kind,value_as_said,unit_as_said\n2026-03-01T00:00:00Z,scan,NaN,mg/dL\n",
            "value_as_said",
        ),
        (
            "readings",
            "time_utc,kind,value_as_said,unit_as_said\n2026-03-01T00:00:00Z,scan,5,stone\n",
            "unit_as_said",
        ),
        (
            "readings",
            "time_utc,kind,value_as_said,unit_as_said\n2026-03-01T00:00:00Z,guess,5,mg/dL\n",
            "kind",
        ),
        ("readings", "glucose\n5\n", "time_utc"),
        (
            "doses",
            "time_utc,insulin,delivery,dose_u\n2026-03-01T00:00:00Z,rapid,at once,inf\n",
            "dose_u",
        ),
        (
            "doses",
            "time_utc,insulin,delivery,dose_u\n2026-03-01T00:00:00Z,rapid,at once,-1\n",
            "dose_u",
        ),
        (
            "doses",
            "time_utc,insulin,delivery,dose_u\n2026-03-01T00:00:00Z,rapid,spread,1\n",
            "minutes",
        ),
        (
            "doses",
            "time_utc,insulin,delivery,dose_u,minutes\n2026-03-01T00:00:00Z,rapid,spread,1,9999999999\n",
            "minutes",
        ),
        (
            "meals",
            "time_utc,carbohydrate_g\n2026-03-01T00:00:00Z,NaN\n",
            "carbohydrate_g",
        ),
        (
            "entries",
            "time_utc,kind,value\n2026-03-01T00:00:00Z,note,1e999\n",
            "value",
        ),
        (
            "sensor_moments",
            "time_utc,kind,preparation\n2026-03-01T00:00:00Z,started,soap\n",
            "preparation",
        ),
        (
            "sensor_moments",
            "time_utc,kind,comfort\n2026-03-01T00:00:00Z,started,4\n",
            "comfort",
        ),
        (
            "zones",
            "from_utc,to_utc,zone\n2026-03-02T00:00:00Z,2026-03-01T00:00:00Z,UTC\n",
            "to_utc",
        ),
        (
            "zones",
            "from_utc,to_utc,zone\n2026-03-01T00:00:00Z,2026-03-02T00:00:00Z,Nowhere/None\n",
            "zone",
        ),
        ("settings", "name,value\n,5\n", "name"),
    ] {
        let file = of_table(table, text);
        let rejected = &file.draft.rejected;
        assert_eq!(rejected.len(), 1, "{text}");
        assert_eq!(rejected[0].column, format!("table.csv: {column}"), "{text}");
        assert_eq!(rejected[0].row, 2, "{text}");
    }
}

/// A list nested a hundred thousand deep must end in a message, not in a full stack.
#[test]
fn a_cell_nested_deeply_is_refused() {
    let deep = "[".repeat(100_000);
    let text = format!("time_utc,kind,cover\n2026-03-01T00:00:00Z,started,\"{deep}\"\n");
    let file = of_table("sensor_moments", &text);
    assert_eq!(file.draft.rejected.len(), 1);
    assert!(file.draft.rejected[0].text.chars().count() <= 200);
}

#[test]
fn only_what_lies_inside_the_folder_is_opened() {
    for path in [
        "../table.csv",
        "/etc/hostname",
        "a/../../table.csv",
        "",
        ".",
        "none.csv",
    ] {
        let dir = folder("readings", path, READINGS);
        let message = outcome(dir.path()).unwrap_err();
        assert!(message.contains(';'), "{path}: {message}");
    }
}

#[test]
fn a_manifest_that_is_none_is_told() {
    let whole = |format: &str, version: u32, files_as: &str, zone: &str| {
        format!(
            r#"{{"format": "{format}", "version": {version}, "files_as": "{files_as}", "zone": "{zone}", "unit": "mg/dL", "tables": []}}"#
        )
    };
    assert!(refused("").contains("not that of an export"));
    assert!(refused("[1, 2]").contains("not that of an export"));
    assert!(refused(&"[".repeat(100_000)).contains("not that of an export"));
    assert!(refused(&whole("another", 1, "csv", "UTC")).contains("'another'"));
    assert!(refused(&whole("interstice export", 2, "csv", "UTC")).contains("later version"));
    assert!(refused(&whole("interstice export", 1, "parquet", "UTC")).contains("parquet"));
    assert!(refused(&whole("interstice export", 1, "csv", "Nowhere/None")).contains("zone"));
}

#[test]
fn a_table_cut_short_is_told() {
    let dir = folder("readings", "table.csv", READINGS);
    let cut = &READINGS[..READINGS.len() - 20];
    std::fs::write(dir.path().join("table.csv"), cut).unwrap();
    let file = outcome(dir.path()).unwrap();
    assert_eq!(file.draft.rejected.len(), 1);
    std::fs::write(dir.path().join("table.csv"), &READINGS[..100]).unwrap();
    let file = outcome(dir.path()).unwrap();
    assert!(
        file.understanding.notes[0].contains("the copy is not whole"),
        "{:?}",
        file.understanding.notes
    );
}

#[test]
fn stretches_over_one_another_are_not_both_taken() {
    let text = "from_utc,to_utc,zone\n2026-03-01T00:00:00Z,2026-03-09T00:00:00Z,UTC\n2026-03-05T00:00:00Z,2026-03-12T00:00:00Z,Asia/Tokyo\n";
    let file = of_table("zones", text);
    assert_eq!(file.draft.lived.len(), 1);
    assert!(file.understanding.notes[0].contains("Asia/Tokyo"));
}
