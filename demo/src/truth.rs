//! What was planted, and what is true behind the files.

use interstice_glucose::Second;
use serde::Serialize;

use crate::after::{AfterTruth, after};
use crate::before::{EarlierTruth, LOSS_A_DAY, LossTruth, before};
use crate::calendar::{DAYS, DayKind, HOME_ZONE, day_kind};
use crate::drawer::{LotTruth, drawer};
use crate::files::Counts;
use crate::life::Life;
use crate::log::Entry;
use crate::pressure::Compression;
use crate::sensor::{Reading, Traits};
use crate::swings::{Swing, swings};
use crate::tags::{TagTruth, tags};
use crate::wear::{BIASED_LOT, LOT_BIAS, Wear, as_utc};

/// Said in every file of the truth.
pub const NOTICE: &str = "INVENTED: made by a program; no person is behind it";

/// The truth behind the scenario. Times are RFC 3339; glucose is mg/dL.
#[derive(Clone, Debug, Serialize)]
pub struct Truth {
    /// That it is invented.
    pub notice: &'static str,
    /// The seed it grew from.
    pub seed: u64,
    /// The zone of home, in which the files without offsets are to be read.
    pub home_zone: &'static str,
    /// First instant.
    #[serde(serialize_with = "as_utc")]
    pub from: Second,
    /// First instant no longer in it.
    #[serde(serialize_with = "as_utc")]
    pub to: Second,
    /// Stretches lived in ship's time.
    pub voyage: Vec<ShipTime>,
    /// Kind of each day, from the first.
    pub days: Vec<DayKind>,
    /// What days were tagged with by hand.
    pub tags: Vec<TagTruth>,
    /// The sensors, in the order they were worn.
    pub sensors: Vec<SensorTruth>,
    /// The lot whose sensors read too high.
    pub biased_lot: &'static str,
    /// By how much, as a share of glucose.
    pub lot_bias: f64,
    /// How sensors came off and what they left.
    pub after: Vec<AfterTruth>,
    /// Sensors worn before the record, of which only the wear was written down.
    pub before: Vec<EarlierTruth>,
    /// How readily those came off.
    pub before_losses: [LossTruth; 4],
    /// The drawer.
    pub drawer: Vec<LotTruth>,
    /// Pressure on sensors, in time order.
    pub compressions: Vec<Compression>,
    /// Swings, in time order.
    pub swings: Vec<Swing>,
    /// What the files hold.
    pub counts: Counts,
    /// Every reading with its truth, in time order; written to `readings.csv`.
    #[serde(skip)]
    pub readings: Vec<Reading>,
    /// True blood glucose every five minutes; written to `blood.csv`.
    #[serde(skip)]
    pub blood: Vec<(Second, f64)>,
    /// Everything the person did, logged or not, in time order; written to `entries.json`.
    #[serde(skip)]
    pub entries: Vec<Entry>,
}

/// A stretch of the voyage.
#[derive(Clone, Debug, Serialize)]
pub struct ShipTime {
    /// First instant.
    #[serde(serialize_with = "as_utc")]
    pub from: Second,
    /// First instant no longer in it.
    #[serde(serialize_with = "as_utc")]
    pub to: Second,
    /// Offset of the ship's clock, '-02:00'.
    pub offset: String,
}

/// One sensor.
#[derive(Clone, Debug, Serialize)]
pub struct SensorTruth {
    /// Its life.
    #[serde(flatten)]
    pub wear: Wear,
    /// Its constants.
    #[serde(flatten)]
    pub traits: Traits,
    /// Readings it gave.
    pub readings: u64,
    /// Mean absolute relative difference of these from true blood glucose at the same instant, percent.
    pub mard_to_blood_percent: f64,
}

impl Truth {
    pub(crate) fn of(life: Life, counts: Counts, seed: u64) -> Self {
        let swings = swings(&life);
        let sensors = sensors(&life);
        let voyage = life.calendar.voyage.iter();
        Truth {
            notice: NOTICE,
            seed,
            home_zone: HOME_ZONE,
            from: life.calendar.from(),
            to: life.calendar.to(),
            voyage: voyage
                .map(|span| ShipTime {
                    from: span.from,
                    to: span.to,
                    offset: span.zone.name().to_owned(),
                })
                .collect(),
            days: (0..DAYS).map(day_kind).collect(),
            tags: tags(&life.calendar),
            sensors,
            biased_lot: BIASED_LOT,
            lot_bias: LOT_BIAS,
            after: after(&life.lives, life.calendar.to()),
            before: before(&life.calendar, seed),
            before_losses: LOSS_A_DAY,
            drawer: drawer(&life.lives),
            compressions: life.compressions,
            swings,
            counts,
            readings: life.readings,
            blood: life.blood,
            entries: life.entries,
        }
    }
}

fn sensors(life: &Life) -> Vec<SensorTruth> {
    let mut sums = vec![(0_u64, 0.0_f64); life.lives.len()];
    for reading in &life.readings {
        let (n, sum) = &mut sums[reading.sensor];
        *n += 1;
        *sum += (f64::from(reading.mg_dl) - reading.blood_mg_dl).abs() / reading.blood_mg_dl;
    }
    let worn = life.lives.iter().zip(&life.traits).zip(sums);
    worn.map(|((wear, traits), (readings, sum))| SensorTruth {
        wear: wear.clone(),
        traits: traits.clone(),
        readings,
        mard_to_blood_percent: crate::sensor::tenths(100.0 * sum / (readings as f64).max(1.0)),
    })
    .collect()
}
