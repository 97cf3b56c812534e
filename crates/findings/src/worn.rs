//! The sensors worn in a window: when, where, how prepared, from which lot, how it ended.
//!
//! What the person and their files say of a sensor's moments is put together; where they say nothing, the readings tell:
//! a sensor's name in the source, or, where there is none, the pause that a change of sensor leaves.

use interstice_book::{ChangeId, Kept, Photo, Record};
use interstice_glucose::{
    BodySite, DAY_S, Ending, Second, SensorDetail, SensorNote, SensorNoteKind, TraceKind,
};

/// A record should reach back so far before the window, so that the moments of all sensors worn in it are there: put on,
/// bedded in and worn for longer than any in use (up to a year under the skin is not looked for).
pub const WORN_BEFORE_S: Second = 45 * DAY_S;

/// A pause between two sensors is at least so long: a warm-up of half an hour, less the last interval. Common practice,
/// no source.
const CHANGE_PAUSE_S: Second = 25 * 60;
/// A sensor keeps its own beat: it reads at the same second of each interval, also after a pause. Another sensor's
/// beat is another one, by more than this share of the interval in three cases of four. Ours.
const OTHER_BEAT: f64 = 1.0 / 8.0;
/// The beat is taken from so many readings on either side of a pause, and from no fewer than half as many.
const BEATS: usize = 12;
/// Readings begin at most so long after a sensor was started or, where only that is known, put on. Ours: warm-ups last up
/// to two hours; bedding in a day or two.
const FIRST_READING_WITHIN_S: Second = 3 * DAY_S;
/// What a person writes down for a start or an end may be off by so much. Ours.
const ROUGHLY_S: Second = 6 * 3600;

/// How we know of a sensor.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum KnownFrom {
    /// The person or a file told of its moments.
    Told,
    /// Its readings carry its name; moments nobody told.
    Readings,
    /// Readings without a name. Where one sensor ends and the next begins is guessed from pauses after which the
    /// readings come at other seconds; a change that left them at the same is missed.
    Pause,
}

/// One sensor on the body. All instants are as told; readings are asked for only where nothing was.
#[derive(Clone, Debug, PartialEq)]
pub struct SensorWorn {
    /// Its name, as its trace has it.
    pub sensor: Option<String>,
    /// How we know.
    pub known_from: KnownFrom,
    /// Put on the body.
    pub put_on: Option<Second>,
    /// Started.
    pub started: Option<Second>,
    /// Ended or taken off; `None` where nobody said (it may still be on).
    pub ended: Option<Second>,
    /// First and last automatic reading, where there are any in the record.
    pub readings: Option<(Second, Second)>,
    /// Where on the body.
    pub site: Option<BodySite>,
    /// Preparation, cover, lot, serial number, and how it ended.
    pub detail: SensorDetail,
    /// What else was written beside its moments, in their order.
    pub notes: Vec<String>,
    /// Photos beside its moments, in time order.
    pub photos: Vec<Photo>,
    /// The changes that told of it.
    changes: Vec<ChangeId>,
}

impl SensorWorn {
    /// The earliest we know of it.
    pub fn from(&self) -> Second {
        let all = [self.put_on, self.started, self.ended];
        let told = all.into_iter().flatten().min();
        told.or(self.readings.map(|(first, _)| first)).unwrap_or(0)
    }

    /// When it was started: as told, else its first reading. A sensor's day one is counted from here.
    pub fn start(&self) -> Option<Second> {
        self.started.or(self.readings.map(|(first, _)| first))
    }

    /// When it ended: as told, else its last reading.
    pub fn end(&self) -> Option<Second> {
        self.ended.or(self.readings.map(|(_, last)| last))
    }

    /// Hours worn before it was started; `None` unless both moments were told.
    pub fn bedding_in_h(&self) -> Option<f64> {
        let (put_on, started) = self.put_on.zip(self.started)?;
        (started >= put_on).then(|| (started - put_on) as f64 / 3600.0)
    }

    /// How it ended, where that was told.
    pub fn ending(&self) -> Option<Ending> {
        self.detail.ending
    }

    fn new(sensor: Option<String>, known_from: KnownFrom) -> Self {
        SensorWorn {
            sensor,
            known_from,
            put_on: None,
            started: None,
            ended: None,
            readings: None,
            site: None,
            detail: SensorDetail::default(),
            notes: Vec::new(),
            photos: Vec::new(),
            changes: Vec::new(),
        }
    }

