//! A recording written down in a layout.

use interstice_glucose::{InsulinKind, Said, Second};
use jiff::civil::DateTime;

use crate::common::sheets::{OdsCell, gzipped, ods, zipped};
use crate::layout::{Code, Container, DateStyle, Layout, Quoting, Shape, UnitPlace};
use crate::recording::{Recording, What};
use crate::words::{LANGUAGES, Words};

/// A cell before it is written.
#[derive(Clone, Debug)]
pub(crate) enum Cell {
    Empty,
    Text(String),
    /// Digits, and how many of them stand after the mark.
    Number(i64, u8),
    Moment(Second, i32),
    Date(Second),
    Clock(Second),
    Epoch(i64),
}

/// A file: its name, its bytes, and how many rows of data it holds.
pub(crate) struct Written {
    pub(crate) name: String,
    pub(crate) bytes: Vec<u8>,
    pub(crate) rows: u64,
}

pub(crate) fn write(recording: &Recording, layout: &Layout) -> Written {
    let words = &LANGUAGES[layout.language];
    let (rows, data) = Table {
        recording,
        layout,
        words,
    }
    .rows();
    let (name, bytes) = contain(layout, &rows);
    Written {
        name,
        bytes,
        rows: data,
    }
}

/// A table on its way to rows of cells.
struct Table<'a> {
    recording: &'a Recording,
    layout: &'a Layout,
    words: &'static Words,
}

fn text(text: &str) -> Cell {
    Cell::Text(text.to_owned())
}

