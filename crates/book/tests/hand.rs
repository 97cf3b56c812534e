//! What a person writes, corrects, deletes, sets and takes back.
#![expect(clippy::unwrap_used, reason = "a test may fail loudly, in its helpers too")]

mod common;

use common::{Source, check, dose, import, import_draft, meal, mg};
use interstice_book::{Book, ChangeKind, Entry, KeptRecipe, NightHours, Setting};
use interstice_glucose::{
    BloodCheck, Draft, InsulinLasts, LivedSpan, Meal, Rejected, SensorNote, SensorNoteKind, TraceKind, Unit,
    Zone,
};

fn with_meals(meals: &[Meal]) -> Source {
    Source {
        meals: meals.to_vec(),
        ..Source::default()
    }
}

fn grams(book: &Book) -> Vec<f64> {
    let record = book.load_all().unwrap();
    record
        .meals
        .iter()
        .map(|kept| kept.it.carbohydrate_g.unwrap())
        .collect()
}

fn only_meal(book: &Book) -> interstice_book::EntryRef {
    book.load_all().unwrap().meals[0].entry
}

#[test]
fn a_logged_entry_is_there_once_and_can_be_taken_back() {
    let mut book = Book::in_memory().unwrap();
    let draft = with_meals(&[meal(100, 30.0)]).draft();
    let receipt = book.log(&draft, "logged a meal", 1000).unwrap();
    assert_eq!((receipt.meals_new, receipt.written), (1, true));
    let again = book.log(&draft, "logged a meal", 1001).unwrap();
    assert_eq!(
        (again.meals_new, again.already_there, again.written),
        (0, 1, false)
    );
    assert_eq!(book.journal().unwrap().len(), 1);
    assert!(book.load_all().unwrap().meals[0].by_hand);
    let undone = book.undo(None, 1002).unwrap();
    assert_eq!((undone.undone.kind, undone.entries), (ChangeKind::Log, 1));
    assert!(grams(&book).is_empty());
    let journal = book.journal().unwrap();
    assert_eq!(journal[0].undone_by, Some(journal[1].id));
    assert_eq!(
        (journal[1].kind, journal[1].what.as_str()),
        (ChangeKind::Undo, "took back: logged a meal")
    );
    assert!(book.undo(None, 1003).unwrap_err().is_refusal());
}

#[test]
fn readings_can_be_logged_by_hand_beside_an_import() {
    let mut book = Book::in_memory().unwrap();
    import(
        &mut book,
        1,
        &Source {
            readings: vec![("", TraceKind::Scan, 300, mg(100))],
            ..Source::default()
        },
    );
    let hand = Source {
        readings: vec![
            ("", TraceKind::Scan, 300, mg(140)),
            ("", TraceKind::Scan, 600, mg(110)),
        ],
        ..Source::default()
    };
    let receipt = book.log(&hand.draft(), "logged two scans", 0).unwrap();
    assert_eq!((receipt.scans_new, receipt.conflicts), (1, 1));
    let conflicts = book.conflicts(0, 1000).unwrap();
    assert_eq!((conflicts[0].standing, conflicts[0].other), (mg(100), mg(140)));
    assert_eq!(Some(conflicts[0].other_origin), receipt.change);
}

#[test]
fn a_correction_hides_the_original_in_every_export() {
    let mut book = Book::in_memory().unwrap();
    import(&mut book, 1, &with_meals(&[meal(100, 30.0)]));
    let edit = book
        .edit(
            only_meal(&book),
            &Entry::Meal(meal(100, 45.0)),
            Some("weighed"),
            5,
        )
        .unwrap();
    assert_eq!(grams(&book), [45.0]);
    // Another export that tells of the meal again does not bring it back.
    let again = import(&mut book, 2, &with_meals(&[meal(100, 30.0), meal(200, 10.0)]));
    assert_eq!((again.meals_new, again.already_there), (1, 1));
    assert_eq!(grams(&book), [45.0, 10.0]);
    // The first import goes: the correction stands, because the second tells of the meal too.
    let first = book.journal().unwrap()[0].id;
    book.undo(Some(first), 6).unwrap();
    assert_eq!(grams(&book), [45.0, 10.0]);
    book.undo(Some(edit), 7).unwrap();
    assert_eq!(grams(&book), [30.0, 10.0]);
}

