//! The letters of a paper: Noto Sans (SIL Open Font License 1.1), two weights, and how wide words are in them.

use krilla::text::Font;
use skrifa::instance::{LocationRef, Size};
use skrifa::{FontRef, MetadataProvider};

use super::PdfError;

/// A weight.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Weight {
    Regular,
    Bold,
}

/// What stands for a character these letters do not have.
const MISSING: char = '?';

pub(super) struct Fonts {
    regular: (Font, FontRef<'static>),
    bold: (Font, FontRef<'static>),
}

impl Fonts {
    pub(super) fn new() -> Result<Self, PdfError> {
        let load = |bytes: &'static [u8]| {
            let font = Font::new(bytes.into(), 0);
            let metrics = FontRef::new(bytes).ok();
            font.zip(metrics)
                .ok_or_else(|| PdfError("its letters could not be read".to_owned()))
        };
        Ok(Fonts {
            regular: load(notosans::REGULAR_TTF)?,
            bold: load(notosans::BOLD_TTF)?,
        })
    }

    fn of(&self, weight: Weight) -> &(Font, FontRef<'static>) {
        match weight {
            Weight::Regular => &self.regular,
            Weight::Bold => &self.bold,
        }
    }

    pub(super) fn font(&self, weight: Weight) -> Font {
        self.of(weight).0.clone()
    }

    /// Width in points, letters side by side: pairs that are set closer make it a little less.
    pub(super) fn width(&self, text: &str, weight: Weight, size: f32) -> f32 {
        let font = &self.of(weight).1;
        let (letters, metrics) = (
            font.charmap(),
            font.glyph_metrics(Size::new(size), LocationRef::default()),
        );
        text.chars()
            .map(|letter| {
                let glyph = letters.map(letter).unwrap_or_default();
                metrics.advance_width(glyph).unwrap_or(size)
            })
            .sum()
    }

    /// The text in letters there are, and no line feeds; whether any had to be left out.
    pub(super) fn fit(&self, text: &str) -> (String, bool) {
        let letters = self.regular.1.charmap();
        let mut missing = false;
        let fit = text
            .chars()
            .map(|letter| match letter {
                letter if letter.is_whitespace() => ' ',
                letter if letters.map(letter).is_some() => letter,
                _ => {
                    missing = true;
                    MISSING
                }
            })
            .collect();
        (fit, missing)
    }

    /// Lines no wider than so much. A word wider than a line is cut.
    pub(super) fn wrap(&self, text: &str, weight: Weight, size: f32, width: f32) -> Vec<String> {
        let mut lines = Vec::new();
        let mut line = String::new();
        for word in text.split(' ').filter(|word| !word.is_empty()) {
            let longer = if line.is_empty() {
                word.to_owned()
            } else {
                format!("{line} {word}")
            };
            if self.width(&longer, weight, size) <= width {
                line = longer;
                continue;
            }
            if !line.is_empty() {
                lines.push(std::mem::take(&mut line));
            }
            for letter in word.chars() {
                line.push(letter);
                if self.width(&line, weight, size) > width && line.chars().count() > 1 {
                    line.pop();
                    lines.push(std::mem::replace(&mut line, letter.to_string()));
                }
            }
        }
        if !line.is_empty() {
            lines.push(line);
        }
        lines
    }
}
