//! The visit sheet on paper: two pages, whatever the window holds. What does not fit is counted, never cut.

mod back;
mod front;
mod ruler;
mod table;
mod usual;

use interstice_findings::VisitFindings;
use interstice_glucose::{DAY_S, Moment, day_from_words};

use super::PdfError;
use super::canvas::{Canvas, Place, Style, ink, soft};
use crate::sheet::{Note, Sheet, sheet};
use crate::words::Shown;

/// Which paper.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum PaperSize {
    /// 210 mm by 297 mm (ISO 216).
    #[default]
    A4,
    /// 8.5 inches by 11.
    Letter,
}

impl PaperSize {
    /// By its name, 'a4' or 'letter'.
    pub fn named(name: &str) -> Option<Self> {
        match name.to_ascii_lowercase().as_str() {
            "a4" => Some(PaperSize::A4),
            "letter" => Some(PaperSize::Letter),
            _ => None,
        }
    }

    /// Its name.
    pub fn name(self) -> &'static str {
        match self {
            PaperSize::A4 => "a4",
            PaperSize::Letter => "letter",
        }
    }

    /// Width and height, points.
    fn points(self) -> (f32, f32) {
        match self {
            PaperSize::A4 => (595.28, 841.89),
            PaperSize::Letter => (612.0, 792.0),
        }
    }
}

/// What is written on, points from the top left of a page.
#[derive(Clone, Copy, Debug)]
struct Frame {
    left: f32,
    right: f32,
    top: f32,
    bottom: f32,
}

impl Frame {
    fn width(self) -> f32 {
        self.right - self.left
    }
}

const SIDE: f32 = 42.0;
const TOP: f32 = 36.0;
const BOTTOM: f32 = 42.0;
/// Lines of text are so many times as far apart as their letters are high.
const LEADING: f32 = 1.32;

/// The sheet as a PDF.
///
/// # Errors
/// Where the file cannot be made.
pub fn visit(findings: &VisitFindings, shown: Shown, paper: PaperSize) -> Result<Vec<u8>, PdfError> {
    let sheet = sheet(findings, shown);
    let (width, height) = paper.points();
    let frame = Frame {
        left: SIDE,
        right: width - SIDE,
        top: TOP,
        bottom: height - BOTTOM,
    };
    let mut page = Page {
        canvas: Canvas::new((width, height))?,
        findings,
        sheet: &sheet,
        shown,
        frame,
    };
    front::draw(&mut page);
    page.foot(1);
    page.canvas.next_page();
    back::draw(&mut page);
    page.foot(2);
    let title = match &sheet.name {
        Some(name) => format!("Visit sheet of {name}, {}", sheet.window),
        None => format!("Visit sheet, {}", sheet.window),
    };
    page.canvas.finish(&title, noon(&findings.made))
}

/// Noon of the day the sheet was made: the file has no other clock.
fn noon(made: &str) -> Moment {
    Moment {
        at: day_from_words(made).unwrap_or(0) * DAY_S + DAY_S / 2,
        offset_s: 0,
    }
}

/// What the parts of a page are drawn with.
struct Page<'a> {
    canvas: Canvas,
    findings: &'a VisitFindings,
    sheet: &'a Sheet,
    shown: Shown,
    frame: Frame,
}

impl Page<'_> {
    /// A heading with the numbers of its notes; answers where its line ends.
    fn heading(&mut self, text: &str, notes: &[Note], (x, y): (f32, f32), size: f32) -> f32 {
        let style = super::canvas::bold(size);
        let baseline = y + size;
        let place = self.canvas.heading(2, text, y);
        self.canvas.words((x, baseline), text, style, place);
        let after = x + self.canvas.width(text, style) + 2.0;
        self.marks(notes, (after, baseline - 0.36 * size), place);
        y + size * LEADING
    }

    /// Raised numbers of notes.
    fn marks(&mut self, notes: &[Note], at: (f32, f32), place: Place) {
        if notes.is_empty() {
            return;
        }
        let mut notes = notes.to_vec();
        notes.sort_unstable();
        let numbers: Vec<String> = notes.iter().map(|note| note.number().to_string()).collect();
        self.canvas.words(at, &numbers.join(", "), soft(6.0), place);
    }

    /// A paragraph of at most so many lines; answers where it ends.
    fn said(&mut self, text: &str, style: Style, (x, y): (f32, f32), width: f32, most: usize) -> f32 {
        let lines = self.canvas.wrapped_at_most(text, style, width, most);
        let place = self.canvas.paragraph();
        self.lines(&lines, style, (x, y), place)
    }

    fn lines(&mut self, lines: &[String], style: Style, (x, y): (f32, f32), place: Place) -> f32 {
        let mut y = y;
        for line in lines {
            self.canvas.words((x, y + style.size), line, style, place);
            y += style.size * LEADING;
        }
        y
    }

    /// What stands under every page.
    fn foot(&mut self, number: u8) {
        let y = self.frame.bottom + 16.0;
        let (left, right) = (self.frame.left, self.frame.right);
        self.canvas
            .line(&[(left, y - 9.0), (right, y - 9.0)], 0.4, ink::RULE, None);
        let name = self
            .sheet
            .name
            .as_ref()
            .map_or_else(String::new, |name| format!(" · {name}"));
        let text = format!(
            "Visit sheet · {} · made {}{name}",
            self.sheet.window, self.sheet.made
        );
        let text = self.canvas.shortened(&text, soft(6.5), right - left - 40.0);
        self.canvas.words((left, y), &text, soft(6.5), None);
        self.canvas
            .words_to((right, y), &format!("{number} of 2"), soft(6.5), None);
    }
}
