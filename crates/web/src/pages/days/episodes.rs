//! Lows and highs of a day, with what was logged before and after each: what a touch on one in the picture leads to.

use interstice_findings::days::DaysAccount;
use interstice_findings::{EpisodeLine, Nearby};
use interstice_render::words::{self, Shown};
use maud::{Markup, html};

use crate::shell::glue;

/// The list; nothing of a longer stretch, whose episodes the account tells.
pub(super) fn listed(told: &DaysAccount, shown: Shown) -> Markup {
    html! {
        @if !told.episodes.is_empty() {
            section aria-labelledby="timeline-episodes" {
                h2 #timeline-episodes { "Lows and highs" }
                ul.events { @for episode in &told.episodes { (line(episode, shown)) } }
                p.help {
                    "Before: up to three hours; after: up to two. This is what was logged, not what made it. "
                    span.for-script { "A touch on a low or a high in the picture leads here. " }
                    a href="/methods/episodes" { "How they are told" } "."
                }
            }
        }
    }
}

fn line(episode: &EpisodeLine, shown: Shown) -> Markup {
    html! {
        li.episode tabindex="-1" data-episode=(episode.start.0.at) data-until=(episode.end.0.at) {
            strong { (words::date_and_clock(episode.start.0)) (words::which_time(episode.start_pass)) ": " (words::episode_kind(episode)) }
            ", " (glue(&words::episode_length(episode))) ", " (glue(&shown.glucose_with_unit(episode.extreme_mg_dl)))
            (near("Before: ", &episode.before, shown))
            (near("After: ", &episode.after, shown))
        }
    }
}

fn near(name: &str, list: &[Nearby], shown: Shown) -> Markup {
    let said: Vec<String> = list.iter().map(|near| words::nearby(near, shown)).collect();
    let said = match said.as_slice() {
        [] => "nothing logged".to_owned(),
        said => said.join("; "),
    };
    html! { br; span.said { (name) (glue(&said)) } }
}
