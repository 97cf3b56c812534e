//! Archives and OpenDocument sheets, written by hand.

use std::io::{Cursor, Write};

/// A cell of an OpenDocument sheet, its value as the file spells it.
pub(crate) enum OdsCell {
    Empty,
    Text(String),
    Number(String),
    /// `2025-03-07` or `2025-03-07T15:04:00`.
    Date(String),
    /// `PT15H04M00S`.
    Time(String),
}

/// A sheet's name and its rows.
pub(crate) type OdsSheet = (&'static str, Vec<Vec<OdsCell>>);

pub(crate) fn zipped(members: &[(&str, &[u8])]) -> Vec<u8> {
    let mut zip = zip::ZipWriter::new(Cursor::new(Vec::new()));
    for (name, bytes) in members {
        zip.start_file(*name, zip::write::SimpleFileOptions::default())
            .unwrap();
        zip.write_all(bytes).unwrap();
    }
    zip.finish().unwrap().into_inner()
}

pub(crate) fn gzipped(bytes: &[u8]) -> Vec<u8> {
    let mut gzip = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
    gzip.write_all(bytes).unwrap();
    gzip.finish().unwrap()
}

/// After OpenDocument 1.3 part 3 (9.1.4 table:table-cell, 19.387 office:value-type).
pub(crate) fn ods(sheets: &[OdsSheet]) -> Vec<u8> {
    let mut body = String::new();
    for (name, rows) in sheets {
        body.push_str(&format!("<table:table table:name=\"{name}\">"));
        for row in rows {
            body.push_str("<table:table-row>");
            row.iter().for_each(|cell| body.push_str(&cell_xml(cell)));
            body.push_str("</table:table-row>");
        }
        body.push_str("</table:table>");
    }
    let namespace = "urn:oasis:names:tc:opendocument:xmlns";
    let content = format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?><office:document-content xmlns:office=\"{namespace}:office:1.0\" \
         xmlns:table=\"{namespace}:table:1.0\" xmlns:text=\"{namespace}:text:1.0\" office:version=\"1.3\"><office:body>\
         <office:spreadsheet>{body}</office:spreadsheet></office:body></office:document-content>"
    );
    let manifest =
        format!("<?xml version=\"1.0\"?><manifest:manifest xmlns:manifest=\"{namespace}:manifest:1.0\"/>");
    zipped(&[
        ("mimetype", b"application/vnd.oasis.opendocument.spreadsheet"),
        ("META-INF/manifest.xml", manifest.as_bytes()),
        ("content.xml", content.as_bytes()),
    ])
}

fn cell_xml(cell: &OdsCell) -> String {
    let (kind, shown) = match cell {
        OdsCell::Empty => return "<table:table-cell/>".to_owned(),
        OdsCell::Text(text) => ("string".to_owned(), text),
        OdsCell::Number(text) => (format!("float\" office:value=\"{text}"), text),
        OdsCell::Date(text) => (format!("date\" office:date-value=\"{text}"), text),
        OdsCell::Time(text) => (format!("time\" office:time-value=\"{text}"), text),
    };
    let shown = shown.replace('&', "&amp;").replace('<', "&lt;");
    format!("<table:table-cell office:value-type=\"{kind}\"><text:p>{shown}</text:p></table:table-cell>")
}
