//! Zones of an error grid, from best to worst.

/// A zone of the Clarke or the consensus grid. What a letter means differs between the two; A is the best in both.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Zone {
    /// Accurate.
    A,
    /// Benign.
    B,
    /// Leading to needless correction.
    C,
    /// Failing to show what needs attention.
    D,
    /// Leading to the opposite of what is needed.
    E,
}

impl Zone {
    /// All of them, best first.
    pub const ALL: [Zone; 5] = [Zone::A, Zone::B, Zone::C, Zone::D, Zone::E];

    /// 'A' to 'E'.
    pub fn letter(self) -> char {
        match self {
            Zone::A => 'A',
            Zone::B => 'B',
            Zone::C => 'C',
            Zone::D => 'D',
            Zone::E => 'E',
        }
    }
}

/// How many pairs lie in each zone.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Zones(pub [u64; 5]);

impl Zones {
    /// Pairs in a zone.
    pub fn of(self, zone: Zone) -> u64 {
        self.0[zone as usize]
    }

    /// Pairs in all.
    pub fn total(self) -> u64 {
        self.0.iter().sum()
    }
}

impl FromIterator<Zone> for Zones {
    fn from_iter<I: IntoIterator<Item = Zone>>(zones: I) -> Self {
        let mut counts = Zones::default();
        for zone in zones {
            counts.0[zone as usize] += 1;
        }
        counts
    }
}

/// A border of a grid as it is drawn: corners as (blood, sensor), mg/dL.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line(pub &'static [(f64, f64)]);
