//! The rows of a nested model reduced to sums, and the generalised least squares that they allow.

use std::collections::BTreeMap;

use nalgebra::{Cholesky, DMatrix, DVector, Dyn};

/// A column of the fixed part is taken for a combination of those before it where less than this share of its length is
/// its own: beyond rounding, and far below anything logged.
const OWN_SHARE: f64 = 1e-7;

/// Why a model cannot be fitted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum MixedError {
    /// Columns of unequal length, or no column.
    #[error("the columns of the model are not of one length")]
    Ragged,
    /// A value that is not a number.
    #[error("a value of the model is not finite")]
    NotFinite,
    /// A column is a combination of those before it.
    #[error("column {column} says nothing that the columns before it do not say")]
    Aliased {
        /// Its place.
        column: usize,
    },
    /// Groups with one row each, or fewer groups than the fixed part needs.
    #[error("{rows} rows in {groups} groups are too few to tell groups from rows")]
    TooFew {
        /// Rows there are.
        rows: usize,
        /// Outer groups there are.
        groups: usize,
    },
    /// The fixed part explains every row.
    #[error("nothing is left over from which a spread could be estimated")]
    NoSpread,
}

/// The rows of a nested model, reduced to sums by group.
#[derive(Clone, Debug)]
pub struct Nested {
    /// Columns of the fixed part.
    pub(super) columns: usize,
    pub(super) rows: usize,
    pub(super) clusters: Vec<Cluster>,
    /// Whether inner groups are a step of their own.
    pub(super) has_inner: bool,
}

/// An outer group: products and sums of the columns of the fixed part and, last, of y.
#[derive(Clone, Debug)]
pub(super) struct Cluster {
    /// Its number in the input.
    pub(super) number: u32,
    pub(super) gram: DMatrix<f64>,
    pub(super) cells: Vec<Cell>,
}

/// An inner group.
#[derive(Clone, Debug)]
pub(super) struct Cell {
    pub(super) rows: f64,
    pub(super) sums: DVector<f64>,
}

/// Variances of the outer and inner groups as multiples of that of the rows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Ratios {
    pub(super) outer: f64,
    pub(super) inner: f64,
}

/// Generalised least squares at given ratios, H being the covariance of y over the variance of a row.
#[derive(Clone, Debug)]
pub(super) struct Solved {
    /// Cholesky factor of X' H⁻¹ X.
    pub(super) factor: Cholesky<f64, Dyn>,
    pub(super) fixed: DVector<f64>,
    /// (y - X β)' H⁻¹ (y - X β).
    pub(super) left: f64,
    /// log |H| + log |X' H⁻¹ X|.
    pub(super) log_determinants: f64,
}

/// An outer group at given ratios: what H⁻¹ makes of its sums.
pub(super) struct Weighed {
    /// 1' H⁻¹ 1 over the group.
    pub(super) outer: f64,
    /// 1' H⁻¹ [X y] over the group.
    pub(super) outer_sums: DVector<f64>,
    /// Cell by cell: 1' H⁻¹ 1 over the cell before the outer step, and 1' H⁻¹ [X y] after it.
    pub(super) cells: Vec<(f64, DVector<f64>)>,
    /// What the outer step takes from the product of two cells' weights.
    pub(super) shared: f64,
    /// 1 + ratio times weight, before the outer step.
    pub(super) spread: f64,
}

