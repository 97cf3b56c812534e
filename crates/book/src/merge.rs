//! One truth from several sources: of the readings told for one instant, the first stands.

use interstice_glucose::Said;

/// What a reading is, beside those told before it for the same instant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Verdict {
    /// The first for its instant: it stands.
    Stands,
    /// It agrees with one told before.
    AlreadyThere,
    /// It agrees with none told before: kept, counted and listed, but not standing.
    Conflict,
}

/// A reading with whatever its caller needs to know it by.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Told<S> {
    pub(crate) at: u32,
    pub(crate) said: Said,
    pub(crate) source: S,
}

/// Judges rows that are in time order, those of one instant in order of precedence. `tell` gets each row, the one
/// standing for its instant, and the verdict.
pub(crate) fn judge<S>(rows: &[Told<S>], mut tell: impl FnMut(&Told<S>, &Told<S>, Verdict)) {
    let mut known: Vec<Said> = Vec::new();
    for instant in rows.chunk_by(|a, b| a.at == b.at) {
        let standing = &instant[0];
        tell(standing, standing, Verdict::Stands);
        known.clear();
        known.push(standing.said);
        for row in &instant[1..] {
            if known.iter().any(|said| said.agrees_with(row.said)) {
                tell(row, standing, Verdict::AlreadyThere);
            } else {
                known.push(row.said);
                tell(row, standing, Verdict::Conflict);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn first_stands_equal_is_known_other_conflicts_once() {
        let rows: Vec<Told<()>> = [(10, 100), (10, 100), (10, 120), (10, 120), (20, 90)]
            .map(|(at, mg)| Told {
                at,
                said: Said::whole_mg_per_dl(mg),
                source: (),
            })
            .to_vec();
        let mut verdicts = Vec::new();
        judge(&rows, |_, _, verdict| verdicts.push(verdict));
        use Verdict::{AlreadyThere, Conflict, Stands};
        assert_eq!(verdicts, [Stands, AlreadyThere, Conflict, AlreadyThere, Stands]);
    }
}
