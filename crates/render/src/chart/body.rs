//! The body from the front and from behind, with the places sensors are worn on.
//!
//! An outline of our own drawing. What each place has seen stands in the table beside it; the map says only what helps to
//! choose: where one is, how long each place has rested, and which are named by the labelling.

use interstice_findings::wear::PlaceWorn;
use interstice_glucose::{Region, Side};
use maud::{Markup, html};

use super::axis::at;

const WIDTH: f64 = 360.0;
const HEIGHT: f64 = 428.0;
/// Middle of each figure.
const FRONT: f64 = 92.0;
const BEHIND: f64 = 268.0;
const TOP: f64 = 22.0;
/// A place is a target for a finger: 28 units across on a map of a phone's width.
const RADIUS: f64 = 14.0;
/// Half of the outline, from the neck over shoulder, arm and leg to the middle; the other half is its mirror image. It reaches a
/// little beyond the middle, so that no seam shows.
const HALF: &str = "M-0.6 42L6 42C6 50 7 54 14 57C26 61 36 62 42 68C48 74 49 84 50 96C51 112 54 122 56 136C59 156 63 174 66 192C70 200 \
     72 210 71 220C70 227 65 228 62 222C59 214 58 206 57 196C52 178 47 160 44 142C42 130 40 120 37 106C36 118 35 130 34 144C34 158 37 \
     168 39 184C42 206 40 236 37 262C36 274 36 284 36 292C38 310 35 334 31 352C30 362 29 370 30 378C33 386 36 392 34 395C30 398 20 398 \
     16 395C14 390 16 380 16 370C16 352 14 336 14 318C14 304 14 290 12 276C10 254 6 232 3 208L-0.6 206Z";

/// Where a place is drawn: which figure, how far from its middle, how far down.
struct Drawn {
    region: Region,
    behind: bool,
    off: f64,
    down: f64,
}

const DRAWN: [Drawn; 8] = [
    Drawn {
        region: Region::Chest,
        behind: false,
        off: 20.0,
        down: 90.0,
    },
    Drawn {
        region: Region::Abdomen,
        behind: false,
        off: 17.0,
        down: 152.0,
    },
    Drawn {
        region: Region::Forearm,
        behind: false,
        off: 57.0,
        down: 172.0,
    },
    Drawn {
        region: Region::Thigh,
        behind: false,
        off: 24.0,
        down: 246.0,
    },
    Drawn {
        region: Region::UpperArm,
        behind: true,
        off: 47.0,
        down: 108.0,
    },
    Drawn {
        region: Region::Back,
        behind: true,
        off: 17.0,
        down: 152.0,
    },
    Drawn {
        region: Region::Buttock,
        behind: true,
        off: 20.0,
        down: 196.0,
    },
    Drawn {
        region: Region::Calf,
        behind: true,
        off: 24.0,
        down: 320.0,
    },
];

/// One place of the map.
struct Spot<'a> {
    region: Region,
    side: Side,
    x: f64,
    y: f64,
    place: Option<&'a PlaceWorn>,
    next: bool,
}

/// The parts of the body that are drawn.
pub fn body_regions() -> impl Iterator<Item = Region> {
    DRAWN.iter().map(|drawn| drawn.region)
}

/// Draws both sides of the body. A place is a link to `link(its name)`; `next` is where the next sensor is planned.
///
/// `id` must be unique in the page.
pub fn body(
    places: &[PlaceWorn],
    next: Option<(Region, Option<Side>)>,
    link: &dyn Fn(&str) -> String,
    id: &str,
) -> Markup {
    let spots = spots(places, next);
    html! {
        svg.picture.body viewBox={ "0 0 " (at(WIDTH)) " " (at(HEIGHT)) } role="group" aria-labelledby={ (id) "-t" } {
            title id={ (id) "-t" } { "The body from the front and from behind, with the places for a sensor" }
            (figure(FRONT))
            (figure(BEHIND))
            text.mid.faint x=(at(FRONT)) y="12" { "from the front" }
            text.mid.faint x=(at(BEHIND)) y="12" { "from behind" }
            // Seen from the front the left side is on the right.
            text.mid.faint x=(at(FRONT - 70.0)) y=(at(TOP + 246.0)) { "right" }
            text.mid.faint x=(at(FRONT + 70.0)) y=(at(TOP + 246.0)) { "left" }
            text.mid.faint x=(at(BEHIND - 70.0)) y=(at(TOP + 246.0)) { "left" }
            text.mid.faint x=(at(BEHIND + 70.0)) y=(at(TOP + 246.0)) { "right" }
            @for spot in &spots { (drawn(spot, link)) }
        }
    }
}