#[test]
fn a_correction_waits_while_what_it_corrects_is_gone() {
    let mut book = Book::in_memory().unwrap();
    let first = import(&mut book, 1, &with_meals(&[meal(100, 30.0)])).change;
    book.edit(only_meal(&book), &Entry::Meal(meal(160, 45.0)), None, 5)
        .unwrap();
    book.edit(only_meal(&book), &Entry::Meal(meal(170, 50.0)), None, 6)
        .unwrap();
    assert_eq!(grams(&book), [50.0]);
    book.undo(first, 7).unwrap();
    assert!(grams(&book).is_empty());
    import(&mut book, 1, &with_meals(&[meal(100, 30.0)]));
    assert_eq!(grams(&book), [50.0]);
}

#[test]
fn corrected_there_and_back_again() {
    let mut book = Book::in_memory().unwrap();
    import(&mut book, 1, &with_meals(&[meal(100, 30.0)]));
    book.edit(only_meal(&book), &Entry::Meal(meal(100, 45.0)), None, 5)
        .unwrap();
    book.edit(only_meal(&book), &Entry::Meal(meal(100, 30.0)), None, 6)
        .unwrap();
    assert_eq!(grams(&book), [30.0]);
    book.undo(None, 7).unwrap();
    assert_eq!(grams(&book), [45.0]);
    book.undo(None, 8).unwrap();
    assert_eq!(grams(&book), [30.0]);
    assert_eq!(book.load_all().unwrap().meals.len(), 1);
}

#[test]
fn what_was_deleted_stays_so_until_it_is_written_again() {
    let mut book = Book::in_memory().unwrap();
    import(&mut book, 1, &with_meals(&[meal(100, 30.0)]));
    let gone = only_meal(&book);
    book.delete(gone, Some("was not eaten"), 5).unwrap();
    import(&mut book, 2, &with_meals(&[meal(100, 30.0)]));
    assert!(grams(&book).is_empty());
    let receipt = book
        .log(&with_meals(&[meal(100, 30.0)]).draft(), "logged a meal", 6)
        .unwrap();
    assert!(receipt.written);
    assert_eq!(grams(&book), [30.0]);
    book.undo(None, 7).unwrap();
    book.undo(None, 8).unwrap();
    assert!(
        grams(&book).is_empty(),
        "the log and the second import are gone, the deletion stands"
    );
    book.undo(None, 9).unwrap();
    assert_eq!(grams(&book), [30.0]);
}

#[test]
fn a_log_that_was_corrected_is_undone_last() {
    let mut book = Book::in_memory().unwrap();
    let log = book
        .log(&with_meals(&[meal(100, 30.0)]).draft(), "logged a meal", 0)
        .unwrap()
        .change;
    let edit = book
        .edit(only_meal(&book), &Entry::Meal(meal(100, 45.0)), None, 5)
        .unwrap();
    let refused = book.undo(log, 6).unwrap_err();
    assert!(refused.is_refusal());
    assert!(
        refused.to_string().contains(&format!("undo change {edit} first")),
        "{refused}"
    );
    book.undo(Some(edit), 7).unwrap();
    book.undo(log, 8).unwrap();
    assert!(grams(&book).is_empty());
}

#[test]
fn what_cannot_be_done_is_said() {
    let mut book = Book::in_memory().unwrap();
    import(
        &mut book,
        1,
        &Source {
            doses: vec![dose(5, 2.0)],
            ..with_meals(&[meal(100, 30.0)])
        },
    );
    let meal_ref = only_meal(&book);
    let dose_ref = book.load_all().unwrap().doses[0].entry;
    let as_dose = book
        .edit(meal_ref, &Entry::Dose(dose(5, 1.0)), None, 0)
        .unwrap_err();
    assert!(
        as_dose.to_string().contains("a meal cannot become a dose"),
        "{as_dose}"
    );
    let nan = book
        .edit(dose_ref, &Entry::Dose(dose(5, f64::NAN)), None, 0)
        .unwrap_err();
    assert!(nan.to_string().contains("not a number"), "{nan}");
    let source = Source {
        doses: vec![dose(6, 1.0), dose(7, f64::INFINITY)],
        ..Source::default()
    };
    assert!(book.log(&source.draft(), "logged", 0).unwrap_err().is_refusal());
    let missing = interstice_book::EntryRef { id: 999, ..meal_ref };
    assert!(
        book.delete(missing, None, 0)
            .unwrap_err()
            .to_string()
            .contains("there is no meal 999")
    );
    assert!(
        book.undo(Some(interstice_book::ChangeId(77)), 0)
            .unwrap_err()
            .is_refusal()
    );
    assert_eq!(book.journal().unwrap().len(), 1, "a refusal leaves no trace");
    assert_eq!(book.load_all().unwrap().doses.len(), 1);
    book.undo(None, 0).unwrap();
    let twice = book.undo(Some(interstice_book::ChangeId(1)), 0).unwrap_err();
    assert!(twice.to_string().contains("was undone by change"), "{twice}");
}

