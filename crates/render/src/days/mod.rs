//! The long timeline for the page: what the script draws from, the words of events, and a picture for when there is no
//! script.
//!
//! * [`tile`]: a view as bytes, [`page_data`]: what holds for the whole book.
//! * [`words`](self::event_text): events, ticks and stretches as a person says them.
//! * [`picture`]: the same view as SVG.

mod page;
mod picture;
mod say;
mod tile;

pub use page::{PageView, page_data};
pub use picture::picture;
pub use say::{
    account_sentence, clock_set, event_text, extremes, lane_name, range_name, reading_value, stretch_heading,
    stretch_name, swing_address, view_name,
};
pub use tile::tile;

use interstice_findings::days::ReadingRange;
use interstice_glucose::Glucose;

use crate::chart::GlucoseAxis;
use crate::words::{Range, Shown};

/// Bottom of the scale, mg/dL, unless something lies lower.
const BOTTOM_MG_DL: f64 = 40.0;

/// The scale of a book: bottom and top, mg/dL. Everything in it fits.
pub(crate) fn scale(extremes_mg_dl: Option<(f64, f64)>) -> (f64, f64) {
    let (lowest, highest) = extremes_mg_dl.unwrap_or((BOTTOM_MG_DL, 0.0));
    (lowest.clamp(5.0, BOTTOM_MG_DL), GlucoseAxis::top_for(highest))
}

/// In the wearer's unit, unrounded: a place in a picture, not a number to read.
pub(crate) fn in_unit(mg_dl: f64, shown: Shown) -> f64 {
    Glucose::from_mg_per_dl(mg_dl).in_unit(shown.unit)
}

/// The ranges as drawn, from the top.
pub(crate) const FROM_TOP: [Range; 5] = [
    Range::VeryHigh,
    Range::High,
    Range::InRange,
    Range::Low,
    Range::VeryLow,
];

/// A reading's range, for its name and its colour.
pub(crate) fn range(of: ReadingRange) -> Range {
    match of {
        ReadingRange::VeryHigh => Range::VeryHigh,
        ReadingRange::High => Range::High,
        ReadingRange::InRange => Range::InRange,
        ReadingRange::Low => Range::Low,
        ReadingRange::VeryLow => Range::VeryLow,
    }
}
