//! Percentiles by stretch of time.

use interstice_glucose::{Censor, Levels, Second};
use rayon::prelude::*;

use super::Columns;

/// How the readings of a stretch are spread, mg/dL.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread {
    /// First instant.
    pub from: Second,
    /// First instant no longer in it.
    pub to: Second,
    /// Readings in it, at least 1.
    pub count: u32,
    /// Lowest reading.
    pub lowest_mg_dl: f64,
    /// Whether that was below what the sensor can measure.
    pub lowest_beyond: bool,
    /// 5th percentile.
    pub p5_mg_dl: f64,
    /// 25th percentile.
    pub p25_mg_dl: f64,
    /// Median.
    pub p50_mg_dl: f64,
    /// 75th percentile.
    pub p75_mg_dl: f64,
    /// 95th percentile.
    pub p95_mg_dl: f64,
    /// Highest reading.
    pub highest_mg_dl: f64,
    /// Whether that was above what the sensor can measure.
    pub highest_beyond: bool,
}

/// Percentiles and extremes of the readings between neighbouring bounds, for drawing. Stretches without a reading are left out.
///
/// Each reading counts once; nothing is weighted by time, so a stretch with gaps is described by what was received.
/// With n readings in order x(1) ≤ … ≤ x(n), the p-quantile is x at position 1 + (n − 1)p, linear between
/// neighbours: definition 7 of Hyndman and Fan (1996), The American Statistician 50:361–365. A censored reading
/// stands at the edge of its sensor's range.
///
/// * `readings`: in time order; a level that is not in `levels` is passed over.
/// * `bounds`: ascending instants; n bounds make n − 1 stretches.
pub fn spreads(readings: Columns<'_>, levels: &Levels, bounds: &[Second]) -> Vec<Spread> {
    let mut order: Vec<u32> = (0..u32::try_from(levels.len()).unwrap_or(u32::MAX)).collect();
    // At one value a reading below the sensor's range is the lower, one above it the higher.
    let beyond = |level: u32| match levels.get(level).said.censor() {
        Censor::Below => -1,
        Censor::None => 0,
        Censor::Above => 1,
    };
    let value = |level: u32| levels.get(level).mg_per_dl;
    order.sort_by(|&a, &b| {
        value(a)
            .total_cmp(&value(b))
            .then_with(|| beyond(a).cmp(&beyond(b)))
    });
    let mut ranks = vec![0u32; order.len()];
    for (rank, &level) in (0u32..).zip(&order) {
        ranks[level as usize] = rank;
    }
    let values: Vec<f64> = order.iter().map(|&level| value(level)).collect();
    let is_beyond: Vec<i8> = order.iter().map(|&level| beyond(level)).collect();
    bounds
        .par_windows(2)
        .map_init(
            || Tally::new(values.len()),
            |tally, stretch| {
                for &level in &readings.level[readings.range(stretch[0], stretch[1])] {
                    if let Some(&rank) = ranks.get(level as usize) {
                        tally.add(rank as usize);
                    }
                }
                let extremes = tally.extremes();
                tally
                    .drain(&values)
                    .zip(extremes)
                    .map(|((percentiles, count), extremes)| {
                        let [p5_mg_dl, p25_mg_dl, p50_mg_dl, p75_mg_dl, p95_mg_dl] = percentiles;
                        let (lowest, highest) = extremes;
                        let (from, to) = (stretch[0], stretch[1]);
                        Spread {
                            from,
                            to,
                            count,
                            lowest_mg_dl: values[lowest],
                            lowest_beyond: is_beyond[lowest] < 0,
                            p5_mg_dl,
                            p25_mg_dl,
                            p50_mg_dl,
                            p75_mg_dl,
                            p95_mg_dl,
                            highest_mg_dl: values[highest],
                            highest_beyond: is_beyond[highest] > 0,
                        }
                    })
            },
        )
        .flatten()
        .collect()
}

/// Counts by rank, with the part in use, so that emptying it costs no more than filling it.
struct Tally {
    counts: Vec<u32>,
    lowest: usize,
    highest: usize,
    total: u32,
}

impl Tally {
    fn new(ranks: usize) -> Self {
        Tally {
            counts: vec![0; ranks],
            lowest: usize::MAX,
            highest: 0,
            total: 0,
        }
    }

    fn add(&mut self, rank: usize) {
        self.counts[rank] += 1;
        self.lowest = self.lowest.min(rank);
        self.highest = self.highest.max(rank);
        self.total += 1;
    }

    /// The lowest and the highest rank counted; `None` when nothing was.
    fn extremes(&self) -> Option<(usize, usize)> {
        (self.total > 0).then_some((self.lowest, self.highest))
    }

    /// The percentiles asked for and the count, then empty again; `None` when nothing was counted.
    fn drain(&mut self, values: &[f64]) -> Option<([f64; 5], u32)> {
        let total = self.total;
        if total == 0 {
            return None;
        }
        let used = self.lowest..self.highest + 1;
        let percentiles =
            SHARES.map(|share| quantile(&self.counts[used.clone()], &values[used.clone()], total, share));
        self.counts[used].fill(0);
        (self.lowest, self.highest, self.total) = (usize::MAX, 0, 0);
        Some((percentiles, total))
    }
}

