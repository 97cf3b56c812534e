//! One rule for each kind of number.

use interstice_findings::Figure;
use interstice_glucose::{Glucose, MG_PER_DL_IN_ONE_MMOL_PER_L, Unit, round_half_up};
use interstice_tongue::{Number, decimal, say};

/// The unit the wearer reads, and the words for glucose in it.
///
/// Glucose, its standard deviation and its differences are shown alike: mg/dL without decimals, mmol/L with one.
/// Converting a difference is dividing by the same factor, since neither scale has an offset.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Shown {
    /// mg/dL or mmol/L.
    pub unit: Unit,
}

impl Shown {
    /// '104' or '5.8', without its unit.
    pub fn glucose(self, mg_dl: f64) -> String {
        decimal(&Glucose::from_mg_per_dl(mg_dl).shown(self.unit).replace('-', "−"))
    }

    /// '104 mg/dL' or '5.8 mmol/L'.
    pub fn glucose_with_unit(self, mg_dl: f64) -> String {
        format!("{} {}", self.glucose(mg_dl), self.unit)
    }

    /// A change of glucose with its unit, one more decimal than a level has: '1.4 mg/dL', '0.08 mmol/L'.
    pub fn rate_with_unit(self, mg_dl: f64) -> String {
        match self.unit {
            Unit::MgPerDl => format!("{} {}", rounded(mg_dl, 1), self.unit),
            Unit::MmolPerL => format!(
                "{} {}",
                rounded(mg_dl / MG_PER_DL_IN_ONE_MMOL_PER_L, 2),
                self.unit
            ),
        }
    }

    /// A figure in mg/dL: '141 mg/dL (135 to 148)', or why it is missing.
    pub fn glucose_figure(self, figure: &Figure) -> String {
        figure_with(figure, self.unit.symbol(), |mg_dl| self.glucose(mg_dl))
    }
}

/// Lowest and highest: '62 to 214'; 'below 40' and 'above 400' where the sensor could not say how far beyond its range.
pub(crate) fn extremes(
    lowest_mg_dl: f64,
    lowest_beyond: bool,
    highest_mg_dl: f64,
    highest_beyond: bool,
    shown: Shown,
) -> String {
    let (low, high) = (shown.glucose(lowest_mg_dl), shown.glucose(highest_mg_dl));
    let low = if lowest_beyond {
        say!("number-below", value = low)
    } else {
        low
    };
    let high = if highest_beyond {
        say!("number-above", value = high)
    } else {
        high
    };
    say!("number-span", low = low, high = high)
}

/// A number with so many decimals, halves away from nought, as the language spoken writes it.
pub fn rounded(value: f64, decimals: usize) -> String {
    decimal(&round_half_up(value, decimals))
}

/// A percentage without its sign: one decimal below 10 and above 99, none between, so that 0.3 below and 99.7 in range
/// agree; nothing after a whole 0 or 100. What rounds to nothing but is not nothing is 'under 0.1', what rounds to all but
/// is not all 'over 99.9'.
pub fn percent(value: f64) -> String {
    if value > 0.0 && value < 0.05 {
        return say!("number-under", bound = decimal("0.1"));
    }
    if (99.95..100.0).contains(&value) {
        return say!("number-over", bound = decimal("99.9"));
    }
    rounded(value, percent_decimals(value))
}

/// Decimals by the rule of [`percent`].
fn percent_decimals(value: f64) -> usize {
    let whole = value <= 0.0 || value >= 100.0;
    usize::from(!whole && !(9.95..=99.0).contains(&value))
}

/// '1 unit', '4.5 units': always the whole word, since a single letter is misread as a nought.
pub fn units(units: f64) -> String {
    say!("number-units", amount = Number(digits(units)))
}

/// Hours, up to two decimals: '4.5'.
pub fn hours(hours: f64) -> String {
    amount(hours)
}

/// Up to two decimals, none that are noughts.
pub fn amount(value: f64) -> String {
    decimal(&digits(value))
}

