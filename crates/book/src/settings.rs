//! What the person set: unit, base zone, targets, night, and whatever else the program wants to remember.

use std::collections::BTreeMap;

use interstice_glucose::{INSULIN_LASTS_MIN, InsulinLasts, Rejected, Second, Unit, Zone};
use rusqlite::{Connection, OptionalExtension, params};

use crate::book::{Book, Keep};
use crate::entry::Word;
use crate::error::{BookError, BookErrorKind, Result};
use crate::journal::{ChangeId, ChangeKind, record_change};
use crate::seal::seal;
use crate::{choices, claims, kinds, stock, trials, visits};

pub(crate) const UNIT: &str = "unit";
pub(crate) const BASE_ZONE: &str = "base zone";
const TARGET_GROUP: &str = "target group";
const NIGHT: &str = "night";
const RAPID_LASTS: &str = "minutes rapid insulin acts";
const SHORT_LASTS: &str = "minutes short insulin acts";
/// Before the key of anything else.
pub(crate) const OTHER: &str = "other: ";

/// When the night is, by lived clock; it may pass midnight.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NightHours {
    /// Minute of the day it begins, 0 to 1439.
    pub from_minute: u16,
    /// Minute of the day it ends, 0 to 1439.
    pub to_minute: u16,
}

/// All settings. What was never set is `None`.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Settings {
    /// Unit glucose is shown in.
    pub unit: Option<Unit>,
    /// Zone lived in, but for the stretches away.
    pub base_zone: Option<Zone>,
    /// Name of the consensus targets that apply, as `methods` names them.
    pub target_group: Option<String>,
    /// The night.
    pub night: Option<NightHours>,
    /// How long the wearer's insulins act, by their own word.
    pub insulin_lasts: InsulinLasts,
    /// Anything else, by key.
    pub other: BTreeMap<String, String>,
}

/// One setting and its new value; `None` forgets it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Setting {
    /// See [`Settings::unit`].
    Unit(Option<Unit>),
    /// See [`Settings::base_zone`].
    BaseZone(Option<Zone>),
    /// See [`Settings::target_group`].
    TargetGroup(Option<String>),
    /// See [`Settings::night`].
    Night(Option<NightHours>),
    /// How long rapid-acting insulin acts, minutes; see [`Settings::insulin_lasts`].
    RapidLasts(Option<u16>),
    /// How long short-acting insulin acts, minutes.
    ShortLasts(Option<u16>),
    /// See [`Settings::other`].
    Other(String, Option<String>),
}

impl Setting {
    fn parts(self) -> Result<(String, Option<String>)> {
        Ok(match self {
            Setting::Unit(unit) => (UNIT.to_owned(), unit.map(|unit| unit.word().to_owned())),
            Setting::BaseZone(zone) => (BASE_ZONE.to_owned(), zone.map(|zone| zone.name().to_owned())),
            Setting::TargetGroup(group) => (TARGET_GROUP.to_owned(), group),
            Setting::Night(night) => (NIGHT.to_owned(), night.map(night_text).transpose()?),
            Setting::RapidLasts(minutes) => (RAPID_LASTS.to_owned(), lasts_text(minutes)?),
            Setting::ShortLasts(minutes) => (SHORT_LASTS.to_owned(), lasts_text(minutes)?),
            Setting::Other(key, value) => (format!("{OTHER}{key}"), value),
        })
    }
}

fn night_text(night: NightHours) -> Result<String> {
    if night.from_minute >= 1440 || night.to_minute >= 1440 {
        return Err(BookErrorKind::refused(
            "a night beyond 24 hours",
            "give minutes of the day from 0 to 1439",
        ));
    }
    Ok(format!("{}-{}", night.from_minute, night.to_minute))
}

