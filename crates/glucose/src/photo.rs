//! Photos beside what was noted of a sensor.

use crate::{Named, Second};

/// The largest photo that is kept, bytes: 8 MB (ours; a phone's photo has two to five).
pub const LARGEST_PHOTO: usize = 8_000_000;

/// What kind of picture it is, by its first bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum PhotoMedia {
    /// JPEG (ITU-T T.81): a start of image, then another marker.
    Jpeg,
    /// PNG (RFC 2083, section 12.11).
    Png,
    /// WebP (RFC 9649, section 2.4).
    WebP,
}

impl PhotoMedia {
    /// What the first bytes say; the file's name has no say. `None` for anything else.
    pub fn of(bytes: &[u8]) -> Option<Self> {
        if bytes.starts_with(&[0xff, 0xd8, 0xff]) {
            Some(PhotoMedia::Jpeg)
        } else if bytes.starts_with(b"\x89PNG\r\n\x1a\n") {
            Some(PhotoMedia::Png)
        } else if bytes.starts_with(b"RIFF") && bytes.get(8..12) == Some(b"WEBP") {
            Some(PhotoMedia::WebP)
        } else {
            None
        }
    }

    /// 'image/jpeg' and so on.
    pub fn name(self) -> &'static str {
        self.word()
    }

    /// What such a file's name ends in.
    pub fn ending(self) -> &'static str {
        match self {
            PhotoMedia::Jpeg => "jpg",
            PhotoMedia::Png => "png",
            PhotoMedia::WebP => "webp",
        }
    }
}

/// A photo that a source brought, byte for byte.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PhotoDraft {
    /// When it stands: the moment it is noted beside.
    pub at: Second,
    /// The sensor's name, where it was said.
    pub sensor: Option<String>,
    /// Name of the file it came in first.
    pub name: String,
    /// All of it.
    pub bytes: Vec<u8>,
}
