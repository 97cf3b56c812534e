//! What is planted of the skin is what the findings count.

use interstice_book::Book;
use interstice_demo::{DEFAULT_SEED, Ending, Scenario, Site};
use interstice_findings::{WearAsk, wear_book};
use interstice_glucose::{Draft, SensorDetail, SensorNote, SensorNoteKind};

#[test]
fn each_abdomen_reacts_and_one_chest() {
    let truth = Scenario::build(DEFAULT_SEED).truth;
    let mut draft = Draft::default();
    for sensor in truth
        .sensors
        .iter()
        .filter(|sensor| sensor.wear.ending != Ending::StillOn)
    {
        let note = |at, kind, site: Option<&str>| SensorNote {
            at,
            kind,
            sensor: Some(sensor.wear.sensor.clone()),
            site: site.map(str::to_owned),
            note: None,
            detail: SensorDetail::default(),
        };
        let put_on = note(
            sensor.wear.put_on,
            SensorNoteKind::PutOn,
            Some(sensor.wear.site.words()),
        );
        draft
            .sensor_notes
            .extend([put_on, note(sensor.wear.ended, SensorNoteKind::Ended, None)]);
    }
    draft
        .sensor_notes
        .extend(truth.after.iter().map(interstice_demo::AfterTruth::written));
    let mut book = Book::in_memory().unwrap();
    book.log(&draft, "invented", truth.to).unwrap();
    let found = wear_book(&book, WearAsk::at(truth.to)).unwrap();
    let by_site = found.skin.iter().find(|skin| skin.by == "site").unwrap();
    for site in [Site::Abdomen, Site::Chest, Site::Thigh, Site::UpperArm] {
        let group = by_site
            .groups
            .iter()
            .find(|group| group.name == site.words())
            .unwrap();
        let of = |name: &str| {
            truth
                .sensors
                .iter()
                .any(|sensor| sensor.wear.sensor == name && sensor.wear.site == site)
        };
        let planted = truth.after.iter().filter(|after| of(&after.sensor));
        let reacted = planted.clone().filter(|after| after.skin.is_reaction()).count() as u64;
        assert_eq!(
            (group.told, group.reactions),
            (planted.count() as u64, reacted),
            "{site:?}"
        );
        assert_eq!(
            reacted,
            match site {
                Site::Abdomen => group.told,
                Site::Chest => 1,
                _ => 0,
            }
        );
    }
    assert_eq!(found.skin[0].groups[0].longest_days, Some(5));
}
