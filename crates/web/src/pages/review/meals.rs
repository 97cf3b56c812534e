//! Meals on the Review page: a sentence, a picture, tables.

use interstice_findings::ReviewFindings;
use interstice_render::chart;
use interstice_render::words::{self, Caution, Shown, Table};
use interstice_tongue::say;
use maud::{Markup, html};

use super::{both_shapes, heading, method};
use crate::shell::{caution, glue};

pub(super) fn section(findings: &ReviewFindings, shown: Shown) -> Markup {
    let of = &findings.meals;
    let again = words::repeated_table(of, shown);
    html! {
        section aria-labelledby="meals" {
            (heading("meals", &say!("meals-heading"), findings))
            p.lead { (glue(&words::meals_answer(of, shown))) }
            @if !again.rows.is_empty() {
                h3 { (say!("meals-again")) }
                figure {
                    (both_shapes(|shape, id| chart::meals(&of.repeated_meals, shown, shape, id), "meals"))
                    figcaption { (say!("meals-caption", unit = shown.unit.symbol())) }
                }
                (table(&again))
                p.help { (words::shrunken_said()) }
            }
            @if !of.meals.is_empty() {
                p { (glue(&words::timing_said(&of.meal_timing, shown))) }
                details {
                    summary { (say!("meals-each")) }
                    (table(&words::meal_table(of, shown)))
                }
                (caution(Caution::Followed, shown))
            }
            (method("meals", &say!("meals-method")))
        }
    }
}

/// Longer cells, with their heading, take a line of their own on a phone.
const HALF_A_LINE: usize = 20;

pub(super) fn table(table: &Table) -> Markup {
    let long = |head: &str, cell: &str| head.chars().count() + cell.chars().count() > HALF_A_LINE;
    html! {
        div.scroll {
            table.stack {
                thead { tr { @for head in &table.heads { th.num[head.number] scope="col" { (head.name) } } } }
                tbody {
                    @for row in &table.rows {
                        tr {
                            @for (i, (cell, head)) in row.iter().zip(&table.heads).enumerate() {
                                @if i == 0 { th.wide scope="row" { (cell) } }
                                @else { td.num[head.number].wide[long(&head.name, cell)] data-label=(head.name) { (glue(cell)) } }
                            }
                        }
                    }
                }
            }
        }
    }
}
