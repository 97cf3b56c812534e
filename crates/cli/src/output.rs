//! Data on standard output, messages on standard error.

use std::io::Write;

use serde::Serialize;

use crate::exit::Failure;

/// Where answers go.
#[derive(Debug)]
pub(crate) struct Output {
    json: bool,
    is_quiet: bool,
}

impl Output {
    /// As JSON or as text.
    pub(crate) fn new(json: bool) -> Self {
        Output {
            json,
            is_quiet: false,
        }
    }

    /// Without messages.
    pub(crate) fn quiet() -> Self {
        Output {
            json: false,
            is_quiet: true,
        }
    }

    /// Whether one JSON document was asked for.
    pub(crate) fn json(&self) -> bool {
        self.json
    }

    /// The one JSON document.
    pub(crate) fn document(&mut self, value: &impl Serialize) -> Result<(), Failure> {
        let mut out = std::io::BufWriter::new(std::io::stdout().lock());
        serde_json::to_writer(&mut out, value).map_err(Failure::internal)?;
        // A reader that closed the pipe early (`| head`) has what it wanted.
        let _ = out.write_all(b"\n").and_then(|()| out.flush());
        Ok(())
    }

    /// Text for a person.
    pub(crate) fn text(&mut self, text: &str) {
        let mut out = std::io::stdout().lock();
        let _ = out.write_all(text.as_bytes()).and_then(|()| out.flush());
    }

    /// A message beside the answer.
    pub(crate) fn message(&mut self, text: &str) {
        if !self.is_quiet {
            let _ = writeln!(std::io::stderr().lock(), "{text}");
        }
    }
}
