//! Pages of A4 that fill from the top: what is drawn where, then the file.

use interstice_glucose::Moment;
use krilla::color::luma;
use krilla::configure::{Archival, ConfigurationBuilder};
use krilla::geom::{Path, PathBuilder, Point, Rect, Size, Transform};
use krilla::image::Image;
use krilla::metadata::{DateTime, Metadata};
use krilla::page::PageSettings;
use krilla::paint::{Fill, Stroke};
use krilla::surface::Surface;
use krilla::tagging::{Artifact, ArtifactType, ContentTag, SpanTag, Tag, TagGroup, TagKind, TagTree};
use krilla::text::TextDirection;
use krilla::{Document, SerializeSettings};

use super::PdfError;
use super::font::{Fonts, Weight};

/// A4, points.
const WIDTH: f32 = 595.28;
const HEIGHT: f32 = 841.89;
/// White around it, points: 18 mm.
const MARGIN: f32 = 51.0;
/// What is written on.
pub(super) const INNER: f32 = WIDTH - 2.0 * MARGIN;
/// Lines are so many times as far apart as their letters are high.
const LEADING: f32 = 1.35;

/// Shades, from black.
pub(super) const BLACK: u8 = 0;
pub(super) const DARK: u8 = 90;
pub(super) const LIGHT: u8 = 205;

/// Something drawn, its place from the top left of the page.
enum Mark {
    Text {
        at: (f32, f32),
        text: String,
        weight: Weight,
        size: f32,
    },
    Line {
        points: Vec<(f32, f32)>,
        width: f32,
        grey: u8,
        dashed: bool,
    },
    Image {
        at: (f32, f32),
        size: (f32, f32),
        image: Image,
        turn: Transform,
    },
}

/// A mark and the block it belongs to; nothing where it only adorns.
struct Drawn {
    mark: Mark,
    block: Option<usize>,
}

pub(super) struct Paper {
    fonts: Fonts,
    pages: Vec<Vec<Drawn>>,
    blocks: Vec<TagKind>,
    /// How far down the page is filled.
    pub(super) y: f32,
    missing: bool,
}

impl Paper {
    pub(super) fn new() -> Result<Self, PdfError> {
        Ok(Paper {
            fonts: Fonts::new()?,
            pages: vec![Vec::new()],
            blocks: Vec::new(),
            y: MARGIN,
            missing: false,
        })
    }

    /// Whether a character had to be left out.
    pub(super) fn has_missing(&self) -> bool {
        self.missing
    }

    /// Points left on this page.
    pub(super) fn left(&self) -> f32 {
        HEIGHT - MARGIN - self.y
    }

    /// Goes to the next page where so much does not fit.
    pub(super) fn need(&mut self, height: f32) {
        if self.left() < height && self.y > MARGIN {
            self.pages.push(Vec::new());
            self.y = MARGIN;
        }
    }

    fn block(&mut self, tag: impl Into<TagKind>) -> usize {
        self.blocks.push(tag.into());
        self.blocks.len() - 1
    }

    fn draw(&mut self, mark: Mark, block: Option<usize>) {
        if let Some(page) = self.pages.last_mut() {
            page.push(Drawn { mark, block });
        }
    }

    fn text(&mut self, x: f32, baseline: f32, text: String, (weight, size): (Weight, f32), block: usize) {
        let at = (MARGIN + x, baseline);
        self.draw(
            Mark::Text {
                at,
                text,
                weight,
                size,
            },
            Some(block),
        );
    }

    pub(super) fn heading(&mut self, text: &str, level: u16, size: f32) {
        let (text, missing) = self.fonts.fit(text);
        self.missing |= missing;
        let lines = self.fonts.wrap(&text, Weight::Bold, size, INNER);
        self.need(size * LEADING * (lines.len() as f32 + 2.0));
        if level > 1 {
            self.y += 0.6 * size;
        }
        let level = std::num::NonZeroU16::new(level).unwrap_or(std::num::NonZeroU16::MIN);
        let block = self.block(Tag::Hn(level, Some(text)));
        self.lines(lines, 0.0, (Weight::Bold, size), block);
        self.y += 0.2 * size;
    }

