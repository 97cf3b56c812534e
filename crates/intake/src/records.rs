//! Records and fields of delimited text.

use std::borrow::Cow;
use std::ops::Range;

use memchr::{memchr, memchr2};

/// Longest quoted field. A quotation mark that is not closed within it was only a mark, not a quotation.
const LONGEST_QUOTE: usize = 1 << 20;

/// Where a field lies in its block, without its quotation marks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Field {
    pub(crate) start: usize,
    pub(crate) end: usize,
    /// Holds doubled quotation marks.
    escaped: bool,
}

impl Field {
    /// A field without quotation marks.
    pub(crate) fn plain(start: usize, end: usize) -> Self {
        Field {
            start,
            end,
            escaped: false,
        }
    }

    /// Its bytes, still with doubled marks where it has any.
    pub(crate) fn raw(self, block: &[u8]) -> &[u8] {
        &block[self.start..self.end]
    }

    /// Its text: doubled marks made single, spaces around it dropped, bytes that are not UTF-8 read as
    /// Windows-1252 (a file may hold a few words in another encoding than its beginning).
    pub(crate) fn text(self, block: &[u8]) -> Cow<'_, str> {
        let bytes = self.raw(block).trim_ascii();
        let text = match std::str::from_utf8(bytes) {
            Ok(text) => Cow::Borrowed(text),
            Err(_) => encoding_rs::WINDOWS_1252.decode_without_bom_handling(bytes).0,
        };
        if self.escaped {
            Cow::Owned(text.replace("\"\"", "\""))
        } else {
            text
        }
    }
}

/// Walks a block record by record. Records end with LF or CRLF; a quoted field may hold both.
pub(crate) struct Records<'a> {
    block: &'a [u8],
    at: usize,
    delimiter: u8,
}

impl<'a> Records<'a> {
    pub(crate) fn new(block: &'a [u8], delimiter: u8) -> Self {
        Records {
            block,
            at: 0,
            delimiter,
        }
    }

    /// Where the next record begins.
    pub(crate) fn position(&self) -> usize {
        self.at
    }

    /// Goes on at the record that begins at `at`.
    pub(crate) fn go_on_at(&mut self, at: usize) {
        self.at = at;
    }

    /// Puts the next record's fields into `fields`; its range in the block, or `None` at the end.
    pub(crate) fn next(&mut self, fields: &mut Vec<Field>) -> Option<Range<usize>> {
        fields.clear();
        if self.at >= self.block.len() {
            return None;
        }
        let start = self.at;
        loop {
            let (field, stop) = self.field(self.at);
            fields.push(field);
            if stop < self.block.len() && self.block[stop] == self.delimiter {
                self.at = stop + 1;
                continue;
            }
            self.at = (stop + 1).min(self.block.len());
            return Some(start..stop);
        }
    }

    /// The field at `at`, and where its delimiter, line end or the end of the block stands.
    fn field(&self, at: usize) -> (Field, usize) {
        if self.block.get(at) == Some(&b'"')
            && let Some(quoted) = closing_quote(self.block, at, self.delimiter)
        {
            let field = Field {
                start: at + 1,
                end: quoted.end,
                escaped: quoted.escaped,
            };
            return (field, quoted.stop);
        }
        let stop =
            memchr2(self.delimiter, b'\n', &self.block[at..]).map_or(self.block.len(), |offset| at + offset);
        let end = if stop > at && self.block[stop - 1] == b'\r' && !self.is_delimiter(stop) {
            stop - 1
        } else {
            stop
        };
        (
            Field {
                start: at,
                end,
                escaped: false,
            },
            stop,
        )
    }

    fn is_delimiter(&self, at: usize) -> bool {
        self.block.get(at) == Some(&self.delimiter)
    }
}

/// A quoted field: where its text ends, where the delimiter or line end stands.
struct Quoted {
    end: usize,
    stop: usize,
    escaped: bool,
}