#[test]
fn how_long_insulin_acts_is_kept_within_bounds_and_taken_back() {
    let mut book = Book::in_memory().unwrap();
    let lasts = |book: &Book| book.settings().unwrap().insulin_lasts;
    assert_eq!(lasts(&book), InsulinLasts::default());
    book.set(Setting::RapidLasts(Some(270)), 1).unwrap();
    let change = book.set(Setting::RapidLasts(Some(300)), 2).unwrap();
    book.set(Setting::ShortLasts(Some(480)), 3).unwrap();
    assert_eq!(
        (lasts(&book).rapid_min, lasts(&book).short_min),
        (Some(300), Some(480))
    );
    for beyond in [0, 59, 721, u16::MAX] {
        let refused = book.set(Setting::RapidLasts(Some(beyond)), 4).unwrap_err();
        assert!(
            refused.is_refusal() && refused.to_string().contains("1 to 12 hours"),
            "{refused}"
        );
    }
    book.undo(change, 5).unwrap();
    assert_eq!(lasts(&book).rapid_min, Some(270));
    book.set(Setting::RapidLasts(None), 6).unwrap();
    assert_eq!(lasts(&book).rapid_min, None);
}

#[test]
fn settings_are_kept_journaled_and_taken_back_in_order() {
    let mut book = Book::in_memory().unwrap();
    let lisbon = Zone::named("Europe/Lisbon").unwrap();
    let night = NightHours {
        from_minute: 1380,
        to_minute: 420,
    };
    book.set(Setting::Unit(Some(Unit::MmolPerL)), 1).unwrap();
    book.set(Setting::BaseZone(Some(lisbon.clone())), 2).unwrap();
    book.set(Setting::Night(Some(night)), 3).unwrap();
    book.set(Setting::TargetGroup(Some("adult".to_owned())), 4)
        .unwrap();
    book.set(
        Setting::Other("unit".to_owned(), Some("not that unit".to_owned())),
        5,
    )
    .unwrap();
    let settings = book.settings().unwrap();
    assert_eq!(settings.unit, Some(Unit::MmolPerL));
    assert_eq!((settings.base_zone, settings.night), (Some(lisbon), Some(night)));
    assert_eq!(settings.target_group.as_deref(), Some("adult"));
    assert_eq!(settings.other["unit"], "not that unit");
    assert_eq!(
        book.set(Setting::Unit(Some(Unit::MmolPerL)), 6).unwrap(),
        None,
        "the same again writes nothing"
    );
    let to_mg = book.set(Setting::Unit(Some(Unit::MgPerDl)), 7).unwrap();
    let forgot = book.set(Setting::Unit(None), 8).unwrap();
    assert!(book.undo(to_mg, 9).unwrap_err().to_string().contains("first"));
    book.undo(forgot, 10).unwrap();
    assert_eq!(book.settings().unwrap().unit, Some(Unit::MgPerDl));
    book.undo(to_mg, 11).unwrap();
    assert_eq!(book.settings().unwrap().unit, Some(Unit::MmolPerL));
    let late = NightHours {
        from_minute: 1440,
        to_minute: 0,
    };
    assert!(book.set(Setting::Night(Some(late)), 12).unwrap_err().is_refusal());
}

