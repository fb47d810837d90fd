//! What must be switched off, locked or vented before work is safe, and how far that is on each
//! excursion.

use crate::cells::{FieldError, Line, Prose};
use crate::codes::{ArrangementCode, ExcursionCode, InhibitCode, Own};
use crate::records::record;
use crate::units::{Minutes, Pet};
use crate::words::ArrangementState;

record! {
    /// Something that must be switched off, locked or vented before the work is safe.
    Inhibit is Inhibit {
        code: Own<InhibitCode> = "Code" also ["inhibit"],
        what: Line = "What" hint "What is switched off, locked or vented.",
        owner: Option<Line> = "Owner" hint "The group or console that does it, never a name.",
        lead: Option<Minutes> = "Lead minutes" also ["lead"] hint "From asking to being in place.",
        cost: Option<Line> = "Cost while on" also ["cost"],
        notes: Prose = "Notes",
    }
}

record! {
    /// How far one inhibit is on one excursion. Without such a record nobody has asked for it.
    Arrangement is Arrangement {
        code: Own<ArrangementCode> = "Code",
        inhibit: InhibitCode = "Inhibit",
        excursion: ExcursionCode = "Excursion",
        state: ArrangementState = "State",
        from_pet: Option<Pet> = "In place from, PET" also ["from"] hint "Empty: from egress on.",
        until_pet: Option<Pet> = "Released at, PET" also ["until"] hint "Empty: it stays until ingress.",
        notes: Prose = "Notes",
    }
}

impl Arrangement {
    /// What contradicts itself.
    pub fn wrong(&self) -> Vec<FieldError> {
        let mut wrong = Vec::new();
        if let (Some(from), Some(until)) = (self.from_pet, self.until_pet)
            && until <= from
        {
            let says = format!("It is in place from {from}; write a later PET, or leave it empty.");
            wrong.push(FieldError::new("until_pet", says));
        }
        if self.state == ArrangementState::Released && self.until_pet.is_none() {
            let says = "Released: write the PET at which it was, or will be, given back.";
            wrong.push(FieldError::new("until_pet", says));
        }
        wrong
    }
}

impl ArrangementState {
    /// What comes next, where anything does.
    pub const fn next(self) -> Option<Self> {
        match self {
            Self::Asked => Some(Self::Arranged),
            Self::Arranged => Some(Self::InPlace),
            Self::InPlace => Some(Self::Released),
            Self::Released => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cells::Cells;
    use crate::records::Record;

    fn wrong(cells: &[(&str, &str)]) -> Vec<String> {
        let mut all = Cells::default();
        for (name, text) in [("inhibit", "IN-1"), ("excursion", "E-37.1")].iter().chain(cells) {
            all.set(*name, *text);
        }
        let errors = Arrangement::parse(&all).unwrap().wrong();
        errors.into_iter().map(|error| error.field.clone()).collect()
    }

    #[test]
    fn it_is_released_after_it_is_in_place_and_at_a_pet() {
        assert!(wrong(&[("state", "asked")]).is_empty());
        assert!(wrong(&[("from_pet", "1:00"), ("until_pet", "2:00")]).is_empty());
        assert_eq!(wrong(&[("from_pet", "2:00"), ("until_pet", "2:00")]), ["until_pet"]);
        assert_eq!(wrong(&[("state", "released")]), ["until_pet"]);
        assert!(wrong(&[("state", "released"), ("until_pet", "2:00")]).is_empty());
    }

    #[test]
    fn it_goes_from_asked_to_released_one_step_at_a_time() {
        let mut state = ArrangementState::Asked;
        let mut steps = vec![state];
        while let Some(next) = state.next() {
            state = next;
            steps.push(state);
        }
        assert_eq!(steps, ArrangementState::ALL);
    }
}
