//! The messages, read once from what is inside the program.

use std::sync::OnceLock;

use fluent_bundle::concurrent::FluentBundle;
use fluent_bundle::types::{FluentNumber, FluentNumberOptions};
use fluent_bundle::{FluentArgs, FluentResource, FluentValue};
use unic_langid::LanguageIdentifier;

use crate::number::decimal_in;
use crate::{Number, Tongue, Value};

/// An area: one file in each language, and before every name in it.
struct Area {
    english: &'static str,
    spanish: &'static str,
}

macro_rules! areas {
    ($($name:literal),* $(,)?) => {
        [$(Area {
            english: include_str!(concat!("../lang/en/", $name, ".ftl")),
            spanish: include_str!(concat!("../lang/es/", $name, ".ftl")),
        }),*]
    };
}

/// Every area. A new one is named here.
static AREAS: &[Area] = &areas![
    "bring", "caution", "checks", "compare", "error", "feeds", "insulin", "look", "meals", "measure", "now",
    "number", "patterns", "review", "settings", "shell", "swings", "time", "write",
];

type Bundle = FluentBundle<FluentResource>;

/// A message said. What is missing in a language stands in English; what is missing there is seen by its name.
pub(crate) fn said(tongue: Tongue, id: &str, values: &[(&'static str, Value)]) -> String {
    let mut args = FluentArgs::with_capacity(values.len());
    for (name, value) in values {
        args.set(*name, handed(tongue, value));
    }
    let found = words(bundle(tongue), id, &args);
    let found = found.or_else(|| words(bundle(Tongue::English), id, &args));
    match (tongue, found) {
        (Tongue::Marked, Some(found)) => format!("⟦{found}⟧"),
        (_, Some(found)) => found,
        (_, None) => format!("[{id}]"),
    }
}

fn words(bundle: &Bundle, id: &str, args: &FluentArgs<'_>) -> Option<String> {
    let pattern = bundle.get_message(id)?.value()?;
    // What goes wrong inside a message, a variable that was not handed over, is seen in its words.
    let mut troubles = Vec::new();
    let mut said = String::new();
    let written = bundle.write_pattern(&mut said, pattern, Some(args), &mut troubles);
    written.is_ok().then_some(said)
}

fn handed(tongue: Tongue, value: &Value) -> FluentValue<'static> {
    match value {
        Value::Text(text) => FluentValue::from(text.clone()),
        Value::Count(count) => FluentValue::from(*count),
        Value::Number(number) => number_of(number),
        Value::Message(message) => FluentValue::from(message.say_in(tongue)),
    }
}

fn number_of(Number(digits): &Number) -> FluentValue<'static> {
    let Ok(value) = digits.replace('−', "-").parse::<f64>() else {
        return FluentValue::from(digits.clone());
    };
    let decimals = digits.split_once('.').map_or(0, |(_, decimals)| decimals.len());
    let options = FluentNumberOptions {
        minimum_fraction_digits: (decimals > 0).then_some(decimals),
        ..FluentNumberOptions::default()
    };
    FluentValue::Number(FluentNumber::new(value, options))
}

fn bundle(tongue: Tongue) -> &'static Bundle {
    static ENGLISH: OnceLock<Bundle> = OnceLock::new();
    static SPANISH: OnceLock<Bundle> = OnceLock::new();
    static MARKED: OnceLock<Bundle> = OnceLock::new();
    match tongue {
        Tongue::English => &ENGLISH,
        Tongue::Spanish => &SPANISH,
        Tongue::Marked => &MARKED,
    }
    .get_or_init(|| read(tongue))
}

fn read(tongue: Tongue) -> Bundle {
    // By it plurals are chosen.
    let language: LanguageIdentifier = tongue.code().parse().unwrap_or_default();
    let mut bundle = FluentBundle::new_concurrent(vec![language]);
    // Marks that keep two directions of writing apart would stand as letters in a terminal and on paper.
    bundle.set_use_isolating(false);
    bundle.set_formatter(Some(match tongue {
        Tongue::English => |value, _| number_in(Tongue::English, value),
        Tongue::Spanish => |value, _| number_in(Tongue::Spanish, value),
        Tongue::Marked => |value, _| unmarked(value),
    }));
    for area in AREAS {
        let file = match tongue {
            Tongue::English | Tongue::Marked => area.english,
            Tongue::Spanish => area.spanish,
        };
        // The files are checked when the project is; here what can be read of them is taken.
        let resource = FluentResource::try_new(file.to_owned()).unwrap_or_else(|(readable, _)| readable);
        bundle.add_resource_overriding(resource);
    }
    bundle
}

/// A number as a language writes it; `None` of what is no number, which is written as it is.
fn number_in(tongue: Tongue, value: &FluentValue<'_>) -> Option<String> {
    match value {
        FluentValue::Number(number) => Some(decimal_in(tongue, &number.as_string()).replace('-', "−")),
        _ => None,
    }
}

/// What is handed over stands outside the marks of the message it goes into.
fn unmarked(value: &FluentValue<'_>) -> Option<String> {
    match value {
        FluentValue::Number(number) => Some(format!("⟧{}⟦", number.as_string())),
        FluentValue::String(text) => Some(format!("⟧{text}⟦")),
        _ => None,
    }
}
