//! A Python that has what checks/requirements.txt asks for: the machine's own, else one made under checks/.venv.

use std::path::Path;
use std::process::Command;

use anyhow::Result;

use crate::run::{Outcome, shown, works};

/// A program to start, or why there is none.
pub(crate) enum Python {
    /// Its name or path.
    Found(String),
    /// Why there is none.
    Missing(String),
}

const IMPORTS: &str = "import duckdb, fhir.resources, icalendar, jsonschema, lifelines, numpy, pandas, pikepdf, pypdf, scipy, statsmodels, zoneinfo; zoneinfo.ZoneInfo('Europe/London')";

/// Finds or makes it. Making it asks the package registry once.
pub(crate) fn find(top: &Path) -> Result<Python> {
    let has_packages = |program: &str| works(program, &["-c", IMPORTS]);
    if !works("python3", &["--version"]) {
        return Ok(Python::Missing("python3 is not installed".to_owned()));
    }
    if has_packages("python3") {
        return Ok(Python::Found("python3".to_owned()));
    }
    let folder = top.join("checks/.venv");
    let own = folder.join(if cfg!(windows) {
        "Scripts/python.exe"
    } else {
        "bin/python3"
    });
    let own = own.to_string_lossy().into_owned();
    if has_packages(&own) {
        return Ok(Python::Found(own));
    }
    println!(
        "making checks/.venv with numpy, pandas, scipy, statsmodels, lifelines, icalendar, duckdb, fhir.resources, jsonschema, pikepdf and pypdf (once)"
    );
    if !works("python3", &["-m", "venv", &folder.to_string_lossy()]) {
        return Ok(Python::Missing(
            "python3 cannot make an environment (is python3-venv installed?)".to_owned(),
        ));
    }
    let requirements = top.join("checks/requirements.txt");
    let mut install = Command::new(&own);
    install
        .args([
            "-m",
            "pip",
            "install",
            "--quiet",
            "--disable-pip-version-check",
            "-r",
        ])
        .arg(requirements);
    Ok(match shown(&mut install)? {
        Outcome::Well(_) if has_packages(&own) => Python::Found(own),
        _ => Python::Missing(
            "numpy, pandas, scipy, statsmodels and lifelines could not be installed (is there a network?)"
                .to_owned(),
        ),
    })
}
