//! The program as it is passed on: one file that needs no library of the system, the same bytes wherever it is built.

use std::ffi::OsString;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use anyhow::{Context, Result, bail, ensure};
use sha2::{Digest as _, Sha256};

use crate::run::{cargo, output};

/// Between the flags handed to cargo, so that a path may hold blanks.
const BETWEEN: char = '\u{1f}';

/// The two places that a build is compared between; of unequal length, as are the folders of two people.
const PLACES: [&str; 2] = ["here", "some/where/else/altogether"];

/// What is built in, and where from.
struct Site {
    /// The folder of the sources.
    top: PathBuf,
    /// Where cargo keeps what it fetched.
    cargo_home: PathBuf,
    /// Where it builds.
    target: PathBuf,
}

/// Builds the program and says its digest.
pub(crate) fn build(top: &Path) -> Result<()> {
    let site = Site {
        top: top.to_path_buf(),
        cargo_home: cargo_home()?,
        target: target(top),
    };
    told(&site.build(top)?)
}

/// Builds the latest change twice, in two folders with two cargo homes, and compares the bytes.
pub(crate) fn twice(top: &Path) -> Result<()> {
    let within = target(top).join("twice");
    let mut built = Vec::new();
    for place in PLACES {
        let site = fresh(top, &within.join(place))?;
        let program = site.build(top)?;
        told(&program)?;
        built.push(fs::read(&program).with_context(|| format!("{} cannot be read", program.display()))?);
        // Two builds need twice the room; what is compared is in memory.
        fs::remove_dir_all(&site.target).with_context(|| format!("{} stays", site.target.display()))?;
    }
    ensure!(built[0] == built[1], "the two builds differ");
    println!("the two builds are the same, {} bytes", built[0].len());
    Ok(())
}

/// The program, built for passing on.
pub(crate) fn program(top: &Path) -> Result<PathBuf> {
    let site = Site {
        top: top.to_path_buf(),
        cargo_home: cargo_home()?,
        target: target(top),
    };
    site.build(top)
}

/// When the latest change was made, in seconds of universal time: the only time that goes into what is built.
pub(crate) fn changed_at(top: &Path) -> Result<String> {
    let text = output(
        Command::new("git")
            .current_dir(top)
            .args(["log", "-1", "--format=%ct"]),
    )?;
    Ok(text.trim().to_owned())
}

impl Site {
    fn build(&self, asked_in: &Path) -> Result<PathBuf> {
        let triple = host(&self.top)?;
        let status = cargo(&self.top)
            .env("CARGO_HOME", &self.cargo_home)
            .env("CARGO_TARGET_DIR", &self.target)
            .env("CARGO_INCREMENTAL", "0")
            .env("CARGO_ENCODED_RUSTFLAGS", self.rust_flags()?)
            .env("CFLAGS", self.c_flags()?)
            .env("CC_SHELL_ESCAPED_FLAGS", "1")
            .env("SOURCE_DATE_EPOCH", changed_at(asked_in)?)
            .args(["build", "--release", "--locked", "--package", "interstice"])
            // Named, so that the flags are for the program and not for what runs while it is built.
            .args(["--target", &triple])
            .status()
            .context("cargo cannot be started")?;
        ensure!(status.success(), "the build failed");
        Ok(self.target.join(triple).join("release/interstice"))
    }

    /// Folders of this machine, and the names that stand for them in what is built. The longest goes last: where two fit,
    /// the compilers take the last one.
    fn names(&self) -> [(&Path, &'static str); 3] {
        [
            (&self.top, "/interstice"),
            (&self.cargo_home, "/cargo"),
            (&self.target, "/target"),
        ]
    }

    fn rust_flags(&self) -> Result<String> {
        let mut flags = vec!["-Ctarget-feature=+crt-static".to_owned()];
        for (folder, name) in self.names() {
            flags.push(format!("--remap-path-prefix={}={name}", text(folder)?));
        }
        Ok(flags.join(&BETWEEN.to_string()))
    }

    fn c_flags(&self) -> Result<String> {
        let mut flags = Vec::new();
        for (folder, name) in self.names() {
            let folder = text(folder)?;
            ensure!(
                !folder.contains('\''),
                "{folder} holds a quotation mark; build elsewhere"
            );
            flags.push(format!("'-ffile-prefix-map={folder}={name}'"));
        }
        Ok(flags.join(" "))
    }
}

fn text(folder: &Path) -> Result<&str> {
    folder
        .to_str()
        .with_context(|| format!("{} is not text; build elsewhere", folder.display()))
}

/// The sources of the latest change in a folder of their own, with a cargo home of their own into which packages are
/// unpacked anew from what was fetched before.
fn fresh(top: &Path, place: &Path) -> Result<Site> {
    if place.exists() {
        fs::remove_dir_all(place).with_context(|| format!("{} is in the way", place.display()))?;
    }
    let site = Site {
        top: place.join("sources"),
        cargo_home: place.join("cargo"),
        target: place.join("built"),
    };
    let registry = site.cargo_home.join("registry");
    fs::create_dir_all(&registry).with_context(|| format!("{} cannot be made", registry.display()))?;
    for part in ["index", "cache"] {
        let from = cargo_home()?.join("registry").join(part);
        let status = Command::new("cp")
            .arg("-a")
            .args([&from, &registry])
            .status()
            .context("cp cannot be started")?;
        ensure!(status.success(), "{} was not copied", from.display());
    }
    output(
        Command::new("git")
            .args(["clone", "--quiet", "--no-hardlinks"])
            .args([top, &site.top]),
    )?;
    Ok(site)
}

/// Prints where a program lies, how large it is and its SHA-256.
fn told(program: &Path) -> Result<()> {
    let bytes = fs::read(program).with_context(|| format!("{} cannot be read", program.display()))?;
    println!("{}  {} bytes", program.display(), bytes.len());
    println!("sha256 {}", digest(&bytes));
    Ok(())
}

pub(crate) fn digest(bytes: &[u8]) -> String {
    Sha256::digest(bytes)
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect()
}

/// The platform we build on and for, as the compiler names it.
fn host(top: &Path) -> Result<String> {
    let rustc = std::env::var_os("RUSTC").unwrap_or_else(|| OsString::from("rustc"));
    let said = output(Command::new(rustc).current_dir(top).arg("-vV"))?;
    let host = said.lines().find_map(|line| line.strip_prefix("host: "));
    match host {
        Some(host) if host.contains("linux") => Ok(host.to_owned()),
        Some(host) => bail!("the program for passing on is built on Linux, and this is {host}"),
        None => bail!("rustc does not say its host"),
    }
}

fn cargo_home() -> Result<PathBuf> {
    if let Some(home) = std::env::var_os("CARGO_HOME") {
        return Ok(PathBuf::from(home));
    }
    let home = std::env::var_os("HOME").context("neither CARGO_HOME nor HOME is set")?;
    Ok(Path::new(&home).join(".cargo"))
}

pub(crate) fn target(top: &Path) -> PathBuf {
    std::env::var_os("CARGO_TARGET_DIR").map_or_else(|| top.join("target"), |asked| top.join(asked))
}
