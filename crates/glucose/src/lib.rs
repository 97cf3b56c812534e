//! The words everyone shares: glucose and its units, values as a device said them, instants and the wall clock
//! they were lived at, columns of readings, and the events beside them.
//!
//! Nothing here does input or output, and nothing here is a statistic. Start at [`Said`] (one value), then
//! [`Readings`] (a column of them), then [`Draft`] (all that one file brought).

mod aside;
mod claim;
mod count;
mod draft;
mod ending;
mod event;
mod lived;
mod money;
mod names;
mod photo;
mod readings;
mod said;
mod sensor;
mod sensor_kind;
mod stock;
mod trial;
mod unit;
mod visit;
mod wear_choices;

pub use aside::AsideWhy;
pub use claim::{ClaimStep, ClaimWhat};
pub use count::{counted, one_or_many};
pub use draft::{Draft, LivedSpan, Rejected, TraceDraft, TraceKind};
pub use ending::{COVERS, Comfort, Ending, PREPARATIONS, Removal, SkinAfter};
pub use event::{
    BloodCheck, BloodSource, Delivery, Dose, INSULIN_LASTS_MIN, InsulinKind, InsulinLasts, LowVerdict,
    LowWas, Mark, MarkKind, Meal, SensorNote, SensorNoteKind,
};
pub use lived::{LivedClock, LivedClockError, Moment, Pass, WallInstants, WallTime, Zone};
pub use money::{Currency, Money, MoneyError};
pub use names::Named;
pub use photo::{LARGEST_PHOTO, PhotoDraft, PhotoMedia};
pub use readings::{Level, Levels, Readings};
pub use said::{Censor, Said, SaidError};
pub use sensor::{BodySite, Region, SensorDetail, Side};
pub use sensor_kind::{SensorKind, WearFrom};
pub use stock::{Arrival, Correction, Holds, Lot, Price, same_words};
pub use trial::{Arm, Compares, Trial, TrialOutcome, same_tags};
pub use unit::{Glucose, MG_PER_DL_IN_ONE_MMOL_PER_L, Unit, round_half_up};
pub use visit::{Hba1c, Hba1cUnit, LabHba1c, Question, VisitChoice, VisitNotes, day_from_words, day_words};
pub use wear_choices::{Away, DayHours, Pin, PlanWeight, WearChoice, WearChoices};

/// Seconds since 1970-01-01T00:00:00Z. Columns keep them as `u32` (1970 to 2106); arithmetic uses `i64`.
pub type Second = i64;

/// Seconds in a nominal day. A lived day has 23, 24 or 25 hours: use [`LivedClock`] for those.
pub const DAY_S: i64 = 86_400;
