//! Pictures say what they show, carry no colour of their own, and are the same twice.

#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

use interstice_glucose::Unit;
use interstice_render::chart::{self, Shape};
use interstice_render::sample;
use interstice_render::words::Shown;

const MG: Shown = Shown { unit: Unit::MgPerDl };

fn all_pictures(days: u32) -> Vec<String> {
    let findings = sample::review(days);
    let mut pictures = Vec::new();
    for shape in [Shape::Phone, Shape::Wide] {
        pictures.push(chart::usual_day(&findings.usual_day, &findings.targets, MG, shape, "u").into_string());
        pictures.push(chart::ruler(&findings, shape, "r").into_string());
        pictures.push(chart::when(&findings, shape, "w").into_string());
    }
    pictures
}

#[test]
fn every_picture_has_a_title_and_a_description() {
    for picture in all_pictures(14) {
        assert!(
            picture.contains("<title id=") && picture.contains("<desc id="),
            "{picture}"
        );
    }
}

#[test]
fn colours_come_from_classes_alone() {
    for picture in all_pictures(14) {
        assert!(
            !picture.contains("style=") && !picture.contains("fill=\"#") && !picture.contains("rgb("),
            "{picture}"
        );
    }
}

#[test]
fn no_coordinate_is_lost() {
    for days in [0, 1, 14, 365] {
        for picture in all_pictures(days) {
            assert!(
                !picture.contains("NaN") && !picture.contains("inf"),
                "{days} days: {picture}"
            );
        }
    }
}

#[test]
fn the_same_findings_give_the_same_bytes() {
    assert_eq!(all_pictures(14), all_pictures(14));
}

#[test]
fn the_ruler_says_its_minutes() {
    let findings = sample::review(14);
    let picture = chart::ruler(&findings, Shape::Wide, "r").into_string();
    assert!(picture.contains("16 h 20 min in range, 6 h 57 min above, of which 1 h 26 min very high"));
}

#[test]
fn a_picture_that_stands_alone_brings_its_style() {
    let findings = sample::review(14);
    let file = chart::standalone(&chart::ruler(&findings, Shape::Wide, "r"));
    assert!(
        file.starts_with("<svg xmlns=")
            && file.contains("prefers-color-scheme: dark")
            && file.contains("hatch-below2")
    );
}

/// Relative luminance and contrast ratio of WCAG 2.2.
fn contrast(one: &str, other: &str) -> f64 {
    let luminance = |colour: &str| {
        let whole = match colour.trim_start_matches('#').as_bytes() {
            [r, g, b] => [*r, *r, *g, *g, *b, *b].to_vec(),
            six => six.to_vec(),
        };
        let channel = |i: usize| {
            let byte =
                u8::from_str_radix(std::str::from_utf8(&whole[2 * i..2 * i + 2]).unwrap(), 16).unwrap();
            let share = f64::from(byte) / 255.0;
            if share <= 0.04045 {
                share / 12.92
            } else {
                ((share + 0.055) / 1.055).powf(2.4)
            }
        };
        0.2126 * channel(0) + 0.7152 * channel(1) + 0.0722 * channel(2)
    };
    let (a, b) = (luminance(one), luminance(other));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

/// WCAG 2.2 AA: 4.5 for text (1.4.3), 3 for what must be told apart in a picture or a control (1.4.11). The slate of the
/// time in range is left out: it is quiet on purpose, and the line, the edges and a table say the same.
#[test]
fn colours_keep_their_contrast_in_light_dark_and_print() {
    let sheets: Vec<&str> = chart::style().split("@media").collect();
    let mut colours = std::collections::BTreeMap::new();
    for (scheme, sheet) in ["light", "dark", "print"].into_iter().zip(&sheets) {
        if scheme == "print" {
            colours = read_colours(sheets[0]);
        }
        colours.extend(read_colours(sheet));
        let text = [
            ("ink", "paper"),
            ("ink", "sheet"),
            ("ink", "slate-pale"),
            ("ink", "slate"),
            ("ink-soft", "paper"),
            ("ink-soft", "sheet"),
            ("ink-soft", "night"),
            ("indigo-text", "paper"),
            ("ochre-text", "paper"),
        ];
        let drawn = [
            ("rule-strong", "paper"),
            ("rule-strong", "sheet"),
            ("indigo", "paper"),
            ("indigo", "night"),
            ("indigo", "indigo-pale"),
            ("indigo-deep", "paper"),
            ("indigo-cut", "indigo-ground"),
            ("ochre", "paper"),
            ("ochre", "night"),
            ("ochre", "ochre-pale"),
            ("ochre-deep", "paper"),
            ("ochre-cut", "ochre-ground"),
        ];
        let asked = text
            .map(|pair| (pair, 4.5))
            .into_iter()
            .chain(drawn.map(|pair| (pair, 3.0)));
        for ((one, other), least) in asked {
            let found = contrast(&colours[one], &colours[other]);
            assert!(
                found >= least,
                "{scheme}: {one} on {other} is {found:.2}, less than {least}"
            );
        }
    }
}

fn read_colours(sheet: &str) -> std::collections::BTreeMap<String, String> {
    let lines = sheet
        .lines()
        .filter_map(|line| line.trim().strip_prefix("--")?.split_once(": "));
    lines
        .map(|(name, colour)| (name.to_owned(), colour.trim_end_matches(';').to_owned()))
        .collect()
}

/// WCAG 2.2, 1.4.3: black on white is 21.
#[test]
fn contrast_is_that_of_the_guideline() {
    assert!((contrast("#000", "#ffffff") - 21.0).abs() < 1e-9);
}
