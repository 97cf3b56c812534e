//! Recordings of real people, unchanged and with no flag but the zone. They are not part of this repository: without
//! them (`INTERSTICE_DATA`, or `../shared/data` beside the workspace) these tests say so and pass.

#![expect(
    clippy::unwrap_used,
    clippy::print_stderr,
    reason = "a test fails by panicking, helpers included"
)]

mod common;

use std::path::{Path, PathBuf};

use common::hints;
use interstice_glucose::{Draft, TraceKind};
use interstice_intake::{Outcome, ReadFile, read};

fn data() -> Option<PathBuf> {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    let named = std::env::var_os("INTERSTICE_DATA").map(PathBuf::from);
    let found = named
        .into_iter()
        .chain(["../../../shared/data", "../../../../shared/data"].map(|up| here.join(up)))
        .find(|dir| dir.join("real/MANIFEST.csv").is_file());
    if found.is_none() {
        eprintln!("skipped: the recordings are not on this machine");
    }
    found
}

fn outcome(path: &Path, zone: &str) -> Result<Outcome, String> {
    read(path, &hints(zone), &mut ()).map_err(|error| error.to_string())
}

fn whole(path: &Path, zone: &str) -> ReadFile {
    match outcome(path, zone).unwrap() {
        Outcome::Read(file) => *file,
        Outcome::Question { questions, .. } => panic!("{}: {questions:?}", path.display()),
    }
}

fn zone_of(dataset: &str) -> &'static str {
    match dataset {
        "shanghai" => "Asia/Shanghai",
        "adolescents" => "Europe/Amsterdam",
        "d1namo" => "Europe/Zurich",
        "hupa_ucm" => "Europe/Madrid",
        "texas_wearables" => "America/Chicago",
        "arizona" => "America/Phoenix",
        "hall2018_no_diabetes" => "America/Los_Angeles",
        _ => "Europe/London",
    }
}

/// What a row of a table of one kind becomes: entries, or a rejected row.
fn entries(draft: &Draft, kind: &str) -> usize {
    let readings = draft.count(TraceKind::Automatic) + draft.count(TraceKind::Scan);
    match kind {
        "sensor" => readings + draft.marks.len(),
        "sensor+capillary" if draft.meals.is_empty() => readings + draft.blood_checks.len(),
        "sensor+capillary" => readings,
        "bolus" | "basal" => draft.doses.len(),
        "meals" => draft.meals.len(),
        "sleep" => draft.marks.len(),
        other => panic!("a kind of table this test does not know: {other}"),
    }
}

/// Every row of every file is an entry or a rejected row with its reason: the manifest counts them.
#[test]
fn every_row_is_accounted_for() {
    let Some(data) = data() else { return };
    let manifest = std::fs::read_to_string(data.join("real/MANIFEST.csv")).unwrap();
    let mut files = 0;
    for line in manifest.lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        let (dataset, file, rows, kind) = (cells[0], cells[2], cells[3], cells[7]);
        if matches!(dataset, "colas2019" | "logbooks_1994") {
            continue;
        }
        let rows: usize = rows.parse().unwrap();
        let read = whole(&data.join("real").join(dataset).join(file), zone_of(dataset));
        assert_eq!(read.rows_read, rows as u64, "{file}");
        let rejected = usize::try_from(read.draft.rejected_count()).unwrap();
        assert_eq!(entries(&read.draft, kind) + rejected, rows, "{file}");
        assert!(read.draft.rejected.iter().all(|r| !r.reason.is_empty()), "{file}");
        files += 1;
    }
    assert!(files > 70, "only {files} files");
}

