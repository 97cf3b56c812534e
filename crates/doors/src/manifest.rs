//! What an export says of itself: a manifest for programs, the same in words for people.

use std::fmt::Write as _;

use serde::Serialize;

use crate::table::Table;

/// One file.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct FileWritten {
    /// Its path within the export.
    pub path: String,
    /// Rows of the table; 0 of what is no table.
    pub rows: u64,
    /// Its size.
    pub bytes: u64,
    /// SHA-256.
    pub sha256: String,
}

#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub(crate) struct ColumnLine {
    name: &'static str,
    r#type: &'static str,
    about: &'static str,
}

#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub(crate) struct TableLine {
    pub(crate) name: &'static str,
    about: &'static str,
    columns: Vec<ColumnLine>,
    pub(crate) files: Vec<FileWritten>,
}

impl TableLine {
    pub(crate) fn of(table: &Table) -> Self {
        let column = |column: &crate::table::Column| ColumnLine {
            name: column.name,
            r#type: column.cells.kind(),
            about: column.about,
        };
        TableLine {
            name: table.name,
            about: table.about,
            columns: table.columns.iter().map(column).collect(),
            files: Vec::new(),
        }
    }
}

/// The manifest. What later versions add has to have a default when it is read.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct Manifest {
    pub(crate) format: &'static str,
    pub(crate) version: u32,
    pub(crate) files_as: &'static str,
    /// The zone lived in but for the stretches of the table of zones.
    pub(crate) zone: String,
    /// The unit glucose is shown in.
    pub(crate) unit: &'static str,
    /// The window, where one was asked for.
    pub(crate) from_utc: Option<String>,
    pub(crate) to_utc: Option<String>,
    pub(crate) notes: Vec<String>,
    pub(crate) tables: Vec<TableLine>,
    pub(crate) other_files: Vec<FileWritten>,
}

impl Manifest {
    /// The words for people.
    pub(crate) fn in_words(&self) -> String {
        let mut text = String::from("This folder holds tables from a book of Interstice.\n\n");
        let window = match (&self.from_utc, &self.to_utc) {
            (Some(from), Some(to)) => format!("From {from} to before {to}.\n"),
            _ => "All of it.\n".to_owned(),
        };
        text.push_str(&window);
        let _ = writeln!(
            text,
            "Times named _utc are universal time; _local is the wall clock with its offset; the zone lived in is {} \
             but where the table 'zones' says otherwise.\nAn empty cell is something nobody knows.\n",
            self.zone
        );
        for note in &self.notes {
            let _ = writeln!(text, "{note}\n");
        }
        for table in &self.tables {
            let rows: u64 = table.files.iter().map(|file| file.rows).sum();
            let _ = writeln!(text, "{} ({rows} rows): {}", table.name, table.about);
            for column in &table.columns {
                let _ = writeln!(
                    text,
                    "    {:<22} {:<14} {}",
                    column.name, column.r#type, column.about
                );
            }
            text.push('\n');
        }
        text.push_str("manifest.json says the same for programs, with the SHA-256 of each file.\n");
        text
    }
}
