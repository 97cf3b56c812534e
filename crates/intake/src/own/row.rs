//! A row by the names of its columns.

use std::collections::HashMap;

use csv::ByteRecord;
use interstice_glucose::{Censor, Named, Said, Second, Unit};
use jiff::Timestamp;

/// Text of a rejected cell is kept up to so many letters.
const MOST_TEXT: usize = 200;

/// Why a row cannot be used.
pub(crate) struct Unusable {
    pub(crate) column: String,
    pub(crate) text: String,
    pub(crate) reason: String,
}

/// Places of the columns by name.
pub(crate) struct Columns(HashMap<String, usize>);

impl Columns {
    pub(crate) fn of(heading: &ByteRecord) -> Self {
        let named = heading.iter().enumerate().map(|(place, name)| {
            let name = name.strip_prefix(b"\xef\xbb\xbf").unwrap_or(name);
            (String::from_utf8_lossy(name).trim().to_owned(), place)
        });
        Columns(named.collect())
    }
}

/// One row.
pub(crate) struct Row<'a> {
    columns: &'a Columns,
    record: &'a ByteRecord,
}

impl<'a> Row<'a> {
    pub(crate) fn new(columns: &'a Columns, record: &'a ByteRecord) -> Self {
        Row { columns, record }
    }

    fn raw(&self, column: &str) -> &'a [u8] {
        let place = self.columns.0.get(column);
        place
            .and_then(|&place| self.record.get(place))
            .unwrap_or_default()
    }

    pub(crate) fn unusable(&self, column: &str, reason: impl Into<String>) -> Unusable {
        let text = String::from_utf8_lossy(self.raw(column));
        Unusable {
            column: column.to_owned(),
            text: text.chars().take(MOST_TEXT).collect(),
            reason: reason.into(),
        }
    }

    /// A text; `None` where it is empty.
    pub(crate) fn text(&self, column: &str) -> Result<Option<String>, Unusable> {
        let raw = self.raw(column);
        let text = std::str::from_utf8(raw)
            .map_err(|_| self.unusable(column, "this is not UTF-8 text; export it again"))?;
        Ok((!text.is_empty()).then(|| text.to_owned()))
    }

    fn some<T>(
        &self,
        column: &str,
        what: &str,
        parse: impl Fn(&str) -> Option<T>,
    ) -> Result<Option<T>, Unusable> {
        let Some(text) = self.text(column)? else {
            return Ok(None);
        };
        let unusable = || {
            self.unusable(
                column,
                format!("this is not {what}; correct it or leave the cell empty"),
            )
        };
        parse(text.trim()).ok_or_else(unusable).map(Some)
    }

    fn needed<T>(&self, column: &str, found: Option<T>) -> Result<T, Unusable> {
        found.ok_or_else(|| self.unusable(column, "nothing stands here, and the row needs it"))
    }

    /// An instant that must be there.
    pub(crate) fn instant(&self, column: &str) -> Result<Second, Unusable> {
        let found = self.maybe_instant(column)?;
        self.needed(column, found)
    }

    /// '2026-03-01T07:30:00Z', or seconds since 1970.
    pub(crate) fn maybe_instant(&self, column: &str) -> Result<Option<Second>, Unusable> {
        self.some(column, "an instant like 2026-03-01T07:30:00Z", |text| {
            let stamp = text
                .parse::<Timestamp>()
                .ok()
                .filter(|stamp| stamp.subsec_nanosecond() == 0);
            stamp.map(Timestamp::as_second).or_else(|| text.parse().ok())
        })
    }

    /// One of a few words, which must be there.
    pub(crate) fn word<T: Named>(&self, column: &str) -> Result<T, Unusable> {
        let found = self.maybe_word(column)?;
        self.needed(column, found)
    }

    pub(crate) fn maybe_word<T: Named>(&self, column: &str) -> Result<Option<T>, Unusable> {
        self.some(column, "one of the words of this column", T::of_word)
    }

    /// A finite number.
    pub(crate) fn number(&self, column: &str) -> Result<Option<f64>, Unusable> {
        self.some(column, "a number", |text| {
            text.parse::<f64>().ok().filter(|number| number.is_finite())
        })
    }

    pub(crate) fn whole<T: std::str::FromStr>(&self, column: &str) -> Result<Option<T>, Unusable> {
        self.some(column, "a whole number of the size this column holds", |text| {
            text.parse().ok()
        })
    }

    /// A JSON list of words.
    pub(crate) fn list(&self, column: &str) -> Result<Vec<String>, Unusable> {
        let found = self.some(column, "a JSON list of words", |text| {
            serde_json::from_str(text).ok()
        })?;
        Ok(found.unwrap_or_default())
    }

    /// A glucose value exactly as it was said.
    pub(crate) fn said(&self) -> Result<Said, Unusable> {
        let unit: Unit = self.word("unit_as_said")?;
        let bound: Option<Censor> = self.maybe_word("bound")?;
        let said = self.some("value_as_said", "a decimal number", |text| {
            Said::from_decimal(text, unit, bound.unwrap_or(Censor::None))
        })?;
        self.needed("value_as_said", said)
    }
}
