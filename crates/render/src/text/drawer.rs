//! `interstice stock` as text, and the drawer of `interstice wear`.

use interstice_findings::wear::Drawer;

use super::table::wrap;
use crate::words::{cost_said, cost_table, stock_said, stock_table, supply_said, used_up_table};

/// What is left in the drawer; ends in a line feed.
pub fn drawer(drawer: &Drawer) -> String {
    let mut out = drawer_lines(drawer);
    out.push(String::new());
    out.join("\n")
}

/// What is left, how long it lasts, what it cost.
pub(super) fn drawer_lines(drawer: &Drawer) -> Vec<String> {
    if drawer.stock.is_empty() {
        let mut out = wrap(
            "Nothing is written down of the drawer yet; put a lot in with `interstice stock add PIECES --lot NUMBER --use-by DATE`.",
            0,
        );
        if !drawer.cost.by_currency.is_empty() {
            out.extend(cost_lines(drawer));
        }
        return out;
    }
    let mut out = Vec::new();
    for said in supply_said(&drawer.supply) {
        out.extend(wrap(&said, 0));
    }
    out.push(String::new());
    out.extend(stock_table(&drawer.stock).lines());
    for said in stock_said(&drawer.stock) {
        out.extend(wrap(&said, 0));
    }
    let used_up = used_up_table(&drawer.stock);
    if !used_up.rows.is_empty() {
        out.push(String::new());
        out.push("Used up".to_owned());
        out.extend(used_up.lines());
    }
    out.extend(cost_lines(drawer));
    out
}

fn cost_lines(drawer: &Drawer) -> Vec<String> {
    let mut out = Vec::new();
    for cost in &drawer.cost.by_currency {
        out.push(String::new());
        out.extend(cost_table(cost).lines());
    }
    for said in cost_said(&drawer.cost) {
        out.extend(wrap(&said, 0));
    }
    out
}
