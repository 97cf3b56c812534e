//! How a file is understood, and setting it right.

use interstice_desk::{Role, Understanding};
use maud::{Markup, html};

use crate::shell::sentence;

/// Roles offered when a column is set right, most usual first.
const ROLES: [Role; 25] = [
    Role::DateTime,
    Role::Date,
    Role::TimeOfDay,
    Role::Glucose,
    Role::Scan,
    Role::BloodGlucose,
    Role::Unit,
    Role::Kind,
    Role::Value,
    Role::RapidInsulin,
    Role::LongInsulin,
    Role::Insulin,
    Role::BasalRate,
    Role::Carbohydrate,
    Role::FoodText,
    Role::Ketones,
    Role::Activity,
    Role::Sleep,
    Role::Sensor,
    Role::Site,
    Role::Flag,
    Role::Subject,
    Role::Offset,
    Role::Note,
    Role::Ignored,
];

/// What was understood, table by table.
pub(super) fn view(understood: &Understanding) -> Markup {
    html! {
        @for table in &understood.tables {
            section {
                h2 { "Table at " (table.place) }
                dl.facts {
                    dt { "Form" } dd { (table.format) }
                    dt { "Times" } dd { (table.time_rule) }
                    dt { "Zone" } dd { (table.zone) }
                    @if let Some((unit, evidence)) = &table.unit { dt { "Unit" } dd { (unit) " " span.said { "(" (evidence) ")" } } }
                    @if let Some(minutes) = table.interval_min { dt { "Reads" } dd { "every " (interstice_render::words::duration(minutes)) } }
                }
                @if !table.parsed.is_empty() {
                    h3 { "The first rows, as they are read" }
                    pre.parsed tabindex="0" { @for row in &table.parsed { (row) "\n" } }
                }
                h3 { "Its columns" }
                (columns(table))
            }
        }
        @for note in &understood.notes { p { (sentence(note)) } }
    }
}

fn columns(table: &interstice_desk::TableView) -> Markup {
    html! {
        div.scroll {
            table.stack.columns {
                thead { tr {
                    th scope="col" { "Column" } th scope="col" { "Taken as" } th scope="col" { "Why" } th scope="col" { "Some of it" }
                } }
                tbody {
                    @for column in &table.columns {
                        tr {
                            th scope="row" { @if column.heading.is_empty() { "column " (column.number) } @else { (column.heading) } }
                            td { strong { (role_words(column.role)) } " " span.said { (sureness(column.confidence)) } }
                            td.wide { (column.evidence.join("; ")) }
                            td.wide { code { (column.examples.join(" | ")) } }
                        }
                    }
                }
            }
        }
    }
}

/// How sure, in a word.
fn sureness(confidence: f64) -> &'static str {
    match confidence {
        c if c >= 0.9 => "sure",
        c if c >= 0.6 => "fairly sure",
        _ => "not sure",
    }
}

/// A role as it is stored and sent: 'rapid-insulin'.
fn role_key(role: Role) -> String {
    serde_json::to_value(role)
        .ok()
        .and_then(|value| value.as_str().map(str::to_owned))
        .unwrap_or_default()
}

fn role_words(role: Role) -> String {
    role_key(role).replace('-', " ")
}

/// The form by which anything understood wrongly is set right.
pub(super) fn correct(id: u64, understood: &Understanding) -> Markup {
    html! {
        details.correct {
            summary { "Something is read wrongly" }
            form method="post" action={ "/bring/" (id) "/answer" } {
                (choice("unit", "Glucose is in", &["mg/dL", "mmol/L"]))
                (choice("dates", "Dates are written", &["day-first", "month-first", "year-first"]))
                label.field { span { "Times were lived in the zone" } input name="zone" placeholder="Europe/Lisbon" autocomplete="off" spellcheck="false"; }
                @for column in understood.tables.iter().flat_map(|table| &table.columns) {
                    label.field {
                        span { @if column.heading.is_empty() { "Column " (column.number) } @else { (column.heading) } " holds" }
                        select name={ "role:" (column_name(column)) } {
                            option value="" { (role_words(column.role)) " (as understood)" }
                            @for role in ROLES { option value=(role_key(role)) { (role_words(role)) } }
                        }
                    }
                }
                p { button type="submit" { "Read it this way" } }
            }
        }
    }
}

/// Where nothing was understood, a person can still say what one column holds.
pub(super) fn name_a_column(id: u64) -> Markup {
    html! {
        details.correct {
            summary { "A column of it does hold something" }
            form method="post" action={ "/bring/" (id) "/answer" } {
                label.field { span { "The column, by its heading or its number" } input name="column" required autocomplete="off" spellcheck="false"; }
                label.field {
                    span { "It holds" }
                    select name="holds" { @for role in ROLES { option value=(role_key(role)) selected[role == Role::Glucose] { (role_words(role)) } } }
                }
                (choice("unit", "Glucose is in", &["mg/dL", "mmol/L"]))
                p { button type="submit" { "Read it this way" } }
            }
        }
    }
}

/// The name a column is asked for by: its heading, or its number where it has none.
fn column_name(column: &interstice_desk::ColumnView) -> String {
    if column.heading.is_empty() {
        column.number.to_string()
    } else {
        column.heading.clone()
    }
}

fn choice(name: &str, words: &str, values: &[&str]) -> Markup {
    html! {
        label.field {
            span { (words) }
            select name=(name) {
                option value="" { "as understood" }
                @for value in values { option value=(value) { (value.replace('-', " ")) } }
            }
        }
    }
}