impl Nested {
    /// Reduces rows to sums.
    ///
    /// * `x`: columns of the fixed part, the constant among them.
    /// * `y`: what is explained.
    /// * `outer`: number of the outer group of each row.
    /// * `inner`: number of the inner group; equal numbers in different outer groups are different groups. `None` for a
    ///   model of one step. Inner groups that cannot be told from the outer ones or from single rows are left out.
    ///
    /// # Errors
    /// Columns that do not fit together, an aliased column, or too few rows or groups.
    pub fn new(x: &[&[f64]], y: &[f64], outer: &[u32], inner: Option<&[u32]>) -> Result<Self, MixedError> {
        check_columns(x, y, outer, inner)?;
        check_aliases(x)?;
        let mut places: BTreeMap<u32, BTreeMap<u32, Vec<usize>>> = BTreeMap::new();
        for (row, &group) in outer.iter().enumerate() {
            let cell = inner.map_or(0, |inner| inner[row]);
            places
                .entry(group)
                .or_default()
                .entry(cell)
                .or_default()
                .push(row);
        }
        let clusters: Vec<Cluster> = places
            .iter()
            .map(|(&number, cells)| cluster(number, cells, x, y))
            .collect();
        let divided = clusters.iter().any(|cluster| cluster.cells.len() > 1);
        let repeated = clusters.iter().flat_map(|c| &c.cells).any(|cell| cell.rows > 1.5);
        let nested = Nested {
            columns: x.len(),
            rows: y.len(),
            has_inner: inner.is_some() && divided && repeated,
            clusters,
        };
        nested.check_enough()?;
        Ok(nested)
    }

    /// Rows there are.
    pub fn rows(&self) -> usize {
        self.rows
    }

    /// Outer groups there are.
    pub fn groups(&self) -> usize {
        self.clusters.len()
    }

    /// Something must be left over both within the outer groups and in all.
    fn check_enough(&self) -> Result<(), MixedError> {
        let too_few = MixedError::TooFew {
            rows: self.rows,
            groups: self.clusters.len(),
        };
        if self.clusters.len() < 2 || self.rows < self.columns + 2 {
            return Err(too_few);
        }
        let repeated = self.clusters.iter().any(|cluster| cluster.rows() > 1.5);
        if !repeated {
            return Err(too_few);
        }
        let alone = self
            .solve(Ratios {
                outer: 0.0,
                inner: 0.0,
            })
            .ok_or(MixedError::NoSpread)?;
        let size: f64 = self
            .clusters
            .iter()
            .map(|cluster| cluster.gram[(self.columns, self.columns)])
            .sum();
        if alone.left <= 1e-12 * size {
            return Err(MixedError::NoSpread);
        }
        Ok(())
    }

    /// Degrees of freedom of the rows.
    pub(super) fn freedom(&self) -> f64 {
        (self.rows - self.columns) as f64
    }

    /// Generalised least squares; `None` where H is not a covariance, or X' H⁻¹ X cannot be inverted.
    pub(super) fn solve(&self, ratios: Ratios) -> Option<Solved> {
        let p = self.columns;
        let mut gram = DMatrix::zeros(p + 1, p + 1);
        let mut log_h = 0.0;
        for cluster in &self.clusters {
            log_h += cluster.add_weighed(ratios, self.has_inner, &mut gram)?;
        }
        let factor = Cholesky::new(gram.view((0, 0), (p, p)).into_owned())?;
        let to_y = gram.view((0, p), (p, 1)).column(0).into_owned();
        let fixed = factor.solve(&to_y);
        let left = gram[(p, p)] - fixed.dot(&to_y);
        let log_x: f64 = (0..p).map(|i| libm::log(factor.l_dirty()[(i, i)])).sum();
        (left.is_finite() && left > 0.0).then_some(Solved {
            factor,
            fixed,
            left,
            log_determinants: log_h + 2.0 * log_x,
        })
    }
}

impl Cluster {
    fn rows(&self) -> f64 {
        self.cells.iter().map(|cell| cell.rows).sum()
    }

