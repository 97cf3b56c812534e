//! Bytes to UTF-8.

use std::io::{self, Read};

use chardetng::EncodingDetector;
use encoding_rs::{
    CoderResult, Decoder, Encoding, ISO_8859_2, ISO_8859_4, UTF_8, UTF_16BE, UTF_16LE, WINDOWS_1250,
    WINDOWS_1252, WINDOWS_1254, WINDOWS_1257, WINDOWS_1258,
};

/// How a text is written down.
#[derive(Clone, Copy, Debug)]
pub(crate) struct TextCode {
    encoding: &'static Encoding,
    /// Bytes of a byte-order mark to skip.
    mark: usize,
    /// Lines end with a lone CR.
    lone_cr: bool,
}

impl TextCode {
    /// In words.
    pub(crate) fn name(self) -> String {
        let mark = if self.mark > 0 {
            " with byte-order mark"
        } else {
            ""
        };
        format!("{}{mark}", self.encoding.name())
    }

    /// Finds it out from the head of a text; `None` where the bytes are no text in any encoding.
    pub(crate) fn sniff(head: &[u8]) -> Option<TextCode> {
        let (encoding, mark) = match Encoding::for_bom(head) {
            Some((encoding, mark)) => (encoding, mark),
            None => (unmarked(head)?, 0),
        };
        let (sample, _) = encoding.decode_without_bom_handling(&head[mark..]);
        if encoding != UTF_8 && control_share(&sample) > 0.01 {
            return None;
        }
        let lone_cr = sample.contains('\r') && !sample.contains('\n');
        Some(TextCode {
            encoding,
            mark,
            lone_cr,
        })
    }

    /// Wraps a reader of the raw bytes into one of UTF-8.
    pub(crate) fn reader(self, raw: Box<dyn Read + Send>) -> io::Result<Box<dyn Read + Send>> {
        let mut raw = raw;
        let mut mark = [0u8; 3];
        raw.read_exact(&mut mark[..self.mark])?;
        let text: Box<dyn Read + Send> = if self.encoding == UTF_8 {
            raw
        } else {
            Box::new(Decoding {
                raw,
                decoder: self.encoding.new_decoder_without_bom_handling(),
                bytes: Vec::new(),
                text: Vec::new(),
                at: 0,
                done: false,
            })
        };
        Ok(if self.lone_cr {
            Box::new(LineFeeds { inner: text })
        } else {
            text
        })
    }
}

/// The encoding of a text without a mark.
fn unmarked(head: &[u8]) -> Option<&'static Encoding> {
    if memchr::memchr(0, head).is_some() {
        return sixteen_bit(head);
    }
    let valid = match std::str::from_utf8(head) {
        Ok(_) => true,
        // Cut in the middle of a character at the end of the sample.
        Err(e) => e.error_len().is_none() && head.len() >= 4096,
    };
    if valid {
        return (control_bytes(head) * 100 <= head.len()).then_some(UTF_8);
    }
    if control_bytes(head) * 100 > head.len() {
        return None;
    }
    let mut detector = EncodingDetector::new(chardetng::Iso2022JpDetection::Deny);
    detector.feed(head, true);
    let guess = detector.guess(None, chardetng::Utf8Detection::Deny);
    Some(if is_western(head, guess) {
        WINDOWS_1252
    } else {
        guess
    })
}

/// Odd bytes below which a guess between codes of the Latin script means nothing.
const FEW_ODD_BYTES: usize = 200;

/// Whether the Western code is by far the likeliest for an export: letters with accents stand alone among plain ones
/// (other scripts come in runs), and there are too few to tell one code of the Latin script from another.
fn is_western(head: &[u8], guess: &'static Encoding) -> bool {
    let odd = head.iter().filter(|b| !b.is_ascii()).count();
    let in_runs = head
        .windows(2)
        .filter(|pair| !pair[0].is_ascii() && !pair[1].is_ascii())
        .count();
    let is_latin = [
        WINDOWS_1250,
        WINDOWS_1252,
        WINDOWS_1254,
        WINDOWS_1257,
        WINDOWS_1258,
        ISO_8859_2,
        ISO_8859_4,
    ]
    .contains(&guess);
    in_runs * 4 < odd && (odd < FEW_ODD_BYTES || !is_latin)
}

/// UTF-16 shows in ASCII text as a zero in every other byte.
fn sixteen_bit(head: &[u8]) -> Option<&'static Encoding> {
    let even = head.iter().step_by(2).filter(|&&b| b == 0).count();
    let odd = head.iter().skip(1).step_by(2).filter(|&&b| b == 0).count();
    let half = head.len() / 2;
    if odd * 10 > half * 6 && even * 20 < half {
        Some(UTF_16LE)
    } else if even * 10 > half * 6 && odd * 20 < half {
        Some(UTF_16BE)
    } else {
        None
    }
}

