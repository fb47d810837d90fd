//! The codes people say aloud: one type per kind, so that a task is never taken for a tool.

use crate::domain::cells::{Cell, Input};
use crate::domain::kinds::Kind;

/// The longest code, in characters.
pub const LONGEST: usize = 64;

/// Reads a code: trimmed, doubled blanks folded, no characters that an address or a list of
/// codes could not carry.
pub fn read(text: &str) -> Result<String, String> {
    let folded = text.split_whitespace().collect::<Vec<_>>().join(" ");
    if folded.chars().count() > LONGEST {
        return Err(format!("A code has at most {LONGEST} characters."));
    }
    if let Some(bad) = folded.chars().find(|c| c.is_control() || ",;?#%\\\"<>".contains(*c)) {
        return Err(format!("A code cannot hold “{bad}”."));
    }
    if folded == "." || folded == ".." || folded.eq_ignore_ascii_case("new") {
        return Err(format!("“{folded}” cannot be a code; choose another."));
    }
    Ok(folded)
}

macro_rules! codes {
    ($($(#[$doc:meta])* $name:ident of $kind:ident),+ $(,)?) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord, Hash, sqlx::Type,
            serde::Serialize, serde::Deserialize)]
        #[sqlx(transparent)]
        #[serde(transparent)]
        pub struct $name(String);

        impl $name {
            pub const KIND: Kind = Kind::$kind;
            pub fn as_str(&self) -> &str { &self.0 }
            /// A record that has not been given its code yet.
            pub fn is_blank(&self) -> bool { self.0.is_empty() }
        }

        impl From<String> for $name {
            fn from(code: String) -> Self { Self(code) }
        }
        impl From<&str> for $name {
            fn from(code: &str) -> Self { Self(code.to_owned()) }
        }
        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result { f.pad(&self.0) }
        }
        impl Cell for $name {
            const INPUT: Input = Input::Code(Kind::$kind);
            fn read(text: &str) -> Result<Self, String> { read(text).map(Self) }
            fn show(&self) -> String { self.0.clone() }
        }
    )+};
}

codes! {
    FlightCode of Flight, WorksiteCode of Worksite, FamilyCode of Family,
    PositionCode of Position, UnitCode of Unit, TechniqueCode of Technique, ToolCode of Tool,
    ExcursionCode of Excursion, TaskCode of Task, LinkCode of Link, SlotCode of Slot,
    AttemptCode of Attempt, DeferralCode of Deferral, ClosureCode of Closure,
    ParkingCode of Parking, ReopeningCode of Reopening, CauseCode of Cause,
    FindingCode of Finding, RemedyCode of Remedy, ExemptionCode of Exemption,
    RehearsalCode of Rehearsal, OutsideCode of OutsideItem, ExcursionToolCode of ExcursionTool,
    RouteCode of Route, ViewCode of View,
}

/// The code of a record itself, which may be left empty: the next free one is given then.
#[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord, Hash, sqlx::Type)]
#[sqlx(transparent)]
pub struct Own<C>(pub C);

impl<C: Cell + Default> Cell for Own<C> {
    const INPUT: Input = Input::Line;
    const REQUIRED: bool = false;
    fn read(text: &str) -> Result<Self, String> {
        C::read(text).map(Self)
    }
    fn show(&self) -> String {
        self.0.show()
    }
    fn blank() -> Option<Self> {
        Some(Self(C::default()))
    }
}
