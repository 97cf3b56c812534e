//! The files the rules look at.

use std::fs;
use std::path::Path;

use anyhow::{Context, Result};

/// A text file of the project.
pub(super) struct File {
    /// Path from the top, with forward slashes.
    pub(super) path: String,
    /// Its text.
    pub(super) text: String,
}

impl File {
    /// Whether the name ends in one of these.
    pub(super) fn has_ending(&self, endings: &[&str]) -> bool {
        endings.iter().any(|ending| self.path.ends_with(ending))
    }

    /// Its lines with their numbers from 1.
    pub(super) fn numbered(&self) -> impl Iterator<Item = (usize, &str)> {
        self.text.lines().enumerate().map(|(i, line)| (i + 1, line))
    }

    /// Whether it holds the words of these rules themselves.
    pub(super) fn is_a_rule(&self) -> bool {
        self.path.starts_with("xtask/src/tidy/")
    }
}

/// What is made, not written.
const MADE: [&str; 7] = [
    "target",
    ".git",
    ".venv",
    "__pycache__",
    "corpus",
    "artifacts",
    "Cargo.lock",
];

/// Every text file under `top` that is written by hand, in order of path. Test data and other files that are not
/// UTF-8 are left out.
pub(super) fn read_tree(top: &Path) -> Result<Vec<File>> {
    let mut files = Vec::new();
    walk(top, "", &mut files)?;
    files.sort_by(|a, b| a.path.cmp(&b.path));
    Ok(files)
}

fn walk(folder: &Path, prefix: &str, files: &mut Vec<File>) -> Result<()> {
    let entries = fs::read_dir(folder).with_context(|| format!("cannot list {}", folder.display()))?;
    for entry in entries {
        let entry = entry?;
        let name = entry.file_name().to_string_lossy().into_owned();
        if MADE.contains(&name.as_str()) {
            continue;
        }
        let path = if prefix.is_empty() {
            name
        } else {
            format!("{prefix}/{name}")
        };
        let kind = entry.file_type()?;
        if kind.is_dir() {
            walk(&entry.path(), &path, files)?;
        } else if kind.is_file()
            && let Ok(text) = String::from_utf8(fs::read(entry.path())?)
        {
            files.push(File { path, text });
        }
    }
    Ok(())
}
