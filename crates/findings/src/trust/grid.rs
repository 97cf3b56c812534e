//! Error grids with their counts and what is needed to draw them.

use interstice_methods::agreement::{ClarkeGrid, ConsensusGrid, Line, Pair, Zone, Zones};

use super::{Grid, Grids, ZoneLine};

/// Places for the letters of the Clarke grid, (blood, sensor) in mg/dL, inside a drawing up to 400 mg/dL.
const CLARKE_LETTERS: [(char, f64, f64); 9] = [
    ('A', 318.0, 322.0),
    ('B', 268.0, 358.0),
    ('B', 330.0, 218.0),
    ('C', 150.0, 330.0),
    ('C', 163.0, 18.0),
    ('D', 35.0, 125.0),
    ('D', 320.0, 125.0),
    ('E', 35.0, 290.0),
    ('E', 290.0, 35.0),
];

/// Places for the letters of the consensus grid.
const CONSENSUS_LETTERS: [(char, f64, f64); 8] = [
    ('A', 318.0, 322.0),
    ('B', 208.0, 330.0),
    ('B', 330.0, 212.0),
    ('C', 132.0, 330.0),
    ('C', 330.0, 112.0),
    ('D', 68.0, 330.0),
    ('D', 330.0, 30.0),
    ('E', 18.0, 330.0),
];

/// Zone A of the Clarke grid.
const CLARKE_A: [(f64, f64); 8] = [
    (0.0, 0.0),
    (0.0, 70.0),
    (175.0 / 3.0, 70.0),
    (550.0 / 1.2, 550.0),
    (550.0, 550.0),
    (550.0, 440.0),
    (70.0, 56.0),
    (70.0, 0.0),
];

/// Zone A of the consensus grid: between its two innermost borders.
fn consensus_a() -> Vec<(f64, f64)> {
    let corners = |line: Option<&Line>| line.map_or(Vec::new(), |line| line.0.to_vec());
    let (upper, mut lower) = (
        corners(ConsensusGrid.upper().first()),
        corners(ConsensusGrid.lower().first()),
    );
    lower.reverse();
    let mut polygon = vec![(0.0, 0.0)];
    polygon.extend(upper);
    polygon.push((550.0, 550.0));
    polygon.extend(lower);
    polygon
}

/// Both grids over the pairs.
pub(super) fn grids(pairs: &[Pair]) -> Grids {
    let clarke = pairs
        .iter()
        .map(|pair| ClarkeGrid.zone(pair.blood_mg_dl, pair.sensor_mg_dl));
    let consensus = pairs
        .iter()
        .map(|pair| ConsensusGrid.zone(pair.blood_mg_dl, pair.sensor_mg_dl));
    Grids {
        clarke: grid(
            clarke.collect(),
            ClarkeGrid.lines().iter().copied(),
            CLARKE_A.to_vec(),
            &CLARKE_LETTERS,
        ),
        consensus: grid(
            consensus.collect(),
            ConsensusGrid.lines(),
            consensus_a(),
            &CONSENSUS_LETTERS,
        ),
    }
}

fn grid(
    counts: Zones,
    lines: impl Iterator<Item = Line>,
    zone_a: Vec<(f64, f64)>,
    letters: &[(char, f64, f64)],
) -> Grid {
    let total = counts.total();
    let zones = Zone::ALL.map(|zone| ZoneLine {
        zone: zone.letter(),
        pairs: counts.of(zone),
        percent: (total > 0).then(|| 100.0 * counts.of(zone) as f64 / total as f64),
    });
    Grid {
        zones: zones.to_vec(),
        lines: lines.map(|line| line.0.to_vec()).collect(),
        zone_a,
        letters: letters.to_vec(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn letters_stand_in_their_zones() {
        for (letter, blood, sensor) in CLARKE_LETTERS {
            assert_eq!(
                ClarkeGrid.zone(blood, sensor).letter(),
                letter,
                "{blood} {sensor}"
            );
        }
        for (letter, blood, sensor) in CONSENSUS_LETTERS {
            assert_eq!(
                ConsensusGrid.zone(blood, sensor).letter(),
                letter,
                "{blood} {sensor}"
            );
        }
    }
}
