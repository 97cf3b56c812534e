//! Licences, bans and sources of the packages we build upon, by the same deny.toml that cargo-deny reads. Its tool takes
//! minutes to build, so what needs no database of its own is checked here, from `cargo metadata`, always and offline;
//! where cargo-deny is installed it is asked too. Advisories need a database that is fetched, and are asked for by hand
//! before a release: `cargo deny check advisories`.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result};
use serde::Deserialize;

use crate::run::{Outcome, cargo, output, shown, works};

/// What deny.toml says, as far as it is read here.
#[derive(Debug, Deserialize)]
struct Policy {
    licenses: Licences,
    bans: Bans,
}

#[derive(Debug, Deserialize)]
struct Licences {
    allow: BTreeSet<String>,
    #[serde(default)]
    exceptions: Vec<Exception>,
}

#[derive(Debug, Deserialize)]
struct Exception {
    #[serde(rename = "crate")]
    name: String,
    allow: BTreeSet<String>,
}

#[derive(Debug, Deserialize)]
struct Bans {
    deny: Vec<Ban>,
}

#[derive(Debug, Deserialize)]
struct Ban {
    #[serde(rename = "crate")]
    name: String,
    reason: String,
    /// Packages that may use it all the same.
    #[serde(default)]
    wrappers: BTreeSet<String>,
}

/// What `cargo metadata` says, as far as it is read here.
#[derive(Debug, Deserialize)]
struct Metadata {
    packages: Vec<Package>,
    workspace_members: BTreeSet<String>,
    resolve: Resolve,
}

#[derive(Debug, Deserialize)]
struct Package {
    id: String,
    name: String,
    version: String,
    license: Option<String>,
    /// Its Cargo.toml.
    manifest_path: PathBuf,
    /// `None` of a package in a folder.
    source: Option<String>,
    dependencies: Vec<Dependency>,
}

#[derive(Debug, Deserialize)]
struct Dependency {
    name: String,
    req: String,
    /// The registry, where it is not the default one.
    registry: Option<String>,
    path: Option<String>,
}

#[derive(Debug, Deserialize)]
struct Resolve {
    nodes: Vec<Node>,
}

#[derive(Debug, Deserialize)]
struct Node {
    id: String,
    deps: Vec<Edge>,
}

#[derive(Debug, Deserialize)]
struct Edge {
    pkg: String,
    dep_kinds: Vec<EdgeKind>,
}

#[derive(Debug, Deserialize)]
struct EdgeKind {
    /// 'dev', 'build', or `None` of what runs.
    kind: Option<String>,
}

/// Checks the packages, and asks cargo-deny where there is one.
pub(crate) fn step(top: &Path) -> Result<Outcome> {
    let text = fs::read_to_string(top.join("deny.toml")).context("deny.toml cannot be read")?;
    let policy: Policy = toml::from_str(&text).context("deny.toml is not understood")?;
    let metadata: Metadata =
        serde_json::from_str(&metadata(top)?).context("cargo metadata is not understood")?;
    let findings = findings(&metadata, &policy);
    for finding in &findings {
        println!("deny: {finding}");
    }
    if !findings.is_empty() {
        return Ok(Outcome::Found(format!("{} findings", findings.len())));
    }
    let (passed_on, in_all) = (passed_on(&metadata).len(), metadata.packages.len());
    let mut note = format!("{passed_on} packages passed on, {in_all} in all");
    if works("cargo", &["deny", "--version"]) {
        let asked = shown(cargo(top).args([
            "deny",
            "--offline",
            "check",
            "--hide-inclusion-graph",
            "licenses",
            "bans",
            "sources",
        ]))?;
        let Outcome::Well(_) = asked else {
            return Ok(asked);
        };
        note += "; cargo-deny agrees";
    }
    Ok(Outcome::Well(note))
}

/// Every package for every platform and feature. Offline where all of them are at hand; else those for platforms other
/// than this one are fetched first, through cargo as ever.
fn metadata(top: &Path) -> Result<String> {
    let ask = ["metadata", "--format-version=1", "--locked", "--all-features"];
    output(cargo(top).args(ask).arg("--offline")).or_else(|_| output(cargo(top).args(ask)))
}

