//! Files broken in every way that comes to mind, by fixed seeds: no panic, no hang, bounded memory, and each row that
//! was read is an entry or a rejected row.
//!
//! `INTERSTICE_MUTATIONS=100000` breaks more of them, `INTERSTICE_MUTATION=17` only the one of that seed.

#![expect(clippy::unwrap_used, reason = "a test fails by panicking, helpers included")]

mod common;

use std::sync::mpsc::{RecvTimeoutError, channel};
use std::time::Duration;

use common::dice::Dice;
use common::hints;
use common::sheets::{OdsCell, gzipped, ods, zipped};
use interstice_glucose::TraceKind;
use interstice_intake::{IntakeError, Outcome, ReadFile, read_bytes};

/// Files broken where nothing else is asked for.
const CASES: u64 = 3000;
/// No file here is larger than a few megabytes: this is thousands of times what one takes.
const LONGEST: Duration = Duration::from_secs(60);
/// Most memory that the whole test may ever take, MiB. The largest file broken is some 6 MB; it took 175 when measured.
const MOST_MEMORY_MIB: u64 = 400;

/// A file to break; where every row is one value, rows and entries must be equally many.
struct Whole {
    name: String,
    bytes: Vec<u8>,
    one_value_a_row: bool,
}

fn corpus() -> Vec<Whole> {
    const ONE_VALUE: [&str; 8] = [
        "ambiguous_dates.csv",
        "bad_values.csv",
        "clock_changes.csv",
        "epoch_ms.csv",
        "no_headings.csv",
        "norsk.csv",
        "suomi.csv",
        "unit_changes.csv",
    ];
    let mut paths: Vec<_> = std::fs::read_dir(common::invented(""))
        .unwrap()
        .map(|e| e.unwrap().path())
        .collect();
    paths.sort();
    let mut files: Vec<Whole> = paths
        .iter()
        .map(|path| {
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            Whole {
                one_value_a_row: ONE_VALUE.contains(&name.as_str()),
                bytes: std::fs::read(path).unwrap(),
                name,
            }
        })
        .collect();
    let text = |name: &str| std::fs::read(common::invented(name)).unwrap();
    let packed = |name: &str, bytes| Whole {
        name: name.to_owned(),
        bytes,
        one_value_a_row: false,
    };
    files.push(packed("norsk.csv.gz", gzipped(&text("norsk.csv"))));
    files.push(packed(
        "two.zip",
        zipped(&[("a.csv", &text("dansk.csv")), ("b/c.csv", &text("svenska.csv"))]),
    ));
    files.push(packed("log.xlsx", xlsx(&text("italiano.csv"))));
    files.push(packed("log.ods", ods_of(&text("portugues.csv"))));
    files
}

/// A delimited text as a workbook of text and numbers.
fn xlsx(text: &[u8]) -> Vec<u8> {
    let mut workbook = rust_xlsxwriter::Workbook::new();
    let sheet = workbook.add_worksheet();
    for (r, line) in String::from_utf8_lossy(text).lines().take(60).enumerate() {
        for (c, cell) in line.split(';').enumerate() {
            match cell.parse::<f64>() {
                Ok(number) => sheet.write_number(r as u32, c as u16, number),
                Err(_) => sheet.write_string(r as u32, c as u16, cell),
            }
            .unwrap();
        }
    }
    workbook.save_to_buffer().unwrap()
}

fn ods_of(text: &[u8]) -> Vec<u8> {
    let text = String::from_utf8_lossy(text);
    let cell = |cell: &str| {
        if cell.is_empty() {
            OdsCell::Empty
        } else {
            OdsCell::Text(cell.to_owned())
        }
    };
    let rows = text
        .lines()
        .take(60)
        .map(|line| line.split(';').map(cell).collect())
        .collect();
    ods(&[("Sheet1", rows)])
}

