//! A message and what goes into it.

use std::fmt;

use serde::{Serialize, Serializer};

use crate::{Number, Tongue, catalogue, current};

/// Something to be said: the name of a message and its values, in no language yet.
///
/// [`Display`](fmt::Display) says it in the language spoken; serialized it is English, whatever is spoken, so that documents
/// for programs do not change with the reader.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Message {
    id: &'static str,
    values: Vec<(&'static str, Value)>,
}

/// What a variable of a message stands for.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Value {
    /// As it is: a name, a number with its unit, or the key a selector chooses by.
    Text(String),
    /// A count, which can choose a plural.
    Count(i64),
    /// See [`Number`].
    Number(Number),
    /// Said when the message is.
    Message(Message),
}

impl Message {
    /// See [`message!`](crate::message), which is checked against the catalogue.
    #[doc(hidden)]
    pub fn new(id: &'static str, values: Vec<(&'static str, Value)>) -> Self {
        Message { id, values }
    }

    /// In the language spoken.
    pub fn say(&self) -> String {
        self.say_in(current())
    }

    /// In this language.
    pub fn say_in(&self, tongue: Tongue) -> String {
        catalogue::said(tongue, self.id, &self.values)
    }
}

impl fmt::Display for Message {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.say())
    }
}

impl Serialize for Message {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&self.say_in(Tongue::English))
    }
}

/// A [`Message`], to be said later: `message!("area-what", name = value)`.
///
/// `cargo xtask tidy` finds every call, and holds its name and its variables against the catalogue.
#[macro_export]
macro_rules! message {
    ($id:literal $(, $name:ident = $value:expr)* $(,)?) => {
        $crate::Message::new($id, ::std::vec![$((stringify!($name), $crate::Value::from($value))),*])
    };
}

/// A message in the language spoken: `say!("area-what", name = value)`.
///
/// Numbers are handed over as they are to be read, in a text, or as a [`Number`] to choose a plural by; counts as integers.
#[macro_export]
macro_rules! say {
    ($id:literal $(, $name:ident = $value:expr)* $(,)?) => {
        $crate::message!($id $(, $name = $value)*).say()
    };
}

impl From<String> for Value {
    fn from(text: String) -> Self {
        Value::Text(text)
    }
}

impl From<&String> for Value {
    fn from(text: &String) -> Self {
        Value::Text(text.clone())
    }
}

impl From<&str> for Value {
    fn from(text: &str) -> Self {
        Value::Text(text.to_owned())
    }
}

impl From<Number> for Value {
    fn from(number: Number) -> Self {
        Value::Number(number)
    }
}

impl From<Message> for Value {
    fn from(message: Message) -> Self {
        Value::Message(message)
    }
}

impl From<&Message> for Value {
    fn from(message: &Message) -> Self {
        Value::Message(message.clone())
    }
}

/// 'yes' and 'no', to choose by.
impl From<bool> for Value {
    fn from(is: bool) -> Self {
        Value::from(if is { "yes" } else { "no" })
    }
}

macro_rules! counts {
    ($($count:ty),*) => {
        $(impl From<$count> for Value {
            fn from(count: $count) -> Self {
                Value::Count(i64::try_from(count).unwrap_or(i64::MAX))
            }
        })*
    };
}

counts!(u8, u16, u32, u64, usize, i8, i16, i32, i64);

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{decimal, within};

    #[test]
    fn a_message_is_said_in_the_language_spoken() {
        let message = message!("time-hours-minutes", hours = 1, minutes = 25);
        assert_eq!(message.to_string(), "1 h 25 min");
        let days = message!("time-days", days = 3);
        assert_eq!(within(Tongue::Spanish, || days.to_string()), "3 días");
        assert_eq!(days.to_string(), "3 days");
    }

    #[test]
    fn a_document_is_english_whatever_is_spoken() {
        let message = message!("time-days", days = 3);
        let written = within(Tongue::Spanish, || serde_json::to_string(&message).unwrap());
        assert_eq!(written, "\"3 days\"");
    }

    #[test]
    fn a_number_chooses_its_plural_and_has_its_mark() {
        let units = |digits: &str| say!("number-units", amount = Number(digits.to_owned()));
        assert_eq!(
            ["0", "0.5", "1", "4.25"].map(units),
            ["0 units", "0.5 units", "1 unit", "4.25 units"]
        );
        let spanish = within(Tongue::Spanish, || ["0.5", "1", "4.20"].map(units));
        assert_eq!(spanish, ["0,5 unidades", "1 unidad", "4,20 unidades"]);
    }

    /// What is passed in and is not from the catalogue stands outside the marks.
    #[test]
    fn the_marked_language_tells_what_is_not_from_the_catalogue() {
        let said = within(Tongue::Marked, || {
            let date = say!(
                "time-date-short",
                day = 17,
                month = say!("time-month-short", month = 3)
            );
            say!("time-date-clock", date = date, clock = decimal("04:05"))
        });
        assert_eq!(said, "⟦⟧⟦⟧17⟦ ⟧⟦Mar⟧⟦⟧⟦, ⟧04:05⟦⟧");
    }

    #[test]
    fn a_name_that_is_not_there_is_seen_and_no_fault() {
        assert_eq!(Message::new("time-nonsense", Vec::new()).say(), "[time-nonsense]");
        assert_eq!(Message::new("time-hours", Vec::new()).say(), "{$hours} h");
    }
}
