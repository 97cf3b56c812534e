//! Food, ketones, sleep, activity and words beside the readings.

use super::*;

impl RowReader<'_> {
    pub(super) fn nutrient(
        &mut self,
        row: &mut Row<'_>,
        column: usize,
        raw: &[u8],
        put: impl FnOnce(&mut Meal, f64),
    ) {
        if is_missing(raw) {
            return;
        }
        match self.amount(raw) {
            Some(amount) if (0.0..=10_000.0).contains(&amount) => {
                put(row.meal.get_or_insert_with(|| empty_meal(row.at)), amount);
            }
            _ => self.reject_cell(row, column, "this cannot be read as an amount of food"),
        }
    }

    pub(super) fn ketones(&mut self, row: &mut Row<'_>, column: usize, raw: &[u8]) {
        if is_missing(raw) {
            return;
        }
        match self.amount(raw) {
            Some(value) if (0.0..=30.0).contains(&value) => {
                self.partial.marks.push(Mark {
                    value: Some(value),
                    ..mark(row.at, MarkKind::Ketones, None)
                });
                row.is_used = true;
            }
            _ => self.reject_cell(row, column, "this cannot be read as blood ketones in mmol/L"),
        }
    }

    /// Minutes (or hours) of something, or words on it.
    pub(super) fn lasting(
        &mut self,
        row: &mut Row<'_>,
        column: usize,
        raw: &[u8],
        kind: MarkKind,
        scale: f64,
    ) {
        if is_missing(raw) {
            return;
        }
        match self.amount(raw) {
            Some(amount) if amount <= 0.0 => row.is_used = true,
            Some(amount) if amount * scale <= 3.0 * 86_400.0 => {
                let until = Some(row.at + (amount * scale).round() as i64);
                self.partial.marks.push(Mark {
                    until,
                    ..mark(row.at, kind, None)
                });
                row.is_used = true;
            }
            Some(_) => self.reject_cell(row, column, "this lasts too long to be believed"),
            None => self.words(row, column, kind),
        }
    }

    pub(super) fn words(&mut self, row: &mut Row<'_>, column: usize, kind: MarkKind) {
        let text = self.text(row.block, column);
        if is_missing(text.as_bytes()) {
            return;
        }
        let until = self.until(row);
        self.partial.marks.push(Mark {
            until,
            ..mark(row.at, kind, Some(text))
        });
        row.is_used = true;
    }

    /// A row that is a span of time.
    pub(super) fn span(&mut self, row: &mut Row<'_>, kind: MarkKind) {
        if row.is_used {
            return;
        }
        match self.until(row) {
            Some(until) => {
                let text = self.note_text(row);
                row.note_used = true;
                self.partial.marks.push(Mark {
                    until: Some(until),
                    ..mark(row.at, kind, text)
                });
                row.is_used = true;
            }
            None => {
                let column = self.plan.duration.map(|d| d.0).or(self.plan.end).unwrap_or(0);
                self.reject_cell(row, column, "neither an end nor a duration can be read");
            }
        }
    }

    /// When the row's entry ended, by an end or a duration.
    pub(super) fn until(&mut self, row: &Row<'_>) -> Option<Second> {
        if let Some((column, scale)) = self.plan.duration {
            let raw = self.raw(row.block, column);
            let seconds = match self.amount(raw) {
                Some(amount) => amount * scale,
                None => parse_stamp(raw, self.plan.order)?.second? as f64,
            };
            return (0.0..=3.0 * 86_400.0)
                .contains(&seconds)
                .then(|| row.at + seconds.round() as i64);
        }
        let stamp = parse_stamp(self.raw(row.block, self.plan.end?), self.plan.order)?;
        let when = self.with_offset(row.block, stamp)?;
        match self.instant(when) {
            Instant::At(known, _) => Some(known.at),
            Instant::Open(Open::Twice { first, second }, _) => {
                Some(if first > row.at { first } else { second })
            }
            _ => None,
        }
        .filter(|&until| until >= row.at && until - row.at <= 3 * 86_400)
    }

    pub(super) fn note_text(&self, row: &Row<'_>) -> Option<String> {
        let mut said = self
            .plan
            .notes
            .iter()
            .filter(|&&column| !is_missing(self.raw(row.block, column)))
            .peekable();
        said.peek()?;
        let texts = said.map(|&column| self.text(row.block, column));
        let joined = texts.collect::<Vec<_>>().join(", ");
        (!joined.is_empty()).then_some(joined)
    }

    /// Puts the row's note beside what it brought, or enters it by itself.
    pub(super) fn note(&mut self, row: &mut Row<'_>) {
        let Some(text) = self.note_text(row) else { return };
        row.note_used = true;
        let slot = [
            self.partial
                .blood
                .last_mut()
                .filter(|b| b.at == row.at && row.is_used)
                .map(|b| &mut b.note),
            self.partial
                .doses
                .last_mut()
                .filter(|d| d.at == row.at && row.is_used)
                .map(|d| &mut d.note),
            self.partial
                .meals
                .last_mut()
                .filter(|m| m.at == row.at && row.is_used)
                .map(|m| &mut m.text),
        ]
        .into_iter()
        .flatten()
        .next();
        match slot {
            Some(note) => add_text(note, &text),
            None => self.partial.marks.push(mark(row.at, MarkKind::Note, Some(text))),
        }
        row.is_used = true;
    }

    pub(super) fn reject_cell(&mut self, row: &mut Row<'_>, column: usize, reason: &str) {
        row.is_rejected = true;
        let text = self.text(row.block, column);
        self.reject(row.line, column, &text, reason);
    }

    /// The column whose number the kind explains.
    pub(super) fn value_column(&self) -> Option<usize> {
        let of = |wanted: fn(&Cell) -> bool| self.plan.cells.iter().find(|(_, c)| wanted(c)).map(|c| c.0);
        of(|c| matches!(c, Cell::Value)).or_else(|| of(|c| matches!(c, Cell::Glucose { .. })))
    }
}
