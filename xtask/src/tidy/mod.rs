//! The rules of the house that a compiler does not know. Each is a function from the tree to its findings.

mod docs;
mod edges;
mod text;
mod tree;
mod wording;

use std::path::Path;

use anyhow::Result;

use crate::run::Outcome;
use tree::{File, read_tree};

/// One broken rule, as a line to show: where, what, what to do.
type Finding = String;

/// A rule over the text of all files.
type Rule = fn(&[File]) -> Vec<Finding>;

/// Applies every rule and prints what it finds.
pub(crate) fn step(top: &Path) -> Result<Outcome> {
    let tree = read_tree(top)?;
    let mut findings = edges::check(top, &tree)?;
    let rules: [Rule; 13] = [
        text::nothing_unfinished,
        text::no_test_is_switched_off,
        text::exemptions_have_a_reason,
        text::sql_stays_in_the_book,
        text::files_are_one_concept,
        text::no_place_of_one_machine,
        text::no_word_about_the_making,
        text::every_crate_shares_the_lints,
        docs::links_lead_somewhere,
        docs::indices_are_complete,
        docs::decisions_admit_their_cost,
        docs::changelog_has_an_open_section,
        wording::messages_are_whole,
    ];
    findings.extend(rules.iter().flat_map(|rule| rule(&tree)));
    for finding in &findings {
        println!("tidy: {finding}");
    }
    if let Some(report) = wording::report(&tree) {
        println!("tidy: {report}");
    }
    Ok(match findings.len() {
        0 => Outcome::Well(format!(
            "{} files, {} rules",
            tree.len(),
            rules.len() + edges::RULES
        )),
        n => Outcome::Found(format!("{n} findings")),
    })
}
