//! Sleeping positions and what they press on.
//!
//! That sensors read low under pressure in bed, for tens of minutes, is described by Baysal et al. 2014, J Diabetes
//! Sci Technol 8:1091. How often, how deep and how fast here are our own numbers.

use interstice_glucose::Second;
use serde::Serialize;

use crate::days::Plan;
use crate::random::{Dice, Purpose};
use crate::wear::{Side, Site, Wear, as_utc};

/// How a sleeper lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Position {
    /// On the left side.
    Left,
    /// On the right side.
    Right,
    /// On the back.
    Back,
    /// Face down.
    Prone,
}

/// One stretch of pressure on a sensor.
#[derive(Clone, Debug, Serialize)]
pub struct Compression {
    /// The sensor pressed on.
    pub sensor: String,
    /// Where it sits.
    pub site: Site,
    /// On which side.
    pub side: Side,
    /// How the sleeper lay.
    pub position: Position,
    /// Pressure on.
    #[serde(serialize_with = "as_utc")]
    pub start: Second,
    /// Pressure off.
    #[serde(serialize_with = "as_utc")]
    pub release: Second,
    /// Reading back within 2 % of what it would be.
    #[serde(serialize_with = "as_utc")]
    pub recovered: Second,
    /// Share of the reading lost when it is deepest.
    pub attenuation: f64,
    /// Time constant of the fall, minutes.
    pub fall_min: f64,
    /// Time constant of the recovery, minutes.
    pub recovery_min: f64,
}

impl Compression {
    /// Factor on the reading at `at`, 1 outside.
    pub(crate) fn factor(&self, at: Second) -> f64 {
        if at < self.start || at > self.recovered {
            return 1.0;
        }
        let pressed_min = (at.min(self.release) - self.start) as f64 / 60.0;
        let depth = self.attenuation * (1.0 - libm::exp(-pressed_min / self.fall_min));
        let free_min = (at - self.release).max(0) as f64 / 60.0;
        1.0 - depth * libm::exp(-free_min / self.recovery_min)
    }
}

/// Chance that lying so presses on a sensor there.
fn chance(site: Site, side: Side, position: Position) -> f64 {
    let same = matches!(
        (side, position),
        (Side::Left, Position::Left) | (Side::Right, Position::Right)
    );
    match (site, position) {
        (Site::UpperArm, _) if same => 0.40,
        (Site::UpperArm, Position::Back) => 0.03,
        (Site::Thigh, _) if same => 0.09,
        (Site::Abdomen | Site::Chest, Position::Prone) => 0.34,
        (Site::Abdomen | Site::Chest, _) if same => 0.12,
        _ => 0.0,
    }
}

/// All pressure on all sensors, in time order of the start.
pub(crate) fn compressions(plan: &Plan, lives: &[Wear], seed: u64) -> Vec<Compression> {
    let mut dice = Dice::new(seed, Purpose::Pressure);
    let mut found = Vec::new();
    for sleep in &plan.sleeps {
        let mut at = sleep.from + dice.between(6.0, 30.0) as Second * 60;
        while at < sleep.to - 20 * 60 {
            let position = pick_position(&mut dice);
            let until = (at + dice.between(45.0, 150.0) as Second * 60).min(sleep.to);
            for wear in lives {
                let pressed = dice.chance(chance(wear.site, wear.side, position));
                let one = press(wear, position, at, until, &mut dice);
                let readable = wear.started + 90 * 60 <= at && until < wear.ended;
                found.extend(one.filter(|_| pressed && readable));
            }
            at = until + 60;
        }
    }
    found.sort_by(|a, b| (a.start, &a.sensor).cmp(&(b.start, &b.sensor)));
    // One has to be over before the next begins, or the truth would be hard to read.
    found.dedup_by(|later, earlier| later.sensor == earlier.sensor && later.start < earlier.recovered + 600);
    found
}

fn press(
    wear: &Wear,
    position: Position,
    from: Second,
    until: Second,
    dice: &mut Dice,
) -> Option<Compression> {
    let start = from + dice.between(2.0, 25.0) as Second * 60;
    let release = (start + dice.between(18.0, 95.0) as Second * 60).min(until);
    let (fall_min, recovery_min) = (dice.between(3.0, 6.5), dice.between(2.5, 6.0));
    let attenuation = dice.between(0.28, 0.62);
    // The rest of the depth fades to 2 % after this many recovery times.
    let fade = libm::log(attenuation / 0.02) * recovery_min;
    (release - start >= 15 * 60).then(|| Compression {
        sensor: wear.sensor.clone(),
        site: wear.site,
        side: wear.side,
        position,
        start,
        release,
        recovered: release + (fade * 60.0) as Second,
        attenuation: (attenuation * 1000.0).round() / 1000.0,
        fall_min: (fall_min * 100.0).round() / 100.0,
        recovery_min: (recovery_min * 100.0).round() / 100.0,
    })
}

/// The engineer prefers the left side.
fn pick_position(dice: &mut Dice) -> Position {
    match dice.unit() {
        x if x < 0.46 => Position::Left,
        x if x < 0.70 => Position::Right,
        x if x < 0.88 => Position::Back,
        _ => Position::Prone,
    }
}
