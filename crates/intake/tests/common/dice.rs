//! Random choices that come out the same on every machine.

/// SplitMix64 (Steele, Lea, Flood 2014): a few lines, and the same numbers for the same seed for good.
pub(crate) struct Dice(u64);

impl Dice {
    pub(crate) fn new(seed: u64) -> Self {
        Dice(seed)
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// From `low` up to and with `high`.
    pub(crate) fn between(&mut self, low: i64, high: i64) -> i64 {
        let width = (high - low) as u64 + 1;
        low + (self.next() % width) as i64
    }

    /// True once in `of` throws.
    pub(crate) fn once_in(&mut self, of: i64) -> bool {
        self.between(1, of) == 1
    }

    pub(crate) fn pick<T: Copy>(&mut self, from: &[T]) -> T {
        from[self.between(0, from.len() as i64 - 1) as usize]
    }
}
