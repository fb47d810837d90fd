//! The reason that holds along a row of the matrix: it stands once, beside the task, and the cells
//! that it decides say only what differs.

use compute::fit::Part;
use domain::words::{GateName, SlotVerdict};

use crate::linked::{Piece, of_parts};
use app::matrix::MatrixCell;

/// A reason that fewer cells share stands in each of them.
const LEAST: usize = 2;
/// Of the cells that it leaves out so many are named.
const NAMED: usize = 2;

/// A reason with the cells that it decides.
pub(crate) struct Shared {
    gate: GateName,
    verdict: SlotVerdict,
    sentence: String,
    /// On which excursions, then why.
    pub words: Vec<Piece>,
}

impl Shared {
    /// The reason that decides most of these cells, if it decides half of them; each cell with the
    /// code of its excursion.
    pub fn along(cells: &[(&str, &MatrixCell)]) -> Option<Self> {
        let decided = |seen: &MatrixCell| {
            let (gate, parts) = seen.because.as_ref()?;
            Some((*gate, seen.cell.verdict, Part::plain(parts)))
        };
        let keys: Vec<_> = cells.iter().map(|(_, seen)| decided(seen)).collect();
        let shares = |key: &(GateName, SlotVerdict, String)| {
            keys.iter().filter(|other| other.as_ref() == Some(key)).count()
        };
        let most = keys.iter().flatten().max_by_key(|key| shares(key))?.clone();
        let count = shares(&most);
        if count < LEAST || 2 * count < cells.len() {
            return None;
        }
        let of_it = |at: usize| keys[at].as_ref() == Some(&most);
        let named = |of: bool| -> Vec<&str> {
            (0..cells.len()).filter(|at| of_it(*at) == of).map(|at| cells[at].0).collect()
        };
        let others = named(false);
        let on = match others.len() {
            0 => "all".to_owned(),
            1..=NAMED => format!("all but {}", others.join(" and ")),
            _ => named(true).join(", "),
        };
        let at = (0..cells.len()).find(|at| of_it(*at))?;
        let (_, parts) = cells[at].1.because.as_ref()?;
        let (gate, verdict, sentence) = most;
        let mut words = vec![Piece::Words(format!("{on}, {verdict}: "))];
        words.extend(of_parts(parts));
        Some(Self { gate, verdict, sentence, words })
    }

    /// Whether the reason beside the task says why this cell is as it is.
    pub fn decides(&self, seen: &MatrixCell) -> bool {
        seen.cell.verdict == self.verdict
            && seen.because.as_ref().is_some_and(|(gate, parts)| {
                *gate == self.gate && Part::plain(parts) == self.sentence
            })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use compute::fit::Cell;

    fn seen(verdict: SlotVerdict, why: &str) -> MatrixCell {
        let because =
            (!why.is_empty()).then(|| (GateName::Tools, vec![Part::Text(why.to_owned())]));
        let mut cell = Cell::default();
        cell.verdict = verdict;
        MatrixCell { cell, because, left: None }
    }

    fn words(shared: &Shared) -> String {
        shared.words.iter().map(Piece::words).collect()
    }

    #[test]
    fn a_reason_along_a_row_stands_once() {
        let no = seen(SlotVerdict::DoesNotFit, "The spreader comes with G-38.");
        let yes = seen(SlotVerdict::Fits, "");
        let row = [("E-37.1", &no), ("E-37.2", &no), ("E-37.3", &no), ("E-38.1", &yes)];
        let shared = Shared::along(&row).unwrap();
        assert_eq!(words(&shared), "all but E-38.1, does not fit: The spreader comes with G-38.");
        assert!(shared.decides(&no) && !shared.decides(&yes));
        let all = [("E-37.1", &no), ("E-37.2", &no)];
        assert!(words(&Shared::along(&all).unwrap()).starts_with("all, does not fit: "));
    }

    #[test]
    fn reasons_that_differ_stay_in_their_cells() {
        let one = seen(SlotVerdict::Tight, "0:10 short.");
        let two = seen(SlotVerdict::Tight, "0:20 short.");
        let yes = seen(SlotVerdict::Fits, "");
        assert!(Shared::along(&[("E-1", &one), ("E-2", &two), ("E-3", &yes)]).is_none());
        assert!(
            Shared::along(&[("E-1", &yes), ("E-2", &yes)]).is_none(),
            "nothing stands against it"
        );
        assert!(Shared::along(&[]).is_none());
    }
}
