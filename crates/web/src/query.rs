//! What an address asks for.

use interstice_findings::TrustAsk;
use interstice_findings::compare::{Against, CompareAsk};
use interstice_findings::trust::{Pairing, SPLITS_MG_DL};
use interstice_findings::visit::VISIT_DAYS;
use interstice_glucose::Unit;
use interstice_render::words::Shown;
use jiff::civil::Date;
use serde::Deserialize;

use crate::{ReviewAsk, ReviewWindow, Settings, Trouble, VisitWindow};

/// The window asked for when the address says none: what the consensus calls enough.
pub(crate) const DAYS: u32 = 14;

/// Longest window, a human life.
const DAYS_AT_MOST: u32 = 36_600;

/// `?days=14`, `?from=2025-03-01&to=2025-03-14`, `&unit=mmol`, `&pressure=out`.
#[derive(Clone, Debug, Default, Deserialize)]
pub(crate) struct ReviewQuery {
    days: Option<String>,
    from: Option<String>,
    to: Option<String>,
    unit: Option<String>,
    pressure: Option<String>,
}

impl ReviewQuery {
    /// Of the last so many days.
    pub(crate) fn last_days(days: &str) -> Self {
        ReviewQuery {
            days: Some(days.to_owned()),
            ..ReviewQuery::default()
        }
    }

    /// The review asked for.
    pub(crate) fn ask(&self) -> Result<ReviewAsk, Trouble> {
        let (from, to) = (given(&self.from), given(&self.to));
        let window = match (given(&self.days), from, to) {
            (None, None, None) => ReviewWindow::Days(DAYS),
            (Some(days), None, None) => ReviewWindow::Days(parse_days(&days)?),
            (_, from, to) => ReviewWindow::Dates {
                from: from.map(parse_date).transpose()?,
                to: to.map(parse_date).transpose()?,
            },
        };
        let exclude_pressure = excludes(&self.pressure)?;
        Ok(ReviewAsk {
            window,
            exclude_pressure,
        })
    }

    /// The unit to show: the address's, else the book's.
    pub(crate) fn shown(&self, settings: &Settings) -> Result<Shown, Trouble> {
        shown(&self.unit, settings)
    }
}

/// `?days=on+board&than=&from=&to=`, or `?before_from=2025-03-01&before_to=2025-03-28&after_from=…&after_to=…`; `&pressure=out`,
/// `&unit=mmol`.
#[derive(Clone, Debug, Default, Deserialize)]
pub(crate) struct CompareQuery {
    pub(crate) days: Option<String>,
    /// Words typed where no kind of the list was meant.
    pub(crate) words: Option<String>,
    pub(crate) than: Option<String>,
    pub(crate) from: Option<String>,
    pub(crate) to: Option<String>,
    pub(crate) before_from: Option<String>,
    pub(crate) before_to: Option<String>,
    pub(crate) after_from: Option<String>,
    pub(crate) after_to: Option<String>,
    pressure: Option<String>,
    unit: Option<String>,
}

impl CompareQuery {
    /// What is asked; `None` where nothing is.
    pub(crate) fn ask(&self) -> Result<Option<CompareAsk>, Trouble> {
        let kind = given(&self.words).or_else(|| given(&self.days));
        let windows = [
            &self.before_from,
            &self.before_to,
            &self.after_from,
            &self.after_to,
        ]
        .map(given);
        let against = match (kind, windows) {
            (Some(state), _) => Against::Kind {
                state,
                than: given(&self.than),
                among: both(given(&self.from), given(&self.to))?,
            },
            (
                None,
                [
                    Some(before_from),
                    Some(before_to),
                    Some(after_from),
                    Some(after_to),
                ],
            ) => Against::Windows {
                before: (calendar_date(&before_from)?, calendar_date(&before_to)?),
                after: (calendar_date(&after_from)?, calendar_date(&after_to)?),
            },
            (None, [None, None, None, None]) => return Ok(None),
            (None, _) => {
                return Err(Trouble::Request(
                    "two stretches take four dates: first and last of either".to_owned(),
                ));
            }
        };
        Ok(Some(CompareAsk {
            exclude_pressure: self.excludes_pressure()?,
            ..CompareAsk::of(against)
        }))
    }

    /// Whether possible pressure lows are left out.
    pub(crate) fn excludes_pressure(&self) -> Result<bool, Trouble> {
        excludes(&self.pressure)
    }

    /// The unit to show: the address's, else the book's.
    pub(crate) fn shown(&self, settings: &Settings) -> Result<Shown, Trouble> {
        shown(&self.unit, settings)
    }