fn lasts_text(minutes: Option<u16>) -> Result<Option<String>> {
    if let Some(beyond) = minutes.filter(|minutes| !INSULIN_LASTS_MIN.contains(minutes)) {
        return Err(BookErrorKind::refused(
            format!(
                "an insulin under the skin that acts for {:.1} hours",
                f64::from(beyond) / 60.0
            ),
            format!(
                "give {} to {} hours, as far as the published curves can be stretched",
                INSULIN_LASTS_MIN.start() / 60,
                INSULIN_LASTS_MIN.end() / 60
            ),
        ));
    }
    Ok(minutes.map(|minutes| minutes.to_string()))
}

/// `None` of what could not have been set.
fn lasts_from(text: &str) -> Option<u16> {
    text.parse()
        .ok()
        .filter(|minutes| INSULIN_LASTS_MIN.contains(minutes))
}

fn night_from(text: &str) -> Option<NightHours> {
    let (from, to) = text.split_once('-')?;
    Some(NightHours {
        from_minute: from.parse().ok()?,
        to_minute: to.parse().ok()?,
    })
}

impl Book {
    /// All settings. A unit and a base zone that were never set are those of the first import.
    ///
    /// # Errors
    /// `Damaged`, `Io`.
    pub fn settings(&self) -> std::result::Result<Settings, BookError> {
        self.reading(|conn| {
            let mut settings = Settings::default();
            let mut statement = conn.prepare_cached("SELECT key, value FROM setting ORDER BY key")?;
            let mut rows = statement.query([])?;
            while let Some(row) = rows.next()? {
                settings.take(row.get(0)?, row.get(1)?)?;
            }
            for key in [UNIT, BASE_ZONE] {
                if let Some(value) = of_first_import(conn, key)? {
                    settings.take_if_unset(key, value)?;
                }
            }
            Ok(settings)
        })
    }

    /// Every setting that was set, as it is written, by key: what an import may bring into another book.
    ///
    /// # Errors
    /// `Io`.
    pub fn settings_as_written(&self) -> std::result::Result<Vec<(String, String)>, BookError> {
        self.reading(|conn| {
            let mut statement = conn.prepare_cached("SELECT key, value FROM setting ORDER BY key")?;
            let rows = statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?;
            Ok(rows.collect::<rusqlite::Result<_>>()?)
        })
    }

    /// Sets one setting and writes it in the journal. The same value again writes nothing.
    ///
    /// # Errors
    /// `Refused` for a night beyond 24 hours; `Busy`, `Full`, `Io`.
    pub fn set(&mut self, setting: Setting, at: Second) -> std::result::Result<Option<ChangeId>, BookError> {
        self.writing(|conn| {
            let change = set_told(conn, setting, None, at)?;
            let keep = if change.is_some() {
                Keep::Change
            } else {
                Keep::Nothing
            };
            Ok((change, keep))
        })
    }
}

/// Sets one setting within a change that is under way; the journal tells it in these words, else as what was set to what. `None`
/// where it had that value already.
pub(crate) fn set_told(
    conn: &Connection,
    setting: Setting,
    what: Option<&str>,
    at: Second,
) -> Result<Option<ChangeId>> {
    let (key, value) = setting.parts()?;
    let (before, before_origin) = get_with_origin(conn, &key)?.unzip();
    if before == value {
        return Ok(None);
    }
    let shown = key.strip_prefix(OTHER).unwrap_or(&key);
    let plain = || {
        value.as_ref().map_or(format!("forgot {shown}"), |value| {
            format!("set {shown} to {value}")
        })
    };
    let what = what.map_or_else(plain, str::to_owned);
    let detail =
        serde_json::json!({ "key": key, "before": before, "before_origin": before_origin, "after": value })
            .to_string();
    let change = record_change(conn, ChangeKind::Setting, at, &what, &detail)?;
    put(conn, &key, value.as_deref(), change)?;
    let touched = before_origin.into_iter().map(ChangeId).chain([change]);
    touched.into_iter().try_for_each(|change| seal(conn, change))?;
    Ok(Some(change))
}

