//! Who may use whom: the table in ARCHITECTURE.md, held against what cargo says.

use std::collections::BTreeMap;
use std::path::Path;

use anyhow::{Context, Result};
use serde_json::Value;

use super::Finding;
use super::tree::File;
use crate::run::{cargo, output};

/// Rules in this file.
pub(super) const RULES: usize = 3;

/// Packages that belong to certain rooms, and why.
const KEPT: [(&str, &[&str], &str); 9] = [
    ("rusqlite", &["crates/book"], "only the book speaks SQL"),
    ("axum", &["crates/web"], "only the local app listens"),
    (
        "csv",
        &["crates/intake", "crates/doors"],
        "only intake and doors know other programs' files",
    ),
    ("parquet", &["crates/doors"], "only doors writes it"),
    ("calamine", &["crates/intake"], "only intake reads foreign files"),
    ("age", &["crates/backup"], "only backups are encrypted files"),
    ("krilla", &["crates/render"], "only render draws"),
    ("zbus", &["crates/radio"], "only radio asks the system's services"),
    (
        "rand",
        &["crates/methods", "demo"],
        "chance is seeded, and used in methods and the demo alone",
    ),
];

/// Packages nothing of ours may use, and what to use.
const BANNED: [(&str, &str); 3] = [
    ("chrono", "time is jiff's"),
    ("time", "time is jiff's"),
    ("reqwest", "nothing opens an outgoing connection"),
];

/// What a room may use.
#[derive(Debug, PartialEq, Eq)]
enum May {
    /// Every room.
    All,
    /// These.
    Only(Vec<String>),
}

/// A package of the workspace: its folder, and what it uses when it runs (not in its tests).
struct Room {
    folder: String,
    uses: Vec<Use>,
}

/// A dependency: its name, and its folder if it is ours.
struct Use {
    name: String,
    folder: Option<String>,
}

/// Holds every room of the workspace against the table, and the packages against the two lists above.
pub(super) fn check(top: &Path, tree: &[File]) -> Result<Vec<Finding>> {
    let metadata = output(cargo(top).args(["metadata", "--format-version=1", "--no-deps", "--offline"]))?;
    let rooms = read_rooms(&serde_json::from_str(&metadata)?)?;
    let text = tree
        .iter()
        .find(|file| file.path == "ARCHITECTURE.md")
        .map_or("", |file| file.text.as_str());
    let table = read_table(text);
    let mut findings = against_table(&rooms, &table);
    findings.extend(kept_packages(&rooms));
    findings.extend(banned_packages(&rooms));
    Ok(findings)
}

fn read_rooms(metadata: &Value) -> Result<Vec<Room>> {
    let root = metadata["workspace_root"]
        .as_str()
        .context("cargo metadata names no workspace root")?;
    let under = |path: &str| {
        let rest = path.strip_prefix(root)?.trim_start_matches(['/', '\\']);
        Some(
            rest.trim_end_matches("Cargo.toml")
                .trim_end_matches(['/', '\\'])
                .replace('\\', "/"),
        )
    };
    let packages = metadata["packages"]
        .as_array()
        .context("cargo metadata lists no packages")?;
    let mut rooms = Vec::new();
    for package in packages {
        let manifest = package["manifest_path"]
            .as_str()
            .context("a package without manifest")?;
        let folder = under(manifest).context("a package outside the workspace")?;
        let dependencies = package["dependencies"]
            .as_array()
            .context("a package without dependency list")?;
        let uses = dependencies
            .iter()
            .filter(|dependency| dependency["kind"] != "dev")
            .map(|dependency| Use {
                name: dependency["name"].as_str().unwrap_or_default().to_owned(),
                folder: dependency["path"].as_str().and_then(under),
            })
            .collect();
        rooms.push(Room { folder, uses });
    }
    rooms.sort_by(|a, b| a.folder.cmp(&b.folder));
    Ok(rooms)
}

/// Reads the rows of the form ``| `folder` | what it is | what it may use | …``.
fn read_table(text: &str) -> BTreeMap<String, May> {
    let mut table = BTreeMap::new();
    for line in text.lines() {
        let cells: Vec<&str> = line.split('|').map(str::trim).collect();
        let [_, room, _, may, ..] = cells.as_slice() else {
            continue;
        };
        let Some(folder) = room.strip_prefix('`').and_then(|rest| rest.strip_suffix('`')) else {
            continue;
        };
        let may = match *may {
            "all of them" => May::All,
            "–" | "-" | "" => May::Only(Vec::new()),
            names => May::Only(names.split(',').map(|name| name.trim().to_owned()).collect()),
        };
        table.insert(folder.to_owned(), may);
    }
    table
}