impl Table<'_> {
    fn rows(&self) -> (Vec<Vec<Cell>>, u64) {
        let mut data = match self.layout.shape {
            Shape::GlucoseOnly | Shape::ByKind => self
                .recording
                .entries
                .iter()
                .map(|(at, what)| self.single(*at, what))
                .collect(),
            Shape::ByColumn => self.by_column(),
        };
        if self.layout.newest_first {
            data.reverse();
        }
        let count = data.len() as u64;
        let mut headings = self.headings();
        if self.layout.extras {
            headings.insert(0, text("No."));
            headings.push(text("Serial number"));
            for (number, row) in data.iter_mut().enumerate() {
                row.insert(0, Cell::Number(number as i64 + 1, 0));
                row.push(text("AX-90210"));
            }
        }
        if self.layout.under {
            let date = usize::from(self.layout.extras);
            headings.remove(date);
            data = under_days(data, date);
        }
        let width = headings.len();
        let mut rows = self.preamble();
        if self.layout.headed {
            rows.push(headings);
        }
        rows.append(&mut data);
        if self.layout.trailer {
            rows.push(vec![text(self.words.end)]);
        }
        if self.layout.padded {
            rows.iter_mut()
                .for_each(|row| row.resize(width.max(row.len()), Cell::Empty));
        }
        (rows, count)
    }

    fn preamble(&self) -> Vec<Vec<Cell>> {
        let mut rows = Vec::new();
        if self.layout.preamble {
            rows.push(vec![text(self.words.title)]);
            if let (Some(first), Some(last)) = (self.recording.entries.first(), self.recording.entries.last())
            {
                let wall = |at| Cell::Date(at + i64::from(self.recording.zone.offset_s(at)));
                rows.push(vec![wall(first.0), wall(last.0)]);
            }
            if self.layout.unit_place == UnitPlace::Above {
                let unit = self.layout.named_unit(self.recording.unit);
                rows.push(vec![text(&format!(
                    "{}: {unit}",
                    self.layout.one_of(self.words.unit)
                ))]);
            }
            rows.push(vec![Cell::Empty]);
        }
        rows
    }

    fn headings(&self) -> Vec<Cell> {
        let (layout, words) = (self.layout, self.words);
        let word = |slot| layout.one_of(slot);
        let glucose = |slot| match layout.unit_place {
            UnitPlace::Heading | UnitPlace::WrongHeading => {
                let (open, close) = [(" (", ")"), (" [", "]"), (" ", "")][layout.word % 3];
                format!(
                    "{}{open}{}{close}",
                    word(slot),
                    layout.named_unit(self.recording.unit)
                )
            }
            _ => word(slot).to_owned(),
        };
        let mut out = if layout.split {
            vec![text(word(words.date)), text(word(words.clock))]
        } else {
            vec![text(word(words.moment))]
        };
        match layout.shape {
            Shape::GlucoseOnly => out.push(Cell::Text(glucose(words.glucose))),
            Shape::ByKind => out.extend([word(words.kind), word(words.value), word(words.note)].map(text)),
            Shape::ByColumn => {
                out.extend([words.sensor, words.scan, words.blood].map(|slot| Cell::Text(glucose(slot))));
                out.extend(
                    [words.rapid, words.long, words.carbohydrate, words.note].map(|slot| text(word(slot))),
                );
            }
        }
        if layout.unit_place == UnitPlace::Column {
            out.push(text(word(words.unit)));
        }
        out
    }

    fn time(&self, at: Second) -> Vec<Cell> {
        let offset = self.recording.zone.offset_s(at);
        let wall = at + i64::from(offset);
        match self.layout.date {
            DateStyle::EpochSeconds => vec![Cell::Epoch(at)],
            DateStyle::EpochMillis => vec![Cell::Epoch(at * 1000)],
            _ if self.layout.split => vec![Cell::Date(wall), Cell::Clock(wall)],
            _ => vec![Cell::Moment(wall, offset)],
        }
    }

    fn single(&self, at: Second, what: &What) -> Vec<Cell> {
        let (kind, value, unit, note) = self.parts(what);
        let mut row = self.time(at);
        if self.layout.shape == Shape::ByKind {
            row.extend([text(self.words.kinds[kind]), value, note]);
        } else {
            row.push(value);
        }
        if self.layout.unit_place == UnitPlace::Column {
            row.push(unit);
        }
        row
    }

    /// Which kind, the value, its unit, words.
    fn parts(&self, what: &What) -> (usize, Cell, Cell, Cell) {
        let glucose_unit = || text(self.layout.named_unit(self.recording.unit));
        match what {
            What::Automatic(said) => (
                0,
                number(*said, self.recording.decimals),
                glucose_unit(),
                Cell::Empty,
            ),
            What::Scan(said) => (
                1,
                number(*said, self.recording.decimals),
                glucose_unit(),
                Cell::Empty,
            ),
            What::Blood(said) => (
                2,
                number(*said, self.recording.decimals),
                glucose_unit(),
                Cell::Empty,
            ),
            What::Dose(InsulinKind::Rapid, tenths) => (3, Cell::Number(*tenths, 1), text("U"), Cell::Empty),
            What::Dose(_, tenths) => (4, Cell::Number(*tenths, 1), text("U"), Cell::Empty),
            What::Carbohydrate(grams) => (5, Cell::Number(*grams, 0), text("g"), Cell::Empty),
            What::Note(note) => (6, Cell::Empty, Cell::Empty, text(note)),
        }
    }

    /// One row an instant.
    fn by_column(&self) -> Vec<Vec<Cell>> {
        let mut rows: Vec<(Second, Vec<Cell>)> = Vec::new();
        for (at, what) in &self.recording.entries {
            if rows.last().is_none_or(|(last, _)| last != at) {
                let mut row = self.time(*at);
                row.extend(vec![Cell::Empty; 7]);
                if self.layout.unit_place == UnitPlace::Column {
                    row.push(text(self.layout.named_unit(self.recording.unit)));
                }
                rows.push((*at, row));
            }
            let (kind, value, _, note) = self.parts(what);
            let first = self.time(*at).len();
            let (place, cell) = match kind {
                6 => (6, note),
                kind => (kind, value),
            };
            if let Some((_, row)) = rows.last_mut() {
                row[first + place] = cell;
            }
        }
        rows.into_iter().map(|(_, row)| row).collect()
    }
}

/// Rows without their dates, each day's below a row that holds its date alone.
fn under_days(rows: Vec<Vec<Cell>>, date: usize) -> Vec<Vec<Cell>> {
    let (mut out, mut last) = (Vec::new(), None);
    for mut row in rows {
        let cell = row.remove(date);
        if let Cell::Date(wall) = cell
            && last.replace(wall.div_euclid(86_400)) != Some(wall.div_euclid(86_400))
        {
            out.push(vec![cell]);
        }
        out.push(row);
    }
    out
}

/// Glucose with all the decimals that a device shows.
fn number(said: Said, decimals: u8) -> Cell {
    let missing = u32::from(decimals - said.decimals());
    Cell::Number(said.mantissa() * 10_i64.pow(missing), decimals)
}

