//! A backend without a book, and the requests the tests make.
#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]
#![allow(dead_code, reason = "each test file uses its part")]

pub(crate) mod browser;
pub(crate) mod desk;
pub(crate) mod engineer;
pub(crate) mod forged;
pub(crate) mod invented;
pub(crate) mod pages;
pub(crate) mod routes;
pub(crate) mod timeline;
pub(crate) mod walk;

use std::path::Path;
use std::sync::{Arc, LazyLock, Mutex};

use axum::body::Body;
use axum::http::{HeaderMap, Request, StatusCode};
use interstice_book::SensorKinds;
use interstice_desk::stock::StockAct;
use interstice_desk::trial::TrialWords;
use interstice_desk::{AwayWords, Fed, Feed, FileReport, JotWords, ProblemLine, Seen};
use interstice_findings::compare::{CompareAsk, CompareFindings, compare, states};
use interstice_findings::days::{DaysBook, USUAL_NIGHT};
use interstice_findings::feeds::{FeedAsk, FeedsFindings, feeds};
use interstice_findings::find::{FindAsk, FindFindings, find};
use interstice_findings::states::KnownState;
use interstice_findings::trust::{SensorFindings, sensor, trust};
use interstice_findings::visit::visit;
use interstice_findings::wear::trials::TrialSize;
use interstice_findings::wear::{SensorRecord, Settled, wear};
use interstice_findings::written::{EntryRef, WrittenFindings, written};
use interstice_findings::{
    NowAsk, NowFindings, ReviewFindings, SecondLookAsk, SecondLookFindings, TargetGroup, TrustAsk,
    TrustFindings, VisitAsk, VisitFindings, WearAsk, WearFindings, now as now_of, second_look,
};
use interstice_glucose::{
    ClaimWhat, Draft, InsulinLasts, LowVerdict, Moment, Region, Second, SensorKind, Unit, VisitChoice,
    VisitNotes, WearChoice, WearFrom, Zone,
};
use interstice_render::sample;
use interstice_tongue::Tongue;
use interstice_web::{
    AboutBook, Answers, Backend, Brought, ImportLine, Jotted, ReviewAsk, SensorPhoto, SensorWords, Settings,
    TrialAsk, Trouble, Upload, VisitWindow, router,
};
use tower::ServiceExt;

/// An invented book.
pub(crate) struct Fake {
    findings: Option<Arc<ReviewFindings>>,
    settings: Mutex<Settings>,
    pub(crate) written: Mutex<Vec<SensorWords>>,
}

impl Fake {
    fn new(findings: Option<ReviewFindings>) -> Arc<Self> {
        let settings = Settings {
            language: Tongue::English,
            unit: Unit::MgPerDl,
            targets: TargetGroup::Adult,
            zone: "Europe/Lisbon".to_owned(),
            insulin: InsulinLasts::default(),
            night: None,
            cautions_read: true,
        };
        Arc::new(Fake {
            findings: findings.map(Arc::new),
            settings: Mutex::new(settings),
            written: Mutex::default(),
        })
    }

    pub(crate) fn empty() -> Arc<Self> {
        Fake::new(None)
    }

    pub(crate) fn days(days: u32) -> Arc<Self> {
        Fake::new(Some(sample::review(days)))
    }

    pub(crate) fn with(findings: ReviewFindings) -> Arc<Self> {
        Fake::new(Some(findings))
    }

    pub(crate) fn silent() -> Arc<Self> {
        Fake::new(Some(sample::empty_review()))
    }

    pub(crate) fn speaking(self: &Arc<Self>, tongue: Tongue) -> Arc<Self> {
        self.settings.lock().unwrap().language = tongue;
        Arc::clone(self)
    }

    pub(crate) fn insulin(&self) -> InsulinLasts {
        self.settings.lock().unwrap().insulin
    }

    pub(crate) fn unit(&self) -> &'static str {
        self.settings.lock().unwrap().unit.symbol()
    }
}

impl Backend for Fake {
    fn is_empty(&self) -> Result<bool, Trouble> {
        Ok(self.findings.is_none())
    }

    fn settings(&self) -> Result<Settings, Trouble> {
        Ok(self.settings.lock().unwrap().clone())
    }

    fn change_settings(&self, settings: &Settings) -> Result<(), Trouble> {
        *self.settings.lock().unwrap() = settings.clone();
        Ok(())
    }

    fn about_book(&self) -> Result<AboutBook, Trouble> {
        Ok(AboutBook {
            path: "made up.interstice".to_owned(),
            bytes: Some(1_234_567),
            layouts: 2,
            imports: 3,
            tags: vec![("on board".to_owned(), 40)],
            backups: interstice_web::Backups::default(),
            away: Vec::new(),
        })
    }

