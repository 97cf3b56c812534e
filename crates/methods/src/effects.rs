//! What makes a sensor good or bad for this person: each thing asked, with its interval and what would settle it.
//!
//! A row is a blood check beside a sensor: the difference in percent of the blood, which sensor, and what was logged about it.
//! [`ask`] fits a mixed model ([`crate::mixed`]) for each question and corrects for how many were asked; [`levels`] draws
//! the levels of a site or a lot towards each other as far as the data ask for it. Nothing here shows what *caused* a
//! difference: what was always worn together stays together, and answers say so.

mod answer;
mod ask;
mod column;
mod level;
mod plan;
mod words;

pub use answer::{Answer, Compared, Estimate, More, Quality, Standing, Untold};
pub use ask::{ask, benjamini_hochberg};
pub use column::{Differences, Question, Values};
pub use level::{Level, levels};
