//! The summary of the window: a panel and its members.

use base64::Engine as _;
use interstice_findings::{Figure, ReviewFindings, Taken, TargetGroup};
use interstice_glucose::{Glucose, Second, Unit};

use super::Maker;
use super::codes;
use super::observe::{by_unit, observation, quantity};
use super::resource::{
    Attachment, CodeableConcept, Coding, Component, DiagnosticReport, Entry, Meta, Observation, Period,
    Quantity, Reference, Resource,
};
use crate::decimals::{decimal, number};
use crate::digest::short;

/// The panel and its members, or why there is none.
pub(super) fn of(taken: &Taken, maker: &Maker<'_>) -> Result<Vec<Entry>, String> {
    let review = taken.review.as_ref().map_err(Clone::clone)?;
    if review.targets.group != TargetGroup::default() {
        return Err(format!(
            "its codes stand for the ranges of the {} targets, and this book uses those of {}",
            TargetGroup::default().name(),
            review.targets.group.name()
        ));
    }
    let making = Making { review, maker };
    let members = [
        making.mean()?,
        making.times()?,
        making.one(
            codes::GMI,
            codes::GMI_PROFILE,
            "glucose management indicator",
            percent(&review.summary.gmi_percent)?,
        ),
        making.one(
            codes::CV,
            codes::CV_PROFILE,
            "coefficient of variation",
            percent(&review.summary.cv_percent)?,
        ),
        making.days()?,
        making.active()?,
    ];
    let mut panel = making.observation(
        codes::SUMMARY,
        codes::SUMMARY_PROFILE,
        "summary of sensor glucose",
    );
    panel.0.has_member = members
        .iter()
        .map(|member| Reference {
            reference: member.full_url.clone(),
        })
        .collect();
    let panel = maker.entry(&panel.1, Resource::Observation(Box::new(panel.0)));
    Ok(members.into_iter().chain([panel]).collect())
}

/// The sheet of the window as a report.
pub(super) fn sheet(taken: &Taken, maker: &Maker<'_>, pdf: &[u8]) -> Entry {
    let data = base64::engine::general_purpose::STANDARD.encode(pdf);
    let key = format!("sheet {}", short(&[&data]));
    let category = CodeableConcept {
        coding: vec![Coding {
            system: codes::SECTION,
            code: "LAB",
        }],
        text: None,
    };
    let report = DiagnosticReport {
        meta: Meta {
            profile: vec![codes::PDF_PROFILE],
        },
        identifier: maker.identifier(&key),
        status: "final",
        category: vec![category],
        code: CodeableConcept::coded(codes::LOINC, codes::SUMMARY, "summary of sensor glucose"),
        subject: maker.subject(),
        effective_period: period(maker, taken.from, taken.to),
        presented_form: vec![Attachment {
            content_type: "application/pdf",
            data,
            title: "Visit sheet",
        }],
    };
    maker.entry(&key, Resource::DiagnosticReport(Box::new(report)))
}

/// From the first day to the last.
fn period(maker: &Maker<'_>, from: Second, to: Second) -> Period {
    let day = |at: Second| maker.time(at).chars().take(10).collect();
    Period {
        start: day(from),
        end: day(to - 1),
    }
}

/// A percentage with at least two decimals, as the guide asks.
fn percent(figure: &Figure) -> Result<Quantity, String> {
    let value = figure.value.ok_or_else(|| {
        let reason = figure.reason.clone();
        reason.unwrap_or_else(|| "a figure it needs cannot be given".to_owned())
    })?;
    at_least_two_decimals(value)
        .map(|value| quantity(value, "%", "%"))
        .ok_or_else(|| "a figure it needs is no number".to_owned())
}

fn at_least_two_decimals(value: f64) -> Option<Box<serde_json::value::RawValue>> {
    let shortest = value.to_string();
    let decimals = shortest.split_once('.').map_or(0, |(_, part)| part.len());
    if decimals < 2 {
        return decimal(&format!("{value:.2}"));
    }
    decimal(&shortest)
}

struct Making<'a> {
    review: &'a ReviewFindings,
    maker: &'a Maker<'a>,
}

impl Making<'_> {
    fn observation(&self, code: &'static str, profile: &'static str, text: &str) -> (Observation, String) {
        let window = &self.review.window;
        let (from, to) = (window.from.0, window.to.0);
        let key = format!("summary {code} {from} {to}");
        let it = Observation {
            meta: Some(Meta {
                profile: vec![profile],
            }),
            effective_period: Some(period(self.maker, from.at, to.at)),
            ..observation(self.maker, &key, CodeableConcept::coded(codes::LOINC, code, text))
        };
        (it, key)
    }

    fn one(&self, code: &'static str, profile: &'static str, text: &str, value: Quantity) -> Entry {
        let (it, key) = self.observation(code, profile, text);
        let it = Observation {
            value_quantity: Some(value),
            ..it
        };
        self.maker.entry(&key, Resource::Observation(Box::new(it)))
    }

    fn mean(&self) -> Result<Entry, String> {
        let unit = self.review.unit;
        let mean = self.review.summary.mean_mg_dl.value.ok_or("there is no mean")?;
        let value = Glucose::from_mg_per_dl(mean).in_unit(unit);
        let value = number(value).ok_or("the mean is no number")?;
        let symbol = match unit {
            Unit::MgPerDl => "mg/dL",
            Unit::MmolPerL => "mmol/L",
        };
        let profile = by_unit(codes::MEAN_PROFILE, unit);
        Ok(self.one(
            by_unit(codes::MEAN, unit),
            profile,
            "mean glucose",
            quantity(value, symbol, symbol),
        ))
    }

    fn times(&self) -> Result<Entry, String> {
        let of = &self.review.summary;
        let parts = [
            (
                codes::VERY_LOW,
                "time below range, very low",
                &of.very_low_percent,
            ),
            (codes::LOW, "time below range, low", &of.low_percent),
            (codes::IN_RANGE, "time in range", &of.in_range_percent),
            (codes::HIGH, "time above range, high", &of.high_percent),
            (
                codes::VERY_HIGH,
                "time above range, very high",
                &of.very_high_percent,
            ),
        ];
        let (it, key) = self.observation(codes::TIMES_IN_RANGES, codes::TIMES_PROFILE, "times in ranges");
        let component = parts.into_iter().map(|(code, text, figure)| {
            Ok(Component {
                code: CodeableConcept::coded(codes::LOINC, code, text),
                value_quantity: percent(figure)?,
            })
        });
        let it = Observation {
            component: component.collect::<Result<_, String>>()?,
            ..it
        };
        Ok(self.maker.entry(&key, Resource::Observation(Box::new(it))))
    }

    fn days(&self) -> Result<Entry, String> {
        let days = self.review.sufficiency.days_with_data.to_string();
        let value = decimal(&days).ok_or("the days of wear are no number")?;
        Ok(self.one(
            codes::DAYS_OF_WEAR,
            codes::DAYS_PROFILE,
            "days of wear",
            quantity(value, "d", "d"),
        ))
    }

    fn active(&self) -> Result<Entry, String> {
        let active = self
            .review
            .sufficiency
            .active_percent
            .ok_or("the time active is not known")?;
        let value = at_least_two_decimals(active).ok_or("the time active is no number")?;
        let text = "time the sensor was active";
        Ok(self.one(
            codes::SENSOR_ACTIVE,
            codes::ACTIVE_PROFILE,
            text,
            quantity(value, "%", "%"),
        ))
    }
}