/// The same in plain digits whatever is spoken, as addresses, documents and the fields of a form have it.
pub fn digits(value: f64) -> String {
    let text = round_half_up(value, 2);
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

/// A percentage figure: '61 % (58 to 64)', both ends with as many decimals as the value.
pub(crate) fn percent_figure(figure: &Figure) -> String {
    let Some(value) = figure.value else {
        return missing(figure);
    };
    let decimals = percent_decimals(value);
    with_margin(format!("{} %", percent(value)), figure, |end| {
        rounded(end, decimals)
    })
}

/// CV and GMI, which are read with one decimal: '35.8 % (32.9 to 38.9)'.
pub(crate) fn tenths_percent(figure: &Figure) -> String {
    figure_with(figure, "%", |value| rounded(value, 1))
}

/// A number without a unit, with fixed decimals and its margin.
pub fn plain(figure: &Figure, decimals: usize) -> String {
    figure_with(figure, "", |value| rounded(value, decimals))
}

/// Value, unit and margin.
fn figure_with(figure: &Figure, unit: &str, write: impl Fn(f64) -> String) -> String {
    let Some(value) = figure.value else {
        return missing(figure);
    };
    let gap = if unit.is_empty() { "" } else { " " };
    with_margin(format!("{}{gap}{unit}", write(value)), figure, &write)
}

/// '61 % (58 to 64)', or the value alone where there is no interval.
fn with_margin(value: String, figure: &Figure, write: impl Fn(f64) -> String) -> String {
    match (figure.lo95, figure.hi95) {
        (Some(lo), Some(hi)) => say!(
            "number-with-margin",
            value = value,
            low = write(lo),
            high = write(hi)
        ),
        _ => value,
    }
}

/// Why there is no value.
fn missing(figure: &Figure) -> String {
    let reason = figure.reason.clone().unwrap_or_else(|| say!("number-too-few"));
    say!("number-missing", reason = reason)
}

#[cfg(test)]
mod tests {
    use interstice_tongue::{Tongue, within};

    use super::*;

    #[test]
    fn one_unit_is_not_several() {
        let said = [0.0, 0.5, 1.0, 2.0, 4.25, 100.0].map(units);
        assert_eq!(
            said,
            [
                "0 units",
                "0.5 units",
                "1 unit",
                "2 units",
                "4.25 units",
                "100 units"
            ]
        );
    }

    fn figure(value: f64, lo: f64, hi: f64) -> Figure {
        Figure {
            value: Some(value),
            lo95: Some(lo),
            hi95: Some(hi),
            reason: None,
        }
    }

    #[test]
    fn percentages_follow_one_rule() {
        let shown = [0.0, 0.04, 0.05, 3.96, 9.94, 9.95, 61.4, 98.9, 99.7, 99.96, 100.0].map(percent);
        assert_eq!(
            shown,
            [
                "0",
                "under 0.1",
                "0.1",
                "4.0",
                "9.9",
                "10",
                "61",
                "99",
                "99.7",
                "over 99.9",
                "100"
            ]
        );
    }

    #[test]
    fn margins_have_the_decimals_of_their_value() {
        assert_eq!(percent_figure(&figure(61.2, 57.8, 64.1)), "61 % (58 to 64)");
        assert_eq!(percent_figure(&figure(3.24, 1.06, 10.2)), "3.2 % (1.1 to 10.2)");
    }

    #[test]
    fn both_units_show_the_same_figure() {
        let mean = figure(141.2, 134.6, 148.0);
        assert_eq!(
            Shown { unit: Unit::MgPerDl }.glucose_figure(&mean),
            "141 mg/dL (135 to 148)"
        );
        assert_eq!(
            Shown { unit: Unit::MmolPerL }.glucose_figure(&mean),
            "7.8 mmol/L (7.5 to 8.2)"
        );
    }

    #[test]
    fn a_missing_figure_says_why() {
        assert_eq!(
            plain(&Figure::missing("two more days are needed"), 1),
            "not yet: two more days are needed"
        );
    }

    #[test]
    fn figures_are_written_as_the_language_spoken_writes_them() {
        let said = || {
            let shown = Shown { unit: Unit::MmolPerL };
            [
                shown.glucose_figure(&figure(141.2, 134.6, 148.0)),
                percent(0.04),
                units(4.5),
                extremes(39.0, true, 214.0, false, shown),
            ]
        };
        let expected = [
            "7,8 mmol/L (7,5 a 8,2)",
            "menos de 0,1",
            "4,5 unidades",
            "por debajo de 2,2 a 11,9",
        ];
        assert_eq!(within(Tongue::Spanish, said), expected);
        assert_eq!(within(Tongue::Spanish, || digits(4.5)), "4.5");
    }
}