fn against_table(rooms: &[Room], table: &BTreeMap<String, May>) -> Vec<Finding> {
    let mut findings = Vec::new();
    for room in rooms {
        let folder = &room.folder;
        let Some(may) = table.get(folder) else {
            findings.push(format!(
                "{folder}: not in the table of ARCHITECTURE.md; say there what it may use"
            ));
            continue;
        };
        let May::Only(names) = may else { continue };
        for used in room.uses.iter().filter_map(|used| used.folder.as_deref()) {
            let name = used.rsplit('/').next().unwrap_or(used);
            if !names.iter().any(|allowed| allowed == name) {
                findings.push(format!(
                    "{folder}: uses {name}, which the table of ARCHITECTURE.md does not allow"
                ));
            }
        }
    }
    for folder in table
        .keys()
        .filter(|folder| !rooms.iter().any(|room| room.folder == **folder))
    {
        findings.push(format!(
            "ARCHITECTURE.md: its table names {folder}, which is no package of the workspace"
        ));
    }
    findings
}

fn kept_packages(rooms: &[Room]) -> Vec<Finding> {
    let mut findings = Vec::new();
    for (name, allowed, why) in KEPT {
        for room in rooms
            .iter()
            .filter(|room| !allowed.contains(&room.folder.as_str()))
        {
            if room.uses.iter().any(|used| used.name == name) {
                findings.push(format!("{}: uses {name}, but {why}", room.folder));
            }
        }
    }
    findings
}

fn banned_packages(rooms: &[Room]) -> Vec<Finding> {
    let mut findings = Vec::new();
    for room in rooms {
        for (name, instead) in BANNED {
            if room.uses.iter().any(|used| used.name == name) {
                findings.push(format!("{}: uses {name}, but {instead}", room.folder));
            }
        }
    }
    findings
}

#[cfg(test)]
mod tests {
    use super::*;

    const TABLE: &str = "\
| room | what it is | what it may use | what it may not do |
| --- | --- | --- | --- |
| `crates/a` | words | – | – |
| `crates/b` | sums | a | – |
| `crates/c` | program | all of them | – |
";

    fn room(folder: &str, ours: &[&str], foreign: &[&str]) -> Room {
        let own = ours.iter().map(|path| Use {
            name: String::new(),
            folder: Some((*path).to_owned()),
        });
        let other = foreign.iter().map(|name| Use {
            name: (*name).to_owned(),
            folder: None,
        });
        Room {
            folder: folder.to_owned(),
            uses: own.chain(other).collect(),
        }
    }

    #[test]
    fn the_road_as_drawn_passes() {
        let rooms = [
            room("crates/a", &[], &[]),
            room("crates/b", &["crates/a"], &[]),
            room("crates/c", &["crates/a", "crates/b"], &[]),
        ];
        assert_eq!(against_table(&rooms, &read_table(TABLE)), Vec::<String>::new());
    }

    #[test]
    fn an_edge_uphill_a_new_room_and_a_vanished_one_are_found() {
        let rooms = [
            room("crates/a", &["crates/b"], &[]),
            room("crates/b", &[], &[]),
            room("crates/d", &[], &[]),
        ];
        let findings = against_table(&rooms, &read_table(TABLE));
        assert_eq!(findings.len(), 3, "{findings:?}");
        assert!(findings[0].contains("uses b"));
        assert!(findings[1].starts_with("crates/d: not in the table"));
        assert!(findings[2].contains("names crates/c"));
    }

    #[test]
    fn packages_kept_to_one_room_are_found_in_another() {
        let rooms = [
            room("crates/book", &[], &["rusqlite"]),
            room("crates/web", &[], &["rusqlite", "chrono"]),
        ];
        assert_eq!(
            kept_packages(&rooms),
            ["crates/web: uses rusqlite, but only the book speaks SQL"]
        );
        assert_eq!(
            banned_packages(&rooms),
            ["crates/web: uses chrono, but time is jiff's"]
        );
    }
}
