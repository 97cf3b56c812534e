//! The README's pictures: pages of the demo, as a browser shows them.

use std::fs;
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};

use anyhow::{Context, Result, bail};

use crate::figures::built_command;
use crate::run::{output, works};

/// A page and the size of the window it is looked at in.
struct View {
    name: &'static str,
    path: &'static str,
    width: u32,
    height: u32,
}

const VIEWS: [View; 3] = [
    View {
        name: "review",
        path: "/review",
        width: 1200,
        height: 1340,
    },
    View {
        name: "days",
        path: "/days",
        width: 1200,
        height: 860,
    },
    View {
        name: "wear",
        path: "/wear",
        width: 1200,
        height: 1250,
    },
];

/// Colour schemes by name, and what makes the browser prefer them.
const SCHEMES: [(&str, &str); 2] = [
    ("light", "--blink-settings=preferredColorScheme=1"),
    ("dark", "--blink-settings=preferredColorScheme=0"),
];

/// A picture in the repository is smaller than this.
const LARGEST_BYTES: u64 = 300_000;

/// Starts the demo and writes docs/pictures/NAME-SCHEME.png for every view.
pub(crate) fn take(top: &Path) -> Result<()> {
    let browser = ["chromium", "chromium-browser", "google-chrome"]
        .into_iter()
        .find(|name| works(name, &["--version"]))
        .context("no chromium is installed")?;
    let folder = top.join("docs/pictures");
    let scratch = top.join("target/pictures");
    fs::create_dir_all(&folder)?;
    fs::create_dir_all(&scratch)?;
    let book = scratch.join("demo.book");
    remove_book(&scratch)?;
    let command = built_command(top)?;
    let demo = Demo::start(&command, &book)?;
    for view in &VIEWS {
        for (scheme, preference) in SCHEMES {
            let picture = folder.join(format!("{}-{scheme}.png", view.name));
            shoot(
                browser,
                &format!("{}{}", demo.address, view.path),
                view,
                preference,
                &scratch,
                &picture,
            )?;
            println!("{} {} bytes", picture.display(), fs::metadata(&picture)?.len());
        }
    }
    drop(demo);
    print_sheet(&command, &book, &scratch, &folder)
}

/// The day after the demo's recording ends, which stands on its visit sheet.
const SHEET_MADE: &str = "2026-04-08";
/// Dots an inch of its pictures.
const SHEET_DOTS: &str = "84";

/// Writes docs/pictures/visit-1.png and visit-2.png, the pages of the demo's visit sheet.
fn print_sheet(command: &Path, book: &Path, scratch: &Path, folder: &Path) -> Result<()> {
    if !works("pdftoppm", &["-v"]) {
        bail!("no pdftoppm is installed, which makes the pictures of the visit sheet");
    }
    let sheet = scratch.join("visit.pdf");
    if sheet.exists() {
        fs::remove_file(&sheet)?;
    }
    let mut write = Command::new(command);
    write.arg("--book").arg(book);
    output(write.args(["visit", "--made", SHEET_MADE, "--out"]).arg(&sheet))?;
    let mut draw = Command::new("pdftoppm");
    draw.args(["-r", SHEET_DOTS, "-png"]);
    output(draw.arg(&sheet).arg(folder.join("visit")))?;
    for page in 1..=2 {
        let picture = folder.join(format!("visit-{page}.png"));
        let bytes = fs::metadata(&picture)?.len();
        if bytes > LARGEST_BYTES {
            bail!(
                "{} has {bytes} bytes; {LARGEST_BYTES} are the most",
                picture.display()
            );
        }
        println!("{} {bytes} bytes", picture.display());
    }
    Ok(())
}

/// A demo begins with an empty book.
fn remove_book(scratch: &Path) -> Result<()> {
    for entry in fs::read_dir(scratch)? {
        let path = entry?.path();
        if path
            .file_name()
            .is_some_and(|name| name.to_string_lossy().starts_with("demo.book"))
        {
            fs::remove_file(path)?;
        }
    }
    Ok(())
}

/// The running demo, ended when dropped.
struct Demo {
    process: Child,
    address: String,
}

impl Demo {
    fn start(command: &Path, book: &Path) -> Result<Self> {
        let mut process = Command::new(command)
            .arg("--book")
            .arg(book)
            .args(["demo", "--no-open", "--port", "0"])
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .with_context(|| format!("cannot start {}", command.display()))?;
        let messages = process
            .stderr
            .take()
            .context("the demo's messages were not piped")?;
        let mut demo = Demo {
            process,
            address: String::new(),
        };
        let mut said = String::new();
        let mut lines = BufReader::new(messages).lines();
        while let Some(line) = lines.next().transpose()? {
            if let Some(address) = line.trim().strip_prefix("listening on ") {
                demo.address = address.trim_end_matches('/').to_owned();
                // The rest is read, so that the demo never waits for a reader.
                std::thread::spawn(move || lines.for_each(drop));
                return Ok(demo);
            }
            said.push_str(&line);
            said.push('\n');
        }
        bail!("the demo ended before it listened: {said}")
    }
}

impl Drop for Demo {
    fn drop(&mut self) {
        // Already ended is as good.
        drop(self.process.kill());
        drop(self.process.wait());
    }
}

fn shoot(
    browser: &str,
    address: &str,
    view: &View,
    preference: &str,
    scratch: &Path,
    picture: &Path,
) -> Result<()> {
    let profile = scratch.join("profile");
    output(Command::new(browser).args([
        "--headless",
        "--no-sandbox",
        "--disable-gpu",
        "--disable-quic",
        "--no-first-run",
        "--disable-background-networking",
        "--disable-component-update",
        "--disable-sync",
        "--hide-scrollbars",
        "--force-device-scale-factor=1",
        "--virtual-time-budget=5000",
        preference,
        &format!("--user-data-dir={}", profile.display()),
        &format!("--window-size={},{}", view.width, view.height),
        &format!("--screenshot={}", picture.display()),
        address,
    ]))?;
    let bytes = fs::metadata(picture)
        .with_context(|| format!("{browser} took no picture of {address}"))?
        .len();
    if bytes > LARGEST_BYTES {
        bail!(
            "{} has {bytes} bytes, more than {LARGEST_BYTES}; make its window smaller",
            picture.display()
        );
    }
    Ok(())
}