    pub(super) fn paragraph(&mut self, text: &str, size: f32) {
        let (text, missing) = self.fonts.fit(text);
        self.missing |= missing;
        let block = self.block(Tag::P);
        let lines = self.fonts.wrap(&text, Weight::Regular, size, INNER);
        self.lines(lines, 0.0, (Weight::Regular, size), block);
    }

    fn lines(&mut self, lines: Vec<String>, x: f32, font: (Weight, f32), block: usize) {
        for line in lines {
            self.need(font.1 * LEADING);
            self.y += font.1 * LEADING;
            self.text(x, self.y - 0.3 * font.1, line, font, block);
        }
    }

    /// A name on the left, what it is beside it.
    pub(super) fn fact(&mut self, name: &str, value: &str, size: f32) {
        const NAMES: f32 = 150.0;
        let (value, missing) = self.fonts.fit(value);
        self.missing |= missing;
        let lines = self.fonts.wrap(&value, Weight::Regular, size, INNER - NAMES);
        self.need(size * LEADING * lines.len() as f32);
        let block = self.block(Tag::P);
        let baseline = self.y + size * LEADING - 0.3 * size;
        self.text(0.0, baseline, format!("{name} "), (Weight::Bold, size), block);
        self.lines(lines, NAMES, (Weight::Regular, size), block);
    }

    /// A row of cells, each from its place on; those that are numbers end where the next begins.
    pub(super) fn row(&mut self, cells: &[(f32, f32, bool, &str)], weight: Weight, size: f32) {
        self.need(size * LEADING);
        self.y += size * LEADING;
        let block = self.block(Tag::P);
        for &(from, to, number, text) in cells {
            let (text, missing) = self.fonts.fit(text);
            self.missing |= missing;
            let shift = if number {
                to - from - self.fonts.width(&text, weight, size)
            } else {
                0.0
            };
            self.text(
                from + shift,
                self.y - 0.3 * size,
                format!("{text} "),
                (weight, size),
                block,
            );
        }
    }

    pub(super) fn gap(&mut self, points: f32) {
        self.y += points;
    }

    /// A figure of so much height, with words that say what it shows; what is drawn in it is given to `draw`.
    pub(super) fn figure(&mut self, alt: &str, height: f32, draw: impl FnOnce(&mut Figure<'_>)) {
        self.need(height);
        let top = self.y;
        let block = self.block(Tag::Figure(Some(alt.to_owned())));
        draw(&mut Figure {
            paper: self,
            top,
            block,
        });
        self.y = top + height;
    }

    /// The file.
    pub(super) fn finish(self, title: &str, made: Moment) -> Result<Vec<u8>, PdfError> {
        let failed = |what: String| PdfError(what);
        let configuration = ConfigurationBuilder::new()
            .with_archival_validator(Archival::A2_B)
            .finish()
            .map_err(|error| failed(format!("{error:?}")))?;
        let mut document = Document::new_with(SerializeSettings {
            configuration,
            enable_tagging: true,
            ..SerializeSettings::default()
        });
        let size =
            PageSettings::from_wh(WIDTH, HEIGHT).ok_or_else(|| failed("a page has no size".to_owned()))?;
        let mut groups: Vec<TagGroup> = self.blocks.into_iter().map(TagGroup::new).collect();
        for drawn in &self.pages {
            let mut page = document.start_page_with(size.clone());
            let mut surface = page.surface();
            for drawn in drawn {
                let tag = match (&drawn.mark, drawn.block) {
                    (_, None) => ContentTag::Artifact(Artifact::with_kind(ArtifactType::Other)),
                    (Mark::Text { .. }, Some(_)) => ContentTag::Span(SpanTag::empty()),
                    (_, Some(_)) => ContentTag::Other,
                };
                let identifier = surface.start_tagged(tag);
                put(&mut surface, &drawn.mark, &self.fonts);
                surface.end_tagged();
                if let Some(group) = drawn.block.and_then(|block| groups.get_mut(block)) {
                    group.push(identifier);
                }
            }
            surface.finish();
            page.finish();
        }
        let mut tree = TagTree::new().with_lang(Some("en".to_owned()));
        groups.into_iter().for_each(|group| tree.push(group));
        document.set_tag_tree(tree);
        document.set_metadata(
            Metadata::new()
                .title(title.to_owned())
                .language("en".to_owned())
                .creation_date(date(made)),
        );
        document.finish().map_err(|error| failed(format!("{error:?}")))
    }
}

/// A figure being drawn; places are from its own top left.
pub(super) struct Figure<'a> {
    paper: &'a mut Paper,
    top: f32,
    block: usize,
}