/// One line for each package or dependency that the policy does not allow.
fn findings(metadata: &Metadata, policy: &Policy) -> Vec<String> {
    let passed_on = passed_on(metadata);
    let mut found = Vec::new();
    for package in &metadata.packages {
        let named = format!("{} {}", package.name, package.version);
        if passed_on.contains(package.id.as_str())
            && let Some(why) = licence_refused(package, &policy.licenses)
        {
            found.push(format!("{named}: {why}"));
        }
        let ban = policy.bans.deny.iter().find(|ban| ban.name == package.name);
        if let Some(ban) = ban.filter(|ban| !is_wrapped(package, ban, metadata)) {
            found.push(format!("{named}: {}", ban.reason));
        }
        if let Some(why) = source_refused(package, &metadata.workspace_members) {
            found.push(format!("{named}: {why}"));
        }
        if metadata.workspace_members.contains(&package.id) {
            found.extend(package.dependencies.iter().filter_map(|dependency| {
                dependency_refused(dependency).map(|why| format!("{named}: {why}"))
            }));
        }
    }
    found
}

/// Whether a package that is banned is used by nothing but those that may.
fn is_wrapped(package: &Package, ban: &Ban, metadata: &Metadata) -> bool {
    let users = metadata
        .resolve
        .nodes
        .iter()
        .filter(|node| node.deps.iter().any(|edge| edge.pkg == package.id));
    let users: Vec<&str> = users
        .filter_map(|node| metadata.packages.iter().find(|user| user.id == node.id))
        .map(|user| user.name.as_str())
        .collect();
    !users.is_empty() && users.iter().all(|user| ban.wrappers.contains(*user))
}

/// A package of the inventory.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Listed {
    /// Name.
    pub(crate) name: String,
    /// Version.
    pub(crate) version: String,
    /// Its licence as an SPDX expression; empty where it says none.
    pub(crate) licence: String,
    /// Whether it is one of ours.
    pub(crate) is_ours: bool,
    /// Its Cargo.toml, beside which its licence lies.
    pub(crate) manifest: PathBuf,
    /// Places in the list of those it uses.
    pub(crate) uses: Vec<usize>,
}

/// Everything that is passed on or builds what is, by name and version.
pub(crate) fn listed(top: &Path) -> Result<Vec<Listed>> {
    let metadata: Metadata =
        serde_json::from_str(&metadata(top)?).context("cargo metadata is not understood")?;
    let reached = passed_on(&metadata);
    let mut packages: Vec<&Package> = metadata
        .packages
        .iter()
        .filter(|package| reached.contains(package.id.as_str()))
        .collect();
    packages.sort_by(|a, b| (&a.name, &a.version).cmp(&(&b.name, &b.version)));
    let places: BTreeMap<&str, usize> = packages
        .iter()
        .enumerate()
        .map(|(place, package)| (package.id.as_str(), place))
        .collect();
    let mut all: Vec<Listed> = packages
        .iter()
        .map(|package| Listed {
            name: package.name.clone(),
            version: package.version.clone(),
            licence: spdx(package.license.as_deref().unwrap_or_default()),
            is_ours: package.source.is_none(),
            manifest: package.manifest_path.clone(),
            uses: Vec::new(),
        })
        .collect();
    for node in &metadata.resolve.nodes {
        let Some(&place) = places.get(node.id.as_str()) else {
            continue;
        };
        let runs = |edge: &&Edge| {
            edge.dep_kinds
                .iter()
                .any(|kind| kind.kind.as_deref() != Some("dev"))
        };
        let used = node.deps.iter().filter(runs);
        all[place].uses = used
            .filter_map(|edge| places.get(edge.pkg.as_str()).copied())
            .collect();
        all[place].uses.sort_unstable();
    }
    Ok(all)
}

/// Older packages write a stroke where the expression has OR.
fn spdx(licence: &str) -> String {
    let parts: Vec<&str> = licence.split('/').map(str::trim).collect();
    parts.join(" OR ")
}

/// Packages that reach the person with the program, or build it; what only tests use is not passed on.
fn passed_on(metadata: &Metadata) -> BTreeSet<&str> {
    let nodes: BTreeMap<&str, &Node> = metadata
        .resolve
        .nodes
        .iter()
        .map(|node| (node.id.as_str(), node))
        .collect();
    let mut reached: BTreeSet<&str> = BTreeSet::new();
    let mut open: Vec<&str> = metadata.workspace_members.iter().map(String::as_str).collect();
    while let Some(id) = open.pop() {
        if !reached.insert(id) {
            continue;
        }
        let edges = nodes.get(id).map_or(&[][..], |node| &node.deps);
        let runs = |edge: &&Edge| {
            edge.dep_kinds
                .iter()
                .any(|kind| kind.kind.as_deref() != Some("dev"))
        };
        open.extend(edges.iter().filter(runs).map(|edge| edge.pkg.as_str()));
    }
    reached
}

