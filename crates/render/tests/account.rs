//! The account as a person reads it.

use interstice_findings::TargetGroup;
use interstice_glucose::Unit;
use interstice_render::words::{self, Shown};
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

/// The range of pregnancy is 63–140 mg/dL, 3.5–7.8 mmol/L (Battelino et al. 2019, Diabetes Care 42:1593).
#[test]
fn in_pregnancy_ranges_and_targets_are_its_own() {
    let mut findings = sample::review(14);
    findings.targets = TargetGroup::Pregnancy.targets();
    let bounds = |unit| -> Vec<String> {
        let rows = words::range_rows(&findings, Shown { unit });
        rows.into_iter().map(|row| row.bounds).collect()
    };
    assert_eq!(
        bounds(Unit::MgPerDl),
        [
            "above 140",
            "above 250",
            "141 to 250",
            "63 to 140",
            "below 63",
            "54 to 62",
            "below 54"
        ]
    );
    assert_eq!(
        bounds(Unit::MmolPerL),
        [
            "above 7.8",
            "above 13.9",
            "7.9 to 13.9",
            "3.5 to 7.8",
            "below 3.5",
            "3.0 to 3.4",
            "below 3.0"
        ]
    );
    let said = text::review(&findings, Unit::MgPerDl);
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        said.contains("Targets: pregnancy, in range 63 to 140 mg/dL."),
        "{said}"
    );
    assert!(!said.contains("70 to 180"), "{said}");
}
