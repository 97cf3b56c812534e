//! The sensors worn before the record begins, of which only the wear was written down: how long each stayed on follows from
//! where it was and what covered it, by planted rates.

use interstice_glucose::{Ending as HowEnded, Second, SensorDetail, SensorNote, SensorNoteKind};
use serde::{Serialize, Serializer};

use crate::calendar::Calendar;
use crate::random::{Dice, Purpose};
use crate::wear::{Side, Site, as_utc};

/// How far back the notes go, days before the record.
const BEFORE_DAYS: Second = 3 * 365;
/// Days a sensor runs.
const LIFE_DAYS: f64 = 14.0;
/// The planted rates at which sensors come off, a day on the body; the same on every day of it.
pub const LOSS_A_DAY: [LossTruth; 4] = [
    LossTruth::new(Site::Thigh, None, 0.11),
    LossTruth::new(Site::Thigh, Some(COVER), 0.012),
    LossTruth::new(Site::UpperArm, None, 0.02),
    LossTruth::new(Site::UpperArm, Some(COVER), 0.006),
];
/// The cover that helps, most of all on the thigh.
pub const COVER: &str = "over-patch";
/// The preparation that was tried on so few that nothing can be told of it.
pub const RARE_PREPARATION: &str = "liquid adhesive";
/// Which of the sensors had it, counted from the first.
const RARE: [usize; 3] = [22, 41, 60];

/// How readily sensors come off.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct LossTruth {
    /// The thigh, or, as upper arm, every other place.
    pub site: Site,
    /// What covers them.
    pub cover: Option<&'static str>,
    /// Chance a day, as a rate.
    pub a_day: f64,
}

impl LossTruth {
    const fn new(site: Site, cover: Option<&'static str>, a_day: f64) -> Self {
        LossTruth { site, cover, a_day }
    }

    fn of(site: Site, cover: Option<&'static str>) -> f64 {
        let same =
            |truth: &&LossTruth| (truth.site == Site::Thigh) == (site == Site::Thigh) && truth.cover == cover;
        LOSS_A_DAY.iter().find(same).map_or(0.0, |truth| truth.a_day)
    }
}

/// One sensor of which only the wear was written down.
#[derive(Clone, Debug, Serialize)]
pub struct EarlierTruth {
    /// Its name.
    pub sensor: String,
    /// Where.
    pub site: Site,
    /// Which side.
    pub side: Side,
    /// How the skin was prepared.
    pub preparation: Vec<&'static str>,
    /// What covered it.
    pub cover: Option<&'static str>,
    /// Put on, and started a few minutes later.
    #[serde(serialize_with = "as_utc")]
    pub put_on: Second,
    /// Ended.
    #[serde(serialize_with = "as_utc")]
    pub ended: Second,
    /// How: it came off, or its time was over.
    #[serde(serialize_with = "ending_name")]
    pub ending: HowEnded,
}

fn ending_name<S: Serializer>(ending: &HowEnded, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_str(ending.name())
}

impl EarlierTruth {
    /// Mean days on the body, up to the planned end, of sensors worn as this one: the area under exp(−rate · t).
    pub fn mean_days(&self) -> f64 {
        let a_day = LossTruth::of(self.site, self.cover);
        (1.0 - libm::exp(-a_day * LIFE_DAYS)) / a_day
    }

    /// As the engineer wrote it down.
    pub fn written(&self) -> [SensorNote; 3] {
        let note = |at, kind, detail| SensorNote {
            at,
            kind,
            sensor: Some(self.sensor.clone()),
            site: None,
            note: None,
            detail,
        };
        let of_it = SensorDetail {
            preparation: self.preparation.iter().map(|&tag| tag.to_owned()).collect(),
            cover: self.cover.iter().map(|&tag| tag.to_owned()).collect(),
            ..SensorDetail::default()
        };
        let over = SensorDetail {
            ending: Some(self.ending),
            ..SensorDetail::default()
        };
        [
            SensorNote {
                site: Some(format!("{} {}", self.side.words(), self.site.words())),
                ..note(self.put_on, SensorNoteKind::PutOn, of_it)
            },
            note(
                self.put_on + STARTED_AFTER_S,
                SensorNoteKind::Started,
                SensorDetail::default(),
            ),
            note(self.ended, SensorNoteKind::Ended, over),
        ]
    }
}

/// From putting on to starting.
const STARTED_AFTER_S: Second = 600;

/// The sensors before the record, without the record.
pub fn earlier(seed: u64) -> Vec<EarlierTruth> {
    before(&Calendar::new(), seed)
}

/// Places and covers go round in turns of their own, so that every place had both; when each came off is chance.
pub(crate) fn before(calendar: &Calendar, seed: u64) -> Vec<EarlierTruth> {
    use Site::{Abdomen, Chest, Thigh, UpperArm};
    let mut dice = Dice::new(seed, Purpose::Before);
    let places = [UpperArm, Thigh, Abdomen, UpperArm, Thigh, Chest];
    let mut all = Vec::new();
    let mut put_on = calendar.from() - BEFORE_DAYS * 86_400 + 9 * 3600;
    loop {
        let place = all.len();
        let turn = place / places.len();
        let site = places[place % places.len()];
        let cover = ((place + turn) % 2 == 1).then_some(COVER);
        let lasts = -libm::log(1.0 - dice.unit()) / LossTruth::of(site, cover);
        let ending = if lasts < LIFE_DAYS {
            HowEnded::CameOff
        } else {
            HowEnded::Planned
        };
        let planned = put_on + STARTED_AFTER_S + (LIFE_DAYS * 86_400.0) as Second;
        if planned >= calendar.from() {
            return all;
        }
        let ended = if ending == HowEnded::CameOff {
            // No sooner than the hour in which it is noticed.
            put_on + ((lasts * 24.0).ceil() as Second) * 3600
        } else {
            planned
        };
        let preparation = match (RARE.contains(&place), turn % 2) {
            (true, _) => vec!["wash", RARE_PREPARATION],
            (false, 0) => vec!["wash"],
            (false, _) => vec!["wash", "alcohol"],
        };
        all.push(EarlierTruth {
            sensor: format!("E{:02}", place + 1),
            site,
            side: if (turn / 2).is_multiple_of(2) {
                Side::Left
            } else {
                Side::Right
            },
            preparation,
            cover,
            put_on,
            ended: ended.min(planned),
            ending,
        });
        put_on = ended.min(planned) + dice.between(1.0, 20.0) as Second * 3600;
    }
}
