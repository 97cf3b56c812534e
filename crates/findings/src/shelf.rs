//! A book kept warm: the whole record in memory, loaded again when the book has changed.

use std::collections::VecDeque;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use interstice_book::{Book, BookErrorKind, Mode, Record, VersionStamp};
use interstice_glucose::Second;

use crate::account::{Reader, reader, review};
use crate::ask::{Ask, FindingsError};
use crate::checks::{CheckFindings, checks};
use crate::compare::{CompareAsk, CompareFindings, compare, states};
use crate::days::{DaysBook, USUAL_NIGHT};
use crate::now::{NowAsk, NowFindings, lately, now_book, now_with};
use crate::review::ReviewFindings;
use crate::second_look::{Ground, SecondLookAsk, SecondLookFindings, second_look_on};
use crate::states::KnownState;
use crate::trust::{
    BloodNow, Known, SensorFindings, TrustAsk, TrustFindings, blood_now, sensor_with, trust_with,
};
use crate::visit::{VisitAsk, VisitFindings, visit_with};
use crate::whole::last_automatic;
use interstice_tongue::Message;

/// Accounts kept; a page is usually one of the last few.
const KEPT_ACCOUNTS: usize = 16;
/// Lived days of second looks kept; each holds more than a year of readings.
const KEPT_GROUNDS: usize = 3;

/// Answers questions about one book from memory. Safe to share between threads; the answer to a question is worked
/// out once for each state of the book.
#[derive(Debug)]
pub struct Shelf {
    path: PathBuf,
    warm: Mutex<Option<Warm>>,
}

#[derive(Debug)]
struct Warm {
    book: Book,
    stamp: VersionStamp,
    reader: Reader,
    record: Arc<Record>,
    accounts: VecDeque<(Ask, Arc<ReviewFindings>)>,
    comparisons: VecDeque<(CompareAsk, Arc<CompareFindings>)>,
    days: Option<Arc<DaysBook>>,
    trusts: VecDeque<(TrustAsk, Arc<TrustFindings>)>,
    /// What is learned of all sensors together, which takes longest.
    known: Option<Arc<Known>>,
    sensors: VecDeque<(TrustAsk, Arc<SensorFindings>)>,
    visits: VecDeque<(VisitAsk, Arc<VisitFindings>)>,
    /// As much as this moment is told from.
    lately: Option<Arc<Record>>,
    /// What blood probably is at the last reading.
    blood: Option<Result<BloodNow, Message>>,
    /// What second looks rest on, by lived day; of an earlier state of the book until the first look at this one.
    grounds: VecDeque<(VersionStamp, Arc<Ground>)>,
}

impl Shelf {
    /// For the book at `path`, which need not exist yet.
    pub fn new(path: impl Into<PathBuf>) -> Self {
        Shelf {
            path: path.into(),
            warm: Mutex::new(None),
        }
    }

    /// The book's file.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The whole record and how its wearer reads it.
    ///
    /// # Errors
    /// `Empty` where there is no book yet; `Book` where it cannot be read.
    pub fn record(&self) -> Result<(Arc<Record>, Reader), FindingsError> {
        let mut warm = self.lock();
        let warm = self.fresh(&mut warm)?;
        Ok((Arc::clone(&warm.record), warm.reader))
    }

    /// Changes whenever the answers may have.
    ///
    /// # Errors
    /// As [`Shelf::record`].
    pub fn stamp(&self) -> Result<VersionStamp, FindingsError> {
        let mut warm = self.lock();
        Ok(self.fresh(&mut warm)?.stamp)
    }

    /// The account of a window.
    ///
    /// # Errors
    /// As [`crate::review()`].
    pub fn review(&self, ask: &Ask) -> Result<Arc<ReviewFindings>, FindingsError> {
        let (record, reader, stamp) = {
            let mut warm = self.lock();
            let warm = self.fresh(&mut warm)?;
            if let Some((_, findings)) = warm.accounts.iter().find(|(asked, _)| asked == ask) {
                return Ok(Arc::clone(findings));
            }
            (Arc::clone(&warm.record), warm.reader, warm.stamp)
        };
        // Worked out without the lock, so that other pages need not wait.
        let findings = Arc::new(review(&record, reader, ask)?);
        if let Some(warm) = self.lock().as_mut().filter(|warm| warm.stamp == stamp) {
            warm.accounts.push_front((*ask, Arc::clone(&findings)));
            warm.accounts.truncate(KEPT_ACCOUNTS);
        }
        Ok(findings)
    }

    /// The blood checks of a book without sensor readings; worked out anew each time, which takes a moment.
    ///
    /// # Errors
    /// As [`crate::checks()`].
    pub fn checks(&self, ask: &Ask) -> Result<CheckFindings, FindingsError> {
        let (record, reader) = self.record()?;
        checks(&record, reader, ask)
    }

