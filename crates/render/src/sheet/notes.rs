//! What every figure of the sheet means, in numbered notes.

use interstice_findings::{TargetGroup, VisitFindings};

use crate::words::date;

/// A note; its number is its place.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Note {
    /// What stands first.
    First = 1,
    /// Targets.
    Targets,
    /// Shares of time and margins.
    Time,
    /// GMI and CV.
    Gmi,
    /// Without probable pressure.
    Pressure,
    /// Since the last visit.
    Change,
    /// The usual day.
    UsualDay,
    /// Swings.
    Swings,
    /// MARD, bias, lag.
    Trust,
    /// Sensors lost.
    Lost,
    /// Lows and highs.
    Episodes,
    /// Insulin.
    Insulin,
    /// Meals.
    Meals,
    /// HbA1c.
    Hba1c,
}

impl Note {
    /// All, by number.
    pub const ALL: [Note; 14] = [
        Note::First,
        Note::Targets,
        Note::Time,
        Note::Gmi,
        Note::Pressure,
        Note::Change,
        Note::UsualDay,
        Note::Swings,
        Note::Trust,
        Note::Lost,
        Note::Episodes,
        Note::Insulin,
        Note::Meals,
        Note::Hba1c,
    ];

    /// From 1 on.
    pub fn number(self) -> u8 {
        self as u8
    }
}

pub(super) fn all(findings: &VisitFindings) -> Vec<(u8, String)> {
    Note::ALL
        .into_iter()
        .map(|note| (note.number(), note_text(note, findings)))
        .collect()
}

/// What a figure means.
pub fn note_text(note: Note, findings: &VisitFindings) -> String {
    match note {
        Note::Time => "Shares are of the time read; gaps are never filled. In brackets: 95 % margin, from days drawn again in blocks \
            2,000 times. An average day is those shares of 24 hours."
            .to_owned(),
        Note::Targets => format!(
            "{}. 'Unsure': the margin reaches across the target.",
            match findings.review.targets.group {
                TargetGroup::Adult => "International consensus 2019, adults with type 1 or type 2",
                TargetGroup::OlderOrHighRisk => "International consensus 2019, older people and those at high risk",
                TargetGroup::Pregnancy => "International consensus 2019, pregnancy with type 1",
                TargetGroup::Own(_) => "Range and percentages are the wearer's own; of CV the international consensus 2019",
            }
        ),
        Note::Gmi => "GMI, glucose management indicator: 3.31 + 0.02392 × mean in mg/dL, from the sensor; it is no laboratory HbA1c. CV: \
            standard deviation over mean."
            .to_owned(),
        Note::Pressure => "Lows at night whose course looks like lying on the sensor, or said to be so, and stretches marked as wrong, are \
            left out. They may have been real: only a blood check decides."
            .to_owned(),
        Note::Change => match (&findings.change.now, &findings.change.before) {
            (Some(now), Some(before)) => format!(
                "{} to {} less {} to {}, every reading in both; shares in percentage points.",
                date(&now.from),
                date(&now.to),
                date(&before.from),
                date(&before.to)
            ),
            _ => "The days of this window since the last visit less as many days before it as the window has.".to_owned(),
        },
        Note::First => "Lows that miss a target first, then by points of the glycaemia risk index (0 best, 100 worst) that each makes. A \
            swing's time is also time low or high."
            .to_owned(),
        Note::UsualDay => "By clock time: median, half of the readings (dark), nine tenths (pale). The scale goes by ratio, so that lows \
            have as much room as highs."
            .to_owned(),
        Note::Episodes => "A low or high lasts 15 minutes or more beyond its limit and ends after 15 minutes back. Lasting: a low of over \
            2 hours, or 90 of 120 minutes above the highest limit."
            .to_owned(),
        Note::Swings => "Lows, highs, logged doses and food that fed each other by stated rules. What was not logged is not seen."
            .to_owned(),
        Note::Insulin => "Mean of the days on which that kind was logged, as logged; other days may be missing.".to_owned(),
        Note::Meals => "Rise: highest in three hours less the level before. To be expected: its own mean drawn towards that of all \
            meals, the more the seldomer it was eaten."
            .to_owned(),
        Note::Trust => "All sensors in the book. MARD: mean absolute difference of sensor from blood check in percent of blood. Bias: mean \
            of sensor less blood. Within 15: 15 mg/dL below 70 mg/dL, 15 % from there."
            .to_owned(),
        Note::Lost => "Came off, failed, lost its signal, or was taken off for pain or skin, in this window.".to_owned(),
        Note::Hba1c => "GMI of the 90 days before the sample, where 70 % of them was read. A gap that stays is a person's own; sensors, \
            red cells and illness all move it."
            .to_owned(),
    }
}
