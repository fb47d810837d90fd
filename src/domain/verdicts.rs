//! The verdict of a candidate slot from its checks, which verdict may be set, and which checks
//! changed between two times.

use crate::time::Day;
use crate::units::Share;
use crate::words::{GateName, GateVerdict, SlotVerdict};

/// The worst check decides: `does not fit`, then `cannot tell`, then `tight`, else `fits`. A note
/// counts as met. What is not checked does not count; with nothing checked at all, the verdict is
/// `cannot tell`.
pub fn slot_verdict(gates: impl IntoIterator<Item = GateVerdict>) -> SlotVerdict {
    gates
        .into_iter()
        .filter_map(|gate| match gate {
            GateVerdict::Met | GateVerdict::Note => Some(SlotVerdict::Fits),
            GateVerdict::Tight => Some(SlotVerdict::Tight),
            GateVerdict::CannotTell => Some(SlotVerdict::CannotTell),
            GateVerdict::NotMet => Some(SlotVerdict::DoesNotFit),
            GateVerdict::NotChecked => None,
        })
        .max_by_key(|verdict| badness(*verdict))
        .unwrap_or(SlotVerdict::CannotTell)
}

/// From 0, the best, upwards.
pub const fn badness(verdict: SlotVerdict) -> u8 {
    match verdict {
        SlotVerdict::Fits => 0,
        SlotVerdict::Tight => 1,
        SlotVerdict::CannotTell => 2,
        SlotVerdict::DoesNotFit => 3,
    }
}

/// The weight of a check's verdict among others: the heavier one counts.
pub const fn weight(verdict: GateVerdict) -> u8 {
    match verdict {
        GateVerdict::NotChecked => 0,
        GateVerdict::Met => 1,
        GateVerdict::Note => 2,
        GateVerdict::Tight => 3,
        GateVerdict::CannotTell => 4,
        GateVerdict::NotMet => 5,
    }
}

/// Whether the check keeps the slot from being set without a waiver.
pub const fn is_against(verdict: GateVerdict) -> bool {
    match verdict {
        GateVerdict::NotMet | GateVerdict::CannotTell => true,
        GateVerdict::Met | GateVerdict::Note | GateVerdict::Tight | GateVerdict::NotChecked => {
            false
        }
    }
}

/// Whether a check says something else than before. A note that comes or goes is no change, nor is
/// a tight check that is a note now: earlier editions called notes tight. What was not checked
/// before, or is not now, has not changed.
pub const fn has_turned(was: GateVerdict, now: GateVerdict) -> bool {
    use GateVerdict::{Met, NotChecked, Note, Tight};
    match (was, now) {
        (NotChecked, _) | (_, NotChecked) | (Met | Note, Met | Note) | (Tight, Note) => false,
        (was, now) => weight(was) != weight(now),
    }
}

/// Whether a check says something worse than before, be it a note only.
pub const fn is_worse(was: GateVerdict, now: GateVerdict) -> bool {
    !matches!(was, GateVerdict::NotChecked) && weight(now) > weight(was)
}

/// What a check said before, behind its name: `was met`.
pub const fn past(was: GateVerdict) -> &'static str {
    match was {
        GateVerdict::Met => "was met",
        GateVerdict::Note => "was met with a note",
        GateVerdict::Tight => "was tight",
        GateVerdict::NotMet => "was not met",
        GateVerdict::CannotTell => "was unknown",
        GateVerdict::NotChecked => "was not checked",
    }
}

/// What a check says, behind its name: `is met`.
pub const fn present(now: GateVerdict) -> &'static str {
    match now {
        GateVerdict::Met => "is met",
        GateVerdict::Note => "is met with a note",
        GateVerdict::Tight => "is tight",
        GateVerdict::NotMet => "is not met",
        GateVerdict::CannotTell => "is unknown",
        GateVerdict::NotChecked => "is not checked",
    }
}

/// What a check said on a day and what it says now: `The check “time” was met on 2030-11-21 and
/// is unknown now`, its end left to what follows.
pub fn turned_since(gate: GateName, was: GateVerdict, on: Day, now: GateVerdict) -> String {
    format!("The check “{gate}” {} on {on} and {} now", past(was), present(now))
}

/// The gates that keep a slot from being set.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NotToBeSet {
    pub gates: Vec<(GateName, GateVerdict)>,
}

impl std::fmt::Display for NotToBeSet {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let named: Vec<String> =
            self.gates.iter().map(|(gate, verdict)| format!("{gate}: {verdict}")).collect();
        write!(
            f,
            "It cannot be set ({}). It can be pencilled; setting it needs a lead's waiver that names each check.",
            named.join("; ")
        )
    }
}

/// What fits or is tight may be set; every gate that is not met or cannot tell asks for a waiver that
/// names it. Anything may be pencilled.
pub fn may_set(gates: &[(GateName, GateVerdict)], waived: &[GateName]) -> Result<(), NotToBeSet> {
    let gates: Vec<_> = gates
        .iter()
        .copied()
        .filter(|(gate, verdict)| is_against(*verdict) && !waived.contains(gate))
        .collect();
    if gates.is_empty() { Ok(()) } else { Err(NotToBeSet { gates }) }
}

