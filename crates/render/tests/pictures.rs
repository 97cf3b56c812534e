//! Pictures say what they show, carry no colour of their own, and are the same twice.

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
