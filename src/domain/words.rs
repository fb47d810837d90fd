//! The closed lists of words: states, outcomes, kinds. Each word is written the same in the
//! database, in a file, on a page and in speech.

/// The word that people read, where it differs from the one that is stored.
macro_rules! said {
    ($stored:literal) => {
        $stored
    };
    ($stored:literal, $shown:literal) => {
        $shown
    };
}
pub(crate) use said;

/// Defines an enum whose variants are words, with the words as its only text form. A word that was
/// replaced is still stored, and read, as it was: `Set = "slotted" shown "set"`.
macro_rules! words {
    ($(#[$doc:meta])* $name:ident $(blank $blank:ident)? {
        $($(#[$vdoc:meta])* $variant:ident = $word:literal $(shown $shown:literal)?),+ $(,)?
    }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, sqlx::Type)]
        pub enum $name { $($(#[$vdoc])* #[sqlx(rename = $word)] $variant),+ }

        impl $name {
            /// Every word of the list, in the order in which it is shown.
            pub const ALL: &'static [Self] = &[$(Self::$variant),+];
            /// The words alone, for a choice on a form.
            pub const WORDS: &'static [&'static str] =
                &[$(crate::words::said!($word $(, $shown)?)),+];

            pub const fn word(self) -> &'static str {
                match self { $(Self::$variant => crate::words::said!($word $(, $shown)?)),+ }
            }

            const fn stored(self) -> &'static str {
                match self { $(Self::$variant => $word),+ }
            }

            /// Reads a word as people type it: any case, `-` or `_` for a space.
            pub fn read(text: &str) -> Option<Self> {
                let plain = crate::words::plain(text);
                let is = |word: &str| crate::words::plain(word) == plain;
                Self::ALL.iter().copied().find(|one| is(one.word()) || is(one.stored()))
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.pad(self.word())
            }
        }

        impl crate::cells::Cell for $name {
            const INPUT: crate::cells::Input =
                crate::cells::Input::Choice(Self::WORDS);
            const REQUIRED: bool = <[Self]>::is_empty(&[$(Self::$blank)?]);
            fn blank() -> Option<Self> { [$(Self::$blank)?].first().copied() }
            fn read(text: &str) -> Result<Self, String> {
                $name::read(text).ok_or_else(|| format!(
                    "“{}” is not one of: {}.", text.trim(), Self::WORDS.join(", ")))
            }
            fn show(&self) -> String { self.word().to_owned() }
        }
    };
}
pub(crate) use words;

/// A word without case, dashes or doubled blanks, so that two spellings compare equal.
pub fn plain(text: &str) -> String {
    text.split(|c: char| c.is_whitespace() || c == '-' || c == '_')
        .filter(|part| !part.is_empty())
        .map(str::to_lowercase)
        .collect::<Vec<_>>()
        .join(" ")
}

words! {
    /// By what the attempts that something stopped are counted.
    CountedBy {
        Cause = "cause", Group = "group", Technique = "technique", Side = "side",
        Worksite = "worksite", Flight = "flight"
    }
}

