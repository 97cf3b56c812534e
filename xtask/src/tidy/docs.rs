//! Rules about the documents.

use std::collections::BTreeSet;

use super::Finding;
use super::tree::File;

/// Folders whose every page must be linked from their README.md.
const INDEXED: [&str; 4] = ["docs/methods", "docs/decisions", "docs/guide", "docs/formats"];

/// Relative links in documents lead to a file or a folder of the project.
pub(super) fn links_lead_somewhere(tree: &[File]) -> Vec<Finding> {
    let known = paths_and_folders(tree);
    let mut findings = Vec::new();
    for file in tree.iter().filter(|file| file.has_ending(&[".md"])) {
        for (number, target) in links(file) {
            if !is_picture(&target) && !known.contains(&target) {
                findings.push(format!(
                    "{}:{number}: the link to {target} leads nowhere",
                    file.path
                ));
            }
        }
    }
    findings
}

/// Every page of an indexed folder is linked from its README.md.
pub(super) fn indices_are_complete(tree: &[File]) -> Vec<Finding> {
    let mut findings = Vec::new();
    for folder in INDEXED {
        let index = format!("{folder}/README.md");
        let linked: BTreeSet<String> = tree
            .iter()
            .filter(|file| file.path == index)
            .flat_map(|file| links(file).into_iter().map(|(_, target)| target))
            .collect();
        let pages = tree.iter().filter(|file| {
            file.path.starts_with(&format!("{folder}/")) && file.path.ends_with(".md") && file.path != index
        });
        for page in pages.filter(|page| !linked.contains(&page.path)) {
            findings.push(format!("{}: not linked from {index}", page.path));
        }
    }
    findings
}

/// A decision record says what asked for it, what was chosen and what that costs.
pub(super) fn decisions_admit_their_cost(tree: &[File]) -> Vec<Finding> {
    let records = tree.iter().filter(|file| {
        file.path.starts_with("docs/decisions/")
            && file.path.ends_with(".md")
            && !file.path.ends_with("README.md")
    });
    let mut findings = Vec::new();
    for file in records {
        for part in ["**Context.**", "**Choice.**", "**Cost.**"] {
            if !file.text.contains(part) {
                findings.push(format!("{}: has no paragraph {part}", file.path));
            }
        }
    }
    findings
}

/// The changelog has a place for what is being made.
pub(super) fn changelog_has_an_open_section(tree: &[File]) -> Vec<Finding> {
    let open = tree.iter().any(|file| {
        file.path == "CHANGELOG.md" && file.text.lines().any(|line| line.trim() == "## Unreleased")
    });
    if open {
        Vec::new()
    } else {
        vec!["CHANGELOG.md: has no section '## Unreleased'".to_owned()]
    }
}

/// Pictures are not text, so the tree does not hold them.
fn is_picture(target: &str) -> bool {
    [".png", ".svg", ".jpg", ".pdf"]
        .iter()
        .any(|ending| target.ends_with(ending))
}

fn paths_and_folders(tree: &[File]) -> BTreeSet<String> {
    let mut known = BTreeSet::new();
    for file in tree {
        known.insert(file.path.clone());
        let mut folder = file.path.as_str();
        while let Some((parent, _)) = folder.rsplit_once('/') {
            known.insert(parent.to_owned());
            folder = parent;
        }
    }
    known
}

/// Targets of the relative links `[text](target)` of a document, as paths from the top, with their lines. Code
/// between fences is passed over.
fn links(file: &File) -> Vec<(usize, String)> {
    let mut found = Vec::new();
    let mut in_code = false;
    for (number, line) in file.numbered() {
        if line.trim_start().starts_with("```") {
            in_code = !in_code;
        }
        if in_code {
            continue;
        }
        for rest in line.split("](").skip(1) {
            let target = rest.split([')', ' ']).next().unwrap_or_default();
            let target = target.split('#').next().unwrap_or_default();
            if target.is_empty() || target.contains("://") || target.starts_with("mailto:") {
                continue;
            }
            found.push((number, resolve(&file.path, target)));
        }
    }
    found
}

/// A link's target as a path from the top.
fn resolve(from: &str, target: &str) -> String {
    let mut parts: Vec<&str> = match target.strip_prefix('/') {
        Some(_) => Vec::new(),
        None => from.split('/').collect(),
    };
    parts.pop();
    for part in target.split('/') {
        match part {
            "" | "." => {}
            ".." => {
                parts.pop();
            }
            name => parts.push(name),
        }
    }
    parts.join("/")
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

    #[test]
    fn links_are_followed_from_where_they_stand() {
        assert_eq!(
            resolve("docs/methods/README.md", "../guide/a.md"),
            "docs/guide/a.md"
        );
        assert_eq!(resolve("README.md", "docs/guide/"), "docs/guide");
        let tree = [
            file(
                "README.md",
                "[a](docs/a.md) [b](docs/b.md#part)\n```\n[c](none.md)\n```\n[d](https://x.org)",
            ),
            file("docs/a.md", ""),
        ];
        assert_eq!(
            links_lead_somewhere(&tree),
            ["README.md:1: the link to docs/b.md leads nowhere"]
        );
    }

    #[test]
    fn a_page_missing_from_its_index_is_found() {
        let tree = [
            file("docs/methods/README.md", "[mean](mean.md)"),
            file("docs/methods/mean.md", ""),
            file("docs/methods/lag.md", ""),
        ];
        assert_eq!(
            indices_are_complete(&tree),
            ["docs/methods/lag.md: not linked from docs/methods/README.md"]
        );
    }

    #[test]
    fn a_decision_without_its_cost_is_found() {
        let tree = [file(
            "docs/decisions/0001-a.md",
            "**Context.** x\n**Choice.** y\n",
        )];
        assert_eq!(
            decisions_admit_their_cost(&tree),
            ["docs/decisions/0001-a.md: has no paragraph **Cost.**"]
        );
    }

    #[test]
    fn a_changelog_needs_its_open_section() {
        assert!(changelog_has_an_open_section(&[file("CHANGELOG.md", "# C\n\n## Unreleased\n")]).is_empty());
        assert_eq!(
            changelog_has_an_open_section(&[file("CHANGELOG.md", "# C\n")]).len(),
            1
        );
    }
}