    /// Before and after.
    ///
    /// # Errors
    /// As [`crate::compare::compare()`].
    pub fn compare(&self, ask: &CompareAsk) -> Result<Arc<CompareFindings>, FindingsError> {
        let (record, reader, stamp) = {
            let mut warm = self.lock();
            let warm = self.fresh(&mut warm)?;
            if let Some((_, findings)) = warm.comparisons.iter().find(|(asked, _)| asked == ask) {
                return Ok(Arc::clone(findings));
            }
            (Arc::clone(&warm.record), warm.reader, warm.stamp)
        };
        let findings = Arc::new(compare(&record, reader, ask)?);
        if let Some(warm) = self.lock().as_mut().filter(|warm| warm.stamp == stamp) {
            warm.comparisons.push_front((ask.clone(), Arc::clone(&findings)));
            warm.comparisons.truncate(KEPT_ACCOUNTS);
        }
        Ok(findings)
    }

    /// Kinds of days the book knows.
    ///
    /// # Errors
    /// As [`crate::compare::states()`].
    pub fn states(&self) -> Result<Vec<KnownState>, FindingsError> {
        let (record, _) = self.record()?;
        states(&record)
    }

    /// Sensors beside blood checks.
    ///
    /// # Errors
    /// As [`crate::trust::trust()`].
    pub fn trust(&self, ask: &TrustAsk) -> Result<Arc<TrustFindings>, FindingsError> {
        let (record, reader, stamp) = {
            let mut warm = self.lock();
            let warm = self.fresh(&mut warm)?;
            if let Some((_, findings)) = warm.trusts.iter().find(|(asked, _)| asked == ask) {
                return Ok(Arc::clone(findings));
            }
            (Arc::clone(&warm.record), warm.reader, warm.stamp)
        };
        let known = self.known(&record, reader, stamp)?;
        let findings = Arc::new(trust_with(&record, reader, ask, Some(&known))?);
        if let Some(warm) = self.lock().as_mut().filter(|warm| warm.stamp == stamp) {
            warm.trusts.push_front((ask.clone(), Arc::clone(&findings)));
            warm.trusts.truncate(KEPT_ACCOUNTS);
        }
        Ok(findings)
    }

    /// One sensor over its life.
    ///
    /// # Errors
    /// As [`crate::trust::sensor()`].
    pub fn sensor(&self, ask: &TrustAsk) -> Result<Arc<SensorFindings>, FindingsError> {
        let (record, reader, stamp) = {
            let mut warm = self.lock();
            let warm = self.fresh(&mut warm)?;
            if let Some((_, findings)) = warm.sensors.iter().find(|(asked, _)| asked == ask) {
                return Ok(Arc::clone(findings));
            }
            (Arc::clone(&warm.record), warm.reader, warm.stamp)
        };
        let known = self.known(&record, reader, stamp)?;
        let findings = Arc::new(sensor_with(&record, reader, ask, &known)?);
        if let Some(warm) = self.lock().as_mut().filter(|warm| warm.stamp == stamp) {
            warm.sensors.push_front((ask.clone(), Arc::clone(&findings)));
            warm.sensors.truncate(KEPT_ACCOUNTS);
        }
        Ok(findings)
    }

    /// The visit sheet.
    ///
    /// # Errors
    /// As [`crate::visit_book()`].
    pub fn visit(&self, ask: &VisitAsk) -> Result<Arc<VisitFindings>, FindingsError> {
        let (record, reader, stamp, notes) = {
            let mut warm = self.lock();
            let warm = self.fresh(&mut warm)?;
            if let Some((_, findings)) = warm.visits.iter().find(|(asked, _)| asked == ask) {
                return Ok(Arc::clone(findings));
            }
            let notes = warm.book.visit_notes()?;
            (Arc::clone(&warm.record), warm.reader, warm.stamp, notes)
        };
        let known = self.known(&record, reader, stamp)?;
        let findings = Arc::new(visit_with(&record, reader, &notes, Some(&known), ask)?);
        if let Some(warm) = self.lock().as_mut().filter(|warm| warm.stamp == stamp) {
            warm.visits.push_front((*ask, Arc::clone(&findings)));
            warm.visits.truncate(KEPT_ACCOUNTS);
        }
        Ok(findings)
    }

    /// What is learned of all sensors, learned once for each state of the book.
    fn known(
        &self,
        record: &Record,
        reader: Reader,
        stamp: VersionStamp,
    ) -> Result<Arc<Known>, FindingsError> {
        let kept = |warm: &Option<Warm>| {
            let warm = warm.as_ref().filter(|warm| warm.stamp == stamp)?;
            warm.known.clone()
        };
        if let Some(known) = kept(&self.lock()) {
            return Ok(known);
        }
        let known = Arc::new(Known::of_all(record, reader.night)?);
        if let Some(warm) = self.lock().as_mut().filter(|warm| warm.stamp == stamp) {
            warm.known = Some(Arc::clone(&known));
        }
        Ok(known)
    }

    /// A moment looked at a second time.
    ///
    /// # Errors
    /// As [`crate::second_look()`].
    pub fn second_look(&self, ask: SecondLookAsk) -> Result<SecondLookFindings, FindingsError> {
        self.look(ask, true)
    }

