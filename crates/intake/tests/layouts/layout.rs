//! One way of writing a recording down.

use interstice_glucose::Unit;

use crate::common::dice::Dice;
use crate::words::LANGUAGES;

/// How entries of several sorts stand together.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Shape {
    GlucoseOnly,
    /// A column says what each row is.
    ByKind,
    /// Each sort has a column.
    ByColumn,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Code {
    Utf8,
    Utf8Marked,
    LittleMarked,
    BigMarked,
    Little,
    Big,
    Western,
}

/// Dates; the mark between the numbers where there is a choice.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum DateStyle {
    Iso,
    IsoOffset,
    DayFirst(char),
    MonthFirst(char),
    EpochSeconds,
    EpochMillis,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum UnitPlace {
    Heading,
    Column,
    /// In a line above the headings.
    Above,
    /// Only the values tell.
    Nowhere,
    /// The heading names the wrong one.
    WrongHeading,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Quoting {
    Needed,
    Text,
    All,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Container {
    Plain,
    Gzip,
    Zip,
    /// Spreadsheets, with real date cells or with dates as text.
    Xlsx {
        typed: bool,
    },
    Ods {
        typed: bool,
    },
}

#[derive(Clone, Debug)]
pub(crate) struct Layout {
    pub(crate) language: usize,
    pub(crate) headed: bool,
    pub(crate) shape: Shape,
    pub(crate) code: Code,
    pub(crate) delimiter: char,
    pub(crate) line_end: &'static str,
    pub(crate) quoting: Quoting,
    pub(crate) date: DateStyle,
    /// '07.03.2025' rather than '7.3.2025'.
    pub(crate) zeros: bool,
    pub(crate) short_year: bool,
    pub(crate) clock12: bool,
    pub(crate) seconds: bool,
    /// Date and time in columns of their own.
    pub(crate) split: bool,
    /// Days in rows of their own above the rows of each.
    pub(crate) under: bool,
    pub(crate) comma: bool,
    pub(crate) unit_place: UnitPlace,
    pub(crate) preamble: bool,
    pub(crate) trailer: bool,
    /// Lines beside the table are padded with delimiters to its width.
    pub(crate) padded: bool,
    pub(crate) newest_first: bool,
    /// A row number before and a serial number behind.
    pub(crate) extras: bool,
    pub(crate) container: Container,
    /// Which of several words is used.
    pub(crate) word: usize,
}

impl Layout {
    pub(crate) fn draw(dice: &mut Dice) -> Layout {
        let shape = dice.pick(&[Shape::GlucoseOnly, Shape::ByKind, Shape::ByColumn]);
        let headed = shape != Shape::GlucoseOnly || !dice.once_in(6);
        let container = match dice.between(0, 9) {
            0 => Container::Gzip,
            1 => Container::Zip,
            2 | 3 => Container::Xlsx {
                typed: dice.once_in(2),
            },
            4 => Container::Ods {
                typed: dice.once_in(2),
            },
            _ => Container::Plain,
        };
        let mut layout = Layout {
            language: dice.between(0, LANGUAGES.len() as i64 - 1) as usize,
            headed,
            shape,
            code: dice.pick(&[
                Code::Utf8,
                Code::Utf8,
                Code::Utf8Marked,
                Code::LittleMarked,
                Code::BigMarked,
                Code::Little,
                Code::Big,
                Code::Western,
            ]),
            delimiter: dice.pick(&[',', ';', '\t', '|']),
            line_end: dice.pick(&["\n", "\r\n"]),
            quoting: dice.pick(&[Quoting::Needed, Quoting::Needed, Quoting::Text, Quoting::All]),
            date: date_style(dice),
            zeros: !dice.once_in(3),
            short_year: dice.once_in(5),
            clock12: dice.once_in(4),
            seconds: dice.once_in(2),
            split: dice.once_in(3),
            under: dice.once_in(4),
            comma: dice.once_in(3),
            unit_place: dice.pick(&[
                UnitPlace::Heading,
                UnitPlace::Heading,
                UnitPlace::Column,
                UnitPlace::Above,
                UnitPlace::Nowhere,
            ]),
            preamble: dice.once_in(3),
            trailer: dice.once_in(5),
            padded: dice.once_in(3),
            newest_first: dice.once_in(5),
            extras: dice.once_in(4),
            container,
            word: dice.between(0, 5) as usize,
        };
        if dice.once_in(25) {
            layout.unit_place = UnitPlace::WrongHeading;
        }
        layout.reconcile();
        layout
    }

    /// Drops what cannot go together.
    fn reconcile(&mut self) {
        let is_epoch = matches!(self.date, DateStyle::EpochSeconds | DateStyle::EpochMillis);
        if is_epoch || self.date == DateStyle::IsoOffset {
            self.split = false;
            self.clock12 = false;
        }
        self.under &= self.split;
        if !self.headed {
            self.extras = false;
        }
        let no_heading = !self.headed || self.shape == Shape::ByKind;
        if no_heading && matches!(self.unit_place, UnitPlace::Heading | UnitPlace::WrongHeading) {
            self.unit_place = UnitPlace::Nowhere;
        }
        if self.unit_place == UnitPlace::Above {
            self.preamble = true;
        }
    }

    /// Times are told to the minute.
    pub(crate) fn whole_minutes(&self) -> bool {
        !self.seconds && !matches!(self.date, DateStyle::EpochSeconds | DateStyle::EpochMillis)
    }

    pub(crate) fn one_of(&self, words: &'static [&'static str]) -> &'static str {
        words[self.word % words.len()]
    }

    /// The unit that the file names.
    pub(crate) fn named_unit(&self, unit: Unit) -> &'static str {
        let wrong = self.unit_place == UnitPlace::WrongHeading;
        match (unit, wrong) {
            (Unit::MgPerDl, false) | (Unit::MmolPerL, true) => ["mg/dL", "mg/dl"][self.word % 2],
            _ => ["mmol/L", "mmol/l"][self.word % 2],
        }
    }
}

fn date_style(dice: &mut Dice) -> DateStyle {
    match dice.between(0, 9) {
        0 | 1 => DateStyle::Iso,
        2 => DateStyle::IsoOffset,
        3..=5 => DateStyle::DayFirst(dice.pick(&['.', '/', '-'])),
        6 | 7 => DateStyle::MonthFirst(dice.pick(&['/', '/', '-'])),
        8 => DateStyle::EpochSeconds,
        _ => DateStyle::EpochMillis,
    }
}
