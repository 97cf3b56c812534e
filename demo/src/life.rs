//! Two hundred days, minute by minute: the body, the sensors on it, and the person who looks at them.

use interstice_glucose::Second;

use crate::body::Body;
use crate::calendar::Calendar;
use crate::days::Plan;
use crate::log::{Deed, Entry};
use crate::person::{LONG_UNITS, Person, Seen};
use crate::pressure::{Compression, compressions};
use crate::rhythm::Rhythm;
use crate::sensor::{Reading, Sensor, Traits, tenths};
use crate::wear::{Ending, Wear, lives};

/// All that happened.
#[derive(Clone, Debug)]
pub(crate) struct Life {
    pub(crate) calendar: Calendar,
    pub(crate) plan: Plan,
    pub(crate) lives: Vec<Wear>,
    pub(crate) traits: Vec<Traits>,
    pub(crate) compressions: Vec<Compression>,
    /// In time order.
    pub(crate) readings: Vec<Reading>,
    /// True blood glucose every five minutes, mg/dL.
    pub(crate) blood: Vec<(Second, f64)>,
    /// In time order.
    pub(crate) entries: Vec<Entry>,
}

/// Where each list of the plan has got to.
#[derive(Default)]
struct Next {
    meal: usize,
    announced: usize,
    long_dose: usize,
    check: usize,
    activity: usize,
}

impl Life {
    pub(crate) fn live(seed: u64) -> Self {
        let calendar = Calendar::new();
        let plan = Plan::new(&calendar, seed);
        let lives = lives(&calendar, &plan, seed);
        let compressions = compressions(&plan, &lives, seed);
        let mut sensors: Vec<Sensor> = lives
            .iter()
            .enumerate()
            .map(|(i, wear)| Sensor::new(i, wear, &compressions, seed))
            .collect();
        let traits = sensors.iter().map(|sensor| sensor.traits.clone()).collect();
        let mut life = Life {
            calendar,
            plan,
            lives,
            traits,
            compressions,
            readings: Vec::new(),
            blood: Vec::new(),
            entries: Vec::new(),
        };
        let mut person = Person::new(seed);
        life.run(&mut sensors, &mut person, seed);
        life.enter_the_planned(&mut person);
        life.entries = person.entries;
        life.entries.sort_by_key(|entry| entry.at);
        life
    }

    fn run(&mut self, sensors: &mut [Sensor], person: &mut Person, seed: u64) {
        let mut body = Body::in_balance(LONG_UNITS);
        let mut rhythm = Rhythm::new(&self.calendar, &self.plan, seed);
        let mut next = Next::default();
        let mut at = self.calendar.from();
        let mut influence = rhythm.at(at, &self.calendar, &self.plan);
        let mut first_worn = 0;
        while at < self.calendar.to() {
            let fifth = (at / 60) % 5 == 0;
            if fifth {
                influence = rhythm.at(at, &self.calendar, &self.plan);
                self.blood.push((at, tenths(body.glucose())));
            }
            while first_worn + 1 < sensors.len() && self.lives[first_worn].ended <= at {
                first_worn += 1;
            }
            for sensor in sensors.iter_mut().skip(first_worn).take(2) {
                self.readings.extend(sensor.minute(at, body.glucose()));
            }
            self.follow_plan(at, &mut next, person, &mut body);
            if fifth || person.has_due(at) {
                let seen = self.seen(at);
                if fifth {
                    person.react(&seen, &mut body);
                } else {
                    person.take_due_doses(&seen, &mut body);
                }
            }
            body.minute(&influence);
            at += 60;
        }
    }

    fn follow_plan(&self, at: Second, next: &mut Next, person: &mut Person, body: &mut Body) {
        let plan = &self.plan;
        while let Some(meal) = plan.meals.get(next.announced).filter(|meal| meal.at - 1800 <= at) {
            person.expect_meal(meal);
            next.announced += 1;
        }
        while let Some(meal) = plan.meals.get(next.meal).filter(|meal| meal.at <= at) {
            person.eat(meal, body);
            next.meal += 1;
        }
        while plan.long_doses.get(next.long_dose).is_some_and(|&due| due <= at) {
            person.long_dose(at, body);
            next.long_dose += 1;
        }
        while plan.checks.get(next.check).is_some_and(|&due| due <= at) {
            person.check(at, body);
            next.check += 1;
        }
        while plan
            .activities
            .get(next.activity)
            .is_some_and(|activity| activity.from - 600 <= at)
        {
            person.before_exercise(&self.seen(at), body);
            next.activity += 1;
        }
    }

    /// What a look at the reader tells at `at`: the newest sensor's last reading.
    fn seen(&self, at: Second) -> Seen {
        let recent = || self.readings.iter().rev().take_while(|r| r.at > at - 31 * 60);
        let newest = recent().filter(|r| r.at > at - 11 * 60).map(|r| r.sensor).max();
        let mut of_newest = recent().filter(|r| Some(r.sensor) == newest);
        let last = of_newest.next();
        let earlier = of_newest.find(|r| last.is_some_and(|last| last.at - r.at >= 14 * 60));
        let slope = last.zip(earlier).map_or(0.0, |(last, earlier)| {
            f64::from(last.mg_dl - earlier.mg_dl) / ((last.at - earlier.at) as f64 / 60.0)
        });
        Seen {
            at,
            shown: last.map(|r| f64::from(r.mg_dl)),
            slope,
            asleep: self.plan.sleep_at(at).is_some(),
            new_sensor: newest.is_some_and(|i| at - self.lives[i].started < 86_400),
        }
    }

    /// Entries that do not depend on glucose.
    fn enter_the_planned(&self, person: &mut Person) {
        for (sensor, wear) in self.lives.iter().enumerate() {
            person.enter(wear.put_on, true, Deed::PutOn { sensor });
            person.enter(wear.started, true, Deed::Started { sensor });
            if wear.ending != Ending::StillOn {
                person.enter(wear.ended, true, Deed::Ended { sensor });
            }
        }
        for activity in &self.plan.activities {
            person.enter(
                activity.from,
                true,
                Deed::Activity {
                    minutes: activity.minutes,
                    text: activity.text,
                },
            );
        }
        for sleep in &self.plan.sleeps {
            // Nights cut off by the ends of the record stay out.
            if sleep.from >= self.calendar.from() && sleep.to < self.calendar.to() {
                person.enter(
                    sleep.from,
                    true,
                    Deed::Sleep {
                        minutes: (sleep.to - sleep.from) / 60,
                        bad: sleep.bad,
                    },
                );
            }
        }
        for &(at, text) in &self.plan.notes {
            person.enter(at, true, Deed::Note { text });
        }
    }
}
