//! Glucose cells: units, edges, readings and blood checks.

use super::alike::Lone;
use super::*;
use crate::meanings::same;

impl RowReader<'_> {
    /// A glucose value. `complain`: an empty cell makes the row one without a value.
    #[expect(
        clippy::too_many_arguments,
        reason = "the parts of one value, from one caller each"
    )]
    pub(super) fn glucose(
        &mut self,
        row: &mut Row<'_>,
        column: usize,
        raw: &[u8],
        place: Place,
        rule: UnitRule,
        trace: &str,
        complain: bool,
    ) {
        let said = parse_number(raw, self.plan.mark).map_or_else(
            || glucose_cell(raw, self.plan.mark),
            |number| GlucoseCell::Number(number, Censor::None, None),
        );
        let (number, censor, own_unit) = match said {
            GlucoseCell::Number(number, censor, unit) => (number, self.flagged(row, censor), unit),
            GlucoseCell::Missing => match self.flagged(row, Censor::None) {
                Censor::None => {
                    if complain || !raw.is_empty() && self.plan.kind.is_some() {
                        row.is_rejected = true;
                        self.reject(
                            row.line,
                            column,
                            &String::from_utf8_lossy(raw),
                            "there is no value in this row",
                        );
                    }
                    return;
                }
                censor => return self.beyond(row, place, rule, trace, censor),
            },
            GlucoseCell::Below => return self.beyond(row, place, rule, trace, Censor::Below),
            GlucoseCell::Above => return self.beyond(row, place, rule, trace, Censor::Above),
            GlucoseCell::Unreadable => {
                row.is_rejected = true;
                let text = self.text(row.block, column);
                return self.reject(row.line, column, &text, "this cannot be read as a glucose value");
            }
        };
        let (unit, by_rule) = match own_unit.or_else(|| self.row_unit(row)) {
            Some(SaidUnit::Of(unit)) => (unit, None),
            Some(SaidUnit::GramPerL) => {
                return self.gram_per_litre(row, column, number, censor, place, trace);
            }
            None => match self.rule_unit(row, rule, number) {
                Ok(unit) => (unit, Some(rule)),
                Err(()) => return self.gram_per_litre(row, column, number, censor, place, trace),
            },
        };
        self.value(row, column, number, unit, censor, place, trace);
        self.lone = (censor == Censor::None && own_unit.is_none()).then_some(Lone {
            column,
            trace: self.last_trace,
            unit,
            rule: by_rule,
        });
    }

    /// The unit that the rule gives a number; `Err` for g/L.
    pub(super) fn rule_unit(&mut self, row: &Row<'_>, rule: UnitRule, number: Number) -> Result<Unit, ()> {
        match rule {
            UnitRule::Fixed(SaidUnit::Of(unit)) => {
                if looks_other(number, unit) {
                    self.note_other(row, number, unit);
                }
                Ok(unit)
            }
            UnitRule::Fixed(SaidUnit::GramPerL) => Err(()),
            UnitRule::ByRow(Some(unit)) => Ok(unit),
            UnitRule::ByRow(None) => Ok(by_size(number).unwrap_or(Unit::MgPerDl)),
            UnitRule::ByValue(main) => {
                let clear = by_size(number).filter(|&unit| plausible(number, unit).is_ok());
                if clear.is_some() {
                    self.last_unit = clear;
                }
                let unit = clear.or(self.last_unit).unwrap_or(main);
                // What is no glucose in either unit is rejected for that.
                if unit != main && plausible(number, unit).is_ok() {
                    self.partial.odd_units += 1;
                    if self.partial.odd_lines.len() < 1000 {
                        self.partial
                            .odd_lines
                            .push((row.line, number.value().to_string()));
                    }
                }
                Ok(unit)
            }
        }
    }

    /// Counts a value that would be usual in the other unit than the one said for the table.
    fn note_other(&mut self, row: &Row<'_>, number: Number, unit: Unit) {
        let other = match unit {
            Unit::MgPerDl => Unit::MmolPerL,
            Unit::MmolPerL => Unit::MgPerDl,
        };
        if plausible(number, other).is_err() {
            return;
        }
        if plausible(number, unit).is_err() {
            self.partial.impossible += 1;
            return;
        }
        self.partial.odd_units += 1;
        if self.partial.odd_lines.len() < 1000 {
            self.partial
                .odd_lines
                .push((row.line, number.value().to_string()));
        }
    }

    /// Whether words beside a value say that the meter was tested with its control solution.
    fn names_control(&self, row: &Row<'_>) -> bool {
        let columns = self
            .plan
            .notes
            .iter()
            .copied()
            .chain(self.plan.flag)
            .chain(self.plan.kind);
        columns
            .filter(|&column| !self.raw(row.block, column).is_empty())
            .any(|column| is_control_solution(&fold(&self.text(row.block, column))))
    }

    /// A hundredth of a gram per litre is one milligram per decilitre.
    pub(super) fn gram_per_litre(
        &mut self,
        row: &mut Row<'_>,
        column: usize,
        number: Number,
        censor: Censor,
        place: Place,
        trace: &str,
    ) {
        let number = match number.decimals.checked_sub(2) {
            Some(decimals) => Number { decimals, ..number },
            None => Number {
                mantissa: number
                    .mantissa
                    .saturating_mul(10i64.pow(u32::from(2 - number.decimals))),
                decimals: 0,
            },
        };
        self.value(row, column, number, Unit::MgPerDl, censor, place, trace);
    }

    /// Enters a value whose unit is known.
    #[expect(clippy::too_many_arguments, reason = "the parts of one value")]
    pub(super) fn value(
        &mut self,
        row: &mut Row<'_>,
        column: usize,
        number: Number,
        unit: Unit,
        censor: Censor,
        place: Place,
        trace: &str,
    ) {
        if let Place::Trace(kind) = place
            && censor == Censor::None
            && let Some(level) = self.levels.known(number, unit)
        {
            row.is_used = true;
            return self.reading(row, kind, trace, level);
        }
        let said = match plausible(number, unit).and_then(|()| {
            Said::new(number.mantissa, number.decimals, unit, censor).map_err(|e| e.to_string())
        }) {
            Ok(said) => said,
            Err(reason) => {
                row.is_rejected = true;
                let text = self.text(row.block, column);
                return self.reject(row.line, column, &text, reason);
            }
        };
        row.is_used = true;
        if matches!(place, Place::Blood(_)) && self.names_control(row) {
            row.is_used = false;
            row.is_rejected = true;
            row.note_used = true;
            let text = self.text(row.block, column);
            return self.reject(
                row.line,
                column,
                &text,
                "a test of the meter with control solution, not of blood",
            );
        }
        match place {
            Place::Trace(kind) => {
                let level = self.levels.intern(said);
                if censor == Censor::None {
                    self.levels.remember(number, unit, level);
                }
                self.reading(row, kind, trace, level);
            }
            Place::Blood(source) => self.partial.blood.push(BloodCheck {
                at: row.at,
                said,
                source,
                note: None,
            }),
        }
    }

    /// A value beyond the range, without a number.
    pub(super) fn beyond(
        &mut self,
        row: &mut Row<'_>,
        place: Place,
        rule: UnitRule,
        trace: &str,
        censor: Censor,
    ) {
        let unit = match self.row_unit(row) {
            Some(SaidUnit::Of(unit)) => unit,
            _ => rule.main().unwrap_or(Unit::MgPerDl),
        };
        let said = edge_unknown(unit, censor);
        row.is_used = true;
        match place {
            Place::Trace(kind) => {
                let level = self.levels.intern(said);
                self.reading(row, kind, trace, level);
            }
            Place::Blood(source) => self.partial.blood.push(BloodCheck {
                at: row.at,
                said,
                source,
                note: None,
            }),
        }
    }

    pub(super) fn reading(&mut self, row: &Row<'_>, kind: TraceKind, trace: &str, level: u32) {
        // Between EARLIEST and LATEST, so it fits.
        let at = u32::try_from(row.at).unwrap_or(0);
        let sensor = match self.plan.sensor {
            Some(column) => self.raw(row.block, column),
            None => trace.as_bytes(),
        };
        let is_it = |t: &PartTrace| t.kind == kind && same(&t.key, sensor);
        let index = match self.partial.traces.get(self.last_trace).is_some_and(is_it) {
            true => self.last_trace,
            false => match self.partial.traces.iter().position(is_it) {
                Some(index) => index,
                None => {
                    let name = self
                        .plan
                        .sensor
                        .map_or_else(|| trace.to_owned(), |column| self.text(row.block, column));
                    self.partial.traces.push(PartTrace {
                        sensor: name,
                        key: sensor.to_vec(),
                        kind,
                        at: Vec::new(),
                        level: Vec::new(),
                    });
                    self.partial.traces.len() - 1
                }
            },
        };
        self.last_trace = index;
        self.readings += 1;
        self.partial.traces[index].at.push(at);
        self.partial.traces[index].level.push(level);
    }

    /// A mark beside the value.
    pub(super) fn flagged(&self, row: &Row<'_>, censor: Censor) -> Censor {
        let Some(column) = self.plan.flag else {
            return censor;
        };
        let raw = self.raw(row.block, column);
        if raw.is_empty() || censor != Censor::None {
            return censor;
        }
        let concepts = concepts_of(&self.text(row.block, column));
        match (concepts.has(Concept::Low), concepts.has(Concept::High)) {
            (true, false) => Censor::Below,
            (false, true) => Censor::Above,
            _ => Censor::None,
        }
    }

    /// The unit of glucose in the row's unit column.
    pub(super) fn row_unit(&mut self, row: &Row<'_>) -> Option<SaidUnit> {
        let raw = self.raw(row.block, self.plan.unit_column?);
        if raw.is_empty() {
            return None;
        }
        self.units.find(raw, || unit_in(&String::from_utf8_lossy(raw)))
    }
}

/// The liquid with a known glucose by which a meter is tested, in folded words.
fn is_control_solution(text: &str) -> bool {
    [
        "control solution",
        "control liquid",
        "kontrolllosung",
        "kontrollosung",
        "solution de controle",
        "solucion de control",
        "soluzione di controllo",
        "controlevloeistof",
        "controleoplossing",
        "solucao de control",
        "kontrollosning",
        "kontroloplosning",
        "kontrolliliuos",
        "kontrolliuos",
    ]
    .iter()
    .any(|words| text.contains(words))
}
