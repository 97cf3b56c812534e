//! What can be typed.

mod backup;
mod compare;
mod export;
mod feeds;
mod lost;
mod second_look;
mod sensor;
mod share;
mod stock;
mod trial;
mod visit;

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};
use interstice_glucose::{DayHours, PlanWeight};

use crate::wear_set;

pub(crate) use backup::{BackupArgs, BackupSetArgs, RestoreArgs};
pub(crate) use compare::CompareArgs;
pub(crate) use export::{ExportArgs, ExportAs};
pub(crate) use feeds::{FeedsArgs, WatchArgs};
pub(crate) use lost::{ClaimArgs, ClaimStepWhat, SensorRecordArgs};
pub(crate) use second_look::{NowArgs, SecondLookArgs};
pub(crate) use sensor::{BodySide, HowEnded, HowTakenOff, PhotoArgs, SensorArgs, SensorWhat, Skin};
pub(crate) use share::ShareArgs;
pub(crate) use stock::{StockAddArgs, StockArgs, StockWhat};
pub(crate) use trial::{Compare, Outcome, StartTrialArgs, TrialArgs, TrialWhat, WaysArgs};
pub(crate) use visit::{VisitArgs, VisitSetArgs};

/// A person's own book and analyst for living on a glucose sensor.
///
/// It shows what was logged and what followed. It is not a medical device and never names a dose: when symptoms and
/// the sensor disagree, a blood check decides, and changes of treatment belong with your care team.
#[derive(Debug, Parser)]
#[command(name = "interstice", version, max_term_width = 100)]
pub(crate) struct Cli {
    /// The book: one file. By default in this account's data folder.
    #[arg(long, global = true, value_name = "FILE")]
    pub(crate) book: Option<PathBuf>,
    /// Answer with one JSON document on standard output and nothing else.
    #[arg(long, global = true)]
    pub(crate) json: bool,
    #[command(subcommand)]
    pub(crate) command: Command,
}

/// What to do.
#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Bring in what a device exported: delimited text, spreadsheets, also inside .zip or .gz; or what
    /// `export` wrote.
    Import(ImportArgs),
    /// List what was brought in.
    Imports,
    /// This moment: what the sensor says, what blood probably is, what still acts, what is due.
    Now(NowArgs),
    /// The account of a window: ranges, usual day, days, episodes, swings, meals, what comes again.
    Review(ReviewArgs),
    /// Before and after: two windows, or days of a kind against others, and what else was different.
    Compare(CompareArgs),
    /// How far the sensors stand from your blood, how late they are, and lows that may be pressure.
    Trust(TrustArgs),
    /// What followed past moments like this one when you waited, and when a correction was taken.
    SecondLook(SecondLookArgs),
    /// The visit sheet for your care team: printed, as PDF, as a page to send or as a spreadsheet.
    Visit(VisitArgs),
    /// What is kept for visits: your name, days of visits, questions to ask, a laboratory's HbA1c.
    VisitSet(VisitSetArgs),
    /// What is on, what comes next, and how long sensors stay on.
    Wear(WearArgs),
    /// Choose what the plan goes by: your hours, days away, settled put-ons, weights; or list it.
    WearSet(WearSetArgs),
    /// Describe a kind of sensor as its instructions do, or list what was described.
    SensorKind(SensorKindArgs),
    /// The drawer: lots of sensors and covers, what is left, what expires.
    Stock(StockArgs),
    /// All that is known of one sensor that ended, to send to whoever supplied it: as text or PDF.
    SensorRecord(SensorRecordArgs),
    /// What was claimed for a lost sensor: sent, answered, replaced, refused.
    Claim(ClaimArgs),
    /// List the photos beside sensors, or take one out into a file.
    Photo(PhotoArgs),
    /// Compare places, preparations, covers or bedding in over your own sensors, in an order drawn beforehand.
    Trial(TrialArgs),
    /// Write something down by hand.
    Log(LogArgs),
    /// Write everything in the book, or a window of it, as tables that any program reads.
    Export(ExportArgs),
    /// Hand on a part of it: a window, chosen kinds, no words unless asked; lists it first.
    Share(ShareArgs),
    /// Take back the last change, or the one with this number.
    Undo {
        /// Number of the change, as `interstice journal` lists it.
        id: Option<i64>,
    },
    /// List the changes made to the book, newest first.
    Journal {
        /// How many to list.
        #[arg(long, default_value_t = 20)]
        last: u32,
    },
    /// Check that the book is whole.
    Check {
        /// Copy all that can still be read into a new book.
        #[arg(long, value_name = "NEW-FILE")]
        salvage: Option<PathBuf>,
    },
    /// Put the whole book into one encrypted file, read it back and see that it is the same book.
    Backup(BackupArgs),
    /// Choose where backups go by themselves, how often and how many are kept; or list it.
    BackupSet(BackupSetArgs),
    /// Bring a book back from a backup.
    Restore(RestoreArgs),
    /// Show or change a setting: language, unit, zone, targets, night, how long your insulins act.
    Set {
        /// Which setting; none lists them all.
        name: Option<String>,
        /// Its new value.
        value: Option<String>,
    },
    /// Open the local app: pages on this machine only, or with --home on the home network for paired devices.
    Serve(ServeArgs),
    /// List the devices that may come in over the home network, or put one out.
    Devices(DevicesArgs),
    /// List what brings readings by itself and how it is; let a phone or transmitter send, look into a
    /// folder, listen to a sensor, or end one.
    Feeds(FeedsArgs),
    /// Look into the folders among the feeds, and listen to sensors, without the app, until Ctrl-C.
    Watch(WatchArgs),
    /// List the links that show one page, make one or end one.
    Links(LinksArgs),
    /// List the books in this account's data folder and say which one is meant.
    Books,
    /// Print what makes a shell complete our commands.
    #[command(hide = true)]
    Completions {
        /// Which shell.
        shell: clap_complete::Shell,
    },
    /// Write the manual pages, one for each command.
    #[command(hide = true)]
    Manual {
        /// Into this folder, which must exist.
        folder: PathBuf,
    },
    /// Build the invented scenario, import it, print its account and open the local app.
    Demo(DemoArgs),
}

