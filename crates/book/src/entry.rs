//! Events as rows: how each kind is written, read back and recognised.

use interstice_glucose::{
    BloodCheck, BloodSource, Censor, Comfort, Delivery, Dose, Ending, InsulinKind, LivedSpan, LowVerdict,
    LowWas, Mark, MarkKind, Meal, Removal, Said, Second, SensorDetail, SensorNote, SensorNoteKind, Side,
    SkinAfter, Unit, Zone,
};
use rusqlite::types::{Type, Value};
use rusqlite::{Connection, Row, params_from_iter};

use crate::error::{BookErrorKind, Result};

/// Kinds of entries that can be logged, edited and deleted one by one.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum EntryKind {
    /// [`BloodCheck`]
    BloodCheck,
    /// [`Dose`]
    Dose,
    /// [`Meal`]
    Meal,
    /// [`Mark`]
    Mark,
    /// [`SensorNote`]
    SensorNote,
    /// [`LowVerdict`]
    LowVerdict,
    /// [`LivedSpan`]: a stretch lived in a zone other than the base zone.
    LivedSpan,
}

impl EntryKind {
    /// All of them.
    pub const ALL: [EntryKind; 7] = [
        EntryKind::BloodCheck,
        EntryKind::Dose,
        EntryKind::Meal,
        EntryKind::Mark,
        EntryKind::SensorNote,
        EntryKind::LowVerdict,
        EntryKind::LivedSpan,
    ];

    /// Name of its table.
    pub(crate) fn table(self) -> &'static str {
        match self {
            EntryKind::BloodCheck => "blood_check",
            EntryKind::Dose => "dose",
            EntryKind::Meal => "meal",
            EntryKind::Mark => "mark",
            EntryKind::SensorNote => "sensor_note",
            EntryKind::LowVerdict => "low_verdict",
            EntryKind::LivedSpan => "lived_span",
        }
    }

    /// As a person would call it.
    pub fn name(self) -> &'static str {
        match self {
            EntryKind::BloodCheck => "blood check",
            EntryKind::Dose => "dose",
            EntryKind::Meal => "meal",
            EntryKind::Mark => "entry",
            EntryKind::SensorNote => "sensor note",
            EntryKind::LowVerdict => "word on a low",
            EntryKind::LivedSpan => "stretch away",
        }
    }
}

/// One row among the entries of the book.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct EntryRef {
    /// Which kind.
    pub kind: EntryKind,
    /// Row id, unique within the kind and never used twice.
    pub id: i64,
}

/// Any entry that can be logged or edited.
#[derive(Clone, Debug, PartialEq)]
pub enum Entry {
    /// A blood check.
    BloodCheck(BloodCheck),
    /// A dose.
    Dose(Dose),
    /// A meal.
    Meal(Meal),
    /// Anything else.
    Mark(Mark),
    /// A moment in a sensor's life.
    SensorNote(SensorNote),
    /// The wearer's word on a low.
    LowVerdict(LowVerdict),
    /// A stretch lived in another zone.
    LivedSpan(LivedSpan),
}

impl Entry {
    /// Its kind.
    pub fn kind(&self) -> EntryKind {
        match self {
            Entry::BloodCheck(_) => EntryKind::BloodCheck,
            Entry::Dose(_) => EntryKind::Dose,
            Entry::Meal(_) => EntryKind::Meal,
            Entry::Mark(_) => EntryKind::Mark,
            Entry::SensorNote(_) => EntryKind::SensorNote,
            Entry::LowVerdict(_) => EntryKind::LowVerdict,
            Entry::LivedSpan(_) => EntryKind::LivedSpan,
        }
    }
}