/// Looks for the mark that closes the one at `open`: one followed by a delimiter, a line end or the end.
fn closing_quote(block: &[u8], open: usize, delimiter: u8) -> Option<Quoted> {
    let limit = block.len().min(open + LONGEST_QUOTE);
    let (mut at, mut escaped) = (open + 1, false);
    while at < limit {
        let mark = at + memchr(b'"', &block[at..limit])?;
        let mut next = mark + 1;
        if block.get(next) == Some(&b'"') {
            escaped = true;
            at = next + 1;
            continue;
        }
        while matches!(block.get(next), Some(b' ' | b'\r')) && block.get(next) != Some(&delimiter) {
            next += 1;
        }
        match block.get(next) {
            None | Some(b'\n') => {
                return Some(Quoted {
                    end: mark,
                    stop: next,
                    escaped,
                });
            }
            Some(&byte) if byte == delimiter => {
                return Some(Quoted {
                    end: mark,
                    stop: next,
                    escaped,
                });
            }
            Some(_) => at = mark + 1,
        }
    }
    None
}

/// Where the last whole record of `block` ends (just after its line end), `None` where there is none.
pub(crate) fn last_record_end(block: &[u8], delimiter: u8) -> Option<usize> {
    let line_end = |from: usize, to: usize| memchr::memrchr(b'\n', &block[from..to]).map(|at| from + at + 1);
    // `plain`: where the text after the last quoted field begins; `at`: where to look for the next quotation mark.
    let (mut plain, mut at, mut end) = (0, 0, None);
    while let Some(offset) = memchr(b'"', &block[at..]) {
        let mark = at + offset;
        at = mark + 1;
        let opens = mark == 0 || block[mark - 1] == delimiter || block[mark - 1] == b'\n';
        if !opens {
            continue;
        }
        end = line_end(plain, mark).or(end);
        match closing_quote(block, mark, delimiter) {
            Some(quoted) if quoted.stop < block.len() => (plain, at) = (quoted.stop, quoted.stop),
            // Closed exactly at the end, or perhaps closed further on: the record is not whole yet.
            Some(_) => return end,
            None if block.len() - mark < LONGEST_QUOTE => return end,
            None => {}
        }
    }
    line_end(plain, block.len()).or(end)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn split(text: &str, delimiter: u8) -> Vec<Vec<String>> {
        let block = text.as_bytes();
        let (mut records, mut fields, mut out) = (Records::new(block, delimiter), Vec::new(), Vec::new());
        while records.next(&mut fields).is_some() {
            out.push(fields.iter().map(|f| f.text(block).into_owned()).collect());
        }
        out
    }

    #[test]
    fn quotes_line_ends_and_ragged_rows() {
        assert_eq!(
            split("a,\"b\n\"\"c\"\"\",d\r\n1,2\n", b','),
            vec![vec!["a", "b\n\"c\"", "d"], vec!["1", "2"]]
        );
        assert_eq!(
            split("a;b;\n;;x", b';'),
            vec![vec!["a", "b", ""], vec!["", "", "x"]]
        );
    }

    #[test]
    fn a_lone_quotation_mark_is_only_a_mark() {
        assert_eq!(
            split("6\" pipe,1\n\"open,2\n3,4\n", b','),
            vec![vec!["6\" pipe", "1"], vec!["\"open", "2"], vec!["3", "4"]]
        );
    }

    #[test]
    fn cuts_after_the_last_whole_record() {
        assert_eq!(last_record_end(b"a,b\nc,d", b','), Some(4));
        assert_eq!(last_record_end(b"a,b\n\"c\nd", b','), Some(4));
        assert_eq!(last_record_end(b"a,\"b\nc\"\nd", b','), Some(8));
        assert_eq!(last_record_end(b"abc", b','), None);
    }

    proptest! {
        /// The csv crate is the reference for well-formed text.
        #[test]
        fn agrees_with_the_csv_crate(rows in proptest::collection::vec(proptest::collection::vec("[a-z0-9 \",;\n]{0,8}", 2..5), 1..8)) {
            let mut writer = csv::WriterBuilder::new().flexible(true).from_writer(Vec::new());
            for row in &rows {
                writer.write_record(row).unwrap();
            }
            let text = String::from_utf8(writer.into_inner().unwrap()).unwrap();
            let expect: Vec<Vec<String>> = rows.iter().map(|r| r.iter().map(|c| c.trim_ascii().to_owned()).collect()).collect();
            prop_assert_eq!(split(&text, b','), expect);
            prop_assert_eq!(last_record_end(text.as_bytes(), b','), Some(text.len()));
        }
    }
}
