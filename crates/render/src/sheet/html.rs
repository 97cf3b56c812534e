//! The visit sheet as markup: part of a page, or a file that stands alone, without script and without asking anything of anyone.

use interstice_findings::VisitFindings;
use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::{Note, Section, Sheet, sheet};
use crate::chart::{self, Shape};
use crate::words::{Shown, Table, no_usual_day};

/// The style of the sheet alone; colours are those of [`chart::style`].
pub const STYLE: &str = include_str!("sheet.css");

/// What a file that stands alone needs beside it.
const ALONE: &str = "body{margin:0;background:var(--paper);color:var(--ink);font:15px/1.45 system-ui,-apple-system,'Segoe UI',Roboto,sans-serif}\
main{max-width:60rem;margin:0 auto;padding:1.5rem 1.25rem 3rem}.phone{display:none}\
@media(max-width:640px){.phone{display:block}.wide{display:none}}@media print{body{background:none}main{max-width:none;padding:0}}";

/// A file for sending.
pub fn page(findings: &VisitFindings, shown: Shown) -> String {
    let sheet = sheet(findings, shown);
    let title = match &sheet.name {
        Some(name) => format!("Visit sheet of {name}"),
        None => "Visit sheet".to_owned(),
    };
    let markup = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'";
                title { (title) ", " (sheet.window) }
                style { (PreEscaped(chart::style())) (PreEscaped(STYLE)) (PreEscaped(ALONE)) }
            }
            body {
                (chart::hatches())
                main { (content(findings, &sheet, shown)) }
            }
        }
    };
    markup.into_string() + "\n"
}

/// The sheet itself, from its title to its notes.
pub fn content(findings: &VisitFindings, sheet: &Sheet, shown: Shown) -> Markup {
    html! {
        article.sheet-file {
            (head(sheet))
            (lead(sheet))
            (average(findings, sheet))
            section {
                h2 { "Consensus measures" (marks(&[Note::Targets, Note::Time, Note::Gmi, Note::Pressure, Note::Change])) }
                (table(&sheet.measures))
                @for said in &sheet.measures_said { p.sheet-soft { (said) } }
            }
            (usual(findings, shown))
            div.sheet-parts { @for part in &sheet.sections { (section(part)) } }
            ol.sheet-notes { @for (number, text) in &sheet.notes { li #{ "note-" (number) } { (text) } } }
            div.sheet-cautions { @for caution in &sheet.cautions { p role="note" { (caution) } } }
        }
    }
}

fn head(sheet: &Sheet) -> Markup {
    html! {
        header.sheet-head {
            h1 { "Visit sheet" }
            p.who {
                @match &sheet.name {
                    Some(name) => (name),
                    None => { "Name " span.write {} },
                }
            }
            p.when { strong { (sheet.window) } ", made " (sheet.made) }
            p.when.sheet-soft { (sheet.sufficiency) }
        }
    }
}

fn lead(sheet: &Sheet) -> Markup {
    html! {
        div.sheet-lead {
            section {
                h2 { "What stands out" (marks(&[Note::First, Note::Targets])) }
                ol {
                    @for said in &sheet.matters {
                        li {
                            strong { (said.title) } " "
                            span { (said.sentence) } " "
                            span.evidence { (said.evidence) }
                        }
                    }
                }
            }
            section.sheet-ask {
                h2 { "To ask" }
                @if sheet.questions.is_empty() { p.sheet-soft { "Nothing is written down." } }
                @else { ul { @for question in &sheet.questions { li { (question) } } } }
            }
        }
    }
}

fn average(findings: &VisitFindings, sheet: &Sheet) -> Markup {
    html! {
        section {
            h2 { "An average day as 24 hours" (marks(&[Note::Time])) }
            @if findings.review.average_day.in_range_min.is_some() {
                figure {
                    @for shape in Shape::BOTH { (chart::ruler(&findings.review, shape, &format!("ruler-{}", shape.class()))) }
                }
            }
            p.sheet-soft { (sheet.average_day) }
        }
    }
}

fn usual(findings: &VisitFindings, shown: Shown) -> Markup {
    let targets = &findings.review.targets;
    let drawn = |points: &[interstice_findings::UsualMinute], id: &str| {
        html! {
            @for shape in Shape::BOTH {
                (chart::usual_day(points, targets, shown, shape, &format!("{id}-{}", shape.class())))
            }
        }
    };
    html! {
        section {
            h2 { "The usual day" (marks(&[Note::UsualDay])) }
            @match no_usual_day(&findings.review.usual_day) {
                Some(why) => p { (why) },
                None => figure { (drawn(&findings.review.usual_day, "usual")) },
            }
            @if let Some(without) = &findings.without_pressure {
                @if no_usual_day(&without.usual_day).is_none() {
                    details {
                        summary { "The same without probable pressure lows" }
                        p.sheet-soft { "What is left out:" (marks(&[Note::Pressure])) }
                        figure { (drawn(&without.usual_day, "without")) }
                    }
                }
            }
        }
    }
}

fn section(part: &Section) -> Markup {
    html! {
        section #{ "part-" (part.id) } {
            h2 { (part.title) (marks(&part.notes)) }
            @for said in &part.said { p { (said) } }
            @if let Some(of) = &part.table { (table(of)) }
            @for said in &part.after { p.sheet-soft { (said) } }
        }
    }
}

fn table(of: &Table) -> Markup {
    html! {
        div.sheet-scroll {
            table.wide-table[of.heads.len() > 5] {
                thead { tr { @for head in &of.heads { th.num[head.number] scope="col" data-unit=[unit_of(of, &head.name)] { (head.name) } } } }
                tbody {
                    @for row in &of.rows {
                        tr {
                            @for (i, (cell, head)) in row.iter().zip(&of.heads).enumerate() {
                                @if i == 0 { th.part[cell.starts_with(' ')] scope="row" { (cell.trim_start()) } } @else { td.num[head.number] { (cell) } }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// The unit of a column whose name has no room for it on paper, for whoever copies the table.
fn unit_of(of: &Table, head: &str) -> Option<&'static str> {
    (of.id == "insulin" && !["Kind", "Days"].contains(&head)).then_some("units")
}

fn marks(notes: &[Note]) -> Markup {
    let mut notes = notes.to_vec();
    notes.sort_unstable();
    html! {
        sup {
            @for (i, note) in notes.iter().enumerate() {
                @if i > 0 { ", " } @else { " " }
                a href={ "#note-" (note.number()) } { (note.number()) }
            }
        }
    }
}
