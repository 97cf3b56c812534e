//! A bar for long imports, and Ctrl-C that leaves the book as it was.

use interstice_glucose::counted;
use std::path::Path;
use std::sync::OnceLock;
use std::sync::atomic::{AtomicBool, Ordering};

use indicatif::{ProgressBar, ProgressStyle};
use interstice_desk::{Progress, Stop};

static STOP: AtomicBool = AtomicBool::new(false);
static HANDLER: OnceLock<bool> = OnceLock::new();

/// A progress bar on standard error, drawn only on a terminal and only for reads that take a while.
#[derive(Debug)]
pub(crate) struct Bar {
    bar: ProgressBar,
    stopped: bool,
}

impl Bar {
    /// For one file.
    pub(crate) fn new(file: &Path) -> Self {
        // The first Ctrl-C asks the import to stop; were no handler to be had, the process would simply end, and the
        // open transaction with it.
        HANDLER.get_or_init(|| ctrlc::set_handler(|| STOP.store(true, Ordering::Relaxed)).is_ok());
        let bar = ProgressBar::new(0);
        let template = "{prefix} [{bar:30}] {msg} {eta} left";
        if let Ok(style) = ProgressStyle::with_template(template) {
            bar.set_style(style.progress_chars("=> "));
        }
        let name = file
            .file_name()
            .map(|name| name.to_string_lossy().into_owned())
            .unwrap_or_default();
        bar.set_prefix(name);
        Bar { bar, stopped: false }
    }

    /// Clears the line.
    pub(crate) fn finish(&self) {
        self.bar.finish_and_clear();
    }

    /// Whether the person asked to stop.
    pub(crate) fn stopped(&self) -> bool {
        self.stopped
    }
}

impl Progress for Bar {
    fn at(&mut self, bytes: u64, total_bytes: u64, rows: u64) -> Result<(), Stop> {
        self.bar.set_length(total_bytes);
        self.bar.set_position(bytes);
        let seconds = self.bar.elapsed().as_secs_f64().max(1e-3);
        self.bar.set_message(format!(
            "{}, {:.0} a second",
            counted(rows, "row", "rows"),
            rows as f64 / seconds
        ));
        if STOP.load(Ordering::Relaxed) {
            self.stopped = true;
            return Err(Stop);
        }
        Ok(())
    }
}
