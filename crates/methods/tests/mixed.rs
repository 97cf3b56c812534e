//! Mixed models against printed fits, two other implementations (`checks/mixed.py`), and designs where exact tests are
//! known.

#![expect(
    clippy::unwrap_used,
    reason = "a test that cannot read its own data must stop"
)]

use std::collections::BTreeMap;

use interstice_methods::mixed::{Bounds, Fit, Freedom, MixedError, Nested};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// The other implementation inverts whole covariance matrices and is polished to rounding.
const NEAR: f64 = 1e-6;

#[derive(Default)]
struct Set {
    outer: Vec<u32>,
    inner: Vec<u32>,
    x1: Vec<f64>,
    x2: Vec<f64>,
    y: Vec<f64>,
}

impl Set {
    fn nested(&self) -> Nested {
        let constant = vec![1.0; self.y.len()];
        let mut x: Vec<&[f64]> = vec![&constant];
        let optional = [&self.x1, &self.x2];
        x.extend(
            optional
                .into_iter()
                .filter(|column| !column.is_empty())
                .map(Vec::as_slice),
        );
        let inner = (!self.inner.is_empty()).then_some(self.inner.as_slice());
        Nested::new(&x, &self.y, &self.outer, inner).unwrap()
    }
}

fn table(name: &str) -> Vec<csv::StringRecord> {
    let path = format!("{}/../../testdata/methods/{name}.csv", env!("CARGO_MANIFEST_DIR"));
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_path(path)
        .unwrap();
    reader.records().map(Result::unwrap).collect()
}

fn sets() -> BTreeMap<String, Set> {
    let mut sets: BTreeMap<String, Set> = BTreeMap::new();
    for row in table("mixed_rows") {
        let set = sets.entry(row[0].to_owned()).or_default();
        set.outer.push(row[1].parse().unwrap());
        set.inner.extend(row[2].parse::<u32>());
        set.x1.extend(row[3].parse::<f64>());
        set.x2.extend(row[4].parse::<f64>());
        set.y.push(row[5].parse().unwrap());
    }
    sets
}

/// One figure of a fit, by its name in the file.
fn figure(fit: &Fit<'_>, name: &str) -> f64 {
    let numbered = |prefix: &str| {
        name.strip_prefix(prefix)
            .and_then(|rest| rest.parse::<usize>().ok())
    };
    let contrast = |k: usize, freedom| {
        let weights: Vec<f64> = (0..fit.fixed().len())
            .map(|i| f64::from(u8::from(i == k)))
            .collect();
        fit.contrast(&weights, freedom).unwrap()
    };
    if let Some(k) = numbered("fixed") {
        return fit.fixed()[k];
    }
    if let Some(k) = numbered("se") {
        return contrast(k, Freedom::Satterthwaite).standard_error;
    }
    if let Some(k) = numbered("kr_se") {
        return contrast(k, Freedom::KenwardRoger).standard_error;
    }
    if let Some(k) = numbered("freedom") {
        return contrast(k, Freedom::KenwardRoger).freedom;
    }
    let prediction = |group: usize| {
        let of_group = |p: &interstice_methods::mixed::Prediction| p.group as usize == group;
        fit.predictions().into_iter().find(of_group).unwrap()
    };
    if let Some(group) = numbered("shift_se") {
        return prediction(group).standard_error;
    }
    if let Some(group) = numbered("shift") {
        return prediction(group).shift;
    }
    match name {
        "row_variance" => fit.row_variance(),
        "outer_variance" => fit.outer_variance(),
        "inner_variance" => fit.inner_variance(),
        "minus_twice_log_likelihood" => fit.minus_twice_log_likelihood(),
        other => panic!("{other} is not a figure of a fit"),
    }
}