/// Count, first and last instant, sum of instants modulo 1,000,003 and sum of values, by pandas 2 (`read_csv`,
/// `to_datetime` with the format given in the data's description, `tz_localize`, `sum`).
#[test]
fn instants_and_values_are_those_of_pandas() {
    let Some(data) = data() else { return };
    for (file, zone, count, first, last, digest, sum) in PANDAS {
        let draft = whole(&data.join("real").join(file), zone).draft;
        let trace = &draft.traces[0].readings;
        let at = || trace.at().iter().map(|&at| u64::from(at));
        let total: f64 = trace
            .level()
            .iter()
            .map(|&level| draft.levels.get(level).said.number())
            .sum();
        assert_eq!(
            (trace.len(), at().min(), at().max()),
            (count, Some(first), Some(last)),
            "{file}"
        );
        assert_eq!(at().sum::<u64>() % 1_000_003, digest, "{file}");
        assert!((total - sum).abs() < 1e-9 * sum, "{file}: {total}");
    }
}

type Reference = (&'static str, &'static str, usize, u64, u64, u64, f64);

const PANDAS: [Reference; 6] = [
    (
        "manchester/2305_glucose.csv",
        "Europe/London",
        7_190,
        1_700_093_040,
        1_705_621_800,
        860_633,
        73_269.416667,
    ),
    (
        "hupa_ucm/HUPA0003P.csv",
        "Europe/Madrid",
        3_770,
        1_528_918_800,
        1_530_049_500,
        947_089,
        540_141.166667,
    ),
    (
        "bristol/P13.csv",
        "Europe/London",
        8_739,
        1_685_578_380,
        1_693_748_580,
        256_009,
        1_332_369.0,
    ),
    (
        "arizona/Subject_8.csv",
        "America/Phoenix",
        7_789,
        1_705_042_740,
        1_707_461_820,
        498_909,
        1_234_364.883333,
    ),
    (
        "shanghai/1001_0_20210730_t1.csv",
        "Asia/Shanghai",
        658,
        1_627_634_580,
        1_628_225_880,
        877_818,
        129_513.6,
    ),
    (
        "hall2018_no_diabetes/2133-041.csv",
        "America/Los_Angeles",
        1_858,
        1_499_131_920,
        1_499_830_860,
        482_758,
        201_705.0,
    ),
];

#[test]
fn what_cannot_be_placed_is_asked_or_refused_with_a_reason() {
    let Some(data) = data() else { return };
    let real = data.join("real");
    let refused = |file: &str| outcome(&real.join(file), "UTC").map(|_| ()).unwrap_err();
    assert!(refused("colas2019/case_1.csv").contains("no dates"));
    assert!(refused("adolescents/population.csv").contains("no rows with a date and time"));
    assert!(refused("d1namo/006_food.csv").contains("no rows with a date and time"));
    let Outcome::Question { questions, .. } =
        outcome(&real.join("logbooks_1994/data-02"), "America/Chicago").unwrap()
    else {
        panic!("codes without a meaning were guessed")
    };
    assert!(
        questions[0]
            .answers
            .iter()
            .any(|(flag, _)| flag.contains("3:58=blood-glucose"))
    );
}

/// The simulated recordings, as they are and written awkwardly: the awkward copies tell the same instants.
#[test]
fn awkward_copies_tell_the_same() {
    let Some(data) = data() else { return };
    let sim = data.join("sim");
    let clean = whole(&sim.join("input/D03_cgm.csv"), "UTC").draft;
    let instants = |draft: &Draft| {
        let mut at: Vec<u32> = draft
            .traces
            .iter()
            .flat_map(|t| t.readings.at())
            .copied()
            .collect();
        at.sort_unstable();
        at.dedup();
        at
    };
    let messy = whole(&sim.join("messy/D03_eu_mmol_naive_local.csv"), "Europe/London").draft;
    let clean_at = instants(&clean);
    let missing = instants(&messy)
        .iter()
        .filter(|at| clean_at.binary_search(at).is_err())
        .count();
    assert_eq!(missing, 0);
    for person in 1..=6 {
        let events = whole(&sim.join(format!("input/D0{person}_events.csv")), "UTC");
        assert_eq!(
            events.draft.rejected_count(),
            0,
            "D0{person}: {:?}",
            events.draft.rejected
        );
        assert!(events.draft.blood_checks.len() > 20 && !events.draft.sensor_notes.is_empty());
    }
}
