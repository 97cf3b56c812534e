//! Hatches and the style sheet of the pictures.

use maud::{Markup, PreEscaped, html};

use crate::words::Range;

/// The hatches, to be placed once in a page before the first picture. Below range the strokes fall, above range they
/// rise, and they stand closer the more serious it is: readable without colour.
pub fn hatches() -> Markup {
    html! {
        svg.hatches width="0" height="0" aria-hidden="true" focusable="false" { (definitions()) }
    }
}

fn definitions() -> Markup {
    html! {
        defs {
            @for ground in [true, false] {
                (pattern("below1", 7, "M-1 1 l2 -2 M0 7 l7 -7 M6 8 l2 -2", true, ground))
                (pattern("below2", 4, "M-1 1 l2 -2 M0 4 l4 -4 M3 5 l2 -2", true, ground))
                (pattern("above1", 7, "M-1 1 l2 -2 M0 7 l7 -7 M6 8 l2 -2", false, ground))
                (pattern("above2", 4, "M-1 1 l2 -2 M0 4 l4 -4 M3 5 l2 -2", false, ground))
            }
            // What has no say, whatever its range.
            (pattern("aside", 5, "M-1 1 l2 -2 M0 5 l5 -5 M4 6 l2 -2", false, false))
        }
    }
}

/// A square tile of rising strokes; `falling` mirrors it. Without its `ground` it is the paler kind.
fn pattern(name: &str, size: u32, strokes: &str, falling: bool, ground: bool) -> Markup {
    let kind = if ground { "hatch" } else { "pale" };
    let mirror = if falling {
        format!("matrix(-1 0 0 1 {size} 0)")
    } else {
        "matrix(1 0 0 1 0 0)".to_owned()
    };
    html! {
        pattern id={ (kind) "-" (name) } width=(size) height=(size) patternUnits="userSpaceOnUse" {
            @if ground { rect class={ "ground " (name) } width=(size) height=(size) {} }
            path class={ "strokes " (kind) " " (name) } d=(strokes) transform=(mirror) {}
        }
    }
}

/// The paint of a range: a hatch outside the target range, the class's own fill inside.
pub(crate) fn paint(range: Range) -> Option<String> {
    (range != Range::InRange).then(|| format!("url(#hatch-{})", range.class()))
}

/// The paler paint of a range: strokes without a ground.
pub(crate) fn pale_paint(range: Range) -> Option<String> {
    (range != Range::InRange).then(|| format!("url(#pale-{})", range.class()))
}

/// The style sheet of the pictures, with its colours for light, dark and print.
pub fn style() -> &'static str {
    concat!(
        include_str!("chart.css"),
        include_str!("trust.css"),
        include_str!("sensor.css"),
        include_str!("body.css")
    )
}

/// A picture that stands alone as a file: with its hatches and its style inside.
pub fn standalone(picture: &Markup) -> String {
    let inside = html! { style { (PreEscaped(style())) } (definitions()) }.into_string();
    let text = picture
        .0
        .replacen("<svg ", "<svg xmlns=\"http://www.w3.org/2000/svg\" ", 1);
    match text.find('>') {
        Some(end) => format!("{}{inside}{}", &text[..=end], &text[end + 1..]),
        None => text,
    }
}
