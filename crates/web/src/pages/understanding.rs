//! How a file is understood, and setting it right.

use interstice_desk::{Role, Understanding};
use interstice_tongue::say;
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
                h2 { (say!("bring-table-heading", place = table.place.to_string())) }
                dl.facts {
                    dt { (say!("bring-table-form")) } dd { (table.format) }
                    dt { (say!("bring-table-times")) } dd { (table.time_rule) }
                    dt { (say!("bring-table-zone")) } dd { (table.zone) }
                    @if let Some((unit, evidence)) = &table.unit { dt { (say!("bring-table-unit")) } dd { (unit) " " span.said { "(" (evidence) ")" } } }
                    @if let Some(minutes) = table.interval_min { dt { (say!("bring-table-reads")) } dd { (say!("bring-table-every", interval = interstice_render::words::duration(minutes))) } }
                }
                @if !table.parsed.is_empty() {
                    h3 { (say!("bring-table-rows")) }
                    pre.parsed tabindex="0" { @for row in &table.parsed { (row) "\n" } }
                }
                h3 { (say!("bring-columns-heading")) }
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
                    th scope="col" { (say!("bring-columns-column")) } th scope="col" { (say!("bring-columns-taken")) } th scope="col" { (say!("bring-columns-why")) } th scope="col" { (say!("bring-columns-some")) }
                } }
                tbody {
                    @for column in &table.columns {
                        tr {
                            th scope="row" { @if column.heading.is_empty() { (say!("bring-column", number = column.number)) } @else { (column.heading) } }
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
fn sureness(confidence: f64) -> String {
    let sure = match confidence {
        c if c >= 0.9 => "sure",
        c if c >= 0.6 => "fairly",
        _ => "not",
    };
    say!("bring-sure", sure = sure)
}

/// A role as it is stored and sent: 'rapid-insulin'.
fn role_key(role: Role) -> String {
    serde_json::to_value(role)
        .ok()
        .and_then(|value| value.as_str().map(str::to_owned))
        .unwrap_or_default()
}

fn role_words(role: Role) -> String {
    let key = role_key(role);
    let name = key.replace('-', " ");
    say!("bring-role", role = key, name = name)
}

/// The form by which anything understood wrongly is set right.
pub(super) fn correct(id: u64, understood: &Understanding) -> Markup {
    html! {
        details.correct {
            summary { (say!("bring-correct")) }
            form method="post" action={ "/bring/" (id) "/answer" } {
                (choice("unit", &say!("bring-correct-unit"), &units()))
                (choice("dates", &say!("bring-correct-dates"), &orders()))
                label.field { span { (say!("bring-correct-zone")) } input name="zone" placeholder="Europe/Lisbon" autocomplete="off" spellcheck="false"; }
                @for column in understood.tables.iter().flat_map(|table| &table.columns) {
                    label.field {
                        span { (say!("bring-correct-holds", column = column_called(column))) }
                        select name={ "role:" (column_name(column)) } {
                            option value="" { (say!("bring-correct-as", role = role_words(column.role))) }
                            @for role in ROLES { option value=(role_key(role)) { (role_words(role)) } }
                        }
                    }
                }
                p { button type="submit" { (say!("bring-correct-submit")) } }
            }
        }
    }
}

/// Where nothing was understood, a person can still say what one column holds.
pub(super) fn name_a_column(id: u64) -> Markup {
    html! {
        details.correct {
            summary { (say!("bring-name-column")) }
            form method="post" action={ "/bring/" (id) "/answer" } {
                label.field { span { (say!("bring-name-which")) } input name="column" required autocomplete="off" spellcheck="false"; }
                label.field {
                    span { (say!("bring-name-holds")) }
                    select name="holds" { @for role in ROLES { option value=(role_key(role)) selected[role == Role::Glucose] { (role_words(role)) } } }
                }
                (choice("unit", &say!("bring-correct-unit"), &units()))
                p { button type="submit" { (say!("bring-correct-submit")) } }
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

/// The same, beginning a label.
fn column_called(column: &interstice_desk::ColumnView) -> String {
    if column.heading.is_empty() {
        say!("bring-correct-column", number = column.number)
    } else {
        column.heading.clone()
    }
}

fn units() -> [(&'static str, String); 2] {
    ["mg/dL", "mmol/L"].map(|unit| (unit, unit.to_owned()))
}

fn orders() -> [(&'static str, String); 3] {
    ["day-first", "month-first", "year-first"].map(|order| (order, say!("bring-dates", order = order)))
}

fn choice(name: &str, words: &str, values: &[(&str, String)]) -> Markup {
    html! {
        label.field {
            span { (words) }
            select name=(name) {
                option value="" { (say!("bring-correct-as-understood")) }
                @for (value, named) in values { option value=(value) { (named) } }
            }
        }
    }
}