    fn moment(&self, kind: SensorNoteKind) -> Option<Second> {
        match kind {
            SensorNoteKind::PutOn => self.put_on,
            SensorNoteKind::Started => self.started,
            SensorNoteKind::Ended => self.ended,
            SensorNoteKind::Noted => None,
        }
    }

    fn take(&mut self, note: &SensorNote) {
        let moment = match note.kind {
            SensorNoteKind::PutOn => Some(&mut self.put_on),
            SensorNoteKind::Started => Some(&mut self.started),
            SensorNoteKind::Ended => Some(&mut self.ended),
            SensorNoteKind::Noted => None,
        };
        if let Some(moment) = moment {
            moment.get_or_insert(note.at);
        }
        if self.site.is_none() {
            self.site = note.site.as_deref().and_then(BodySite::from_words);
        }
        self.detail.fill(&note.detail);
        if let Some(text) = &note.note {
            self.detail.fill(&SensorDetail::from_words(
                text,
                note.kind == SensorNoteKind::Ended,
            ));
            self.notes.push(text.clone());
        }
    }
}

/// The sensors worn at any time in `[from, to)`, by when they were put on. `record` should hold what was told and read
/// from [`WORN_BEFORE_S`] before the window on; of a sensor put on before that, less is known.
pub fn sensors_worn(record: &Record, from: Second, to: Second) -> Vec<SensorWorn> {
    let mut all = told(&record.sensor_notes);
    give_photos(&mut all, &record.photos);
    for (name, at) in named(record) {
        give_readings(&mut all, Some(name), &at);
    }
    let unnamed = readings_of(record, "");
    if !unnamed.is_empty() {
        give_readings(&mut all, None, &unnamed);
    }
    // Of one nobody said has ended, and without readings, nothing is known after a while.
    all.retain(|worn| worn.from() < to && worn.end().unwrap_or(worn.from() + WORN_BEFORE_S) >= from);
    all.sort_by(|a, b| (a.from(), &a.sensor).cmp(&(b.from(), &b.sensor)));
    all
}

/// Sensors as their moments were told, in time order: each moment belongs to the sensor of its name that waits for one of
/// its kind, or begins another. One told twice at nearly the same time is one.
fn told(notes: &[Kept<SensorNote>]) -> Vec<SensorWorn> {
    let mut all: Vec<SensorWorn> = Vec::new();
    for (note, change) in notes.iter().map(|kept| (&kept.it, kept.origin)) {
        let place = again(&all, note)
            .or_else(|| waiting(&all, note))
            .unwrap_or_else(|| {
                all.push(SensorWorn::new(note.sensor.clone(), KnownFrom::Told));
                all.len() - 1
            });
        if all[place].sensor.is_none() {
            all[place].sensor.clone_from(&note.sensor);
        }
        all[place].take(note);
        all[place].changes.push(change);
    }
    all
}

/// A photo belongs to the sensor its change told of; where that says nothing any more, to the one of its name, else to the
/// one put on last before it.
fn give_photos(all: &mut [SensorWorn], photos: &[Photo]) {
    for photo in photos {
        let told = all.iter().position(|worn| worn.changes.contains(&photo.origin));
        let place = told.or_else(|| {
            let before = all.iter().enumerate().filter(|(_, worn)| {
                worn.from() <= photo.at && (photo.sensor.is_none() || worn.sensor == photo.sensor)
            });
            before.max_by_key(|(_, worn)| worn.from()).map(|(place, _)| place)
        });
        if let Some(place) = place {
            all[place].photos.push(photo.clone());
        }
    }
}

/// The sensor of which this moment was told already.
fn again(all: &[SensorWorn], note: &SensorNote) -> Option<usize> {
    all.iter().rposition(|worn| {
        let told = worn.moment(note.kind);
        worn.sensor == note.sensor
            && told.is_some_and(|told| note.at - told <= ROUGHLY_S)
            && !is_another(worn, note)
    })
}