fn figure(middle: f64) -> Markup {
    html! {
        g.skin transform={ "translate(" (at(middle)) " " (at(TOP)) ")" } {
            ellipse cx="0" cy="22" rx="17" ry="22" {}
            path d=(HALF) {}
            path d=(HALF) transform="scale(-1 1)" {}
        }
    }
}

fn spots<'a>(places: &'a [PlaceWorn], next: Option<(Region, Option<Side>)>) -> Vec<Spot<'a>> {
    let sides = [Side::Left, Side::Right];
    let all = DRAWN.iter().flat_map(|drawn| sides.map(|side| (drawn, side)));
    all.map(|(drawn, side)| {
        let middle = if drawn.behind { BEHIND } else { FRONT };
        let to_the_left = (side == Side::Left) == drawn.behind;
        Spot {
            region: drawn.region,
            side,
            x: if to_the_left {
                middle - drawn.off
            } else {
                middle + drawn.off
            },
            y: TOP + drawn.down,
            place: places
                .iter()
                .find(|place| place.region == drawn.region && place.side == Some(side)),
            next: next.is_some_and(|(region, on)| region == drawn.region && on == Some(side)),
        }
    })
    .collect()
}

fn drawn(spot: &Spot<'_>, link: &dyn Fn(&str) -> String) -> Markup {
    let name = format!("{} {}", spot.side.name(), spot.region.name());
    let on_now = spot.place.is_some_and(|place| place.on_now);
    let unlabelled = spot.place.and_then(|place| place.labelled) == Some(false);
    let used = spot.place.is_some_and(|place| place.sensors > 0);
    let class = match (on_now, used) {
        (true, _) => "spot on",
        (false, true) => "spot used",
        (false, false) => "spot",
    };
    let rested = spot.place.and_then(|place| place.rested_days);
    html! {
        a href=(link(&name)) aria-label=(said(&name, spot)) {
            g class=(class) {
                title { (said(&name, spot)) }
                circle.unlabelled[unlabelled] cx=(at(spot.x)) cy=(at(spot.y)) r=(at(RADIUS)) {}
                @if spot.next { circle.next cx=(at(spot.x)) cy=(at(spot.y)) r=(at(RADIUS + 3.5)) {} }
                @if on_now {
                    text.mid x=(at(spot.x)) y=(at(spot.y + 3.8)) { "on" }
                } @else if let Some(days) = rested {
                    text.mid x=(at(spot.x)) y=(at(spot.y + 3.8)) { (days.min(999.0).floor()) }
                }
            }
        }
    }
}

/// A place in words, for those who do not see the map and as its tip.
fn said(name: &str, spot: &Spot<'_>) -> String {
    let state = match spot.place {
        Some(place) if place.on_now => "a sensor is on there now".to_owned(),
        Some(place) => match place.rested_days {
            Some(days) => format!("rested for {} days", days.floor()),
            None => "never used".to_owned(),
        },
        None => "never used".to_owned(),
    };
    let next = if spot.next {
        ", the next sensor is planned there"
    } else {
        ""
    };
    format!("{name}: {state}{next}; put one on there")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn left_is_left_from_behind_and_right_from_the_front() {
        for spot in spots(&[], None) {
            let behind = spot.x > 180.0;
            let middle = if behind { BEHIND } else { FRONT };
            assert_eq!(
                spot.x < middle,
                (spot.side == Side::Left) == behind,
                "{:?}",
                spot.region
            );
        }
    }

    #[test]
    fn places_do_not_touch() {
        let all = spots(&[], None);
        for (i, a) in all.iter().enumerate() {
            for b in &all[i + 1..] {
                let apart = libm::hypot(a.x - b.x, a.y - b.y);
                assert!(
                    apart > 2.0 * RADIUS + 2.0,
                    "{:?} {:?} {apart}",
                    a.region,
                    b.region
                );
            }
        }
    }
}