/// How one kind of entry lies in its table.
pub(crate) trait Stored: Sized + Clone + PartialEq {
    const KIND: EntryKind;
    /// Columns after id, origin and correction; the first is `at`.
    const COLUMNS: &'static str;
    fn at(&self) -> Second;
    /// When it ended, where it lasts into what comes after.
    fn until(&self) -> Option<Second> {
        None
    }
    /// One value for each of `COLUMNS`.
    fn values(&self) -> Vec<Value>;
    /// Reads the columns from index `first` on.
    fn read(row: &Row<'_>, first: usize) -> rusqlite::Result<Self>;

    /// The entry again from its [`content`].
    fn from_content(conn: &Connection, content: &str) -> Result<Self> {
        let unreadable =
            |what: String| BookErrorKind::damaged(format!("a retracted {}: {what}", Self::KIND.name()));
        let json: Vec<serde_json::Value> =
            serde_json::from_str(content).map_err(|error| unreadable(error.to_string()))?;
        let values = json.into_iter().map(|value| match value {
            serde_json::Value::Number(number) => match number.as_i64() {
                Some(whole) => Value::Integer(whole),
                None => number.as_f64().map_or(Value::Null, Value::Real),
            },
            serde_json::Value::String(text) => Value::Text(text),
            _ => Value::Null,
        });
        let columns = Self::COLUMNS
            .split(", ")
            .map(|_| "?")
            .collect::<Vec<_>>()
            .join(", ");
        let mut statement = conn.prepare_cached(&format!("SELECT {columns}"))?;
        let read = statement.query_row(params_from_iter(values), |row| Self::read(row, 0));
        read.map_err(|error| unreadable(error.to_string()))
    }

    /// The values, seen to be numbers.
    fn checked_values(&self) -> Result<Vec<Value>> {
        let values = self.values();
        if values
            .iter()
            .any(|value| matches!(value, Value::Real(number) if !number.is_finite()))
        {
            let what = format!("a {} holds a figure that is not a number", Self::KIND.name());
            return Err(BookErrorKind::refused(what, "leave the figure out or correct it"));
        }
        Ok(values)
    }
}

/// What makes two entries the same: all columns from `at` on, as a JSON array.
pub(crate) fn content(values: &[Value]) -> String {
    let json = values.iter().map(|value| match value {
        Value::Null | Value::Blob(_) => serde_json::Value::Null,
        Value::Integer(number) => serde_json::Value::from(*number),
        // SQLite keeps no negative zero.
        Value::Real(number) => serde_json::Value::from(*number + 0.0),
        Value::Text(text) => serde_json::Value::from(text.as_str()),
    });
    serde_json::Value::Array(json.collect()).to_string()
}

fn text(word: &str) -> Value {
    Value::Text(word.to_owned())
}

fn optional<T: Clone + Into<Value>>(value: &Option<T>) -> Value {
    value.clone().map_or(Value::Null, Into::into)
}

/// A word that stands for one of a few things: written and read by the same table.
pub(crate) trait Word: Copy + PartialEq + 'static {
    const WORDS: &'static [(Self, &'static str)];

    fn word(self) -> &'static str {
        Self::WORDS
            .iter()
            .find(|(it, _)| *it == self)
            .map_or("", |(_, word)| word)
    }

    fn from_word(word: &str) -> Option<Self> {
        Self::WORDS.iter().find(|(_, w)| *w == word).map(|(it, _)| *it)
    }

    fn read(row: &Row<'_>, column: usize) -> rusqlite::Result<Self> {
        let word = row.get_ref(column)?.as_str().map_err(rusqlite::Error::from)?;
        Self::from_word(word)
            .ok_or_else(|| unreadable(column, format!("'{word}' is not a word of this column")))
    }
}

pub(crate) fn unreadable(column: usize, what: String) -> rusqlite::Error {
    rusqlite::Error::FromSqlConversionFailure(column, Type::Text, what.into())
}

impl Word for Unit {
    const WORDS: &'static [(Self, &'static str)] = &[(Unit::MgPerDl, "mg/dL"), (Unit::MmolPerL, "mmol/L")];
}

impl Word for Censor {
    const WORDS: &'static [(Self, &'static str)] = &[
        (Censor::None, "none"),
        (Censor::Below, "below"),
        (Censor::Above, "above"),
    ];
}

impl Word for BloodSource {
    const WORDS: &'static [(Self, &'static str)] = &[
        (BloodSource::Meter, "meter"),
        (BloodSource::Laboratory, "laboratory"),
    ];
}

