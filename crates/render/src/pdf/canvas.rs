//! Pages on which everything has its place: words, shapes and colours, with a tree of tags in reading order.

use interstice_glucose::Moment;
use krilla::color::rgb;
use krilla::configure::{Accessibility, Archival, ConfigurationBuilder};
use krilla::destination::XyzDestination;
use krilla::geom::{Path, PathBuilder, Point, Rect};
use krilla::metadata::Metadata;
use krilla::outline::{Outline, OutlineNode};
use krilla::page::PageSettings;
use krilla::paint::{Fill, FillRule, Stroke, StrokeDash};
use krilla::surface::Surface;
use krilla::tagging::{
    Artifact, ArtifactType, ContentTag, Identifier, ListNumbering, Node, SpanTag, TableHeaderScope, Tag,
    TagGroup, TagKind, TagTree,
};
use krilla::text::TextDirection;
use krilla::{Document, SerializeSettings};

use super::PdfError;
use super::font::{Fonts, Weight};
use super::paper::date;

/// A colour of the paper: red, green, blue.
pub(super) type Ink = (u8, u8, u8);

/// The colours of the house, as the style sheet has them for print (`chart/chart.css`).
pub(super) mod ink {
    use super::Ink;
    pub(crate) const BLACK: Ink = (0, 0, 0);
    pub(crate) const SOFT: Ink = (0x33, 0x33, 0x33);
    pub(crate) const RULE: Ink = (0xcc, 0xcc, 0xcc);
    pub(crate) const RULE_STRONG: Ink = (0x77, 0x77, 0x77);
    pub(crate) const NIGHT: Ink = (0xee, 0xf0, 0xf3);
    pub(crate) const SLATE_PALE: Ink = (0xe2, 0xe6, 0xeb);
    pub(crate) const SLATE: Ink = (0xb3, 0xbc, 0xc7);
    pub(crate) const INDIGO_PALE: Ink = (0xd9, 0xdb, 0xf4);
    pub(crate) const INDIGO: Ink = (0x5a, 0x5f, 0xc4);
    pub(crate) const INDIGO_DEEP: Ink = (0x2c, 0x2d, 0x83);
    pub(crate) const OCHRE_PALE: Ink = (0xf3, 0xe5, 0xc8);
    pub(crate) const OCHRE_LIGHT: Ink = (0xdf, 0xbc, 0x7c);
    pub(crate) const INDIGO_LIGHT: Ink = (0xae, 0xb1, 0xe4);
    pub(crate) const OCHRE: Ink = (0xa6, 0x71, 0x18);
    pub(crate) const OCHRE_DEEP: Ink = (0x6d, 0x45, 0x08);
}

/// How letters look.
#[derive(Clone, Copy, Debug)]
pub(super) struct Style {
    pub(super) weight: Weight,
    pub(super) size: f32,
    pub(super) ink: Ink,
}

/// Regular letters of a size.
pub(super) const fn plain(size: f32) -> Style {
    Style {
        weight: Weight::Regular,
        size,
        ink: ink::BLACK,
    }
}

/// Bold ones.
pub(super) const fn bold(size: f32) -> Style {
    Style {
        weight: Weight::Bold,
        ..plain(size)
    }
}

/// Paler ones.
pub(super) const fn soft(size: f32) -> Style {
    Style {
        ink: ink::SOFT,
        ..plain(size)
    }
}

/// A place of the tree of tags.
pub(super) type Place = Option<usize>;

enum Mark {
    Text {
        at: (f32, f32),
        text: String,
        style: Style,
    },
    Shape {
        points: Vec<(f32, f32)>,
        ink: Ink,
    },
    Line {
        points: Vec<(f32, f32)>,
        width: f32,
        ink: Ink,
        dash: Option<(f32, f32)>,
    },
    /// Slanted lines inside a shape.
    Hatch {
        points: Vec<(f32, f32)>,
        ink: Ink,
        apart: f32,
        rising: bool,
    },
}

enum Child {
    Block(usize),
    Mark(usize, usize),
}

struct Block {
    tag: TagKind,
    children: Vec<Child>,
}

pub(super) struct Canvas {
    fonts: Fonts,
    size: (f32, f32),
    pages: Vec<Vec<(Mark, Place)>>,
    blocks: Vec<Block>,
    top: Vec<usize>,
    headings: Vec<(String, usize, f32)>,
    missing: bool,
    is_measured: bool,
}

