//! What is in the program: a list for people, and one for programs (SPDX 2.3, ISO/IEC 5962 in its later form).

use std::collections::BTreeSet;
use std::path::Path;

use anyhow::{Context, Result, ensure};
use serde_json::{Value, json};

use crate::packages::{Listed, listed};
use crate::run::output;

const DOCUMENT: &str = "SPDXRef-DOCUMENT";

/// Prints the list.
pub(crate) fn licences(top: &Path) -> Result<()> {
    for package in listed(top)?.iter().filter(|package| !package.is_ours) {
        println!("{} {}  {}", package.name, package.version, package.licence);
    }
    Ok(())
}

/// Prints the document.
pub(crate) fn sbom(top: &Path) -> Result<()> {
    println!("{}", sbom_text(top)?);
    Ok(())
}

/// The document. It is of the latest change of the project, so that the same sources give the same bytes.
pub(crate) fn sbom_text(top: &Path) -> Result<String> {
    let all = listed(top)?;
    let change = output(
        std::process::Command::new("git")
            .current_dir(top)
            .args([
                "-c",
                "core.abbrev=no",
                "log",
                "-1",
                "--date=format-local:%Y-%m-%dT%H:%M:%SZ",
                "--format=%H %cd",
            ])
            .env("TZ", "UTC"),
    )?;
    let (commit, created) = change
        .trim()
        .split_once(' ')
        .context("git log is not understood")?;
    let document = document(&all, commit, created);
    validate(&document)?;
    Ok(serde_json::to_string_pretty(&document)?)
}

fn id(package: &Listed) -> String {
    let plain = |text: &str| -> String {
        text.chars()
            .map(|c| {
                if c.is_ascii_alphanumeric() || c == '.' {
                    c
                } else {
                    '-'
                }
            })
            .collect()
    };
    format!("SPDXRef-{}-{}", plain(&package.name), plain(&package.version))
}

fn document(all: &[Listed], commit: &str, created: &str) -> Value {
    let packages: Vec<Value> = all.iter().map(package).collect();
    let mut relationships: Vec<Value> = Vec::new();
    let mut relate = |from: &str, kind: &str, to: &str| {
        relationships
            .push(json!({ "spdxElementId": from, "relationshipType": kind, "relatedSpdxElement": to }));
    };
    for package in all {
        if package.name == "interstice" {
            relate(DOCUMENT, "DESCRIBES", &id(package));
        }
        for &used in &package.uses {
            relate(&id(package), "DEPENDS_ON", &id(&all[used]));
        }
    }
    json!({
        "spdxVersion": "SPDX-2.3",
        "dataLicense": "CC0-1.0",
        "SPDXID": DOCUMENT,
        "name": "interstice",
        "documentNamespace": format!("urn:interstice:sbom:{commit}"),
        "creationInfo": { "created": created, "creators": ["Tool: interstice-xtask"] },
        "packages": packages,
        "relationships": relationships,
    })
}

fn package(package: &Listed) -> Value {
    let licence = if package.licence.is_empty() {
        "NOASSERTION"
    } else {
        &package.licence
    };
    json!({
        "SPDXID": id(package),
        "name": package.name,
        "versionInfo": package.version,
        "downloadLocation": "NOASSERTION",
        "filesAnalyzed": false,
        "licenseConcluded": "NOASSERTION",
        "licenseDeclared": licence,
        "copyrightText": "NOASSERTION",
        "externalRefs": [{
            "referenceCategory": "PACKAGE-MANAGER",
            "referenceType": "purl",
            "referenceLocator": format!("pkg:cargo/{}@{}", package.name, package.version),
        }],
    })
}

/// What the specification asks of a document (SPDX 2.3, clauses 6, 7 and 11): the fields that must be there, identifiers that are
/// written right and are used once, relations between elements that exist.
fn validate(document: &Value) -> Result<()> {
    let text = |value: &Value, field: &str| -> Result<String> {
        let found = value[field]
            .as_str()
            .with_context(|| format!("{field} is missing"))?;
        ensure!(!found.is_empty(), "{field} is empty");
        Ok(found.to_owned())
    };
    for field in [
        "spdxVersion",
        "dataLicense",
        "SPDXID",
        "name",
        "documentNamespace",
    ] {
        text(document, field)?;
    }
    let created = text(&document["creationInfo"], "created")?;
    ensure!(
        created.len() == 20 && created.ends_with('Z'),
        "created is '{created}', not a moment of universal time"
    );
    let mut known = BTreeSet::from([DOCUMENT.to_owned()]);
    for package in document["packages"].as_array().context("there are no packages")? {
        let id = text(package, "SPDXID")?;
        let name = id
            .strip_prefix("SPDXRef-")
            .context("an identifier begins otherwise")?;
        let is_plain = |c: char| c.is_ascii_alphanumeric() || c == '.' || c == '-';
        ensure!(name.chars().all(is_plain), "{id} is not an identifier");
        ensure!(known.insert(id.clone()), "{id} is there twice");
        for field in ["name", "downloadLocation", "licenseDeclared"] {
            text(package, field).with_context(|| id.clone())?;
        }
    }
    let mut describes = 0;
    for relation in document["relationships"]
        .as_array()
        .context("there are no relations")?
    {
        for end in ["spdxElementId", "relatedSpdxElement"] {
            let end = text(relation, end)?;
            ensure!(known.contains(&end), "{end} is related and is not there");
        }
        describes += u32::from(relation["relationshipType"] == "DESCRIBES");
    }
    ensure!(describes == 1, "it describes {describes} packages");
    Ok(())
}

#[cfg(test)]
mod tests {
    use std::path::PathBuf;

    use super::*;

    fn two() -> Vec<Listed> {
        let one = Listed {
            name: "interstice".to_owned(),
            version: "0.1.0".to_owned(),
            licence: "MIT OR Apache-2.0".to_owned(),
            is_ours: true,
            manifest: PathBuf::from("Cargo.toml"),
            uses: vec![1],
        };
        let other = Listed {
            name: "some_thing".to_owned(),
            version: "1.0.0+2".to_owned(),
            licence: String::new(),
            is_ours: false,
            manifest: PathBuf::from("Cargo.toml"),
            uses: Vec::new(),
        };
        vec![one, other]
    }

    #[test]
    fn a_document_holds_what_the_specification_asks() {
        let document = document(&two(), "abc", "2026-01-02T03:04:05Z");
        validate(&document).expect("it is whole");
        assert_eq!(document["packages"][1]["SPDXID"], "SPDXRef-some-thing-1.0.0-2");
        assert_eq!(document["packages"][1]["licenseDeclared"], "NOASSERTION");
        assert_eq!(document["relationships"].as_array().map(Vec::len), Some(2));
    }

    #[test]
    fn what_is_missing_is_found() {
        let whole = document(&two(), "abc", "2026-01-02T03:04:05Z");
        for (place, value) in [
            ("/name", json!("")),
            ("/creationInfo/created", json!("yesterday")),
            ("/packages/1/SPDXID", json!("SPDXRef-interstice-0.1.0")),
            ("/packages/1/SPDXID", json!("SPDXRef-some_thing")),
            ("/packages/0/licenseDeclared", json!(null)),
            ("/relationships/1/relatedSpdxElement", json!("SPDXRef-nothing")),
            ("/relationships/0/relationshipType", json!("DEPENDS_ON")),
        ] {
            let mut broken = whole.clone();
            *broken.pointer_mut(place).expect("it is there") = value;
            assert!(validate(&broken).is_err(), "{place}");
        }
    }
}