    fn log_away(&self, _: &AwayWords) -> Result<i64, Trouble> {
        Err(Trouble::Request("the invented book is not written on".to_owned()))
    }

    fn review(&self, _: &ReviewAsk) -> Result<Arc<ReviewFindings>, Trouble> {
        self.findings
            .clone()
            .ok_or_else(|| Trouble::Request("the book is empty".to_owned()))
    }

    fn compare(&self, ask: &CompareAsk) -> Result<Arc<CompareFindings>, Trouble> {
        let reader = invented::reader();
        let findings = compare(&invented::record(90, 300), reader, ask);
        findings.map(Arc::new).map_err(Trouble::from)
    }

    fn states(&self) -> Result<Vec<KnownState>, Trouble> {
        states(&invented::record(90, 300)).map_err(Trouble::from)
    }

    fn trust(&self, ask: &TrustAsk) -> Result<Arc<TrustFindings>, Trouble> {
        let reader = invented::reader();
        let findings = trust(&invented::record(90, 300), reader, ask);
        findings.map(Arc::new).map_err(Trouble::from)
    }

    fn sensor(&self, ask: &TrustAsk) -> Result<Arc<SensorFindings>, Trouble> {
        let reader = invented::reader();
        let findings = sensor(&invented::record(90, 300), reader, ask);
        findings.map(Arc::new).map_err(Trouble::of_sensor)
    }

    fn find(&self, ask: &FindAsk) -> Result<FindFindings, Trouble> {
        Ok(find(&invented::record(90, 300), invented::reader(), ask)?)
    }

    fn written(&self) -> Result<WrittenFindings, Trouble> {
        let record = invented::record(90, 300);
        Ok(written(
            &record,
            invented::reader(),
            invented::last(&record) + 180,
        ))
    }

    fn jot(&self, _: &JotWords, _: Option<EntryRef>) -> Result<Jotted, Trouble> {
        Err(Trouble::Request("the invented book is not written on".to_owned()))
    }

    fn jot_once(&self, _: &JotWords, _: &str, _: Option<Unit>) -> Result<Jotted, Trouble> {
        Err(Trouble::Request("the invented book is not written on".to_owned()))
    }

    fn identity(&self) -> Result<String, Trouble> {
        Ok("0123456789abcdef".to_owned())
    }

    fn strike(&self, _: EntryRef) -> Result<i64, Trouble> {
        Err(Trouble::Request("the invented book is not written on".to_owned()))
    }

    fn take_back_entry(&self, _: i64) -> Result<(), Trouble> {
        Err(Trouble::Request("the invented book is not written on".to_owned()))
    }

    fn now(&self) -> Result<NowFindings, Trouble> {
        let record = invented::record(90, 300);
        let now = invented::last(&record) + 180;
        Ok(now_of(&record, invented::reader(), NowAsk { now })?)
    }

    fn second_look(&self, _: Option<&str>) -> Result<SecondLookFindings, Trouble> {
        let record = invented::record(90, 300);
        let at = Some(invented::last(&record) - 5 * 3600);
        Ok(second_look(&record, invented::reader(), SecondLookAsk { at })?)
    }

    fn wear(&self, _: Option<&str>) -> Result<Arc<WearFindings>, Trouble> {
        let kinds = SensorKinds {
            all: vec![SensorKind {
                name: "made up".to_owned(),
                wear_min: 10 * 1440,
                extra_min: 720,
                warm_up_min: 60,
                longest_bedding_min: 1440,
                wear_from: WearFrom::Started,
                side_by_side: true,
                sites: vec![Region::UpperArm],
            }],
            in_use: Some(0),
        };
        let settled = Settled {
            kinds,
            ..Settled::default()
        };
        let record = invented::record(90, 300);
        let last = record
            .traces
            .iter()
            .filter_map(|trace| trace.readings.span())
            .map(|(_, last)| last)
            .max();
        let trust = self.trust(&TrustAsk::default())?;
        Ok(Arc::new(wear(
            &record,
            &settled,
            Some(&trust),
            WearAsk::at(last.unwrap_or(0) + 60),
        )))
    }

    fn days(&self) -> Result<Arc<DaysBook>, Trouble> {
        static DAYS: LazyLock<Arc<DaysBook>> = LazyLock::new(|| {
            Arc::new(
                DaysBook::new(
                    Arc::new(invented::record(400, 300)),
                    USUAL_NIGHT,
                    TargetGroup::Adult,
                )
                .unwrap()
                .with_lows(None),
            )
        });
        Ok(Arc::clone(&DAYS))
    }