/// Whether a moment so soon after the same one of a sensor is another sensor's all the same: that one is off already, or sits on
/// another part or side of the body.
fn is_another(worn: &SensorWorn, note: &SensorNote) -> bool {
    let begins = matches!(note.kind, SensorNoteKind::PutOn | SensorNoteKind::Started);
    let is_off = worn.ended.is_some_and(|ended| ended <= note.at);
    let sites = worn
        .site
        .as_ref()
        .zip(note.site.as_deref().and_then(BodySite::from_words));
    let elsewhere = sites.is_some_and(|(one, other)| {
        one.region != other.region || one.side.zip(other.side).is_some_and(|(one, other)| one != other)
    });
    begins && is_off || note.sensor.is_none() && elsewhere
}

/// The sensor that waits for this moment.
fn waiting(all: &[SensorWorn], note: &SensorNote) -> Option<usize> {
    let waits = |worn: &SensorWorn| match note.kind {
        SensorNoteKind::PutOn => false,
        SensorNoteKind::Started => worn.started.is_none() && worn.ended.is_none(),
        SensorNoteKind::Ended => worn.ended.is_none(),
        SensorNoteKind::Noted => true,
    };
    let same =
        |worn: &SensorWorn| note.sensor.is_none() || worn.sensor.is_none() || worn.sensor == note.sensor;
    let open = all
        .iter()
        .enumerate()
        .filter(|(_, worn)| waits(worn) && same(worn));
    let place = if note.kind == SensorNoteKind::Ended {
        // Of two worn at once the one that was started first ends first.
        open.min_by_key(|(_, worn)| (worn.sensor != note.sensor, worn.started.is_none(), worn.from()))
    } else if note.detail.is_of_the_end() {
        // How the skin was is told of the one that ended last.
        open.max_by_key(|(_, worn)| (worn.sensor == note.sensor, worn.ended, worn.from()))
    } else {
        open.max_by_key(|(_, worn)| (worn.sensor == note.sensor, worn.from()))
    };
    place.map(|(place, _)| place)
}

/// Automatic readings by the name of their sensor.
fn named(record: &Record) -> Vec<(&str, Vec<Second>)> {
    let mut names: Vec<&str> = record.traces.iter().map(|trace| trace.sensor.as_str()).collect();
    names.retain(|name| !name.is_empty());
    names.dedup();
    names
        .into_iter()
        .map(|name| (name, readings_of(record, name)))
        .filter(|(_, at)| !at.is_empty())
        .collect()
}

fn readings_of(record: &Record, name: &str) -> Vec<Second> {
    let trace = record
        .traces
        .iter()
        .find(|trace| trace.sensor == name && trace.kind == TraceKind::Automatic);
    trace.map_or_else(Vec::new, |trace| {
        trace.readings.at().iter().map(|&at| Second::from(at)).collect()
    })
}

/// Cuts the readings of one name, or of none, where sensors were told to begin, and gives each its part; what is left
/// belongs to sensors nobody told of.
fn give_readings(all: &mut Vec<SensorWorn>, name: Option<&str>, at: &[Second]) {
    let mut mine: Vec<usize> = (0..all.len())
        .filter(|&i| all[i].readings.is_none() && (name.is_none() || all[i].sensor.as_deref() == name))
        .collect();
    if let (true, Some(name)) = (mine.is_empty(), name) {
        mine = begun_near(all, at[0]).into_iter().collect();
        for &i in &mine {
            all[i].sensor = Some(name.to_owned());
        }
    }
    mine.sort_by_key(|&i| begin(&all[i]));
    let mut cuts: Vec<usize> = mine.iter().map(|&i| cut(at, begin(&all[i]))).collect();
    if let (Some(first), Some(_)) = (cuts.first_mut(), name) {
        // A name is one sensor's from its first reading on.
        *first = 0;
    }
    leave(all, name, &at[..cuts.first().copied().unwrap_or(at.len())]);
    for (n, &i) in mine.iter().enumerate() {
        let end = cuts.get(n + 1).copied().unwrap_or(at.len());
        let part = &at[cuts[n].min(end)..end];
        let its = match name {
            Some(_) => part.len(),
            None => its_own(&all[i], part),
        };
        if let [first, .., last] | [first @ last] = part[..its] {
            all[i].readings = Some((first, last));
        }
        leave(all, name, &part[its..]);
    }
}

/// When a sensor began to give readings, as it was told.
fn begin(worn: &SensorWorn) -> Second {
    worn.started.unwrap_or(worn.from())
}

