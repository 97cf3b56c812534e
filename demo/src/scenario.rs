//! The scenario as a whole, and the thin writer that puts it into a folder.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::{fs, io};

use crate::calendar::{DAYS, HOME_ZONE};
use crate::files::{DemoFile, write_all};
use crate::life::Life;
use crate::story;
use crate::truth::{NOTICE, Truth};
use crate::wear::utc_text;

/// The seed of the demo when none is given: one of thirty tried whose figures lie in the middle of what is wanted.
pub const DEFAULT_SEED: u64 = 20_250_927;

/// The invented person, whole.
#[derive(Clone, Debug)]
pub struct Scenario {
    /// What it grew from.
    pub seed: u64,
    /// The zone in which the files without offsets are to be read.
    pub zone: &'static str,
    /// The three files, in the order to import them.
    pub files: Vec<DemoFile>,
    /// What was planted.
    pub truth: Truth,
    /// The same for a reader.
    pub story: String,
}

impl Scenario {
    /// Lives the two hundred days. The same seed gives the same bytes, on every machine.
    pub fn build(seed: u64) -> Self {
        let life = Life::live(seed);
        let (files, counts) = write_all(&life, seed);
        let truth = Truth::of(life, counts, seed);
        let story = story::tell(&truth, DAYS);
        Scenario {
            seed,
            zone: HOME_ZONE,
            files,
            truth,
            story,
        }
    }

    /// Writes the files into `dir`, the truth into `dir/truth`. Returns the paths of the files to import, in order.
    ///
    /// # Errors
    /// Whatever the operating system says.
    pub fn write(&self, dir: &Path) -> io::Result<Vec<PathBuf>> {
        let beside = dir.join("truth");
        fs::create_dir_all(&beside)?;
        let mut paths = Vec::new();
        for file in &self.files {
            let path = dir.join(file.name);
            fs::write(&path, &file.bytes)?;
            paths.push(path);
        }
        fs::write(dir.join("about-this-invented-person.txt"), &self.story)?;
        fs::write(beside.join("truth.json"), json(&self.truth)?)?;
        fs::write(beside.join("entries.json"), json(&self.truth.entries)?)?;
        fs::write(beside.join("readings.csv"), self.readings_csv())?;
        fs::write(beside.join("blood.csv"), self.blood_csv())?;
        Ok(paths)
    }

    /// Every reading with its truth: `time_utc,sensor,reading_mg_dl,beyond_range,true_blood_mg_dl,
    /// true_interstitial_mg_dl,state`.
    pub fn readings_csv(&self) -> String {
        let mut text = format!(
            "# {NOTICE}\ntime_utc,sensor,reading_mg_dl,beyond_range,true_blood_mg_dl,true_interstitial_mg_dl,state\n"
        );
        for r in &self.truth.readings {
            let sensor = &self.truth.sensors[r.sensor].wear.sensor;
            let state = match r.state {
                crate::State::Good => "good",
                crate::State::FirstDay => "first-day",
                crate::State::Pressed => "pressed",
                crate::State::Dying => "dying",
            };
            let (at, mg_dl, beyond) = (utc_text(r.at), r.mg_dl, r.beyond);
            // Writing to a string cannot fail.
            let _ = writeln!(
                text,
                "{at},{sensor},{mg_dl},{beyond},{:.1},{:.1},{state}",
                r.blood_mg_dl, r.interstitial_mg_dl
            );
        }
        text
    }

    /// True blood glucose every five minutes: `time_utc,true_blood_mg_dl`.
    pub fn blood_csv(&self) -> String {
        let mut text = format!("# {NOTICE}\ntime_utc,true_blood_mg_dl\n");
        for &(at, mg_dl) in &self.truth.blood {
            // Writing to a string cannot fail.
            let _ = writeln!(text, "{},{mg_dl:.1}", utc_text(at));
        }
        text
    }
}

fn json<T: serde::Serialize + ?Sized>(value: &T) -> io::Result<String> {
    serde_json::to_string_pretty(value).map_err(io::Error::other)
}
