//! The records of families that were read last, for the pages that follow: a large family has thousands
//! of tries, and most pages of a day are drawn from a record that nobody changed since the last one.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use super::FamilyRecord;
use domain::codes::FamilyCode;
use store::forms::State;

/// So many tries are kept, some 30 MB of them.
const MAX_KEPT: usize = 50_000;

#[derive(Default)]
struct Kept {
    state: Option<State>,
    tries: usize,
    families: HashMap<FamilyCode, Arc<FamilyRecord>>,
}

/// One for the whole process, which serves one file; what belongs to another state gives way.
static KEPT: Mutex<Option<Kept>> = Mutex::new(None);

/// Those of these families that are known in this very state.
pub(super) fn of(state: &State, families: &[FamilyCode]) -> HashMap<FamilyCode, Arc<FamilyRecord>> {
    let kept = KEPT.lock().unwrap_or_else(PoisonError::into_inner);
    kept.as_ref().map_or_else(HashMap::new, |kept| kept.of(state, families))
}

/// Keeps what was read in a state.
pub(super) fn keep(state: State, families: &HashMap<FamilyCode, Arc<FamilyRecord>>) {
    let mut kept = KEPT.lock().unwrap_or_else(PoisonError::into_inner);
    kept.get_or_insert_default().keep(state, families);
}

impl Kept {
    fn of(&self, state: &State, families: &[FamilyCode]) -> HashMap<FamilyCode, Arc<FamilyRecord>> {
        if self.state.as_ref() != Some(state) {
            return HashMap::new();
        }
        let known = |family: &FamilyCode| {
            self.families.get(family).map(|record| (family.clone(), Arc::clone(record)))
        };
        families.iter().filter_map(known).collect()
    }

    fn keep(&mut self, state: State, families: &HashMap<FamilyCode, Arc<FamilyRecord>>) {
        if self.state.as_ref().is_some_and(|known| known.is_after(&state)) {
            // A page that began before the last save ends after it.
            return;
        }
        if self.state.as_ref() != Some(&state) {
            *self = Self { state: Some(state), ..Self::default() };
        }
        for (family, record) in families {
            if self.families.contains_key(family) || record.tries.len() > MAX_KEPT {
                continue;
            }
            if self.tries + record.tries.len() > MAX_KEPT {
                self.families.clear();
                self.tries = 0;
            }
            self.tries += record.tries.len();
            self.families.insert(family.clone(), Arc::clone(record));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use domain::history::{Phase, When};
    use domain::repeat_guard::{Account, Approach, Try, UnitKey};
    use domain::words::Outcome;

    fn state(version: i64) -> State {
        State { file: "a".to_owned(), version }
    }

    fn families(codes: &[&str], tries: usize) -> HashMap<FamilyCode, Arc<FamilyRecord>> {
        let one = Try {
            attempt: "A-1".into(),
            unit: UnitKey::default(),
            approach: Approach::default(),
            revision: None,
            when: When::on(1, None, Phase::During, 1),
            account: Account {
                outcome: Outcome::Done,
                added: None,
                planned: None,
                scope: None,
                time_ran_out: false,
                minutes: None,
                cut_off: None,
            },
        };
        let record = FamilyRecord { tries: vec![one; tries], ..FamilyRecord::default() };
        codes.iter().map(|code| ((*code).into(), Arc::new(record.clone()))).collect()
    }

    #[test]
    fn what_was_read_is_known_in_that_state_alone() {
        let mut kept = Kept::default();
        kept.keep(state(3), &families(&["F-1"], 2));
        let asked: [FamilyCode; 2] = ["F-1".into(), "F-2".into()];
        assert_eq!(kept.of(&state(3), &asked).len(), 1);
        assert!(kept.of(&state(4), &asked).is_empty());
        assert!(kept.of(&State { file: "b".to_owned(), version: 3 }, &asked).is_empty());
        kept.keep(state(4), &families(&["F-2"], 2));
        assert!(kept.of(&state(4), &asked[..1]).is_empty(), "it was read before the last save");
        kept.keep(state(3), &families(&["F-1"], 2));
        assert_eq!(kept.of(&state(4), &asked).len(), 1, "an older page does not turn it back");
    }

    #[test]
    fn no_more_is_kept_than_the_bound() {
        let mut kept = Kept::default();
        for code in ["F-1", "F-2", "F-3"] {
            kept.keep(state(1), &families(&[code], MAX_KEPT / 2));
            assert!(kept.tries <= MAX_KEPT);
        }
        assert_eq!(kept.of(&state(1), &["F-3".into()]).len(), 1);
        kept.keep(state(1), &families(&["F-4"], MAX_KEPT + 1));
        assert!(kept.of(&state(1), &["F-4".into()]).is_empty());
    }
}
