//! Pictures as SVG. Shapes carry classes and nothing else; the style sheet ([`style`]) gives colour, so that light,
//! dark and print need no second drawing. Each picture says in its title and description what it shows.
//!
//! A picture comes in two shapes, [`Shape::Phone`] and [`Shape::Wide`], so that its writing stays legible; the page
//! shows one of them.

mod axis;
mod beside;
mod body;
mod checks;
mod compare;
mod fan;
mod first_days;
mod hatch;
mod meals;
mod ruler;
mod sensor;
mod staying;
mod strip;
mod swing;
mod trust;
mod usual_day;
mod when;

pub(crate) use axis::{GlucoseAxis, at};
pub use beside::beside;
pub use body::{body, body_regions};
pub use checks::checks;
pub use compare::compare;
pub use fan::{FanOf, fan};
pub use first_days::{DayDrawn, first_days};
pub use hatch::{hatches, standalone, style};
pub use meals::meals;
pub use ruler::ruler;
pub use sensor::sensor_life;
pub use staying::staying;
pub use strip::day_strip;
pub use swing::swing;
pub use trust::{difference_by_day, differences, error_grid};
pub use usual_day::{usual_day, usual_day_points};
pub use when::when;

/// What the picture is drawn for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shape {
    /// About 360 units wide.
    Phone,
    /// About 920 units wide.
    Wide,
}

impl Shape {
    /// Both, for a page that shows one of them.
    pub const BOTH: [Shape; 2] = [Shape::Phone, Shape::Wide];

    /// Width of the drawing, in its own units.
    pub(crate) fn width(self) -> f64 {
        match self {
            Shape::Phone => 360.0,
            Shape::Wide => 920.0,
        }
    }

    /// The class by which the page chooses one.
    pub fn class(self) -> &'static str {
        match self {
            Shape::Phone => "phone",
            Shape::Wide => "wide",
        }
    }
}

/// The night as shaded: midnight to six, the sleep block of the consensus on key measures (Danne et al. 2017,
/// Diabetes Care 40:1631).
pub(crate) const NIGHT_MIN: (u32, u32) = (0, 360);
