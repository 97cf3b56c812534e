//! A Debian package: the program as it is passed on, its pages of the manual, completions, the unit of systemd, licences.

use std::fs::{self, Permissions};
use std::io::Write as _;
use std::os::unix::fs::PermissionsExt as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use anyhow::{Context, Result, ensure};

use crate::run::{output, shown, works};
use crate::{inventory, notices, release};

/// Where the shells look for completions, and the name of each shell.
const COMPLETIONS: [(&str, &str); 3] = [
    ("bash", "usr/share/bash-completion/completions/interstice"),
    ("zsh", "usr/share/zsh/vendor-completions/_interstice"),
    ("fish", "usr/share/fish/vendor_completions.d/interstice.fish"),
];
const DOC: &str = "usr/share/doc/interstice";

/// Puts the program into a package; builds it where none is given.
pub(crate) fn make(top: &Path, built: Option<PathBuf>) -> Result<()> {
    ensure!(
        works("dpkg-deb", &["--version"]),
        "dpkg-deb is not there; a Debian package is made on a Debian system"
    );
    let program = built.map_or_else(|| release::program(top), Ok)?;
    let root = Root::begin(release::target(top).join("deb"))?;
    root.copy(&program, "usr/bin/interstice", 0o755)?;
    manual(&root, &program)?;
    for (shell, place) in COMPLETIONS {
        let text = output(Command::new(&program).args(["completions", shell]))?;
        root.write(place, text.as_bytes())?;
    }
    root.write(
        "usr/lib/systemd/user/interstice.service",
        unit(&read(top, "packaging/interstice.service")?)?.as_bytes(),
    )?;
    documents(&root, top)?;
    let package = packed(&root, top)?;
    println!("{}", package.display());
    println!("sha256 {}", release::digest(&fs::read(&package)?));
    if works("lintian", &["--version"]) {
        shown(
            Command::new("lintian")
                .args(["--tag-display-limit", "0"])
                .arg(&package),
        )?;
    }
    Ok(())
}

/// The files of a package as they will lie.
struct Root(PathBuf);

impl Root {
    fn begin(folder: PathBuf) -> Result<Self> {
        if folder.exists() {
            fs::remove_dir_all(&folder).with_context(|| format!("{} is in the way", folder.display()))?;
        }
        Ok(Root(folder.join("root")))
    }

    /// The place of a file, in folders that are made and can be read by everyone.
    fn place(&self, at: &str) -> Result<PathBuf> {
        let path = self.0.join(at);
        let folder = path.parent().context("a file lies in a folder")?;
        fs::create_dir_all(folder).with_context(|| format!("{} cannot be made", folder.display()))?;
        for folder in folder
            .ancestors()
            .take_while(|folder| folder.starts_with(&self.0))
        {
            fs::set_permissions(folder, Permissions::from_mode(0o755))?;
        }
        Ok(path)
    }

    fn write(&self, at: &str, bytes: &[u8]) -> Result<()> {
        let path = self.place(at)?;
        fs::write(&path, bytes).with_context(|| format!("{} cannot be written", path.display()))?;
        Ok(fs::set_permissions(&path, Permissions::from_mode(0o644))?)
    }

    fn copy(&self, from: &Path, at: &str, mode: u32) -> Result<()> {
        let path = self.place(at)?;
        fs::copy(from, &path).with_context(|| format!("{} cannot be copied", from.display()))?;
        Ok(fs::set_permissions(&path, Permissions::from_mode(mode))?)
    }

    /// The same, packed as Debian packs documents.
    fn write_packed(&self, at: &str, bytes: &[u8]) -> Result<()> {
        self.write(at, &packed_bytes(bytes)?)
    }
}

/// By gzip, without name and time.
fn packed_bytes(bytes: &[u8]) -> Result<Vec<u8>> {
    let mut gzip = Command::new("gzip")
        .arg("-9n")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .context("gzip cannot be started")?;
    let mut to = gzip.stdin.take().context("gzip takes what is handed to it")?;
    let bytes = bytes.to_vec();
    let writing = std::thread::spawn(move || to.write_all(&bytes));
    let out = gzip.wait_with_output()?;
    writing
        .join()
        .map_err(|_| anyhow::anyhow!("writing to gzip ended early"))??;
    ensure!(out.status.success(), "gzip failed");
    Ok(out.stdout)
}

fn manual(root: &Root, program: &Path) -> Result<()> {
    let pages = root.0.with_file_name("manual");
    fs::create_dir_all(&pages)?;
    output(Command::new(program).arg("manual").arg(&pages))?;
    for entry in fs::read_dir(&pages)? {
        let path = entry?.path();
        let name = path
            .file_name()
            .unwrap_or_default()
            .to_string_lossy()
            .into_owned();
        root.write_packed(&format!("usr/share/man/man1/{name}.gz"), &fs::read(&path)?)?;
    }
    Ok(())
}