#[test]
fn provenance_is_kept_and_leaves_with_its_import() {
    let mut book = Book::in_memory().unwrap();
    let rejected = Rejected {
        row: 12,
        column: "glucose".to_owned(),
        text: "n/a".to_owned(),
        reason: "no number".to_owned(),
    };
    let draft = Draft {
        rejected: vec![rejected.clone()],
        ..Source {
            blood_checks: vec![check(5, 90)],
            ..Source::default()
        }
        .draft()
    };
    let recipe = KeptRecipe {
        layout: "abc".to_owned(),
        json: "{}".to_owned(),
    };
    let provenance = interstice_book::Provenance {
        recipes: vec![recipe.clone()],
        base_zone: Some(Zone::named("Asia/Kolkata").unwrap()),
        original: Some(vec![1, 2, 3]),
        ..common::provenance(3)
    };
    let change = book
        .import(&draft, &provenance, &mut |_, _| {
            std::ops::ControlFlow::Continue(())
        })
        .unwrap()
        .change
        .unwrap();
    let info = &book.imports().unwrap()[0];
    assert_eq!(
        (info.file_name.as_str(), info.digest, info.size_bytes),
        ("file 3.csv", provenance.digest, 1003)
    );
    assert_eq!(
        (
            info.receipt.blood_checks_new,
            info.receipt.rejected,
            info.original_kept
        ),
        (1, 1, true)
    );
    assert_eq!(book.rejected(change).unwrap(), [rejected]);
    assert_eq!(book.recipes().unwrap(), [recipe]);
    assert_eq!(book.original(change).unwrap(), Some(vec![1, 2, 3]));
    assert_eq!(book.load_all().unwrap().clock.offset_s(0), 19_800);
    book.undo(Some(change), 9).unwrap();
    assert!(book.imports().unwrap().is_empty() && book.recipes().unwrap().is_empty());
    assert_eq!(book.settings().unwrap().base_zone, None);
    assert_eq!(book.original(change).unwrap(), None);
    // Undone, the file can be imported again.
    assert!(import_draft(&mut book, 3, &draft).written);
}

#[test]
fn unit_and_zone_come_from_the_first_import_and_leave_with_it() {
    let mut book = Book::in_memory().unwrap();
    let from = |number, unit, zone: &str| interstice_book::Provenance {
        unit: Some(unit),
        base_zone: Some(Zone::named(zone).unwrap()),
        ..common::provenance(number)
    };
    let bring = |book: &mut Book, provenance| {
        let draft = with_meals(&[meal(100, 30.0)]).draft();
        book.import(&draft, &provenance, &mut |_, _| {
            std::ops::ControlFlow::Continue(())
        })
        .unwrap()
        .change
    };
    let shown = |book: &Book| {
        let settings = book.settings().unwrap();
        (
            settings.unit,
            settings.base_zone.map(|zone| zone.name().to_owned()),
        )
    };
    let says = |unit, zone: &str| (Some(unit), Some(zone.to_owned()));
    let first = bring(&mut book, from(1, Unit::MmolPerL, "Europe/Lisbon"));
    assert_eq!(shown(&book), says(Unit::MmolPerL, "Europe/Lisbon"));
    assert_eq!(book.journal().unwrap().len(), 1, "it is part of the import");
    let second = bring(&mut book, from(2, Unit::MgPerDl, "Asia/Kolkata"));
    assert_eq!(shown(&book), says(Unit::MmolPerL, "Europe/Lisbon"));
    // As if the first had never been there.
    book.undo(first, 5).unwrap();
    assert_eq!(shown(&book), says(Unit::MgPerDl, "Asia/Kolkata"));
    // The person's word counts more, and the import's again once that is taken back.
    let word = book.set(Setting::Unit(Some(Unit::MmolPerL)), 6).unwrap();
    assert_eq!(shown(&book), says(Unit::MmolPerL, "Asia/Kolkata"));
    book.undo(word, 7).unwrap();
    assert_eq!(shown(&book), says(Unit::MgPerDl, "Asia/Kolkata"));
    book.undo(second, 8).unwrap();
    assert_eq!(shown(&book), (None, None));
}

#[test]
fn the_clock_takes_the_persons_word_before_a_files() {
    let span = |from, to, zone: &str| LivedSpan {
        from,
        to,
        zone: Zone::named(zone).unwrap(),
    };
    let lived = |spans: Vec<LivedSpan>| Draft {
        lived: spans,
        ..Draft::default()
    };
    let mut book = Book::in_memory().unwrap();
    assert_eq!(book.load_all().unwrap().base_zone, Zone::utc());
    import_draft(&mut book, 1, &lived(vec![span(1000, 5000, "+01:00")]));
    import_draft(&mut book, 2, &lived(vec![span(1000, 9000, "+02:00")]));
    let offset = |book: &Book, at| book.load_all().unwrap().clock.offset_s(at) / 3600;
    assert_eq!(
        (offset(&book, 0), offset(&book, 2000), offset(&book, 6000)),
        (1, 1, 2)
    );
    book.set(Setting::BaseZone(Some(Zone::named("-03:00").unwrap())), 0)
        .unwrap();
    assert_eq!((offset(&book, 0), offset(&book, 9000)), (-3, -3));
    assert!(
        book.log(&lived(vec![span(2000, 3000, "+05:00")]), "away", 0)
            .unwrap()
            .written
    );
    assert!(
        !book
            .log(&lived(vec![span(2000, 3000, "+05:00")]), "away", 0)
            .unwrap()
            .written
    );
    assert!(
        book.log(&lived(vec![span(2500, 3000, "+06:00")]), "away", 0)
            .unwrap()
            .written
    );
    assert_eq!(
        (offset(&book, 2000), offset(&book, 2500), offset(&book, 3000)),
        (5, 6, 1)
    );
}