#[test]
fn broken_files_are_read_or_refused_and_no_row_is_lost() {
    let number = |name: &str| std::env::var(name).ok().and_then(|text| text.parse::<u64>().ok());
    let seeds = match number("INTERSTICE_MUTATION") {
        Some(seed) => seed..seed + 1,
        None => 0..number("INTERSTICE_MUTATIONS").unwrap_or(CASES),
    };
    let corpus = corpus();
    let (mut read, mut asked, mut refused, mut failures) = (0, 0, 0, Vec::new());
    for seed in seeds {
        let mut dice = Dice::new(seed);
        let whole = &corpus[dice.between(0, corpus.len() as i64 - 1) as usize];
        let mut bytes = whole.bytes.clone();
        for _ in 0..dice.between(1, 3) {
            bytes = broken(&mut dice, bytes, &corpus);
        }
        if std::env::var_os("INTERSTICE_MUTATION").is_some() {
            std::fs::write(
                std::env::temp_dir().join(format!("mutation-{seed}-{}", whole.name)),
                &bytes,
            )
            .unwrap();
        }
        match outcome(&whole.name, bytes) {
            Ok(Ok(Outcome::Read(file))) => {
                read += 1;
                failures.extend(
                    accounts(&file, whole)
                        .err()
                        .map(|why| format!("seed {seed}, {}: {why}", whole.name)),
                );
            }
            Ok(Ok(Outcome::Question { questions, .. })) => {
                asked += 1;
                let bare = questions.is_empty()
                    || questions.iter().any(|q| q.answers.is_empty() || q.ask.is_empty());
                failures
                    .extend(bare.then(|| format!("seed {seed}, {}: a question without answers", whole.name)));
            }
            Ok(Err(error)) => {
                refused += 1;
                let message = error.to_string();
                failures.extend(
                    (!message.contains(';'))
                        .then(|| format!("seed {seed}, {}: no next step in '{message}'", whole.name)),
                );
            }
            Err(why) => failures.push(format!("seed {seed}, {}: {why}", whole.name)),
        }
    }
    let summary = format!("{read} read, {asked} asked, {refused} refused");
    assert!(
        failures.is_empty(),
        "{summary}, {} failed:\n{}",
        failures.len(),
        failures[..failures.len().min(40)].join("\n")
    );
    eprintln!("{summary}, at most {} MiB", peak_mib().unwrap_or(0));
    if let Some(peak) = peak_mib() {
        assert!(peak < MOST_MEMORY_MIB, "{summary}; it took {peak} MiB");
    }
}

type Read = Result<Outcome, IntakeError>;

/// What comes of the bytes; `Err` where reading panics or does not end.
fn outcome(name: &str, bytes: Vec<u8>) -> Result<Read, String> {
    let (done, wait) = channel();
    let name = name.to_owned();
    std::thread::spawn(move || {
        let hints = hints("Europe/Lisbon");
        let _ = done.send(read_bytes(&name, &bytes, &hints, &mut ()));
    });
    match wait.recv_timeout(LONGEST) {
        Ok(read) => Ok(read),
        Err(RecvTimeoutError::Disconnected) => Err("it panics".to_owned()),
        Err(RecvTimeoutError::Timeout) => Err("it does not end".to_owned()),
    }
}

/// Every row read is an entry or a rejected row.
fn accounts(file: &ReadFile, whole: &Whole) -> Result<(), String> {
    let d = &file.draft;
    let values = d.count(TraceKind::Automatic) + d.count(TraceKind::Scan) + d.blood_checks.len();
    let other = d.doses.len() + d.meals.len() + d.marks.len() + d.sensor_notes.len();
    let rejected = d.rejected_count();
    if d.rejected.iter().any(|r| r.reason.is_empty()) {
        return Err("a rejected row without a reason".to_owned());
    }
    let entries = (values + other) as u64 + rejected;
    let is_lost = if whole.one_value_a_row && other == 0 {
        entries != file.rows_read
    } else {
        entries < file.rows_read
    };
    if is_lost {
        return Err(format!(
            "{} rows read, {values} values, {other} other entries, {rejected} rejected",
            file.rows_read
        ));
    }
    Ok(())
}

/// Most memory this process ever held, where the system says so.
fn peak_mib() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|l| l.starts_with("VmHWM"))?;
    let kib: u64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kib / 1024)
}

/// Cells that no file should have, and some do.
const NASTY: [&str; 30] = [
    "NaN",
    "inf",
    "-inf",
    "Infinity",
    "1e308",
    "1e-400",
    "-0",
    "-5",
    "9,999",
    "99999999999999999999",
    "0x1F",
    "—",
    "٣",
    "1970-01-01 00:00",
    "2099-12-31 23:59",
    "0000-00-00",
    "99/99/9999",
    "24:00",
    "23:59:60",
    "2025-02-29 10:00",
    "31/02/2025 10:00",
    "+14:00",
    "\"",
    "\"\"\"",
    "#REF!",
    "<",
    ">",
    "Low",
    "mmol/L",
    "\u{feff}",
];

