//! The account as a person reads it.

use interstice_glucose::Unit;
use interstice_render::{sample, text};

#[test]
fn two_weeks_in_mg_dl() {
    insta::assert_snapshot!(text::review(&sample::review(14), Unit::MgPerDl));
}

#[test]
fn one_week_in_mmol_l() {
    insta::assert_snapshot!(text::review(&sample::review(7), Unit::MmolPerL));
}

#[test]
fn nothing_to_tell() {
    insta::assert_snapshot!(text::review(&sample::empty_review(), Unit::MgPerDl));
}

#[test]
fn a_terminal_has_eighty_columns() {
    for days in [1, 7, 14, 90, 365] {
        for unit in [Unit::MgPerDl, Unit::MmolPerL] {
            for line in text::review(&sample::review(days), unit).lines() {
                assert!(
                    line.chars().count() <= 80,
                    "{} columns: {line}",
                    line.chars().count()
                );
            }
        }
    }
}
