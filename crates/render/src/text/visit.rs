//! The visit sheet for a terminal.

use super::table::wrap;
use crate::sheet::Sheet;

/// All of it, ending in a line feed.
pub fn visit(sheet: &Sheet) -> String {
    let mut out = vec![match &sheet.name {
        Some(name) => format!("Visit sheet of {name}"),
        None => "Visit sheet".to_owned(),
    }];
    out.extend(wrap(&format!("{}; made {}", sheet.window, sheet.made), 0));
    out.extend(wrap(&sheet.sufficiency, 0));
    section(&mut out, "What stands out");
    for (number, said) in (1..).zip(&sheet.matters) {
        out.extend(wrap(&format!("{number}. {}: {}", said.title, said.sentence), 0));
        out.extend(wrap(&said.evidence, 3));
    }
    section(&mut out, "To ask");
    if sheet.questions.is_empty() {
        out.push("Nothing is written down.".to_owned());
    }
    out.extend(
        sheet
            .questions
            .iter()
            .flat_map(|question| wrap(&format!("- {question}"), 0)),
    );
    section(&mut out, "Consensus measures");
    out.extend(sheet.measures.clone().lines());
    out.extend(sheet.measures_said.iter().flat_map(|said| wrap(said, 0)));
    out.extend(wrap(&sheet.average_day, 0));
    out.extend(wrap(&format!("The usual day: {}", sheet.usual_day), 0));
    for part in &sheet.sections {
        section(&mut out, part.title);
        out.extend(part.said.iter().flat_map(|said| wrap(said, 0)));
        if let Some(table) = &part.table {
            out.extend(table.clone().lines());
        }
        out.extend(part.after.iter().flat_map(|said| wrap(said, 0)));
    }
    section(&mut out, "What the figures mean");
    for (number, note) in &sheet.notes {
        out.extend(wrap(&format!("{number}. {note}"), 0));
    }
    out.push(String::new());
    out.extend(sheet.cautions.iter().flat_map(|caution| wrap(caution, 0)));
    out.push(String::new());
    out.join("\n")
}

fn section(out: &mut Vec<String>, title: &str) {
    out.push(String::new());
    out.push(title.to_owned());
}
