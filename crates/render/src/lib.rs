//! Findings to words, pictures and text. Nothing here computes a figure, opens the book or reads a clock: a number that
//! is not in the findings is not shown.
//!
//! * [`words`]: every number with its unit, every sentence, every caution, each defined once.
//! * [`calendar`]: sensors to come, as calendars read them.
//! * [`chart`]: SVG, coloured by classes alone so that light, dark and print are a matter of the style sheet.
//! * [`days`]: the long timeline: what its script draws from, its words, its picture.
//! * [`pdf`]: findings on paper.
//! * [`sheet`]: the visit sheet, as paper, page, file and text show it.
//! * [`text`]: the account for a terminal, readable without colour, 80 columns wide.

pub mod calendar;
pub mod chart;
pub mod days;
pub mod pdf;
#[cfg(feature = "sample")]
pub mod sample;
pub mod sheet;
pub mod text;
pub mod words;