words! {
    /// Where a flight stands.
    FlightState blank Coming { Coming = "coming", UnderWay = "under way", Flown = "flown", Cancelled = "cancelled" }
}
impl FlightState {
    /// It is planned for: it has not landed.
    pub const fn is_ahead(self) -> bool {
        matches!(self, Self::Coming | Self::UnderWay)
    }
}
words! {
    /// Where an excursion stands. One that was begun and abandoned is flown.
    ExcursionState { Planned = "planned", Flown = "flown", CalledOff = "called off" }
}
words! {
    /// What a task is, derived from its events and never typed in.
    TaskState {
        Dropped = "dropped", Done = "done", Parked = "parked", Set = "slotted" shown "set",
        PartDone = "part done", Open = "open"
    }
}
words! {
    /// How one attempt ended. `not reached` was planned and never begun.
    Outcome {
        Done = "done", PartDone = "part done", NotCompleted = "not completed",
        NotReached = "not reached"
    }
}
words! {
    /// Whether the function came back, apart from whether the work was done.
    FunctionAfter { Restored = "restored", NotRestored = "not restored", NotChecked = "not checked" }
}
words! {
    /// What stands outside when an attempt is over, as its record says.
    OutsideAfter {
        Left = "temporary hardware left", Nothing = "nothing left", BroughtIn = "item brought in"
    }
}
words! {
    /// How the place was lit while something was tried.
    LightingThen {
        Daylight = "daylight", Night = "night", Both = "day and night", Lamps = "lamps alone"
    }
}
words! {
    /// How sure the author of a finding is of its main cause.
    Confidence { Confirmed = "confirmed", Likely = "likely", Possible = "possible" }
}
words! {
    /// What becomes of an item that failed.
    Disposition {
        UsedAsItIs = "used as it is" shown "used as is", Repaired = "repaired in place", Replaced = "replaced",
        BroughtInside = "brought inside", NotDecided = "not decided yet"
    }
}
words! {
    /// When a deferral was decided.
    DeferralPhase {
        BeforeLaunch = "before launch", BeforeEgress = "in flight before egress", During = "during"
    }
}
words! {
    /// Why a task was taken off an excursion.
    DeferralReason {
        Time = "time", Priority = "priority", ToolAbsent = "tool absent",
        NotTrained = "not trained", Inhibit = "inhibit", SuitOrCrew = "suit or crew",
        AwaitingGround = "awaiting the ground's answer", ExcursionGivenUp = "excursion given up",
        GroupedElsewhere = "grouped elsewhere"
    }
}
words! {
    /// An ending without an attempt. The first three give `done`, the rest `dropped`.
    ClosureKind {
        ByArm = "done by the arm", FromInside = "done from inside", FromGround = "done from the ground",
        Moot = "moot", Duplicate = "duplicate of", UnitReplaced = "unit replaced",
        AcceptedAsLeft = "accepted as left", NotWanted = "no longer wanted"
    }
}
words! {
    /// How one task leans on another; read from the first to the second.
    LinkKind {
        Needs = "needs", SameVisit = "same visit as", Continues = "continues",
        MakesPermanent = "makes permanent", Undoes = "undoes", InsteadOf = "instead of",
        OnlyIf = "only if"
    }
}
words! {
    /// Where a technique stands.
    TechniqueState blank Drafted {
        Drafted = "drafted", Rehearsed = "rehearsed", Cleared = "cleared", Withdrawn = "withdrawn"
    }
}
words! {
    /// What a task is worth before anything else: 1 keeps the vehicle safe, 2 a coming flight
    /// depends on it, 3 restores a lost function, 4 helps a coming flight, 5 is housekeeping.
    PriorityClass { Safety = "1", HoldsUp = "2", Restores = "3", Helps = "4", Housekeeping = "5" }
}
words! {
    RehearsalKind { Tank = "tank", OneG = "1-g", Analysis = "analysis" }
}
words! {
    ToolState blank Usable { Usable = "usable", Lost = "lost", Broken = "broken" }
}
words! {
    /// Where a remedy stands. Verified by someone other than its owner.
    RemedyState blank Open { Open = "open", Done = "done", Verified = "verified", Withdrawn = "withdrawn" }
}
words! {
    /// How a review, a verification or a clearance came about.
    Checked {
        /// By a second account of this record.
        Here = "here",
        /// Of a remedy that the clearing of a revision is.
        Clearing = "by clearing the revision",
        /// By an administrator's import of history.
        Imported = "imported, not checked here"
    }
}
words! {
    /// What a remedy answers for: the unit it was made on, or every unit of the family.
    Reach blank ThisUnit { ThisUnit = "this unit", EveryUnit = "every unit" }
}
words! {
    SlotState blank Pencilled { Pencilled = "pencilled", Set = "set", Flown = "flown", Withdrawn = "withdrawn" }
}
words! {
    OutsideState blank InPlace { InPlace = "in place", BroughtIn = "brought in", Lost = "lost" }
}
words! {
    /// How far an inhibit is on an excursion.
    ArrangementState blank Asked {
        Asked = "asked", Arranged = "arranged", InPlace = "in place", Released = "released"
    }
}
words! {
    WorkRate { Light = "light", Moderate = "moderate", Heavy = "heavy" }
}
words! {
    LightNeed blank Any { Any = "any", DaylightOnly = "daylight only", NightOnly = "night only" }
}
words! {
    /// What a cause tells about the approach that met it.
    Scope {
        Approach = "approach", Hardware = "hardware", Outside = "outside", Diagnosis = "diagnosis"
    }
}
words! {
    /// What a person may do; each role may also do what the ones before it may, save that an
    /// administrator is not a lead.
    Role { Viewer = "viewer", Engineer = "engineer", Lead = "lead", Administrator = "administrator" }
}
words! {
    /// One check of a candidate slot, judged. A note is met, with something to know: it never changes
    /// the verdict of the slot.
    GateVerdict {
        Met = "met", Note = "note", Tight = "tight", NotMet = "not met", CannotTell = "cannot tell",
        NotChecked = "not checked"
    }
}
words! {
    /// A coming excursion held against an open task.
    SlotVerdict {
        Fits = "fits", Tight = "tight", DoesNotFit = "does not fit", CannotTell = "cannot tell"
    }
}
words! {
    /// The conditions of a candidate slot, in the order in which they are read.
    GateName {
        Time = "time", Seats = "seats", Approach = "approach", Order = "order of work",
        Tools = "tools and hardware", Inhibits = "inhibits", Arm = "arm windows",
        Lighting = "lighting", Supplies = "suit supplies", Rehearsal = "rehearsal",
        Trained = "trained", Remedies = "remedies", Routes = "routes and outside items",
        Bag = "bag volume", Return = "return", NeededBy = "needed by"
    }
}
words! {
    Theme blank System { System = "system", Paper = "paper", Night = "night" }
}

