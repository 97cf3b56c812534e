//! The civil calendar, and the names of months and weekdays.

use crate::fold::fold;

/// Days from 1970-01-01 to a date of the Gregorian calendar, `None` where there is no such date. Years 1 to 9999.
///
/// Counts days of 400-year cycles from 1 March of year 0, so that the leap day is the last of its year.
pub(crate) fn days_from_civil(year: u32, month: u32, day: u32) -> Option<i64> {
    if year == 0 || year > 9999 || !(1..=12).contains(&month) || day == 0 || day > month_length(year, month) {
        return None;
    }
    let shifted = i64::from(if month <= 2 { year - 1 } else { year });
    let (cycle, year_of_cycle) = (shifted / 400, shifted % 400);
    let month_from_march = i64::from((month + 9) % 12);
    let day_of_year = (153 * month_from_march + 2) / 5 + i64::from(day) - 1;
    let day_of_cycle = year_of_cycle * 365 + year_of_cycle / 4 - year_of_cycle / 100 + day_of_year;
    Some(cycle * 146_097 + day_of_cycle - 719_468)
}

fn month_length(year: u32, month: u32) -> u32 {
    match month {
        4 | 6 | 9 | 11 => 30,
        2 if year.is_multiple_of(4) && (!year.is_multiple_of(100) || year.is_multiple_of(400)) => 29,
        2 => 28,
        _ => 31,
    }
}

/// Beginnings of month names, without accents, by month: English, German, French, Spanish, Italian, Dutch,
/// Portuguese, Danish, Norwegian, Swedish, Finnish. A word is a month when it begins with one of these.
const MONTHS: [&[&str]; 12] = [
    &["jan", "ene", "gen", "tammi", "januar"],
    &["feb", "fev", "helmi"],
    &["mar", "maerz", "mrz", "mrt", "maart", "maalis"],
    &["apr", "avr", "abr", "huhti"],
    &["may", "mai", "mag", "mei", "maj", "mayo", "maio", "touko"],
    &["jun", "juin", "giu", "kesa"],
    &["jul", "juil", "lug", "heina"],
    &["aug", "aou", "ago", "elo"],
    &["sep", "set", "syys"],
    &["oct", "okt", "ott", "out", "loka"],
    &["nov", "marras"],
    &["dec", "dez", "dic", "des", "joulu"],
];

/// Beginnings of weekday names in the same languages.
const WEEKDAYS: &[&str] = &[
    "mon", "tue", "wed", "thu", "fri", "sat", "sun", "mo", "di", "mi", "do", "fr", "sa", "so", "lun", "mar",
    "mer", "jeu", "ven", "sam", "dim", "mie", "jue", "vie", "sab", "dom", "gio", "ma", "wo", "vr", "za",
    "zo", "seg", "ter", "qua", "qui", "sex", "man", "tir", "ons", "tor", "fre", "lor", "son", "ti", "ke",
    "to", "pe", "la", "su",
];

/// The month, 1 to 12, whose name a word begins with. Words are at least three letters.
pub(crate) fn month_of(word: &[u8]) -> Option<u32> {
    let word = std::str::from_utf8(word)
        .ok()
        .filter(|w| w.len() >= 3 && w.len() <= 20)?;
    let folded = fold(word);
    // 'marras' (November) begins like 'mar' and 'maandag' is no month: the longest beginning wins.
    let mut best: Option<(usize, u32)> = None;
    for (month, names) in (1u32..).zip(MONTHS) {
        for name in names {
            if folded.starts_with(name) && best.is_none_or(|(length, _)| name.len() > length) {
                best = Some((name.len(), month));
            }
        }
    }
    let tail_is_letters = folded.bytes().all(|b| b.is_ascii_lowercase());
    best.filter(|_| tail_is_letters && !is_other_word(&folded))
        .map(|(_, month)| month)
}

/// Common words that begin like a month.
fn is_other_word(folded: &str) -> bool {
    [
        "manual", "marker", "market", "mard", "decim", "general", "setting", "sensor", "output", "generi",
        "maximum",
    ]
    .iter()
    .any(|word| folded.starts_with(word))
}

/// Whether a word is a weekday.
pub(crate) fn weekday_of(word: &[u8]) -> Option<()> {
    let word = std::str::from_utf8(word)
        .ok()
        .filter(|w| w.len() >= 2 && w.len() <= 14)?;
    let folded = fold(word);
    WEEKDAYS
        .iter()
        .any(|day| folded == *day || (day.len() >= 3 && folded.starts_with(day)))
        .then_some(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_day_of_a_century_as_jiff_counts_them() {
        let epoch = jiff::civil::date(1970, 1, 1);
        let mut date = jiff::civil::date(1969, 1, 1);
        while date.year() < 2101 {
            let [year, month, day] = [
                i32::from(date.year()),
                i32::from(date.month()),
                i32::from(date.day()),
            ]
            .map(|n| u32::try_from(n).unwrap());
            let days = date.since(epoch).unwrap().get_days();
            assert_eq!(days_from_civil(year, month, day), Some(i64::from(days)), "{date}");
            date = date.tomorrow().unwrap();
        }
        for (year, month, day) in [
            (2023, 2, 29),
            (1900, 2, 29),
            (2024, 4, 31),
            (2024, 0, 1),
            (2024, 13, 1),
            (0, 1, 1),
        ] {
            assert_eq!(days_from_civil(year, month, day), None);
        }
    }

    #[test]
    fn months_in_many_languages() {
        for (word, month) in [
            ("March", 3),
            ("März", 3),
            ("mars", 3),
            ("marzo", 3),
            ("maart", 3),
            ("maaliskuu", 3),
            ("marraskuu", 11),
            ("août", 8),
            ("Dezember", 12),
            ("desember", 12),
            ("giugno", 6),
            ("juillet", 7),
            ("fev", 2),
            ("Mai", 5),
        ] {
            assert_eq!(month_of(word.as_bytes()), Some(month), "{word}");
        }
        for word in ["manual", "lunch", "Glucose", "marker", "de"] {
            assert_eq!(month_of(word.as_bytes()), None, "{word}");
        }
    }
}