/// `import`
#[derive(Args, Debug)]
pub(crate) struct ImportArgs {
    /// Files to bring in.
    #[arg(required = true, value_name = "FILE")]
    pub(crate) files: Vec<PathBuf>,
    /// Show how the files are understood; write nothing.
    #[arg(long)]
    pub(crate) explain: bool,
    /// Time zone of files that give only wall-clock time, like Europe/Lisbon.
    #[arg(long, value_name = "ZONE")]
    pub(crate) zone: Option<String>,
    /// Unit of glucose, where the file leaves it open.
    #[arg(long, value_name = "UNIT", value_parser = ["mg/dL", "mmol/L"], ignore_case = true)]
    pub(crate) unit: Option<String>,
    /// Order of day and month, where the file leaves it open.
    #[arg(long, value_enum)]
    pub(crate) dates: Option<Dates>,
    /// What a column holds: its heading or number, '=', and a role such as glucose, blood-glucose, date-time, ignored.
    #[arg(long = "as", value_name = "COLUMN=ROLE")]
    pub(crate) roles: Vec<String>,
    /// The person, in a file that holds several.
    #[arg(long, value_name = "NAME")]
    pub(crate) subject: Option<String>,
}

/// Order of written dates.
#[expect(clippy::enum_variant_names, reason = "the words that are typed")]
#[derive(Clone, Copy, Debug, ValueEnum)]
pub(crate) enum Dates {
    /// 31.12.2025
    DayFirst,
    /// 12/31/2025
    MonthFirst,
    /// 2025-12-31
    YearFirst,
}

/// `review`
#[derive(Args, Debug)]
pub(crate) struct ReviewArgs {
    /// The last so many days that have readings.
    #[arg(long, value_name = "N", conflicts_with_all = ["from", "to"], value_parser = clap::value_parser!(u32).range(1..=40_000))]
    pub(crate) days: Option<u32>,
    /// First day, like 2025-03-01.
    #[arg(long, value_name = "DATE")]
    pub(crate) from: Option<String>,
    /// Last day, included.
    #[arg(long, value_name = "DATE")]
    pub(crate) to: Option<String>,
    /// Leave out readings marked as pressure lows or other artefacts.
    #[arg(long)]
    pub(crate) exclude_pressure: bool,
    /// Seed of the bootstrap intervals.
    #[arg(long, default_value_t = interstice_findings::DEFAULT_SEED)]
    pub(crate) seed: u64,
    /// Show glucose in this unit instead of the book's.
    #[arg(long, value_name = "UNIT", value_parser = ["mg/dL", "mmol/L"], ignore_case = true)]
    pub(crate) unit: Option<String>,
}