/// Every figure of every set, books, real differences and invented rows, with both bounds.
#[test]
fn fits_are_those_of_other_implementations() {
    let expected = table("mixed_expected");
    let mut compared = 0;
    for (name, set) in sets() {
        let nested = set.nested();
        let mean = set.y.iter().sum::<f64>() / set.y.len() as f64;
        let spread = set.y.iter().map(|y| (y - mean) * (y - mean)).sum::<f64>() / set.y.len() as f64;
        for (bounds, word) in [(Bounds::NotNegative, "not_negative"), (Bounds::Free, "free")] {
            let fit = nested.fit(bounds).unwrap();
            let of_set = |row: &&csv::StringRecord| row[0] == name && &row[1] == word;
            for row in expected.iter().filter(of_set) {
                let want: f64 = row[3].parse().unwrap();
                let got = figure(&fit, &row[2]);
                let scale = want.abs().max(1e-3 * spread.sqrt());
                assert!(
                    (got - want).abs() <= NEAR * scale,
                    "{name}, {word}, {}: {got}, {want} expected",
                    &row[2]
                );
                compared += 1;
            }
        }
    }
    assert!(compared > 400, "{compared}");
}

/// A column of random numbers of a normal distribution, by sums of twelve even ones less six (exact enough here).
fn normals(random: &mut ChaCha8Rng, count: usize) -> Vec<f64> {
    let even = |random: &mut ChaCha8Rng| (random.next_u64() >> 11) as f64 / (1u64 << 53) as f64;
    (0..count)
        .map(|_| (0..12).map(|_| even(random)).sum::<f64>() - 6.0)
        .collect()
}

/// Groups of equal size in two kinds: the exact test is Student's two-sample t on the group means, at groups - 2
/// degrees of freedom; also where the variance between groups would be negative.
#[test]
fn equal_groups_give_the_two_sample_t_test() {
    let mut below_zero = 0;
    for seed in 0..40 {
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        let (groups, rows) = (4 + (seed as usize % 5), 6);
        let shift = normals(&mut random, groups);
        let kind = |group: usize| f64::from(u8::from(group % 2 == 1));
        let noise = normals(&mut random, groups * rows);
        let outer: Vec<u32> = (0..groups * rows).map(|i| (i / rows) as u32).collect();
        let x: Vec<f64> = outer.iter().map(|&group| kind(group as usize)).collect();
        let y: Vec<f64> = (0..groups * rows)
            .map(|i| 0.4 * shift[i / rows] + 3.0 * noise[i])
            .collect();
        let constant = vec![1.0; y.len()];
        let nested = Nested::new(&[&constant, &x], &y, &outer, None).unwrap();
        let fit = nested.fit(Bounds::Free).unwrap();
        below_zero += u32::from(fit.outer_variance() < 0.0);
        let got = fit.contrast(&[0.0, 1.0], Freedom::KenwardRoger).unwrap();

        let means: Vec<f64> = y
            .chunks(rows)
            .map(|rows| rows.iter().sum::<f64>() / rows.len() as f64)
            .collect();
        let side = |odd: bool| -> Vec<f64> {
            let of_side = means
                .iter()
                .enumerate()
                .filter(|(group, _)| (group % 2 == 1) == odd);
            of_side.map(|(_, &mean)| mean).collect()
        };
        let (a, b) = (side(false), side(true));
        let mean = |v: &[f64]| v.iter().sum::<f64>() / v.len() as f64;
        let squares = |v: &[f64]| v.iter().map(|x| (x - mean(v)) * (x - mean(v))).sum::<f64>();
        let freedom = (groups - 2) as f64;
        let pooled = (squares(&a) + squares(&b)) / freedom;
        let error = (pooled * (1.0 / a.len() as f64 + 1.0 / b.len() as f64)).sqrt();
        for (got, want) in [
            (got.estimate, mean(&b) - mean(&a)),
            (got.standard_error, error),
            (got.freedom, freedom),
        ] {
            assert!(
                (got - want).abs() < 1e-6 * want.abs().max(1.0),
                "seed {seed}: {got} {want}"
            );
        }
    }
    assert!(
        below_zero > 5,
        "the case of a negative variance was met {below_zero} times"
    );
}

