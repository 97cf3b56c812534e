//! The invented engineer's book: two hundred days with everything written down, so that every page has its pictures.

use std::path::Path;
use std::sync::Arc;

use interstice_book::{Book, Mode};
use interstice_demo::{AfterTruth, DEFAULT_SEED, EarlierTruth, HOME_ZONE, Scenario, TagTruth};
use interstice_desk::{Entry, ImportRequest, Place, import_bytes, log_together};
use interstice_glucose::{DAY_S, Hba1c, Region, Second, SensorKind, VisitChoice, WearFrom, Zone};
use interstice_web::{Backend, KeptBook, Outside};

/// Writes the book into a folder; the app's clock stands just after the last reading.
pub(crate) fn engineer(folder: &Path) -> Arc<dyn Backend> {
    let path = folder.join("invented.interstice");
    let scenario = Scenario::build(DEFAULT_SEED);
    let zone = Zone::named(HOME_ZONE).unwrap();
    let now = write(&path, &scenario, &zone);
    let outside = Outside {
        stands_at: Some(now),
        ..Outside::new(zone, || 0)
    };
    Arc::new(KeptBook::new(&path, outside))
}

fn write(path: &Path, scenario: &Scenario, zone: &Zone) -> Second {
    let mut book = Book::open(path, Mode::CreateIfAbsent).unwrap();
    let place = Place {
        now: scenario.truth.to,
        machine_zone: zone.clone(),
    };
    for file in &scenario.files {
        let request = ImportRequest::default();
        import_bytes(&mut book, file.name, &file.bytes, &request, &place, &mut ()).unwrap();
    }
    let (_, last) = book.span().unwrap().unwrap();
    describe(&mut book, scenario, last);
    last + 120
}

fn describe(book: &mut Book, scenario: &Scenario, now: Second) {
    let kind = SensorKind {
        name: "invented fortnight sensor".to_owned(),
        wear_min: 14 * 1440,
        extra_min: 12 * 60,
        warm_up_min: 60,
        longest_bedding_min: 48 * 60,
        wear_from: WearFrom::Started,
        side_by_side: true,
        sites: vec![Region::UpperArm, Region::Abdomen],
    };
    book.set_sensor_kind(&kind, now).unwrap();
    let truth = &scenario.truth;
    for lot in &truth.drawer {
        book.add_lot(&lot.written(), now).unwrap();
    }
    let worn = truth.before.iter().flat_map(EarlierTruth::written);
    let after = truth.after.iter().map(AfterTruth::written);
    let written: Vec<Entry> = worn.chain(after).map(Entry::Sensor).collect();
    log_together(book, &written, now).unwrap();
    let tags: Vec<Entry> = truth
        .tags
        .iter()
        .map(TagTruth::written)
        .map(Entry::Mark)
        .collect();
    log_together(book, &tags, now).unwrap();
    let day = now / DAY_S;
    for note in [
        VisitChoice::Name(Some("The invented ship's engineer".to_owned())),
        VisitChoice::Visit(day - 90, true),
        VisitChoice::Hba1c(day - 10, Hba1c::from_words("7.1 %")),
        VisitChoice::Question(now, Some("Are the nights on watch safe?".to_owned())),
    ] {
        book.set_visit_note(&note, now).unwrap();
    }
}
