//! Which mark stands for which word: the shapes of `templates/parts/marks.html`. A word always
//! stands beside its shape, so neither is needed to read the other.

use domain::words::{
    ExcursionState, FlightState, GateVerdict, Outcome, OutsideState, RemedyState, SlotState,
    SlotVerdict, TaskState, TechniqueState, ToolState,
};

/// Something that has a mark.
pub trait Marked {
    /// The id of its shape, as in `k-done`; empty where the word stands alone.
    fn mark(&self) -> &'static str;
}

impl<T: Marked> Marked for &T {
    fn mark(&self) -> &'static str {
        (*self).mark()
    }
}

/// The mark of a thing, for templates, which hand over references of any depth.
pub fn of(thing: &impl Marked) -> &'static str {
    thing.mark()
}

/// A verdict as scripts read it in `data-verdict`: `does not fit` becomes `does-not-fit`.
pub fn slug(word: impl AsRef<str>) -> String {
    word.as_ref().replace(' ', "-")
}

macro_rules! marks {
    ($($name:ident { $($variant:ident => $mark:literal),+ $(,)? })+) => {$(
        impl Marked for $name {
            fn mark(&self) -> &'static str {
                match self { $(Self::$variant => $mark),+ }
            }
        }
    )+};
}

marks! {
    TaskState {
        Dropped => "k-drop", Done => "k-done", Parked => "k-park", Set => "k-set",
        PartDone => "k-part", Open => "k-open",
    }
    Outcome {
        Done => "k-done", PartDone => "k-part", NotCompleted => "k-not", NotReached => "k-nr",
    }
    SlotState {
        Pencilled => "k-pen", Set => "k-set", Flown => "k-done", Withdrawn => "k-drop",
    }
    GateVerdict {
        Met => "v-fits", Note => "v-note", Tight => "v-tight", NotMet => "v-no", CannotTell => "v-tell",
        NotChecked => "v-none",
    }
    SlotVerdict {
        Fits => "v-fits", Tight => "v-tight", DoesNotFit => "v-no", CannotTell => "v-tell",
    }
    RemedyState {
        Open => "k-open", Done => "k-part", Verified => "k-done", Withdrawn => "k-drop",
    }
    OutsideState { InPlace => "k-open", BroughtIn => "k-done", Lost => "k-not" }
    ExcursionState { Planned => "k-set", Flown => "k-done", CalledOff => "k-drop" }
    FlightState {
        Coming => "k-set", UnderWay => "k-part", Flown => "k-done", Cancelled => "k-drop",
    }
    TechniqueState {
        Drafted => "k-open", Rehearsed => "k-part", Cleared => "k-done", Withdrawn => "k-drop",
    }
    ToolState { Usable => "k-done", Lost => "k-not", Broken => "k-nr" }
}

/// The marks in the foot of every page.
pub const LEGEND: &[(&str, &str)] = &[
    ("k-open", "opened"),
    ("k-done", "done"),
    ("k-part", "part done"),
    ("k-not", "not completed"),
    ("k-nr", "not reached"),
    ("k-def", "deferral"),
    ("k-drop", "dropped"),
    ("k-park", "parked"),
    ("k-set", "set"),
    ("k-pen", "pencilled"),
    ("k-need", "needed by"),
    ("k-late", "needed by, at risk"),
];

/// The verdicts, for pages that show some.
pub const VERDICTS: &[(&str, &str)] = &[
    ("v-fits", "fits, met"),
    ("v-note", "met, with a note"),
    ("v-tight", "tight"),
    ("v-no", "does not fit, not met"),
    ("v-tell", "cannot tell"),
    ("v-none", "not checked yet"),
];

#[cfg(test)]
mod tests {
    use super::*;

    const SHAPES: &str = include_str!("../../templates/parts/marks.html");

    fn drawn(marks: &[&str]) {
        for mark in marks {
            assert!(SHAPES.contains(&format!("id=\"{mark}\"")), "{mark} is drawn nowhere");
        }
    }

    #[test]
    fn every_mark_is_drawn() {
        drawn(&TaskState::ALL.iter().map(of).collect::<Vec<_>>());
        drawn(&Outcome::ALL.iter().map(of).collect::<Vec<_>>());
        drawn(&GateVerdict::ALL.iter().map(of).collect::<Vec<_>>());
        drawn(&SlotVerdict::ALL.iter().map(of).collect::<Vec<_>>());
        drawn(&SlotState::ALL.iter().map(of).collect::<Vec<_>>());
    }

    #[test]
    fn verdicts_of_one_kind_never_share_a_shape() {
        let mut gates: Vec<_> = GateVerdict::ALL.iter().map(of).collect();
        gates.sort_unstable();
        gates.dedup();
        assert_eq!(gates.len(), GateVerdict::ALL.len());
        let mut outcomes: Vec<_> = Outcome::ALL.iter().map(of).collect();
        outcomes.sort_unstable();
        outcomes.dedup();
        assert_eq!(outcomes.len(), Outcome::ALL.len());
    }

    #[test]
    fn a_verdict_is_one_word_for_scripts() {
        assert_eq!(slug(SlotVerdict::DoesNotFit.word()), "does-not-fit");
        assert_eq!(slug(GateVerdict::NotChecked.word()), "not-checked");
    }
}