fn broken(dice: &mut Dice, mut bytes: Vec<u8>, corpus: &[Whole]) -> Vec<u8> {
    let place = |dice: &mut Dice, bytes: &[u8]| dice.between(0, bytes.len() as i64) as usize;
    match dice.between(0, 13) {
        0 | 1 => {
            for _ in 0..dice.between(1, 20) {
                let at = place(dice, &bytes);
                if let Some(byte) = bytes.get_mut(at) {
                    *byte ^= 1 << dice.between(0, 7);
                }
            }
        }
        2 => bytes.truncate(place(dice, &bytes)),
        3 => {
            let other = &corpus[dice.between(0, corpus.len() as i64 - 1) as usize].bytes;
            let (at, from) = (place(dice, &bytes), place(dice, other));
            let mut spliced = bytes[..at].to_vec();
            spliced.extend_from_slice(&other[from..]);
            bytes = spliced;
        }
        4 | 5 => bytes = with_lines(dice, &bytes),
        6 => {
            let (at, many) = (place(dice, &bytes), dice.between(1, 2000) as usize);
            bytes.splice(at..at, std::iter::repeat_n(0, many));
        }
        7 => {
            let (at, many) = (place(dice, &bytes), 1 << dice.between(8, 21));
            let filler = dice.pick(b"x7\"; ,\n.");
            bytes.splice(at..at, std::iter::repeat_n(filler, many));
        }
        8 => bytes = recoded(dice, &bytes),
        9 => {
            let (from, to) = (dice.pick(b",;\t|\n."), dice.pick(b",;\t|\r\" "));
            let start = place(dice, &bytes);
            bytes[start..]
                .iter_mut()
                .filter(|b| **b == from)
                .for_each(|b| *b = to);
        }
        _ => bytes = with_nasty_cells(dice, &bytes),
    }
    bytes
}

/// Lines told twice, left out, moved or joined.
fn with_lines(dice: &mut Dice, bytes: &[u8]) -> Vec<u8> {
    let mut lines: Vec<&[u8]> = bytes.split_inclusive(|&b| b == b'\n').collect();
    for _ in 0..dice.between(1, 6) {
        if lines.is_empty() {
            break;
        }
        let (at, to) = (
            dice.between(0, lines.len() as i64 - 1) as usize,
            dice.between(0, lines.len() as i64 - 1) as usize,
        );
        match dice.between(0, 3) {
            0 => lines.insert(to, lines[at]),
            1 => drop(lines.remove(at)),
            2 => lines.swap(at, to),
            _ => lines[at] = lines[at].trim_ascii_end(),
        }
    }
    lines.concat()
}

/// Text in another encoding than it was, in whole or from some place on.
fn recoded(dice: &mut Dice, bytes: &[u8]) -> Vec<u8> {
    let text = String::from_utf8_lossy(bytes);
    let from = if dice.once_in(2) {
        0
    } else {
        dice.between(0, bytes.len() as i64) as usize
    };
    let text: String = text.chars().skip(from).collect();
    let again: Vec<u8> = match dice.between(0, 3) {
        0 => text.encode_utf16().flat_map(u16::to_le_bytes).collect(),
        1 => text.encode_utf16().flat_map(u16::to_be_bytes).collect(),
        2 => encoding_rs::WINDOWS_1252.encode(&text).0.into_owned(),
        _ => text.chars().map(|c| c as u8).collect(),
    };
    let mut out = bytes[..from.min(bytes.len())].to_vec();
    out.extend(again);
    out
}

/// Some cells replaced.
fn with_nasty_cells(dice: &mut Dice, bytes: &[u8]) -> Vec<u8> {
    let mark = dice.pick(b",;\t");
    let mut cells: Vec<Vec<u8>> = bytes
        .split_inclusive(|&b| b == mark || b == b'\n')
        .map(<[u8]>::to_vec)
        .collect();
    for _ in 0..dice.between(1, 30) {
        let at = dice.between(0, cells.len() as i64) as usize;
        if let Some(cell) = cells.get_mut(at) {
            let end = cell.last().copied();
            *cell = dice.pick(&NASTY).as_bytes().to_vec();
            cell.extend(end);
        }
    }
    cells.concat()
}
