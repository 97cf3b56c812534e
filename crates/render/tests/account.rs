//! The account as a person reads it.

use interstice_glucose::Unit;
use interstice_render::words::Shown;
use interstice_render::{sample, text};

const MG: Shown = Shown { unit: Unit::MgPerDl };
const MMOL: Shown = Shown { unit: Unit::MmolPerL };

#[test]
fn two_weeks_in_mg_dl() {
    insta::assert_snapshot!(text::review(&sample::review(14), MG));
}

#[test]
fn one_week_in_mmol_l() {
    insta::assert_snapshot!(text::review(&sample::review(7), MMOL));
}

#[test]
fn nothing_to_tell() {
    insta::assert_snapshot!(text::review(&sample::empty_review(), MG));
}

#[test]
fn a_terminal_has_eighty_columns() {
    for days in [1, 7, 14, 90, 365] {
        for shown in [MG, MMOL] {
            for line in text::review(&sample::review(days), shown).lines() {
                assert!(
                    line.chars().count() <= 80,
                    "{} columns: {line}",
                    line.chars().count()
                );
            }
        }
    }
}
