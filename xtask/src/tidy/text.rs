//! Rules about what stands in files.

use super::Finding;
use super::tree::File;

const SOURCE: [&str; 5] = [".rs", ".py", ".js", ".css", ".sh"];

/// Lines of a file up to which no reason is asked for.
const LONG: usize = 800;

/// A comment with these words, followed by a reason, lets a file be longer.
const LONG_BECAUSE: &str = "long because";

/// Findings for every line of the chosen files that holds one of the patterns.
fn lines_with(
    tree: &[File],
    chosen: impl Fn(&File) -> bool,
    patterns: &[&str],
    advice: &str,
) -> Vec<Finding> {
    let mut findings = Vec::new();
    for file in tree.iter().filter(|file| !file.is_a_rule() && chosen(file)) {
        for (number, line) in file.numbered() {
            if let Some(pattern) = patterns.iter().find(|pattern| line.contains(**pattern)) {
                findings.push(format!("{}:{number}: '{}' {advice}", file.path, pattern.trim()));
            }
        }
    }
    findings
}

/// Nothing half-made.
pub(super) fn nothing_unfinished(tree: &[File]) -> Vec<Finding> {
    let patterns = ["todo!(", "unimplemented!(", "FIXME", "XXX"];
    lines_with(
        tree,
        |file| file.has_ending(&[".rs"]),
        &patterns,
        "is unfinished work: finish it or take it out",
    )
}

/// What `#[ignore]` may be used for: functions that are no tests by themselves.
const NO_TESTS: [&str; 2] = ["#[ignore = \"run in another process by ", "#[ignore = \"makes "];

/// No test is switched off.
pub(super) fn no_test_is_switched_off(tree: &[File]) -> Vec<Finding> {
    let mut findings = Vec::new();
    for file in tree
        .iter()
        .filter(|file| file.has_ending(&[".rs"]) && !file.is_a_rule())
    {
        for (number, line) in file.numbered() {
            if line.contains("#[ignore") && !NO_TESTS.iter().any(|allowed| line.contains(allowed)) {
                findings.push(format!(
                    "{}:{number}: switches a test off; only 'run in another process by …' and 'makes …' may",
                    file.path
                ));
            }
        }
    }
    findings
}

/// Exemptions from a lint say why, and expire by themselves where they can: `expect` cannot where a lint fires in
/// some of the programs a shared file is built into and not in others.
pub(super) fn exemptions_have_a_reason(tree: &[File]) -> Vec<Finding> {
    let mut findings = Vec::new();
    for file in tree
        .iter()
        .filter(|file| file.has_ending(&[".rs"]) && !file.is_a_rule())
    {
        for opening in ["#[allow(", "#![allow(", "#[expect(", "#![expect("] {
            for (at, _) in file.text.match_indices(opening) {
                let attribute = file.text[at..].split(']').next().unwrap_or_default();
                if !attribute.contains("reason = ") {
                    let number = file.text[..at].matches('\n').count() + 1;
                    findings.push(format!("{}:{number}: {opening}…)] gives no reason", file.path));
                }
            }
        }
    }
    findings
}

/// The book alone speaks SQL. Benchmarks and checks are not rooms.
pub(super) fn sql_stays_in_the_book(tree: &[File]) -> Vec<Finding> {
    let outside = |file: &File| {
        file.has_ending(&[".rs", ".sql"])
            && !file.path.starts_with("crates/book/")
            && !file.path.starts_with("xtask/")
    };
    let patterns = [
        "SELECT ",
        "INSERT INTO",
        "DELETE FROM",
        "CREATE TABLE",
        "UPDATE SET",
        "PRAGMA ",
        "rusqlite::",
    ];
    lines_with(tree, outside, &patterns, "is SQL: it belongs in crates/book")
}

/// A file is one concept; a long one says why it is long.
pub(super) fn files_are_one_concept(tree: &[File]) -> Vec<Finding> {
    tree.iter()
        .filter(|file| file.has_ending(&SOURCE) && !file.is_a_rule())
        .filter(|file| file.text.lines().count() > LONG && !file.text.contains(LONG_BECAUSE))
        .map(|file| {
            let lines = file.text.lines().count();
            format!(
                "{}: {lines} lines; split it, or say '{LONG_BECAUSE} …' in a comment at its top",
                file.path
            )
        })
        .collect()
}

