//! A table as comma-separated text (RFC 4180): UTF-8, a heading row, lines that end in CR LF.

use interstice_glucose::Second;
use jiff::Timestamp;

use crate::table::{Cells, Table};

/// The bytes of the file. An empty cell is nothing known; a text that is empty reads back as nothing known.
pub(crate) fn bytes(table: &Table) -> Result<Vec<u8>, csv::Error> {
    let mut writer = csv::WriterBuilder::new()
        .terminator(csv::Terminator::CRLF)
        .from_writer(Vec::new());
    writer.write_record(table.columns.iter().map(|column| column.name))?;
    for row in 0..table.rows {
        for column in &table.columns {
            writer.write_field(cell(&column.cells, row))?;
        }
        writer.write_record(None::<&[u8]>)?;
    }
    writer
        .into_inner()
        .map_err(|error| csv::Error::from(error.into_error()))
}

fn cell(cells: &Cells, row: usize) -> String {
    match cells {
        Cells::Text(cells) => cells[row].clone(),
        Cells::Whole(cells) => cells[row].map(|number| number.to_string()),
        // The shortest decimal that is this very number.
        Cells::Real(cells) => cells[row].map(|number| number.to_string()),
        Cells::Instant(cells) => cells[row].map(instant),
        Cells::YesNo(cells) => cells[row].map(|yes| yes.to_string()),
    }
    .unwrap_or_default()
}

/// '2026-03-01T07:30:00Z'; seconds since 1970 where no calendar reaches.
pub(crate) fn instant(at: Second) -> String {
    Timestamp::from_second(at).map_or_else(|_| at.to_string(), |stamp| stamp.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_are_quoted_where_they_must_be() {
        let things = [("a,b", Some(0.1), 0), ("say \"x\"\nthen", None, 1_772_350_200)];
        let table = Table::of("t", "", &things)
            .text("words", "", |it| Some(it.0))
            .real("number", "", |it| it.1)
            .instant("time_utc", "", |it| Some(it.2))
            .made();
        let text = String::from_utf8(bytes(&table).unwrap()).unwrap();
        assert_eq!(
            text,
            "words,number,time_utc\r\n\"a,b\",0.1,1970-01-01T00:00:00Z\r\n\
             \"say \"\"x\"\"\nthen\",,2026-03-01T07:30:00Z\r\n"
        );
    }
}
