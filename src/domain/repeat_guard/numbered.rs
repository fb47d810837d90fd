//! The units of a record with numbers for their codes: a family has a thousand units and many
//! thousand tries, and each pair of them is compared.

use std::collections::HashMap;
use std::hash::Hash;

use super::{Compared, Try, UnitKey, is_same_unit};
use crate::codes::{PositionCode, TaskCode, UnitCode};
use crate::words::Scope;

/// A unit by the numbers of one record.
#[derive(Debug, Clone, Copy)]
pub(super) struct Numbered(Compared<usize, usize, usize>);

impl Numbered {
    /// The same as [`UnitKey::is_the_unit_of`].
    pub fn is_the_unit_of(self, failed: Self, scope: Option<Scope>) -> bool {
        is_same_unit(self.0, failed.0, scope)
    }

    /// Whether it is the same serial at another position, or another serial at the same position:
    /// what a swap or a move sets apart.
    pub fn was_moved_or_swapped(self, other: Self) -> bool {
        let ((_, own, here), (_, unit, stood)) = (self.0, other.0);
        let serial = own.zip(unit).map(|(a, b)| a == b);
        let place = here.zip(stood).map(|(a, b)| a == b);
        serial.zip(place).is_some_and(|(serial, place)| serial != place)
    }
}

/// The numbers of the codes of a record.
#[derive(Debug, Default)]
pub(super) struct Numbers<'a> {
    tasks: HashMap<&'a TaskCode, usize>,
    units: HashMap<&'a UnitCode, usize>,
    positions: HashMap<&'a PositionCode, usize>,
}

impl<'a> Numbers<'a> {
    /// The numbers, and the unit of each try by them.
    pub fn of(tries: &'a [Try]) -> (Self, Vec<Numbered>) {
        fn number<'c, C: Eq + Hash>(all: &mut HashMap<&'c C, usize>, code: &'c C) -> usize {
            let next = all.len();
            *all.entry(code).or_insert(next)
        }
        let mut all = Self::default();
        let units = tries.iter().map(|tried| {
            let unit = &tried.unit;
            Numbered((
                number(&mut all.tasks, &unit.task),
                unit.unit.as_ref().map(|code| number(&mut all.units, code)),
                unit.position.as_ref().map(|code| number(&mut all.positions, code)),
            ))
        });
        let units = units.collect();
        (all, units)
    }

    /// A code that no try of the record has is the same as none of them.
    pub fn unit(&self, unit: &UnitKey) -> Numbered {
        fn number<C: Eq + Hash>(all: &HashMap<&C, usize>, code: &C) -> usize {
            all.get(code).copied().unwrap_or(usize::MAX)
        }
        Numbered((
            number(&self.tasks, &unit.task),
            unit.unit.as_ref().map(|code| number(&self.units, code)),
            unit.position.as_ref().map(|code| number(&self.positions, code)),
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every unit that two tasks, two serials and two positions make, each known or not.
    fn all_units() -> Vec<UnitKey> {
        let code = |name: &str, n: usize| (n > 0).then(|| format!("{name}-{n}"));
        let mut all = Vec::new();
        for task in 1..=2 {
            for unit in 0..=2 {
                for position in 0..=2 {
                    all.push(UnitKey {
                        task: format!("T-{task}").as_str().into(),
                        unit: code("U", unit).map(|code| code.as_str().into()),
                        position: code("P", position).map(|code| code.as_str().into()),
                    });
                }
            }
        }
        all
    }

    #[test]
    fn numbers_compare_as_the_codes_that_they_stand_for() {
        let all = all_units();
        // Codes of the second half are known to no try.
        for known in [all.len() / 2, all.len()] {
            let tries: Vec<Try> = all[..known].iter().map(crate::repeat_guard::tests::on).collect();
            let (numbers, units) = Numbers::of(&tries);
            for one in &all {
                for (tried, &other) in tries.iter().zip(&units) {
                    for scope in [None, Some(Scope::Hardware), Some(Scope::Outside)] {
                        let own = numbers.unit(one);
                        let as_codes = one.is_the_unit_of(&tried.unit, scope);
                        assert_eq!(own.is_the_unit_of(other, scope), as_codes, "{one:?} {tried:?}");
                    }
                }
            }
        }
    }
}