/// Where a sensor's readings begin: after the longest pause near the moment that was told, else at the moment.
fn cut(at: &[Second], begin: Second) -> usize {
    let (first, last) = (
        at.partition_point(|&at| at < begin - ROUGHLY_S).max(1),
        at.partition_point(|&at| at <= begin + ROUGHLY_S),
    );
    let pause = |i: usize| at[i] - at[i - 1];
    let longest = (first..last).max_by_key(|&i| pause(i));
    let longest = longest.filter(|&i| pause(i) >= CHANGE_PAUSE_S);
    longest.unwrap_or_else(|| at.partition_point(|&at| at < begin))
}

/// How many of the readings without a name are one sensor's: none where they begin too late, and none after its end.
fn its_own(worn: &SensorWorn, at: &[Second]) -> usize {
    if at
        .first()
        .is_none_or(|&first| first > begin(worn) + FIRST_READING_WITHIN_S)
    {
        return 0;
    }
    worn.ended.map_or(at.len(), |ended| {
        at.partition_point(|&at| at <= ended + ROUGHLY_S)
    })
}

/// The sensor without a name that was told to begin closest to a first reading.
fn begun_near(all: &[SensorWorn], first: Second) -> Option<usize> {
    let could = |worn: &SensorWorn| {
        let begin = begin(worn);
        worn.sensor.is_none()
            && worn.readings.is_none()
            && (begin - ROUGHLY_S..=begin + FIRST_READING_WITHIN_S).contains(&first)
    };
    let near = all.iter().enumerate().filter(|(_, worn)| could(worn));
    near.max_by_key(|(_, worn)| begin(worn)).map(|(i, _)| i)
}

/// Readings of sensors nobody told of: of one, where they carry its name; else of as many as the pauses say.
fn leave(all: &mut Vec<SensorWorn>, name: Option<&str>, at: &[Second]) {
    let known_from = if name.is_some() {
        KnownFrom::Readings
    } else {
        KnownFrom::Pause
    };
    for part in parts(at, name.is_some()) {
        if let [first, .., last] | [first @ last] = *part {
            all.push(SensorWorn {
                readings: Some((first, last)),
                ..SensorWorn::new(name.map(str::to_owned), known_from)
            });
        }
    }
}

/// Readings cut where another sensor seems to begin.
fn parts(at: &[Second], is_one: bool) -> Vec<&[Second]> {
    let Some(interval) = interval(at).filter(|_| !is_one) else {
        return vec![at];
    };
    let (mut parts, mut start) = (Vec::new(), 0);
    for i in 1..at.len() {
        if at[i] - at[i - 1] < CHANGE_PAUSE_S {
            continue;
        }
        if beat_shifts(at, (start, i), interval) {
            parts.push(&at[start..i]);
            start = i;
        }
    }
    parts.push(&at[start..]);
    parts
}

/// Whether the readings from place `i` on come at other seconds of the interval than those just before.
pub(crate) fn other_beat(at: &[Second], i: usize) -> bool {
    interval(at).is_some_and(|interval| beat_shifts(at, (0, i), interval))
}

fn beat_shifts(at: &[Second], (start, i): (usize, usize), interval: Second) -> bool {
    let before = beat(&at[i.saturating_sub(BEATS).max(start)..i], interval);
    let after = beat(&at[i..at.len().min(i + BEATS)], interval);
    let shift = before
        .zip(after)
        .map(|(before, after)| off_beat(after - before, interval).abs());
    shift.is_some_and(|shift| shift as f64 >= interval as f64 * OTHER_BEAT)
}

/// The usual step between readings: the median.
fn interval(at: &[Second]) -> Option<Second> {
    let mut steps: Vec<Second> = at.windows(2).map(|pair| pair[1] - pair[0]).collect();
    steps.sort_unstable();
    steps.get(steps.len() / 2).copied().filter(|&step| step > 0)
}

/// Seconds by which something comes late (or early) in an interval, from less than half before to half after.
fn off_beat(late: Second, interval: Second) -> Second {
    let late = late.rem_euclid(interval);
    if late * 2 > interval {
        late - interval
    } else {
        late
    }
}

/// When in the interval readings come: the median.
fn beat(at: &[Second], interval: Second) -> Option<Second> {
    let first = at.first().filter(|_| at.len() * 2 >= BEATS)?;
    let mut late: Vec<Second> = at.iter().map(|at| off_beat(at - first, interval)).collect();
    late.sort_unstable();
    Some(first + late[late.len() / 2])
}

