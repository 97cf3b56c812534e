//! How many backups are kept, when the next is due, and that nothing is removed which this program did not write.
#![expect(clippy::unwrap_used, reason = "a test may fail loudly, in its helpers too")]

mod common;

use std::fs;
use std::path::PathBuf;

use common::{Desk, PASSPHRASE, START, import, names};
use interstice_backup::{Due, Held, Keep, Key, Place, Schedule, Work, to_remove};
use interstice_glucose::{Second, Zone};

const DAY_S: Second = 86_400;
const HOUR_S: Second = 3_600;

fn utc() -> Zone {
    Zone::utc()
}

fn held(desk: &Desk, keep: Keep) -> (Held, PathBuf) {
    let held = Place::beside(desk.book.path()).hold().unwrap();
    let folder = desk.at("backups");
    interstice_backup::make_folder(&folder).unwrap();
    let mut plan = held.plan().unwrap();
    plan.key = Some(Key::make(PASSPHRASE, Work::Light).unwrap());
    plan.schedule = Some(Schedule {
        folder: folder.clone(),
        every_hours: 24,
        keep,
    });
    held.put(&plan).unwrap();
    (held, folder)
}

/// By hand: 1 March 2025 is a Saturday. One backup a day for 60 days, the last on Tuesday 29 April.
#[test]
fn a_week_of_days_some_weeks_and_some_months_are_kept() {
    let made: Vec<Second> = (0..60).map(|day| START + day * DAY_S).collect();
    let keep = Keep {
        days: 3,
        weeks: 4,
        months: 2,
    };
    let out = to_remove(&made, made[59], keep, &utc());
    let kept: Vec<usize> = (0..60).filter(|place| !out.contains(place)).collect();
    // Days: 27, 28, 29 April. Weeks: this one's last (29), and the Sundays 27, 20 and 13. Months: 29 April, 31 March.
    assert_eq!(kept, [30, 43, 50, 57, 58, 59]);
}

/// A day is one of the zone lived in: 23:30 and 00:30 in Lisbon's summer are two days, and one day of universal time.
#[test]
fn days_are_those_of_the_zone() {
    let summer = START + 150 * DAY_S;
    let made = [summer + 22 * HOUR_S + 1800, summer + 23 * HOUR_S + 1800];
    let keep = Keep {
        days: 7,
        weeks: 0,
        months: 0,
    };
    let lisbon = Zone::named("Europe/Lisbon").unwrap();
    assert_eq!(to_remove(&made, made[1], keep, &utc()), [0]);
    assert_eq!(to_remove(&made, made[1], keep, &lisbon), [0_usize; 0]);
}

#[test]
fn the_newest_is_always_kept_and_a_wrong_clock_removes_nothing() {
    let nothing = Keep {
        days: 0,
        weeks: 0,
        months: 0,
    };
    let made = [START, START + 60, START + 10 * DAY_S];
    assert_eq!(to_remove(&made, START + 11 * DAY_S, nothing, &utc()), [0, 1]);
    // Today by a clock that was set back: what seems to be of the future is not counted.
    assert_eq!(to_remove(&made, START + DAY_S, nothing, &utc()), [0]);
    assert_eq!(to_remove(&[], START, nothing, &utc()), [0_usize; 0]);
}

#[test]
fn only_what_was_written_here_and_is_as_it_was_written_is_removed() {
    let desk = Desk::with_days(1);
    let keep = Keep {
        days: 2,
        weeks: 0,
        months: 0,
    };
    let (held, folder) = held(&desk, keep);
    let run = |day: i64| held.run(&desk.book, None, START + day * DAY_S, &utc()).unwrap();
    for day in 1..=3 {
        run(day);
    }
    assert_eq!(names(&folder).len(), 2);
    // Neighbours: a backup put there by hand, one of the same kind of name, one that was changed since.
    fs::copy(
        folder.join(&names(&folder)[0]),
        folder.join("book 2024-01-01 000000Z.interstice-backup"),
    )
    .unwrap();
    fs::write(folder.join("letter.txt"), "mine").unwrap();
    let changed = folder.join(&names(&folder)[1]);
    let mut bytes = fs::read(&changed).unwrap();
    bytes[100] ^= 1;
    fs::write(&changed, &bytes).unwrap();
    let taken = [run(4), run(5), run(6)];
    assert_eq!(taken.map(|taken| taken.removed.len()), [0, 1, 1]);
    let left = names(&folder);
    assert!(left.contains(&"letter.txt".to_owned()), "{left:?}");
    assert!(left.contains(&"book 2024-01-01 000000Z.interstice-backup".to_owned()));
    assert_eq!(fs::read(&changed).unwrap(), bytes);
    assert_eq!(left.len(), 5, "{left:?}");
    // By hand into the same folder: not counted, not removed.
    let by_hand = folder.join("before the voyage");
    held.run(&desk.book, Some(&by_hand), START + 7 * DAY_S, &utc())
        .unwrap();
    run(8);
    run(9);
    assert!(by_hand.exists());
    #[cfg(unix)]
    {
        // A link in the place of one: it is not followed and not removed.
        let plan = held.plan().unwrap();
        let target = &plan.written[0].path;
        fs::rename(target, folder.join("moved")).unwrap();
        std::os::unix::fs::symlink(folder.join("moved"), target).unwrap();
        run(10);
        run(11);
        assert!(fs::symlink_metadata(target).is_ok() && folder.join("moved").exists());
    }
}

