//! Cells whose meaning the kind column says.

use super::*;

impl RowReader<'_> {
    /// An entry whose kind a word names.
    pub(super) fn by_kind(&mut self, row: &mut Row<'_>, kind: RowKind) {
        let column = self.value_column();
        let raw = column.map_or(&[][..], |c| self.raw(row.block, c));
        let is_value = self
            .plan
            .cells
            .iter()
            .any(|(c, cell)| Some(*c) == column && matches!(cell, Cell::Value));
        let at_column = column.unwrap_or(0);
        match kind {
            _ if kind.is_glucose() => {
                if is_value {
                    let (place, unit) = (self.place_of(kind), self.plan.value_unit);
                    self.glucose(row, at_column, raw, place, unit, "", true);
                }
            }
            RowKind::Insulin(insulin) => self.kind_dose(row, at_column, raw, insulin, Delivery::AtOnce),
            RowKind::BasalRate => {
                self.kind_dose(row, at_column, raw, InsulinKind::Rapid, Delivery::BasalRate)
            }
            RowKind::Basal if self.is_hourly(row) => {
                self.kind_dose(row, at_column, raw, InsulinKind::Rapid, Delivery::BasalRate)
            }
            RowKind::Basal => self.kind_dose(row, at_column, raw, InsulinKind::Long, Delivery::AtOnce),
            RowKind::Meal => self.kind_meal(row, at_column, raw),
            RowKind::Ketones if is_value => self.ketones(row, at_column, raw),
            RowKind::Activity => self.kind_lasting(row, at_column, raw, MarkKind::Activity),
            RowKind::Sleep => self.kind_lasting(row, at_column, raw, MarkKind::Sleep),
            RowKind::SleepStart | RowKind::SleepEnd => {
                self.partial.edges.push(SleepEdge {
                    at: row.at,
                    is_start: kind == RowKind::SleepStart,
                });
                row.is_used = true;
            }
            RowKind::SensorPutOn => self.sensor_note(row, raw, SensorNoteKind::PutOn),
            RowKind::SensorStart => self.sensor_note(row, raw, SensorNoteKind::Started),
            RowKind::SensorEnd => self.sensor_note(row, raw, SensorNoteKind::Ended),
            RowKind::LeftOut => row.is_used = true,
            RowKind::Unknown if is_value && !is_missing(raw) => self.unknown_kind(row),
            RowKind::Unknown | RowKind::Ketones => {}
            _ => self.kind_words(row, raw, mark_kind(kind), is_value),
        }
    }

    /// Whether the row's unit is a rate, or basal entries are known to be rates.
    pub(super) fn is_hourly(&self, row: &Row<'_>) -> bool {
        let unit = self
            .plan
            .unit_column
            .map(|c| self.text(row.block, c))
            .unwrap_or_default();
        if unit.is_empty() {
            self.plan.basal_is_rate
        } else {
            concepts_of(&unit).any(&[Concept::PerHour, Concept::Rate])
        }
    }

    pub(super) fn kind_dose(
        &mut self,
        row: &mut Row<'_>,
        column: usize,
        raw: &[u8],
        kind: InsulinKind,
        delivery: Delivery,
    ) {
        if is_missing(raw) {
            return;
        }
        let before = self.partial.doses.len();
        let note = self.note_text(row);
        let named = note
            .as_deref()
            .and_then(kind_in)
            .filter(|_| kind == InsulinKind::Unsaid);
        self.dose(row, column, raw, named.unwrap_or(kind), delivery);
        if let Some(dose) = self.partial.doses.get_mut(before)
            && let Some(note) = note
        {
            add_text(&mut dose.note, &note);
            row.note_used = true;
        }
    }

    /// A meal whose value is grams of carbohydrate, or energy where the unit says so.
    pub(super) fn kind_meal(&mut self, row: &mut Row<'_>, column: usize, raw: &[u8]) {
        let unit = self
            .plan
            .unit_column
            .map(|c| self.text(row.block, c))
            .unwrap_or_default();
        let concepts = concepts_of(&unit);
        if !is_missing(raw) {
            if concepts.has(Concept::Energy) {
                self.nutrient(row, column, raw, |meal, v| meal.energy_kcal = Some(v));
            } else if self.amount(raw).is_some() && !concepts.has(Concept::Exchange) {
                self.nutrient(row, column, raw, |meal, v| meal.carbohydrate_g = Some(v));
            } else {
                let text = format!("{} {unit}", self.text(row.block, column));
                add_text(
                    &mut row.meal.get_or_insert_with(|| empty_meal(row.at)).text,
                    text.trim(),
                );
            }
        }
        if row.is_rejected {
            return;
        }
        let note = self.note_text(row);
        let meal = row.meal.get_or_insert_with(|| empty_meal(row.at));
        if let Some(note) = note {
            add_text(&mut meal.text, &note);
            row.note_used = true;
        }
    }

    pub(super) fn kind_lasting(&mut self, row: &mut Row<'_>, column: usize, raw: &[u8], kind: MarkKind) {
        let unit = self
            .plan
            .unit_column
            .map(|c| self.text(row.block, c))
            .unwrap_or_default();
        let concepts = concepts_of(&unit);
        let scale = if concepts.has(Concept::Hour) {
            3600.0
        } else if concepts.has(Concept::SecondUnit) {
            1.0
        } else {
            60.0
        };
        let text = self.note_text(row);
        row.note_used = text.is_some();
        let until = match self
            .amount(raw)
            .filter(|a| *a > 0.0 && a * scale <= 3.0 * 86_400.0)
        {
            Some(amount) => Some(row.at + (amount * scale).round() as i64),
            None if is_missing(raw) => self.until(row),
            None => None,
        };
        let words = if until.is_none() && !is_missing(raw) {
            Some(self.text(row.block, column))
        } else {
            None
        };
        let mut joined = words;
        if let Some(text) = text {
            add_text(&mut joined, &text);
        }
        self.partial.marks.push(Mark {
            until,
            ..mark(row.at, kind, joined)
        });
        row.is_used = true;
    }

    pub(super) fn sensor_note(&mut self, row: &mut Row<'_>, raw: &[u8], kind: SensorNoteKind) {
        let from_value = (!is_missing(raw)).then(|| String::from_utf8_lossy(raw).into_owned());
        let from_column = self
            .plan
            .sensor
            .map(|c| self.text(row.block, c))
            .filter(|t| !t.is_empty());
        let site = self
            .plan
            .site
            .map(|c| self.text(row.block, c))
            .filter(|t| !t.is_empty());
        let note = self.note_text(row);
        row.note_used = true;
        // Without a site column, words beside a sensor's start are where it was put.
        let (site, note) = if site.is_none() {
            (note, None)
        } else {
            (site, note)
        };
        self.partial.notes.push(SensorNote {
            at: row.at,
            kind,
            sensor: from_column.or(from_value),
            site,
            note,
            detail: SensorDetail::default(),
        });
        row.is_used = true;
    }

    /// Symptoms, illness, drinks, medicines, device reports, notes.
    pub(super) fn kind_words(&mut self, row: &mut Row<'_>, raw: &[u8], kind: MarkKind, is_value: bool) {
        let value = if is_value { self.amount(raw) } else { None };
        let mut text =
            (is_value && value.is_none() && !is_missing(raw)).then(|| tidy(&String::from_utf8_lossy(raw)));
        if let Some(note) = self.note_text(row) {
            add_text(&mut text, &note);
            row.note_used = true;
        }
        if text.is_none() && value.is_none() {
            text = self.plan.kind.map(|column| self.text(row.block, column));
        }
        self.partial.marks.push(Mark {
            value,
            ..mark(row.at, kind, text)
        });
        row.is_used = true;
    }
}