#[test]
fn an_event_of_two_files_is_shown_once_and_outlives_either() {
    let mut book = Book::in_memory().unwrap();
    let noted = BloodCheck {
        note: Some("before breakfast".to_owned()),
        ..check(50, 90)
    };
    let source = Source {
        blood_checks: vec![check(50, 90), noted, check(50, 90)],
        ..Source::default()
    };
    let receipt = import(&mut book, 1, &source);
    assert_eq!((receipt.blood_checks_new, receipt.already_there), (2, 1));
    import(&mut book, 2, &source);
    assert_eq!(book.load_all().unwrap().blood_checks.len(), 2);
    book.undo(Some(interstice_book::ChangeId(1)), 0).unwrap();
    let left = book.load_all().unwrap().blood_checks;
    assert_eq!(left.len(), 2);
    assert!(left.iter().all(|kept| kept.origin.0 == 2));
}

#[test]
fn what_is_known_of_a_sensor_is_kept_corrected_and_taken_back() {
    use interstice_glucose::{Comfort, Ending, Removal, SensorDetail, Side, SkinAfter};
    let mut book = Book::in_memory().unwrap();
    let ended = SensorNote {
        kind: SensorNoteKind::Ended,
        detail: SensorDetail {
            preparation: vec!["wiped".to_owned(), "shaved, twice".to_owned()],
            cover: vec!["tape".to_owned()],
            lot: Some("KR-204".to_owned()),
            serial: Some("00\"A3".to_owned()),
            ending: Some(Ending::AdhesiveGaveWay),
            removal: Some(Removal::Oil),
            comfort: Comfort::new(2),
            skin: Some(SkinAfter::LumpOrScar),
            skin_days: Some(3),
            slept: Some(Side::Left),
        },
        ..common::sensor_note(100)
    };
    let draft = Draft {
        sensor_notes: vec![ended.clone()],
        ..Draft::default()
    };
    book.log(&draft, "logged", 0).unwrap();
    let notes = |book: &Book| book.load_all().unwrap().sensor_notes;
    assert_eq!(notes(&book)[0].it, ended);
    // A file that tells the moment barely adds nothing.
    let bare = SensorNote {
        detail: SensorDetail::default(),
        ..ended.clone()
    };
    let told = Source {
        sensor_notes: vec![bare],
        ..Source::default()
    };
    assert_eq!(import(&mut book, 1, &told).other_new, 0);
    assert_eq!((notes(&book).len(), &notes(&book)[0].it), (1, &ended));
    let mut failed = ended.clone();
    for ending in Ending::ALL {
        failed.detail.ending = Some(ending);
        for (removal, skin) in Removal::ALL.into_iter().cycle().zip(SkinAfter::ALL) {
            (failed.detail.removal, failed.detail.skin) = (Some(removal), Some(skin));
            book.edit(notes(&book)[0].entry, &Entry::SensorNote(failed.clone()), None, 5)
                .unwrap();
            assert_eq!(notes(&book)[0].it, failed);
        }
    }
    for _ in 0..Ending::ALL.len() * SkinAfter::ALL.len() {
        book.undo(None, 6).unwrap();
    }
    assert_eq!(notes(&book)[0].it, ended);
    book.delete(notes(&book)[0].entry, None, 7).unwrap();
    assert!(notes(&book).is_empty());
    book.undo(None, 8).unwrap();
    assert_eq!(notes(&book).len(), 1);
}

#[test]
fn a_night_that_reaches_into_the_window_is_part_of_it() {
    let mut book = Book::in_memory().unwrap();
    let marks = vec![
        common::mark(100, Some(500), "asleep"),
        common::mark(100, Some(300), "walk"),
        common::mark(400, None, "note"),
    ];
    import(
        &mut book,
        1,
        &Source {
            marks,
            ..Source::default()
        },
    );
    let texts: Vec<_> = book
        .load(300, 400)
        .unwrap()
        .marks
        .into_iter()
        .map(|kept| kept.it.text.unwrap())
        .collect();
    assert_eq!(texts, ["asleep"]);
}
