//! What must hold of any bytes at all. The targets under `fuzz/` call these by the million; the tests below drive the
//! same bodies with a fixed seed.

#![expect(
    clippy::expect_used,
    clippy::unwrap_used,
    reason = "a fuzz target fails by panicking"
)]

use std::io::Write;

use interstice_glucose::{Unit, Zone};

use crate::api::{DateOrder, Hints, Outcome, ZoneSource};
use crate::head::find_table;
use crate::number::{DecimalMark, leading_number, parse_number};
use crate::read_bytes;
use crate::records::{Records, last_record_end};
use crate::rows::RowReader;
use crate::stamp::{dotted_clock, parse_stamp, read_stamp};
use crate::understand::{Beyond, Try, understand};
use crate::usual::{DayMemo, parse_clock};

const ORDERS: [DateOrder; 3] = [DateOrder::DayFirst, DateOrder::MonthFirst, DateOrder::YearFirst];

/// Hints that differ by the bits of `choice`.
fn hints(choice: u8) -> Hints {
    let zone = ["Europe/Lisbon", "America/St_Johns", "Australia/Lord_Howe", "UTC"][usize::from(choice & 3)];
    Hints {
        zone: (
            Zone::named(zone).expect("a zone of the bundled data"),
            ZoneSource::Asked,
        ),
        unit: [None, Some(Unit::MgPerDl), Some(Unit::MmolPerL), None][usize::from(choice >> 2 & 3)],
        dates: [None, Some(DateOrder::DayFirst), Some(DateOrder::MonthFirst), None]
            [usize::from(choice >> 4 & 3)],
        roles: Vec::new(),
        subject: (choice & 0x40 != 0).then(|| "1".to_owned()),
        recipes: Vec::new(),
    }
}

/// A whole file through intake; the last byte chooses the hints. Whatever comes is an outcome or a message with a next
/// step, and what was read points into its own tables.
pub fn file(bytes: &[u8]) {
    let Some((&choice, content)) = bytes.split_last() else {
        return;
    };
    let hints = hints(choice);
    match read_bytes("a.csv", content, &hints, &mut ()) {
        Err(error) => assert!(error.to_string().contains(';'), "no next step: {error}"),
        Ok(Outcome::Question { questions, .. }) => assert!(!questions.is_empty()),
        Ok(Outcome::Read(file)) => {
            let levels = file.draft.levels.len();
            for trace in &file.draft.traces {
                assert!(
                    trace
                        .readings
                        .level()
                        .iter()
                        .all(|&level| (level as usize) < levels)
                );
            }
            assert!(
                file.draft.rejected_count() <= file.rows_read,
                "more rows refused than read"
            );
            // The same file with what was learnt from it asks nothing.
            let again = Hints {
                recipes: file.recipes,
                ..hints
            };
            let again = read_bytes("a.csv", content, &again, &mut ());
            assert!(
                matches!(again, Ok(Outcome::Read(_))),
                "read once, not again: {again:?}"
            );
        }
    }
}

/// Cutting a text into records, and into blocks of records: every byte lies in one record, and a block may end after
/// any whole record without a record changing.
pub fn delimited(bytes: &[u8]) {
    for delimiter in *b",;\t|" {
        let whole = cells(bytes, delimiter);
        let Some(end) = last_record_end(bytes, delimiter) else {
            continue;
        };
        let mut parts = cells(&bytes[..end], delimiter);
        parts.extend(cells(&bytes[end..], delimiter));
        assert_eq!(whole, parts, "cut at {end}");
    }
}

fn cells(block: &[u8], delimiter: u8) -> Vec<Vec<String>> {
    let (mut records, mut fields, mut out, mut next) =
        (Records::new(block, delimiter), Vec::new(), Vec::new(), 0);
    while let Some(range) = records.next(&mut fields) {
        assert_eq!(range.start, next, "a byte between two records");
        next = (range.end + 1).min(block.len());
        assert!(range.end == block.len() || block[range.end] == b'\n');
        out.push(
            fields
                .iter()
                .map(|field| field.text(block).into_owned())
                .collect(),
        );
    }
    assert_eq!(next, block.len(), "bytes after the last record");
    out
}