/// Nothing leans on the folders or mirrors of one machine.
pub(super) fn no_place_of_one_machine(tree: &[File]) -> Vec<Finding> {
    let patterns = [
        "/work/",
        "/root/",
        "/opt/wheels",
        "pypi.org",
        "pythonhosted.org",
        "index.crates.io",
        "static.crates.io",
        "registry.npmjs",
        "deb.debian.org",
        "proxy.golang.org",
    ];
    lines_with(
        tree,
        |_| true,
        &patterns,
        "is a place of one machine or a registry's host",
    )
}

/// Documents and comments speak of the project, not of how somebody worked on it. 'Session' alone is a trade word
/// (a sensor's), and so is 'agent' (a drug): only phrases that cannot mean those are looked for.
pub(super) fn no_word_about_the_making(tree: &[File]) -> Vec<Finding> {
    let patterns = [
        "this session",
        "earlier session",
        "previous session",
        "next session",
        "coding agent",
        "sub-agent",
        "subagent",
        "a helper wrote",
        "helper's worktree",
        "BRIEF.md",
        "language model",
        "as an AI",
        "the prompt",
    ];
    lines_with(
        tree,
        |_| true,
        &patterns,
        "speaks of the making, not of the project",
    )
}

/// Every package takes its lints from the workspace.
pub(super) fn every_crate_shares_the_lints(tree: &[File]) -> Vec<Finding> {
    tree.iter()
        .filter(|file| file.path.ends_with("/Cargo.toml") && !file.path.starts_with("fuzz/"))
        .filter(|file| !file.text.contains("[lints]\nworkspace = true"))
        .map(|file| format!("{}: does not say [lints] workspace = true", file.path))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn file(path: &str, text: &str) -> File {
        File {
            path: path.to_owned(),
            text: text.to_owned(),
        }
    }

    /// Each rule with a tree that breaks it once, and one that does not.
    #[test]
    fn every_rule_fires_and_keeps_quiet() {
        use super::super::Rule;
        let long = "x\n".repeat(LONG + 1);
        let cases: [(Rule, &str, &str, &str); 8] = [
            (
                no_test_is_switched_off,
                "crates/a/tests/a.rs",
                "#[ignore = \"slow\"]",
                "#[ignore = \"run in another process by a_kill\"]",
            ),
            (
                nothing_unfinished,
                "crates/a/src/lib.rs",
                "fn f() { todo!() }",
                "fn f() {}",
            ),
            (
                exemptions_have_a_reason,
                "demo/src/lib.rs",
                "#[allow(x)]\nfn f() {}",
                "#[expect(x,\n    reason = \"y\"\n)]",
            ),
            (
                sql_stays_in_the_book,
                "crates/web/src/lib.rs",
                "\"SELECT 1\"",
                "\"select a day\"",
            ),
            (files_are_one_concept, "crates/a/src/lib.rs", &long, "x\n"),
            (no_place_of_one_machine, "README.md", "see /work/x", "see work/x"),
            (
                no_word_about_the_making,
                "README.md",
                "in this session we",
                "the sensor's session",
            ),
            (
                every_crate_shares_the_lints,
                "demo/Cargo.toml",
                "[package]",
                "[lints]\nworkspace = true",
            ),
        ];
        for (rule, path, bad, good) in cases {
            assert_eq!(rule(&[file(path, bad)]).len(), 1, "{bad:.40}");
            assert_eq!(rule(&[file(path, good)]), Vec::<String>::new(), "{good}");
        }
    }

    #[test]
    fn the_book_may_speak_sql_and_a_long_file_may_say_why() {
        assert!(sql_stays_in_the_book(&[file("crates/book/src/lib.rs", "\"SELECT 1\"")]).is_empty());
        let long = format!("//! long because it is one table\n{}", "x\n".repeat(LONG));
        assert!(files_are_one_concept(&[file("crates/a/src/lib.rs", &long)]).is_empty());
    }
}
