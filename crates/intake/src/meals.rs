//! Headings that name a meal or a part of the day in place of a time: 'before breakfast', 'bedtime'.

use crate::column::Sample;
use crate::fold::words;
use crate::roles::Trouble;

/// Beginnings of the words, folded: meals first, then parts of the day, in the languages of the headings.
const BEGINNINGS: &[&str] = &[
    "breakfast",
    "lunch",
    "dinner",
    "supper",
    "snack",
    "bedtime",
    "fasting",
    "fruhstuck",
    "mittag",
    "abend",
    "nuchtern",
    "schlafen",
    "petit",
    "dejeuner",
    "diner",
    "souper",
    "gouter",
    "coucher",
    "jeun",
    "desayuno",
    "almuerzo",
    "comida",
    "cena",
    "merienda",
    "ayunas",
    "acostarse",
    "colazione",
    "pranzo",
    "digiuno",
    "pequeno",
    "almoco",
    "jantar",
    "lanche",
    "jejum",
    "deitar",
    "ontbijt",
    "avond",
    "slapen",
    "bedtijd",
    "morgenmad",
    "frokost",
    "aftensmad",
    "sengetid",
    "middag",
    "kveldsmat",
    "frukost",
    "kvallsmat",
    "laggdags",
    "aamiainen",
    "aamupala",
    "lounas",
    "paivallinen",
    "illallinen",
    "iltapala",
    "nukkumaan",
    "morning",
    "noon",
    "evening",
    "night",
    "morgen",
    "nacht",
    "matin",
    "midi",
    "soir",
    "nuit",
    "manana",
    "mediodia",
    "noche",
    "mattin",
    "sera",
    "notte",
    "manha",
    "noite",
    "ochtend",
    "morgon",
    "kvall",
    "aamu",
    "ilta",
];

/// Columns of numbers whose headings say when in the day without saying the time of each value.
fn columns(sample: &Sample) -> Vec<String> {
    let says_when = |heading: &str| {
        let words = words(heading);
        words
            .iter()
            .any(|word| BEGINNINGS.iter().any(|beginning| word.starts_with(beginning)))
    };
    let columns = sample.columns.iter();
    columns
        .filter(|c| says_when(&c.heading) && c.profile.filled > 0 && c.profile.is_numeric())
        .map(|c| format!("'{}'", c.heading))
        .collect()
}

/// Why a table of days with a column for each meal cannot be read; `None` where it is no such table.
///
/// A blood check is set beside the sensor's reading of the same minutes. Put at a guessed time it would say of the sensor
/// what is not so, and nobody could see that it was guessed.
pub(crate) fn refusal(sample: &Sample) -> Option<Trouble> {
    let columns = columns(sample);
    if columns.len() < 2 {
        return None;
    }
    let shown = columns.len().min(4);
    let more = match columns.len() - shown {
        0 => String::new(),
        more => format!(" and {more} more"),
    };
    Some(Trouble::refuse(
        format!(
            "the columns {}{more} say by which meal or part of the day a value was taken, and nothing says at what time; a blood \
             check is compared with the sensor to the minute and is not put at a guessed time",
            columns[..shown].join(", ")
        ),
        "write the checks whose time you know into a table with a row for each: date, time, value (a spreadsheet will do); or \
         export again with times",
    ))
}