/// Rows read by the pattern of one before them are read as cell by cell. The last byte chooses the hints.
pub fn alike(bytes: &[u8]) {
    for delimiter in *b",;" {
        if let Some([quick, slow]) = both_ways(bytes, delimiter) {
            assert_eq!(quick, slow);
        }
    }
}

/// What the rows of a table bring by patterns and cell by cell; `None` where there is no table.
fn both_ways(bytes: &[u8], delimiter: u8) -> Option<[String; 2]> {
    let (&choice, text) = bytes.split_last()?;
    let head = find_table(text, delimiter)?;
    let (hints, rows) = (hints(choice), &text[head.rows_at..]);
    let beyond = Beyond {
        dates: None,
        order: None,
        is_whole: true,
    };
    let Try::Understood(table) = understand(&head, rows, delimiter, &hints, beyond, false) else {
        return None;
    };
    let mut readers = [RowReader::new(&table.plan), RowReader::cell_by_cell(&table.plan)];
    Some(
        readers
            .each_mut()
            .map(|reader| format!("{:?}", reader.read_block(rows))),
    )
}

/// Archives, compressed files and workbooks: as they come, or the bytes packed into one (the last byte chooses), so
/// that what is inside is met behind its checksum.
pub fn container(bytes: &[u8]) {
    let Some((&choice, content)) = bytes.split_last() else {
        return;
    };
    let packed = match choice % 8 {
        0 | 1 => content.to_vec(),
        2 => gzip(content),
        3 => zip(&[("a.csv", content), ("b/c.txt", content)]),
        4 => gzip(&zip(&[("a.csv", content)])),
        5 => zip(&[("a.zip", &zip(&[("a.csv", content)]))]),
        6 => workbook(content),
        _ => zip(&[
            ("mimetype", b"application/vnd.oasis.opendocument.spreadsheet"),
            ("content.xml", content),
        ]),
    };
    for name in ["a.csv", "a.xlsx"] {
        if let Err(error) = read_bytes(name, &packed, &hints(0), &mut ()) {
            assert!(error.to_string().contains(';'), "no next step: {error}");
        }
    }
}

fn gzip(content: &[u8]) -> Vec<u8> {
    let mut gzip = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
    gzip.write_all(content).expect("memory takes all");
    gzip.finish().expect("memory takes all")
}

fn zip(members: &[(&str, &[u8])]) -> Vec<u8> {
    let stored = zip::write::SimpleFileOptions::default().compression_method(zip::CompressionMethod::Stored);
    let mut zip = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    for (name, content) in members {
        zip.start_file(*name, stored).expect("a plain name");
        zip.write_all(content).expect("memory takes all");
    }
    zip.finish().expect("memory takes all").into_inner()
}

/// A workbook of one sheet whose XML is `sheet`.
fn workbook(sheet: &[u8]) -> Vec<u8> {
    zip(&[
        (
            "xl/workbook.xml",
            br#"<workbook xmlns:r="r"><sheets><sheet name="S" sheetId="1" r:id="rId1"/></sheets></workbook>"#,
        ),
        (
            "xl/_rels/workbook.xml.rels",
            br#"<Relationships><Relationship Id="rId1" Type="worksheet" Target="worksheets/sheet1.xml"/></Relationships>"#,
        ),
        ("xl/worksheets/sheet1.xml", sheet),
    ])
}

/// Documents of published standards: a draft or a message with a next step, no more rows refused than read.
pub fn document(bytes: &[u8]) {
    use crate::documents::{Standard, read};
    for standard in [Standard::Fhir, Standard::OpenMHealth] {
        match read("a.json", bytes, standard, &hints(0), &mut ()) {
            Err(error) => assert!(error.to_string().contains(';'), "no next step: {error}"),
            Ok(Outcome::Question { questions, .. }) => assert!(!questions.is_empty()),
            Ok(Outcome::Read(file)) => assert!(file.draft.rejected_count() <= file.rows_read),
        }
    }
}