    /// The address of the same question with possible pressure lows counted or left out.
    pub(crate) fn with_pressure(&self, pressure: &'static str) -> String {
        let parts = [
            ("days", &self.days),
            ("words", &self.words),
            ("than", &self.than),
            ("from", &self.from),
            ("to", &self.to),
            ("before_from", &self.before_from),
            ("before_to", &self.before_to),
            ("after_from", &self.after_from),
            ("after_to", &self.after_to),
            ("unit", &self.unit),
        ];
        let kept = parts
            .into_iter()
            .filter_map(|(name, value)| Some(format!("{name}={}", encoded(&given(value)?))));
        let all: Vec<String> = kept.chain([format!("pressure={pressure}")]).collect();
        format!("/review/compare?{}", all.join("&"))
    }
}

fn both(from: Option<String>, to: Option<String>) -> Result<Option<(Date, Date)>, Trouble> {
    match (from, to) {
        (None, None) => Ok(None),
        (Some(from), Some(to)) => Ok(Some((calendar_date(&from)?, calendar_date(&to)?))),
        _ => Err(Trouble::Request(
            "say both the first and the last of the days, or neither".to_owned(),
        )),
    }
}

fn calendar_date(text: &str) -> Result<Date, Trouble> {
    text.parse()
        .map_err(|_| Trouble::Request(format!("'{text}' is not a date; write one like 2025-03-17")))
}

/// 'out' or 'in', which is the same as nothing.
fn excludes(pressure: &Option<String>) -> Result<bool, Trouble> {
    match given(pressure).as_deref() {
        None | Some("in") => Ok(false),
        Some("out") => Ok(true),
        Some(other) => Err(Trouble::Request(format!(
            "'{other}' says nothing of pressure lows; choose in or out"
        ))),
    }
}

fn shown(unit: &Option<String>, settings: &Settings) -> Result<Shown, Trouble> {
    match given(unit) {
        None => Ok(Shown { unit: settings.unit }),
        Some(text) => parse_unit(&text).map(|unit| Shown { unit }),
    }
}

/// `?unit=mmol`.
#[derive(Clone, Debug, Default, Deserialize)]
pub(crate) struct UnitQuery {
    unit: Option<String>,
}

impl UnitQuery {
    /// The unit to show: the address's, else the book's.
    pub(crate) fn shown(&self, settings: &Settings) -> Result<Shown, Trouble> {
        shown(&self.unit, settings)
    }
}

/// `?days=90`, `?from=2025-03-01&to=2025-05-29`, `&since=2025-01-10`, `&unit=mmol`, `&paper=letter`, `&note=12`.
#[derive(Clone, Debug, Default, Deserialize)]
pub(crate) struct VisitQuery {
    days: Option<String>,
    from: Option<String>,
    to: Option<String>,
    since: Option<String>,
    unit: Option<String>,
    paper: Option<String>,
    note: Option<String>,
}

impl VisitQuery {
    /// The sheet asked for.
    pub(crate) fn ask(&self) -> Result<VisitWindow, Trouble> {
        let review = ReviewQuery {
            days: given(&self.days),
            from: given(&self.from),
            to: given(&self.to),
            ..ReviewQuery::default()
        };
        let is_usual = review.days.is_none() && review.from.is_none() && review.to.is_none();
        Ok(VisitWindow {
            window: if is_usual {
                ReviewWindow::Days(VISIT_DAYS)
            } else {
                review.ask()?.window
            },
            since: given(&self.since).map(parse_date).transpose()?,
        })
    }

    /// The unit to show: the address's, else the book's.
    pub(crate) fn shown(&self, settings: &Settings) -> Result<Shown, Trouble> {
        shown(&self.unit, settings)
    }

    /// The paper asked for.
    pub(crate) fn paper(&self) -> Option<&str> {
        self.paper
            .as_deref()
            .map(str::trim)
            .filter(|name| !name.is_empty())
    }

    /// The change that was just made of what is kept for visits.
    pub(crate) fn change(&self) -> Option<i64> {
        self.note.as_ref()?.trim().parse().ok()
    }

    /// The same window as the end of an address, with one part more.
    pub(crate) fn again(&self, more: &str) -> String {
        let parts = [
            ("days", &self.days),
            ("from", &self.from),
            ("to", &self.to),
            ("since", &self.since),
            ("unit", &self.unit),
        ];
        let mut kept: Vec<String> = parts
            .into_iter()
            .filter_map(|(name, value)| Some(format!("{name}={}", encoded(&given(value)?))))
            .collect();
        if !more.is_empty() {
            kept.push(more.to_owned());
        }
        if kept.is_empty() {
            String::new()
        } else {
            format!("?{}", kept.join("&"))
        }
    }
}