impl Canvas {
    /// With one empty page of so many points.
    pub(super) fn new(size: (f32, f32)) -> Result<Self, PdfError> {
        Ok(Canvas {
            fonts: Fonts::new()?,
            size,
            pages: vec![Vec::new()],
            blocks: Vec::new(),
            top: Vec::new(),
            headings: Vec::new(),
            missing: false,
            is_measured: false,
        })
    }

    /// While it is only measured, nothing is drawn.
    pub(super) fn measured(&mut self, is_measured: bool) {
        self.is_measured = is_measured;
    }

    /// Whether a character had to be left out.
    pub(super) fn has_missing(&self) -> bool {
        self.missing
    }

    pub(super) fn next_page(&mut self) {
        self.pages.push(Vec::new());
    }

    /// A block of the tree, inside another or at its top; read in the order they are made.
    pub(super) fn block(&mut self, within: Place, tag: impl Into<TagKind>) -> Place {
        if self.is_measured {
            return None;
        }
        self.blocks.push(Block {
            tag: tag.into(),
            children: Vec::new(),
        });
        let block = self.blocks.len() - 1;
        match within {
            Some(within) => self.blocks[within].children.push(Child::Block(block)),
            None => self.top.push(block),
        }
        Some(block)
    }

    pub(super) fn paragraph(&mut self) -> Place {
        self.block(None, Tag::P)
    }

    /// A heading, which stands in the outline too.
    pub(super) fn heading(&mut self, level: u16, text: &str, y: f32) -> Place {
        let (text, _) = self.fonts.fit(text);
        if !self.is_measured {
            self.headings.push((text.clone(), self.pages.len() - 1, y));
        }
        let level = std::num::NonZeroU16::new(level).unwrap_or(std::num::NonZeroU16::MIN);
        self.block(None, Tag::Hn(level, Some(text)))
    }

    pub(super) fn figure(&mut self, alt: &str) -> Place {
        self.block(None, Tag::Figure(Some(alt.to_owned())))
    }

    pub(super) fn list(&mut self, numbered: bool) -> Place {
        let numbering = if numbered {
            ListNumbering::Decimal
        } else {
            ListNumbering::Square
        };
        self.block(None, Tag::L(numbering))
    }

    /// An item of a list: its label and its words.
    pub(super) fn item(&mut self, list: Place) -> (Place, Place) {
        let item = self.block(list, Tag::LI);
        (self.block(item, Tag::Lbl), self.block(item, Tag::LBody))
    }

    /// A cell of a table: what heads a column or a row, or what stands in it.
    pub(super) fn cell(&mut self, row: Place, heads: Option<TableHeaderScope>) -> Place {
        match heads {
            Some(scope) => self.block(row, Tag::TH(scope)),
            None => self.block(row, Tag::TD),
        }
    }

    fn draw(&mut self, mark: Mark, place: Place) {
        if self.is_measured {
            return;
        }
        let number = self.pages.len() - 1;
        let page = &mut self.pages[number];
        page.push((mark, place));
        if let Some(block) = place {
            self.blocks[block]
                .children
                .push(Child::Mark(number, page.len() - 1));
        }
    }

    /// Words from a place on, their baseline at `at.1`; a space follows them where they are read.
    pub(super) fn words(&mut self, at: (f32, f32), text: &str, style: Style, place: Place) {
        let (mut text, missing) = self.fonts.fit(text);
        self.missing |= missing;
        text.push(' ');
        self.draw(Mark::Text { at, text, style }, place);
    }

    /// The same, their right end at a place.
    pub(super) fn words_to(&mut self, at: (f32, f32), text: &str, style: Style, place: Place) {
        let width = self.width(text, style);
        self.words((at.0 - width, at.1), text, style, place);
    }

    /// The same, their middle at a place.
    pub(super) fn words_on(&mut self, at: (f32, f32), text: &str, style: Style, place: Place) {
        let width = self.width(text, style);
        self.words((at.0 - 0.5 * width, at.1), text, style, place);
    }

    pub(super) fn width(&self, text: &str, style: Style) -> f32 {
        let (text, _) = self.fonts.fit(text);
        self.fonts.width(&text, style.weight, style.size)
    }

    /// Lines no wider than so much.
    pub(super) fn wrapped(&self, text: &str, style: Style, width: f32) -> Vec<String> {
        let (text, _) = self.fonts.fit(text);
        self.fonts.wrap(&text, style.weight, style.size, width)
    }