fn licence_refused(package: &Package, policy: &Licences) -> Option<String> {
    let exceptions = policy
        .exceptions
        .iter()
        .filter(|exception| exception.name == package.name);
    let allowed: BTreeSet<&str> = exceptions
        .flat_map(|exception| &exception.allow)
        .chain(&policy.allow)
        .map(String::as_str)
        .collect();
    match package.license.as_deref() {
        None => Some("names no licence; look at its files before it is used".to_owned()),
        Some(licence) if allows(licence, &allowed) => None,
        Some(licence) => Some(format!(
            "its licence '{licence}' is not among those deny.toml allows"
        )),
    }
}

/// Whether an SPDX expression is met by licences that are allowed. An 'or' needs one side, an 'and' both; the slash of
/// older manifests means 'or'. What is not understood is not allowed.
fn allows(licence: &str, allowed: &BTreeSet<&str>) -> bool {
    let spaced = licence
        .replace('/', " OR ")
        .replace('(', " ( ")
        .replace(')', " ) ");
    let words: Vec<&str> = spaced.split_whitespace().collect();
    let mut reader = Expression {
        words: &words,
        allowed,
    };
    reader.either() == Some(true) && reader.words.is_empty()
}

struct Expression<'a> {
    words: &'a [&'a str],
    allowed: &'a BTreeSet<&'a str>,
}

impl<'a> Expression<'a> {
    fn take(&mut self, word: &str) -> bool {
        let there = self.words.first() == Some(&word);
        if there {
            self.words = &self.words[1..];
        }
        there
    }

    fn either(&mut self) -> Option<bool> {
        let mut met = self.both()?;
        while self.take("OR") {
            met |= self.both()?;
        }
        Some(met)
    }

    fn both(&mut self) -> Option<bool> {
        let mut met = self.one()?;
        while self.take("AND") {
            met &= self.one()?;
        }
        Some(met)
    }

    fn one(&mut self) -> Option<bool> {
        if self.take("(") {
            let met = self.either()?;
            return self.take(")").then_some(met);
        }
        let (&name, rest) = self.words.split_first()?;
        self.words = rest;
        if ["OR", "AND", "WITH", ")"].contains(&name) {
            return None;
        }
        if self.take("WITH") {
            let (&exception, rest) = self.words.split_first()?;
            self.words = rest;
            return Some(self.allowed.contains(format!("{name} WITH {exception}").as_str()));
        }
        Some(self.allowed.contains(name))
    }
}

fn source_refused(package: &Package, members: &BTreeSet<String>) -> Option<String> {
    match package.source.as_deref() {
        None if members.contains(&package.id) => None,
        None => Some("lies in a folder outside the workspace".to_owned()),
        Some(source) if source.starts_with("registry+") => None,
        Some(source) => Some(format!(
            "comes from {source}; packages come from the default registry"
        )),
    }
}

fn dependency_refused(dependency: &Dependency) -> Option<String> {
    if dependency.registry.is_some() {
        return Some(format!(
            "takes {} from another registry than the default one",
            dependency.name
        ));
    }
    let open = dependency.req == "*" && dependency.path.is_none();
    open.then(|| format!("takes any version of {}; say which", dependency.name))
}

#[cfg(test)]
mod tests {
    use super::*;

    const POLICY: &str = r#"
        [licenses]
        allow = ["MIT", "Apache-2.0", "Apache-2.0 WITH LLVM-exception", "Unicode-3.0"]
        exceptions = [{ crate = "odd", allow = ["MPL-2.0"] }]
        [bans]
        deny = [
            { crate = "caller", reason = "nothing opens an outgoing connection" },
            { crate = "clock", reason = "time is kept elsewhere", wrappers = ["tables"] },
        ]
    "#;

    /// Expressions of the SPDX specification 2.3, annex D.
    #[test]
    fn expressions_are_read_as_the_specification_says() {
        let policy: Policy = toml::from_str(POLICY).unwrap();
        let allowed: BTreeSet<&str> = policy.licenses.allow.iter().map(String::as_str).collect();
        for (licence, expected) in [
            ("MIT", true),
            ("MIT OR GPL-3.0", true),
            ("GPL-3.0/MIT", true),
            ("MIT AND GPL-3.0", false),
            ("(MIT OR Apache-2.0) AND Unicode-3.0", true),
            ("GPL-3.0 OR (MIT AND Unicode-3.0)", true),
            // 'and' binds closer than 'or'.
            ("MIT OR GPL-3.0 AND LGPL-2.1", true),
            ("(MIT OR GPL-3.0) AND LGPL-2.1", false),
            ("Apache-2.0 WITH LLVM-exception", true),
            ("Apache-2.0 WITH Classpath-exception-2.0", false),
            ("", false),
            ("MIT OR", false),
            ("(MIT", false),
            ("MIT Apache-2.0", false),
        ] {
            assert_eq!(allows(licence, &allowed), expected, "{licence}");
        }
    }