#[cfg(test)]
mod tests {
    use interstice_book::{ChangeId, EntryKind, EntryRef};
    use interstice_glucose::{Region, Side};

    use super::*;

    const DAY: Second = DAY_S;

    fn note(
        at: Second,
        kind: SensorNoteKind,
        sensor: Option<&str>,
        site: Option<&str>,
        text: &str,
    ) -> Kept<SensorNote> {
        Kept {
            entry: EntryRef {
                kind: EntryKind::SensorNote,
                id: at,
            },
            origin: ChangeId(1),
            by_hand: false,
            it: SensorNote {
                at,
                kind,
                sensor: sensor.map(str::to_owned),
                site: site.map(str::to_owned),
                note: (!text.is_empty()).then(|| text.to_owned()),
                detail: SensorDetail::default(),
            },
            also: Vec::new(),
        }
    }

    /// Every five minutes of these stretches.
    fn every_5_min(stretches: &[(Second, Second)]) -> Vec<Second> {
        let all = stretches.iter().flat_map(|&(from, to)| (from..to).step_by(300));
        all.collect()
    }

    use SensorNoteKind::{Ended, Noted, PutOn, Started};

    #[test]
    fn moments_of_sensors_worn_at_once_go_to_each() {
        // The second is put on while the first still runs, and bedded in for a day.
        let worn = told(&[
            note(0, PutOn, None, Some("left upper arm"), "lot A1"),
            note(600, Started, None, None, ""),
            note(13 * DAY, PutOn, None, Some("thigh, right"), ""),
            note(14 * DAY, Ended, None, None, "fell off"),
            note(14 * DAY + 300, Started, None, None, ""),
            note(15 * DAY, Noted, None, None, "lot B2"),
            note(28 * DAY, Ended, None, None, ""),
            note(28 * DAY + 3600, Ended, None, None, "itched"),
        ]);
        let [first, second] = worn.as_slice() else {
            panic!("{worn:?}")
        };
        assert_eq!(
            (first.put_on, first.started, first.ended),
            (Some(0), Some(600), Some(14 * DAY))
        );
        assert_eq!(
            (first.detail.lot.as_deref(), first.ending()),
            (Some("A1"), Some(Ending::CameOff))
        );
        assert_eq!(
            first.site.as_ref().map(|site| (site.region, site.side)),
            Some((Region::UpperArm, Some(Side::Left)))
        );
        assert_eq!(
            (second.started, second.ended),
            (Some(14 * DAY + 300), Some(28 * DAY))
        );
        assert_eq!(
            (second.detail.lot.as_deref(), second.ending()),
            (Some("B2"), None)
        );
        assert_eq!(second.bedding_in_h(), Some(24.0 + 300.0 / 3600.0));
        assert_eq!(second.notes, ["lot B2", "itched"]);
    }

    #[test]
    fn the_skin_is_told_of_the_sensor_that_ended_last() {
        let mut skin = note(15 * DAY, Noted, None, None, "");
        skin.it.detail.skin = Some(interstice_glucose::SkinAfter::Irritant);
        let mut days = note(17 * DAY, Noted, Some("S1"), None, "");
        days.it.detail.skin_days = Some(3);
        let worn = told(&[
            note(0, PutOn, Some("S1"), None, ""),
            note(14 * DAY, Ended, Some("S1"), None, ""),
            note(14 * DAY + 3600, PutOn, Some("S2"), None, ""),
            skin,
            days,
            note(18 * DAY, Noted, None, None, "lot B2"),
        ]);
        let told: Vec<_> = worn
            .iter()
            .map(|worn| {
                (
                    worn.detail.skin.is_some(),
                    worn.detail.skin_days,
                    worn.detail.lot.as_deref(),
                )
            })
            .collect();
        assert_eq!(told, [(true, Some(3), None), (false, None, Some("B2"))]);
    }

