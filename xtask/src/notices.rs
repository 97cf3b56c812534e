//! What the licences of the packages ask to be passed on with the program: their texts and notices, each text once.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs;
use std::path::Path;

use anyhow::{Context, Result};

use crate::packages::{Listed, listed};

/// How the names of files begin that hold a licence or a notice, in capitals.
const BEGINNINGS: [&str; 6] = [
    "LICENSE",
    "LICENCE",
    "COPYING",
    "COPYRIGHT",
    "NOTICE",
    "UNLICENSE",
];

/// Prints them.
pub(crate) fn print(top: &Path) -> Result<()> {
    print!("{}", text(top)?);
    Ok(())
}

/// The packages, and then the texts with the packages each is of.
pub(crate) fn text(top: &Path) -> Result<String> {
    let packages = listed(top)?;
    let foreign: Vec<&Listed> = packages.iter().filter(|package| !package.is_ours).collect();
    let mut texts: BTreeMap<String, Vec<String>> = BTreeMap::new();
    let mut all = String::from("Packages that this program holds or is built by.\n\n");
    for package in foreign {
        let name = format!("{} {}", package.name, package.version);
        let found = notices_of(package)?;
        let without = if found.is_empty() {
            "  (its source holds no text of it)"
        } else {
            ""
        };
        writeln!(all, "{name}  {}{without}", package.licence)?;
        for text in found {
            texts.entry(text).or_default().push(name.clone());
        }
    }
    let mut texts: Vec<(String, Vec<String>)> = texts.into_iter().collect();
    // By the packages, so that a text is found by its first one.
    texts.sort_by(|a, b| a.1.cmp(&b.1));
    for (text, names) in texts {
        write!(all, "\n{}\nof {}\n\n{text}\n", "-".repeat(72), names.join(", "))?;
    }
    Ok(all)
}

/// The texts beside a package's manifest, in the order of their names.
fn notices_of(package: &Listed) -> Result<Vec<String>> {
    let folder = package.manifest.parent().context("a manifest lies in a folder")?;
    let there = fs::read_dir(folder).with_context(|| format!("{} cannot be read", folder.display()))?;
    let mut files: Vec<_> = there
        .filter_map(Result::ok)
        .map(|entry| entry.path())
        .filter(|path| path.is_file() && is_notice(path))
        .collect();
    files.sort();
    files
        .iter()
        .map(|path| {
            let bytes = fs::read(path).with_context(|| format!("{} cannot be read", path.display()))?;
            let text = String::from_utf8_lossy(&bytes).replace("\r\n", "\n");
            Ok(text.trim_end().to_owned())
        })
        .collect()
}

fn is_notice(path: &Path) -> bool {
    let name = path
        .file_name()
        .unwrap_or_default()
        .to_string_lossy()
        .to_uppercase();
    BEGINNINGS.iter().any(|beginning| name.starts_with(beginning))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_notice_is_known_by_its_name() {
        for (name, expected) in [
            ("LICENSE-MIT", true),
            ("license.txt", true),
            ("COPYING", true),
            ("UNLICENSE", true),
            ("NOTICE.md", true),
            ("README.md", false),
            ("src", false),
        ] {
            assert_eq!(is_notice(Path::new(name)), expected, "{name}");
        }
    }
}
