//! What a person has said about a file that is waiting to be brought in.

use std::collections::BTreeMap;

/// What was said beside a file, as it was typed or chosen. Empty fields are left to the file's own evidence.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Answers {
    /// Zone of wall-clock times, by name.
    pub zone: Option<String>,
    /// 'mg/dL' or 'mmol/L'.
    pub unit: Option<String>,
    /// 'day-first', 'month-first' or 'year-first'.
    pub dates: Option<String>,
    /// The person, in a file of several.
    pub subject: Option<String>,
    /// Columns, by heading or number, and the role each has.
    pub roles: BTreeMap<String, String>,
}

impl Answers {
    /// Takes the fields of a form in: 'answer' holds a flag as a question offers it, 'role:3' the role of the third
    /// column, 'column' and 'holds' a column by its heading or number and its role, the others what their names say. A
    /// field left empty takes nothing back.
    pub(crate) fn take_form(&mut self, fields: Vec<(String, String)>) {
        let (mut named, mut holds) = (None, None);
        for (name, value) in fields {
            let value = value.trim().to_owned();
            if value.is_empty() {
                continue;
            }
            match name.as_str() {
                "answer" => self.take_flag(&value),
                "zone" => self.zone = Some(value),
                "unit" => self.unit = Some(value),
                "dates" => self.dates = Some(value),
                "subject" => self.subject = Some(value),
                "column" => named = Some(value),
                "holds" => holds = Some(value),
                other => {
                    if let Some(column) = other.strip_prefix("role:") {
                        self.roles.insert(column.to_owned(), value);
                    }
                }
            }
        }
        self.roles.extend(named.zip(holds));
    }

    /// A flag as it would be typed: `--unit mmol/L`, `--as '3=glucose'`.
    fn take_flag(&mut self, flag: &str) {
        let Some((name, value)) = flag.split_once(char::is_whitespace) else {
            return;
        };
        let value = value.trim().trim_matches(['\'', '"']).to_owned();
        match name {
            "--zone" => self.zone = Some(value),
            "--unit" => self.unit = Some(value),
            "--dates" => self.dates = Some(value),
            "--subject" => self.subject = Some(value),
            "--as" => {
                if let Some((column, role)) = value.rsplit_once('=') {
                    self.roles.insert(column.to_owned(), role.to_owned());
                }
            }
            _ => {}
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(fields: &[(&str, &str)]) -> Answers {
        let mut answers = Answers::default();
        answers.take_form(
            fields
                .iter()
                .map(|(name, value)| ((*name).to_owned(), (*value).to_owned()))
                .collect(),
        );
        answers
    }

    #[test]
    fn flags_are_read_as_they_are_offered() {
        assert_eq!(
            said(&[("answer", "--unit mmol/L")]).unit.as_deref(),
            Some("mmol/L")
        );
        assert_eq!(
            said(&[("answer", "--subject 'P 05'")]).subject.as_deref(),
            Some("P 05")
        );
        let roles = said(&[("answer", "--as 'Value (=) 2=glucose'")]).roles;
        assert_eq!(roles.get("Value (=) 2").map(String::as_str), Some("glucose"));
    }

    #[test]
    fn a_column_is_named_with_what_it_holds() {
        let roles = said(&[("column", " value "), ("holds", "glucose")]).roles;
        assert_eq!(roles.get("value").map(String::as_str), Some("glucose"));
        assert!(said(&[("column", ""), ("holds", "glucose")]).roles.is_empty());
    }

    #[test]
    fn an_empty_field_says_nothing() {
        assert_eq!(
            said(&[
                ("zone", " "),
                ("role:3", ""),
                ("answer", "--unit"),
                ("other", "x")
            ]),
            Answers::default()
        );
    }

    #[test]
    fn later_answers_join_earlier_ones() {
        let answers = said(&[
            ("zone", "Europe/Lisbon"),
            ("role:3", "glucose"),
            ("role:4", "ignored"),
        ]);
        assert_eq!(
            (answers.zone.as_deref(), answers.roles.len()),
            (Some("Europe/Lisbon"), 2)
        );
    }
}