/// What was set under a key of [`Settings::other`].
pub(crate) fn get_other(conn: &Connection, key: &str) -> Result<Option<String>> {
    Ok(get_with_origin(conn, &format!("{OTHER}{key}"))?.map(|(value, _)| value))
}

impl Settings {
    fn take_if_unset(&mut self, key: &str, value: String) -> Result<()> {
        let is_set = match key {
            UNIT => self.unit.is_some(),
            _ => self.base_zone.is_some(),
        };
        if is_set {
            return Ok(());
        }
        self.take(key.to_owned(), value)
    }

    fn take(&mut self, key: String, value: String) -> Result<()> {
        let unreadable = || BookErrorKind::damaged(format!("setting '{key}' is '{value}'"));
        match key.as_str() {
            UNIT => self.unit = Some(Unit::from_word(&value).ok_or_else(unreadable)?),
            BASE_ZONE => self.base_zone = Some(Zone::named(&value).map_err(|_| unreadable())?),
            NIGHT => self.night = Some(night_from(&value).ok_or_else(unreadable)?),
            TARGET_GROUP => self.target_group = Some(value),
            RAPID_LASTS => self.insulin_lasts.rapid_min = Some(lasts_from(&value).ok_or_else(unreadable)?),
            SHORT_LASTS => self.insulin_lasts.short_min = Some(lasts_from(&value).ok_or_else(unreadable)?),
            other => {
                let key = other.strip_prefix(OTHER).unwrap_or(other).to_owned();
                self.other.insert(key, value);
            }
        }
        Ok(())
    }
}

/// What came of the settings a source brought.
#[derive(Default)]
pub(crate) struct Brought {
    pub(crate) new: u64,
    pub(crate) already_there: u64,
    pub(crate) rejected: Vec<Rejected>,
}

/// Writes the settings of a source under its change. What is set already stands, and what could not be read back is
/// not written: both are told among the rejected rows.
pub(crate) fn bring(conn: &Connection, settings: &[(String, String)], change: ChangeId) -> Result<Brought> {
    let mut brought = Brought::default();
    for (row, (key, value)) in (1_u64..).zip(settings) {
        let reason = match get_with_origin(conn, key)? {
            Some((known, _)) if known == *value => {
                brought.already_there += 1;
                continue;
            }
            Some((known, _)) => {
                format!("it is set to '{known}' here, which stands; set it anew to change it")
            }
            None => match readable(key, value) {
                Ok(()) => {
                    put(conn, key, Some(value), change)?;
                    brought.new += 1;
                    continue;
                }
                Err(error) => format!("it cannot be read ({error}); correct it or leave it out"),
            },
        };
        brought.rejected.push(Rejected {
            row,
            column: key.clone(),
            text: value.clone(),
            reason,
        });
    }
    Ok(brought)
}

/// Whether a setting can be read back by everything that reads settings.
pub(crate) fn readable(key: &str, value: &str) -> Result<()> {
    if ![UNIT, BASE_ZONE, TARGET_GROUP, NIGHT, RAPID_LASTS, SHORT_LASTS].contains(&key)
        && !key.starts_with(OTHER)
    {
        return Err(BookErrorKind::damaged("there is no such setting".to_owned()));
    }
    let mut settings = Settings::default();
    settings.take(key.to_owned(), value.to_owned())?;
    if let Some(night) = settings.night {
        night_text(night)?;
    }
    choices::choices(&settings)?;
    claims::claims(&settings)?;
    kinds::kinds(&settings)?;
    trials::trials(&settings)?;
    stock::of_settings(&settings)?;
    visits::notes(&settings)?;
    Ok(())
}

/// The base zone that was set, else that of the first import.
pub(crate) fn base_zone(conn: &Connection) -> Result<Option<String>> {
    match get_with_origin(conn, BASE_ZONE)? {
        Some((zone, _)) => Ok(Some(zone)),
        None => of_first_import(conn, BASE_ZONE),
    }
}