/// `trust`
#[derive(Args, Debug)]
pub(crate) struct TrustArgs {
    /// One sensor by its name.
    #[arg(long, value_name = "ID")]
    pub(crate) sensor: Option<String>,
    /// How a reading is found for a check: the nearest within five minutes after it, or a line between its neighbours.
    #[arg(long, value_name = "RULE", value_parser = ["nearest-after", "interpolated"])]
    pub(crate) pairing: Option<String>,
    /// Blood value in mg/dL below which 'within 15' means mg/dL and from which on it means percent: 70, 80 or 100.
    #[arg(long, value_name = "MG/DL", default_value_t = interstice_findings::trust::DEFAULT_SPLIT_MG_DL, value_parser = split)]
    pub(crate) split: f64,
    /// Seed of the bootstrap intervals.
    #[arg(long, default_value_t = interstice_findings::DEFAULT_SEED)]
    pub(crate) seed: u64,
    /// Show glucose in this unit instead of the book's.
    #[arg(long, value_name = "UNIT", value_parser = ["mg/dL", "mmol/L"], ignore_case = true)]
    pub(crate) unit: Option<String>,
    /// Write what blood probably was at each reading into this file, as comma-separated text.
    #[arg(long, value_name = "FILE")]
    pub(crate) estimate: Option<PathBuf>,
    /// Show possible pressure lows at night instead.
    #[arg(long, conflicts_with_all = ["estimate", "live", "leave_out_checks"])]
    pub(crate) pressure: bool,
    /// With `--estimate`: as it would have been told at the time, from nothing that came later.
    #[arg(long, requires = "estimate")]
    pub(crate) live: bool,
    /// With `--estimate`: also what each blood check would probably have shown, told without it.
    #[arg(long, requires = "estimate")]
    pub(crate) leave_out_checks: bool,
}

/// `wear`
#[derive(Args, Debug)]
pub(crate) struct WearArgs {
    /// Show the plan of the next ninety days too.
    #[arg(long)]
    pub(crate) plan: bool,
    /// How many hours to wear a new sensor before it is started, as far as its kind allows; else as you chose.
    #[arg(long, value_name = "HOURS", value_parser = clap::value_parser!(u32).range(0..=240))]
    pub(crate) bedding_hours: Option<u32>,
    /// Tell it as of another time, like '2025-03-01 07:30'.
    #[arg(long, value_name = "TIME")]
    pub(crate) at: Option<String>,
    /// Write what is on and what comes into this file, as a calendar (.ics).
    #[arg(long, value_name = "FILE")]
    pub(crate) calendar: Option<PathBuf>,
    /// List what the readings tell of sensors and nobody wrote down.
    #[arg(long, conflicts_with = "plan")]
    pub(crate) found: bool,
    /// Write one of these down, by its key.
    #[arg(long, value_name = "KEY", conflicts_with_all = ["plan", "found", "at"])]
    pub(crate) confirm: Option<String>,
}

/// `wear-set`
#[derive(Args, Debug)]
pub(crate) struct WearSetArgs {
    /// Hours in which it suits you to put a sensor on, like 08:00-21:00.
    #[arg(long, value_name = "HOURS", value_parser = wear_set::hours)]
    pub(crate) put_on_hours: Option<DayHours>,
    /// Hours in which it suits you to start one.
    #[arg(long, value_name = "HOURS", value_parser = wear_set::hours)]
    pub(crate) start_hours: Option<DayHours>,
    /// How many hours to wear a new sensor before it is started, as far as its kind allows.
    #[arg(long, value_name = "HOURS")]
    pub(crate) bedding_hours: Option<u32>,
    /// How many days a place rests before another sensor goes there.
    #[arg(long, value_name = "DAYS")]
    pub(crate) rest_days: Option<u32>,
    /// How many days the plan looks ahead.
    #[arg(long, value_name = "DAYS")]
    pub(crate) days_ahead: Option<u32>,
    /// What one thing weighs against the others, like unused-hour=0.5; may be given several times.
    #[arg(long, value_name = "NAME=NUMBER", value_parser = wear_set::weighed)]
    pub(crate) weight: Vec<(PlanWeight, f64)>,
    /// Days on which none should be put on or started, like 2025-05-01..2025-05-20; may be given several times.
    #[arg(long, value_name = "DAYS", value_parser = wear_set::days_away)]
    pub(crate) away: Vec<(i64, i64)>,
    /// With --away: why.
    #[arg(long, value_name = "TEXT", requires = "away")]
    pub(crate) note: Option<String>,
    /// No longer away on exactly these days.
    #[arg(long, value_name = "DAYS", value_parser = wear_set::days_away)]
    pub(crate) not_away: Vec<(i64, i64)>,
    /// Settle that a sensor is put on then, like '2025-03-01 18:00'; the plan keeps to it.
    #[arg(long, value_name = "TIME")]
    pub(crate) pin: Vec<String>,
    /// With --pin: where, like 'left upper arm'.
    #[arg(long, value_name = "PLACE", requires = "pin")]
    pub(crate) site: Option<String>,
    /// No longer settled.
    #[arg(long, value_name = "TIME")]
    pub(crate) unpin: Vec<String>,
    /// Back to the usual: put-on-hours, start-hours, bedding-hours, rest-days, days-ahead, a weight's name, or weights.
    #[arg(long, value_name = "NAME")]
    pub(crate) usual: Vec<String>,
}