fn control_bytes(bytes: &[u8]) -> usize {
    bytes
        .iter()
        .filter(|&&b| b < 0x20 && !matches!(b, b'\t' | b'\n' | b'\r' | 0x0c))
        .count()
}

fn control_share(text: &str) -> f64 {
    let odd = text
        .chars()
        .filter(|&c| (c.is_control() && !matches!(c, '\t' | '\n' | '\r' | '\x0c')) || c == '\u{fffd}')
        .count();
    odd as f64 / text.chars().count().max(1) as f64
}

/// A reader that decodes on the way.
struct Decoding {
    raw: Box<dyn Read + Send>,
    decoder: Decoder,
    bytes: Vec<u8>,
    text: Vec<u8>,
    at: usize,
    done: bool,
}

impl Read for Decoding {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        while self.at == self.text.len() && !self.done {
            self.refill()?;
        }
        let count = buffer.len().min(self.text.len() - self.at);
        buffer[..count].copy_from_slice(&self.text[self.at..self.at + count]);
        self.at += count;
        Ok(count)
    }
}

impl Decoding {
    fn refill(&mut self) -> io::Result<()> {
        self.bytes.clear();
        (&mut self.raw).take(1 << 16).read_to_end(&mut self.bytes)?;
        self.done = self.bytes.is_empty();
        let room = self
            .decoder
            .max_utf8_buffer_length(self.bytes.len())
            .unwrap_or(4 << 16);
        self.text.resize(room, 0);
        let (result, _, written, _) = self
            .decoder
            .decode_to_utf8(&self.bytes, &mut self.text, self.done);
        if result == CoderResult::OutputFull {
            return Err(io::Error::other("text could not be decoded"));
        }
        self.text.truncate(written);
        self.at = 0;
        Ok(())
    }
}

/// Turns lone CRs into LFs.
struct LineFeeds {
    inner: Box<dyn Read + Send>,
}

impl Read for LineFeeds {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let count = self.inner.read(buffer)?;
        for byte in &mut buffer[..count] {
            if *byte == b'\r' {
                *byte = b'\n';
            }
        }
        Ok(count)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn through(bytes: &[u8]) -> Option<String> {
        let code = TextCode::sniff(bytes)?;
        let mut text = String::new();
        code.reader(Box::new(io::Cursor::new(bytes.to_vec())))
            .unwrap()
            .read_to_string(&mut text)
            .unwrap();
        Some(text)
    }

    const TEXT: &str = "Uhrzeit;Blutzucker für Müller;Glycémie\n12:30;7,8;é\n";

    #[test]
    fn common_encodings_come_back_as_the_same_text() {
        let little: Vec<u8> = TEXT.encode_utf16().flat_map(u16::to_le_bytes).collect();
        let big: Vec<u8> = TEXT.encode_utf16().flat_map(u16::to_be_bytes).collect();
        let western = WINDOWS_1252.encode(TEXT).0.into_owned();
        let marked = [b"\xef\xbb\xbf", TEXT.as_bytes()].concat();
        let little_marked = [&b"\xff\xfe"[..], &little].concat();
        for bytes in [TEXT.as_bytes(), &little, &big, &western, &marked, &little_marked] {
            assert_eq!(through(bytes).as_deref(), Some(TEXT));
        }
    }

    #[test]
    fn a_few_accents_are_western_and_other_scripts_are_not() {
        let spanish = "2024-05-01 10:00;mañana \"tonta\"\n2024-05-01 10:05;\n".repeat(40);
        assert_eq!(
            through(&WINDOWS_1252.encode(&spanish).0).as_deref(),
            Some(spanish.as_str())
        );
        let russian = "2024-05-01 10:00;сахар после завтрака\n".repeat(40);
        assert_eq!(
            through(&encoding_rs::WINDOWS_1251.encode(&russian).0).as_deref(),
            Some(russian.as_str())
        );
    }

    #[test]
    fn old_line_ends_become_new_ones() {
        assert_eq!(through(b"a,b\r1,2\r").as_deref(), Some("a,b\n1,2\n"));
        assert_eq!(through(b"a,b\r\n1,2\r\n").as_deref(), Some("a,b\r\n1,2\r\n"));
    }

    #[test]
    fn binary_is_not_text() {
        let noise: Vec<u8> = (0..4000u32)
            .map(|i| (i.wrapping_mul(2_654_435_761) >> 13) as u8)
            .collect();
        assert_eq!(through(&noise), None);
        assert_eq!(through(&[0u8; 100]), None);
    }
}