fn civil(wall: Second) -> DateTime {
    interstice_glucose::WallTime(wall).civil().unwrap()
}

pub(crate) fn date_text(wall: Second, layout: &Layout) -> String {
    let at = civil(wall);
    let (year, month, day) = (at.year(), at.month(), at.day());
    let short = |n: i8| {
        if layout.zeros {
            format!("{n:02}")
        } else {
            n.to_string()
        }
    };
    let year_text = if layout.short_year {
        format!("{:02}", year % 100)
    } else {
        year.to_string()
    };
    match layout.date {
        DateStyle::DayFirst(mark) => format!("{}{mark}{}{mark}{year_text}", short(day), short(month)),
        DateStyle::MonthFirst(mark) => format!("{}{mark}{}{mark}{year_text}", short(month), short(day)),
        _ => format!("{year}-{month:02}-{day:02}"),
    }
}

fn clock_text(wall: Second, layout: &Layout) -> String {
    let at = civil(wall);
    let seconds = if layout.seconds {
        format!(":{:02}", at.second())
    } else {
        String::new()
    };
    if !layout.clock12 {
        return format!("{:02}:{:02}{seconds}", at.hour(), at.minute());
    }
    let (hour, half) = (at.hour() % 12, if at.hour() < 12 { "AM" } else { "PM" });
    let hour = if hour == 0 { 12 } else { hour };
    let hour = if layout.zeros {
        format!("{hour:02}")
    } else {
        hour.to_string()
    };
    format!("{hour}:{:02}{seconds} {half}", at.minute())
}

fn moment_text(wall: Second, offset: i32, layout: &Layout) -> String {
    let (date, clock) = (date_text(wall, layout), clock_text(wall, layout));
    match layout.date {
        DateStyle::IsoOffset => {
            let sign = if offset < 0 { '-' } else { '+' };
            let minutes = offset.abs() / 60;
            format!("{date}T{clock}{sign}{:02}:{:02}", minutes / 60, minutes % 60)
        }
        DateStyle::Iso if !layout.clock12 && layout.word.is_multiple_of(2) => format!("{date}T{clock}"),
        _ => format!("{date} {clock}"),
    }
}

fn number_text(mantissa: i64, decimals: u8, comma: bool) -> String {
    if decimals == 0 {
        return mantissa.to_string();
    }
    let (mark, scale) = (if comma { ',' } else { '.' }, 10_i64.pow(u32::from(decimals)));
    format!(
        "{}{mark}{:0width$}",
        mantissa / scale,
        mantissa % scale,
        width = usize::from(decimals)
    )
}

fn cell_text(cell: &Cell, layout: &Layout) -> String {
    match cell {
        Cell::Empty => String::new(),
        Cell::Text(text) => text.clone(),
        Cell::Number(mantissa, decimals) => number_text(*mantissa, *decimals, layout.comma),
        Cell::Moment(wall, offset) => moment_text(*wall, *offset, layout),
        Cell::Date(wall) => date_text(*wall, layout),
        Cell::Clock(wall) => clock_text(*wall, layout),
        Cell::Epoch(number) => number.to_string(),
    }
}

fn delimited(layout: &Layout, rows: &[Vec<Cell>]) -> String {
    let mut out = String::new();
    for row in rows {
        for (i, cell) in row.iter().enumerate() {
            if i > 0 {
                out.push(layout.delimiter);
            }
            let text = cell_text(cell, layout);
            let needed = text.contains([layout.delimiter, '"', '\n']);
            let wanted = match layout.quoting {
                Quoting::Needed => false,
                Quoting::Text => matches!(cell, Cell::Text(_)),
                Quoting::All => true,
            };
            if needed || wanted {
                out.push_str(&format!("\"{}\"", text.replace('"', "\"\"")));
            } else {
                out.push_str(&text);
            }
        }
        out.push_str(layout.line_end);
    }
    out
}

fn encoded(text: &str, code: Code) -> Vec<u8> {
    let little = || text.encode_utf16().flat_map(u16::to_le_bytes);
    let big = || text.encode_utf16().flat_map(u16::to_be_bytes);
    match code {
        Code::Utf8 => text.as_bytes().to_vec(),
        Code::Utf8Marked => [b"\xef\xbb\xbf", text.as_bytes()].concat(),
        Code::Little => little().collect(),
        Code::Big => big().collect(),
        Code::LittleMarked => [0xff, 0xfe].into_iter().chain(little()).collect(),
        Code::BigMarked => [0xfe, 0xff].into_iter().chain(big()).collect(),
        Code::Western => encoding_rs::WINDOWS_1252.encode(text).0.into_owned(),
    }
}

