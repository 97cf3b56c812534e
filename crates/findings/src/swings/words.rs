//! What the wearer wrote beside a dose or a meal, where it says what that was for.

use interstice_methods::swings::{CarbsFor, DoseFor};

/// Beginnings of words for a correction: English, German, French, Spanish, Italian, Dutch, Portuguese, Nordic languages.
const CORRECTION: [&str; 9] = [
    "correct", "korrekt", "korrig", "correcc", "correz", "correç", "correc", "korreks", "corrig",
];
/// … for eating.
const MEAL: [&str; 26] = [
    "meal",
    "food",
    "breakfast",
    "lunch",
    "dinner",
    "supper",
    "snack",
    "mahlzeit",
    "essen",
    "frühstück",
    "abendessen",
    "repas",
    "déjeuner",
    "dîner",
    "comida",
    "desayuno",
    "almuerzo",
    "cena",
    "pasto",
    "pranzo",
    "colazione",
    "maaltijd",
    "refeição",
    "måltid",
    "frukost",
    "middag",
];
/// … for low blood glucose.
const LOW: [&str; 5] = ["hypo", "hipo", "ipoglic", "unterzuck", "føling"];
/// Phrases for something eaten against one.
const AGAINST_LOW: [&str; 6] = [
    "low treatment",
    "treat low",
    "for a low",
    "for low",
    "against a low",
    "treating low",
];

/// What a dose was for, as its note says; `None` where it says neither or both.
pub(super) fn dose_for(note: &str) -> Option<DoseFor> {
    let words = words(note);
    match (begins(&words, &CORRECTION), begins(&words, &MEAL)) {
        (true, false) => Some(DoseFor::Correction),
        (false, true) => Some(DoseFor::Meal),
        _ => None,
    }
}

/// What carbohydrate was for, as its text says.
pub(super) fn carbs_for(text: &str) -> Option<CarbsFor> {
    let folded = text.to_lowercase();
    let words = words(text);
    if begins(&words, &LOW) || AGAINST_LOW.iter().any(|phrase| folded.contains(phrase)) {
        return Some(CarbsFor::Low);
    }
    begins(&words, &MEAL).then_some(CarbsFor::Meal)
}

fn words(text: &str) -> Vec<String> {
    text.to_lowercase()
        .split(|c: char| !c.is_alphabetic())
        .filter(|word| !word.is_empty())
        .map(str::to_owned)
        .collect()
}

fn begins(words: &[String], with: &[&str]) -> bool {
    words
        .iter()
        .any(|word| with.iter().any(|start| word.starts_with(start)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_word_of_the_wearer_stands() {
        assert_eq!(dose_for("Korrektur"), Some(DoseFor::Correction));
        assert_eq!(dose_for("correction, insulin lispro"), Some(DoseFor::Correction));
        assert_eq!(dose_for("breakfast"), Some(DoseFor::Meal));
        assert_eq!(dose_for("meal + correction"), None);
        assert_eq!(dose_for("insulin lispro"), None);
        assert_eq!(carbs_for("low treatment"), Some(CarbsFor::Low));
        assert_eq!(carbs_for("juice, hypo"), Some(CarbsFor::Low));
        assert_eq!(carbs_for("low-fat yoghurt"), None);
        assert_eq!(carbs_for("lunch"), Some(CarbsFor::Meal));
        assert_eq!(carbs_for("bread; cheese, jam"), None);
    }
}
