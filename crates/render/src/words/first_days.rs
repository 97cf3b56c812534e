//! The first days of a file, as a table.

use super::{Shown, Table, date};
use crate::chart::DayDrawn;

/// Day, readings, and how far down and up they go.
pub fn first_days(days: &[DayDrawn<'_>], shown: Shown) -> Table {
    let rows = days.iter().map(|day| {
        let reach = day.reach_mg_dl();
        let told = |mg_dl: Option<f64>| mg_dl.map_or("–".to_owned(), |mg_dl| shown.glucose(mg_dl));
        vec![
            date(day.date),
            day.readings.to_string(),
            told(reach.map(|reach| reach.0)),
            told(reach.map(|reach| reach.1)),
        ]
    });
    let heads = ["Day", "readings", "lowest", "highest"];
    Table::new(
        "first-days",
        &heads.map(|head| (head, head != "Day")),
        rows.collect(),
    )
}
