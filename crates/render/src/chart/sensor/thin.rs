//! Thousands of readings on a few hundred columns: each column keeps its lowest and its highest.

use super::super::axis::Pen;

/// A row of places, left to right; `open` where it is not joined to the one before.
pub(super) struct Places<'a> {
    pub(super) x: &'a [f64],
    pub(super) open: &'a [bool],
}

impl Places<'_> {
    /// Runs of joined places as ranges.
    fn runs(&self) -> Vec<std::ops::Range<usize>> {
        let mut starts: Vec<usize> = (0..self.x.len()).filter(|&i| i == 0 || self.open[i]).collect();
        starts.push(self.x.len());
        starts.windows(2).map(|pair| pair[0]..pair[1]).collect()
    }

    /// Columns of a run as ranges, `wide` units each.
    fn columns(&self, run: std::ops::Range<usize>, wide: f64) -> Vec<std::ops::Range<usize>> {
        let column = |i: usize| (self.x[i] / wide).floor();
        let mut columns = Vec::new();
        let mut start = run.start;
        for i in run.clone() {
            if i + 1 == run.end || column(i + 1) > column(i) {
                columns.push(start..i + 1);
                start = i + 1;
            }
        }
        columns
    }

    /// A line through `y`, nothing of its ups and downs lost.
    pub(super) fn line(&self, y: &[f64], wide: f64) -> String {
        let mut pen = Pen::default();
        for run in self.runs() {
            for (number, column) in self.columns(run, wide).into_iter().enumerate() {
                let by = |a: &usize, b: &usize| y[*a].total_cmp(&y[*b]);
                let (Some(top), Some(bottom)) = (column.clone().min_by(by), column.clone().max_by(by)) else {
                    continue;
                };
                let (first, second) = (top.min(bottom), top.max(bottom));
                if number == 0 {
                    pen.begin(self.x[first], y[first]);
                } else {
                    pen.to(self.x[first], y[first]);
                }
                // A lone reading is a short stroke, or it would not be seen.
                if second != first {
                    pen.to(self.x[second], y[second]);
                } else if number == 0 {
                    pen.to(self.x[first] + 0.4, y[first]);
                }
            }
        }
        pen.into_path()
    }

    /// The band from `top` to `bottom`, each column as wide as its widest.
    pub(super) fn band(&self, top: &[f64], bottom: &[f64], wide: f64) -> String {
        let mut pen = Pen::default();
        for run in self.runs() {
            let columns = self.columns(run, wide);
            let edge = |column: &std::ops::Range<usize>| {
                let x = self.x[column.start];
                let high = top[column.clone()].iter().copied().fold(f64::INFINITY, f64::min);
                let low = bottom[column.clone()]
                    .iter()
                    .copied()
                    .fold(f64::NEG_INFINITY, f64::max);
                (x, high, low)
            };
            let edges: Vec<(f64, f64, f64)> = columns.iter().map(edge).collect();
            for (number, &(x, high, _)) in edges.iter().enumerate() {
                if number == 0 {
                    pen.begin(x, high);
                } else {
                    pen.to(x, high);
                }
            }
            for &(x, _, low) in edges.iter().rev() {
                pen.to(x, low);
            }
            if !edges.is_empty() {
                pen.close();
            }
        }
        pen.into_path()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn extremes_stay_and_gaps_stay_open() {
        let x: Vec<f64> = (0..40).map(|i| f64::from(i) * 0.1).collect();
        let mut y = vec![50.0; 40];
        (y[13], y[17]) = (90.0, 10.0);
        let mut open = vec![false; 40];
        open[30] = true;
        let places = Places { x: &x, open: &open };
        let path = places.line(&y, 1.0);
        assert_eq!(path, "M0 50l.9 0 .4 40 .4-80 .3 40 .9 0M3 50l.9 0");
        let lone = Places {
            x: &x[..1],
            open: &open[..1],
        };
        assert_eq!(lone.line(&y, 1.0), "M0 50l.4 0");
        let (top, bottom) = (vec![40.0; 40], vec![60.0; 40]);
        assert_eq!(
            places.band(&top, &bottom, 1.0),
            "M0 40l1 0 1 0 0 20-1 0-1 0zM3 40l0 20z"
        );
    }
}
