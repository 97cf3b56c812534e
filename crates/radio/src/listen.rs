//! One connection to a sensor: what is missing is asked for, then every record is taken as it comes.

use std::collections::BTreeSet;
use std::convert::Infallible;

use interstice_home::Heard;
use interstice_intake::bluetooth::{
    CgmFeatures, CgmMeasurement, CgmStatus, SessionStart, StoredAnswer, StoredAsk, cgm_measurements,
    readings_of,
};

use crate::bus::{At, Changes};
use crate::device::{Device, Part};
use crate::keep::Pace;
use crate::session::{name, session};
use crate::{Desk, RadioError};

/// What is missing is asked for so often when some of it comes damaged.
const TRIES: u32 = 3;
/// More records than a session has minutes are none of a sensor that works.
const MOST_RECORDS: usize = 1 << 16;
/// Records that are written at once: one by one they would be a change of the day's block each.
const AT_ONCE: usize = 1000;

/// Listens until the connection ends; that is an error like any other. `got` is set once something was heard.
pub(crate) async fn listen(
    at: &At,
    address: &str,
    pace: &Pace,
    heard: &mut Heard,
    desk: &mut dyn Desk,
    got: &mut bool,
) -> Result<Infallible, RadioError> {
    let (device, changes) = Device::connect(at, address).await?;
    let (features, _) = device.read(Part::Features, CgmFeatures::decode).await?;
    let mut listening = Listening {
        device,
        changes,
        pace,
        with_checksum: features.with_checksum(),
        sensor: String::new(),
        heard,
        desk,
        got,
    };
    listening.settle().await?;
    listening.device.tell(Part::Measurement).await?;
    if listening.device.has(Part::Stored) {
        listening.device.tell(Part::Stored).await?;
    }
    listening.heard.trouble = None;
    listening.note()?;
    listening.fill().await?;
    listening.live().await
}

/// What a sensor sent.
enum Notice {
    Records(Vec<CgmMeasurement>),
    Damaged,
    Answer(StoredAnswer),
}

/// What came of asking for what was stored.
#[derive(Default)]
struct Run {
    /// Minutes of the session that came.
    minutes: BTreeSet<u16>,
    /// Notices that were damaged.
    damaged: u64,
    is_refused: bool,
}

struct Listening<'a> {
    device: Device,
    changes: Changes,
    pace: &'a Pace,
    with_checksum: bool,
    sensor: String,
    heard: &'a mut Heard,
    desk: &'a mut dyn Desk,
    got: &'a mut bool,
}