/// The shares asked for.
const SHARES: [f64; 5] = [0.05, 0.25, 0.5, 0.75, 0.95];

/// Hyndman and Fan's definition 7 over counted values; `values` ascend and `total` is the sum of `counts`, over 0.
fn quantile(counts: &[u32], values: &[f64], total: u32, share: f64) -> f64 {
    let position = f64::from(total - 1) * share;
    let below = position.floor();
    let (mut seen, mut lower) = (0.0, None);
    for (&count, &value) in counts.iter().zip(values) {
        seen += f64::from(count);
        if lower.is_none() && seen > below {
            lower = Some(value);
        }
        if let Some(lower) = lower
            && (seen > below + 1.0 || seen >= f64::from(total))
        {
            return lower + (value - lower) * (position - below);
        }
    }
    lower.unwrap_or(f64::NAN)
}

#[cfg(test)]
mod tests {
    use super::*;
    use interstice_glucose::{Readings, Said};
    use proptest::prelude::*;

    /// Definition 7 by sorting.
    fn by_sorting(values: &[i64], share: f64) -> f64 {
        let mut sorted: Vec<f64> = values.iter().map(|&v| v as f64).collect();
        sorted.sort_by(f64::total_cmp);
        let position = (sorted.len() - 1) as f64 * share;
        let below = position.floor() as usize;
        let above = (below + 1).min(sorted.len() - 1);
        sorted[below] + (sorted[above] - sorted[below]) * (position - position.floor())
    }

    proptest! {
        #[test]
        fn percentiles_are_those_of_the_sorted_values(
            rows in proptest::collection::vec((0u32..1000, 39i64..420), 0..600),
            mut bounds in proptest::collection::vec(-50i64..1100, 0..8),
        ) {
            let (mut readings, mut levels) = (Readings::default(), Levels::new());
            for &(at, value) in &rows {
                readings.push(at, levels.intern(Said::whole_mg_per_dl(value)));
            }
            readings.sort();
            bounds.sort_unstable();
            let found = spreads((&readings).into(), &levels, &bounds);
            let mut expected = 0;
            for stretch in bounds.windows(2) {
                let inside: Vec<i64> = rows.iter()
                    .filter(|&&(at, _)| stretch[0] <= i64::from(at) && i64::from(at) < stretch[1])
                    .map(|&(_, value)| value)
                    .collect();
                if inside.is_empty() {
                    continue;
                }
                let spread = found[expected];
                expected += 1;
                prop_assert_eq!((spread.from, spread.to), (stretch[0], stretch[1]));
                prop_assert_eq!(spread.count as usize, inside.len());
                let extremes = inside.iter().min().zip(inside.iter().max());
                prop_assert_eq!(extremes.map(|(&low, &high)| (low as f64, high as f64)), Some((spread.lowest_mg_dl, spread.highest_mg_dl)));
                let got = [spread.p5_mg_dl, spread.p25_mg_dl, spread.p50_mg_dl, spread.p75_mg_dl, spread.p95_mg_dl];
                for (share, got) in SHARES.into_iter().zip(got) {
                    prop_assert!((got - by_sorting(&inside, share)).abs() < 1e-9);
                }
            }
            prop_assert_eq!(found.len(), expected);
        }
    }

    /// A sensor that cannot say how low: 'below 40' is lower than 40, whichever came first.
    #[test]
    fn readings_beyond_the_sensor_are_the_extremes() {
        let said = |value, censor| Said::new(value, 0, interstice_glucose::Unit::MgPerDl, censor).unwrap();
        let (mut readings, mut levels) = (Readings::default(), Levels::new());
        for (at, value) in [
            (0, said(40, Censor::None)),
            (1, said(40, Censor::Below)),
            (2, said(399, Censor::None)),
        ] {
            readings.push(at, levels.intern(value));
        }
        let of = |from, to| spreads((&readings).into(), &levels, &[from, to])[0];
        assert_eq!((of(0, 3).lowest_beyond, of(0, 3).highest_beyond), (true, false));
        assert_eq!((of(0, 1).lowest_mg_dl, of(0, 1).lowest_beyond), (40.0, false));
    }

    /// Ten values 1…10: numpy.percentile(range(1, 11), [5, 25, 50, 75, 95]) = 1.45, 3.25, 5.5, 7.75, 9.55.
    #[test]
    fn ten_values_as_printed_elsewhere() {
        let (mut readings, mut levels) = (Readings::default(), Levels::new());
        for (at, value) in (0u32..).zip(1..=10) {
            readings.push(at, levels.intern(Said::whole_mg_per_dl(value)));
        }
        let spread = spreads((&readings).into(), &levels, &[0, 10])[0];
        let got = [
            spread.p5_mg_dl,
            spread.p25_mg_dl,
            spread.p50_mg_dl,
            spread.p75_mg_dl,
            spread.p95_mg_dl,
        ];
        for (got, expected) in got.into_iter().zip([1.45, 3.25, 5.5, 7.75, 9.55]) {
            assert!((got - expected).abs() < 1e-12);
        }
    }
}