impl PriorityClass {
    pub const fn means(self) -> &'static str {
        match self {
            Self::Safety => "keeps the vehicle safe",
            Self::HoldsUp => "a coming flight depends on it",
            Self::Restores => "restores a lost function",
            Self::Helps => "helps a coming flight",
            Self::Housekeeping => "housekeeping",
        }
    }
}

impl Outcome {
    /// Whether some of the work may be left after it, so that the attempt says how much.
    pub const fn may_leave_some(self) -> bool {
        matches!(self, Self::PartDone | Self::NotCompleted)
    }
}

impl ClosureKind {
    pub const fn ends_done(self) -> bool {
        matches!(self, Self::ByArm | Self::FromInside | Self::FromGround)
    }
}

impl LinkKind {
    /// The first task comes after the second; the others bind both alike.
    pub const fn comes_after(self) -> bool {
        match self {
            Self::Needs | Self::Continues | Self::MakesPermanent | Self::Undoes | Self::OnlyIf => {
                true
            }
            Self::SameVisit | Self::InsteadOf => false,
        }
    }

    /// The first task cannot be worked before the second is done.
    pub const fn holds_up(self) -> bool {
        matches!(self, Self::Needs | Self::Undoes)
    }
}

impl TaskState {
    /// A task that is neither done nor dropped is an open item.
    pub const fn is_open_item(self) -> bool {
        match self {
            Self::Dropped | Self::Done => false,
            Self::Parked | Self::Set | Self::PartDone | Self::Open => true,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_word_that_was_replaced_is_shown_anew_and_read_as_both() {
        assert_eq!(TaskState::Set.to_string(), "set");
        for word in ["set", "slotted", "Slotted"] {
            assert_eq!(TaskState::read(word), Some(TaskState::Set), "{word}");
        }
        assert!(TaskState::WORDS.contains(&"set") && !TaskState::WORDS.contains(&"slotted"));
        assert_eq!(Disposition::read("used as it is"), Some(Disposition::UsedAsItIs));
    }
}
