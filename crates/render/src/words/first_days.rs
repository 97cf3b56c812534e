//! The first days of a file, as a table.

use super::{Shown, Table, date};
use crate::chart::DayDrawn;

/// Day, readings drawn, lowest and highest.
pub fn first_days(days: &[DayDrawn<'_>], shown: Shown) -> Table {
    let rows = days.iter().map(|(day, points)| {
        let mut of: Vec<f64> = points.iter().map(|point| point.1).collect();
        of.sort_unstable_by(f64::total_cmp);
        let told = |place: usize| {
            of.get(place)
                .map_or("–".to_owned(), |mg_dl| shown.glucose(*mg_dl))
        };
        vec![
            date(day),
            points.len().to_string(),
            told(0),
            told(of.len() / 2),
            told(of.len().saturating_sub(1)),
        ]
    });
    let heads = ["Day", "points", "lowest", "middle", "highest"];
    Table::new(
        "first-days",
        &heads.map(|head| (head, head != "Day")),
        rows.collect(),
    )
}
