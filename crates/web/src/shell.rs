//! What stands around every page.

use interstice_render::{chart, words};
use interstice_tongue::{current, decimal, say, thousands};
use maud::{DOCTYPE, Markup, html};

use crate::Trouble;
use crate::invented::banner;

/// Where a page stands in the navigation.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Tab {
    /// This moment.
    Now,
    /// The account.
    Review,
    /// Sensors beside blood.
    Trust,
    /// What is on and what comes next.
    Wear,
    /// The sheet for the care team.
    Visit,
    /// The long timeline.
    Days,
    /// Writing it down.
    Write,
    /// What was brought in.
    Imports,
    /// Unit, targets, zone.
    Settings,
    /// None of them.
    Elsewhere,
}

impl Tab {
    /// Tabs of the navigation with their addresses.
    const ALL: [(Tab, &'static str); 9] = [
        (Tab::Now, "/now"),
        (Tab::Days, "/days"),
        (Tab::Review, "/review"),
        (Tab::Trust, "/trust"),
        (Tab::Wear, "/wear"),
        (Tab::Visit, "/visit"),
        (Tab::Write, "/write"),
        (Tab::Imports, "/imports"),
        (Tab::Settings, "/settings"),
    ];

    fn name(self) -> String {
        match self {
            Tab::Now => say!("shell-tab-now"),
            Tab::Days => say!("shell-tab-days"),
            Tab::Review => say!("shell-tab-review"),
            Tab::Trust => say!("shell-tab-trust"),
            Tab::Wear => say!("shell-tab-wear"),
            Tab::Visit => say!("shell-tab-visit"),
            Tab::Write => say!("shell-tab-write"),
            Tab::Imports => say!("shell-tab-imports"),
            Tab::Settings => say!("shell-tab-settings"),
            Tab::Elsewhere => String::new(),
        }
    }
}

/// A whole page. `scripts` are files of `assets/` it is better with; it must be readable without.
pub(crate) fn page(title: &str, tab: Tab, scripts: &[&str], content: Markup) -> Markup {
    html! {
        (DOCTYPE)
        html lang=(current().code()) {
            (head(title, html! {
                link rel="manifest" href="/app.webmanifest";
                link rel="apple-touch-icon" href="/assets/icon-192.png";
                meta name="theme-color" content="#1d2733";
                @if tab == Tab::Visit { link rel="stylesheet" href="/assets/sheet.css"; }
                script src="/assets/tables.js" defer data-words=(table_words()) {}
                @for script in scripts { script src={ "/assets/" (script) } defer {} }
            }))
            body {
                a.skip href="#main" { (say!("shell-skip")) }
                (chart::hatches())
                header.top {
                    a.name href="/" { "Interstice" }
                    nav aria-label=(say!("shell-pages")) {
                        @for (entry, address) in Tab::ALL {
                            a href=(address) aria-current=[(entry == tab).then_some("page")] { (entry.name()) }
                        }
                    }
                }
                (banner())
                main #main { (content) }
                footer.foot {
                    p { (linked(&say!("shell-foot"), &["/methods"])) }
                }
            }
        }
    }
}

/// What the script beside every table says, and the marks by which it reads the page's numbers; between braces stands what
/// it fills in.
fn table_words() -> String {
    let apart = thousands(1_234_567);
    let apart: Option<char> = apart.chars().find(|letter| !letter.is_ascii_digit());
    serde_json::json!({
        "copy": say!("shell-table-copy"),
        "copyWhich": say!("shell-table-copy-which", table = "{table}"),
        "copied": say!("shell-table-copied"),
        "uncopied": say!("shell-table-uncopied"),
        "save": say!("shell-table-save"),
        "saveWhich": say!("shell-table-save-which", table = "{table}"),
        "wide": say!("shell-table-wide", table = "{table}"),
        "table": say!("shell-table"),
        "name": say!("shell-table-name"),
        "value": say!("shell-table-value"),
        "column": say!("shell-table-column", number = "{number}"),
        "decimal": decimal("."),
        "thousands": apart,
    })
    .to_string()
}

/// What stands in the head of every page, and what this one has more.
fn head(title: &str, more: Markup) -> Markup {
    html! {
        head {
            meta charset="utf-8";
            meta name="viewport" content="width=device-width, initial-scale=1";
            meta name="color-scheme" content="light dark";
            title { (title) " · Interstice" }
            link rel="icon" href="/assets/icon.svg" type="image/svg+xml";
            link rel="stylesheet" href="/assets/chart.css";
            link rel="stylesheet" href="/assets/app.css";
            (more)
        }
    }
}

/// A page that leads nowhere else: without the navigation, without a script.
pub(crate) fn alone(title: &str, content: Markup) -> Markup {
    html! {
        (DOCTYPE)
        html lang=(current().code()) {
            (head(title, html! {
                meta name="robots" content="noindex";
                link rel="stylesheet" href="/assets/sheet.css";
            }))
            body {
                (chart::hatches())
                main #main { (content) }
                footer.foot { p { (say!("shell-foot-alone")) } }
            }
        }
    }
}

/// A page that says why there is none.
pub(crate) fn trouble(trouble: &Trouble, (address, words): (&str, &str)) -> Markup {
    page(
        &trouble.heading(),
        Tab::Elsewhere,
        &[],
        html! {
            h1 { (trouble.heading()) }
            p.answer { (sentence(&trouble.to_string())) }
            p { a href=(address) { (words) } }
        },
    )
}

/// What a page of figures says of an empty book.
pub(crate) fn nothing_yet(title: &str, appears: &str) -> Markup {
    html! {
        h1 { (title) }
        p.answer { (say!("shell-nothing-yet")) }
        p { (linked(&say!("shell-bring-in", appears = appears), &["/"])) }
    }
}

/// A message as a sentence: a capital first, a full stop last.
pub(crate) fn sentence(message: &str) -> String {
    let mut letters = message.chars();
    let first = letters
        .next()
        .map(|letter| letter.to_uppercase().collect::<String>())
        .unwrap_or_default();
    let rest = letters.as_str();
    let stop = if rest.ends_with(['.', '?', '!']) { "" } else { "." };
    format!("{first}{rest}{stop}")
}

/// The same words with every number kept beside its unit when a line breaks.
pub(crate) fn glue(text: &str) -> String {
    let letters: Vec<char> = text.chars().collect();
    let holds = |i: usize| {
        let (before, after) = (letters.get(i.wrapping_sub(1)), letters.get(i + 1));
        let number = |letter: Option<&char>| letter.is_some_and(char::is_ascii_digit);
        number(before) || (before == Some(&'h') && number(after))
    };
    letters
        .iter()
        .enumerate()
        .map(|(i, &c)| if c == ' ' && holds(i) { '\u{a0}' } else { c })
        .collect()
}

/// A count with its thousands apart: '12,345'.
pub(crate) fn count(n: u64) -> String {
    thousands(n)
}

/// Words with their links: what stands between the first '[' and ']' leads to the first address, and so on. What stands
/// between backticks is set as it is typed. Only for messages into which nothing is put that a person wrote.
pub(crate) fn linked(words: &str, addresses: &[&str]) -> Markup {
    let mut rest = words;
    let mut addresses = addresses.iter();
    let mut parts = Vec::new();
    while let Some(at) = rest.find(['[', '`']) {
        let close = if rest[at..].starts_with('[') { ']' } else { '`' };
        let Some(length) = rest[at + 1..].find(close) else {
            break;
        };
        let inner = &rest[at + 1..at + 1 + length];
        parts.push(html! { (rest[..at]) });
        parts.push(match (close, addresses.len()) {
            ('`', _) => html! { code { (inner) } },
            (_, 0) => html! { "[" (inner) "]" },
            _ => html! { a href=[addresses.next()] { (inner) } },
        });
        rest = &rest[at + length + 2..];
    }
    html! { @for part in parts { (part) } (rest) }
}

/// Words with fields of a form in them, each at its name between '[' and ']'.
pub(crate) fn placed(words: &str, fields: &[(&str, Markup)]) -> Markup {
    html! {
        @for (place, piece) in words.split('[').enumerate() {
            @match piece.split_once(']').filter(|_| place > 0) {
                Some((name, rest)) => {
                    @for (_, field) in fields.iter().filter(|field| field.0 == name) { (field) }
                    (rest)
                }
                None => (piece),
            }
        }
    }
}

/// A table; on a narrow screen each row becomes a block of its own.
pub(crate) fn table(table: &words::Table, class: &str) -> Markup {
    html! {
        div.scroll {
            table class={ "stack " (class) } {
                thead { tr { @for head in &table.heads { th.num[head.number] scope="col" { (head.name) } } } }
                tbody {
                    @for row in &table.rows {
                        tr {
                            @for (i, (cell, head)) in row.iter().zip(&table.heads).enumerate() {
                                @if i == 0 { th scope="row" { (cell) } }
                                @else { td.num[head.number] data-label=(head.name) { (glue(cell)) } }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// A caution, once, where the decision stands.
pub(crate) fn caution(caution: words::Caution, shown: words::Shown) -> Markup {
    html! { p.caution role="note" { (caution.text(shown)) } }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fields_stand_where_the_words_have_them() {
        let fields = [("low", html! { input; }), ("high", html! { select {} })];
        assert_eq!(
            placed("from [high] & [low] on", &fields).into_string(),
            "from <select></select> &amp; <input> on"
        );
    }

    #[test]
    fn links_stand_where_the_words_have_them() {
        let said = |words| linked(words, &["/a", "/b"]).into_string();
        assert_eq!(
            said("One [two] and [three] by `four & five`."),
            "One <a href=\"/a\">two</a> and <a href=\"/b\">three</a> by <code>four &amp; five</code>."
        );
        assert_eq!(
            said("[a] [b] [c] [d"),
            "<a href=\"/a\">a</a> <a href=\"/b\">b</a> [c] [d"
        );
    }
}