/// What is sent to the app: the same of documents of our own, and no value that could not be.
pub fn push(bytes: &[u8]) {
    use crate::documents::{Standard, read};
    match read("what was sent", bytes, Standard::Push, &hints(0), &mut ()) {
        Err(error) => assert!(error.to_string().contains(';'), "no next step: {error}"),
        Ok(Outcome::Question { .. }) => panic!("a reading is nobody else's"),
        Ok(Outcome::Read(file)) => {
            assert!(file.draft.rejected_count() <= file.rows_read);
            let said = file.draft.levels.as_slice().iter().map(|level| level.said);
            let said = said.chain(file.draft.blood_checks.iter().map(|check| check.said));
            for said in said {
                let value = said.glucose().mg_per_dl();
                assert!((10.0..=1000.0).contains(&value), "{said}");
            }
        }
    }
    // By its contents, as it comes: never a panic.
    let _ = crate::read_document("what was sent", bytes, &hints(0), &mut ());
}

/// A table of an export of this program; the last byte chooses which.
pub fn own_table(bytes: &[u8]) {
    const TABLES: [&str; 9] = [
        "readings",
        "blood_checks",
        "doses",
        "meals",
        "entries",
        "low_verdicts",
        "sensor_moments",
        "zones",
        "settings",
    ];
    struct InMemory<'a>(String, &'a [u8]);
    impl crate::own::Shelf for InMemory<'_> {
        fn open(&self, path: &str) -> std::io::Result<Box<dyn std::io::Read + '_>> {
            Ok(Box::new(if path == crate::own::MANIFEST {
                self.0.as_bytes()
            } else {
                self.1
            }))
        }
    }
    let Some((&choice, content)) = bytes.split_last() else {
        return;
    };
    let table = TABLES[usize::from(choice) % TABLES.len()];
    let manifest = format!(
        r#"{{"format": "interstice export", "version": 1, "files_as": "csv", "zone": "UTC", "unit": "mg/dL",
            "tables": [{{"name": "{table}", "files": [{{"path": "t.csv", "rows": 1}}]}}]}}"#
    );
    match crate::own::read("a", &InMemory(manifest, content), &mut ()) {
        Err(error) => assert!(error.to_string().contains(';'), "no next step: {error}"),
        Ok(Outcome::Question { .. }) => panic!("an export asks nothing"),
        Ok(Outcome::Read(file)) => {
            assert!(file.draft.rejected_count() <= file.rows_read);
            assert!(file.draft.lived.windows(2).all(|pair| pair[0].to <= pair[1].from));
        }
    }
}

/// Glucose records of the Bluetooth profiles: what decodes encodes to the same octets.
pub fn bluetooth(bytes: &[u8]) {
    use crate::bluetooth::{GlucoseMeasurement, cgm_measurements};
    for with_checksum in [false, true] {
        if let Ok(all) = cgm_measurements(bytes, with_checksum) {
            let encoded = all
                .iter()
                .map(|it| it.encode(with_checksum).expect("it was decoded"));
            assert_eq!(encoded.collect::<Vec<_>>().concat(), bytes);
        }
    }
    if let Ok(it) = GlucoseMeasurement::decode(bytes) {
        assert_eq!(it.encode().expect("it was decoded"), bytes);
        let _ = (it.said(), it.wall());
    }
}

/// A number: what the standard library reads too, it reads alike; and the two decimal marks mirror each other.
pub fn number(bytes: &[u8]) {
    let point = parse_number(bytes, DecimalMark::Point);
    let swapped: Vec<u8> = bytes
        .iter()
        .map(|&byte| match byte {
            b'.' => b',',
            b',' => b'.',
            other => other,
        })
        .collect();
    assert_eq!(
        point,
        parse_number(&swapped, DecimalMark::Comma),
        "the marks do not mirror"
    );
    let Ok(text) = std::str::from_utf8(bytes) else {
        return;
    };
    if let Some((_, rest)) = leading_number(text) {
        assert!(text.ends_with(rest) && rest.len() < text.len());
    }
    let text = text.trim_ascii();
    let Ok(theirs) = text.parse::<f64>() else {
        return;
    };
    match point {
        // Both read it: half a step of the 17th digit or the 18th decimal, and two roundings of a binary fraction.
        Some(ours) => assert!(
            (ours.value() - theirs).abs() <= 1e-15 * theirs.abs() + 1e-18,
            "{text}: {} and {theirs}",
            ours.value()
        ),
        None => assert!(!is_short_decimal(text), "{text} was not read"),
    }
}

