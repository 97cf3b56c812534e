//! What is said of backups: a quiet line on Now, a part of Settings.

use interstice_backup::Reminder;
use interstice_render::words;
use interstice_tongue::say;
use maud::{Markup, html};

use crate::Backups;
use crate::shell::linked;

/// One line, where there is something to say.
pub(super) fn reminder(reminder: Option<Reminder>) -> Markup {
    let said = match reminder {
        None => return html! {},
        Some(Reminder::Never) => say!("settings-backup-never"),
        Some(Reminder::LongAgo { days }) => say!("settings-backup-old", days = days.unsigned_abs()),
    };
    html! { p.help #backup-reminder { (linked(&said, &["/settings#backups"])) } }
}

/// When the last one was, when the next comes, what went wrong.
pub(super) fn section(backups: &Backups) -> Markup {
    html! {
        section aria-labelledby="backups" {
            h2 #backups { (say!("settings-backup-heading")) }
            dl.facts {
                dt { (say!("settings-backup-last")) }
                dd {
                    @match &backups.last {
                        None => (say!("settings-backup-none")),
                        Some((at, path)) => { (words::date_and_clock(*at)) ", " code { (path) } }
                    }
                }
                dt { (say!("settings-backup-by-itself")) }
                dd {
                    @match &backups.by_itself {
                        None => (say!("settings-backup-by-hand")),
                        Some((folder, hours)) => { (say!("settings-backup-every", hours = *hours)) " " code { (folder) } }
                    }
                }
                @if let Some(next) = backups.next { dt { (say!("settings-backup-next")) } dd { (words::date_and_clock(next)) } }
                @if let Some((at, why)) = &backups.trouble { dt { (say!("settings-backup-try")) } dd { (say!("settings-backup-failed", when = words::date_and_clock(*at), why = why)) } }
            }
            p { (linked(&say!("settings-backup-help"), &[])) }
        }
    }
}