/// `sensor-kind`
#[derive(Args, Debug)]
pub(crate) struct SensorKindArgs {
    /// A name of your own; none lists what was described.
    #[arg(requires = "wear_days")]
    pub(crate) name: Option<String>,
    /// How long it may be worn by its instructions, days.
    #[arg(long, value_name = "DAYS", value_parser = days)]
    pub(crate) wear_days: Option<f64>,
    /// How much longer it goes on reading after that.
    #[arg(long, value_name = "HOURS", default_value_t = 0, value_parser = clap::value_parser!(u32).range(0..=720))]
    pub(crate) extra_hours: u32,
    /// From its start to its first reading.
    #[arg(long, value_name = "MINUTES", default_value_t = 60, value_parser = clap::value_parser!(u32).range(0..=1440))]
    pub(crate) warm_up_minutes: u32,
    /// The longest you would wear it before starting it; most instructions know no such wear.
    #[arg(long, value_name = "HOURS", default_value_t = 0, value_parser = clap::value_parser!(u32).range(0..=240))]
    pub(crate) longest_bedding_hours: u32,
    /// From when its time of wear runs.
    #[arg(long, value_enum, default_value_t = Clock::Start)]
    pub(crate) clock: Clock,
    /// A new one cannot warm up while the old one still reads.
    #[arg(long)]
    pub(crate) one_at_a_time: bool,
    /// Parts of the body its instructions name, with commas between.
    #[arg(long, value_name = "PLACES", value_delimiter = ',')]
    pub(crate) sites: Vec<String>,
}

/// From when a sensor's time of wear runs.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub(crate) enum Clock {
    /// From being started.
    Start,
    /// From being put on.
    PutOn,
}

/// Days above zero, up to a year.
fn days(text: &str) -> Result<f64, String> {
    text.parse::<f64>()
        .ok()
        .filter(|days| (0.05..=366.0).contains(days))
        .ok_or_else(|| "say a number of days up to 366, like 14 or 10.5".to_owned())
}

/// One of the splits in use.
fn split(text: &str) -> Result<f64, String> {
    let splits = interstice_findings::trust::SPLITS_MG_DL;
    let given = text.parse::<f64>().ok();
    given
        .and_then(|given| splits.into_iter().find(|split| (split - given).abs() < 1e-9))
        .ok_or_else(|| "say 70, 80 or 100".to_owned())
}

/// `log`
#[derive(Args, Debug)]
pub(crate) struct LogArgs {
    /// When: '07:30', '2025-03-01 07:30' or with an offset; now where left out.
    #[arg(long, global = true, value_name = "TIME")]
    pub(crate) at: Option<String>,
    /// When it ended.
    #[arg(long, global = true, value_name = "TIME")]
    pub(crate) until: Option<String>,
    /// Words to keep beside it.
    #[arg(long, global = true, value_name = "TEXT")]
    pub(crate) note: Option<String>,
    #[command(subcommand)]
    pub(crate) what: LogWhat,
}

/// What is written down.
#[derive(Debug, Subcommand)]
pub(crate) enum LogWhat {
    /// A blood check.
    Blood {
        /// The number the meter showed.
        value: String,
        /// Unit, where the book's is not meant.
        #[arg(long, value_name = "UNIT", value_parser = ["mg/dL", "mmol/L"], ignore_case = true)]
        unit: Option<String>,
        /// From a laboratory rather than a meter.
        #[arg(long)]
        laboratory: bool,
    },
    /// A dose that was taken.
    Dose {
        /// Units.
        units: f64,
        /// How long it acts.
        #[arg(long, value_enum, default_value_t = Insulin::Rapid)]
        insulin: Insulin,
    },
    /// Something eaten or drunk for its carbohydrate.
    Meal {
        /// Carbohydrate, grams.
        grams: Option<f64>,
    },
    /// A drink of water.
    Drink {
        /// Millilitres.
        millilitres: Option<f64>,
    },
    /// How warm it is around you.
    Temperature {
        /// Degrees Celsius.
        #[arg(allow_negative_numbers = true)]
        celsius: f64,
    },
    /// Activity, from --at until --until.
    Activity,
    /// Sleep, from --at until --until.
    Sleep,
    /// Blood ketones, mmol/L.
    Ketones {
        /// The number the meter showed.
        value: f64,
    },
    /// A symptom felt.
    Symptom,
    /// A sensor put on, started or ended, or something to be noted of it.
    Sensor(SensorArgs),
    /// A stretch of readings not to be believed, from --at until --until; words beside it with --note.
    Artefact {
        /// Why.
        #[arg(long, value_enum, value_name = "WHY")]
        why: Option<AsideWhy>,
    },
    /// What a low was, from --at until --until, by your own word: pressure on the sensor, or real.
    Low {
        /// Which of the two.
        #[arg(long, value_enum, value_name = "WHAT")]
        was: LowWas,
        /// The sensor's name; any worn at the time where left out.
        #[arg(long, value_name = "ID")]
        sensor: Option<String>,
    },
    /// What kind of day it is, in a word of your own: on watch, at home; with --until, all days until then.
    Tag {
        /// The word.
        name: String,
    },
    /// A stretch lived by another clock, whole days there: a voyage.
    Away {
        /// First day, '2025-03-01'.
        first: String,
        /// Last day.
        last: String,
        /// The zone, 'Asia/Tokyo' or '+09:00'.
        zone: String,
    },
    /// Anything else, in words.
    Note,
}