impl Figure<'_> {
    fn place(&self, (x, y): (f32, f32)) -> (f32, f32) {
        (MARGIN + x, self.top + y)
    }

    pub(super) fn line(&mut self, points: &[(f32, f32)], width: f32, grey: u8, dashed: bool) {
        let points = points.iter().map(|&point| self.place(point)).collect();
        let mark = Mark::Line {
            points,
            width,
            grey,
            dashed,
        };
        self.paper.draw(mark, Some(self.block));
    }

    /// Words, their left end (or middle, or right end, by `share` 0, 0.5, 1) at a place.
    pub(super) fn words(&mut self, at: (f32, f32), text: &str, size: f32, share: f32) {
        let (text, _) = self.paper.fonts.fit(text);
        let width = self.paper.fonts.width(&text, Weight::Regular, size);
        let (x, y) = self.place(at);
        let mark = Mark::Text {
            at: (x - share * width, y),
            text,
            weight: Weight::Regular,
            size,
        };
        self.paper.draw(mark, Some(self.block));
    }

    pub(super) fn image(&mut self, size: (f32, f32), image: Image, turn: Transform) {
        let at = self.place((0.0, 0.0));
        self.paper.draw(
            Mark::Image {
                at,
                size,
                image,
                turn,
            },
            Some(self.block),
        );
    }
}

fn put(surface: &mut Surface<'_>, mark: &Mark, fonts: &Fonts) {
    match mark {
        Mark::Text {
            at,
            text,
            weight,
            size,
        } => {
            surface.set_stroke(None);
            surface.set_fill(Some(Fill::default()));
            let start = Point::from_xy(at.0, at.1);
            surface.draw_text(
                start,
                fonts.font(*weight),
                *size,
                text,
                false,
                TextDirection::LeftToRight,
            );
        }
        Mark::Line {
            points,
            width,
            grey,
            dashed,
        } => {
            let Some(path) = path(points) else { return };
            surface.set_fill(None);
            surface.set_stroke(Some(Stroke {
                paint: luma::Color::new(*grey).into(),
                width: *width,
                dash: dashed.then(|| krilla::paint::StrokeDash {
                    array: vec![3.0, 2.0],
                    offset: 0.0,
                }),
                ..Stroke::default()
            }));
            surface.draw_path(&path);
        }
        Mark::Image {
            at,
            size,
            image,
            turn,
        } => {
            let Some(size) = Size::from_wh(size.0, size.1) else {
                return;
            };
            surface.push_transform(&Transform::from_translate(at.0, at.1));
            surface.push_transform(turn);
            surface.draw_image(image.clone(), size);
            surface.pop();
            surface.pop();
        }
    }
}

fn path(points: &[(f32, f32)]) -> Option<Path> {
    let mut builder = PathBuilder::new();
    if let [(x, y)] = *points {
        // A reading by itself is a dot.
        builder.push_rect(Rect::from_xywh(x - 0.2, y - 0.2, 0.4, 0.4)?);
        return builder.finish();
    }
    let mut points = points.iter();
    let &(x, y) = points.next()?;
    builder.move_to(x, y);
    points.for_each(|&(x, y)| builder.line_to(x, y));
    builder.finish()
}

pub(super) fn date(moment: Moment) -> DateTime {
    let text = moment.to_string();
    let part = |from: usize, to: usize| {
        text.get(from..to)
            .and_then(|part| part.parse::<u8>().ok())
            .unwrap_or(0)
    };
    let year = text.get(..4).and_then(|year| year.parse().ok()).unwrap_or(1970);
    DateTime::new(year)
        .month(part(5, 7))
        .day(part(8, 10))
        .hour(part(11, 13))
        .minute(part(14, 16))
        .second(part(17, 19))
}