    /// At most so many lines, the last ending in '…' where words are left over.
    pub(super) fn wrapped_at_most(&self, text: &str, style: Style, width: f32, most: usize) -> Vec<String> {
        let mut lines = self.wrapped(text, style, width);
        if lines.len() > most {
            lines.truncate(most.max(1));
            if let Some(last) = lines.last_mut() {
                let rest = format!("{last} …");
                *last = self.shortened(&rest, style, width);
            }
        }
        lines
    }

    /// The text, or its beginning with '…', no wider than so much.
    pub(super) fn shortened(&self, text: &str, style: Style, width: f32) -> String {
        let (text, _) = self.fonts.fit(text);
        if self.width(&text, style) <= width {
            return text;
        }
        let mut short = text.trim_end_matches('…').trim_end().to_owned();
        while !short.is_empty() && self.width(&format!("{short}…"), style) > width {
            short.pop();
        }
        format!("{}…", short.trim_end())
    }

    pub(super) fn rect(&mut self, (x, y): (f32, f32), (width, height): (f32, f32), ink: Ink, place: Place) {
        let points = corners((x, y), (width, height));
        self.shape(points, ink, place);
    }

    pub(super) fn shape(&mut self, points: Vec<(f32, f32)>, ink: Ink, place: Place) {
        if points.len() > 2 {
            self.draw(Mark::Shape { points, ink }, place);
        }
    }

    pub(super) fn hatch(
        &mut self,
        points: Vec<(f32, f32)>,
        ink: Ink,
        (apart, rising): (f32, bool),
        place: Place,
    ) {
        if points.len() > 2 {
            self.draw(
                Mark::Hatch {
                    points,
                    ink,
                    apart,
                    rising,
                },
                place,
            );
        }
    }

    pub(super) fn line(&mut self, points: &[(f32, f32)], width: f32, ink: Ink, place: Place) {
        self.dashed(points, width, ink, None, place);
    }

    pub(super) fn dashed(
        &mut self,
        points: &[(f32, f32)],
        width: f32,
        ink: Ink,
        dash: Option<(f32, f32)>,
        place: Place,
    ) {
        if points.len() > 1 {
            let points = points.to_vec();
            self.draw(
                Mark::Line {
                    points,
                    width,
                    ink,
                    dash,
                },
                place,
            );
        }
    }

    /// The file: archival PDF/A-2a and accessible PDF/UA-1 at once; it is refused where it would break either.
    pub(super) fn finish(self, title: &str, made: Moment) -> Result<Vec<u8>, PdfError> {
        let failed = |what: String| PdfError(what);
        let configuration = ConfigurationBuilder::new()
            .with_archival_validator(Archival::A2_A)
            .with_accessibility_validator(Accessibility::UA1)
            .finish()
            .map_err(|error| failed(format!("{error:?}")))?;
        let mut document = Document::new_with(SerializeSettings {
            configuration,
            enable_tagging: true,
            ..SerializeSettings::default()
        });
        let size = PageSettings::from_wh(self.size.0, self.size.1);
        let size = size.ok_or_else(|| failed("a page has no size".to_owned()))?;
        let mut drawn: Vec<Vec<Option<Identifier>>> = Vec::new();
        for marks in &self.pages {
            let mut page = document.start_page_with(size.clone());
            let mut surface = page.surface();
            let mut identifiers = Vec::with_capacity(marks.len());
            for (mark, place) in marks {
                let tag = match (mark, place) {
                    (_, None) => ContentTag::Artifact(Artifact::with_kind(ArtifactType::Layout)),
                    (Mark::Text { .. }, Some(_)) => ContentTag::Span(SpanTag::empty()),
                    (_, Some(_)) => ContentTag::Other,
                };
                let identifier = surface.start_tagged(tag);
                put(&mut surface, mark, &self.fonts);
                surface.end_tagged();
                identifiers.push(place.map(|_| identifier));
            }
            surface.finish();
            page.finish();
            drawn.push(identifiers);
        }
        let mut tree = TagTree::new().with_lang(Some("en".to_owned()));
        for &block in &self.top {
            tree.push(self.group(block, &mut drawn));
        }
        document.set_tag_tree(tree);
        let mut outline = Outline::new();
        for (text, page, y) in &self.headings {
            let destination = XyzDestination::new(*page, Point::from_xy(0.0, *y));
            outline.push_child(OutlineNode::new(text.clone(), destination));
        }
        document.set_outline(outline);
        document.set_metadata(
            Metadata::new()
                .title(title.to_owned())
                .language("en".to_owned())
                .creation_date(date(made)),
        );
        document.finish().map_err(|error| failed(format!("{error:?}")))
    }