/// Insulin by how long it acts.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub(crate) enum Insulin {
    /// Rapid-acting.
    Rapid,
    /// Short-acting.
    Short,
    /// Intermediate.
    Intermediate,
    /// Long-acting.
    Long,
    /// Premixed.
    Mixed,
}

/// Why a stretch of readings is set aside.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub(crate) enum AsideWhy {
    /// Pressure on the sensor.
    Pressure,
    /// The sensor was wrong.
    SensorWrong,
    /// For a reason of your own.
    LeftOut,
}

/// What a low was.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub(crate) enum LowWas {
    /// Pressure on the sensor.
    Pressure,
    /// A real low.
    Real,
}

/// `serve`
#[derive(Args, Debug)]
pub(crate) struct ServeArgs {
    /// Port on this machine; 0 takes a free one.
    #[arg(long, default_value_t = 0)]
    pub(crate) port: u16,
    /// Open this moment in the browser, or how to begin where the book is empty.
    #[arg(long)]
    pub(crate) open: bool,
    /// Open the app on the home network too: encrypted, for devices that are paired with a code and the passphrase.
    #[arg(long)]
    pub(crate) home: bool,
    /// Port on the home network.
    #[arg(long, value_name = "PORT", default_value_t = 8743, requires = "home")]
    pub(crate) home_port: u16,
    /// Listen on this address of the home network instead of all this machine has.
    #[arg(long, value_name = "IP", requires = "home")]
    pub(crate) address: Option<std::net::IpAddr>,
    /// Read the passphrase from the first line of this file instead of asking; INTERSTICE_PASSPHRASE does the same.
    #[arg(long, value_name = "FILE", requires = "home")]
    pub(crate) passphrase_file: Option<PathBuf>,
}

/// `devices`
#[derive(Args, Debug)]
pub(crate) struct DevicesArgs {
    /// Put a device out, by its number.
    #[arg(long, value_name = "NUMBER", conflicts_with = "new_passphrase")]
    pub(crate) revoke: Vec<u32>,
    /// Choose another passphrase. Paired devices stay paired.
    #[arg(long)]
    pub(crate) new_passphrase: bool,
    /// Read it from the first line of this file instead of asking; INTERSTICE_PASSPHRASE does the same.
    #[arg(long, value_name = "FILE", requires = "new_passphrase")]
    pub(crate) passphrase_file: Option<PathBuf>,
}

/// `links`
#[derive(Args, Debug)]
pub(crate) struct LinksArgs {
    /// Make a link that shows one page and nothing else: visit.
    #[arg(long, value_name = "PAGE", value_parser = ["visit"])]
    pub(crate) make: Option<String>,
    /// Days it is good for.
    #[arg(long, default_value_t = 7, requires = "make", value_parser = clap::value_parser!(u32).range(1..=30))]
    pub(crate) days: u32,
    /// End a link, by its number.
    #[arg(long, value_name = "NUMBER", conflicts_with = "make")]
    pub(crate) revoke: Vec<u32>,
}

/// `demo`
#[derive(Args, Debug)]
pub(crate) struct DemoArgs {
    /// Seed of the invented person.
    #[arg(long)]
    pub(crate) seed: Option<u64>,
    /// Do not open a browser.
    #[arg(long)]
    pub(crate) no_open: bool,
    /// Port on this machine; 0 takes a free one.
    #[arg(long, default_value_t = 0)]
    pub(crate) port: u16,
}
