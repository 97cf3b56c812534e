//! Doses of insulin, in numbers and in words.

use super::*;

impl RowReader<'_> {
    pub(super) fn dose(
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
        let (kind, delivery) = self.by_insulin_code(row, kind, delivery);
        match self.amount(raw) {
            Some(units) if units.is_finite() && (0.0..=500.0).contains(&units) => {
                self.partial.doses.push(Dose {
                    at: row.at,
                    units,
                    insulin: kind,
                    delivery,
                    note: None,
                });
                row.is_used = true;
            }
            Some(_) => self.reject_cell(row, column, "this cannot be an amount of insulin"),
            None => self.dose_words(row, column, kind, delivery),
        }
    }

    /// Words in a column of doses: a pause of the pump, or an amount in words.
    pub(super) fn dose_words(
        &mut self,
        row: &mut Row<'_>,
        column: usize,
        kind: InsulinKind,
        delivery: Delivery,
    ) {
        let text = self.text(row.block, column);
        if concepts_of(&text).has(Concept::Suspend) {
            row.is_used = true;
            if delivery == Delivery::BasalRate {
                self.partial.doses.push(Dose {
                    at: row.at,
                    units: 0.0,
                    insulin: kind,
                    delivery,
                    note: Some(text),
                });
            } else {
                self.partial
                    .marks
                    .push(mark(row.at, MarkKind::Device, Some(text)));
            }
            return;
        }
        let found = doses(&text);
        if found.is_empty() {
            return self.reject_cell(row, column, "this cannot be read as an amount of insulin");
        }
        for (units, named) in found {
            let insulin = named.unwrap_or(kind);
            self.partial.doses.push(Dose {
                at: row.at,
                units,
                insulin,
                delivery,
                note: Some(text.clone()),
            });
        }
        row.is_used = true;
    }

    /// What the insulin-kind column says of this row's dose.
    pub(super) fn by_insulin_code(
        &self,
        row: &Row<'_>,
        kind: InsulinKind,
        delivery: Delivery,
    ) -> (InsulinKind, Delivery) {
        let Some(column) = self.plan.insulin_kind else {
            return (kind, delivery);
        };
        let text = self.text(row.block, column);
        if text.is_empty() {
            return (kind, delivery);
        }
        self.plan
            .insulin_codes
            .get(&fold(&text))
            .copied()
            .unwrap_or_else(|| (kind_in(&text).unwrap_or(kind), delivery))
    }

    /// A number, or one with a unit after it.
    pub(super) fn amount(&self, raw: &[u8]) -> Option<f64> {
        if let Some(number) = parse_number(raw, self.plan.mark) {
            return Some(number.value());
        }
        let text = std::str::from_utf8(raw).ok()?;
        let (number, rest) = leading_number(text)?;
        (rest.trim().len() <= 8
            && rest
                .trim()
                .chars()
                .all(|c| c.is_alphabetic() || matches!(c, '/' | '.' | '%')))
        .then(|| number.value())
    }

    pub(super) fn insulin_text(&mut self, row: &mut Row<'_>, column: usize, delivery: Delivery) {
        let text = self.text(row.block, column);
        if is_missing(text.as_bytes()) {
            return;
        }
        let mut found = doses(&text);
        if found.is_empty()
            && let Some(number) = parse_number(text.as_bytes(), self.plan.mark)
        {
            found.push((number.value(), None));
        }
        if found.is_empty() && concepts_of(&text).has(Concept::Suspend) {
            self.partial
                .marks
                .push(mark(row.at, MarkKind::Device, Some(text)));
            row.is_used = true;
            return;
        }
        if found.is_empty() {
            return self.reject_cell(row, column, "no amount of insulin stands in this text");
        }
        for (units, named) in found {
            let insulin = named.unwrap_or(InsulinKind::Unsaid);
            self.partial.doses.push(Dose {
                at: row.at,
                units,
                insulin,
                delivery,
                note: Some(text.clone()),
            });
        }
        row.is_used = true;
    }
}