#[test]
fn backups_of_another_book_at_the_same_place_stay() {
    let mut desk = Desk::with_days(1);
    let keep = Keep {
        days: 1,
        weeks: 0,
        months: 0,
    };
    let (held, folder) = held(&desk, keep);
    held.run(&desk.book, None, START + DAY_S, &utc()).unwrap();
    // The file is replaced by another person's book.
    let path = desk.book.path().to_owned();
    let old = std::mem::replace(&mut desk.book, interstice_book::Book::in_memory().unwrap());
    drop(old);
    fs::rename(&path, desk.at("away")).unwrap();
    let mut other = interstice_book::Book::open(&path, interstice_book::Mode::CreateIfAbsent).unwrap();
    import(&mut other, 40, 1);
    for day in 2..5 {
        held.run(&other, None, START + day * DAY_S, &utc()).unwrap();
    }
    assert_eq!(names(&folder).len(), 2);
    assert!(names(&folder)[0].contains("2025-03-02"));
}

#[test]
fn the_next_one_is_due_a_while_after_the_last() {
    let desk = Desk::with_days(1);
    let (held, folder) = held(&desk, Keep::default());
    let due = |now| held.plan().unwrap().due(now);
    assert_eq!(due(START), Due::Now);
    held.run(&desk.book, None, START, &utc()).unwrap();
    assert_eq!(due(START + HOUR_S), Due::At(START + DAY_S));
    assert_eq!(due(START + DAY_S), Due::Now);
    // The clock was ahead when it was made: it does not hold the next one up.
    assert_eq!(due(START - 100 * DAY_S), Due::Now);
    // The disk is not plugged in: said, kept, tried again an hour later, and no folder made in its place.
    fs::rename(&folder, desk.at("unplugged")).unwrap();
    let at = START + DAY_S;
    let failed = held.run(&desk.book, None, at, &utc()).unwrap_err().to_string();
    assert!(failed.contains("plug its disk in"), "{failed}");
    assert_eq!(held.plan().unwrap().trouble.unwrap().why, failed);
    assert_eq!(due(at + 60), Due::At(at + HOUR_S));
    assert!(!folder.exists());
    fs::rename(desk.at("unplugged"), &folder).unwrap();
    held.run(&desk.book, None, at + HOUR_S, &utc()).unwrap();
    assert_eq!(held.plan().unwrap().trouble, None);
    assert_eq!(names(&folder).len(), 2);
}

#[test]
fn what_a_killed_run_left_is_cleared_by_the_next() {
    let desk = Desk::with_days(1);
    let (held, folder) = held(&desk, Keep::default());
    let mut plan = held.plan().unwrap();
    let part = folder.join("book 2025.interstice-backup.77.part");
    plan.begun = vec![part.clone(), folder.join("not ours.txt")];
    held.put(&plan).unwrap();
    let beside = Place::beside(desk.book.path());
    drop(beside);
    let scratch = desk.at("book.interstice.backup");
    for path in [
        &part,
        &folder.join("not ours.txt"),
        &scratch.join("copy"),
        &scratch.join("copy.77.part"),
    ] {
        fs::write(path, "half").unwrap();
    }
    held.run(&desk.book, None, START, &utc()).unwrap();
    assert!(!part.exists());
    assert!(folder.join("not ours.txt").exists());
    assert_eq!(names(&scratch), ["lock", "plan.json"]);
}

#[cfg(unix)]
#[test]
fn the_plan_is_for_its_owner_alone_and_holds_no_secret() {
    use std::os::unix::fs::PermissionsExt;
    let desk = Desk::with_days(1);
    let (held, folder) = held(&desk, Keep::default());
    held.run(&desk.book, None, START, &utc()).unwrap();
    let beside = desk.at("book.interstice.backup");
    let mode = |path: &PathBuf| fs::metadata(path).unwrap().permissions().mode() & 0o777;
    assert_eq!(mode(&beside), 0o700);
    assert_eq!(mode(&folder), 0o700);
    assert_eq!(mode(&beside.join("plan.json")), 0o600);
    assert_eq!(mode(&folder.join(&names(&folder)[0])), 0o600);
    let text = fs::read_to_string(beside.join("plan.json")).unwrap();
    assert!(!text.contains("SECRET") && !text.contains(PASSPHRASE) && text.contains("age1"));
}

#[test]
fn a_damaged_plan_is_said_and_nothing_is_removed() {
    let desk = Desk::with_days(1);
    let (held, folder) = held(&desk, Keep::default());
    held.run(&desk.book, None, START, &utc()).unwrap();
    fs::write(desk.at("book.interstice.backup/plan.json"), "{").unwrap();
    let failed = held
        .run(&desk.book, None, START + DAY_S, &utc())
        .unwrap_err()
        .to_string();
    assert!(failed.contains("move it away"), "{failed}");
    assert_eq!(names(&folder).len(), 1);
}