/// `?sensor=S03`, `?pairing=interpolated`, `&split=100`, `&unit=mmol`, `&lows=open`.
#[derive(Clone, Debug, Default, Deserialize)]
pub(crate) struct TrustQuery {
    sensor: Option<String>,
    pairing: Option<String>,
    split: Option<String>,
    unit: Option<String>,
    lows: Option<String>,
}

impl TrustQuery {
    /// Whether the list of lows is to be unfolded, however long.
    pub(crate) fn lists_lows(&self) -> bool {
        given(&self.lows).is_some()
    }

    /// The question asked.
    pub(crate) fn ask(&self) -> Result<TrustAsk, Trouble> {
        let usual = TrustAsk::default();
        let pairing = match given(&self.pairing) {
            None => usual.pairing,
            Some(key) => Pairing::from_key(&key).ok_or_else(|| {
                Trouble::Request(format!(
                    "'{key}' is not a way of pairing; choose nearest-after or interpolated"
                ))
            })?,
        };
        let split_mg_dl = match given(&self.split) {
            None => usual.split_mg_dl,
            Some(text) => split(&text).ok_or_else(|| {
                Trouble::Request(format!(
                    "'{text}' is not a split in use; choose 70, 80 or 100 mg/dL"
                ))
            })?,
        };
        Ok(TrustAsk {
            sensor: given(&self.sensor),
            pairing,
            split_mg_dl,
            ..usual
        })
    }

    /// The unit to show: the address's, else the book's.
    pub(crate) fn shown(&self, settings: &Settings) -> Result<Shown, Trouble> {
        shown(&self.unit, settings)
    }

    /// The same question with some of it changed, as the end of an address; an empty value takes a part away.
    pub(crate) fn again(&self, changed: &[(&str, &str)]) -> String {
        let parts = [
            ("sensor", &self.sensor),
            ("pairing", &self.pairing),
            ("split", &self.split),
            ("unit", &self.unit),
            ("lows", &self.lows),
        ];
        let kept: Vec<String> = parts
            .into_iter()
            .filter_map(|(name, value)| {
                let new = changed.iter().find(|change| change.0 == name);
                let value = new.map_or_else(|| given(value), |change| given(&Some(change.1.to_owned())))?;
                Some(format!("{name}={}", encoded(&value)))
            })
            .collect();
        if kept.is_empty() {
            String::new()
        } else {
            format!("?{}", kept.join("&"))
        }
    }
}

fn split(text: &str) -> Option<f64> {
    let given = text.parse::<f64>().ok()?;
    SPLITS_MG_DL
        .into_iter()
        .find(|split| (split - given).abs() < 1e-9)
}

/// A text as it may stand in the query of an address.
pub(crate) fn encoded(text: &str) -> String {
    let pair = serde_urlencoded::to_string([("", text)]).unwrap_or_default();
    pair.strip_prefix('=').unwrap_or(&pair).to_owned()
}

/// 'mg/dL' or 'mmol/L', also without what follows the slash.
pub(crate) fn parse_unit(text: &str) -> Result<Unit, Trouble> {
    match text.to_ascii_lowercase().as_str() {
        "mg" | "mg/dl" => Ok(Unit::MgPerDl),
        "mmol" | "mmol/l" => Ok(Unit::MmolPerL),
        _ => Err(Trouble::Request(format!(
            "'{text}' is not a unit; choose mg/dL or mmol/L"
        ))),
    }
}

/// An empty field of a form is one that was not filled in.
pub(crate) fn given(field: &Option<String>) -> Option<String> {
    field
        .as_ref()
        .map(|text| text.trim().to_owned())
        .filter(|text| !text.is_empty())
}

fn parse_days(text: &str) -> Result<u32, Trouble> {
    let wrong = || {
        Trouble::Request(format!(
            "'{text}' is not a number of days; write one from 1 to {DAYS_AT_MOST}"
        ))
    };
    text.parse()
        .ok()
        .filter(|days| (1..=DAYS_AT_MOST).contains(days))
        .ok_or_else(wrong)
}

fn parse_date(text: String) -> Result<String, Trouble> {
    let shape = |bytes: &[u8]| {
        bytes.len() == 10
            && bytes.iter().enumerate().all(|(i, b)| {
                if i == 4 || i == 7 {
                    *b == b'-'
                } else {
                    b.is_ascii_digit()
                }
            })
    };
    if shape(text.as_bytes()) {
        return Ok(text);
    }
    Err(Trouble::Request(format!(
        "'{text}' is not a date; write one like 2025-03-17"
    )))
}