/// What is asked varies within every group, once a cell: the exact test is the paired t, at groups - 1 degrees of freedom.
#[test]
fn equal_cells_give_the_paired_t_test() {
    for seed in 0..40 {
        let mut random = ChaCha8Rng::seed_from_u64(1000 + seed);
        let (groups, rows) = (4 + (seed as usize % 5), 5);
        let shift = normals(&mut random, groups);
        let own = normals(&mut random, 2 * groups);
        let noise = normals(&mut random, 2 * groups * rows);
        let count = 2 * groups * rows;
        let outer: Vec<u32> = (0..count).map(|i| (i / (2 * rows)) as u32).collect();
        let inner: Vec<u32> = (0..count).map(|i| (i / rows % 2) as u32).collect();
        let x: Vec<f64> = inner.iter().map(|&level| f64::from(level)).collect();
        let y: Vec<f64> = (0..count)
            .map(|i| 2.0 * shift[i / (2 * rows)] + 0.7 * own[i / rows] + 2.0 * noise[i])
            .collect();
        let constant = vec![1.0; count];
        let nested = Nested::new(&[&constant, &x], &y, &outer, Some(&inner)).unwrap();
        let fit = nested.fit(Bounds::Free).unwrap();
        let got = fit.contrast(&[0.0, 1.0], Freedom::KenwardRoger).unwrap();

        let means: Vec<f64> = y
            .chunks(rows)
            .map(|rows| rows.iter().sum::<f64>() / rows.len() as f64)
            .collect();
        let differences: Vec<f64> = means.chunks(2).map(|pair| pair[1] - pair[0]).collect();
        let n = groups as f64;
        let mean = differences.iter().sum::<f64>() / n;
        let variance = differences.iter().map(|d| (d - mean) * (d - mean)).sum::<f64>() / (n - 1.0);
        for (got, want) in [
            (got.estimate, mean),
            (got.standard_error, (variance / n).sqrt()),
            (got.freedom, n - 1.0),
        ] {
            assert!(
                (got - want).abs() < 1e-5 * want.abs().max(1.0),
                "seed {seed}: {got} {want}"
            );
        }
    }
}

#[test]
fn what_cannot_be_fitted_says_why() {
    let constant = [1.0; 6];
    let y = [1.0, 2.0, 4.0, 3.0, 7.0, 5.0];
    let pairs = [0, 0, 1, 1, 2, 2];
    let twice = [2.0; 6];
    let refused = |x: &[&[f64]], y: &[f64], outer: &[u32]| Nested::new(x, y, outer, None).unwrap_err();
    assert_eq!(
        refused(&[&constant, &twice], &y, &pairs),
        MixedError::Aliased { column: 1 }
    );
    assert_eq!(refused(&[&constant], &y, &pairs[..5]), MixedError::Ragged);
    assert_eq!(
        refused(&[&constant], &[f64::NAN; 6], &pairs),
        MixedError::NotFinite
    );
    assert_eq!(refused(&[&constant], &[5.0; 6], &pairs), MixedError::NoSpread);
    let alone = MixedError::TooFew { rows: 6, groups: 6 };
    assert_eq!(refused(&[&constant], &y, &[0, 1, 2, 3, 4, 5]), alone);
    let one = MixedError::TooFew { rows: 6, groups: 1 };
    assert_eq!(refused(&[&constant], &y, &[3; 6]), one);
}

/// With the variances all but known (many groups of many rows), the level of a group is its best linear unbiased
/// prediction, and the interval its standard error on both sides.
#[test]
fn levels_are_predictions_where_groups_are_many() {
    let mut random = ChaCha8Rng::seed_from_u64(7);
    let (groups, rows) = (60, 8);
    let shift = normals(&mut random, groups);
    let noise = normals(&mut random, groups * rows);
    let outer: Vec<u32> = (0..groups * rows).map(|i| (i / rows) as u32).collect();
    let y: Vec<f64> = (0..groups * rows)
        .map(|i| 10.0 + shift[i / rows] + 2.0 * noise[i])
        .collect();
    let constant = vec![1.0; y.len()];
    let nested = Nested::new(&[&constant], &y, &outer, None).unwrap();
    let fit = nested.fit(Bounds::NotNegative).unwrap();
    let levels = nested.shrunken(&[1.0], 0.95);
    assert_eq!(levels.len(), groups);
    for (level, prediction) in levels.iter().zip(fit.predictions()) {
        let plain = fit.fixed()[0] + prediction.shift;
        assert!((level.level - plain).abs() < 0.1, "{} {plain}", level.level);
        let half = 0.5 * (level.interval.hi - level.interval.lo);
        assert!((half / (1.96 * prediction.standard_error) - 1.0).abs() < 0.15);
        assert!(level.interval.lo < level.level && level.level < level.interval.hi);
    }
}