/// The unit for a program that was installed for everyone.
fn unit(text: &str) -> Result<String> {
    let own = "ExecStart=%h/.cargo/bin/interstice ";
    ensure!(
        text.contains(own),
        "the unit does not begin the program by '{own}'"
    );
    Ok(text.replace(own, "ExecStart=/usr/bin/interstice "))
}

fn documents(root: &Root, top: &Path) -> Result<()> {
    let at = |name: &str| format!("{DOC}/{name}");
    root.write(
        &at("copyright"),
        read(top, "packaging/debian/copyright")?.as_bytes(),
    )?;
    root.write_packed(&at("notices.gz"), notices::text(top)?.as_bytes())?;
    root.write_packed(
        &at("interstice.spdx.json.gz"),
        inventory::sbom_text(top)?.as_bytes(),
    )?;
    root.write_packed(&at("CHANGELOG.md.gz"), read(top, "CHANGELOG.md")?.as_bytes())?;
    root.write_packed(&at("changelog.gz"), changelog(top)?.as_bytes())?;
    root.write(
        "usr/share/lintian/overrides/interstice",
        read(top, "packaging/debian/lintian-overrides")?.as_bytes(),
    )
}

/// What changed, as Debian's tools read it: which version this is and when, and where to read on.
fn changelog(top: &Path) -> Result<String> {
    let when =
        output(
            Command::new("git")
                .current_dir(top)
                .args(["log", "-1", "--date=rfc2822", "--format=%cd"]),
        )?;
    let (version, by) = (
        env!("CARGO_PKG_VERSION"),
        "The Interstice developers <developers@interstice.invalid>",
    );
    Ok(format!(
        "interstice ({version}) unstable; urgency=low\n\n  * What changed is told in CHANGELOG.md.gz beside this file.\n\n -- {by}  {}\n",
        when.trim()
    ))
}

fn packed(root: &Root, top: &Path) -> Result<PathBuf> {
    let architecture = output(Command::new("dpkg").arg("--print-architecture"))?;
    let (version, architecture) = (env!("CARGO_PKG_VERSION"), architecture.trim());
    let size = (size_of(&root.0)? / 1024).to_string();
    let control = read(top, "packaging/debian/control")?
        .replace("{version}", version)
        .replace("{architecture}", architecture)
        .replace("{size}", &size);
    root.write("DEBIAN/control", control.as_bytes())?;
    root.write("DEBIAN/md5sums", sums(&root.0)?.as_bytes())?;
    let package = root
        .0
        .with_file_name(format!("interstice_{version}_{architecture}.deb"));
    output(
        Command::new("dpkg-deb")
            .env("SOURCE_DATE_EPOCH", release::changed_at(top)?)
            .args(["--root-owner-group", "--build"])
            .args([&root.0, &package]),
    )?;
    Ok(package)
}

/// Every file under a folder, in order.
fn files(folder: &Path) -> Result<Vec<PathBuf>> {
    let mut found = Vec::new();
    let mut open = vec![folder.to_path_buf()];
    while let Some(folder) = open.pop() {
        for entry in fs::read_dir(&folder)? {
            let path = entry?.path();
            if path.is_dir() {
                open.push(path);
            } else {
                found.push(path);
            }
        }
    }
    found.sort();
    Ok(found)
}

fn size_of(folder: &Path) -> Result<u64> {
    let sizes = files(folder)?;
    sizes
        .iter()
        .try_fold(0, |sum, path| Ok(sum + fs::metadata(path)?.len()))
}

/// What `dpkg --verify` compares with.
fn sums(root: &Path) -> Result<String> {
    let mut command = Command::new("md5sum");
    command.current_dir(root);
    for path in files(root)? {
        let path = path.strip_prefix(root)?.to_path_buf();
        if !path.starts_with("DEBIAN") {
            command.arg(path);
        }
    }
    output(&mut command)
}

fn read(top: &Path, at: &str) -> Result<String> {
    fs::read_to_string(top.join(at)).with_context(|| format!("{at} cannot be read"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_unit_begins_the_program_that_was_installed() {
        let top = Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap();
        let text = unit(&read(top, "packaging/interstice.service").unwrap()).unwrap();
        assert!(text.contains("ExecStart=/usr/bin/interstice serve"), "{text}");
        assert!(!text.contains(".cargo"), "{text}");
        assert!(unit("ExecStart=/elsewhere/interstice serve").is_err());
    }
}