    fn stock(&self, act: &StockAct) -> Result<Option<i64>, Trouble> {
        Err(Trouble::Request(format!(
            "this invented drawer takes nothing: {act:?}"
        )))
    }

    fn imports(&self) -> Result<Vec<ImportLine>, Trouble> {
        Ok(vec![ImportLine {
            id: 1,
            file: "<export> & more.csv".to_owned(),
            is_of_feed: false,
            when: Moment {
                at: 1_742_180_700,
                offset_s: 3600,
            },
            brought: Brought {
                readings: 3401,
                meals: 12,
                ..Brought::default()
            },
            rejected: 2,
        }])
    }

    fn rejected(&self, _: i64) -> Result<Vec<ProblemLine>, Trouble> {
        Ok(Vec::new())
    }

    fn understand(&self, _: &Upload, _: &Answers) -> Result<FileReport, Trouble> {
        Err(Trouble::Request("this invented book takes no files".to_owned()))
    }

    fn import(&self, _: &Upload, _: &Answers) -> Result<FileReport, Trouble> {
        Err(Trouble::Request("this invented book takes no files".to_owned()))
    }

    fn feed(&self, _: &Feed, _: &[u8]) -> Result<Fed, Trouble> {
        Ok(Fed::default())
    }

    fn feed_read(&self, _from: &Feed, _rows: Draft, _rows_read: u64) -> Result<Fed, Trouble> {
        Err(Trouble::NotFound)
    }

    fn look_into(&self, _: &Path, _: &Feed, _: &mut Seen) -> Result<u64, Trouble> {
        Ok(0)
    }

    fn feeds(&self, asked: &[FeedAsk]) -> Result<FeedsFindings, Trouble> {
        Ok(feeds(None, asked, 1_772_352_000, &Zone::utc())?)
    }

    fn undo(&self, _: i64) -> Result<String, Trouble> {
        Err(Trouble::Request(
            "this invented book has nothing to take back".to_owned(),
        ))
    }

    fn judge_low(&self, _: &LowVerdict) -> Result<i64, Trouble> {
        Err(Trouble::Request(
            "nothing can be written into this invented book".to_owned(),
        ))
    }

    fn take_back_word(&self, _: i64) -> Result<(), Trouble> {
        Err(Trouble::Request(
            "this invented book has nothing to take back".to_owned(),
        ))
    }

    fn write_sensor(&self, words: &SensorWords) -> Result<i64, Trouble> {
        self.written.lock().unwrap().push(words.clone());
        Ok(7)
    }

    fn describe_kind(&self, _: &SensorKind) -> Result<(), Trouble> {
        Ok(())
    }

    fn take_back_sensor(&self, change: i64) -> Result<(), Trouble> {
        match change {
            7 => Ok(()),
            _ => Err(Trouble::Request("nothing of the kind stands".to_owned())),
        }
    }

    fn sensor_record(&self, _: &str) -> Result<SensorRecord, Trouble> {
        Err(Trouble::NotFound)
    }

    fn photo(&self, _: i64) -> Result<SensorPhoto, Trouble> {
        Err(Trouble::NotFound)
    }

    fn keep_photo(&self, _: &str, _: &Upload) -> Result<i64, Trouble> {
        Ok(9)
    }

    fn claim(&self, _: &str, _: ClaimWhat, _: Option<String>) -> Result<i64, Trouble> {
        Ok(8)
    }

    fn take_back_claim(&self, _: &str) -> Result<(), Trouble> {
        Ok(())
    }

    fn moment_of(&self, _: &str) -> Result<Second, Trouble> {
        Ok(0)
    }

    fn choose(&self, _: &[WearChoice]) -> Result<(), Trouble> {
        Ok(())
    }

    fn trial_size(&self, _: &TrialAsk) -> Result<TrialSize, Trouble> {
        Err(Trouble::Request("this invented book plans no trials".to_owned()))
    }

    fn visit(&self, ask: &VisitWindow) -> Result<Arc<VisitFindings>, Trouble> {
        let reader = invented::reader();
        let ask = VisitAsk {
            since: ask.since.as_deref().and_then(interstice_glucose::day_from_words),
            ..VisitAsk::made(20_000)
        };
        let findings = visit(&invented::record(90, 300), reader, &self.visit_notes()?, &ask);
        findings.map(Arc::new).map_err(Trouble::from)
    }

    fn visit_notes(&self) -> Result<VisitNotes, Trouble> {
        Ok(VisitNotes::default())
    }