    /// A workspace of one package that uses the others, the last one in its tests alone.
    fn found(licence: &str, source: &str, req: &str, kind: &str) -> Vec<String> {
        let package = |name: &str, licence: &str, source: &str, dependencies: &str| {
            format!(
                r#"{{"id":"{name}","name":"{name}","version":"1.0.0","license":"{licence}","manifest_path":"Cargo.toml","source":{source},"dependencies":[{dependencies}]}}"#
            )
        };
        let dependency = format!(r#"{{"name":"other","req":"{req}","registry":null,"path":null}}"#);
        let text = format!(
            r#"{{"packages":[{},{}],"workspace_members":["ours"],"resolve":{{"nodes":[{{"id":"ours","deps":[{{"pkg":"other","dep_kinds":[{{"kind":{kind}}}]}}]}},{{"id":"other","deps":[]}}]}}}}"#,
            package("ours", "MIT", "null", &dependency),
            package("other", licence, source, ""),
        );
        findings(
            &serde_json::from_str(&text).unwrap(),
            &toml::from_str(POLICY).unwrap(),
        )
    }

    #[test]
    fn each_rule_finds_what_breaks_it() {
        let registry = "\"registry+default\"";
        assert_eq!(found("MIT", registry, "^1", "null"), Vec::<String>::new());
        assert!(found("GPL-3.0", registry, "^1", "null")[0].contains("'GPL-3.0' is not among"));
        assert!(found("GPL-3.0", registry, "^1", "\"build\"")[0].contains("not among"));
        assert_eq!(found("GPL-3.0", registry, "^1", "\"dev\""), Vec::<String>::new());
        assert!(found("MIT", "\"git+somewhere\"", "^1", "null")[0].contains("comes from git+somewhere"));
        assert!(found("MIT", "null", "^1", "null")[0].contains("outside the workspace"));
        assert!(found("MIT", registry, "*", "null")[0].contains("takes any version of other"));
    }

    #[test]
    fn a_banned_package_may_lie_beneath_those_that_are_named() {
        let found = |users: &[&str]| {
            let named = |name: &str| {
                format!(
                    r#"{{"id":"{name}","name":"{name}","version":"1.0.0","license":"MIT","manifest_path":"Cargo.toml","source":"registry+default","dependencies":[]}}"#
                )
            };
            let packages: Vec<String> = users.iter().chain(&["clock"]).map(|name| named(name)).collect();
            let node = |name: &&str| {
                format!(r#"{{"id":"{name}","deps":[{{"pkg":"clock","dep_kinds":[{{"kind":null}}]}}]}}"#)
            };
            let nodes: Vec<String> = users.iter().map(node).collect();
            let text = format!(
                r#"{{"packages":[{}],"workspace_members":[],"resolve":{{"nodes":[{}]}}}}"#,
                packages.join(","),
                nodes.join(",")
            );
            let metadata = serde_json::from_str(&text).unwrap();
            findings(&metadata, &toml::from_str(POLICY).unwrap()).len()
        };
        assert_eq!(
            (found(&["tables"]), found(&["ours"]), found(&["tables", "ours"])),
            (0, 1, 1)
        );
        assert_eq!(found(&[]), 1, "one that nobody uses is no exception");
    }

    #[test]
    fn bans_and_exceptions_go_by_name() {
        let policy: Policy = toml::from_str(POLICY).unwrap();
        let package = |name: &str| Package {
            id: name.to_owned(),
            name: name.to_owned(),
            version: "1.0.0".to_owned(),
            license: Some("MPL-2.0".to_owned()),
            manifest_path: PathBuf::from("Cargo.toml"),
            source: None,
            dependencies: Vec::new(),
        };
        assert_eq!(licence_refused(&package("odd"), &policy.licenses), None);
        assert!(licence_refused(&package("even"), &policy.licenses).is_some());
        let metadata = Metadata {
            packages: vec![package("caller")],
            workspace_members: BTreeSet::from(["caller".to_owned()]),
            resolve: Resolve { nodes: Vec::new() },
        };
        let banned = findings(&metadata, &policy);
        assert!(
            banned.iter().any(|line| line.contains("outgoing connection")),
            "{banned:?}"
        );
    }
}