impl Word for InsulinKind {
    const WORDS: &'static [(Self, &'static str)] = &[
        (InsulinKind::Rapid, "rapid"),
        (InsulinKind::Short, "short"),
        (InsulinKind::Intermediate, "intermediate"),
        (InsulinKind::Long, "long"),
        (InsulinKind::Mixed, "mixed"),
        (InsulinKind::Unsaid, "unsaid"),
    ];
}

impl Word for MarkKind {
    const WORDS: &'static [(Self, &'static str)] = &[
        (MarkKind::Activity, "activity"),
        (MarkKind::Sleep, "sleep"),
        (MarkKind::Ketones, "ketones"),
        (MarkKind::Symptom, "symptom"),
        (MarkKind::Illness, "illness"),
        (MarkKind::Drink, "drink"),
        (MarkKind::Temperature, "temperature"),
        (MarkKind::Medicine, "medicine"),
        (MarkKind::Device, "device"),
        (MarkKind::Note, "note"),
        (MarkKind::Tag, "tag"),
        (MarkKind::Artefact, "artefact"),
    ];
}

impl Word for SensorNoteKind {
    const WORDS: &'static [(Self, &'static str)] = &[
        (SensorNoteKind::PutOn, "put on"),
        (SensorNoteKind::Started, "started"),
        (SensorNoteKind::Ended, "ended"),
        (SensorNoteKind::Noted, "noted"),
    ];
}

impl Stored for BloodCheck {
    const KIND: EntryKind = EntryKind::BloodCheck;
    const COLUMNS: &'static str = "at, mantissa, decimals, unit, censor, source, note";

    fn at(&self) -> Second {
        self.at
    }

    fn values(&self) -> Vec<Value> {
        vec![
            self.at.into(),
            self.said.mantissa().into(),
            i64::from(self.said.decimals()).into(),
            text(self.said.unit().word()),
            text(self.said.censor().word()),
            text(self.source.word()),
            optional(&self.note),
        ]
    }

    fn read(row: &Row<'_>, first: usize) -> rusqlite::Result<Self> {
        let (unit, censor) = (Unit::read(row, first + 3)?, Censor::read(row, first + 4)?);
        let said = Said::new(row.get(first + 1)?, row.get(first + 2)?, unit, censor)
            .map_err(|error| unreadable(first + 2, error.to_string()))?;
        let source = BloodSource::read(row, first + 5)?;
        Ok(BloodCheck {
            at: row.get(first)?,
            said,
            source,
            note: row.get(first + 6)?,
        })
    }
}

impl Stored for Dose {
    const KIND: EntryKind = EntryKind::Dose;
    const COLUMNS: &'static str = "at, units, insulin, delivery, minutes, note";

    fn at(&self) -> Second {
        self.at
    }

    fn values(&self) -> Vec<Value> {
        let (delivery, minutes) = match self.delivery {
            Delivery::AtOnce => ("at once", Value::Null),
            Delivery::Spread { minutes } => ("spread", i64::from(minutes).into()),
            Delivery::BasalRate => ("basal rate", Value::Null),
            Delivery::Intravenous => ("intravenous", Value::Null),
        };
        vec![
            self.at.into(),
            self.units.into(),
            text(self.insulin.word()),
            text(delivery),
            minutes,
            optional(&self.note),
        ]
    }

    fn read(row: &Row<'_>, first: usize) -> rusqlite::Result<Self> {
        let word = row.get_ref(first + 3)?.as_str().map_err(rusqlite::Error::from)?;
        let delivery = match word {
            "at once" => Delivery::AtOnce,
            "spread" => Delivery::Spread {
                minutes: row.get(first + 4)?,
            },
            "basal rate" => Delivery::BasalRate,
            "intravenous" => Delivery::Intravenous,
            other => return Err(unreadable(first + 3, format!("'{other}' is not a delivery"))),
        };
        let insulin = InsulinKind::read(row, first + 2)?;
        Ok(Dose {
            at: row.get(first)?,
            units: row.get(first + 1)?,
            insulin,
            delivery,
            note: row.get(first + 5)?,
        })
    }
}

impl Stored for Meal {
    const KIND: EntryKind = EntryKind::Meal;
    const COLUMNS: &'static str = "at, carbohydrate_g, protein_g, fat_g, fibre_g, energy_kcal, text";

    fn at(&self) -> Second {
        self.at
    }