fn contain(layout: &Layout, rows: &[Vec<Cell>]) -> (String, Vec<u8>) {
    let plain = || encoded(&delimited(layout, rows), layout.code);
    match layout.container {
        Container::Plain => ("export.csv".to_owned(), plain()),
        Container::Gzip => ("export.csv.gz".to_owned(), gzipped(&plain())),
        Container::Zip => ("export.zip".to_owned(), zipped(&[("data/export.csv", &plain())])),
        Container::Xlsx { typed } => ("export.xlsx".to_owned(), xlsx(layout, rows, typed)),
        Container::Ods { typed } => ("export.ods".to_owned(), ods_file(layout, rows, typed)),
    }
}

/// By a general-purpose writer of spreadsheets.
fn xlsx(layout: &Layout, rows: &[Vec<Cell>], typed: bool) -> Vec<u8> {
    use rust_xlsxwriter::{ExcelDateTime, Format, Workbook};
    let mut workbook = Workbook::new();
    let sheet = workbook.add_worksheet();
    let formats = ["yyyy-mm-dd hh:mm:ss", "yyyy-mm-dd", "hh:mm:ss"].map(|f| Format::new().set_num_format(f));
    let date = |wall: Second| ExcelDateTime::from_timestamp(wall).unwrap();
    for (r, row) in rows.iter().enumerate() {
        for (c, cell) in row.iter().enumerate() {
            let (r, c) = (r as u32, c as u16);
            let moment_typed = typed && layout.date != DateStyle::IsoOffset;
            match cell {
                Cell::Empty => continue,
                Cell::Number(mantissa, decimals) => {
                    sheet.write_number(r, c, *mantissa as f64 / 10f64.powi(i32::from(*decimals)))
                }
                Cell::Epoch(number) => sheet.write_number(r, c, *number as f64),
                Cell::Moment(wall, _) if moment_typed => {
                    sheet.write_datetime_with_format(r, c, date(*wall), &formats[0])
                }
                Cell::Date(wall) if typed => {
                    sheet.write_datetime_with_format(r, c, date(wall - wall.rem_euclid(86_400)), &formats[1])
                }
                Cell::Clock(wall) if typed => {
                    sheet.write_datetime_with_format(r, c, clock(*wall), &formats[2])
                }
                cell => sheet.write_string(r, c, cell_text(cell, layout)),
            }
            .unwrap();
        }
    }
    workbook.save_to_buffer().unwrap()
}

fn clock(wall: Second) -> rust_xlsxwriter::ExcelDateTime {
    let at = civil(wall);
    rust_xlsxwriter::ExcelDateTime::from_hms(at.hour() as u16, at.minute() as u8, at.second() as u8).unwrap()
}

fn ods_file(layout: &Layout, rows: &[Vec<Cell>], typed: bool) -> Vec<u8> {
    let cells = |row: &Vec<Cell>| row.iter().map(|cell| ods_cell(cell, layout, typed)).collect();
    ods(&[("Sheet1", rows.iter().map(cells).collect())])
}

fn ods_cell(cell: &Cell, layout: &Layout, typed: bool) -> OdsCell {
    match cell {
        Cell::Empty => OdsCell::Empty,
        Cell::Number(mantissa, decimals) => OdsCell::Number(number_text(*mantissa, *decimals, false)),
        Cell::Epoch(number) => OdsCell::Number(number.to_string()),
        Cell::Moment(wall, _) if typed && layout.date != DateStyle::IsoOffset => {
            OdsCell::Date(civil(*wall).strftime("%Y-%m-%dT%H:%M:%S").to_string())
        }
        Cell::Date(wall) if typed => OdsCell::Date(civil(*wall).strftime("%Y-%m-%d").to_string()),
        Cell::Clock(wall) if typed => OdsCell::Time(civil(*wall).strftime("PT%HH%MM%SS").to_string()),
        cell => OdsCell::Text(cell_text(cell, layout)),
    }
}
