//! A Python that has what checks/requirements.txt asks for: the machine's own, else one made under checks/.venv.

use std::path::{Path, PathBuf};
use std::process::Command;

use anyhow::Result;

use crate::run::{Outcome, output, shown, works};

/// A program to start, or why there is none.
pub(crate) enum Python {
    /// Its name or path.
    Found(String),
    /// Why there is none.
    Missing(String),
}

const IMPORTS: &str = "import axe_playwright_python, duckdb, fhir.resources, icalendar, jsonschema, lifelines, numpy, pandas, pikepdf, pypdf, scipy, statsmodels, zoneinfo; zoneinfo.ZoneInfo('Europe/London')";

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
        "making checks/.venv with axe-core, numpy, pandas, scipy, statsmodels, lifelines, icalendar, duckdb, fhir.resources, jsonschema, pikepdf and pypdf (once)"
    );
    if !works("python3", &["-m", "venv", &folder.to_string_lossy()]) {
        return Ok(Python::Missing(
            "python3 cannot make an environment (is python3-venv installed?)".to_owned(),
        ));
    }
    let install = |list: &str, more: &[&str]| {
        let mut pip = Command::new(&own);
        pip.args(["-m", "pip", "install", "--quiet", "--disable-pip-version-check"]);
        shown(pip.args(more).arg("-r").arg(top.join("checks").join(list)))
    };
    let installed = [
        install("requirements.txt", &[])?,
        // Of these one file is wanted, and nothing that they would bring.
        install("alone.txt", &["--no-deps"])?,
    ];
    let is_well = installed
        .iter()
        .all(|outcome| matches!(outcome, Outcome::Well(_)));
    Ok(match is_well {
        true if has_packages(&own) => Python::Found(own),
        _ => Python::Missing(
            "axe-core, numpy, pandas, scipy, statsmodels and lifelines could not be installed (is there a network?)"
                .to_owned(),
        ),
    })
}

/// The script of the accessibility rules, for the tests that walk every page.
pub(crate) fn accessibility_rules(top: &Path) -> Result<Option<PathBuf>> {
    let Python::Found(program) = find(top)? else {
        return Ok(None);
    };
    let folder = "import axe_playwright_python as axe; print(list(axe.__path__)[0])";
    let said = output(Command::new(program).args(["-c", folder]))?;
    let script = Path::new(said.trim()).join("axe.min.js");
    Ok(script.is_file().then_some(script))
}