impl Listening<'_> {
    /// Finds out which session it is. Answers whether it is the one that was known.
    async fn settle(&mut self) -> Result<bool, RadioError> {
        let with_checksum = self.with_checksum;
        let start = self
            .device
            .read(Part::Start, |octets| SessionStart::decode(octets, with_checksum));
        let (start, said) = start.await?;
        let status = self
            .device
            .read(Part::Status, |octets| CgmStatus::decode(octets, with_checksum));
        let (status, _) = status.await?;
        let known = self.heard.session.take();
        let now = session(known.as_ref(), start, &said, status, self.desk.now());
        self.sensor = name(&self.device.name, &now);
        let is_known = known.as_ref() == Some(&now);
        self.heard.session = Some(now);
        Ok(is_known)
    }

    /// Every record as it comes.
    async fn live(&mut self) -> Result<Infallible, RadioError> {
        loop {
            match self.notice(self.pace.silence).await? {
                None if !self.device.is_connected().await => return Err(RadioError::Lost),
                None | Some(Notice::Answer(_)) => {}
                Some(Notice::Damaged) => self.fill().await?,
                Some(Notice::Records(records)) => {
                    let last = self.last();
                    let falls_back = records.iter().any(|it| Some(it.offset_min) < last);
                    if falls_back && !self.settle().await? {
                        self.note()?;
                        return Err(RadioError::AnotherSession);
                    }
                    self.write(&records)?;
                    self.up_to(records.iter().map(|it| it.offset_min).max())?;
                }
            }
        }
    }

    /// What is missing since the last minute that is in the book. Where some of it comes damaged it is asked for again; what does
    /// not come even then is told.
    async fn fill(&mut self) -> Result<(), RadioError> {
        if !self.device.has(Part::Stored) {
            return Ok(());
        }
        let mut came = BTreeSet::new();
        let mut missing = 0;
        for _ in 0..TRIES {
            let Some(from_min) = self
                .last()
                .map_or(Some(None), |last| last.checked_add(1).map(Some))
            else {
                return Ok(());
            };
            let count = self.count(from_min).await?;
            if count == Some(0) {
                return Ok(());
            }
            let run = self.report(from_min).await?;
            came.extend(run.minutes);
            if run.is_refused {
                return self.up_to(came.last().copied());
            }
            let there = count.map_or(0, |count| u64::from(count).saturating_sub(came.len() as u64));
            missing = there.max(u64::from(run.damaged > 0 && count.is_none()));
            if missing == 0 {
                return self.up_to(came.last().copied());
            }
        }
        let records = match missing {
            1 => "one record".to_owned(),
            some => format!("{some} records"),
        };
        self.heard.trouble = Some(RadioError::Damaged(records).to_string());
        self.up_to(came.last().copied())?;
        self.note()
    }

    /// How many records there are; `None` where the sensor does not count them.
    async fn count(&mut self, from_min: Option<u16>) -> Result<Option<u16>, RadioError> {
        let ask = StoredAsk {
            only_count: true,
            from_min,
        };
        self.device.ask_stored(ask).await?;
        let mut run = Run::default();
        Ok(match self.answer(&mut run).await? {
            StoredAnswer::Count(count) => Some(count),
            StoredAnswer::Nothing => Some(0),
            StoredAnswer::Done | StoredAnswer::Refused(_) => None,
        })
    }

    async fn report(&mut self, from_min: Option<u16>) -> Result<Run, RadioError> {
        let ask = StoredAsk {
            only_count: false,
            from_min,
        };
        self.device.ask_stored(ask).await?;
        let mut run = Run::default();
        run.is_refused = matches!(self.answer(&mut run).await?, StoredAnswer::Refused(_));
        Ok(run)
    }

    /// Takes records until the sensor answers.
    async fn answer(&mut self, run: &mut Run) -> Result<StoredAnswer, RadioError> {
        let mut gathered = Vec::new();
        let mut all = 0;
        let answered = loop {
            match self.notice(self.pace.answers_within).await {
                Ok(Some(Notice::Records(records))) => {
                    all += records.len();
                    run.minutes.extend(records.iter().map(|it| it.offset_min));
                    gathered.extend(records);
                }
                Ok(Some(Notice::Damaged)) => run.damaged += 1,
                Ok(Some(Notice::Answer(answer))) => break Ok(answer),
                Ok(None) => {
                    let why = "it did not answer when it was asked for what it stored";
                    break Err(RadioError::NotReached(why.to_owned()));
                }
                Err(error) => break Err(error),
            }
            if all > MOST_RECORDS {
                let why = "it sends more records than a session has minutes";
                break Err(RadioError::NotReached(why.to_owned()));
            }
            if gathered.len() >= AT_ONCE {
                self.write(&std::mem::take(&mut gathered))?;
            }
        };
        // Also what came before the connection was lost: it is in the book then, and asked for once more.
        self.write(&gathered)?;
        answered
    }

    /// The next thing the sensor sends; `None` where it was silent so long.
    async fn notice(&mut self, within: std::time::Duration) -> Result<Option<Notice>, RadioError> {
        let waited = tokio::time::timeout(within, async {
            loop {
                let change = self.changes.next().await.ok_or(RadioError::Lost)?;
                if change.is_end() {
                    return Err(RadioError::Lost);
                }
                let (Some(part), Some(octets)) = (self.device.part_at(&change.path), change.octets()) else {
                    continue;
                };
                let notice = match part {
                    Part::Measurement => {
                        cgm_measurements(&octets, self.with_checksum).map_or(Notice::Damaged, Notice::Records)
                    }
                    Part::Stored => match StoredAnswer::decode(&octets) {
                        Ok(answer) => Notice::Answer(answer),
                        Err(_) => continue,
                    },
                    Part::Features | Part::Status | Part::Start => continue,
                };
                return Ok(notice);
            }
        });
        waited.await.map_or(Ok(None), |notice| notice.map(Some))
    }

    fn last(&self) -> Option<u16> {
        self.heard.session.as_ref()?.last_min
    }

    fn write(&mut self, records: &[CgmMeasurement]) -> Result<(), RadioError> {
        let Some(session) = self.heard.session.as_ref().filter(|_| !records.is_empty()) else {
            return Ok(());
        };
        let rows = readings_of(&self.sensor, session.start, records);
        let taken = self.desk.take(rows, records.len() as u64);
        *self.got = true;
        taken.map_err(RadioError::Desk)
    }

    /// Everything up to this minute is in the book.
    fn up_to(&mut self, minute: Option<u16>) -> Result<(), RadioError> {
        if let Some(session) = self.heard.session.as_mut()
            && session.last_min < minute
        {
            session.last_min = minute;
            return self.note();
        }
        Ok(())
    }

    fn note(&mut self) -> Result<(), RadioError> {
        self.desk.note(self.heard).map_err(RadioError::Desk)
    }
}
