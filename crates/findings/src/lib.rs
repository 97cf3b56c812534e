//! One question, one struct: a window of the book in, [`ReviewFindings`] out; sensors and blood checks in,
//! [`TrustFindings`] out. The only place where the book and the
//! methods meet. Pages, text and files show these structs and compute nothing.
//!
//! Glucose is in mg/dL here and in `--json`, whatever the wearer reads; `render` converts when it writes a number.

mod account;
mod aside;
mod ask;
mod checks;
pub mod compare;
pub mod days;
pub mod feeds;
mod figure;
pub mod find;
#[cfg(any(test, fuzzing))]
#[doc(hidden)]
pub mod fuzz;
pub mod meals;
mod nearby;
pub mod now;
pub mod patterns;
mod review;
pub mod second_look;
mod shelf;
pub mod states;
mod summary;
pub mod swings;
mod taken;
pub mod trust;
pub mod visit;
pub mod wear;
mod whole;
mod window;
mod worn;
pub mod written;

pub use account::{Reader, reader, review, review_book};
pub use ask::{Ask, DEFAULT_SEED, FindingsError, Span};
pub use checks::{CheckFindings, CheckPartLine, CheckSummary, checks, checks_book};
pub use figure::{Figure, Time};
pub use interstice_methods::{FEWEST_DAYS_MIDDLE, OwnTargets, TargetGroup, Targets};
pub use now::{NowAsk, NowFindings, now, now_book};
pub use review::{
    DayLine, EpisodeKind, EpisodeLine, LeftOut, LeftOutLow, Nearby, NearbyKind, RangeMinutes, ReviewFindings,
    Sufficiency, Summary, TraceLine, UsualMinute, Window,
};
pub use second_look::{
    SecondLookAsk, SecondLookFindings, SecondLookScore, second_look, second_look_book, second_look_score,
};
pub use shelf::Shelf;
pub use taken::{Taken, taken, taken_again};
pub use trust::{TrustAsk, TrustFindings, trust_book};
pub use visit::{VisitAsk, VisitFindings, visit_book};
pub use wear::{TrialLine, WearAsk, WearFindings, wear_book};
pub use worn::{KnownFrom, SensorWorn, WORN_BEFORE_S, sensors_worn};