    /// Adds [X y]' H⁻¹ [X y] of this group; log |H| of it. `None` where H is not a covariance.
    fn add_weighed(&self, ratios: Ratios, has_inner: bool, gram: &mut DMatrix<f64>) -> Option<f64> {
        *gram += &self.gram;
        let weighed = self.weigh(ratios, has_inner)?;
        let inner = if has_inner { ratios.inner } else { 0.0 };
        let mut log_h = libm::log(weighed.spread);
        for cell in &self.cells {
            let spread = 1.0 + inner * cell.rows;
            log_h += libm::log(spread);
            gram.ger(-inner / spread, &cell.sums, &cell.sums, 1.0);
        }
        // Before the outer step the sums were larger by its spread.
        let taken = ratios.outer * weighed.spread;
        gram.ger(-taken, &weighed.outer_sums, &weighed.outer_sums, 1.0);
        Some(log_h)
    }

    /// What H⁻¹ makes of the sums: the inner step cell by cell, then the outer one, each by the formula of Sherman and
    /// Morrison.
    pub(super) fn weigh(&self, ratios: Ratios, has_inner: bool) -> Option<Weighed> {
        let inner = if has_inner { ratios.inner } else { 0.0 };
        let mut weight = 0.0;
        let mut sums = DVector::zeros(self.gram.nrows());
        let mut cells = Vec::with_capacity(self.cells.len());
        for cell in &self.cells {
            let spread = 1.0 + inner * cell.rows;
            if spread <= 0.0 {
                return None;
            }
            weight += cell.rows / spread;
            sums += &cell.sums / spread;
            cells.push((cell.rows / spread, &cell.sums / spread));
        }
        let spread = 1.0 + ratios.outer * weight;
        if spread <= 0.0 {
            return None;
        }
        let shared = ratios.outer / spread;
        for (cell_weight, cell_sums) in &mut cells {
            cell_sums.axpy(-shared * *cell_weight, &sums, 1.0);
        }
        Some(Weighed {
            outer: weight / spread,
            outer_sums: sums / spread,
            cells,
            shared,
            spread,
        })
    }
}

fn cluster(number: u32, cells: &BTreeMap<u32, Vec<usize>>, x: &[&[f64]], y: &[f64]) -> Cluster {
    let size = x.len() + 1;
    let mut gram = DMatrix::zeros(size, size);
    let mut reduced = Vec::with_capacity(cells.len());
    for rows in cells.values() {
        let mut sums = DVector::zeros(size);
        for &row in rows {
            let values = DVector::from_fn(size, |i, _| x.get(i).map_or(y[row], |column| column[row]));
            gram.ger(1.0, &values, &values, 1.0);
            sums += values;
        }
        reduced.push(Cell {
            rows: rows.len() as f64,
            sums,
        });
    }
    Cluster {
        number,
        gram,
        cells: reduced,
    }
}

fn check_columns(x: &[&[f64]], y: &[f64], outer: &[u32], inner: Option<&[u32]>) -> Result<(), MixedError> {
    let fits = |length: usize| length == y.len();
    let ragged = x.is_empty()
        || !fits(outer.len())
        || x.iter().any(|column| !fits(column.len()))
        || inner.is_some_and(|inner| !fits(inner.len()));
    if ragged {
        return Err(MixedError::Ragged);
    }
    let finite = |column: &[f64]| column.iter().all(|value| value.is_finite());
    if !finite(y) || !x.iter().all(|column| finite(column)) {
        return Err(MixedError::NotFinite);
    }
    Ok(())
}

/// Takes from each column what the ones before it explain.
fn check_aliases(x: &[&[f64]]) -> Result<(), MixedError> {
    let mut own: Vec<DVector<f64>> = Vec::with_capacity(x.len());
    for (place, column) in x.iter().enumerate() {
        let mut rest = DVector::from_column_slice(column);
        let length = rest.norm();
        // Twice, since the first pass leaves rounding where little remains.
        for _ in 0..2 {
            for direction in &own {
                let along = direction.dot(&rest);
                rest.axpy(-along, direction, 1.0);
            }
        }
        let left = rest.norm();
        if left <= OWN_SHARE * length || length <= 0.0 {
            return Err(MixedError::Aliased { column: place });
        }
        own.push(rest / left);
    }
    Ok(())
}