/// Digits with at most one point among them, few enough to keep them all.
fn is_short_decimal(text: &str) -> bool {
    let digits = text.trim_start_matches(['+', '-']);
    digits.len() < 18 && digits.bytes().all(|byte| byte.is_ascii_digit() || byte == b'.')
}

/// A date, a time of day or both: the short ways agree with the long one, and what was read is read again from its ISO
/// form.
pub fn stamp(bytes: &[u8]) {
    let _ = (crate::stamp::date_parts(bytes), dotted_clock(bytes));
    for order in ORDERS {
        let stamp = parse_stamp(bytes, order);
        assert_eq!(stamp, read_stamp(bytes, order), "by position and by parts");
        let mut days = DayMemo::default();
        assert_eq!(days.parse(bytes, order), stamp, "with an empty memory");
        assert_eq!(days.parse(bytes, order), stamp, "with the date in memory");
        let clock = parse_clock(bytes, order);
        assert!(clock.is_none() || clock == stamp, "a time of day alone");
        let Some(stamp) = stamp else { continue };
        assert!(stamp.second.is_none_or(|second| (0..=86_400).contains(&second)));
        assert!(stamp.offset_s.is_none_or(|offset| offset.abs() < 16 * 3600));
        if let Some(wall) = stamp.wall() {
            let civil = jiff::Timestamp::from_second(wall)
                .unwrap()
                .to_zoned_datetime(jiff::tz::TimeZone::UTC);
            let iso = civil.strftime("%Y-%m-%dT%H:%M:%S").to_string();
            assert_eq!(
                parse_stamp(iso.as_bytes(), order).and_then(|again| again.wall()),
                Some(wall),
                "{iso}"
            );
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use proptest::test_runner::{Config, TestError, TestRunner};

    /// Changes of a seed: where, to which byte, and whether to overwrite, insert, drop or repeat.
    type Changes = Vec<(proptest::sample::Index, u8, u8)>;

    fn changed(seed: &[u8], changes: &Changes) -> Vec<u8> {
        let mut bytes = seed.to_vec();
        for (place, byte, how) in changes {
            let at = place.index(bytes.len() + 1);
            match how {
                0 if at < bytes.len() => bytes[at] = *byte,
                1 if at < bytes.len() => drop(bytes.remove(at)),
                2 => bytes.extend_from_within(..at.min(64)),
                _ => bytes.insert(at, *byte),
            }
        }
        bytes
    }

    /// Runs a body over its seeds and changes of them, the same ones each time.
    fn drive(cases: u32, seeds: &[&[u8]], body: impl Fn(&[u8])) {
        seeds.iter().for_each(|seed| body(seed));
        let byte = prop_oneof![Just(b','), Just(b'"'), Just(b'\n'), b'0'..=b'9', any::<u8>()];
        let changes = prop::collection::vec((any::<proptest::sample::Index>(), byte, 0u8..4), 1..12);
        let config = Config {
            failure_persistence: None,
            ..Config::with_cases(cases)
        };
        let mut runner = TestRunner::new_with_rng(config, TestRunner::deterministic().new_rng());
        let run = runner.run(&(0..seeds.len(), changes), |(seed, changes)| {
            body(&changed(seeds[seed], &changes));
            Ok(())
        });
        if let Err(TestError::Fail(why, (seed, changes))) = run {
            panic!("{why}: b\"{}\"", changed(seeds[seed], &changes).escape_ascii());
        }
    }

    /// Drives a body over what fuzzing kept (`fuzz/run.py --keep`): inputs that reach all that it ever reached.
    fn kept(target: &str, body: fn(&[u8])) {
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("../../fuzz/kept")
            .join(target);
        let mut many = 0;
        for input in std::fs::read_dir(folder).unwrap() {
            let path = input.unwrap().path();
            println!("{}", path.display());
            body(&std::fs::read(path).unwrap());
            many += 1;
        }
        assert!(many > 0, "nothing is kept of {target}");
    }

    #[test]
    fn kept_inputs() {
        kept("file", file);
        kept("delimited", delimited);
        kept("alike", alike);
        kept("container", container);
        kept("document", document);
        kept("push", push);
        kept("own_table", own_table);
        kept("bluetooth", bluetooth);
        kept("number", number);
        kept("stamp", stamp);
    }

    const TABLE: &[u8] = b"time,glucose,note\n2025-03-30 00:55,5.5,\n2025-03-30 01:10,\"5,6\",a\n2025-03-30 02:05,Low,\"b\nc\"\n0";
    const SHEET: &[u8] =
        br#"<worksheet><sheetData><row r="1"><c r="A1"><v>45000.5</v></c><c r="B1" t="str"><v>5.5</v></c></row></sheetData></worksheet>"#;

    #[test]
    fn files() {
        drive(
            200,
            &[TABLE, b"2025-01-01T10:00:00Z;5.5\n2025-01-01T10:05:00Z;5.6\n\x04"],
            file,
        );
    }

    /// A table of a hundred rows, by a row's number and minute.
    fn table(heading: &str, row: impl Fn(u32, String) -> String, choice: u8) -> Vec<u8> {
        let minute = |i: u32| format!("{:02}:{:02}", i / 60, i % 60);
        let rows: String = (0..100).map(|i| row(i, minute(i))).collect();
        [heading.as_bytes(), rows.as_bytes(), &[choice]].concat()
    }

    /// Tables of all that patterns have to do with: two columns of time, a unit by value or by row, a kind, two columns
    /// of glucose, quoted cells, an offset, a repeated hour.
    #[test]
    fn rows_alike() {
        let tenths = |i: u32| format!("{},{}", 5 + i / 20 % 3, i * 7 % 10);
        let wall = table(
            "date;time;record;glucose mmol/L;blood mmol/L;note\n",
            |i, minute| match i % 25 {
                24 => format!("26.10.2025;{minute};blood check;;6,1;before lunch\n"),
                _ => format!("26.10.2025;{minute};automatic;{};;\n", tenths(i)),
            },
            0,
        );
        let sensors = table(
            "time,sensor,glucose (mmol/L),scan (mmol/L)\n",
            |i, minute| match i % 20 {
                19 => format!("2025-10-26T{minute}:00+01:00,\"b\",,5.{}\n", i % 10),
                _ => format!(
                    "2025-10-26T{minute}:00Z,\"{}\",6.{},\n",
                    ["a", "b"][(i / 40) as usize % 2],
                    i % 10
                ),
            },
            2,
        );
        let units = table(
            "time,glucose,unit\r\n",
            |i, minute| match i / 30 {
                1 => format!("2025-01-01 {minute},{},mmol/L\r\n", 5 + i % 3),
                _ => format!(
                    "2025-01-01 {minute},{},{}\r\n",
                    15 + i,
                    ["mg/dL", ""][(i / 10) as usize % 2]
                ),
            },
            0,
        );
        let sizes = table(
            "time,glucose\n",
            |i, minute| format!("2025-01-01 {minute},{}\n", i * 37 % 90 + 15),
            0,
        );
        for (seed, delimiter) in [(&wall, b';'), (&sensors, b','), (&units, b','), (&sizes, b',')] {
            let both = both_ways(seed, delimiter).expect("a table that is understood");
            assert!(both[0].len() > 1000, "nothing was read");
        }
        drive(600, &[&wall, &sensors, &units, &sizes], alike);
    }

    #[test]
    fn delimited_text() {
        drive(3000, &[TABLE, b"\"a\";\"b\"\"\"\n\"c\n\";d\n"], delimited);
    }

    #[test]
    fn containers() {
        let sheet = [SHEET, b"\x06"].concat();
        let packed = [zip(&[("a.csv", TABLE)]), vec![0]].concat();
        drive(
            150,
            &[&sheet, &packed, &[gzip(TABLE), vec![0]].concat(), TABLE],
            container,
        );
    }

    const RESOURCE: &[u8] = br#"{"resourceType": "Bundle", "entry": [{"fullUrl": "u", "resource": {"resourceType": "Observation", "status": "final",
        "code": {"coding": [{"system": "http://loinc.org", "code": "99504-3"}]}, "effectiveDateTime": "2026-03-01T07:30:00+01:00",
        "valueQuantity": {"value": 5.4, "comparator": "<", "unit": "mmol/L"}}}]}"#;
    const ADMINISTRATION: &[u8] = br#"{"resourceType": "MedicationAdministration", "medicationCodeableConcept": {"text": "insulin, rapid"},
        "effectivePeriod": {"start": "2026-03-01T07:30:00Z", "end": "2026-03-01T08:30:00Z"}, "dosage": {"dose": {"value": 1, "unit": "U"}}}"#;
    const POINT: &[u8] = br#"{"blood_glucose": {"unit": "mg/dL", "value": 95}, "effective_time_frame": {"date_time": "2013-02-05T07:25:00Z"}}"#;

    #[test]
    fn documents() {
        drive(3000, &[RESOURCE, ADMINISTRATION, POINT], document);
    }

    #[test]
    fn what_is_sent() {
        let one =
            br#"{"at": "2026-03-01T07:30:00+01:00", "glucose": 104, "unit": "mg/dL", "sensor": "left arm"}"#;
        let list = br#"{"unit": "mmol/L", "readings": [{"at": 1772346600, "glucose": 5.8}, {"at": 1, "glucose": 2.2, "bound": "below"},
            {"at": 1772347000, "glucose": 6.1, "kind": "blood-check", "note": "x"}]}"#;
        drive(6000, &[one, list], push);
    }

    #[test]
    fn own_tables() {
        let readings = b"time_utc,kind,sensor,value_as_said,unit_as_said,bound\r\n2026-03-01T00:00:00Z,scan,S,5.4,mmol/L,below\r\n\0";
        let moments =
            b"time_utc,kind,preparation,comfort\n2026-03-01T00:00:00Z,started,\"[\"\"a\"\"]\",3\n\x06";
        let zones =
            b"from_utc,to_utc,zone\n2026-03-01T00:00:00Z,2026-03-02T00:00:00Z,UTC\n5,9,Asia/Tokyo\n\x07";
        drive(2000, &[readings, moments, zones], own_table);
    }

    #[test]
    fn bluetooth_records() {
        let seeds: [&[u8]; 3] = [
            &[0x06, 0x00, 0x64, 0x00, 0x05, 0x00],
            &[
                0x0f, 0xe3, 0x15, 0xf4, 0x02, 0x01, 0x01, 0x02, 0x04, 0x05, 0xf0, 0x61, 0x00, 0x8e, 0x29,
            ],
            &[
                0x03, 0x03, 0x00, 0xea, 0x07, 3, 1, 7, 30, 0, 0x3c, 0x00, 0x68, 0xb0, 0x11,
            ],
        ];
        drive(20_000, &seeds, bluetooth);
    }

    #[test]
    fn numbers() {
        drive(
            20_000,
            &[b"7.8", b"-1,234.5", b"1.2e-3", b"113.39999999999999", b" +5. "],
            number,
        );
    }

    #[test]
    fn stamps() {
        let seeds: [&[u8]; 6] = [
            b"2025-03-17T12:04:00+01:00",
            b"17.03.25 12.04",
            b"Mar 7, 2025 3:04 p. m.",
            b"20250307150400",
            b"24:00",
            b"07/03/2025 15:04 (GMT-05:00)",
        ];
        drive(20_000, &seeds, stamp);
    }
}