    fn values(&self) -> Vec<Value> {
        vec![
            self.at.into(),
            optional(&self.carbohydrate_g),
            optional(&self.protein_g),
            optional(&self.fat_g),
            optional(&self.fibre_g),
            optional(&self.energy_kcal),
            optional(&self.text),
        ]
    }

    fn read(row: &Row<'_>, first: usize) -> rusqlite::Result<Self> {
        Ok(Meal {
            at: row.get(first)?,
            carbohydrate_g: row.get(first + 1)?,
            protein_g: row.get(first + 2)?,
            fat_g: row.get(first + 3)?,
            fibre_g: row.get(first + 4)?,
            energy_kcal: row.get(first + 5)?,
            text: row.get(first + 6)?,
        })
    }
}

impl Stored for Mark {
    const KIND: EntryKind = EntryKind::Mark;
    const COLUMNS: &'static str = "at, until, kind, value, text";

    fn at(&self) -> Second {
        self.at
    }

    fn until(&self) -> Option<Second> {
        self.until
    }

    fn values(&self) -> Vec<Value> {
        vec![
            self.at.into(),
            optional(&self.until),
            text(self.kind.word()),
            optional(&self.value),
            optional(&self.text),
        ]
    }

    fn read(row: &Row<'_>, first: usize) -> rusqlite::Result<Self> {
        Ok(Mark {
            at: row.get(first)?,
            until: row.get(first + 1)?,
            kind: MarkKind::read(row, first + 2)?,
            value: row.get(first + 3)?,
            text: row.get(first + 4)?,
        })
    }
}

impl Stored for SensorNote {
    const KIND: EntryKind = EntryKind::SensorNote;
    const COLUMNS: &'static str = "at, kind, sensor, site, note, detail";

    fn at(&self) -> Second {
        self.at
    }

    fn values(&self) -> Vec<Value> {
        vec![
            self.at.into(),
            text(self.kind.word()),
            optional(&self.sensor),
            optional(&self.site),
            optional(&self.note),
            detail_json(&self.detail).map_or(Value::Null, Value::Text),
        ]
    }

    fn read(row: &Row<'_>, first: usize) -> rusqlite::Result<Self> {
        Ok(SensorNote {
            at: row.get(first)?,
            kind: SensorNoteKind::read(row, first + 1)?,
            sensor: row.get(first + 2)?,
            site: row.get(first + 3)?,
            note: row.get(first + 4)?,
            detail: detail(row, first + 5)?,
        })
    }
}

/// What is known of a sensor as it is kept: JSON, nothing where nothing is known.
#[derive(Default, serde::Serialize, serde::Deserialize)]
#[serde(default)]
struct KeptDetail {
    #[serde(skip_serializing_if = "Vec::is_empty")]
    preparation: Vec<String>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    cover: Vec<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    lot: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    serial: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    ending: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    removal: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    comfort: Option<u8>,
    #[serde(skip_serializing_if = "Option::is_none")]
    skin: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    skin_days: Option<u16>,
    #[serde(skip_serializing_if = "Option::is_none")]
    slept: Option<String>,
}

impl Word for Ending {
    const WORDS: &'static [(Self, &'static str)] = &[
        (Ending::Planned, "planned"),
        (Ending::TakenOff, "taken off"),
        (Ending::PainOrSkin, "pain or skin"),
        (Ending::CameOff, "came off"),
        (Ending::KnockedOff, "knocked off"),
        (Ending::AdhesiveGaveWay, "adhesive gave way"),
        (Ending::Failed, "failed"),
        (Ending::SignalLost, "signal lost"),
        (Ending::FailedReadings, "failed readings"),
        (Ending::Other, "other"),
    ];
}

impl Word for Removal {
    const WORDS: &'static [(Self, &'static str)] = &[
        (Removal::Dry, "dry"),
        (Removal::Oil, "oil"),
        (Removal::Remover, "remover"),
    ];
}

impl Word for SkinAfter {
    const WORDS: &'static [(Self, &'static str)] = &[
        (SkinAfter::Clear, "clear"),
        (SkinAfter::Irritant, "irritant"),
        (SkinAfter::Allergic, "allergic"),
        (SkinAfter::Mechanical, "mechanical"),
        (SkinAfter::Infection, "infection"),
        (SkinAfter::LumpOrScar, "lump or scar"),
    ];
}

