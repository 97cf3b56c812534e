//! Linear mixed models with random intercepts in one or two nested steps, by restricted maximum likelihood.
//!
//! `y = X β + outer + inner + rest`: every outer group (a sensor, or a site) has its own random shift, every inner group
//! within it (a level of what is asked within the sensor, or a sensor at the site) another, and every row its own. All are
//! normal, independent, of mean 0. Groups may be of any size.
//!
//! * [`Nested`] holds the rows, reduced to sums: what follows costs the same for ten rows of a group and ten thousand.
//! * [`Nested::fit`] finds the variances by REML (Patterson and Thompson 1971, Biometrika 58:545–554; Harville 1977,
//!   J Am Stat Assoc 72:320–338).
//! * [`Fit::contrast`] gives an estimate with an interval that admits how few groups there are, after Kenward and Roger
//!   (1997, Biometrics 53:983–997).
//! * [`Nested::shrunken`] gives the level of every outer group, drawn towards the others as far as the data ask for it.

mod contrast;
mod reml;
mod shrunken;
mod sums;

pub use contrast::{Contrast, Freedom};
pub use reml::{Bounds, Fit, Prediction};
pub use shrunken::Shrunken;
pub use sums::{MixedError, Nested};