    /// A block with all that is in it.
    fn group(&self, block: usize, drawn: &mut [Vec<Option<Identifier>>]) -> TagGroup {
        let Block { tag, children } = &self.blocks[block];
        let mut group = TagGroup::new(tag.clone());
        for child in children {
            match child {
                Child::Block(inner) => group.push(Node::Group(self.group(*inner, drawn))),
                Child::Mark(page, mark) => {
                    if let Some(identifier) = drawn[*page][*mark].take() {
                        group.push(identifier);
                    }
                }
            }
        }
        group
    }
}

/// The corners of a rectangle.
pub(super) fn corners((x, y): (f32, f32), (width, height): (f32, f32)) -> Vec<(f32, f32)> {
    vec![(x, y), (x + width, y), (x + width, y + height), (x, y + height)]
}

fn put(surface: &mut Surface<'_>, mark: &Mark, fonts: &Fonts) {
    match mark {
        Mark::Text { at, text, style } => {
            surface.set_stroke(None);
            surface.set_fill(Some(fill(style.ink)));
            let start = Point::from_xy(at.0, at.1);
            let (font, direction) = (fonts.font(style.weight), TextDirection::LeftToRight);
            surface.draw_text(start, font, style.size, text, false, direction);
        }
        Mark::Shape { points, ink } => {
            let Some(path) = path(points, true) else { return };
            surface.set_stroke(None);
            surface.set_fill(Some(fill(*ink)));
            surface.draw_path(&path);
        }
        Mark::Line {
            points,
            width,
            ink,
            dash,
        } => {
            let Some(path) = path(points, false) else { return };
            surface.set_fill(None);
            surface.set_stroke(Some(Stroke {
                dash: dash.map(|(on, off)| StrokeDash {
                    array: vec![on, off],
                    offset: 0.0,
                }),
                ..stroke(*ink, *width)
            }));
            surface.draw_path(&path);
        }
        Mark::Hatch {
            points,
            ink,
            apart,
            rising,
        } => {
            let Some(clip) = path(points, true) else { return };
            let Some(lines) = slanted(points, *apart, *rising) else {
                return;
            };
            surface.push_clip_path(&clip, &FillRule::NonZero);
            surface.set_fill(None);
            surface.set_stroke(Some(stroke(*ink, 0.55)));
            surface.draw_path(&lines);
            surface.pop();
        }
    }
}

fn fill(ink: Ink) -> Fill {
    Fill {
        paint: rgb::Color::new(ink.0, ink.1, ink.2).into(),
        ..Fill::default()
    }
}

fn stroke(ink: Ink, width: f32) -> Stroke {
    Stroke {
        paint: rgb::Color::new(ink.0, ink.1, ink.2).into(),
        width,
        ..Stroke::default()
    }
}

fn path(points: &[(f32, f32)], closed: bool) -> Option<Path> {
    let mut builder = PathBuilder::new();
    let mut points = points.iter();
    let &(x, y) = points.next()?;
    builder.move_to(x, y);
    points.for_each(|&(x, y)| builder.line_to(x, y));
    if closed {
        builder.close();
    }
    builder.finish()
}

/// Lines at 45 degrees over the box around a shape.
fn slanted(points: &[(f32, f32)], apart: f32, rising: bool) -> Option<Path> {
    let (mut left, mut top) = (f32::MAX, f32::MAX);
    let (mut right, mut bottom) = (f32::MIN, f32::MIN);
    for &(x, y) in points {
        (left, right) = (left.min(x), right.max(x));
        (top, bottom) = (top.min(y), bottom.max(y));
    }
    let around = Rect::from_ltrb(left, top, right, bottom)?;
    let (height, step) = (around.height(), apart * std::f32::consts::SQRT_2);
    let mut builder = PathBuilder::new();
    // On one grid, so that shapes side by side have lines that meet.
    let mut x = ((left - height) / step).floor() * step;
    while x < right {
        let (from, to) = if rising { (bottom, top) } else { (top, bottom) };
        builder.move_to(x, from);
        builder.line_to(x + height, to);
        x += step;
    }
    builder.finish()
}