impl Word for Side {
    const WORDS: &'static [(Self, &'static str)] = &[(Side::Left, "left"), (Side::Right, "right")];
}

fn detail_json(detail: &SensorDetail) -> Option<String> {
    let kept = KeptDetail {
        preparation: detail.preparation.clone(),
        cover: detail.cover.clone(),
        lot: detail.lot.clone(),
        serial: detail.serial.clone(),
        ending: detail.ending.map(|ending| ending.word().to_owned()),
        removal: detail.removal.map(|removal| removal.word().to_owned()),
        comfort: detail.comfort.map(Comfort::level),
        skin: detail.skin.map(|skin| skin.word().to_owned()),
        skin_days: detail.skin_days,
        slept: detail.slept.map(|side| side.word().to_owned()),
    };
    // A struct of text always has a JSON form.
    (!detail.is_empty()).then(|| serde_json::to_string(&kept).unwrap_or_default())
}

fn detail(row: &Row<'_>, column: usize) -> rusqlite::Result<SensorDetail> {
    let Some(json) = row.get::<_, Option<String>>(column)? else {
        return Ok(SensorDetail::default());
    };
    let kept: KeptDetail =
        serde_json::from_str(&json).map_err(|error| unreadable(column, error.to_string()))?;
    let comfort = kept.comfort.map(|level| {
        Comfort::new(level).ok_or_else(|| unreadable(column, format!("comfort {level} is not one of 0 to 3")))
    });
    Ok(SensorDetail {
        preparation: kept.preparation,
        cover: kept.cover,
        lot: kept.lot,
        serial: kept.serial,
        ending: known(kept.ending, column, "way to end")?,
        removal: known(kept.removal, column, "way to take a sensor off")?,
        comfort: comfort.transpose()?,
        skin: known(kept.skin, column, "state of the skin")?,
        skin_days: kept.skin_days,
        slept: known(kept.slept, column, "side of the body")?,
    })
}

/// What a kept word means; one that is not known is no word of ours.
fn known<T: Word>(word: Option<String>, column: usize, what: &str) -> rusqlite::Result<Option<T>> {
    word.map(|word| T::from_word(&word).ok_or_else(|| unreadable(column, format!("'{word}' is no {what}"))))
        .transpose()
}

impl Word for LowWas {
    const WORDS: &'static [(Self, &'static str)] = &[(LowWas::Pressure, "pressure"), (LowWas::Real, "real")];
}

impl Stored for LowVerdict {
    const KIND: EntryKind = EntryKind::LowVerdict;
    const COLUMNS: &'static str = "at, until, sensor, was, note";

    fn at(&self) -> Second {
        self.at
    }

    fn until(&self) -> Option<Second> {
        Some(self.until)
    }

    fn values(&self) -> Vec<Value> {
        vec![
            self.at.into(),
            self.until.into(),
            optional(&self.sensor),
            text(self.was.word()),
            optional(&self.note),
        ]
    }

    fn read(row: &Row<'_>, first: usize) -> rusqlite::Result<Self> {
        Ok(LowVerdict {
            at: row.get(first)?,
            until: row.get(first + 1)?,
            sensor: row.get(first + 2)?,
            was: LowWas::read(row, first + 3)?,
            note: row.get(first + 4)?,
        })
    }
}

impl Stored for LivedSpan {
    const KIND: EntryKind = EntryKind::LivedSpan;
    const COLUMNS: &'static str = "at, until, zone";

    fn at(&self) -> Second {
        self.from
    }

    fn values(&self) -> Vec<Value> {
        vec![self.from.into(), self.to.into(), text(self.zone.name())]
    }

    fn read(row: &Row<'_>, first: usize) -> rusqlite::Result<Self> {
        let zone = row.get_ref(first + 2)?.as_str().map_err(rusqlite::Error::from)?;
        let zone = Zone::named(zone).map_err(|error| unreadable(first + 2, error.to_string()))?;
        Ok(LivedSpan {
            from: row.get(first)?,
            to: row.get(first + 1)?,
            zone,
        })
    }
}