/// The share that one more set slot may plan: what is left, less what other set slots hold. The error
/// says so in a sentence. `None` asks for all of it.
pub fn share_to_set(
    left: Share,
    held_by_others: &[Share],
    wanted: Option<Share>,
) -> Result<Share, String> {
    let held: i64 = held_by_others.iter().map(|share| share.0).sum();
    let free = left.0 - held;
    let wanted = wanted.map_or(free, |share| share.0);
    if free <= 0 {
        Err(format!(
            "Of the {left} that are left, set slots hold all. Move one of them, or plan less there."
        ))
    } else if wanted <= 0 {
        Err("A slot plans at least 1 % of the work.".to_owned())
    } else if wanted > free {
        Err(format!(
            "Only {free} % can be planned here: {left} of the work are left, and other set slots hold {held} %."
        ))
    } else {
        Ok(Share(wanted))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cells::Cell as _;
    use GateVerdict::{CannotTell, Met, NotChecked, NotMet, Note, Tight};

    #[test]
    fn a_check_that_turned_is_told_in_a_sentence() {
        let told =
            |was, now| turned_since(GateName::Time, was, Day::read("2030-11-21").unwrap(), now);
        assert_eq!(
            told(Met, CannotTell),
            "The check “time” was met on 2030-11-21 and is unknown now"
        );
        assert_eq!(
            told(Tight, NotMet),
            "The check “time” was tight on 2030-11-21 and is not met now"
        );
        assert_eq!(
            told(CannotTell, Note),
            "The check “time” was unknown on 2030-11-21 and is met with a note now"
        );
        assert_eq!(told(NotMet, Met), "The check “time” was not met on 2030-11-21 and is met now");
        // No word of a list that is no word after "was" or "is".
        for was in GateVerdict::ALL {
            for now in GateVerdict::ALL {
                let told = told(*was, *now);
                for odd in ["cannot tell", "was note", "is note", "was cannot", "is cannot"] {
                    assert!(!told.contains(odd), "{told}");
                }
            }
        }
    }

    #[test]
    fn a_note_never_changes_the_verdict_of_the_slot() {
        for other in GateVerdict::ALL.iter().filter(|other| **other != NotChecked) {
            assert_eq!(slot_verdict([Note, *other]), slot_verdict([Met, *other]), "{other}");
        }
        assert_eq!(slot_verdict([Note]), SlotVerdict::Fits);
        assert_eq!(may_set(&[(GateName::Tools, Note)], &[]), Ok(()));
    }

    #[test]
    fn a_note_that_comes_or_goes_is_no_change() {
        for (was, now) in [(Met, Note), (Note, Met), (Tight, Note), (NotChecked, NotMet)] {
            assert!(!has_turned(was, now), "{was} {now}");
        }
        for (was, now) in [(Met, Tight), (Note, Tight), (Tight, Met), (Note, NotMet)] {
            assert!(has_turned(was, now), "{was} {now}");
        }
    }

    #[test]
    fn the_worst_gate_decides() {
        assert_eq!(slot_verdict([Met, Met]), SlotVerdict::Fits);
        assert_eq!(slot_verdict([Met, Tight]), SlotVerdict::Tight);
        assert_eq!(slot_verdict([CannotTell, Tight, Met]), SlotVerdict::CannotTell);
        assert_eq!(slot_verdict([CannotTell, NotMet, Tight]), SlotVerdict::DoesNotFit);
    }

    #[test]
    fn a_gate_that_is_not_checked_stands_outside_and_is_never_taken_for_met() {
        assert_eq!(slot_verdict([NotChecked, Met]), SlotVerdict::Fits);
        assert_eq!(slot_verdict([NotChecked, NotMet]), SlotVerdict::DoesNotFit);
        assert_eq!(slot_verdict([NotChecked]), SlotVerdict::CannotTell);
        assert_eq!(slot_verdict([]), SlotVerdict::CannotTell);
    }

    #[test]
    fn fits_and_tight_may_be_set() {
        assert_eq!(may_set(&[(GateName::Time, Met), (GateName::Tools, Tight)], &[]), Ok(()));
        assert_eq!(may_set(&[(GateName::Bag, NotChecked), (GateName::Time, Met)], &[]), Ok(()));
    }

    #[test]
    fn a_waiver_lifts_only_the_gate_that_it_names() {
        let gates = [(GateName::Approach, NotMet), (GateName::Time, CannotTell)];

        let refused = may_set(&gates, &[GateName::Approach]).unwrap_err();

        assert_eq!(refused.gates, [(GateName::Time, CannotTell)]);
        assert!(refused.to_string().contains("time: cannot tell"), "{refused}");
        assert_eq!(may_set(&gates, &[GateName::Approach, GateName::Time]), Ok(()));
        assert_eq!(may_set(&gates, &[]).unwrap_err().gates, gates);
    }

    #[test]
    fn set_shares_never_exceed_the_share_left() {
        assert_eq!(share_to_set(Share(60), &[], None), Ok(Share(60)));
        assert_eq!(share_to_set(Share(60), &[Share(20)], None), Ok(Share(40)));
        assert_eq!(share_to_set(Share(60), &[Share(20)], Some(Share(40))), Ok(Share(40)));
        assert!(share_to_set(Share(60), &[Share(20)], Some(Share(41))).is_err());
        assert!(share_to_set(Share(60), &[Share(60)], None).unwrap_err().contains("hold all"));
        assert!(share_to_set(Share(60), &[], Some(Share(0))).is_err());
    }
}
