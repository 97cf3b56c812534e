//! Findings on paper: A4, the archival profile PDF/A-2b, tagged for those who have it read to them, black and grey alone.
//!
//! Same findings, same bytes: the date in the file is that of the findings.

mod canvas;
mod font;
mod paper;
mod photo;
mod sensor_record;
mod trace;
mod visit;

pub use sensor_record::sensor_record;
pub use visit::{PaperSize, visit};

/// Why there is no paper.
#[derive(Debug)]
pub struct PdfError(String);

impl std::fmt::Display for PdfError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "the PDF could not be made: {}", self.0)
    }
}

impl std::error::Error for PdfError {}

/// A photo for a paper: which one, and its bytes.
#[derive(Clone, Copy, Debug)]
pub struct PhotoBytes<'a> {
    /// Its number.
    pub id: i64,
    /// The file.
    pub bytes: &'a [u8],
}
