//! What describes a moment: to the ridge, and to the search for moments alike.

use std::f64::consts::TAU;

use super::laid::Laid;

/// Numbers that describe a moment to the ridge.
pub const FEATURES: usize = 50;
/// Numbers by which moments are alike.
pub const SHAPE: usize = 8;

const SECONDS_IN_A_DAY: f64 = 86_400.0;
/// Recent carbohydrate fades by half in so many minutes.
const CARBOHYDRATE_HALF_MIN: f64 = 45.0;
/// And is forgotten after so many.
const CARBOHYDRATE_MIN: u32 = 240;

/// Glucose around a moment, mg/dL; there is a gapless hour before it.
struct Glucose {
    now: f64,
    /// 15, 30, 45, 60, 5 and 10 minutes ago.
    ago: [f64; 6],
    /// 90, 120 and 180 minutes ago; beyond a gap, the last before it that is known.
    long_ago: [f64; 3],
}

impl Glucose {
    fn at(laid: &Laid<'_>, i: usize) -> Self {
        let now = laid.mg_dl(i);
        let ago = [15, 30, 45, 60, 5, 10].map(|minutes| laid.before(i, minutes).unwrap_or(now));
        let mut last = ago[3];
        let long_ago = [90, 120, 180].map(|minutes| {
            last = laid.before(i, minutes).unwrap_or(last);
            last
        });
        Glucose { now, ago, long_ago }
    }
}

/// Sine and cosine of so many turns of the clock.
fn turn(clock: f64, turns: f64) -> (f64, f64) {
    libm::sincos(turns * clock)
}

fn clock(laid: &Laid<'_>, i: usize) -> f64 {
    let wall = laid.past.clock.wall(laid.at(i).into());
    TAU * wall.second_of_day() as f64 / SECONDS_IN_A_DAY
}

/// What describes a reading to the ridge; it has a gapless hour before it.
///
/// In order: the level; how it stood 15, 30, 45, 60, 5, 10, 90, 120 and 180 minutes before and over the last day and week;
/// clock time as lived, in five harmonics; the level by two of them; bends of level and slope; insulin still acting and
/// recent carbohydrate.
pub(super) fn features(laid: &Laid<'_>, i: usize) -> [f64; FEATURES] {
    let of = Glucose::at(laid, i);
    let g = of.now;
    let clock = clock(laid, i);
    let mut row = Row::default();
    row.add(g / 50.0);
    for before in of.ago.iter().chain(&of.long_ago) {
        row.add((g - before) / 50.0);
    }
    row.add((g - laid.mean_of_last(i, 1)) / 50.0);
    row.add((g - laid.mean_of_last(i, 7)) / 50.0);
    let level = (g - 140.0) / 50.0;
    for turns in [1.0, 2.0, 3.0, 4.0, 5.0] {
        let (sin, cos) = turn(clock, turns);
        row.add(sin);
        row.add(cos);
    }
    for turns in [1.0, 2.0] {
        let (sin, cos) = turn(clock, turns);
        row.add(level * sin);
        row.add(level * cos);
    }
    bends(&mut row, &of, level, turn(clock, 1.0));
    row.add(on_board(laid, i) / 5.0);
    row.add(carbohydrate(laid, i) / 50.0);
    row.numbers
}

/// What a straight line cannot say: floors, ceilings and products.
fn bends(row: &mut Row, of: &Glucose, level: f64, (sin, cos): (f64, f64)) {
    let g = of.now;
    let slope = (g - of.ago[0]) / 15.0;
    let long = (g - of.ago[2]) / 45.0;
    let earlier = (of.ago[0] - of.ago[1]) / 15.0;
    for number in [
        level * level,
        (g - 90.0).min(0.0) / 50.0,
        level * slope,
        slope.abs(),
        slope * sin,
        slope * cos,
        (g - 70.0).min(0.0) / 30.0,
        (g - 180.0).max(0.0) / 50.0,
        (g - 250.0).max(0.0) / 50.0,
        slope.max(0.0) * level,
        slope * long,
        level * long,
        long.abs(),
        long * sin,
        long * cos,
        slope * slope.abs(),
        level * level * level / 5.0,
        level * earlier,
        earlier.abs(),
        (slope - earlier).max(0.0),
        slope.max(0.0) * earlier.max(0.0),
        slope.min(0.0) * earlier.min(0.0),
    ] {
        row.add(number);
    }
}

struct Row {
    numbers: [f64; FEATURES],
    next: usize,
}

impl Default for Row {
    fn default() -> Self {
        Row {
            numbers: [0.0; FEATURES],
            next: 0,
        }
    }
}

impl Row {
    fn add(&mut self, number: f64) {
        self.numbers[self.next] = number;
        self.next += 1;
    }
}

/// How strongly each feature's coefficient is held to zero, in rows of one standard deviation each: loosely for the last
/// hours, tightly for clock time and bends, of which there are many. Ours; chosen on the open recordings.
pub(super) const PENALTY: [f64; FEATURES] = penalties();

const fn penalties() -> [f64; FEATURES] {
    // level, lags, means, clock, clock by level, bends of the first kind, of the second, logged
    let groups: [(usize, f64); 8] = [
        (1, 30.0),
        (9, 1.0),
        (2, 100.0),
        (10, 300.0),
        (4, 300.0),
        (6, 300.0),
        (16, 1000.0),
        (2, 100.0),
    ];
    let mut all = [0.0; FEATURES];
    let (mut group, mut place) = (0, 0);
    while group < groups.len() {
        let mut of_group = 0;
        while of_group < groups[group].0 {
            all[place] = groups[group].1;
            place += 1;
            of_group += 1;
        }
        group += 1;
    }
    all
}

/// Where a moment lies among moments: two are alike where these are near.
///
/// One unit is 40 mg/dL of level, 1 mg/dL a minute of slope over the last quarter of an hour, 29 mg/dL over the quarter
/// before it, 67 mg/dL over the half hour before that, 4 U still acting or 40 g of recent carbohydrate; clock time runs
/// round a circle of radius 0.8. Ours; chosen on the open recordings.
pub(super) fn shape(laid: &Laid<'_>, i: usize) -> [f64; SHAPE] {
    let g = laid.mg_dl(i);
    let [ago15, ago30, ago60] = [15, 30, 60].map(|minutes| laid.before(i, minutes).unwrap_or(g));
    let (sin, cos) = turn(clock(laid, i), 1.0);
    [
        g / 40.0,
        (g - ago15) / 15.0,
        (ago15 - ago30) / 20.0 * 0.7,
        (ago30 - ago60) / 40.0 * 0.6,
        0.8 * sin,
        0.8 * cos,
        on_board(laid, i) / 4.0,
        carbohydrate(laid, i) / 40.0,
    ]
}

fn on_board(laid: &Laid<'_>, i: usize) -> f64 {
    laid.past.on_board.get(i).copied().unwrap_or(0.0)
}

/// Grams eaten lately, fading by half in 45 minutes (ours).
fn carbohydrate(laid: &Laid<'_>, i: usize) -> f64 {
    let (at, meals) = (laid.at(i), laid.past.meals);
    let until = meals.partition_point(|meal| meal.at <= at);
    let lately = meals[..until]
        .iter()
        .rev()
        .take_while(|meal| at - meal.at <= CARBOHYDRATE_MIN * 60);
    lately
        .map(|meal| {
            let minutes = f64::from(at - meal.at) / 60.0;
            meal.grams.unwrap_or(0.0) * libm::exp2(-minutes / CARBOHYDRATE_HALF_MIN)
        })
        .sum()
}
