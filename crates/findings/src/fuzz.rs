//! What must hold of any damaged book: body of the fuzz target `damaged` under `fuzz/`.

use std::fs;
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use interstice_book::{Book, Mode, Provenance};
use interstice_glucose::{
    BloodCheck, BloodSource, Draft, Levels, Meal, Readings, Said, TraceDraft, TraceKind,
};

use crate::{Ask, Span, TrustAsk, review_book, trust_book};

/// First instant of the small book, 2025-03-29T00:00Z.
const START: u32 = 1_743_206_400;
/// One in so many books that cannot be read whole is saved from as well.
const SAVED_ONE_IN: usize = 4;

/// A small invented book's file.
fn small_book() -> &'static [u8] {
    static BYTES: OnceLock<Vec<u8>> = OnceLock::new();
    BYTES.get_or_init(|| {
        let path = place("whole");
        remove(&path);
        let mut levels = Levels::new();
        let mut readings = Readings::default();
        for i in 0..288 {
            let level = levels.intern(Said::whole_mg_per_dl(90 + i64::from(i * 7 % 80)));
            readings.push(START + i * 300, level);
        }
        let trace = TraceDraft {
            sensor: "S1".to_owned(),
            kind: TraceKind::Automatic,
            readings,
        };
        let check = |hour: i64| BloodCheck {
            at: i64::from(START) + hour * 3600,
            said: Said::whole_mg_per_dl(100 + hour),
            source: BloodSource::Meter,
            note: None,
        };
        let meal = |hour: i64| Meal {
            at: i64::from(START) + hour * 3600,
            carbohydrate_g: Some(30.0),
            protein_g: None,
            fat_g: None,
            fibre_g: None,
            energy_kcal: None,
            text: Some("bread".to_owned()),
        };
        let draft = Draft {
            levels,
            traces: vec![trace],
            blood_checks: (1..24).map(check).collect(),
            meals: [7, 12, 18].map(meal).to_vec(),
            ..Draft::default()
        };
        let mut book =
            Book::open(&path, Mode::CreateIfAbsent).expect("the folder for temporary files is there");
        let from = Provenance::named("small.csv", [7; 32]);
        book.import(&draft, &from, &mut |_, _| ControlFlow::Continue(()))
            .expect("a small import is written");
        drop(book);
        let bytes = fs::read(&path).expect("the book was written");
        remove(&path);
        bytes
    })
}

/// A file of this process and thread alone.
fn place(name: &str) -> PathBuf {
    let thread = format!("{:?}", std::thread::current().id());
    let thread: String = thread.chars().filter(char::is_ascii_digit).collect();
    std::env::temp_dir().join(format!("interstice-fuzz-{}-{thread}-{name}", std::process::id()))
}

/// Takes a book and its helper files away.
fn remove(path: &Path) {
    for suffix in ["", "-wal", "-shm", "-journal"] {
        let mut name = path.as_os_str().to_owned();
        name.push(suffix);
        // Absence is what is wanted.
        let _ = fs::remove_file(name);
    }
}

/// The small book with bytes changed, four of `bytes` a change: three say where among the bytes that hold something, one
/// what is changed there. The first byte says whether its end is cut off.
fn damaged_bytes(bytes: &[u8]) -> Vec<u8> {
    let mut book = small_book().to_vec();
    let held: Vec<usize> = (0..book.len()).filter(|&at| book[at] != 0).collect();
    let Some((&first, rest)) = bytes.split_first() else {
        return book;
    };
    let (changes, _) = rest.as_chunks::<4>();
    for &[a, b, c, change] in changes {
        let at = usize::from(a) << 16 | usize::from(b) << 8 | usize::from(c);
        let at = if change & 1 == 0 {
            held[at % held.len()]
        } else {
            at % book.len()
        };
        book[at] ^= change;
    }
    if first & 7 == 7 {
        let keep = usize::from(first) * book.len() / 256;
        book.truncate(keep);
    }
    book
}

/// A damaged book is opened, checked, told of and saved from: each with an answer or a message, never a panic. One that a
/// check finds whole tells its readings.
pub fn damaged(bytes: &[u8]) {
    let (path, saved) = (place("damaged"), place("saved"));
    remove(&path);
    remove(&saved);
    fs::write(&path, damaged_bytes(bytes)).expect("the folder for temporary files can be written");
    if let Ok(book) = Book::open(&path, Mode::ReadOnly) {
        let whole = book.check().is_ok_and(|report| report.is_whole());
        let ask = Ask {
            span: Span::LastDays(2),
            ..Ask::default()
        };
        let account = review_book(&book, &ask);
        let _ = trust_book(&book, &TrustAsk::default());
        if whole {
            let record = book.load_all().expect("a check found it whole");
            assert_eq!(record.reading_count(), 288, "a check found it whole");
            assert!(account.is_ok(), "a check found it whole");
        }
    }
    let sum: usize = bytes.iter().map(|&byte| usize::from(byte)).sum();
    if sum.is_multiple_of(SAVED_ONE_IN)
        && Book::salvage(&path, &saved).is_ok()
        && let Ok(book) = Book::open(&saved, Mode::ReadOnly)
    {
        let _ = (book.check(), book.load_all());
    }
    remove(&path);
    remove(&saved);
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Rounds where nothing else is asked for with INTERSTICE_FUZZ_ROUNDS.
    const ROUNDS: u64 = 60;

    #[test]
    fn a_damaged_book_is_answered_for() {
        let asked = std::env::var("INTERSTICE_FUZZ_ROUNDS")
            .ok()
            .and_then(|text| text.parse().ok());
        let rounds = asked.unwrap_or(ROUNDS);
        damaged(&[]);
        let mut state = 0x9e37_79b9_7f4a_7c15_u64;
        for _ in 0..rounds {
            // xorshift64 (Marsaglia, 2003).
            let mut next = || {
                state ^= state << 13;
                state ^= state >> 7;
                state ^= state << 17;
                state.to_le_bytes()
            };
            let many = 1 + usize::from(next()[0] % 4);
            let bytes: Vec<u8> = (0..many).flat_map(|_| next()).collect();
            damaged(&bytes);
        }
    }
}