/// What the first import that says a unit or a zone says. Nothing about it is stored beside the import itself, so that
/// undoing one leaves what the next says.
fn of_first_import(conn: &Connection, key: &str) -> Result<Option<String>> {
    let column = if key == UNIT { "unit" } else { "base_zone" };
    let sql = format!("SELECT {column} FROM import WHERE {column} IS NOT NULL ORDER BY origin LIMIT 1");
    let mut statement = conn.prepare_cached(&sql)?;
    Ok(statement.query_row([], |row| row.get(0)).optional()?)
}

fn get_with_origin(conn: &Connection, key: &str) -> Result<Option<(String, i64)>> {
    let mut statement = conn.prepare_cached("SELECT value, origin FROM setting WHERE key = ?1")?;
    Ok(statement
        .query_row([key], |row| Ok((row.get(0)?, row.get(1)?)))
        .optional()?)
}

/// The key of [`Settings::other`] that a change set; `None` where it did something else.
pub(crate) fn setting_of(conn: &Connection, change: ChangeId) -> Result<Option<String>> {
    let sql = "SELECT detail ->> 'key' FROM change WHERE id = ?1 AND kind = 'setting'";
    let mut statement = conn.prepare_cached(sql)?;
    let key: Option<Option<String>> = statement.query_row([change.0], |row| row.get(0)).optional()?;
    Ok(key
        .flatten()
        .and_then(|key| key.strip_prefix(OTHER).map(str::to_owned)))
}

/// A change of a setting as the journal tells it.
#[derive(serde::Deserialize)]
struct SettingDetail {
    key: String,
    before: Option<String>,
    before_origin: Option<i64>,
}

/// Puts back what a setting was before a change, and says which change that value is of; only the last change of a
/// setting can be undone.
pub(crate) fn undo(conn: &Connection, change: ChangeId, detail: &str) -> Result<Option<ChangeId>> {
    let detail: SettingDetail = serde_json::from_str(detail)
        .map_err(|error| BookErrorKind::damaged(format!("journal line {change}: {error}")))?;
    let sql =
        "SELECT max(id) FROM change WHERE kind = 'setting' AND undone_by IS NULL AND detail ->> 'key' = ?1";
    let last: Option<i64> = conn.query_row(sql, [&detail.key], |row| row.get(0))?;
    if let Some(last) = last.filter(|&last| last != change.0) {
        return Err(BookErrorKind::refused(
            format!("change {last} set the same thing again"),
            format!("undo change {last} first"),
        ));
    }
    // What an import had set is gone with the import.
    let stands = |origin: &ChangeId| -> Result<bool> {
        let sql = "SELECT undone_by IS NULL FROM change WHERE id = ?1";
        Ok(conn
            .query_row(sql, [origin.0], |row| row.get(0))
            .optional()?
            .unwrap_or(true))
    };
    let before_origin = detail.before_origin.map(ChangeId);
    if !before_origin.as_ref().map(stands).transpose()?.unwrap_or(true) {
        put(conn, &detail.key, None, change)?;
        return Ok(None);
    }
    put(
        conn,
        &detail.key,
        detail.before.as_deref(),
        before_origin.unwrap_or(change),
    )?;
    Ok(before_origin)
}

pub(crate) fn put(conn: &Connection, key: &str, value: Option<&str>, origin: ChangeId) -> Result<()> {
    match value {
        Some(value) => conn.execute(
            "INSERT INTO setting (key, value, origin) VALUES (?1, ?2, ?3)
             ON CONFLICT (key) DO UPDATE SET value = excluded.value, origin = excluded.origin",
            params![key, value, origin.0],
        )?,
        None => conn.execute("DELETE FROM setting WHERE key = ?1", [key])?,
    };
    Ok(())
}
