//! When two sources tell of one event: what must be the same, what may differ, and what one may add to the other.

use interstice_glucose::{
    BloodCheck, Delivery, Dose, InsulinKind, LivedSpan, LowVerdict, Mark, Meal, SensorNote,
};

use crate::entry::{Stored, Word};

/// Seconds in a minute: the coarsest stamp an instant may have and still be compared.
pub(crate) const MINUTE_S: i64 = 60;

/// How far apart two values of one blood check can lie beyond half a step of the first, mg/dL: half a step of the
/// second (0.9 in mmol/L) and the share by which conversion factors differ. Wider than `Said::agrees_with`, which
/// decides; this only narrows down where to look.
const OTHER_STEP_MG_PER_DL: f64 = 1.0;
const FACTORS: f64 = 0.003;

/// The figure that two tellings of one event have in common, and how far the other's can be from it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Figure {
    pub(crate) value: f64,
    pub(crate) reach: f64,
}

impl Figure {
    fn exact(value: f64) -> Self {
        Figure { value, reach: 0.0 }
    }
}

/// Entries that several sources may tell of in different words.
pub(crate) trait Same: Stored {
    /// What is the same word for word in all tellings; `None` where only the very same content is one event.
    fn words(&self) -> Option<String>;

    /// What agrees as a number.
    fn figure(&self) -> Figure;

    /// Whether both can be telling of one event, their instants left aside. Never true for other `words`, nor for
    /// figures out of each other's reach.
    fn alike(&self, other: &Self) -> bool;

    /// Finer tellings are compared with before coarser ones.
    fn coarseness(&self) -> f64 {
        0.0
    }

    /// Takes over what this telling leaves out and the other says.
    fn fill(&mut self, other: &Self);
}

fn fill<T: Clone>(mine: &mut Option<T>, other: &Option<T>) {
    if mine.is_none() {
        mine.clone_from(other);
    }
}

/// Whether two sources wrote the same number; both were read from decimal digits.
fn is_same(a: f64, b: f64) -> bool {
    a.total_cmp(&b).is_eq()
}

/// Whether neither contradicts the other.
fn compatible<T: PartialEq>(a: &Option<T>, b: &Option<T>) -> bool {
    match (a, b) {
        (Some(a), Some(b)) => a == b,
        _ => true,
    }
}

impl Same for BloodCheck {
    fn words(&self) -> Option<String> {
        Some(format!("{} {}", self.source.word(), self.said.censor().word()))
    }

    fn figure(&self) -> Figure {
        let value = self.said.glucose().mg_per_dl();
        let reach = self.said.half_step_mg_per_dl() + OTHER_STEP_MG_PER_DL + FACTORS * value.abs();
        Figure { value, reach }
    }

    fn alike(&self, other: &Self) -> bool {
        self.source == other.source && self.said.agrees_with(other.said)
    }

    fn coarseness(&self) -> f64 {
        self.said.half_step_mg_per_dl()
    }

    fn fill(&mut self, other: &Self) {
        fill(&mut self.note, &other.note);
    }
}

impl Same for Dose {
    fn words(&self) -> Option<String> {
        Some(match self.delivery {
            Delivery::AtOnce => "at once".to_owned(),
            Delivery::Spread { minutes } => format!("spread {minutes}"),
            Delivery::BasalRate => "basal rate".to_owned(),
            Delivery::Intravenous => "intravenous".to_owned(),
        })
    }

    fn figure(&self) -> Figure {
        Figure::exact(self.units)
    }

    /// A source that does not say which insulin contradicts none.
    fn alike(&self, other: &Self) -> bool {
        let unsaid = InsulinKind::Unsaid;
        is_same(self.units, other.units)
            && self.delivery == other.delivery
            && (self.insulin == other.insulin || self.insulin == unsaid || other.insulin == unsaid)
    }

    fn coarseness(&self) -> f64 {
        f64::from(u8::from(self.insulin == InsulinKind::Unsaid))
    }

    fn fill(&mut self, other: &Self) {
        if self.insulin == InsulinKind::Unsaid {
            self.insulin = other.insulin;
        }
        fill(&mut self.note, &other.note);
    }
}

impl Same for Meal {
    /// Meals are the same by their carbohydrate; where it was not counted, by their words.
    fn words(&self) -> Option<String> {
        match (self.carbohydrate_g, &self.text) {
            (Some(_), _) => Some("counted".to_owned()),
            (None, Some(text)) => Some(format!("said {text}")),
            (None, None) => None,
        }
    }

    fn figure(&self) -> Figure {
        Figure::exact(self.carbohydrate_g.unwrap_or(0.0))
    }

    fn alike(&self, other: &Self) -> bool {
        match (self.carbohydrate_g, other.carbohydrate_g) {
            (Some(mine), Some(others)) => is_same(mine, others),
            (None, None) => self.text.is_some() && self.text == other.text,
            _ => false,
        }
    }

    fn fill(&mut self, other: &Self) {
        fill(&mut self.protein_g, &other.protein_g);
        fill(&mut self.fat_g, &other.fat_g);
        fill(&mut self.fibre_g, &other.fibre_g);
        fill(&mut self.energy_kcal, &other.energy_kcal);
        fill(&mut self.text, &other.text);
    }
}

impl Same for Mark {
    fn words(&self) -> Option<String> {
        let until = self.until.map(|until| until.div_euclid(MINUTE_S));
        Some(format!("{} {until:?} {:?}", self.kind.word(), self.text))
    }

    fn figure(&self) -> Figure {
        Figure::exact(self.value.unwrap_or(0.0))
    }

    /// The ends may differ as the beginnings may: one to the minute, the other to the second of that minute.
    fn alike(&self, other: &Self) -> bool {
        let whole = |until: i64| until.rem_euclid(MINUTE_S) == 0;
        let ends = match (self.until, other.until) {
            (Some(a), Some(b)) => {
                a == b || (a.div_euclid(MINUTE_S) == b.div_euclid(MINUTE_S) && (whole(a) || whole(b)))
            }
            (a, b) => a == b,
        };
        ends && self.kind == other.kind && self.value == other.value && self.text == other.text
    }

    fn fill(&mut self, _: &Self) {}
}

impl Same for SensorNote {
    fn words(&self) -> Option<String> {
        Some(format!("{} {:?}", self.kind.word(), self.sensor))
    }

    fn figure(&self) -> Figure {
        Figure::exact(0.0)
    }

    fn alike(&self, other: &Self) -> bool {
        self.kind == other.kind && self.sensor == other.sensor && compatible(&self.site, &other.site)
    }

    fn coarseness(&self) -> f64 {
        f64::from(u8::from(self.site.is_none()))
    }

    fn fill(&mut self, other: &Self) {
        fill(&mut self.site, &other.site);
        fill(&mut self.note, &other.note);
        self.detail.fill(&other.detail);
    }
}

impl Same for LowVerdict {
    fn words(&self) -> Option<String> {
        None
    }

    fn figure(&self) -> Figure {
        Figure::exact(0.0)
    }

    fn alike(&self, other: &Self) -> bool {
        self == other
    }

    fn fill(&mut self, _: &Self) {}
}

impl Same for LivedSpan {
    fn words(&self) -> Option<String> {
        None
    }

    fn figure(&self) -> Figure {
        Figure::exact(0.0)
    }

    fn alike(&self, other: &Self) -> bool {
        self == other
    }

    fn fill(&mut self, _: &Self) {}
}