    #[test]
    fn a_photo_goes_with_the_moment_its_change_told() {
        let mut ended = note(14 * DAY, Ended, Some("S1"), None, "");
        ended.origin = ChangeId(7);
        let mut worn = told(&[
            note(0, PutOn, Some("S1"), None, ""),
            note(13 * DAY, PutOn, Some("S2"), None, ""),
            ended,
        ]);
        let photo = |id, origin, at, sensor: Option<&str>| Photo {
            id: interstice_book::PhotoId(id),
            origin: ChangeId(origin),
            at,
            sensor: sensor.map(str::to_owned),
            name: "arm.jpg".to_owned(),
            media: interstice_glucose::PhotoMedia::Jpeg,
            size_bytes: 9,
        };
        // The moment of the last two was taken back since.
        let photos = [
            photo(1, 7, 14 * DAY, None),
            photo(2, 8, 15 * DAY, Some("S1")),
            photo(3, 9, 15 * DAY, None),
        ];
        give_photos(&mut worn, &photos);
        let of = |worn: &SensorWorn| worn.photos.iter().map(|photo| photo.id.0).collect::<Vec<_>>();
        assert_eq!((of(&worn[0]), of(&worn[1])), (vec![1, 2], vec![3]));
    }

    /// One without a name is knocked off, and another goes on at once: they are two, also where the first had only gone on.
    #[test]
    fn another_put_on_soon_after_a_loss_is_another_sensor() {
        let hour = 3600;
        let worn = told(&[
            note(0, PutOn, None, Some("left thigh"), ""),
            note(2 * hour, Ended, None, None, "knocked off"),
            note(3 * hour, PutOn, None, Some("left thigh"), ""),
        ]);
        assert_eq!(worn.len(), 2, "{worn:#?}");
        assert_eq!((worn[0].ended, worn[1].put_on), (Some(2 * hour), Some(3 * hour)));
        let beside = told(&[
            note(0, PutOn, None, Some("left thigh"), ""),
            note(hour, PutOn, None, Some("right thigh"), ""),
        ]);
        assert_eq!(beside.len(), 2, "{beside:#?}");
        // Told twice in other words it is one.
        let twice = told(&[
            note(0, PutOn, None, Some("thigh"), ""),
            note(hour, PutOn, None, Some("left thigh, outer"), ""),
        ]);
        assert_eq!(twice.len(), 1, "{twice:#?}");
    }

    #[test]
    fn readings_go_to_the_sensor_told_of_and_else_to_one_of_their_own() {
        let mut all = told(&[
            note(0, Started, Some("S1"), None, ""),
            note(20 * DAY, PutOn, None, Some("chest"), ""),
        ]);
        give_readings(&mut all, Some("S1"), &every_5_min(&[(3600, 14 * DAY)]));
        give_readings(&mut all, Some("S2"), &every_5_min(&[(20 * DAY + 7200, 30 * DAY)]));
        give_readings(&mut all, Some("S3"), &every_5_min(&[(31 * DAY, 40 * DAY)]));
        let known: Vec<_> = all
            .iter()
            .map(|worn| {
                (
                    worn.sensor.as_deref(),
                    worn.known_from,
                    worn.readings.map(|r| r.0),
                )
            })
            .collect();
        assert_eq!(
            known,
            [
                (Some("S1"), KnownFrom::Told, Some(3600)),
                (Some("S2"), KnownFrom::Told, Some(20 * DAY + 7200)),
                (Some("S3"), KnownFrom::Readings, Some(31 * DAY)),
            ]
        );
    }

    #[test]
    fn a_pause_after_which_readings_come_at_other_seconds_is_a_change() {
        // The first pause is the same sensor's: its beat goes on.
        let at = every_5_min(&[
            (0, 2 * DAY),
            (2 * DAY + 7200, 10 * DAY),
            (10 * DAY + 3690, 20 * DAY),
        ]);
        let mut all = Vec::new();
        give_readings(&mut all, None, &at);
        let begins: Vec<_> = all.iter().map(|worn| (worn.known_from, worn.from())).collect();
        assert_eq!(
            begins,
            [(KnownFrom::Pause, 0), (KnownFrom::Pause, 10 * DAY + 3690)]
        );
        // Where sensors were told of, their word is taken.
        let mut all = told(&[
            note(2 * DAY + 3600, Started, None, None, ""),
            note(12 * DAY, Ended, None, None, ""),
        ]);
        give_readings(&mut all, None, &at);
        let mut known: Vec<_> = all
            .iter()
            .map(|worn| (worn.readings.unwrap().0, worn.known_from))
            .collect();
        known.sort();
        assert_eq!(known.len(), 3, "before and after it are sensors nobody told of");
        assert_eq!(known[1], (2 * DAY + 7200, KnownFrom::Told));
    }
}
