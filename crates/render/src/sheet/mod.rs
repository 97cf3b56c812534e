//! The visit sheet as words and tables, once: paper, page, file and text all show these.

pub mod html;
mod matters;
mod measures;
mod notes;
mod sections;
mod workbook;

use interstice_findings::VisitFindings;

use crate::words::{Caution, Shown, Table, date, sufficiency, window};

pub use matters::MatterSaid;
pub use notes::{Note, note_text};
pub use workbook::workbook;

/// A visit sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Sheet {
    /// The wearer's name, where it is known.
    pub name: Option<String>,
    /// '90 days, 8 January 2026 to 7 April 2026'.
    pub window: String,
    /// '8 April 2026'.
    pub made: String,
    /// Whether there is enough to go on.
    pub sufficiency: String,
    /// What stands first, in sentences.
    pub matters: Vec<MatterSaid>,
    /// What the wearer wants to ask.
    pub questions: Vec<String>,
    /// Consensus measures with targets, without probable pressure, and since the last visit.
    pub measures: Table,
    /// What the measures are held against, and what is left out, in sentences.
    pub measures_said: Vec<String>,
    /// What the picture of the average day shows.
    pub average_day: String,
    /// What the picture of the usual day shows.
    pub usual_day: String,
    /// Everything else, each by itself.
    pub sections: Vec<Section>,
    /// What every figure means.
    pub notes: Vec<(u8, String)>,
    /// The cautions.
    pub cautions: Vec<String>,
}

/// One part of a sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Section {
    /// For addresses and files.
    pub id: &'static str,
    /// Its title.
    pub title: &'static str,
    /// The notes that define its figures.
    pub notes: Vec<Note>,
    /// Sentences before the table.
    pub said: Vec<String>,
    /// The table.
    pub table: Option<Table>,
    /// Sentences after it.
    pub after: Vec<String>,
}

/// The sheet of some findings.
pub fn sheet(findings: &VisitFindings, shown: Shown) -> Sheet {
    let review = &findings.review;
    Sheet {
        name: findings.name.clone(),
        window: window(&review.window),
        made: date(&findings.made),
        sufficiency: sufficiency(&review.sufficiency, &review.window),
        matters: matters::said(findings, shown),
        questions: findings.questions.clone(),
        measures: measures::table(findings, shown),
        measures_said: measures::said(findings),
        average_day: measures::average_day(review),
        usual_day: measures::usual_day(findings, shown),
        sections: sections::all(findings, shown),
        notes: notes::all(findings),
        cautions: vec![
            "It shows what was logged and what followed, never a dose. Changes of treatment belong with the care team."
                .to_owned(),
            "When symptoms and the sensor disagree, in a sensor's first day and after treating a low, a blood check decides."
                .to_owned(),
        ],
    }
}

impl Sheet {
    /// The first caution of an account, for pages.
    pub fn care_team(shown: Shown) -> String {
        Caution::CareTeam.text(shown)
    }
}
