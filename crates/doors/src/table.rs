//! A table before it is written: named, documented columns of equal length.

use interstice_glucose::Second;

/// The cells of a column; `None` is an empty one.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Cells {
    Text(Vec<Option<String>>),
    Whole(Vec<Option<i64>>),
    Real(Vec<Option<f64>>),
    /// Seconds since 1970 (UTC).
    Instant(Vec<Option<Second>>),
    YesNo(Vec<Option<bool>>),
}

impl Cells {
    /// The kind of cells, as the manifest names it.
    pub(crate) fn kind(&self) -> &'static str {
        match self {
            Cells::Text(_) => "text",
            Cells::Whole(_) => "whole number",
            Cells::Real(_) => "number",
            Cells::Instant(_) => "instant",
            Cells::YesNo(_) => "true or false",
        }
    }
}

#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Column {
    pub(crate) name: &'static str,
    pub(crate) about: &'static str,
    pub(crate) cells: Cells,
}

#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Table {
    pub(crate) name: &'static str,
    pub(crate) about: &'static str,
    pub(crate) rows: usize,
    pub(crate) columns: Vec<Column>,
}

/// Makes a table of things, a column at a time.
pub(crate) struct Making<'a, T> {
    things: &'a [T],
    table: Table,
}

impl Table {
    pub(crate) fn of<'a, T>(name: &'static str, about: &'static str, things: &'a [T]) -> Making<'a, T> {
        Making {
            things,
            table: Table {
                name,
                about,
                rows: things.len(),
                columns: Vec::new(),
            },
        }
    }
}

impl<'a, T> Making<'a, T> {
    fn column(mut self, name: &'static str, about: &'static str, cells: Cells) -> Self {
        self.table.columns.push(Column { name, about, cells });
        self
    }

    pub(crate) fn text<S: Into<String>>(
        self,
        name: &'static str,
        about: &'static str,
        cell: impl Fn(&'a T) -> Option<S>,
    ) -> Self {
        let cells = self.things.iter().map(|it| cell(it).map(Into::into)).collect();
        self.column(name, about, Cells::Text(cells))
    }

    pub(crate) fn whole(
        self,
        name: &'static str,
        about: &'static str,
        cell: impl Fn(&'a T) -> Option<i64>,
    ) -> Self {
        let cells = self.things.iter().map(cell).collect();
        self.column(name, about, Cells::Whole(cells))
    }

    pub(crate) fn real(
        self,
        name: &'static str,
        about: &'static str,
        cell: impl Fn(&'a T) -> Option<f64>,
    ) -> Self {
        let cells = self.things.iter().map(cell).collect();
        self.column(name, about, Cells::Real(cells))
    }

    pub(crate) fn instant(
        self,
        name: &'static str,
        about: &'static str,
        cell: impl Fn(&'a T) -> Option<Second>,
    ) -> Self {
        let cells = self.things.iter().map(cell).collect();
        self.column(name, about, Cells::Instant(cells))
    }

    pub(crate) fn yes_no(
        self,
        name: &'static str,
        about: &'static str,
        cell: impl Fn(&'a T) -> Option<bool>,
    ) -> Self {
        let cells = self.things.iter().map(cell).collect();
        self.column(name, about, Cells::YesNo(cells))
    }

    pub(crate) fn made(self) -> Table {
        self.table
    }
}
