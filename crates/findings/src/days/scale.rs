//! From everything to an hour, and a step either way: the stretches a page offers.

use interstice_glucose::{DAY_S, Second};

/// A stretch to go to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ViewSpan {
    /// First instant.
    pub from: Second,
    /// First instant no longer in it.
    pub to: Second,
}

/// How much to show.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Scale {
    /// 'a week'.
    pub name: &'static str,
    /// Its length.
    pub seconds: Second,
    /// Where that would be, about the middle of what is shown.
    pub view: ViewSpan,
}

/// A step to the side.
#[derive(Clone, Debug, PartialEq)]
pub struct Move {
    /// 'earlier', 'later'.
    pub name: &'static str,
    /// How far, in widths of what is shown.
    pub share: f64,
    /// Where that would be.
    pub view: ViewSpan,
}

const SCALES: [(&str, Second); 6] = [
    ("ten years", 3652 * DAY_S),
    ("a year", 365 * DAY_S),
    ("a month", 30 * DAY_S),
    ("a week", 7 * DAY_S),
    ("a day", DAY_S),
    ("an hour", 3600),
];

/// The scales of a book of `span`, about the middle of what is shown: everything, then those shorter than that.
pub(super) fn scales(span: (Second, Second), from: Second, to: Second) -> Vec<Scale> {
    let whole = span.1 - span.0;
    let middle = (from + (to - from) / 2).clamp(span.0, span.1);
    let shorter = SCALES
        .into_iter()
        .filter(|&(_, seconds)| seconds < whole)
        .map(|(name, seconds)| {
            let from = (middle - seconds / 2).clamp(span.0, (span.1 - seconds).max(span.0));
            Scale {
                name,
                seconds,
                view: ViewSpan {
                    from,
                    to: from + seconds,
                },
            }
        });
    let all = Scale {
        name: "everything",
        seconds: whole,
        view: ViewSpan {
            from: span.0,
            to: span.1,
        },
    };
    std::iter::once(all).chain(shorter).collect()
}

/// Half a width earlier and later.
pub(super) fn moves(from: Second, to: Second) -> [Move; 2] {
    let half = (to - from) / 2;
    let step = |name, share, by: Second| Move {
        name,
        share,
        view: ViewSpan {
            from: (from + by).max(0),
            to: to + by,
        },
    };
    [step("earlier", -0.5, -half), step("later", 0.5, half)]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn scales_stay_within_the_book() {
        let span = (1_000_000, 1_000_000 + 200 * DAY_S);
        let scales = scales(span, span.1 - DAY_S, span.1);
        let names: Vec<&str> = scales.iter().map(|scale| scale.name).collect();
        assert_eq!(names, ["everything", "a month", "a week", "a day", "an hour"]);
        assert!(
            scales
                .iter()
                .all(|scale| span.0 <= scale.view.from && scale.view.to <= span.1)
        );
        assert!(
            scales
                .iter()
                .all(|scale| scale.view.to - scale.view.from == scale.seconds)
        );
    }

    #[test]
    fn steps_are_half_a_width() {
        let [earlier, later] = moves(1000, 2000);
        assert_eq!((earlier.view.from, earlier.view.to), (500, 1500));
        assert_eq!((later.view.from, later.view.to), (1500, 2500));
    }
}