    fn ask_at_visit(&self, _: &str) -> Result<Option<i64>, Trouble> {
        Ok(Some(6))
    }

    fn keep_for_visit(&self, _: &VisitChoice) -> Result<Option<i64>, Trouble> {
        Ok(Some(6))
    }

    fn take_back_visit_note(&self, _: i64) -> Result<(), Trouble> {
        Ok(())
    }

    fn begin_trial(&self, _: &TrialWords) -> Result<(), Trouble> {
        Ok(())
    }

    fn abandon_trial(&self, _: &str, _: &str) -> Result<(), Trouble> {
        Ok(())
    }

    fn confirm_found(&self, _: &str) -> Result<i64, Trouble> {
        Ok(7)
    }
}

/// What came back.
pub(crate) struct Answer {
    pub(crate) status: StatusCode,
    pub(crate) headers: HeaderMap,
    /// Of an answer that is no text, what can be read of it.
    pub(crate) text: String,
    pub(crate) bytes: Vec<u8>,
}

impl Answer {
    pub(crate) fn header(&self, name: &str) -> &str {
        self.headers.get(name).map_or("", |value| value.to_str().unwrap())
    }
}

pub(crate) async fn get(fake: Arc<Fake>, path: &str) -> Answer {
    send(fake, "GET", path, &[("host", "127.0.0.1:8080")], "").await
}

pub(crate) async fn post(fake: Arc<Fake>, path: &str, form: &str) -> Answer {
    let headers = [
        ("host", "127.0.0.1:8080"),
        ("origin", "http://127.0.0.1:8080"),
        ("content-type", "application/x-www-form-urlencoded"),
    ];
    send(fake, "POST", path, &headers, form).await
}

/// A form of this app's own pages, sent to one that is there already.
pub(crate) async fn send_to(app: &axum::Router, path: &str, form: &str) -> Answer {
    let headers = [
        ("host", "127.0.0.1:8080"),
        ("origin", "http://127.0.0.1:8080"),
        ("content-type", "application/x-www-form-urlencoded"),
    ];
    answer_of(app.clone(), "POST", path, &headers, form).await
}

pub(crate) async fn send(
    fake: Arc<Fake>,
    method: &str,
    path: &str,
    headers: &[(&str, &str)],
    body: &str,
) -> Answer {
    answer_of(router(fake), method, path, headers, body).await
}

/// What an app answers to a request.
pub(crate) async fn answer_of(
    app: axum::Router,
    method: &str,
    path: &str,
    headers: &[(&str, &str)],
    body: &str,
) -> Answer {
    let mut request = Request::builder().method(method).uri(path);
    for (name, value) in headers {
        request = request.header(*name, *value);
    }
    let response = app
        .oneshot(request.body(Body::from(body.to_owned())).unwrap())
        .await
        .unwrap();
    let (parts, body) = response.into_parts();
    let bytes = axum::body::to_bytes(body, usize::MAX).await.unwrap();
    Answer {
        status: parts.status,
        headers: parts.headers,
        text: String::from_utf8_lossy(&bytes).into_owned(),
        bytes: bytes.to_vec(),
    }
}

/// What a browser would have to repair in a page.
pub(crate) fn repairs(page: &str) -> Vec<String> {
    scraper::Html::parse_document(page)
        .errors
        .iter()
        .map(ToString::to_string)
        .collect()
}

/// Every id in a page.
pub(crate) fn ids(page: &str) -> Vec<String> {
    let page = scraper::Html::parse_document(page);
    let all = scraper::Selector::parse("[id]").unwrap();
    page.select(&all)
        .filter_map(|element| element.value().id().map(str::to_owned))
        .collect()
}

/// The words of a page's main part, a line for each block, pictures aside.
pub(crate) fn words(page: &str) -> String {
    let page = scraper::Html::parse_document(page);
    let blocks = scraper::Selector::parse(
        "main h1, main h2, main h3, main p, main tr, main figcaption, main li, main summary",
    )
    .unwrap();
    let mut lines = Vec::new();
    for block in page.select(&blocks) {
        let cells = scraper::Selector::parse("th, td").unwrap();
        let parts: Vec<String> = if block.value().name() == "tr" {
            block
                .select(&cells)
                .map(|cell| squeeze(&cell.text().collect::<String>()))
                .collect()
        } else {
            vec![squeeze(&block.text().collect::<String>())]
        };
        // What only a script fills in has nothing to say yet.
        if parts.iter().all(String::is_empty) {
            continue;
        }
        lines.push(format!("{}: {}", block.value().name(), parts.join(" | ")));
    }
    lines.join("\n")
}

fn squeeze(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}
