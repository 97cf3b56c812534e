//! What is said of backups: a quiet line on Now, a part of Settings.

use interstice_backup::Reminder;
use interstice_glucose::counted;
use interstice_render::words;
use maud::{Markup, html};

use crate::Backups;

/// One line, where there is something to say.
pub(super) fn reminder(reminder: Option<Reminder>) -> Markup {
    let said = match reminder {
        None => return html! {},
        Some(Reminder::Never) => "This book has no backup yet".to_owned(),
        Some(Reminder::LongAgo { days }) => {
            let days = counted(days.unsigned_abs(), "day", "days");
            format!("The last backup of this book is {days} old, and it was written to since")
        }
    };
    html! { p.help #backup-reminder { (said) ": " a href="/settings#backups" { "how to make one" } "." } }
}

/// When the last one was, when the next comes, what went wrong.
pub(super) fn section(backups: &Backups) -> Markup {
    html! {
        section aria-labelledby="backups" {
            h2 #backups { "Backups" }
            dl.facts {
                dt { "The last one" }
                dd {
                    @match &backups.last {
                        None => "none yet",
                        Some((at, path)) => { (words::date_and_clock(*at)) ", " code { (path) } }
                    }
                }
                dt { "By itself" }
                dd {
                    @match &backups.by_itself {
                        None => "no",
                        Some((folder, hours)) => { "every " (counted(u64::from(*hours), "hour", "hours")) " into " code { (folder) } }
                    }
                }
                @if let Some(next) = backups.next { dt { "The next one" } dd { (words::date_and_clock(next)) } }
                @if let Some((at, why)) = &backups.trouble { dt { "The last try" } dd { (words::date_and_clock(*at)) " failed: " (why) } }
            }
            p {
                "A backup is one file with the whole book in it, encrypted with a passphrase of yours, read back and held against this book before it counts. In a terminal: "
                code { "interstice backup FILE" } ", or by itself with " code { "interstice backup-set --folder DIR" }
                "; " code { "interstice restore FILE" } " brings it back. Keep backups on another disk, and the passphrase where you find it without this machine."
            }
        }
    }
}