    fn look(&self, ask: SecondLookAsk, of_blood: bool) -> Result<SecondLookFindings, FindingsError> {
        let (record, reader, stamp, grounds) = {
            let mut warm = self.lock();
            let warm = self.fresh(&mut warm)?;
            (
                Arc::clone(&warm.record),
                warm.reader,
                warm.stamp,
                warm.grounds.clone(),
            )
        };
        let asked = match ask.at {
            Some(at) => at,
            None => last_automatic(&record).ok_or(FindingsError::Empty)?,
        };
        let near = grounds.iter().find(|(_, ground)| ground.holds(asked));
        if let Some((_, ground)) = near.filter(|(of, _)| *of == stamp) {
            return Ok(second_look_on(&record, reader, asked, ground, of_blood));
        }
        let earlier = near.map(|(_, ground)| &**ground);
        let ask = SecondLookAsk { at: Some(asked) };
        let (_, ground) = Ground::of(&record, reader, ask, earlier)?;
        let findings = second_look_on(&record, reader, asked, &ground, of_blood);
        if let Some(warm) = self.lock().as_mut().filter(|warm| warm.stamp == stamp) {
            warm.grounds.retain(|(_, kept)| !kept.holds(asked));
            warm.grounds.push_front((stamp, Arc::new(ground)));
            warm.grounds.truncate(KEPT_GROUNDS);
        }
        Ok(findings)
    }

    /// This moment. What blood probably is at the last reading, and the second look at it, are worked out once for each state
    /// of the book.
    ///
    /// # Errors
    /// As [`crate::now_book`].
    pub fn now(&self, ask: NowAsk) -> Result<NowFindings, FindingsError> {
        let (reader, stamp, lately, blood) = {
            let mut warm = self.lock();
            let warm = self.fresh(&mut warm)?;
            let lately = match &warm.lately {
                Some(lately) => Arc::clone(lately),
                None => Arc::clone(warm.lately.insert(Arc::new(lately(&warm.book, Second::MAX)?))),
            };
            if last_automatic(&lately).is_some_and(|last| last > ask.now) {
                return now_book(&warm.book, ask);
            }
            (warm.reader, warm.stamp, lately, warm.blood.clone())
        };
        let look = |asked| self.look(SecondLookAsk { at: Some(asked) }, false);
        let told = |at| blood.unwrap_or_else(|| blood_now(&lately, reader.night, at));
        let findings = now_with(&lately, reader, ask, told, look)?;
        let told = findings.blood.clone().map(Ok);
        if let Some(warm) = self.lock().as_mut().filter(|warm| warm.stamp == stamp) {
            warm.blood = warm.blood.take().or(told);
        }
        Ok(findings)
    }

    /// The long timeline.
    ///
    /// # Errors
    /// As [`Shelf::record`], and `Timeline` where the readings do not make one.
    pub fn days(&self) -> Result<Arc<DaysBook>, FindingsError> {
        let (record, reader, stamp) = {
            let mut warm = self.lock();
            let warm = self.fresh(&mut warm)?;
            if let Some(days) = &warm.days {
                return Ok(Arc::clone(days));
            }
            (Arc::clone(&warm.record), warm.reader, warm.stamp)
        };
        let days = DaysBook::new(record, reader.night.unwrap_or(USUAL_NIGHT), reader.group)?;
        let days = Arc::new(days.with_lows(reader.night).with_swings(reader));
        if let Some(warm) = self.lock().as_mut().filter(|warm| warm.stamp == stamp) {
            warm.days = Some(Arc::clone(&days));
        }
        Ok(days)
    }

    fn lock(&self) -> MutexGuard<'_, Option<Warm>> {
        // A poisoned lock means that a thread died while loading: what it left is dropped and loaded again.
        self.warm.lock().unwrap_or_else(|poisoned| {
            let mut guard = PoisonError::into_inner(poisoned);
            *guard = None;
            guard
        })
    }

    fn fresh<'a>(&self, warm: &'a mut Option<Warm>) -> Result<&'a mut Warm, FindingsError> {
        let current = match warm.take() {
            Some(kept) if kept.book.version_stamp()? == kept.stamp => kept,
            Some(kept) => Warm {
                grounds: kept.grounds,
                ..load(kept.book)?
            },
            None => load(self.open()?)?,
        };
        Ok(warm.insert(current))
    }

    fn open(&self) -> Result<Book, FindingsError> {
        Book::open(&self.path, Mode::ReadOnly).map_err(|error| match error.kind() {
            BookErrorKind::Missing => FindingsError::Empty,
            _ => FindingsError::Book(error),
        })
    }
}

fn load(book: Book) -> Result<Warm, FindingsError> {
    // The stamp is read first: a change made while loading is then noticed the next time.
    let stamp = book.version_stamp()?;
    let reader = reader(&book)?;
    let record = Arc::new(book.load_all()?);
    Ok(Warm {
        book,
        stamp,
        reader,
        record,
        accounts: VecDeque::new(),
        comparisons: VecDeque::new(),
        days: None,
        trusts: VecDeque::new(),
        known: None,
        sensors: VecDeque::new(),
        visits: VecDeque::new(),
        lately: None,
        blood: None,
        grounds: VecDeque::new(),
    })
}
