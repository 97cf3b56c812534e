//! `interstice stock` as text.

use interstice_findings::wear::Drawer;

use super::table::wrap;
use crate::words::{stock_said, stock_table};

/// What is left in the drawer; ends in a line feed.
pub fn drawer(drawer: &Drawer) -> String {
    let mut out = drawer_lines(drawer);
    out.push(String::new());
    out.join("\n")
}

fn drawer_lines(drawer: &Drawer) -> Vec<String> {
    let stock = &drawer.stock;
    if stock.is_empty() {
        return wrap(
            "Nothing is written down of the drawer yet; put a lot in with `interstice stock add PIECES --lot NUMBER --use-by DATE`.",
            0,
        );
    }
    let mut out = stock_table(stock).lines();
    for said in stock_said(stock) {
        out.extend(wrap(&said, 0));
    }
    out
}
